"""How much light sky and sun give by the sun's altitude."""

import numpy as np
import pytest

from previz.physics.daylight import overcast_illuminance, sun_illuminance
from previz.physics.sky_level import clear_sun_illuminance, sky_illuminance


def half_skies(sky, altitude):
    """Light of the half of the sky towards the sun and of the other half, on level ground. [lx]

    IES recommended practice for the calculation of daylight availability, 1984, as read in a
    public program that quotes it.
    """
    sine, cosine = np.sin(np.radians(altitude)), np.cos(np.radians(altitude))
    if sky == "clear":
        return [1e3 * (8.2 * sine**0.5 + side * 6.9 * sine * cosine) for side in (1, -1)]
    if sky == "intermediate":
        return [1e3 * (22.7 * sine + side * 14.1 * sine**1.3 * cosine) for side in (1, -1)]
    return [1e3 * 10.7 * sine] * 2


@pytest.mark.parametrize("sky", ["clear", "intermediate", "overcast"])
@pytest.mark.parametrize("altitude", [20, 40, 60, 85])
def test_whole_sky_is_both_its_halves(sky, altitude):
    """Two forms of the same recommended practice agree to 5 %."""
    assert sky_illuminance(sky, altitude) == pytest.approx(sum(half_skies(sky, altitude)),
                                                           rel=0.05)


def test_overcast_agrees_with_another_formula():
    """Krochmann and Seidl's zenith (facts 4.6) gives the same ground to 2 %."""
    for altitude in (10, 30, 60):
        assert sky_illuminance("overcast", altitude) == pytest.approx(
            float(overcast_illuminance(altitude)), rel=0.02)


def test_twilight():
    """Hundreds of lux at sunset, a few at the end of civil twilight, 6° down (facts 4.10: 400 lx
    at sunset; 3.4 lx from memory; factor 3).
    """
    assert 400 / 3 < sky_illuminance("clear", 0) < 400 * 3
    assert 3.4 / 3 < sky_illuminance("clear", -6) < 3.4 * 3
    with pytest.raises(ValueError, match="overcast"):
        sky_illuminance("stormy", 10)


def test_the_sun_goes_on_to_the_horizon():
    """As the sky generator above 10°, still some light at 3°, and continuous between."""
    for altitude in (10, 30, 60):
        assert clear_sun_illuminance(altitude) == float(sun_illuminance(altitude))
    levels = [clear_sun_illuminance(h) for h in (0, 0.5, 1, 3, 5, 9.99, 10, 12)]
    assert levels == sorted(levels)
    assert levels[0] == 0
    assert levels[3] > 1000
    assert levels[5] == pytest.approx(levels[6], rel=2e-3)
