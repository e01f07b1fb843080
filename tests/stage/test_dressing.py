"""What is on and in an opening: tint, gels, a net curtain, a blind."""


import numpy as np
import pytest

from previz.engine.probe import ProbeJob
from previz.engine.render import open_stage
from previz.physics import optics
from previz.physics.bands import band_means
from previz.physics.gel import neutral, shift_gel, stack
from previz.scene.gel import FULL_SHIFT
from previz.stage.dressing import FOLD, fold_depth

BLACK = "{reflectance: 0}"
ROOM = ("room:\n  size: [4 m, 3 m, 2.5 m]\n  surfaces: {floor: " + BLACK + ", walls: " + BLACK
        + ", ceiling: " + BLACK + "}\n")
WIDTH, HEIGHT = 1.2, 1.0
LOOKS = 1 << 13


def opening(more, wall="west", glass="none", width=WIDTH, height=HEIGHT):
    return (f"  openings:\n    - {{name: window, wall: {wall}, along: 0.7 m, sill: 0.9 m, "
            f"size: [{width} m, {height} m], glass: {glass}{', ' if more else ''}{more}}}\n")


def sun(altitude, azimuth=270):
    return (f"daylight: {{sky: none, sun: {{azimuth: {azimuth} deg, altitude: {altitude} deg, "
            "illuminance: 1000 lx}}\n")


def meters(places):
    return "meters:\n" + "".join(
        f"  - {{name: m{i}, at: [{p[0]:.9g} m, {p[1]:.9g} m, {p[2]:.9g} m], facing: "
        f"[{q[0]:.9g} m, {q[1]:.9g} m, {q[2]:.9g} m]}}\n" for i, (p, q) in enumerate(places))


def readings(stage, precision=0.004, bands=1, rounds=60):
    """Direct and bounced light of each lamp at each meter, per unit. (meter, lamp, 2, band)"""
    flat = [probe for probe in stage.probes if not probe.dome]
    job = ProbeJob(open_stage(stage, bands), stage, probes=flat)
    # Nothing here is met by few paths: a light sample or most bounces meet it.
    job.least = LOOKS
    job.run(precision, rounds)
    return job.batches.means.mean(axis=1)


def into_the_sun(altitude, point=(-0.2, 1.3, 1.4), along=1.2):
    """A meter that faces a western sun down the ray through a point of the opening."""
    up = np.radians(altitude)
    direction = np.array([np.cos(up), 0, -np.sin(up)])
    at = np.asarray(point) + direction * along
    return at, at - direction


# Glass


@pytest.mark.engine
@pytest.mark.parametrize("glass", ["clear", "double"])
@pytest.mark.parametrize("altitude", [0, 50])
def test_tinted_glass_counts_every_sheet(stage_of, glass, altitude):
    """A tint of 60 % a sheet keeps 60 % of single and 36 % of double glazing, more at a slant, as
    the exact sum over both polarisations has it.
    """
    stage = stage_of(ROOM + opening("tint: 60 %", glass=glass) + sun(altitude)
                     + meters([into_the_sun(altitude)]))
    found = readings(stage)[0, 0, 0, 0]
    sheets = 2 if glass == "double" else 1
    expected = float(optics.pane(np.cos(np.radians(altitude)), 1.52, sheets=sheets,
                                 internal=0.6)[0])
    assert found == pytest.approx(expected, rel=0.004)


@pytest.mark.engine
def test_a_gel_on_the_glass(stage_of):
    """A full CTO with ND 0.6 on double glass has the gels' own curve on top of the glass."""
    stage = stage_of(ROOM + opening("gel: [full cto, nd 0.6]", glass="double") + sun(0)
                     + meters([into_the_sun(0)]))
    film = stack([shift_gel(FULL_SHIFT), neutral(10**-0.6)])
    clear = float(optics.pane(1.0, 1.52, sheets=2)[0])
    found = readings(stage, bands=6)[0, 0, 0]
    # The two sheets share the film's curve as its root, whose band means differ a little.
    np.testing.assert_allclose(found, clear * band_means(film, 6), rtol=0.02)
    assert found[-1] > 2 * found[0]


