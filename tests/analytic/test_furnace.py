"""Surfaces in light that is the same from everywhere: what comes back is their albedo.

In a white furnace every point has E = pi L, so a surface appears `albedo` times as bright as the
surround (check value 1.15). The lobes are those that `previz.engine.shading` states; their albedo is
integrated here in another manner than the engine samples or tabulates it.
"""

import functools
from dataclasses import replace

import numpy as np
import pytest

from previz.physics.bands import band_means
from previz.physics.materials import MATERIALS
from previz.stage.records import SMOOTH, Surface
from previz.stage.shapes import RECTANGLE_UV
from previz.stage.surfaces import library_surface

pytestmark = pytest.mark.engine

ONES = np.ones(81)
ANGLES_DEG = (0.0, 45.0, 75.0)
BANDS = 3
RADIUS = 6.0
OTHER_LAMPS = 63
FIRST = 32
QUIET = 0.0006

# What lobes may be requested, as plainly as they come: white must vanish in the furnace.
WHITE = {
    "matt": {},
    "half through": {"reflectance": 0.5 * ONES, "transmission": 0.5 * ONES},
    "all through": {"reflectance": 0 * ONES, "transmission": ONES},
    "varnished": {"gloss": 1.0, "roughness": 0.0},
    "satin": {"gloss": 1.0, "roughness": 0.1},
    "eggshell": {"gloss": 1.0, "roughness": 0.3},
    "sheen": {"gloss": 1.0, "roughness": 0.8},
    "half satin": {"gloss": 0.5, "roughness": 0.3},
    "glossy cloth": {"gloss": 0.7, "roughness": 0.3, "reflectance": 0.4 * ONES,
                     "transmission": 0.6 * ONES},
    "metal mirror": {"reflectance": 0 * ONES, "specular": ONES, "gloss": 1.0, "roughness": 0.0},
    "metal 0.1": {"reflectance": 0 * ONES, "specular": ONES, "gloss": 1.0, "roughness": 0.1},
    "metal 0.3": {"reflectance": 0 * ONES, "specular": ONES, "gloss": 1.0, "roughness": 0.3},
    "metal 0.5": {"reflectance": 0 * ONES, "specular": ONES, "gloss": 1.0, "roughness": 0.5},
}


BOTH_WAYS = ("matt", "half through", "varnished", "satin", "half satin", "glossy cloth", "metal 0.3")
"""Surfaces that the lamp's own samples find, too."""


def white_surface(name):
    lobes = {"reflectance": ONES, "transmission": 0 * ONES, "specular": 0.04 * ONES}
    return Surface(name, **{**lobes, **WHITE[name]})


@functools.cache
def gloss_terms(roughness, cosine, steps=500):
    """Directional albedo A F0 + B of GGX with Smith's correlated shadowing and Schlick's Fresnel.

    Half vectors are drawn from the distribution of normals itself, on a regular grid:
    E = mean of G2 (v.h) / (cos v cos h) F (Walter et al., EGSR 2007, eq. 38 and 41, from memory).
    """
    if roughness < SMOOTH:
        return 1 - (1 - cosine) ** 5, (1 - cosine) ** 5
    grid = (np.arange(steps) + 0.5) / steps
    x, turn = np.meshgrid(grid, 2 * np.pi * grid)
    cos_half = np.sqrt((1 - x) / (1 - x + roughness**2 * x))
    sin_half = np.sqrt(1 - cos_half**2)
    along = np.sqrt(1 - cosine**2) * sin_half * np.cos(turn) + cosine * cos_half
    cos_out = 2 * along * cos_half - cosine

    def hidden(c):
        return (np.sqrt(1 + roughness**2 * (1 / c**2 - 1)) - 1) / 2

    seen = (along > 0) & (cos_out > 0)
    both = 1 / (1 + hidden(cosine) + hidden(np.where(seen, cos_out, 1)))
    weight = np.where(seen, both * along / (cosine * cos_half), 0)
    fifth = (1 - np.clip(along, 0, 1)) ** 5
    return float(np.mean(weight * (1 - fifth))), float(np.mean(weight * fifth))


def expected_albedo(surface, cosine):
    """Gloss with what its facets lose put back, and the diffuse lobes under it. Shape (bands,)"""
    f0 = band_means(surface.specular, BANDS)
    under = band_means(surface.reflectance, BANDS) + band_means(surface.transmission, BANDS)
    a, b = gloss_terms(surface.roughness, cosine)

    def gloss(f):
        return surface.gloss * (f * a + b) * (1 + f * (1 / (a + b) - 1))

    return gloss(f0) + (1 - gloss(f0.mean())) * under


