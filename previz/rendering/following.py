"""A small picture that follows what is moved, in rounds: the usual transport on few paths.

Of lamps that were moved alone the light is traced anew, and that of all others stands as it was: as in the
cache, what the body of a lamp shades and sends back of other lamps' light is little. Where the camera sees
such a body, or anything else has moved, or the camera itself, all lamps are traced.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from previz.engine.backend import runs_on
from previz.engine.render import CameraJob, Sampling, open_stage, plane_values
from previz.exposure.denoise import denoise
from previz.frames import Frames
from previz.physics.chromatic_adaptation import acescg_from_xyz
from previz.physics.light import LampLight, lamp_band_xyz
from previz.stage.bodies import lit_by
from previz.stage.differences import moved_between
from previz.stage.fingerprint import digest_of, seen_by
from previz.stage.records import Camera, Stage

WIDTH = {"processor": 320, "gpu": 960}
"""Of the picture, by what it is rendered on. [px]"""

ROUNDS = (1, 1, 2, 4, 8)
"""Paths a pixel of one round after the other."""

POINTS = 1 << 12
"""Points from which is measured what lamps give where, as for a few paths more is not worth its time."""

PLANE_SAMPLES = 2
"""Rays a pixel for what the denoiser goes by."""

SPREAD, WIDE = 1 / 40, 1 / 8
"""Side of the squares over which lamps' shares in the mix are averaged, and what the denoiser lost, over the
width of the picture. [1]"""

LEAST_LEVEL = 0.02
"""Level that a lamp is denoised with at least, relative to the brightest. [1]"""

MOST_GIVEN_BACK = 1.4
"""Factor by which light is given back at most. [1]"""


def size_of(aspect: float, backend: str) -> tuple[int, int]:
    """Return (width, height) of the picture of a camera with this aspect. [px]"""
    width = WIDTH[runs_on(backend)]
    return width, max(1, round(width / aspect))


class Following:
    """Follows one camera of an option from a stage on, whose picture is there.

    Parameters
    ----------
    stage, camera
        What the picture that is there shows.
    bands, backend
        See `rendering.request.Request`.
    lap : function, optional
        Called with the name of each step when it is done, for whoever measures them.
    """

    def __init__(self, stage: Stage, camera: Camera, bands: int, backend: str,
                 lap: Callable[[str], None] = lambda step: None):
        self.stage, self.camera, self.bands, self.backend = stage, camera, bands, backend
        self.lap = lap
        size = size_of(camera.aspect, self.backend)
        buffers = open_stage(stage, bands, backend, POINTS)
        self.choice = buffers.choice
        self.planes, self.names = plane_values(buffers, camera, *size, PLANE_SAMPLES)

    def _open(self, stage: Stage) -> Any:
        return open_stage(stage, self.bands, self.backend, POINTS, self.choice)

    def warm(self, camera: Camera, lamps: Sequence[str]) -> None:
        """Trace what is not shown, so that the kernels are there for each of some lamps, or for all."""
        alone = {lamp.name for lamp in self.stage.lamps}.intersection(lamps) - self.names
        for lit in [lit_by(self.stage, (lamp,)) for lamp in sorted(alone)] or [self.stage]:
            coarse = Coarse(lit, camera, size_of(camera.aspect, self.backend), self._open(lit), self.planes,
                            True, self.lap)
            coarse.step()
            coarse.layers(lit.lamps, [1.0] * len(lit.lamps))

    def begin(self, stage: Stage, camera: Camera, held: Mapping[str, str],
              whole: bool = False) -> Coarse:
        """Return the picture of the stage as it is now, with nothing traced yet.

        `held` is as for `differences.moved_between`; with `whole` all lamps are traced. Figures and meshes
        that are the same objects in both stages take no time.
        """
        moved = moved_between(self.stage, stage, held)
        same_view = digest_of(seen_by(camera)) == digest_of(seen_by(self.camera))
        self.lap("differences")
        whole = whole or moved.whole or not same_view or bool(moved.bodies & self.names)
        lit = stage if whole else lit_by(stage, moved.lamps)
        buffers = self._open(lit)
        self.lap("upload")
        planes = self.planes
        size = size_of(camera.aspect, self.backend)
        if not whole and moved.bodies:
            # The names that it sees now are found in passing.
            seen, names = plane_values(buffers, camera, *size, 0)
            if moved.bodies & names:
                whole, lit = True, stage
                buffers = self._open(lit)
        if whole:
            planes, _ = plane_values(buffers, camera, *size, PLANE_SAMPLES)
        self.lap("planes")
        return Coarse(lit, camera, size, buffers, planes, whole, self.lap)


class Coarse:
    """One small picture, of some lamps or all of them, that gets better with each `step`.

    Attributes
    ----------
    lamps : tuple of str
        Those that are traced.
    whole : bool
        Whether they are all there are.
    """

    def __init__(self, stage: Stage, camera: Camera, size: tuple[int, int], buffers: Any,
                 planes: dict[str, np.ndarray], whole: bool, lap: Callable[[str], None]):
        self.lamps = tuple(lamp.name for lamp in stage.lamps)
        self.whole, self.planes, self.lap = whole, planes, lap
        self.job = CameraJob(buffers, stage, camera, *size, Sampling(1, 1))
        self.rounds = 0

    @property
    def last(self) -> bool:
        """True once no more rounds are worth it."""
        return self.rounds >= len(ROUNDS)

    def step(self) -> None:
        """Trace one round more."""
        if self.lamps:
            self.job.step(ROUNDS[min(self.rounds, len(ROUNDS) - 1)])
        self.rounds += 1
        self.lap("trace")

    def bands(self, number: int) -> np.ndarray:
        """Return the light of one traced lamp as rendered, shape (band, row, column)."""
        return self.job.gathered(number).slices

    def frames(self) -> Frames:
        """Return what is traced so far as frames."""
        return self.job.frames(planes=self.planes)

    def layers(self, lights: Sequence[LampLight], gains: Sequence[float]) -> np.ndarray:
        """Return what each lamp adds to the picture, without its noise.

        The lamps are denoised together, as they are mixed: so their sum is the clean picture, at the levels
        that it is mixed by, and each has its share of it.

        Parameters
        ----------
        lights : sequence of LampLight
            The traced lamps, in order, as they are at full.
        gains : sequence of float
            How much of each is in the mix. [1]

        Returns
        -------
        float32 array, shape (lamp, row, column, 3)
            X, Y, Z. [cd/m²]
        """
        bands = self.job.buffers.bands
        # The denoiser knows colours as red, green and blue; of X, Y and Z it shifts the hue.
        weights = np.reshape([lamp_band_xyz(light, bands) for light in lights], (-1, bands, 3))
        weights = (weights @ acescg_from_xyz().T).astype(np.float32)
        parts = self.job.sums.pictures(weights)
        levels = np.asarray(gains, np.float32)
        # A lamp that is off now must not be lost where the others give nothing.
        levels = np.maximum(levels, LEAST_LEVEL * levels.max(initial=0.0)) if np.any(levels) else levels + 1
        made = self._clean(parts, levels) @ np.linalg.inv(acescg_from_xyz()).T.astype(np.float32)
        self.lap("denoise")
        return made

    def _clean(self, parts: np.ndarray, levels: np.ndarray) -> np.ndarray:
        """Return lamps' parts, ACEScg, as shares of their mix at some levels, without noise."""
        if not parts.any():
            return parts
        width = self.job.width
        mixed = np.tensordot(levels, parts, axes=1)
        scale = float(np.abs(mixed).mean()) or 1.0
        clean = denoise(np.moveaxis(mixed / scale, -1, 0), self._planes_alone(), quality="fast").picture
        clean = np.moveaxis(clean, 0, -1) * np.float32(scale)
        little = np.float32(1e-4 * scale)
        # On few paths it takes single bright pixels for noise, and some of the light with them.
        before, after = (np.maximum(_means(each[None], round(WIDE * width)), 0) + little
                         for each in (mixed, clean))
        given_back = np.clip(before / after, 1 / MOST_GIVEN_BACK, MOST_GIVEN_BACK)
        clean = clean * _between(given_back, mixed.shape[:2], round(WIDE * width))[0]
        if len(parts) == 1:
            return clean[None] / levels[0]
        smooth = np.maximum(_averaged(parts, max(1, round(SPREAD * width))), 0)
        whole = np.tensordot(levels, smooth, axes=1)
        return smooth * (clean / np.maximum(whole, little))

    def _planes_alone(self) -> Frames:
        """Return frames of no lamp: to lay out those of all takes as long as half a denoising."""
        grid, bands = (self.job.height, self.job.width), self.job.buffers.bands
        planes: dict[str, Any] = dict(self.planes)
        return Frames(
            slices=np.zeros((0, bands, *grid), np.float32), variance=np.zeros((0, *grid), np.float32),
            lights=(), names=self.job.buffers.geometry.names, band_edges_nm=np.arange(bands + 1), samples=1,
            seed=1, **planes)


