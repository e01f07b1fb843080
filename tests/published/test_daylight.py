"""Sky and sun.

Sources: CIE S 011 / ISO 15469 (the fifteen skies as tabulated in the development version of
colour-science, read for this test); Krochmann and Seidl and the sun
formula as used in an open sky generator; 'Orders of magnitude (illuminance)'; Reda and
Andreas, NREL/TP-560-34302, table A5.1.
"""

from datetime import UTC, datetime, timedelta, timezone

import numpy as np
import pytest
from scipy.integrate import dblquad, quad

from previz.physics import daylight
from previz.physics.solar import (
    days_since_2000,
    equatorial,
    julian_day,
    refracted,
    sun_longitude,
    sun_position,
)
from tests.oracles.light import SUN_SOLID_ANGLE, overcast_illuminance


def test_overcast_illuminances():
    """E = 7 pi Lz / 9 = 2.443461 Lz; the horizon has a third of the zenith."""
    horizontal = quad(
        lambda z: 2 * np.pi * daylight.overcast_luminance(90 - np.degrees(z))
        * np.cos(z) * np.sin(z), 0, np.pi / 2,
    )[0]  # fmt: skip
    assert horizontal == pytest.approx(2.443461, abs=1e-6)
    assert daylight.overcast_luminance(0.0) == pytest.approx(1 / 3)
    assert daylight.overcast_luminance(90.0) == pytest.approx(1)
    # A wall sees half the dome: E_v / E_h = 0.396177 without ground.
    upright = dblquad(
        lambda a, z: daylight.overcast_luminance(90 - np.degrees(z)) * np.sin(z) ** 2 * np.cos(a),
        0, np.pi / 2, -np.pi / 2, np.pi / 2,
    )[0]  # fmt: skip
    assert upright / horizontal == pytest.approx(0.396177, abs=1e-6)
    assert 10_000 / horizontal == pytest.approx(4092.6, abs=0.05)


@pytest.mark.parametrize(("altitude", "lux"), [(10, 3950), (30, 10807), (45, 15160), (60, 18499)])
def test_typical_overcast(altitude, lux):
    """Lz = 8.6 sin h + 0.123 kcd/m²: 4 to 18 klx."""
    assert overcast_illuminance(altitude) == pytest.approx(lux, abs=1)


def clear(zenith_deg, from_sun_deg, sun_zenith_deg):
    """The clear sky written out as Kittler's own form."""
    z, s = np.radians(zenith_deg), np.radians(sun_zenith_deg)
    chi = np.arccos(
        np.cos(z) * np.cos(s) + np.sin(z) * np.sin(s) * np.cos(np.radians(from_sun_deg))
    )

    def f(x):
        return 0.91 + 10 * np.exp(-3 * x) + 0.45 * np.cos(x) ** 2

    return f(chi) * (1 - np.exp(-0.32 / np.cos(z))) / (f(s) * 0.27385)


def test_clear_sky_with_the_sun_at_45_degrees():
    """E / Lz = 4.8485, the generator's own polynomial 4.8477; a point opposite has 0.6381."""
    found = dblquad(
        lambda a, z: daylight.general_sky_luminance(12, np.degrees(z), np.degrees(a), 45.0)
        * np.cos(z) * np.sin(z), 0, np.pi / 2, 0, 2 * np.pi, epsrel=1e-6,
    )[0]  # fmt: skip
    # Type 12's constant 10 exp(-3 pi/2) = 0.0898 against 0.09 of the older form: 1e-4.
    assert found == pytest.approx(4.8485, rel=3e-4)
    assert found == pytest.approx(4.8477, rel=5e-4)
    opposite = daylight.general_sky_luminance(12, 45.0, 180.0, 45.0)
    assert opposite == pytest.approx(0.6381, abs=2e-4)


def test_type_12_is_kittlers_clear_sky():
    """General sky 12 and the older clear sky agree all over the dome."""
    for point in ((10, 20, 60), (70, 150, 30), (85, 5, 50)):
        found = daylight.general_sky_luminance(12, *point)
        # 0.0898 against 0.09, where the indicatrix is about 1.
        assert found == pytest.approx(clear(*point), rel=5e-4)


