"""Hold readings against a plan: who gives what, which reading cannot be so, what is to be set."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

import numpy as np

from previz.deliver.readings_sheet import LampLine, ReadingLine, listed
from previz.deliver.wording import lux_text
from previz.errors import Problem, RequestError
from previz.exposure.camera import settings_of
from previz.exposure.faces import cheeks_of
from previz.exposure.picture import develop
from previz.levels.calibration import calibrate, most_telling
from previz.levels.outputs import STOP, Calibration, Plan
from previz.physics.colourtemp import cct_duv, xy_from_xyz
from previz.rendering.job import StageJob
from previz.rendering.metering import StageMeters
from previz.rendering.progress import SETTING_UP, Progress
from previz.rendering.request import Request
from previz.scene.scene import Scene
from previz.stage.records import Stage
from previz.stage.views import DOME
from previz.studies.changes import Changes, LampChange, changed_scene, lamp_lights
from previz.studies.readings.places import DAYLIGHT, Places, Taken
from previz.studies.readings.planned import Metering, Planned, factors_for
from previz.studies.readings.result import ColourLine, Corrected
from previz.studies.readings.sentences import NEAR, VAGUE, sentences, verdict
from previz.studies.readings.written import (
    MOST,
    SPOT_STOP,
    Cell,
    ReadingsError,
    Written,
    filled,
    read_csv,
    readings_in,
    typed,
)
from previz.studies.readings.written import (
    STOP as STOP_READ,
)
from previz.studies.selection import select_one

ERROR = 0.05
"""Relative standard error of a reading: a meter's own, its cosine, and where it was held. [1]
Common practice, no source."""

LEAST = 0.5
"""Error of a reading of nothing, but for dim sets. [lx; a tenth of it in cd/m²]  Invented."""

SKY_SPREAD = 2.0
"""How far daylight lies off its plan before anything is read. [stops]  Invented."""

LEAST_GAIN = 0.02
"""One more reading is named where the lamps' squared errors fall by so much. [stops²]  Invented."""

SECONDS = 300.0
"""Meters are not run for longer, where nothing else is said. [s]"""

CLOSE = 0.08
"""A reading that may have been taken otherwise fits that within twice so much. [1]  Invented."""

WARMER = 10.0
"""What is off by less is a planned colour. [mired]  Common practice, no source."""


def readings(scene: Scene, request: Request, *, table: Path | str | None = None, readings: Sequence[str] = (),
             scout: bool = False, reading_error: float = ERROR, camera: str = "", picture: bool = False,
             seconds: float = SECONDS, title: str = "", progress: Progress | None = None) -> Corrected:
    """Return what readings say of the plan.

    Parameters
    ----------
    scene : Scene
    request : Request
        Of the meters, and of the pictures where there are any.
    table : path-like, optional
        CSV file of readings; see `written.COLUMNS`.
    readings : sequence of str
        Typed ones: 'clerk left cheek, 420 lx, lamps=key'.
    scout : bool
        Fit sky, sun and walls: readings are of daylight alone where they do not say what was on. Else
        they are of all lamps as planned, and lamps are fitted.
    reading_error : float
        Relative standard error of a reading. [1]
    camera : str
        Of the pictures; the first without.
    picture : bool
        Render what pictures need; else they are there only if frames are.
    seconds : float
        Run meters for so long at most. [s]
    title : str
        In place of the scene's own.

    Raises
    ------
    ReadingsError
        With every fault of the readings, each at its place.
    RequestError
        There are no readings, or none of these can be metered in the scene.
    """
    progress = progress or Progress()
    progress.show(SETTING_UP)
    rows, problems, empty = _written(table, readings)
    metering = Metering(scene, request, progress, seconds)
    stage = metering.stage()
    job = StageJob(stage, request.meter_order())
    places = Places(stage, StageMeters(job).spot_names())
    taken, missing = places.taken(rows, "daylight" if scout else "all")
    if problems or missing:
        raise ReadingsError([*problems, *missing])
    if not stage.lamps:
        raise RequestError("The scene has no lamps and no daylight: readings can tell nothing of it.")
    if camera or picture:
        select_one(camera, [each.name for each in stage.cameras], "camera")
    walls, reflectance = factors_for(scene) if scout else (np.ones(1), 0.0)
    notes = _hour_notes(metering, taken)
    if empty:
        many = "1 line of the meter sheet has" if empty == 1 else f"{empty} lines of the meter sheet have"
        notes.append(f"{many} no reading.")
    if scout and scene.room is not None and len(walls) == 1:
        notes.append("What the walls send back is not fitted: their surface is measured, or black.")
    planned = metering.planned(taken, walls, reflectance)
    found = _found(planned, taken, reading_error)
    lines = tuple(_line(planned, found, taken, i) for i in range(len(taken)))
    lamps = tuple(_lamp_lines(planned, found, stage, scout))
    colours = tuple(_colours(planned, found, taken))
    daylight = {line.lamp: (_output(stage, line.lamp), _output(stage, line.lamp) * 2.0**line.stops)
                for line in lamps if line.lamp in DAYLIGHT and line.told}
    said = tuple(sentences(found, planned, lamps, lines, _next(planned, found, scout, reading_error),
                           [_colour_words(each) for each in colours if abs(each.mired) >= WARMER], notes))
    made = Corrected(title or scene.title, scene.option, scene, stage, scout, reading_error, tuple(taken),
                     planned, found, lamps, lines, colours, said, stage.reminders, daylight)
    return replace(made, pictures=_pictures(made, request, camera, picture, progress))


