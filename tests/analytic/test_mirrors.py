"""Light off flat mirrors and panes, against lamps at their mirror images.

A flat mirror sends light on as if from the lamp's mirror image, dimmed by its reflectance at the
angle of incidence (geometrical optics). A small ball at distance d gives E = Phi cos / (4 pi d²).
A mirror's reflectance follows Schlick's approximation of Fresnel's equations, a pane's Fresnel's
equations themselves with all reflections between its faces: 2 r / (1 + r) a polarisation.
"""

import numpy as np
import pytest

from previz.stage import shapes
from previz.stage.records import Glass, Guide, Haze, Mesh, Pane, Sky, Surface

pytestmark = pytest.mark.engine

ONES = np.ones(81)
STRAIGHT = 0.879
LUMENS = 1000.0


def _mirror(t, f0=STRAIGHT):
    return t.surface("mirror", 0.0, f0=f0, gloss=1.0, roughness=0.0)


def _schlick(cosine, f0=STRAIGHT):
    return f0 + (1 - f0) * (1 - cosine) ** 5


def _pane(cosine, ior=1.52):
    inner = np.sqrt(1 - (1 - cosine**2) / ior**2)
    parts = (((cosine - ior * inner) / (cosine + ior * inner)) ** 2,
             ((ior * cosine - inner) / (ior * cosine + inner)) ** 2)
    return sum(r / (1 + r) for r in parts)


def _ball(lamp, meter, faces, reflectance=1.0):
    """Illuminance by a small ball of `LUMENS` at a place, or at its image."""
    direction = np.asarray(lamp, float) - meter
    away = np.linalg.norm(direction)
    return LUMENS / (4 * np.pi * away**2) * max(0.0, direction @ faces / away) * reflectance


def _sun_off_a_board(t):
    """The sun 30 deg high, thrown back by an upright board onto a level meter in its patch."""
    low, high = np.cos(np.radians(30)), 0.5
    board = t.patch(1, 1, (0, 2, 1.5), (0, -1, 0), "mirror", "board")
    meter = t.probe((0, 2 - 1.5 * low / high, 0))
    stage = t.stage(board, surfaces=(_mirror(t), t.surface()), sun=t.sun((0, -low, high)),
                    lamps=[t.lamp("sun", unit="lx", output=80_000.0)], probes=(meter,))
    return stage, 80_000 * high * (1 + _schlick(low))


@pytest.mark.parametrize("seed", range(1, 11))
def test_sun_off_a_mirror_board_is_found_on_every_seed(tiny, seed):
    """E = E_n sin h (1 + R): no seed reads the sun alone."""
    stage, expected = _sun_off_a_board(tiny)
    found = tiny.measure(stage, 0.003, seed=seed)
    assert found.total[0] == pytest.approx(expected, rel=0.015)
    assert abs(found.total[0] - expected) < 5 * found.total_error[0]


def test_bulb_and_its_image(tiny):
    """A 60 mm bulb before a mirror lights a meter twice."""
    lamp, meter, faces = np.array([0, 0, 1.0]), np.array([1.5, 0, 1.0]), np.array([-1.0, 0, 0])
    stage = tiny.stage(
        tiny.patch(4, 4, (0, 0, 0), (0, 0, 1), "mirror"), surfaces=(_mirror(tiny),),
        emitters=(tiny.ball_lamp(0.03, lamp, subdivisions=4),), probes=(tiny.probe(meter, faces),),
        lamps=[tiny.lamp(output=LUMENS)])
    image = lamp * (1, 1, -1)
    expected = _ball(lamp, meter, faces) + _ball(image, meter, faces, _schlick(2 / 2.5))
    found = tiny.measure(stage, 0.002)
    tiny.agree(found.total[0], found.total_error[0], expected)


def test_two_mirrors_in_a_corner_have_three_images(tiny):
    """One image in each mirror, and one off both, dimmed twice."""
    lamp, meter = np.array([1.0, 1.5, 0]), np.array([0.5, -0.5, 0])
    faces = np.array([0.6, 0.8, 0])
    walls = (tiny.patch(6, 6, (0, 3, 0), (0, -1, 0), "mirror", "north"),
             tiny.patch(6, 6, (3, 0, 0), (-1, 0, 0), "mirror", "east"))
    stage = tiny.stage(*walls, surfaces=(_mirror(tiny),), probes=(tiny.probe(meter, faces),),
                       emitters=(tiny.ball_lamp(0.03, lamp, subdivisions=4),),
                       lamps=[tiny.lamp(output=LUMENS)])

    def dimmed(image, axes):
        direction = np.abs(image - meter) / np.linalg.norm(image - meter)
        return _ball(image, meter, faces, np.prod([_schlick(direction[axis]) for axis in axes]))

    expected = (_ball(lamp, meter, faces) + dimmed(np.array([1, 4.5, 0]), [1])
                + dimmed(np.array([5, 1.5, 0]), [0]) + dimmed(np.array([5, 4.5, 0]), [0, 1]))
    found = tiny.measure(stage, 0.002)
    tiny.agree(found.total[0], found.total_error[0], expected)


