"""Render one camera of a stage, pass by pass, into Frames.

The sums of the passes are kept as a running mean and a scatter about it, lamp by lamp (see `sums` and
`frames.gathered`), so that work can be left at any pass, taken up again later to the last bit, and
gone on with for some of the lamps alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from previz import __version__
from previz.engine import backend
from previz.engine.ended import launch_floats
from previz.engine.unbroken import unbroken
from previz.frames import Frames
from previz.frames.gathered import Gathered
from previz.physics.bands import band_edges, band_xyz
from previz.physics.spectra import normalise, observer
from previz.stage.mesh_gate import hold
from previz.stage.records import Camera, Stage

TILE_FLOATS = 96_000_000
"""Most sums that are held on the device at once; larger pictures are done in strips of rows."""

BAND_FLOATS = 200_000_000
"""Most sums that are held on the host at once; of a larger picture one `row_bands` after the other
is rendered and put away."""

LARGE_FLOATS = 16_000_000
"""Sums from which the memory that passes took goes back to the system when they are done: to take it anew
costs less than a pass then, and pictures are put together and cleaned from the rest."""

PLANE_SAMPLES = 8
"""Rays a pixel for the albedo and normal planes."""


@dataclass(frozen=True)
class Limits:
    """How long paths may get.

    Parameters
    ----------
    max_depth : int
        Most surfaces on one path; a safety stop only.
    roulette_depth : int
        Surfaces after which Russian roulette may end any path; before, it ends those that are expected to
        bring less than a path usually does. None are ended where this is as much as `max_depth`.
    """

    max_depth: int = 64
    roulette_depth: int = 3


USUAL_LIMITS = Limits()


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
    limits : Limits
    """

    samples: int = 32
    passes: int = 4
    seed: int = 1
    limits: Limits = USUAL_LIMITS

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


def light_sample_shares(buffers) -> np.ndarray:
    """Return each lamp's share of the light samples after each path's first. Shape (light,)"""
    choice = buffers.choice
    if not choice.useful:
        return np.ones(buffers.lamps) / max(buffers.lamps, 1)
    return np.array(choice.probabilities).reshape(-1, buffers.lamps).mean(axis=0)


def row_bands(width: int, height: int, lamps: int, bands: int) -> list[tuple[int, int]]:
    """Return (first row, rows) of the parts of a picture whose sums fit on the host."""
    return split(0, height, width * lamps * bands, BAND_FLOATS)