@pytest.mark.engine
def test_a_gel_across_an_open_hole(stage_of):
    """Without glass the sheet lets through what it says: its own faces are in its figure."""
    stage = stage_of(ROOM + opening("gel: nd 0.9") + sun(0) + meters([into_the_sun(0)]))
    pane, = stage.panes
    assert pane.ior == pytest.approx(1.5)
    assert readings(stage)[0, 0, 0, 0] == pytest.approx(10**-0.9, rel=0.01)


def test_coloured_glass_has_its_hue(stage_of):
    """Green glass of 70 % lets 70 % of equal-energy light through, most of it in the green."""
    stage = stage_of(ROOM + opening("tint: 70 %, colour: [0.5, 0.8, 0.5]", glass="clear"))
    tint = stage.panes[0].tint
    from previz.physics.spectra import observer
    bright = observer()[1]
    assert tint @ bright / bright.sum() == pytest.approx(0.7, rel=0.01)
    assert tint[34] > 1.2 * tint[14]


# Blinds


def slat_share(altitude, angle, width=0.05, spacing=0.04):
    """Share of the sun that flat thin slats let straight through: each hides of the window's
    height w sin(profile + tilt) / cos(profile) of every s, by plane geometry.
    """
    profile, tilt = np.radians(altitude), np.radians(angle)
    return max(0.0, 1 - width / spacing * abs(np.sin(profile + tilt)) / np.cos(profile))


@pytest.mark.engine
@pytest.mark.parametrize("altitude", [0, 20, 40])
def test_the_sun_through_a_blind(stage_of, altitude):
    """Slats let the share of the sun through that geometry says, at each tilt."""
    angles = (-40, -20, 0, 15, 30, 60)
    found = []
    rows = np.linspace(-0.06, 0.06, 48, endpoint=False)
    places = [into_the_sun(altitude, (0.0, 1.3, 1.4 + z)) for z in rows]
    for angle in angles:
        blind = f"blind: {{width: 50 mm, spacing: 40 mm, angle: {angle} deg, surface: {BLACK}}}"
        stage = stage_of(ROOM + opening(blind) + sun(altitude) + meters(places))
        found.append(readings(stage, 0.05, rounds=1)[:, 0, 0, 0].mean())
    expected = [slat_share(altitude, angle) for angle in angles]
    # 48 meters over three slats, and the sun's own half degree; one round of 8192 paths for each leaves
    # 0.001 of noise.
    np.testing.assert_allclose(found, expected, atol=0.03)
    assert max(expected) > 0.5 and min(expected) == 0


@pytest.mark.engine
def test_slats_that_stand(stage_of):
    """Upright slats cut by the sun's bearing: the same law, turned on its side."""
    found, expected = [], []
    columns = np.linspace(-0.06, 0.06, 48, endpoint=False)
    for turn, angle in ((0, 0), (0, 45), (25, 30), (-25, 30)):
        # From 270° + turn the light runs east and, for turn > 0, south.
        direction = np.array([np.cos(np.radians(turn)), -np.sin(np.radians(turn)), 0])
        places = []
        for y in columns:
            at = np.array([0.0, 1.3 + y, 1.4]) + direction * 1.2
            places.append((at, at - direction))
        blind = (f"blind: {{width: 50 mm, spacing: 40 mm, angle: {angle} deg, upright: yes, "
                 f"surface: {BLACK}}}")
        stage = stage_of(ROOM + opening(blind) + sun(0, 270 + turn) + meters(places))
        found.append(readings(stage, 0.05, rounds=1)[:, 0, 0, 0].mean())
        # The outer edge is turned to the north end (+y), towards a sun that stands north of west.
        expected.append(slat_share(-turn, angle))
    np.testing.assert_allclose(found, expected, atol=0.03)


