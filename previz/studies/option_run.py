"""Render and measure options one after the other: what two have in common is rendered once."""

from __future__ import annotations

import time
from collections.abc import Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

import numpy as np

from previz.exposure.camera import settings_of
from previz.exposure.comparing.coverage import Coverage
from previz.exposure.comparing.difference import difference
from previz.exposure.comparing.measures import ShotMeasures
from previz.exposure.picture import Developed, develop
from previz.frames.records import Frames
from previz.physics.stops import PLAIN, MapSettings
from previz.rendering.ahead import look_ahead
from previz.rendering.job import StageJob
from previz.rendering.progress import Progress
from previz.rendering.request import Request
from previz.scene.scene import Scene
from previz.sight.coverage import coverage
from previz.sight.rig_bodies import CameraBody, Stand
from previz.sight.rig_seen import rig_in
from previz.sight.subjects import subject_of
from previz.stage.fingerprint import digest_of
from previz.stage.records import Camera, Stage
from previz.studies.measures import OptionMeters, draws_of, measure_shot
from previz.studies.selection import label_of

DENOISING = {"draft": "fast", "working": "fast", "fine": "high"}
"""Quality of the denoiser by that of the pictures: on a sheet they are shown small."""

METER_SHARE = 0.3
"""About how much of the work of one picture the meters and views of its option are. [1]"""


@dataclass(frozen=True)
class MeasureRequest:
    """What every shot is measured for; see `compare.compare`."""

    subjects: dict[str, str]
    spill: str = ""
    key_lamps: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Cell:
    """One option by one camera.

    Parameters
    ----------
    measures : ShotMeasures
        Its numbers.
    picture : Developed
        The frame, developed.
    frames : Frames
        Of that camera.
    coverage : Coverage
        What stands in the frame.
    framing : str
        Fingerprint of where the camera stands, points and how wide.
    difference : float array, shape (row, column), or None
        From the base; None for the base itself, and for another framing, whose pixels are of other
        places. [stops]
    map : MapSettings
        What its exposure map shows.
    """

    measures: ShotMeasures
    picture: Developed
    frames: Frames
    coverage: Coverage
    framing: str
    difference: np.ndarray | None = None
    map: MapSettings = PLAIN


class Picture(NamedTuple):
    """A camera's frames, and its picture to come."""

    camera: Camera
    frames: Frames
    developed: Future[Developed]


