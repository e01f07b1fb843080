"""How much two stages differ in what a camera or a meter sees of each lamp, measured with few paths.

Both stages are rendered small, in one band, with the same random numbers: a path that does not
meet what differs is the same in both and cancels to the last bit, so that a small difference
shows in few paths.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from previz.engine.render import open_stage, pass_seed
from previz.stage.mesh_gate import hold
from previz.stage.records import Camera, Stage

WIDTH = 96
"""Of the small picture. [px]"""

SHADOW, TILE = 6, 12
"""Sides of the tiles that are compared, for light that comes straight and for all light. [px]

A shadow has edges and little noise; what is bounced is spread wide and has much."""

COPIES, MOST_ROUNDS = 16, 6
"""Paths a pixel of one round, and rounds after which no more are traced."""

METER_PATHS = 8192
"""Paths of a meter in one round."""

VIEW = 480
"""Width of the grid on which a spot meter's camera is searched for what differs. [px]"""

EDGE = 1e-4
"""By how much a face may miss the frame and still be looked for, over its largest coordinate and one. [1]"""

_SEED = 20_001

LEAST_LIGHT = 0.1
"""Where a lamp gives less than this share of its mean over the picture, a tile's change is stated
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
    changed : collection of str
        Names of the things that differ, in either.
    size : (int, int)
        Width and height of the camera's picture, which must not show them. [px]
    enough : float
        No more paths are traced where every tile's change is surely above or below this. [1]
    """
    buffers = alike(old, new, engine)
    seen = {name for each in buffers for name in _names_seen(each, camera, *size, changed)}
    height = max(TILE, round(WIDTH / camera.aspect))
    before, after = [], []
    for turn in range(MOST_ROUNDS):
        for kept, each in ((before, buffers[0]), (after, buffers[1])):
            kept.append(_paths(each, camera, height, pass_seed(_SEED, turn)))
        whole, surely, at_most = _changes(np.concatenate(before), np.concatenate(after))
        if np.all((surely > enough) | (at_most < enough)):
            break
    return Influence(tuple(sorted(seen)), whole, at_most)


def alike(old: Stage, new: Stage, engine: str) -> list:
    """Return both stages on the device, in one band, with rays aimed alike."""
    now = open_stage(new, 1, engine)
    from previz.engine.upload import Buffers

    before = replace(old, guides=new.guides)
    hold(before)
    # Paths are sent out alike in both, so that they differ by what they meet.
    return [Buffers(before, 1, aimed=now), now]


def meter_influence(buffers, changed, starts, enough: float = 0.0) -> np.ndarray:
    """Return how much the light of each lamp at each meter differs between two stages.

    Parameters
    ----------
    buffers : sequence of two upload.Buffers
        Both stages; see `alike`.
    changed : collection of str
        Names of the things that differ, in either.
    starts : sequence of (int, Camera or None, function)
        How many meters there are; the camera that they are taken through, None for incident meters;
        and (paths of each meter, turn) -> start with a thread for each path.
    enough : float
        No more paths are traced where every change is surely above or below this. [1]

    Returns
    -------
    float array, shape (meter, light)
        Change over all of the lamp's light there, its standard error added; inf where the camera
        sees what differs. [1]
    """
    from previz.engine.kernel import Transport

    found, lamps = [], buffers[0].lamps
    for meters, camera, start in starts:
        if camera is not None and any(
                _names_seen(each, camera, VIEW, max(1, round(VIEW / camera.aspect)), changed)
                for each in buffers):
            found.append(np.full((meters, lamps), np.inf))
            continue
        sums = []
        for turn in range(MOST_ROUNDS):
            # Every path has a thread of its own, as in `_paths`.
            pair = [np.array(Transport(each, start(METER_PATHS, turn)).run(
                0, meters * METER_PATHS, 1, pass_seed(_SEED, turn)), float).reshape(
                    meters, METER_PATHS, 2, lamps).sum(axis=2) for each in buffers]
            sums.append(pair)
            before, after = (np.concatenate(each, axis=1) for each in zip(*sums, strict=True))
            level = after.mean(axis=1)
            change = after - before
            mean = np.abs(change.mean(axis=1))
            error = change.std(axis=1, ddof=1) / np.sqrt(change.shape[1])
            safe = np.where(level > 0, level, np.inf)
            # No light in either is no change; light in the old stage alone is all of it.
            at_most = np.where(level > 0, (mean + error) / safe, np.where(mean > 0, np.inf, 0.0))
            if np.all((at_most < enough) | ((mean - error) / safe > enough)):
                break
        found.append(at_most)
    return np.concatenate(found)


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


def _changes(before: np.ndarray, after: np.ndarray):
    """Return each lamp's change: over the picture; in the worst tile at least, and at most."""
    change = after - before
    # As `sum` over the two has it, and in a third of its time.
    every, moved = (each[..., 0, :] + each[..., 1, :] for each in (before, change))
    level = every.mean(axis=(0, 1, 2))
    whole = np.abs(moved.mean(axis=(0, 1, 2))) / np.where(level > 0, level, np.inf)
    bounds = []
    for part, side in ((change[:, :, :, 0], SHADOW), (moved, TILE)):
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
    # Mostly they hang out of the picture: then no ray has to be traced.
    if not _in_view(buffers.geometry, camera, names):
        return []
    return [each for each in _rays_meet(buffers, camera, width, height) if each in names]


def _rays_meet(buffers, camera: Camera, width: int, height: int) -> list[str]:
    """Return the things that rays through the middles of all pixels and of the lens meet first."""
    from previz.engine.hit import Hit, names_of
    from previz.engine.jit import mi
    from previz.engine.starts import CameraStart

    hit = Hit(buffers, mi.Ray3f(*CameraStart(camera, width, height).middles()), mi.Bool(True))
    found = np.unique(np.array(names_of(buffers, hit)))
    return [each for number, each in enumerate(buffers.geometry.names) if number in found]


def _in_view(geometry, camera: Camera, names) -> bool:
    """Return whether any face of some things reaches into what a camera frames, hidden or not."""
    looked_for = [number for number, name in enumerate(geometry.names) if name in names]
    corners = geometry.positions[geometry.faces[np.isin(geometry.face_name, looked_for)]]
    axes = np.asarray(camera.world_from_camera, float)
    right, up, ahead = np.moveaxis((corners - np.asarray(camera.position, float)) @ axes, -1, 0)
    across, upwards = camera.tan_half
    # A face all of whose corners lie beyond one side of the frame, or behind the lens, is not in it.
    sides = (ahead, across * ahead - right, across * ahead + right,
             upwards * ahead - up, upwards * ahead + up)
    slack = EDGE * (1 + np.abs(corners).max(axis=-1, initial=0))
    return bool(np.any(np.all([np.any(side > -slack, axis=1) for side in sides], axis=0)))
