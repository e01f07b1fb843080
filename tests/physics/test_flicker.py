"""Rippling light before shutters: closed forms against integrals in time, and the tables that crews carry."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from previz.physics import flicker
from previz.physics.flicker import (
    SEEN,
    beat,
    exposure_time,
    nearest_angles,
    nearest_rate,
    risk,
    safe_angles,
    safe_rates,
    steady_from,
    stops_between,
    swing,
)


def frames(depth, frequency, time, starts, steps=4000):
    """Mean light of frames that are exposed from each of some times on, by adding it up in time."""
    within = (np.arange(steps) + 0.5) / steps * time
    return np.array([np.mean(1 + depth * np.cos(2 * np.pi * frequency * (start + within)))
                     for start in starts])


@settings(max_examples=40, deadline=None, derandomize=True)
@given(depth=st.floats(0, 1), frequency=st.floats(20, 400), time=st.floats(1e-4, 0.05))
def test_the_swing_against_integrals_in_time(depth, frequency, time):
    """Over all points of a ripple that a frame may begin at, means lie as far off 1 as the formula says."""
    found = frames(depth, frequency, time, np.linspace(0, 1 / frequency, 240, endpoint=False))
    # 240 starts miss the extreme by 1 - cos(pi / 240), 9e-5 of it; 4000 steps the mean by less.
    assert found.max() - 1 == pytest.approx(swing(depth, frequency, time), rel=2e-4, abs=2e-5)
    assert 1 - found.min() == pytest.approx(swing(depth, frequency, time), rel=2e-4, abs=2e-5)


def test_stops_between_frames():
    """30 % deep at 1/48 s on 50 Hz, by the integral: frames differ by 0.034 stops."""
    found = frames(0.3, 100, 1 / 48, np.linspace(0, 0.01, 400, endpoint=False))
    stops = stops_between(swing(0.3, 100, 1 / 48))
    assert stops == pytest.approx(math.log2(found.max() / found.min()), abs=1e-4)
    assert stops == pytest.approx(0.0342, abs=5e-4)
    assert stops_between(0) == 0
    assert stops_between(1.0) == stops_between(0.9999) == flicker.MOST_STOPS


def test_a_moment_sees_all_of_it():
    """An instant has the whole ripple; so has a shutter far quicker than it."""
    assert swing(0.7, 100, 0) == 0.7
    assert swing(0.7, 100, 1e-6) == pytest.approx(0.7, rel=1e-6)


def test_long_exposures_keep_their_digits():
    """A day is a whole number of ripples: millions of them are none, and a half more is 1 / (pi f t)."""
    assert swing(1, 100, 86_400) == pytest.approx(0, abs=1e-15)
    assert swing(1, 100, 86_400.005) == pytest.approx(1 / (math.pi * 8_640_000.5), rel=1e-6)


# 180° is half the frame; check value 3.6: angle / (360 fps).
@pytest.mark.parametrize(("fps", "angle", "time"), [
    (24, 180, 1 / 48), (24, 172.8, 1 / 50), (24, 144, 1 / 60), (24, 90, 1 / 96), (24, 45, 1 / 192),
    (25, 180, 1 / 50),
])  # fmt: skip
def test_exposure_times(fps, angle, time):
    assert exposure_time(fps, angle) == pytest.approx(time)


# Check value 3.6 for 172.8° and 144° at 24 fps, 180° at 25 fps; the others are whole ripples too.
@pytest.mark.parametrize(("fps", "hertz", "angle"), [
    (24, 50, 172.8), (24, 60, 144), (25, 50, 180), (30, 60, 180), (30, 50, 108), (25, 60, 150),
    (24, 50, 345.6), (50, 50, 180), (60, 60, 180), (100, 50, 360), (24, 60, 360), (12.5, 50, 180),
])  # fmt: skip
def test_safe_shutters(fps, hertz, angle):
    """The safe angle is in the list, is one of the nearest to itself, and evens the light out in time."""
    angles = safe_angles(fps, 2 * hertz)
    assert any(each == pytest.approx(angle) for each in angles)
    assert list(angles) == sorted(angles) and angles[-1] <= 360
    assert nearest_angles(fps, 2 * hertz, angle)[0] == pytest.approx(angle)
    assert any(rate == pytest.approx(fps) for rate in safe_rates(2 * hertz, angle))
    assert nearest_rate(fps, 2 * hertz, angle) == pytest.approx(fps)
    even = frames(1.0, 2 * hertz, exposure_time(fps, angle), np.linspace(0, 1, 7))
    assert np.ptp(even) < 1e-9
    assert risk(1.0, 2 * hertz, fps, angle) == "none"


@settings(max_examples=60, deadline=None, derandomize=True)
@given(fps=st.floats(1e-3, 2000), frequency=st.floats(20, 1e5))
def test_every_safe_angle_is_open_for_whole_ripples(fps, frequency):
    """None beyond 360°, each open for a whole number, and none left out between the first and 360°."""
    angles = safe_angles(fps, frequency)
    counts = [frequency * exposure_time(fps, each) for each in angles]
    assert all(abs(each - round(each)) < 1e-6 * each for each in counts)
    assert [round(each) for each in counts] == list(range(round(counts[0]), round(counts[0]) + len(counts))) \
        if counts else frequency < fps
    assert len(angles) <= flicker.MOST_LISTED


def test_the_nearest_angles_lie_on_both_sides():
    """24 fps on 60 Hz at 180°: 216° is 0.26 stops more, 144° 0.32 less (check value 3.6): nearer first."""
    assert nearest_angles(24, 120, 180) == pytest.approx((216, 144))
    # Under the first safe angle there is only that.
    assert nearest_angles(25, 100, 45) == pytest.approx((90,))
    # 300° cannot be opened to the next, as that would be over 360°.
    assert nearest_angles(60, 120, 300) == pytest.approx((360, 180))
    assert nearest_angles(1000, 100, 180) == ()
    assert safe_angles(1000, 100) == ()


def test_rates():
    """180° on 50 Hz: 50, 25 and 16.67 fps; 24 fps is nearest to 25."""
    assert safe_rates(100, 180)[:3] == pytest.approx((50, 25, 50 / 3))
    assert nearest_rate(24, 100, 180) == pytest.approx(25)
    assert nearest_rate(1000, 100, 180) == pytest.approx(50)


# Frame to frame: 24 fps on 50 Hz pulses four times a second, as every crew knows; 25 fps stands still.
@pytest.mark.parametrize(("frequency", "fps", "hertz"), [
    (100, 24, 4), (100, 25, 0), (120, 24, 0), (120, 25, 5), (100, 30, 10), (120, 30, 0), (100, 1000, 100),
    (100, 0.5, 0), (100, 23.976, 4.096), (120, 23.976, 0.12),
])  # fmt: skip
def test_beats(frequency, fps, hertz):
    """As many a second as a sine through the frames' own means has, by its spectrum."""
    assert beat(frequency, fps) == pytest.approx(hertz, abs=1e-9)
    if not (float(fps).is_integer() and fps < 200):
        return
    seconds = 4
    means = frames(0.5, frequency, 0.37 / fps, np.arange(fps * seconds) / fps, steps=400)
    spectrum = np.abs(np.fft.rfft(means - means.mean()))
    if hertz == 0:
        assert np.ptp(means) < 1e-9
    else:
        assert np.argmax(spectrum) / seconds == pytest.approx(hertz)


