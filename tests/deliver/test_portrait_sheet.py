"""The portrait sheet: every word inside the paper and clear of the others, whatever it says."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from previz.deliver.portrait_sheet import (
    PortraitCell,
    PortraitRow,
    draw_portrait_sheet,
    face_texts,
)
from previz.exposure.faces import FaceLight
from previz.exposure.metering import Measured
from previz.frames.records import Short
from previz.physics.exposure import CameraSettings

SETTINGS = CameraSettings(stop=2.8, iso=800, shutter_s=1 / 48)
FACE = FaceLight("subject", "right", Measured(235.2, 2.0), Measured(14.7, 0.2))
NAMES = ("frontal", "45° high", "side", "three-quarter back", "under", "overhead")


def row(name, words="a lens of 12 cm at 2 m", names=NAMES):
    cells = tuple(
        PortraitCell(each, f"{each}, in words that go on for longer than there is room",
                     np.full((250, 200, 3), 40 * n, np.uint8),
                     np.full((77, 200, 3), 255 - 40 * n, np.uint8), FACE, SETTINGS)
        for n, each in enumerate(names))
    return PortraitRow(name, words, cells)


def draw(rows, **more):
    words = {"title": "Portrait: person one", "subject": "T8", "note": "Every lamp gives. " * 12}
    return draw_portrait_sheet(rows, **{**words, **more})


@pytest.mark.parametrize("width", [1000, 2400])
@pytest.mark.parametrize("count", [1, 2, 3])
def test_words_stay_apart_and_on_the_paper(width, count):
    """No word runs into another or off the sheet, from the least width on."""
    canvas = draw([row(f"row {n}", "a source " * 18) for n in range(count)], width=width,
                  title="Portrait " * 18, subject="T8 " * 90)
    wide, high = canvas.size
    for box in canvas.boxes:
        assert box.left >= 0 and box.right <= wide and box.top >= 0 and box.bottom <= high, box
    for one, other in combinations(canvas.boxes, 2):
        apart = (one.right <= other.left or other.right <= one.left
                 or one.bottom <= other.top or other.bottom <= one.top)
        assert apart, (one, other)


def test_every_placement_is_shown_and_named():
    """Each picture lies over its own name, and no picture over a word."""
    canvas = draw([row("hard"), row("soft")])
    texts = [box.text for box in canvas.boxes]
    for name in NAMES:
        assert texts.count(name) == 2
    # 235.2 lx is one stop over the working 117.6 lx (250 · 2.8² · 48 / 800), 14.7 lx three under.
    for words in ("lit side 235 lx, +1.0", "shadow side 14.7 lx, −3.0", "lit : shadow 16.0 : 1",
                  "key alone : fill 15.0 : 1"):
        assert texts.count(words) == 12
    paper = np.asarray(canvas.image)
    for box in canvas.boxes:
        middle = paper[int(box.top) : int(box.bottom), int(box.left) : int(box.right)]
        # Every word stands on paper, which is lighter than any of these pictures' greys.
        assert np.median(middle) > 200, box


def test_a_side_that_fell_short_is_told_with_its_row_and_placement():
    """Under all pictures, before what the numbers mean; a sheet of good readings says nothing."""
    hard, soft = row("hard"), row("soft")
    cells = list(soft.cells)
    cells[2] = replace(cells[2], short=(Short("shadow side", 0.38, True),))
    canvas = draw([hard, replace(soft, cells=tuple(cells))])
    words = " ".join(box.text for box in canvas.boxes)
    assert ("soft, side: shadow side is at 38 %, on few paths: not to be trusted better than ± 76 %."
            in words)
    assert "is at" not in " ".join(box.text for box in draw([hard, soft]).boxes)
    assert canvas.size[1] > draw([hard, soft]).size[1]
    assert all(box.bottom <= canvas.size[1] for box in canvas.boxes)


def test_a_face_without_a_key_side_is_even():
    """A lamp over the lens lights both sides alike: no ratio of nothing to one is told."""
    alike = FaceLight("subject", "left", Measured(665.0, 5.0), Measured(650.0, 5.0))
    cell = replace(row("hard").cells[0], face=alike)
    assert face_texts(cell)[2:] == ("lit : shadow 1.0 : 1", "key alone : fill even")


@pytest.mark.parametrize(
    ("rows", "width", "told"),
    [
        ((), 2400, "at least one row"),
        ((PortraitRow("hard", "", ()),), 2400, "at least one row with a placement"),
        ((row("hard"),), 999, "1000 px wide or more, got 999"),
        ((row("hard"), row("soft", names=NAMES[:5])), 2400, "the same placements"),
    ],
)
def test_sheets_that_cannot_be_drawn(rows, width, told):
    """A sheet without pictures, too narrow, or of unlike rows is refused in words."""
    with pytest.raises(ValueError, match=told):
        draw(rows, width=width)
