"""One camera's picture at several densities of the haze, from one render.

Every path is weighed anew for each density (see `tally`), so the pictures differ by the haze and
not by noise. The lamps are mixed as they are set; what the air itself sends to the camera is
kept by itself.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.engine.render import CameraPasses, Sampling, pass_seed
from previz.physics.light import lamps_band_xyz
from previz.stage.records import Camera, Stage

MOST_TIMES = 2.0
"""Farther up than this a density is not taken from a render of another: its paths that scatter
often are too few, and weigh too much."""

MOST_NOISE = 2.0
"""A density whose picture is noisier than that of the density rendered by more than this factor
is rendered anew."""


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


class DensityJob(CameraPasses):
    """The render of one camera at several densities: run `step` until `finished`.

    Parameters
    ----------
    buffers, camera, width, height, sampling
        See `CameraPasses`.
    stage : Stage
        With haze.
    factors : sequence of float
        Times the stage's density.

    Raises
    ------
    ValueError
        The stage has no haze.
    """

    def __init__(self, buffers, stage: Stage, camera: Camera, width: int, height: int,
                 sampling: Sampling, factors):
        if not buffers.has_haze:
            raise ValueError("a stage without haze has no densities")
        self.factors = tuple(float(k) for k in factors)
        super().__init__(buffers, camera, width, height, sampling, self.factors)
        self.weights = lamps_band_xyz(stage.lamps, buffers.bands).astype(np.float32)
        count = len(self.factors)
        self.total = np.zeros((width * height, count, 2, 3), np.float32)
        self.squares = np.zeros((width * height, count), np.float32)

    def step(self) -> None:
        """Run one pass and add it. An interrupt leaves the passes before it whole."""
        seed = pass_seed(self.sampling.seed, self.done)
        buffers, count = self.buffers, len(self.factors)
        if not buffers.lamps:
            # Dark at any density.
            self.done += 1
            return
        shape = (-1, count, 2, buffers.lamps, buffers.bands)
        parts = []
        for top, rows in self.strips(0, self.height, int(np.prod(shape[1:]))):
            sums = self.transport.run(top * self.width, rows * self.width, self.each, seed)
            parts.append(np.einsum("pkalb,lbi->pkai", np.array(sums).reshape(shape), self.weights,
                                   optimize=True) / self.each)
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
        KeyError, TypeError, ValueError
            The state is none, or of another size; nothing is changed.
        """
        total, squares, done = state["total"], state["squares"], int(state["done"])
        if total.shape != self.total.shape or squares.shape != self.squares.shape:
            raise ValueError("the saved state is of another picture")
        self.total, self.squares, self.done = total.copy(), squares.copy(), done

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


def from_one_render(pictures: list[HazePicture]) -> list[bool]:
    """Return, for each density of one render, whether it serves; paths were drawn at a factor of 1."""
    noise = next((p.noise for p in pictures if p.factor == 1), np.inf)
    return [p.factor <= MOST_TIMES and (p.factor == 1 or p.noise <= MOST_NOISE * noise)
            for p in pictures]
