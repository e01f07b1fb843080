"""Lightness, colour difference, sight and codes that the palette is derived with, by published tables."""

import colour
import numpy as np
import pytest
from colour.blindness import CVD_MATRICES_MACHADO2010

from previz.exposure import palette


@pytest.fixture
def colours():
    """A few hundred colours all over linear sRGB."""
    return np.random.default_rng(5).random((300, 3))


# Sharma, Wu, Dalal 2005, Table 1, pairs 1 to 6 (hue near 280°), 9, 13 and 16 (hues on either
# side of the b axis), 17 (a large difference), 25 and 34 (small ones). Pair 1 also in check value 2.14.
SHARMA = [
    ((50, 2.6772, -79.7751), (50, 0, -82.7485), 2.0425),
    ((50, 3.1571, -77.2803), (50, 0, -82.7485), 2.8615),
    ((50, 2.8361, -74.0200), (50, 0, -82.7485), 3.4412),
    ((50, -1.3802, -84.2814), (50, 0, -82.7485), 1.0000),
    ((50, -1.1848, -84.8006), (50, 0, -82.7485), 1.0000),
    ((50, -0.9009, -85.5211), (50, 0, -82.7485), 1.0000),
    ((50, 2.4900, -0.0010), (50, -2.4900, 0.0009), 7.1792),
    ((50, -0.0010, 2.4900), (50, 0.0009, -2.4900), 4.8045),
    ((50, 2.5000, 0.0000), (50, 0.0000, -2.5000), 4.3065),
    ((50, 2.5000, 0.0000), (73, 25.0000, -18.0000), 27.1492),
    ((60.2574, -34.0099, 36.2677), (60.4626, -34.1751, 39.4387), 1.2644),
    ((2.0776, 0.0795, -1.1350), (0.9033, -0.0636, -0.5514), 0.9082),
]


@pytest.mark.parametrize(("first", "second", "expected"), SHARMA)
def test_colour_difference_matches_the_published_pairs(first, second, expected, derivation):
    """CIEDE2000 gives the table of its own test data, in both directions."""
    # The table prints four decimals.
    assert derivation.ciede2000(first, second) == pytest.approx(expected, abs=5e-5)
    assert derivation.ciede2000(second, first) == pytest.approx(expected, abs=5e-5)


def test_colour_difference_matches_a_reference_library(colours, derivation):
    """CIEDE2000 of random colours equals that of a general colour library."""
    first = derivation.cielab(colours[:150])
    second = derivation.cielab(colours[150:])
    expected = colour.delta_E(first, second, method="CIE 2000")
    np.testing.assert_allclose(derivation.ciede2000(first, second), expected, rtol=1e-9)


def test_cielab_matches_a_reference_library(colours, derivation):
    """L*, a* and b* equal those of a general colour library on dark and light colours."""
    colours = np.concatenate([colours, colours * 0.01])
    space = colour.RGB_COLOURSPACES["sRGB"]
    xyz = colours @ derivation.XYZ_FROM_SRGB.T
    expected = colour.XYZ_to_Lab(xyz, space.whitepoint)
    # Both derive white from the same xy; the rest is rounding.
    np.testing.assert_allclose(derivation.cielab(colours), expected, atol=1e-9)


@pytest.mark.parametrize(
    ("sight", "name"), [("protanopia", "Protanomaly"), ("deuteranopia", "Deuteranomaly"),
                        ("tritanopia", "Tritanomaly")]
)
def test_lost_cones_follow_the_published_matrices(sight, name, derivation):
    """The matrices are those of Machado 2009 at full severity, as a colour library has them."""
    expected = CVD_MATRICES_MACHADO2010[name][1.0]
    np.testing.assert_allclose(derivation.SIGHT[sight], expected, atol=1e-6)


def test_grey_is_grey_to_every_eye(derivation):
    """Rows of the matrices sum to one, so neutral colours stay neutral."""
    grey = np.full((5, 3), 0.4)
    for sight in derivation.SIGHT:
        np.testing.assert_allclose(derivation.seen_by(grey, sight), grey, atol=2e-6)


def test_oklab_matches_a_reference_library(colours, derivation):
    """Oklab to linear sRGB inverts a colour library's transform."""
    lab = colour.XYZ_to_Oklab(colours @ derivation.XYZ_FROM_SRGB.T)
    # The published matrices carry seven to ten digits and were rounded separately.
    np.testing.assert_allclose(palette.srgb_from_oklab(lab), colours, atol=2e-5)


def test_srgb_codes_round_trip(derivation):
    """All 256 codes come back from linear light as themselves."""
    codes = np.arange(256, dtype=np.uint8)
    assert np.array_equal(derivation.encode_srgb(derivation.decode_srgb(codes)), codes)
    # 18 % is 46.14 %, code 118 (check value 3.11).
    assert derivation.encode_srgb(0.18) == 118
