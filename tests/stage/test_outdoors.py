"""Sun, moon and sky of a scene: where they stand, how bright they are, which of them shines."""

import datetime

import numpy as np
import pytest

from previz.physics.moon import moon_illuminance, moon_position, phase_angle
from previz.physics.sky_level import STARLIGHT, clear_sun_illuminance, sky_illuminance
from previz.physics.solar import sun_position
from previz.scene.daylight import Daylight, Moon, Sun
from previz.scene.read import load
from previz.stage.outdoors import build_daylight, resolved, shining

# Reda and Andreas, NREL/TP-560-34302, table A5.1 (check value 4.11); the sun is 39.888° high without air.
GOLDEN = "2003-10-17 12:30:30 -07:00"
GOLDEN_PLACE = "latitude: 39.742476 deg, longitude: -105.1786 deg"
GOLDEN_ZENITH, GOLDEN_AZIMUTH = 50.111622, 194.340241

NIGHT = datetime.datetime(2026, 8, 28, 1, 0, tzinfo=datetime.UTC)
"""Hours before a full moon; the moon stands in the south-west of central Europe."""

PLACE = {"latitude": 51.5, "longitude": 7.1}
SPOT = {"latitude_deg": 51.5, "longitude_deg": 7.1}


@pytest.fixture
def daylight_of(tmp_path, monkeypatch):
    """Read the daylight of a scene's text."""
    monkeypatch.chdir(tmp_path)

    def read(text):
        (tmp_path / "scene.yaml").write_text(f"previz: 1\ndaylight: {{{text}}}\n", encoding="utf-8")
        return load("scene.yaml").scene().daylight

    return read


def test_the_sun_of_a_time_and_place(daylight_of):
    """A scene's sun stands where a published example has it, and shines from there."""
    daylight = daylight_of(f"sky: clear, time: {GOLDEN}, {GOLDEN_PLACE}, north: 20 deg")
    lamps, sun, sky = build_daylight(daylight, 3)
    assert [lamp.name for lamp in lamps] == ["sun", "sky"]
    altitude = 90 - GOLDEN_ZENITH
    assert np.degrees(np.arcsin(sun.towards[2])) == pytest.approx(altitude, abs=0.05)
    # True north is 20° clockwise of +y: seen on the plan the sun is 20° further round.
    bearing = np.degrees(np.arctan2(sun.towards[0], sun.towards[1])) % 360
    assert bearing == pytest.approx(GOLDEN_AZIMUTH + 20, abs=0.05)
    assert lamps[0].output == pytest.approx(clear_sun_illuminance(altitude), rel=0.002)
    assert lamps[1].output == pytest.approx(
        sky_illuminance("clear", altitude) + STARLIGHT, rel=0.002)
    # The clear sky is brightest towards the sun.
    row, column = np.unravel_index(np.argmax(sky.radiance), sky.radiance.shape)
    assert (column + 0.5) * 2 == pytest.approx((90 - bearing) % 360, abs=2)
    assert (sun.lamp, sky.lamp) == (3, 4)


def test_a_time_is_the_same_as_its_altitude_and_azimuth(daylight_of):
    """Written in either form the stage is the same, light for light."""
    moment = datetime.datetime.fromisoformat("2026-10-14T15:30:00+02:00")
    altitude, azimuth = sun_position(moment, **SPOT)
    one = daylight_of("sky: clear, illuminance: 9 klx, time: 2026-10-14 15:30 +02:00, "
                      "latitude: 51.5 deg, longitude: 7.1 deg")
    other = daylight_of(f"sky: clear, illuminance: 9 klx, sun: {{azimuth: {azimuth} deg, "
                        f"altitude: {altitude} deg}}")
    (a, sun_a, sky_a), (b, sun_b, sky_b) = (build_daylight(each, 0) for each in (one, other))
    for left, right in zip(a, b, strict=True):
        assert left.output == pytest.approx(right.output, rel=1e-9)
        np.testing.assert_allclose(left.spectrum, right.spectrum)
    np.testing.assert_allclose(sun_a.towards, sun_b.towards)
    np.testing.assert_allclose(sky_a.radiance, sky_b.radiance)


