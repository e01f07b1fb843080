"""Tables: columns that hold their heads, rows that wrap, pages that begin with the head again."""

import pytest
from drawn import cut, drawn, faults
from samples import LONG

from previz.deliver.canvas import width_of, wrapped
from previz.deliver.layout import Block, Setting, paged
from previz.deliver.tables import Cell, Column, Table, narrowest


def heads(canvas):
    """Return where each word ends at the right."""
    return {box.text: (box.left, box.right) for box in canvas.boxes}


def test_a_column_is_as_wide_as_its_head():
    """A share of a hundredth still holds a long head; the room comes from the column that has it."""
    setting = Setting(1000)
    columns = [Column("option", "", 1.0, str, align="left"),
               Column("key alone : fill", "in stops from the working stop", 0.01, str)]
    canvas = drawn(Table(setting, columns, ["5.0 : 1"]).blocks(), setting)
    assert cut(canvas) == [] and faults(canvas) == []
    wide, narrow = Table(setting, columns, ["5.0 : 1"]).widths
    low = round(0.8 * 0.9 * setting.unit)
    assert narrow >= width_of("in stops from the working stop", low)
    assert wide + narrow == pytest.approx(setting.inner)


def test_a_group_holds_its_name():
    """A name over narrow columns makes room for itself too."""
    setting = Setting(1000)
    columns = [Column("option", "", 5, str, align="left"),
               Column("a", "", 0.01, str, group="spill on the back wall of the signal cabin"),
               Column("b", "", 0.01, str), Column("c", "", 1, str, group="rest")]
    canvas = drawn(Table(setting, columns, ["1"]).blocks(), setting)
    assert cut(canvas) == [] and faults(canvas) == []


def test_heads_break_where_the_paper_has_no_room():
    """More heads than fit in a line each break between words; none is cut, and the head is higher."""
    setting = Setting(1000)

    def table(count):
        return Table(setting, [Column(f"light on side number {k}", "stops from the working stop", 1, str)
                               for k in range(count)], ["+1.0"])

    few, many = table(3), table(10)
    canvas = drawn(many.blocks(), setting)
    assert cut(canvas) == [] and faults(canvas) == []
    assert {"light", "side", "number"} <= set(" ".join(canvas.words).split())
    assert many.blocks()[0].height > few.blocks()[0].height


def test_a_number_is_never_cut():
    """A column of figures is as wide as the longest of them."""
    setting = Setting(1000)
    columns = [Column("option", "", 1, lambda row: LONG, align="left"),
               Column("lx", "", 0.001, str)]
    assert "123 456 789 012" in drawn(Table(setting, columns, ["123 456 789 012"]).blocks(), setting).words


@pytest.mark.parametrize(("text", "lines"), [(LONG, 1), (LONG, 2), (LONG, 3), ("lx", 2), ("", 2)])
def test_the_narrowest_room_is_the_narrowest(text, lines):
    """Words fit so many lines in that room, and in a pixel less they do not."""
    room = narrowest(text, 14, lines)
    assert len(wrapped(text, 14, room)) <= lines
    over = max((width_of(line, 14) for line in wrapped(text, 14, room - 1)), default=0)
    assert not text or over > room - 1 or len(wrapped(text, 14, room - 1)) > lines


def test_long_words_wrap_where_they_may():
    """A column that wraps shows all of its words in more lines, and its row is as much higher."""
    setting = Setting(1000)
    heights = []
    for wraps in (False, True):
        columns = [Column("what", "", 4, lambda r: Cell("short"), align="left"),
                   Column("where", "", 1, lambda r: LONG, align="left", wraps=wraps)]
        blocks = Table(setting, columns, [None]).blocks()
        canvas = drawn(blocks, setting)
        assert faults(canvas) == []
        assert (LONG in " ".join(canvas.words)) == wraps == (not cut(canvas))
        heights.append(blocks[0].height)
    assert heights[1] > heights[0]


def rows(setting, count):
    """A table of one column with so many rows."""
    columns = [Column("option", "", 1, str, align="left")]
    return Table(setting, columns, [f"row {i}" for i in range(count)]).blocks()


def test_a_table_is_kept_whole_where_a_page_has_room_for_it():
    """What fits a page begins on a new one rather than be torn; other blocks are not drawn along."""
    setting = Setting(1000)
    table = rows(setting, 8)
    high = sum(block.height for block in table)
    above, below = (Block(200, lambda *_: None) for _ in range(2))
    pages = paged([above, *table, below], setting, high + 100 + 2 * setting.margin)
    assert [len(page) for page in pages] == [1, 8, 1]
    # With room for all of it under the block above, it stays there.
    height = high + 201 + 2 * setting.margin
    assert [len(page) for page in paged([above, *table], setting, height)] == [9]


def test_a_table_that_goes_on_has_its_head_again():
    """A table of more than a page is torn between rows, and each page begins with the head."""
    setting = Setting(1000)
    table = rows(setting, 40)
    height = sum(block.height for block in table) / 2.5 + 2 * setting.margin
    pages = paged(table, setting, height)
    texts = [drawn(page, setting).words for page in pages]
    assert len(texts) >= 3
    assert all(page[0] == "option" for page in texts)
    assert [text for page in texts for text in page if text != "option"] == [
        f"row {i}" for i in range(40)]
    assert all(sum(b.height for b in page) <= height - 2 * setting.margin + 1e-6 for page in pages)
