"""Light that ripples, seen by a shutter: how far frames differ, how they pulse, which shutters even it out.

A lamp's light is taken for 1 + d · cos(2 pi f u) of its mean: depth d, f ripples a second. A frame, or a
line of a rolling shutter, that is exposed for t from u on has the mean

    1 + d · sin(pi f t) / (pi f t) · cos(2 pi f (u + t / 2)),

so frames, or lines, lie within s = d · |sin(pi f t) / (pi f t)| of their mean, and all are alike where f · t
is a whole number: the shutter is open for whole ripples.
"""

from __future__ import annotations

import math
from typing import NamedTuple

SEEN = 0.02
"""Least difference between frames that counts as seen. [stops]  1.4 %, of the order of what the eye sees of
light that pulses ten times a second (de Lange, from memory)."""

SEEN_STANDING = 0.1
"""Least difference that is seen of one soft band that stands still, or creeps. [stops]  Common practice, no
source: 24 fps at 180° on 60 Hz leaves a filament such a band of 0.04, which nobody minds."""

MOST_STOPS = 10.0
"""Differences beyond are not told apart: the darkest frame is black. [stops]"""

MAINS_DRIFT = 0.002
"""How far the frequency of a public supply wanders from what it is called. [1]  Source: 49.9 to 50.1 Hz in
normal operation of European grids, from memory; generators wander more."""

GENERATOR_DRIFT = 0.04
"""The same of a generator: its governor lets the frequency fall by so much from idle to full load. [1]
3 to 5 % without a speed that is held, ISO 8528-5, from memory."""

READOUT = 0.01
"""About how long a rolling shutter takes from the first line to the last. [s]  5 to 20 ms, common practice,
no source."""

STRIPES = 2.0
"""From so many ripples within a readout on, stripes are seen rather than pulses. [1]  Own choice."""

MOST_LISTED = 16
"""Of safe angles and rates."""


class Ripple(NamedTuple):
    """How deep a light ripples [1], None where that is not known, and where that is from."""

    depth: float | None
    source: str


FILAMENT_DEPTHS: tuple[tuple[float, float], ...] = ((250.0, 0.10), (1000.0, 0.05), (math.inf, 0.02))
"""Filaments up to so many watts [W] to the depth at twice the mains' frequency: the thicker, the slower to
cool.  From memory, by order of size."""

PHASE_CUT = 2.0
"""A filament's ripple on a phase-cut dimmer over that on the mains. [1]  From memory, by order of size."""

MAGNETIC_FLUORESCENT = Ripple(0.4, "a tube on a magnetic ballast, from memory; electronic ones are steady")
MAGNETIC_DISCHARGE = Ripple(0.7, "an arc on a magnetic ballast, from memory; square-wave ones are steady")
STEADY = Ripple(0.0, "fed by direct current, or a flame")
UNKNOWN = Ripple(None, "supplies of LEDs do anything from nothing to all of it, at any frequency")

FILAMENT, FLUORESCENT, DISCHARGE, ELECTRONIC = "filament", "fluorescent", "discharge", "electronic"
"""What makes the light, as far as ripples go."""


def usual_ripple(source: str, watts: float | None = None, *, dimmed: bool = False) -> Ripple:
    """Return how the light of a source ripples where that is not stated.

    Parameters
    ----------
    source : str
        'filament', 'fluorescent', 'discharge' or 'electronic'.
    watts : float or None
        Of a filament; None takes the thinnest. [W]
    dimmed : bool
        Whether a dimmer cuts the phase of a filament.
    """
    if source == FILAMENT:
        depth = next(depth for most, depth in FILAMENT_DEPTHS if (watts or 0.0) <= most)
        if dimmed:
            return Ripple(PHASE_CUT * depth, "a filament on a phase-cut dimmer, from memory")
        return Ripple(depth, "a filament on the mains, from memory")
    return {FLUORESCENT: MAGNETIC_FLUORESCENT, DISCHARGE: MAGNETIC_DISCHARGE}.get(source, UNKNOWN)


def exposure_time(fps: float, angle: float) -> float:
    """Return how long a frame is exposed: angle / (360 · fps). [s]

    Parameters
    ----------
    fps : float
        [1/s]
    angle : float
        [deg]

    Source
    ------
    Check value 3.6: 180° at 24 is 1/48 s.
    """
    return angle / (360.0 * fps)


def swing(depth: float, frequency: float, time: float) -> float:
    """Return how far frames lie from their mean at most: d · |sin(pi f t) / (pi f t)|. [1]

    Parameters
    ----------
    depth : float
        (most - least) / (most + least) of the light, 0 to 1. [1]
    frequency : float
        Ripples a second, above 0. [Hz]
    time : float
        That a frame, or a line of it, is exposed; 0 for an instant. [s]

    Raises
    ------
    ValueError
        A number is out of range.
    """
    if not (0 <= depth <= 1 and frequency > 0 and time >= 0):
        raise ValueError("depth must be 0 to 1, frequency above 0 and time 0 or more, "
                         f"got {depth!r}, {frequency!r}, {time!r}")
    ripples = frequency * time
    if ripples == 0:
        return depth
    # The sine's own period is taken off first: it keeps its digits where there are millions of ripples.
    return depth * abs(math.sin(math.pi * math.fmod(ripples, 1.0))) / (math.pi * ripples)


