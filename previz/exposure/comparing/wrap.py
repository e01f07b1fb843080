"""How light goes round a head: meters in a ring about an upright cylinder in the face's place.

The cylinder has no nose and no brow, so that what is measured is the light and not one face.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from previz.frames.records import Short

RING = "ring "
"""What the names of the ring's meters begin with."""

COUNTS = 1 / 16
"""Meters under this share of the ring's brightest change nothing of what it gives. [1]"""


@dataclass(frozen=True, eq=False)
class Ring:
    """Readings round a head.

    Parameters
    ----------
    angles : float array, shape (n,)
        From where the face points, plus to the face's own left, rising, even, all round. [deg]
    lux : float array, shape (n,)
        Flat readings. [lx]
    """

    angles: np.ndarray
    lux: np.ndarray

    @property
    def peak(self) -> float:
        """Most that is read on the front half. [lx]"""
        return float(self.lux[np.abs(self.angles) <= 90].max())

    @property
    def peak_angle(self) -> float:
        """Where that is. [deg]"""
        front = np.where(np.abs(self.angles) <= 90, self.lux, -np.inf)
        return float(self.angles[np.argmax(front)])


def ring_angles(count: int) -> np.ndarray:
    """Return even angles all round, from just over -180 to 180. Shape (count,) [deg]"""
    return -180 + 360 * np.arange(1, count + 1) / count


def ring_places(centre: ArrayLike, ahead: ArrayLike, radius: float,
                count: int) -> tuple[np.ndarray, np.ndarray]:
    """Return where a ring's meters are and where they face.

    Parameters
    ----------
    centre, ahead : float array, shape (3,)
        Middle of the head [m], and where the face points.
    radius : float
        Of the cylinder. [m]
    count : int
        How many meters.

    Returns
    -------
    places, normals : float array, shape (count, 3)
        At the angles of `ring_angles`.
    """
    level = np.array([*np.asarray(ahead, float)[:2], 0.0])
    level = level / np.linalg.norm(level)
    left = np.array([-level[1], level[0], 0.0])
    turn = np.radians(ring_angles(count))
    normals = np.cos(turn)[:, None] * level + np.sin(turn)[:, None] * left
    return np.asarray(centre, float) + radius * normals, normals


def wrap_angle(angles: np.ndarray, lux: np.ndarray, part: float = 0.5) -> float:
    """Return how far round from its peak the light falls to a part of it.

    The mean of both turns; a peak between two meters is found by the parabola through three.

    Parameters
    ----------
    angles : float array, shape (n,)
        Even, all round. [deg]
    lux : float array, shape (n,)
        Flat readings there. [lx]
    part : float
        [1]

    Returns
    -------
    float
        60 for a small far source, 90 for an even dome in front; nan where it never falls so far.
        [deg]
    """
    values, count = np.asarray(lux, float), len(lux)
    top = int(np.argmax(values))
    step = float(angles[1] - angles[0])
    before, here, after = values[top - 1], values[top], values[(top + 1) % count]
    bend = before - 2 * here + after
    shift = 0.5 * (before - after) / bend if bend < 0 else 0.0
    peak = here - 0.25 * (before - after) * shift
    found = []
    for turn in (1, -1):
        for k in range(1, count // 2 + 1):
            inner, outer = values[(top + turn * (k - 1)) % count], values[(top + turn * k) % count]
            if outer < part * peak <= inner:
                reach = k - 1 + (inner - part * peak) / (inner - outer)
                found.append(step * (reach - turn * shift))
                break
    return float(np.mean(found)) if found else float("nan")


def worst_of(short: Sequence[Short], ring: Ring) -> tuple[Short, ...]:
    """Return which readings a sheet says are short: of the ring the worst that counts, and the others.

    `short` has the meters' own names; the result is named as a crew has it.
    """
    own = {int(each.name.removeprefix(RING)): each for each in short if each.name.startswith(RING)}
    others = [each for each in short if not each.name.startswith(RING)]
    counted = {i: each for i, each in own.items() if ring.lux[i] >= COUNTS * ring.peak}
    if counted:
        at, worst = max(counted.items(), key=lambda pair: pair[1].error)
        name = "brightest" if ring.angles[at] == ring.peak_angle else "worst meter round the head"
        others.insert(0, worst._replace(name=name, few=any(each.few for each in counted.values())))
    return tuple(others)


@dataclass(frozen=True, eq=False)
class Step:
    """One use of a lamp, and what it gives.

    Parameters
    ----------
    kind : str
        'direct', 'frame' or 'board'.
    size, distance : float
        Of the board or frame, and from the face to it; for 'direct' the lamp's own. [m]
    ring : Ring
        The readings round the head.
    loss : float
        At the brightest part of the face against direct, minus for less. [stops]
    across, up : float
        How large the source appears. [deg]
    edge : float
        Soft edge of the nose's shadow. [m]
    wrap, ends : float
        How far round from the brightest part the light falls to half, and to an eighth. [deg]
    spill : float
        On the surface of the request, against the brightest part of the face. [stops]
    per_watt : float or None
        Light at the face for each watt. [lx/W]
    guessed : bool
        True where the watts are not stated and were taken from the lumens.
    short : tuple of frames.records.Short
        Readings that did not come to the precision of the request.
    """

    kind: str
    size: float
    distance: float
    ring: Ring
    loss: float
    across: float
    up: float
    edge: float
    wrap: float
    ends: float
    spill: float
    per_watt: float | None = None
    guessed: bool = False
    short: tuple[Short, ...] = ()

    @property
    def name(self) -> str:
        """What plots and tables call it."""
        if self.kind == "direct":
            return "direct"
        return f"{self.kind} {self.size:g} m at {self.distance:g} m"
