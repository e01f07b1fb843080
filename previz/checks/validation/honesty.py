"""Whether the errors that meters state are the errors they make.

Stages whose light is hard to find are metered again and again with other random numbers, each run
as `previz meter` would run it, and held against one long run. Errors are honest where the runs
spread as they state and where none lies far off, whether it was said to be reached or not.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from previz.checks.validation.honesty_scenes import SCENES
from previz.engine.probe import ProbeJob
from previz.engine.render import open_stage
from previz.rendering.progress import Progress
from previz.scene import nodes
from previz.scene.read import load_tree
from previz.stage.build import build_stage
from previz.stage.views import DOME

SEEDS = 40
FINER = 5.0
"""The long run's precision is so many times finer than what most runs state. [1]"""

RUN_ROUNDS = 16
"""Most rounds of one run: ten million paths at most, so that the table is the same anywhere."""

LONG_ROUNDS = (40, 100)
"""Most rounds of the long run, which are two a run between these."""

LONG_SEED = 987_654_321
SPREAD = (0.8, 1.25)
"""Spread over stated that is honest. [1]"""

MOST_OFF = 5.0
"""Stated errors that no run may be off by. [1]"""

STRICT = 100
"""Readings from which `SPREAD` holds as it is; of fewer, chance takes some."""


@dataclass(frozen=True, eq=False)
class Runs:
    """What the meters of one stage read, run by run.

    Parameters
    ----------
    truth, truth_error : float array, shape (meter,)
        Of the long run. [lx or cd/m²]
    value, stated : float array, shape (run, meter)
        Reading and stated standard error.
    reached : bool array, shape (run, meter)
    paths : int array, shape (run, meter)
    """

    stage: str
    meters: tuple[str, ...]
    truth: np.ndarray
    truth_error: np.ndarray
    value: np.ndarray
    stated: np.ndarray
    reached: np.ndarray
    paths: np.ndarray

    @property
    def _error(self) -> np.ndarray:
        """Stated error and that of the long run. Shape (run, meter)"""
        return np.hypot(self.stated, self.truth_error)

    @property
    def off(self) -> np.ndarray:
        """How many stated errors each run is off. Shape (run, meter) [1]"""
        gap = self.value - self.truth
        return np.divide(gap, self._error, out=np.where(gap == 0, 0.0, np.inf),
                         where=self._error > 0)

    @property
    def spread(self) -> float:
        """Root mean square of the gaps over that of the stated errors, of what was reached; each
        meter counts the same. NaN where nothing was reached. [1]
        """
        gaps = np.where(self.reached, self.value - self.truth, 0) ** 2
        error = np.where(self.reached, self._error, 0) ** 2
        known = error.sum(axis=0) > 0
        if not known.any():
            return float("nan")
        return float(np.sqrt(np.mean(gaps.sum(axis=0)[known] / error.sum(axis=0)[known])))

    @property
    def allowed(self) -> tuple[float, float]:
        """Spread over stated that is taken for honest; wider where there are few readings. [1]"""
        count = np.count_nonzero(self.reached)
        loose = 0.0 if count >= STRICT else 2.5 / np.sqrt(2 * max(count, 1))
        return SPREAD[0] * max(0.0, 1 - loose), SPREAD[1] * (1 + loose)

    @property
    def worst(self) -> float:
        """Farthest run, in stated errors; plus where it reads too much. [1]"""
        off = self.off.ravel()
        return float(off[np.argmax(np.abs(off))])

    @property
    def honest(self) -> bool:
        """Whether the errors own up."""
        low, high = self.allowed
        even = not self.reached.any() or low <= self.spread <= high
        return bool(even and abs(self.worst) <= MOST_OFF)

    def as_dict(self) -> dict:
        """Return it as plain JSON values."""
        def plain(number):
            return float(number) if np.isfinite(number) else None

        return {"stage": self.stage, "meters": list(self.meters), "truth": self.truth.tolist(),
                "truth_error": self.truth_error.tolist(), "runs": len(self.value),
                "value": self.value.tolist(), "stated": self.stated.tolist(),
                "reached": self.reached.tolist(), "paths": self.paths.tolist(),
                "spread_over_stated": plain(self.spread), "allowed": list(self.allowed),
                "worst_run": plain(self.worst), "honest": self.honest}


def stage_of(name: str):
    """Return (stage, things that its camera's spot meters read) of one of `SCENES`."""
    lines, spots = [], ()
    for line in SCENES[name].strip().splitlines():
        if line.startswith("spots:"):
            spots = tuple(each.strip() for each in line.partition("[")[2].rstrip("]").split(","))
        else:
            lines.append(line)
    tree, problems = nodes.compose("\n".join(["previz: 1", *lines]), name)
    return build_stage(load_tree(tree, Path(name), problems).scene(None)), spots


def meters_of(name: str, backend: str) -> Callable:
    """Return seed -> gathering of one stage's meters, with nothing gathered yet."""
    stage, spots = stage_of(name)
    buffers = open_stage(stage, 1, backend)
    if not spots:
        probes = [each for each in stage.probes if not each.name.endswith(DOME)]
        return lambda seed: ProbeJob(buffers, stage, seed, probes=probes)
    from previz.engine.sights import Sight
    from previz.engine.spot import SpotJob, View
    from previz.rendering.meter_kinds import bare

    camera = bare(stage.cameras[0])
    view = View(buffers, stage.surfaces, camera, [Sight(each, each) for each in spots])
    return lambda seed: SpotJob(buffers, stage, [(camera, view, i) for i in range(len(spots))],
                                seed)


def run(name: str, backend: str, seeds: int = SEEDS, precision: float = 0.01,
        progress: Progress | None = None) -> Runs:
    """Meter one stage with many seeds, and once for long.

    Parameters
    ----------
    name : str
        One of `SCENES`.
    seeds : int
        Runs.
    precision : float
        Relative standard error that each is to reach. [1]
    progress : Progress, optional
        Counts the runs, the long one too.
    """
    progress = progress or Progress()
    gather = meters_of(name, backend)
    rows = []
    for seed in range(1, seeds + 1):
        job = gather(seed)
        job.run(precision, RUN_ROUNDS)
        rows.append(_read(job, precision))
        progress.add(1, f"{name}: run {seed} of {seeds}")
    value, stated, reached, paths = (np.array(each) for each in zip(*rows, strict=True))
    relative = np.divide(stated, value, out=np.full(value.shape, precision), where=stated > 0)
    finest = min(precision, float(np.median(relative, axis=0).min()))
    long = gather(LONG_SEED)
    long.run(finest / FINER, int(np.clip(2 * seeds, *LONG_ROUNDS)))
    truth, truth_error, *_ = _read(long, precision)
    progress.add(1, f"{name}: long run")
    return Runs(name, long.batches.names, truth, truth_error, value, stated, reached, paths)


def _read(job, precision: float):
    value = job.batches.mixed(job.weights).mean(axis=1)
    paths = job.batches.paths * job.batches.sums.shape[1]
    return value, value * job.relative_error(), ~job.unfinished(precision), paths


def all_runs(names, backend: str, seeds: int, precision: float,
             progress: Progress) -> Iterator[Runs]:
    """Yield the runs of some stages; see `run`."""
    for name in names:
        yield run(name, backend, seeds, precision, progress)
