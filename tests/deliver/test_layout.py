"""Blocks, papers and plots: one layout for the screen and for print."""

import re
import zlib

import numpy as np
import pytest
from drawn import cut, drawn, faults, on_pictures
from PIL import Image
from samples import LONG, picture

from previz.deliver.canvas import Canvas, dashes
from previz.deliver.layout import (
    A4,
    Block,
    Setting,
    definitions,
    foot,
    heading,
    paged,
    paragraph,
    scale,
    space,
    subheading,
    write_sheet_files,
)
from previz.deliver.map import exposure_map
from previz.deliver.pdf import pdf_bytes
from previz.deliver.plates import Plate, plate_rows
from previz.deliver.plots import Panel
from previz.exposure.falsecolour import stop_bands

TERMS = [("Ratio", LONG), ("Nose edge", LONG * 3), ("Load", "of all lamps")]


def plates(count, **more):
    """Plates of a still and a map each."""
    made = picture(45, 80)
    chart = exposure_map(made.signal, made.frames.names_index)
    return [Plate(([made.still, chart],), **more) for _ in range(count)]


def everything(setting):
    """One block of each sort."""
    return [heading(setting, LONG + LONG, LONG, "T2.8 · ISO 800"), subheading(setting, "Part", LONG),
            *plate_rows(setting, plates(3, name=LONG, note=LONG, under=(LONG, "second line")), 2),
            scale(setting, "stops from 18 % grey", stop_bands()), paragraph(setting, f"{LONG}. " * 6),
            space(20), *foot(setting, TERMS, "A note.", LONG)]


@pytest.mark.parametrize("width", [1000, 2600])
def test_words_stay_on_the_paper_and_clear_of_each_other(width):
    """No text leaves the sheet, touches another or lies on a picture at either width."""
    setting = Setting(width)
    canvas = drawn(everything(setting), setting)
    assert canvas.size[0] == width
    assert faults(canvas) == [] and on_pictures(canvas) == []
    assert {"T2.8 · ISO 800", "A note.", "second line", "Ratio"} <= set(canvas.words)


def test_plates_stand_in_rows():
    """Two across and three in all are two rows, alike in width, each picture in its own shape."""
    setting = Setting(1100)
    blocks = plate_rows(setting, plates(3, name="bounce"), 2, between=2.0, gap=1.0)
    canvas = drawn(blocks, setting)
    assert len(blocks) == 2 and canvas.words == ["bounce"] * 3
    # Inner width 1052 px less 20 px between: plates of 516 px with two pictures 10 px from each other.
    lefts = [24, 24 + 263, 24 + 536, 24 + 536 + 263]
    assert [round(each.left) for each in canvas.pictures] == [*lefts, *lefts[:2]]
    assert {round(each.right - each.left) for each in canvas.pictures} == {253}
    assert {round(each.bottom - each.top) for each in canvas.pictures} == {round(253 * 45 / 80)}
    still, chart = canvas.pictures[:2]
    assert still.top == chart.top == pytest.approx(24 + 20)


def test_rows_of_a_plate_are_as_wide_as_the_plate():
    """A wide picture over two small ones: both rows end where the plate does."""
    setting, made = Setting(1100), picture(45, 80)
    row, = plate_rows(setting, [Plate(([made.still], [made.still, "the base"]))], 1)
    canvas = drawn([row], setting)
    wide, small = canvas.pictures
    assert wide.right - wide.left == 1052 and small.left == wide.left
    assert small.top == wide.bottom + 6 and canvas.words == ["the base"]
    assert small.right - small.left == pytest.approx((1052 - 6) / 2)


def test_one_name_in_a_row_makes_room_for_all():
    """A row of which one plate has a name is as high as one of named plates; pictures stand level."""
    setting = Setting(1100)
    named, bare = plates(1, name="bounce"), plates(1)
    one, both, none = (plate_rows(setting, row, 2)[0] for row in (named + bare, named * 2, bare * 2))
    assert one.height == both.height > none.height
    tops = {each.top for each in drawn([one], setting).pictures}
    assert len(tops) == 1


def test_what_is_said_under_a_plate_is_said_whole():
    """Lines too long for the plate go on in a further line; the row is as much higher."""
    setting = Setting(1000)
    short, long = (plate_rows(setting, plates(4, below="low sun", under=(words,)), 4)
                   for words in ("key 33° wide", LONG))
    canvas = drawn(long, setting)
    assert cut(canvas) == [] and LONG in " ".join(canvas.words[1:]) and canvas.words[0] == "low sun"
    assert long[0].height > short[0].height


