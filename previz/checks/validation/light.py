"""Closed forms of photometry, through the real engine."""

from __future__ import annotations

import numpy as np

from previz.checks.validation import stages
from previz.checks.validation.records import Group
from previz.engine.probe import ProbeJob
from previz.engine.render import Limits, open_stage
from previz.physics import photometry
from previz.physics.bands import DEFAULT_BANDS
from previz.physics.beam import cosine_power, exponent_from_angle
from previz.physics.colourtemp import xy_from_xyz
from previz.physics.daylight import sky_dome
from previz.physics.lamps import spectrum_of
from previz.physics.light import lamp_band_xyz
from previz.physics.optics import normal_reflectance
from previz.physics.spectra import xyz_of
from previz.physics.uplift import reflectance_from_rgb
from previz.stage import shapes
from previz.stage.records import Glass, Haze, Mesh, Pane, Sky, Sun, Surface

GROUP = Group("Light, through the engine")
HOWELL = "Howell, configuration factors, class B (entry from memory); equal to quadrature"
TEXTS = "illumination texts; equal to quadrature"


def checks(backend: str):
    """Yield the checks, on a backend as of `engine.backend.start`."""
    for part in (_points, _flat_sources, _round_sources, _enclosure, _coloured_room,
                 _uniform_light, _grey_card, _penumbra, _outdoors, _glass, _haze):
        yield from part(backend)


def _lumens(area: float, luminance: float = 1000.0) -> float:
    """Return the flux of a diffuse face. [lm]"""
    return np.pi * luminance * area


def _points(backend):
    # A ball of 1 cm is a point at 2 m, exactly: a sphere has no near field.
    ball = stages.emitter(shapes.ball(0.01, subdivisions=3), (0, 0, 3), symmetric=True)
    tilt = np.radians(60)
    built = stages.stage([ball], light=stages.lamp(4 * np.pi * 1000), probes=[
        stages.probe((0, 0, 1)), stages.probe((0, 0, -1)),
        stages.probe((0, 0, 1), (np.sin(tilt), 0, np.cos(tilt)))])
    found = stages.measure(built, backend)
    source = "E = I cos θ / d², from the definitions of CIE S 017:2020"
    for i, (name, lux) in enumerate((("at 2 m", 250.0), ("at 4 m", 62.5),
                                     ("at 2 m, meter turned 60°", 125.0))):
        yield GROUP.rendered(f"point of 1000 cd {name}", source, lux, found.total[i],
                             found.total_error[i])
    power = exponent_from_angle(60.0)
    face = shapes.rectangle((0, 0, 0), (0.02, 0, 0), (0, 0.02, 0))
    beam = stages.emitter(face, (0, 0, 4), stages.DOWN, flat=True, table=cosine_power(power),
                          world_from_light=shapes.aimed(stages.DOWN))
    built = stages.stage([beam], light=stages.lamp(1000.0), probes=[stages.probe((0, 0, 0))])
    found = stages.measure(built, backend)
    yield GROUP.rendered(
        "1000 lm in a cosine-power beam of 60°, 4 m ahead", "Φ = 2π I / (n + 1), geometry",
        1000 * (power + 1) / (2 * np.pi) / 16, found.total[0], found.total_error[0])


def _facing(solid, area, distances, backend, offset=0.0, **more):
    """Yield (distance, lux, error) below a downward face of 1000 cd/m² at 5 m."""
    face = stages.emitter(solid, (0, 0, 5), stages.DOWN, **more)
    built = stages.stage([face], light=stages.lamp(_lumens(area)), probes=[
        stages.probe((offset, 0, 5 - d)) for d in distances])
    found = stages.measure(built, backend)
    yield from zip(distances, found.total, found.total_error, strict=True)


def _flat_sources(backend):
    disc = shapes.disc(0.5, sides=96)
    expected = {0.5: 1570.796, 2.0: 184.800, 5.0: 31.1049}
    for d, lux, error in _facing(disc, np.pi / 4, list(expected), backend, flat=True):
        yield GROUP.rendered(f"disc 1 m across, 1000 cd/m², on axis at {d:g} m", HOWELL,
                             expected[d], lux, error)
    for _, lux, error in _facing(disc, np.pi / 4, [2.0], backend, 1.0, flat=True):
        yield GROUP.rendered("the same disc, 2 m below and 1 m aside", HOWELL, 123.095, lux, error)
    for (w, h), expected in (((1.2, 1.2), {1.0: 977.906, 2.0: 321.610, 3.0: 151.918}),
                             ((1.2, 0.3), {1.0: 290.510, 2.0: 84.694})):
        face = shapes.rectangle((0, 0, 0), (w / 2, 0, 0), (0, h / 2, 0))
        for d, lux, error in _facing(face, w * h, list(expected), backend, flat=True):
            yield GROUP.rendered(f"rectangle {w:g} × {h:g} m, 1000 cd/m², on axis at {d:g} m",
                                 HOWELL, expected[d], lux, error)


