"""DXF of drawings: read back by the library and audited; places, blocks, layouts, the same bytes."""

import io
from dataclasses import replace

import ezdxf
import numpy as np
import pytest
from drawings import DEEP, HEAD, WALL, WIDE, box, lamp, legend, line, room_drawing, sun_path

from previz.deliver.dxf_marks import CAPITAL, written
from previz.deliver.plan_dxf import HEADINGS, VIEWPORTS, dxf_bytes
from previz.plans.lengths import IMPERIAL, METRIC
from previz.plans.records import LAYERS, PAGES, PENS, Drawing
from previz.plans.sheet import compose

INCH, FOOT = 0.0254, 0.3048
"""[m]  Exact by definition (international yard and pound agreement, 1959)."""


def set_out(drawing, page="a4", system=METRIC, head=HEAD):
    return compose(drawing, PAGES[page], head, legend(), system=system, inset=sun_path())


def read(*sheets, system=METRIC):
    """Return the document that a file of sheets is read as; it is sound."""
    named = [sheet if isinstance(sheet, tuple) else (f"plan {n}", sheet) for n, sheet in enumerate(sheets)]
    document = ezdxf.read(io.StringIO(dxf_bytes(named, system).decode("utf-8")))
    audit = document.audit()
    assert audit.errors == [] and audit.fixes == []
    return document


def told(entity):
    """Return what an entity says that it is of, and what of it."""
    given = entity.get_xdata("PREVIZ") if entity.has_xdata("PREVIZ") else ()
    return tuple(tag.value for tag in given if tag.code == 1000)


def outline(document, name, layout="Model"):
    line = next(each for each in document.layout(layout).query("LWPOLYLINE") if told(each)[:1] == (name,))
    return np.array([point[:2] for point in line.get_points()])


@pytest.mark.parametrize("system, unit, units", [(METRIC, 0.001, 4), (IMPERIAL, INCH, 1)])
def test_the_set_is_at_full_size(system, unit, units):
    """5.2 x 3.8 m within walls of 0.12 m, in mm or inches, where the set has them. $INSUNITS: 1 in, 4 mm."""
    document = read(set_out(room_drawing(50), system=system), system=system)
    assert document.header["$INSUNITS"] == units and document.header["$MEASUREMENT"] == (system == METRIC)
    south = outline(document, "south wall") * unit
    assert south == pytest.approx(np.array(
        [[-WALL, -WALL], [WIDE + WALL, -WALL], [WIDE + WALL, 0], [-WALL, 0]]), abs=1e-9)
    clerk = next(each for each in document.modelspace().query("CIRCLE") if told(each)[0] == "clerk")
    assert clerk.dxf.radius * unit == pytest.approx(0.22) and clerk.dxf.center.y * unit == pytest.approx(2.3)
    assert outline(document, "north wall")[2, 1] * unit == pytest.approx(DEEP + WALL)


def test_layers_have_the_pens():
    """Each layer is there; what is drawn otherwise than its layer says so itself. Thickness in 1/100 mm."""
    document = read(set_out(room_drawing(50)))
    assert {*LAYERS, HEADINGS, VIEWPORTS} <= {layer.dxf.name for layer in document.layers}
    layer = document.layers.get("walls")
    assert (layer.dxf.lineweight, layer.dxf.linetype, layer.dxf.color) == (50, "Continuous", 7)
    aim = next(each for each in document.modelspace().query("LWPOLYLINE") if told(each) == ("key", "aim"))
    assert (aim.dxf.lineweight, aim.dxf.linetype, aim.dxf.ltscale) == (25, "aim", 50)
    pattern = [tag.value for tag in document.linetypes.get("aim").pattern_tags.tags if tag.code == 49]
    assert pattern == [4.0, -1.0, 0.6, -1.0] and PENS["aim"].dash == (4.0, 1.0, 0.6, 1.0)
    # Nothing but 7, which turns with the ground, and middle grey.
    colours = {each.dxf.get("color", 256) for each in document.modelspace()}
    assert colours <= {7, 8, 256}


