"""A plan for a screen, which is moved about: everything to scale where it stands, nothing at an edge.

It is drawn by the same symbols as the one on paper, at any scale, with names alone beside them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from previz.plans import things
from previz.plans.drafting import Drafting, Thing
from previz.plans.extent import Extent, extent_of, set_up
from previz.plans.lamp_marks import lamps
from previz.plans.names import names, openings
from previz.plans.outlines import Footprint
from previz.plans.records import Mark
from previz.plans.tags import tags_of
from previz.plans.walls import opening_shapes, wall_shapes

if TYPE_CHECKING:
    from previz.scene.scene import Scene
    from previz.stage.records import Stage

NAMED_FROM = 7.0
"""Extent from which on a piece has its name: on a screen one goes nearer for the names of small things. [mm]"""

ROOM_FOR_NAMES = 25.0
"""Round all that stands anywhere. [mm of paper]"""


@dataclass(frozen=True, eq=False)
class ScreenPlan:
    """A plan in metres of the set, thing by thing.

    Parameters
    ----------
    things : tuple of Thing
        With their marks; the last in a layer lies on top.
    walls : tuple of marks
        Walls and openings.
    names : tuple of marks
        Of things and openings.
    extent : Extent
        What is looked at first: as on paper, without what stands far away.
    whole : Extent
        Everything.
    tags : dict of str to str
        Name -> number of lamps and of what stands in the light.
    """

    things: tuple[Thing, ...]
    walls: tuple[Mark, ...]
    names: tuple[Mark, ...]
    extent: Extent
    whole: Extent
    tags: Mapping[str, str]


def screen_plan(scene: Scene, stage: Stage, *, unit: float, system: str, prints: Mapping[str, Footprint],
                named: bool = True) -> ScreenPlan:
    """Return the plan of one option of a scene.

    Parameters
    ----------
    scene, stage
        The stage built of the scene.
    unit : float
        What a mm of paper is on the set. [m]
    system : str
        'metric' or 'imperial'.
    prints : dict of str to Footprint
        As `plan.prints_of` returns them.
    named : bool
        False leaves out the names, which take longest.
    """
    extent = extent_of(scene, stage, prints)
    places = list(set_up(scene, stage).values())
    low, high = np.min([extent.low, *places], axis=0), np.max([extent.high, *places], axis=0)
    whole = Extent(low, high)
    window = whole.grown(ROOM_FOR_NAMES * unit)
    # Numbers go by this scene alone, as the page counts its lamps.
    tags = tags_of([scene])
    draft = Drafting(scene, stage, tags, system, unit, whole, window, window, dict(prints))
    found = (*things.pieces(draft), *things.figures(draft), *things.sheets(draft), *things.cameras(draft),
             *lamps(draft))
    walls = () if scene.room is None else (*wall_shapes(scene.room), *opening_shapes(scene, stage))
    drawn = [*walls, *(mark for thing in found for mark in thing.marks)]
    pieces = {each.name for each in scene.pieces}
    short = [replace(thing, lines=thing.lines[:1]) for thing in (*found, *openings(draft))
             if thing.name not in pieces or np.ptp(thing.solid, axis=0).max() >= NAMED_FROM * unit]
    said = tuple(names(draft, short, drawn)) if named else ()
    return ScreenPlan(found, walls, said, extent, whole, tags)
