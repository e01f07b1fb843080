"""The mix of all lamps against another path tracer: a general-purpose renderer's own `path`.

`previz.engine.plain_scene` says what differs there.
Both are noisy: tiles of both pictures are held together by the error that their passes show.
"""

import dataclasses

import numpy as np
import pytest

from previz.engine.plain_scene import plain_scene
from previz.physics.lamps import spectrum_of
from previz.physics.light import lamp_band_xyz
from previz.physics.profiles import hard_edged, soft_edged
from previz.stage import shapes
from previz.stage.records import Guide, Haze, Mesh, Pane, Sky
from previz.stage.surfaces import library_surface

pytestmark = pytest.mark.engine

WIDTH, HEIGHT = 32, 24
RUNS = 8


def ours(tiny, stage, camera, samples, *, bands=1, seed=1):
    """XYZ of the mix, one picture a run: (runs, 3, row, column)."""
    buffers = tiny.open_stage(stage, bands)
    weights = np.array([lamp_band_xyz(lamp, bands) for lamp in stage.lamps])
    runs = []
    for k in range(RUNS):
        frames = tiny.picture(stage, camera, WIDTH, HEIGHT, samples, passes=1, seed=seed + 100 * k,
                              bands=bands, buffers=buffers, max_depth=1000)
        runs.append(np.einsum("lbrc,lbi->irc", np.asarray(frames.slices, float), weights))
    return np.stack(runs)


def hold(tiny, folder, stage, camera, *, samples=128, plain_samples=128, bands=1, channels=(1,),
         spectral=False, tolerance=0.01):
    """Hold our mix against the plain path tracer's, tile by tile and as a whole.

    What counts is the sum of both variances: samples are so many that the whole picture's error is
    a quarter of the tolerance, and a third of it where glass and haze take long. A path of ours takes a
    third to a seventh of the time of one of theirs, so for the same sum it is cheaper to have more of ours.
    """
    mine = ours(tiny, stage, camera, samples, bands=bands)
    theirs = tiny.plain_passes(stage, camera, WIDTH, HEIGHT, samples=plain_samples, passes=RUNS,
                          seed=77, spectral=spectral, max_depth=-1)
    for channel in channels:
        (a, a_var), (b, b_var) = ((x[:, channel].mean(0), x[:, channel].var(0, ddof=1) / RUNS)
                                  for x in (mine, theirs))
        tiny.z_test(folder, a, a_var, b, b_var)
        tiny.agree(a.mean(), np.sqrt(a_var.sum() + b_var.sum()) / a.size, b.mean(), tolerance)


def box_room(tiny, *more, **parts):
    surfaces = (tiny.surface(reflectance=0.5), *parts.pop("surfaces", ()))
    return tiny.stage(tiny.closed_box((0, 0, 0), (3, 2.4, 2)), *more, surfaces=surfaces, **parts)


def view(tiny, **more):
    return tiny.camera((2.8, 0.2, 1.2), (0.6, 1.6, 0.8), tan_half=(0.6, 0.45), **more)


def test_a_lamp_in_the_picture_has_its_luminance(tiny):
    """Both colour modes of the other renderer give cd/m²: L = Phi / (pi A) of a bare face."""
    # Proves the constants of check value 0.2: luminance = 683.002 · 106.7503 · Y in spectral mode.
    stage = tiny.stage(emitters=[tiny.rectangle_lamp(2, 2, (0, 2, 0), (0, -1, 0))],
                       lamps=[tiny.lamp(output=400 * np.pi,
                                        spectrum=spectrum_of("blackbody", 3200.0))])
    camera = tiny.camera((0, 0, 0), (0, 1, 0), tan_half=(0.4, 0.3))
    for spectral, tolerance in ((False, 1e-4), (True, 0.005)):
        seen = tiny.plain_passes(stage, camera, 16, 12, samples=256, passes=1, spectral=spectral)
        assert seen[0, 1].mean() == pytest.approx(100, rel=tolerance)
    # And so do we.
    assert np.mean(tiny.luminance(tiny.picture(stage, camera, 16, 12, 8))) * 400 * np.pi == (
        pytest.approx(100, rel=1e-4))


def test_area_lamps(tiny, tmp_path):
    """A bulb, a soft front and a tube at different levels in a grey room."""
    stage = box_room(
        tiny, emitters=[
            tiny.ball_lamp(0.05, (1.9, 0.5, 1.8), index=0, subdivisions=1),
            tiny.rectangle_lamp(0.6, 0.4, (2.4, 1.0, 1.9), (-0.3, 0.2, -1), index=1),
            tiny.tube_lamp(0.02, 0.8, (1.6, 1.3, 1.9), (0.2, 1, 0), index=2, sides=12)],
        lamps=[tiny.lamp("a", output=100), tiny.lamp("b", output=300), tiny.lamp("c", output=50)])
    hold(tiny, tmp_path, stage, view(tiny), samples=64, plain_samples=64)


