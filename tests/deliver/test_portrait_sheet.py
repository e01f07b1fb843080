"""The portrait sheet: every placement with its numbers, and what is in doubt."""

from dataclasses import replace

import pytest
from drawn import drawn, faults, on_pictures
from PIL import Image
from samples import LONG, PLACEMENTS, portrait_row

from previz.deliver.layout import Setting
from previz.deliver.portrait_sheet import (
    PortraitRow,
    face_texts,
    portrait_blocks,
    write_portrait_sheet,
)
from previz.exposure.faces import FaceLight
from previz.exposure.metering import Measured
from previz.frames.records import Short


def draw(rows, width=2400, **more):
    setting = Setting(width)
    words = {"title": "Portrait: person one", "subject": "T8", "note": "Every lamp gives. " * 12}
    return drawn(portrait_blocks(rows, setting, **{**words, **more}), setting)


@pytest.mark.parametrize("width", [1000, 2400])
@pytest.mark.parametrize("count", [1, 3])
def test_long_words_stay_clear_of_each_other(width, count):
    """No word runs into another, off the sheet or over a picture, however long names are."""
    rows = [portrait_row(f"row {n}", LONG * 2) for n in range(count)]
    cells = [tuple(replace(cell, words=LONG) for cell in row.cells) for row in rows]
    canvas = draw([replace(row, cells=each) for row, each in zip(rows, cells, strict=True)], width,
                  title="Portrait " * 18, subject="T8 " * 90)
    assert faults(canvas) == [] and on_pictures(canvas) == []


def test_every_placement_is_shown_and_named():
    """Head and eyes stand over the placement's name, and both sides and ratios under it."""
    canvas = draw([portrait_row("hard"), portrait_row("soft")])
    for name in PLACEMENTS:
        assert canvas.words.count(name) == 2
    # 235.2 lx is one stop over the working 117.6 lx (250 · 2.8² · 48 / 800), 14.7 lx three under.
    for words in ("lit side 235 lx, +1.0", "shadow side 14.7 lx, −3.0", "lit : shadow 16.0 : 1",
                  "key alone : fill 15.0 : 1"):
        assert canvas.words.count(words) == 12
    names = [box for box in canvas.boxes if box.text in PLACEMENTS]
    for number, box in enumerate(names):
        head, eyes = (canvas.pictures[2 * number + k] for k in (0, 1))
        assert head.bottom < eyes.top < eyes.bottom < box.top
        assert head.left == eyes.left == pytest.approx(box.left, abs=4)


def test_a_side_that_fell_short_is_named_with_its_row_and_placement():
    """Under all pictures, before what the numbers mean; a sheet of good readings says nothing."""
    hard, soft = portrait_row("hard"), portrait_row("soft")
    cells = list(soft.cells)
    cells[2] = replace(cells[2], short=(Short("shadow side", 0.38, True),))
    words = " ".join(draw([hard, replace(soft, cells=tuple(cells))]).words)
    assert ("soft, side: shadow side is at 38 %, on few paths: not to be trusted better than ± 76 %."
            in words)
    assert words.index("is at 38 %") < words.index("Every lamp gives")
    assert "is at" not in " ".join(draw([hard, soft]).words)


def test_a_face_without_a_key_side_is_even():
    """A lamp over the lens lights both sides alike: no ratio of nothing to one is written."""
    alike = FaceLight("subject", "left", Measured(665.0, 5.0), Measured(650.0, 5.0))
    cell = replace(portrait_row("hard").cells[0], face=alike)
    assert face_texts(cell)[2:] == ("lit : shadow 1.0 : 1", "key alone : fill even")


def test_the_file_is_a_picture_of_the_requested_width(tmp_path):
    """One PNG that says what it is."""
    write_portrait_sheet(tmp_path / "portrait.png", [portrait_row("hard")], title="Portrait",
                         subject="T8", note="Every lamp gives.", words={"Title": "Portrait"}, width=1200)
    with Image.open(tmp_path / "portrait.png") as image:
        assert image.size[0] == 1200 and image.text == {"Title": "Portrait"}


@pytest.mark.parametrize(("rows", "words"), [
    ((), "at least one row"),
    ((PortraitRow("hard", "", ()),), "at least one row with a placement"),
    ((portrait_row("hard"), portrait_row("soft", names=PLACEMENTS[:5])), "the same placements"),
])
def test_sheets_that_cannot_be_drawn(rows, words):
    """A sheet without pictures, or of unlike rows, is refused in words."""
    with pytest.raises(ValueError, match=words):
        draw(rows)
