"""Spot meters as probes of the engine: camera rays that meet one thing, and no others.

What a camera sees of a thing is found first: film points whose ray, from the middle of the lens,
meets it. Each path of a spot meter then has a film point of its own, drawn evenly over the picture
of the thing, so the reading is the mean luminance over the thing's pixels at any picture size. No
rendered picture takes part.
"""

from __future__ import annotations

import numpy as np

from previz.engine.device import on_device
from previz.engine.gather import THREADS, Gather
from previz.engine.hit import Hit, names_of
from previz.engine.jit import dr, mi
from previz.engine.render import USUAL_LIMITS, Limits
from previz.engine.sights import COLUMNS
from previz.engine.starts import CameraStart
from previz.stage.records import Camera

GRID_RAYS = 2
"""Rays of each pixel of that grid."""

DRAWN = 1 << 17
"""Film points tried at once."""

TRIES = 16
"""Times that film points are drawn before those found are used again."""


class View:
    """One camera's picture as far as spot meters need it: which film point shows which `Sight`.

    Surfaces are the names of the stage's, in their order.
    """

    def __init__(self, buffers, surfaces, camera: Camera, sights):
        self.buffers, self.sights = buffers, tuple(sights)
        self.surfaces = list(surfaces)
        self.width = COLUMNS
        self.height = max(1, round(COLUMNS / camera.aspect))
        self.start = CameraStart(camera, self.width, self.height)
        rng = np.random.default_rng(0)
        row, column = np.divmod(np.arange(self.width * self.height), self.width)
        seen = np.zeros((len(self.sights), self.height, self.width), int)
        for _ in range(GRID_RAYS):
            x, y = column + rng.random(column.size), row + rng.random(row.size)
            for i, shown in enumerate(self._shown(x, y, range(len(self.sights)))):
                seen[i] += shown.reshape(self.height, self.width)
        self.share = seen.sum(axis=(1, 2)) / (GRID_RAYS * self.width * self.height)
        self.pixels = [np.flatnonzero(_grown(each > 0)) for each in seen]

    def _shown(self, x, y, which):
        """Yield, for some sights, where the rays through film points meet them."""
        count = len(x)
        x, y = on_device(mi.Float, x), on_device(mi.Float, y)
        origin, direction = self.start.through(x, y, mi.Point2f(0))
        hit = Hit(self.buffers, mi.Ray3f(origin, direction), dr.full(mi.Bool, True, count))
        name = names_of(self.buffers, hit)
        dr.eval(name, hit.surface, hit.point)
        name, surface, point = np.array(name), np.array(hit.surface), np.array(hit.point).T
        for i in which:
            sight = self.sights[i]
            shown = name == self.buffers.geometry.names.index(sight.thing)
            if sight.surface:
                shown &= surface == self.surfaces.index(sight.surface)
            if sight.centre is not None:
                offset = point[shown] - sight.centre
                shown[shown] = np.sum(offset**2, axis=1) <= sight.radius**2
            yield shown

    def film_points(self, index: int, count: int, seed: int) -> np.ndarray:
        """Return film points that show one sight, drawn evenly. Shape (count, 2) [px]

        Raises
        ------
        ValueError
            The camera does not see it.
        """
        pixels = self.pixels[index]
        if not pixels.size:
            raise ValueError(f"the camera does not see '{self.sights[index].name}'")
        rng = np.random.default_rng(seed)
        found, have = [], 0
        for _ in range(TRIES):
            pick = rng.choice(pixels, min(DRAWN, 4 * count))
            corner = np.stack([pick % self.width, pick // self.width], axis=1)
            place = corner + rng.random(corner.shape)
            shown, = self._shown(place[:, 0], place[:, 1], (index,))
            found.append(place[shown])
            have += int(np.count_nonzero(shown))
            if have >= count:
                break
        every = np.concatenate(found)
        if not len(every):
            raise ValueError(f"the camera hardly sees '{self.sights[index].name}'")
        return np.resize(every, (count, 2))


def _grown(mask: np.ndarray) -> np.ndarray:
    """Return a mask with the pixels round it, as things reach into those unseen by the grid."""
    wide = np.pad(mask, 1)
    rows, columns = mask.shape
    return np.any([wide[i:i + rows, j:j + columns] for i in range(3) for j in range(3)], axis=0)


class SpotStart(CameraStart):
    """Rays through given film points [px], from the middle of the lens. Shape (threads, samples, 2)"""

    slots = 2

    def __init__(self, view: View, camera: Camera, points: np.ndarray):
        super().__init__(camera, view.width, view.height)
        # Read by the kernel, not compiled into it: rounds of every length share one kernel.
        self.samples = dr.opaque(mi.UInt, points.shape[1])
        self.points = on_device(mi.Float, points)

    def ray(self, whole, sample, rng):
        """Return the ray of a thread's path."""
        at = 2 * (whole * self.samples + dr.minimum(sample, self.samples - 1))
        x, y = (dr.gather(mi.Float, self.points, at + k) for k in range(2))
        return self.through(x, y, mi.Point2f(0))


class SpotJob(Gather):
    """Spot meters of several cameras: call `run`, then take `batches`.

    Parameters
    ----------
    buffers, stage, seed, limits
        See `Gather`.
    aims : sequence of (Camera, View, int)
        Camera, its view, and which of the view's sights; each meter is named 'sight, camera'.
    """

    stream = 1 << 24
    hit_gain = 1.0

    def __init__(self, buffers, stage, aims, seed: int = 1, limits: Limits = USUAL_LIMITS):
        self.aims = tuple(aims)
        names = (f"{view.sights[i].name}, {camera.name}" for camera, view, i in self.aims)
        super().__init__(buffers, stage, names, seed, limits)

    def starts(self, which, samples, seed):
        """Yield the meters of each view together."""
        views = dict.fromkeys(id(self.aims[meter][1]) for meter in which)
        for key in views:
            meters = np.array([m for m in which if id(self.aims[m][1]) == key])
            camera, view, _ = self.aims[meters[0]]
            points = [view.film_points(self.aims[m][2], THREADS * samples, seed + int(m))
                      for m in meters]
            shape = (len(meters) * THREADS, samples, 2)
            yield meters, SpotStart(view, camera, np.concatenate(points).reshape(shape))
