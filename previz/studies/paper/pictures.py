"""Stills with their exposure maps, from the cache or rendered, and the few numbers that decide."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from previz.deliver.face_values import ratio_texts, side_texts
from previz.deliver.pack import PackPicture
from previz.deliver.wording import NO_LIGHT
from previz.exposure.camera import settings_of
from previz.exposure.picture import develop
from previz.frames.batches import Batches
from previz.frames.records import Short
from previz.rendering.ahead import look_ahead
from previz.rendering.job import StageJob
from previz.rendering.progress import Progress
from previz.rendering.request import Request
from previz.stage.records import Camera, Stage
from previz.studies.render import PROBE_SHARE, Shot
from previz.studies.selection import label_of


def shots_of(stages: Mapping[str, Stage], cameras: Sequence[str], request: Request, progress: Progress, *,
             meters: bool, seconds: float) -> dict[str, tuple[Shot, ...]]:
    """Return the shots of each option by the cameras, rendered and metered where they are not in the cache.

    Parameters
    ----------
    stages : dict of str to Stage
        By option.
    cameras : sequence of str
    meters : bool
        Whether meters are run, so that faces have their numbers.
    seconds : float
        Run the meters of an option for so long at most.
    """
    jobs = {option: StageJob(stage, request.meter_order()) for option, stage in stages.items()}
    chosen = {option: [each for each in stage.cameras if each.name in cameras]
              for option, stage in stages.items()}
    look_ahead([(jobs[option], camera) for option, seen in chosen.items() for camera in seen], request,
               progress)
    made: dict[str, tuple[Shot, ...]] = {}
    with progress.running(sum(len(seen) + PROBE_SHARE * meters for seen in chosen.values())):
        for option, seen in chosen.items():
            # Taken off the list, so that what is on the device goes with it.
            job = jobs.pop(option)
            try:
                made[option] = _shots(option, job, seen, request, progress, meters, seconds)
            finally:
                job.close()
    return made


def _shots(option: str, job: StageJob, cameras: Sequence[Camera], request: Request, progress: Progress,
           meters: bool, seconds: float) -> tuple[Shot, ...]:
    taken = []
    for camera in cameras:
        job = job.like(request.order(camera.aspect))
        label = label_of(option, f"camera {camera.name}")
        frames = job.cached(camera)
        if frames is None:
            progress.say(f"{label}: rendering")
            frames = job.frames(camera, progress, label)
        else:
            progress.say(f"{label}: taken from the cache, nothing rendered")
            progress.skip(1.0)
        taken.append((camera, frames))
    gathered: Batches | None = None
    short: tuple[Short, ...] = ()
    if meters:
        label = label_of(option, "meters")
        progress.show(label)
        gathered, _, short = job.meters(request.precision, lambda _: progress.show(label), seconds)
        progress.add(PROBE_SHARE, label)
    lamps = job.stage.lamps
    return tuple(Shot(option, camera, job.stage, frames, develop(frames, lamps, settings_of(camera)),
                      gathered, (), short) for camera, frames in taken)


def picture_of(shot: Shot) -> PackPicture:
    """Return a shot as paper has it."""
    said: tuple[str, ...] = ()
    face = shot.face
    if face is not None:
        lit, shadow = (_side_text(*side_texts(each, shot.settings)) for each in (face.lit, face.shadow))
        ratio, key = ratio_texts(face)
        said = (f"{face.figure}: lit side {lit}, shadow side {shadow}",
                f"lit : shadow {ratio}, key alone : fill {key}")
    few = tuple(each for each in shot.short if each.few)
    return PackPicture(shot.option, shot.camera.name, shot.developed.still, shot.chart, shot.settings, said,
                       few)


def _side_text(lux: str, stops: str) -> str:
    return f"{lux} lx, {stops}" if stops == NO_LIGHT else f"{lux} lx, {stops} stops"
