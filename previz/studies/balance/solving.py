"""The answer to wants that can be dialled: solved, rounded, and read again as it is rounded."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from previz.levels.advice import FREED, MOST_STOPS, Remedy, conflict, remedies
from previz.levels.answers import Answer, Reading, answer_of
from previz.levels.moves import LampMove
from previz.levels.problem import Problem
from previz.levels.response import Response
from previz.levels.solve import as_set, solved
from previz.levels.wants import COLOUR, MIRED_A_STOP, Want
from previz.physics.exposure import DENSITY_OF_A_STOP
from previz.scene.scene import Scene
from previz.stage.records import Stage
from previz.studies.balance.moving import (
    LEVEL_STEP,
    LampMoving,
    camera_moves,
    changes_of,
    fixed,
    lamps_of,
    moves,
    shifted,
)
from previz.studies.changes import Changes, LampChange, changed_scene, lamp_lights

ROUNDS = 4
"""Tungsten that is dimmed is warmer, so an answer is looked for again in the colours that it makes."""

SAME_LEVEL = 0.02
"""Levels of tungsten that differ by less are as warm. [1]"""

COARSE = 0.2
"""Under this level a step of the dimmer may count. [1]"""

LOST = 0.05
"""A want whose reading is so far off what it was to be is looked for again. [stops]"""


@dataclass(frozen=True, eq=False)
class Solution:
    """An answer that can be dialled.

    Parameters
    ----------
    changes : Changes
        What is set otherwise than the option has it.
    before, after : tuple of Reading
        Each want as the option is, and as it is then.
    conflict : tuple of str
        Wants that exclude each other within what may move; none where all can be met.
    remedies : tuple of Remedy
        What would do.
    """

    changes: Changes
    before: tuple[Reading, ...]
    after: tuple[Reading, ...]
    conflict: tuple[str, ...] = ()
    remedies: tuple[Remedy, ...] = ()

    @property
    def met(self) -> bool:
        """Whether every want is met."""
        return all(each.met for each in self.after)


def solve(response: Response, wants: Sequence[Want], scene: Scene, stage: Stage, rule: str, *,
          few: bool = False) -> Solution:
    """Return the answer that comes nearest to wants.

    Parameters
    ----------
    response : Response
        What each lamp of the stage gives at the meters of the wants.
    wants : sequence of levels.wants.Want
    scene : Scene
        Whose lamps and cameras say what may move.
    stage : Stage
        Of it.
    rule, few
        As of `levels.solve.balance`.

    Raises
    ------
    RequestError
        A lamp cannot have a colour that it is to try.
    """
    lamps = lamps_of(scene, stage)
    cameras, exposure = camera_moves(scene)
    levels = {name: each.level or 1.0 for name, each in lamps.items()}
    start: dict[str, float] = {}
    for _ in range(ROUNDS):
        problem = Problem(response, wants, _started(moves(stage, lamps, levels), start), cameras)
        state = solved(problem, rule, few=few)
        answer = answer_of(problem, state)
        changes = changes_of(answer.settings, answer.shifts, scene, lamps, exposure)
        after = readings(response, wants, scene, stage, changes)
        found = {each.lamp: each.level for each in answer.settings}
        if _as_warm(lamps, levels, found) and not _lost(answer, after):
            break
        # The lit side may have changed to the other cheek: which one it is, is taken from what is set.
        levels, start = found, found if _lost(answer, after) else start
    changes = _refined(response, wants, scene, stage, changes, after, lamps)
    after = readings(response, wants, scene, stage, changes)
    against: tuple[str, ...] = ()
    found_remedies: tuple[Remedy, ...] = ()
    if not all(each.met for each in after):
        against = conflict(problem, state)
        found_remedies = tuple(each for each in remedies(problem, state) if _sane(each, lamps))
    return Solution(changes, readings(response, wants, scene, stage, Changes()), after, against,
                    found_remedies)


def _sane(remedy: Remedy, lamps: Mapping[str, LampMoving]) -> bool:
    """Return whether somebody would do it: no lamp a dozen stops down, and no brighter sky."""
    if remedy.kind != FREED:
        return True
    return abs(remedy.amount) <= MOST_STOPS and (remedy.lamp in lamps or remedy.amount < 0)


def _started(made: list[LampMove], levels: Mapping[str, float]) -> list[LampMove]:
    """Return moves with other levels than are set now, where there are any."""
    return [replace(each, level=levels.get(each.lamp, each.level)) if each.low < each.high else each
            for each in made]


def _as_warm(lamps: Mapping[str, LampMoving], before: Mapping[str, float],
             after: Mapping[str, float]) -> bool:
    """Return whether tungsten is as warm at some levels as at others."""
    warm = [name for name, each in lamps.items() if each.warms and not each.locked and after[name]]
    return all(abs(before[name] - after[name]) <= SAME_LEVEL * max(before[name], LEVEL_STEP) for name in warm)


def _lost(answer: Answer, after: Sequence[Reading]) -> bool:
    return any(abs(one.value.value - other.value.value) / _unit(one.want) > LOST
               for one, other in zip(answer.readings, after, strict=True)
               if np.isfinite(one.value.value) and np.isfinite(other.value.value))


def _unit(want: Want) -> float:
    return MIRED_A_STOP if want.kind == COLOUR else 1.0


def readings(response: Response, wants: Sequence[Want], scene: Scene, stage: Stage,
             changes: Changes) -> tuple[Reading, ...]:
    """Return how wants stand under changes, with every lamp as it is then."""
    changed = changed_scene(scene, stage, changes)
    shifts = {after.name: 2 * float(np.log2(before.stop / after.stop))
              + (before.nd - after.nd) / DENSITY_OF_A_STOP
              for before, after in zip(scene.cameras, changed.cameras, strict=True)}
    cameras, _ = camera_moves(scene)
    found = as_set(response, shifted(wants, shifts),
                   [fixed(lamp) for lamp in lamp_lights(changed, stage)], cameras)
    return tuple(replace(each, want=want) for each, want in zip(found.readings, wants, strict=True))


def _refined(response: Response, wants: Sequence[Want], scene: Scene, stage: Stage, changes: Changes,
             after: Sequence[Reading], lamps: Mapping[str, LampMoving]) -> Changes:
    """Return changes whose low levels were moved by a step where rounding cost something.

    At a level of 1 % a step of the dimmer is a seventh of a stop.
    """
    low = [name for name, each in changes.lamps.items() if each.dimmer is not None and each.dimmer < COARSE]
    best, loss = changes, _loss(after)
    for name in low:
        for step in lamps[name].steps(best.lamps.get(name, LampChange())):
            tried = Changes({**best.lamps, name: step}, best.cameras)
            found = _loss(readings(response, wants, scene, stage, tried))
            if found < loss - 1e-9:
                best, loss = tried, found
    return best


def _loss(read: Sequence[Reading]) -> float:
    """Return what is missed in all. [stops²]"""
    return float(sum((each.want.weight * np.nan_to_num(each.miss, nan=20.0, neginf=-20.0)
                      / _unit(each.want)) ** 2 for each in read))
