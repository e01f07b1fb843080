"""What passes of a render gather, kept on the device: a running mean and a scatter about it.

Passes are added in their order, strip by strip of rows, and only what somebody asks for comes to the
host: one lamp's slices, or the lamps mixed to a picture. A sum of a pass that another process has
traced is added as one that was traced here, to the same bits.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.engine.device import on_device, read_row, write_row
from previz.engine.jit import dr, mi
from previz.frames.gathered import Gathered


@dataclass(frozen=True, eq=False)
class PassSums:
    """One pass, not added yet.

    Parameters
    ----------
    strips : list of Float
        Sum over the paths of each strip, size pixel · light · band.
    weight : int
        Paths a pixel that were planned, what the pass counts in the mean.
    counts : int array, shape (pixel,), or None
        Paths that each pixel got, where that differs.
    """

    strips: list
    weight: int
    counts: np.ndarray | None = None


class Sums:
    """The passes that are in, of some rows of one camera's picture.

    Parameters
    ----------
    strips : list of (int, int)
        First row, from 0, and number of rows of each strip that has arrays of its own.
    width, lamps, bands : int
    eye : float array, shape (band,)
        Weights of the luminance whose scatter is kept.

    Attributes
    ----------
    weight, passes, next_pass : float, int, int
        Sum of the weights; passes that are in; number that the next one draws by.
    inverse, spread : float, or float32 array of shape (pixel,)
        See `frames.gathered`.
    torn : bool
        An error has come up while a pass was added; what is there is of no use.
    """

    def __init__(self, strips: list[tuple[int, int]], width: int, lamps: int, bands: int, eye: np.ndarray):
        self.strips, self.rows = strips, sum(rows for _, rows in strips)
        self.width, self.lamps, self.bands = width, lamps, bands
        self.weight, self.passes, self.next_pass, self.torn = 0.0, 0, 0, False
        self.inverse: float | np.ndarray = 0.0
        self.spread: float | np.ndarray = 0.0
        self._eye = on_device(mi.Float, eye)
        self._mean = [dr.zeros(mi.Float, n * width * lamps * bands) for _, n in self.strips]
        self._scatter = [dr.zeros(mi.Float, n * width * lamps) for _, n in self.strips]
        # Read by the kernels, not compiled into them: pictures of all sizes and sets share them.
        self._lamps = dr.opaque(mi.UInt, lamps)

    def span(self, strip: int) -> slice:
        """Return the pixels of a strip."""
        top, rows = self.strips[strip]
        return slice(top * self.width, (top + rows) * self.width)

    def add(self, found: PassSums) -> None:
        """Add a pass. Whoever may be interrupted calls it within `unbroken`."""
        self.torn = True
        each = found.weight
        step = dr.opaque(mi.Float, each / (self.weight + each))
        left = dr.opaque(mi.Float, each * (1 - each / (self.weight + each)))
        for index, sums in enumerate(found.strips):
            if self.lamps:
                paths = (dr.opaque(mi.Float, each) if found.counts is None
                         else on_device(mi.Float, found.counts[self.span(index)]))
                self._add_strip(index, sums, paths, step, left)
        dr.sync_thread()
        share = 1.0 if found.counts is None else np.float32(each) / found.counts.astype(np.float32)
        self.inverse = self.inverse + share
        self.spread = self.spread + share * each
        self.weight += each
        self.passes += 1
        self.next_pass += 1
        self.torn = False

    def _add_strip(self, index: int, sums, paths, step, left) -> None:
        row = dr.arange(mi.UInt, dr.width(self._scatter[index]))
        if dr.width(paths) > 1:
            paths = dr.gather(mi.Float, paths, row // self._lamps)
        mean = read_row(self._mean[index], row, self.bands)
        off = [new / paths - old for new, old in zip(read_row(sums, row, self.bands), mean, strict=True)]
        light = sum((dr.gather(mi.Float, self._eye, mi.UInt(band)) * each for band, each in enumerate(off)),
                    mi.Float(0))
        kept = dr.empty(mi.Float, dr.width(self._mean[index]))
        write_row(kept, row, [old + step * each for old, each in zip(mean, off, strict=True)])
        scatter = self._scatter[index] + left * light * light
        dr.eval(kept, scatter)
        self._mean[index], self._scatter[index] = kept, scatter

    # To the host

    def gathered(self, lamp: int) -> Gathered:
        """Return what has been gathered of one lamp, in rows and columns of this part."""
        grid = (self.rows, self.width)
        slices = np.empty((self.bands, self.rows * self.width), np.float32)
        scatter = np.empty(self.rows * self.width, np.float32)
        number = dr.opaque(mi.UInt, lamp)
        for index, (mean, spread) in enumerate(zip(self._mean, self._scatter, strict=True)):
            span = self.span(index)
            pixel = dr.arange(mi.UInt, span.stop - span.start)
            row = pixel * self._lamps + number
            own = read_row(mean, row, self.bands)
            dr.eval(own)
            for band, values in enumerate(own):
                slices[band, span] = values.numpy()
            scatter[span] = dr.gather(mi.Float, spread, row).numpy()

        def laid(value):
            return value if np.isscalar(value) else np.reshape(value, grid)

        return Gathered(slices.reshape(-1, *grid), scatter.reshape(grid), self.weight, self.passes,
                        self.next_pass, laid(self.inverse), laid(self.spread))

    @property
    def mean(self) -> np.ndarray:
        """Weighted mean of the passes, a copy. Shape (pixel, light, band)"""
        shape = (-1, self.lamps, self.bands)
        return np.concatenate([np.array(each).reshape(shape) for each in self._mean])

    @property
    def scatter(self) -> np.ndarray:
        """Sum of weight · (pass - mean)² of the luminance, a copy. Shape (pixel, light)"""
        return np.concatenate([np.array(each).reshape(-1, self.lamps) for each in self._scatter])

    def pictures(self, weights: np.ndarray) -> np.ndarray:
        """Return what each lamp adds to a picture.

        Parameters
        ----------
        weights : float array, shape (light, band, 3)
            What a band of each lamp counts in three channels.

        Returns
        -------
        float32 array, shape (light, row, column, 3)
        """
        table = on_device(mi.Float, np.asarray(weights, np.float32))
        made = np.empty((self.lamps, self.rows * self.width, 3), np.float32)
        for lamp in range(self.lamps):
            number = dr.opaque(mi.UInt, lamp)
            for index, mean in enumerate(self._mean):
                span = self.span(index)
                pixel = dr.arange(mi.UInt, span.stop - span.start)
                made[lamp, span] = np.array(self._weighed(mean, pixel, number, table)).T
        return made.reshape(self.lamps, self.rows, self.width, 3)

    def mixed(self, weights: np.ndarray) -> np.ndarray:
        """Return the lamps mixed to one picture, as `pictures` and summed up. Shape (row, column, 3)"""
        table = on_device(mi.Float, np.asarray(weights, np.float32))
        made = np.empty((self.rows * self.width, 3), np.float32)
        for index, mean in enumerate(self._mean):
            span = self.span(index)
            pixel = dr.arange(mi.UInt, span.stop - span.start)

            def body(lamp, light, mean=mean, pixel=pixel):
                return lamp + 1, light + self._weighed(mean, pixel, lamp, table)

            _, light = dr.while_loop(
                state=(mi.UInt(0), dr.zeros(mi.Vector3f, dr.width(pixel))),
                cond=lambda lamp, light: lamp < self._lamps, body=body, label="mix")
            made[span] = np.array(light).T
        return made.reshape(self.rows, self.width, 3)

    def _weighed(self, mean, pixel, lamp, table):
        """Return what a lamp adds at pixels of a strip, in three channels. Vector3f"""
        own = read_row(mean, pixel * self._lamps + lamp, self.bands)
        light = mi.Vector3f(0)
        for band, value in enumerate(own):
            light += value * dr.gather(mi.Vector3f, table, lamp * self.bands + band)
        return light

    # From the host

    def take_up(self, parts: list[Gathered]) -> None:
        """Go on from what was gathered of every lamp, all of the same passes.

        Raises
        ------
        ValueError
            They are of another size, or not of the same passes.
        """
        first = parts[0]
        if any(part.same_passes(first) is False for part in parts):
            raise ValueError("the lamps were not gathered together")
        if any(part.slices.shape != (self.bands, self.rows, self.width) for part in parts):
            raise ValueError("the saved state is of another picture")
        for index in range(len(self.strips)):
            span = self.span(index)
            mean = np.stack([part.slices.reshape(self.bands, -1)[:, span].T for part in parts], axis=1)
            scatter = np.stack([part.scatter.ravel()[span] for part in parts], axis=1)
            self._mean[index], self._scatter[index] = on_device(mi.Float, mean), on_device(mi.Float, scatter)
        self.weight, self.passes, self.next_pass = first.weight, first.passes, first.next_pass
        self.inverse, self.spread = (each if np.isscalar(each) else np.ravel(each)
                                     for each in (first.inverse, first.spread))