class OptionRun:
    """Options rendered and measured in turn.

    The progress counts a picture as 1, an option's meters as `METER_SHARE`.
    """

    def __init__(self, request: Request, measure: MeasureRequest, progress: Progress):
        self.request, self.measure, self.progress = request, measure, progress
        self.rendered = self.reused = 0
        self._reading, self._developing = ThreadPoolExecutor(1), ThreadPoolExecutor(1)
        self._jobs: dict[str, StageJob] = {}
        self._reads: dict[Path, Future[Frames | None]] = {}
        self._early: dict[tuple[str, str], tuple[Future[Frames | None], Future[Developed | None]]] = {}
        self._rendered_for: dict[Path, str] = {}
        self._spill: dict[str, str] = {}
        self._views: dict[Path, Frames] = {}
        self._last: StageJob | None = None

    def develop_early(self, option: str, stage: Stage, cameras: Sequence[str]) -> None:
        """Develop what is in the cache while other options are still being built."""
        # One fingerprint of the stage serves all of its cameras, here and later.
        self._jobs[option] = job = StageJob(stage, self.request.meter_order())
        for camera in stage.cameras:
            if cameras and camera.name not in cameras:
                continue
            own = job.like(self.request.order(camera.aspect))
            folder = own.frame_folder(camera)
            # Options that differ in levels share their frames: they are read once.
            if folder not in self._reads:
                self._reads[folder] = self._reading.submit(own.cached, camera)
            read = self._reads[folder]
            self._early[option, camera.name] = read, self._developing.submit(
                self._developed_early, stage, camera, read)

    def _developed_early(self, stage: Stage, camera: Camera,
                         read: Future[Frames | None]) -> Developed | None:
        """Return a picture, or None where its frames are not in the cache."""
        frames = read.result()
        return None if frames is None else self._developed(stage, camera, frames)

    def _developed(self, stage: Stage, camera: Camera, frames: Frames,
                   early: Future[Developed | None] | None = None) -> Developed:
        found = None if early is None else early.result()
        if found is None:
            found = develop(frames, stage.lamps, settings_of(camera), DENOISING[self.request.quality])
        return found

    def look_ahead(self, cameras: Sequence[str]) -> None:
        """Say what the options that were developed early need and the machine has not; see `ahead`."""
        look_ahead([(job, camera) for job in self._jobs.values() for camera in job.stage.cameras
                    if camera.name in cameras], self.request, self.progress)

    def option(self, option: str, scene: Scene, stage: Stage,
               cameras: Sequence[str]) -> tuple[OptionMeters, list[Picture]]:
        """Return the meters of one option, and the pictures of its cameras.

        Pictures are developed while the meters are worked on.
        """
        previous, pictures = self._last, []
        job = self._jobs.pop(option)
        for camera in (each for each in stage.cameras if each.name in cameras):
            job = job.like(self.request.order(camera.aspect))
            if previous is not None and previous.paths == job.paths:
                job.share(previous)
            read, early = self._early.pop((option, camera.name))
            frames = self._frames(job, option, camera, read.result())
            pictures.append(Picture(camera, frames, self._developing.submit(
                self._developed, stage, camera, frames, early)))
            previous = job
        # The device's copy of a stage is kept for an option with the same paths of light.
        if self._last is not None and self._last.paths != job.paths:
            self._last.close()
        self._last = job
        self.progress.show(label_of(option, "meters at the faces"))
        return OptionMeters(job, self.request.precision, draws_of(scene, stage), self._views,
                            key_lamps=self.measure.key_lamps, volts=scene.mains.voltage), pictures

    def close(self) -> None:
        """Free the device, and let no picture be developed that nobody waits for."""
        self.progress.end()
        for each in (self._reading, self._developing):
            each.shutdown(wait=True, cancel_futures=True)
        if self._last is not None:
            self._last.close()

    def _frames(self, job: StageJob, option: str, camera: Camera, kept: Frames | None) -> Frames:
        """Return a camera's frames: those kept, or what another option has put there since."""
        label = label_of(option, f"camera {camera.name}")
        folder = job.frame_folder(camera)
        frames = kept if kept is not None else job.cached(camera)
        if frames is not None:
            self.reused += 1
            self.progress.skip(1.0)
            same = self._rendered_for.get(folder)
            self.progress.say(f"{label}: " + (
                "taken from the cache, nothing rendered" if same is None else
                f"nothing rendered, it differs from '{same}' in levels, colours or camera settings only"))
            return frames
        passes, last, began = job.order.sampling.passes, 0.0, time.monotonic()

        def passed(done: float, found: float) -> None:
            nonlocal last
            self.progress.add((done - last) / passes, label)
            last = done

        frames = job.render(camera, passed)
        self.rendered += 1
        self._rendered_for[folder] = option
        self.progress.say(f"{label}: rendered in {time.monotonic() - began:.1f} s")
        return frames

    def cell(self, meters: OptionMeters, option: str, picture: Picture,
             bodies: Sequence[Stand | CameraBody], base: Cell | None) -> Cell:
        """Return one option by one camera, measured, and held against the base's cell if there is one.

        `bodies` is of `rig_bodies.bodies_of`.
        """
        stage, (camera, frames, developed) = meters.stage, picture
        subject = self.measure.subjects.get(camera.name) or subject_of(stage, camera, frames)
        spill = self.measure.spill or self._spill.get(camera.name, "")
        self.progress.show(label_of(option, f"camera {camera.name}, measuring"))
        measures = measure_shot(meters, option, camera, frames, developed.result, subject, spill)
        if measures.spill is not None:
            # The base says which surface; the others are measured on the same.
            self._spill.setdefault(camera.name, measures.spill.name)
        self.progress.add(METER_SHARE / max(1, len(stage.cameras)), label_of(option, camera.name))
        framing = digest_of(camera.position, camera.world_from_camera, camera.tan_half, camera.aspect)
        shown, against = developed.result(), None
        if base is not None and base.framing == framing and (
                base.picture.signal.shape == shown.signal.shape):
            against = difference(shown.signal, base.picture.signal)
        return Cell(measures, shown, frames,
                    coverage(stage, option, camera, frames, subject, rig_in(meters.job, camera, bodies)),
                    framing, against, stage.map)


class Taken(NamedTuple):
    """A shot of one scene, rendered and measured; its job is still open."""

    job: StageJob
    frames: Frames
    picture: Developed
    meters: OptionMeters
    measures: ShotMeasures


def taken(scene: Scene, stage: Stage, camera: Camera, figure: str, request: Request, line: str,
          progress: Progress) -> Taken:
    """Return what a camera takes of a scene, measured at a figure's face; at its subject's for ''."""
    job = StageJob(stage, request.order(camera.aspect))
    frames = _frames_of(job, camera, line, progress)
    meters = OptionMeters(job, request.precision, draws_of(scene, stage), volts=scene.mains.voltage)
    picture = develop(frames, stage.lamps, settings_of(camera))
    return Taken(job, frames, picture, meters,
                 measure_shot(meters, scene.option, camera, frames, lambda: picture,
                              figure or subject_of(stage, camera, frames)))


def _frames_of(job: StageJob, camera: Camera, line: str, progress: Progress) -> Frames:
    """Return a camera's frames; a picture is 1 of the work.

    What was done is said at the end of a line: 'night, camera A:'.
    """
    kept = job.cached(camera)
    if kept is None:
        progress.say(f"{line} rendering")
        return job.frames(camera, progress, line.rstrip(":,"))
    progress.say(f"{line} taken from the cache, nothing rendered")
    progress.skip(1.0)
    progress.show(line.rstrip(":,"))
    return kept
