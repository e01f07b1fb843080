"""An answer to wants: levels, colours and exposure, and how each want stands under them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.exposure.metering import Measured
from previz.levels.problem import Problem, State
from previz.levels.wants import Want
from previz.physics.light import lamp_band_xyz


@dataclass(frozen=True)
class Setting:
    """One lamp as an answer has it.

    Parameters
    ----------
    lamp : str
    level : float
        0 for off. [1]
    colour : int
        Number of one of the lamp's colours; of the nearest to `mired` on a lamp with a range.
    mired : float or None
        On a lamp with a colour range.
    """

    lamp: str
    level: float
    colour: int = 0
    mired: float | None = None


@dataclass(frozen=True)
class Reading:
    """One want under an answer.

    Parameters
    ----------
    want : Want
    value : Measured
        In the want's own unit: stops from the reference, stops of a ratio, mired.
    miss : float
        How far it is over (+) or under (-) what is wanted; 0 where that is allowed. [as value]
    """

    want: Want
    value: Measured
    miss: float

    @property
    def met(self) -> bool:
        """True if it is off by no more than the want allows."""
        return abs(self.miss) <= self.want.within


@dataclass(frozen=True)
class Answer:
    """Levels, colours and exposure, and how the wants stand under them.

    Parameters
    ----------
    settings : tuple of Setting
        One for each lamp that may move or not, in the order given.
    shifts : dict of str to float
        By camera. [stops]
    readings : tuple of Reading
        One for each want, in the order given.
    """

    settings: tuple[Setting, ...]
    shifts: dict[str, float]
    readings: tuple[Reading, ...]

    @property
    def met(self) -> bool:
        """True if every want is met."""
        return all(each.met for each in self.readings)


def answer_of(problem: Problem, state: State) -> Answer:
    """Return a state with the readings that it gives, and their errors."""
    settings = []
    for number, lamp in enumerate(problem.lamps):
        place = float(state.places[number])
        own = float(np.interp(place, range(len(lamp.mired)), lamp.mired)) if lamp.mired else None
        settings.append(Setting(lamp.lamp, float(state.levels[number]), int(round(place)), own))
    readings = [Reading(want, value, want.miss(value.value)) for want, value in
                zip(problem.wants, _values(problem, state), strict=True)]
    shifts = {each.camera: float(shift) for each, shift in zip(problem.cameras, state.shifts, strict=True)}
    return Answer(tuple(settings), shifts, tuple(readings))


def _values(problem: Problem, state: State) -> list[Measured]:
    """Return each want's reading with its standard error, as `metering.jackknife` has it, all at once."""
    batches = light_by_batch(problem, state)
    count, total = len(batches), batches.sum(axis=0)
    whole = problem.values(total / count, state.shifts)
    each = problem.values((total - batches) / (count - 1), state.shifts)
    spread = np.sqrt(((each - each.mean(axis=0)) ** 2).sum(axis=0) * (count - 1) / count)
    return [Measured(float(value), float(error)) for value, error in zip(whole, spread, strict=True)]


def value_of(problem: Problem, shifts: np.ndarray, number: int, xyz: np.ndarray) -> float:
    """Return one want's reading, of light as `Problem.light` returns it. [stops or mired]"""
    return float(problem.values(xyz, shifts)[number])


def light_by_batch(problem: Problem, state: State) -> np.ndarray:
    """Return X, Y, Z at every meter, batch by batch. Shape (batch, meter, 3)"""
    light = problem.response.light.sum(axis=3)
    total = np.zeros((light.shape[1], light.shape[0], 3))
    for number, lamp in enumerate(problem.lamps):
        place, level = float(state.places[number]), float(state.levels[number])
        if level:
            low = min(int(place), len(lamp.colours) - 1)
            high = min(low + 1, len(lamp.colours) - 1)
            one, other = (lamp_band_xyz(lamp.colours[each], light.shape[-1]) for each in (low, high))
            weights = level * (one + (place - low) * (other - one))
            total += np.einsum("mkb,bc->kmc", light[:, :, number], weights)
    return total
