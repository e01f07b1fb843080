"""The comparison as a sheet: any number of options and cameras, and what its table says."""

import importlib.util
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from previz.deliver.compare_sheet import (
    Comparison,
    Shown,
    caption_text,
    comparison_blocks,
    write_comparison,
)
from previz.deliver.compare_table import coverage_lines
from previz.deliver.map import exposure_map
from previz.deliver.pages import Setting, stacked
from previz.exposure import display
from previz.exposure.camera import expose, signal_luminance
from previz.exposure.comparing import measures as comparing
from previz.exposure.comparing.coverage import IN_FRAME, NEAR_EDGE, Coverage, Sighting
from previz.exposure.comparing.difference import difference, difference_index
from previz.exposure.comparing.eyes import EyeLight
from previz.exposure.falsecolour import stop_bands
from previz.exposure.metering import Measured
from previz.exposure.mix import mix_xyz
from previz.frames.records import Short

PAGES = Path(__file__).with_name("test_pages.py")
spec = importlib.util.spec_from_file_location("deliver_pages_faults", PAGES)
pages = importlib.util.module_from_spec(spec)
spec.loader.exec_module(pages)


@pytest.fixture
def comparison(synthetic, settings):
    """Make a comparison of so many options and cameras; numbers are those of the book."""
    def make(options=2, cameras=1, names=None):
        bands, shown = stop_bands(), {}
        names = names or [f"option {i}" for i in range(options)]
        frames = synthetic.frames(45, 80)
        base = None
        for number, option in enumerate(names):
            xyz = mix_xyz(frames, synthetic.lamps((1.0, 1.0 + number)))
            signal = signal_luminance(xyz, settings)
            base = signal if base is None else base
            for camera in "ABCDE"[:cameras]:
                face = comparing.FaceLight("clerk", "left", Measured(1000.0, 9), Measured(200.0, 2),
                                           3200.0, 0.002)
                key = comparing.KeySource(("key",), "card", 0.9, 33.4, 31.0, -48.0, 30.0, 40.0,
                                          0.036, 0.06)
                look = comparing.ShotMeasures(
                    option, camera, settings, face, key, comparing.Area("back wall", -1.83),
                    comparing.Area("desk lamp", 4.21), comparing.Area("coat", -5.0),
                    comparing.Spill("back wall", -2.0, 0.61),
                    (EyeLight("card", 1.0, 4.0, 0.0021, 11),),
                    comparing.Load(1240.0, 5.39, 230.0, ("key",), 0.81))
                coverage = Coverage(option, camera, "clerk", (
                    Sighting("card", "board", IN_FRAME, 0.021, False, "left"),
                    Sighting("lever lamp", "lamp", IN_FRAME, 0.004, True, "right"),
                    Sighting("camera B", "camera", NEAR_EDGE, 0.0, False, "right")))
                shown[option, camera] = Shown(
                    look, display.show_8bit(expose(xyz, settings)),
                    exposure_map(signal, bands, frames.names_index),
                    None if number == 0 else difference_index(difference(signal, base)),
                    frames.names_index, coverage)
        return Comparison("Signal cabin", tuple(names), tuple("ABCDE"[:cameras]), shown, {},
                          ("Planning aid only.",))

    return make


@pytest.mark.parametrize(("options", "cameras"), [(1, 1), (2, 1), (6, 2), (3, 3), (2, 5)])
def test_any_number_lays_out(comparison, options, cameras):
    """All words stay on the paper and apart, for one option or many, one camera or five."""
    setting = Setting(2000)
    paper = stacked(comparison_blocks(comparison(options, cameras), setting), setting)
    assert pages.faults(paper) == []


def test_readings_that_fell_short_are_told_under_their_table(comparison):
    """Each camera's table is followed by what its readings are not good for, on the paper and apart."""
    made = comparison(2, 2)
    shown = {key: replace(each, measures=replace(each.measures, short=(
        Short("clerk: left cheek", 0.04, True), Short("clerk: right cheek", 0.03, False))))
        if key == ("option 1", "B") else each for key, each in made.shown.items()}
    setting = Setting(2000)
    paper = stacked(comparison_blocks(replace(made, shown=shown), setting), setting)
    assert pages.faults(paper) == []
    said = "option 1: clerk: left cheek is at 4 %, on few paths: not to be trusted better than ± 8 %. "
    note, = (box for box in paper.boxes if box.text.startswith(said))
    assert "clerk: right cheek is at 3 %. Few paths:" in note.text
    heads = [box.top for box in paper.boxes if box.text in ("Camera B", "In whose frame")]
    # Under the last table of a camera and over what follows.
    assert heads[1] < note.top < heads[2]
    usual = stacked(comparison_blocks(made, setting), setting)
    assert not any("is at" in box.text for box in usual.boxes)