def test_lamps_are_blocks_with_attributes():
    """Symbols that look alike share a block; the number shown is the attribute, the rest is hidden."""
    document = read(set_out(room_drawing(50)))
    lamps = document.modelspace().query("INSERT")
    assert [(lamp.dxf.name, lamp.dxf.layer) for lamp in lamps] == [("tube", "lamps")] * 3
    told = [{attribute.dxf.tag: attribute.dxf.text for attribute in lamp.attribs} for lamp in lamps]
    assert told[1] == {"NUMBER": "2", "NAME": "fill", "KIND": "tube", "HEIGHT": "2.10 m"}
    assert np.array(lamps[1].dxf.insert)[:2] == pytest.approx([800, 800])
    shown = [attribute.dxf.tag for attribute in lamps[0].attribs if not attribute.is_invisible]
    assert shown == ["NUMBER"]
    number = lamps[0].attribs[0]
    # Its place is 0.9 mm of paper under the lamp's, its capitals 2.5 mm of type high; at 1:50.
    assert number.get_placement()[1].y == pytest.approx(3200 - 0.9 * 50)
    assert number.dxf.height == pytest.approx(2.5 * CAPITAL * 50)
    block = document.blocks.get("tube")
    assert [each.dxf.tag for each in block.query("ATTDEF")] == ["NUMBER", "NAME", "KIND", "HEIGHT"]
    assert block.query("CIRCLE")[0].dxf.center.isclose((0, 0)) and not block.query("TEXT")


def test_symbols_that_look_otherwise_have_blocks_of_their_own():
    marks = (*lamp("1", "a", (0, 0), (1, 1), 50, "tube"), *lamp("2", "b", (2, 0), (1, 1), 50, "Spot, 650 W"))
    document = read(set_out(Drawing("plan", 50, marks, (-1, -1), (3, 2))))
    assert [each.dxf.name for each in document.modelspace().query("INSERT")] == ["tube", "tube"]
    other = replace(marks[5], parts=marks[5].parts[:1])
    document = read(set_out(Drawing("plan", 50, (*marks[:4], other), (-1, -1), (3, 2))))
    assert [each.dxf.name for each in document.modelspace().query("INSERT")] == ["tube", "spot-650-w"]


@pytest.mark.parametrize("system, unit, step", [(METRIC, 0.001, 1.0), (IMPERIAL, INCH, FOOT)])
def test_drawings_lie_side_by_side(system, unit, step):
    """The first where the set is, the others to the right by whole metres or feet, clear of each other."""
    document = read(*[set_out(room_drawing(scale), system=system) for scale in (50, 100, 50)], system=system)
    desks = [np.array(each.get_points())[:, :2] * unit
             for each in document.modelspace().query("LWPOLYLINE") if told(each)[:1] == ("desk",)]
    shifts = [desk[0, 0] - 1.5 for desk in desks]
    assert shifts[0] == pytest.approx(0) and all(desk[0, 1] == pytest.approx(1.2) for desk in desks)
    assert all(abs(shift / step - round(shift / step)) < 1e-6 for shift in shifts)
    # A room of 5.44 m with what is drawn about it, and two metres between.
    assert shifts[1] > 7.4 and shifts[2] - shifts[1] > 7.4
    names = [each.dxf.text for each in document.modelspace().query("TEXT") if each.dxf.layer == HEADINGS]
    assert names == [f"plan {n}: Plan, option bounce" for n in range(3)]
    assert not document.layers.get(HEADINGS).dxf.plot


