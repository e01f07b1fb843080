"""The way of a figure along its marks: where its head is at each step, and the meters at its cheeks there.

Metres along the way are counted on the floor, straight from mark to mark. At a mark the head is as the mark
has it (the posed skeleton's, as for marks that nobody stands at); between marks it is carried upright, as
high as the figure stands, and turned where they go. A walk's own rise and fall, some 4 cm (from memory), is
left out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from previz.scene.figure import HEAD_TURN
from previz.stage.heads import Head
from previz.stage.records import Mesh, Probe

TURN = 0.5
"""Within so much of a mark a head turns from what it faces there to where it goes, or back. [m]
Common practice, no source: a short step."""

AHEAD, TURNING = "ahead", "turning"
"""How a head is carried between marks: to where they go, or turned evenly from one mark's facing to the
next one's."""

SAME_SPOT = 1e-6
"""Marks nearer to each other on the floor are one place. [m]"""

Cheeks = dict[str, tuple[np.ndarray, np.ndarray]]
"""'left' and 'right': place off the tip of the nose [m], and the unit vector that a flat meter faces there,
both in the head's own axes (ahead, left, up)."""


@dataclass(frozen=True, eq=False)
class Stop:
    """A mark on the way, or where the figure stands at first.

    Parameters
    ----------
    mark : str
        Its name; '' for the figure's own place.
    at : float array, shape (3,)
        On the floor. [m]
    head : Head
        There.
    watched : float array, shape (3,), or None
        The point that the eyes are on there. [m]
    """

    mark: str
    at: np.ndarray
    head: Head
    watched: np.ndarray | None = None


@dataclass(frozen=True, eq=False)
class Step:
    """A head somewhere on the way.

    Parameters
    ----------
    metres : float
        Along the way, from its start. [m]
    mark : str or None
        Name of the mark that it is at ('' for the figure's own place); None between marks.
    head : Head
    at : float array, shape (3,)
        Under it on the floor. [m]
    """

    metres: float
    mark: str | None
    head: Head
    at: np.ndarray


def length_of(stops: Sequence[Stop]) -> float:
    """Return how long a way is. [m]"""
    return float(sum(np.linalg.norm(other.at - one.at) for one, other in pairwise(stops)))


def steps_along(stops: Sequence[Stop], upright: Head, every: float, carried: str = AHEAD) -> list[Step]:
    """Return heads along a way: at each stop, and evenly between them no further apart than asked.

    Parameters
    ----------
    stops : sequence of Stop
        In the order of the way.
    upright : Head
        Of the figure standing, turned to +x, with the origin on the floor between its feet.
    every : float
        Most from one head to the next. [m]
    carried : str
        `AHEAD` or `TURNING`. With the first, eyes that are on the same point at both ends of a leg stay on
        it, as far as a neck turns.
    """
    steps, gone = [Step(0.0, stops[0].mark, stops[0].head, stops[0].at)], 0.0
    for one, other in pairwise(stops):
        leg = other.at - one.at
        span = float(np.linalg.norm(leg))
        if span > SAME_SPOT:
            count = max(1, int(np.ceil(span / every - 1e-9)))
            for number in range(1, count):
                share = number / count
                at = one.at + share * leg
                angle = _azimuth(one, other, at, share * span, span, carried)
                steps.append(Step(gone + share * span, None, _carried(upright, at, angle), at))
        gone += span
        steps.append(Step(gone, other.mark, other.head, other.at))
    return steps


def _angle(vector: np.ndarray) -> float:
    """Return the azimuth of a direction, from +x by +y. [rad]"""
    return float(np.arctan2(vector[1], vector[0]))


def _between(one: float, other: float, share: float) -> float:
    """Return an azimuth between two, the shorter way round. [rad]"""
    return one + share * _apart(one, other)


def _apart(one: float, other: float) -> float:
    """Return how far it is from one azimuth to another, the shorter way round. [rad]"""
    return float((other - one + np.pi) % (2 * np.pi) - np.pi)


def _azimuth(one: Stop, other: Stop, at: np.ndarray, gone: float, span: float, carried: str) -> float:
    """Return where a head faces on a leg, so much of which is gone [m]; azimuth from +x. [rad]"""
    first, last = _angle(one.head.ahead), _angle(other.head.ahead)
    if carried == TURNING:
        return _between(first, last, gone / span)
    leg = other.at - one.at
    # Straight up or down a ladder there is no azimuth to go by.
    going = _angle(leg) if np.linalg.norm(leg[:2]) > SAME_SPOT else _between(first, last, gone / span)
    if one.watched is not None and other.watched is not None and np.allclose(one.watched, other.watched):
        most = float(np.radians(HEAD_TURN))
        return going + float(np.clip(_apart(going, _angle(one.watched - at)), -most, most))
    turn = min(TURN, span / 2)
    if gone < turn:
        return _between(first, going, gone / turn)
    if span - gone < turn:
        return _between(last, going, (span - gone) / turn)
    return going