# Groups of gradation (a, b) and indicatrix (c, d, e), and which of them each type pairs.
GRADATIONS = ((4.0, -0.70), (1.1, -0.80), (0, -1.0), (-1.0, -0.55), (-1.0, -0.32), (-1.0, -0.15))
INDICATRICES = (
    (0, -1.0, 0), (2, -1.5, 0.15), (5, -2.5, 0.30), (10, -3.0, 0.45), (16, -3.0, 0.30),
    (24, -2.8, 0.15),
)  # fmt: skip
PAIRS = ["11", "12", "21", "22", "31", "32", "33", "34", "42", "43", "44", "54", "55", "65", "66"]


def test_general_sky_parameters():
    """Fifteen types, each a gradation with an indicatrix."""
    expected = {
        number: GRADATIONS[int(pair[0]) - 1] + INDICATRICES[int(pair[1]) - 1]
        for number, pair in enumerate(PAIRS, start=1)
    }
    assert expected == daylight.GENERAL_SKIES


@pytest.mark.parametrize(("sky_type", "relative"), [(1, 0.8325846), (12, 0.4544524)])
def test_general_sky_worked_examples(sky_type, relative):
    """A point 45 degrees down, opposite a sun 30 degrees from the zenith."""
    # Examples of the same public source, 7 digits.
    found = daylight.general_sky_luminance(sky_type, 45.0, 180.0, 30.0)
    assert found == pytest.approx(relative, abs=1e-7)


def test_zenith_is_the_unit_of_every_sky():
    """Relative luminance of the zenith is 1 by definition, whatever the type and the sun."""
    for sky_type in daylight.GENERAL_SKIES:
        assert daylight.general_sky_luminance(sky_type, 0.0, 77.0, 35.0) == pytest.approx(1.0)


@pytest.mark.parametrize("sky", ["overcast", "intermediate", "clear"])
def test_dome_gives_one_lux(sky):
    """Cells times their projected solid angle make 1 lx on open level ground."""
    cells, round_cells = 60, 90
    dome = daylight.sky_dome(
        sky, zenith_cells=cells, azimuth_cells=round_cells, sun_altitude_deg=40, sun_azimuth_deg=100
    )
    z = np.radians((np.arange(cells) + 0.5) * 90 / cells)
    weight = np.cos(z) * np.sin(z) * np.radians(90 / cells) * np.radians(360 / round_cells)
    # Midpoint rule against the exact cells: 1e-4.
    assert np.sum(dome * weight[:, None]) == pytest.approx(1.0, abs=3e-4)
    assert dome.min() > 0


def test_dome_is_brightest_towards_the_sun():
    """The bright cell lies at the sun's azimuth, counter-clockwise from +x, and altitude."""
    dome = daylight.sky_dome("clear", sun_altitude_deg=35.0, sun_azimuth_deg=120.0)
    row, column = np.unravel_index(np.argmax(dome), dome.shape)
    assert (row + 0.5) * 2 == pytest.approx(90 - 35, abs=2.1)
    assert (column + 0.5) * 2 == pytest.approx(120, abs=2.1)
    overcast = daylight.sky_dome("overcast")
    # 10 000 lx of it have a zenith of 4092.6 cd/m²; cells of 2 degrees miss the very top by 1e-4.
    assert 10_000 * overcast[0, 0] == pytest.approx(4092.6, rel=1e-3)
    assert np.ptp(overcast[20]) == 0


def test_sun_disc():
    """0.533 degrees is 6.797e-5 sr; 0.5 degrees would be 5.981e-5."""
    assert pytest.approx(6.797e-5, rel=1e-4) == SUN_SOLID_ANGLE
    assert pytest.approx(1.6e9, rel=0.01) == 1.09e5 / SUN_SOLID_ANGLE


@pytest.mark.parametrize(
    ("altitude", "kilolux"),
    [(10, 27.0), (20, 64.5), (30, 76.8), (45, 84.5), (60, 88.0), (90, 90.0)],
)
def test_clear_sun(altitude, kilolux):
    """The generator's sun on a surface facing it."""
    # Printed to 0.1 klx.
    assert daylight.sun_illuminance(altitude) / 1000 == pytest.approx(kilolux, abs=0.06)


def test_sun_and_sky_lie_in_the_measured_range():
    """Sun with sky reaches 85 to 120 klx at midsummer noon; nothing shines below the horizon."""
    # 'Orders of magnitude (illuminance)': 85 500-113 600 measured in July, sky alone 19-29 klx.
    level = daylight.sun_illuminance(60.0) * np.sin(np.radians(60)) + 24_000
    assert 85_500 < level < 120_000
    assert daylight.sun_illuminance(-3.0) == 0