def _round_sources(backend):
    ball = shapes.ball(0.1, subdivisions=4)
    for _, lux, error in _facing(ball, 4 * np.pi * 0.01, [2.0], backend, symmetric=True):
        yield GROUP.rendered("ball of 0.1 m radius, 1000 cd/m², at 2 m", HOWELL, 7.85398, lux,
                             error)
    length, radius, sides = 1.2, 0.013, 48
    grown = radius * (np.pi / sides) / np.sin(np.pi / sides)
    body = shapes.frustum(grown, grown, length, sides=sides, closed=False)
    # At 2 m the tube is thin enough for the closed form: nearer, its front is nearer than its axis.
    tube = stages.emitter((body[0] - [0, 0, length / 2], body[1]), (0, 0, 2), (1, 0, 0),
                          symmetric=True)
    flux = _lumens(2 * np.pi * radius * length, 1e4)
    found = stages.measure(stages.stage([tube], light=stages.lamp(flux),
                                        probes=[stages.probe((0, 0, 0))]), backend)
    yield GROUP.rendered("tube 1.2 m by 26 mm, 10 000 cd/m², facing its middle at 2 m", TEXTS,
                         73.669, found.total[0], found.total_error[0])


def _cube(surface, light):
    """Return (stage of a closed 4 m cube with meters on its floor, weight of each meter).

    By symmetry a quarter of one wall stands for all; light is smooth on it, so 4 × 4
    Gauss-Legendre points give the mean to 1e-4.
    """
    node, weight = np.polynomial.legendre.leggauss(4)
    u, v = (each.ravel() for each in np.meshgrid(1 + node, 1 + node))
    probes = [stages.probe((x, y, 0.001)) for x, y in zip(u, v, strict=True)]
    walls = Mesh("walls", surface.name, *stages.closed_box(4.0))
    ball = stages.emitter(shapes.ball(0.01, subdivisions=3), (2, 2, 2), symmetric=True)
    return (stages.stage([ball], [walls], surface, light, probes),
            np.outer(weight, weight).ravel() / 4)


def _enclosure(backend):
    source = "Sumpner 1892; cube of CIE 171:2006 case 5.8 (flux from memory), recomputed"
    for rho, total, indirect in ((0.2, 130.21, 26.04), (0.5, 208.33, 104.17),
                                 (0.8, 520.83, 416.67)):
        built, share = _cube(stages.grey(rho), stages.lamp(10_000.0))
        found = stages.measure(built, backend, 0.01, max_depth=1000)
        yield GROUP.rendered(f"closed cube, 4 m, 10 000 lm, reflectance {rho:g}: mean of all light",
                             source, total, share @ found.total,
                             np.sqrt(share**2 @ found.total_error**2))
        yield GROUP.rendered(f"the same cube, reflectance {rho:g}: mean of the bounced light",
                             source, indirect, share @ found.value[:, 1],
                             np.sqrt(share**2 @ found.error[:, 1] ** 2))


def _coloured_room(backend):
    """Hold the bands to 5 nm: light after all bounces between walls of one colour."""
    source = "Sumpner 1892 at each 5 nm: S / (A (1 - ρ)), summed"
    paint = reflectance_from_rgb(np.array([0.62, 0.5, 0.3]))
    lamp = stages.lamp(10_000.0, spectrum=spectrum_of("led", 4300.0))
    whole = xyz_of(lamp.output * lamp.spectrum / (96.0 * (1 - paint)))
    surface = stages.Surface("paint", paint, 0 * paint, 0 * paint)
    built, share = _cube(surface, lamp)
    job = ProbeJob(open_stage(built, DEFAULT_BANDS, backend), built,
                   limits=Limits(max_depth=1000))
    job.run(0.01, 200)
    weights = lamp_band_xyz(lamp, DEFAULT_BANDS)
    batches = np.einsum("m,mklpb,bc->kc", share, job.batches.means, weights)
    mean = batches.mean(axis=0)
    yield GROUP.rendered(f"closed cube of ochre paint, LED of 4300 K, {DEFAULT_BANDS} bands: mean "
                         "of all light", source, whole[1], mean[1],
                         batches[:, 1].std(ddof=1) / np.sqrt(len(batches)))
    # 0.002 in x and y is about what bands are allowed to leave; the eye's just noticeable step is
    # some 0.003 there.
    yield GROUP.near("the same room, x and y of the light", source, xy_from_xyz(whole),
                     xy_from_xyz(mean), 0.002)


