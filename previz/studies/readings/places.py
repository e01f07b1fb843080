"""Where readings were taken and what was on: names looked up in a scene, every fault at its place."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from previz.errors import Problem
from previz.exposure.camera import settings_of
from previz.exposure.faces import cheeks_of
from previz.physics.exposure import (
    DOME_CONSTANT,
    INCIDENT_CONSTANT,
    MID_GREY,
    REFLECTED_CONSTANT,
    CameraSettings,
    luminance_from_signal,
    shutter_time,
)
from previz.stage.outdoors import MOON, SKY, SUN
from previz.stage.records import Stage
from previz.stage.views import DOME
from previz.studies.readings.written import FROM_GREY, LUX, NITS, SPOT_STOP, Cell, Written
from previz.units import UnitError, parse, quote

DAYLIGHT = (SUN, MOON, SKY)
"""Lamps that nobody switches."""

LIT, SHADOW = "lit side", "shadow side"

SIDES = {LIT: LIT, "key side": LIT, "bright side": LIT, SHADOW: SHADOW, "fill side": SHADOW,
         "dark side": SHADOW}
"""Words for the sides of a face."""

_TOGETHER = r"\s*(?:[+,;&]|\band\b)\s*"


@dataclass(frozen=True)
class Taken:
    """One reading with its names looked up.

    Parameters
    ----------
    written : Written
    place : str
        As sheets call it.
    meters : tuple of str
        Incident meter of the stage; the two at the cheeks, of which `side` says which.
    side : str
        `LIT` or `SHADOW`, or ''.
    thing, camera : str
        What a spot meter was pointed at, and whose it is; '' for an incident meter.
    value : float
        [lx or cd/m²]
    levels : dict of str to float or None
        Lamp that was on -> its level; None for as planned. [1]
    """

    written: Written
    place: str
    meters: tuple[str, ...]
    side: str
    thing: str
    camera: str
    value: float
    levels: Mapping[str, float | None]

    @property
    def spot(self) -> bool:
        """Whether a luminance was read."""
        return bool(self.thing)

    @property
    def unit(self) -> str:
        """Lx or cd/m²."""
        return "cd/m²" if self.spot else "lx"


class Places:
    """The names of a stage that readings may use.

    Parameters
    ----------
    stage : Stage
    things : iterable of str
        What spot meters can be pointed at.
    """

    def __init__(self, stage: Stage, things: Iterable[str]):
        self.stage, self.things = stage, {plain(each): each for each in things}
        self.cameras = {plain(each.name): each for each in stage.cameras}
        self.lamps = {plain(lamp.name): lamp.name for lamp in stage.lamps}
        self.planned = [lamp.name for lamp in stage.lamps if lamp.on and lamp.level > 0]
        self.probes = dict.fromkeys(probe.name for probe in stage.probes)
        self.meters = {plain(name): name
                       for name in dict.fromkeys(name.removesuffix(DOME) for name in self.probes)}
        self.faces = {plain(head.figure): head.figure for head in stage.heads if not head.mark
                      and cheeks_of(head.figure)[0] in self.probes}
        for head in stage.heads:
            if head.mark:
                whole = next((name for name in self.meters.values()
                              if name.startswith(f"{head.figure} ") and name.endswith(head.mark)), None)
                if whole is not None:
                    self.meters.setdefault(plain(head.mark), whole)
        for short, figure in self.faces.items():
            self.meters.setdefault(short, f"{figure}: face")

    def names(self, spot: bool) -> list[str]:
        """Return every place that a reading of a kind can be of, as it may be written."""
        if spot:
            return list(self.things.values())
        sides = [f"{figure} {side}" for figure in self.faces.values() for side in (LIT, SHADOW)]
        return [*dict.fromkeys(self.meters.values()), *sides]

    def taken(self, rows: Sequence[Written], usual: str) -> tuple[list[Taken], list[Problem]]:
        """Return readings with their names looked up, and all names that are not there.

        `usual` is what was on where a reading does not say.
        """
        found, problems = list[Taken](), list[Problem]()
        for each in rows:
            wrong = list[Problem]()
            camera = self._camera(each, wrong)
            place, meters, side, thing = self._place(each, wrong)
            levels = self._levels(each, usual, wrong)
            receptor = not thing and meters and meters[0].endswith(DOME)
            value = self._value(each, camera, bool(receptor), wrong)
            problems += wrong
            if not wrong:
                name = camera if thing else ""
                found.append(Taken(each, place, meters, side, thing, name, value, levels))
        return found, problems

    def _camera(self, each: Written, wrong: list[Problem]) -> str:
        if each.camera is None:
            return self.stage.cameras[0].name if self.stage.cameras else ""
        camera = self.cameras.get(plain(each.camera.text))
        if camera is None:
            wrong.append(missing(each.camera, "camera", [c.name for c in self.stage.cameras]))
            return ""
        return camera.name

    def _place(self, each: Written, wrong: list[Problem]) -> tuple[str, tuple[str, ...], str, str]:
        word = plain(each.place.text)
        if each.kind in (NITS, SPOT_STOP, FROM_GREY):
            thing = self.things.get(word)
            if thing is None:
                wrong.append(missing(each.place, "thing for a spot meter", self.names(True)))
                return "", (), "", ""
            if not self.stage.cameras:
                wrong.append(each.place.fault("the scene has no camera that a spot meter could stand at",
                                              "Add one under 'cameras:'."))
            return thing, (), "", thing
        for short, figure in self.faces.items():
            side = SIDES.get(word.removeprefix(short).strip()) if word.startswith(short) else None
            if side is not None and each.receptor != "dome":
                return f"{figure}: {side}", cheeks_of(figure), side, ""
        base = self.meters.get(word)
        if base is None:
            wrong.append(missing(each.place, "place for a meter", self.names(False)))
            return "", (), "", ""
        wanted = {"flat": (base,), "dome": (base + DOME,)}.get(each.receptor, (base, base + DOME))
        meter = next((name for name in wanted if name in self.probes), None)
        if meter is None:
            other = "dome" if each.receptor == "flat" else "flat"
            cell = each.cells.get("receptor", each.place)
            wrong.append(cell.fault(f"there is no {each.receptor} receptor at '{base}'",
                                    f"It has a {other} one; a face is read flat at its cheeks."))
            return "", (), "", ""
        return base, (meter,), "", ""

    def _levels(self, each: Written, usual: str, wrong: list[Problem]) -> dict[str, float | None]:
        cell = each.lamps
        names = self._on(usual if cell is None else cell.text, cell, wrong)
        if each.level is None:
            return names
        # Nobody dims the sky.
        return {name: each.level if level is None and name not in DAYLIGHT else level
                for name, level in names.items()}

    def _on(self, text: str, cell: Cell | None, wrong: list[Problem]) -> dict[str, float | None]:
        word = plain(text)
        daylight = [name for name in self.lamps.values() if name in DAYLIGHT]
        if word in self.lamps:
            return {self.lamps[word]: None}
        if word in ("all", "all lamps", "everything", "as planned"):
            return dict.fromkeys(self.planned)
        if word in ("none", "no lamps", "daylight", "house off", "off"):
            return dict.fromkeys(daylight)
        but = re.match(r"\s*all\s+(?:lamps\s+)?(?:but|except|without|less)\s+(.+)", text, re.IGNORECASE)
        if but:
            out = self._on(but[1], cell, wrong)
            return {name: None for name in self.planned if name not in out}
        found: dict[str, float | None] = {}
        for part in self._parts(text.strip()):
            name, level = _with_level(part)
            if plain(name) in ("daylight", "window"):
                found |= dict.fromkeys(daylight)
            elif plain(name) in self.lamps:
                found[self.lamps[plain(name)]] = level
            elif cell is not None:
                lamps = [*self.lamps.values(), "all", "daylight", "none"]
                near = difflib.get_close_matches(plain(name), [plain(each) for each in lamps], n=1)
                hint = f"Did you mean '{self.lamps.get(near[0], near[0])}'? " if near else ""
                column = cell.column + max(cell.text.find(name), 0)
                wrong.append(Problem(cell.path, cell.line, column, f"the scene has no lamp {quote(name)}",
                                     f"{hint}It has: {', '.join(map(repr, lamps))}.", cell.source))
        return found

    def _parts(self, text: str) -> list[str]:
        """Return lamps that are named together; '+' alone parts 'back and rim + key'."""
        finest, *coarser = (re.split(pattern, text) for pattern in (_TOGETHER, r"\s*\+\s*"))

        def known(parts: list[str]) -> bool:
            return all(plain(_with_level(part)[0]) in (*self.lamps, "daylight", "window") for part in parts)

        return next((parts for parts in (finest, *coarser) if known(parts)), finest)

    def _value(self, each: Written, camera: str, dome: bool, wrong: list[Problem]) -> float:
        if each.kind in (LUX, NITS):
            return each.value
        cell = each.cells.get("stop") or each.cells.get("spot") or each.cells.get("reading", each.place)
        record = next((one for one in self.stage.cameras if one.name == camera), None)
        if record is None and (each.kind == FROM_GREY or each.iso is None or each.shutter is None):
            if not wrong:
                wrong.append(cell.fault("a stop says nothing without ISO and shutter",
                                        "Give columns 'iso' and 'shutter', or a camera in the scene."))
            return 0.0
        settings = None if record is None else settings_of(record)
        if each.kind == FROM_GREY and settings is not None:
            return float(luminance_from_signal(MID_GREY * 2**each.value, settings))
        constant = (REFLECTED_CONSTANT if each.kind == SPOT_STOP else
                    DOME_CONSTANT if dome else INCIDENT_CONSTANT)
        iso = each.iso if each.iso is not None or settings is None else settings.iso
        return constant * each.value**2 / (float(iso or 0.0) * self._shutter(each, settings))

    def _shutter(self, each: Written, settings: CameraSettings | None) -> float:
        if each.shutter is None:
            return settings.shutter_s if settings is not None else 1 / 48
        kind, size = each.shutter
        # An angle is of 24 frames a second, as hand meters have it.
        return size if kind == "time" else float(shutter_time(size, 24.0))


def plain(text: str) -> str:
    """Return a name without what people leave out: case, colons and commas, the s of 'clerk's'."""
    return " ".join(re.sub(r"[’']s\b|[:,.]", " ", text.lower()).split())


def missing(cell: Cell, what: str, known: Sequence[str]) -> Problem:
    """Return that a name is not there, with the one that may be meant and all that are."""
    short = {plain(each): each for each in known}
    near = difflib.get_close_matches(plain(cell.text), list(short), n=1)
    hint = f"Did you mean '{short[near[0]]}'? " if near else ""
    return cell.fault(f"the scene has no {what} {quote(cell.text)}",
                      f"{hint}It has: {', '.join(map(repr, known)) or 'none'}.")


def _with_level(text: str) -> tuple[str, float | None]:
    match = re.fullmatch(r"(.+?)\s+(?:at\s+)?([0-9.]+\s*%)", text.strip())
    if match:
        try:
            return match[1], min(max(parse(match[2], "fraction"), 0.0), 1.0)
        except UnitError:
            pass
    return text.strip(), None

