"""A drawing to scale, and the page it is set on.

Drawings are in metres of the set: a plan has x to the right and y up, a section what runs along its line
to the right and height up. What surrounds a drawing on its page (frame, title, legend) is in millimetres of
paper from the page's lower left corner. The records are the same.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

LAYERS = ("walls", "openings", "pieces", "sun", "cameras", "beams", "grip", "figures", "lamps", "dimensions",
          "names", "sheet")
"""What each shape and word belongs to, from what is drawn first; groups of SVG, layers of DXF."""


class Pen(NamedTuple):
    """How a line is drawn: thickness on paper [mm], and lengths of line and gap, () for none. [mm]"""

    thickness: float
    dash: tuple[float, ...] = ()


PENS: Mapping[str, Pen] = {
    "cut": Pen(0.50),
    "outline": Pen(0.25),
    "thin": Pen(0.13),
    "hidden": Pen(0.18, (1.5, 1.0)),
    "aim": Pen(0.25, (4.0, 1.0, 0.6, 1.0)),
    "beam": Pen(0.13, (2.0, 1.2)),
    "field": Pen(0.13, (5.0, 1.2)),
    "dimension": Pen(0.13),
}
"""Lines by what they are for. Thicknesses are those of a series: source ISO 128-2, from memory."""

INK, QUIET = 0.12, 0.42
"""Grey of lines and words, and of what is quiet beside them: 0 black, 1 white. Nothing is told by hue alone,
so that a black and white print says the same."""

FILLS: Mapping[str, float] = {
    "cut": 0.55, "piece": 0.93, "cloth": 0.25, "paper": 1.0, "ink": INK, "tint": 0.86,
}
"""Areas by what they are for, to their grey: 0 black, 1 white."""


@dataclass(frozen=True, eq=False)
class Shape:
    """A line through points, or the area within it.

    Parameters
    ----------
    layer : str
        One of `LAYERS`.
    points : float array, shape (n, 2)
        [m] in a drawing, [mm] on a page.
    closed : bool
        True joins the last point to the first.
    pen : str
        A key of `PENS`; '' for no line.
    fill : str
        A key of `FILLS`; '' for none.
    name : str
        The thing of the scene that it is of.
    part : str
        What of it: 'outline', 'aim', 'beam', 'field', 'dimension', ...
    """

    layer: str
    points: np.ndarray
    closed: bool = False
    pen: str = "outline"
    fill: str = ""
    name: str = ""
    part: str = "outline"


@dataclass(frozen=True, eq=False)
class Disc:
    """A circle: `radius` in the unit of `at`; the rest as in `Shape`."""

    layer: str
    at: tuple[float, float]
    radius: float
    pen: str = "outline"
    fill: str = ""
    name: str = ""
    part: str = "outline"


@dataclass(frozen=True)
class Words:
    """A line of lettering.

    Parameters
    ----------
    layer : str
        One of `LAYERS`.
    at : (float, float)
        Left end, middle or right end of the base line, as `align` says. [m] in a drawing, [mm] on a page.
    text : str
    size : float
        Height of the type on paper. [mm]
    align : str
        'left', 'centre' or 'right'.
    turn : float
        Counter-clockwise. [deg]
    strong, quiet : bool
        Set in the stronger face; in grey.
    name : str
        The thing of the scene that it is of.
    """

    layer: str
    at: tuple[float, float]
    text: str
    size: float = 2.5
    align: str = "left"
    turn: float = 0.0
    strong: bool = False
    quiet: bool = False
    name: str = ""


@dataclass(frozen=True, eq=False)
class Symbol:
    """A thing with attributes that programs can read: a block in DXF, a group in SVG.

    Parameters
    ----------
    layer, name : str
    at : (float, float)
        Where the thing is. [m]
    parts : tuple of Shape, Disc or Words
        As they lie in the drawing (not from `at`).
    attributes : dict of str to str
        'NUMBER', 'NAME', 'KIND', 'HEIGHT', ... to text.
    """

    layer: str
    name: str
    at: tuple[float, float]
    parts: tuple[Shape | Disc | Words, ...]
    attributes: Mapping[str, str] = field(default_factory=dict)


Mark = Shape | Disc | Words | Symbol


@dataclass(frozen=True, eq=False)
class Drawing:
    """A plan or a section at a scale.

    Parameters
    ----------
    view : str
        'plan' or 'section'.
    scale : int
        Metres of the set to a metre of paper: 50 for 1:50.
    marks : tuple of Shape, Disc, Words or Symbol
        In metres, in any order; they are drawn layer by layer.
    low, high : (float, float)
        Corners of all that is drawn, lettering too. [m]
    axes : (str, str)
        What runs to the right and up: 'x' and 'y', or 'along' and 'height'.
    """

    view: str
    scale: int
    marks: tuple[Mark, ...]
    low: tuple[float, float]
    high: tuple[float, float]
    axes: tuple[str, str] = ("x", "y")


@dataclass(frozen=True, eq=False)
class Key:
    """An entry of a legend: what is drawn, in mm about (0, 0) within 9 x 5 mm, and what it means."""

    parts: tuple[Shape | Disc | Words, ...]
    text: str


@dataclass(frozen=True)
class Head:
    """What a sheet says of itself.

    Parameters
    ----------
    title : str
        Of the scene.
    subject : str
        'Plan, option bounce', 'Section A, y = 1.50 m'.
    number : str
        '2 of 6', '' for one that stands alone.
    notes : tuple of str
        Sentences beside the drawing: whose lengths, cautions, who decides.
    """

    title: str
    subject: str
    number: str = ""
    notes: tuple[str, ...] = ()


PAGES: Mapping[str, tuple[float, float]] = {
    "a4": (297.0, 210.0), "a3": (420.0, 297.0), "letter": (279.4, 215.9),
}
"""Pages, lying: width and height. [mm]  Source: ISO 216; ANSI/ASME Y14.1 size A (11 x 8.5 in)."""


@dataclass(frozen=True, eq=False)
class Sheet:
    """A drawing on a page.

    Parameters
    ----------
    page : (float, float)
        Width and height. [mm]
    drawing : Drawing
    origin : (float, float)
        Where the drawing's (0, 0) lies on the page. [mm]
    furniture : tuple of Shape, Disc or Words
        All else, in mm from the lower left corner; on the layer 'sheet'.
    head : Head
    """

    page: tuple[float, float]
    drawing: Drawing
    origin: tuple[float, float]
    furniture: tuple[Shape | Disc | Words, ...]
    head: Head

    def on_paper(self, points: np.ndarray) -> np.ndarray:
        """Return where points of the drawing [m] lie on the page, shape (n, 2). [mm]"""
        return np.asarray(points, float) * (1000.0 / self.drawing.scale) + self.origin
