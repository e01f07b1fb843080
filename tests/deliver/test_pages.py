"""Blocks, papers, tables and plots: one layout for the screen and for print."""

import re
import zlib

import numpy as np
import pytest

from previz.deliver.compare_table import definitions, side_text, signed
from previz.deliver.pages import (
    Block,
    Paper,
    Setting,
    dashes,
    heading,
    paged,
    paragraph,
    space,
    stacked,
    subheading,
)
from previz.deliver.pdf import A4, pdf_bytes
from previz.deliver.plots import Panel
from previz.deliver.tables import Cell, Column, Table

LONG = "the version with the second lamp behind the partition, dimmed, and half blue on the window"


def faults(canvas):
    """Texts that leave the paper or run into each other."""
    width, height = canvas.size
    boxes = [b for b in canvas.boxes if b.text.strip()]
    out = [b.text for b in boxes
           if b.left < 0 or b.top < 0 or b.right > width or b.bottom > height]
    return out + [
        (a.text, b.text) for number, a in enumerate(boxes) for b in boxes[number + 1:]
        if a.left < b.right and b.left < a.right and a.top < b.bottom and b.top < a.bottom
    ]


def table(setting):
    """A table with groups, long words and two-line cells."""
    columns = [
        Column("option", "", 2, lambda row: row[0], align="left"),
        Column("lit side", "lx", 1, lambda row: str(row[1]), "Face"),
        Column("comes from", "", 2, lambda row: Cell(row[2], LONG), "Key", "left"),
        Column("hottest", "stops", 1, lambda row: Cell("+4.2", "tube two", strong=True)),
    ]
    return Table(setting, columns, [(LONG, 1200, "card"), ("direct", 5, LONG)]).blocks()


def everything(setting):
    """One block of each sort."""
    return [heading(setting, LONG + LONG, LONG, "T2.8 · ISO 800"),
            subheading(setting, "Part", LONG),
            paragraph(setting, f"{LONG}. " * 6), *table(setting), space(20), definitions(setting)]


@pytest.mark.parametrize("width", [1400, 2600])
def test_words_stay_on_the_paper_and_apart(width):
    """No text leaves the sheet or touches another at either width."""
    setting = Setting(width)
    paper = stacked(everything(setting), setting)
    assert paper.size[0] == width
    assert faults(paper) == []


def test_blocks_are_not_torn_and_keep_their_order():
    """Pages take whole blocks in order; one that is too high has a page of its own."""
    setting = Setting(1000)
    blocks = [Block(h, lambda *_: None) for h in (300, 300, 300, 2000, 100)]
    pages = paged(blocks, setting, 800)
    assert [[b.height for b in page] for page in pages] == [[300, 300], [300], [2000], [100]]


def rows(setting, count):
    """A table of one column with so many rows."""
    columns = [Column("option", "", 1, str, align="left")]
    return Table(setting, columns, [f"row {i}" for i in range(count)]).blocks()


def page_texts(setting, pages):
    """The words of each page."""
    return [[box.text for box in stacked(page, setting).boxes if box.text] for page in pages]


def test_a_table_is_kept_whole_where_a_page_has_room_for_it():
    """What fits a page begins on a new one rather than be torn; the blocks round it stay apart."""
    setting = Setting(1000)
    table = rows(setting, 8)
    high = sum(block.height for block in table)
    room = high + 100
    above, below = (Block(200, lambda *_: None) for _ in range(2))
    pages = paged([above, *table, below], setting, room + 2 * setting.margin)
    assert [len(page) for page in pages] == [1, 8, 1]
    # With room for all of it beside the block above, it stays there.
    height = high + 201 + 2 * setting.margin
    assert [len(page) for page in paged([above, *table], setting, height)] == [9]


def test_a_table_that_goes_on_has_its_head_again():
    """A table of more than a page is torn between rows, and each page begins with the head."""
    setting = Setting(1000)
    table = rows(setting, 40)
    height = sum(block.height for block in table) / 2.5 + 2 * setting.margin
    pages = paged(table, setting, height)
    texts = page_texts(setting, pages)
    assert len(texts) >= 3
    assert all(page[0] == "option" for page in texts)
    assert [text for page in texts for text in page if text != "option"] == [
        f"row {i}" for i in range(40)]
    assert all(sum(b.height for b in page) <= height - 2 * setting.margin + 1e-6 for page in pages)


