"""Meters as probes of the engine: their own samples, lamp by lamp, to a stated precision."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from previz import __version__
from previz.engine.render import luminance_weights, pass_seed
from previz.frames import Probes
from previz.physics.bands import band_edges
from previz.physics.light import lamp_band_xyz
from previz.stage.records import Stage

BATCHES = 256
"""Threads for each receptor; the spread of their sums gives the standard error."""

SAMPLES = 32
"""Paths of one thread in one round."""


class ProbeJob:
    """Meters of one stage: run `step` until the error is small enough, then take `probes`.

    Parameters
    ----------
    buffers : upload.Buffers
    stage : Stage
        With at least one probe.
    seed : int
    max_depth, roulette_depth : int
        See `kernel.Limits`.
    """

    def __init__(self, buffers, stage: Stage, seed: int = 1, max_depth: int = 64,
                 roulette_depth: int = 3):
        from previz.engine.kernel import Limits, Transport
        from previz.engine.starts import ProbeStart

        self.buffers, self.stage, self.seed = buffers, stage, seed
        self.transport = Transport(buffers, ProbeStart(stage.probes, BATCHES),
                                   Limits(max_depth, roulette_depth))
        self.weights = luminance_weights(buffers.bands)
        shape = (len(stage.probes), buffers.lamps, 2)
        self.total = np.zeros((*shape, buffers.bands))
        self.sum, self.squares = np.zeros(shape), np.zeros(shape)
        # Error of the sum over lamps as they are set now: lamps share paths, so it is not the sum
        # of theirs.
        self.mix = np.array([lamp_band_xyz(lamp, buffers.bands)[:, 1] for lamp in stage.lamps])
        self.mix_sum, self.mix_squares = np.zeros(shape[0]), np.zeros(shape[0])
        self.rounds = 0

    def step(self, samples: int = SAMPLES) -> None:
        """Trace one more round of paths."""
        count = len(self.stage.probes)
        sums = self.transport.run(0, count * BATCHES, samples, pass_seed(self.seed, self.rounds))
        # The kernel keeps the direct and the bounced part of a thread one after the other.
        values = np.array(sums, float).reshape(count, BATCHES, 2, self.buffers.lamps, -1)
        values = values.swapaxes(2, 3) / samples
        self.total += values.sum(axis=1)
        bright = values @ self.weights
        self.sum += bright.sum(axis=1)
        self.squares += (bright**2).sum(axis=1)
        mixed = np.einsum("pklsb,lb->pk", values, self.mix)
        self.mix_sum += mixed.sum(axis=1)
        self.mix_squares += (mixed**2).sum(axis=1)
        self.rounds += 1

    def relative_error(self) -> np.ndarray:
        """Return the standard error of each meter's whole reading over the reading. Shape (p,)"""
        count = self.rounds * BATCHES
        mean = self.mix_sum / count
        spread = np.maximum(self.mix_squares / count - mean**2, 0)
        error = np.sqrt(spread / (count - 1))
        return np.where(mean > 0, error / np.maximum(mean, 1e-30), 0.0)

    def run(self, precision: float, most_rounds: int = 64,
            tell: Callable[[float], None] | None = None) -> bool:
        """Trace until every meter's relative standard error is at most `precision`.

        Returns
        -------
        bool
            False if the most rounds were not enough.
        """
        while True:
            self.step()
            worst = float(np.max(self.relative_error()))
            if tell is not None:
                tell(worst)
            if worst <= precision:
                return True
            if self.rounds >= most_rounds:
                return False

    def probes(self, transport_hash: str = "") -> Probes:
        """Return what has been gathered so far."""
        count = self.rounds * BATCHES
        mean = self.sum / count
        spread = np.maximum(self.squares / count - mean**2, 0)
        return Probes(
            names=tuple(probe.name for probe in self.stage.probes),
            illuminance=self.total / count, stderr=np.sqrt(spread / max(count - 1, 1)),
            samples=self.rounds * BATCHES * SAMPLES,
            lights=tuple(lamp.name for lamp in self.stage.lamps),
            band_edges_nm=np.asarray(band_edges(self.buffers.bands)),
            transport_hash=transport_hash, version=__version__)
