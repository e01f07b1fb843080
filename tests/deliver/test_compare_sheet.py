"""The comparison as a sheet: any number of options and cameras, and what its table says."""

from dataclasses import replace

import pytest
from drawn import drawn, faults, on_pictures
from samples import LONG, comparison, measures, picture

from previz.deliver.compare_sheet import (
    Comparison,
    caption_text,
    comparison_blocks,
    write_comparison,
)
from previz.deliver.compare_table import coverage_lines
from previz.deliver.layout import Setting
from previz.exposure.comparing.coverage import NEAR_EDGE, Coverage, Sighting
from previz.frames.records import Short


def draw(made, width=2000):
    setting = Setting(width)
    return drawn(comparison_blocks(made, setting), setting)


@pytest.mark.parametrize(("options", "cameras"), [(1, 1), (6, 2), (3, 3), (2, 5)])
def test_any_number_lays_out(options, cameras):
    """Words stay clear of each other and of pictures, for one option or many, one camera or five."""
    canvas = draw(comparison(options, cameras))
    assert faults(canvas) == [] and on_pictures(canvas) == []
    # Still, map and, but for the base, the difference; the base has a field with words.
    assert len(canvas.pictures) - 2 >= cameras * (3 * options - 1)


def test_readings_that_fell_short_are_named_under_their_table():
    """Each camera's table is followed by what its readings are not good for, clear of all else."""
    made = comparison(2, 2)
    shown = {key: replace(each, measures=replace(each.measures, short=(
        Short("clerk: left cheek", 0.04, True), Short("clerk: right cheek", 0.03, False))))
        if key == ("option 1", "B") else each for key, each in made.shown.items()}
    paper = draw(replace(made, shown=shown))
    assert faults(paper) == []
    said = "option 1: clerk: left cheek is at 4 %, on few paths: not to be trusted better than ± 8 %. "
    note, = (box for box in paper.boxes if box.text.startswith(said))
    assert "clerk: right cheek is at 3 %. Few paths:" in note.text
    heads = [box.top for box in paper.boxes if box.text in ("Camera B", "In whose frame")]
    # Under the last table of a camera and over what follows.
    assert heads[1] < note.top < heads[2]
    assert not any("is at" in text for text in draw(made).words)


def test_long_names_are_cut_and_not_run_over():
    """Option names of any length keep to their room."""
    assert faults(draw(comparison(names=[LONG, LONG + " 2"], cameras=2))) == []


def test_the_table_says_what_was_measured():
    """Each number is written as it is said on a set.

    1000 lx over the working 117.6 lx is +3.1 stops; K 800 and F 200 are 5:1 and 4:1 (check value 9.2);
    3200 K at a balance of 5600 K is +134 mired (check value 2.5).
    """
    words = draw(comparison(1), 2400).words
    for text in ("1 000".replace(" ", "\N{NARROW NO-BREAK SPACE}"), "+3.1", "5.0 : 1", "4.0 : 1",
                 "card", "lit by key", "33 × 31°", "48° left", "30° high", "36.0", "−1.8", "+4.2",
                 "desk lamp", "−5.0", "61 % of it key", "at 11 o'clock, 2.1 mm", "3200 K", "+134",
                 "0.81", "5.4 A"):
        assert text in words, text
    assert any(text.startswith("≈ 1") and text.endswith("240 W") for text in words)


def test_missing_numbers_are_dashes_and_no_eye_light_is_none():
    """A frame without a face has dashes; a face without an eye-light says 'none'."""
    made = comparison(1)
    shown = made.shown["option 0", "A"]
    bare = replace(shown, measures=replace(measures(), face=None, key=None, background=None,
                                           hottest=None, darkest=None, spill=None, load=None))
    words = draw(replace(made, shown={("option 0", "A"): bare})).words
    assert words.count("–") >= 12 and caption_text(bare.measures) == "no face in this frame"
    dull = replace(shown, measures=replace(shown.measures, eye_lights=()))
    assert "none" in draw(replace(made, shown={("option 0", "A"): dull})).words


def test_the_base_is_held_against_nothing():
    """The first row says that it is the base; the others show their difference in stops."""
    words = draw(comparison(2)).words
    assert "the base" in words and "against option 0" in words
    assert "stops against option 0" in words
    assert not any("against option 0" in text for text in draw(comparison(1)).words)


def test_a_camera_with_a_frame_of_another_shape_keeps_it():
    """A picture is never pulled to the shape of another camera's."""
    made = comparison(1, 2)
    second = made.shown["option 0", "B"]
    made = replace(made, shown={**made.shown, ("option 0", "B"): replace(
        second, still=picture(60, 60).still, chart=replace(second.chart, index=second.chart.index[:, :45],
                                                           things=None))})
    boxes = draw(made).pictures[-4:]
    assert [round((box.right - box.left) / (box.bottom - box.top), 1) for box in boxes] == [
        1.8, 1.8, 1.0, 1.0]


def test_frames_stand_once_where_options_agree():
    """What is the same in all options is said once, and exceptions by name."""
    near = Sighting("box", "lamp", NEAR_EDGE, 0.0, False, "top")
    rows = [Coverage(option, "A", "clerk", (near,) if option == "crossed" else ())
            for option in ("boxes", "tubes", "warm", "crossed")]
    assert coverage_lines(rows) == [
        ("A", "all but crossed", "none", "none", "none"),
        ("A", "crossed", "none", "none", "box top")]
    assert coverage_lines(rows[:3]) == [("A", "all options", "none", "none", "none")]


def test_the_faces_are_set_side_by_side():
    """With two faces a table has both, each by its own camera, and a note where lamps conflict."""
    made = comparison(1, 2)
    second = made.shown["option 0", "B"]
    face = replace(second.measures.face, figure="driver")
    shown = {**made.shown, ("option 0", "B"): replace(second, measures=replace(second.measures, face=face))}
    words = draw(replace(made, shown=shown), 2200).words
    assert "clerk, by camera A" in words and "driver, by camera B" in words
    assert any(text.startswith("No lamp that shapes one face") for text in words)


def test_both_files_are_written(tmp_path):
    """A picture for the screen and pages for print."""
    made = write_comparison(tmp_path / "compare", comparison(2, 1), {"Title": "Cabin"}, 1600)
    assert [path.name for path in made] == ["compare.png", "compare.pdf"]


def test_nothing_to_show_is_refused():
    """A comparison without a picture is an error."""
    with pytest.raises(ValueError, match="at least one option"):
        comparison_blocks(Comparison("t", (), (), {}, {}), Setting(2000))
