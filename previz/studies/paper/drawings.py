"""Plans and sections of a scene's options: which there are to be, and each on its page."""

from __future__ import annotations

import contextlib
import hashlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np

from previz.errors import RequestError
from previz.plans.cut import Cut, cut_of, default_cut
from previz.plans.differences import (
    difference_keys,
    difference_notes,
    draw_differences,
    fitted_differences,
    versions_of,
)
from previz.plans.legend import plan_keys, plan_notes
from previz.plans.outlines import Footprint
from previz.plans.plan import CLEARANCES, draw_plan, fitted_plan, prints_of
from previz.plans.records import PAGES, Disc, Drawing, Head, Key, Shape, Sheet, Symbol, Words
from previz.plans.section import CLEARANCES as SECTION_CLEARANCES
from previz.plans.section import draw_section, fitted_section, section_keys, section_notes
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
class Drawings:
    """The drawings that there may be of a scene's options, each made when it is asked for.

    Parameters
    ----------
    title : str
        Of the scene.
    scenes, stages : dict
        By option.
    tags : dict of str to str
    ask : Ask

    Raises
    ------
    RequestError
        There is no such place for a section; from any of its methods, a page has no room.
    """

    title: str
    scenes: Mapping[str, Scene]
    stages: Mapping[str, Stage]
    tags: Mapping[str, str]
    ask: Ask
    cut: Cut | None = field(init=False)
    kept: dict[str, Drawing] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        first = next(iter(self.scenes))
        scene, stage = self.scenes[first], self.stages[first]
        cut = None
        if self.ask.section:
            cut = cut_of(self.ask.section, scene, stage, self.ask.system)
        else:
            # There is nothing to cut through in a set without walls, pieces and people.
            with contextlib.suppress(RequestError):
                cut = default_cut(scene, stage, self.ask.system)
        object.__setattr__(self, "cut", cut)

    def made(self, one: bool) -> None:
        """Draw a section and plans, one for all options or one each; what cannot be is told."""
        for page in (*(self.differences if one else self.plans), *self.section):
            page.compose("")

    @cached_property
    def plans(self) -> tuple[Page, ...]:
        """A plan for each option, options with the same on one, all at one scale."""
        prints = self._prints()

        def fitted(option: str) -> Drawing:
            return fitted_plan(self.scenes[option], self.stages[option], self.tags, self._size,
                               system=self.ask.system, prints=prints[option], cut=self.cut)

        def at(option: str, scale: int) -> Drawing:
            return self._first_fitting(CLEARANCES, lambda clear: draw_plan(
                self.scenes[option], self.stages[option], self.tags, scale=scale, system=self.ask.system,
                clear=clear, prints=prints[option], cut=self.cut))

        def page(options: Sequence[str], drawing: Drawing, several: bool) -> Page:
            scene = self.scenes[options[0]]
            return self._page("plan", options, drawing, "", plan_notes(scene),
                              plan_keys(drawing, scene, self.ask.system), several, sun_path_inset(scene))

        return self._pages(fitted, at, page)

    @cached_property
    def differences(self) -> tuple[Page, ...]:
        """One plan for all options, with what differs marked; the plan itself of one option."""
        if len(self.scenes) == 1:
            return self.plans
        versions = versions_of([(option, scene, self.stages[option])
                                for option, scene in self.scenes.items()])
        scene, scale, system = versions[0].scene, self.ask.scale, self.ask.system
        if scale is None:
            drawing = fitted_differences(versions, self.tags, self._size, system=system, cut=self.cut)
        else:
            drawing = self._first_fitting(CLEARANCES, lambda clear: draw_differences(
                versions, self.tags, scale=scale, system=system, clear=clear, cut=self.cut))
        notes = (*plan_notes(scene), *difference_notes(versions))
        return (self._page("plan", list(self.scenes), drawing, ", what differs", notes,
                           difference_keys(drawing, versions, system), False, sun_path_inset(scene)),)

    @cached_property
    def sections(self) -> tuple[Page, ...]:
        """A section for each option, options with the same on one, all at one scale and at one cut."""
        return self._sections(list(self.scenes)) if len(self.scenes) > 1 else self.section

    @cached_property
    def section(self) -> tuple[Page, ...]:
        """The section of the first option alone."""
        return self._sections(list(self.scenes)[:1])

    def _sections(self, options: Sequence[str]) -> tuple[Page, ...]:
        cut = self.cut
        if cut is None:
            return ()

        def fitted(option: str) -> Drawing:
            if option not in self.kept:
                self.kept[option] = fitted_section(self.scenes[option], self.stages[option], self.tags, cut,
                                                   self._size, system=self.ask.system)
            return self.kept[option]

        def at(option: str, scale: int) -> Drawing:
            return self._first_fitting(SECTION_CLEARANCES, lambda clear: draw_section(
                self.scenes[option], self.stages[option], self.tags, cut, scale=scale,
                system=self.ask.system, clear=clear))

        def page(options: Sequence[str], drawing: Drawing, several: bool) -> Page:
            return self._page("section", options, drawing, f", {cut.text}", section_notes(cut),
                              section_keys(drawing, self.scenes[options[0]], self.ask.system), several)

        return self._pages(fitted, at, page, options)

    @property
    def _size(self) -> tuple[float, float]:
        return PAGES[self.ask.page]

    def _prints(self) -> dict[str, Mapping[str, Footprint]]:
        """Return the outlines of each option's meshes, which take long and which most options leave alone."""
        prints: dict[str, Mapping[str, Footprint]] = {}
        before: Scene | None = None
        for option, scene in self.scenes.items():
            same = before is not None and (before.pieces, before.figures) == (scene.pieces, scene.figures)
            prints[option] = list(prints.values())[-1] if same else prints_of(scene, self.stages[option])
            before = scene
        return prints

    def _first_fitting(self, clearances: Sequence[Any], draw: Callable[[Any], Drawing]) -> Drawing:
        """Return a drawing with the most room for names that the page has; with least, if it has none."""
        for clear in clearances:
            drawing = draw(clear)
            wide, high = np.subtract(drawing.high, drawing.low) * 1000 / drawing.scale
            if wide <= room(self._size).size[0] and high <= room(self._size).size[1]:
                break
        return drawing

    def _pages(self, fitted: Callable[[str], Drawing], at: Callable[[str, int], Drawing],
               page: Callable[[Sequence[str], Drawing, bool], Page],
               options: Sequence[str] | None = None) -> tuple[Page, ...]:
        options = list(self.scenes) if options is None else options
        if self.ask.scale is not None:
            drawn = {option: at(option, self.ask.scale) for option in options}
        else:
            drawn = {option: fitted(option) for option in options}
            scale = max(drawing.scale for drawing in drawn.values())
            drawn = {option: drawing if drawing.scale == scale else at(option, scale)
                     for option, drawing in drawn.items()}
        groups: dict[bytes, list[str]] = {}
        for option, drawing in drawn.items():
            groups.setdefault(mark_of(drawing), []).append(option)
        return tuple(page(group, drawn[group[0]], len(groups) > 1) for group in groups.values())

    def _page(self, view: str, options: Sequence[str], drawing: Drawing, more: str, notes: Sequence[str],
              keys: Sequence[Key], several: bool, inset: Sequence[Shape | Disc | Words] = ()) -> Page:
        named = [each for each in options if each]
        # The plan has its ends, and this letter at them.
        subject = "Section A" if view == "section" else view.capitalize()
        if named:
            subject += f", {'options' if len(named) > 1 else 'option'} {', '.join(named)}"

        def composed(number: str) -> Sheet:
            head = Head(self.title, subject + more, number, (*notes, TO_SCALE))
            return compose(drawing, self._size, head, keys, system=self.ask.system, inset=inset)

        return Page((view, *(options[:1] if several else ())), composed)
