"""Which readings a meter sheet has, and how far each may lie off; of places that were metered."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from previz.exposure.camera import settings_of, working_illuminance
from previz.exposure.metering import Measured, Mixed, from_working
from previz.levels.calibration import after, gains
from previz.levels.outputs import COUNTS, SPREAD
from previz.physics.exposure import signal_per_luminance, stops_from_grey
from previz.physics.light import LampLight
from previz.plans.lines import MeterLine
from previz.rendering.meter_kinds import Aim
from previz.stage.records import Camera
from previz.studies.readings.places import DAYLIGHT
from previz.studies.readings.run import ERROR, LEAST, SKY_SPREAD

COVERAGE = 2.0
"""How many standard errors a reading may lie off: 19 of 20 right ones do not.
Source: JCGM 100:2008, 6.2.1 and 6.3.3."""

LAMP_WITHIN, DAYLIGHT_WITHIN = 0.10, 0.30
"""How far a lamp's output lies off what is stated of its kind, and daylight off that of its hour and weather,
at most. [1]  Lamps: of an LED luminaire's rated flux 90 % are there at least (IEC 62722-2-1, from memory);
daylight: common practice, no source."""

SHOWN = 1.0
"""Less is not metered by itself. [lx; a tenth of it in cd/m²]  Common practice, no source."""

TELLING = 5.0
"""So much of a lamp tells that it is half a stop down, 29 % less: the tolerance is 25 % there. [as above]"""

BESIDE_DAYLIGHT = 0.5
"""A lamp is metered with daylight on where it gives such a share of the two together: two readings of 5 %,
with and without it, then tell it to 0.16 stop, a third of half a stop. [1]"""

MOST_OF = 0.5
"""The lamp that gives so much of a place's light is metered there by itself. [1]"""

AS_GOOD = 0.95
"""Readings that tell so much of what the best one tells are as good. [1]  Invented."""

AS_MUCH = 0.7
"""Places where a lamp has so much of its greatest share are as good. [1]  Invented."""

ALIKE = 0.05
"""Cameras whose working stops are so near to each other share their lines. [stops]"""

ALL, DAY = "all", "daylight"

DARKEN = "with the windows dark"

@dataclass(frozen=True, eq=False)
class Place:
    """One place with what its meter has there, lamp by lamp.

    Parameters
    ----------
    name, mark, side : str
        As `readings` takes it; the mark, '' without; 'lit side' or 'shadow side', or ''.
    mixed : Mixed
        [lx, or cd/m² of a spot meter]
    aim : Aim or None
        What a spot meter points at; None for an incident one.
    spare : bool
        True for one where only lamps are metered that reach no other place.
    """

    name: str
    mixed: Mixed
    mark: str = ""
    side: str = ""
    aim: Aim | None = None
    spare: bool = False

    @property
    def unit(self) -> str:
        """Of its readings."""
        return "lx" if self.aim is None else "cd/m²"

    @property
    def scale(self) -> float:
        """What counts as much there as 1 lx on an incident meter. [lx or cd/m²]"""
        return 1.0 if self.aim is None else 0.1


@dataclass(frozen=True)
class Lit:
    """What is on: all, daylight or the lamp that it is about; as names of lamps; what else is to be said."""

    of: str
    lamps: tuple[str, ...]
    note: str = ""
    by_day: bool = False

    @property
    def words(self) -> str:
        """As `readings` takes it."""
        return f"{self.of} + {DAY}" if self.by_day else self.of


def sheet_of(places: Sequence[Place], lamps: Sequence[LampLight], cameras: Sequence[Camera],
             hour: str = "") -> tuple[MeterLine, ...]:
    """Return the lines of a sheet of places that were metered, see `meter_lines`; `hour` is daylight's."""
    return tuple(_Sheet(places, lamps, cameras, hour).lines())


def not_alone(lines: Sequence[MeterLine], lamps: Sequence[LampLight]) -> tuple[str, ...]:
    """Return lamps that are on and that no line has by itself: readings of the sheet do not tell them."""
    on = [lamp.name for lamp in lamps if lamp.on and lamp.level > 0 and lamp.name not in DAYLIGHT]
    told = {line.lamps.removesuffix(f" + {DAY}") for line in lines}
    if len(on) == 1 and ALL in told:
        return ()
    return tuple(name for name in on if name not in told)


