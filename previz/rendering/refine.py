"""Refine a picture in rounds, to a noise or for a time, sending paths where they are needed.

Each round doubles what is there. Which lamps go on, and how many paths each pixel gets, is chosen
from the rounds before; how much a pass counts is fixed before it. So a pixel's mean stays the mean
of unbiased passes, however noisy what the choice was made from:

    mean = sum of w · pass / sum of w,   w planned,   E[pass | all passes before] = the true value

What is chosen from the noise of the whole picture, when to stop and which lamps stop, can lean on
a single pixel's noise by about one part in the number of pixels only.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from previz import frames as fr
from previz.engine.backend import runs_on
from previz.engine.render import row_bands
from previz.exposure.comparing.views import pinhole_rays
from previz.exposure.mix import mix_xyz
from previz.physics.light import lamp_band_xyz
from previz.rendering.ahead import refuse
from previz.rendering.cache.picture import assemble, camera_job, planes_of, remove_rows, together
from previz.rendering.cache.plan import LampState, plan
from previz.rendering.cache.store import joined, rows_of
from previz.rendering.metering import FACE_RADIUS
from previz.rendering.pace import Pace
from previz.stage.records import Camera, Stage

if TYPE_CHECKING:
    from previz.rendering.job import StageJob

FIRST = 4
"""Paths a pixel after the first round."""

MOST_SAMPLES = 1 << 16
"""Paths a pixel at which it is left, whatever the noise."""

FEWEST, MOST = 0.25, 4.0
"""Least and most of the planned paths that a pixel gets. [1]"""

FACES_FIRST = 3.0
"""How many times more paths a face gets than what is as noisy elsewhere. [1]"""

SMOOTHED = 7
"""Side of the square over which noise is averaged before paths are sent by it. [px]"""

DARK = 0.05
"""Noise is relative to a pixel's luminance, or to this share of the mean. [1]"""

FEWEST_FACE_PIXELS = 16


@dataclass(frozen=True)
class Goal:
    """When a picture is good enough.

    Parameters
    ----------
    noise : float or None
        Standard error of a pixel's luminance over the luminance, root mean square over the faces
        that the camera sees, or over the picture where it sees none. [1]
    seconds : float or None
        Time after which it is left. [s]
    """

    noise: float | None
    seconds: float | None


@dataclass(frozen=True)
class Round:
    """What a round came to.

    Parameters
    ----------
    frames : Frames
    noise : float
        As in `Goal`. [1]
    on_faces : bool
        Whether that is of faces, or of the whole picture.
    samples : float
        Fewest paths a pixel of a lamp. [1]
    """

    frames: fr.Frames
    noise: float
    on_faces: bool
    samples: float


