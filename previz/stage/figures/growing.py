"""How hair grows: roots over the scalp, guides that run along it or hang, and locks about guides.

A few hundred guides are marched step by step, pushed out of the head at every step; thousands of
strands follow the nearest guide, closer to it towards their tips, so that they form locks.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.stage.figures.mesh import cross, smooth_step, unit
from previz.stage.figures.strands import scatter, tangents

FADE = 12e-3
"""Width over which roots thin out at the hairline. Common practice, no source. [m]"""

_GOLDEN = np.pi * (3 - np.sqrt(5))

# About this much of all directions from a skull's middle lie inside its hairline.
_HAIRY = 0.54


def roots(skull, count, salt, *, fade=FADE, over=0.0):
    """Return about `count` unit vectors from the skull's centre to roots, even over the scalp.

    Roots thin out from all of them `fade` inside the hairline to none `over` outside it. [m]
    """
    number = int(count / _HAIRY)
    place = np.arange(number) + 0.5
    # Points of a spiral lie evenly on a ball; each is moved by up to a half of their distance.
    up = 1 - 2 * place / number + (scatter(number, salt) - 0.5) * 2.0 / np.sqrt(number) * 0.5
    turn = _GOLDEN * place + (scatter(number, salt + 1) - 0.5) * 3.0 / np.sqrt(number)
    flat = np.sqrt(np.maximum(1 - np.clip(up, -1, 1) ** 2, 0))
    out = np.stack([flat * np.cos(turn), flat * np.sin(turn), np.clip(up, -1, 1)], axis=-1)
    out = out[out[:, 2] > -0.85]
    inside = skull.from_line(out)
    return out[smooth_step(inside, -over - 1e-9, fade) > scatter(len(out), salt + 2)]


def about(skull, guides, count, salt, *, fade=FADE, over=0.0, near=None):
    """Return about `count` roots round the guides, and which guide each has.

    `fade` and `over` as in `roots`; with `near` only guides within so much of the hairline are used. [m]
    """
    chosen = np.arange(len(guides.root))
    if near is not None:
        chosen = chosen[skull.from_line(guides.root) < near]
    lead = chosen[np.arange(count) % len(chosen)]
    # A guide's strands stand in a disc that meets those of its neighbours.
    spread = 0.85 * np.sqrt(4 * np.pi * _HAIRY / len(guides.root))
    size = spread * np.sqrt(scatter(count, salt))
    turn = 2 * np.pi * scatter(count, salt + 1)
    out = guides.root[lead]
    aside = unit(np.stack([out[:, 1], -out[:, 0], np.full(count, 1e-6)], axis=-1))
    upward = cross(out, aside)
    out = unit(out + (size * np.cos(turn))[:, None] * aside + (size * np.sin(turn))[:, None] * upward)
    inside = skull.from_line(out)
    kept = smooth_step(inside, -over - 1e-9, fade) > scatter(count, salt + 2)
    return out[kept], lead[kept]


@dataclass(frozen=True)
class Guides:
    """Paths that strands follow.

    Parameters
    ----------
    root : float array, shape (guides, 3)
        Unit vectors from the skull's centre.
    paths : float array, shape (guides, points, 3)
        [m]
    """

    root: np.ndarray
    paths: np.ndarray


def march(skull, root, lengths, flow, lift, points, *, hang=False, ears=True, early=1.0):
    """Return guides from roots.

    Parameters
    ----------
    skull : Scalp
    root : float array, shape (guides, 3)
    lengths : float array, shape (guides,)
        [m]
    flow : callable
        (unit vectors outward, direction so far or None, path so far [m], whether off the head) ->
        directions to go on in.
    lift : callable
        (unit vectors outward, path so far [m]) -> least height over the skin. [m]
    hang : bool
        Whether hair may leave the head; else it keeps to `lift`.
    ears : bool
        Whether it runs over the ears, or through where they are.
    early : float
        Above 1 steps are the shorter the nearer they are to the root, where hair bends most.
    """
    gone, ahead = np.zeros(len(root)), None
    free = np.zeros(len(root), bool)
    here, out = skull.at(root), root
    paths = [here]
    for step in np.diff(np.linspace(0, 1, points) ** early):
        far = lengths * step
        ahead = unit(flow(out, ahead, gone, free))
        gone = gone + far
        aim = here + ahead * far[:, None]
        out = unit(aim - skull.centre)
        height = skull.reach(out, ears=ears) + lift(out, gone)
        if hang:
            own = np.linalg.norm(aim - skull.centre, axis=-1)
            free, height = own > height, np.maximum(own, height)
        there = skull.centre + out * height[:, None]
        ahead, here = there - here, there
        paths.append(here)
    return Guides(root, np.stack(paths, axis=1))


def tangent(direction, out):
    """Return directions along the skin: what of them is square to the outward ones."""
    return direction - np.sum(direction * out, axis=-1, keepdims=True) * out


def ruffled(out, strength, salt=0.0):
    """Return directions of a slow, smooth disorder over the head. [1]"""
    x, y, z = np.moveaxis(out, -1, 0)
    return strength * np.stack([
        np.sin(7.3 * y + 3.1 * z + 1.0 + salt) + 0.6 * np.sin(13.7 * z - 9.1 * x + salt),
        np.sin(8.1 * x - 4.7 * z + 2.0 + salt) + 0.6 * np.sin(15.1 * y + 7.9 * x - salt),
        np.sin(6.7 * x + 5.3 * y + 4.0 - salt) + 0.6 * np.sin(12.3 * x - 11.1 * y + salt)], axis=-1)


def follow(skull, guides, root, lead, salt, *, points, clump=0.7, shorter=0.3, level=(0.35, 1.05),
           stray=0.04, away=6e-3, least=0.5e-3, ears=True):
    """Return strands about guides: paths and outward directions, shape (strands, points, 3).

    Parameters
    ----------
    skull : Scalp
    guides : Guides
    root : float array, shape (strands, 3)
    lead : int array, shape (strands,)
        The guide of each.
    salt : int
        Picks what is random.
    clump : float
        How far tips draw together to a lock, 0 to 1.
    shorter : float
        Most that a strand ends before its guide, as a share.
    level : (float, float)
        Least and greatest height over the skin, over the guide's.
    stray : float
        Share of strands that leave their lock.
    away : float
        How far they do. [m]
    least : float
        Height over the skin that none is under but at its root. [m]
    """
    count, knots = len(root), guides.paths.shape[1]
    step = np.linspace(0, 1, points)
    end = 1 - shorter * scatter(count, salt) ** 1.5
    place = end[:, None] * step * (knots - 1)
    low = np.minimum(place.astype(int), knots - 2)
    part = (place - low)[..., None]
    outward = unit(guides.paths - skull.centre)
    along = tangents(guides.paths)
    across = unit(cross(along, outward))
    table = np.concatenate([guides.paths, across, along], axis=2).reshape(-1, 9)
    first = lead[:, None] * knots + low
    read = table[first] * (1 - part) + table[first + 1] * part
    paths, aside, ahead = read[..., :3], read[..., 3:6], read[..., 6:]
    off = skull.at(root) - guides.paths[lead, 0]
    sideways = np.einsum("ij,ij->i", off, across[lead, 0])
    forwards = np.einsum("ij,ij->i", off, along[lead, 0])
    loose = scatter(count, salt + 1) < stray
    draw = clump * (0.55 + 0.45 * scatter(count, salt + 2))
    draw = np.where(loose, -0.6 * scatter(count, salt + 3), draw)
    apart = 1 - draw[:, None] * step**0.7
    wander = (scatter(count, salt + 4) - 0.5)[:, None] * step**1.3 * np.where(loose, away, 1.6e-3)[:, None]
    paths = paths + aside * (sideways[:, None] * apart + wander)[..., None]
    paths = paths + ahead * (forwards[:, None] * (1 - 0.5 * draw[:, None] * step))[..., None]
    gap = paths - skull.centre
    distance = np.sqrt(np.einsum("...i,...i", gap, gap))
    out = gap / distance[..., None]
    reach = skull.reach(out, ears=ears)
    share = level[0] + (level[1] - level[0]) * np.sqrt(scatter(count, salt + 5))
    height = np.maximum(distance - reach, 0.0) * (1 - (1 - share[:, None]) * np.minimum(3 * step, 1))
    height = height + (loose * away * scatter(count, salt + 6))[:, None] * step**1.5
    height = np.maximum(height, least * np.minimum(4 * step, 1) - 0.8e-3 * (step == 0))
    return skull.centre + out * (reach + height)[..., None], out