def split(first: int, rows: int, floats: int, most: int) -> list[tuple[int, int]]:
    """Return (first row, rows) of parts of some rows, each row so many floats, that hold at most `most`."""
    each, end = max(1, min(rows, most // max(floats, 1))), first + rows
    return [(top, min(each, end - top)) for top in range(first, end, each)]


def even_strips(rows: int, floats: int) -> list[tuple[int, int]]:
    """Return (first row, rows) of parts that fit on the device, of about as many rows: few fill no GPU."""
    parts = len(split(0, rows, floats, TILE_FLOATS))
    ends = [rows * k // parts for k in range(parts + 1)]
    return [(top, end - top) for top, end in pairwise(ends)]


class CameraPasses:
    """Passes of paths through one camera's pixels: call `step` until `finished`.

    Parameters
    ----------
    buffers : upload.Buffers
        The stage on the device.
    camera : Camera
    width, height : int
        Of the whole picture. [px]
    sampling : Sampling
    densities : tuple of float
        See `kernel.Transport`.

    Attributes
    ----------
    done : int
        Number of the passes that are in.
    """

    def __init__(self, buffers, camera: Camera, width: int, height: int, sampling: Sampling,
                 densities: tuple[float, ...] = ()):
        from previz.engine.kernel import Transport
        from previz.engine.starts import CameraStart

        self.buffers, self.camera, self.sampling = buffers, camera, sampling
        self.width, self.height = width, height
        self.transport = Transport(buffers, CameraStart(camera, width, height), sampling.limits,
                                   densities)
        self.done = 0

    @property
    def finished(self) -> bool:
        """True once all passes are in."""
        return self.done >= self.sampling.passes

    @property
    def each(self) -> int:
        """Paths a pixel of one pass."""
        return self.sampling.samples // self.sampling.passes

    def strips(self, top: int, rows: int, floats: int, samples: int = 0) -> list[tuple[int, int]]:
        """Return (first row, rows) of strips that fit on the device, at so many floats and paths a pixel."""
        return split(top, rows, self.width * floats, launch_floats(TILE_FLOATS, floats, samples or self.each))

    def planes(self) -> dict[str, np.ndarray]:
        """Return albedo, normal, depth and name planes (see `previz.frames`)."""
        return camera_planes(self.buffers, self.camera, self.width, self.height, self.sampling.seed)


def camera_planes(buffers, camera: Camera, width: int, height: int,
                  seed: int) -> dict[str, np.ndarray]:
    """Return the planes that go with a render of one camera; see `planes.render_planes`."""
    from previz.engine.planes import render_planes
    from previz.engine.starts import CameraStart

    return render_planes(buffers, CameraStart(camera, width, height), PLANE_SAMPLES,
                         pass_seed(seed, 1 << 20))


def plane_values(buffers, camera: Camera, width: int, height: int,
                 samples: int) -> tuple[dict[str, np.ndarray], set[str]]:
    """Return a camera's planes from so many rays a pixel, and the names of what it sees.

    Without samples albedo and normal are not of use.
    """
    from previz.engine.planes import render_planes
    from previz.engine.starts import CameraStart

    planes = render_planes(buffers, CameraStart(camera, width, height), samples, pass_seed(1, 1 << 20))
    # Names from 1 on; 0 is nothing.
    seen = np.flatnonzero(np.bincount(planes["names_index"].ravel() + 1))
    return planes, {buffers.geometry.names[index - 1] for index in seen if index}


class CameraJob(CameraPasses):
    """The render of one camera: run `step` until `finished`, then take `frames`.

    Parameters
    ----------
    buffers, camera, width, height, sampling
        See `CameraPasses`.
    stage : Stage
    rows : (int, int), optional
        First row and number of rows, where only a part of the picture is rendered. Its pixels are
        those of the whole picture, bit for bit.

    Attributes
    ----------
    sums : sums.Sums
        What the passes gathered, on the device.
    """

    def __init__(self, buffers, stage: Stage, camera: Camera, width: int, height: int,
                 sampling: Sampling, rows: tuple[int, int] | None = None):
        from previz.engine.sums import Sums

        super().__init__(buffers, camera, width, height, sampling)
        self.stage = stage
        self.top, self.rows = rows or (0, height)
        self.weights = luminance_weights(buffers.bands).astype(np.float32)
        strips = even_strips(self.rows, width * buffers.lamps * buffers.bands)
        self.sums = Sums(strips, width, buffers.lamps, buffers.bands, self.weights)

    @property
    def weight(self) -> float:
        """Sum of the weights of the passes that are in. [paths a pixel]"""
        return self.sums.weight

    @property
    def torn(self) -> bool:
        """True where an error has come up while a pass was added; what is there is of no use."""
        return self.sums.torn

    def step(self, samples: int | None = None, counts: np.ndarray | None = None) -> None:
        """Run one pass and add it. An interrupt leaves the passes before it whole.

        Parameters
        ----------
        samples : int, optional
            Paths a pixel of this pass, which is its weight too; those of `sampling` by default.
        counts : int array, shape (rows, columns), optional
            Paths of each pixel, at least 1, where they are not the same for all. They may follow
            from earlier passes: as the weight of the pass does not, the mean stays unbiased.
        """
        found = self.traced(self.sums.next_pass, samples, counts)
        with unbroken():
            self.add(found)

    def traced(self, number: int, samples: int | None = None, counts: np.ndarray | None = None):
        """Return the `sums.PassSums` of the pass of a number, which need not be the next; as `step`."""
        from previz.engine.jit import dr
        from previz.engine.sums import PassSums

        each = self.each if samples is None else samples
        seed = pass_seed(self.sampling.seed, number)
        counts = None if counts is None else np.ravel(counts)
        parts = []
        floats = self.buffers.lamps * self.buffers.bands
        for top, rows in self.sums.strips:
            sums = []
            for first, number in self.strips(top, rows, floats, each):
                span = slice(first * self.width, (first + number) * self.width)
                sums.append(self.transport.run(self.top * self.width + span.start, span.stop - span.start,
                                               each if counts is None else counts[span], seed))
            parts.append(sums[0] if len(sums) == 1 else dr.concat(sums))
        return PassSums(parts, each, counts)

    def add(self, found) -> None:
        """Add the `sums.PassSums` of the next pass."""
        self.sums.add(found)
        self.done = self.sums.passes

    def gathered(self, lamp: int) -> Gathered:
        """Return what has been gathered of one lamp, in rows and columns of this part."""
        return self.sums.gathered(lamp)

    def take_up(self, parts: list[Gathered]) -> None:
        """Go on from what was gathered of every lamp, all of the same passes; see `Sums.take_up`."""
        self.sums.take_up(parts)
        self.done = self.sums.passes

    def close(self) -> None:
        """Let go of the sums, and of what memory passes have taken where that was much."""
        from previz.engine.jit import dr

        large = self.rows * self.width * self.buffers.lamps * self.buffers.bands >= LARGE_FLOATS
        del self.sums
        if large:
            dr.flush_malloc_cache()

    def frames(self, transport_hash: str = "", planes: dict[str, np.ndarray] | None = None) -> Frames:
        """Return the Frames of the passes done so far, with `planes` that are there already or rendered.

        Raises
        ------
        ValueError
            No pass is done.
        """
        if not self.done:
            raise ValueError("no pass is done yet")
        lamps, bands = self.buffers.lamps, self.buffers.bands
        grid = (self.rows, self.width)
        parts = [self.gathered(lamp) for lamp in range(lamps)]
        return Frames(
            slices=np.array([part.slices for part in parts], np.float32).reshape(lamps, bands, *grid),
            variance=np.array([part.variance for part in parts], np.float32).reshape(lamps, *grid),
            lights=tuple(lamp.name for lamp in self.stage.lamps),
            names=self.buffers.geometry.names,
            band_edges_nm=np.asarray(band_edges(bands)),
            samples=round(self.sums.weight),
            seed=self.sampling.seed,
            camera=camera_values(self.camera),
            transport_hash=transport_hash,
            version=__version__,
            **(self.planes() if planes is None else planes),
        )


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


def open_stage(stage: Stage, bands: int, engine: str = "auto", points: int | None = None, like=None):
    """Put a stage on the device, as `upload.Buffers`; the engine is as for `backend.start`.

    For a picture on few paths, what lamps give where is measured from fewer `points`, or as in the
    `LampChoice` of a stage that this one is like: that takes less time, and leaves more noise.

    Raises
    ------
    EngineError
        No backend can serve.
    ValueError
        The stage has a triangle that `mesh_gate.hold` does not let pass.
    """
    hold(stage)
    backend.start(engine)
    from previz.engine.upload import Buffers

    return Buffers(stage, bands, points, like)
