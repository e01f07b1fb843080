"""Vignette, bloom, veiling glare and grain: numbers held to their definitions, and readings without them."""

from dataclasses import replace

import numpy as np
import pytest

from previz.exposure.optics import falloff, grain, taken
from previz.exposure.viewing import seen_8bit
from previz.physics.exposure import CameraSettings
from previz.physics.taking import Optics

PLAIN = CameraSettings(2.8, 800.0, 1 / 48)
TAN = (0.36, 0.2025)
FRAME = (0.024, 0.0135)


def through(picture, **amounts):
    optics = Optics(TAN, FRAME, 7, **amounts)
    return taken(np.asarray(picture, np.float32), replace(PLAIN, optics=optics))


def even(level=0.18, rows=90, columns=160):
    return np.full((3, rows, columns), level, np.float32)


def test_without_any_a_picture_is_what_it_was():
    """Bit for bit, and as shown."""
    picture = np.random.default_rng(1).random((3, 20, 30), np.float32)
    assert taken(picture, PLAIN) is picture
    none = replace(PLAIN, optics=Optics(TAN, FRAME, 7))
    np.testing.assert_array_equal(taken(picture, none), picture)
    np.testing.assert_array_equal(seen_8bit(picture, none), seen_8bit(picture, PLAIN))
    assert not np.array_equal(seen_8bit(picture, replace(none, optics=Optics(TAN, FRAME, vignette=2.0))),
                              seen_8bit(picture, PLAIN))


@pytest.mark.parametrize("stops", [0.5, 2.0])
def test_a_vignette_is_exact_in_the_corner(stops):
    """By cos^k of the angle: none in the middle, all in the corner; with 4 log2(1 / cos) it is cos⁴."""
    fine = falloff(Optics(TAN, FRAME, vignette=stops), 1801, 3201)
    assert fine[900, 1600] == pytest.approx(1.0, abs=1e-6)
    # The corner itself is half a pixel beyond the last one's middle.
    assert fine[0, 0] == pytest.approx(2.0**-stops, rel=1e-3 * stops)
    cosine = 1 / np.sqrt(1 + TAN[0] ** 2 + TAN[1] ** 2)
    natural = falloff(Optics(TAN, FRAME, vignette=-4 * np.log2(cosine)), 9, 16)
    x, y = ((np.arange(16) + 0.5) / 8 - 1) * TAN[0], ((np.arange(9) + 0.5) / 4.5 - 1) * TAN[1]
    np.testing.assert_allclose(natural, (1 + x**2 + y[:, None] ** 2) ** -2, rtol=1e-5)


def test_bloom_keeps_the_light_and_an_even_field():
    """Its sum is what it was, wherever the lights are; a level field shows none."""
    random = np.random.default_rng(3)
    picture = random.random((3, 91, 163), np.float32) ** 8
    picture[:, 3, 2] += 500
    made = through(picture, bloom=0.3)
    np.testing.assert_allclose(made.sum(axis=(1, 2)), picture.sum(axis=(1, 2)), rtol=1e-5)
    assert made.min() >= 0
    np.testing.assert_allclose(through(even(), bloom=0.3), even(), rtol=1e-5)


def test_a_halo_has_the_shape_of_the_glare_spread_function():
    """CIE 135/1-1999 (Vos), from memory: 10/θ³ + 5/θ², θ in degrees, without age and eye colour."""
    picture = np.zeros((3, 181, 321), np.float32)
    picture[:, 90, 160] = 1.0
    row = through(picture, bloom=0.1)[1, 90]
    degrees = np.degrees(np.arctan(np.arange(0, 150) * 2 * TAN[0] / 321))
    at = [8, 16, 32]
    expected = 10 / degrees[at] ** 3 + 5 / degrees[at] ** 2
    # The mirror along the edge adds to what is far out: a few hundredths.
    np.testing.assert_allclose(row[160 + np.array(at)] / row[168], expected / expected[0], rtol=0.05)
    # Alike at another size: the light within two degrees is as much.
    large = np.kron(picture, np.ones((1, 2, 2), np.float32)) / 4
    inner = [through(each, bloom=0.1)[1] for each in (picture, large)]
    near = inner[0][75:106, 145:176].sum(), inner[1][150:212, 290:352].sum()
    assert near[0] == pytest.approx(near[1], rel=2e-3)


@pytest.mark.parametrize("share", [0.01, 0.2])
def test_veiling_glare_is_the_index(share):
    """ISO 9358, from memory: a small black spot in an even field, over the field where there is none."""
    picture = even()
    picture[:, 45, 80] = 0
    made = through(picture, veiling_glare=share)
    assert made[1, 45, 80] / through(even(), veiling_glare=share)[1, 45, 80] == pytest.approx(share, rel=1e-3)
    np.testing.assert_allclose(made.mean(axis=(1, 2)), picture.mean(axis=(1, 2)), rtol=1e-5)


def test_grain_deviates_as_written():
    """Over squares of its size by what is written, in stops; over larger ones by the root of their area."""
    size = FRAME[0] / 300
    made = through(even(rows=169, columns=300), grain=0.1, grain_size=size)
    stops = np.log2(made / 0.18)
    assert stops.std() == pytest.approx(0.1, rel=0.05)
    assert stops.mean() == pytest.approx(0.0, abs=0.004)
    np.testing.assert_allclose(stops[0], stops[1], atol=1e-5)
    coarse = [grain(7, FRAME, size / fineness, 54, 96).std() for fineness in (4, 8)]
    assert coarse[0] / coarse[1] == pytest.approx(2.0, rel=0.04)


def test_grain_is_the_same_twice_and_at_every_size():
    """A picture twice as large has, over the same places, the same grain."""
    size = FRAME[0] / 100
    small, large = (grain(7, FRAME, size, rows, 16 * rows // 9) for rows in (90, 180))
    np.testing.assert_array_equal(small, grain.__wrapped__(7, FRAME, size, 90, 160))
    np.testing.assert_allclose(large.reshape(90, 2, 160, 2).mean(axis=(1, 3)), small, atol=2e-3)
    assert np.abs(np.corrcoef(small.ravel(), grain(8, FRAME, size, 90, 160).ravel())[0, 1]) < 0.05
