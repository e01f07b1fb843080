"""Light under the skin: the edge of a shadow against its closed form, and that no light is made.

Where light that falls on half a plane leaves by a profile that is a sum of Gaussians, the light at
a distance x from the edge is the same sum of the normal distribution's Phi(x / sigma): a Gaussian
of two dimensions leaves one of one dimension when it is summed along the edge. The profile is that
of d'Eon and Luebke, "Advanced techniques for realistic real-time skin rendering", GPU Gems 3,
2007, chapter 14 (its table is printed again in the test of the numbers below).
"""

import dataclasses

import numpy as np
import pytest
from scipy import integrate, stats

from previz.physics.bands import band_means
from previz.physics.skin import SEEP_VARIANCE, seep_shares
from previz.physics.spectra import WAVELENGTHS_NM
from previz.stage import shapes
from previz.stage.records import Mesh

BANDS = 12

# Variance [mm²] -> weights of red, green and blue, as the chapter prints them.
PRINTED = {
    0.0064: (0.233, 0.455, 0.649), 0.0484: (0.100, 0.336, 0.344), 0.187: (0.118, 0.198, 0.0),
    0.567: (0.113, 0.007, 0.007), 1.99: (0.358, 0.004, 0.0), 7.41: (0.078, 0.0, 0.0),
}


def skin(tiny, **more):
    """A grey surface that light wanders under as it does in skin."""
    return dataclasses.replace(tiny.surface(**more), subsurface=1.0)


def test_the_profile_is_the_published_one_and_loses_nothing():
    """Shares at the peaks of red, green and blue are the printed ones; all light leaves again."""
    shares = seep_shares()
    for column, nm in enumerate((650, 540, 450)):
        printed = [PRINTED[v][column] for v in SEEP_VARIANCE]
        found = shares[:, np.searchsorted(WAVELENGTHS_NM, nm)]
        np.testing.assert_allclose(found, np.array(printed) / np.sum(printed), atol=1e-12)

    def ring(r, k):
        height = shares[:, k] * np.exp(-r**2 / 2 / SEEP_VARIANCE) / (2 * np.pi * SEEP_VARIANCE)
        return 2 * np.pi * r * height.sum()

    for k in (0, 30, 60):
        total, _ = integrate.quad(ring, 0, 30, args=(k,), points=[0.1, 0.3, 1, 3], limit=200)
        assert total == pytest.approx(1, abs=1e-6)


@pytest.mark.engine
def test_the_edge_of_a_shadow_on_skin_is_soft_and_red(tiny):
    """Light next to a blade's shadow is the sum of Phi(x / sigma), band by band, to 0.5 %."""
    from previz.engine.subsurface import NARROW

    blade = tiny.patch(1, 1, (-0.5, 0, 0.05), (0, 0, 1), "black", "blade")
    # So small a sun blurs the edge by 0.02 mm, a fifth of the narrowest step measured.
    stage = tiny.stage(tiny.patch(1, 1, (0, 0, 0), (0, 0, 1)), blade,
                       sun=tiny.sun((0, 0, 1), angle_deg=0.02),
                       surfaces=[skin(tiny), tiny.surface("black", 0.0)])
    away = np.array([-4, -2, -1, -0.5, 0.2, 0.5, 1, 2, 4])
    origins = np.stack([1e-3 * away, 0 * away - 0.04, 0 * away + 0.04], axis=1)
    down = np.tile([0, 0.5**0.5, -(0.5**0.5)], (len(away), 1))
    value, error = tiny.radiance(stage, origins, down, 512, bands=BANDS, max_depth=1)
    value, error = value[:, 0] * np.pi / 0.5, error[:, 0] * np.pi / 0.5
    deviation = np.where(SEEP_VARIANCE > NARROW, np.sqrt(SEEP_VARIANCE), 1e-6)
    step = stats.norm.cdf(away[:, None] / deviation)
    expected = step @ band_means(seep_shares(), BANDS)
    # Half a per cent of full light: distances beyond 9 mm, 0.1 % of red light, leave at once.
    assert np.all(np.abs(value - expected) < np.maximum(0.005, 4 * error))
    assert np.all(error < 0.003)
    # A millimetre into the shadow there is red light, and hardly any green or blue.
    assert value[2, 9] > 30 * value[2, 3]


@pytest.mark.engine
@pytest.mark.parametrize("gloss", [0.0, 1.0])
def test_white_skin_vanishes_in_a_furnace(tiny, gloss):
    """A head-sized ball with a nose on it, white, is as light as what is around it (check value 1.15).

    Whatever point the light is taken to have come in at, it is neither more nor less; on the bent
    parts, where some points are not found, light comes in where it leaves.
    """
    vertices, faces = shapes.ball(0.09, subdivisions=3)
    nose = 0.4 * vertices + [0, -0.08, 0]
    meshes = [Mesh("head", "grey", points, faces, vertices / 0.09) for points in (vertices, nose)]
    surround = tiny.ball_lamp(2.0, subdivisions=2)
    surround = dataclasses.replace(surround, faces=surround.faces[:, ::-1], symmetric=False)
    stage = tiny.stage(*meshes, emitters=[surround],
                       surfaces=[skin(tiny, reflectance=1.0, gloss=gloss)])
    camera = tiny.camera((0, -1, 0), (0, 0, 0), tan_half=(0.085, 0.085))
    slices = np.asarray(tiny.picture(stage, camera, 24, 24, 256, bands=3).slices[0])
    inside = np.hypot(*(np.indices((24, 24)) + 0.5 - 12)) < 10
    light = slices[:, inside] / slices[:, :1, 0]
    noise = light.std(axis=1) / np.sqrt(inside.sum())
    np.testing.assert_allclose(light.mean(axis=1), 1, atol=4 * noise.max())
    assert noise.max() < 1.5e-3


@pytest.mark.engine
def test_even_light_on_skin_is_no_noisier_than_on_matt(tiny):
    """Where light is even the two points are alike, so no colour noise comes of the wandering."""
    def spread(surface):
        stage = tiny.stage(tiny.patch(1, 1, (0, 0, 0), (0, 0, 1)), sun=tiny.sun((0.6, 0, 0.8)),
                           surfaces=[surface])
        value, error = tiny.radiance(stage, [[0, 0, 0.5]], [[0, 0, -1]], 16, bands=3, max_depth=1)
        assert value[0, 0] == pytest.approx(0.5 * 0.8 / np.pi, rel=1e-4)
        return error.max()

    assert spread(skin(tiny)) < spread(tiny.surface()) + 1e-6
