"""A walk: a figure's way along its marks, metered as a strip, with a still at each mark."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, ClassVar

from previz.deliver.walk_sheet import Stand, write_walk
from previz.deliver.wording import NO_LIGHT
from previz.engine.gather import Standing
from previz.errors import RequestError
from previz.exposure import metering
from previz.exposure.camera import settings_of
from previz.exposure.comparing.uneven import LEAST
from previz.exposure.comparing.walk import Drift, Reading, Strip, strip_of
from previz.exposure.comparing.walk_words import record, summary, uneven_text
from previz.exposure.faces import FaceLight, cheeks_of, face_light
from previz.exposure.metering import from_working
from previz.exposure.picture import develop
from previz.frames.batches import Batches
from previz.frames.records import Short
from previz.physics.exposure import CameraSettings
from previz.physics.light import LampLight
from previz.physics.safety import Caution
from previz.rendering.ahead import look_ahead
from previz.rendering.job import StageJob
from previz.rendering.metering import Effort, StageMeters
from previz.rendering.needs import EACH_STILL
from previz.rendering.progress import SETTING_UP, Progress
from previz.rendering.request import Request
from previz.scene.figure import Figure
from previz.scene.scene import Scene
from previz.stage.build import build_stage
from previz.stage.colours import stage_colours
from previz.stage.way import AHEAD, TURNING
from previz.studies.result import Result, Row, row
from previz.studies.rows import camera_rows, caution_rows, face_rows, measured_row, short_rows
from previz.studies.selection import label_of, no_camera, select_one
from previz.studies.walk_way import Way, at_mark, lamp_places, stops_of, strip_under, walker, way_of

METER_SECONDS = 240.0
"""Meters of a strip are run no longer than about this; then they say their own error. [s]"""

METER_SHARE = 1.0
"""About how much of the work of one still the meters of a strip are. [1]"""

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
        turning = ", turning evenly from mark to mark" if self.way.carried == TURNING else ""
        return (f"{self.strip.figure}: {', '.join(marks)}, {self.way.length:.1f} m{turning}, by camera "
                f"{self.camera}" + (f", option '{self.option}'" if self.option else ""))

    def relit(self, lamps: Sequence[LampLight], settings: CameraSettings | None = None) -> Strip:
        """Return the strip under the stage's lamps at other levels and colours; by arithmetic."""
        return strip_under(self.way, self.gathered, lamps, self.strip, settings)

    def record(self) -> dict[str, Any]:
        """Return the strip as plain JSON values; see `walk_words.record`."""
        return {"option": self.option, "camera": self.camera, **record(self.strip)}

    def _rows(self) -> list[Row]:
        strip, of = self.strip, {"option": self.option, "camera": self.camera, "figure": self.strip.figure}
        rows = [row("way_length", self.way.length, **of), row("way_head", self.way.carried, **of),
                row("uneven_least", strip.least, **of),
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
        if self.short:
            rows.append(row("meters_short", len(self.short), **of))
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
            measured_row("walk_lit_stops", each.lit, **of), row("walk_stops_error", each.lit.paths, **of),
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
    if strip.readings[each.at].face.lit.value > 0:
        rows.append(row("even_light", strip.even_light(number), **of))
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
        There is no such figure, mark or camera, no way, or no such range.
    """
    progress = progress or Progress()
    progress.show(SETTING_UP)
    if not scene.cameras:
        raise no_camera()
    name = select_one(camera, [each.name for each in scene.cameras], "camera")
    if wanted is not None and not wanted[0] <= wanted[1]:
        raise RequestError(f"No light is between {wanted[0]:g} and {wanted[1]:g} stops.",
                           "Give the least first, then the most.")
    who = walker(scene, figure)
    names = stops_of(who, marks)
    stands = [mark for mark in names if frames]
    with progress.running(METER_SHARE + len(stands)):
        label = label_of(scene.option, f"the way of {who.name}")
        progress.show(label)
        way = way_of(scene, who.name, marks, every, carried)
        for line in way.notes:
            progress.say(line)
        settings = settings_of(next(each for each in way.stage.cameras if each.name == name))
        job = StageJob(way.stage, request.meter_order())
        gathered, short = gathered_along(job, request, progress, label)
        strip = strip_of(who.name, way.points, gathered, way.stage.lamps, settings,
                         colours=stage_colours(way.stage), least=least, wanted=wanted,
                         places=lamp_places(way.stage))
        job.close()
        made, reminders = _stands(scene, who, stands, strip, name, request, progress)
    return Walk(title or scene.title, scene.option, name, strip, gathered, way, made, short, reminders)


def gathered_along(job: StageJob, request: Request, progress: Progress,
                   label: str) -> tuple[Batches, tuple[Short, ...]]:
    """Return the meters of a way, run to the precision of a request; all together, kept in the cache."""
    meters, done = StageMeters(job), 0.0

    def going(standing: Standing) -> None:
        nonlocal done
        progress.add(METER_SHARE * max(0.0, standing.share - done), label)
        done = max(done, standing.share)

    gathered = meters.incident(Effort(request.precision, METER_SECONDS, going))
    if done > 0:
        progress.add(METER_SHARE * (1 - done), label)
    else:
        progress.skip(METER_SHARE)
    return gathered, meters.short(gathered, request.precision)


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
        seen = who.name in taken.names and (taken.names_index == taken.names.index(who.name)).any()
        made.append(Stand(number, at[number].label, at[number].metres, still, face, short, bool(seen)))
        job.close()
    return tuple(made), stage.reminders


def _face(job: StageJob, figure: str, request: Request) -> tuple[FaceLight, tuple[Short, ...]]:
    """Return the light on a figure's own face, and which of its meters fell short."""
    meters, names = StageMeters(job), cheeks_of(figure)
    gathered = meters.incident(Effort(request.precision, METER_SECONDS), names)
    mixed = metering.mix(gathered, job.stage.lamps, stage_colours(job.stage))
    return (face_light(figure, *(mixed[name] for name in names)),
            meters.short(gathered, request.precision))
