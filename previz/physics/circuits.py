"""Lamps shared out over circuits: as few circuits as can be, then the phases as even as can be.

Both are searched for by branch and bound from a good start: best fit of the largest first, and moves and
swaps between phases. A search that ends before its limit has proved its answer. Nothing is drawn by chance,
so the same lamps always have the same circuits.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate

STEPS = 200_000
"""Most steps of each search, times circuits that each looks at, of which 10 cost as one. [1]"""

SAME = 1e-9
"""Currents that differ by no more are alike. [A]"""

MOST_SWAPPED = 60
"""With more loads than so many they are moved, but not swapped, between phases. [1]"""

ALIKE = 0.05
"""Phases are as even as can be where the fullest could carry so much less at most: no clamp meter shows it.
[A]"""


Answer = list[int | None]
"""Number of each load's circuit, from 0; None for a load that none takes."""


def fewest(loads: Sequence[float], room: Sequence[float], *, used: Sequence[bool] = (),
           steps: int = STEPS) -> tuple[Answer, bool]:
    """Return the circuit of each load: as many loads fed as can be, from as few further circuits as can be.

    Parameters
    ----------
    loads : sequence of float, shape (n,)
        Currents. [A]
    room : sequence of float, shape (m,)
        What each circuit takes; below 0 counts as 0, which takes a load of 0. [A]
    used : sequence of bool, shape (m,)
        Circuits in use already; without it none is.
    steps : int
        Most steps of the search, as `STEPS`.

    Returns
    -------
    list of int or None, shape (n,)
    bool
        Whether it is proved that there is nothing better.

    Raises
    ------
    ValueError
        A load is below 0, or the shapes do not fit each other.
    """
    task = _task(loads, room, (0,) * len(room), (0.0,), used)
    return _Fewest(task, steps // max(10, len(room))).search()


def even_out(loads: Sequence[float], room: Sequence[float], start: Answer, phases: Sequence[int],
             carried: Sequence[float], *, used: Sequence[bool] = (), more: int = 0,
             steps: int = STEPS) -> tuple[Answer, bool]:
    """Return the circuit of each load, so that the fullest phase carries as little as can be.

    The loads that are fed stay fed, from no more further circuits than at the start and those allowed.

    Parameters
    ----------
    loads, room, used, steps
        As in `fewest`.
    start : list of int or None, shape (n,)
        Where the loads are.
    phases : sequence of int, shape (m,)
        Phase of each circuit, an index of `carried`.
    carried : sequence of float, shape (p,)
        What each phase carries besides. [A]
    more : int
        Circuits that may be used beyond those of the start.

    Returns
    -------
    list of int or None, shape (n,)
    bool
        Whether it is proved that the fullest phase cannot carry `ALIKE` less.

    Raises
    ------
    ValueError
        A load is below 0, or the shapes do not fit each other.
    """
    task = _task(loads, room, phases, carried, used)
    return _Even(task, list(start), more, steps // max(10, len(room))).search()


def _task(loads: Sequence[float], room: Sequence[float], phases: Sequence[int], carried: Sequence[float],
          used: Sequence[bool]) -> _Task:
    used = used or (False,) * len(room)
    if len(phases) != len(room) or len(used) != len(room) or any(not 0 <= p < len(carried) for p in phases):
        raise ValueError("each circuit needs a phase that is carried, and whether it is used")
    if any(not load >= 0 for load in loads):
        raise ValueError(f"loads must be 0 A or more, got {min(loads)!r}")
    return _Task(tuple(loads), tuple(max(0.0, each) for each in room), tuple(phases), tuple(carried),
                 tuple(used))


@dataclass(frozen=True)
class _Task:
    """Loads and circuits; the largest load comes first in `order`."""

    loads: tuple[float, ...]
    room: tuple[float, ...]
    phases: tuple[int, ...]
    carried: tuple[float, ...]
    used: tuple[bool, ...]

    @property
    def order(self) -> list[int]:
        """Numbers of the loads that some circuit takes alone, the largest first."""
        most = max(self.room, default=-1.0) + SAME
        fit = [k for k, load in enumerate(self.loads) if load <= most]
        return sorted(fit, key=lambda k: (-self.loads[k], k))


class _Fewest:
    """The search for the fewest loads unfed, and then the fewest circuits."""

    def __init__(self, task: _Task, steps: int):
        self.task, self.steps = task, steps
        self.order = task.order
        self.sizes = [task.loads[k] for k in self.order]
        # Of the loads from each place on: the sum, and of the smallest of all so many.
        self.rest = [*accumulate(reversed(self.sizes), initial=0.0)]
        self.left = list(task.room)
        self.open = list(task.used)
        self.at: list[int | None] = [None] * len(self.order)
        self.best: tuple[int, int] = (len(self.order) + 1, 0)
        self.found: list[int | None] = list(self.at)

    def search(self) -> tuple[Answer, bool]:
        """Return the circuit of each load, and whether that is proved to be the best."""
        # The way down that is tried first is that of best fit, so there is an answer at any limit.
        self._down(0, 0, 0)
        circuits: Answer = [None] * len(self.task.loads)
        for k, circuit in zip(self.order, self.found, strict=True):
            circuits[k] = circuit
        return circuits, self.steps > 0

    def _down(self, place: int, unfed: int, opened: int) -> None:
        if place == len(self.order):
            if (unfed, opened) < self.best:
                self.best, self.found = (unfed, opened), list(self.at)
            return
        if self.best[0] <= len(self.order):
            # The first way down is free of the limit, so that there is an answer.
            self.steps -= 1
            if self.steps <= 0 or self._bound(place, unfed, opened) >= self.best:
                return
        size = self.sizes[place]
        for circuit in self._choices(size):
            was = self.open[circuit]
            self.left[circuit] -= size
            self.open[circuit], self.at[place] = True, circuit
            self._down(place + 1, unfed, opened + (not was))
            self.left[circuit] += size
            self.open[circuit], self.at[place] = was, None
        self._down(place + 1, unfed + 1, opened)

    def _bound(self, place: int, unfed: int, opened: int) -> tuple[int, int]:
        """Return the least that loads from a place on can add."""
        count = len(self.order) - place
        inside = sum(left for left, is_open in zip(self.left, self.open, strict=True) if is_open)
        closed = sorted((left for left, is_open in zip(self.left, self.open, strict=True) if not is_open),
                        reverse=True)
        fits = min(count, bisect_right(self.rest, inside + sum(closed) + SAME) - 1)
        if fits < count:
            return unfed + count - fits, opened
        needed = self.rest[count] - SAME
        for left in closed:
            if inside >= needed:
                break
            inside += left
            opened += 1
        return unfed, opened

    def _choices(self, size: float) -> Iterator[int]:
        """Yield circuits that take a load: open ones by best fit, then closed ones, alike ones once."""
        tried = set()
        ranked = sorted(range(len(self.left)), key=lambda each: (
            not self.open[each], self.left[each] if self.open[each] else -self.left[each], each))
        for circuit in ranked:
            key = self.open[circuit], round(self.left[circuit], 9)
            if self.left[circuit] + SAME >= size and key not in tried:
                tried.add(key)
                yield circuit


class _Even:
    """The search for the least that the fullest phase can carry, from no more circuits than at the start."""

    def __init__(self, task: _Task, start: Answer, more: int, steps: int):
        self.task, self.steps, self.found = task, steps, start
        self.order = [k for k in task.order if start[k] is not None]
        self.left = list(task.room)
        self.open = list(task.used)
        self.free = more + len({each for each in start if each is not None and not task.used[each]})
        self.phase = list(task.carried)
        self.at: Answer = list(start)
        fed = sum(task.loads[k] for k in self.order)
        on_phases = {p: task.carried[p] for p in task.phases}
        takes = {p: sum(room for room, q in zip(task.room, task.phases, strict=True) if q == p)
                 for p in on_phases}
        # What the other phases have no room for is left to each.
        self.least = max(
            *task.carried, (sum(on_phases.values()) + fed) / max(1, len(on_phases)),
            *(on_phases[p] + fed - (sum(takes.values()) - takes[p]) for p in on_phases), 0.0)

    def search(self) -> tuple[Answer, bool]:
        """Return the circuit of each load, and whether the fullest phase is proved to carry the least."""
        if len(set(self.task.phases)) < 2:
            return self.found, True
        self._improve()
        self.best = max(self._carried(self.found))
        self._down(0)
        proved = self.steps > 0
        self._improve()
        return self.found, proved

    def _carried(self, at: Answer) -> list[float]:
        phase = list(self.task.carried)
        for load, circuit in zip(self.task.loads, at, strict=True):
            if circuit is not None:
                phase[self.task.phases[circuit]] += load
        return phase

    def _down(self, place: int) -> None:
        self.steps -= 1
        if self.steps <= 0 or self.best <= self.least + ALIKE or max(self.phase) >= self.best - ALIKE:
            return
        if place == len(self.order):
            self.best, self.found = max(self.phase), list(self.at)
            return
        load = self.order[place]
        size = self.task.loads[load]
        for circuit in self._choices(size):
            was, phase = self.open[circuit], self.task.phases[circuit]
            self.left[circuit] -= size
            self.phase[phase] += size
            self.free -= not was
            self.open[circuit], self.at[load] = True, circuit
            self._down(place + 1)
            self.left[circuit] += size
            self.phase[phase] -= size
            self.free += not was
            self.open[circuit] = was

    def _choices(self, size: float) -> Iterator[int]:
        tried = set()
        ranked = sorted(range(len(self.left)), key=lambda each: (
            self.phase[self.task.phases[each]], not self.open[each], self.left[each], each))
        for circuit in ranked:
            key = self.open[circuit], round(self.left[circuit], 9), self.task.phases[circuit]
            if self.left[circuit] + SAME < size or key in tried or not (self.open[circuit] or self.free):
                continue
            tried.add(key)
            yield circuit

    def _improve(self) -> None:
        """Move one load, or swap two, while that makes phases more even and the fullest no fuller."""
        at = list(self.found)
        while True:
            phase = self._carried(at)
            better = min(self._steps_of(at), key=lambda each: each[0], default=None)
            if better is None or better[0] >= self._worth(phase):
                break
            for load, circuit in better[1]:
                at[load] = circuit
        self.found = at

    @staticmethod
    def _worth(phase: Sequence[float]) -> tuple[float, float]:
        # Rounded, so that sums in another order are not taken for a gain.
        return round(max(phase), 7), round(sum(each * each for each in phase), 6)

    def _steps_of(self, at: Answer) -> Iterator[tuple[tuple[float, float], list[tuple[int, int]]]]:
        """Yield what the phases are worth after each move and swap that circuits have room for."""
        task, phase = self.task, self._carried(at)
        left = list(task.room)
        for load, circuit in zip(task.loads, at, strict=True):
            if circuit is not None:
                left[circuit] -= load
        in_use = {each for each in at if each is not None} | {k for k, used in enumerate(task.used) if used}
        for one in self.order:
            here, size = at[one], task.loads[one]
            assert here is not None
            for there in in_use:
                if task.phases[there] != task.phases[here] and left[there] + SAME >= size:
                    yield self._after(phase, here, there, size), [(one, there)]
            for other in self.order if len(self.order) <= MOST_SWAPPED else ():
                there_ = at[other]
                assert there_ is not None
                more = size - task.loads[other]
                if (task.phases[there_] != task.phases[here] and more > 0
                        and left[there_] + SAME >= more):
                    yield self._after(phase, here, there_, more), [(one, there_), (other, here)]

    def _after(self, phase: list[float], here: int, there: int, size: float) -> tuple[float, float]:
        changed = list(phase)
        changed[self.task.phases[here]] -= size
        changed[self.task.phases[there]] += size
        return self._worth(changed)