def _written(table: Path | str | None, texts: Sequence[str]) -> tuple[list[Written], list[Problem], int]:
    """Return the readings, what is wrong with them, and how many lines of a meter sheet have none."""
    rows, problems = (list[dict[str, Cell]](), list[Problem]()) if table is None else read_csv(Path(table))
    rows, empty = filled(rows)
    more, wrong = typed(texts)
    found, faults = readings_in([*rows, *more])
    if not rows and not more and not problems:
        raise RequestError("There are no readings; give a CSV file, or --reading 'place, 420 lx, lamps=key'.")
    if len(rows) + len(more) > MOST:
        raise RequestError(f"These are {len(rows) + len(more)} readings; {MOST} are the most of one day.")
    return found, [*problems, *wrong, *faults], empty


def _hour_notes(metering: Metering, taken: Sequence[Taken]) -> list[str]:
    hours = {each.written.hour for each in taken} - {None}
    day = metering.scene.daylight
    if not hours or metering.follows_hours or day is None:
        return []
    return ["The hours are not counted: the scene does not say 'time', 'latitude' and 'longitude', so its "
            "sun stays where it is."]


def _found(planned: Planned, taken: Sequence[Taken], error: float) -> Calibration:
    light = np.where(planned.on, planned.light, 0.0)
    read = np.array([each.value for each in taken])
    own = np.array([_own_error(each.written, error) for each in taken])
    floor = np.array([_floor(taken, each) for each in taken])
    outside = np.array([name in DAYLIGHT for name in planned.lamps])
    return calibrate(Plan(planned.lamps, light, planned.walls), read, np.hypot(own, planned.error), floor,
                     spread=np.where(outside, SKY_SPREAD, 1.0), may_be_dead=list(~outside))


def _own_error(each: Written, error: float) -> float:
    """Return the relative error of a reading; stops are shown in thirds or tenths. [1]"""
    own = error if each.error is None else each.error
    if each.kind not in (STOP_READ, SPOT_STOP):
        return own
    step = 0.1 if re.search(r"[0-9].*[\s+-]0?\.[0-9]|/\s*10", each.shown) else 1 / 3
    # Evenly spread over a step: its width over the root of 12.
    return float(np.hypot(own, step * STOP / np.sqrt(12)))


