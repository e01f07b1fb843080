"""A walk: a figure's way along its marks, metered as a strip, with a still at each mark."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any, ClassVar

import numpy as np

from previz.deliver.walk_sheet import Stand, write_walk
from previz.deliver.wording import NO_LIGHT
from previz.engine.gather import Standing
from previz.errors import RequestError
from previz.exposure import metering
from previz.exposure.camera import settings_of
from previz.exposure.comparing.uneven import LEAST
from previz.exposure.comparing.walk import (
    Drift,
    Point,
    Reading,
    Strip,
    strip_of,
)
from previz.exposure.comparing.walk_words import record, summary, uneven_text
from previz.exposure.faces import CHEEKS, FaceLight, cheeks_of, face_light
from previz.exposure.metering import from_working
from previz.exposure.picture import develop
from previz.frames.batches import Batches
from previz.frames.records import Short
from previz.physics.light import LampLight
from previz.physics.safety import Caution
from previz.rendering.ahead import look_ahead
from previz.rendering.job import StageJob
from previz.rendering.metering import Effort, StageMeters
from previz.rendering.needs import EACH_STILL
from previz.rendering.progress import Progress
from previz.rendering.request import Request
from previz.scene.figure import Figure, Mark
from previz.scene.records import Item, Target
from previz.scene.scene import Scene
from previz.stage.build import build_stage
from previz.stage.colours import stage_colours
from previz.stage.heads import Head
from previz.stage.records import Stage
from previz.stage.way import AHEAD, Step, Stop, cheek_probes, cheeks_in, in_the_way, length_of, steps_along
from previz.studies.result import Result, Row, row
from previz.studies.rows import camera_rows, caution_rows, face_rows, measured_row, short_rows
from previz.studies.selection import label_of, no_camera, select, select_one

METER_SECONDS = 240.0
"""Meters of a strip are run no longer than about this; then they say their own error. [s]"""

METER_SHARE = 1.0
"""About how much of the work of one still the meters of a strip are. [1]"""

MOST = 240
"""Most places of one strip."""

START = "start"
"""What the figure's own place is called on a way."""

STRIDE = "walking, to be carried along the way"
"""Name of the mark from which the head of a walking figure is taken."""

FAR = 100.0
"""How far ahead who walks looks: level, as good as. [m]"""


@dataclass(frozen=True, eq=False)
class Way:
    """A way through a stage: what is metered of it, with nobody there.

    Parameters
    ----------
    stage : Stage
        The option's, without the body of who walks, and with meters at the cheeks of every step alone.
    points : tuple of Point
        What the meters belong to.
    length : float
        [m]
    notes : tuple of str
        What it goes through, in words.
    """

    figure: str
    stage: Stage
    points: tuple[Point, ...]
    length: float
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Walk(Result):
    """A figure's walk; see `walk`.

    Parameters
    ----------
    strip : Strip
        Light along the way.
    gathered : Batches
        What its meters gathered, from which `relit` has it under other levels.
    way : Way
    stands : tuple of Stand
        The figure at its marks: stills, and its own face metered there.
    short : tuple of Short
        Meters of the strip that did not come to the precision.
    """

    study: ClassVar[str] = "walk"
    axes: ClassVar[tuple[str, ...]] = ("option", "camera", "figure", "place", "meter", "lamp", "thing")

    title: str
    option: str
    camera: str
    strip: Strip
    gathered: Batches
    way: Way
    stands: tuple[Stand, ...]
    short: tuple[Short, ...]
    cautions: tuple[Caution, ...]

    @property
    def subject(self) -> str:
        """Who walks, where, in a line."""
        marks = [self.strip.readings[i].point.mark or "" for i in self.strip.marks]
        return (f"{self.strip.figure}: {', '.join(marks)}, {self.way.length:.1f} m, by camera {self.camera}"
                + (f", option '{self.option}'" if self.option else ""))

    def relit(self, lamps: Sequence[LampLight]) -> Strip:
        """Return the strip under the stage's lamps at other levels and colours; by arithmetic."""
        return strip_under(self.way, self.gathered, lamps, self.strip)

    def record(self) -> dict[str, Any]:
        """Return the strip as plain JSON values; see `walk_words.record`."""
        return {"option": self.option, "camera": self.camera, **record(self.strip)}

    def _rows(self) -> list[Row]:
        strip, of = self.strip, {"option": self.option, "camera": self.camera, "figure": self.strip.figure}
        rows = [row("way_length", self.way.length, **of), row("uneven_least", strip.least, **of),
                *camera_rows(strip.settings, option=self.option, camera=self.camera)]
        if strip.wanted is not None:
            rows += [row("wanted_from", strip.wanted[0], **of), row("wanted_to", strip.wanted[1], **of)]
        for each in strip.readings:
            rows += _place_rows(strip, each, {**of, "place": each.point.label})
        for number, one in enumerate(strip.unevens):
            rows += _uneven_rows(strip, number, {**of, "thing": f"{one.kind} {number + 1}"})
        rows += _drift_rows(strip, strip.drift, of)
        for stand in self.stands:
            on = {key: word for key, word in of.items() if key != "figure"}
            rows += face_rows(stand.face, strip.settings, stand.short, **on, place=stand.place)
            rows += short_rows(stand.short, **on, place=stand.place)
        rows += short_rows(self.short, **of)
        rows += [row("walk_summary", words, **of) for words in summary(strip)]
        rows += [row("in_the_way", words, **of) for words in self.way.notes]
        return rows + caution_rows(self.cautions)

    def sheet(self, path: Path | str) -> list[Path]:
        """Write the sheet as a PNG and a PDF under a name without its ending; return the files."""
        return write_walk(Path(path), self.strip, self.stands, self._words(f"Walk: {self.subject}"),
                          title=self.title, subject=self.subject, short=self.short,
                          notes=self.way.notes, cautions=self.cautions)