def test_long_words_wrap_where_they_may():
    """A column that wraps shows all of its words in more lines, and its row is as much higher."""
    setting = Setting(1000)
    row = [(LONG, "short")]
    heights = []
    for wraps in (False, True):
        columns = [Column("what", "", 4, lambda r: r[1], align="left"),
                   Column("where", "", 1, lambda r: r[0], align="left", wraps=wraps)]
        blocks = Table(setting, columns, row).blocks()
        paper = stacked(blocks, setting)
        assert faults(paper) == []
        told = " ".join(box.text for box in paper.boxes)
        assert all(word in told for word in LONG.split()) == wraps
        heights.append(blocks[0].height)
    assert heights[1] > heights[0]


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
    paper = Paper(60, 40)
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
    panel = Panel(Paper(400, 300), (50, 40, 350, 240), (0.5, 8.0), (-4, 2), 12, log=True)
    assert (panel.x(0.5), panel.x(8.0), panel.x(2.0)) == pytest.approx((50, 350, 200))
    assert (panel.y(-4), panel.y(2), panel.y(-1)) == pytest.approx((240, 40, 140))


def test_names_of_lines_do_not_lie_on_each_other():
    """Lines that end at one place have their names one under the other."""
    paper = Paper(500, 300)
    panel = Panel(paper, (50, 40, 350, 240), (0, 1), (0, 1), 14)
    for number in range(5):
        panel.name_end(1, 0.02 * number, f"board {number} m")
    panel.settle_names()
    assert len(paper.boxes) == 5 and faults(paper) == []


def test_a_line_that_leaves_the_ground_has_its_name_beside_the_ground():
    """A value far over the scale is held to its upper edge, and so is the name."""
    named = []
    paper = type("Words", (), {"text": lambda self, at, text, *_, **__: named.append((at, text))})()
    panel = Panel(paper, (100, 200, 300, 260), (0, 1), (0, 1), 10)
    panel.name_end(1, 9.0, "far over")
    panel.name_end(1, 0.5, "inside")
    panel.settle_names()
    assert [round(at[1] - 3.5) for at, _ in named] == [200, 230]


def test_names_keep_clear_of_lines():
    """Beside its line's end where that is free, else beside the ground, which no line leaves."""
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
    paper = Paper(120, 60)
    panel = Panel(paper, (10, 10, 110, 50), (0, 1), (0, 1), 10)
    shares = np.zeros((40, 100, 3))
    shares[:, 20:40] = 1.0
    shares[:, 60:80] = 0.2
    panel.density(shares, ((200, 40, 30), (40, 140, 50), (40, 70, 200)))
    pixels = np.asarray(paper.image, int).sum(axis=2)
    assert pixels[30, 40] < pixels[30, 80] < pixels[30, 14]
    assert pixels[30, 40] < 120


def text_of(pdf):
    """Operators that show text, of all pages."""
    shown = 0
    for stream in re.findall(rb"stream\r?\n(.*?)endstream", pdf, re.S):
        raw = stream.strip(b"\r\n")
        try:
            import base64

            page = zlib.decompress(base64.a85decode(raw, adobe=False) if raw.endswith(b"~>")
                                   else raw)
        except (ValueError, zlib.error):
            try:
                page = zlib.decompress(base64.a85decode(b"<~" + raw, adobe=True))
            except (ValueError, zlib.error):
                continue
        shown += len(re.findall(rb"\bTj\b", page))
    return shown


def test_print_keeps_text_as_text_with_its_face():
    """A PDF holds the face and a way back to letters, and sets each word as text."""
    setting = Setting(1600)
    blocks = everything(setting)
    made = pdf_bytes(blocks, setting, {"Title": "Canteen"}, A4)
    assert made.startswith(b"%PDF-") and made.rstrip().endswith(b"%%EOF")
    assert b"/FontFile2" in made and b"/ToUnicode" in made and b"Lato" in made
    paper = stacked(blocks, setting)
    # Page numbers come on top where there is more than one page.
    assert text_of(made) >= len([b for b in paper.boxes if b.text.strip()])
    assert b"Canteen" in made


def test_print_is_the_same_each_time_and_has_its_pages():
    """The same blocks give the same bytes; blocks that do not fit go on a new page."""
    setting = Setting(1600)
    blocks = [Block(900, lambda *_: None)] * 3
    made = pdf_bytes(blocks, setting, {}, A4)
    assert made == pdf_bytes(blocks, setting, {}, A4)
    # A4 lying is 1131 px high at this width: one block of 900 a page.
    assert len(re.findall(rb"/Type /Page\b", made)) == 3


@pytest.mark.parametrize(("value", "digits", "expected"), [
    (1.26, 1, "+1.3"), (-0.04, 1, "0.0"), (-12.4, 0, "−12"), (0.0061, 4, "+0.0061"),
])
def test_signs_are_true_minuses(value, digits, expected):
    """Numbers have their sign, nothing has none, and minus is a minus."""
    assert signed(value, digits) == expected


@pytest.mark.parametrize(("side", "height", "expected"), [
    (-48.2, 30.4, ("48° left", "30° high")), (3.0, -1.0, ("by the lens", "level")),
    (178.0, -20.0, ("behind", "20° low")), (90.0, 0.0, ("90° right", "level")),
])
def test_directions_are_told_as_on_a_set(side, height, expected):
    """Left and right of the lens, high and low."""
    assert side_text(side, height) == expected
