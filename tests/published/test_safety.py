"""Numbers behind the cautions.

Sources: Ohm; glycol limits of ANSI E1.5 quoted on a practitioner page; 29 CFR 1910.1000 Z-1.
"""

import numpy as np
import pytest

from previz.physics import safety


def test_currents():
    """1 kW at 120 V is 8.33 A, 5 kW at 240 V 20.83 A; power factor and three phases."""
    assert safety.current(1000, 120) == pytest.approx(8.33, abs=5e-3)
    assert safety.current(2000, 120) == pytest.approx(16.67, abs=5e-3)
    assert safety.current(5000, 240) == pytest.approx(20.83, abs=5e-3)
    assert safety.current(1000, 120, power_factor=0.5) == pytest.approx(16.67, abs=5e-3)
    found = safety.current(12000, 400, three_phase=True)
    assert found == pytest.approx(12000 / 400 / np.sqrt(3))


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
