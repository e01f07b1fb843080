"""Wet ground, the moon's face, star counts, colours of clear air: held to what is published of them."""

import numpy as np
import pytest

from previz.physics.clouds import KINDS, cloud_layer
from previz.physics.moon_face import SIDE, moon_face
from previz.physics.sky_colour import channel_luminances, clear_chromaticity, shared_out
from previz.physics.stars import COUNTS, magnitudes, star_field
from previz.physics.wetness import diffuse_reflectance, kept_inside, wet_albedo


def test_diffuse_reflectance_of_water_and_glass():
    """6.6 % from air into water and 9.2 % into glass (Duntley 1942 and Judd 1942, from memory)."""
    assert diffuse_reflectance(1.333) == pytest.approx(0.066, abs=0.001)
    assert diffuse_reflectance(1.5) == pytest.approx(0.092, abs=0.001)
    assert diffuse_reflectance(1) == 0


def test_what_stays_under_water():
    """Nearly half of what is scattered up comes down again: 0.48 (Mobley, Light and Water, from memory)."""
    assert kept_inside() == pytest.approx(0.48, abs=0.02)


def test_wet_things_are_darker_but_white_and_black():
    """Sand of 0.3 and soil of 0.1 lose about half (Lekner and Dorf 1988, figures from memory)."""
    assert wet_albedo(0.0) == 0
    assert wet_albedo(1.0) == pytest.approx(1.0)
    assert 0.45 < wet_albedo(0.1) / 0.1 < 0.60
    assert 0.50 < wet_albedo(0.3) / 0.3 < 0.68
    dry = np.linspace(0.01, 0.99, 50)
    assert np.all(wet_albedo(dry) < dry)
    # Never darker than by inner reflection and grains that match the water wholly.
    assert np.all(wet_albedo(dry) > dry * (1 - kept_inside()) * 0.85)


def test_an_albedo_over_one_is_refused():
    """It is no share."""
    with pytest.raises(ValueError, match="0 to 1"):
        wet_albedo([0.2, 1.2])


