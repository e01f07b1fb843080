"""A lamp's record and the weights of its transport."""

import numpy as np
import pytest

from previz.physics.gel import named_gel
from previz.physics.lamps import spectrum_of
from previz.physics.light import LampLight, lamp_band_xyz, lamps_band_xyz

ONES = np.ones(81)


def lamp(**changes):
    """A 500 lm tungsten lamp."""
    given = {
        "name": "key",
        "unit": "lm",
        "output": 500.0,
        "spectrum": spectrum_of("tungsten", 3200),
    }
    return LampLight(**{"gel": ONES, **given, **changes})


def test_bands_carry_the_lamps_lumens():
    """Y over all bands is output times level."""
    assert lamp_band_xyz(lamp()).shape == (12, 3)
    assert lamp_band_xyz(lamp())[:, 1].sum() == pytest.approx(500)
    assert lamp_band_xyz(lamp(level=0.25), 16)[:, 1].sum() == pytest.approx(125)
    assert lamp_band_xyz(lamp(unit="lx", output=6000.0))[:, 1].sum() == pytest.approx(6000)


def test_a_gel_filters_before_the_bands():
    """The gel's transmission works at 5 nm: half is half in each band, a colour changes white."""
    assert lamp_band_xyz(lamp(gel=0.5 * ONES)) == pytest.approx(lamp_band_xyz(lamp()) / 2)
    cooled = lamp_band_xyz(lamp(gel=named_gel("full ctb"))).sum(axis=0)
    # Full blue passes 2^-1.5 of tungsten (nominal) and turns it to 5600 K: Z over Y from 0.44 to 1.
    assert cooled[1] == pytest.approx(500 * 2**-1.5, rel=1e-4)
    assert cooled[2] / cooled[1] == pytest.approx((1 - 0.3302 - 0.3391) / 0.3391, rel=2e-3)


def test_a_lamp_that_is_off_gives_nothing():
    """Off is black, with the same shape."""
    assert np.array_equal(lamp_band_xyz(lamp(on=False), 8), np.zeros((8, 3)))


def test_lamps_together():
    """A row a lamp, and none where there are none."""
    both = lamps_band_xyz([lamp(), lamp(level=0.5)], 8)
    assert np.array_equal(both, [lamp_band_xyz(lamp(), 8), lamp_band_xyz(lamp(level=0.5), 8)])
    assert lamps_band_xyz([], 8).shape == (0, 8, 3)


@pytest.mark.parametrize(
    ("change", "message"),
    [({"unit": "cd"}, "unit of 'key' must be one of"), ({"output": -1.0}, "output of 'key'"),
     ({"level": np.nan}, "level of 'key'"), ({"gel": -ONES}, "gel of 'key' must be finite"),
     ({"spectrum": np.ones(80)}, r"spectrum of 'key' must have 81 samples, got shape \(80,\)")],
)  # fmt: skip
def test_bad_lamps_are_refused(change, message):
    """The message names the lamp and the field."""
    with pytest.raises(ValueError, match=message):
        lamp(**change)
