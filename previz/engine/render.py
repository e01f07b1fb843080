"""Render one camera of a stage, pass by pass, into Frames."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz import __version__
from previz.engine import backend
from previz.frames import Frames
from previz.physics.bands import band_edges, band_xyz
from previz.physics.spectra import normalise, observer
from previz.stage.records import Camera, Stage

TILE_FLOATS = 96_000_000
"""Most sums that are held on the device at once; larger pictures are done in strips of rows."""

PLANE_SAMPLES = 8
"""Rays a pixel for the albedo and normal planes."""


@dataclass(frozen=True)
class Sampling:
    """How much work a render is.

    Parameters
    ----------
    samples : int
        Paths a pixel.
    passes : int
        Independent passes they are split into; their spread gives the variance.
    seed : int
        The same seed gives the same picture, bit for bit.
    max_depth, roulette_depth : int
        See `kernel.Limits`.
    """

    samples: int = 32
    passes: int = 4
    seed: int = 1
    max_depth: int = 64
    roulette_depth: int = 3

    def __post_init__(self):
        if self.samples < 1 or self.passes < 1 or self.samples % self.passes:
            raise ValueError(f"{self.samples} samples cannot be split into {self.passes} passes")


def luminance_weights(bands: int) -> np.ndarray:
    """Return weights over bands, summing to 1, of an equal-energy luminance. Shape (bands,)."""
    weights = band_xyz(normalise(np.ones_like(observer()[1])), bands)[:, 1]
    return weights / weights.sum()


def pass_seed(seed: int, index: int) -> int:
    """Return the 32-bit seed of one pass; passes of one render never share it."""
    return int(np.random.SeedSequence([seed, index]).generate_state(1)[0])


class CameraJob:
    """The render of one camera: run `step` until `finished`, then take `frames`.

    Parameters
    ----------
    buffers : upload.Buffers
        The stage on the device.
    stage : Stage
    camera : Camera
    width, height : int
        [px]
    sampling : Sampling
    """

    def __init__(self, buffers, stage: Stage, camera: Camera, width: int, height: int,
                 sampling: Sampling):
        from previz.engine.kernel import Limits, Transport
        from previz.engine.starts import CameraStart

        self.buffers, self.stage, self.camera = buffers, stage, camera
        self.width, self.height, self.sampling = width, height, sampling
        self.start = CameraStart(camera, width, height)
        self.transport = Transport(buffers, self.start,
                                   Limits(sampling.max_depth, sampling.roulette_depth))
        self.weights = luminance_weights(buffers.bands)
        self.done = 0
        shape = (height * width, buffers.lamps)
        self.total = np.zeros((*shape, buffers.bands), np.float32)
        self.squares = np.zeros(shape, np.float32)

    @property
    def finished(self) -> bool:
        """True once all passes are in."""
        return self.done >= self.sampling.passes

    def strips(self) -> list[tuple[int, int]]:
        """Return (first row, rows) of the strips that fit on the device."""
        per_row = self.width * self.buffers.lamps * self.buffers.bands
        rows = max(1, min(self.height, TILE_FLOATS // per_row))
        return [(top, min(rows, self.height - top)) for top in range(0, self.height, rows)]

    def step(self) -> None:
        """Run one pass and add it. An interrupt leaves the passes before it whole."""
        seed = pass_seed(self.sampling.seed, self.done)
        each = self.sampling.samples // self.sampling.passes
        shape = (-1, self.buffers.lamps, self.buffers.bands)
        parts = []
        for top, rows in self.strips():
            sums = self.transport.run(top * self.width, rows * self.width, each, seed)
            parts.append((top * self.width, np.array(sums).reshape(shape)))
        for first, part in parts:
            part /= each
            span = slice(first, first + len(part))
            self.total[span] += part
            self.squares[span] += (part @ self.weights.astype(np.float32)) ** 2
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

    def frames(self, transport_hash: str = "") -> Frames:
        """Return the Frames of the passes done so far.

        Raises
        ------
        ValueError
            No pass is done.
        """
        if not self.done:
            raise ValueError("no pass is done yet")
        lamps, bands = self.buffers.lamps, self.buffers.bands
        mean = self.total / self.done
        luminance = mean @ self.weights.astype(np.float32)
        # Variance of the mean from the spread of the passes; unknown (inf) from a single one.
        if self.done > 1:
            spread = np.maximum(self.squares / self.done - luminance**2, 0)
            variance = spread / (self.done - 1)
        else:
            variance = np.full_like(luminance, np.inf)
        grid = (self.height, self.width)
        slices = np.ascontiguousarray(mean.reshape(-1, lamps * bands).T)
        planes = self.planes()
        return Frames(
            slices=slices.reshape(lamps, bands, *grid),
            variance=np.ascontiguousarray(variance.T).reshape(lamps, *grid),
            lights=tuple(lamp.name for lamp in self.stage.lamps),
            names=self.buffers.geometry.names,
            band_edges_nm=np.asarray(band_edges(bands)),
            samples=self.done * (self.sampling.samples // self.sampling.passes),
            seed=self.sampling.seed,
            camera=camera_values(self.camera),
            transport_hash=transport_hash,
            version=__version__,
            **planes,
        )

    def planes(self) -> dict[str, np.ndarray]:
        """Return albedo, normal, depth and name planes (see `previz.frames`)."""
        from previz.engine.planes import render_planes

        return render_planes(self.buffers, self.start, PLANE_SAMPLES,
                             pass_seed(self.sampling.seed, 1 << 20))


def camera_values(camera: Camera) -> dict:
    """Return a camera's settings as plain values, for the record that goes with a frame."""
    return {
        "name": camera.name,
        "position": [float(x) for x in camera.position],
        "stop": camera.stop, "iso": camera.iso, "shutter_s": camera.shutter_s,
        "nd_density": camera.nd_density, "white_balance": camera.white_balance,
        "tint": camera.tint, "focal": camera.focal, "focus": camera.focus,
        "sensor": [float(x) for x in camera.sensor], "aspect": camera.aspect,
    }


def open_stage(stage: Stage, bands: int, engine: str = "auto"):
    """Put a stage on the device.

    Parameters
    ----------
    stage : Stage
    bands : int
    engine : {'auto', 'llvm', 'cuda'}

    Returns
    -------
    upload.Buffers

    Raises
    ------
    EngineError
        No backend can serve.
    """
    backend.start(engine)
    from previz.engine.upload import Buffers

    return Buffers(stage, bands)
