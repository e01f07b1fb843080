"""Where a supply ends, by hand and by the check values of loads (7.1, 7.2)."""

import math

import numpy as np
import pytest

from previz.physics.mains import Draw, device_needed, holds, is_continuous
from previz.physics.safety import current
from previz.physics.supply import (
    cable_area,
    distortion,
    fundamental,
    generator_load,
    neutral_current,
    trips,
    unbalance,
    voltage_drop,
)


# Check value 7.1, NEC 210.20(A): watts that 80 % of a breaker hold.
@pytest.mark.parametrize(("volts", "breaker", "watts"), [
    (120, 15, 1440), (120, 20, 1920), (120, 60, 5760), (120, 100, 9600), (230, 13, 2392), (230, 16, 2944),
    (230, 32, 5888),
])  # fmt: skip
def test_what_a_breaker_holds(volts, breaker, watts):
    """80 % in continuous use, all of it for less than three hours; its device is that breaker again."""
    assert holds(breaker) * volts == pytest.approx(watts)
    assert holds(breaker, 2.9) == breaker and holds(breaker, 3.0) == holds(breaker)
    assert device_needed(holds(breaker)) == pytest.approx(breaker)


def test_continuous_use():
    """Three hours and more (NEC article 100), and what nobody said."""
    assert [is_continuous(hours) for hours in (None, 3, 8, 2.99)] == [True, True, True, False]


def test_two_kilowatts_on_twenty_amperes():
    """Check value 7.1: 2 kW at 120 V are 16.67 A and need 20.8 A; what is not continuous comes on top."""
    assert current(2000, 120) == pytest.approx(16.67, abs=0.005)
    assert device_needed(current(2000, 120)) == pytest.approx(20.83, abs=0.005)
    assert device_needed(8.0, 5.0) == pytest.approx(15.0)


# Check value 7.2: A = W / (V · PF), over sqrt(3) more for three phases.
@pytest.mark.parametrize(("watts", "volts", "amperes"), [(1000, 120, 8.33), (5000, 240, 20.83)])
def test_amperes_of_a_filament(watts, volts, amperes):
    """Ohm's law for a power factor of 1; a supply's own takes its factor."""
    assert Draw("a", watts, 0.0, "tungsten").amperes(volts) == pytest.approx(amperes, abs=0.005)
    assert Draw("a", watts, 0.0, "led", 0.5).amperes(volts) == pytest.approx(2 * amperes, abs=0.01)
    # A balanced load on three phases: each carries a third at the voltage to neutral.
    assert current(3 * watts, math.sqrt(3) * volts, three_phase=True) == pytest.approx(amperes, abs=0.005)


def sampled_neutral(fundamentals, thirds):
    """The neutral's effective current by adding up waves in time: an oracle without phasors."""
    turn = np.linspace(0, 2 * np.pi, 3600, endpoint=False)
    total = sum(math.sqrt(2) * (one * np.sin(turn - 2 * np.pi * k / 3)
                                + third * np.sin(3 * (turn - 2 * np.pi * k / 3) + 0.4))
                for k, (one, third) in enumerate(zip(fundamentals, thirds, strict=True)))
    return math.sqrt(np.mean(total**2))


@pytest.mark.parametrize(("fundamentals", "thirds"), [
    ([10, 10, 10], [0, 0, 0]), ([10, 10, 10], [3, 3, 3]), ([10, 0, 0], [4, 0, 0]), ([12, 7, 3], [1, 2, 5]),
])  # fmt: skip
def test_the_neutral_against_waves_in_time(fundamentals, thirds):
    """Phasors give what the waves of three phases add up to in the neutral."""
    expected = sampled_neutral(fundamentals, thirds)
    assert neutral_current(fundamentals, thirds) == pytest.approx(expected, abs=1e-9)


def test_the_neutral_in_closed_form():
    """Balanced: nothing of the fundamental, thrice the third; one phase: itself; two legs: the difference."""
    assert neutral_current([10, 10, 10], [0, 0, 0]) == pytest.approx(0, abs=1e-9)
    assert neutral_current([10, 10, 10], [3, 3, 3]) == pytest.approx(9)
    # sqrt(a² + b² + c² - ab - bc - ca), the usual formula for unity power factor.
    assert neutral_current([12, 7, 3], [0, 0, 0]) == pytest.approx(math.sqrt(144 + 49 + 9 - 84 - 21 - 36))
    assert neutral_current([10, 4]) == pytest.approx(6)
    assert neutral_current([10, 10], [3, 3]) == pytest.approx(0, abs=1e-9)
    assert neutral_current([8], [6]) == pytest.approx(10)
    with pytest.raises(ValueError, match="one to three phases"):
        neutral_current([1, 2, 3, 4])


def test_the_distortion_of_a_supply():
    """Fundamental and distortion make up the current that its power factor gives, in quadrature."""
    assert math.hypot(fundamental(900, 230), distortion(900, 230, 0.6)) == pytest.approx(900 / 230 / 0.6)
    # 0.8 of the current at a power factor of 0.6: 3, 4, 5.
    assert distortion(600, 100, 0.6) == pytest.approx(8)
    assert distortion(600, 100, 1.0) == 0


def test_unbalance():
    """The greatest difference from the mean over the mean (NEMA MG 1 has it of voltages, from memory)."""
    assert unbalance([10, 10, 10]) == 0
    assert unbalance([12, 10, 8]) == pytest.approx(0.2)
    assert unbalance([9, 0, 0]) == pytest.approx(2)
    assert unbalance([0, 0]) == unbalance([]) == 0


def test_a_generator():
    """20 kVA at 0.8 on three phases of 230 V is 28.99 A a phase; each part over its own rating."""
    load = generator_load(8000, 10_000, [20, 10, 13.5], rated_watts=16_000, rated_volt_amperes=20_000,
                          volts=230)
    assert load[:2] == (0.5, 0.5)
    assert load.phase == pytest.approx(20 / (20_000 / 690)) == load.most
    assert load.uneven == pytest.approx(10 / (20_000 / 690))


# Check value 7.20: B 3 to 5, C 5 to 10, D 10 to 20 times the rating.
@pytest.mark.parametrize(("curve", "none", "some", "sure"), [
    ("B", 48, 49, 80), ("C", 80, 81, 160), ("D", 160, 161, 320),
])  # fmt: skip
def test_breakers_trip_at_once(curve, none, some, sure):
    """16 A of each type at the ends of its range."""
    assert [trips(each, 16, curve) for each in (none, some, sure)] == ["no", "may", "yes"]


def test_the_drop_of_a_cable():
    """50 m of 2.5 mm² with 16 A: 2 · 50 · 0.0175 · 16 / 2.5 is 11.2 V cold, a quarter more in use."""
    assert voltage_drop(16, 50, 2.5) == pytest.approx(1.25 * 11.2)
    assert voltage_drop(16, 0, 2.5) == 0
    # 0.0225 ohm mm²/m of copper in use (check value 7.21) is within 3 % of that.
    assert voltage_drop(16, 50, 2.5) == pytest.approx(2 * 0.0225 * 50 * 16 / 2.5, rel=0.03)
    assert [cable_area(each) for each in (10, 16, 20, 63, 400)] == [2.5, 2.5, 6.0, 16.0, 35.0]
