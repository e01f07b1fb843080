"""What of a picture no lamp explains, and from which side light would have to come."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.exposure.comparing.views import bearing
from previz.frames import Frames
from previz.levels.missing_light import Missing, Surfaces, missing_light
from previz.levels.picture_model import PictureFit
from previz.levels.picture_regions import Cells
from previz.physics.arrays import FloatArray
from previz.physics.chromatic_adaptation import D65_XY, REC709_XY, xyz_from_rgb
from previz.sight.rig_seen import side_of_pixels
from previz.stage.records import Camera, Stage

LOWEST = 0.1
"""No lamp stands lower over the floor, which is at 0. [m]"""


@dataclass(frozen=True, eq=False)
class Leftover:
    """What is not explained.

    Parameters
    ----------
    stops : float array, shape (row, column)
        Picture over fit; nan where nothing is known. [stops]
    missing : Missing or None
        Light that no lamp gives.
    thing : str
        What it falls on most.
    where : str
        Where it is in the frame: 'upper left'.
    side, height : float
        Where the light comes from, seen from there: right (+) or left (-) of the lens, over (+) or under
        the level. [deg]
    """

    stops: FloatArray
    missing: Missing | None = None
    thing: str = ""
    where: str = ""
    side: float = 0.0
    height: float = 0.0


def places_seen(camera: Camera, depth: np.ndarray) -> FloatArray:
    """Return where each pixel's surface is, nan where there is none. Shape (3, row, column) [m]"""
    rows, columns = depth.shape
    x = ((np.arange(columns) + 0.5) / columns * 2 - 1) * camera.tan_half[0]
    y = (1 - (np.arange(rows) + 0.5) / rows * 2) * camera.tan_half[1]
    rays = np.stack(np.broadcast_arrays(x[None, :], y[:, None], np.ones((1, 1))))
    world = np.tensordot(np.asarray(camera.world_from_camera, float), rays, 1)
    reach = np.where(np.isfinite(depth), depth, np.nan)
    return np.asarray(camera.position, float)[:, None, None] + world * reach


def left_over(stage: Stage, camera: Camera, frames: Frames, cells: Cells, fit: PictureFit) -> Leftover:
    """Return what a fit leaves over, and where its light would come from."""
    known = np.isfinite(fit.residual).any(axis=1)
    stops = np.full(cells.count, np.nan)
    stops[known] = np.nanmedian(fit.residual[known], axis=1)
    plane = cells.spread(stops)
    surfaces = _surfaces(camera, frames, cells)
    bounds = _bounds(camera, surfaces)
    missing = missing_light(cells, surfaces, stops, fit.expected, fit.luminance, fit.share, bounds, LOWEST)
    if missing is None:
        return Leftover(plane)
    mask = cells.spread(missing.regions.astype(float), 0.0) > 0.5
    seen = np.asarray(frames.names_index)[mask]
    number = int(np.bincount(seen[seen >= 0]).argmax()) if (seen >= 0).any() else -1
    towards = np.asarray(camera.position, float) - missing.centre
    side, height = bearing(missing.place - missing.centre, towards)
    # The camera looks the other way: what is to the right of the line to it is on its left.
    return Leftover(plane, missing, frames.names[number] if number >= 0 else "sky", side_of_pixels(mask),
                    -side, height)


def _surfaces(camera: Camera, frames: Frames, cells: Cells) -> Surfaces:
    places = np.nan_to_num(places_seen(camera, np.asarray(frames.depth, float)))
    position = np.stack([cells.mean(plane) for plane in places], axis=1)
    normal = np.stack([cells.mean(plane) for plane in np.asarray(frames.normal, float)], axis=1)
    long = np.linalg.norm(normal, axis=1, keepdims=True)
    weights = xyz_from_rgb(REC709_XY, D65_XY)[1]
    albedo = cells.mean(np.tensordot(weights, np.asarray(frames.albedo, float), 1))
    return Surfaces(position, np.where(long > 0.3, normal / np.maximum(long, 1e-9), 0.0), albedo)


def _bounds(camera: Camera, surfaces: Surfaces) -> tuple[FloatArray, FloatArray]:
    """Return the corners of the room as far as it is seen, the camera in it."""
    seen = surfaces.position[np.abs(surfaces.normal).sum(axis=1) > 0]
    at = np.asarray(camera.position, float)
    if not len(seen):
        return at - 1, at + 1
    low, high = np.percentile(seen, [3, 97], axis=0)
    return np.minimum(low, at), np.maximum(high, at)