def tolerance(light: Measured, shares: Sequence[float], daylight: float = 0.0, least: float = LEAST) -> float:
    """Return how far a reading may lie off before it is to be asked why, see `meter_lines`. [1]

    Parameters
    ----------
    light : Measured
        Expected. [lx or cd/m²]
    shares : sequence of float
        Of each lamp in it. [1]
    daylight : float
        Share of sun, moon and sky together, whose weather is one. [1]
    least : float
        Error of a reading of nothing. [lx or cd/m²]
    """
    if not light.value > 0:
        return 1.0
    lamps = LAMP_WITHIN * float(np.linalg.norm(shares))
    outputs = np.hypot(lamps, DAYLIGHT_WITHIN * daylight) / np.sqrt(3)
    whole = np.linalg.norm([ERROR, least / light.value, light.error / light.value, outputs])
    return min(COVERAGE * float(whole), 1.0)


def unreached(places: Sequence[Place], lamps: Sequence[LampLight]) -> list[str]:
    """Return lamps that are on, of which no place has so much that half a stop less would show."""
    return [lamp.name for lamp in lamps if lamp.on and lamp.level > 0 and lamp.name not in DAYLIGHT
            and not any(each.mixed.light((lamp.name,)).value >= TELLING * each.scale for each in places)]


