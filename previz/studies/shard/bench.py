"""A scene opened to be worked on: its stages on the device, and one unit after the other done."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from previz.frames import FramesError
from previz.frames.arrays import META_NAME
from previz.frames.batches import read_meter_note
from previz.frames.store import read as read_frames
from previz.rendering.ahead import refuse
from previz.rendering.cache.picture import planes_of
from previz.rendering.cache.store import PLANES_NAME
from previz.rendering.job import StageJob
from previz.rendering.shards.light import LightWork, OutdatedError, light_done
from previz.rendering.shards.merge import merge
from previz.rendering.shards.planning import meter_places
from previz.rendering.shards.results import Clock, note_of, passes_of, write_note
from previz.rendering.shards.units import LIGHT, METERS, PICTURE, VIEW, Unit
from previz.scene.read import SceneFile, load
from previz.sight.rig_bodies import CameraBody, Stand, bodies_of
from previz.sight.rig_seen import rig_in, scan_file
from previz.stage.build import build_stage
from previz.stage.records import Camera
from previz.studies.selection import no_camera, select, select_options
from previz.studies.shard.day import Task

OnShare = Callable[[float], None]
"""Called with the share of a unit that is done. [1]"""


@dataclass(frozen=True, eq=False)
class Opened:
    """An option of a scene, built."""

    job: StageJob
    bodies: Sequence[Stand | CameraBody]


class Bench:
    """Opens scenes and does units of theirs; one stage at a time is on the device."""

    def __init__(self) -> None:
        self._files: dict[Path, SceneFile] = {}
        self._opened: dict[tuple[Path, int, str], Opened] = {}

    def close(self) -> None:
        """Let go of the device."""
        for each in self._opened.values():
            each.job.close()
        self._opened = {}

    def file(self, task: Task) -> SceneFile:
        """Return the scene file of a task, read once."""
        if task.scene not in self._files:
            self._files[task.scene] = load(task.scene)
        return self._files[task.scene]

    def holds(self, task: Task, unit: Unit) -> bool:
        """Return whether the stage of a unit is at hand."""
        return (task.cache, unit.want, unit.option) in self._opened

    def opened(self, task: Task, want: int, option: str, keep: bool = False) -> Opened:
        """Return an option of a scene, built now if it is not at hand; others are let go, unless `keep`."""
        key = task.cache, want, option
        if key not in self._opened:
            if not keep:
                self.close()
            scene = self.file(task).scene(option or None)
            stage = build_stage(scene)
            job = StageJob(stage, task.wants[want].request.meter_order())
            self._opened[key] = Opened(job, bodies_of(scene, stage))
        return self._opened[key]

    def options(self, task: Task, want: int) -> list[str]:
        """Return the options that a task wants, in the order of the request."""
        return select_options(self.file(task), task.wants[want].options)

    def cameras(self, task: Task, want: int) -> dict[str, list[Camera]]:
        """Return the cameras that each of the options is wanted by; their stages are then at hand.

        Raises
        ------
        RequestError
            There is no such option or camera, or no camera at all.
        """
        stages = {option: self.opened(task, want, option, keep=True).job.stage
                  for option in self.options(task, want)}
        names = list(dict.fromkeys(c.name for stage in stages.values() for c in stage.cameras))
        if not names:
            raise no_camera(f"'{task.scene}'")
        chosen = select(task.wants[want].cameras, names, "camera")
        return {option: [c for c in stage.cameras if c.name in chosen] for option, stage in stages.items()}

    def job(self, task: Task, unit: Unit) -> tuple[StageJob, Camera]:
        """Return the job and the camera of a picture's unit.

        Raises
        ------
        OutdatedError
            The scene has no such picture now.
        """
        job = self.opened(task, unit.want, unit.option).job
        camera = next((each for each in job.stage.cameras if each.name == unit.camera), None)
        if camera is None:
            raise OutdatedError(unit.label)
        own = job.like(task.wants[unit.want].request.order(camera.aspect))
        if (own.order.width, own.order.height) != unit.size:
            raise OutdatedError(unit.label)
        return own, camera

    # Units

    def do(self, task: Task, unit: Unit, lights: Sequence[Unit] = (),
           on_share: OnShare | None = None) -> None:
        """Do a unit; a picture out of its `lights`. Its result is then in the cache.

        Raises
        ------
        OutdatedError
            The scene is not what was planned.
        MissingError
            What a picture is put together of is not there, or was damaged.
        """
        clock, there = Clock(), passes_of(task.cache, unit.name)
        if unit.kind == LIGHT:
            job, camera = self.job(task, unit)
            count = unit.part[1] - unit.part[0]

            def on_pass(done: float, found: float) -> None:
                if on_share is not None:
                    on_share(min(1.0, done / count))

            LightWork(job, camera, unit, on_pass).run()
            there = passes_of(task.cache, unit.name)
        elif unit.kind == VIEW:
            self._view(task, unit)
        elif unit.kind == METERS:
            self._meters(task, unit, on_share)
        else:
            merge(*self.job(task, unit), unit, lights)
        backend = task.wants[unit.want].request.backend
        write_note(task.cache, unit, clock.cost(unit.work, backend), there)

    def _view(self, task: Task, unit: Unit) -> None:
        job, camera = self.job(task, unit)
        refuse(job, camera)
        bodies = self.opened(task, unit.want, unit.option).bodies
        files = (job.lamp_cache.planes_folder(camera) / PLANES_NAME, scan_file(job, camera, bodies))
        if tuple(path.relative_to(task.cache).as_posix() for path in files) != unit.files:
            raise OutdatedError(unit.label)
        planes_of(job, camera)
        rig_in(job, camera, bodies)

    def _meters(self, task: Task, unit: Unit, on_share: OnShare | None) -> None:
        known: list[str] = []
        for number, option in enumerate(unit.options):
            job = self.opened(task, unit.want, option).job
            known += meter_places(job)
            if not set(known) <= set(unit.files):
                raise OutdatedError(unit.label)
            job.meters(task.wants[unit.want].request.precision)
            if on_share is not None:
                on_share((number + 1) / len(unit.options))


def is_done(task: Task, unit: Unit) -> bool:
    """Return whether a unit has its result, as far as notes and names say."""
    if unit.kind == LIGHT:
        return light_done(task.cache, unit)
    if unit.kind == PICTURE:
        return picture_there(task, unit)
    if unit.kind == VIEW:
        return all((task.cache / place).is_file() for place in unit.files)
    # Files of meters are there from their first round on.
    return bool(note_of(task.cache, unit.name)) and all(
        read_meter_note(task.cache / place) for place in unit.files)


def picture_there(task: Task, unit: Unit) -> bool:
    """Return whether a picture has been put together, and nothing of it is missing or cut."""
    folder = task.cache / unit.files[0].removesuffix(f"/{META_NAME}")
    try:
        return read_frames(folder, verify=False).transport_hash == folder.name
    except FramesError:
        return False