def swing_within(depth: float, frequency: float, time: float, drift: float) -> float:
    """Return the most that `swing` comes to while the frequency wanders by a share of itself either way. [1]

    Found at 33 frequencies, which takes the top between two zeros to a hundredth.
    """
    return max(swing(depth, frequency * (1.0 + drift * step / 16), time) for step in range(-16, 17))


def stops_between(swing: float) -> float:
    """Return how far the brightest and the darkest frame differ: log2((1 + s) / (1 - s)). [stops]

    At most `MOST_STOPS`.
    """
    if swing >= 1.0:
        return MOST_STOPS
    return min(MOST_STOPS, math.log2((1.0 + swing) / (1.0 - swing)))


def beat(frequency: float, fps: float) -> float:
    """Return how often frames brighten and darken: |f - n · fps| for the nearest whole n. [Hz]

    0 where every frame begins at the same point of a ripple: what shutters do not even out stands still.

    Parameters
    ----------
    frequency, fps : float
        Above 0. [Hz] and [1/s]
    """
    return abs(frequency - round(frequency / fps) * fps)


def risk(depth: float, frequency: float, fps: float, angle: float, drift: float = 0.0) -> str:
    """Return what of a ripple is seen: 'none', 'bands' or 'pulse'.

    Bands stand still, or creep with the mains, where all frames are alike; or the ripple is so quick that
    the lines of one frame differ. Else whole frames brighten and darken.

    Parameters
    ----------
    depth, frequency
        As in `swing`.
    fps : float
        [1/s]
    angle : float
        [deg]
    drift : float
        How far the frequency may wander, over itself. [1]
    """
    alike = beat(frequency, fps) + drift * frequency <= MAINS_DRIFT * frequency
    stripes = frequency * READOUT > STRIPES
    least = SEEN_STANDING if alike and not stripes else SEEN
    if stops_between(swing_within(depth, frequency, exposure_time(fps, angle), drift)) < least:
        return "none"
    return "bands" if alike or stripes else "pulse"


def safe_angles(fps: float, frequency: float) -> tuple[float, ...]:
    """Return the shutter angles that are open for whole ripples, 360 · fps · k / f up to 360. [deg]

    Parameters
    ----------
    fps : float
        Above 0. [1/s]
    frequency : float
        Ripples a second, twice that of the mains; above 0. [Hz]

    Returns
    -------
    tuple of float
        Ascending, the widest `MOST_LISTED`; empty where a frame is shorter than a ripple.

    Source
    ------
    Check value 3.6: at 24 fps 172.8° is 1/50 s, two ripples of 50 Hz mains, and 144° 1/60 s, two of 60 Hz.
    """
    # A hair of rounding must not cost 360°.
    most = math.floor(frequency / fps * (1 + 1e-12))
    first = max(1, most - MOST_LISTED + 1)
    return tuple(min(360.0, 360.0 * fps * count / frequency) for count in range(first, most + 1))


def safe_rates(frequency: float, angle: float) -> tuple[float, ...]:
    """Return the frame rates at which a shutter is open for whole ripples, f · angle / (360 · k). [1/s]

    Parameters
    ----------
    frequency : float
        Ripples a second, twice that of the mains; above 0. [Hz]
    angle : float
        [deg]

    Returns
    -------
    tuple of float
        Descending, the fastest `MOST_LISTED`: at 180° and 100 Hz 50, 25, 16.67 ...
    """
    return tuple(frequency * angle / (360.0 * count) for count in range(1, MOST_LISTED + 1))


def nearest_angles(fps: float, frequency: float, angle: float) -> tuple[float, ...]:
    """Return the next safe angles under and over what is set, the one that changes less first. [deg]

    Parameters
    ----------
    fps, frequency
        As in `safe_angles`.
    angle : float
        That is set. [deg]

    Returns
    -------
    tuple of float
        One or two; empty where a frame is shorter than a ripple.
    """
    most = math.floor(frequency / fps * (1 + 1e-12))
    if most < 1:
        return ()
    count = frequency * exposure_time(fps, angle)
    tried = {min(most, max(1, each)) for each in (math.floor(count), math.ceil(count))}
    ranked = sorted(sorted(tried), key=lambda each: abs(math.log(each / count)))
    return tuple(min(360.0, 360.0 * fps * each / frequency) for each in ranked)


def nearest_rate(fps: float, frequency: float, angle: float) -> float:
    """Return the safe frame rate nearest to what is set. [1/s]

    Parameters
    ----------
    fps, frequency, angle
        As in `nearest_angles`.
    """
    count = frequency * exposure_time(fps, angle)
    tried = {max(1, each) for each in (math.floor(count), math.ceil(count))}
    rates = [frequency * angle / (360.0 * each) for each in sorted(tried)]
    return min(rates, key=lambda each: abs(each - fps))


def steady_from(time: float, depth: float = 1.0) -> float:
    """Return from how many ripples a second on no exposure of a length shows any, whatever the ripple. [Hz]

    As |sin| is 1 at most, s is d / (pi f t) at most; the answer is where that is `SEEN`.

    Parameters
    ----------
    time : float
        Above 0. [s]
    depth : float
        [1]
    """
    factor = 2.0**SEEN
    return depth * (factor + 1.0) / (factor - 1.0) / (math.pi * time)
