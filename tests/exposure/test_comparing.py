"""The numbers of a comparison: levels against the key, areas, spill, load."""

from types import SimpleNamespace

import numpy as np
import pytest

from previz.exposure.comparing import measures as comparing
from previz.exposure.mix import mix_xyz
from previz.physics.mains import EFFICACY


def test_a_card_in_the_key_is_nothing_from_the_key():
    """1000 lx on an 18 % card is 57.296 cd/m² (check value 1.16): 0 stops; twice that is one stop."""
    grey = comparing.grey_in(1000.0)
    assert grey == pytest.approx(57.296, abs=5e-4)
    assert comparing.stops_from(2 * 57.2958, grey) == pytest.approx(1.0, abs=1e-5)
    assert comparing.stops_from(0.0, grey) == -np.inf


def plane():
    """A grey plane of 40 × 80 pixels with a bright and a dark patch, and what is seen there."""
    raw = np.full((40, 80), 10.0)
    raw[4:8, 60:64] = 160.0
    raw[30:34, 10:14] = 0.625
    things = np.zeros((40, 80), int)
    things[4:8, 60:64] = 1
    things[30:34, 10:14] = 2
    return raw, things, ("wall", "lamp", "coat")


def test_hot_and_dark_areas_are_found_and_named():
    """Patches two stops over and four under a grey of 40 and 10 cd/m² are found where they are."""
    raw, things, names = plane()
    hot = comparing.extreme_area(raw, raw, things, names, 40.0, hottest=True)
    dark = comparing.extreme_area(raw, raw, things, names, 10.0, hottest=False)
    # log2(160 / 40) and log2(0.625 / 10).
    assert (hot.name, hot.stops) == ("lamp", pytest.approx(2.0))
    assert (dark.name, dark.stops) == ("coat", pytest.approx(-4.0))
    assert 60 <= hot.left < hot.right <= 64 and 4 <= hot.top < hot.bottom <= 8


def test_noise_is_not_taken_for_light():
    """An area is found in the cleaned picture and read in the raw one."""
    clean, things, names = plane()
    rng = np.random.default_rng(3)
    raw = clean * rng.gamma(4, 1 / 4, clean.shape)
    raw[20, 30] = 1e5
    hot = comparing.extreme_area(clean, raw, things, names, 160.0, hottest=True)
    # The mean of 4 pixels with a spread of a half each is within 0.25: one stop at four sigma.
    assert hot.name == "lamp"
    assert hot.stops == pytest.approx(0.0, abs=1.0)


def test_background_is_what_lies_behind(synthetic):
    """People and lamps, and what is nearer than the face, are no background."""
    frames = synthetic.frames(60, 96)
    raw = mix_xyz(frames, synthetic.lamps())[1]
    wall = np.asarray(frames.names_index) == frames.names.index("back wall")
    behind = np.asarray(frames.depth) > 6.0 + comparing.BEHIND
    found = comparing.background(raw, frames, 6.0, {"clerk", "lever handle"}, 1.0)
    floor = behind & ~wall & np.isin(frames.names_index, [1])
    expected = np.log2(raw[(wall & behind) | floor].mean(dtype=float))
    assert found.name == "back wall"
    assert found.stops == pytest.approx(expected, abs=1e-4)
    assert comparing.background(raw, frames, 90.0, set(), 1.0) is None


def test_spill_says_how_much_of_it_the_key_sends(synthetic):
    """The key's share of a surface is its own mean over the whole mean."""
    frames, lamps = synthetic.frames(60, 96), synthetic.lamps()
    raw = mix_xyz(frames, lamps)[1]
    found = comparing.spill(raw, frames, lamps, "back wall", ("window",), 2.0)
    seen = np.asarray(frames.names_index) == 0
    alone = mix_xyz(frames, synthetic.lamps(on=(True, False)))[1]
    assert found.stops == pytest.approx(np.log2(raw[seen].mean(dtype=float) / 2.0), abs=1e-4)
    assert found.key_share == pytest.approx(alone[seen].mean() / raw[seen].mean(), rel=1e-4)
    assert comparing.spill(raw, frames, lamps, "no such thing", (), 1.0) is None


def test_load_and_light_per_watt():
    """2 kW at 120 V is 16.67 A (check value 7.1); 800 lx of it on the face is 0.4 lx/W."""
    load = comparing.mains_load([("key", 2000.0, 50e3, "tungsten")], 120.0, 800.0)
    assert load.amperes == pytest.approx(16.67, abs=0.005)
    assert load.lux_per_watt == pytest.approx(0.4)
    assert load.guessed == ()


def test_watts_that_are_not_stated_are_guessed_and_named():
    """A lamp without watts is taken by its lumens over the efficacy of its kind."""
    load = comparing.mains_load(
        [("panel", None, 8000.0, "led"), ("practical", 60.0, 700.0, "tungsten")], 230.0, None)
    # 8000 lm at 80 lm/W, and 60 W as stated.
    assert load.watts == pytest.approx(8000 / EFFICACY["led"] + 60)
    assert load.guessed == ("panel",)
    assert load.lux_per_watt is None
    assert comparing.mains_load([], 230.0, 100.0).lux_per_watt is None


def test_box_means_are_means():
    """Running sums agree with the mean of each square."""
    values = np.random.default_rng(1).random((9, 12))
    means = comparing.box_mean(values, 3)
    assert means.shape == (7, 10)
    assert means[2, 4] == pytest.approx(values[2:5, 4:7].mean())


def test_measures_are_plain_records():
    """Measures without a face or meters say so by their empty fields."""
    measures = comparing.ShotMeasures("bounce", "A", SimpleNamespace())
    assert (measures.face, measures.key, measures.eye_lights, measures.load) == (None, None, (), None)


def test_what_is_hot_names_the_place_however_small_it_is():
    """A bulb in a quarter of the hottest square is what it is; the darkest is what most of it is."""
    raw = np.full((40, 60), 10.0)
    raw[20, 30] = 400.0
    things = np.zeros(raw.shape, int)
    things[20, 30] = 1
    hot = comparing.extreme_area(raw, raw, things, ("wall", "bulb"), 40.0, hottest=True)
    assert hot.name == "bulb"
    # Two by two pixels of a picture of forty rows: (400 + 3 · 10) / 4.
    assert hot.stops == pytest.approx(np.log2(107.5 / 40))
    raw[5:7, 5:7], raw[5, 5] = 1.0, 0.0
    things[5, 5] = 1
    dark = comparing.extreme_area(raw, raw, things, ("wall", "bulb"), 40.0, hottest=False)
    assert dark.name == "wall" and dark.stops == pytest.approx(np.log2(0.75 / 40))