@pytest.mark.parametrize("phase_angle", [0, 30, 60, 90, 120, 150])
def test_the_lit_area_of_a_moon(phase_angle):
    """(1 + cos i) / 2 of the disc, i the phase angle (Meeus, Astronomical Algorithms, chapter 48)."""
    lit = (1 + np.cos(np.radians(phase_angle))) / 2
    face = moon_face(lit)
    at = (np.arange(SIDE) + 0.5) / SIDE * 2 - 1
    inside = at[None] ** 2 + at[:, None] ** 2 <= 1
    bright = face[inside] > 0.02 * face.max()
    assert bright.mean() == pytest.approx(lit, abs=0.02)
    assert face[inside].mean() == pytest.approx(1, abs=0.03)
    if lit < 1:
        # Its bright side is to the right.
        assert face[:, SIDE // 2 :].sum() > face[:, : SIDE // 2].sum()


def test_a_waning_moon_is_the_other_way_up():
    """Its seas are turned half round against its lit side: more of them lie north of its equator."""
    up, down = moon_face(1.0), moon_face(1.0, waxing=False)
    at = (np.arange(SIDE) + 0.5) / SIDE * 2 - 1
    inside = at[None] ** 2 + at[:, None] ** 2 <= 0.9
    np.testing.assert_allclose(up[inside], down[::-1, ::-1][inside], rtol=1e-2)
    assert up[: SIDE // 2][inside[: SIDE // 2]].mean() < up[SIDE // 2 :][inside[SIDE // 2 :]].mean()


def test_stars_by_magnitude():
    """Half as many over half the sky as catalogues count (from memory), to a star, in each magnitude."""
    found = magnitudes(np.random.default_rng(3))
    for (bright, fewer), (faint, more) in zip(COUNTS, COUNTS[1:], strict=False):
        here = np.count_nonzero((found >= bright) & (found < faint))
        assert abs(here - (more - fewer) / 2) <= 1


def test_a_field_of_stars_is_the_same_again():
    """By its seed; stars lie in their own cells, off their edges, at unit distance."""
    one, light = star_field()
    two, again = star_field()
    np.testing.assert_array_equal(one, two)
    assert light == again
    lit = one[..., 3] > 0
    np.testing.assert_allclose(np.linalg.norm(one[lit][:, :3], axis=1), 1)
    row, column = np.nonzero(lit)
    np.testing.assert_array_equal(((1 - one[lit][:, 2]) * one.shape[0]).astype(int), row)
    turn = np.arctan2(one[lit][:, 1], one[lit][:, 0]) / (2 * np.pi) % 1
    np.testing.assert_array_equal((turn * one.shape[1]).astype(int), column)
    assert np.any(star_field(2)[0] != one)


def test_clear_air_is_blue_overhead_and_warm_about_a_low_sun():
    """Zenith chromaticity near x 0.25, y 0.26 for a high sun and clear air (Preetham 1999, from memory)."""
    top = clear_chromaticity(0.0, np.radians(45), np.radians(45), 2.5)
    np.testing.assert_allclose(top, [0.25, 0.255], atol=0.015)
    low = clear_chromaticity(np.radians(88), np.radians(3), np.radians(87), 3.0)
    other = clear_chromaticity(np.radians(88), np.radians(120), np.radians(87), 3.0)
    assert low[0] > other[0] > top[0]
    # At the zenith the model is its own zenith value.
    for sun in (20, 50, 80):
        again = clear_chromaticity(0.0, np.radians(sun), np.radians(sun), 3.0)
        assert 0.22 < again[0] < 0.34
        assert 0.22 < again[1] < 0.36


def test_cells_share_out_one_lux_of_the_lamps_colour():
    """Whatever they are like, every channel sums to 1 over level ground, and luminance with them."""
    rng = np.random.default_rng(4)
    rim = np.linspace(0, np.pi / 2, 9)
    projected = np.diff(np.sin(rim) ** 2) / 2 * (2 * np.pi / 12)
    spectrum = 1 + rng.random(81)
    radiance, colour = shared_out(rng.random((8, 12)), 0.2 + rng.random((8, 12, 3)), projected, spectrum)
    np.testing.assert_allclose(np.einsum("rc,rck,r->k", radiance, colour, projected), 1)
    assert np.einsum("rc,r->", radiance, projected) == pytest.approx(1)
    assert channel_luminances(spectrum).sum() == pytest.approx(1)
    # A cell's colour has the lamp's luminance: brightness is the radiance's alone.
    np.testing.assert_allclose(colour @ channel_luminances(spectrum), 1)


@pytest.mark.parametrize("kind", KINDS)
def test_clouds_cover_what_is_asked(kind):
    """Within 6 hundredths of the sky, the same again, and others by another number."""
    cells, south = (72, 288), (0.0, -0.8, 0.6)
    solid = np.sin((np.arange(72) + 0.5) * np.pi / 2 / 72)
    for cover in (0.2, 0.6):
        covered, lit = cloud_layer(kind, cover, 1, cells, south, False)
        share = np.sum(covered.mean(axis=1) * solid) / solid.sum()
        assert share == pytest.approx(cover, abs=0.06)
        assert covered.min() >= 0 and covered.max() <= 1
        assert lit.min() >= 0 and lit.max() <= 1.001
    again = cloud_layer.__wrapped__(kind, 0.6, 1, cells, south, False)[0]
    np.testing.assert_array_equal(covered, again)
    assert np.any(cloud_layer(kind, 0.6, 2, cells, south, False)[0] != covered)
    assert not np.any(cloud_layer(kind, 0.0, 1, cells, south, False)[0])


def test_a_sun_that_shines_is_seen_past_the_clouds():
    """Thin where it stands."""
    covered, _ = cloud_layer("broken", 0.8, 1, (72, 288), (0.0, -0.8, 0.6), True)
    row, column = int(np.arccos(0.6) / (np.pi / 2) * 72), int(0.75 * 288)
    assert covered[row, column] < 0.1
