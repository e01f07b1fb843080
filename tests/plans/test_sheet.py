"""A drawing set on a page: nothing overlaps, everything is there, the scale is the largest that fits."""

import sys
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

from previz.errors import RequestError
from previz.plans import lettering
from previz.plans.lengths import IMPERIAL, METRIC, SCALES
from previz.plans.records import PAGES, Disc, Drawing, Head, Key, Shape, Words
from previz.plans.sheet import MARGIN, compose, fitting_scale, page_said, room

# What tests of sheets and of their files share.
sys.path.insert(0, str(Path(__file__).parents[1] / "deliver"))

from drawings import HEAD, box, legend, room_drawing, sun_path  # noqa: E402

LONG = "Nachtschichtleiterinnenunterkunftsfensterbeleuchtungsersatzgerät " * 3
NOTES = tuple(f"Note {n}: keep hot lamps clear of cloth and paper, and let them cool before they are struck; "
              "whoever rigs decides what holds." for n in range(5))


def extent(mark):
    """Return the lower left and upper right corner of a mark of the furniture. [mm]"""
    if isinstance(mark, Words):
        points = lettering.corners(mark)
    elif isinstance(mark, Disc):
        points = np.add(mark.at, [[-mark.radius] * 2, [mark.radius] * 2])
    else:
        points = mark.points
    return np.min(points, axis=0), np.max(points, axis=0)


def meet(one, other):
    """Return whether two boxes have more in common than an edge."""
    return bool(np.all(np.minimum(one[1], other[1]) - np.maximum(one[0], other[0]) > 1e-6))


def faults(sheet):
    """Return what is wrong with how a sheet is set out, by boxes."""
    words = [mark for mark in sheet.furniture if isinstance(mark, Words)]
    lines = [mark for mark in sheet.furniture if isinstance(mark, Shape) and mark.part in ("frame", "rule")]
    rest = [mark for mark in sheet.furniture if mark not in words and mark not in lines]
    inner = (np.full(2, MARGIN), np.array(sheet.page) - MARGIN)
    found = [f"'{mark}' leaves the frame" for mark in (*words, *rest)
             if np.any(extent(mark)[0] < inner[0] - 1e-6) or np.any(extent(mark)[1] > inner[1] + 1e-6)]
    found += [f"'{one.text}' meets '{other.text}'" for one, other in combinations(words, 2)
              if meet(extent(one), extent(other))]
    found += [f"'{one.text}' meets a mark {other.part}" for one in words for other in rest
              if other.layer == "sheet" and other.name != one.name and meet(extent(one), extent(other))]
    found += [f"a line goes through '{one.text}'" for one in words for line in lines if line.part == "rule"
              and meet(extent(one), (line.points.min(0) - 1e-3, line.points.max(0) + 1e-3))]
    drawn = sheet.on_paper(np.array([sheet.drawing.low, sheet.drawing.high]))
    space = room(sheet.page)
    if np.any(drawn[0] < space[:2] - np.array(1e-3)) or np.any(drawn[1] > space[2:] + np.array(1e-3)):
        found.append("the drawing leaves its room")
    return found


def texts(sheet):
    return [mark.text for mark in sheet.furniture if isinstance(mark, Words)]


@pytest.mark.parametrize("page", PAGES)
@pytest.mark.parametrize("system, scale", [(METRIC, 50), (IMPERIAL, 48)])
def test_everything_is_on_the_page_and_clear(page, system, scale):
    """Title, subject, scale, paper, number, each key, each note; no box meets another."""
    sheet = compose(room_drawing(scale), PAGES[page], HEAD, legend(8), system=system, inset=sun_path())
    assert faults(sheet) == []
    assert {mark.layer for mark in sheet.furniture} == {"sheet"}
    told = " ".join(texts(sheet))
    for text in (HEAD.title, HEAD.subject, "Sheet 2 of 6", f"on {page_said(PAGES[page])}, at full size",
                 *HEAD.notes, *(key.text for key in legend(8))):
        assert text in told
    assert ("Scale 1:50" if system == METRIC else "Scale 1/4\" = 1' (1:48)") in told


