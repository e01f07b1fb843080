"""The answer to wants that can be dialled: solved, rounded, and read again as it is rounded."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from previz.levels.advice import FREED, MOST_STOPS, Remedy, conflict, remedies
from previz.levels.answers import Answer, Reading, answer_of
from previz.levels.moves import LampMove
from previz.levels.problem import Problem, State
from previz.levels.response import Response
from previz.levels.solve import as_set, solved
from previz.levels.wants import COLOUR, DARKER, MIRED_A_STOP, RATIO, Want
from previz.physics.exposure import DENSITY_OF_A_STOP
from previz.scene.scene import Scene
from previz.stage.records import Stage
from previz.studies.balance.moving import (
    camera_moves,
    changes_of,
    fixed,
    lamps_of,
    moves,
    shifted,
)
from previz.studies.changes import Changes, LampChange, changed_scene, lamp_lights

ROUNDS = 3
"""Tungsten that is dimmed is warmer, so an answer is looked for again in the colours that it makes."""

SAME = 0.02
"""Readings that are off by less are as they were to be. [stops]"""

COARSE = 0.2
"""Under this level a step of the dimmer may count. [1]"""

LEAST_REMEDY = 0.05
"""A change by less is none. [stops, or share of a lamp's light]"""

WORTH = 0.01
"""Another gel, or the other cheek lit, has to gain so much. [stops²]"""

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
          few: bool = False, views: Collection[str] = ()) -> Solution:
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
    views : collection of str
        Meters that were read off a picture.

    Raises
    ------
    RequestError
        A lamp cannot have a colour that it is to try.
    """
    tried = _Tries(response, wants, scene, stage, rule, few)
    best = tried.found(wants)
    best = tried.gelled(tried.turned(best))
    changes = tried.refined(best)
    after = tried.readings(changes)
    against: tuple[str, ...] = ()
    advice: tuple[Remedy, ...] = ()
    if not all(each.met for each in after):
        against = conflict(best.problem, best.state)
        advice = tuple(each for each in remedies(best.problem, best.state) if sane(each, tried.lamps, views))
    return Solution(changes, tried.readings(Changes()), after, against, advice)


@dataclass(frozen=True, eq=False)
class _Try:
    """One answer, rounded, with every want as it stands under it."""

    changes: Changes
    after: tuple[Reading, ...]
    problem: Problem
    state: State
    wants: Sequence[Want]


class _Tries:
    """Answers to the wants of one option; parameters as of `solve`."""

    def __init__(self, response: Response, wants: Sequence[Want], scene: Scene, stage: Stage, rule: str,
                 few: bool):
        self.response, self.wants, self.rule, self.few = response, wants, rule, few
        self.scene, self.stage = scene, stage
        self.lamps = lamps_of(scene, stage)
        self.cameras, self.exposure = camera_moves(scene)

    def found(self, wants: Sequence[Want], gelled: Mapping[str, int] | None = None,
              rounds: int = ROUNDS) -> _Try:
        """Return the answer to wants, which may be pinned to a cheek, with some lamps' gels chosen."""
        gelled = gelled or {}
        levels = {name: each.level or 1.0 for name, each in self.lamps.items()}
        start: dict[str, float] = {}
        for number in range(rounds):
            made = [_only(each, gelled.get(each.lamp)) for each in moves(self.stage, self.lamps, levels)]
            problem = Problem(self.response, wants, _started(made, start), self.cameras)
            state = solved(problem, self.rule, few=self.few)
            answer = answer_of(problem, state)
            settings = [replace(each, colour=gelled.get(each.lamp, each.colour)) for each in answer.settings]
            changes = changes_of(settings, answer.shifts, self.scene, self.lamps, self.exposure)
            after = self.readings(changes)
            levels_found, off = {each.lamp: each.level for each in answer.settings}, _off(answer, after)
            if off < SAME:
                break
            levels = {name: levels_found[name] or level for name, level in levels.items()}
            if number and off > LOST:
                # The lit side has changed to the other cheek.
                start = levels_found
        return _Try(changes, after, problem, state, wants)

    def turned(self, best: _Try) -> _Try:
        """Return an answer in which no face would do better with its other cheek for the lit one.

        Which one it is, is taken from what is set, until here.
        """
        for pair in _pairs(self.wants):
            missed = [each for each in best.after if not each.met and set(each.want.meters) == set(pair)]
            if missed:
                tried = [self.found(_pinned(best.wants, pair, lit), rounds=1) for lit in pair]
                better = min(tried, key=lambda each: _loss(each.after))
                if _loss(better.after) < _loss(best.after) - WORTH:
                    best = self.found(better.wants)
        return best

    def gelled(self, best: _Try) -> _Try:
        """Return an answer in which no lamp would do better with another of its gels.

        The greatest miss says which gels are tried before; those that bring a colour about are tried here,
        where something else is missed by more.
        """
        chosen: dict[str, int] = {}
        for name, lamp in self.lamps.items():
            if all(each.met for each in best.after if each.want.kind == COLOUR):
                break
            if len(lamp.choices) > 1 and lamp.choices[0].mired is None:
                for number in range(len(lamp.choices)):
                    tried = self.found(best.wants, {**chosen, name: number}, rounds=1)
                    if _loss(tried.after) < _loss(best.after) - WORTH:
                        best, chosen = tried, {**chosen, name: number}
        return self.found(best.wants, chosen) if chosen else best

    def readings(self, changes: Changes) -> tuple[Reading, ...]:
        """Return how the wants stand under changes, with every lamp as it is then."""
        return readings(self.response, self.wants, self.scene, self.stage, changes)

    def refined(self, best: _Try) -> Changes:
        """Return changes whose low levels were moved by a step where rounding cost something.

        At a level of 1 % a step of the dimmer is a seventh of a stop.
        """
        changes, loss = best.changes, _loss(best.after)
        low = [name for name, each in changes.lamps.items()
               if each.dimmer is not None and each.dimmer < COARSE]
        for name in low:
            for step in self.lamps[name].steps(changes.lamps.get(name, LampChange())):
                tried = Changes({**changes.lamps, name: step}, changes.cameras)
                found = _loss(self.readings(tried))
                if found < loss - 1e-9:
                    changes, loss = tried, found
        return changes


