"""A drawing set on a page: frame, title, scale bar, key, notes; the drawing to scale in what is left.

The column on the right has the words: key and notes from the top, what the sheet is at the foot, so that it
shows when the sheet is folded. All lengths here are millimetres of paper unless they say otherwise.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from shapely import MultiPoint, Polygon, STRtree, box
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry

from previz.errors import RequestError
from previz.plans.lengths import SCALES, said, scale_said
from previz.plans.lettering import corners
from previz.plans.records import PAGES, Disc, Drawing, Head, Key, Mark, Shape, Sheet, Symbol, Words
from previz.plans.title_block import Part, Type, inset_part, key_part, notes_part, title_part

MARGIN = 8.0
"""From the edge of the page to the frame: printers leave 5 mm and more white."""

CLEAR = 4.0
"""Round the drawing, and round what stands in a corner beside it."""

COLUMN, NARROWEST, WIDEST = 0.2, 58.0, 80.0
"""Width of the column of words: a share of the page's, within limits."""

_LARGE, _PLAIN, _TIGHT = Type(2.7, 2.6), Type(2.3, 2.2), Type(2.0, 1.9)
"""Sizes of type in the column: where it is wide, where it is not, and where there is no room for those."""

_WAYS = ((0, ""), (0, "inset"), (1, ""), (1, "inset"), (1, "notes"), (1, "inset notes"),
         (1, "key"), (1, "key inset"))
"""How words are set, what comes first being best: which of two sizes, and what stands beside the drawing."""


class Room(NamedTuple):
    """A rectangle on the page."""

    left: float
    low: float
    right: float
    high: float

    @property
    def size(self) -> tuple[float, float]:
        """Width and height."""
        return self.right - self.left, self.high - self.low


def room(page: tuple[float, float]) -> Room:
    """Return where on a page (width, height) a drawing may lie, words apart."""
    return Room(MARGIN + CLEAR, MARGIN + CLEAR, page[0] - MARGIN - _column(page) - CLEAR,
                page[1] - MARGIN - CLEAR)


def _column(page: tuple[float, float]) -> float:
    return min(max(COLUMN * page[0], NARROWEST), WIDEST)


def page_said(page: tuple[float, float]) -> str:
    """Return what a page is called: 'A3', 'Letter', else '300 x 200 mm'."""
    for name, size in PAGES.items():
        if np.allclose(size, page, atol=0.05):
            return name.upper() if any(letter.isdigit() for letter in name) else name.capitalize()
    return f"{page[0]:g} \N{MULTIPLICATION SIGN} {page[1]:g} mm"


def fitting_scale(low: tuple[float, float], high: tuple[float, float], page: tuple[float, float],
                  system: str) -> int:
    """Return the largest drawing's scale of a system at which a drawing has room on a page.

    Parameters
    ----------
    low, high : (float, float)
        Corners of all that is drawn. [m]
    page : (float, float)
        Width and height. [mm]
    system : str
        'metric' or 'imperial'.

    Raises
    ------
    RequestError
        If it has none at the smallest either.
    """
    for scale in SCALES[system]:
        if _fits(low, high, scale, page):
            return scale
    wide, tall = (said(float(length), system) for length in np.subtract(high, low))
    raise RequestError(
        f"What is to be drawn is {wide} wide and {tall} high: {page_said(page)} has no room for it, not even "
        f"at {scale_said(SCALES[system][-1], system)}",
        "Take a larger page, or leave out what lies far away.")


def _fits(low: Sequence[float], high: Sequence[float], scale: int, page: tuple[float, float]) -> bool:
    need = np.subtract(high, low) * 1000 / scale
    return bool(np.all(need <= np.array(room(page).size) + 1e-6))


def compose(drawing: Drawing, page: tuple[float, float], head: Head, legend: Sequence[Key], *, system: str,
            inset: Sequence[Shape | Disc | Words] = ()) -> Sheet:
    """Return a drawing set on a page, with everything that it takes to read it.

    Parameters
    ----------
    drawing : Drawing
    page : (float, float)
        Width and height. [mm]
    head : Head
    legend : sequence of Key
        What is drawn, and what it means.
    system : str
        'metric' or 'imperial': of the scale and its bar.
    inset : sequence of Shape, Disc or Words
        A small drawing beside it, such as a sun path: 45 x 45 mm about (0, 0). [mm]

    Raises
    ------
    RequestError
        If the page has no room for the drawing at its scale, or for the words.
    """
    if not _fits(drawing.low, drawing.high, drawing.scale, page):
        fitting = fitting_scale(drawing.low, drawing.high, page, system)
        raise RequestError(
            f"At {scale_said(drawing.scale, system)} the {drawing.view} is larger than {page_said(page)} has "
            "room for", f"Draw it at {scale_said(fitting, system)}, or take a larger page.")
    kinds = (_LARGE, _PLAIN) if _column(page) > 70 else (_PLAIN, _TIGHT)
    for size, apart in _WAYS:
        placed = _set_out(drawing, page, head, legend, system, inset, kinds[size], apart)
        if placed is not None:
            return Sheet(page, drawing, placed[0], placed[1], head)
    raise RequestError(
        f"{page_said(page)} has no room for the key and the notes of '{head.subject}' beside the drawing",
        "Take a larger page.")


