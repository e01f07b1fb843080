"""Levels and colours that are customary, by no published table: common practice, no source."""

import numpy as np
import pytest

from previz.physics import daylight
from previz.physics.colour_report import colour_rendering_index
from previz.physics.colourtemp import cct_duv, xy_of
from previz.physics.lamps import illuminant, led_white
from previz.physics.skin import HAIR_COLOURS, hair_reflectance, luminance_reflectance


def test_hair_from_black_to_white():
    """Hair runs from about 2 % to about 60 %, red hair is redder than brown."""
    # Common practice, no source: order and rough levels only.
    light = illuminant("D65")
    level = {c: luminance_reflectance(hair_reflectance(c), light) for c in HAIR_COLOURS}
    assert level["black"] < level["brown"] < level["fair"] < level["white"]
    assert 0.01 < level["black"] < 0.04
    assert 0.5 < level["white"] < 0.65
    red, brown = hair_reflectance("red"), hair_reflectance("brown")
    assert red[60] / red[20] > brown[60] / brown[20]


def test_low_sun_is_warm():
    """Through more air the sun turns from about 5200 K overhead to below 3500 K at 5 degrees."""
    # Common practice: midday sun 4800 to 5500 K, an hour before sunset about 3500 K.
    cct = [cct_duv(xy_of(daylight.sun_spectrum(h)))[0] for h in (5, 10, 20, 40, 70)]
    assert np.all(np.diff(cct) > 0)
    assert cct[0] < 3500
    assert 4800 < cct[-1] < 5500
    # More haze, redder.
    assert cct_duv(xy_of(daylight.sun_spectrum(20, turbidity=0.3)))[0] < cct[2]


@pytest.mark.parametrize("kelvin", [2700, 3200, 4300, 5600, 6500])
def test_a_white_led_renders_like_a_set_lamp(kelvin):
    """The LED model has Ra over 94, as lamps made for sets claim, and below a black body's 100."""
    # Common practice, no source: 'Ra 95'; the model's own peaks were chosen for it.
    assert 94 < colour_rendering_index(led_white(kelvin)) < 99.5


@pytest.mark.parametrize(("kelvin", "duv"), [(2700, 0.02), (2900, 0.02), (3200, 0.015), (6500, -0.01)])
def test_a_tinted_led_is_light_of_its_colour(kelvin, duv):
    """Also where blue would have to be taken away: the colour that is asked for, and no light below none."""
    spectrum = led_white(kelvin, duv)
    assert spectrum.min() >= 0
    assert cct_duv(xy_of(spectrum)) == (pytest.approx(kelvin, rel=2e-3), pytest.approx(duv, abs=5e-4))
