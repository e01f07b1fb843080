"""Directions are drawn with the pdf that is stated for them.

Chi-square tests by the renderer library's own test bench (`chi2`): a histogram of a million sampled
directions against the integral of the pdf over each cell.
"""

from dataclasses import replace

import numpy as np
import pytest

from previz.physics.daylight import sky_dome
from previz.stage import shapes
from previz.stage.records import Guide, Relief, Sky

pytestmark = pytest.mark.engine

SIGNIFICANCE = 1e-3
UP = (0.0, 0.0, 1.0)


def judge(engine, sample, density, **more):
    """Run the chi-square test of a sampler on the sphere of directions."""
    mi, _ = engine
    settings = {"sample_dim": 3, "sample_count": 1_000_000, "res": 51, "ires": 8, **more}
    test = mi.chi2.ChiSquareTest(mi.chi2.SphericalDomain(), sample, density, **settings)
    assert test.run(SIGNIFICANCE, test_count=20, quiet=True), test.messages
    return test


def vector(mi, values):
    return mi.Vector3f(*(float(x) for x in values))


def opaque(engine, values):
    """A vector that is not compiled into the kernel, so that all such cases share one."""
    mi, dr = engine
    return mi.Vector3f(*(dr.opaque(mi.Float, float(x)) for x in values))


LOBES = {
    "matt": {},
    "cloth": {"reflectance": 0.3, "transmission": 0.5},
    "satin": {"gloss": 1.0, "roughness": 0.25, "f0": 0.3},
    "rough metal": {"reflectance": 0.0, "gloss": 1.0, "roughness": 0.6, "f0": 0.9},
    "glossy cloth": {"reflectance": 0.3, "transmission": 0.4, "gloss": 0.6, "roughness": 0.4,
                     "f0": 0.2},
}


@pytest.mark.parametrize("tilt", [20, 70])
@pytest.mark.parametrize("lobes", LOBES)
def test_surface_lobes(engine, tiny, lobes, tilt):
    """Vertex.sample draws from the mixture that Vertex.evaluate states, reflected and through."""
    mi, _ = engine
    from previz.engine.shading import Vertex

    stage = tiny.stage(tiny.patch(1, 1, (0, 0, 0), UP), emitters=[tiny.disc_lamp(1, (0, 0, 5))],
                       surfaces=[tiny.surface(**LOBES[lobes])])
    buffers = tiny.open_stage(stage, 1)
    angle = np.radians(tilt)
    view = opaque(engine, (np.sin(angle) * 0.6, np.sin(angle) * 0.8, np.cos(angle)))

    def vertex():
        return Vertex(buffers, mi.UInt(0), vector(mi, UP), vector(mi, UP), view, mi.Point2f(0),
                      mi.Bool(True))

    def sample(numbers):
        return vertex().sample(numbers.x, mi.Point2f(numbers.y, numbers.z))

    judge(engine, sample, lambda towards: vertex().evaluate(towards)[1])


COATS = {
    "brushed": {"gloss": 1.0, "roughness": 0.15, "f0": 0.6, "across": 0.5},
    "velvet": {"gloss": 1.0, "f0": 0.5, "fuzz": 0.3},
    "leaning": {"gloss": 1.0, "roughness": 0.3, "f0": 0.6},
    "leaning, brushed": {"gloss": 0.8, "roughness": 0.2, "f0": 0.6, "across": 0.5},
}