def _averaged(parts: np.ndarray, side: int) -> np.ndarray:
    """Return pictures, shape (n, row, column, channel), that go straight from mean to mean of squares."""
    return _between(_means(parts, side), parts.shape[1:3], side)


def _edges(size: int, side: int) -> np.ndarray:
    """Return where squares of about this side begin, and the end of the last. [px]"""
    return np.linspace(0, size, -(-size // side) + 1).astype(int)


def _means(parts: np.ndarray, side: int) -> np.ndarray:
    """Return the means of pictures over squares, shape (n, square down, square across, channel)."""
    for axis in (1, 2):
        edges = _edges(parts.shape[axis], side)
        count = np.expand_dims(np.diff(edges).astype(np.float32), tuple(range(1, 4 - axis)))
        parts = np.add.reduceat(parts, edges[:-1], axis) / count
    return parts


def _between(means: np.ndarray, shape: Sequence[int], side: int) -> np.ndarray:
    """Return pictures of a shape that go straight from mean to mean of squares."""
    for axis, size in zip((1, 2), shape, strict=True):
        edges = _edges(size, side)
        middles = (edges[:-1] + edges[1:] - 1) / 2
        between = np.stack([np.interp(np.arange(size), middles, row) for row in np.eye(len(middles))])
        means = np.moveaxis(np.tensordot(means, between.astype(np.float32), axes=(axis, 0)), -1, axis)
    return means