class _Sheet:
    """Chooses the lines, and says them."""

    def __init__(self, places: Sequence[Place], lamps: Sequence[LampLight], cameras: Sequence[Camera],
                 hour: str):
        self.places, self.cameras = places, _unlike(cameras)
        self.lamps = [lamp for lamp in lamps if lamp.on and lamp.level > 0]
        self.names = tuple(lamp.name for lamp in self.lamps)
        self.day = tuple(name for name in self.names if name in DAYLIGHT)
        self.light = np.array([[max(each.mixed.light((name,)).value, 0.0) for name in self.names]
                               for each in places]).reshape(len(places), len(self.names))
        self.covariance = np.diag([(SKY_SPREAD if name in DAYLIGHT else SPREAD) ** 2 for name in self.names])
        self.daylight = Lit(DAY, self.day, hour)
        by_day = self._of(self.day) >= SHOWN * np.array([each.scale for each in places])
        self.by_day = bool(by_day.any())
        self.chosen: list[tuple[Lit, int]] = []

    def lines(self) -> Iterator[MeterLine]:
        if not self.names or not self.places:
            return
        everything = Lit(ALL, self.names)
        for i, place in enumerate(self.places):
            if not place.spare:
                self._take(everything, i)
        self._choose()
        order = {name: i for i, name in enumerate((ALL, DAY, *self.names))}
        for lit, i in sorted(self.chosen, key=lambda each: (order[each[0].of], each[1])):
            yield from self._said(lit, self.places[i])

    def _choose(self) -> None:
        """Take each lamp once by itself where that tells most, and at each place the one that makes it."""
        left = np.flatnonzero(self._of(self.day) < (1 - COUNTS) * self.light.sum(axis=1))
        if self.day:
            # Where it is all but everything, that has been said.
            self._best([(self.daylight, int(i)) for i in left], self.day)
        others = [name for name in self.names if name not in self.day]
        if not self.day and len(others) == 1:
            # By itself it is all lamps.
            return
        for name in others:
            self._best([(self._alone(name, i), i) for i in range(len(self.places))], (name,))
        for i, place in enumerate(self.places):
            first, whole = int(np.argmax(self.light[i])), self.light[i].sum()
            if place.spare or self.light[i, first] < max(MOST_OF * whole, SHOWN * place.scale):
                continue
            name = self.names[first]
            lit = self.daylight if name in self.day else self._alone(name, i)
            if self._of(lit.lamps)[i] < (1 - COUNTS) * whole:
                self._take(lit, i)

    def _alone(self, name: str, i: int) -> Lit:
        """Return a lamp by itself: with daylight on, where there is some and it does not hide it."""
        own, day = self._of((name,))[i], self._of(self.day)[i]
        level = next(lamp.level for lamp in self.lamps if lamp.name == name)
        note = f"at {100 * level:.3g} %" if level < 0.9995 else ""
        if not self.by_day:
            return Lit(name, (name,), note)
        if own >= BESIDE_DAYLIGHT * (own + day):
            return Lit(name, (name, *self.day), note, by_day=True)
        return Lit(name, (name,), ", ".join(filter(None, (note, DARKEN))))

    def _of(self, lamps: Sequence[str]) -> np.ndarray:
        """Return what some lamps give at each place. Shape (place,) [lx or cd/m²]"""
        return np.asarray(self.light[:, [name in lamps for name in self.names]].sum(axis=1))

    def _best(self, candidates: Sequence[tuple[Lit, int]], lamps: Sequence[str]) -> None:
        """Take the one that tells most; of those as good where its lamps count, the brightest."""
        own, whole = self._of(lamps), self.light.sum(axis=1)
        scale = np.array([each.scale for each in self.places])
        shown, telling, counts = own >= SHOWN * scale, own >= TELLING * scale, own >= COUNTS * whole
        usual = np.array([not each.spare and each.aim is None for each in self.places])
        tiers = (telling & counts & usual, telling & usual, telling,
                 shown & counts & usual, shown & usual, shown)
        able = next((found for found in tiers if found.any()), shown)
        left = [(lit, i) for lit, i in candidates if able[i]]
        left = [(lit, i) for lit, i in left if DARKEN not in lit.note] or left
        if not left:
            return
        light = np.array([self._lit(lit, i) for lit, i in left])
        gain = gains(self.covariance, light, np.array([self._error(lit, i) for lit, i in left]))
        good = [k for k in range(len(left)) if gain[k] >= AS_GOOD * gain.max()]
        share = {k: own[left[k][1]] / whole[left[k][1]] for k in good}
        likely = [k for k in good if share[k] >= AS_MUCH * max(share.values())]
        self._take(*left[max(likely, key=lambda k: own[left[k][1]])])

    def _lit(self, lit: Lit, i: int) -> np.ndarray:
        return np.where([name in lit.lamps for name in self.names], self.light[i], 0.0)

    def _error(self, lit: Lit, i: int) -> float:
        """Return the relative error of a reading, as `readings` takes it. [1]"""
        light, place = self.places[i].mixed.light(lit.lamps), self.places[i]
        value = max(light.value, 1e-9)
        return float(np.linalg.norm([ERROR, light.error / value, LEAST * place.scale / value]))

    def _take(self, lit: Lit, i: int) -> None:
        if any(set(each.lamps) == set(lit.lamps) and k == i for each, k in self.chosen):
            return
        self.chosen.append((lit, i))
        self.covariance = after(self.covariance, self._lit(lit, i), self._error(lit, i))

    def _said(self, lit: Lit, place: Place) -> Iterator[MeterLine]:
        light = place.mixed.light(lit.lamps)
        light = light._replace(value=max(light.value, 0.0))
        parts = {name: max(place.mixed.light((name,)).value, 0.0) for name in lit.lamps}
        whole = max(sum(parts.values()), 1e-9)
        lamps = [value / whole for name, value in parts.items() if name not in self.day]
        allowed = tolerance(light, lamps, 1 - sum(lamps) if self.day else 0.0, LEAST * place.scale)
        words = (place.side, "" if place.aim is None else "spot meter, from 18 % grey", lit.note)
        cameras: Sequence[Camera | None] = self.cameras if lit.of == ALL else self.cameras[:1]
        for camera in (cameras or [None]) if place.aim is None else [place.aim.camera]:
            yield MeterLine(place.name, lit.words, light.value, light.error, allowed,
                            _over(light, camera, place), "" if camera is None else camera.name, place.mark,
                            place.unit, ", ".join(filter(None, words)))


def _over(light: Measured, camera: Camera | None, place: Place) -> float | None:
    """Return how far a light is over the working stop, or over 18 % grey. [stops]"""
    if camera is None or not light.value > 0:
        return None
    settings = settings_of(camera)
    if place.aim is None:
        return from_working(light, settings).value
    return float(stops_from_grey(light.value * signal_per_luminance(settings)))


def _unlike(cameras: Sequence[Camera]) -> tuple[Camera, ...]:
    """Return the first of cameras that are set to one working stop."""
    found: list[Camera] = []
    for camera in cameras:
        lux = working_illuminance(settings_of(camera))
        if all(abs(np.log2(lux / working_illuminance(settings_of(other)))) > ALIKE for other in found):
            found.append(camera)
    return tuple(found)
