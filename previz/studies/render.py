"""Render options of a scene by its cameras: a request in; pictures, meters and their numbers out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, partial
from pathlib import Path
from typing import ClassVar

from previz.deliver.map import ExposureMap, exposure_map
from previz.deliver.rig_sheet import rig_text
from previz.deliver.sheet import SheetOption, write_sheet
from previz.deliver.stems import unique_stems
from previz.exposure import metering
from previz.exposure.camera import settings_of
from previz.exposure.comparing.coverage import IN_FRAME
from previz.exposure.faces import FaceLight, cheeks_of, faces_in
from previz.exposure.metering import Measured, Mixed
from previz.exposure.picture import Developed, develop
from previz.exposure.trust import ON_FEW, not_reached
from previz.frames import Frames
from previz.frames.batches import Batches
from previz.frames.records import Short
from previz.physics.exposure import CameraSettings
from previz.physics.safety import Caution, together
from previz.rendering.ahead import look_ahead
from previz.rendering.job import METER_SECONDS, StageJob
from previz.rendering.progress import SETTING_UP, Progress
from previz.rendering.refine import FIRST
from previz.rendering.request import Request
from previz.scene.read import SceneFile
from previz.sight.rig_bodies import CameraBody, Stand, bodies_of
from previz.sight.rig_seen import Spotted, rig_in
from previz.sight.subjects import subject_of
from previz.stage.build import BACK_WALL, build_stage
from previz.stage.colours import stage_colours
from previz.stage.records import Camera, Stage
from previz.studies.refining import Refinement, Shown
from previz.studies.render_rows import option_rows, shot_rows
from previz.studies.result import Result, Row
from previz.studies.selection import label_of, no_camera, select, select_options
from previz.studies.state import state_of

PROBE_SHARE = 0.08
"""About how much of the work of one option its meters are, for the time left. [1]"""


@dataclass(frozen=True, eq=False)
class Shot:
    """One option seen by one camera, rendered and metered.

    Parameters
    ----------
    option : str
        '' for the scene as written.
    stage : Stage
        Its lamps are those that picture and readings are of.
    developed : Developed
        The picture.
    gathered : Batches or None
        What the meters received of each lamp; None without meters.
    rig : tuple of Spotted
        What of the rig is in the picture.
    short : tuple of Short
        Meters that did not reach the error that was requested.
    changed : str
        What lamps and camera have otherwise than in the option, in words; '' for nothing.
    state : str
        See `state.state_of`.
    """

    option: str
    camera: Camera
    stage: Stage
    frames: Frames
    developed: Developed
    gathered: Batches | None = None
    rig: tuple[Spotted, ...] = ()
    short: tuple[Short, ...] = ()
    changed: str = ""
    state: str = ""

    @property
    def settings(self) -> CameraSettings:
        """How the camera is set."""
        return settings_of(self.camera)

    @cached_property
    def meters(self) -> Mapping[str, Mixed]:
        """The meters that received anything, by name, under the lamps as they are set."""
        if self.gathered is None:
            return {}
        known = [i for i, paths in enumerate(self.gathered.paths)
                 if paths > 0 or not self.gathered.lights]
        return metering.mix(self.gathered.some(known), self.stage.lamps, stage_colours(self.stage))

    @cached_property
    def chart(self) -> ExposureMap:
        """The exposure map."""
        return exposure_map(self.developed.signal, self.frames.names_index, made=self.stage.map,
                            settings=self.settings, still=self.developed.still)

    @property
    def face(self) -> FaceLight | None:
        """The light on the face that the camera is on, None without one."""
        subject = subject_of(self.stage, self.camera, self.frames)
        return next((face for face in faces_in(self.meters) if face.figure == subject), None)

    @property
    def spill(self) -> Measured | None:
        """The light on the back wall, which is that of the first camera's picture. [lx]"""
        if BACK_WALL not in self.meters or self.camera.name != self.stage.cameras[0].name:
            return None
        return self.meters[BACK_WALL].light()