def test_what_dots_divide_breaks_at_a_dot():
    """No number is parted from its name by the end of a line."""
    items = ["lit side +3.1", "shadow side +0.8", "lit : shadow 5.0 : 1", "background −1.8"]
    for across in range(2, 9):
        words = drawn(plate_rows(Setting(1000), plates(1, under=(" · ".join(items),)), across),
                      Setting(1000)).words
        assert [item for line in words for item in line.split(" · ")] == items, across


def test_a_map_of_the_dark_says_so_on_any_sheet():
    """Where no light comes to the lens the map has words on it, as the map's own file has."""
    setting = Setting(1600)
    chart = exposure_map(np.zeros((90, 160)))
    assert drawn(plate_rows(setting, [Plate(([chart],))], 3), setting).words == ["no light"]


def test_blocks_are_not_torn_and_keep_their_order():
    """Pages take whole blocks in order; one that is too high has a page of its own."""
    setting = Setting(1000)
    blocks = [Block(h, lambda *_: None) for h in (300, 300, 300, 2000, 100)]
    pages = paged(blocks, setting, 800)
    assert [[b.height for b in page] for page in pages] == [[300, 300], [300], [2000], [100]]


def test_dashes_cover_what_they_should():
    """Dashes of 3 with gaps of 2 along 10 leave 6 drawn, corners kept."""
    pieces = list(dashes(np.array([[0.0, 0], [4, 0], [4, 6]]), (3, 2)))
    lengths = [np.linalg.norm(np.diff(p, axis=0), axis=1).sum() for p in pieces]
    assert lengths == pytest.approx([3, 3])
    # The second begins at 5: past the corner at 4.
    assert pieces[1][0] == pytest.approx([4, 1])
    assert len(list(dashes(np.zeros((2, 2)), None))) == 1


def test_lines_and_dots_are_drawn_where_they_are():
    """A stroke and a disc darken the paper along them and nowhere else."""
    paper = Canvas(60, 40)
    blank = np.asarray(paper.image).copy()
    paper.stroke([(10, 20), (50, 20)], (0, 0, 0), 2)
    paper.dot((30, 8), 4, (200, 0, 0), (0, 0, 0))
    changed = np.any(np.asarray(paper.image) != blank, axis=2)
    assert changed[20, 12:48].all() and changed[8, 30]
    rows, columns = np.nonzero(changed)
    assert rows.min() >= 3 and rows.max() <= 22 and columns.min() >= 8 and columns.max() <= 52
    assert tuple(np.asarray(paper.image)[8, 30]) == (200, 0, 0)


def test_a_plot_puts_values_where_its_scale_says():
    """Ends of the scales are the edges of the ground; a logarithmic middle is the mean of both."""
    panel = Panel(Canvas(400, 300), (50, 40, 350, 240), (0.5, 8.0), (-4, 2), 12, log=True)
    assert (panel.x(0.5), panel.x(8.0), panel.x(2.0)) == pytest.approx((50, 350, 200))
    assert (panel.y(-4), panel.y(2), panel.y(-1)) == pytest.approx((240, 40, 140))


def test_names_of_lines_do_not_lie_on_each_other():
    """Lines that end at one place have their names one under the other."""
    paper = Canvas(500, 300)
    panel = Panel(paper, (50, 40, 350, 240), (0, 1), (0, 1), 14)
    for number in range(5):
        panel.name_end(1, 0.02 * number, f"board {number} m")
    panel.settle_names()
    assert len(paper.boxes) == 5 and faults(paper) == []


def test_a_line_that_leaves_the_ground_has_its_name_next_to_the_ground():
    """A value far over the scale is held to its upper edge, and so is the name."""
    named = []
    paper = type("Words", (), {"text": lambda self, at, text, *_, **__: named.append((at, text))})()
    panel = Panel(paper, (100, 200, 300, 260), (0, 1), (0, 1), 10)
    panel.name_end(1, 9.0, "far over")
    panel.name_end(1, 0.5, "inside")
    panel.settle_names()
    assert [round(at[1] - 3.5) for at, _ in named] == [200, 230]


