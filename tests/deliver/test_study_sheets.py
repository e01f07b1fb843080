"""The sheets of a study, a match, a day, a haze ladder and a mood, and a still with its scopes."""

import re
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pytest
from drawn import drawn, faults, on_pictures
from PIL import Image
from samples import (
    CAUTIONS,
    FRAMES,
    SETTINGS,
    hours,
    ladder,
    mood_frames,
    picture,
    points,
    shots,
    step,
    steps,
    study,
)

from previz.deliver import haze_sheet, match_sheet, mood_sheet, scopes, study_sheet, times_sheet
from previz.deliver.layout import Setting
from previz.deliver.plates import Plate
from previz.exposure.comparing import match
from previz.frames.records import Short

SETTING = Setting(2200)


def words_of(blocks, setting=SETTING):
    """Return the words of a sheet; nothing may run into them."""
    canvas = drawn(blocks, setting)
    assert faults(canvas) == []
    return canvas.words


def test_a_study_says_what_it_found():
    """Plots and table hold every set-up; 4 stops less need 16 times the output."""
    made = [*steps(), step("board", 4.0, 2.0, -4.0)]
    examples = [Plate([[picture().still]], made[0].name)]
    words = words_of(study_sheet.study_blocks(study(made), examples, SETTING))
    # 1050 lx straight at the meter, over the working 117.6 lx (250 · 2.8² · 48 / 800).
    assert {"brightest", "lx, then stops at A", "+3.2", "16.0 ×", "60°; 85°"} <= set(words)
    assert {each.name for each in made} <= set(words)
    assert "Left out: board 9 m, no." in words


def test_a_study_of_one_set_up_still_lays_out():
    """Nothing but the lamp straight, without a camera and without pictures."""
    words = words_of(study_sheet.study_blocks(study([step("direct", 0.2, 4.0, 0.0)], None), (), SETTING))
    assert "lx round the head" in words
    with pytest.raises(ValueError, match="at least one set-up"):
        study_sheet.study_blocks(study([]), (), SETTING)


SHORT = (Short("clerk: left cheek", 0.04, True),)
SAID = "clerk: left cheek is at 4 %, on few paths: not to be trusted better than ± 8 %. Few paths:"


def day(made):
    return times_sheet.times_blocks(made, SETTING, title="Shed", subject="2026-09-22", distance=8.0,
                                    least=1.0)


def test_each_sheet_owns_up_to_readings_on_few_paths():
    """Study, match and day say whose reading is not to be trusted, under the table; else nothing."""
    made, pair, times = steps(), shots(), hours()

    def doubts():
        return [[text for text in words_of(blocks) if "is at" in text] for blocks in (
            study_sheet.study_blocks(study(made), (), SETTING),
            match_sheet.match_blocks(pair, points(pair), "They cut.", SETTING), day(times))]

    assert doubts() == [[], [], []]
    made[2] = replace(made[2], short=SHORT)
    pair[1].side = replace(pair[1].side, measures=replace(pair[1].side.measures, short=SHORT))
    times[1] = replace(times[1], measures=replace(times[1].measures, short=SHORT))
    for (said, *more), whose in zip(doubts(), (made[2].name, "low sun", "12:00"), strict=True):
        assert said.startswith(f"{whose}: {SAID}") and more == []


def test_ticks_are_round_and_take_everything_in():
    """Steps of 1, 2, 5 and the like, from below the least to above the most."""
    ticks = study_sheet._ticks([-5.5, 0.0], (0.5, 1, 2, 3))
    assert ticks[0] <= -5.5 and ticks[-1] == 0.0
    assert np.allclose(np.diff(ticks), ticks[1] - ticks[0])
    assert study_sheet._ticks([np.nan], (1, 2), low=0)[0] == 0


def test_a_match_says_point_by_point():
    """The verdict is set large; what differs has its difference, its limit and what to change."""
    pair = shots()
    compared = points(pair)
    verdict = match.verdict(compared)
    words = words_of(match_sheet.match_blocks(pair, compared, verdict, SETTING, CAUTIONS))
    assert {verdict, "+1.0 stops", "0.5 stops", "differs", "1 stop", "in neither", "0°", "close low sun",
            "Cautions"} <= set(words)


def test_a_day_lays_out():
    """Every time has its picture, its row and its place on the plot."""
    words = words_of(day(hours()))
    assert words.count("08:00") == 3
    assert "sun 4° under the horizon" in words
    # 900 lx of 1000 is log2(10) = 3.3 stops.
    assert "+3.3" in words
    assert any("lifts the face by a stop or more at 08:00; at 12:00" in text for text in words)
    with pytest.raises(ValueError, match="at least one time"):
        day([])


