"""SVG of a sheet: lengths read back from the file alone, names that no file expects, the same bytes."""

import re
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest
from drawings import HEAD, box, lamp, legend, line, room_drawing, sun_path

from previz.deliver.plan_svg import svg_text
from previz.plans.lengths import IMPERIAL, METRIC
from previz.plans.records import LAYERS, PAGES, Disc, Drawing, Words
from previz.plans.sheet import compose

SVG = "{http://www.w3.org/2000/svg}"

ODD = ['a "quoted" key', "it's", "<b>&amp;</b>", "кабина", "影 の 家", "مصباح", "line\nbreak\ttab",
       "\x00\x07\ud800", "]]>", "x" * 400, " ", "%%u ^J \\U+00E4"]


def set_out(drawing, page="a3", system=METRIC, keys=()):
    return compose(drawing, PAGES[page], HEAD, keys, system=system)


def read(sheet):
    return ElementTree.fromstring(svg_text(sheet))


def measured(root):
    """Return name -> points on the set [m] of all lines, from the file alone."""
    scale = float(root.get("data-scale"))
    origin = np.array([float(part) for part in root.get("data-origin").split()])
    found = {}
    for path in root.iter(f"{SVG}path"):
        numbers = [float(part) for part in re.findall(r"-?[\d.]+", path.get("d"))]
        on_page = np.array(numbers).reshape(-1, 2)
        if path.get("data-name"):
            found[path.get("data-name")] = (on_page - origin) * (1, -1) * scale / 1000
    return found


LENGTHS = (0.01, 0.137, 1.0, 2.3456, 7.7)
SCALED = [(METRIC, 20), (METRIC, 25), (METRIC, 50), (METRIC, 100), (METRIC, 200), (METRIC, 2000),
          (IMPERIAL, 24), (IMPERIAL, 48), (IMPERIAL, 96), (IMPERIAL, 192)]


@pytest.mark.parametrize("system, scale", SCALED)
def test_lengths_are_read_back(system, scale):
    """Lines of known lengths, at angles: each is told to under 0.1 mm of the set, and where it lies."""
    turn = np.radians(37.0)
    across = np.array([np.cos(turn), np.sin(turn)])
    starts = [np.array([-3.0 + 0.3 * n, 11.0 - 0.1 * n]) for n in range(len(LENGTHS))]
    lines = tuple(line(start, start + length * across, name=f"line {n}")
                  for n, (start, length) in enumerate(zip(starts, LENGTHS, strict=True)))
    # The page is as large as the drawing asks for, so that lengths are tried and not pages.
    page = (200 + 8000 / scale, 150 + 6000 / scale)
    drawing = Drawing("plan", scale, lines, (-3.0, 10.5), (4.5, 16.0))
    found = measured(read(compose(drawing, page, HEAD, (), system=system)))
    for n, (start, length) in enumerate(zip(starts, LENGTHS, strict=True)):
        points = found[f"line {n}"]
        assert np.linalg.norm(points[1] - points[0]) == pytest.approx(length, abs=1e-4)
        assert points[0] == pytest.approx(start, abs=1e-4)


def test_the_page_is_true_to_size():
    """Width and height in mm, and a box of view in mm of paper: a unit is a millimetre when printed."""
    root = read(set_out(room_drawing(50), "letter"))
    assert (root.get("width"), root.get("height")) == ("279.4mm", "215.9mm")
    assert root.get("viewBox") == "0 0 279.4 215.9" and root.get("data-axes") == "x y"


def test_a_group_for_each_layer_in_order():
    root = read(set_out(room_drawing(50), keys=legend()))
    groups = [group.get("id") for group in root.findall(f"{SVG}g")]
    assert groups == [name for name in LAYERS if name in groups]
    assert {"walls", "lamps", "names", "sheet"} < set(groups)
    walls = root.find(f"{SVG}g[@id='walls']")
    assert {part.get("data-name") for part in walls} == {"south wall", "north wall", "west wall", "east wall"}


def test_symbols_tell_what_they_are():
    """A lamp is a group with its attributes as data and a title that screens show; its number is text."""
    root = read(set_out(room_drawing(50)))
    group = root.find(f".//{SVG}g[@data-name='lantern']")
    told = {"data-number": "3", "data-kind": "tube", "data-height": "2.10 m", "data-part": "symbol",
            "data-at": "3.9 2.4"}
    assert {key: group.get(key) for key in told} == told
    assert group.find(f"{SVG}title").text == "3 lantern: tube, 2.10 m"
    assert [text.text for text in group.iter(f"{SVG}text")] == ["3"]


def test_lettering_stands_where_it_was_set():
    """Turned the other way round on the page, as y runs down; anchored and as wide as it was measured."""
    root = read(set_out(room_drawing(50)))
    words = next(text for text in root.iter(f"{SVG}text") if text.text == "3.80 m")
    x, y = words.get("x"), words.get("y")
    assert words.get("transform") == f"rotate(-90 {x} {y})" and words.get("text-anchor") == "middle"
    # Six letters of the face, of 0.58, 0.24, 0.58, 0.58, 0.26 and 0.82 of the size (its table of widths).
    assert float(words.get("textLength")) == pytest.approx(2.3 * 3.05, rel=0.01)


@pytest.mark.parametrize("name", ODD)
def test_odd_names_are_kept(name):
    """The file is read by any parser of XML, and has the name, as far as XML can say it."""
    wanted = re.sub("[\x00\x07\ud800]", "\N{REPLACEMENT CHARACTER}", name)
    drawing = room_drawing(50, names=(name,), marks=(box(1, 1, 2, 2, name=name),))
    text = svg_text(set_out(replace(drawing), keys=legend()))
    root = ElementTree.fromstring(text.encode("utf-8"))
    assert root.find(f"./{SVG}g[@id='pieces']")[-1].get("data-name") == wanted
    group = next(group for group in root.iter(f"{SVG}g") if group.get("data-part") == "symbol")
    assert group.get("data-name") == wanted
    shown = [words.text for words in root.iter(f"{SVG}text")]
    assert wanted.replace("\n", " ") in shown


def test_attributes_of_any_name():
    marks = lamp("1", "key", (0, 0), (1, 1), 50, attributes={"LUX AT 1 m": "3", "Größe": "5 < 6"})
    root = read(set_out(Drawing("plan", 50, marks, (-1, -1), (2, 2))))
    group = root.find(f".//{SVG}g[@data-name='key']")
    assert group.get("data-lux-at-1-m") == "3" and group.get("data-gr-e") == "5 < 6"


def test_the_same_sheet_makes_the_same_file():
    def make():
        return svg_text(compose(room_drawing(50), PAGES["a4"], HEAD, legend(), system=METRIC,
                                inset=sun_path()))

    assert make() == make()


def test_an_empty_drawing_and_marks_without_size():
    """Nothing, a line of one point, a circle of no radius, words that say nothing."""
    marks = (line((0, 0)), Disc("lamps", (0, 0), 0.0), Words("names", (0, 0), ""), box(0, 0, 0, 0))
    for each in ((), marks):
        root = read(set_out(Drawing("plan", 50, each, (0, 0), (0, 0))))
        assert root.get("data-scale") == "50"
        assert root.find(f"./{SVG}g[@id='lamps']") is None or each