def test_what_is_seen():
    """Pulses, a standing band, stripes of a quick ripple, and nothing."""
    assert risk(0.4, 100, 24, 180) == "pulse"
    assert risk(0.4, 100, 25, 45) == "bands"
    assert risk(1.0, 1000, 24, 20) == "bands"
    assert risk(0.4, 100, 25, 180) == "none"
    assert risk(0.0, 100, 24, 11) == "none"
    # A filament at 24 fps and 180° on 60 Hz has a standing band of 0.04 stops; nobody minds that.
    assert risk(0.1, 120, 24, 180) == "none"
    # High speed: the ripple itself is seen, slowed down.
    assert risk(0.1, 100, 1000, 180) == "pulse"
    # Time lapse of a second and more is even, also for light that goes out.
    assert risk(1.0, 100, 0.1, 180) == "none"


@settings(max_examples=60, deadline=None, derandomize=True)
@given(time=st.floats(1e-5, 10), over=st.floats(1, 50))
def test_from_where_on_nothing_shows(time, over):
    """At the frequency that is told and above, the swing is never more than what counts as seen."""
    assert stops_between(swing(1.0, over * steady_from(time), time)) <= SEEN * (1 + 1e-6)


def test_what_sources_are_taken_for():
    """Thick filaments ripple less than thin ones, dimmed ones more; of LEDs nothing is known."""
    thin, thick = (flicker.usual_ripple(flicker.FILAMENT, watts).depth for watts in (60, 5000))
    assert thin > thick > 0
    assert flicker.usual_ripple(flicker.FILAMENT).depth == thin
    assert flicker.usual_ripple(flicker.FILAMENT, 60, dimmed=True).depth > thin
    assert flicker.usual_ripple(flicker.ELECTRONIC).depth is None
    tube, arc = (flicker.usual_ripple(each).depth for each in (flicker.FLUORESCENT, flicker.DISCHARGE))
    assert arc > tube > thin


@pytest.mark.parametrize("wrong", [(1.1, 100, 0.02), (0.5, 0, 0.02), (0.5, 100, -1), (float("nan"), 100, 1)])
def test_numbers_out_of_range_are_refused(wrong):
    """A depth over 1, no frequency, a time below 0."""
    with pytest.raises(ValueError, match="depth must be"):
        swing(*wrong)


def test_a_frequency_that_wanders():
    """The most of all frequencies within the drift, by a fine search; without one, the swing itself."""
    fine = max(swing(0.5, each, 0.0143) for each in np.linspace(96, 104, 4001))
    assert flicker.swing_within(0.5, 100, 0.0143, 0.04) == pytest.approx(fine, rel=0.01)
    assert flicker.swing_within(0.5, 100, 1 / 48, 0) == swing(0.5, 100, 1 / 48)
    assert risk(0.4, 100, 25, 180, drift=0.04) == "pulse" and risk(0.4, 100, 25, 180) == "none"