def test_long_names_are_cut_and_not_run_over(comparison):
    """Option names of any length keep to their room."""
    setting = Setting(2000)
    made = comparison(names=[pages.LONG, pages.LONG + " 2"], cameras=2)
    paper = stacked(comparison_blocks(made, setting), setting)
    assert pages.faults(paper) == []


def test_the_table_says_what_was_measured(comparison, settings):
    """Each number is written as it is told on a set.

    1000 lx over the working 117.6 lx is +3.1 stops; K 800 and F 200 are 5:1 and 4:1 (facts 9.2);
    3200 K at a balance of 5600 K is +134 mired (facts 2.5).
    """
    setting = Setting(2400)
    paper = stacked(comparison_blocks(comparison(1), setting), setting)
    words = [box.text for box in paper.boxes]
    for text in ("1 000".replace(" ", "\N{NARROW NO-BREAK SPACE}"), "+3.1", "5.0 : 1", "4.0 : 1",
                 "card", "lit by key", "33 × 31°", "48° left", "30° high", "36.0", "−1.8", "+4.2",
                 "desk lamp", "−5.0", "61 % of it key", "at 11 o'clock, 2.1 mm", "3200 K", "+134",
                 "0.81", "5.4 A"):
        assert text in words, text
    assert any(text.startswith("≈ 1") and text.endswith("240 W") for text in words)


def test_missing_numbers_are_dashes_and_no_eye_light_is_none(comparison):
    """A frame without a face has dashes; a face without an eye-light says 'none'."""
    made = comparison(1)
    shown = made.shown["option 0", "A"]
    bare = replace(shown, measures=comparing.ShotMeasures("option 0", "A", shown.measures.settings))
    setting = Setting(2000)
    paper = stacked(comparison_blocks(replace(made, shown={("option 0", "A"): bare}), setting),
                    setting)
    assert [b.text for b in paper.boxes].count("–") >= 12
    assert caption_text(bare.measures) == "no face in this frame"
    dull = replace(shown, measures=replace(shown.measures, eye_lights=()))
    paper = stacked(comparison_blocks(replace(made, shown={("option 0", "A"): dull}), setting),
                    setting)
    assert "none" in [b.text for b in paper.boxes]


def test_the_base_is_held_against_nothing(comparison):
    """The first row says that it is the base; the others show their difference in stops."""
    setting = Setting(2000)
    paper = stacked(comparison_blocks(comparison(2), setting), setting)
    words = [b.text for b in paper.boxes]
    assert "the base" in words and "against option 0" in words
    assert "stops against option 0" in words
    one = stacked(comparison_blocks(comparison(1), setting), setting)
    assert not any("against option 0" in b.text for b in one.boxes)


def test_frames_are_told_once_where_options_agree():
    """What is the same in all options is said once, and exceptions by name."""
    near = Sighting("box", "lamp", NEAR_EDGE, 0.0, False, "top")
    rows = [Coverage(option, "A", "clerk", (near,) if option == "crossed" else ())
            for option in ("boxes", "tubes", "warm", "crossed")]
    assert coverage_lines(rows) == [
        ("A", "all but crossed", "none", "none", "none"),
        ("A", "crossed", "none", "none", "box top")]
    assert coverage_lines(rows[:3]) == [("A", "all options", "none", "none", "none")]


def test_the_faces_are_set_beside_each_other(comparison):
    """With two faces a table has both, each by its own camera, and a note where lamps conflict."""
    made = comparison(1, 2)
    second = made.shown["option 0", "B"]
    face = replace(second.measures.face, figure="driver")
    shown = {**made.shown, ("option 0", "B"): replace(second, measures=replace(second.measures, face=face))}
    setting = Setting(2200)
    words = [b.text for b in stacked(comparison_blocks(replace(made, shown=shown), setting),
                                     setting).boxes]
    assert "clerk, by camera A" in words and "driver, by camera B" in words
    assert any(text.startswith("No lamp that shapes one face") for text in words)


def test_both_files_are_written_and_the_same_each_time(comparison, tmp_path):
    """A PNG of the asked width and a PDF, byte for byte the same twice."""
    made = comparison(2, 1)
    first = write_comparison(tmp_path / "one" / "compare", made, {"Title": "Cabin"}, 1600)
    second = write_comparison(tmp_path / "two" / "compare", made, {"Title": "Cabin"}, 1600)
    assert [path.name for path in first] == ["compare.png", "compare.pdf"]
    assert all(a.read_bytes() == b.read_bytes() for a, b in zip(first, second, strict=True))
    with Image.open(first[0]) as picture:
        assert picture.size[0] == 1600 and np.asarray(picture).std() > 10


def test_nothing_to_show_is_refused():
    """A comparison without a picture is an error."""
    with pytest.raises(ValueError, match="at least one option"):
        comparison_blocks(Comparison("t", (), (), {}, {}), Setting(2000))
