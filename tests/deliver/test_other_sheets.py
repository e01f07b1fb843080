"""The sheets of a study, a match, a day and a mood, and a still with its scopes."""

import importlib.util
import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from PIL import Image

from previz.deliver import match_sheet, mood_sheet, scopes, study_sheet, times_sheet
from previz.deliver.pages import Setting, stacked
from previz.exposure import display
from previz.exposure.camera import expose, signal_luminance
from previz.exposure.comparing import match
from previz.exposure.comparing import measures as comparing
from previz.exposure.comparing.day import Hour, outside_lamp
from previz.exposure.comparing.wrap import Ring, Step, ring_angles
from previz.exposure.metering import CameraNote, Measured
from previz.exposure.mix import mix_xyz
from previz.frames.records import Short

spec = importlib.util.spec_from_file_location("deliver_pages_again",
                                              Path(__file__).with_name("test_pages.py"))
pages = importlib.util.module_from_spec(spec)
spec.loader.exec_module(pages)


@pytest.fixture(scope="module")
def picture(synthetic):
    """The synthetic scene, mixed and shown."""
    from previz.physics.exposure import CameraSettings

    settings = CameraSettings(stop=2.8, iso=800, shutter_s=1 / 48, white_balance=5600)
    frames = synthetic.frames(54, 96)
    xyz = mix_xyz(frames, synthetic.lamps())
    linear = expose(xyz, settings)
    return SimpleNamespace(xyz=xyz, linear=linear, signal=signal_luminance(xyz, settings),
                           still=display.show_8bit(linear), frames=frames)


def look(settings, lit=1000.0, **more):
    face = comparing.FaceLight("clerk", "left", Measured(lit, 9), Measured(200.0, 2), 3200.0, 0.0)
    key = comparing.KeySource(("key",), "card", 0.9, 33.4, 31.0, -48.0, 30.0, 40.0, 0.036, 0.06)
    return comparing.ShotMeasures("", "A", settings, face, key, comparing.Area("wall", -1.8), **more)


def step(kind, size, distance, loss):
    angles = ring_angles(24)
    lux = 1000 * 2.0**loss * (0.05 + np.maximum(np.cos(np.radians(angles)), 0))
    return Step(kind, size, distance, Ring(angles, lux), loss, 30 * size / distance,
                30 * size / distance, 0.02 * size, 60.0, 85.0, -2.0, 0.4)


def study(steps, camera=None):
    return SimpleNamespace(title="Signal cabin", option="bounce", lamp="key", kind="ellipsoidal",
                           figure="clerk", steps=tuple(steps), left_out=("board 9 m left out: no",),
                           spill="back wall", throw=4.0, camera=camera)


def ladder():
    return [step("direct", 0.2, 4.0, 0.0),
            *(step(kind, size, distance, -2.0 - distance + size) for kind in ("frame", "board")
              for distance in (1.0, 2.0) for size in (0.6, 1.2, 2.4))]


def test_a_study_lays_out_and_says_what_it_found(picture, settings):
    """Plots and table hold every way; 4 stops less need 16 times the output."""
    steps = [*ladder(), step("board", 4.0, 2.0, -4.0)]
    examples = [study_sheet.Example(steps[0].name, picture.still)]
    setting = Setting(2400)
    camera = CameraNote("A", settings)
    paper = stacked(study_sheet.study_blocks(study(steps, camera), examples, setting), setting)
    assert pages.faults(paper) == []
    words = [b.text for b in paper.boxes]
    # 1050 lx straight at the meter, over the working 117.6 lx (250 · 2.8² · 48 / 800).
    assert "brightest" in words and "lx, then stops at A" in words and "+3.2" in words
    assert [words.count(each.name) >= 1 for each in steps] == [True] * len(steps)
    assert "16.0 ×" in words and "60°; 85°" in words
    assert any(text.startswith("Left out: board 9 m, no") for text in words)


def test_a_study_of_one_way_still_lays_out():
    """Nothing but the direct way, and no pictures."""
    setting = Setting(1800)
    paper = stacked(study_sheet.study_blocks(study([step("direct", 0.2, 4.0, 0.0)]), (), setting),
                    setting)
    assert pages.faults(paper) == []
    with pytest.raises(ValueError, match="at least one way"):
        study_sheet.study_blocks(study([]), (), setting)


SHORT = (Short("clerk: left cheek", 0.04, True),)
SAID = "clerk: left cheek is at 4 %, on few paths: not to be trusted better than ± 8 %. Few paths:"


def told_of(blocks, setting):
    """Return the words of a sheet about readings that fell short; nothing may run into them."""
    paper = stacked(blocks, setting)
    assert pages.faults(paper) == []
    return [box.text for box in paper.boxes if "is at" in box.text]


def test_each_sheet_owns_up_to_readings_on_few_paths(picture, settings):
    """Study, match and day say whose reading is not to be trusted, under the table; else nothing."""
    setting = Setting(2200)
    steps, pair, day = ladder(), shots(picture, settings), hours(settings, picture)

    def all_told():
        return [told_of(blocks, setting) for blocks in (
            study_sheet.study_blocks(study(steps), (), setting),
            match_sheet.match_blocks(pair, [match.Point("sky", "sky", "a", "a", None, 1.0)], "They cut.",
                                     setting),
            times_sheet.times_blocks(day, setting, title="Shed", subject="2026-09-22", distance=8.0,
                                     least=1.0))]

    assert all_told() == [[], [], []]
    steps[2] = replace(steps[2], short=SHORT)
    pair[1].side = replace(pair[1].side, measures=replace(pair[1].side.measures, short=SHORT))
    day[1] = replace(day[1], measures=replace(day[1].measures, short=SHORT))
    for (said, *more), whose in zip(all_told(), (steps[2].name, "low sun", "12:00"), strict=True):
        assert said.startswith(f"{whose}: {SAID}") and more == []