def _glass(t, kind):
    """The same pane as an opening has it, as one face of a mesh and as a box of both faces."""
    if kind == "pane":
        return {"panes": (Pane("window", np.zeros(3), np.array([2.0, 0, 0]), np.array([0, 2.0, 0]),
                               1.52, 1, ONES),)}, ()
    once = ((1.52 - 1) / (1.52 + 1)) ** 2
    closed = kind == "box"
    surface = Surface("glass", 0 * ONES, 0 * ONES, once * ONES, 1.0, 0.0,
                      glass=Glass(1.52, 0 * ONES, 0.001, closed))
    box = shapes.box((-2, -2, -0.0005), (2, 2, 0.0005))
    mesh = Mesh("glass", "glass", *box) if closed else t.patch(4, 4, (0, 0, 0), (0, 0, 1), "glass")
    return {"surfaces": (surface,)}, (mesh,)


@pytest.mark.parametrize("kind", ["pane", "face", "box"])
@pytest.mark.parametrize("side", [1, -1])
def test_a_pane_throws_a_bulb_back(tiny, kind, side):
    """A window mirrors a bulb by Fresnel, on the one side as on the other, however it is drawn."""
    lamp, meter = np.array([0, 0, 1.5 * side]), np.array([1.5, 0, 1.0 * side])
    faces = np.array([0, 0, -1.0 * side])
    more, meshes = _glass(tiny, kind)
    stage = tiny.stage(*meshes, emitters=(tiny.ball_lamp(0.03, lamp, subdivisions=4),),
                       probes=(tiny.probe(meter, faces),), lamps=[tiny.lamp(output=LUMENS)], **more)
    image = lamp * (1, 1, -1)
    cosine = 2.5 / np.linalg.norm(image - meter)
    found = tiny.measure(stage, 0.002)
    tiny.agree(found.total[0], found.total_error[0], _ball(image, meter, faces, _pane(cosine)))


def test_what_stands_before_a_mirror_is_not_seen_through(tiny):
    """A screen between lamp and mirror, or between mirror and meter, keeps the image dark."""
    lamp, meter, faces = np.array([0, 0, 1.0]), np.array([1.5, 0, 1.0]), np.array([0, 0, -1.0])
    mirror = tiny.patch(4, 4, (0, 0, 0), (0, 0, 1), "mirror")
    black = tiny.surface("black", 0.0)

    def read(screen):
        stage = tiny.stage(mirror, screen, surfaces=(_mirror(tiny), black),
                           emitters=(tiny.ball_lamp(0.03, lamp, subdivisions=3),),
                           probes=(tiny.probe(meter - (0, 0, 0.1), faces),),
                           lamps=[tiny.lamp(output=LUMENS)])
        return tiny.measure(stage, 0.01, most_rounds=4).total[0]

    aside = tiny.patch(0.3, 0.3, (0.7, 1.5, 0.3), (0, 0, 1), "black", "screen")
    before_meter = tiny.patch(0.6, 0.6, (1.2, 0, 0.4), (0, 0, 1), "black", "screen")
    before_lamp = tiny.patch(0.6, 0.6, (0.4, 0, 0.4), (0, 0, 1), "black", "screen")
    assert read(aside) > 1
    assert read(before_meter) == pytest.approx(0, abs=1e-9)
    assert read(before_lamp) == pytest.approx(0, abs=1e-9)