def _place_rows(strip: Strip, each: Reading, of: dict[str, str]) -> list[Row]:
    """Return what is read at one place of the way, with nobody there."""
    face, dark = each.face, "" if each.face.lit.value > 0 else NO_LIGHT
    rows = [row("along_the_way", each.point.metres, **of), row("way_facing", each.point.facing, **of),
            row("lit_cheek", face.lit_side, **of),
            measured_row("walk_lit_side", face.lit, dark, **of),
            measured_row("walk_lit_stops", each.lit, **of),
            measured_row("walk_shadow_side", face.shadow, **of),
            measured_row("walk_shadow_stops", each.shadow, **of),
            measured_row("walk_lit_to_shadow", face.lit_to_shadow, **of),
            measured_row("walk_key_to_fill", face.key_to_fill, **of)]
    if face.cct is not None and each.mired is not None:
        rows += [row("walk_cct", face.cct, **of), row("walk_duv", face.duv, **of),
                 measured_row("walk_off_balance", each.mired, **of)]
    whole = face.lit.value
    for name, light in zip(strip.lamps, each.lamps, strict=True):
        at = {**of, "lamp": name}
        rows += [measured_row("walk_lamp", light, **at),
                 measured_row("walk_lamp_stops", from_working(light, strip.settings), **at)]
        if whole > 0:
            rows.append(row("walk_lamp_share", light.value / whole, **at))
    return rows


def _uneven_rows(strip: Strip, number: int, of: dict[str, str]) -> list[Row]:
    """Return one hole or hot spot: how large, where, by which lamp."""
    each, cause = strip.unevens[number], strip.causes[number]
    of = {**of, "place": strip.readings[each.at].point.label}
    metres = strip.metres
    rows = [row("uneven", uneven_text(strip, number), **of), row("uneven_at", metres[each.at], **of),
            row("uneven_from", metres[each.first], **of), row("uneven_to", metres[each.last], **of)]
    if each.by is not None:
        rows.append(measured_row("uneven_by", each.by, **of))
    if each.beyond is not None:
        rows.append(measured_row("beyond_wanted", each.beyond, **of))
    if cause.lamp:
        rows += [row("uneven_lamp_change", cause.change, **of, lamp=cause.lamp),
                 row("uneven_lamp_share", cause.share, **of, lamp=cause.lamp)]
    if cause.nearest:
        rows += [row("uneven_nearest", cause.distance, **of, lamp=cause.nearest),
                 row("uneven_nearest_share", cause.nearest_share, **of, lamp=cause.nearest)]
    return rows


