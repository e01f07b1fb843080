"""Lumens and watts.

Sources: SI Brochure 9th ed. 2.3.1 and CIE 018 (from memory) for 683 lm/W; efficacies and
luminances computed with colour-science and, for the efficacies, quoted independently in the
source of an open lighting program.
"""

import numpy as np
import pytest
from scipy.integrate import quad

from previz.physics.blackbody import STEFAN_BOLTZMANN, radiance
from previz.physics.lamps import EFFICACY_LM_PER_W, illuminant
from previz.physics.photometry import efficacy_of_radiation
from previz.physics.spectra import K_M, WAVELENGTHS_NM, observer, xyz_of


def test_a_watt_of_green_is_683_lumens():
    """One watt at 555 nm carries 683.0 lm."""
    line = np.zeros(81)
    line[WAVELENGTHS_NM == 555] = 1 / 5
    assert xyz_of(line)[1] == pytest.approx(683.0, abs=0.01)
    assert observer()[1].max() == 1.0
    assert WAVELENGTHS_NM[np.argmax(observer()[1])] == 555


@pytest.mark.parametrize(
    ("name", "efficacy"),
    [("A", 156.2), ("D50", 207.7), ("D55", 207.9), ("D65", 205.2), ("FL2", 336.7),
     ("FL11", 336.9), ("LED-B3", 316.9)],
)  # fmt: skip
def test_efficacy_of_illuminants(name, efficacy):
    """Luminous efficacy of radiation, 380 to 780 nm."""
    # colour-science; 1 % as the limits of wavelength matter.
    assert efficacy_of_radiation(illuminant(name)) == pytest.approx(efficacy, rel=0.01)


def test_efficacy_of_equal_energy():
    """Flat power gives 182.5 lm/W; that program uses 179 for white over a slightly wider range."""
    assert efficacy_of_radiation(np.ones(81)) == pytest.approx(182.5, rel=0.01)
    assert efficacy_of_radiation(np.ones(81)) == pytest.approx(179, rel=0.025)
    # The integral of V over 400 nm, end to end; V is 4e-5 and less at both ends.
    by_hand = K_M * np.sum(observer()[1]) * 5 / 400
    assert efficacy_of_radiation(np.ones(81)) == pytest.approx(by_hand, rel=3e-6)


@pytest.mark.parametrize(
    ("kelvin", "efficacy"),
    [(2000, 1.61), (2700, 12.36), (2856, 16.45), (3000, 20.67), (3200, 27.09), (3400, 33.93),
     (5600, 90.4), (6500, 95.4)],
)  # fmt: skip
def test_efficacy_of_black_bodies_over_all_wavelengths(kelvin, efficacy):
    """Lumens of a black body over its whole radiated power, sigma T⁴."""
    # colour-science, 1 %.
    lumens = np.pi * xyz_of(radiance(WAVELENGTHS_NM, kelvin))[1]
    assert lumens / (STEFAN_BOLTZMANN * kelvin**4) == pytest.approx(efficacy, rel=0.01)


@pytest.mark.parametrize(
    ("kelvin", "nits"),
    [(2000, 4.638e5), (2700, 1.185e7), (2856, 1.975e7), (3200, 5.127e7), (6500, 3.073e9)],
)
def test_luminance_of_black_bodies(kelvin, nits):
    """A filament at 3200 K shines with 51 million cd/m²."""
    # Planck times V, colour-science; 0.5 %.
    assert xyz_of(radiance(WAVELENGTHS_NM, kelvin))[1] == pytest.approx(nits, rel=0.005)


def test_black_body_power_is_stefan_boltzmann():
    """Planck's law over all wavelengths, times pi, is sigma T⁴."""
    total = quad(lambda nm: float(radiance(nm, 3200.0)), 50, 2e5, limit=400)[0] * np.pi
    # c2 is rounded to 1.4388e-2 in colorimetry: its fourth power is 6e-5 off.
    assert total == pytest.approx(STEFAN_BOLTZMANN * 3200.0**4, rel=2e-4)


def test_flat_radiance_in_nits():
    """1 W/(m² sr nm) at all wavelengths is about 72 911 cd/m²."""
    # 683.002 times the integral of V, 106.7503 nm, as used by a renderer read for the purpose.
    assert pytest.approx(72910.6, abs=0.1) == K_M * 106.7502593994140625
    # 5 nm samples from 380 nm against 1 nm from 360: 2e-4.
    assert xyz_of(np.ones(81))[1] == pytest.approx(72911, rel=3e-3)


def test_black_body_is_plausible_inside_its_class():
    """A 3200 K black body's 27.1 lm/W lies inside the range kept for tungsten halogen."""
    low, high = EFFICACY_LM_PER_W["tungsten halogen"]
    assert low < 27.09 < high
    # 'Luminous efficacy' table: photographic lamps 35, household 5 to 17.5, T5 tubes to 104.
    assert high == 35
    assert EFFICACY_LM_PER_W["household tungsten"] == (5, 17.5)
    assert EFFICACY_LM_PER_W["fluorescent"][1] == 104
