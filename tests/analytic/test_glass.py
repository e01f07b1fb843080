"""Glass of meshes: against Fresnel, Snell, Beer and Lambert, and the renderer's own dielectric."""

import functools
from dataclasses import replace

import numpy as np
import pytest

from previz.physics.bands import band_means
from previz.physics.optics import pane as window
from previz.stage import shapes
from previz.stage.records import Emitter, Glass, Haze, Mesh, Pane, Surface

pytestmark = pytest.mark.engine

INDEX = 1.52
F0 = ((INDEX - 1) / (INDEX + 1)) ** 2
ONES = np.ones(81)

# Whole pane of n = 1.52 without absorption, all inter-reflections counted: Fresnel's equations for
# both polarisations and their mean, (1 - R) / (1 + R) each; computed outside this package.
PANE_THROUGH = {0: 0.9183, 30: 0.9160, 45: 0.9025, 60: 0.8435, 75: 0.6148}


def glass(name="glass", *, absorption=0.0, thickness=0.0, closed=False):
    """A surface of glass; a body unless it is given a thickness."""
    return Surface(name, 0 * ONES, 0 * ONES, F0 * ONES, 1.0, 0.0,
                   glass=Glass(INDEX, absorption * ONES, thickness, closed))


def sheet(**more):
    return glass(thickness=0.006, **more)


def slab(angle_deg, thickness, *, size=6.0, name="pane"):
    """A box square to a direction at an angle to z in the plane y = 0, about the origin."""
    angle = np.radians(angle_deg)
    half = np.array([size, size, thickness]) / 2
    ahead = np.array([np.sin(angle), 0, np.cos(angle)])
    return Mesh(name, "glass", *shapes.place(shapes.box(-half, half), shapes.aimed(ahead),
                                             np.zeros(3)))


def face(angle_deg, *, size=6.0):
    """The same as one face."""
    angle = np.radians(angle_deg)
    flat = shapes.rectangle((0, 0, 0), (size / 2, 0, 0), (0, size / 2, 0))
    ahead = np.array([np.sin(angle), 0, np.cos(angle)])
    return Mesh("pane", "glass", *shapes.place(flat, shapes.aimed(ahead), np.zeros(3)))


def field(half=4.0):
    """Even light from all sides: a box that shines inwards."""
    vertices, faces = shapes.box((-half,) * 3, (half,) * 3)
    return Emitter(0, "field", vertices, faces[:, ::-1])


UP, BELOW = np.array([[0, 0, 1.0]]), np.array([[0, 0, -2.0]])


@pytest.fixture(scope="module")
def bare(tiny):
    """(radius, bands) -> what is seen of a disc 4 m off with nothing before it."""
    @functools.cache
    def seen(radius, bands=1):
        stage = tiny.stage(emitters=[tiny.disc_lamp(radius, (0, 0, 2))])
        return tiny.radiance(stage, BELOW, UP, 4, bands=bands)[0]

    return seen


@pytest.fixture(scope="module")
def bare_reading(tiny):
    """What the disc of the tests with a meter gives it with nothing between them."""
    stage = tiny.stage(emitters=[tiny.disc_lamp(0.02, (0, 0, 2))], probes=[tiny.probe((0, 0, -2))])
    return tiny.measure(stage, 0.1).total


@pytest.mark.parametrize("angle", PANE_THROUGH)
@pytest.mark.parametrize("closed", [False, True], ids=["one face", "both faces"])
def test_a_pane_passes_what_fresnel_says(tiny, bare, bare_reading, angle, closed):
    """Seen through it, and sampled through it from a meter, however it was drawn."""
    pane = slab(angle, 0.006) if closed else face(angle)
    lamp = tiny.disc_lamp(0.02, (0, 0, 2))
    glazed = tiny.stage(pane, emitters=[lamp], surfaces=[sheet(closed=closed)],
                        probes=[tiny.probe((0, 0, -2))])
    expected = PANE_THROUGH[angle]
    buffers = tiny.open_stage(glazed, 1)
    # No path has to be drawn: the disc is small, its angles are the same to 1 %, and 13 000 light
    # samples leave no noise that matters.
    lit = tiny.measure(glazed, 0.1, buffers=buffers).total / bare_reading
    assert lit == pytest.approx(expected, abs=1e-3)
    seen, error = tiny.radiance(glazed, BELOW, UP, 2048, buffers=buffers)
    whole = bare(0.02)
    tiny.agree(seen / whole, error / whole, expected, 0.005)


