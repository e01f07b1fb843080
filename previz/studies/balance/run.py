"""One request for levels: what is wanted, the meters, the answer, and its pictures from the cache."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from previz.deliver.balance_sheet import LampLine, Seen
from previz.errors import RequestError
from previz.exposure.camera import settings_of
from previz.exposure.picture import develop
from previz.frames.records import Frames, Short
from previz.levels.solve import LEAST_SQUARES, LEAST_WORST
from previz.physics.exposure import CameraSettings
from previz.physics.safety import Caution
from previz.rendering.ahead import look_ahead
from previz.rendering.job import StageJob
from previz.rendering.needs import EACH_STILL
from previz.rendering.progress import SETTING_UP, Progress
from previz.rendering.request import Request
from previz.scene.light import Light
from previz.scene.read import SceneFile
from previz.scene.scene import Scene
from previz.scene.wants import Want
from previz.stage.build import build_stage
from previz.stage.cautions import for_changed
from previz.stage.records import Camera, Stage
from previz.studies.balance.gathering import Meters
from previz.studies.balance.moving import LampMoving, lamps_of
from previz.studies.balance.phrases import with_moves, with_wants
from previz.studies.balance.placed import (
    Answered,
    Move,
    Placed,
    check_aims,
    is_sheet,
    met_of,
    missed_of,
    movable,
    movable_sheet,
    put,
)
from previz.studies.balance.places import find_place
from previz.studies.balance.result import Balance
from previz.studies.balance.sheet_places import find_sheet_place
from previz.studies.balance.solving import solve
from previz.studies.balance.subjects import Subject, subjects_of, with_meters
from previz.studies.changes import Changes, changed_scene, lamp_lights, staged_camera
from previz.studies.relit import relit
from previz.studies.render import Shot
from previz.studies.selection import label_of, select, select_one

RULES = (LEAST_SQUARES, LEAST_WORST)
"""What may be made small: all misses together, or the greatest of them."""

AS_ANSWERED = "pictures of the levels found"
"""What is being done once levels are found."""


def balance(file: SceneFile, option: str, request: Request, *, wants: Iterable[str | Want] = (),
            may: Iterable[str] = (), lock: Iterable[str] = (),
            gels: Mapping[str, Iterable[str]] | Iterable[str] = (), stop: Iterable[str] = (),
            nd: Iterable[str] = (), rule: str = LEAST_SQUARES, few: bool = False,
            cameras: Sequence[str] = (), pictures: bool = True, move: Move | None = None,
            progress: Progress | None = None) -> Balance:
    """Return the levels, colours and exposure of one option that come nearest to what is wanted.

    Parameters
    ----------
    file : SceneFile
    option : str
        '' for the scene as written.
    request : Request
        Of the pictures and meters.
    wants : iterable of str or Want
        Lines as of `phrases.want_of`, in place of what the scene wants.
    may, lock, gels, stop, nd
        What may move, over what the scene says; see `phrases.with_moves`.
    rule : str
        One of `RULES`.
    few : bool
        Of answers that are as good, the one with the fewest lamps and watts; else the one nearest to what is
        set.
    cameras : sequence of str
        Whose pictures are shown; those of the wants without any.
    pictures : bool
        False leaves the pictures out, where nothing of a picture is wanted.
    move : Move, optional
        A lamp whose place, aim and size may be others too, or a board, frame or flag whose place may, where
        levels alone do not do.
    progress : Progress, optional
        Counts meters and pictures, and says of each picture whether it was rendered.

    Raises
    ------
    RequestError
        There is no such option, camera, lamp or thing, a line is not understood, or wants exclude each
        other whatever the light.
    """
    progress = progress or Progress()
    progress.show(SETTING_UP)
    select_one(rule, RULES, "rule")
    if option:
        select_one(option, file.option_names, "option")
    own = file.scene(option or None)
    written = with_wants(own, wants)
    asked = Asked(option, request, written, {"may": may, "lock": lock, "gels": gels, "stop": stop, "nd": nd},
                  rule, few, cameras, pictures)
    if move is not None:
        # Before anything is rendered.
        (movable_sheet if is_sheet(own, move.lamp) else movable)(with_moves(own, **asked.moves), move)
        if move.aims:
            check_aims(build_stage(own), move.aims)
    first = _found(own, asked, progress)
    if move is None:
        with progress.lasting(AS_ANSWERED):
            return _balance(file, asked, first)
    find = find_sheet_place if is_sheet(own, move.lamp) else find_place
    placed = find(first.answered, move, request, rule, few=few, progress=progress)
    moved = _found(put(own, placed.best.item), asked, progress) if placed.better else None
    with progress.lasting(AS_ANSWERED):
        if moved is None:
            return replace(_balance(file, asked, first), placed=placed)
        return _against(_balance(file, asked, moved), _balance(file, asked, first), placed)


@dataclass(frozen=True, eq=False)
class Asked:
    """What is asked of each place of the lamps; see `balance`."""

    option: str
    request: Request
    wants: tuple[Want, ...]
    moves: Mapping[str, Any]
    rule: str
    few: bool
    cameras: Sequence[str]
    pictures: bool


@dataclass(frozen=True, eq=False)
class Found:
    """An answer, with what its pictures need.

    Parameters
    ----------
    own : Scene
        As it is, without what may move besides.
    answered : Answered
    subjects : tuple of Subject
    lamps : dict of str to LampMoving
    shown : list of str
        Cameras whose pictures are shown.
    short : tuple of Short
    """

    own: Scene
    answered: Answered
    subjects: tuple[Subject, ...]
    lamps: Mapping[str, LampMoving]
    shown: list[str]
    short: tuple[Short, ...]


def _found(own: Scene, asked: Asked, progress: Progress) -> Found:
    """Return the answer of levels for one scene, its meters and pictures from the cache or run."""
    request = asked.request
    scene = with_moves(own, **asked.moves)
    stage = build_stage(scene)
    if not stage.lamps:
        raise RequestError("There is no light in the scene", "Add lamps under 'lights:'.")
    subjects, needed = subjects_of(scene, stage, asked.wants)
    metered = with_meters(stage, needed)
    shown = _shown(stage, asked.cameras, [each.camera for each in subjects]) if asked.pictures else []
    seen_by = {*shown, *(camera for camera, _ in needed.views)}
    to_render = [each for each in stage.cameras if each.name in seen_by]
    job = StageJob(metered, request.meter_order())
    look_ahead([(job, camera) for camera in to_render], request, progress, held=EACH_STILL)
    lamps = lamps_of(scene, stage)
    if all(each.locked for each in lamps.values()) and all(each.may_move is None for each in scene.cameras):
        raise RequestError("Nothing may move", "Every lamp is locked, off, or has no dimmer: say with "
                           "'may_move' or --may what may.")
    with progress.running(len(to_render) + bool(needed.incident) + bool(needed.spots)):
        frames: dict[str, Frames] = {}
        try:
            for camera in to_render:
                line = label_of(asked.option, f"camera {camera.name}")
                frames[camera.name] = _frames(job.like(request.order(camera.aspect)), camera, line, progress)
            meters = Meters(job, request, progress)
            response = meters.response(needed, frames)
        finally:
            job.close()
        wants = tuple(each.want for each in subjects)
        solution = solve(response, wants, scene, stage, asked.rule, few=asked.few,
                         views=needed.view_names)
    return Found(own, Answered(scene, stage, metered, wants, needed, frames, response, solution), subjects,
                 lamps, shown, meters.short)


def _balance(file: SceneFile, asked: Asked, found: Found) -> Balance:
    """Return an answer with its pictures, before and after."""
    own, stage, solution = found.own, found.answered.stage, found.answered.solution
    seen, cautions = _seen(asked.option, own, stage, found.answered.frames, found.shown, solution.changes,
                           asked.request)
    changed = changed_scene(own, stage, solution.changes)
    return Balance(
        file.title or file.path.stem, file, asked.option, asked.rule, found.subjects, solution,
        tuple(_line(before, after, found.lamps[before.name]) for before, after in
              zip(own.lights, changed.lights, strict=True)),
        _settings(stage, changed, found.shown or [each.camera for each in found.subjects if each.camera]),
        changed, seen, found.short, cautions)


def _against(moved: Balance, before: Balance, placed: Placed) -> Balance:
    """Return the answer at another place of a lamp, held against the option as it is."""
    seen = tuple(Seen(one.camera, (one.settings[0], two.settings[1]), (one.stills[0], two.stills[1]),
                      (one.charts[0], two.charts[1]))
                 for one, two in zip(before.seen, moved.seen, strict=True))
    # What its own meters say of the place, which was chosen by coarser ones.
    final = replace(placed.best, missed=missed_of(moved.solution), met=met_of(moved.solution))
    places = tuple(final if each is placed.best else each for each in placed.places)
    return replace(moved, solution=replace(moved.solution, before=before.solution.before), seen=seen,
                   placed=replace(placed, best=final, places=places))


def _shown(stage: Stage, cameras: Sequence[str], wanted: Iterable[str]) -> list[str]:
    """Return the cameras whose pictures are shown."""
    known = [camera.name for camera in stage.cameras]
    if cameras:
        return select(cameras, known, "camera")
    return [name for name in known if name in set(wanted)] or known[:1]


def _frames(job: StageJob, camera: Camera, line: str, progress: Progress) -> Frames:
    kept = job.cached(camera)
    if kept is None:
        progress.say(f"{line}: rendering")
        return job.frames(camera, progress, line)
    progress.skip(1.0)
    progress.say(f"{line}: taken from the cache, nothing rendered")
    return kept


def _seen(option: str, scene: Scene, stage: Stage, frames: Mapping[str, Frames], shown: Sequence[str],
          changes: Changes, request: Request) -> tuple[tuple[Seen, ...], tuple[Caution, ...]]:
    """Return the pictures before and after, and the cautions of what is set then."""
    made, cautions = [], None
    for camera in (each for each in stage.cameras if each.name in shown):
        before = Shot(option, camera, stage, frames[camera.name],
                      develop(frames[camera.name], stage.lamps, settings_of(camera)))
        after = relit(before, scene, changes, request)
        cautions = after.stage.reminders
        made.append(Seen(camera.name, (before.settings, after.settings),
                         (before.developed.still, after.developed.still), (before.chart, after.chart)))
    if cautions is None:
        changed = changed_scene(scene, stage, changes)
        cautions = for_changed(changed, replace(stage, lamps=tuple(lamp_lights(changed, stage))))
    return tuple(made), cautions


def _settings(stage: Stage, changed: Scene, names: Iterable[str],
              ) -> dict[str, tuple[CameraSettings, CameraSettings]]:
    """Return how cameras are set before and after."""
    written = {camera.name: camera for camera in changed.cameras}
    return {camera.name: (settings_of(camera), settings_of(staged_camera(stage, written[camera.name])))
            for camera in stage.cameras if camera.name in set(names)}


def _line(before: Light, after: Light, moving: LampMoving) -> LampLine:
    return LampLine(before.name, before.dimmer if before.on else 0.0, after.dimmer if after.on else 0.0,
                    (_colour(before), _colour(after)), moving.watts, moving.locked)


def _colour(light: Light) -> str:
    """Return a lamp's colour and gels: '3200 K, half cto'."""
    parts = [f"{light.cct:.0f} K" if light.cct is not None else "own spectrum"]
    return ", ".join([*parts, *(sheet.name or "gel" for sheet in light.gel)])
