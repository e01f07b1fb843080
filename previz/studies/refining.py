"""Refine the pictures of one render: each in its turn, shown after every round, left at any time."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence

import numpy as np

from previz.exposure.camera import settings_of
from previz.exposure.picture import develop
from previz.frames import Frames
from previz.rendering.job import StageJob
from previz.rendering.progress import Cancelled, Progress
from previz.rendering.refine import Goal, Refiner, Round
from previz.stage.records import Camera
from previz.studies.selection import label_of
from previz.studies.state import state_of

SHOWN_EVERY = 5.0
"""Seconds between stills that are shown while a picture is refined. [s]"""

METERS = 0.3
"""Share of the time for a picture that the meters of an option get, where there is a limit. [1]"""

Shown = Callable[[str, Camera, np.ndarray, str, str], None]
"""Takes option, camera, still (uint8, shape (row, column, 3), sRGB), what is to be said of it, '' for a
finished one, and its `state.state_of`."""


class Refinement:
    """Refines one picture after the other.

    The time is that of all pictures and meters together, by how many pictures each option has; else as in
    `Goal`. [1], [s]
    """

    def __init__(self, noise: float | None, seconds: float | None, pictures: Sequence[int],
                 shown: Shown | None = None):
        self.noise, self.shown = noise, shown
        self.left = sum(count + METERS for count in pictures if count)
        self.end = None if seconds is None else time.monotonic() + seconds
        self.stopped = False

    def frames(self, job: StageJob, camera: Camera, option: str, progress: Progress) -> Frames:
        """Return a camera's frames as far as they are to be refined.

        An interrupt leaves the picture as it is, and all after it at their first round; a request
        that is cancelled ends.
        """
        label = label_of(option, f"camera {camera.name}")
        shown_at, last, done = 0.0, 0.0, None

        def report(share: float, noise: float | None) -> None:
            nonlocal last
            text = label if noise is None else f"{label}, noise {noise:.1%}"
            progress.add(max(share - last, 0.0), text)
            last = max(share, last)

        def show(each: Round) -> None:
            nonlocal shown_at, done
            done = each
            if self.shown is not None and time.monotonic() - shown_at > SHOWN_EVERY:
                developed = develop(each.frames, job.stage.lamps, settings_of(camera))
                self.shown(option, camera, developed.still, f"Noise {each.noise:.1%}, being refined",
                           state_of(job.paths, camera, job.stage.lamps))
                shown_at = time.monotonic()

        try:
            done = Refiner(job, camera, self._goal(), report).run(show)
        except Cancelled:
            raise
        except KeyboardInterrupt:
            if done is None or self.stopped:
                raise
            self.stopped = True
        self.left -= 1
        progress.add(1.0 - last, label)
        where = "faces" if done.on_faces else "the picture"
        progress.say(f"{label}: noise of {where} {done.noise:.1%}"
                     + ("; left there, the same command goes on." if self.stopped else "."))
        return done.frames

    def _goal(self) -> Goal:
        return Goal(None if self.stopped else self.noise, self._share(1.0))

    def _share(self, parts: float) -> float | None:
        """Return the time that there is for some of the parts that are left, None without end."""
        if self.stopped:
            return 0.0
        if self.end is None:
            return None
        return max(0.0, (self.end - time.monotonic()) * parts / max(self.left, parts))

    def meter_seconds(self) -> float | None:
        """Return the time that there is for the meters of the option at hand, None without end."""
        seconds = self._share(METERS)
        self.left -= METERS
        return seconds
