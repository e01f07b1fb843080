"""Random numbers of a place: the same on every machine, and without a seam where a tile repeats."""

from __future__ import annotations

import numpy as np

Size = tuple[float, float]


def lot(seed: int, *places) -> np.ndarray:
    """Return a number of [0, 1) for whole numbers of a place, which may be arrays that broadcast.

    Source
    ------
    The last steps of MurmurHash3 (Appleby, public domain), from memory.
    """
    mixed = np.full((1,) * max(np.ndim(places[0]), 1), seed % 2**32, np.uint32)
    for place in places:
        mixed = mixed * np.uint32(0x9E3779B1) + np.asarray(place).astype(np.int64).astype(np.uint32)
        mixed = (mixed ^ (mixed >> np.uint32(16))) * np.uint32(0x85EBCA6B)
        mixed = (mixed ^ (mixed >> np.uint32(13))) * np.uint32(0xC2B2AE35)
        mixed = mixed ^ (mixed >> np.uint32(16))
    return mixed / 2.0**32


class Noise:
    """Noise over a tile that repeats, of any wavelengths.

    Parameters
    ----------
    rows, columns : int
    size : (float, float)
        Width and height of the tile. [m]
    seed : int
    """

    def __init__(self, rows: int, columns: int, size: Size, seed: int):
        self.shape = rows, columns
        white = lot(seed, np.arange(rows)[:, None], np.arange(columns)[None])
        self._white = np.fft.rfft2(white - 0.5)
        self._across = np.fft.rfftfreq(columns, size[0] / columns)[None]
        self._up = np.fft.fftfreq(rows, size[1] / rows)[:, None]

    def band(self, least: float, greatest: float, *, slope: float = 1.0, along: float = 1.0,
             up: float = 1.0) -> np.ndarray:
        """Return noise of a mean of 0 and a scatter of 1, shape (rows, columns).

        Parameters
        ----------
        least, greatest : float
            Wavelengths between which it lies. [m]
        slope : float
            Its amplitude goes by the wavelength to this power (times one, as the plane has two
            dimensions): 0 for grains of the least size, 1 for clouds that have all sizes alike. [1]
        along, up : float
            How far it is drawn out in u and in v. [1]
        """
        waves = np.hypot(self._across * along, self._up * up)
        with np.errstate(divide="ignore"):
            gain = np.where(waves > 0, waves, np.inf) ** -(slope if slope else 0.0)
        gain = gain if slope else np.where(waves > 0, 1.0, 0.0)
        gain = gain * np.exp(-((waves * least) ** 2)) * -np.expm1(-((waves * greatest) ** 4))
        made = np.fft.irfft2(self._white * gain, self.shape)
        return made / max(np.sqrt(np.mean(made**2)), 1e-12)


def cells(u: np.ndarray, v: np.ndarray, size: Size, counts: tuple[int, int], seed: int, loose: float = 0.8):
    """Return the scattered points that each place of a tile is nearest to.

    Parameters
    ----------
    u, v : float array, shapes (1, columns) and (rows, 1)
        Places. [m]
    size : (float, float)
        Of the tile. [m]
    counts : (int, int)
        Points across and up, one in each cell of a grid.
    seed : int
    loose : float
        How far a point may lie from the middle of its cell, over half of that. [1]

    Returns
    -------
    nearest, gap : float array, shape (rows, columns)
        Distance to the nearest point, and how much farther the next one is. [m]
    aside : (float array, float array)
        From the nearest point to the place. [m]
    number : int array, shape (rows, columns)
        The point's.

    Source
    ------
    Worley 1996, "A cellular texture basis function".
    """
    wide, high = size[0] / counts[0], size[1] / counts[1]
    column, row = np.floor(u / wide).astype(int), np.floor(v / high).astype(int)
    nearest = np.full((v.shape[0], u.shape[1]), np.inf)
    second, number = nearest.copy(), np.zeros(nearest.shape, int)
    right, upward = np.zeros_like(nearest), np.zeros_like(nearest)
    for step_v in (-1, 0, 1):
        for step_u in (-1, 0, 1):
            i, j = (column + step_u) % counts[0], (row + step_v) % counts[1]
            one, two = (loose * (lot(seed + k, i, j) - 0.5) + 0.5 for k in (0, 1))
            du = u - (column + step_u + one) * wide
            dv = v - (row + step_v + two) * high
            apart = np.sqrt(du * du + dv * dv)
            closer = apart < nearest
            second = np.where(closer, nearest, np.minimum(second, apart))
            nearest = np.where(closer, apart, nearest)
            number = np.where(closer, i * counts[1] + j, number)
            right, upward = np.where(closer, du, right), np.where(closer, dv, upward)
    return nearest, second - nearest, (right, upward), number