@dataclass(frozen=True, eq=False)
class Rendered(Result):
    """What a render gives back: its shots, option by option."""

    study: ClassVar[str] = "render"
    axes: ClassVar[tuple[str, ...]] = ("option", "camera", "figure", "meter", "receptor", "lamp",
                                       "thing", "within", "band")

    title: str
    shots: tuple[Shot, ...]

    def _rows(self) -> list[Row]:
        rows: list[Row] = []
        for option in dict.fromkeys(shot.option for shot in self.shots):
            shots = [shot for shot in self.shots if shot.option == option]
            rows += option_rows(shots)
            for shot in shots:
                rows += shot_rows(shot)
        return rows

    @property
    def cautions(self) -> tuple[Caution, ...]:
        """Of all its options."""
        return together(each for shot in self.shots for each in shot.stage.reminders)

    def cameras(self) -> list[str]:
        """Return the cameras that took any shot."""
        return list(dict.fromkeys(shot.camera.name for shot in self.shots))

    def sheet(self, path: Path | str) -> list[Path]:
        """Write the sheet that compares the options; of several cameras one each, named by it."""
        path, cameras = Path(path), self.cameras()
        stems = unique_stems([("", name) for name in cameras])
        written = []
        for camera, stem in zip(cameras, stems, strict=True):
            more = f"-{stem}" if len(cameras) > 1 else ""
            written.append(self.camera_sheet(path.with_name(f"{path.name}{more}.png"), camera))
        return written

    def camera_sheet(self, path: Path, camera: str, without: str = "") -> Path:
        """Write the sheet of one camera; options whose picture has another shape are left out.

        What is said to be left out besides is named at its head.
        """
        shots = [shot for shot in self.shots if shot.camera.name == camera]
        shape = shots[0].developed.still.shape
        path.parent.mkdir(parents=True, exist_ok=True)
        write_sheet(path, [_on_sheet(shot) for shot in shots if shot.developed.still.shape == shape],
                    title=self.title, subject=f"Camera {camera}{without}",
                    words=self._words(), cautions=together(
                        each for shot in shots for each in shot.stage.reminders))
        return path


def _on_sheet(shot: Shot) -> SheetOption:
    face, spill = shot.face, shot.spill
    # The sheet owns up to meters on few paths, and to those that it shows.
    shown = (*(cheeks_of(face.figure) if face else ()), *((BACK_WALL,) if spill else ()))
    return SheetOption(
        name=shot.option or "as written", note=shot.changed or shot.developed.note,
        still=shot.developed.still, chart=shot.chart, settings=shot.settings, face=face, spill=spill,
        short=tuple(each for each in shot.short if each.few or each.name in shown))


def render(file: SceneFile, request: Request, *, options: Sequence[str] = (),
           cameras: Sequence[str] = (), noise: float | None = None, seconds: float | None = None,
           explain: bool = False, shown: Shown | None = None,
           progress: Progress | None = None) -> Rendered:
    """Render options of a scene by its cameras, and meter them.

    Parameters
    ----------
    options : sequence of str
        All without any; '' for the scene as written.
    cameras : sequence of str
        All that there are without any.
    noise : float, optional
        Refine in rounds until faces, or pictures without any, are as noisy as that. [1]
    seconds : float, optional
        Refine in rounds for so long, all pictures and meters together. [s]
    explain : bool
        Say lamp by lamp what is used again, and why the rest is not.
    shown : Shown, optional
        Gets each still as soon as there is one, so that there is a picture to see.
    progress : Progress, optional
        A picture is 1 of its work; silent by default.

    Raises
    ------
    RequestError
        There is no such option or camera, or no camera at all.
    ResourceError
        There surely is not enough memory or disk for it.
    """
    progress = progress or Progress()
    progress.show(SETTING_UP)
    # Every option is built before anything is rendered, so that a bad mesh costs no time.
    scenes = {name: file.scene(name or None) for name in select_options(file, options)}
    stages = {name: build_stage(scene) for name, scene in scenes.items()}
    names = list(dict.fromkeys(c.name for s in stages.values() for c in s.cameras))
    if not names:
        raise no_camera()
    chosen = select(cameras, names, "camera")
    plan = [(name, stage, [c for c in stage.cameras if c.name in chosen])
            for name, stage in stages.items()]
    refinement = None
    if noise is not None or seconds is not None:
        refinement = Refinement(noise, seconds, [len(seen) for *_, seen in plan], shown)
    run = _Run(request, progress, refinement, explain, shown)
    jobs = {name: StageJob(stage, request.meter_order()) for name, stage, seen in plan if seen}
    look_ahead([(jobs[name], camera) for name, _, seen in plan for camera in seen], request, progress,
               first=None if refinement is None else FIRST, seconds=seconds)
    shots: list[Shot] = []
    with progress.running(sum(len(seen) + PROBE_SHARE for _, _, seen in plan)):
        for name, stage, seen in plan:
            if seen:
                shots += run.option(name, jobs.pop(name), seen, bodies_of(scenes[name], stage))
    _say_rig(shots, progress)
    return Rendered(file.title or file.path.stem, tuple(shots))


