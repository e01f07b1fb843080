"""Colour rendering of the lamp spectra, through our own spectra and the colour library's sums.

Sources: CIE 13.3 and the typical values of an encyclopaedia ("Color rendering index");
ANSI/IES TM-30-18 = CIE 224:2017; SMPTE ST 2122:2020 (number from memory); all reproduced with
colour-science 0.4.7. The metrics are the library's; what is tested is that our tables, our 5 nm
grid and our spectra give the published figures.
"""

import numpy as np
import pytest

from previz.physics.colour_report import (
    colour_fidelity,
    colour_rendering_index,
    spectral_similarity,
)
from previz.physics.lamps import illuminant, spectrum_of

# The library reads our 5 nm spectra with warnings about interpolation.
pytestmark = pytest.mark.filterwarnings("ignore")


@pytest.mark.parametrize(
    ("name", "index"),
    [("FL2", 64), ("FL4", 51), ("FL1", 76), ("FL7", 90.2), ("FL8", 95.5), ("FL11", 82.9),
     ("FL12", 83.1), ("A", 100), ("D65", 100)],
)  # fmt: skip
def test_general_colour_rendering_index(name, index):
    """Ra of tubes: two sources agree within ±0.6."""
    assert colour_rendering_index(illuminant(name)) == pytest.approx(index, abs=0.6)


@pytest.mark.parametrize(
    ("name", "fidelity", "gamut"),
    [("FL2", 70.1, 86.4), ("FL11", 80.0, 101.1), ("LED-B3", 85.3, 97.9), ("C", 97.8, 101.2),
     ("HP1", 34.2, 54.0)],
)  # fmt: skip
def test_fidelity_and_gamut(name, fidelity, gamut):
    """Rf and Rg, ±0.3 for another grid."""
    found = colour_fidelity(illuminant(name))
    assert found == pytest.approx((fidelity, gamut), abs=0.3)


def test_fidelity_of_equal_energy():
    """Flat power is not quite daylight: 94.7, a little more colourful; a three-band tube 77.5."""
    assert colour_fidelity(np.ones(81)) == pytest.approx((94.7, 103.7), abs=0.3)
    assert colour_fidelity(illuminant("FL12"))[0] == pytest.approx(77.5, abs=0.3)


def test_daylight_and_black_body_are_their_own_reference():
    """Rf is 100 for the D series and for tungsten."""
    assert colour_fidelity(spectrum_of("daylight", 5600))[0] == pytest.approx(100, abs=0.3)
    assert colour_fidelity(spectrum_of("tungsten", 3200))[0] == pytest.approx(100, abs=0.3)


@pytest.mark.parametrize(
    ("name", "reference", "index"),
    [("C", "D65", 94), ("D65", "D55", 90), ("D50", "D55", 94), ("FL2", "D65", 58),
     ("FL11", "D50", 36), ("LED-B3", "D50", 70)],
)  # fmt: skip
def test_spectral_similarity(name, reference, index):
    """SSI is a whole number; ±1."""
    assert spectral_similarity(illuminant(name), illuminant(reference)) == pytest.approx(
        index, abs=1
    )


def test_spectral_similarity_of_black_bodies():
    """3200 K against 2856 K is 91; anything against itself 100."""
    warm, cool = spectrum_of("blackbody", 2856), spectrum_of("blackbody", 3200)
    assert spectral_similarity(cool, warm) == pytest.approx(91, abs=1)
    assert spectral_similarity(warm, warm) == 100
