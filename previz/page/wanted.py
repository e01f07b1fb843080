"""What is wanted of an option on the page: the scene's wants and those added there, with their meters."""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from previz.engine.gather import Standing
from previz.errors import DataError, RequestError
from previz.levels.response import Response, response
from previz.page.change_values import MOST_LINES, is_lines
from previz.page.desk import Desk
from previz.rendering.job import StageJob
from previz.rendering.meter_kinds import Aim
from previz.rendering.metering import Effort, StageMeters
from previz.scene.wants import Want
from previz.stage.records import Camera
from previz.studies.balance.gathering import SECONDS, behind, through
from previz.studies.balance.phrases import with_wants
from previz.studies.balance.subjects import Needed, Subject, background_of, subjects_of, with_meters


@dataclass(frozen=True, eq=False)
class Wanted:
    """What is wanted of an option as written, and the meters that this needs.

    Parameters
    ----------
    option, moves : str
    wants : tuple of scene.wants.Want
        The scene's own first.
    lines : tuple of str
        Those that were added, the last of the wants, as they were said.
    subjects : tuple of Subject
        As numbers at meters.
    needed : Needed
    job : StageJob
        Of a stage that has meters at the marks too.
    """

    option: str
    moves: str
    wants: tuple[Want, ...]
    lines: tuple[str, ...]
    subjects: tuple[Subject, ...]
    needed: Needed
    job: StageJob
    meters: StageMeters = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "meters", StageMeters(self.job))

    def line_of(self, want: Want) -> str | None:
        """Return the line that a want was added by; None for one of the scene's own."""
        number = [each is want for each in self.wants].index(True) - (len(self.wants) - len(self.lines))
        return self.lines[number] if number >= 0 else None

    def camera(self, name: str) -> Camera:
        """Return a camera of the stage."""
        return next(each for each in self.job.stage.cameras if each.name == name)

    def aim(self, camera: str, thing: str, *, trace: bool) -> Aim | None | bool:
        """Return the spot meter of a camera on a thing or patch; False where the camera does not see it.

        None where that is not known yet; `trace` finds it out, which takes the engine.
        """
        seen = self.camera(camera)
        found = self.meters.patch_aims(seen, (thing,))
        if not found:
            known = self.meters.folder / f"{self.meters.camera_hash(seen)}.json"
            if not trace and not known.exists():
                return None
            found = self.meters.aims(seen, (thing,))
        return replace(found[0], name=thing) if found else False

    def run(self, precision: float, on_standing: Callable[[Standing], None]) -> None:
        """Gather what is missing of the meters, and keep it in the cache."""
        until = time.monotonic() + SECONDS

        def effort() -> Effort:
            return Effort(precision, max(until - time.monotonic(), 0.0), on_standing)

        if self.needed.incident:
            self.meters.incident(effort(), list(self.needed.incident))
        aims = [self.aim(camera, thing, trace=True) for camera, thing in self.needed.spots]
        found = [each for each in aims if isinstance(each, Aim)]
        if found:
            self.meters.spots(found, effort())

    def read(self, desk: Desk) -> tuple[Response | None, dict[str, str]]:
        """Return what is there of the meters, and why the rest is not, in words by its name."""
        waiting: dict[str, str] = {}
        kept = []
        # Any precision will do, so nothing is traced here: the worker does that.
        if self.needed.incident:
            kept.append(self.meters.incident(Effort(np.inf), list(self.needed.incident)))
        aims: list[Aim] = []
        for camera, thing in self.needed.spots:
            aim = self.aim(camera, thing, trace=False)
            if isinstance(aim, Aim):
                aims.append(aim)
            else:
                waiting[f"{thing}, {camera}"] = ("" if aim is None else
                                                 f"camera {camera} does not see it")
        if aims:
            kept.append(self.meters.spots(aims, Effort(np.inf)))
        there = [each.some(np.flatnonzero(each.paths > 0).tolist()) for each in kept]
        waiting |= {name: "" for each in kept
                    for name, paths in zip(each.names, each.paths, strict=True) if not paths}
        found = [response(*there)] if any(each.names for each in there) else []
        for camera, opening in self.needed.views:
            meter = f"{opening}, {camera}" if opening else background_of(camera)
            try:
                found += self._viewed(desk, camera, opening)
            except RequestError as error:
                waiting[meter] = str(error)
            else:
                if not found or meter not in found[-1].meters:
                    waiting[meter] = ""
        if not found:
            return None, waiting
        return Response(tuple(name for each in found for name in each.meters), found[0].lamps,
                        np.concatenate([each.light for each in found])), waiting

    def _viewed(self, desk: Desk, camera: str, opening: str) -> list[Response]:
        """Return a camera's background, or what it sees through an opening, as a meter.

        None before there is a picture.
        """
        option, moves = self.option, self.moves
        if camera not in [each.name for each in desk.cameras(option, moves)]:
            raise RequestError(f"Camera '{camera}' is not on this page.")
        frames = desk.find(option, camera, desk.camera(option, camera, moves).stop, moves)
        if frames is None:
            return []
        seen = self.camera(camera)
        stage = self.job.stage
        return [desk.made(("behind", option, moves, camera, opening, frames.key), lambda: (
            through(stage, seen, frames.frames, opening) if opening else behind(stage, seen, frames.frames)))]


def wanted_of(desk: Desk, option: str, lines: Sequence[str] = (), moves: str = "") -> Wanted | None:
    """Return what is wanted of an option, as written or moved, None for nothing.

    `lines` are wants that were added on the page, as of `studies.balance.phrases.want_of`.

    Raises
    ------
    RequestError
        A line says nothing that can be wanted of this scene, or wants exclude each other.
    """
    scene = desk.scene(option, moves)
    if not (lines or scene.wants):
        return None
    return desk.made(("wanted", option, moves, tuple(lines)),
                     lambda: _wanted(desk, option, moves, tuple(lines)))


def _wanted(desk: Desk, option: str, moves: str, lines: tuple[str, ...]) -> Wanted:
    scene, stage = desk.scene(option, moves), desk.stage(option, moves)
    wants = with_wants(scene, [*scene.wants, *lines])
    subjects, needed = subjects_of(scene, stage, wants)
    metered = with_meters(stage, needed)
    job = StageJob(metered, desk.request.request.meter_order())
    return Wanted(option, moves, wants, lines, subjects, needed, job)


def lines_of(text: str) -> tuple[str, ...]:
    """Return the wants that a page says it has added, as JSON: a list of lines.

    Raises
    ------
    DataError
        It is not such a list, or there are too many.
    """
    try:
        lines = json.loads(text or "[]")
    except (ValueError, RecursionError):
        lines = None
    if not is_lines(lines):
        raise DataError(f"the wants of a page are at most {MOST_LINES} lines", "Take one of them out.")
    return tuple(lines)


def added_key(option: str) -> str:
    """Return the key of the page's changes that an option's added wants are kept by."""
    return f"{option}|wants"


def added_lines(desk: Desk, option: str) -> tuple[str, ...]:
    """Return the wants that were added to an option on the page, none where they cannot be used."""
    lines = desk.changes.get(added_key(option))
    if not isinstance(lines, list) or not is_lines(lines):
        return ()
    return tuple(lines)