@pytest.mark.parametrize("closed", [False, True], ids=["one face", "both faces"])
def test_tint_follows_beer_and_lambert(tiny, bare, closed):
    """Deeper at a slant, with the light thrown to and fro; what is mirrored is tinted less."""
    clear, angle = 0.7, 60
    made = sheet(absorption=-np.log(clear) / 0.006, closed=closed)
    pane = slab(angle, 0.006) if closed else face(angle)
    through, back = window(np.cos(np.radians(angle)), INDEX, internal=clear)
    lamp = tiny.disc_lamp(0.3, (0, 0, 2))
    seen, error = tiny.radiance(tiny.stage(pane, emitters=[lamp], surfaces=[made]), BELOW, UP, 2048)
    whole = bare(0.3)
    tiny.agree(seen / whole, error / whole, float(through), 0.005)
    # The lamp where the pane throws the line of sight.
    direction = UP[0] - 2 * np.cos(np.radians(angle)) * np.array([np.sin(np.radians(angle)), 0,
                                                            np.cos(np.radians(angle))])
    aside = tiny.disc_lamp(0.3, 2 * direction, -direction)
    seen, error = tiny.radiance(tiny.stage(pane, emitters=[aside], surfaces=[made]), BELOW, UP, 4096)
    tiny.agree(seen / whole, error / whole, float(back), 0.02)


def test_a_coloured_pane_colours_each_band_by_itself(tiny, bare):
    """Bands are tinted separately, in what is sampled as in what is seen."""
    nm = np.linspace(380, 780, 81)
    absorption = np.where(nm < 550, 200.0, 20.0)
    made = Surface("glass", 0 * ONES, 0 * ONES, F0 * ONES, 1.0, 0.0,
                   glass=Glass(INDEX, absorption, 0.006))
    lamp = tiny.disc_lamp(0.3, (0, 0, 2))
    seen, error = tiny.radiance(tiny.stage(face(0), emitters=[lamp], surfaces=[made]), BELOW, UP, 1024,
                            bands=12)
    whole = bare(0.3, 12)
    expected = window(1.0, INDEX, internal=band_means(np.exp(-0.006 * absorption), 12))[0]
    tiny.agree(seen / whole, error / whole, expected, 0.005)


def test_panes_of_rooms_and_of_meshes_lie_behind_one_another(tiny, bare):
    """Through both: the product. In both: each mirrors, dimmed by the one before it twice."""
    room = Pane("window", np.array([0, 0, -1.0]), np.array([3.0, 0, 0]), np.array([0, 3.0, 0]),
                INDEX, 1, ONES)
    lamp = tiny.disc_lamp(0.5, (0, 0, 2))
    both = tiny.stage(face(0), emitters=[lamp], surfaces=[sheet()], panes=(room,))
    clear = float(window(1.0, INDEX)[0])
    seen, error = tiny.radiance(both, BELOW, UP, 4096)
    # A diffuse disc is as bright from everywhere before it.
    whole = bare(0.5)
    # Two like panes, all that is thrown to and fro between them counted: T / (2 - T).
    tiny.agree(seen / whole, error / whole, clear / (2 - clear), 0.005)
    behind = tiny.disc_lamp(0.5, (0, 0, -3), (0, 0, 1))
    seen, error = tiny.radiance(replace(both, emitters=(behind,)), BELOW, UP, 8192)
    tiny.agree(seen / whole, error / whole, 1 - clear / (2 - clear), 0.02)


