"""How much two stages differ in what a camera sees of each lamp, measured with few paths.

Both stages are rendered small, in one band, with the same random numbers: a path that does not
meet what differs is the same in both and cancels to the last bit, so that a small difference
shows in few paths.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from previz.engine.render import open_stage, pass_seed
from previz.stage.records import Camera, Stage

WIDTH = 96
"""Of the small picture. [px]"""

SHADOW, TILE = 6, 12
"""Sides of the tiles that are told apart, for light that comes straight and for all light. [px]

A shadow has edges and little noise; what is bounced is spread wide and has much."""

COPIES, MOST_ROUNDS = 16, 6
"""Paths a pixel of one round, and rounds after which it is not looked closer."""

_SEED = 20_001

LEAST_LIGHT = 0.1
"""Where a lamp gives less than this share of its mean over the picture, a tile's change is told
relative to that share. [1]"""


@dataclass(frozen=True, eq=False)
class Influence:
    """What a camera sees of the difference of two stages.

    Parameters
    ----------
    seen : tuple of str
        Things that differ and that the camera sees.
    whole : float array, shape (light,)
        Change of each lamp's light over the picture. [1]
    worst : float array, shape (light,)
        Largest change in a tile, of straight light or of all, over all light there; with its
        standard error added. [1]
    """

    seen: tuple[str, ...]
    whole: np.ndarray
    worst: np.ndarray


def influence(old: Stage, new: Stage, camera: Camera, changed, size: tuple[int, int],
              engine: str = "auto", enough: float = 0.0) -> Influence:
    """Return what a camera sees of the difference of two stages.

    Parameters
    ----------
    old, new : Stage
        With the same lamps in the same order.
    camera : Camera
    changed : collection of str
        Names of the things that differ, in either.
    size : (int, int)
        Width and height of the picture that must not show them. [px]
    engine : str
        See `open_stage`.
    enough : float
        It is not looked closer where every tile's change is surely above or below this. [1]
    """
    # Guides say where rays are aimed; the same for both, so that paths differ by what they meet.
    buffers = [open_stage(replace(stage, guides=new.guides), 1, engine) for stage in (old, new)]
    for aimed in ("choice", "guide_data"):
        setattr(buffers[0], aimed, getattr(buffers[1], aimed))
    seen = {name for each in buffers for name in _names_seen(each, camera, *size, changed)}
    height = max(TILE, round(WIDTH / camera.aspect))
    before, after = [], []
    for turn in range(MOST_ROUNDS):
        for kept, each in ((before, buffers[0]), (after, buffers[1])):
            kept.append(_paths(each, camera, height, pass_seed(_SEED, turn)))
        whole, surely, at_most = _told(np.concatenate(before), np.concatenate(after))
        if np.all((surely > enough) | (at_most < enough)):
            break
    return Influence(tuple(sorted(seen)), whole, at_most)


def _paths(buffers, camera: Camera, height: int, seed: int) -> np.ndarray:
    """Return single paths of the small picture. Shape (copy, row, column, 2, light)

    The 2 are light that comes straight, and bounced. Every path has a thread of its own: one that
    meets what differs does not put others out of step, as the next samples of its thread would be.
    """
    from previz.engine.kernel import Transport
    from previz.engine.starts import CameraStart, Copies

    start = Copies(CameraStart(camera, WIDTH, height), WIDTH * height)
    sums = Transport(buffers, start).run(0, COPIES * WIDTH * height, 1, seed)
    return np.array(sums).reshape(COPIES, height, WIDTH, 2, -1)


def _told(before: np.ndarray, after: np.ndarray):
    """Return each lamp's change: over the picture; in the worst tile at least, and at most."""
    change = after - before
    every = before.sum(axis=3)
    level = every.mean(axis=(0, 1, 2))
    whole = np.abs(change.sum(axis=3).mean(axis=(0, 1, 2))) / np.where(level > 0, level, np.inf)
    bounds = []
    for part, side in ((change[:, :, :, 0], SHADOW), (change.sum(axis=3), TILE)):
        tiles, light = _tiles(part, side), _tiles(every, side).mean(axis=0)
        mean, error = tiles.mean(axis=0), tiles.std(axis=0, ddof=1) / np.sqrt(len(tiles))
        floor = np.maximum(light, LEAST_LIGHT * level)
        safe = np.where(floor > 0, floor, np.inf)
        bounds.append([((np.abs(mean) + sign * error) / safe).max(axis=0) for sign in (-1, 1)])
    return (whole, *np.max(bounds, axis=0))


def _tiles(paths: np.ndarray, side: int) -> np.ndarray:
    """Return means over square tiles. Shape (copy, tile, light)"""
    copies, height, width, lights = paths.shape
    rows, columns = height // side, width // side
    cut = paths[:, :rows * side, :columns * side].reshape(copies, rows, side, columns, side, lights)
    return cut.mean(axis=(2, 4), dtype=float).reshape(copies, rows * columns, lights)


def _names_seen(buffers, camera: Camera, width: int, height: int, names) -> list[str]:
    """Return which of some things a camera sees, through the middle of each pixel and its lens."""
    import drjit as dr
    import mitsuba as mi

    from previz.engine.kernel import Hit
    from previz.engine.starts import CameraStart

    start = CameraStart(camera, width, height)
    whole = dr.arange(mi.UInt, width * height)
    row = whole // width
    x, y = mi.Float(whole - row * width) + 0.5, mi.Float(row) + 0.5
    hit = Hit(buffers, mi.Ray3f(*start.through(x, y, mi.Point2f(0))), mi.Bool(True))
    name = np.array(dr.select(hit.valid, mi.Int(
        dr.gather(mi.UInt, buffers.face_name, hit.face, hit.valid)), -1))
    found = np.unique(name)
    return [each for number, each in enumerate(buffers.geometry.names)
            if each in names and number in found]
