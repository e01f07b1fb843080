"""Read a reference still: lined up, fitted, measured, and what is left over looked at."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from previz.errors import RequestError
from previz.exposure.camera import balance_white_xy, settings_of
from previz.exposure.picture import Developed, develop
from previz.exposure.viewing import can_be_undone
from previz.frames import Frames
from previz.levels.picture_align import fitted
from previz.levels.picture_answer import OFF, Answer, answer, unsure
from previz.levels.picture_fit import fit_picture
from previz.levels.picture_model import PLAIN, LampTable, PictureFit, Regions
from previz.levels.picture_regions import Cells, cells_of, pooled
from previz.physics.arrays import FloatArray
from previz.physics.chromatic_adaptation import BRADFORD
from previz.physics.colourtemp import xyz_from_xy
from previz.physics.exposure import CameraSettings, signal_per_luminance
from previz.physics.light import LampLight
from previz.rendering.ahead import look_ahead
from previz.rendering.job import StageJob
from previz.rendering.progress import SETTING_UP, Cancelled, Progress
from previz.rendering.request import Request
from previz.scene.scene import Scene
from previz.sight.face_view import faces_of
from previz.sight.subjects import projected, subject_of
from previz.stage.build import build_stage
from previz.stage.records import Camera, Stage
from previz.studies.read.lamps import at_full, cleaning, tables_of
from previz.studies.read.leftover import left_over
from previz.studies.read.picture import LOOKS, PREVIZ, Look, laid_over, looks, opened, straightened
from previz.studies.read.result import Reading, Shown
from previz.studies.read.side_light import of_look, of_picture, side_light
from previz.studies.selection import label_of, no_camera, select, select_one

ASPECT = 0.02
"""How far a picture's shape may be from the camera's without points that line them up. [1]"""

SECONDS = 600.0
"""For more paths. [s]"""

MOST_SAMPLES = 3072
"""Paths a pixel from which on no more are added."""

LEAST_NOISE = 0.15
"""Part of what makes an answer unsure that more paths would have to take away. [1]"""

CLEANED = 3
"""Rounds in which the light that was found is cleaned, and levels found anew."""

STRAIGHT = 0.1
"""A curve that is bent less is left in; as a logarithm of its slope. [1]"""

LEAST_SHARED = 0.1
"""Part of the frame that a picture must show. [1]"""


@dataclass(frozen=True)
class Mark:
    """A point of the picture that shows a place of the scene.

    Parameters
    ----------
    at : (float, float)
        From the left and the top of the picture, as shares. [1]
    place : str
        As the scene names it: 'clerk.face', 'desk.top'.
    """

    at: tuple[float, float]
    place: str


def read(picture: Path | str, scene: Scene, request: Request, *, camera: str = "",
         marks: Sequence[Mark] = (), look: str = "auto", anchor: str = "", figure: str = "",
         beside: Sequence[Scene] = (), seconds: float = SECONDS, progress: Progress | None = None) -> Reading:
    """Return the levels and colours of a scene's lamps that come nearest to a picture.

    Parameters
    ----------
    picture : path-like
        PNG or JPEG.
    scene : Scene
        With the camera that the picture is lined up with.
    request : Request
        Of the scene's own picture.
    camera : str
        '' for the first.
    marks : sequence of Mark
        Points that line the picture up, two at least; without any it shows what the camera shows.
    look : str
        'previz' for a still of this program, 'srgb' for any other picture, 'auto' for what fits better.
    anchor : str
        Lamp that is as the scene has it, from which levels count; '' for the mean of those that are told.
    figure : str
        Whose face is measured; '' for the camera's own subject.
    beside : sequence of Scene
        Other options to stand beside it, with the same camera.
    seconds : float
        Time for more paths where lamps are not told to a tenth of a stop and 100 K, and their noise is why;
        only in 'fine' quality, and where the request names no paths. [s]
    progress : Progress, optional
        Counts the pictures.

    Raises
    ------
    RequestError
        The scene has no such camera, lamp or place, or the picture has another shape and nothing lines it up.
    DataError
        The picture cannot be used.
    """
    progress = progress or Progress()
    progress.show(SETTING_UP)
    if look not in ("auto", *LOOKS):
        raise RequestError(f"there is no look '{look}'", f"There are: auto, {', '.join(LOOKS)}.")
    codes = opened(picture)
    stage = build_stage(scene)
    if not stage.cameras:
        raise no_camera()
    name = select_one(camera, [each.name for each in stage.cameras], "camera")
    select((anchor,) if anchor else (), [lamp.name for lamp in stage.lamps], "lamp")
    select((figure,) if figure else (), faces_of(stage), "figure")
    if not stage.lamps:
        raise RequestError("The scene has no lamp whose level could be read.", "Add one under 'lights:'.")
    seen_by = next(each for each in stage.cameras if each.name == name)
    if look == PREVIZ and seen_by.show is not None and not can_be_undone(settings_of(seen_by)):
        raise RequestError(f"camera {name}'s picture is looked at through '{seen_by.show.name}', which "
                           "cannot be taken back to light",
                           "Render the still with 'show: none', or read it as any other: --look srgb.")
    over, miss = lined_up(codes, stage, seen_by, marks)
    others = [_other(each, name) for each in beside]
    job = StageJob(stage, request.order(seen_by.aspect))
    look_ahead([(job, seen_by)], request, progress)
    with progress.running(1 + len(others)):
        frames = _frames(job, seen_by, label_of(scene.option, f"camera {name}"), progress)
        progress.show("laying the picture over the frame")
        laid = laid_over(codes, frames.shape, over)
        seen = np.asarray(np.isfinite(laid).all(axis=2), bool)
        if seen.mean() < LEAST_SHARED:
            raise RequestError(f"the picture shows {seen.mean():.0%} of camera {name}'s frame, too little",
                               "Look at the points that line it up.")
        cells = cells_of(np.asarray(frames.names_index, np.int64), seen)

        def look_at(frames: Frames) -> _Found:
            fitted_so = _fitted(scene, stage, seen_by, frames, cells, laid, look, progress)
            return _Found(frames, *fitted_so[:3], answer(
                fitted_so[3], fitted_so[1], cells.pixels, own_gain=_own_gain(seen_by), anchor=anchor))

        seen_so = _closer(look_at, frames, job, request, seen_by, seconds, progress)
        frames, taken, fit, regions, found = (seen_so.frames, seen_so.look, seen_so.fit, seen_so.regions,
                                              seen_so.answer)
        subject = figure or subject_of(stage, seen_by, frames) or ""
        shown = [Shown("reference", np.round(255 * np.nan_to_num(laid)).astype(np.uint8),
                       side_light(stage, seen_by, frames, subject, of_look(taken, fit, seen)))]
        settings = settings_of(seen_by)
        own = develop(frames, stage.lamps, settings)
        shown.append(_shown(scene.option or "as written", own, stage, seen_by, frames, subject))
        lamps, at = found_lights(scene, stage, found), found_settings(settings, found)
        nearest = develop(frames, lamps, at)
        shown.append(_shown("nearest", nearest, stage, seen_by, frames, subject))
        for other_scene, other_stage, other in others:
            own_job = StageJob(other_stage, request.order(other.aspect))
            own_frames = _frames(own_job, other, label_of(other_scene.option, f"camera {name}"), progress)
            own_job.close()
            made = develop(own_frames, other_stage.lamps, settings_of(other))
            shown.append(_shown(other_scene.option or "as written", made, other_stage, other, own_frames,
                                subject if subject in own_frames.names else ""))
        job.close()
    leftover = left_over(stage, seen_by, frames, cells, fit)
    return Reading(
        title=scene.title, option=scene.option, camera=name, picture=Path(picture), settings=settings,
        look=taken.name, marks=len(marks), miss=miss, figure=subject, answer=found, fit=fit, cells=cells,
        used=float((regions.state == PLAIN).mean()), shown=tuple(shown), leftover=leftover,
        things=np.asarray(frames.names_index), scene=scene, stage=stage, cautions=stage.reminders)


@dataclass(frozen=True, eq=False)
class _Found:
    """What frames say of a picture."""

    frames: Frames
    look: Look
    fit: PictureFit
    regions: Regions
    answer: Answer


def _closer(look_at: Callable[[Frames], _Found], frames: Frames, job: StageJob, request: Request,
            camera: Camera, seconds: float, progress: Progress) -> _Found:
    """Return what frames say, with paths doubled while their noise keeps lamps from being told.

    An interrupt leaves it at what was found so far.
    """
    found = look_at(frames)
    samples, began = request.sampling().samples, time.monotonic()
    if request.samples is not None or request.quality != "fine":
        return found
    last = 0.0
    while unsure(found.answer) and found.fit.noise > LEAST_NOISE and 2 * samples <= MOST_SAMPLES:
        now = time.monotonic()
        if now - began + 2 * last > seconds:
            break
        samples *= 2
        progress.total += 1.0
        label = f"camera {camera.name}, {samples} paths"
        try:
            more = job.like(replace(request, samples=samples).order(camera.aspect))
            found = look_at(_frames(more, camera, label, progress))
        except Cancelled:
            raise
        except KeyboardInterrupt:
            progress.say(f"{label}: left; the same command goes on.")
            break
        last = time.monotonic() - now
    return found


def _other(scene: Scene, camera: str) -> tuple[Scene, Stage, Camera]:
    stage = build_stage(scene)
    select_one(camera, [each.name for each in stage.cameras], "camera")
    return scene, stage, next(each for each in stage.cameras if each.name == camera)


def lined_up(codes: FloatArray, stage: Stage, camera: Camera,
             marks: Sequence[Mark]) -> tuple[FloatArray | None, float]:
    """Return what takes places of a camera's frame to a picture, None where both show the same; and the miss.

    Raises
    ------
    RequestError
        A place is not there or not before the camera, there is one point alone, or the shapes differ and
        there is none.
    """
    rows, columns = codes.shape[:2]
    shape = columns / rows
    if not marks:
        if abs(shape / camera.aspect - 1) > ASPECT:
            raise RequestError(
                f"the picture is {shape:.2f} : 1 and camera {camera.name} {camera.aspect:.2f} : 1, so they "
                "do not show the same", "Crop it to the camera's frame, or mark two points or more of it: "
                "--at \"42%,31%=clerk.face\".")
        return None, 0.0
    faults, ours = [], []
    for mark in marks:
        if mark.place not in stage.places:
            try:
                select((mark.place,), list(stage.places), "place")
            except RequestError as error:
                faults.append(str(error).split(" It has:")[0])
            continue
        x, y, depth = projected(camera, stage.places[mark.place])
        if depth <= 0:
            faults.append(f"'{mark.place}' is behind camera {camera.name}.")
        ours.append(((x + 1) / 2, (1 - y) / 2))
    if faults:
        raise RequestError(" ".join(faults), "A place is named as in the scene file: 'clerk.face', 'desk'.")
    try:
        return fitted(np.array(ours), np.array([mark.at for mark in marks]), (camera.aspect, shape))
    except ValueError as error:
        raise RequestError(f"the points do not line the picture up: {error}",
                           "Mark two or more that lie far apart.") from None


def _frames(job: StageJob, camera: Camera, label: str, progress: Progress) -> Frames:
    kept = job.cached(camera)
    progress.say(f"{label}: " + ("rendering" if kept is None else "taken from the cache, nothing rendered"))
    return job.frames(camera, progress, label)


def _own_gain(camera: Camera) -> float:
    return float(np.log2(signal_per_luminance(settings_of(camera))))


def _fitted(scene: Scene, stage: Stage, camera: Camera, frames: Frames, cells: Cells, codes: FloatArray,
            which: str, progress: Progress
            ) -> tuple[Look, PictureFit, Regions, list[LampTable]]:
    """Return the look that fits better, its fit, and what both are of."""
    progress.show("what each lamp gives")
    tables, noise = tables_of(scene, stage, frames, cells)
    settings = settings_of(camera)
    white = BRADFORD @ xyz_from_xy(balance_white_xy(settings.white_balance, settings.tint))
    gains = _own_gain(camera) - np.log2(white)
    best = None

    def fitted_to(look: Look, bend: float) -> tuple[PictureFit, Regions]:
        value, state, error = pooled(cells, look.linear, look.codes, look.step, bend=bend, joint=look.joint)
        regions = Regions(value, state, error, noise, cells.block, cells.pixels)
        try:
            return fit_picture(tables, regions, from_cones=look.from_cones, cones_from_xyz=BRADFORD,
                               gains=gains, slopes=look.slopes, slope_pull=look.bend), regions
        except ValueError as error_found:
            raise RequestError(f"the picture cannot be read: {error_found}",
                               "Give one that is neither black nor white all over.") from None

    for look in looks(codes, which, settings):
        progress.show("fitting levels, colours and curve")
        fit, regions = fitted_to(look, look.bend)
        if best is None or np.nanmean(fit.unlikely - best[1].unlikely) < 0:
            best = look, fit, regions
    if best is None:
        raise ValueError(f"no look '{which}'")
    look, fit, regions = best
    plain, first = look, np.zeros(len(fit.slopes))
    if np.abs(fit.slopes).max() > STRAIGHT:
        plain, first = straightened(look, fit.slopes), fit.slopes
        fit, regions = fitted_to(plain, STRAIGHT)
    fit = _cleaned(scene, stage, frames, cells, tables, fit, regions, plain, progress)
    return look, replace(fit, slopes=fit.slopes + first), regions, tables


def _cleaned(scene: Scene, stage: Stage, frames: Frames, cells: Cells, tables: list[LampTable],
             fit: PictureFit, regions: Regions, look: Look, progress: Progress) -> PictureFit:
    """Return the fit to a picture that was cleaned as ours are, or the one there is if that is likelier."""
    made = fit
    for _ in range(CLEANED):
        progress.show("fitting levels, colours and curve")
        ratio = cleaning(scene, stage, frames, cells, made, look.from_cones)
        if ratio is None:
            return fit
        made = fit_picture(tables, replace(regions, value=regions.value / ratio), from_cones=look.from_cones,
                           cones_from_xyz=BRADFORD, gains=made.gains, slopes=look.slopes,
                           slope_pull=look.bend, begin=made)
    return made if np.nanmean(made.unlikely - fit.unlikely) < 0 else fit


def found_lights(scene: Scene, stage: Stage, found: Answer) -> list[LampLight]:
    """Return the light of every lamp as it was found, in the order of the stage."""
    made = []
    by_name = {each.name: each for each in found.lamps}
    for lamp in stage.lamps:
        each = by_name[lamp.name]
        level = 0.0 if each.state == OFF and each.share < 0.003 else each.level
        light = lamp if each.shift is None else at_full(scene, stage, lamp.name, each.cct)
        made.append(replace(light, level=level, on=True))
    return made


def found_settings(settings: CameraSettings, found: Answer) -> CameraSettings:
    """Return a camera set so that what was found looks like the picture, its curve aside."""
    return replace(settings, stop=settings.stop * 2.0 ** (-found.exposure / 2),
                   white_balance=float(np.clip(found.balance, 1700, 25000)), tint=found.tint)


def _shown(name: str, made: Developed, stage: Stage, camera: Camera, frames: Frames, figure: str) -> Shown:
    return Shown(name, made.still, side_light(stage, camera, frames, figure, of_picture(made.linear)))


__all__ = ["Mark", "PREVIZ", "found_lights", "found_settings", "lined_up", "read"]