def _spot(built, view_of: str, eye, target, backend: str, precision: float = 0.001):
    """Return (luminance, error) that a spot meter reads on a thing. [cd/m²]"""
    buffers = open_stage(built, 1, backend)
    from previz.engine.sights import Sight
    from previz.engine.spot import SpotJob, View

    seen = stages.camera(eye, target)
    view = View(buffers, built.surfaces, seen, [Sight(view_of, view_of)])
    job = SpotJob(buffers, built, [(seen, view, 0)])
    job.run(precision, 200)
    each = job.batches.mixed(job.weights)[0]
    return each.mean(), each.std(ddof=1) / np.sqrt(each.size)


def _uniform_light(backend):
    source = "rendering practice (white furnace); E = π L"
    walls = stages.emitter(stages.closed_box(4.0))
    ball = shapes.ball(0.5, subdivisions=3)
    white = Mesh("ball", stages.GREY, ball[0] + [2, 2, 2], ball[1])
    built = stages.stage([walls], [white], stages.grey(1.0), stages.lamp(_lumens(96.0, 100.0)),
                         [stages.probe((1, 1, 0.6), (0.3, -0.2, 0.9))])
    found = stages.measure(built, backend)
    yield GROUP.rendered("meter in even light of 100 cd/m² from all sides", source, 314.159,
                         found.total[0], found.total_error[0], 0.003)
    nits, error = _spot(built, "ball", (0.3, 0.4, 0.5), (2, 2, 2), backend)
    yield GROUP.rendered("spot meter on a ball of reflectance 1 in that light", source, 100.0,
                         nits, error, 0.003, "cd/m²")


def _grey_card(backend):
    # 1000 lx by a ball straight above, so the small card is lit evenly.
    ball = stages.emitter(shapes.ball(0.05, subdivisions=3), (0, 0, 3), symmetric=True)
    card = stages.sheet(0.04, 0.04, (0, 0, 0), stages.UP, "card")
    for share, nits in ((0.18, 57.296), (0.9, 286.48)):
        built = stages.stage([ball], [card], stages.grey(share),
                             stages.lamp(1000 * 9 * 4 * np.pi))
        found, error = _spot(built, "card", (0.5, 0.0, 0.6), (0, 0, 0), backend)
        yield GROUP.rendered(f"spot meter on a card of {100 * share:g} % in 1000 lx", "L = ρ E / π",
                             nits, found, error, 0.01, "cd/m²")


def _penumbra(backend):
    """Fit the ramp of a shadow's edge: a strip 0.5 m wide, 3 m over an edge 1 m over the wall."""
    width, high = 0.5, 0.05
    face = shapes.rectangle((0, 0, 0), (width / 2, 0, 0), (0, high / 2, 0))
    strip = stages.emitter(face, (0, 0, 4), stages.DOWN, flat=True)
    flag = stages.sheet(3.0, 3.0, (-1.5, 0, 1), stages.UP, "flag")
    places = np.array([-0.06, -0.04, -0.02, 0.0, 0.02, 0.04, 0.06])
    built = stages.stage([strip], [flag], stages.grey(0.0), stages.lamp(_lumens(width * high)),
                         [stages.probe((x, 0, 0)) for x in places])
    found = stages.measure(built, backend, 0.003)
    whole = np.array([1000 * np.pi * photometry.rectangle_factor(width, high, 4.0, (x, 0.0))
                      for x in places])
    lit, noise = found.total / whole, found.total_error / whole
    away = places - places.mean()
    slope = away @ lit / (away @ away)
    error = np.sqrt(away**2 @ noise**2) / (away @ away)
    yield GROUP.rendered("width of a shadow's edge, source 0.5 m, 3 m and 1 m",
                         "similar triangles", 0.166667, 1 / slope, error / slope**2, 0.03, "m")