def test_a_blind_hangs_where_it_should(stage_of):
    """Slats fill the opening from the top as far as it is lowered, inside the reveal."""
    blind = "blind: {width: 25 mm, spacing: 20 mm, angle: 0 deg, lowered: 50 %}"
    stage = stage_of(ROOM + opening(blind, glass="clear"))
    mesh, = (m for m in stage.meshes if m.name == "window")
    slats = mesh.vertices[:4 * 25].reshape(25, 4, 3)
    np.testing.assert_allclose(np.ptp(slats[:, :, 0], axis=1), 0.025, atol=1e-9)
    np.testing.assert_allclose(slats.mean(axis=(1,))[:, 2], 1.9 - 0.01 - 0.02 * np.arange(25))
    assert mesh.vertices[:, 0].max() < 0 and mesh.vertices[:, 0].min() > -0.08
    # Wide slats find no room at the glass, and hang before the wall.
    wide = stage_of(ROOM + opening("blind: {width: 89 mm, spacing: 80 mm}", glass="clear"))
    mesh, = (m for m in wide.meshes if m.name == "window")
    assert mesh.vertices[:, 0].min() > 0


# Curtains


@pytest.mark.parametrize("fullness", [1.0, 1.3, 1.6, 2.5])
def test_a_curtain_is_as_full_as_it_says(stage_of, fullness):
    """The length along its folds is `fullness` times the width that it covers."""
    amplitude = fold_depth(fullness)
    x = np.linspace(0, FOLD, 20001)
    y = amplitude * np.sin(2 * np.pi * x / FOLD)
    assert np.hypot(np.diff(x), np.diff(y)).sum() / FOLD == pytest.approx(fullness, rel=1e-3)
    stage = stage_of(ROOM + opening(f"curtain: {{fullness: {fullness}, open: 25 %}}"))
    cloth = next(m for m in stage.meshes if m.surface == "net of window")
    corners = cloth.vertices[cloth.faces]
    area = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]),
                          axis=1).sum() / 2
    covered = (WIDTH + 0.16) * (HEIGHT + 0.16)
    assert area == pytest.approx(0.75 * fullness * covered, rel=0.01)
    assert cloth.vertices[:, 0].min() > 0


def net(open_share, transmission, more=""):
    return (f"curtain: {{transmission: {transmission}, open: {open_share}, fullness: 1, "
            f"overlap: 0.3 m{more}}}")


@pytest.mark.engine
def test_the_sun_through_a_net(stage_of):
    """The holes let their share of the sun straight through."""
    places = [into_the_sun(0, (0, 1.3 + y, 1.4), 2.0) for y in np.linspace(-0.03, 0.03, 16)]
    bare = stage_of(ROOM + opening("") + sun(0) + meters(places))
    assert readings(bare, 0.01, rounds=1)[:, 0, 0, 0].mean() == pytest.approx(1, rel=0.005)
    for share in (0.0, 0.3, 0.6):
        stage = stage_of(ROOM + opening(net(share, 0.6)) + sun(0) + meters(places))
        # Two metres behind it the sun's disc blurs the 2 mm strips wholly. One round of 16 meters is
        # 131 000 paths: 0.0013 of noise.
        found = readings(stage, 0.01, rounds=1)[:, 0, 0, 0].mean()
        assert found == pytest.approx(share, abs=0.01)


