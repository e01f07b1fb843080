"""White: black bodies, daylight, correlated colour temperature, mireds.

Sources: CIE 15:2018; Ohno, Leukos 10 (2014); values computed with colour-science 0.4.7; mired
figures on two encyclopaedic pages and by arithmetic.
"""

import numpy as np
import pytest

from previz.physics.colourtemp import (
    cct_duv,
    mired,
    mired_shift,
    planckian_xy,
    shifted_kelvin,
    uv_from_xy,
    xy_from_cct_duv,
    xy_from_uv,
    xy_of,
)
from previz.physics.daylight import daylight_spectrum, daylight_xy
from previz.physics.lamps import illuminant

PLANCKIAN = [
    (1900, 0.53778, 0.41120), (2000, 0.52668, 0.41330), (2700, 0.45986, 0.41060),
    (2856, 0.44754, 0.40743), (3000, 0.43693, 0.40408), (3200, 0.42336, 0.39895),
    (3400, 0.41104, 0.39351), (4300, 0.36811, 0.36869), (5000, 0.34510, 0.35161),
    (5600, 0.33020, 0.33908), (6500, 0.31353, 0.32363),
]  # fmt: skip


@pytest.mark.parametrize(("kelvin", "x", "y"), PLANCKIAN)
def test_black_body_chromaticity(kelvin, x, y):
    """Planck's law through the 1931 observer, c2 = 1.4388e-2."""
    # CIE 15; ±0.0002 covers 5 nm sums.
    assert planckian_xy(kelvin) == pytest.approx([x, y], abs=2e-4)


DAYLIGHT = [
    (4300, 0.36968, 0.37599), (5000, 0.34574, 0.35867), (5500, 0.33250, 0.34761),
    (5600, 0.33016, 0.34555), (6500, 0.31278, 0.32918),
]  # fmt: skip


@pytest.mark.parametrize(("kelvin", "x", "y"), DAYLIGHT)
def test_daylight_chromaticity(kelvin, x, y):
    """The D series' cubic, and a spectrum that has that colour, 0.003 over the Planckian."""
    # CIE 15, 4.1.2.
    assert daylight_xy(kelvin) == pytest.approx([x, y], abs=1e-5)
    spectrum = daylight_spectrum(kelvin)
    # The spectrum is built from tables of 1 digit in S; 1e-4 is what 5 nm sums leave.
    assert xy_of(spectrum) == pytest.approx([x, y], abs=1.5e-4)
    cct, duv = cct_duv(xy_of(spectrum))
    assert cct == pytest.approx(kelvin, abs=5)
    assert 0.0028 < duv < 0.0034


def test_daylight_over_7000_k(colour):
    """Above 7000 K the second cubic of the D series holds."""
    for kelvin in (7500, 10000, 20000):
        expected = colour.temperature.CCT_to_xy_CIE_D(float(kelvin))
        assert daylight_xy(kelvin) == pytest.approx(expected, abs=1e-9)


def test_daylight_spectrum_is_d65():
    """The D series at 6504 K is the tabulated illuminant D65."""
    # CIE 15: nominal 6500 K, times 1.4388/1.4380 after the change of c2. M1 and M2 are rounded
    # to three digits there and not here: 0.2 % of any sample.
    found = daylight_spectrum(6500 * 1.4388 / 1.4380)
    assert found == pytest.approx(illuminant("D65"), rel=2e-3)


WHITES = {
    "A": (0.44758, 0.40745), "D50": (0.3457, 0.3585), "D55": (0.33243, 0.34744),
    "D65": (0.3127, 0.3290), "D75": (0.29903, 0.31488),
}  # fmt: skip


@pytest.mark.parametrize("name", WHITES)
def test_white_points(name):
    """Tabulated illuminants have their published chromaticities."""
    # CIE 15; 5e-5 of printing and 3e-5 of 5 nm sums.
    assert xy_of(illuminant(name)) == pytest.approx(WHITES[name], abs=1e-4)


TABLED_CCT = [
    ("A", 2855.6, 0.0), ("D50", 5001, 0.0032), ("D65", 6503, 0.0032), ("FL2", 4225, 0.0019),
    ("FL11", 4001, 0.0002), ("LED-B3", 4103, -0.0006), ("HP1", 1962, 0.0008),
]  # fmt: skip


