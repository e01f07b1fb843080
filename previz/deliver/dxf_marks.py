"""Marks of drawings as entities of a DXF file: lines, areas, lettering, and things as blocks with attributes.

What is grey on paper has to read on a white ground and on a dark one: lines are of the colour that turns with
the ground (7), areas a middle grey (8) that lets the ground through, and what is white on paper hides what
lies under it (WIPEOUT). Source: DXF reference R2010, as the library writes it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

import numpy as np
from ezdxf.document import Drawing as Document
from ezdxf.enums import TextEntityAlignment
from ezdxf.layouts import BaseLayout

from previz.plans.records import FILLS, INK, PENS, Disc, Mark, Shape, Symbol, Words

APPLICATION = "PREVIZ"
"""Whose extended data the names of things are."""

WORDS, STRONG = "words", "words strong"
"""Styles of lettering."""

CAPITAL = 0.717
"""Height of capitals, which is what DXF calls the height of a text, as a part of the size of the type.
Source: the face that the PDF has (OS/2 table: 1433 of 2000)."""

NARROW = 0.95
"""Width of letters: what programs set in place of that face is a little wider."""

_ALIGN = {"left": TextEntityAlignment.LEFT, "centre": TextEntityAlignment.CENTER,
          "right": TextEntityAlignment.RIGHT}

_TURNING, _GREY = 7, 8
"""Colours by number: what is white on a dark ground and black on a white one; middle grey."""

_LONGEST = 250
"""Of a text of extended data, which may have 255. [bytes]"""

_STRAIGHT = 48
"""Corners of what a disc hides."""

_HIDDEN = 1
"""Flag of an attribute that is not shown (DXF reference, ATTRIB, 70)."""


class Hand:
    """Draws marks into a space of a document.

    Parameters
    ----------
    space : ezdxf layout
        Model space, a layout or a block.
    unit : float
        What a unit of the marks is in the file.
    offset : (float, float)
        Where their (0, 0) lies in the file.
    paper : float
        What a mm of paper is in the file.
    stretch : float
        Of dashes: metres of the set to a metre of paper.
    pens : dict of str to str
        Layer -> key of `PENS` that it has of itself.
    blocks : Blocks, optional
        Of symbols; without it there are none.
    named : bool
        Whether entities say what they are of.
    """

    def __init__(self, space: BaseLayout, unit: float, offset: tuple[float, float], paper: float,
                 stretch: float, pens: Mapping[str, str], blocks: Blocks | None = None, *,
                 named: bool = True) -> None:
        self.space, self.unit, self.offset = space, unit, np.asarray(offset, float)
        self.paper, self.stretch, self.pens, self.blocks, self.named = paper, stretch, pens, blocks, named

    def place(self, points: Any) -> np.ndarray:
        """Return where points lie in the file, shape (n, 2)."""
        return np.asarray(points, float).reshape(-1, 2) * self.unit + self.offset

    def draw(self, mark: Mark) -> None:
        """Add a mark to the space."""
        if isinstance(mark, Symbol):
            self._symbol(mark)
        elif isinstance(mark, Words):
            self._words(mark)
        elif isinstance(mark, Disc):
            self._disc(mark)
        elif len(mark.points) > 1:
            self._shape(mark)

    def _shape(self, mark: Shape) -> None:
        points = self.place(mark.points)
        if mark.fill and len(points) > 2:
            self._fill(mark, points, [(x, y, 0.0) for x, y in points])
        if mark.pen:
            line = self.space.add_lwpolyline(points, close=mark.closed, dxfattribs=self._look(mark))
            self._tell(line, mark.name, mark.part)

    def _disc(self, mark: Disc) -> None:
        middle, radius = self.place(mark.at)[0], mark.radius * self.unit
        if mark.fill:
            around = np.linspace(0, 2 * np.pi, _STRAIGHT, endpoint=False)
            edge = middle + radius * np.stack([np.cos(around), np.sin(around)], axis=1)
            # Two half circles: a bulge of 1 is the tangent of a quarter of their angle.
            x, y = middle
            self._fill(mark, edge, [(x - radius, y, 1.0), (x + radius, y, 1.0)])
        if mark.pen:
            circle = self.space.add_circle(middle, radius, dxfattribs=self._look(mark))
            self._tell(circle, mark.name, mark.part)

    def _fill(self, mark: Shape | Disc, edge: np.ndarray, path: list[tuple[float, float, float]]) -> None:
        """Fill an area: its edge as straight lines, and as corners with bulges."""
        level = FILLS[mark.fill]
        if level >= 1:
            area = self.space.add_wipeout(edge, dxfattribs={"layer": mark.layer})
        else:
            dark = level < 0.5
            area = self.space.add_hatch(color=_TURNING if dark else _GREY, dxfattribs={"layer": mark.layer})
            area.paths.add_polyline_path(path, is_closed=True)
            clear = level if dark else 1 - 2 * (1 - level)
            if level > INK:
                area.transparency = clear
        self._tell(area, mark.name, mark.part)

    def _words(self, mark: Words) -> None:
        if mark.text.strip():
            entity = self.space.add_text(written(mark.text), dxfattribs=self.lettering(mark))
            entity.set_placement(self.place(mark.at)[0], align=_ALIGN[mark.align])
            self._tell(entity, mark.name, "words")

    def lettering(self, mark: Words) -> dict[str, Any]:
        """Return how lettering is set."""
        look = {"layer": mark.layer, "style": STRONG if mark.strong else WORDS, "width": NARROW,
                "height": mark.size * CAPITAL * self.paper, "rotation": mark.turn}
        return look | ({"color": _GREY} if mark.quiet else {})

    def _look(self, mark: Shape | Disc) -> dict[str, Any]:
        """Return what a line has that its layer has not."""
        pen, own = PENS[mark.pen], PENS[self.pens[mark.layer]]
        look: dict[str, Any] = {"layer": mark.layer}
        if pen.thickness != own.thickness:
            look["lineweight"] = round(100 * pen.thickness)
        if pen.dash != own.dash:
            look["linetype"] = mark.pen if pen.dash else "Continuous"
        if pen.dash:
            look["ltscale"] = self.stretch
        return look

    def _tell(self, entity: Any, name: str, part: str) -> None:
        if self.named and name:
            entity.set_xdata(APPLICATION, [(1000, _short(text)) for text in (name, part)])

    def _symbol(self, mark: Symbol) -> None:
        at = self.place(mark.at)[0]
        # What stands in the symbol and is an attribute as well is shown as that, and changes with it.
        shown: dict[str, Words] = {}
        rest: list[Shape | Disc | Words] = []
        for part in mark.parts:
            tag = next((tag for tag, text in mark.attributes.items()
                        if isinstance(part, Words) and text == part.text and tag not in shown), None)
            if tag is not None and isinstance(part, Words):
                shown[tag] = part
            else:
                rest.append(part)
        assert self.blocks is not None
        block = self.blocks.block(self, mark, tuple(rest), shown)
        insert = self.space.add_blockref(block, at, dxfattribs={"layer": mark.layer})
        for tag, text in mark.attributes.items():
            words = shown.get(tag) or Words(mark.layer, mark.at, text)
            attribute = insert.add_attrib(tag_of(tag), written(text), dxfattribs=self.lettering(words))
            attribute.set_placement(self.place(words.at)[0], align=_ALIGN[words.align])
            if tag not in shown:
                attribute.is_invisible = True
        self._tell(insert, mark.name, "symbol")


class Blocks:
    """Blocks of a document: symbols that look alike share one.

    Parameters
    ----------
    document : ezdxf document
    """

    def __init__(self, document: Document) -> None:
        self.document = document
        self.names: dict[object, str] = {}

    def block(self, hand: Hand, mark: Symbol, parts: tuple[Shape | Disc | Words, ...],
              shown: Mapping[str, Words]) -> str:
        """Return the name of a symbol's block, which is made where there is none."""
        at = np.asarray(mark.at, float)
        key = (hand.paper, tuple(_drawn(part, at) for part in parts),
               tuple((tag, tag in shown and _drawn(shown[tag], at)[:-1]) for tag in mark.attributes))
        if key not in self.names:
            self.names[key] = self._free(mark.attributes.get("KIND") or mark.layer)
            block = self.document.blocks.new(self.names[key])
            inner = Hand(block, hand.unit, tuple(-at * hand.unit), hand.paper, hand.stretch, hand.pens,
                         named=False)
            for part in parts:
                inner.draw(part)
            for tag in mark.attributes:
                words = shown.get(tag) or Words(mark.layer, mark.at, "")
                given = {"prompt": tag_of(tag), "flags": 0 if tag in shown else _HIDDEN}
                block.add_attdef(tag_of(tag), dxfattribs=inner.lettering(words) | given).set_placement(
                    inner.place(words.at)[0], align=_ALIGN[words.align])
        return self.names[key]

    def _free(self, kind: str) -> str:
        plain = re.sub("[^a-z0-9]+", "-", kind.lower()).strip("-")[:60] or "thing"
        taken = {name.lower() for name in self.names.values()}
        name, number = plain, 1
        while name in taken or name in self.document.blocks:
            number += 1
            name = f"{plain}-{number}"
        return name


