"""Skin of stand-ins inside the classes of measured faces.

Source: International Skin Spectra Archive (figshare 28228571; Scientific Data 2025,
s41597-025-04857-5), statistics of its 6907 face records, specular included; CIE 224 samples 15
and 18 (skin) and the chart's skins by colour-science.
"""

import numpy as np
import pytest

from previz.physics.lamps import illuminant
from previz.physics.skin import (
    SHEENS,
    SKIN_STEPS,
    face_reflectance,
    luminance_reflectance,
    seen_reflectance,
    skin_reflectance,
)
from previz.physics.spectra import WAVELENGTHS_NM
from tests.oracles.matter import FACE_LUMINANCE

# Class: luminance reflectance under D65, 5th, 50th and 95th percentile [%]; stops over 18 %.
CLASSES = {
    "very light": (33.7, 37.9, 41.8, 1.07),
    "light": (30.0, 33.7, 38.2, 0.91),
    "medium": (26.2, 29.3, 32.9, 0.71),
    "tan": (21.6, 24.6, 27.8, 0.45),
    "brown": (12.6, 18.2, 21.1, 0.0),
    "dark": (6.1, 9.3, 11.8, -0.95),
}


@pytest.mark.parametrize("sheen", SHEENS)
@pytest.mark.parametrize("step", SKIN_STEPS)
def test_skin_lands_in_its_class(step, sheen):
    """Shine and diffuse part together give the class median within two points, powdered or wet."""
    low, median, high, stops = CLASSES[step]
    total = luminance_reflectance(seen_reflectance(step, sheen), illuminant("D65"))
    assert 100 * total == pytest.approx(median, abs=2)
    assert low < 100 * total < high
    # ±0.15 stop, and one stop over grey only for the lightest.
    assert np.log2(total / 0.18) == pytest.approx(stops, abs=0.15)
    assert FACE_LUMINANCE[step] == pytest.approx((low / 100, median / 100, high / 100))


@pytest.mark.parametrize("step", SKIN_STEPS)
def test_shine_is_taken_out_of_the_albedo_once(step):
    """The coat's 2.8 % and what passes it twice over the diffuse part make the measured face."""
    # Fresnel at index 1.4: (0.4 / 2.4)² = 0.02778; light that enters has lost that share.
    albedo = skin_reflectance(step)
    assert 0.02778 + (1 - 0.02778) * albedo == pytest.approx(face_reflectance(step), abs=1e-5)
    assert albedo.min() > 0


def test_powder_gives_back_what_it_takes_from_the_shine():
    """The less of the skin shines, the more it scatters; the sum stays the measured face."""
    for step in SKIN_STEPS:
        matt, shiny = skin_reflectance(step, "powdered"), skin_reflectance(step, "sweating")
        assert np.all(matt > shiny)
        # 0.4 of the skin loses its 2.8 % of shine: 0.0111 at most, on black skin.
        assert np.all(matt - shiny < 0.0112)
    with pytest.raises(ValueError, match="sheen is one of powdered, natural, shiny, sweating"):
        skin_reflectance("tan", "oily")


@pytest.mark.parametrize("step", SKIN_STEPS)
def test_skin_shows_blood(step):
    """The dip before 600 nm is there: R(580) / R(600) is 0.71 to 0.80."""
    at_580, at_600 = np.interp([580, 600], WAVELENGTHS_NM, face_reflectance(step))
    # The printed table gives 0.7238 for the lightest and 0.7966 for the darkest class.
    assert 0.70 < at_580 / at_600 < 0.80


def test_skin_table_as_printed():
    """A few cells of the table, and its ends held."""
    at = np.searchsorted(WAVELENGTHS_NM, [380, 400, 540, 590, 700, 780])
    assert face_reflectance("medium")[at] == pytest.approx(
        [0.141, 0.141, 0.251, (0.276 + 0.389) / 2, 0.521, 0.521]
    )


def test_steps_darken_in_order():
    """Each step reflects less than the one before at all wavelengths but the deepest blue."""
    curves = np.array([face_reflectance(step) for step in SKIN_STEPS])
    assert np.all(np.diff(curves, axis=0) < 0)


def test_other_measured_skins_fall_between(colour):
    """CIE 224 samples 15 and 18 and the chart's skins have the known luminance, inside our span."""
    from colour.quality.cfi2017 import load_TCS_CIE2017

    light = illuminant("D65")
    samples = load_TCS_CIE2017(colour.SpectralShape(380, 780, 5)).values
    chart = colour.SDS_COLOURCHECKERS["cc_ohta"]
    curves = {"CES15": samples[:, 14], "CES18": samples[:, 17]}
    for name in ("light skin", "dark skin"):
        curves[name] = np.interp(WAVELENGTHS_NM, chart[name].wavelengths, chart[name].values)
    span = [luminance_reflectance(face_reflectance(step), light) for step in SKIN_STEPS]
    expected = {"CES15": 0.367, "CES18": 0.203, "light skin": 0.356, "dark skin": 0.097}
    for name, curve in curves.items():
        found = luminance_reflectance(curve, light)
        # colour-science; 0.3 points.
        assert found == pytest.approx(expected[name], abs=0.003)
        assert min(span) < found < max(span)
