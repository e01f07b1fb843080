"""Plans and sections of a scene's options: which there are to be, and each on its page."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from previz.plans.legend import plan_keys, plan_notes
from previz.plans.outlines import Footprint
from previz.plans.plan import CLEARANCES, draw_plan, fitted_plan, prints_of
from previz.plans.records import PAGES, Disc, Drawing, Head, Shape, Sheet, Symbol, Words
from previz.plans.sheet import compose, room
from previz.plans.sun_path import sun_path_inset
from previz.scene.scene import Scene
from previz.stage.records import Stage

TO_SCALE = ("Print at 100 %, not to fit the page: a ruler and the bar must agree. Measure on the set all the "
            "same.")
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


@dataclass(frozen=True, eq=False)
class Plans:
    """The drawings of a scene's options.

    Parameters
    ----------
    each : tuple of Page
        A plan for each option that has one of its own.
    one : function
        () -> the pages that stand for them where one plan is for all, with what differs marked.
    sections : tuple of Page
    """

    each: tuple[Page, ...]
    one: Callable[[], tuple[Page, ...]]
    sections: tuple[Page, ...]


def drawings_of(title: str, scenes: Mapping[str, Scene], stages: Mapping[str, Stage], tags: Mapping[str, str],
                ask: Ask) -> Plans:
    """Return the plans and sections of a scene's options, options with the same plan on one.

    Raises
    ------
    RequestError
        The page has no room for them, or there is no such place for a section.
    """
    drawn = _to_one_scale(scenes, stages, tags, ask)
    groups: dict[bytes, list[str]] = {}
    for option, drawing in drawn.items():
        groups.setdefault(mark_of(drawing), []).append(option)
    pages = tuple(_plan_page(title, options, drawn[options[0]], scenes[options[0]], ask, len(groups) > 1)
                  for options in groups.values())
    for page in pages:
        # A page that has no room is told before anything is rendered.
        page.compose("")
    return Plans(pages, lambda: pages[:1], ())


def _to_one_scale(scenes: Mapping[str, Scene], stages: Mapping[str, Stage], tags: Mapping[str, str],
                  ask: Ask) -> dict[str, Drawing]:
    """Return the plan of each option, all at the largest scale at which a page has room for each."""
    prints: dict[str, Mapping[str, Footprint]] = {}
    before = ""
    for option, scene in scenes.items():
        # Outlines of meshes take longest, and most options leave them as they are.
        same = option != before and prints and (scenes[before].pieces, scenes[before].figures) == (
            scene.pieces, scene.figures)
        prints[option] = prints[before] if same else prints_of(scene, stages[option])
        before = option

    def at(option: str, scale: int) -> Drawing:
        for clear in CLEARANCES:
            drawing = draw_plan(scenes[option], stages[option], tags, scale=scale, system=ask.system,
                                clear=clear, prints=prints[option])
            if np.all(np.subtract(drawing.high, drawing.low) * 1000 / scale <= room(PAGES[ask.page]).size):
                break
        return drawing

    if ask.scale is not None:
        return {option: at(option, ask.scale) for option in scenes}
    found = {option: fitted_plan(scene, stages[option], tags, PAGES[ask.page], system=ask.system,
                                 prints=prints[option]) for option, scene in scenes.items()}
    scale = max(drawing.scale for drawing in found.values())
    return {option: drawing if drawing.scale == scale else at(option, scale)
            for option, drawing in found.items()}


def _plan_page(title: str, options: Sequence[str], drawing: Drawing, scene: Scene, ask: Ask,
               several: bool) -> Page:
    named = [each for each in options if each]
    subject = f"Plan, {'options' if len(named) > 1 else 'option'} {', '.join(named)}" if named else "Plan"

    def composed(number: str) -> Sheet:
        return compose(drawing, PAGES[ask.page], Head(title, subject, number, (*plan_notes(scene), TO_SCALE)),
                       plan_keys(drawing, scene, ask.system), system=ask.system, inset=sun_path_inset(scene))

    return Page(("plan", *(options[:1] if several else ())), composed)
