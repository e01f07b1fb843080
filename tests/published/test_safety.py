"""Numbers behind the cautions.

Sources: NEC 210.20(A) (rule read; 3 h from one page); Ohm; EN 60598-2-17 clause 17.6.6 quoted on
two pages; glycol limits of ANSI E1.5 quoted on a practitioner page; 29 CFR 1910.1000 Z-1;
IEC 62471 limits quoted in a public header (times from memory).
"""

import numpy as np
import pytest

from previz.physics import safety
from previz.physics.safety import LampLoad
from tests.oracles.matter import blue_light_limit, continuous_watts


@pytest.mark.parametrize(
    ("volts", "amperes", "watts"),
    [(120, 15, 1440), (120, 20, 1920), (120, 60, 5760), (120, 100, 9600), (230, 13, 2392),
     (230, 16, 2944), (230, 32, 5888)],
)  # fmt: skip
def test_load_to_eighty_percent(volts, amperes, watts):
    """What a circuit may carry for three hours or more."""
    assert continuous_watts(volts, amperes) == pytest.approx(watts)


def test_two_kilowatts_at_120_volts_want_more_than_20_amperes():
    """16.67 A need a device of 20.8 A."""
    load = safety.current(2000, 120)
    assert load == pytest.approx(16.67, abs=5e-3)
    assert safety.device_rating(load) == pytest.approx(20.83, abs=5e-3)
    text = safety.load_caution([LampLoad(name="key", watts=2000)], volts=[120])
    assert "16.7 A at 120 V" in text
    assert "at least 20.8 A" in text


def test_currents():
    """1 kW at 120 V is 8.33 A, 5 kW at 240 V 20.83 A; power factor and three phases."""
    assert safety.current(1000, 120) == pytest.approx(8.33, abs=5e-3)
    assert safety.current(5000, 240) == pytest.approx(20.83, abs=5e-3)
    assert safety.current(1000, 120, power_factor=0.5) == pytest.approx(16.67, abs=5e-3)
    found = safety.current(12000, 400, three_phase=True)
    assert found == pytest.approx(12000 / 400 / np.sqrt(3))


def test_overhead_lamps_are_named():
    """Any lamp over 2 m gets the second suspension, one below does not."""
    high = safety.lamp_cautions(LampLoad(name="back light", height=2.6))
    assert len(high) == 1
    assert "'back light'" in high[0]
    assert "second suspension independent of the clamp" in high[0]
    assert safety.lamp_cautions(LampLoad(name="low", height=1.9)) == ()


def test_lamps_near_cloth_are_named():
    """Nearer than 1 m to fabric prints the marked distance and flame-retardant cloth."""
    lamp = LampLoad(name="key", fabric="silk", fabric_distance=0.6)
    (line,) = safety.lamp_cautions(lamp)
    assert "0.60 m from 'silk'" in line
    assert "flame-retardant" in line
    assert safety.lamp_cautions(LampLoad(name="key", fabric="silk", fabric_distance=1.2)) == ()


def test_hot_and_bright_lamps():
    """Heat and glare have their own lines, and no lamp is called safe."""
    lines = safety.lamp_cautions(LampLoad(name="spot", hot=True, luminance=2e6))
    assert len(lines) == 2
    assert "becomes heat" in lines[0].replace("become heat", "becomes heat")
    assert "look into it" in lines[1]
    assert "risk group from its maker" in lines[1]
    assert not any(" safe" in line for line in lines)


def test_haze_has_its_limits_printed():
    """Haze prints its estimate, the limits, and that symptoms occur below them."""
    assert safety.haze_caution(0.0) == ""
    thin, thick = safety.haze_caution(0.005), safety.haze_caution(0.05)
    for text in (thin, thick):
        assert "glycol 10 mg/m³ over 8 h and 40 at peak" in text
        assert "mineral oil mist 5 over 8 h" in text
        assert "ventilate" in text
    # 0.005 /m is 0.9 to 3.3 mg/m³, 0.05 is 9 to 33: only the second may pass 10.
    assert "1 to 3 mg/m³" in thin
    assert "9 to 33 mg/m³" in thick
    assert "exceed the 8 h mean for glycol and for oil" in thick
    assert "exceed" not in thin
    # 0.01 /m is 2 to 7 mg/m³: over oil's 5 alone; 0.1 is 18 to 67: over glycol's peak of 40 too.
    assert "exceed the 8 h mean for oil:" in safety.haze_caution(0.01)
    assert "exceed the 8 h mean and the peak for glycol" in safety.haze_caution(0.1)
    for text in (thin, thick):
        assert "smoke detectors" in text
        assert text.endswith("Local rules and the venue decide.")


def test_blue_light_groups():
    """100, 10 000 and 4 million W/(m² sr) end exempt, group 1 and group 2."""
    limits = [blue_light_limit(group) for group in ("exempt", "group 1", "group 2")]
    assert limits == pytest.approx([100, 1e4, 4e6])


def test_the_last_line_says_who_decides():
    """Any caution ends with the deference; a plan with nothing in it has none."""
    lines = safety.cautions([LampLoad(name="key", watts=650, height=2.5)], haze_density=0.02)
    assert lines[-1] == safety.DEFERENCE
    assert lines[-1].startswith("Planning aid only.")
    assert len(lines) == 5
    assert safety.cautions([]) == ()
    missing = safety.cautions([LampLoad(name="tube")])
    assert "No watts are stated for: tube." in missing[0]