def test_beams(tiny, tmp_path):
    """A hard-edged and a soft beam from small lenses."""
    axes = [shapes.aimed(np.array(d)) for d in ((-2, 0.8, -1.0), (-1.0, 2.0, -0.4))]
    emitters = [
        tiny.disc_lamp(0.01, at, tuple(a[:, 2]), index=i, sides=12, table=table,
                       world_from_light=a)
        for i, (at, a, table) in enumerate(zip(
            ((2.5, 0.8, 1.8), (1.8, 0.2, 1.6)), axes, (hard_edged(40, 0.3), soft_edged(25, 45)),
            strict=True))]
    stage = box_room(tiny, emitters=emitters,
                     lamps=[tiny.lamp("a", output=300), tiny.lamp("b", output=200)])
    hold(tiny, tmp_path, stage, view(tiny), samples=64, plain_samples=64)


def test_pictures_smooth_shapes_and_cloth(tiny, tmp_path):
    """A printed sheet, a ball with smooth normals, and a cloth with a lamp behind it."""
    rng = np.random.default_rng(3)
    print_ = np.kron(rng.uniform(0.1, 0.9, (4, 6, 1)), np.ones((8, 8, 3))).astype(np.float32)
    sheet, faces = shapes.rectangle((0.05, 1.3, 0.9), (0, -0.6, 0), (0, 0, 0.5))
    poster = Mesh("poster", "print", sheet, faces,
                  uv=np.array([[0, 0], [1, 0], [1, 1], [0, 1]], float))
    vertices, faces = shapes.ball(0.35, subdivisions=3)
    ball = Mesh("ball", "grey", vertices + [0.9, 1.8, 0.4], faces,
                vertices / np.linalg.norm(vertices, axis=1, keepdims=True))
    cloth = tiny.patch(0.9, 0.9, (1.6, 1.9, 1.3), (-0.5, -1, -0.3), "cloth", "cloth")
    stage = box_room(
        tiny, poster, ball, cloth,
        surfaces=[tiny.surface("print", texture=print_),
                  tiny.surface("cloth", 0.4, transmission=0.45)],
        emitters=[tiny.disc_lamp(0.15, (1.9, 2.3, 1.5), (-0.4, -1, -0.4), sides=12),
                  tiny.rectangle_lamp(0.4, 0.4, (2.0, 0.3, 1.9), (-0.3, 0.4, -1), index=1)],
        lamps=[tiny.lamp("behind", output=300), tiny.lamp("front", output=100)])
    hold(tiny, tmp_path, stage, view(tiny))


@pytest.mark.parametrize("sheets", [1, 2])
def test_through_a_pane(tiny, tmp_path, sheets):
    """A camera behind glass, and a lamp beyond it."""
    # Nearly square to the pane, where the mean of both polarisations is as good as each by itself.
    # The lamp is large, as the plain tracer meets it through glass without light sampling, and its image
    # in the pane is out of the picture, where few paths would find it.
    pane = Pane("window", np.array([1.6, 1.2, 1.0]), np.array([0, 1.1, 0]), np.array([0, 0, 0.9]),
                1.52, sheets, np.ones(81))
    stage = box_room(tiny, emitters=[tiny.rectangle_lamp(0.8, 0.5, (2.9, 1.2, 1.7), (-1, 0, -0.1))],
                     lamps=[tiny.lamp(output=500)], panes=(pane,))
    camera = tiny.camera((2.6, 1.0, 1.1), (0.2, 1.3, 0.5), tan_half=(0.4, 0.3))
    hold(tiny, tmp_path, stage, camera, samples=96, plain_samples=512, tolerance=0.015)


def open_room(tiny, **daylight):
    """A room with one opening in its west wall and ground outside."""
    parts = [tiny.patch(40, 40, (0, 0, -0.02), (0, 0, 1), "ground", "ground")]
    # Five closed sides, seen from both, and a wall in four pieces about the opening.
    for centre, facing, size in (
            ((1.5, 1.2, 0), (0, 0, 1), (3, 2.4)), ((1.5, 1.2, 2), (0, 0, -1), (3, 2.4)),
            ((3, 1.2, 1), (-1, 0, 0), (2.4, 2)), ((1.5, 0, 1), (0, 1, 0), (3, 2)),
            ((1.5, 2.4, 1), (0, -1, 0), (3, 2)),
            ((0, 1.2, 0.3), (1, 0, 0), (2.4, 0.6)), ((0, 1.2, 1.8), (1, 0, 0), (2.4, 0.4)),
            ((0, 0.35, 1.1), (1, 0, 0), (0.7, 1.0)), ((0, 2.1, 1.1), (1, 0, 0), (0.6, 1.0))):
        parts.append(tiny.patch(*size, centre, facing))
    opening = Guide("window", np.array([0, 1.25, 1.1]), np.array([0, 0.55, 0]),
                    np.array([0, 0, 0.5]), opening=True)
    return tiny.stage(*parts, surfaces=[tiny.surface(reflectance=0.6),
                                        tiny.surface("ground", 0.25)],
                      guides=(opening,), **daylight)


