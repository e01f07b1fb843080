"""The moon against a worked example, a general-purpose library and a published circular."""

import datetime

import numpy as np
import pytest

from previz.physics import moon
from previz.physics.colourtemp import cct_duv, xy_of
from previz.physics.daylight import sun_spectrum
from previz.physics.solar import days_since_2000, equatorial, horizontal, refracted

UTC = datetime.UTC

# Right ascension and declination [deg] and distance [km] of the moon seen from the earth's middle:
# moon98 turned by pnm06a of the open library ERFA (pyerfa 2.0.1.5, run for this test), true
# equator of date, hours UTC with TT - UTC = 69.2 s.
LIBRARY = {
    (1992, 4, 12, 0): (134.6997, 13.7644, 368409),
    (2026, 1, 3, 10): (104.5932, 27.0662, 362307),
    (2026, 8, 28, 4): (336.4212, -9.3528, 390444),
    (2025, 6, 11, 8): (259.5853, -28.0972, 399711),
    (2026, 11, 25, 20): (79.4713, 27.5857, 359348),
    (2030, 3, 19, 18): (177.3045, -4.2256, 366432),
}


@pytest.mark.parametrize("when", LIBRARY)
def test_the_moon_is_where_a_library_has_it(when):
    """Within the formulae's own 0.3° in longitude (0.35° on the equator's grid) and 0.3 %."""
    days = days_since_2000(datetime.datetime(*when, tzinfo=UTC))
    longitude, latitude, parallax = moon.moon_ecliptic(days)
    found = np.degrees(equatorial(np.radians(longitude), np.radians(latitude), days))
    ascension, declination, distance = LIBRARY[when]
    assert found[0] % 360 == pytest.approx(ascension, abs=0.35)
    assert found[1] == pytest.approx(declination, abs=0.25)
    assert moon.EARTH_KM / np.sin(np.radians(parallax)) == pytest.approx(distance, rel=0.004)


def test_a_worked_example():
    """Meeus, Astronomical Algorithms, examples 47.a and 48.a (read as quoted in a public package's
    documentation and from memory): 12 April 1992, 0 h TD.
    """
    moment = datetime.datetime(1992, 4, 12, tzinfo=UTC)
    longitude, latitude, parallax = moon.moon_ecliptic(days_since_2000(moment))
    assert longitude == pytest.approx(133.1627, abs=0.3)
    assert latitude == pytest.approx(-3.2291, abs=0.2)
    assert parallax == pytest.approx(0.99199, abs=0.003)
    place = moon.moon_position(moment, latitude_deg=50.0, longitude_deg=8.0)
    assert place.phase_angle_deg == pytest.approx(69.0756, abs=0.35)


def test_full_and_new_moon():
    """At the full moon of 3 January 2026 and the new moon of 12 August 2026 (the solar eclipse)."""
    full = moon.moon_position(datetime.datetime(2026, 1, 3, 10, 3, tzinfo=UTC), latitude_deg=0,
                              longitude_deg=0)
    new = moon.moon_position(datetime.datetime(2026, 8, 12, 17, 37, tzinfo=UTC), latitude_deg=0,
                             longitude_deg=0)
    # The moon may pass 5° next to the shadow; at an eclipse it passes right through.
    assert full.phase_angle_deg < 5.5
    assert new.phase_angle_deg > 178


def test_the_ground_sees_it_lower_than_the_middle_of_the_earth():
    """By plane geometry: up by d sin h - R and away by d cos h, plus what the air lifts."""
    moment = datetime.datetime(2026, 8, 28, 4, tzinfo=UTC)
    days = days_since_2000(moment)
    longitude, latitude, parallax = moon.moon_ecliptic(days)
    seen = equatorial(np.radians(longitude), np.radians(latitude), days)
    checked = 0
    for east in range(-170, 180, 20):
        spot = {"latitude_deg": 48.0, "longitude_deg": float(east)}
        high = np.radians(horizontal(*seen, days, **spot)[0])
        if high < np.radians(5):
            continue
        away = moon.EARTH_KM / np.sin(np.radians(parallax))
        lower = np.degrees(np.arctan2(away * np.sin(high) - moon.EARTH_KM, away * np.cos(high)))
        found = moon.moon_position(moment, **spot).altitude_deg
        assert found == pytest.approx(lower + refracted(float(lower)), abs=0.02)
        checked += 1
    assert checked >= 4


# US Naval Observatory Circular 171, Janiczek and DeYoung 1987, as read in an open program: log10
# of the illuminance of level ground by the moon and the sky it lights, X = altitude / 90°.
def circular_171(altitude):
    x = altitude / 90
    return 10 ** (-1.95 + 4.06 * x - 4.24 * x**2 + 1.56 * x**3)


@pytest.mark.parametrize("altitude", [25, 35, 45, 60, 75, 90])
def test_full_moon_on_level_ground(altitude):
    """Within 10 % of the circular, whose figure has the moonlit sky's share in it."""
    level = moon.moon_illuminance(altitude) * np.sin(np.radians(altitude))
    assert level == pytest.approx(circular_171(altitude), rel=0.10)


def test_usual_figures():
    """Full moon 0.25 lx (0.05 to 0.3) and half moon about an eleventh of it (check value 4.10: 0.25 lx;
    half moon -10.0 mag against -12.73, an astronomical handbook, from memory).
    """
    full = moon.moon_illuminance(90)
    assert 0.2 < full < 0.3
    assert full / moon.moon_illuminance(90, 90) == pytest.approx(10 ** (0.4 * 2.73), rel=0.15)
    assert moon.moon_illuminance(-1) == 0
    near = moon.moon_illuminance(45, 0, 0.99) / moon.moon_illuminance(45, 0, 0.95)
    assert near == pytest.approx((0.99 / 0.95) ** 2)


def test_moonlight_is_warmer_than_sunlight():
    """A high moon is some 4100 K (from memory), and always below the sun at the same height."""
    for altitude in (10, 30, 60, 90):
        found = cct_duv(xy_of(moon.moon_spectrum(altitude)))[0]
        assert found < cct_duv(xy_of(sun_spectrum(altitude)))[0]
    assert cct_duv(xy_of(moon.moon_spectrum(70)))[0] == pytest.approx(4100, abs=200)


def test_phase():
    """A half disc is 90° of phase angle, a full one 0°; other shares are refused."""
    assert moon.phase_angle(1.0) == pytest.approx(0)
    assert moon.phase_angle(0.5) == pytest.approx(90)
    assert moon.phase_angle(0.0) == pytest.approx(180)
    with pytest.raises(ValueError, match="0 to 1"):
        moon.phase_angle(1.2)