@pytest.mark.parametrize("system, paper, page", [(METRIC, 1.0, "a3"), (IMPERIAL, 25.4, "letter")])
def test_a_layout_shows_the_drawing_to_scale(system, paper, page):
    """A viewport shows so many times its height; through it things lie on paper where the sheet has them."""
    sheets = [set_out(room_drawing(scale), page, system) for scale in (50, 96)]
    document = read(*sheets, system=system)
    assert document.layouts.names_in_taborder() == ["Model", "plan 0", "plan 1"]
    for name, sheet in zip(("plan 0", "plan 1"), sheets, strict=True):
        layout = document.layout(name)
        assert (layout.dxf.paper_width, layout.dxf.paper_height) == pytest.approx(PAGES[page])
        view = next(each for each in layout.query("VIEWPORT") if each.dxf.id != 1)
        assert view.dxf.view_height / view.dxf.height == pytest.approx(sheet.drawing.scale)
        assert view.dxf.layer == VIEWPORTS and view.dxf.flags & 0x4000
        assert not document.layers.get(VIEWPORTS).dxf.plot
        # The desk's corner, by the viewport: middle of the paper, and so much of the model beside it.
        desks = [np.array(each.get_points())[:, :2] for each in document.modelspace().query("LWPOLYLINE")
                 if told(each)[:1] == ("desk",)]
        corner = desks[int(name[-1])][0]
        middle = np.array(view.dxf.view_center_point)[:2]
        on_paper = np.array(view.dxf.center)[:2] + (corner - middle) / sheet.drawing.scale
        assert on_paper * paper == pytest.approx(sheet.on_paper(np.array([[1.5, 1.2]]))[0], abs=1e-6)
        words = [each.dxf.text for each in layout.query("TEXT")]
        assert HEAD.title in words and {each.dxf.layer for each in layout.query("TEXT")} == {"sheet"}
        title = next(each for each in layout.query("TEXT") if each.dxf.text == HEAD.title)
        assert title.dxf.height * paper == pytest.approx(4.2 * CAPITAL)


def test_areas_and_what_is_hidden():
    """Grey areas let the ground through; white ones hide what lies under them."""
    space = read(set_out(room_drawing(50))).modelspace()
    by_name = {told(each)[0]: each for each in space.query("HATCH")}
    assert by_name["desk"].dxf.color == 8 and by_name["south wall"].dxf.solid_fill == 1
    # 0.93 of white is 0.07 of black: 0.14 of a middle grey; a wall's 0.55 is 0.9 of it.
    assert by_name["desk"].transparency == pytest.approx(0.86, abs=0.01)
    assert by_name["south wall"].transparency == pytest.approx(0.10, abs=0.01)
    assert [told(each)[0] for each in space.query("WIPEOUT")] == ["window"]


@pytest.mark.parametrize("name", ['a "quoted" key', "<&>", "кабина", "影の家", "50 %%u", "^J", "a\nb\x00",
                                  "x" * 400, "\ud800", "*", "{\\b} | ;"])
def test_odd_names_are_kept(name):
    """Names come back as they were, less what no line of text can hold."""
    wanted = "".join(" " if ord(letter) < 32 or 0xd800 <= ord(letter) < 0xe000 else letter for letter in name)
    marks = (box(1, 1, 2, 2, name=name),)
    head = replace(HEAD, title=name)
    document = read((name, set_out(room_drawing(50, names=(name, "fill"), marks=marks), head=head)),
                    (name, set_out(room_drawing(50))), ("Model", set_out(room_drawing(50))))
    lamp = document.modelspace().query("INSERT")[0]
    attribute = next(each for each in lamp.attribs if each.dxf.tag == "NAME")
    assert attribute.dxf.text == written(name)
    shown = [each.plain_text() for each in document.modelspace().query("TEXT")]
    assert wanted in shown
    assert told(lamp)[0] == wanted[:250]
    assert len(set(document.layouts.names())) == 4


def test_signs_that_are_codes_are_written_as_signs():
    """%%c is a diameter sign, %%% a per cent sign; ^J a new line, ^ and a space a caret (DXF reference)."""
    assert written("5 % 50 %%c") == "5 % 50 %%%%%%c"
    assert written("^J") == "^ J" and written("a\nb") == "a b"


def test_the_same_sheets_make_the_same_file():
    """Nor is there a date of today in it."""
    sheets = [("plan", set_out(room_drawing(50)))]
    before = ezdxf.options.write_fixed_meta_data_for_testing
    first = dxf_bytes(sheets, METRIC)
    assert first == dxf_bytes(sheets, METRIC)
    assert ezdxf.options.write_fixed_meta_data_for_testing == before


def test_empty_drawings_and_none():
    empty = Drawing("plan", 50, (line((0, 0)), box(0, 0, 0, 0)), (0, 0), (0, 0))
    assert len(read(set_out(empty)).layouts) == 2
    assert read().layouts.names() == ["Model", "Layout1"]