def _drift_rows(strip: Strip, drift: Drift | None, of: dict[str, str]) -> list[Row]:
    if drift is None:
        return []
    rows = [measured_row("colour_drift", drift.by, **of)]
    for quantity, number in (("coolest_at", drift.coolest), ("warmest_at", drift.warmest)):
        rows.append(row(quantity, strip.metres[number], **of, place=strip.readings[number].point.label))
    return rows


def walk(scene: Scene, request: Request, *, figure: str = "", marks: tuple[str, ...] = (), camera: str = "",
         every: float = 0.25, least: float = LEAST, wanted: tuple[float, float] | None = None,
         carried: str = AHEAD, frames: bool = True, title: str = "",
         progress: Progress | None = None) -> Walk:
    """Meter a figure's way along its marks, and render it at each of them.

    The way goes straight from mark to mark in the order written; it begins at the figure's own place, unless
    the option has it at a mark. Light along it is that of the set without the figure: its own shade and what
    its clothes throw back are in the stills, and in its face as metered at the marks.

    Parameters
    ----------
    scene : Scene
        One option of a scene.
    request : Request
        Of the stills and meters.
    figure : str
        Who walks; '' for the only one that has marks.
    marks : tuple of str
        The way by these marks alone, in this order.
    camera : str
        Whose stop is the working stop, and whose stills; '' for the first.
    every : float
        Most from one place that is metered to the next. [m]
    least, wanted
        See `comparing.uneven.unevens`.
    carried : str
        See `stage.way.steps_along`.
    frames : bool
        Render the stills and meter the figure's own face at its marks.
    title : str
        In place of the scene's own.

    Raises
    ------
    RequestError
        There is no such figure, mark or camera, or no way.
    """
    progress = progress or Progress()
    if not scene.cameras:
        raise no_camera()
    name = select_one(camera, [each.name for each in scene.cameras], "camera")
    who = walker(scene, figure)
    names = stops_of(who, marks)
    stands = [mark for mark in names if frames]
    with progress.running(METER_SHARE + len(stands)):
        progress.show(label_of(scene.option, f"the way of {who.name}"))
        way = way_of(scene, who.name, marks, every, carried)
        for line in way.notes:
            progress.say(line)
        settings = settings_of(next(each for each in way.stage.cameras if each.name == name))
        job = StageJob(way.stage, request.meter_order())
        gathered, short = _gathered(job, request, progress, label_of(scene.option, f"the way of {who.name}"))
        strip = strip_of(who.name, way.points, gathered, way.stage.lamps, settings,
                         colours=stage_colours(way.stage), least=least, wanted=wanted,
                         places=lamp_places(way.stage))
        job.close()
        made, reminders = _stands(scene, who, stands, strip, name, request, progress)
    return Walk(title or scene.title, scene.option, name, strip, gathered, way, made, short, reminders)


def walker(scene: Scene, figure: str = "") -> Figure:
    """Return the figure that walks: the one named, or the only one that has marks.

    Raises
    ------
    RequestError
        There is none, or there are several.
    """
    figures = {each.name: each for each in scene.figures}
    if figure:
        return figures[select_one(figure, figures, "figure")]
    able = [each for each in scene.figures if each.marks]
    if not able:
        raise RequestError("No figure of the scene has marks to walk along.", NO_MARKS)
    if len(able) > 1:
        listed = ", ".join(f"'{each.name}'" for each in able)
        raise RequestError(f"Several figures have marks: {listed}. Say who walks, with a figure's name.")
    return able[0]


NO_MARKS = "Write them to the figure in the order of the way: 'marks: [{name: door, at: [1 m, 2 m]}, ...]'."


def stops_of(figure: Figure, marks: tuple[str, ...] = ()) -> list[str]:
    """Return the marks of a figure's way in order; '' for its own place.

    Raises
    ------
    RequestError
        There is no such mark, or there are fewer than two places.
    """
    known = [mark.name for mark in figure.marks]
    if not known:
        raise RequestError(f"The figure '{figure.name}' has no marks to walk along.", NO_MARKS)
    if marks:
        for each in marks:
            select((each,), known, f"mark of '{figure.name}'")
    way = list(marks) or [*([""] if figure.home is None else []), *known]
    if len(way) < 2:
        raise RequestError(f"The way of '{figure.name}' has one place, '{way[0]}'; it takes two.",
                           "Add a mark under 'marks:', or name two.")
    return way