def test_names_keep_clear_of_lines():
    """Next to its line's end where that is free, else next to the ground, which no line leaves."""
    named = {}
    paper = type("Words", (), {"text": lambda self, at, text, *_, **__: named.update({text: at}),
                               "stroke": lambda *_: None})()
    panel = Panel(paper, (0, 0, 500, 200), (0, 1), (0, 1), 10)
    # A level line under the name of one that ends before it, one that climbs through the name of
    # another, and one that ends clear of both.
    panel.line((0, 1), (0.1, 0.1), dash=(6, 4))
    panel.line((0.3, 0.5), (0.2, 0.9))
    for x, y, name in ((0.4, 0.12, "on the dashes"), (0.3, 0.5, "on the climb"), (0.6, 0.7, "free"),
                       (0.97, 0.95, "over the edge")):
        panel.name_end(x, y, name)
    panel.settle_names()
    assert {name: round(at[0]) for name, at in named.items()} == {
        "on the dashes": 506, "on the climb": 506, "free": 306, "over the edge": 506}


def test_densities_darken_with_what_is_there():
    """More is darker, nothing is the ground, and three inks over each other are near black."""
    paper = Canvas(120, 60)
    panel = Panel(paper, (10, 10, 110, 50), (0, 1), (0, 1), 10)
    shares = np.zeros((40, 100, 3))
    shares[:, 20:40] = 1.0
    shares[:, 60:80] = 0.2
    panel.density(shares, ((200, 40, 30), (40, 140, 50), (40, 70, 200)))
    pixels = np.asarray(paper.image, int).sum(axis=2)
    assert pixels[30, 40] < pixels[30, 80] < pixels[30, 14]
    assert pixels[30, 40] < 120


def shown(pdf):
    """Return how often a PDF's pages set text (ISO 32000-1, 9.4.3: the operator Tj)."""
    count = 0
    for stream in re.findall(rb"stream\r?\n(.*?)endstream", pdf, re.S):
        try:
            count += len(re.findall(rb"\bTj\b", zlib.decompressobj().decompress(stream)))
        except zlib.error:
            continue
    return count


def test_print_keeps_text_as_text_with_its_face():
    """A PDF holds the face and a map back to letters, and sets each word as text."""
    setting = Setting(1600)
    blocks = everything(setting)
    made = pdf_bytes(paged(blocks, setting, 1131), setting, {"Title": "Canteen"}, A4)
    assert made.startswith(b"%PDF-") and made.rstrip().endswith(b"%%EOF")
    assert b"/FontFile2" in made and b"/ToUnicode" in made and b"Lato" in made
    # Page numbers come on top where there is more than one page.
    assert shown(made) >= len(drawn(blocks, setting).boxes)
    assert b"Canteen" in made


def test_print_has_its_pages():
    """Blocks that do not fit go on a new page."""
    setting = Setting(1600)
    # A4 lying is 1131 px high at this width: one block of 900 a page.
    made = pdf_bytes(paged([Block(900, lambda *_: None)] * 3, setting, 1131), setting, {}, A4)
    assert len(re.findall(rb"/Type /Page\b", made)) == 3


def test_files_are_the_same_each_time(tmp_path):
    """A PNG of the requested width and a PDF, byte for byte the same twice; without a page no PDF."""
    setting = Setting(1000)
    one, two = (write_sheet_files(tmp_path / name / "sheet", everything(setting), setting,
                                  {"Title": "Cabin"}) for name in ("a", "b"))
    assert [path.name for path in one] == ["sheet.png", "sheet.pdf"]
    assert all(a.read_bytes() == b.read_bytes() for a, b in zip(one, two, strict=True))
    with Image.open(one[0]) as image:
        assert image.size[0] == 1000 and image.text == {"Title": "Cabin"}
    alone = write_sheet_files(tmp_path / "c.png", everything(setting), setting, {}, None)
    assert alone == [tmp_path / "c.png"] and not (tmp_path / "c.pdf").exists()


def test_terms_keep_their_meaning_under_them():
    """Every term is set once, over its own words, in columns that begin at one height."""
    setting = Setting(2000)
    canvas = drawn([definitions(setting, TERMS)], setting)
    at = {box.text: box for box in canvas.boxes}
    assert {term for term, _ in TERMS} <= set(at)
    assert at["of all lamps"].left == pytest.approx(at["Load"].left, abs=2)
    assert at["of all lamps"].top > at["Load"].bottom