@dataclass(frozen=True, eq=False)
class _Run:
    """One run of a request."""

    request: Request
    progress: Progress
    refinement: Refinement | None
    explain: bool
    shown: Shown | None

    def option(self, name: str, job: StageJob, cameras: Sequence[Camera],
               bodies: Sequence[Stand | CameraBody]) -> list[Shot]:
        """Render an option by its cameras, and meter it."""
        stage, taken = job.stage, []
        try:
            for camera in cameras:
                job = job.like(self.request.order(camera.aspect))
                taken.append(self._picture(name, job, camera))
            self.progress.show(label_of(name, "what of the rig is in the picture"))
            rig = {camera.name: rig_in(job, camera, bodies) for camera in cameras}
            gathered, short = self._meters(name, job)
        finally:
            job.close()
        return [Shot(name, camera, stage, frames, developed, gathered, rig[camera.name], short,
                     state=state_of(job.paths, camera, stage.lamps))
                for camera, (frames, developed) in zip(cameras, taken, strict=True)]

    def _picture(self, option: str, job: StageJob, camera: Camera) -> tuple[Frames, Developed]:
        label = label_of(option, f"camera {camera.name}")
        if self.explain:
            self.progress.say(f"{label}:")
            for line in _explained(job, camera):
                self.progress.say(f"  {line}")
        if self.refinement is not None:
            frames = self.refinement.frames(job, camera, option, self.progress)
        else:
            frames = job.frames(camera, self.progress, label)
        developed = develop(frames, job.stage.lamps, settings_of(camera))
        if self.shown is not None:
            self.shown(option, camera, developed.still, "", state_of(job.paths, camera, job.stage.lamps))
        return frames, developed

    def _meters(self, option: str, job: StageJob) -> tuple[Batches | None, tuple[Short, ...]]:
        label, precision = label_of(option, "meters"), self.request.precision
        self.progress.show(label)
        seconds = None if self.refinement is None else self.refinement.meter_seconds()
        gathered, reached, short = job.meters(
            precision, lambda _: self.progress.show(label),
            METER_SECONDS if seconds is None else seconds,
            partial(self._explain_meters, label) if self.explain else None)
        self.progress.add(PROBE_SHARE, label)
        if not reached:
            self.progress.say(f"{label}: {precision:.1%} was not reached; the readings say their own "
                              "error.")
            few = [each for each in short if each.few]
            for each in few:
                self.progress.say(f"  '{each.name}' {not_reached(each)}.")
            if few:
                self.progress.say(f"  {ON_FEW}")
        return gathered, short

    def _explain_meters(self, label: str, lines: Sequence[str]) -> None:
        self.progress.say(f"{label}:")
        for line in lines:
            self.progress.say(f"  {line}")


def _explained(job: StageJob, camera: Camera) -> Iterator[str]:
    """Yield of each lamp whether it is used again, and why."""
    words = {"cached": "used again", "reused": "used again", "partial": "gone on with",
             "missing": "rendered anew"}
    for state in job.plan(camera, explain=True):
        yield f"{state.lamp}: {words[state.status]}; {state.why}."


def _say_rig(shots: Sequence[Shot], progress: Progress) -> None:
    """Say what of the rig is in each picture; pictures that agree are named together."""
    pictures: dict[tuple[str, ...], list[str]] = {}
    for shot in shots:
        seen = tuple(rig_text(each.sighting) for each in shot.rig
                     if each.sighting.where == IN_FRAME)
        pictures.setdefault(seen, []).append(label_of(shot.option, f"camera {shot.camera.name}"))
    for seen, labels in pictures.items():
        if not seen:
            progress.say(f"{'; '.join(labels)}: nothing of the rig is in the picture.")
            continue
        progress.say(f"{'; '.join(labels)}: of the rig in the picture")
        for line in seen:
            progress.say(f"  {line}")