def way_of(scene: Scene, figure: str, marks: tuple[str, ...] = (), every: float = 0.25,
           carried: str = AHEAD) -> Way:
    """Return a figure's way through one option of a scene, with its meters.

    Raises
    ------
    RequestError
        There is no way, or it has too many places.
    """
    who = next(each for each in scene.figures if each.name == figure)
    names = stops_of(who, marks)
    stage = build_stage(_with_stride(scene, who))
    at = {"": who.at, **{mark.name: mark.at for mark in who.marks}}
    stops = [Stop(name, np.asarray(at[name], float), stage.head(figure, name), _watched(who, name, stage))
             for name in names]
    length = length_of(stops)
    if not length > 0:
        raise RequestError(f"The marks of '{figure}' are all at one place; a walk goes from one to another.")
    if length / every > MOST:
        raise RequestError(f"The way of '{figure}' is {length:.1f} m, and {MOST} places are the most of it.",
                           f"Take one every {np.ceil(100 * length / MOST) / 100:g} m.")
    stride = stage.head(figure, STRIDE)
    feet = np.array([who.at[0], who.at[1], who.at[2]], float)
    stride = Head(figure, "", stride.nose - feet, stride.face - feet, stride.ahead)
    steps = steps_along(stops, stride, every, carried)
    cheeks = cheeks_in(stage.head(figure), stage.probes)
    points = tuple(_point(figure, number, step) for number, step in enumerate(steps))
    probes = [probe for step, point in zip(steps, points, strict=True)
              for probe in cheek_probes(step.head, cheeks, point.meters)]
    bare = replace(stage, meshes=tuple(mesh for mesh in stage.meshes if mesh.name != figure),
                   probes=tuple(probes))
    notes = tuple(_through_text(*each) for each in in_the_way(steps, stage.meshes))
    return Way(figure, bare, points, length, notes)


def _through_text(name: str, first: float, last: float) -> str:
    """Return what a way goes through in words."""
    where = f"at {first:.1f} m" if last - first < 0.05 else f"from {first:.1f} to {last:.1f} m"
    return f"The way, straight from mark to mark, goes through '{name}' {where}; a mark more leads round it."


def _point(figure: str, number: int, step: Step) -> Point:
    mark = None if step.mark is None else step.mark or START
    label = f"{figure} at {step.metres:.2f} m" + (f", {mark}" if mark else "")
    ahead = step.head.ahead
    return Point(step.metres, mark, _three(step.head.face),
                 float(np.degrees(np.arctan2(ahead[1], ahead[0]))),
                 (f"{label}: {CHEEKS[0]} cheek", f"{label}: {CHEEKS[1]} cheek"))


def _three(place: np.ndarray) -> tuple[float, float, float]:
    """Return a place as plain numbers. [m]"""
    x, y, z = (float(each) for each in place)
    return x, y, z


def _with_stride(scene: Scene, who: Figure) -> Scene:
    """Return the scene with one mark more, at which the figure would walk towards +x."""
    eyes = Target(point=(who.at[0] + FAR, who.at[1], who.at[2] + 0.935 * (who.stature or 1.7)))
    stride = Mark(name=STRIDE, at=who.at, facing=0.0, pose="walking", looking_at=eyes, head_turn=0.0,
                  head_tilt=0.0)
    changed = replace(who, marks=(*who.marks, stride))
    if who.home is not None:
        changed = replace(changed, home=replace(who.home, marks=(*who.home.marks, stride)))
    return replace(scene, figures=tuple(changed if each.name == who.name else each for each in scene.figures))


def _watched(who: Figure, mark: str, stage: Stage) -> np.ndarray | None:
    """Return the point that a figure's eyes are on at a mark, '' for where it is; None for ahead. [m]"""
    target = (who.at_mark(mark) if mark else who).looking_at
    if target is None:
        return None
    return np.asarray(target.point if target.point is not None else stage.places[target.text.strip()], float)