@pytest.mark.parametrize(("name", "kelvin", "duv"), TABLED_CCT)
def test_cct_and_duv_of_illuminants(name, kelvin, duv):
    """Colour temperature and Duv of measured lights."""
    # Ohno 2014 by colour-science; ±5 K and ±0.0002 for a different locus and steps.
    found = cct_duv(xy_of(illuminant(name)))
    assert found[0] == pytest.approx(kelvin, abs=5)
    assert found[1] == pytest.approx(duv, abs=2e-4)


def test_cct_agrees_with_the_colour_library(colour):
    """Over the plane where colour temperature is used, both programs agree to 0.15 mired."""
    for kelvin in (1800, 2700, 3500, 5600, 9000, 15000):
        for duv in (-0.02, -0.006, -0.001, 0.0, 0.001, 0.006, 0.02):
            xy = xy_from_cct_duv(kelvin, duv)
            other = colour.temperature.uv_to_CCT_Ohno2013(uv_from_xy(xy))
            # The library's locus is summed over 360 to 830 nm: 0.07 mired and 2e-5 apart.
            assert mired(cct_duv(xy)[0]) == pytest.approx(mired(other[0]), abs=0.15)
            assert cct_duv(xy)[1] == pytest.approx(other[1], abs=5e-5)


def test_cct_and_duv_go_there_and_back():
    """A chromaticity made from CCT and Duv gives them back, near and far from the locus."""
    for kelvin in (1500, 2700, 5600, 20000):
        for duv in (-0.02, -0.0021, -0.0019, 0.0, 0.0019, 0.0021, 0.02):
            cct, away = cct_duv(xy_from_cct_duv(kelvin, duv))
            # A quarter-percent table leaves 2e-4 of the temperature.
            assert cct == pytest.approx(kelvin, rel=2e-4)
            assert away == pytest.approx(duv, abs=2e-6)


GREEN_AND_MAGENTA = {
    (3200, 0.005): (0.42995, 0.41397), (3200, -0.005): (0.41708, 0.38463),
    (3200, 0.010): (0.43686, 0.42972), (3200, -0.010): (0.41108, 0.37095),
    (5600, 0.005): (0.33012, 0.34889), (5600, -0.005): (0.33027, 0.32962),
    (5600, 0.010): (0.33004, 0.35907), (5600, -0.010): (0.33034, 0.32049),
}  # fmt: skip


@pytest.mark.parametrize("at", GREEN_AND_MAGENTA)
def test_plus_duv_is_green(at):
    """Plus Duv lies above the Planckian locus, square to it."""
    # Sign: ANSI C78.377 (from memory); numbers: colour-science, ±0.0002.
    assert xy_from_cct_duv(*at) == pytest.approx(GREEN_AND_MAGENTA[at], abs=2e-4)


def test_5600_k_is_two_whites():
    """Planckian and daylight 5600 K lie 0.0033 apart, a green that shows."""
    planck, daylight = uv_from_xy(planckian_xy(5600)), uv_from_xy(daylight_xy(5600))
    assert np.hypot(*(daylight - planck)) == pytest.approx(0.0033, abs=1e-4)


def test_1960_plane_goes_there_and_back():
    """(u, v) of D65 is (0.1978, 0.3122), and inverts."""
    # CIE 15: u' = 0.1978 and v' = 0.4683 = 1.5 v.
    uv = uv_from_xy([0.3127, 0.3290])
    assert uv == pytest.approx([0.1978, 0.4683 / 1.5], abs=5e-5)
    assert xy_from_uv(uv) == pytest.approx([0.3127, 0.3290], abs=1e-12)


def test_mireds():
    """Reciprocal megakelvins, and the shifts between the whites of the trade."""
    # Definition; two encyclopaedic pages.
    kelvin = [3200, 4300, 5600, 6500]
    assert mired(kelvin) == pytest.approx([312.50, 232.56, 178.57, 153.85], abs=0.005)
    pairs = [(5600, 3200, 133.9), (5500, 3200, 130.7), (6500, 3200, 158.7), (5600, 4300, 54.0),
             (3200, 4300, -79.9), (3200, 5600, -133.9), (2700, 3200, -57.9), (4000, 3000, 83.3),
             (7000, 6000, 23.8)]  # fmt: skip
    for start, end, shift in pairs:
        assert mired_shift(start, end) == pytest.approx(shift, abs=0.051)
        assert shifted_kelvin(start, shift) == pytest.approx(end, rel=5e-4)