def _floor(taken: Sequence[Taken], each: Taken) -> float:
    """Return the error of a reading of nothing: a fiftieth of the brightest on dim sets. [lx or cd/m²]"""
    most = max(one.value for one in taken if one.spot == each.spot)
    usual = LEAST / 10 if each.spot else LEAST
    return min(usual, 0.02 * most) if most > 0 else usual


def _on_words(planned: Planned, taken: Taken, i: int) -> str:
    if taken.written.lamps is not None:
        words = taken.written.lamps.text
    else:
        names = [name for name, on in zip(planned.lamps, planned.on[i], strict=True) if on]
        words = "daylight" if names and all(name in DAYLIGHT for name in names) else "all"
    if taken.written.level is not None:
        words += f", at {100 * taken.written.level:g} %"
    if taken.written.hour is not None:
        words += f", {taken.written.hour:%H:%M}"
    return words


def _line(planned: Planned, found: Calibration, taken: Sequence[Taken], i: int) -> ReadingLine:
    each = taken[i]
    out = any(doubt.reading == i for doubt in found.doubts)
    now = planned.light[int(np.argmin(np.abs(planned.walls - 1)))][i]
    remark = "left out" if out else ""
    if out:
        cause = next(doubt.cause for doubt in found.doubts if doubt.reading == i)
        why = cause or _otherwise(planned, found, each, i)
        remark = f"left out: {why}" if why else remark
    elif abs(found.off[i]) > 3:
        remark = "hardly so"
    return ReadingLine(i + 1, each.place, _on_words(planned, each, i), each.written.shown, each.unit,
                       each.value, float(now[planned.on[i]].sum()), float(found.value[i]),
                       float(found.error[i]), float(found.off[i]), out, remark)


def _otherwise(planned: Planned, found: Calibration, each: Taken, i: int) -> str:
    """Return what explains a reading if it was taken otherwise than it says; '' for nothing.

    A lamp that was off, or on as well; the other receptor; the other cheek.
    """
    if found.error[i] > VAGUE * found.value[i]:
        # Where nothing tells what it should be, anything would fit.
        return ""
    now = planned.light[int(np.argmin(np.abs(planned.walls - 1)))][i] * found.factors
    tried = [(f"it would fit with {name} {'off' if planned.on[i, j] else 'on as well'}",
              found.value[i] + (-now[j] if planned.on[i, j] else now[j]))
             for j, name in enumerate(planned.lamps)]
    if len(each.meters) == 1 and not any(each.levels.values()):
        meter = each.meters[0]
        left, right = (cheeks_of(meter.partition(": ")[0]) if "cheek" in meter else ("", ""))
        other_side = {left: right, right: left}.get(meter, "")
        bare = meter.removesuffix(DOME)
        tried += [(words, float(planned.alone[planned.meters.index(name)] * planned.on[i] @ found.factors))
                  for words, name in ((f"it would fit a {'dome' if bare == meter else 'flat receptor'} there",
                                       bare + DOME if bare == meter else bare),
                                      (f"it would fit {other_side}", other_side)) if name in planned.meters]
    for words, other in tried:
        spread = float(np.hypot(CLOSE * max(other, 0.0), found.error[i]))
        far = abs(other - found.value[i]) > 0.2 * found.value[i]
        if far and other > 0 and abs(each.value - other) < 2 * spread:
            return words
    return ""


def _output(stage: Stage, name: str) -> float:
    return next(lamp.output for lamp in stage.lamps if lamp.name == name)


def _lamp_lines(planned: Planned, found: Calibration, stage: Stage, scout: bool) -> Iterable[LampLine]:
    by_name = {lamp.name: lamp for lamp in stage.lamps}
    read: np.ndarray = np.any(planned.on, axis=0)
    for i, name in enumerate(planned.lamps):
        lamp = by_name[name]
        level = lamp.level if lamp.on else 0.0
        if not read[i] and (scout or level == 0):
            continue
        outside = name in DAYLIGHT
        stops, error = float(found.stops[i]), float(found.errors[i])
        plan = ""
        if outside and found.told[i]:
            plan = f": {lux_text(lamp.output * 2.0**stops)} lx in place of {lux_text(lamp.output)} lx"
        to_set = short = None
        off = found.told[i] and not found.dead[i] and abs(stops) >= max(NEAR, 2 * error)
        if off and not outside and level > 0:
            to_set = level * 2.0**-stops
            short = float(np.log2(to_set)) if to_set > 1.005 else None
        yield LampLine(name, None if outside else level, stops if found.told[i] else 0.0, error,
                       bool(found.told[i]), bool(found.dead[i]), verdict(found, i, plan), to_set, short)


