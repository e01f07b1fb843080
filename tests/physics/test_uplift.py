"""Picked colours as reflectance spectra (Mallett and Yuksel, EGSR 2019)."""

import numpy as np
import pytest

from previz.physics.bands import band_means
from previz.physics.chromatic_adaptation import REC709_FROM_XYZ
from previz.physics.lamps import illuminant
from previz.physics.spectra import xyz_of
from previz.physics.uplift import basis, linear_from_srgb, reflectance_from_rgb, uplift_basis

COLOURS = [(0.18, 0.18, 0.18), (0.6, 0.1, 0.05), (0.02, 0.3, 0.5), (1, 1, 1), (0.8, 0.7, 0.1)]


@pytest.mark.parametrize("rgb", COLOURS)
def test_colour_comes_back_under_d65(rgb):
    """A spectrum made from a colour has that colour under D65."""
    light = illuminant("D65")
    spectrum = reflectance_from_rgb(rgb)
    # The light's own Rec. 709 is (1, 1, 1) to 1e-3: D65 on 5 nm against its rounded chromaticity.
    assert REC709_FROM_XYZ @ xyz_of(light * spectrum) == pytest.approx(rgb, abs=1.5e-3)
    assert spectrum.min() >= 0
    assert spectrum.max() <= 1


def test_grey_stays_flat():
    """The three curves sum to one, so a grey has no colour under any light."""
    assert basis().sum(axis=0) == pytest.approx(np.ones(81), abs=2e-5)
    assert reflectance_from_rgb([0.5, 0.5, 0.5]) == pytest.approx(np.full(81, 0.5), abs=1e-5)


def test_curves_are_where_their_names_say():
    """Blue lives below 490 nm, green about 540, red about 630."""
    red, green, blue = basis()
    assert red[50] > 0.9
    assert green[32] > 0.9
    assert blue[14] > 0.9


def test_band_albedo_is_a_product():
    """Bands of a colour are rgb times the banded basis."""
    rgb = np.array([0.6, 0.1, 0.05])
    assert uplift_basis(12).shape == (3, 12)
    assert rgb @ uplift_basis(12) == pytest.approx(band_means(reflectance_from_rgb(rgb), 12))
    assert uplift_basis(16).sum(axis=0) == pytest.approx(np.ones(16), abs=2e-5)


def test_colours_outside_are_clamped_and_nonsense_is_refused():
    """2 counts as 1, -1 as 0; three finite numbers are needed."""
    assert reflectance_from_rgb([2, -1, 0.5]) == pytest.approx(reflectance_from_rgb([1, 0, 0.5]))
    with pytest.raises(ValueError, match="three finite numbers"):
        reflectance_from_rgb([0.1, 0.2])
    with pytest.raises(ValueError, match="three finite numbers"):
        reflectance_from_rgb([0.1, 0.2, np.nan])


def test_srgb_decoding(colour):
    """IEC 61966-2-1: 118 of 255 is about 18 %, the toe is a line."""
    assert linear_from_srgb(118 / 255) == pytest.approx(0.1812, abs=5e-4)
    values = np.linspace(0, 1, 256)
    assert linear_from_srgb(values) == pytest.approx(colour.models.eotf_sRGB(values), abs=1e-9)
