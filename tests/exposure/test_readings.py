from dataclasses import replace

import numpy as np
import pytest

from previz.exposure import mix, readings


# facts 3.5: lux for a stop at 24 fps, 180°, C = 250.
@pytest.mark.parametrize(
    ("iso", "stop", "lux"), [(100, 2.8, 960), (100, 4, 1920), (800, 2, 60), (800, 2.8, 120)]
)
def test_the_working_light_is_the_published_one(settings, iso, stop, lux):
    """The light that meters at the working stop follows the ISO 2720 table."""
    exact = 2 * np.log2(stop)
    settings = replace(settings, iso=iso, stop=2 ** (round(exact) / 2))
    assert readings.working_illuminance(settings) == pytest.approx(lux, rel=1e-9)


def test_neutral_filters_ask_for_more_light(settings):
    """ND 0.6 loses 1.993 stops (facts 3.8), so the working light is so much more."""
    more = replace(settings, nd_density=0.6)
    ratio = readings.working_illuminance(more) / readings.working_illuminance(settings)
    assert np.log2(ratio) == pytest.approx(1.993, abs=5e-4)


def test_stops_from_the_working_stop(settings):
    """Twice the working light is one stop over, a quarter two under, none is -inf."""
    light = readings.working_illuminance(settings) * np.array([2, 1, 0.25, 0])
    assert list(readings.stops_from_working(light, settings)) == [1, 0, -2, -np.inf]


def test_the_stop_a_meter_shows(settings):
    """1000 lx at ISO 800 and 1/48 s is T8.16 (facts 9.3), whatever the lens is set to."""
    assert readings.stop_of(1000, settings) == pytest.approx(8.16, abs=0.005)
    assert readings.stop_of(1000, replace(settings, stop=1.4)) == pytest.approx(8.165, abs=5e-4)


def test_a_spot_reading_is_the_mean_of_a_thing(synthetic, settings):
    """The spot meter reads the mean over a thing's pixels, as stops, level and EV."""
    frames, lamps = synthetic.frames(60, 90), synthetic.lamps()
    xyz = mix.mix_xyz(frames, lamps)
    got = readings.spot(xyz, frames, "clerk", settings)
    seen = frames.names_index == frames.names.index("clerk")
    luminance = xyz[1][seen].mean()
    assert got.pixels == seen.sum() > 100
    assert got.luminance == pytest.approx(luminance, rel=1e-6)
    # Working light 117.6 lx on 18 %: 6.738 cd/m² is stop 0 (E = 250 · 2.8² · 48 / 800).
    grey = 0.18 * 250 * 2.8**2 * 48 / 800 / np.pi
    assert got.stops == pytest.approx(np.log2(luminance / grey), abs=1e-5)
    # EV = log2(L · 100 / 12.5) (facts 3.2: 8 cd/m² is EV 6).
    assert got.ev100 == pytest.approx(6 + np.log2(luminance / 8), abs=1e-5)


def test_a_spot_on_grey_reads_the_published_numbers(synthetic, settings):
    """18 % in the working light: 0 stops, 40.9 % BT.709 (facts 3.11), the light's colour."""
    frames = synthetic.frames(10, 12)
    light = readings.working_illuminance(settings)
    xyz = np.ones((3, 10, 12)) * np.array([0.95047, 1.0, 1.08883])[:, None, None]
    got = readings.spot(xyz * 0.18 * light / np.pi, frames, "floor", settings)
    assert got.stops == pytest.approx(0, abs=1e-9)
    assert got.signal == pytest.approx(0.18)
    assert got.video_percent == pytest.approx(40.9, abs=0.05)
    # D65: 6503 K, Duv +0.0032 (facts 2.4).
    assert got.cct == pytest.approx(6503, abs=5) and got.duv == pytest.approx(0.0032, abs=2e-4)


def test_a_thing_out_of_shot_has_no_spot_reading(synthetic, settings):
    """None where the camera does not see it; an unknown name is an error."""
    frames = synthetic.frames(10, 12)
    hidden = replace(frames, names=(*frames.names, "signal"))
    xyz = np.ones((3, 10, 12))
    assert readings.spot(xyz, hidden, "signal", settings) is None
    with pytest.raises(ValueError, match="know no 'stove'"):
        readings.spot(xyz, frames, "stove", settings)


def test_a_black_thing_reads_no_light(synthetic, settings):
    """No light is minus infinity stops and no colour, without a warning."""
    frames = synthetic.frames(10, 12)
    got = readings.spot(np.zeros((3, 10, 12)), frames, "floor", settings)
    assert got.stops == -np.inf and got.ev100 == -np.inf and got.cct is None
