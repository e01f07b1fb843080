"""What lamps do to eyes and to what they heat.

Sources: blue light: check value 7.6; infrared: the series of the black body's fractional function.
"""

import numpy as np
import pytest

from previz.physics import optical_hazard as hazard
from previz.physics.lamps import illuminant
from previz.physics.spectra import WAVELENGTHS_NM


def test_blue_light_of_daylight():
    """D65 of the sun's luminance reaches the limit in 0.63 s (check value 7.6)."""
    blue = 1.6e9 * hazard.blue_light_efficacy(illuminant("D65"))
    # 5 nm sums against the source's 1 nm.
    assert blue == pytest.approx(1.5761e6, rel=1e-3)
    assert hazard.BLUE_DOSE / blue == pytest.approx(0.6345, rel=1e-3)
    assert hazard.blue_light_efficacy(0 * illuminant("D65")) == 0.0


def test_blue_weights_by_wavelength():
    """Rows of check value 7.6: the table, its exponential tail, its floor, and nothing past 700 nm."""
    found = hazard.blue_weights([380, 435, 490, 500, 550, 600, 650, 705])
    assert found == pytest.approx([0.01, 1, 0.22, 0.1, 0.01, 0.001, 0.001, 0])


def test_warm_light_has_less_blue():
    """Of two lamps as bright, the warm one may be looked at longer."""
    warm, cold = (hazard.blue_light_efficacy(illuminant(name)) for name in ("A", "D65"))
    assert 0 < warm < cold / 2


def fraction(micrometre_kelvin):
    """F(0 to lambda T) by its series: 15/pi^4 sum e^(-nx)/n (x^3 + 3x^2/n + 6x/n^2 + 6/n^3)."""
    x, n = 14388 / micrometre_kelvin, np.arange(1, 60)
    return 15 / np.pi**4 * np.sum(np.exp(-n * x) / n * (x**3 + 3 * x**2 / n + 6 * x / n**2 + 6 / n**3))


@pytest.mark.parametrize("kelvin", [2700, 3200])
def test_infrared_of_filaments(kelvin):
    """Three quarters of a filament's radiation are infrared that counts for eyes."""
    expected = fraction(3.0 * kelvin) - fraction(0.78 * kelvin)
    assert hazard.black_body_infrared(kelvin) == pytest.approx(expected, abs=1e-3)


@pytest.mark.parametrize(("kelvin", "efficacy"), [(2700, 12.36), (3200, 27.09)])
def test_lumens_of_a_black_bodys_watts(kelvin, efficacy):
    """Planck's law by V(lambda) over Stefan and Boltzmann's, by colour-science 0.4.7 from 360 to 830 nm."""
    assert hazard.black_body_efficacy(kelvin) == pytest.approx(efficacy, rel=1e-3)
    assert len(WAVELENGTHS_NM) == 81