def test_ticks_are_round_and_take_everything_in():
    """Steps of 1, 2, 5 and the like, from below the least to above the most."""
    ticks = study_sheet._ticks([-5.5, 0.0], (0.5, 1, 2, 3))
    assert ticks[0] <= -5.5 and ticks[-1] == 0.0
    assert np.allclose(np.diff(ticks), ticks[1] - ticks[0])
    assert study_sheet._ticks([np.nan], (1, 2), low=0)[0] == 0


def shots(picture, settings, **second):
    made = []
    for name, lit in (("overcast", 1000.0), ("low sun", second.get("lit", 1000.0))):
        side = match.Side(name, look(settings, lit), 2.0, -1.0)
        made.append(SimpleNamespace(side=side, title="Engine shed", still=picture.still,
                                    signal=picture.signal, things=picture.frames.names_index,
                                    face=(0.2, 0.3)))
    return made


def test_a_match_tells_point_by_point(picture, settings):
    """The verdict is set large; what is apart is named with its difference and what to change."""
    pair = shots(picture, settings, lit=2000.0)
    gap = match.differences(pair[0].side, pair[1].side)["face"]
    points = [match.Point("face", "lit side", "+3.1", "+4.1", gap, 0.5, "close low sun"),
              match.Point("sky", "sky", "not in the frame", "not in the frame", None, 1.0),
              match.Point("mired", "colour", "3200 K", "3200 K", -0.2, 15.0),
              match.Point("direction", "key direction", "48° left", "48° left", 0.0, 30.0)]
    setting = Setting(2000)
    words = match.verdict(points)
    paper = stacked(match_sheet.match_blocks(pair, points, words, setting, ("Planning aid.",)),
                    setting)
    assert pages.faults(paper) == []
    told = [b.text for b in paper.boxes]
    assert words in told
    assert "+1.0 stops" in told and "0.5 stops" in told and "differs" in told
    assert "1 stop" in told and "in neither" in told and "0°" in told
    assert "close low sun" in told


def hours(settings, picture):
    made = []
    for number, (label, sun) in enumerate((("08:00", 900.0), ("12:00", 80.0), ("20:00", 0.0))):
        lamp = outside_lamp("great door", 60e3, 8.0, 4.0) if sun else None
        made.append(Hour(label, 8.0 + 4 * number, 20.0 if sun else -4.0, 100.0 + 60 * number,
                         look(settings, 1000.0), picture.still, sun, 90.0, 10.0, lamp))
    return made


def test_a_day_lays_out(picture, settings):
    """Every time has its picture, its row and its place on the plot."""
    setting = Setting(2200)
    blocks = times_sheet.times_blocks(hours(settings, picture), setting, title="Shed",
                                      subject="2026-09-22", distance=8.0, least=1.0)
    paper = stacked(blocks, setting)
    assert pages.faults(paper) == []
    words = [b.text for b in paper.boxes]
    assert words.count("08:00") == 3
    assert "sun 4° under the horizon" in words
    # 900 lx of 1000 is log2(10) = 3.3 stops.
    assert "+3.3" in words
    assert any("lifts the face by a stop or more at 08:00; at 12:00" in text for text in words)
    with pytest.raises(ValueError, match="at least one time"):
        times_sheet.times_blocks([], setting, title="", subject="", distance=8.0, least=1.0)


def test_scopes_stand_beside_the_still(picture, settings, tmp_path):
    """The still is whole on the sheet, words stay apart, and the file is written."""
    setting = Setting(2000)
    paper = stacked([scopes.scopes_block(picture, settings, setting)], setting)
    assert pages.faults(paper) == []
    scopes.write_scopes(tmp_path / "scopes.png", picture, settings, title="Cabin", subject="A",
                        words={"Title": "Cabin"}, width=1600)
    with Image.open(tmp_path / "scopes.png") as image:
        assert image.size[0] == 1600


FRAMES = [("Last light", 120), ("The <lamp> & \"he\"", 60), ("Low sun", 200)]


def mood_frames():
    return [mood_sheet.MoodFrame(title, np.full((60, 143, 3), level, np.uint8))
            for title, level in FRAMES]


@pytest.mark.parametrize("count", [1, 2, 3, 6, 7])
def test_mood_frames_have_titles_and_no_numbers(count):
    """One page for up to a handful of frames; nothing but titles is written."""
    frames = (mood_frames() * 3)[:count]
    setting = Setting(2000)
    blocks = mood_sheet.mood_blocks(frames, setting, title="The depot", subtitle="For the director")
    paper = stacked(blocks, setting)
    assert pages.faults(paper) == []
    words = {b.text for b in paper.boxes}
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
    """PNG, PDF and HTML beside each other."""
    written = mood_sheet.write_mood(tmp_path / "mood", mood_frames(), {"Title": "d"}, title="d",
                                    width=1400)
    assert [p.name for p in written] == ["mood.png", "mood.pdf", "mood.html"]
    assert all(p.stat().st_size > 1000 for p in written)
