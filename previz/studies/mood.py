"""One run of `previz mood`: chosen frames, rendered or from the cache, graded and cropped."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from pathlib import Path

from previz.deliver.mood_sheet import MoodFrame
from previz.engine.render import Sampling
from previz.errors import RequestError
from previz.exposure.camera import settings_of
from previz.exposure.grading import cropped
from previz.exposure.picture import develop
from previz.rendering.job import StageJob
from previz.rendering.request import QUALITIES, Order, size_for
from previz.scene.read import load
from previz.stage.build import build_stage
from previz.studies.folders import out_folder
from previz.studies.match import Reference, reference
from previz.studies.selection import select


@dataclass(frozen=True)
class Wanted:
    """What the command line asked for; see `previz mood --help`."""

    size: tuple
    quality: str
    aspect: float
    seed: int
    bands: int
    backend: str
    out: Path | None
    samples: int | None = None

    def order(self, camera, cache: Path) -> Order:
        """Return the engine's order for one frame."""
        quality = QUALITIES[self.quality]
        samples = self.samples or quality.samples
        passes = max(p for p in range(1, quality.passes + 1) if samples % p == 0)
        size = (max(16, round(n * quality.scale)) for n in size_for(self.size, camera.aspect))
        return Order(*size, Sampling(samples, passes, self.seed), self.bands, self.backend, cache)


@dataclass(frozen=True)
class Wish:
    """A frame as it is named on the command line.

    Parameters
    ----------
    which : match_session.Reference
        The shot.
    title : str
        '' for what the scene and the option are called.
    """

    which: Reference
    title: str


def wishes(texts) -> list[Wish]:
    """Return what 'FILE:OPTION:CAMERA=Title' name; a file left out is that of the one before.

    Parameters
    ----------
    texts : sequence of str
        As given on the command line.
    """
    found: list[Wish] = []
    for text in texts:
        name, _, title = text.partition("=")
        found.append(Wish(reference(name, found[-1].which if found else None), title.strip()))
    return found


def frames(asked, wanted: Wanted, grade, tell) -> tuple[str, list[MoodFrame]]:
    """Return the frames of a mood sheet.

    Parameters
    ----------
    asked : sequence of Wish
        An option or camera that is not named means all of them.
    wanted : Wanted
        What was asked for.
    grade : grading.Grade
        Put on every frame.
    tell : function
        Called with a line about each frame.

    Returns
    -------
    title : str
        Of the first scene.
    frames : list of MoodFrame
        In the order asked for.
    """
    files = {wish.which.path: load(wish.which.path) for wish in asked}
    made, title = [], next(iter(files.values())).title
    for wish in asked:
        file = files[wish.which.path]
        options = ([wish.which.option] if wish.which.option
                   else list(file.option_names) or [""])
        if wish.which.option:
            select((wish.which.option,), file.option_names, "option")
        for option in options:
            made += _option(wish, file, option, wanted, grade, tell)
    return title, made


def _option(wish: Wish, file, option: str, wanted: Wanted, grade, tell):
    """Return the frames of one option."""
    stage = build_stage(file.scene(option or None))
    names = [camera.name for camera in stage.cameras]
    if not names:
        raise RequestError(f"{wish.which.path} has no camera; add one under 'cameras:'.")
    cameras = select((wish.which.camera,) if wish.which.camera else (), names, "camera")
    made, previous = [], None
    for camera in (each for each in stage.cameras if each.name in cameras):
        cache = out_folder(wanted.out, wish.which.path) / "frames"
        job = StageJob(stage, wanted.order(camera, cache))
        if previous is not None:
            job.share(previous)
        previous = job
        label = ", ".join(part for part in (option, f"camera {camera.name}") if part)
        found = job.cached(camera)
        tell(f"{label}: {'taken from the cache' if found is not None else 'rendering'}")
        found = found or job.render(camera, lambda *_: None)
        picture = develop(found, stage.lamps, settings_of(camera))
        still = cropped(grade.show(picture.linear), wanted.aspect)
        title = wish.title or option or file.title or wish.which.path.stem
        if not wish.title and len(cameras) > 1:
            title = f"{title}, {camera.name}"
        made.append(MoodFrame(title, still))
    if previous is not None:
        previous.close()
    return made


def numbered(made) -> list[MoodFrame]:
    """Return frames whose titles differ; a title used twice is told apart by a letter."""
    seen: dict[str, int] = {}
    told = []
    for frame in made:
        seen[frame.title] = seen.get(frame.title, 0) + 1
        count = seen[frame.title]
        title = frame.title if count == 1 else f"{frame.title} ({chr(96 + min(count, 26))})"
        told.append(dataclasses.replace(frame, title=title))
    return told
