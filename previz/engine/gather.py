"""Gather light for meters until each is as precise as requested.

A round traces the same number of paths for every meter that is still too noisy; those that are
done are left alone. How much a round does depends on what has been gathered and on nothing else,
so the same seed gives the same readings, interrupted or not.

A meter is done when its error is small, when enough paths have been traced for light that is seldom
met (`least_paths`), and when its error does not stand on a handful of paths (`Batches.on_few`). What
curved mirrors may throw and no path has met is a part of the error (`hidden`).
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from previz.engine import hidden
from previz.engine.render import Limits, luminance_weights, pass_seed
from previz.engine.unbroken import unbroken
from previz.frames.batches import BATCHES, Batches, spread_of
from previz.physics.light import lamps_band_xyz
from previz.stage.records import Stage

THREADS = 256
"""Threads of one meter in a round; each batch has an equal share of them."""

SAMPLES = 32
"""Fewest paths of one thread in a round."""

MOST_SAMPLES = 1024
"""Most paths of one thread in a round."""

ROUND_PATHS = 600_000
"""About the most paths of a round, so that progress is shown and an interrupt heard every second
or so."""

LEAST_PATHS = 1 << 17
"""Paths of a meter before it may be done: light that one path in twenty thousand meets is then
missed once in seven hundred."""

USUAL = 0.01
"""Precision from which `LEAST_PATHS` holds; a coarser one takes fewer. [1]"""

LEAST_BY_CHANCE = 1 << 18
"""The same where a mirror, smooth metal or glass may throw light that no light sample reaches."""

LEAST_FOR_THE_SUN = 1 << 20
"""The same where it may throw the sun. Of a sun 30° over a mirror's horizon, 6.8e-5 sr across, one
path in 92 000 meets the image; eleven are then expected, and none comes once in 90 000."""

MOST_FOR_SUPPORT = 1 << 20
"""Paths of a meter after which no more are traced for nothing but a firmer error; where one path
outweighs all others, the next such one is as far off as before."""

MOST_OF_OTHERS = 0.95
"""Share of the requested precision that the light of lamps that are not run may take. [1]"""


@dataclass(frozen=True)
class Standing:
    """How far meters have come.

    Parameters
    ----------
    share : float
        About how much of the work is done. [1]
    unfinished : int
        Meters that are still too noisy.
    worst : float
        Largest relative standard error. [1]
    name : str
        The meter that has it.
    """

    share: float
    unfinished: int
    worst: float
    name: str


def least_paths(stage: Stage) -> int:
    """Return the fewest paths of a meter before it may be done."""
    if not hidden.throws(stage):
        return LEAST_PATHS
    return LEAST_BY_CHANCE if stage.sun is None else LEAST_FOR_THE_SUN


def luminous_weights(lamps, bands: int) -> np.ndarray:
    """Return what each band of each lamp adds to Y, as the lamps are set. Shape (light, bands)"""
    return lamps_band_xyz(lamps, bands)[:, :, 1]


def unfinished(batches: Batches, weights, precision, others=0.0, least: int = 1) -> np.ndarray:
    """Return which meters are not done. Shape (meter,)

    Parameters
    ----------
    batches : Batches
    weights : float array, shape (light, band)
        The mix whose error counts; see `luminous_weights`.
    precision : float, or float array of shape (meter,)
        Requested relative standard error. [1]
    others : float array, shape (meter, batch)
        As of `Batches.relative_error`.
    least : int
        Fewest paths of a meter.
    """
    return ((batches.relative_error(weights, others) > precision)
            | (batches.paths * BATCHES < fewest_paths(least, precision))
            | batches.on_few(weights, precision, others))


def fewest_paths(least: int, precision) -> np.ndarray:
    """Return the fewest paths for a precision [1], of those that `least_paths` gives."""
    # What no light sample reaches is as easily missed, however coarse the reading may be.
    coarse = np.minimum(1.0, USUAL / np.maximum(precision, 1e-9))
    return least * (coarse if least <= LEAST_PATHS else np.ones_like(coarse))


class Gather:
    """Meters of one stage: call `run`, then take `batches`.

    Parameters
    ----------
    buffers : upload.Buffers
    stage : Stage
        Its lamps as they are set are the mix that the precision is meant for.
    names : sequence of str
        The meters.
    seed : int
        The same seed gives the same readings.
    limits : render.Limits
    """

    stream = 0
    """Gives each kind of meter random numbers of its own."""

    hit_gain = np.pi
    """What a path adds that meets light of unit radiance at its end: pi times it as illuminance, of
    paths that are spread by the cosine; as much as it for a luminance. [sr or 1]"""

    stake = None
    """Light that curved mirrors throw on each meter. Shape (meter, light) [as of `Batches`]"""

    others: np.ndarray | float = 0.0
    """What other lamps than the stage's add to each batch's reading, 0 where there are none.
    Precision is then that of all light together. Shape (meter, batch) [lx or cd/m²]"""

    def __init__(self, buffers, stage: Stage, names, seed: int, limits: Limits):
        self.buffers, self.stage, self.seed, self.limits = buffers, stage, seed, limits
        self.weights = luminous_weights(stage.lamps, buffers.bands)
        self.least = least_paths(stage)
        self.batches = Batches.empty(names, (lamp.name for lamp in stage.lamps), buffers.bands)

    def starts(self, which: np.ndarray, samples: int, seed: int):
        """Yield (meters, start) for those of some meters that can be traced together.

        Each thread has so many samples; the seed is for whatever a start draws itself.
        """
        raise TypeError(f"{type(self).__name__} does not say where its paths start")

    def step(self, samples: int = SAMPLES, which=None) -> None:
        """Trace one more round of paths for some of the meters, or for all."""
        from previz.engine.kernel import Transport

        gathered = self.batches
        which = np.arange(len(gathered.names)) if which is None else np.asarray(which)
        turn = int(gathered.rounds.max())
        seed = pass_seed(self.seed, self.stream + turn)
        shape = (THREADS, 2, self.buffers.lamps, self.buffers.bands)
        eye = luminance_weights(self.buffers.bands)
        found = []
        for number, (meters, start) in enumerate(self.starts(which, samples, seed)):
            transport = Transport(self.buffers, start, self.limits)
            # A round of several starts still has no number twice.
            sums = transport.run(0, len(meters) * THREADS, samples, pass_seed(seed, number))
            values = np.array(sums, float).reshape(len(meters), *shape)
            # The kernel keeps a thread's direct and bounced parts one after the other.
            found.append((meters, values.swapaxes(2, 3)))
        with unbroken():
            for meters, values in found:
                gathered.add(meters, values, THREADS // BATCHES, eye)
                gathered.paths[meters] += samples * THREADS // BATCHES
            gathered.rounds[which] = turn + 1

    def relative_error(self) -> np.ndarray:
        """Return the standard error of each meter's whole reading over the reading. Shape (m,)"""
        return self.batches.relative_error(self.weights, self.others)

    def goals(self, precision: float) -> np.ndarray:
        """Return the precision to go on to, meter by meter.

        Where the light of other lamps alone is not as precise, more paths here do not help; then
        it is left where they add little to that error.
        """
        goals = np.full(len(self.batches.names), float(precision))
        if np.ndim(self.others) == 0:
            return goals
        whole = (self.batches.mixed(self.weights) + self.others).mean(axis=1)
        own = self.others.mean(axis=1)
        share = np.divide(own, whole, out=np.zeros_like(own), where=whole > 0)
        left = spread_of(self.others) * share
        return np.where(left > MOST_OF_OTHERS * goals, np.maximum(goals, left / MOST_OF_OTHERS), goals)

    def run(self, precision: float, most_rounds: int | None = None,
            report: Callable[[Standing], None] | None = None, seconds: float = np.inf) -> bool:
        """Trace until every meter's relative standard error is at most `precision`.

        Parameters
        ----------
        precision : float
            [1]
        most_rounds, seconds : int or None, float
            Stop after so many rounds, or after about so long [s].
        report : function
            Called after each round.

        Returns
        -------
        bool
            False if it was stopped before all were precise enough.
        """
        began, done = time.monotonic(), 0
        while True:
            self._state_hidden()
            goals, open_ = self.goals(precision), self.unfinished(self.goals(precision))
            if open_.any() and self.stake is None:
                self.estimate_hidden()
                continue
            error = self.batches.relative_error(self.weights, self.others, found=True)
            missed = self.batches.missed(self.weights, goals, self.others)
            spent = (error <= goals) | missed
            spent &= self.batches.paths * BATCHES >= MOST_FOR_SUPPORT
            undone = np.flatnonzero(open_ & ~spent)
            if not undone.size:
                return not open_.any()
            late = done and time.monotonic() - began > seconds
            if late or (most_rounds is not None and done >= most_rounds):
                return False
            self.step(self._round_samples(error[undone], undone, goals[undone]), undone)
            done += 1
            if report is not None:
                report(self.standing(precision))

    def estimate_hidden(self) -> None:
        """Estimate what curved mirrors throw on each meter; see `hidden`."""
        count = len(self.batches.names)
        self.stake = np.zeros((count, len(self.batches.lights)))
        twin = hidden.twin_of(self.stage)
        if twin is None or not count:
            return
        from previz.engine.upload import Buffers

        mine, buffers, eye = self.batches, self.buffers, luminance_weights(self.buffers.bands)
        pair = [Batches.empty(mine.names, mine.lights, buffers.bands) for _ in range(2)]
        try:
            # Both with the same random numbers, so that what is alike in them cancels.
            for self.batches, self.buffers in zip(
                    pair, (buffers, Buffers(twin, buffers.bands)), strict=True):
                self.step(hidden.TWIN_PATHS // THREADS)
        finally:
            self.batches, self.buffers = mine, buffers
        own, other = ((each.means.sum(axis=3) @ eye) for each in pair)
        self.stake = hidden.at_stake(own, other)

    def _state_hidden(self) -> None:
        """State what paths may have missed so far."""
        if self.stake is None:
            return
        gathered = self.batches
        paths = gathered.paths * BATCHES
        gathered.hidden = hidden.missed(self.stake, paths, self.hit_gain * hidden.brightest(self.stage))

    def standing(self, precision: float) -> Standing:
        """Return how far the meters are from a precision."""
        goals, error = self.goals(precision), self.relative_error()
        known = np.where(np.isfinite(error), error, 1e3 * goals)
        # Error falls with the root of the work.
        share = np.minimum(1.0, (goals / np.maximum(known, 1e-12)) ** 2)
        share = np.minimum(share, self.batches.paths * BATCHES / fewest_paths(self.least, goals))
        worst = int(np.argmax(error))
        return Standing(float(share.mean()), int(np.count_nonzero(self.unfinished(goals))),
                        float(error[worst]), self.batches.names[worst])

    def unfinished(self, goals) -> np.ndarray:
        """Return which meters are not done, for a precision each. Shape (meter,)"""
        return unfinished(self.batches, self.weights, goals, self.others, self.least)

    def _round_samples(self, error, which, precision) -> int:
        """Return the paths of each thread that about half of the meters still need."""
        fresh = self.batches.paths[which] == 0
        if fresh.any():
            return SAMPLES
        have = self.batches.paths[which] * BATCHES / THREADS
        by_error = have * ((error / precision) ** 2 - 1)
        # One that stands on few paths goes on by half of what it has.
        by_count = np.maximum(fewest_paths(self.least, precision) / THREADS - have, have / 2)
        missing = float(np.median(np.where(by_error > 0, by_error, by_count)))
        most = min(MOST_SAMPLES, max(SAMPLES, ROUND_PATHS // (which.size * THREADS)))
        return int(np.clip(np.ceil(missing), SAMPLES, most))
