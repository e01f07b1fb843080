"""The sun over a day, and the lamp that stands in for it."""

from dataclasses import replace

import numpy as np
import pytest

from previz.exposure.comparing.day import (
    Hour,
    helping,
    outside_lamp,
    summary,
)
from previz.exposure.comparing.measures import ShotMeasures
from previz.physics.exposure import CameraSettings
from previz.physics.sky_level import clear_sun_illuminance

MEASURES = ShotMeasures("", "A", CameraSettings(stop=5.6, iso=800, shutter_s=1 / 48))


def hour(label, sun, sky=100.0, **more):
    clock, minute = (int(part) for part in label.split(":"))
    return Hour(label, clock + minute / 60, 20.0, 180.0, MEASURES, np.zeros((2, 2, 3), np.uint8), sun,
                sky, 0.0, **more)


@pytest.mark.parametrize(("altitude", "klx"), [(10, 27.0), (30, 76.8), (60, 88.0)])
def test_the_clear_sun_is_the_tables(altitude, klx):
    """Normal illuminance of the sun at 10, 30 and 60° (check value 4.9, an open sky generator's formula)."""
    assert clear_sun_illuminance(altitude) == pytest.approx(1e3 * klx, rel=0.01)


def test_a_low_sun_fades_without_a_step_and_a_set_sun_is_dark():
    """Below 10° it is carried on by the air mass, falls all the way, and ends at the horizon."""
    values = [clear_sun_illuminance(h) for h in np.arange(0.0, 12.1, 0.5)]
    assert np.all(np.diff(values) > 0)
    assert clear_sun_illuminance(9.999) == pytest.approx(clear_sun_illuminance(10.0), rel=1e-3)
    assert clear_sun_illuminance(0.0) == 0.0 and clear_sun_illuminance(-5) == 0.0
    # A sun on the horizon is hundreds of times weaker than one at noon, and not brighter than the
    # 27 klx of 10°.
    assert 50 < clear_sun_illuminance(1.0) < 5000


def test_the_lamp_for_the_sun_follows_the_inverse_square():
    """60 klx from 8 m is 3.84 Mcd; 4 m seen from 8 m is 2 atan(1/4) = 28.07° wide."""
    lamp = outside_lamp("great door", 60e3, 8.0, 4.0)
    assert lamp.intensity == pytest.approx(3.84e6)
    assert lamp.beam == pytest.approx(28.07, abs=0.01)
    # A sharp cone of that angle holds 2 pi I (1 - cos(14.04°)) (check value 1.21); more to be even.
    cone = 2 * np.pi * 3.84e6 * (1 - np.cos(np.radians(lamp.beam / 2)))
    assert lamp.flux == pytest.approx(1.4 * cone, rel=1e-6)
    assert lamp.watts == pytest.approx(lamp.flux / 45)


def test_the_sun_helps_while_it_lifts_the_face_by_a_stop():
    """Equal light from sun and sky is one stop; less does not count."""
    hours = [hour("9:00", 300), hour("12:00", 100), hour("15:00", 99), hour("18:00", 0)]
    assert hours[1].help == pytest.approx(1.0)
    assert hours[0].help == pytest.approx(2.0)
    assert hours[3].help == 0
    assert [h.label for h in helping(hours)] == ["9:00", "12:00"]
    assert [h.label for h in helping(hours, 0.5)] == ["9:00", "12:00", "15:00"]
    assert np.isinf(hour("9:00", 50, sky=0).help)


def test_the_moon_is_no_lamp():
    """What the moon gives is light of the face, and stays when the sun goes."""
    late = hour("23:00", 0.0, sky=1.0, moon=0.5)
    assert late.total == pytest.approx(1.5)
    assert late.lamps == 0 and late.help == 0


def test_the_summary_says_when_and_with_what():
    """It names the hours, the first without help, and a lamp rounded to two figures."""
    lamp = outside_lamp("great door", 60e3, 8.0, 4.0)
    hours = [hour("9:00", 300, outside=lamp), hour("12:00", 100), hour("15:00", 20)]
    words = summary(hours)
    assert words.startswith("The sun lifts the face by a stop or more from 9:00 to 12:00; at 15:00 "
                            "it no longer does.")
    # A sun that goes behind a wall between is not reported to help there.
    twice = [hour("8:00", 300), hour("11:00", 20), hour("14:00", 300), hour("17:00", 200)]
    assert "or more at 8:00 and from 14:00 to 17:00." in summary(twice)
    assert "from 8 m: 3\N{NARROW NO-BREAK SPACE}800 kcd in the middle, a beam of 28°" in words
    none = summary([hour("9:00", 41)])
    # 41 over 100 lx is log2(1.41) = 0.5 stop.
    assert none == ("At none of these times does the sun lift the face by a stop; the most is 0.5 "
                    "stops at 9:00.")
    dark = [replace(hour("20:00", 0), sky=1.0)]
    assert summary(dark) == "No sun reaches the face at any of these times."


def test_all_light_of_an_hour_is_that_of_its_four_sources():
    """Sun, sky, lamps and moon add; the sun's help is against the other three."""
    found = replace(hour("13:00", 300.0, 60.0), lamps=20.0, moon=4.0)
    assert found.total == pytest.approx(384)
    assert found.help == pytest.approx(np.log2(384 / 84))
    assert replace(found, sun=0.0).help == 0.0
    assert replace(found, sky=0.0, lamps=0.0, moon=0.0).help == np.inf
