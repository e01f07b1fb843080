"""Sheets on PDF pages: text that is text, pages of their size, lines true to scale."""

import re
from dataclasses import replace

import pytest
from drawings import HEAD, legend, line, room_drawing, sun_path
from pdf_words import POINT, letters, pages, said

from previz.deliver.layout import A4, Block, Setting
from previz.deliver.pdf import pdf_bytes
from previz.deliver.plan_pdf import sheet_pages
from previz.plans.lengths import IMPERIAL, METRIC
from previz.plans.records import PAGES, Drawing
from previz.plans.sheet import compose


def set_out(drawing, page="a4", system=METRIC, **given):
    return compose(drawing, PAGES[page], HEAD, legend(), system=system, **given)


def test_pages_have_the_sizes_of_their_sheets():
    made = sheet_pages([set_out(room_drawing(50), page) for page in PAGES])
    assert [size for _, size in pages(made)] == [pytest.approx(size, abs=1e-3) for size in PAGES.values()]


@pytest.mark.parametrize("system, scale", [(METRIC, 20), (METRIC, 50), (METRIC, 200), (IMPERIAL, 48)])
def test_lines_are_true_to_scale(system, scale):
    """A line of 1.234 m measured on the page, in points of 1/72 inch, is 1.234 m over the scale."""
    lines = (line((1.0, 1.0), (2.234, 1.0)), line((1, 1), (1, 1.5)))
    drawing = Drawing("plan", scale, lines, (1, 1), (2.3, 2))
    (content, _), = pages(sheet_pages([set_out(drawing, "a3", system)]))
    first, second = re.findall(r"n ([\d.]+) ([\d.]+) m ([\d.]+) ([\d.]+) l\nS", content)[:2]
    x0, y0, x1, y1 = map(float, first)
    assert (x1 - x0) * POINT * scale / 1000 == pytest.approx(1.234, abs=1e-4) and y0 == y1
    assert (float(second[3]) - float(second[1])) * POINT * scale / 1000 == pytest.approx(0.5, abs=1e-4)


def test_text_can_be_selected():
    """All words are on the page as text, with a map from codes to letters; also those beyond Latin."""
    names = ("Schlüssel", "кабина", 'a "b" (c) \\ <&')
    made = sheet_pages([set_out(room_drawing(50, names=names))])
    words = said(pages(made)[0][0], letters(made))
    for text in (*names, "2.10 m", "Signal cabin", "Scale 1:50", "1", "3.80 m"):
        assert text in words
    assert made.count(b"/FontFile2") == 2


def test_pens_and_turned_words():
    """Widths and dashes are those of the pens in mm; the quarter turn is one counter-clockwise."""
    (content, _), = pages(sheet_pages([set_out(room_drawing(50))]))
    # 0.5 mm; 4, 1, 0.6, 1 mm at 72 / 25.4 points.
    assert "1.417323 w" in content and "[11.33858 2.834646 1.700787 2.834646] 0 d" in content
    assert re.search(r"\n0 1 -1 0 [\d.]+ [\d.]+ cm", content)
    assert ".12 G" in content and ".42 g" in content and ".55 g" in content


def test_the_same_sheets_make_the_same_file():
    def make():
        return sheet_pages([set_out(room_drawing(50), inset=sun_path())], {"Title": "Plan"})

    assert make() == make()


def test_nothing_at_all():
    sheet = compose(Drawing("plan", 50, (), (0, 0), (0, 0)), PAGES["a4"], replace(HEAD, notes=()), (),
                    system=METRIC)
    (content, _), = pages(sheet_pages([sheet]))
    assert "Tj" in content


def test_odd_names_do_no_harm():
    """Letters that the face has not, and codes: the page is made, and what it has is text."""
    for name in ("影の家", "مصباح", "\x00\x07", "line\nbreak", "x" * 400, "\ud800"):
        made = sheet_pages([set_out(room_drawing(50, names=(name, "fill")))])
        assert "fill" in said(pages(made)[0][0], letters(made))


def test_drawings_stand_among_pages_of_blocks():
    """Each page has its own size; all are counted in one row, drawings with a number in their margin."""
    setting = Setting(1600)
    block = Block(300, lambda paper, left, top, width: paper.text((left, top + 50), "lamps", 30))
    sheet = set_out(room_drawing(50), "a3")
    words = {"Title": "Depot"}
    made = pdf_bytes([[block], sheet, [block, block]], setting, words, A4)
    found = pages(made)
    faces = letters(made)
    assert [size for _, size in found] == [pytest.approx(size, abs=0.01) for size in (
        PAGES["a4"], PAGES["a3"], PAGES["a4"])]
    # Printed as they are, and not to fit the paper; which is of no account for blocks alone.
    assert b"/PrintScaling /None" in made and b"PrintScaling" not in pdf_bytes([[block]], setting, words, A4)
    for number, (content, _) in enumerate(found):
        assert said(content, faces)[-2:] == ["Depot", f"{number + 1} of 3"]
    # The number stands in the margin outside the frame, at the right: under 8 mm from the edge.
    x, y = map(float, re.findall(r"1 0 0 1 ([\d.]+) ([\d.]+) Tm", found[1][0])[-1])
    assert y * POINT < 8 - 1 and 390 < x * POINT < 420
    # Drawings are on white; blocks on their paper.
    assert re.match(r"[^\n]*\n\.9568", found[0][0]) and not re.search(r"\.9568\d* \.9568", found[1][0])


def test_pages_of_blocks_are_as_before():
    """A drawing beside them moves nothing on pages of blocks but the count."""
    setting = Setting(1600)
    block = Block(300, lambda paper, left, top, width: paper.text((left, top + 50), "lamps", 30))
    alone = pages(pdf_bytes([[block], [block]], setting, {}, A4))[0][0]
    beside = pages(pdf_bytes([[block], set_out(room_drawing(50))], setting, {}, A4))[0][0]
    plain = [re.sub(r"/F\d+\+\d+", "/F", content) for content in (alone, beside)]
    assert plain[0] == plain[1]
