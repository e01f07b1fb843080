"""Chosen frames for a director, rendered or from the cache, graded and cropped; no numbers."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import ClassVar

import numpy as np

from previz.deliver.mood_sheet import MoodFrame, write_mood
from previz.deliver.reminders import words_alone
from previz.exposure.camera import settings_of
from previz.exposure.grading import Grade, cropped
from previz.exposure.optics import taken
from previz.exposure.picture import develop
from previz.exposure.viewing import within
from previz.physics.safety import Caution, together
from previz.rendering.ahead import look_ahead
from previz.rendering.job import StageJob
from previz.rendering.needs import EACH_STILL
from previz.rendering.progress import SETTING_UP, Progress
from previz.rendering.request import Request
from previz.scene.read import SceneFile, load
from previz.stage.build import build_stage
from previz.stage.records import Camera, Stage
from previz.studies.match import Reference, reference
from previz.studies.result import Result, Row, row
from previz.studies.rows import caution_rows
from previz.studies.selection import label_of, no_camera, select


@dataclass(frozen=True)
class Shot:
    """Frames as they are named: one, or all of an option or of a scene.

    Without a title they are called what scene and option are called.
    """

    which: Reference
    title: str


@dataclass(frozen=True, eq=False)
class Mood(Result):
    """Mood frames.

    They have no readings, and their sheet shows no number: a row says which frame is which, by its
    title, and that is all.

    Parameters
    ----------
    title, subtitle : str
        Over the frames.
    sources : tuple of dict of str to str
        Scene, option and camera of each frame.
    across : int or None
        Frames side by side; None for as few as go on a page.
    cautions : tuple of Caution
        Of the sets; the sheet says what they are about, without their numbers.
    """

    study: ClassVar[str] = "mood"
    axes: ClassVar[tuple[str, ...]] = ("scene", "option", "camera")

    title: str
    subtitle: str
    frames: tuple[MoodFrame, ...]
    sources: tuple[dict[str, str], ...]
    across: int | None = None
    cautions: tuple[Caution, ...] = ()

    def sheet(self, path: Path | str) -> list[Path]:
        """Write the frames as a PNG, a PDF and one self-contained page."""
        return write_mood(Path(path), self.frames, self._words("Mood frames."), title=self.title,
                          subtitle=self.subtitle, across=self.across, care=words_alone(self.cautions))

    def _rows(self) -> list[Row]:
        rows = [row("frame_title", frame.title, **of)
                for frame, of in zip(self.frames, self.sources, strict=True)]
        return rows + caution_rows(self.cautions)


def shots_named(texts: Iterable[str]) -> list[Shot]:
    """Return what 'FILE:OPTION:CAMERA=Title' name; a file left out is that of the one before."""
    found: list[Shot] = []
    for text in texts:
        name, _, title = text.partition("=")
        found.append(Shot(reference(name, found[-1].which if found else None), title.strip()))
    return found


def mood(frames: Sequence[str], request: Request, *, aspect: float = 2.39, grade: Grade | None = None,
         title: str | None = None, subtitle: str = "", across: int | None = None,
         cache_of: Callable[[Path], Path] | None = None, progress: Progress | None = None) -> Mood:
    """Return graded frames with titles.

    Parameters
    ----------
    frames : sequence of str
        'FILE:OPTION:CAMERA=Title', at least one; see `shots_named`.
    aspect : float
        Width over height of the frames; the middle of each picture is kept. [1]
    grade : Grade, optional
        Put on every frame, in place of what its camera's picture is looked at through.
    title : str, optional
        Over the sheet; the first scene's by default.
    subtitle : str
        Under the title.
    across : int, optional
        Frames side by side.
    cache_of : function, optional
        Scene file -> folder of its frames; the request's for all by default.

    Raises
    ------
    RequestError
        A frame names what is not there.
    """
    progress, shots = progress or Progress(), shots_named(frames)
    progress.show(SETTING_UP)
    grade = grade or Grade()
    files = {shot.which.path: load(shot.which.path) for shot in shots}
    first = shots[0].which.path
    pending = [each for shot in shots for each in _stages(shot, files[shot.which.path])]
    made: list[tuple[MoodFrame, dict[str, str]]] = []
    jobs = [StageJob(stage, request.meter_order()) for *_, stage, _ in pending]
    look_ahead([(job, camera) for job, (*_, seen) in zip(jobs, pending, strict=True) for camera in seen],
               request, progress, held=EACH_STILL)
    with progress.running(sum(len(cameras) for *_, cameras in pending)):
        for shot, option, _, cameras in pending:
            # Taken off the list, so that what is on the device goes with it.
            path, job = shot.which.path, jobs.pop(0)
            cache = cache_of(path) if cache_of else request.cache
            own = dataclasses.replace(request, cache=cache)
            for camera in cameras:
                job = job.like(own.order(camera.aspect))
                name = shot.title or option or files[path].title or path.stem
                if not shot.title and len(cameras) > 1:
                    name = f"{name}, {camera.name}"
                made.append((MoodFrame(name, _still(job, camera, option, grade, aspect, progress)),
                             {"scene": str(path), "option": option, "camera": camera.name}))
            job.close()
    return Mood(title if title is not None else files[first].title or first.stem, subtitle,
                tuple(lettered([frame for frame, _ in made])), tuple(of for _, of in made), across,
                together(each for *_, stage, _ in pending for each in stage.reminders))


def _stages(shot: Shot, file: SceneFile) -> Iterator[tuple[Shot, str, Stage, list[Camera]]]:
    """Yield (shot, option, stage, cameras) of each option that a shot names."""
    if shot.which.option:
        select((shot.which.option,), file.option_names, "option")
    for option in [shot.which.option] if shot.which.option else list(file.option_names) or [""]:
        stage = build_stage(file.scene(option or None))
        names = [camera.name for camera in stage.cameras]
        if not names:
            raise no_camera(str(shot.which.path))
        chosen = select((shot.which.camera,) if shot.which.camera else (), names, "camera")
        yield shot, option, stage, [each for each in stage.cameras if each.name in chosen]


def _still(job: StageJob, camera: Camera, option: str, grade: Grade, aspect: float,
           progress: Progress) -> np.ndarray:
    """Return one frame, graded and cropped. uint8 array, shape (row, column, 3)"""
    label = label_of(option, f"camera {camera.name}")
    found = job.cached(camera)
    progress.say(f"{label}: {'taken from the cache' if found is not None else 'rendering'}")
    if found is None:
        found = job.frames(camera, progress, label)
    else:
        progress.skip(1.0)
        progress.show(label)
    settings = settings_of(camera)
    picture = develop(found, job.stage.lamps, settings)
    # A grade takes the place of the file that the camera's picture is looked at through.
    shown = picture.still if grade.neutral else grade.show(
        within(taken(picture.linear, settings), settings))
    return cropped(shown, aspect)


def lettered(frames: Sequence[MoodFrame]) -> list[MoodFrame]:
    """Return frames whose titles differ; a title used again gets a letter."""
    seen: dict[str, int] = {}
    made = []
    for frame in frames:
        count = seen[frame.title] = seen.get(frame.title, 0) + 1
        title = frame.title if count == 1 else f"{frame.title} ({chr(96 + min(count, 26))})"
        made.append(dataclasses.replace(frame, title=title))
    return made