def _next(planned: Planned, found: Calibration, scout: bool, error: float) -> str:
    """Return the reading that would tell most; '' where none tells much."""
    if not len(planned.meters):
        return ""
    sets: list[tuple[str, np.ndarray]] = []
    used: np.ndarray = np.any(planned.on, axis=0) if scout else np.ones(len(planned.lamps), bool)
    for i, name in enumerate(planned.lamps):
        if used[i] and name not in DAYLIGHT:
            sets.append((f"only {name} on", np.arange(len(planned.lamps)) == i))
    outside = np.array([name in DAYLIGHT for name in planned.lamps])
    if outside.any():
        sets.append(("daylight alone", outside))
    if not sets:
        return ""
    light = np.concatenate([planned.alone * on for _, on in sets])
    best, gain = most_telling(found, light, error)
    if gain < LEAST_GAIN:
        return ""
    words, _ = sets[best // len(planned.meters)]
    place = planned.meters[best % len(planned.meters)]
    return f"One more reading would tell most with {words}, at {place.replace(DOME, ' (dome)')}."


def _colours(planned: Planned, found: Calibration, taken: Sequence[Taken]) -> Iterable[ColourLine]:
    for i, each in enumerate(taken):
        if each.written.cct is None:
            continue
        xyz = (planned.xyz[i][planned.on[i]] * found.factors[planned.on[i], None]).sum(axis=0)
        if xyz[1] > 0:
            with suppress(ValueError):
                cct, _ = (float(value) for value in cct_duv(xy_from_xyz(xyz)))
                yield ColourLine(i + 1, each.place, _on_words(planned, each, i), each.written.cct, cct)


def _colour_words(each: ColourLine) -> str:
    way = "warmer" if each.mired > 0 else "cooler"
    return (f"Colour at {each.place} with {each.on}: read {each.read:.0f} K, planned {each.planned:.0f} K, "
            f"{abs(each.mired):.0f} mired {way}.")


def _pictures(made: Corrected, request: Request, camera: str, render: bool,
              progress: Progress) -> tuple[tuple[str, np.ndarray], ...]:
    """Return stills of the plan, of what is there, and of what is set right; none without frames."""
    stage = made.stage
    if not stage.cameras:
        return ()
    name = select_one(camera, [each.name for each in stage.cameras], "camera")
    view = next(each for each in stage.cameras if each.name == name)
    job = StageJob(stage, request.order(view.aspect))
    try:
        frames = job.cached(view)
        if frames is None and render:
            with progress.running(1.0):
                frames = job.frames(view, progress, f"camera {name}")
    finally:
        job.close()
    if frames is None:
        return ()
    stills = [(f"camera {name}, as planned", develop(frames, stage.lamps, settings_of(view)).still)]
    # Walls of another reflectance are other paths of light: their picture has to be rendered.
    now = changed_scene(made.scene, stage, made.changes())
    stills.append(("as it is now", develop(frames, lamp_lights(now, stage), settings_of(view)).still))
    levels = {line.lamp: LampChange(dimmer=round(min(line.to_set, 1.0) * 2.0**line.stops, 4))
              for line in made.lamps if line.to_set is not None}
    if levels:
        changed = Changes({**made.changes().lamps, **levels})
        right = changed_scene(made.scene, stage, changed)
        stills.append((f"with {listed(list(levels))} set again",
                       develop(frames, lamp_lights(right, stage), settings_of(view)).still))
    return tuple(stills)


