"""SVG of a sheet: mm of paper, a group a layer, things with their names, type that stays type.

Source: SVG 1.1 (second edition), as the library writes it; what data attributes are called is ours.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from xml.sax.saxutils import escape

import drawsvg
import numpy as np

from previz.deliver.canvas import width_of
from previz.plans.records import FILLS, INK, LAYERS, PENS, QUIET, Disc, Mark, Shape, Sheet, Symbol, Words

FAMILY = "Lato, 'Noto Sans', 'Liberation Sans', sans-serif"

DIGITS = 5
"""Decimals of a coordinate [mm]: 1:2000 is then told to 0.02 mm of the set."""

_ANCHORS = {"left": "start", "centre": "middle", "right": "end"}

_FINE = 1000
"""Size of type at which lines are measured. [px]"""

_NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""Letters that no XML file may hold. Source: XML 1.0 (fifth edition), production 2."""


def svg_text(sheet: Sheet) -> str:
    """Return a sheet as an SVG, the same for the same sheet.

    The root's `data-scale` and `data-origin` give lengths of the set from places in the file, which are
    in mm from the page's upper left corner, y down: x [m] = (x - origin x) * scale / 1000, and
    y [m] = (origin y - y) * scale / 1000. Things with attributes have them as data, and where they are [m] as
    `data-at`.
    """
    wide, high = sheet.page
    drawing = drawsvg.Drawing(wide, high)
    origin = _Page(sheet).place(np.zeros((1, 2)))[0]
    drawing.svg_args = {
        "width": f"{_number(wide)}mm", "height": f"{_number(high)}mm",
        "viewBox": f"0 0 {_number(wide)} {_number(high)}", "data-view": sheet.drawing.view,
        "data-scale": str(sheet.drawing.scale), "data-axes": " ".join(sheet.drawing.axes),
        "data-origin": " ".join(map(_number, origin)),
        "font-family": FAMILY, "fill": "none", "stroke-linejoin": "round",
    }
    drawing.append_title(_xml(f"{sheet.head.title}: {sheet.head.subject}"))
    drawing.append(drawsvg.Rectangle(0, 0, _number(wide), _number(high), fill="#ffffff", id="paper"))
    layers = {name: drawsvg.Group(id=name) for name in LAYERS}
    for mark in sheet.drawing.marks:
        _Page(sheet).add(layers[mark.layer], mark)
    for mark in sheet.furniture:
        _Paper(sheet).add(layers["sheet"], mark)
    for group in layers.values():
        if group.children:
            drawing.append(group)
    return drawing.as_svg()


class _Paper:
    """Adds marks of the furniture, which lie in mm from the page's lower left corner."""

    def __init__(self, sheet: Sheet) -> None:
        self.sheet = sheet
        self.unit = 1.0

    def place(self, points: np.ndarray) -> np.ndarray:
        """Return points in mm from the upper left corner, y down."""
        return np.asarray(points, float) * (1, -1) + (0, self.sheet.page[1])

    def add(self, group: drawsvg.Group, mark: Mark) -> None:
        """Add a mark to a group."""
        if isinstance(mark, Symbol):
            self._symbol(group, mark)
        elif isinstance(mark, Words):
            self._words(group, mark)
        elif isinstance(mark, Disc):
            x, y = self.place(np.array([mark.at]))[0]
            group.append(drawsvg.Circle(_number(x), _number(y), _number(mark.radius * self.unit),
                                        **_look(mark), **_told(mark)))
        elif len(mark.points) > 1:
            places = (" ".join(map(_number, place)) for place in self.place(mark.points))
            path = f"M{' L'.join(places)}{' Z' if mark.closed else ''}"
            group.append(drawsvg.Path(path, **_look(mark), **_told(mark)))

    def _symbol(self, group: drawsvg.Group, mark: Symbol) -> None:
        told = {f"data-{_attribute(name)}": text for name, text in mark.attributes.items()}
        told |= {"data-name": mark.name, "data-part": "symbol", "data-at": " ".join(map(_number, mark.at))}
        inner = drawsvg.Group(**_escaped(told))
        number = mark.attributes.get("NUMBER", "")
        rest = ", ".join(text for name, text in mark.attributes.items()
                         if text and name not in ("NUMBER", "NAME"))
        inner.append_title(_xml(f"{number} {mark.name}{': ' if rest else ''}{rest}".strip()))
        for part in mark.parts:
            self.add(inner, part)
        group.append(inner)

    def _words(self, group: drawsvg.Group, mark: Words) -> None:
        if not mark.text:
            return
        text = _xml(mark.text.replace("\n", " "))
        x, y = (_number(part) for part in self.place(np.array([mark.at]))[0])
        look = {"fill": _grey(QUIET if mark.quiet else INK), "text-anchor": _ANCHORS[mark.align]}
        if mark.strong:
            look["font-weight"] = "600"
        if mark.turn % 360:
            look["transform"] = f"rotate({_number(-mark.turn)} {x} {y})"
        if _in_face(text):
            # Another face is fitted to the room that this one takes, so that no words run together.
            weight = "strong" if mark.strong else "regular"
            look["textLength"] = _number(width_of(text, _FINE, weight) * mark.size / _FINE)
            look["lengthAdjust"] = "spacingAndGlyphs"
        group.append(drawsvg.Text(text, _number(mark.size), x, y, **look, **_told(mark)))


class _Page(_Paper):
    """Adds marks of the drawing, which lie in metres of the set."""

    def __init__(self, sheet: Sheet) -> None:
        super().__init__(sheet)
        self.unit = 1000 / sheet.drawing.scale

    def place(self, points: np.ndarray) -> np.ndarray:
        """Return points of the set in mm from the upper left corner, y down."""
        return super().place(self.sheet.on_paper(points))


def _number(value: float) -> str:
    """Return a number with as many decimals as are told, and none to spare."""
    text = f"{value:.{DIGITS}f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _grey(level: float) -> str:
    return f"#{round(255 * level):02x}" + f"{round(255 * level):02x}" * 2


def _look(mark: Shape | Disc) -> dict[str, str]:
    look = {}
    if mark.fill:
        look["fill"] = _grey(FILLS[mark.fill])
    if mark.pen:
        pen = PENS[mark.pen]
        look |= {"stroke": _grey(INK), "stroke-width": _number(pen.thickness)}
        if pen.dash:
            look["stroke-dasharray"] = " ".join(map(_number, pen.dash))
    return look


def _told(mark: Shape | Disc | Words) -> dict[str, str]:
    part = "words" if isinstance(mark, Words) else mark.part
    return _escaped({"data-name": mark.name, "data-part": part})


def _escaped(attributes: Mapping[str, str]) -> dict[str, str]:
    """Return attributes as they are written: the library writes them as they come."""
    quoted = {'"': "&quot;", "\n": "&#10;", "\t": "&#9;", "\r": "&#13;"}
    return {name: escape(_xml(text), quoted) for name, text in attributes.items()}


def _xml(text: str) -> str:
    return _NOT_XML.sub("\N{REPLACEMENT CHARACTER}", text)


def _attribute(name: str) -> str:
    return re.sub("[^a-z0-9]+", "-", name.lower()).strip("-") or "attribute"


def _in_face(text: Sequence[str]) -> bool:
    """Return whether all letters are of alphabets that the face has: Latin, Greek, Cyrillic, signs."""
    return all(letter < "\u0530" or "\u1e00" <= letter < "\u2300" for letter in text)
