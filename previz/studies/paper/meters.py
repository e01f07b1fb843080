"""The meter sheet: what a meter is to read on the set, and the table that `previz readings` takes back.

All lamps at every place that a gaffer meters, then lamps one by one where they tell most. What is written
into the table finds a lamp that is half a stop off, or dead.
"""

from __future__ import annotations

import csv
import io
import time
from collections.abc import Iterator, Sequence

from previz.engine.gather import Standing
from previz.exposure.faces import CHEEKS, cheeks_of, face_light
from previz.exposure.metering import Mixed, mix
from previz.physics.light import LampLight
from previz.plans.lines import MeterLine
from previz.rendering.job import StageJob
from previz.rendering.meter_kinds import Aim
from previz.rendering.metering import Effort, StageMeters
from previz.rendering.progress import Progress
from previz.rendering.request import Request
from previz.scene.scene import Scene
from previz.stage.colours import stage_colours
from previz.stage.records import Stage
from previz.stage.views import mark_probes
from previz.studies.paper.meter_choice import DAY, Place, not_alone, sheet_of, unreached

__all__ = ["meter_csv", "meter_lines", "meter_notes", "not_alone"]

SECONDS = 120.0
"""Meters are not run for longer, where nothing else is said. [s]"""

FEATURES = ("forehead", "under chin")
"""Places of a face where lamps are metered that reach no cheek."""


def meter_lines(scene: Scene, stage: Stage, request: Request, *, progress: Progress | None = None,
                seconds: float = SECONDS) -> tuple[MeterLine, ...]:
    """Return what a meter is to read, with all lamps at each place and lamp by lamp where that tells most.

    Places are each figure's two cheeks, each mark, each meter of the scene, and what its spots and wants name
    for a spot meter. All lamps first, then daylight, then lamps in the scene's order: each once by itself,
    where it tells most of the lamp, and at each place the lamp that gives most of its light. Where daylight
    shows on a meter, lamps are read together with it as long as it does not hide them, else with the windows
    dark. Where cameras are set to different stops, lines of all lamps are there for each.

    A lamp that gives too little at all of these places is metered at a forehead or under a chin, or by the
    spot meter of a camera that sees it; `not_alone` says which are still left.

    A reading is to be asked why where it lies further off than `tolerance`: twice the root of the sum of
    squares of the meter's standard error, 5 %, and half a lux, as `readings` takes it; the standard error of
    what is expected; each lamp's output within 10 % of its plan and daylight within 30 %, evenly spread (a
    standard deviation of that over the root of 3), each for its share of the light. So of a set that is
    within these one reading in twenty is asked without need. It does not hold what comes of a lamp or a meter
    that stands a little otherwise than by the plan.

    Parameters
    ----------
    scene : Scene
    stage : Stage
        Built of it.
    request : Request
        Its meters come from the cache where they are there.
    progress : Progress, optional
    seconds : float
        Run meters for so long at most; what is not reached has a larger error. [s]

    Returns
    -------
    tuple of MeterLine
        () where there is nowhere to meter, or no light.

    Source
    ------
    Errors put together, evenly spread ones among them: JCGM 100:2008, 4.3.7, 5.1.2, 6.2.1.
    """
    if not stage.lamps or not stage.probes and not stage.cameras:
        return ()
    places = _Metering(scene, stage, request, progress or Progress(), seconds).places()
    day = scene.daylight
    hour = "" if day is None or day.time is None else f"at {day.time:%H:%M}"
    return sheet_of(places, stage.lamps, stage.cameras, hour)


def meter_notes(lines: Sequence[MeterLine], lamps: Sequence[LampLight]) -> tuple[str, ...]:
    """Return what is to be printed with a sheet: how the meter is held, and what the sheet does not tell."""
    if not lines:
        return ()
    notes = ["Flat receptor. At a cheek: on the skin, turned 45° from where the face points to that side; "
             "left is the figure's own. At a mark: where the face will be, turned as it will be."]
    if any(line.lamps == DAY or line.lamps.endswith(f" + {DAY}") for line in lines):
        notes.append("Daylight as planned for its hour and weather: meter it first, and again if it changes.")
    notes.append("Further off than its tolerance: look at the meter first, then at lamp, level, gel, flag.")
    left = not_alone(lines, lamps)
    if left:
        place = "a place that its light reaches" if len(left) == 1 else "places that their light reaches"
        notes.append(f"Not told by this sheet: {', '.join(left)}. Name {place} under 'meters:'.")
    return tuple(notes)


