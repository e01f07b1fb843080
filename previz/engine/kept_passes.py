"""Passes that were traced elsewhere, as arrays on the host, added as if they had been traced here."""

from __future__ import annotations

import numpy as np

from previz.engine import backend
from previz.engine.render import TILE_FLOATS, luminance_weights, split
from previz.frames.gathered import Gathered


def on_host(found) -> np.ndarray:
    """Return the sums of a pass, as `CameraJob.traced` gives it. float32, shape (pixel · light · band,)"""
    return np.concatenate([np.array(strip, np.float32).ravel() for strip in found.strips])


class KeptSums:
    """The sums of some rows of a picture, of passes that are on the host; no stage is needed.

    Parameters
    ----------
    rows, width, lamps, bands : int
    before : list of Gathered
        What there is of every lamp in these rows, to be gone on with; none where nothing is.
    engine : str
        As for `backend.start`.
    """

    def __init__(self, rows: int, width: int, lamps: int, bands: int, before: list[Gathered],
                 engine: str = "auto"):
        backend.start(engine)
        from previz.engine.sums import Sums

        strips = split(0, rows, width * lamps * bands, TILE_FLOATS)
        self.shape = (rows * width, lamps, bands)
        self.sums = Sums(strips, width, lamps, bands, luminance_weights(bands))
        if before:
            self.sums.take_up(before)

    def add(self, values: np.ndarray, weight: int) -> None:
        """Add the next pass, as `on_host` has given it, that counts so many paths a pixel."""
        from previz.engine.device import on_device
        from previz.engine.jit import mi
        from previz.engine.sums import PassSums

        each = np.reshape(values, self.shape)
        spans = [self.sums.span(index) for index in range(len(self.sums.strips))]
        self.sums.add(PassSums([on_device(mi.Float, each[span].ravel()) for span in spans], weight))

    def gathered(self, lamp: int) -> Gathered:
        """Return what has been gathered of one lamp."""
        return self.sums.gathered(lamp)