def test_haze_and_glass_dim_one_after_the_other(tiny, bare, bare_reading):
    """Haze that only swallows, and a pane: exp(-k d) T, seen and sampled."""
    haze = Haze(0.1, 0 * ONES, 0.0, 0.0, 0.0, np.full(3, -10.0), np.full(3, 10.0))
    lamp = tiny.disc_lamp(0.02, (0, 0, 2))
    hazy = tiny.stage(face(30), emitters=[lamp], surfaces=[sheet()],
                      probes=[tiny.probe((0, 0, -2))], haze=haze)
    expected = np.exp(-0.4) * PANE_THROUGH[30]
    buffers = tiny.open_stage(hazy, 1)
    lit = tiny.measure(hazy, 0.1, buffers=buffers).total / bare_reading
    assert lit == pytest.approx(expected, abs=1e-3)
    seen, error = tiny.radiance(hazy, BELOW, UP, 4096, buffers=buffers)
    whole = bare(0.02)
    tiny.agree(seen / whole, error / whole, expected, 0.01)


@pytest.mark.parametrize("turned", [False, True], ids=["one face", "both faces"])
def test_a_card_behind_a_pane_is_seen_with_its_name(tiny, turned):
    """Depth and name are those of what is behind, as they are for the panes of rooms."""
    from previz.engine.planes import render_planes
    from previz.engine.render import open_stage
    from previz.engine.starts import CameraStart

    pane = slab(0, 0.006) if turned else face(0)
    card = tiny.patch(4, 4, (0, 0, 1), (0, 0, -1), name="card")
    stage = tiny.stage(pane, card, emitters=[tiny.disc_lamp(0.5, (0, 0, -3), (0, 0, 1))],
                       surfaces=[tiny.surface(), sheet(closed=turned)])
    buffers = open_stage(stage, 4)
    planes = render_planes(buffers, CameraStart(tiny.camera((0, 0, -2), (0, 0, 1)), 8, 8), 2, 1)
    assert np.allclose(planes["depth"], 3.0, atol=1e-4)
    assert {buffers.geometry.names[i] for i in np.unique(planes["names_index"])} == {"card"}


BOX = shapes.box((-0.5, -0.3, -0.4), (0.5, 0.3, 0.4))
BODIES = {"box": BOX, "facets": shapes.ball(0.5, subdivisions=1),
          "ball": shapes.ball(0.5, subdivisions=4)}


@pytest.fixture(scope="module")
def even(tiny):
    """What is seen of the even light alone, in batches as many as are compared."""
    stage = tiny.stage(emitters=[field()])
    return tiny.radiance(stage, -UP, UP, 4, batches=8)[0].mean()


@pytest.mark.parametrize("kind", BODIES)
@pytest.mark.parametrize("at", [(0, 0, 0), (2.0, 1.5, -1.0)], ids=["at the origin", "off it"])
def test_clear_glass_vanishes_in_even_light(tiny, even, kind, at):
    """Whatever path light takes through a body that swallows none, even light stays even."""
    vertices, faces = BODIES[kind]
    normals = vertices / 0.5 if kind == "ball" else None
    body = Mesh("body", "glass", vertices + np.asarray(at, float), faces, normals)
    stage = tiny.stage(body, emitters=[field()], surfaces=[glass()])
    rng = np.random.default_rng(0)
    origin = np.asarray(at) + rng.uniform(-0.3, 0.3, (128, 3)) + [0, 0, -1]
    direction = np.asarray(at) + rng.uniform(-0.5, 0.5, (128, 3)) - origin
    direction /= np.linalg.norm(direction, axis=1, keepdims=True)
    seen, error = tiny.radiance(stage, origin, direction, 64, batches=8)
    tiny.agree(seen.mean(), np.sqrt(np.mean(error**2) / len(seen)), even, 0.005)


