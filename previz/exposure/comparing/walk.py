"""A walk: light on a face against metres along its way, under the lamps as they are set.

Flat meters at both cheeks of a head somewhere on the way give lit side and shadow side there, as on any face.
Along the way these make a strip, with the holes and hot spots of its lit side (see `uneven`) and the lamps
that make them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from previz.exposure.comparing.uneven import HOLE, LEAST, Uneven, unevens
from previz.exposure.faces import FaceLight, face_light
from previz.exposure.metering import Measured, Mixed, from_working, mix
from previz.exposure.trust import SURE
from previz.frames.batches import Batches
from previz.physics.colourtemp import cct_duv, mired, xy_from_xyz
from previz.physics.exposure import CameraSettings
from previz.physics.light import LampLight

ALIKE = 0.1
"""Sides that differ by a smaller share are as good as alike: a seventh of a stop. [1]  Invented."""


@dataclass(frozen=True)
class Point:
    """A place on a way.

    Parameters
    ----------
    metres : float
        Along the way. [m]
    mark : str or None
        What the mark there is called; None between marks.
    at : (float, float, float)
        Where the face is. [m]
    facing : float
        Where it faces, counter-clockwise from east. [deg]
    meters : (str, str)
        Names of the flat meters at its left and right cheek.
    """

    metres: float
    mark: str | None
    at: tuple[float, float, float]
    facing: float
    meters: tuple[str, str]

    @property
    def label(self) -> str:
        """What a table calls it: 'window', or '2.4 m'."""
        return self.mark if self.mark is not None else f"{self.metres:.2f} m"


@dataclass(frozen=True, eq=False)
class Reading:
    """Light on the face at one place of a way.

    Parameters
    ----------
    point : Point
    face : FaceLight
        Both sides. [lx]
    lit, shadow : Measured
        The two, from the working stop. [stops]
    mired : Measured or None
        How much warmer (+) or cooler (-) the lit side is than the camera's balance; None without a colour
        temperature. [mired]
    lamps : tuple of Measured
        What each lamp gives to the lit side. [lx]
    """

    point: Point
    face: FaceLight
    lit: Measured
    shadow: Measured
    mired: Measured | None
    lamps: tuple[Measured, ...]


@dataclass(frozen=True)
class Cause:
    """What there is to say of a hole or hot spot besides its size.

    Parameters
    ----------
    lamp : str
        The lamp that falls off (comes up) most there against the places at both sides; of a stretch outside
        what is wanted the strongest one; '' for none.
    change : float
        What it gives less (-) or more (+) than on the line between its neighbours; what it gives where there
        are none. [lx]
    share : float
        Of the light there, what that lamp gives. [1]
    nearest : str
        The nearest lamp that has a place; '' for none.
    distance : float
        To it. [m]
    nearest_share : float
        Of the light there, what it gives. [1]
    behind : bool
        Whether `lamp` stands behind the face there, and not at both of its neighbours.
    """

    lamp: str
    change: float
    share: float
    nearest: str = ""
    distance: float = float("nan")
    nearest_share: float = 0.0
    behind: bool = False


@dataclass(frozen=True, eq=False)
class Drift:
    """Colour along a way: its coolest and warmest place, by number, and how far apart they are. [mired]"""

    coolest: int
    warmest: int
    by: Measured


@dataclass(frozen=True, eq=False)
class Strip:
    """Light on a face along its way, under the lamps as they are set.

    Parameters
    ----------
    figure : str
    settings : CameraSettings
        Of the camera whose stop is the working stop.
    lamps : tuple of str
    readings : tuple of Reading
        From the start on.
    unevens : tuple of Uneven
        Holes and hot spots of the lit side.
    causes : tuple of Cause
        One for each of them.
    least : float
        From how much on one is named. [stops]
    wanted : (float, float) or None
        The range that all is to be in. [stops]
    """

    figure: str
    settings: CameraSettings
    lamps: tuple[str, ...]
    readings: tuple[Reading, ...]
    unevens: tuple[Uneven, ...]
    causes: tuple[Cause, ...]
    least: float
    wanted: tuple[float, float] | None

    @property
    def metres(self) -> tuple[float, ...]:
        """Along the way. [m]"""
        return tuple(each.point.metres for each in self.readings)

    @property
    def marks(self) -> tuple[int, ...]:
        """Numbers of the readings that are at marks."""
        return tuple(i for i, each in enumerate(self.readings) if each.point.mark is not None)

    def even_light(self, number: int) -> float:
        """Return what the lit side would have without a hole or hot spot, or at the wanted end. [lx]"""
        each = self.unevens[number]
        sign = 1.0 if each.kind == HOLE else -1.0
        return float(self.readings[each.at].face.lit.value * 2.0 ** (sign * each.amount.value))

    @property
    def drift(self) -> Drift | None:
        """How colour goes along the way; None where fewer than two places have one."""
        known = [i for i, each in enumerate(self.readings) if each.mired is not None]
        if len(known) < 2:
            return None

        def of(number: int) -> Measured:
            found = self.readings[number].mired
            assert found is not None
            return found

        low, high = (pick(known, key=lambda i: of(i).value) for pick in (min, max))
        apart = Measured(of(high).value - of(low).value, float(np.hypot(of(high).error, of(low).error)))
        return Drift(low, high, apart)

    @property
    def swaps(self) -> tuple[int, ...]:
        """Numbers of the readings from which on the other cheek is the lit side.

        Where both are as good as alike, neither is.
        """
        found, before = [], ""
        for i, each in enumerate(self.readings):
            more = each.face.key_to_fill
            if more.value > max(ALIKE, SURE * more.error):
                if before and each.face.lit_side != before:
                    found.append(i)
                before = each.face.lit_side
        return tuple(found)


def strip_of(figure: str, points: Sequence[Point], batches: Batches, lamps: Sequence[LampLight],
             settings: CameraSettings, *, colours: np.ndarray | None = None, least: float = LEAST,
             wanted: tuple[float, float] | None = None,
             places: Mapping[str, np.ndarray] | None = None) -> Strip:
    """Return the strip of a way from its meters, under lamps at any levels and colours; nothing is traced.

    Parameters
    ----------
    figure : str
    points : sequence of Point
        From the start on; the batches have all of their meters, and may have more.
    batches : Batches
        What was gathered, for each lamp and band.
    lamps : sequence of LampLight
        One for each light of the batches, as it is set.
    settings : CameraSettings
    colours : float array, shape (colours, 81), or None
        See `metering.mix`.
    least, wanted
        See `unevens`.
    places : dict of str to float array, shape (3,)
        Where lamps stand, by name, to tell the nearest. [m]
    """
    mixed = mix(batches, lamps, colours)
    readings = tuple(_reading(point, mixed[point.meters[0]], mixed[point.meters[1]], figure, settings)
                     for point in points)
    found = unevens([each.metres for each in points], [each.lit for each in readings], least, wanted)
    causes = tuple(_cause(each, readings, batches.lights, places or {}) for each in found)
    return Strip(figure, settings, batches.lights, readings, found, causes, least, wanted)


def _reading(point: Point, left: Mixed, right: Mixed, figure: str, settings: CameraSettings) -> Reading:
    face = face_light(figure, left, right)
    side = left if face.lit_side == "left" else right
    return Reading(point, face, from_working(face.lit, settings), from_working(face.shadow, settings),
                   _off_balance(side, face, settings),
                   tuple(side.light((name,)) for name in side.lamps))


def _off_balance(side: Mixed, face: FaceLight, settings: CameraSettings) -> Measured | None:
    """Return how far a side is off the balance, with the error that follows from X, Y and Z. [mired]

    error² = g' C g, with the gradient g by differences and C the covariance of the means.
    """
    value = face.mired_off(settings.white_balance)
    if value is None:
        return None
    batches = side.xyz.sum(axis=(1, 2))
    mean = batches.mean(axis=0)
    off = batches - mean
    covariance = off.T @ off / (len(off) * (len(off) - 1))
    step, slope = 1e-3 * mean[1], np.zeros(3)
    for k in range(3):
        try:
            up, down = (mired(cct_duv(xy_from_xyz(mean + sign * step * np.eye(3)[k]))[0]) for sign in (1, -1))
        except ValueError:
            return Measured(value, float("nan"))
        slope[k] = (up - down) / (2 * step)
    return Measured(value, float(np.sqrt(max(slope @ covariance @ slope, 0.0))))


def _behind(point: Point, place: np.ndarray) -> bool:
    """Return whether a place lies behind the plane of a face."""
    facing, towards = np.radians(point.facing), np.asarray(place, float) - point.at
    return bool(towards[0] * np.cos(facing) + towards[1] * np.sin(facing) < 0)


def _cause(uneven: Uneven, readings: Sequence[Reading], lamps: Sequence[str],
           places: Mapping[str, np.ndarray]) -> Cause:
    here = readings[uneven.at]
    light = np.array([each.value for each in here.lamps])
    whole = light.sum()
    shares = light / whole if whole > 0 else np.zeros(len(light))
    lamp, change = -1, 0.0
    if uneven.between is not None:
        left, right = (readings[number] for number in uneven.between)
        span = right.point.metres - left.point.metres
        share = (here.point.metres - left.point.metres) / span if span > 0 else 0.5
        usual = np.array([(1 - share) * one.value + share * other.value
                          for one, other in zip(left.lamps, right.lamps, strict=True)])
        changes = light - usual
        if len(changes):
            lamp = int(np.argmin(changes) if uneven.kind == HOLE else np.argmax(changes))
            change = float(changes[lamp])
            if (change < 0) != (uneven.kind == HOLE) or change == 0:
                lamp = -1
    elif whole > 0:
        lamp = int(np.argmax(light))
        change = float(light[lamp])
    near = sorted((float(np.linalg.norm(np.asarray(at, float) - here.point.at)), name)
                  for name, at in places.items() if name in lamps)
    name = near[0][1] if near else ""
    named = lamps[lamp] if lamp >= 0 else ""
    behind = False
    if named in places and uneven.between is not None:
        behind = _behind(here.point, places[named]) and not all(
            _behind(readings[number].point, places[named]) for number in uneven.between)
    return Cause(named, change, float(shares[lamp]) if named else 0.0, name,
                 near[0][0] if near else float("nan"),
                 float(shares[list(lamps).index(name)]) if name else 0.0, behind)
