"""Plans and sections of a scene's options: which there are to be, and each on its page."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from previz.plans.plan import draw_plan, fitted_plan, plan_keys, sun_path_inset
from previz.plans.records import PAGES, Disc, Drawing, Head, Key, Shape, Sheet, Symbol, Words
from previz.plans.sheet import compose
from previz.scene.scene import Scene
from previz.stage.records import Stage

TO_SCALE = "Print at 100 %, not to fit the page: a ruler and the bar must agree. Measure on the set all the same."
"""On every drawing."""


@dataclass(frozen=True)
class Ask:
    """What is asked of drawings.

    Parameters
    ----------
    page, system : str
        'a4', 'a3' or 'letter'; 'metric' or 'imperial'.
    section : str
        Where it is cut; '' for the usual place.
    scale : int or None
        None for the largest that the page has room for.
    """

    page: str
    system: str
    section: str = ""
    scale: int | None = None


@dataclass(frozen=True, eq=False)
class Page:
    """A drawing that is to be set on a page of its own.

    Parameters
    ----------
    parts : tuple of str
        What its file is called by: 'plan', and the option where there are several plans.
    compose : function
        (number of the page as a sheet has it) -> Sheet.
    """

    parts: tuple[str, ...]
    compose: Callable[[str], Sheet]


def mark_of(drawing: Drawing) -> bytes:
    """Return what two drawings have alike if nothing in them differs."""
    digest = hashlib.sha256()

    def take(mark: Shape | Disc | Words | Symbol) -> None:
        if isinstance(mark, Symbol):
            digest.update(repr((mark.layer, mark.name, sorted(mark.attributes.items()))).encode())
            for part in mark.parts:
                take(part)
        elif isinstance(mark, Shape):
            digest.update(repr((mark.layer, mark.closed, mark.pen, mark.fill, mark.name, mark.part)).encode())
            digest.update(np.ascontiguousarray(mark.points, float).tobytes())
        else:
            digest.update(repr(mark).encode())

    digest.update(repr((drawing.view, drawing.scale)).encode())
    for mark in drawing.marks:
        take(mark)
    return digest.digest()