@pytest.mark.parametrize("keys, notes, inset", [(0, 0, 0), (1, 0, 1), (14, 5, 1), (24, 9, 1), (30, 0, 1)])
def test_full_and_empty_columns_are_clear(keys, notes, inset):
    """What has no room in the column goes smaller, or to a corner that the drawing leaves free."""
    head = replace(HEAD, notes=(NOTES * 2)[:notes])
    sheet = compose(room_drawing(100), PAGES["a4"], head, legend(keys), system=METRIC,
                    inset=sun_path() if inset else ())
    assert faults(sheet) == []
    assert " ".join(texts(sheet)).count("Note ") == notes
    assert [isinstance(mark, Disc) and mark.radius == 18 for mark in sheet.furniture].count(True) == inset


def test_an_inset_in_a_corner_keeps_off_what_is_drawn():
    """With a full column the sun path goes beside the drawing, where no mark lies and no wall goes round."""
    head = replace(HEAD, notes=NOTES * 2)
    sheet = compose(room_drawing(100), PAGES["a4"], head, legend(20), system=METRIC, inset=sun_path())
    circle = next(mark for mark in sheet.furniture if isinstance(mark, Disc) and mark.radius == 18)
    assert circle.at[0] < room(PAGES["a4"]).right
    walls = sheet.on_paper(np.concatenate([m.points for m in sheet.drawing.marks if m.layer == "walls"]))
    assert not meet(extent(circle), (walls.min(0), walls.max(0)))


def test_words_that_have_no_room_are_an_error_in_words():
    """A page that notes and key would overfill is refused, and what to do is said."""
    with pytest.raises(RequestError, match="A4 has no room for the key and the notes of 'Plan") as told:
        compose(room_drawing(50), PAGES["a4"], replace(HEAD, notes=NOTES * 8), legend(40), system=METRIC)
    assert told.value.advice == "Take a larger page."


@pytest.mark.parametrize("head", [Head(LONG, LONG, LONG, (LONG,)), Head("", "", ""),
                                  Head('<b>&"quotes"</b>', "影の家, кабина", "1 of 1", ("a  b", ""))])
def test_odd_heads_are_set_clear(head):
    """Long words break, long titles end in an ellipsis; nothing leaves the frame."""
    sheet = compose(room_drawing(50), PAGES["a4"], head, [Key((box(-4, -2, 4, 2),), LONG)], system=METRIC)
    assert faults(sheet) == []
    assert any(text.endswith("…") for text in texts(sheet)) == (head.title == LONG)


def test_an_empty_drawing_has_its_sheet():
    sheet = compose(Drawing("plan", 50, (), (0, 0), (0, 0)), PAGES["a4"], HEAD, (), system=METRIC)
    assert faults(sheet) == [] and HEAD.title in texts(sheet)


@pytest.mark.parametrize("system", SCALES)
@pytest.mark.parametrize("page", PAGES)
def test_the_scale_is_the_largest_that_fits(system, page):
    """The drawing has room at it, and has none at the next larger one (ISO 5455: scales to choose from)."""
    wide, high = room(PAGES[page]).size
    for size in (0.3, 1.0, 4.0, 9.0, 31.0, 120.0):
        scale = fitting_scale((-1.0, 2.0), (-1.0 + size, 2.0 + size / 3), PAGES[page], system)
        assert 1000 * size / scale <= wide and 1000 * size / 3 / scale <= high
        larger = [each for each in SCALES[system] if each < scale]
        assert not larger or 1000 * size / larger[-1] > wide or 1000 * size / 3 / larger[-1] > high