def lamp_places(stage: Stage) -> dict[str, np.ndarray]:
    """Return where lamps stand, by name. [m]"""
    return {rig.name: np.asarray(rig.position, float) for rig in stage.rig}


def _gathered(job: StageJob, request: Request, progress: Progress,
              label: str) -> tuple[Batches, tuple[Short, ...]]:
    """Return the meters of a way, run to the precision of a request; all together, kept in the cache."""
    meters, done = StageMeters(job), 0.0

    def going(standing: Standing) -> None:
        nonlocal done
        progress.add(METER_SHARE * max(0.0, standing.share - done), label)
        done = max(done, standing.share)

    gathered = meters.incident(Effort(request.precision, METER_SECONDS, going))
    progress.skip(METER_SHARE * (1 - done)) if done == 0 else progress.add(METER_SHARE * (1 - done), label)
    return gathered, meters.short(gathered, request.precision)


def strip_under(way: Way, gathered: Batches, lamps: Sequence[LampLight], strip: Strip) -> Strip:
    """Return a strip of the same way under other lamps, by arithmetic on its meters."""
    return strip_of(strip.figure, way.points, gathered, lamps, strip.settings,
                    colours=stage_colours(way.stage), least=strip.least, wanted=strip.wanted,
                    places=lamp_places(way.stage))


def at_mark(scene: Scene, who: Figure, mark: str, stage: Stage) -> Scene:
    """Return the scene with a figure at one of its marks, '' for where it is, and lamps left as they are.

    What an option that moves the figure would turn along with it (a lamp that is aimed at the figure's face)
    stays aimed where it is on this stage; cameras follow the figure as they are written.
    """
    if not mark:
        return scene
    moved = who.at_mark(mark)

    def held(item: Item) -> Item:
        fixed: dict[str, Any] = {
            field.name: Target(point=_three(stage.places[value.text.strip()]))
            for field in fields(item)
            if isinstance(value := getattr(item, field.name), Target) and value.name == who.name}
        return replace(item, **fixed) if fixed else item

    figures = tuple(moved if each.name == who.name else each for each in scene.figures)
    changed: dict[str, Any] = {section: tuple(held(each) for each in getattr(scene, section))
                               for section in HELD}
    return replace(scene, **changed, figures=figures)


HELD = ("lights", "boards", "diffusion", "flags", "nets", "grids", "meters")
"""What stands as it was put while a figure walks."""


def _stands(scene: Scene, who: Figure, marks: Sequence[str], strip: Strip, camera: str, request: Request,
            progress: Progress) -> tuple[tuple[Stand, ...], tuple[Caution, ...]]:
    """Return the figure at its marks, each a picture of its own, and the cautions of the scene."""
    stage = build_stage(scene)
    made: list[Stand] = []
    at = [strip.readings[i].point for i in strip.marks]
    for number, mark in enumerate(marks):
        there = at_mark(scene, who, mark, stage)
        set_up = build_stage(there) if mark else stage
        shown = next(each for each in set_up.cameras if each.name == camera)
        job = StageJob(set_up, request.order(shown.aspect))
        if number == 0:
            look_ahead([(job, shown)], request, progress, held=EACH_STILL, times=len(marks))
        line = label_of(scene.option, f"{who.name} at {at[number].label}")
        taken = job.frames(shown, progress, line)
        still = develop(taken, set_up.lamps, settings_of(shown)).still
        face, short = _face(job, who.name, request)
        made.append(Stand(number, at[number].label, at[number].metres, still, face, short))
        job.close()
    return tuple(made), stage.reminders


def _face(job: StageJob, figure: str, request: Request) -> tuple[FaceLight, tuple[Short, ...]]:
    """Return the light on a figure's own face, and which of its meters fell short."""
    meters, names = StageMeters(job), cheeks_of(figure)
    gathered = meters.incident(Effort(request.precision, METER_SECONDS), names)
    mixed = metering.mix(gathered, job.stage.lamps, stage_colours(job.stage))
    return (face_light(figure, *(mixed[name] for name in names)),
            meters.short(gathered, request.precision))
