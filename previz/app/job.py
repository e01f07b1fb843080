"""Get the frames and meters of a stage: from the cache where they are there, else by rendering."""

from __future__ import annotations

import time
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from previz import __version__, frames
from previz.app.metering import Effort, StageMeters
from previz.engine.gather import Standing
from previz.engine.render import CameraJob, Sampling, open_stage
from previz.stage.fingerprint import frame_hash, light_path_hash
from previz.stage.records import Camera, Stage

SAVE_EVERY = 30.0
"""Seconds of rendering after which what is summed so far is saved. [s]"""

METER_SECONDS = 120.0
"""Meters of a render are not run for longer; a meter that is too noisy by then says so. [s]"""

PARTIAL = "partial.npz"


@dataclass(frozen=True)
class Quality:
    """How much work a picture gets.

    Parameters
    ----------
    samples, passes : int
        See `Sampling`.
    scale : float
        Share of the asked width and height that is rendered. [1]
    precision : float
        Relative standard error that meters are taken to. [1]
    """

    samples: int
    passes: int
    scale: float
    precision: float


QUALITIES = {
    "draft": Quality(8, 2, 0.5, 0.03),
    "working": Quality(32, 4, 1.0, 0.01),
    "fine": Quality(192, 8, 1.0, 0.005),
}


@dataclass(frozen=True)
class Order:
    """What is asked of the engine.

    Parameters
    ----------
    width, height : int
        [px]
    sampling : Sampling
    bands : int
    backend : str
        'auto', 'llvm' or 'cuda'.
    cache : Path
        Folder of finished and half-finished frames.
    """

    width: int
    height: int
    sampling: Sampling
    bands: int
    backend: str
    cache: Path


class StageJob:
    """The frames and meters of one option of a scene.

    Parameters
    ----------
    stage : Stage
    order : Order
    """

    def __init__(self, stage: Stage, order: Order):
        self.stage, self.order = stage, order
        self.paths = light_path_hash(stage)
        self._buffers = None

    @property
    def buffers(self):
        """The stage on the device, put there when it is first needed."""
        if self._buffers is None:
            self._buffers = open_stage(self.stage, self.order.bands, self.order.backend)
        return self._buffers

    def share(self, other: StageJob) -> None:
        """Take over the device's copy of the same stage from another job."""
        self._buffers = other._buffers

    def close(self) -> None:
        """Free the device."""
        self._buffers = None

    def _settings(self) -> tuple:
        sampling = self.order.sampling
        return (self.order.bands, sampling.seed, sampling.max_depth, sampling.roulette_depth,
                __version__)

    def frame_folder(self, camera: Camera) -> Path:
        """Return the folder that a camera's frames are kept in."""
        sampling = self.order.sampling
        name = frame_hash(self.paths, camera, self.order.width, self.order.height,
                          sampling.samples, sampling.passes, *self._settings())
        return self.order.cache / name

    def cached(self, camera: Camera) -> frames.Frames | None:
        """Return a camera's frames if they are there and whole, else None."""
        folder = self.frame_folder(camera)
        if not folder.is_dir():
            return None
        try:
            return frames.read(folder)
        except frames.FramesError:
            return None

    def render(self, camera: Camera, tell: Callable[[int, int], None]) -> frames.Frames:
        """Return a camera's frames, rendering what is not there.

        Parameters
        ----------
        camera : Camera
        tell : function
            (passes done, passes that were found done) after each pass.

        Raises
        ------
        KeyboardInterrupt
            Passed on after what was summed has been saved.
        """
        folder = self.frame_folder(camera)
        order = self.order
        job = CameraJob(self.buffers, self.stage, camera, order.width, order.height,
                        order.sampling)
        found = self._restore(job, folder)
        tell(job.done, found)
        saved = time.monotonic()
        try:
            while not job.finished:
                job.step()
                tell(job.done, found)
                if time.monotonic() - saved > SAVE_EVERY and not job.finished:
                    self._save(job, folder)
                    saved = time.monotonic()
        except KeyboardInterrupt:
            if job.done > found:
                self._save(job, folder)
            raise
        done = job.frames(folder.name)
        frames.write(folder, done)
        (folder / PARTIAL).unlink(missing_ok=True)
        return done

    @staticmethod
    def _save(job: CameraJob, folder: Path) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        with frames.whole_file(folder / PARTIAL) as part, open(part, "wb") as file:
            np.savez(file, **job.state())

    @staticmethod
    def _restore(job: CameraJob, folder: Path) -> int:
        """Take up a saved sum; one that is torn is left aside and rendered anew."""
        try:
            with open(folder / PARTIAL, "rb") as file, \
                    np.load(file, allow_pickle=False) as state:
                job.restore(dict(state))
        except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile):
            return 0
        return job.done

    def probes(self, precision: float, tell: Callable[[Standing], None] | None = None):
        """Return the stage's meters to a precision, going on from what is in the cache.

        Returns
        -------
        (Probes or None, bool)
            None without meters; False where the precision was not reached.
        """
        if not self.stage.probes:
            return None, True
        meters = StageMeters(self)
        probes = meters.probes(Effort(precision, METER_SECONDS, tell))
        return probes, meters.reached