def _carried(upright: Head, at: np.ndarray, angle: float) -> Head:
    """Return an upright head put down at a place of the floor [m] and turned to an azimuth. [rad]"""
    turn = np.array([[np.cos(angle), -np.sin(angle), 0], [np.sin(angle), np.cos(angle), 0], [0, 0, 1.0]])
    return Head(upright.figure, "", at + turn @ upright.nose, at + turn @ upright.face, turn @ upright.ahead)


def cheeks_in(head: Head, probes: Sequence[Probe]) -> Cheeks:
    """Return where the flat meters of a figure's own face lie in its head's axes.

    Raises
    ------
    KeyError
        There is none at one of its cheeks.
    """
    axes = np.stack([head.ahead, head.left, head.up])
    by_name = {probe.name: probe for probe in probes}
    found = {side: by_name[f"{head.figure}: {side} cheek"] for side in ("left", "right")}
    return {side: (axes @ (probe.position - head.nose), axes @ probe.normal) for side, probe in found.items()}


def cheek_probes(head: Head, cheeks: Cheeks, names: tuple[str, str]) -> list[Probe]:
    """Return the flat meters at a head's left and right cheek, under these names, with nobody there."""
    axes = np.stack([head.ahead, head.left, head.up], axis=1)
    return [Probe(name, head.nose + axes @ cheeks[side][0], axes @ cheeks[side][1])
            for side, name in zip(("left", "right"), names, strict=True)]


SHIN, SHOULDER = 0.3, 1.3
"""Heights over the floor at which a way is tried for what stands in it. [m]  Common practice, no source."""


def in_the_way(steps: Sequence[Step], meshes: Sequence[Mesh]) -> list[tuple[str, float, float]]:
    """Return what a straight way goes through, as (name, first metres, last metres), in its order.

    What stands at a mark is left out: a figure sits on it.
    """
    found: dict[str, list[float]] = {}
    marks = [step.at for step in steps if step.mark is not None]
    heights = np.array([[0, 0, SHIN], [0, 0, SHOULDER]])
    starts = np.concatenate([step.at + heights for step in steps[:-1]])
    ends = np.concatenate([step.at + heights for step in steps[1:]])
    middles = np.repeat([(a.metres + b.metres) / 2 for a, b in pairwise(steps)], len(heights))
    for mesh in meshes:
        low, high = mesh.vertices.min(axis=0), mesh.vertices.max(axis=0)
        if mesh.role != "set" or _sat_on(mesh, marks):
            continue
        near = np.flatnonzero(np.all((np.minimum(starts, ends) <= high) & (np.maximum(starts, ends) >= low),
                                     axis=1))
        for k in near:
            if _cuts(starts[k], ends[k], mesh.vertices[mesh.faces]):
                found.setdefault(mesh.name, []).append(float(middles[k]))
    return sorted(((name, min(at), max(at)) for name, at in found.items()), key=lambda each: each[1:])


def between(start: np.ndarray, end: np.ndarray, meshes: Sequence[Mesh]) -> tuple[str, ...]:
    """Return the things of the set that stand between two points [m], in the order of the meshes."""
    low, high = np.minimum(start, end), np.maximum(start, end)
    found = [mesh.name for mesh in meshes if mesh.role == "set"
             and np.all(low <= mesh.vertices.max(axis=0)) and np.all(high >= mesh.vertices.min(axis=0))
             and _cuts(start, end, mesh.vertices[mesh.faces])]
    return tuple(dict.fromkeys(found))


SEAT_LIKE = 1.0
"""What a figure sits or lies on is no higher. [m]  Common practice, no source."""


def _sat_on(mesh: Mesh, marks: Sequence[np.ndarray]) -> bool:
    """Return whether a low thing stands where a mark is."""
    low, high = mesh.vertices.min(axis=0), mesh.vertices.max(axis=0)
    return bool(high[2] <= SEAT_LIKE) and any(
        np.all(low[:2] <= at[:2]) and np.all(at[:2] <= high[:2]) for at in marks)


def _cuts(start: np.ndarray, end: np.ndarray, corners: np.ndarray) -> bool:
    """Return whether a line from a point to another meets any of some triangles, shape (n, 3, 3).

    Source
    ------
    Moeller and Trumbore, Journal of Graphics Tools 2 (1997) 21 (from memory).
    """
    along = end - start
    one, other = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    across = np.cross(along, other)
    det = np.einsum("nk,nk->n", one, across)
    flat = np.abs(det) < 1e-12
    inverse = 1 / np.where(flat, 1.0, det)
    offset = start - corners[:, 0]
    u = np.einsum("nk,nk->n", offset, across) * inverse
    turned = np.cross(offset, one)
    v = turned @ along * inverse
    t = np.einsum("nk,nk->n", other, turned) * inverse
    return bool(np.any(~flat & (u >= 0) & (v >= 0) & (u + v <= 1) & (t >= 0) & (t <= 1)))