class Refiner:
    """The refinement of one camera's picture.

    `on_pass` is called after each pass with (share done [1], noise or None before the first round).
    """

    def __init__(self, job: StageJob, camera: Camera, goal: Goal,
                 on_pass: Callable[[float, float | None], None] | None = None):
        self.order = replace(job.order, refined=True)
        self.job, self.camera, self.goal, self.on_pass = job.like(self.order), camera, goal, on_pass
        self.cache = self.job.lamp_cache
        self.began = time.monotonic()
        self.noise: float | None = None
        self.mask, self.on_faces = np.zeros((0, 0), bool), False
        self._pace, self.pace = 0.0, Pace()

    def run(self, each_round: Callable[[Round], None] | None = None) -> Round:
        """Refine until the goal is reached; what is there is kept after each round.

        Raises
        ------
        KeyboardInterrupt
            Passed on after what was gathered has been saved.
        ResourceError
            There surely is not enough memory or disk for it.
        """
        refuse(self.job, self.camera)
        try:
            return self._rounds(each_round)
        finally:
            self.pace.keep(self.order.cache, runs_on(self.order.backend))

    def _rounds(self, each_round: Callable[[Round], None] | None) -> Round:
        counts: np.ndarray | None = None
        needed: set[str] | None = None
        while True:
            states = plan(self.cache, self.camera, 1.0, measure=False, exact=True)
            if all(state.done for state in states):
                done = self._measure(states)
                if each_round is not None:
                    each_round(done)
                if self._enough(done):
                    return done
                counts, needed = self._paths(done)
            if not self._round([s for s in states if not s.done or needed is None
                                or s.lamp in needed], counts):
                return done

    def _measure(self, states: list[LampState]) -> Round:
        """Put the picture together and measure its noise."""
        made = assemble(self.job, self.camera, states, planes_of(self.job, self.camera))
        if made is None:
            raise fr.FramesError("A lamp's light was changed on the disk while it was rendered.",
                                 "Render again; nothing else is lost.")
        if not self.mask.size:
            self.mask, self.on_faces = _faces(made, self.job.stage, self.camera)
        light, variance = self._light(made)
        if not light[self.mask].any():
            # Faces in the dark have no noise; the rest of the picture may.
            self.mask, self.on_faces = np.ones(made.shape, bool), False
        level = np.maximum(light[self.mask], DARK * light[self.mask].mean())
        whole = variance.sum(axis=0)[self.mask]
        relative = np.divide(whole, level**2, out=np.zeros_like(whole), where=level > 0)
        self.noise = float(np.sqrt(relative.mean()))
        samples = min((s.file.samples for s in states if s.file is not None), default=MOST_SAMPLES)
        return Round(made, self.noise, self.on_faces, samples)

    def _light(self, made: fr.Frames) -> tuple[np.ndarray, np.ndarray]:
        """Return (luminance, variance of it by lamp) of the lamps as they are set."""
        lamps = {lamp.name: lamp for lamp in self.job.stage.lamps}
        gains = np.array([lamp_band_xyz(lamps[name], self.order.bands)[:, 1].sum()
                          for name in made.lights])
        variance = np.nan_to_num(np.asarray(made.variance, float), posinf=0.0)
        return mix_xyz(made, self.job.stage.lamps)[1], variance * gains[:, None, None] ** 2

    def _enough(self, done: Round) -> bool:
        quiet = self.goal.noise is not None and done.noise <= self.goal.noise
        late = self._left() <= 0
        dark = done.noise == 0
        return quiet or late or dark or done.samples >= MOST_SAMPLES

    def _left(self) -> float:
        """Return how much time there is left. [s]"""
        limit = np.inf if self.goal.seconds is None else self.goal.seconds
        return self.began + limit - time.monotonic()

    def _paths(self, done: Round) -> tuple[np.ndarray, set[str]]:
        """Return (share of the planned paths of each pixel, lamps that need more)."""
        light, variance = self._light(done.frames)
        floor = DARK * max(float(light.mean()), 1e-12)
        spread = _smooth(variance.sum(axis=0)) / np.maximum(_smooth(light), floor) ** 2
        share = np.sqrt(spread)
        if self.on_faces:
            share = share * np.where(_smooth(self.mask.astype(float)) > 0, FACES_FIRST, 1.0)
        share = np.clip(share / max(float(share.mean()), 1e-12), FEWEST, MOST)
        share = np.clip(share / share.mean(), FEWEST, MOST)
        return share, self._needed(done, light, variance)

    def _needed(self, done: Round, light: np.ndarray, variance: np.ndarray) -> set[str]:
        """Return the lamps whose noise counts: the least noisy are left out, up to half the goal."""
        goal = done.noise / np.sqrt(2) if self.goal.noise is None else self.goal.noise
        floor = DARK * light[self.mask].mean()
        own = (variance[:, self.mask] / np.maximum(light[self.mask], floor) ** 2).mean(axis=1)
        order = np.argsort(own)
        quiet = int(np.searchsorted(np.cumsum(own[order]), goal**2 / 2))
        names = [done.frames.lights[k] for k in order[quiet:]]
        # Fewer lamps are a stage to be put on the device anew: it pays where half or more are left out.
        return set(names) if 0 < len(names) <= len(own) / 2 else set(done.frames.lights)

    def _round(self, states: list[LampState], share: np.ndarray | None) -> bool:
        """Double what there is of some lamps; False where there is no time for a pass."""
        any_done = False
        for group in together(states):
            samples = group[0].file.samples if group[0].file is not None else 0.0
            order = self.order
            parts = row_bands(order.width, order.height, len(group), order.bands)
            for top, rows in parts:
                whole = None if len(parts) == 1 else (top, rows)
                here = None if share is None else share[top:top + rows]
                any_done |= self._part(group, samples, (top, rows), whole, here)
            if len(parts) > 1 and any_done:
                self._join(group, parts)
        return any_done

    def _part(self, group: list[LampState], samples: float, rows: tuple[int, int],
              whole: tuple[int, int] | None, share: np.ndarray | None) -> bool:
        """Double what there is of some lamps in some rows; False where there is no time for it."""
        lamps = tuple(state.lamp for state in group)
        job = camera_job(self.job, self.camera, lamps, rows)
        files = [state.file for state in group if state.file is not None]
        if files:
            job.take_up([rows_of(file.gathered, *rows) for file in files])
        planned = samples or FIRST
        end, started, weight = samples + planned, samples, job.weight
        try:
            while samples < end:
                paths = self._fitting(max(1, round(planned / 2)), rows, not files and job.done < 2)
                if not paths:
                    break
                began = time.monotonic()
                counts = None if share is None else np.maximum(1, np.rint(paths * share)).astype(int)
                job.step(paths, counts)
                spent = time.monotonic() - began
                self._pace = spent / (paths * self.order.width * rows[1])
                if job.done > 1:
                    self.pace.add(paths * self.order.width * rows[1], spent)
                samples += paths
                self._report()
        finally:
            # An interrupt may have come when a pass was just in.
            samples = started + job.weight - weight
            # An estimate of the spread takes two passes; a lone first one is not kept.
            if samples > started and job.done > 1 and not job.torn:
                self.cache.put_all(lamps, job, samples, whole)
            job.close()
        return samples > started

    def _fitting(self, paths: int, rows: tuple[int, int], first: bool) -> int:
        """Return how many paths a pixel there is time for; the first two passes are always made."""
        if self.goal.seconds is None or first or not self._pace:
            return paths
        there = self._left() / max(self._pace * self.order.width * rows[1], 1e-12)
        return max(0, int(min(paths, there)))

    def _report(self) -> None:
        shares = []
        if self.goal.noise is not None and self.noise is not None:
            shares.append(min(1.0, (self.goal.noise / max(self.noise, 1e-9)) ** 2))
        if self.goal.seconds is not None:
            shares.append(1 - self._left() / max(self.goal.seconds, 1e-9))
        if self.on_pass is not None:
            self.on_pass(min(1.0, max(shares, default=0.0)), self.noise)

    def _join(self, group: list[LampState], parts: list[tuple[int, int]]) -> None:
        for lamp in (state.lamp for state in group):
            files = list(filter(None, (self.cache.find_rows(lamp, self.camera, r) for r in parts)))
            alike = len({(f.samples, f.gathered.passes) for f in files}) == 1
            if alike and len(files) == len(parts):
                self.cache.put(lamp, self.camera, joined(files), files[0].samples)
            remove_rows(Path(self.order.cache), files)


