"""Haze: Beer-Lambert, Koschmieder (AMS Glossary, CIE e-ILV 772), Henyey and Greenstein 1941,
airlight after Sun, Ramamoorthi, Narasimhan and Nayar 2005 (form from memory, equal to quadrature).
"""

import numpy as np
import pytest
from scipy.integrate import quad

from previz.physics import haze
from previz.scene.haze import Haze
from tests.oracles.matter import henyey_greenstein

ATTENUATION = [
    (0.005, 0.9753, 0.9512, 0.072), (0.01, 0.9512, 0.9048, 0.144), (0.02, 0.9048, 0.8187, 0.289),
    (0.05, 0.7788, 0.6065, 0.721), (0.1, 0.6065, 0.3679, 1.443),
]  # fmt: skip


@pytest.mark.parametrize(("density", "five", "ten", "stops"), ATTENUATION)
def test_beer_lambert(density, five, ten, stops):
    """What 5 m and 10 m of haze leave of a beam."""
    found = haze.beam_transmission(density, np.array([5.0, 10.0]))
    assert found == pytest.approx([five, ten], abs=5.1e-5)
    assert -np.log2(found[1]) == pytest.approx(stops, abs=5.1e-4)


def test_visibility():
    """0.02 /m: 195.6 m at 2 % contrast, 149.8 m at 5 %; and back."""
    assert haze.visibility(0.02, haze.RANGE_CONTRAST) == pytest.approx(195.6, abs=0.05)
    assert haze.visibility(0.02) == pytest.approx(149.8, abs=0.05)
    assert haze.density_from_visibility(149.8) == pytest.approx(0.02, rel=1e-3)
    assert haze.visibility(1.0, 0.02) == pytest.approx(3.912, abs=5e-4)
    assert haze.visibility(1.0, 0.05) == pytest.approx(2.996, abs=5e-4)
    # CIE e-ILV 772: 5 % of a beam is left at the meteorological optical range.
    assert haze.beam_transmission(0.02, haze.visibility(0.02)) == pytest.approx(0.05)


PHASE = [
    (0.3, 0.21112, 0.06363, 0.03296, 6.4), (0.6, 0.79577, 0.03211, 0.01243, 64),
    (0.8, 3.58099, 0.01364, 0.00491, 729), (0.9, 15.1197, 0.00621, 0.00220, 6859),
]  # fmt: skip


@pytest.mark.parametrize(("g", "forward", "side", "back", "ratio"), PHASE)
def test_henyey_greenstein(g, forward, side, back, ratio):
    """Plus g scatters forward; the integral is 1 and the mean cosine g."""
    found = henyey_greenstein(np.array([1.0, 0.0, -1.0]), g)
    assert found == pytest.approx([forward, side, back], rel=2e-3, abs=5e-6)
    assert found[0] == pytest.approx(forward, rel=2e-5)
    assert found[0] / found[2] == pytest.approx(ratio, rel=0.006)
    assert found[0] / found[2] == pytest.approx(((1 + g) / (1 - g)) ** 3, rel=1e-12)
    total = quad(lambda c: 2 * np.pi * float(henyey_greenstein(c, g)), -1, 1)[0]
    mean = quad(lambda c: 2 * np.pi * c * float(henyey_greenstein(c, g)), -1, 1)[0]
    assert total == pytest.approx(1.0, abs=1e-7)
    assert mean == pytest.approx(g, abs=1e-7)


AIRLIGHT = [
    (0.02, 10.0, 1.200493), (0.02, np.inf, 1.328654), (0.05, np.inf, 2.536094),
]  # fmt: skip


@pytest.mark.parametrize(("density", "depth", "nits"), AIRLIGHT)
def test_airlight(density, depth, nits):
    """1000 cd at 5 m, 30 degrees off the view: the glow of the air, scattered once."""
    # Closed form, equal to quadrature to 1e-9 and to a renderer within its noise.
    found = haze.airlight(1000.0, density, distance=5.0, angle_deg=30.0, depth=depth)
    assert found == pytest.approx(nits, abs=6e-7)


@pytest.mark.parametrize("angle", [20.0, 90.0, 140.0])
def test_airlight_equals_direct_integration(angle):
    """Along the view, beta/4pi · I exp(-beta(x + d)) / d² adds up to the same, any angle."""
    beta, distance, depth = 0.03, 4.0, 12.0

    def glow(x):
        square = x * x + distance**2 - 2 * x * distance * np.cos(np.radians(angle))
        return beta * 700 / (4 * np.pi) * np.exp(-beta * (x + np.sqrt(square))) / square

    expected = quad(glow, 0, depth, epsabs=1e-12, epsrel=1e-11)[0]
    found = haze.airlight(700.0, beta, distance=distance, angle_deg=angle, depth=depth)
    assert found == pytest.approx(expected, rel=1e-9)


def test_default_droplets():
    """Droplets of 1 to 2 micrometres scatter with g of 0.68 to 0.84."""
    # Mie theory, run once with an open library: 1 µm 0.68-0.84, 2 µm 0.70-0.75.
    assert 0.68 <= Haze.forward <= 0.84


def test_droplet_mass():
    """10 mg/m³ of droplets is a density of 0.015 to 0.055 /m; 40 is 0.06 to 0.22."""
    # Mass extinction 1.5 to 5.5 m²/g by the same; an estimate within a factor of two.
    for density, milligrams in ((0.015, 10), (0.06, 40)):
        assert haze.droplet_mass(density)[1] == pytest.approx(milligrams, rel=1e-9)
    for density, milligrams in ((0.055, 10), (0.22, 40)):
        assert haze.droplet_mass(density)[0] == pytest.approx(milligrams, rel=1e-9)
