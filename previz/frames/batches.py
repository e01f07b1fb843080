"""Batches: what meters gathered, kept in parts that know nothing of each other.

A meter's paths are shared out to `BATCHES` independent sums. Their mean is the reading; their
spread gives the standard error of anything worked out from the reading: of one lamp, of a mix, of
a ratio or a colour. Sums go on where they were left, so more precision costs only what is missing.

A spread says little where a handful of paths brought it: most runs then gather less than there is,
and less spread with it. So the sums of single threads, of which there are many more than batches,
leave their second and fourth moments: on how many of them the spread stands follows from these
(`support`), and the batches of what stands on few are spread wider (`WIDENED`).
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from previz.frames.archives import read_archive, write_archive
from previz.frames.whole import WholeFile, whole_file

BATCHES = 64
"""Independent sums of one meter; a standard error from them is itself good to 9 %."""

WIDENED = 1.0
"""A squared error that stands on k contributions grows by this over k. Their number is Poisson's:
few of them and a small error come together, so that the plain root of what was gathered is short where
it matters. More would overstate what is met once in many runs. [1]"""

LEAST_SUPPORT = 5.0
"""Contributions that an error must stand on before it is taken for one. [1]"""

NO_MATTER = 0.5
"""An error of so small a share of the requested one may stand on few. [1]"""


GATHERED = ("sums", "paths", "rounds", "squares", "fourths", "hidden")
"""Arrays of `Batches`, each with the meters along its first axis."""


@dataclass(eq=False)
class Batches:
    """Sums of several meters, to be added to.

    Parameters
    ----------
    names : tuple of str
        The meters.
    lights : tuple of str
        The lamps.
    sums : float64 array, shape (meter, batch, light, 2, band)
        Sum over a batch's paths of what arrives [direct, bounced] per unit of the lamp's flux in
        the band: illuminance [1/m²; 1 for lux] or radiance [1/(m² sr); 1/sr].
    paths : int array, shape (meter,)
        Paths in each batch.
    rounds : int array, shape (meter,)
        Number of the round of random numbers after the last one that a meter has used.
    squares, fourths : float64 array, shape (meter, light)
        Second and fourth powers of how far each thread's sum in a round lay from the mean of the
        round's, summed over threads and rounds, of the eye's mean over the bands. [as `sums`, to
        that power]
    hidden : float64 array, shape (meter, light)
        Light that may be there and that no path has found, as a standard error. [as `sums`
        over paths]
    """

    names: tuple[str, ...]
    lights: tuple[str, ...]
    sums: np.ndarray
    paths: np.ndarray
    rounds: np.ndarray
    squares: np.ndarray
    fourths: np.ndarray
    hidden: np.ndarray

    @classmethod
    def empty(cls, names: Iterable[str], lights: Iterable[str], bands: int) -> Batches:
        """Return meters that have gathered nothing yet."""
        names, lights = tuple(names), tuple(lights)
        shape = len(names), len(lights)
        return cls(names, lights, np.zeros((len(names), BATCHES, len(lights), 2, bands)),
                   np.zeros(len(names), int), np.zeros(len(names), int), np.zeros(shape),
                   np.zeros(shape), np.zeros(shape))

    def some(self, which: Iterable[int]) -> Batches:
        """Return a copy of some of the meters."""
        which = list(which)
        return Batches(tuple(self.names[i] for i in which), self.lights,
                       **{label: getattr(self, label)[which] for label in GATHERED})

    def take(self, other: Batches, which: Iterable[int]) -> None:
        """Take over what a copy of some of the meters has gathered."""
        which = list(which)
        for label in GATHERED:
            getattr(self, label)[which] = getattr(other, label)

    def add(self, which: np.ndarray, sums: np.ndarray, threads: int, weights: ArrayLike) -> None:
        """Add a round's light, without its paths.

        Parameters
        ----------
        which : int array
            Meters.
        sums : float array, shape (of them, thread, light, 2, band)
            Sum over each thread's paths; threads of a batch follow each other.
        threads : int
            Of each batch.
        weights : float array, shape (band,)
            See `squares`.
        """
        shape = len(sums), BATCHES, threads, *sums.shape[2:]
        self.sums[which] += sums.reshape(shape).sum(axis=2)
        bright = sums.sum(axis=3) @ np.asarray(weights)
        off = (bright - bright.mean(axis=1, keepdims=True)) ** 2
        self.squares[which] += off.sum(axis=1)
        self.fourths[which] += (off**2).sum(axis=1)

    @property
    def support(self) -> np.ndarray:
        """On how many contributions the spread of each lamp's light stands.

        (sum of d²)² / sum of d⁴ for sums that lie d off: as many as there are where rare ones of
        one size make all the spread, a third of the threads where it is Gaussian; inf without
        spread. One over it is the variance of the squared error, over its square. Shape (meter,
        light) [1]

        Source
        ------
        Variance of a sample's variance: Kenney and Keeping, Mathematics of Statistics 2, 1951 (from memory).
        """
        return np.divide(self.squares**2, self.fourths, out=np.full(self.squares.shape, np.inf),
                         where=self.fourths > 0)

    @property
    def means(self) -> np.ndarray:
        """Mean of each batch, as `found`, with `hidden` as a spread of its own. As `sums`."""
        spread = np.einsum("ml,kl->mkl", self.hidden, signs(len(self.lights)))
        means = self.found
        means[:, :, :, 1] += spread[..., None]
        return means

    @property
    def found(self) -> np.ndarray:
        """Mean of each batch, further from the mean of all where the spread stands on few contributions.

        Zeros where nothing is gathered. As `sums`.
        """
        plain = self.sums / np.maximum(self.paths, 1)[:, None, None, None, None]
        middle = plain.mean(axis=1, keepdims=True)
        wide = np.sqrt(1 + WIDENED / self.support)
        return middle + (plain - middle) * wide[:, None, :, None, None]

    def mixed(self, weights: np.ndarray, found: bool = False) -> np.ndarray:
        """Return each batch's reading under a mix of the lamps.

        Parameters
        ----------
        weights : float array, shape (light, band)
            What each band of each lamp counts. [lm or lx]
        found : bool
            Without the spread of what is hidden.

        Returns
        -------
        float array, shape (meter, batch)
            [lx or cd/m²]
        """
        return np.einsum("mklpb,lb->mk", self.found if found else self.means, weights)

    def relative_error(self, weights: np.ndarray, others: float | np.ndarray = 0.0,
                       found: bool = False) -> np.ndarray:
        """Return each meter's standard error over its reading, under a mix of the lamps.

        Parameters
        ----------
        weights : float array, shape (light, band)
            As in `mixed`.
        others : float array, shape (meter, batch)
            What other lamps add to each batch's reading. [lx or cd/m²]
        found : bool
            As in `mixed`.

        Returns
        -------
        float array, shape (meter,)
            inf where nothing is gathered; 0 where no light arrives, or where there is no lamp. [1]
        """
        relative = spread_of(self.mixed(weights, found) + others)
        return np.where((self.paths > 0) | (not self.lights), relative, np.inf)

    def parts(self, weights: np.ndarray) -> np.ndarray:
        """Return the variance of each meter's batches by each lamp. Shape (meter, light) [lx²]"""
        return np.einsum("mklpb,lb->mkl", self.found, weights).var(axis=1)

    def stands_on(self, weights: np.ndarray) -> np.ndarray:
        """Return on how many contributions the spread of each meter's reading stands, under a mix.

        Each lamp counts as it adds to the variance; that one path may bring the light of several
        is taken as the rule. Shape (meter,) [1]
        """
        parts = self.parts(weights)
        whole = parts.sum(axis=1, keepdims=True)
        share = np.divide(parts, whole, out=np.zeros_like(parts), where=whole > 0)
        root = np.sum(share / np.sqrt(self.support), axis=1)
        return np.divide(1.0, root**2, out=np.full(len(root), np.inf), where=root > 0)

    def on_few(self, weights: np.ndarray, precision: float | np.ndarray,
               others: float | np.ndarray = 0.0) -> np.ndarray:
        """Return which meters' errors count and stand on too few contributions, or on none.

        Shape (meter,)

        Parameters
        ----------
        weights, others
            As of `relative_error`.
        precision : float, or float array of shape (meter,)
            Relative standard error of the request. [1]
        """
        own = self.mixed(weights, found=True)
        counts = NO_MATTER * precision * (own + others).mean(axis=1)
        error = own.std(axis=1, ddof=1) / np.sqrt(own.shape[1])
        few = (self.stands_on(weights) < LEAST_SUPPORT) & (error > counts)
        return (few & (self.paths > 0)) | self.missed(weights, precision, others)

    def missed(self, weights: np.ndarray, precision: float | np.ndarray,
               others: float | np.ndarray = 0.0) -> np.ndarray:
        """Return which meters may miss so much that it counts; as `on_few`. Shape (meter,)"""
        whole = (self.mixed(weights, found=True) + others).mean(axis=1)
        most = np.sqrt(np.sum((self.hidden * np.sum(weights, axis=1)) ** 2, axis=1))
        return (most > NO_MATTER * precision * whole) & (self.paths > 0)