@pytest.mark.parametrize("tilt", [20, 70])
@pytest.mark.parametrize("coat", COATS)
def test_coats(engine, tiny, coat, tilt):
    """So it does of a gloss of two widths, of fibres, and on a relief, where nothing is under the horizon."""
    mi, dr = engine
    from previz.engine.shading import Vertex

    lobes = dict(COATS[coat])
    more = {key: lobes.pop(key) for key in ("across", "fuzz") if key in lobes}
    relief = Relief(np.zeros((2, 2, 2)), (1.0, 1.0)) if coat.startswith("leaning") else None
    surface = replace(tiny.surface(**lobes), relief=relief, **more)
    stage = tiny.stage(tiny.patch(1, 1, (0, 0, 0), UP), emitters=[tiny.disc_lamp(1, (0, 0, 5))],
                       surfaces=[surface])
    buffers = tiny.open_stage(stage, 1)
    angle = np.radians(tilt)
    view = opaque(engine, (np.sin(angle) * 0.6, np.sin(angle) * 0.8, np.cos(angle)))
    normal = vector(mi, np.array([0.3, 0.1, 1.0]) / np.sqrt(1.1) if relief else UP)
    level = vector(mi, UP)
    tangents = vector(mi, (1, 0, 0)), vector(mi, (0, 1, 0)), mi.Bool(True)

    def vertex():
        return Vertex(buffers, mi.UInt(0), normal, level, view, mi.Point2f(0), mi.Bool(True),
                      level=level, tangents=tangents)

    def over(towards):
        return (dr.dot(towards, level) > 0) & (dr.dot(towards, normal) > 0)

    def sample(numbers):
        towards = vertex().sample(numbers.x, mi.Point2f(numbers.y, numbers.z))
        return towards, dr.select(over(towards), mi.Float(1), 0)

    judge(engine, sample, lambda towards: dr.select(over(towards), vertex().evaluate(towards)[1], 0), ires=32)


@pytest.mark.parametrize("place", ["outside", "within the ball", "close to the window"])
def test_guides(engine, tiny, place):
    """Guides.sample draws from the pdf that Guides.pdfs states, and openings alone from theirs."""
    mi, _ = engine
    from previz.engine.lighting import Guides

    x, y, z = np.eye(3)
    guides = (Guide("board", np.array([2.0, 0, 0.5]), y * 0.6, z * 0.4),
              Guide("shade", np.array([-1.0, 1, 0]), x * 0, x * 0, radius=0.5),
              Guide("window", np.array([0.3, 0.2, 2.0]), (x + y) * 0.5, (y - x) * 0.3,
                    opening=True))
    stage = tiny.stage(emitters=[tiny.disc_lamp(1, (0, 0, 5))], guides=guides)
    buffers = tiny.open_stage(stage, 1)
    at = {"outside": (0.0, 0, 0), "within the ball": (-1.1, 0.8, 0.1),
          "close to the window": (0.25, 0.2, 1.9)}[place]

    seen_from = mi.Point3f(opaque(engine, at))

    def aiming():
        return Guides(buffers, seen_from)

    # Edges of solid angles cut through cells, where the density jumps: finer integration there.
    fine = {"ires": 96, "sample_count": 300_000}
    judge(engine, lambda u: aiming().sample(u.x, mi.Point2f(u.y, u.z)),
          lambda towards: aiming().pdfs(towards)[0], **fine)
    judge(engine, lambda u: aiming().sample(u.x, mi.Point2f(u.y, u.z), True),
          lambda towards: aiming().pdfs(towards)[1], **fine)


def emitters(tiny):
    """Lamps of every shape; the last two share one lamp."""
    return {
        "rectangle": [tiny.rectangle_lamp(1.5, 0.8, (0.2, 0.3, 1.0), (0.3, 0, -1))],
        "ball": [tiny.ball_lamp(0.6, (0.4, -0.3, 1.2), subdivisions=2)],
        "tube": [tiny.tube_lamp(0.3, 1.6, (-0.2, 0.5, 0.9), (1, 0.4, 0.2), sides=12)],
        "two faces": [tiny.rectangle_lamp(0.8, 0.8, (0.9, 0, 0.9), (-1, 0, -1)),
                      tiny.disc_lamp(0.5, (-1, 0, 0.7), (1, 0, -0.5), sides=12)],
    }


