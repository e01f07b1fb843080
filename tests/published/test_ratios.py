"""Lighting ratios: both definitions in print, named separately.

Sources: 'Lighting ratio' in two versions of an encyclopaedia; a television production text,
module 33 (key 1000 lx, fill 500 lx).
"""

import numpy as np
import pytest

from previz.physics import meter


@pytest.mark.parametrize(("ratio", "stops"), [(1, 0), (2, 1), (3, 1.585), (4, 2), (8, 3), (16, 4)])
def test_key_to_fill_in_stops(ratio, stops):
    """4:1 metered alone is two stops."""
    found = meter.key_to_fill(100.0 * ratio, 100.0)
    assert found == pytest.approx(ratio)
    assert np.log2(found) == pytest.approx(stops, abs=5e-4)


@pytest.mark.parametrize(
    ("key", "ratio", "stops"),
    [(1, 2, 1.000), (2, 3, 1.585), (3, 4, 2.000), (4, 5, 2.322), (7, 8, 3.000), (8, 9, 3.170)],
)
def test_lit_side_to_shadow_side(key, ratio, stops):
    """Fill reaches both sides: 3:1 of key makes 4:1 on the face."""
    assert meter.lighting_ratio(key * 250.0, 250.0) == pytest.approx(ratio)
    assert np.log2(meter.lighting_ratio(key * 250.0, 250.0)) == pytest.approx(stops, abs=5e-4)


def test_the_same_lamps_are_four_and_five_to_one():
    """800 and 200 fc are 4:1 in one book and 5:1 in another; 200 and 100 are 2:1 and 3:1."""
    assert (meter.key_to_fill(800, 200), meter.lighting_ratio(800, 200)) == (4, 5)
    assert (meter.key_to_fill(200, 100), meter.lighting_ratio(200, 100)) == (2, 3)


def test_interview():
    """Key 1000 lx, fill half of it: one stop between; T8.16 at ISO 800."""
    key = meter.incident_f_number(1000.0, exposure_index=800, shutter=1 / 48)
    fill = meter.incident_f_number(500.0, exposure_index=800, shutter=1 / 48)
    assert key == pytest.approx(8.16, abs=5e-3)
    # T8 and 0.06 of a stop.
    assert 2 * np.log2(key / 8) == pytest.approx(0.06, abs=5e-3)
    # f/16 against f/11: one stop.
    assert 2 * np.log2(key / fill) == pytest.approx(1.0, abs=1e-9)
