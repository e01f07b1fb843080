"""Gels by their nominal shifts and losses. Shifts are derived; what is lost is common practice, no source."""

import numpy as np
import pytest

from previz.physics.blackbody import radiance
from previz.physics.colourtemp import cct_duv, mired_shift, shifted_kelvin, xy_of
from previz.physics.gel import (
    DAYLIGHT_K,
    GEL_NAMES,
    green_filter,
    luminous_transmission,
    named_gel,
    nominal_transmission,
    shift_gel,
)
from previz.physics.lamps import spectrum_of
from previz.physics.spectra import WAVELENGTHS_NM


@pytest.mark.parametrize(
    ("density", "duv", "transmission"),
    [(0.07, 0.008, 0.93), (0.15, 0.016, 0.88), (0.30, 0.031, 0.78)],
)
def test_green_in_compensating_density(density, duv, transmission):
    """CC07, CC15 and CC30 of green on 5600 K; minus green mirrors them."""
    # An idealised filter; common practice, ±30 % of Duv and of what is lost.
    light = spectrum_of("blackbody", 5600)
    green, magenta = green_filter(density), green_filter(-density)
    assert cct_duv(xy_of(light * green))[1] == pytest.approx(duv, rel=0.3)
    assert cct_duv(xy_of(light * magenta))[1] == pytest.approx(-duv, rel=0.3)
    lost = 1 - luminous_transmission(green, light)
    assert lost == pytest.approx(1 - transmission, rel=0.4)
    # Green is what the eye sees best: taking it away costs more.
    assert luminous_transmission(magenta, light) < luminous_transmission(green, light)


@pytest.mark.parametrize(
    ("name", "reference", "after"),
    [("full cto", 5600, 3200), ("half cto", 5600, 4073), ("quarter cto", 5600, 4715),
     ("eighth cto", 5600, 5120), ("full ctb", 3200, 5600), ("half ctb", 3200, 4073),
     ("quarter ctb", 3200, 3584), ("eighth ctb", 3200, 3381)],
)  # fmt: skip
def test_nominal_gels(name, reference, after):
    """Full turns 5600 K into 3200 K or back; fractions are exact parts of 133.9 mired."""
    # Common practice, no source: nominal arithmetic.
    gel = named_gel(name)
    cct, duv = cct_duv(xy_of(spectrum_of("blackbody", reference) * gel))
    assert cct == pytest.approx(after, abs=2)
    assert duv == pytest.approx(0, abs=1e-5)
    assert 0 < gel.min() < gel.max() <= 0.92


@pytest.mark.parametrize(
    ("shift", "transmission", "green"),
    [(134, 0.6, 0.0), (134, 0.3, 0.0), (-80, 0.45, 0.0), (50, 0.7, 0.006), (0, 0.6, -0.008)],
)
def test_a_gel_does_what_it_says(shift, transmission, green):
    """Shift, green and transmission all hold on the reference light."""
    reference = 5600 if shift >= 0 else 3200
    light = spectrum_of("blackbody", reference)
    gel = shift_gel(shift, transmission, green)
    cct, duv = cct_duv(xy_of(light * gel))
    assert mired_shift(reference, cct) == pytest.approx(shift, abs=0.1)
    assert duv == pytest.approx(green, abs=1e-5)
    assert luminous_transmission(gel, light) == pytest.approx(transmission, abs=1e-6)


def test_cooling_costs_more_light_than_warming():
    """Full blue loses one and a half stops, full orange two thirds."""
    # Common practice, no source.
    warm = luminous_transmission(named_gel("full cto"), spectrum_of("blackbody", 5600))
    cool = luminous_transmission(named_gel("full ctb"), spectrum_of("blackbody", 3200))
    assert np.log2(warm) == pytest.approx(-2 / 3, abs=1e-4)
    assert np.log2(cool) == pytest.approx(-1.5, abs=1e-4)


@pytest.mark.parametrize(
    ("strength", "warming", "cooling"),
    [(1.0, 2 / 3, 1.5), (0.5, 0.5, 1.0), (0.25, 1 / 3, 2 / 3), (0.125, 0.25, 1 / 3),
     (1.5, 5 / 6, 2.0)],
)  # fmt: skip
def test_nominal_losses(strength, warming, cooling):
    """Stops lost at each nominal strength, and half as much again as full."""
    # Common practice, no source; beyond full by the slope from half to full.
    shift = strength * 1e6 * (1 / 3200 - 1 / 5600)
    assert -np.log2(nominal_transmission(shift)) == pytest.approx(warming, abs=1e-9)
    assert -np.log2(nominal_transmission(-shift)) == pytest.approx(cooling, abs=1e-9)


def test_all_named_gels_exist():
    """Each listed name gives a transmission; nd 0.6 is two stops."""
    for name in GEL_NAMES:
        gel = named_gel(name)
        assert gel.shape == (81,)
        assert np.all((gel > 0) & (gel <= 1))
    assert np.log2(named_gel("nd 0.6")) == pytest.approx(-1.993, abs=5e-4)
    light = spectrum_of("blackbody", 5600)
    assert cct_duv(xy_of(light * named_gel("full plus green")))[1] > 0.02
    assert cct_duv(xy_of(light * named_gel("full minus green")))[1] < -0.02


def test_nominal_gel_arithmetic():
    """134, 67, 33.5 and 16.8 mired from 5600 K and from 3200 K."""
    # Common practice, no source: the trade's nominal meaning, by arithmetic.
    shifts = 133.93 / np.array([1, 2, 4, 8])
    warmed = [shifted_kelvin(5600, shift) for shift in shifts]
    cooled = [shifted_kelvin(3200, -shift) for shift in shifts]
    assert warmed == pytest.approx([3200, 4073, 4716, 5120], abs=1.5)
    assert cooled == pytest.approx([5600, 4072, 3584, 3381], abs=1.5)


@pytest.mark.parametrize("duv", [0.008, -0.006, 0.02])
def test_a_gel_of_green_alone_turns_daylight_as_far_as_asked(duv):
    """Without a shift it is the compensating filter of that Duv, and none is strong enough for any."""
    light = radiance(WAVELENGTHS_NM, DAYLIGHT_K)
    assert cct_duv(xy_of(light * shift_gel(0.0, green=duv)))[1] == pytest.approx(duv, abs=2e-4)
    with pytest.raises(ValueError, match="stay within about 0.05"):
        shift_gel(0.0, green=0.2 if duv > 0 else -0.2)