def furnace(tiny, surfaces, most, others=OTHER_LAMPS):
    """Return the albedo (surface, angle, band) and its error that the engine shows.

    Rough metals have as much as ten times the noise of paints. A few samples say how much each ray
    needs for an error of a fifth of the 0.3 % that is judged, or `most`; they count no further.
    """
    # Each lamp is sampled equally often. With many others, shut out here, nearly all of the
    # surround's light is found along the directions that the lobes themselves are sampled in,
    # with hardly any noise.
    shut_out = [tiny.rectangle_lamp(0.1, 0.1, (0, 0, 2 * RADIUS), (0, 0, 1), index=i)
                for i in range(1, others + 1)]
    ball = tiny.ball_lamp(RADIUS, subdivisions=2)
    # Turned inside out it shines inwards; radiance is 1 / (pi area) for the one lumen.
    inwards = ball.__class__(0, "surround", ball.vertices, ball.faces[:, ::-1])
    side = int(np.ceil(np.sqrt(len(surfaces))))
    centres = [((i % side - side / 2) * 0.3, (i // side - side / 2) * 0.3, 0.0)
               for i in range(len(surfaces))]
    stage = tiny.stage(
        *(replace(tiny.patch(0.2, 0.2, centre, (0, 0, 1), each.name, each.name), uv=0.2 * RECTANGLE_UV)
          for centre, each in zip(centres, surfaces, strict=True)),
        emitters=[inwards, *shut_out], surfaces=surfaces)
    angles = np.radians(ANGLES_DEG)
    directions = np.stack([np.sin(angles) * 0.8, np.sin(angles) * 0.6, np.cos(angles)], axis=1)
    origins = np.array([np.asarray(c) + w for c in centres for w in directions])
    rays = origins, -np.tile(directions, (len(centres), 1))
    surround = 1 / (np.pi * 4 * np.pi * RADIUS**2)
    buffers = tiny.open_stage(stage, BANDS)
    _, error = tiny.radiance(stage, *rays, np.full(len(origins), FIRST), bands=BANDS, buffers=buffers,
                             seed=2)
    noise = error[:, 0].max(axis=1) / surround
    samples = np.clip(FIRST * (noise / QUIET) ** 2, FIRST, most).astype(int)
    seen, error = tiny.radiance(stage, *rays, samples, bands=BANDS, buffers=buffers)
    shape = (len(surfaces), len(angles), BANDS)
    return (seen[:, 0] / surround).reshape(shape), (error[:, 0] / surround).reshape(shape)


def test_white_lobes_vanish(tiny):
    """Each lobe that absorbs nothing sends all light on, at every angle, to 0.3 %."""
    surfaces = [white_surface(name) for name in WHITE]
    albedo, error = furnace(tiny, surfaces, 2600)
    tiny.agree(albedo, error, np.ones_like(albedo), 0.003)


def test_what_is_sampled_both_ways_is_counted_once(tiny):
    """With no other lamp, light is found at the lamp and along the lobes: all of it, once.

    Behind a varnish each lobe's share of the rays is in the weights of both; a slip in one shows as light
    that is counted twice, or not at all.
    """
    surfaces = [white_surface(name) for name in BOTH_WAYS]
    albedo, error = furnace(tiny, surfaces, 1000, others=0)
    tiny.agree(albedo, error, np.ones_like(albedo), 0.01)


def test_library_surfaces_keep_the_energy(tiny):
    """Every surface of the library has the albedo of its lobes, none above one."""
    surfaces = [library_surface(name) for name in MATERIALS]
    albedo, error = furnace(tiny, surfaces, 1050)
    expected = np.array([[expected_albedo(each, np.cos(np.radians(angle))) for angle in ANGLES_DEG]
                         for each in surfaces])
    assert np.all(expected <= 1)
    assert np.all(albedo <= 1 + 4 * error)
    # 0.3 % of the light that falls on the surface, however dark it is.
    assert np.all(4 * error <= 0.006)
    off = np.abs(albedo - expected) - np.maximum(0.003, 4 * error)
    which, angle, band = np.unravel_index(np.argmax(off), off.shape)
    assert np.all(off <= 0), (
        f"{surfaces[which].name} at {ANGLES_DEG[angle]} deg, band {band}: "
        f"{albedo[which, angle, band]:.4f}, expected {expected[which, angle, band]:.4f}")