def test_a_named_zone_knows_summer_time(daylight_of):
    """Half past five in Paris is 17:30 +02:00 in July and 17:30 +01:00 in January."""
    for month, hours in (("07", 2), ("01", 1)):
        named = daylight_of(f"sky: clear, time: 2026-{month}-14 17:30 Europe/Paris, "
                            "latitude: 48.9 deg, longitude: 2.3 deg")
        assert named.time.utcoffset() == datetime.timedelta(hours=hours)


def test_clouds_hide_the_sun_of_a_time(daylight_of):
    """Under an overcast sky a time gives the level and no sun, unless one is written."""
    where = f"time: {GOLDEN}, {GOLDEN_PLACE}"
    hidden = build_daylight(daylight_of(f"sky: overcast, {where}"), 0)[0]
    assert [lamp.name for lamp in hidden] == ["sky"]
    assert hidden[0].output == pytest.approx(13_700, rel=0.02)  # 300 + 21 000 sin 39.9°
    shown = build_daylight(daylight_of(f"sky: overcast, sun: {{}}, {where}"), 0)[0]
    assert [lamp.name for lamp in shown] == ["sun", "sky"]


def test_a_sun_that_is_down_gives_no_light():
    """After sunset there is no disc, and the sky is that of twilight."""
    dusk = datetime.datetime(2026, 10, 14, 17, 10, tzinfo=datetime.UTC)
    altitude, _ = sun_position(dusk, **SPOT)
    assert -6 < altitude < -2
    daylight = Daylight(sky="clear", time=dusk, sun=Sun(), **PLACE)
    lamps, sun, _ = build_daylight(daylight, 0)
    assert sun is None
    assert [lamp.name for lamp in lamps] == ["sky"]
    assert lamps[0].output == pytest.approx(sky_illuminance("clear", altitude) + STARLIGHT)
    assert lamps[0].output < 200


def test_the_moon_of_a_night():
    """The moon stands where the formulae put it, with its phase; the sky is lit by it."""
    daylight = Daylight(sky="clear", time=NIGHT, sun=Sun(), moon=Moon(), **PLACE)
    lamps, disc, _ = build_daylight(daylight, 0)
    place = moon_position(NIGHT, **SPOT)
    assert place.altitude_deg > 15
    assert [lamp.name for lamp in lamps] == ["moon", "sky"]
    assert disc.angle_deg == pytest.approx(0.518)
    assert np.degrees(np.arcsin(disc.towards[2])) == pytest.approx(place.altitude_deg, abs=1e-6)
    assert lamps[0].output == pytest.approx(moon_illuminance(
        place.altitude_deg, place.phase_angle_deg, place.parallax_deg))
    assert 0.05 < lamps[0].output < 0.35
    # A moonlit sky gives a tenth to a third of what the moon gives.
    assert 0.05 < lamps[1].output / lamps[0].output < 0.4


def test_moon_by_direction_and_phase():
    """A half moon gives about an eleventh of a full one; its own level and colour are kept."""
    levels = {}
    for phase in (1.0, 0.5):
        moon = Moon(azimuth=150.0, altitude=40.0, phase=phase)
        lamps, _, _ = build_daylight(Daylight(moon=moon), 0)
        levels[phase] = lamps[0].output
    assert levels[0.5] == pytest.approx(moon_illuminance(40, phase_angle(0.5)))
    assert 8 < levels[1.0] / levels[0.5] < 14
    own = Moon(azimuth=150.0, altitude=40.0, illuminance=0.3, cct=5000.0)
    lamp = build_daylight(Daylight(moon=own), 0)[0][0]
    assert lamp.output == 0.3


def test_by_day_the_moon_is_drowned():
    """With the sun up only the sun is a disc, whatever the moon."""
    noon = NIGHT.replace(hour=11)
    daylight = resolved(Daylight(sky="clear", time=noon, sun=Sun(), moon=Moon(), **PLACE))
    assert shining(daylight)[0] == "sun"
    assert daylight.moon.illuminance == 0


def test_nothing_left_to_follow():
    """A resolved daylight is numbers only, and resolving it again changes nothing."""
    daylight = resolved(Daylight(sky="clear", time=NIGHT, sun=Sun(), moon=Moon(), **PLACE))
    assert daylight.time is None
    assert daylight.sun.illuminance == 0
    assert daylight.moon.phase == pytest.approx(1, abs=0.01)
    assert resolved(daylight) == daylight
    assert resolved(None) is None