@pytest.mark.parametrize("kind", ["rectangle", "ball", "tube", "two faces"])
def test_lamps(engine, tiny, kind):
    """sample_light draws each lamp's points with the pdf per solid angle that it states.

    The pdf to compare is that of `Emitter` along rays that meet the lamp, as a path
    that runs into it does.
    """
    mi, dr = engine
    from previz.engine.hit import Hit
    from previz.engine.lighting import Emitter, sample_light
    from previz.engine.tables import NONE

    lamp = emitters(tiny)[kind]
    stage = tiny.stage(emitters=lamp)
    buffers = tiny.open_stage(stage, 1)

    def sample(numbers):
        towards, _, value, _ = sample_light(buffers, None, mi.Point3f(0), mi.UInt(0), numbers.x,
                                        mi.Point2f(numbers.y, numbers.z), mi.Bool(True))
        # A face seen from behind is drawn in vain: it gives no light and has no density.
        return towards, dr.select(value > 0, mi.Float(1), 0)

    def density(towards):
        hit = Hit(buffers, mi.Ray3f(mi.Point3f(0), towards), mi.Bool(True))
        lit = hit.valid & (hit.emitter != NONE) & (hit.cos_emit > 0)
        pdf = Emitter(buffers, hit.emitter, lit).pdf(hit.area, dr.square(hit.distance), hit.cos_emit)
        return dr.select(lit, pdf, 0)

    judge(engine, sample, density, ires=96, sample_count=300_000)


@pytest.mark.parametrize("openings", [False, True])
def test_sky(engine, tiny, openings):
    """The sky is sampled over the dome, or mostly through the openings, as stated."""
    mi, dr = engine
    from previz.engine.lighting import Guides, sample_light

    guides = (Guide("window", np.array([1.5, 0.2, 0.6]), np.array([0, 0.7, 0]),
                    np.array([0, 0, 0.5]), opening=True),) if openings else ()
    stage = tiny.stage(tiny.patch(1, 1, (0, 0, -1), UP), sky=Sky(0, sky_dome("overcast")),
                       guides=guides)
    buffers = tiny.open_stage(stage, 1)

    def aiming():
        return Guides(buffers, mi.Point3f(0)) if openings else None

    def sample(numbers):
        return sample_light(buffers, aiming(), mi.Point3f(0), mi.UInt(0), numbers.x,
                            mi.Point2f(numbers.y, numbers.z), mi.Bool(True))[0]

    def density(towards):
        if openings:
            return aiming().sky_pdf(towards, aiming().pdfs(towards)[1])
        return dr.select(towards.z > 0, dr.inv_two_pi, 0)

    judge(engine, sample, density, ires=96, sample_count=300_000)


def test_density_of_a_draw_is_that_of_its_direction(engine, tiny):
    """What sample_light returns with a direction is what a path meeting that point computes."""
    mi, dr = engine
    from previz.engine.hit import Hit
    from previz.engine.lighting import Emitter, sample_light

    for lamp in emitters(tiny).values():
        buffers = tiny.open_stage(tiny.stage(emitters=lamp), 1)
        rng = mi.PCG32(size=10_000)
        towards, distance, value, stated = sample_light(
            buffers, None, mi.Point3f(0), dr.zeros(mi.UInt, 10_000), rng.next_float32(),
            mi.Point2f(rng.next_float32(), rng.next_float32()), mi.Bool(True))
        hit = Hit(buffers, mi.Ray3f(mi.Point3f(0), towards), mi.Bool(True))
        met = Emitter(buffers, hit.emitter, hit.valid).pdf(hit.area, dr.square(hit.distance), hit.cos_emit)
        same = (np.array(value) > 0) & (np.abs(np.array(hit.distance - distance)) < 1e-4)
        assert same.mean() > 0.4
        # 1e-3: the far corner of a slanted face, in single precision.
        np.testing.assert_allclose(np.array(stated)[same], np.array(met)[same], rtol=1e-3)


def test_the_bench_refuses_a_wrong_density(engine):
    """A density that is off by a few per cent of its shape is found."""
    mi, dr = engine
    with pytest.raises(AssertionError):
        judge(engine, lambda u: mi.warp.square_to_cosine_hemisphere(mi.Point2f(u.y, u.z)),
              lambda towards: dr.maximum(towards.z, 0) * dr.inv_pi * (1 + 0.1 * towards.x))


def test_shapes_of_the_lamps_are_their_own_reflection(tiny):
    """What is marked symmetric is: every corner has one opposite through the middle."""
    for body in (shapes.ball(1.0, subdivisions=2), shapes.frustum(1, 1, 2, closed=False)):
        vertices = body[0] - (body[0].min(axis=0) + body[0].max(axis=0)) / 2
        gap = np.linalg.norm(vertices[:, None] + vertices[None], axis=2).min(axis=1)
        assert gap.max() < 1e-9