def _hall(t, haze):
    """A room with a mirror, a varnished floor, a window and a screen of glass, lit by all kinds."""
    surfaces = (_mirror(t, 0.8), t.surface("grey", 0.5),
                t.surface("varnish", 0.4, f0=0.05, gloss=1.0, roughness=0.0),
                Surface("glass", 0 * ONES, 0 * ONES, 0.05 * ONES, 1.0, 0.0,
                        glass=Glass(1.6, 30 * ONES, 0.006)))
    south = [((1, 3), (-1.5, -2, 1.5)), ((1, 3), (1.5, -2, 1.5)), ((2, 0.8), (0, -2, 0.4)),
             ((2, 0.8), (0, -2, 2.6))]
    meshes = [t.patch(4, 4, (0, 0, 0), (0, 0, 1), "varnish"),
              t.patch(4, 4, (0, 0, 3), (0, 0, -1)), t.patch(4, 3, (0, 2, 1.5), (0, -1, 0)),
              t.patch(4, 3, (-2, 0, 1.5), (1, 0, 0)), t.patch(4, 3, (2, 0, 1.5), (-1, 0, 0)),
              t.patch(1.5, 1.5, (1.99, 0, 1.5), (-1, 0, 0), "mirror"),
              t.patch(1.2, 1.2, (-1, 0.6, 0.8), (1, 0.3, 0), "glass"),
              *(t.patch(*size, at, (0, 1, 0)) for size, at in south)]
    window = (np.array([0, -2, 1.5]), np.array([1.0, 0, 0]), np.array([0, 0, 0.7]))
    air = Haze(0.15, 0.95 * ONES, 0.5, 0.0, 0.0, np.array([-2.0, -2, 0]), np.array([2.0, 2, 3]))
    outputs = (1000, 1500, 2000, 100)
    return t.stage(
        *meshes, surfaces=surfaces, lamps=[t.lamp(f"l{i}", output=x) for i, x in enumerate(outputs)],
        emitters=(t.ball_lamp(0.15, (-0.8, 0.5, 2)),
                  t.rectangle_lamp(0.6, 0.4, (0.5, 1.5, 2), (0.6, -1, -0.5), index=1)),
        sun=t.sun((0.3, -1, 0.5), index=2, angle_deg=20.0), sky=Sky(3, np.ones((8, 16)) / np.pi),
        panes=(Pane("window", *window, 1.52, 2, 0.9 * ONES),),
        guides=(Guide("window", *window, opening=True),), haze=air if haze else None,
        probes=(t.probe((0.8, -0.5, 1.2), (1, 0, 0)), t.probe((0.3, 0.2, 1.2), (0, 0, -1)),
                t.probe((0, -2.5, 1.5), (0, 1, 0), dome=True)))


@pytest.mark.parametrize("haze", [False, True], ids=["clear", "hazy"])
def test_images_and_chance_agree_where_chance_finds_all(tiny, haze):
    """Large lamps are found through mirrors by chance too, lamp by lamp as much as with images."""
    stage = _hall(tiny, haze)
    buffers = tiny.open_stage(stage, 1)
    with_images = tiny.measure(stage, 0.01, buffers=buffers, most_rounds=6)
    buffers.images = None
    by_chance = tiny.measure(stage, 0.01, buffers=buffers, most_rounds=6, seed=2)
    spread = np.hypot(with_images.each_error, by_chance.each_error)
    z = (with_images.each - by_chance.each)[spread > 0] / spread[spread > 0]
    # Some 20 normal variates; one in 400 suites has one beyond 4, of errors known to a tenth.
    assert np.abs(z).max() < 4.5
    assert np.sqrt(np.mean(z**2)) < 1.6


def test_the_patch_in_a_picture_is_as_clean_as_the_sun_next_to_it(tiny):
    """Relative noise in a mirrored patch is at most three times that of plain sunlight."""
    low, high = np.cos(np.radians(30)), 0.5
    board = tiny.patch(1, 1, (0, 2, 1.5), (0, -1, 0), "mirror", "board")
    ground = tiny.patch(12, 12, (0, 0, 0), (0, 0, 1))
    camera = tiny.camera((0, -2.5, 5), (0, -0.6, 0), tan_half=(0.25, 0.25))
    stage = tiny.stage(board, ground, surfaces=(_mirror(tiny), tiny.surface()),
                       sun=tiny.sun((0, -low, high)), lamps=[tiny.lamp("sun", "lx", 80_000.0)],
                       cameras=(camera,))
    frames = tiny.picture(stage, camera, 24, 24, 64)
    light = tiny.luminance(frames)[0]
    noise = np.sqrt(np.asarray(frames.variance, float).reshape(24, 24)) / light
    plain = np.median(light)
    patch = light > 1.7 * plain
    # About 1 m by 1.7 m of the 2.8 m square that is seen.
    assert 20 < patch.sum() < 300
    assert np.median(light[patch]) / plain == pytest.approx(1 + _schlick(low), rel=0.02)
    assert np.median(noise[patch]) < 3 * max(np.median(noise[~patch]), 0.02)