def _drawn(part: Shape | Disc | Words, at: np.ndarray) -> tuple[object, ...]:
    """Return what of a part shows, from a place, so that parts that look alike are equal; words come last."""
    if isinstance(part, Words):
        place = tuple(np.round(np.subtract(part.at, at), 6) + 0.0)
        return part.layer, place, part.size, part.align, part.turn, part.strong, part.quiet, part.text
    look = (part.layer, part.pen, part.fill)
    if isinstance(part, Disc):
        return *look, tuple(np.round(np.subtract(part.at, at), 6) + 0.0), round(part.radius, 6)
    return *look, part.closed, tuple((np.round(np.subtract(part.points, at), 6) + 0.0).ravel())


def written(text: str) -> str:
    """Return text as DXF writes it: codes begin with two per cent signs, or with a caret."""
    return re.sub("%{2,}", lambda signs: "%%%" * len(signs[0]), _plain(text)).replace("^", "^ ")


def _plain(text: str) -> str:
    return re.sub("[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff]", " ", text)


def _short(text: str) -> str:
    return _plain(text).encode("utf-8")[:_LONGEST].decode("utf-8", "ignore")


def tag_of(name: str) -> str:
    """Return an attribute's name as DXF may have it."""
    return re.sub("[^A-Z0-9_]+", "_", name.upper()) or "ATTRIBUTE"