def _outdoors(backend):
    source = "CIE S 011 / ISO 15469 (overcast sky), integral"
    dome = Sky(0, sky_dome("overcast", zenith_cells=64, azimuth_cells=180))
    # The engine wants something to hit; a chip of it lies where no meter sees it.
    chip = [stages.sheet(0.01, 0.01, (0, 0, -9))]
    built = stages.stage((), chip, light=stages.lamp(10_000.0, "lx"), sky=dome, probes=[
        stages.probe((0, 0, 1)), stages.probe((0, 0, 1), (1, 0, 0))])
    found = stages.measure(built, backend)
    yield GROUP.rendered("overcast sky of 10 000 lx on level ground", "definition of the input",
                         10_000.0, found.total[0], found.total_error[0], 0.005)
    yield GROUP.rendered("overcast sky of 10 000 lx on a wall without ground", source, 3961.77,
                         found.total[1], found.total_error[1], 0.005)
    low = np.radians(30)
    sun = Sun(0, np.array([np.cos(low), 0.0, np.sin(low)]))
    built = stages.stage((), chip, light=stages.lamp(80_000.0, "lx"), sun=sun, probes=[
        stages.probe((0, 0, 1)), stages.probe((0, 0, 1), sun.towards)])
    found = stages.measure(built, backend)
    for i, (name, lux) in enumerate((("level ground, sun 30° up", 40_000.0),
                                     ("a surface that faces it", 80_000.0))):
        yield GROUP.rendered(f"sun of 80 000 lx on {name}", "cosine law", lux, found.total[i],
                             found.total_error[i])


def _glass(backend):
    source = "Fresnel's equations, all reflections between the faces; equal to quadrature"
    ball = stages.emitter(shapes.ball(0.02, subdivisions=3), (0, 0, 3), symmetric=True)
    ones = np.ones(81)
    for name, angle, sheets, expected in (("one pane, square on", 0, 1, 0.9183),
                                          ("one pane at 60°", 60, 1, 0.8435),
                                          ("one pane at 75°", 75, 1, 0.6148),
                                          ("two panes, square on", 0, 2, 0.8490)):
        turn = np.radians(angle)
        along = np.array([np.cos(turn), 0.0, np.sin(turn)])
        glass = Pane("pane", np.array([0.0, 0.0, 1.5]), 2 * along, np.array([0.0, 2.0, 0.0]), 1.52,
                     sheets, ones)
        built = stages.stage([ball], light=stages.lamp(4 * np.pi * 9000.0), panes=(glass,),
                             probes=[stages.probe((0, 0, 0))])
        found = stages.measure(built, backend)
        # Light that the glass mirrors back comes from behind the lamp's own side and is not
        # counted: only what came straight through.
        yield GROUP.rendered(f"transmission of {name}, index 1.52", source, expected,
                             found.value[0, 0] / 1000, found.error[0, 0] / 1000, 0.005, "")
    turn = np.radians(60)
    box = shapes.box((-2, -2, -0.003), (2, 2, 0.003))
    body = shapes.place(box, shapes.aimed((np.sin(turn), 0, np.cos(turn))), np.array([0, 0, 1.5]))
    made = Surface("glass", 0 * ones, 0 * ones, normal_reflectance(1.52) * ones, 1.0, 0.0,
                   glass=Glass(1.52, 0 * ones, 0.006, closed=True))
    built = stages.stage([ball], [Mesh("pane", "glass", *body)], made, stages.lamp(4 * np.pi * 9000.0),
                         [stages.probe((0, 0, 0))])
    found = stages.measure(built, backend)
    yield GROUP.rendered("transmission of a mesh's pane at 60°, index 1.52", source, 0.8435,
                         found.value[0, 0] / 1000, found.error[0, 0] / 1000, 0.005, "")


def _haze(backend):
    ball = stages.emitter(shapes.ball(0.02, subdivisions=3), (0, 0, 5), symmetric=True)
    for density, lux in ((0.02, 36.193), (0.05, 31.152)):
        air = Haze(density, np.ones(81), 0.6, 0.0, 0.0, np.full(3, -20.0), np.full(3, 20.0))
        built = stages.stage([ball], light=stages.lamp(4 * np.pi * 1000.0),
                             probes=[stages.probe((0, 0, 0))], haze=air)
        found = stages.measure(built, backend, 0.005)
        yield GROUP.rendered(f"1000 cd at 5 m through haze of {density:g} /m, what comes straight",
                             "inverse square and Beer-Lambert law", lux, found.value[0, 0],
                             found.error[0, 0])