Furniture = tuple[Shape | Disc | Words, ...]


def _set_out(drawing: Drawing, page: tuple[float, float], head: Head, legend: Sequence[Key], system: str,
             inset: Sequence[Shape | Disc | Words], kind: Type, apart: str,
             ) -> tuple[tuple[float, float], Furniture] | None:
    """Return where the drawing's (0, 0) lies, and all else; None where there is no room.

    `apart` names what stands in a corner beside the drawing, for want of room in the column.
    """
    wide = _column(page)
    column = Room(page[0] - MARGIN - wide, MARGIN, page[0] - MARGIN, page[1] - MARGIN)
    parts = {
        "key": key_part(legend, wide, kind), "notes": notes_part(head.notes, wide, kind),
        "inset": inset_part(inset, wide),
        "title": title_part(head, drawing.scale, page_said(page), system, wide),
    }
    loose = [part for name in apart.split() if (part := parts.pop(name)).high]
    if apart and not loose or sum(part.high for part in parts.values()) > column.size[1]:
        return None
    marks: list[Shape | Disc | Words] = []
    top = column.high
    for name in ("key", "notes"):
        if name in parts and parts[name].high:
            if top < column.high:
                marks.append(_rule(column, top))
            top -= parts[name].high
            marks += parts[name].at(column.left, top)
    foot = column.low
    for name in ("title", "inset"):
        if name in parts and parts[name].high:
            marks += parts[name].at(column.left, foot)
            foot += parts[name].high
            marks.append(_rule(column, foot))
    found = _beside(drawing, room(page), loose)
    if found is None:
        return None
    origin, corner = found
    return origin, (*_frame(page, column), *marks, *corner)


def _rule(column: Room, y: float) -> Shape:
    return Shape("sheet", np.array([[column.left, y], [column.right, y]]), pen="thin", part="rule")


def _frame(page: tuple[float, float], column: Room) -> Furniture:
    right, high = page[0] - MARGIN, page[1] - MARGIN
    edge = np.array([[MARGIN, MARGIN], [right, MARGIN], [right, high], [MARGIN, high]])
    side = np.array([[column.left, MARGIN], [column.left, high]])
    return (Shape("sheet", edge, closed=True, part="frame"), Shape("sheet", side, pen="thin", part="rule"))


def _beside(drawing: Drawing, space: Room, loose: Sequence[Part],
            ) -> tuple[tuple[float, float], Furniture] | None:
    """Return where the drawing lies in its room, and parts in corners that it leaves free, or None.

    The drawing stands in the middle where it can, else to a side.
    """
    unit = 1000 / drawing.scale
    drawn = STRtree(_areas(drawing))
    wide, high = np.subtract(drawing.high, drawing.low) * unit
    spare = np.maximum(np.subtract(space.size, (wide, high)), 0.0)
    for share in ((0.5, 0.5), *itertools.product((0.0, 1.0, 0.5), repeat=2)):
        low = np.array([space.left, space.low]) + spare * share
        origin = np.round(low - np.array(drawing.low) * unit, 3)
        corner = _corners_for(loose, drawn, origin, unit, space)
        if corner is not None:
            return (float(origin[0]), float(origin[1])), corner
    return None


def _corners_for(loose: Sequence[Part], drawn: STRtree, origin: np.ndarray, unit: float, space: Room,
                 ) -> Furniture | None:
    marks: list[Shape | Disc | Words] = []
    taken: list[BaseGeometry] = []
    for part in loose:
        for right, high in itertools.product((1, 0), repeat=2):
            left = space.right - part.wide if right else space.left
            low = space.high - part.high if high else space.low
            area = box(left, low, left + part.wide, low + part.high).buffer(CLEAR, join_style="mitre")
            # Drawings are in metres: the corner is held against them as it lies on the set.
            on_set = Polygon((np.array(area.exterior.coords) - origin) / unit)
            inside = left >= space.left and low >= space.low and left + part.wide <= space.right
            if inside and not len(drawn.query(on_set, "intersects")) and not any(map(area.intersects, taken)):
                taken.append(area)
                marks += part.at(left, low)
                break
        else:
            return None
    return tuple(marks)


def _areas(drawing: Drawing) -> list[BaseGeometry]:
    """Return what marks cover, in metres; what walls go round counts as covered."""
    plain = _plain(drawing.marks)
    areas = [_area(mark, drawing.scale / 1000) for mark in plain]
    walls = [mark.points for mark in plain if isinstance(mark, Shape) and mark.layer == "walls"]
    if walls:
        areas.append(MultiPoint(np.concatenate(walls)).convex_hull)
    return areas


def _plain(marks: Sequence[Mark]) -> list[Shape | Disc | Words]:
    return [part for mark in marks for part in (mark.parts if isinstance(mark, Symbol) else (mark,))
            if not (isinstance(part, Shape) and not len(part.points))]


def _area(mark: Shape | Disc | Words, unit: float) -> BaseGeometry:
    if isinstance(mark, Disc):
        return Point(mark.at).buffer(mark.radius)
    if isinstance(mark, Words):
        return Polygon(corners(mark, unit))
    if len(mark.points) == 1:
        return Point(mark.points[0])
    line = LineString(mark.points)
    return line.convex_hull if mark.closed or mark.fill else line


