"""Every sheet: words on the paper and clear of each other, no head or number cut, print as screen."""

import pytest
from drawn import cut, drawn, faults, on_pictures
from samples import SHEETS

from previz.deliver import layout, pdf
from previz.deliver.layout import A3, Setting, paged, stacked, write_sheet_files
from previz.deliver.tables import Table

WIDTHS = (1000, 2600)


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", SHEETS)
def test_words_stay_on_the_paper_and_clear_of_each_other(name, width):
    """No word leaves the sheet, meets another or lies on a picture, but where it belongs to one."""
    setting = Setting(width)
    canvas = drawn(SHEETS[name](setting), setting)
    assert faults(canvas) == []
    # The rig's numbers and a scope's marks are set on their pictures.
    assert name in ("rig", "scopes") or on_pictures(canvas) == []


def tables(blocks):
    """Return the tables among blocks, each once."""
    return list({id(block.whole): block.whole for block in blocks
                 if isinstance(block.whole, Table)}.values())


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", [name for name in SHEETS
                                  if name not in ("portrait", "mood", "looks", "scopes")])
def test_no_head_of_a_table_is_cut(name, width):
    """Every word of every head, unit and group stands whole over its column, and every number under it."""
    setting = Setting(width)
    found = tables(SHEETS[name](setting))
    assert found
    for table in found:
        canvas = drawn(table.blocks(), setting)
        assert cut(canvas) == []
        words = " ".join(canvas.words).split()
        for column in table.columns:
            for text in (column.group, column.head, column.under):
                assert set(text.split()) <= set(words), text
            for row in table.rows:
                assert set(column.cell_of(row).text.split()) <= set(words)


@pytest.mark.parametrize("name", SHEETS)
def test_nothing_is_cut_on_a_sheet_of_usual_names(name):
    """At the width that sheets are written in, all that is to be said is said."""
    setting = Setting(2400)
    assert cut(drawn(SHEETS[name](setting), setting)) == []


@pytest.mark.parametrize("name", SHEETS)
def test_print_says_what_the_screen_says(name, monkeypatch, tmp_path):
    """The pages hold every word of the picture in the same order, and besides them folios and heads."""
    setting, printed = Setting(1600), []

    class Kept(pdf.PdfPaper):
        def __init__(self, *given):
            super().__init__(*given)
            printed.append(self)

    monkeypatch.setattr(pdf, "PdfPaper", Kept)
    blocks, screens = SHEETS[name](setting), []

    def kept(*given):
        screens.append(stacked(*given))
        return screens[-1]

    monkeypatch.setattr(layout, "stacked", kept)
    png, made = write_sheet_files(tmp_path / name, blocks, setting, {"Title": "Depot"})
    assert [png.name, made.name] == [f"{name}.png", f"{name}.pdf"]
    screen, = screens
    shown = [box.text for box in screen.boxes]
    rest = iter([box.text for page in printed for box in page.boxes])
    assert all(text in rest for text in shown)
    assert len(printed) == len(paged(blocks, setting, A3[1] / A3[0] * setting.width))
    assert not any(faults(page) for page in printed)