def _only(move: LampMove, number: int | None) -> LampMove:
    """Return what may be done with a lamp in one of its colours."""
    if number is None:
        return move
    return replace(move, colours=(move.colours[number],), words=(move.words[number],), colour=0)


def _pairs(wants: Sequence[Want]) -> list[tuple[str, str]]:
    """Return the cheeks that wants leave open which of is the lit one."""
    return list(dict.fromkeys((min(each.meters), max(each.meters)) for each in wants
                              if each.side and len(each.meters) == 2))


def _pinned(wants: Sequence[Want], pair: tuple[str, str], lit: str) -> list[Want]:
    """Return wants with one of two cheeks for the lit one."""
    dark = pair[0] if lit == pair[1] else pair[1]
    made = []
    for each in wants:
        if each.side and set(each.meters) == set(pair):
            meters = (lit, dark) if each.kind == RATIO else (dark,) if each.side == DARKER else (lit,)
            each = replace(each, meters=meters, side="")
        made.append(each)
    return made


def sane(remedy: Remedy, lamps: Collection[str], views: Collection[str] = ()) -> bool:
    """Return whether somebody would do it: nothing too small to be seen, no lamp a dozen stops down, no
    brighter sky, and no cloth by what was read off a picture, where it is not known what comes straight.
    """
    if abs(remedy.amount) < LEAST_REMEDY or remedy.meter in views or remedy.meter.startswith("background, "):
        return False
    if remedy.kind != FREED:
        return True
    return abs(remedy.amount) <= MOST_STOPS and (remedy.lamp in lamps or remedy.amount < 0)


def _started(made: list[LampMove], levels: Mapping[str, float]) -> list[LampMove]:
    """Return moves with other levels than are set now, where there are any."""
    return [replace(each, level=levels.get(each.lamp, each.level)) if each.low < each.high else each
            for each in made]


def _off(answer: Answer, after: Sequence[Reading]) -> float:
    """Return how far readings are off what they were to be, at most. [stops]"""
    return max((abs(one.value.value - other.value.value) / _unit(one.want)
                for one, other in zip(answer.readings, after, strict=True)
                if np.isfinite(one.value.value) and np.isfinite(other.value.value)), default=0.0)


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


def _loss(read: Sequence[Reading]) -> float:
    """Return what is missed in all. [stops²]"""
    return float(sum((each.want.weight * np.nan_to_num(each.miss, nan=20.0, neginf=-20.0)
                      / _unit(each.want)) ** 2 for each in read))