def _smooth(values: np.ndarray) -> np.ndarray:
    """Return the mean over a square about each pixel, of what of it lies in the picture."""
    half = SMOOTHED // 2

    def summed(array: np.ndarray, axis: int) -> np.ndarray:
        array = np.moveaxis(array, axis, 0)
        total = np.concatenate([np.zeros_like(array[:1]), np.cumsum(array, axis=0)])
        count = len(array)
        high = np.minimum(np.arange(count) + half + 1, count)
        low = np.maximum(np.arange(count) - half, 0)
        return np.moveaxis((total[high] - total[low]) / (high - low).reshape(-1, 1), 0, axis)

    return summed(summed(np.asarray(values, float), 0), 1)


def _faces(made: fr.Frames, stage: Stage, camera: Camera) -> tuple[np.ndarray, bool]:
    """Return (pixels whose noise counts, True), of faces; all pixels and False without any."""
    depth = np.where(np.isfinite(made.depth), made.depth, 0.0)
    axes = np.asarray(camera.world_from_camera, float)
    rays, _ = pinhole_rays(*made.shape, axes, camera.tan_half)
    point = np.asarray(camera.position, float) + rays * (depth / (rays @ axes[:, 2]))[..., None]
    mask = np.zeros(made.shape, bool)
    for number, name in enumerate(made.names):
        centre = stage.places.get(f"{name}.face")
        if centre is not None and any(m.name == name and m.role == "figure" for m in stage.meshes):
            near = np.linalg.norm(point - np.asarray(centre, float), axis=-1) < FACE_RADIUS
            mask |= near & (np.asarray(made.names_index) == number)
    enough = int(mask.sum()) >= FEWEST_FACE_PIXELS
    return (mask, True) if enough else (np.ones(made.shape, bool), False)
