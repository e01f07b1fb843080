"""Whether two shots cut together: what the eye holds on to across a cut, each against a limit.

Levels are as exposed, colours as balanced: what the audience sees, not what was lit. The limits
are habits of the trade and there to be set.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from previz.exposure.comparing.measures import ShotMeasures, stops_from
from previz.exposure.faces import stops_of
from previz.exposure.metering import from_working
from previz.physics.colourtemp import shifted_kelvin
from previz.physics.exposure import DENSITY_OF_A_STOP

LIMITS = {
    "face": 0.5, "ratio": 0.5, "direction": 30.0, "mired": 15.0, "duv": 0.004, "sky": 1.0,
    "background": 1.0, "softness": 1.0, "veil": 1.0,
}  # fmt: skip
"""How far two shots may differ: stops, degrees, mired, Duv.  Common practice, no source."""

UNITS = {
    "face": "stops", "ratio": "stops", "direction": "deg", "mired": "mired", "duv": "Duv",
    "sky": "stops", "background": "stops", "softness": "stops", "veil": "stops",
}  # fmt: skip
"""The unit of each limit."""

HARD = 0.002
"""A shadow's edge under this is a hard one, and one hard edge cuts to another. [m]  Common
practice, no source."""

FASTEST = 1.0
"""No lens for the job opens wider than this T-stop.  Common practice, no source."""

VEIL_FLOOR = 2.0**-8
"""A veil this far under mid grey or farther is no veil: eight stops. [1]"""


@dataclass(frozen=True, eq=False)
class Side:
    """One side of a cut.

    Parameters
    ----------
    name : str
        What it is called.
    measures : comparing.ShotMeasures
        Its numbers.
    sky : float or None
        Mean level of the sky in the frame, from 18 % grey; None where none is seen. [stops]
    background : float or None
        From 18 % grey, as exposed. [stops]
    veil : float or None
        What the air alone adds to the picture, over 18 % grey; None in clear air. [1]
    """

    name: str
    measures: ShotMeasures
    sky: float | None = None
    background: float | None = None
    veil: float | None = None


@dataclass(frozen=True)
class Point:
    """One thing that is compared.

    Parameters
    ----------
    key : str
        Of `LIMITS`.
    label : str
        What it is called in words.
    first, second : str
        What it is on each side, in words.
    difference : float or None
        Second against first; None where one side has none of it. [as the limit]
    limit : float
        How far the two may differ. [as `UNITS`]
    advice : str
        What to do about it; '' where it is within the limit.
    changes : dict of str to float
        The numbers of that advice, as of `Advice`.
    """

    key: str
    label: str
    first: str
    second: str
    difference: float | None
    limit: float
    advice: str = ""
    changes: Mapping[str, float] = field(default_factory=dict)

    @property
    def cuts(self) -> bool | None:
        """Whether it is within the limit; None where one side has none of it."""
        return None if self.difference is None else abs(self.difference) <= self.limit


class Advice(NamedTuple):
    """What to change on the second side so that it meets the first.

    Parameters
    ----------
    words : str
        '' where nothing has to be done.
    changes : dict of str to float
        Its numbers: `stop_to_set` [T-stop], `nd_to_add` [density], `light_to_add`, `fill_to_add`,
        `level_to_add` [stops], `warm_by` [mired], `balance_to_set` [K], `duv_to_add` [1],
        `source_smaller`, `source_larger` [times].
    """

    words: str = ""
    changes: Mapping[str, float] = {}


def lens_direction(key) -> np.ndarray:
    """Return the unit vector (right, up, towards the camera) of a key as the camera has it."""
    side, height = np.radians(key.side), np.radians(key.height)
    return np.array([np.cos(height) * np.sin(side), np.sin(height), np.cos(height) * np.cos(side)])


def angle_between(one, other) -> float:
    """Return the angle between two unit vectors. [deg]"""
    return float(np.degrees(np.arccos(np.clip(np.dot(one, other), -1, 1))))


def face_level(measures: ShotMeasures) -> float | None:
    """Return how far the lit cheek lies over the working stop. [stops]"""
    if measures.face is None:
        return None
    return from_working(measures.face.lit, measures.settings).value


def ratio_stops(measures: ShotMeasures) -> float | None:
    """Return lit side over shadow side. [stops]"""
    if measures.face is None:
        return None
    ratio = stops_of(measures.face.lit_to_shadow).value
    return ratio if np.isfinite(ratio) else None


def _gap(one, other) -> float | None:
    if one is None or other is None:
        return None
    # Black against black is no difference.
    return 0.0 if one == other else float(other - one)


def differences(first: Side, second: Side) -> dict[str, float | None]:
    """Return how far the second side of a cut lies from the first, for every key of `LIMITS`. [as `UNITS`]

    None where one of the two has none of it.
    """
    a, b = first.measures, second.measures
    keys = a.key is not None and b.key is not None
    colours = a.face is not None and b.face is not None and None not in (a.face.cct, b.face.cct)
    veils = [VEIL_FLOOR + (side.veil or 0.0) for side in (first, second)]
    return {
        "face": _gap(face_level(a), face_level(b)),
        "ratio": _gap(ratio_stops(a), ratio_stops(b)),
        "direction": angle_between(lens_direction(a.key), lens_direction(b.key)) if keys else None,
        "mired": _gap(a.face.mired_off(a.settings.white_balance),
                      b.face.mired_off(b.settings.white_balance)) if colours else None,
        "duv": _gap(a.face.duv, b.face.duv) if colours else None,
        "sky": _gap(first.sky, second.sky),
        "background": _gap(first.background, second.background),
        "softness": stops_from(max(b.key.edge, HARD), max(a.key.edge, HARD)) if keys else None,
        "veil": stops_from(veils[1], veils[0]),
    }


def by_stop(gap: float, second: Side) -> float:
    """Return how far the whole picture goes up where the second side's stop meets the face. [stops]

    `gap` is the lit side's beyond its limit, 0 within [stops]. 0 where no lens opens so far, and light
    has to do it.
    """
    return -gap if second.measures.settings.stop * 2.0 ** (gap / 2) >= FASTEST else 0.0


def advice(key: str, gap: float, first: Side, second: Side, face: float = 0.0,
           limit: float = 0.0) -> Advice:
    """Return what to change on the second side so that it meets the first.

    Parameters
    ----------
    key : str
        Of `LIMITS`.
    gap : float
        From `differences`. [as `UNITS`]
    first, second : Side
    face : float
        Gap of the lit side, where it is beyond its limit. [stops]
    limit : float
        For this key. [as `UNITS`]
    """
    name = second.name
    if np.isinf(gap):
        return Advice(_dark_advice(key, gap, first, second))
    if key == "face":
        return _face_advice(gap, second)
    if key == "ratio":
        return Advice(f"{'more' if gap > 0 else 'less'} fill in {name}: {abs(gap):.1f} stops "
                      "on the shadow side", {"fill_to_add": gap})
    if key == "direction":
        return Advice(f"the key stands {gap:.0f}° elsewhere: move it, or cut on a turn of the head")
    if key == "mired":
        return _colour_advice(gap, first.measures, second)
    if key == "duv":
        return Advice(f"take {'green' if gap > 0 else 'magenta'} out of {name}: Duv {abs(gap):.4f}",
                      {"duv_to_add": -gap})
    if key == "softness":
        smaller, times = gap > 0, 2.0 ** abs(gap)
        return Advice(f"the key in {name} should look {times:.1f} times "
                      f"{'smaller' if smaller else 'larger'} from the face",
                      {"source_smaller" if smaller else "source_larger": times})
    if key == "veil":
        return Advice(f"{'less' if gap > 0 else 'more'} haze in {name}")
    return _level_advice(key, gap, second, by_stop(face, second) if face and np.isfinite(face) else 0.0,
                         limit)


def _face_advice(gap: float, second: Side) -> Advice:
    """Return how the second side's lit side gets to the level of the first's."""
    now = second.measures.settings.stop
    stop, density = now * 2.0 ** (gap / 2), gap * DENSITY_OF_A_STOP
    if gap > 0:
        return Advice(f"close {second.name} from T{now:.1f} to T{stop:.1f}, or add ND {density:.1f}",
                      {"stop_to_set": stop, "nd_to_add": density})
    if stop < FASTEST:
        return Advice(f"{-gap:.1f} stops more light on the face in {second.name}: no lens opens so far",
                      {"light_to_add": -gap})
    return Advice(f"open {second.name} from T{now:.1f} to T{stop:.1f}, or add light",
                  {"stop_to_set": stop, "light_to_add": -gap})


def _colour_advice(gap: float, first: ShotMeasures, second: Side) -> Advice:
    """Return how the second side's light gets to the colour of the first's."""
    words = f"{'cool' if gap > 0 else 'warm'} {second.name} by {abs(gap):.0f} mired"
    kelvin = balance_for(second.measures.face.cct, first.face.mired_off(first.settings.white_balance))
    if kelvin is None:
        return Advice(words, {"warm_by": -gap})
    # A dial has steps.
    balance = 50 * round(kelvin / 50)
    return Advice(f"{words}, or set its balance to {balance} K",
                  {"warm_by": -gap, "balance_to_set": balance})


def _level_advice(key: str, gap: float, second: Side, moved: float, limit: float) -> Advice:
    """Return what to do about a level in the frame, which the stop moves by so much. [stops]"""
    left = gap + moved
    if abs(left) <= limit:
        return Advice("the stop that meets the face meets this too" if moved and abs(gap) > limit else "")
    words = f"{'bring down' if left > 0 else 'lift'} the {key} of {second.name} by {abs(left):.1f} stops"
    return Advice(f"once the stop has met the face, {words}" if moved else words,
                  {"level_to_add": -left})


def _dark_advice(key: str, gap: float, first: Side, second: Side) -> str:
    """Return what to do where one of the two sides has no light."""
    if gap > 0:
        return f"no light on the {key} in {first.name}: light it there, or take it away in {second.name}"
    return f"no light on the {key} in {second.name}: light it"


def balance_for(cct: float, off: float) -> float | None:
    """Return the balance [K] at which a light of a CCT [K] appears so much warmer than white [mired].

    None where no camera goes so far.
    """
    try:
        kelvin = float(shifted_kelvin(cct, -off))
    except ValueError:
        return None
    return kelvin if 1500 < kelvin < 25000 else None


def verdict(points) -> str:
    """Return the plain words for a whole cut, of everything that was compared."""
    differing = [point for point in points if point.cuts is False]
    # What neither shot has is no question.
    unknown = [point for point in points if point.cuts is None and point.first != point.second]
    if not differing:
        words = "They cut."
    else:
        names = [point.label for point in differing]
        listed = names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
        words = f"They do not cut yet: {listed} {'is' if len(names) == 1 else 'are'} too far apart."
    if unknown:
        words += f" Not compared: {', '.join(point.label for point in unknown)}."
    return words


def limits_with(changes) -> dict[str, float]:
    """Return the limits with some of them set otherwise.

    Parameters
    ----------
    changes : dict of str to float
        Limits by their names.

    Raises
    ------
    ValueError
        There is no such limit, or one is below nothing.
    """
    for name, value in changes.items():
        if name not in LIMITS:
            raise ValueError(f"there is no limit '{name}'; there are {', '.join(LIMITS)}")
        if not value >= 0:
            raise ValueError(f"the limit '{name}' must be 0 or more, got {value:g}")
    return {**LIMITS, **changes}