def test_daylight_through_an_opening(tiny, tmp_path):
    """Sky and sun come in by a window, and back up from the ground."""
    radiance = np.linspace(1.0, 0.3, 64)[:, None] * (1.2 + np.sin(np.arange(180) / 180 * 2 * np.pi))
    stage = open_room(
        tiny, sun=tiny.sun((-1.0, 0.25, 0.7), index=0, angle_deg=4.0), sky=Sky(1, radiance / 3),
        lamps=[tiny.lamp("sun", "lx", 2000.0), tiny.lamp("sky", "lx", 3000.0)])
    camera = tiny.camera((2.8, 0.5, 1.2), (0.2, 1.4, 0.9), tan_half=(0.6, 0.45))
    hold(tiny, tmp_path, stage, camera, samples=192, plain_samples=128)


def test_haze(tiny, tmp_path):
    """Many scatterings in even, forward-scattering haze, lit by a front and a beam."""
    axes = shapes.aimed(np.array((-2, 0.8, -1.0)))
    haze = Haze(0.3, np.full(81, 0.95), 0.6, 0.0, 0.0, np.full(3, -1e5), np.full(3, 1e5))
    stage = box_room(
        tiny, haze=haze, emitters=[
            tiny.rectangle_lamp(0.6, 0.4, (2.4, 1.0, 1.9), (-0.3, 0.2, -1), index=0),
            tiny.disc_lamp(0.01, (2.5, 0.8, 1.8), tuple(axes[:, 2]), index=1, sides=12,
                           table=hard_edged(40, 0.3), world_from_light=axes)],
        lamps=[tiny.lamp("front", output=300), tiny.lamp("beam", output=30)])
    # Air near the beam's lens is bright and met by few paths: its error is held to 2 %.
    hold(tiny, tmp_path, stage, view(tiny), samples=160, tolerance=0.02)


def test_lens(tiny, tmp_path):
    """Out of focus, both lenses blur alike."""
    stage = box_room(tiny, tiny.patch(0.3, 0.3, (1.9, 0.9, 1.0), (1, -0.6, 0.2), "white", "card"),
                     surfaces=[tiny.surface("white", 0.9)],
                     emitters=[tiny.rectangle_lamp(0.5, 0.5, (1.5, 1.2, 1.95))],
                     lamps=[tiny.lamp(output=300)])
    hold(tiny, tmp_path, stage, view(tiny, lens_radius=0.05, focus=2.4), samples=64, plain_samples=32)


def test_colours_against_spectra(tiny, tmp_path):
    """Coloured walls under tungsten, daylight and LED light, against a spectral path tracer.

    Twenty-four bands, so that what is compared is the transport and not the bands; the bands are
    held to 5 nm sums elsewhere (tests/physics).
    """
    spectra = [spectrum_of("blackbody", 2700.0), spectrum_of("daylight", 6500.0),
               spectrum_of("led", 4000.0)]
    emitters = [tiny.ball_lamp(0.06, (1.9, 0.5, 1.8), index=0, subdivisions=1),
                tiny.rectangle_lamp(0.6, 0.4, (2.4, 1.0, 1.9), (-0.3, 0.2, -1), index=1),
                tiny.tube_lamp(0.03, 0.8, (1.6, 1.3, 1.9), (0.2, 1, 0), index=2, sides=12)]
    lamps = [tiny.lamp(f"{i}", output=flux, spectrum=s)
             for i, (flux, s) in enumerate(zip((100, 200, 80), spectra, strict=True))]
    brick, grass = (dataclasses.replace(library_surface(name), gloss=0.0)
                    for name in ("brick", "grass"))
    stage = tiny.stage(
        tiny.closed_box((0, 0, 0), (3, 2.4, 2), "brick"),
        tiny.patch(1.4, 1.2, (0.05, 1.4, 0.8), (1, 0, 0), "grass", "sheet"),
        surfaces=[brick, grass], emitters=emitters, lamps=lamps)
    hold(tiny, tmp_path, stage, view(tiny), bands=24, channels=(0, 1, 2), spectral=True,
         samples=64, plain_samples=80)


def test_what_the_other_renderer_refuses(tiny):
    """A view whose pixels would not be square is refused, and haze that thins with height."""
    stage = tiny.stage(emitters=[tiny.disc_lamp(1)])
    with pytest.raises(ValueError, match="square pixels"):
        plain_scene(stage, tiny.camera((0, 0, 1), (0, 0, 0), tan_half=(0.4, 0.4)), 32, 24)
    thin = Haze(0.1, np.ones(81), 0.0, 0.5, 0.0, np.full(3, -1e5), np.full(3, 1e5))
    with pytest.raises(ValueError, match="thins with height"):
        plain_scene(dataclasses.replace(stage, haze=thin), view(tiny), WIDTH, HEIGHT)
