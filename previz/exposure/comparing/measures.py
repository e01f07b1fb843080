"""The few numbers that decide between options, from meters and from the picture as rendered.

Levels in the frame are against the key: in stops from an 18 % card held in the light of the
lit cheek, so that they say how the picture is balanced and not how it is exposed.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from previz.exposure.faces import FaceLight, over
from previz.exposure.mix import lamp_xyz
from previz.physics.exposure import MID_GREY, CameraSettings
from previz.physics.mains import Draw

SPOT = 0.05
"""Side of the square over which the hottest and the darkest area are read, in picture heights.
Common practice, no source. [1]"""

BEHIND = 0.3
"""The background begins this far behind the face. [m]  Common practice, no source."""


@dataclass(frozen=True)
class KeySource:
    """Where the key comes from, as the face sees it.

    Parameters
    ----------
    lamps : tuple of str
        The lamps that make the key.
    thing : str
        What their light comes from: the lamp itself, a board, a frame, a wall.
    share : float
        Of those lamps' light at the lit cheek that comes from there. [1]
    across, up : float
        How large its lit part is, seen from the face. [deg]
    side, height : float
        Where it is: to the right (+) or left (-) of the lens axis as the camera sees it, and
        above the level. [deg]
    off_nose : float
        Angle between it and where the face points. [deg]
    edge : float
        Width of the nose shadow's soft edge, square to the light. [m]
    throw : float
        From the tip of the nose to where its shadow falls. [m]
    """

    lamps: tuple[str, ...]
    thing: str
    share: float
    across: float
    up: float
    side: float
    height: float
    off_nose: float
    edge: float
    throw: float


@dataclass(frozen=True)
class Area:
    """A part of the frame.

    Parameters
    ----------
    name : str
        What is there for the most part.
    stops : float
        From an 18 % card in the key; from 18 % grey where there is no face. [stops]
    left, top, right, bottom : int
        [px]
    """

    name: str
    stops: float
    left: int = 0
    top: int = 0
    right: int = 0
    bottom: int = 0


@dataclass(frozen=True)
class Spill:
    """Light on a named surface.

    Parameters
    ----------
    name : str
        Of the surface.
    stops : float
        As in `Area`. [stops]
    key_share : float
        Of its light that the key's lamps send. [1]
    """

    name: str
    stops: float
    key_share: float


@dataclass(frozen=True)
class Load:
    """What the lamps draw from the mains.

    Parameters
    ----------
    watts : float
        Of all that are on, at full level. [W]
    amperes : float
        At the power factors of `Draw`. [A]
    volts : float
        [V]
    guessed : tuple of str
        Lamps whose watts are not stated and were taken from their lumens.
    lux_per_watt : float or None
        Light on the lit cheek for each watt. [lx/W]
    """

    watts: float
    amperes: float
    volts: float
    guessed: tuple[str, ...] = ()
    lux_per_watt: float | None = None


@dataclass(frozen=True, eq=False)
class ShotMeasures:
    """Everything that is measured of one option by one camera.

    Parameters
    ----------
    option, camera : str
        '' for the option where the scene has none.
    settings : CameraSettings
        How the camera is set.
    face : FaceLight or None
        Of the camera's own subject.
    key : KeySource or None
        Where its key comes from.
    background, hottest, darkest : Area or None
        Parts of the frame, against the key.
    spill : Spill or None
        On the surface that is requested, or what lies behind the subject.
    eye_lights : tuple of EyeLight
        That this camera sees, the brightest first.
    load : Load or None
        On the mains.
    short : tuple of frames.records.Short
        Meters at the face that did not come to the requested error.
    """

    option: str
    camera: str
    settings: CameraSettings
    face: FaceLight | None = None
    key: KeySource | None = None
    background: Area | None = None
    hottest: Area | None = None
    darkest: Area | None = None
    spill: Spill | None = None
    eye_lights: tuple = ()
    load: Load | None = None
    short: tuple = ()


def stops_from(high, low) -> float:
    """Return log2 of a ratio; inf or -inf where one of them is nothing. [stops]"""
    with np.errstate(divide="ignore", invalid="ignore"):
        return float(np.log2(over(high, low)))


def grey_in(illuminance: float) -> float:
    """Return the luminance of an 18 % card in a light: 0.18 E / pi. [cd/m²]"""
    return MID_GREY * illuminance / np.pi


def box_mean(plane, side: int) -> np.ndarray:
    """Return the mean of every square of a side [px] that lies whole in a plane of any quantity.

    Shape (row, column) gives (row - side + 1, column - side + 1).
    """
    sums = np.cumsum(np.cumsum(np.pad(np.asarray(plane, float), ((1, 0), (1, 0))), 0), 1)
    whole = sums[side:, side:] - sums[:-side, side:] - sums[side:, :-side] + sums[:-side, :-side]
    return whole / side**2


def extreme_area(clean, raw, things, names, grey: float, *, hottest: bool) -> Area:
    """Return the hottest or darkest small area of a frame.

    It is found in the cleaned picture, where noise cannot pass for light, and read from the
    picture as rendered.

    Parameters
    ----------
    clean, raw : float array, shape (row, column)
        Luminance, denoised and as rendered. [cd/m²]
    things : int array, shape (row, column)
        `names_index` of the frames.
    names : sequence of str
        What the things are called.
    grey : float
        What counts as 0 stops. [cd/m²]
    hottest : bool
        False for the darkest.
    """
    side = max(2, min(round(SPOT * raw.shape[0]), *raw.shape))
    means = box_mean(clean, side)
    flat = np.argmax(means) if hottest else np.argmin(means)
    top, left = (int(n) for n in np.unravel_index(flat, means.shape))
    patch = slice(top, top + side), slice(left, left + side)
    inside = np.asarray(things)[patch]
    if hottest:
        # What is hot names the place, however small a part of the square it is.
        inside = inside[clean[patch] >= 0.5 * np.max(clean[patch])]
    return Area(most_of(inside, names), stops_from(np.mean(raw[patch], dtype=float), grey), left, top,
                left + side, top + side)


def most_of(things: np.ndarray, names: Sequence[str]) -> str:
    """Return what most of some pixels see, by their `names_index`; 'sky' where that is nothing."""
    values, counts = np.unique(things, return_counts=True)
    index = int(values[np.argmax(counts)])
    return names[index] if index >= 0 else "sky"


def background(raw, frames, near: float, foreground, grey: float) -> Area | None:
    """Return the mean of what lies behind the face; None where nothing does.

    Parameters
    ----------
    raw : float array, shape (row, column)
        Luminance as rendered. [cd/m²]
    frames : Frames
        Of that camera.
    near : float
        Distance of the face along the lens axis. [m]
    foreground : collection of str
        Names that are no background: people, lamps, boards.
    grey : float
        What counts as 0 stops. [cd/m²]
    """
    things = np.asarray(frames.names_index)
    in_front = np.isin(things, [i for i, name in enumerate(frames.names) if name in foreground])
    behind = (np.asarray(frames.depth) > near + BEHIND) & ~in_front
    if not behind.any():
        return None
    return Area(most_of(things[behind], frames.names), stops_from(np.mean(raw[behind], dtype=float), grey))


def spill(raw, frames, lamps, name: str, key_lamps, grey: float) -> Spill | None:
    """Return the light on a named surface, and how much of it the key sends; None where it is not seen.

    Parameters
    ----------
    raw : float array, shape (row, column)
        Luminance as rendered. [cd/m²]
    frames : Frames
        Of that camera.
    lamps : sequence of LampLight
        As they are set.
    name : str
        Of the surface.
    key_lamps : collection of str
        Lamps that make the key.
    grey : float
        What counts as 0 stops. [cd/m²]
    """
    if name not in frames.names:
        return None
    seen = np.asarray(frames.names_index) == frames.names.index(name)
    if not seen.any():
        return None
    whole = float(np.mean(raw[seen], dtype=float))
    keys = [lamp for lamp in lamps if lamp.name in key_lamps]
    part = sum(float(np.mean(lamp_xyz(frames, lamp)[1][seen], dtype=float)) for lamp in keys)
    return Spill(name, stops_from(whole, grey), part / whole if whole > 0 else 0.0)


def mains_load(draws: Iterable[Sequence], volts: float, lit: float | None) -> Load:
    """Return what lamps draw, with a guess from the lumens of those that do not say.

    Parameters
    ----------
    draws : sequence of Draw
        Of each lamp that is on.
    volts : float
        [V]
    lit : float or None
        Illuminance on the lit cheek. [lx]
    """
    known = [Draw(*each) for each in draws]
    total = float(sum(each.power() for each in known))
    gain = lit / total if lit is not None and total > 0 else None
    return Load(total, float(sum(each.amperes(volts) for each in known)), volts,
                tuple(each.name for each in known if each.watts is None), gain)
