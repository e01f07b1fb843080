import numpy as np
import pytest

from previz.deliver import face_values, wording
from previz.exposure.faces import FaceLight
from previz.exposure.metering import Measured
from previz.physics.exposure import CameraSettings
from previz.physics.viewing import ShowFile


@pytest.mark.parametrize(
    ("seconds", "text"),
    [(1 / 48, "1/48 s"), (1 / 50, "1/50 s"), (0.5, "1/2 s"), (2.0, "2 s"), (1 / 59.94, "1/59.9 s")],
)
def test_shutter(seconds, text):
    """Exposure times are written as set on a camera."""
    assert wording.shutter_text(seconds) == text


def test_settings_name_only_what_is_set():
    """Filters, green, latitude and a look appear only where there are any."""
    plain = CameraSettings(stop=2.8, iso=800, shutter_s=1 / 48, white_balance=4000)
    full = CameraSettings(4, 1600, 1 / 50, nd_density=0.6, white_balance=5600, tint=-0.004)
    assert wording.settings_text(plain) == "T2.8 · ISO 800 · 1/48 s · 4000 K"
    assert wording.settings_text(full) == "T4 · ISO 1600 · 1/50 s · ND 0.6 · 5600 K · green −0.004"
    show = ShowFile("evening.cube", b"", ".cube", "acescct", "srgb")
    seen = CameraSettings(2.8, 800, 1 / 48, white_balance=4000, over=6, under=7.5, show=show)
    assert wording.settings_text(seen) == (
        "T2.8 · ISO 800 · 1/48 s · 4000 K · holds +6 and −7.5 stops · through evening.cube")
    assert wording.look_texts(None, 7, None) == ["holds −7 stops"]


@pytest.mark.parametrize(
    ("lux", "text"),
    [(None, "–"), (0, "0"), (0.254, "0.25"), (12.34, "12.3"), (119.6, "120"), (960, "960"),
     (1234, "1\u202f230"), (85500, "85\u202f500"), (999.7, "1000")],
)  # fmt: skip
def test_lux_has_three_figures(lux, text):
    """Three figures are what a meter is good for."""
    assert wording.lux_text(lux) == text


@pytest.mark.parametrize(
    ("stops", "text"),
    [(1.26, "+1.3"), (-0.04, "0.0"), (-2, "−2.0"), (-np.inf, "no light"), (None, "–")],
)
def test_stops(stops, text):
    """Stops to a tenth with their sign; no light is put in words, no meter a dash."""
    assert wording.stops_text(stops) == text


@pytest.mark.parametrize(
    ("ratio", "text"),
    [(2, "2.0 : 1"), (140.2, "140 : 1"), (np.inf, "no fill"), (np.nan, "–"), (None, "–")],
)
def test_ratios(ratio, text):
    """Ratios to one."""
    assert wording.ratio_text(ratio) == text


@pytest.mark.parametrize("seed", range(20))
def test_printed_shares_sum_to_a_hundred(seed):
    """What is printed sums to exactly 100.0 and is nowhere off by more than a tenth."""
    random = np.random.default_rng(seed)
    counts = random.integers(0, 5000, random.integers(2, 16)) + (seed % 2)
    counts[0] += 1
    shares = counts / counts.sum()
    texts = wording.percent_texts(shares)
    assert sum(round(float(text) * 10) for text in texts) == 1000
    printed = np.array([float(text) for text in texts])
    assert np.abs(printed - 100 * shares).max() < 0.1


@pytest.mark.parametrize(("value", "digits", "expected"), [
    (1.26, 1, "+1.3"), (-0.04, 1, "0.0"), (-12.4, 0, "−12"), (0.0061, 4, "+0.0061"),
])
def test_signs_are_true_minuses(value, digits, expected):
    """Numbers have their sign, nothing has none, and minus is a minus."""
    assert wording.signed(value, digits) == expected


@pytest.mark.parametrize(("side", "height", "expected"), [
    (-48.2, 30.4, ("48° left", "30° high")), (3.0, -1.0, ("by the lens", "level")),
    (178.0, -20.0, ("behind", "20° low")), (90.0, 0.0, ("90° right", "level")),
])
def test_directions_are_those_of_a_set(side, height, expected):
    """Left and right of the lens, high and low."""
    assert wording.side_text(side, height) == expected


def test_what_rounding_loses_goes_to_the_share_that_lost_most():
    """66.66 and 33.34 % are 66.7 and 33.3, in either order; of three alike the first has it."""
    assert wording.percent_texts([0.6666, 0.3334]) == ["66.7", "33.3"]
    assert wording.percent_texts([0.3334, 0.6666]) == ["33.3", "66.7"]
    assert wording.percent_texts([1 / 3, 1 / 3, 1 / 3]) == ["33.4", "33.3", "33.3"]


@pytest.mark.parametrize(("lit", "said"), [
    (100.0, "even"), (104.9, "even"), (105.1, "0.1 : 1"), (200.0, "1.0 : 1")])
def test_sides_that_are_as_good_as_alike_are_even(lit, said):
    """Under a twentieth of fill there is no key to speak of."""
    face = FaceLight("clerk", "left", Measured(lit, 0), Measured(100.0, 0))
    assert face_values.ratio_texts(face)[1] == said


def test_a_side_below_nothing_is_dark_as_data_too():
    """What noise takes below nothing has no stops and no T-stop, and a note."""
    settings = CameraSettings(stop=2.8, iso=800, shutter_s=1 / 48)
    face = FaceLight("clerk", "left", Measured(100.0, 1.0, 0.5), Measured(-0.1, 0.2))
    found = face_values.face_values(face, [("A", settings)])
    dark, lit = found["shadow_side"], found["lit_side"]
    assert dark["t_stop"] == {"A": 0.0} and dark["stops_from_working"]["A"]["value"] is None
    assert dark["note"] == "no light" and "note" not in lit
    # Paths and bands make the whole error: 1² = 0.5² + 0.87².
    light = lit["illuminance"]
    assert (light["error"], light["band_error"]) == (1.0, 0.5)
    assert light["standard_error"] == pytest.approx(0.75**0.5)