@pytest.mark.parametrize("absorption", [0.0, 1.0])
def test_a_thick_slab_passes_and_swallows(tiny, bare, absorption):
    """Square through 80 cm: (1-R)² t / (1 - R² t²) with t = exp(-k d), of the engine's own paths."""
    lamp = tiny.disc_lamp(1.0, (0, 0, 2))
    body = Mesh("body", "glass", *BOX)
    stage = tiny.stage(body, emitters=[lamp], surfaces=[glass(absorption=absorption)])
    seen, error = tiny.radiance(stage, [[0.01, 0.02, -1]], UP, 1024)
    whole = bare(1.0)
    t = np.exp(-0.8 * absorption)
    tiny.agree(seen / whole, error / whole, (1 - F0) ** 2 * t / (1 - (F0 * t) ** 2), 0.005)


@pytest.mark.parametrize("angle", [20, 40, 60])
def test_a_tilted_slab_shifts_what_is_seen_through_it(tiny, angle):
    """By d = t sin a (1 - cos a / (n cos b)) with sin a = n sin b (Snell), and not by more."""
    thick, a = 0.1, np.radians(angle)
    shift = thick * np.sin(a) * (1 - np.cos(a) / np.sqrt(INDEX**2 - np.sin(a) ** 2))
    lamp = tiny.rectangle_lamp(0.02, 1, (0, 0, 2))
    stage = tiny.stage(slab(angle, thick), emitters=[lamp], surfaces=[glass()])
    x = np.linspace(-0.12, 0.12, 481)
    origin = np.stack([x, 0 * x, 0 * x - 2], axis=1)
    seen, _ = tiny.radiance(stage, origin, np.repeat(UP, len(x), axis=0), 32, batches=2)
    lit = x[seen.ravel() > 0.5 * seen.max()]
    # Lines of sight are at steps of half a millimetre.
    assert np.ptp(lit) == pytest.approx(0.02, abs=1.1e-3)
    assert lit.mean() == pytest.approx(-shift, abs=3e-4)


@pytest.mark.parametrize("kind", ["ball", "open sheet"])
def test_glass_agrees_with_the_renderers_own(tiny, tmp_path, kind):
    """A card behind glass, lit from aside, against a general-purpose renderer's dielectrics."""
    if kind == "ball":
        vertices, faces = shapes.ball(0.25, subdivisions=4)
        thing, made = Mesh("body", "glass", vertices, faces), glass()
    else:
        # Square on, where both polarisations are alike.
        flat = shapes.rectangle((0, 0, 0), (0.3, 0, 0), (0, 0, 0.3))
        thing, made = Mesh("body", "glass", *flat), sheet()
    wall = tiny.patch(3, 3, (0, 0.8, 0), (0, -1, 0), "half", "wall")
    dark = tiny.patch(0.2, 3, (0.1, 0.79, 0), (0, -1, 0), "dark", "stripe")
    lamp = tiny.rectangle_lamp(1.5, 1.5, (0.6, -1.6, 0.8), (-0.2, 1, -0.3))
    stage = tiny.stage(wall, dark, thing, emitters=[lamp],
                       surfaces=[tiny.surface("half", 0.5), tiny.surface("dark", 0.05), made],
                       lamps=[tiny.lamp(output=1000.0)])
    camera = tiny.camera((0, -2.0, 0), (0, 1, 0), tan_half=(0.2, 0.2))
    theirs = tiny.plain_passes(stage, camera, 32, 32, samples=256, passes=8)[:, 1]
    ours = tiny.picture(stage, camera, 32, 32, 512, passes=8)
    tiny.z_test(tmp_path, 1000 * tiny.luminance(ours)[0], 1e6 * np.asarray(ours.variance[0], float),
                theirs.mean(axis=0), theirs.var(axis=0, ddof=1) / 8)
