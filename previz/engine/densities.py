"""One camera's picture at several densities of the haze, from one render.

Every path is weighed anew for each density (see `tally`), so the pictures differ by the haze and
not by noise. The lamps are mixed as they are set; what the air itself sends to the camera is
kept by itself.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.engine.render import Sampling, pass_seed
from previz.physics.light import lamps_band_xyz
from previz.stage.records import Camera, Stage

MOST_TIMES = 2.0
"""Farther up than this a density is not taken from a render of another: its paths that scatter
often are too few, and weigh too much."""

MOST_NOISE = 2.0
"""A density whose picture is noisier than that of the density rendered by more than this factor
is rendered anew."""

DEVICE_FLOATS = 96_000_000
"""Most sums held on the device at once."""


@dataclass(frozen=True, eq=False)
class HazePicture:
    """A picture at one density.

    Parameters
    ----------
    factor : float
        On the density of the scene's haze. [1]
    xyz : float array, shape (3, row, column)
        All light. [cd/m²]
    air : float array, shape (3, row, column)
        The part of it that the air sends into the line of sight. [cd/m²]
    error : float array, shape (row, column)
        Standard error of the luminance; inf from a single pass. [cd/m²]
    """

    factor: float
    xyz: np.ndarray
    air: np.ndarray
    error: np.ndarray

    @property
    def noise(self) -> float:
        """Standard error of a pixel over the picture's mean luminance, root mean square. [1]"""
        mean = float(self.xyz[1].mean())
        return float(np.sqrt(np.mean(self.error**2))) / mean if mean > 0 else np.inf


class DensityJob:
    """The render of one camera at several densities: run `step` until `finished`.

    Parameters
    ----------
    buffers : upload.Buffers
        The stage on the device.
    stage : Stage
        With haze.
    camera : Camera
    width, height : int
        [px]
    sampling : Sampling
    factors : sequence of float
        Times the stage's density.

    Raises
    ------
    ValueError
        The stage has no haze.
    """

    def __init__(self, buffers, stage: Stage, camera: Camera, width: int, height: int,
                 sampling: Sampling, factors):
        from previz.engine.kernel import Limits, Transport
        from previz.engine.starts import CameraStart

        if not buffers.has_haze:
            raise ValueError("a stage without haze has no densities")
        self.buffers, self.width, self.height = buffers, width, height
        self.sampling, self.factors = sampling, tuple(float(k) for k in factors)
        self.start = CameraStart(camera, width, height)
        self.transport = Transport(buffers, self.start,
                                   Limits(sampling.max_depth, sampling.roulette_depth),
                                   self.factors)
        self.weights = lamps_band_xyz(stage.lamps, buffers.bands).astype(np.float32)
        self.done = 0
        count = len(self.factors)
        self.total = np.zeros((width * height, count, 2, 3), np.float32)
        self.squares = np.zeros((width * height, count), np.float32)

    @property
    def finished(self) -> bool:
        """True once all passes are in."""
        return self.done >= self.sampling.passes

    def step(self) -> None:
        """Run one pass and add it. An interrupt leaves the passes before it whole."""
        seed = pass_seed(self.sampling.seed, self.done)
        each = self.sampling.samples // self.sampling.passes
        buffers, count = self.buffers, len(self.factors)
        if not buffers.lamps:
            # Dark at any density.
            self.done += 1
            return
        shape = (-1, count, 2, buffers.lamps, buffers.bands)
        per_row = self.width * count * 2 * buffers.lamps * buffers.bands
        rows = max(1, min(self.height, DEVICE_FLOATS // per_row))
        parts = []
        for top in range(0, self.height, rows):
            high = min(rows, self.height - top)
            sums = self.transport.run(top * self.width, high * self.width, each, seed)
            parts.append(np.einsum("pkalb,lbi->pkai", np.array(sums).reshape(shape), self.weights,
                                   optimize=True) / each)
        found = np.concatenate(parts)
        self.total += found
        self.squares += found[..., 1].sum(axis=2) ** 2
        self.done += 1

    def state(self) -> dict[str, np.ndarray]:
        """Return what has been summed so far, to be saved and given to `restore`."""
        return {"total": self.total, "squares": self.squares, "done": np.array(self.done)}

    def restore(self, state: dict[str, np.ndarray]) -> None:
        """Go on from a saved `state` of the same job.

        Raises
        ------
        ValueError
            The state is of another size.
        """
        if state["total"].shape != self.total.shape:
            raise ValueError("the saved state is of another picture")
        self.total, self.squares = state["total"].copy(), state["squares"].copy()
        self.done = int(state["done"])

    def pictures(self) -> list[HazePicture]:
        """Return the pictures of the passes done so far, one a factor.

        Raises
        ------
        ValueError
            No pass is done.
        """
        if not self.done:
            raise ValueError("no pass is done yet")
        grid = (self.height, self.width)
        mean = self.total / self.done
        both = mean.sum(axis=2)
        error = np.full_like(self.squares, np.inf)
        if self.done > 1:
            spread = np.maximum(self.squares / self.done - both[..., 1] ** 2, 0)
            error = np.sqrt(spread / (self.done - 1))
        return [HazePicture(factor, both[:, k].T.reshape(3, *grid),
                            mean[:, k, 1].T.reshape(3, *grid), error[:, k].reshape(grid))
                for k, factor in enumerate(self.factors)]

    def planes(self) -> dict[str, np.ndarray]:
        """Return albedo, normal, depth and name planes (see `previz.frames`)."""
        from previz.engine.planes import render_planes
        from previz.engine.render import PLANE_SAMPLES

        return render_planes(self.buffers, self.start, PLANE_SAMPLES,
                             pass_seed(self.sampling.seed, 1 << 20))


def from_one_render(pictures: list[HazePicture], base: float = 1.0) -> list[bool]:
    """Return, for each density, whether the render of another serves.

    Parameters
    ----------
    pictures : list of HazePicture
        All from one render.
    base : float
        The factor that the paths were drawn at.
    """
    noise = next((p.noise for p in pictures if p.factor == base), np.inf)
    return [p.factor <= MOST_TIMES * base and (p.factor == base or p.noise <= MOST_NOISE * noise)
            for p in pictures]
