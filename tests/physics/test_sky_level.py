"""How much light sky and sun give by the sun's altitude."""

import numpy as np
import pytest

from previz.physics.daylight import sun_illuminance
from previz.physics.sky_level import (
    clear_sun_illuminance,
    sky_illuminance,
    twilight_illuminance,
)
from tests.oracles.light import overcast_illuminance


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
    """Krochmann and Seidl's zenith (check value 4.6) gives the same ground to 2 %."""
    for altitude in (10, 30, 60):
        assert sky_illuminance("overcast", altitude) == pytest.approx(
            float(overcast_illuminance(altitude)), rel=0.02)


# Seidelmann (ed.), Explanatory Supplement to the Astronomical Almanac, 1992, section 9.3, worked out
# from its polynomials as two public programs quote them: log10 lx to 0.02 where the sun is higher
# than 5° down, to 0.01 below.
SUPPLEMENT = ((-0.8, 463.8), (-3, 79.07), (-6, 3.412), (-9, 0.1164), (-15, 0.002023))

# American Meteorological Society, Glossary of Meteorology, entries on civil, nautical and
# astronomical twilight: light of level ground on a clear evening.
GLOSSARY = ((-6, 2.0, 3.5), (-12, 0.008 / 1.05, 0.008 * 1.05), (-18, 6e-4 / 1.1, 6e-4 * 1.1))


@pytest.mark.parametrize(("altitude", "lux"), SUPPLEMENT)
def test_twilight_follows_the_published_curve(altitude, lux):
    """A clear evening has the supplement's light from sunset to the end of twilight."""
    assert twilight_illuminance(altitude) == pytest.approx(lux, rel=1e-3)
    assert sky_illuminance("clear", altitude) == pytest.approx(lux, rel=1e-3)


@pytest.mark.parametrize(("altitude", "low", "high"), GLOSSARY)
def test_twilight_is_that_of_a_glossary(altitude, low, high):
    """Another source has the same light at the ends of the three twilights."""
    assert low <= sky_illuminance("clear", altitude) <= high


@pytest.mark.parametrize("sky", ["clear", "intermediate", "overcast"])
def test_dusk_runs_on_without_a_step(sky):
    """From day to night the light only falls, and by no more in a hundredth of a degree than the
    steepest part of the curve, 0.53 decades a degree.
    """
    altitudes = np.arange(0.0, -24.0, -0.01)
    levels = np.array([sky_illuminance(sky, h) for h in altitudes])
    falls = -np.diff(np.log10(levels))
    assert np.all(falls > 0)
    assert falls.max() < 0.0054
    day = sky_illuminance(sky, 1e-9)
    assert sky_illuminance(sky, 0.0) == pytest.approx(day, rel=1e-3)


def test_clouds_take_in_twilight_what_they_take_at_sunset():
    """An overcast evening stays as many stops under a clear one as it was at sunset."""
    share = sky_illuminance("overcast", 0) / sky_illuminance("clear", 0)
    for altitude in (-2, -6, -12):
        assert sky_illuminance("overcast", altitude) == pytest.approx(
            share * sky_illuminance("clear", altitude))


def test_what_has_no_level():
    """An unknown sky, and a twilight with the sun up."""
    with pytest.raises(ValueError, match="overcast"):
        sky_illuminance("stormy", 10)
    with pytest.raises(ValueError, match="0 deg or below"):
        twilight_illuminance(1.0)


def test_the_sun_goes_on_to_the_horizon():
    """As the sky generator above 10°, still some light at 3°, and continuous between."""
    for altitude in (10, 30, 60):
        assert clear_sun_illuminance(altitude) == float(sun_illuminance(altitude))
    levels = [clear_sun_illuminance(h) for h in (0, 0.5, 1, 3, 5, 9.99, 10, 12)]
    assert levels == sorted(levels)
    assert levels[0] == 0
    assert levels[3] > 1000
    assert levels[5] == pytest.approx(levels[6], rel=2e-3)