def test_what_is_too_large_is_an_error_in_words():
    """2 km at 1:2000 are a metre of paper."""
    with pytest.raises(RequestError, match=r"2000\.00 m wide and 1\.00 m high: A4 has no room .* at 1:2000"):
        fitting_scale((0, 0), (2000, 1), PAGES["a4"], METRIC)
    with pytest.raises(RequestError, match="^At 1:10 the plan is larger than A4 has room for") as told:
        compose(room_drawing(10), PAGES["a4"], HEAD, (), system=METRIC)
    assert told.value.advice.startswith("Draw it at 1:50")


@pytest.mark.parametrize("system, scale, label, told", [
    (METRIC, 50, "2 m", "40 mm"),     # 2 m / 50 = 40 mm
    (METRIC, 20, "0.5 m", "25 mm"),   # 0.5 m / 20 = 25 mm; 1 m would be 50
    (METRIC, 200, "5 m", "25 mm"),
    (IMPERIAL, 48, "6'", '1 1/2"'),   # a quarter inch to the foot
    (IMPERIAL, 24, "3'", '1 1/2"'),   # half an inch to the foot
    (IMPERIAL, 12, "1'", '1"'),
    (IMPERIAL, 96, "12'", '1 1/2"'),  # an eighth
])
def test_the_scale_bar_is_as_long_as_it_says(system, scale, label, told):
    """On the page the bar has the length that its label has on the set, over the scale."""
    drawing = Drawing("plan", scale, (), (0, 0), (1, 1))
    sheet = compose(drawing, PAGES["a4"], HEAD, (), system=system)
    bar = np.concatenate([mark.points for mark in sheet.furniture
                          if isinstance(mark, Shape) and mark.part == "scale bar"])
    assert label in texts(sheet) and f"Measure the bar: at full size it is {told} long." in texts(sheet)
    feet = float(label[:-1]) * 0.3048 if system == IMPERIAL else float(label[:-2])
    assert np.ptp(bar[:, 0]) == pytest.approx(1000 * feet / scale, abs=1e-6)


def test_the_drawing_stands_in_the_middle():
    sheet = compose(room_drawing(50), PAGES["a3"], HEAD, legend(), system=METRIC)
    low, high = sheet.on_paper(np.array([sheet.drawing.low, sheet.drawing.high]))
    space = room(PAGES["a3"])
    assert (low + high) / 2 == pytest.approx([(space.left + space.right) / 2, (space.low + space.high) / 2],
                                             abs=0.01)


def test_pages_are_called_what_they_are():
    assert [page_said(size) for size in (PAGES["a3"], PAGES["letter"], (300, 200))] == [
        "A3", "Letter", "300 × 200 mm"]


@pytest.mark.parametrize("strong", [False, True])
def test_widths_of_lettering_are_those_of_the_face(strong):
    """Measured by the font library from the file of the face, with kerning; without it lines are wider."""
    from previz.deliver.canvas import width_of

    for text in ("Scale 1:50", "what hangs over the cut, or is hidden", "Ätna 3/8\" – 5600 K", "AVATAR To"):
        true = width_of(text, 1000, "strong" if strong else "regular") / 1000
        assert 0.999 * true <= lettering.width(text, 1.0, strong) <= 1.12 * true
    # Of letters that the table has not, no fewer than the face has.
    for text in ("кабина Щука", "Ωλμ"):
        assert lettering.width(text, 1.0) >= width_of(text, 1000) / 1000


def test_boxes_of_turned_lettering():
    """A quarter turn counter-clockwise takes what is right of the place to above it."""
    words = Words("names", (10.0, 20.0), "key", 2.0, turn=90.0)
    low, high = extent(words)
    assert low == pytest.approx([10 - lettering.ABOVE * 2, 20])
    assert high == pytest.approx([10 + lettering.BELOW * 2, 20 + lettering.width("key", 2.0)])
    in_metres = lettering.corners(replace(words, turn=0.0, align="right"), unit=0.05)
    assert in_metres[1] == pytest.approx([10.0, 20 - lettering.BELOW * 0.1])