def test_sun_position_of_the_reference_case():
    """2003-10-17 12:30:30 UTC-7 in Colorado: zenith 50.1116, azimuth 194.3402 degrees."""
    # NREL/TP-560-34302, table A5.1; compact formula, 0.05 degrees.
    moment = datetime(2003, 10, 17, 12, 30, 30, tzinfo=timezone(timedelta(hours=-7)))
    altitude, azimuth = sun_position(moment, latitude_deg=39.742476, longitude_deg=-105.1786)
    assert 90 - altitude == pytest.approx(50.111622, abs=0.05)
    assert azimuth == pytest.approx(194.340241, abs=0.05)
    # The same report: Julian day 2452930.312847.
    assert julian_day(moment) == pytest.approx(2452930.312847, abs=1e-6)


def test_the_suns_place_among_the_stars():
    """The reference case: apparent longitude, right ascension and declination, as good as the short form."""
    # NREL/TP-560-34302, table A5.1 (these three from memory); Meeus: the short form is good to 0.01 degrees.
    days = days_since_2000(datetime(2003, 10, 17, 12, 30, 30, tzinfo=timezone(timedelta(hours=-7))))
    longitude = sun_longitude(days)
    right_ascension, declination = equatorial(longitude, 0.0, days)
    assert np.degrees(longitude) % 360 == pytest.approx(204.00855, abs=0.006)
    assert np.degrees(right_ascension) % 360 == pytest.approx(202.22741, abs=0.006)
    assert np.degrees(declination) == pytest.approx(-9.31434, abs=0.003)


def test_the_lift_of_the_air():
    """Saemundsson's form in minutes of arc; nothing at the zenith, and no place for what is far down."""
    # 1.02 / tan(h + 10.3 / (h + 5.11)): 28.98 at 0, 5.41 at 10, 1.01 at 45 degrees.
    for altitude, minutes in ((0, 28.982), (10, 5.408), (45, 1.013), (90, 0.0)):
        assert 60 * refracted(altitude) == pytest.approx(minutes, abs=0.002)
    assert refracted(-1.5) == pytest.approx(refracted(-1) / 2)
    assert refracted(-2) == refracted(-5) == 0.0


def test_sun_over_the_year():
    """Noon altitude is 90 - latitude + declination, 23.44 at solstice; it rises in the east."""
    # Astronomy: obliquity 23.44 degrees (Meeus, chapter 22).
    utc = UTC
    june, _ = sun_position(
        datetime(2026, 6, 21, 12, 2, tzinfo=utc), latitude_deg=50, longitude_deg=0, refraction=False
    )
    december, south = sun_position(
        datetime(2026, 12, 21, 11, 58, tzinfo=utc),
        latitude_deg=50, longitude_deg=0, refraction=False,
    )  # fmt: skip
    assert june == pytest.approx(90 - 50 + 23.44, abs=0.05)
    assert december == pytest.approx(90 - 50 - 23.44, abs=0.05)
    assert south == pytest.approx(180, abs=1)
    rise = sun_position(datetime(2026, 3, 20, 6, 10, tzinfo=utc), latitude_deg=0, longitude_deg=0)
    assert abs(rise[0]) < 3
    assert rise[1] == pytest.approx(90, abs=1)


def test_refraction_lifts_the_setting_sun_by_half_a_degree():
    """At the horizon the air lifts the sun by about 0.48 degrees (34 minutes at 0 apparent)."""
    moment = datetime(2026, 3, 20, 18, 6, tzinfo=UTC)
    place = {"latitude_deg": 0, "longitude_deg": 0}
    true, _ = sun_position(moment, refraction=False, **place)
    seen, _ = sun_position(moment, **place)
    assert abs(true) < 1
    # Saemundsson: 29 minutes at true 0, 34 at true -0.57 degrees.
    assert 0.3 < seen - true < 0.75


def test_air_mass():
    """Kasten and Young: 38 air masses at the horizon, 1 overhead, 2 at 30 degrees."""
    assert daylight.air_mass(np.array([0.0, 30.0, 90.0])) == pytest.approx([38, 2, 1], rel=0.01)
