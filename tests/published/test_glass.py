"""Windows: Fresnel's equations with every reflection between the faces (equal to quadrature)."""

import numpy as np
import pytest
from scipy.integrate import quad

from previz.physics import optics

PANE = [
    (0, 0.9183), (30, 0.9160), (45, 0.9025), (60, 0.8435), (70, 0.7247), (75, 0.6148),
    (80, 0.4560), (85, 0.2456),
]  # fmt: skip


@pytest.mark.parametrize(("angle", "through"), PANE)
def test_clear_pane(angle, through):
    """A pane of 1.52 without absorption, from square to grazing."""
    transmission, reflection = optics.pane(np.cos(np.radians(angle)))
    assert transmission == pytest.approx(through, abs=5.1e-5)
    # Nothing is lost.
    assert transmission + reflection == pytest.approx(1.0, abs=1e-12)


def test_pane_is_not_one_surface_squared():
    """(1 - R)² = 0.9167 leaves out the light between the faces."""
    surface = optics.normal_reflectance(1.52)
    assert surface == pytest.approx(0.0426, abs=5e-5)
    assert (1 - surface) ** 2 == pytest.approx(0.9167, abs=5e-5)
    assert optics.pane(1.0)[0] == pytest.approx((1 - surface) / (1 + surface), rel=1e-12)


def test_pane_in_stops():
    """A window costs 0.12 stop square on, 0.25 at 60 and 1.13 at 80 degrees."""
    found = np.log2(optics.pane(np.cos(np.radians([0, 60, 80])))[0])
    assert found == pytest.approx([-0.12, -0.25, -1.13], abs=0.0055)


def test_pane_in_diffuse_light():
    """84.64 % of an even half space passes, by an independent quadrature too."""
    assert optics.pane_diffuse() == pytest.approx(0.8464, abs=5.1e-5)
    expected = quad(lambda a: float(optics.pane(np.cos(a))[0]) * np.sin(2 * a), 0, np.pi / 2)[0]
    assert optics.pane_diffuse() == pytest.approx(expected, rel=1e-7)


def test_double_glazing():
    """Two panes pass 84.90 % square on: (1 - R) / (1 + 3R) for four faces."""
    surface = optics.normal_reflectance(1.52)
    through, back = optics.pane(1.0, sheets=2)
    assert through == pytest.approx(0.8490, abs=5.1e-5)
    assert through == pytest.approx((1 - surface) / (1 + 3 * surface), rel=1e-12)
    assert through + back == pytest.approx(1.0, abs=1e-12)


def test_brewster():
    """At 56.66 degrees light polarised in the plane of incidence is not mirrored."""
    # tan of it is the index: 56.66 degrees for 1.52.
    _, parallel = optics.polarised_reflectance(np.cos(np.radians(56.66)), 1.52)
    # Printed to 0.01 degrees, where it is as good as nothing.
    assert parallel == pytest.approx(0.0, abs=1e-7)
    # Grazing light is mirrored whole.
    assert optics.polarised_reflectance(0.0, 1.52) == pytest.approx((1.0, 1.0))


def test_iron_in_the_glass():
    """About 3.5 % absorbed in a sheet gives the 0.88 of ordinary float, 0.78 of two sheets."""
    # Makers' generic tables (from memory): 0.88-0.90 single, 0.78-0.82 double, ±0.03.
    single, back = optics.pane(1.0, internal=0.965)
    double = optics.pane(1.0, sheets=2, internal=0.965)[0]
    assert single == pytest.approx(0.89, abs=0.01)
    assert double == pytest.approx(0.79, abs=0.01)
    # T = (1-R)² t / (1 - R² t²) and the reflection from the back comes through the glass twice.
    surface = optics.normal_reflectance(1.52)
    assert single == pytest.approx((1 - surface) ** 2 * 0.965 / (1 - (surface * 0.965) ** 2))
    assert back == pytest.approx(surface * (1 + 0.965 * single))
    # A slanted path through the sheet is longer and absorbs more (but for light between the faces).
    slant = optics.pane(np.cos(np.radians(60)), internal=0.9)[0]
    straight = optics.pane(np.cos(np.radians(60)))[0]
    inside = np.sqrt(1 - (np.sin(np.radians(60)) / 1.52) ** 2)
    assert slant / straight == pytest.approx(0.9 ** (1 / inside), rel=0.005)