@pytest.mark.engine
def test_a_net_passes_what_it_says_in_all(stage_of, tiny):
    """Seen before an even bright field, a flat net is as bright as its transmission."""
    stage = stage_of(ROOM + opening(net(0.25, 0.6), width=1.6, height=1.4)
                     + "lights:\n  - {name: field, kind: backdrop, at: [-0.21 m, 1.5 m, 1.6 m], "
                       "aim: [1 m, 1.5 m, 1.6 m], size: [1.6 m, 1.4 m], output: 1000 cd/m2}\n"
                     + "cameras:\n  - {name: A, at: [3 m, 1.5 m, 1.6 m], "
                       "aim: [0 m, 1.5 m, 1.6 m], lens: 200 mm, stop: 8, iso: 800}\n")
    # Rays spread over one strip and its gap, at places that no period fits.
    count = 400
    across = 1.5 + (np.arange(count) + 0.5) / count * 0.0618034
    origins = np.stack([np.ones(count), across, np.full(count, 1.6)], axis=1)
    seen, _ = tiny.radiance(stage, origins, np.tile([-1.0, 0, 0], (count, 1)), 32)
    luminance = seen[:, 0, 0].mean() * stage.lamps[0].output
    # From the net, 0.23 m before it, the field fills all but a rim of the half space: by the
    # configuration factor of its rectangle, with the black reveal around the rest.
    from previz.physics.photometry import rectangle_factor
    factor = rectangle_factor(1.6, 1.4, 0.21 + 0.02)
    expected = 1000 * (0.25 + 0.35 * factor)
    assert luminance == pytest.approx(expected, rel=0.02)


def test_a_net_of_a_colour(stage_of):
    """A coloured net scatters its hue and keeps its transmission."""
    stage = stage_of(ROOM + opening(net(0.2, 0.5, ", colour: cream")))
    cloth = stage.surfaces["net of window"]
    assert cloth.transmission[54] > 1.1 * cloth.transmission[14]
    assert np.all(cloth.transmission + cloth.reflectance <= 0.98 + 1e-9)


def test_a_curtain_stays_inside_the_room(stage_of):
    """Where the wall ends, so does the overlap."""
    stage = stage_of(ROOM + "  openings:\n    - {name: window, wall: south, along: 0.02 m, "
                     "sill: 0 m, size: [1 m, 2.4 m], curtain: {overlap: 0.5 m}}\n")
    for mesh in stage.meshes:
        if mesh.name == "window":
            assert np.all(mesh.vertices.min(axis=0) >= [0.005 - 1e-9, 0.01, 0])
            assert np.all(mesh.vertices.max(axis=0) < [4, 3, 2.5])


@pytest.mark.engine
def test_guides_of_what_hangs_change_no_reading(stage_of):
    """A meter reads the same behind a net and a blind whether they are guides or not, and aiming
    at them takes noise away.
    """
    from dataclasses import replace

    room = ROOM.replace(f"walls: {BLACK}", "walls: {reflectance: 0.5}")
    sky = "ground: gravel\ndaylight: {sky: overcast, illuminance: 1000 lx}\n"
    places = [((2.0, 1.5, 1.0), (0, 1.5, 1.4)), ((1.0, 0.4, 1.2), (1.0, 2.0, 1.2))]
    stages = {hung: stage_of(room + opening(hung, glass="clear") + sky + meters(places))
              for hung in ("curtain: {}", "blind: {}")}
    # With the surfaces of both, one kernel serves both.
    surfaces = {name: each for stage in stages.values() for name, each in stage.surfaces.items()}
    for hung, stage in stages.items():
        stage = replace(stage, surfaces=surfaces)
        assert sum(guide.opening for guide in stage.guides) == 1
        assert len(stage.guides) == 2
        found = []
        for guides in (stage.guides, ()):
            flat = [probe for probe in stage.probes if not probe.dome]
            buffers, runs = open_stage(replace(stage, guides=guides), 1), []
            for seed in range(1, 5):
                job = ProbeJob(buffers, stage, seed, probes=flat)
                job.run(0.0001, 2)
                runs.append((job.batches.means.mean(axis=1).sum(axis=(1, 2, 3)), job.relative_error()))
            read, error = (np.array(each) for each in zip(*runs, strict=True))
            found.append((read.mean(axis=0), np.sqrt(np.mean(error**2, axis=0) / len(runs))))
        (with_guides, error), (without, plain_error) = found
        gap = np.abs(with_guides / without - 1)
        assert np.all(gap < 4 * np.hypot(error, plain_error)), hung
        # Each error is known to a twentieth, by four times 64 batches; 0.5 to 0.75 are found.
        assert np.all(error < 0.9 * plain_error), hung