def test_a_haze_ladder_says_how_far_one_sees():
    """A beam of 0.03 /m loses 0.43 stops in 10 m, and leaves 2 % of a black thing's contrast at 130 m.

    exp(-0.03 · 10) is 0.741, log2 of it -0.433; -ln(0.02) / 0.03 is 130.4.
    """
    made = ladder()
    canvas = drawn(haze_sheet.ladder_blocks(made, SETTING), SETTING)
    assert faults(canvas) == [] and on_pictures(canvas) == []
    # Each density has its picture, and the haze alone under it.
    assert len(canvas.pictures) == 2 * len(made.steps)
    assert {"0.03 /m · one sees 130 m", "130", "−0.4", "no haze", "no light", "rendered anew",
            "± 0.1"} <= set(canvas.words)
    with pytest.raises(ValueError, match="at least one density"):
        haze_sheet.ladder_blocks(replace(made, steps=()), SETTING)


def test_a_haze_ladder_of_many_steps_goes_on_in_further_rows():
    """Not more than four pictures stand side by side."""
    canvas = drawn(haze_sheet.ladder_blocks(ladder(6), SETTING), SETTING)
    assert len({round(box.left) for box in canvas.pictures}) == 4 and len(canvas.pictures) == 12
    assert faults(canvas) == []


def test_scopes_stand_with_the_still(tmp_path):
    """Scales are named, words keep clear of each other, and the file is a PNG of its width."""
    words = words_of(scopes.scopes_blocks(picture(), SETTINGS, SETTING, title="Cabin", subject="A"))
    assert {"luminance of the scene", "signal of the picture", "colours of the scene", "as shown",
            "3200 K"} <= set(words)
    scopes.write_scopes(tmp_path / "scopes.png", picture(), SETTINGS, title="Cabin", subject="A",
                        words={"Title": "Cabin"}, width=1600)
    with Image.open(tmp_path / "scopes.png") as image:
        assert image.size[0] == 1600


@pytest.mark.parametrize("count", [1, 2, 3, 6, 7])
def test_mood_frames_have_titles_and_no_numbers(count):
    """One page for up to a handful of frames; nothing but titles is written."""
    frames = (mood_frames() * 3)[:count]
    setting = Setting(2000)
    blocks = mood_sheet.mood_blocks(frames, setting, title="The depot", subtitle="For the director")
    words = set(words_of(blocks, setting))
    assert words == {"The depot", "For the director", *(title for title, _ in FRAMES[:count])}
    assert not any(re.search(r"\d", text) for text in words)
    # A4 lying is 1 : 1.414.
    assert sum(b.height for b in blocks) + 2 * setting.margin <= 2000 / 1.414 + 1
    with pytest.raises(ValueError, match="at least one frame"):
        mood_sheet.mood_blocks([], setting, title="t")


class Reader(HTMLParser):
    def __init__(self):
        super().__init__()
        self.addresses, self.titles, self.inside = [], [], None

    def handle_starttag(self, tag, attrs):
        found = dict(attrs)
        self.addresses += [found[k] for k in ("src", "href", "data", "poster") if found.get(k)]
        self.inside = tag

    def handle_data(self, data):
        if self.inside == "figcaption" and data.strip():
            self.titles.append(data)


def test_the_page_asks_nothing_of_any_network():
    """Every address in the page is data inside it, and its own rules forbid anything else."""
    page = mood_sheet.mood_page(mood_frames(), title="The depot", subtitle="x", software="previz")
    reader = Reader()
    reader.feed(page)
    assert len(reader.addresses) == 3
    assert all(each.startswith("data:image/jpeg;base64,") for each in reader.addresses)
    assert not re.search(r"(?:https?:)?//[a-z]", re.sub(r"base64,[A-Za-z0-9+/=]+", "", page))
    assert "@import" not in page and "default-src 'none'" in page
    assert reader.titles == [title for title, _ in FRAMES]
    assert "The <lamp>" not in page and "The &lt;lamp&gt; &amp; &quot;he&quot;" in page


def test_mood_files_are_written(tmp_path):
    """PNG, PDF and HTML of one stem."""
    written = mood_sheet.write_mood(tmp_path / "mood", mood_frames(), {"Title": "d"}, title="d",
                                    width=1400)
    assert [p.name for p in written] == ["mood.png", "mood.pdf", "mood.html"]
    assert all(p.stat().st_size > 1000 for p in written)