def signs(lights: int) -> np.ndarray:
    """Return numbers that give a lamp's batches a standard error of 1, each lamp its own.

    Rows of Walsh's functions (from memory): each sums to 0 and they are orthogonal, up to
    one less than there are batches. Shape (batch, light)
    """
    batch, row = np.arange(BATCHES)[:, None], 1 + np.arange(lights) % (BATCHES - 1)
    return np.sqrt(BATCHES - 1) * (1.0 - 2.0 * (np.bitwise_count(batch & row) % 2))


def spread_of(mixed: np.ndarray) -> np.ndarray:
    """Return the standard error of readings over the readings, from their batches.

    Parameters
    ----------
    mixed : float array, shape (meter, batch)
        As `Batches.mixed` gives it.

    Returns
    -------
    float array, shape (meter,)
        0 where no light arrives. [1]
    """
    mean = mixed.mean(axis=1)
    error = mixed.std(axis=1, ddof=1) / np.sqrt(mixed.shape[1])
    return np.divide(error, mean, out=np.zeros_like(mean), where=mean > 0)


def write_meter(path: str | os.PathLike[str], batches: Batches, index: int,
                note: dict[str, Any] | None = None, whole: WholeFile = whole_file) -> None:
    """Write what one meter has gathered to a file of its own, whole or not at all.

    Parameters
    ----------
    path : path-like
        Replaced if it is there.
    batches : Batches
        The meters.
    index : int
        Which of them.
    note : dict, optional
        Plain values that go with it; see `read_meter_note`.
    whole : function
        As `whole_file`, which gives it its name.
    """
    write_archive(path, "previz_meter", {label: getattr(batches, label)[index] for label in GATHERED},
                  note or {}, whole=whole)


def read_meter(path: str | os.PathLike[str], batches: Batches, index: int) -> bool:
    """Take up what one meter had gathered.

    Parameters
    ----------
    path : path-like
        Where `write_meter` put it.
    batches : Batches
        Changed in place.
    index : int
        Which of its meters.

    Returns
    -------
    bool
        False where there is no such file, or it is torn or of another size; nothing is changed.
    """
    read = read_archive(path, "previz_meter")
    if read is None or not read[0].keys() >= set(GATHERED):
        return False
    found = {label: read[0][label] for label in GATHERED}
    for label, values in found.items():
        if values.dtype.kind not in "iuf" or values.shape != getattr(batches, label).shape[1:] or (
                not np.all(np.isfinite(values))):
            return False
    if found["paths"] < 1:
        return False
    for label, values in found.items():
        getattr(batches, label)[index] = values
    return True


def read_meter_note(path: str | os.PathLike[str]) -> dict[str, Any]:
    """Return the plain values that a meter's file was written with; none where it is torn."""
    read = read_archive(path, "previz_meter")
    return {} if read is None else read[1]