def meter_csv(lines: Sequence[MeterLine]) -> str:
    """Return a table whose column 'reading' is empty; filled in, `previz readings SCENE FILE.csv` takes it.

    A bare number there has the unit of what is expected; lines that are left empty are passed over.
    """
    spots = any(line.unit != "lx" for line in lines)
    head = ["place", "lamps", "expected", "tolerance", "stops from working", "reading", "notes"]
    out = io.StringIO()
    table = csv.writer(out, lineterminator="\n")
    table.writerow([*head[:2], *(["camera"] if spots else []), *head[2:]])
    for line in _once(lines):
        same = [each for each in lines if (each.place, each.lamps) == (line.place, line.lamps)]
        stops = [(each.camera, f"{each.stops:+.1f}") for each in same if each.stops is not None]
        over = stops[0][1] if len(stops) == 1 else " / ".join(f"{camera} {value}" for camera, value in stops)
        camera = [line.camera if line.unit != "lx" else ""] if spots else []
        table.writerow([line.place, line.lamps, *camera, f"{float(f'{line.lux:.3g}'):g} {line.unit}",
                        f"{100 * line.tolerance:.0f} %", over, "", line.note])
    return out.getvalue()


def _once(lines: Sequence[MeterLine]) -> list[MeterLine]:
    """Return lines, of those that differ by their camera's stop alone the first."""
    found: dict[tuple[str, str], MeterLine] = {}
    for line in lines:
        found.setdefault((line.place, line.lamps), line)
    return list(found.values())


class _Metering:
    """Runs the meters of one sheet."""

    def __init__(self, scene: Scene, stage: Stage, request: Request, progress: Progress, seconds: float):
        self.scene, self.stage, self.request, self.progress = scene, stage, request, progress
        self.until = time.monotonic() + seconds
        self.colours = stage_colours(stage)
        self.probes = {probe.name for probe in stage.probes}

    def places(self) -> list[Place]:
        """Return every place of the sheet, metered."""
        job = StageJob(self.stage, self.request.meter_order())
        run = StageMeters(job)
        figures = [head.figure for head in self.stage.heads
                   if not head.mark and cheeks_of(head.figure)[0] in self.probes]
        with self.progress.running(2.0):
            try:
                mixed = self._incident(run, [*(cheek for name in figures for cheek in cheeks_of(name)),
                                             *self._marks(), *(each.name for each in self.scene.meters)])
                found = [*self._faces(figures, mixed),
                         *(Place(name, mixed[name], mark) for name, mark in self._marks().items()),
                         *(Place(each.name, mixed[each.name]) for each in self.scene.meters
                           if each.name in mixed)]
                if figures and unreached(found, self.stage.lamps):
                    names = [f"{name}: {part}" for name in figures for part in FEATURES]
                    found += [Place(name.replace(": ", " "), each, spare=True)
                              for name, each in self._incident(run, names).items()]
                found += self._spots(run, unreached(found, self.stage.lamps))
            finally:
                job.close()
        return found

    def _marks(self) -> dict[str, str]:
        """Return the flat meter at each mark -> the mark."""
        found = {mark_probes(head)[0].name: head.mark for head in self.stage.heads if head.mark}
        return {name: mark for name, mark in found.items() if name in self.probes}

    def _incident(self, run: StageMeters, names: Sequence[str]) -> dict[str, Mixed]:
        wanted = self.probes & set(names)
        if not wanted:
            return {}
        return mix(run.incident(self._effort("incident meters"), wanted), self.stage.lamps, self.colours)

    def _faces(self, figures: Sequence[str], mixed: dict[str, Mixed]) -> Iterator[Place]:
        for figure in figures:
            left, right = cheeks_of(figure)
            lit = face_light(figure, mixed[left], mixed[right]).lit_side
            for side, name in zip(CHEEKS, (left, right), strict=True):
                yield Place(name.replace(": ", " "), mixed[name],
                            side="lit side" if side == lit else "shadow side")

    def _spots(self, run: StageMeters, lamps: Sequence[str]) -> list[Place]:
        """Return what spots and wants name, and some lamps, by the first camera that sees each."""
        wanted = [(each.name, "" if each.camera is None else each.camera.name) for each in self.scene.spots]
        wanted += [(name, each.camera or "") for each in self.scene.wants
                   for name in (each.thing, each.spot) if name is not None]
        named = {name for name, _ in wanted}
        wanted += [(name, "") for name in lamps]
        known = set(run.spot_names()) if wanted else set()
        aims: dict[tuple[str, str], Aim] = {}
        for name, camera in dict.fromkeys(wanted):
            if name not in known or any(name == thing for thing, _ in aims):
                continue
            self.progress.show("looking through the cameras")
            for each in self.stage.cameras:
                may = camera in ("", each.name)
                seen = (run.patch_aims(each, (name,)) or run.aims(each, (name,))) if may else []
                if seen:
                    aims[name, each.name] = seen[0]
                    break
        if not aims:
            return []
        gathered = run.spots(list(aims.values()), self._effort("spot meters"))
        mixed = mix(gathered, self.stage.lamps, self.colours)
        return [Place(name, mixed[f"{name}, {camera}"], aim=aim, spare=name not in named)
                for (name, camera), aim in aims.items()]

    def _effort(self, label: str) -> Effort:
        def report(state: Standing) -> None:
            self.progress.show(f"{label}: {state.unfinished} not yet at {100 * self.request.precision:g} %")

        return Effort(self.request.precision, max(self.until - time.monotonic(), 0.0), report)
