"""Meter readings with their errors, lamp by lamp, from what the engine's probes gathered.

Everything here is arithmetic on probes that keep every lamp and band separate: the lamps as they are
set now weight them. Each probe is held in independent batches, so the standard error of a reading,
of one lamp's part of it or of a ratio comes from the same numbers as the reading itself.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from previz.exposure.camera import working_illuminance
from previz.frames.batches import Batches
from previz.physics.exposure import INCIDENT_CONSTANT, CameraSettings
from previz.physics.light import LampLight, lamps_band_errors, lamps_band_xyz


class Measured(NamedTuple):
    """A number and its stated error, in the same unit.

    Parameters
    ----------
    value : float
    error : float
        Of paths and bands together.
    bands : float
        The part of it that bands have, which no more paths make smaller.
    """

    value: float
    error: float
    bands: float = 0.0

    @property
    def paths(self) -> float:
        """The part of the error that paths have: the standard error of the mean."""
        return float(np.sqrt(max(self.error**2 - self.bands**2, 0.0)))


def measured(samples: ArrayLike, bands: float = 0.0) -> Measured:
    """Return the mean of independent batches, shape (batch,), and its error.

    error² = (standard error of the mean)² + (what bands may be off)²; see `physics.band_error`.
    """
    values = np.asarray(samples, dtype=float)
    noise = values.std(ddof=1) / np.sqrt(values.size)
    return Measured(float(values.mean()), float(np.hypot(noise, bands)), float(bands))


def jackknife(of: Callable[[np.ndarray], float], samples: ArrayLike) -> Measured:
    """Return a number worked out from the mean of batches, and its standard error.

    error² = (n - 1) / n · sum of (each - mean of each)², each leaving one batch out.

    Parameters
    ----------
    of : function
        (mean over the batches) -> float.
    samples : float array, shape (batch, ...)
        Independent batches.

    Source
    ------
    Tukey 1958, the jackknife (from memory).
    """
    values = np.asarray(samples, dtype=float)
    count = len(values)
    total = values.sum(axis=0)
    each = np.array([of((total - one) / (count - 1)) for one in values])
    spread = np.sum((each - each.mean()) ** 2) * (count - 1) / count
    return Measured(float(of(total / count)), float(np.sqrt(spread)))


def from_working(light: Measured, settings: CameraSettings,
                 constant: float = INCIDENT_CONSTANT) -> Measured:
    """Return how far a light [lx] lies over (+) or under (-) the stop that a camera is set to. [stops]

    `constant` is C of the receptor [lx s]; -inf without light.
    """
    lux = max(light.value, 0.0)
    per_stop = lux * np.log(2) if lux > 0 else np.inf
    with np.errstate(divide="ignore"):
        stops = np.log2(np.float64(lux) / working_illuminance(settings, constant))
    return Measured(float(stops), float(light.error / per_stop), float(light.bands / per_stop))


@dataclass(frozen=True, eq=False)
class Mixed:
    """One meter under the lamps as they are set, batch by batch.

    Parameters
    ----------
    name : str
    lamps : tuple of str
    xyz : float array, shape (batch, lamp, 2, 3)
        X, Y, Z of each lamp, [direct, bounced]. [lx, or cd/m² of a spot meter]
    bands : float array, shape (lamp, 2), or None
        How far bands may leave the Y of each off; None where it was not worked out. [as xyz]
    """

    name: str
    lamps: tuple[str, ...]
    xyz: np.ndarray
    bands: np.ndarray | None = None

    def light(self, lamps: Collection[str] | None = None, part: int | slice = slice(None)) -> Measured:
        """Return the light of some lamps or all, all of it or one part.

        Parameters
        ----------
        lamps : collection of str, optional
            Only these.
        part : int or slice
            0 for direct, 1 for bounced.

        Raises
        ------
        ValueError
            The meter knows no such lamp.
        """
        return measured(self.batch_light(lamps, part), self.band_error(lamps, part))

    def band_error(self, lamps: Collection[str] | None = None, part: int | slice = slice(None)) -> float:
        """Return how far bands may leave what `light` returns off; lamps' errors add."""
        return 0.0 if self.bands is None else float(self.bands[self._rows(lamps)][:, part].sum())

    def _rows(self, lamps: Collection[str] | None) -> list[int]:
        return [i for i, name in enumerate(self.lamps) if lamps is None or name in lamps]

    def batch_light(self, lamps: Collection[str] | None = None,
                    part: int | slice = slice(None)) -> np.ndarray:
        """Return what `light` does, batch by batch. Shape (batch,)"""
        unknown = [name for name in lamps or () if name not in self.lamps]
        if unknown:
            raise ValueError(f"meter '{self.name}' knows no lamp {unknown}; it has {self.lamps}")
        return self.xyz[:, self._rows(lamps)][:, :, part, ..., 1].reshape(len(self.xyz), -1).sum(axis=1)

    def covariance(self, other: Mixed | None = None) -> np.ndarray:
        """Return how the errors of the lamps' light go together, here or with another meter's. [lx²]

        Of the means over the batches, shape (lamp, lamp), rows are this meter's lamps; `other` has as many
        batches.
        """
        one, two = (each.xyz[..., 1].sum(axis=2) for each in (self, other or self))
        off = [each - each.mean(axis=0) for each in (one, two)]
        return off[0].T @ off[1] / (len(one) * (len(one) - 1))

    def colour_covariance(self) -> np.ndarray:
        """Return how the errors of the lamps' X, Y, Z go together, of the means over the batches.

        Shape (3 lamps, 3 lamps), X, Y, Z of the first lamp first. [lx², or (cd/m²)²]
        """
        light = self.xyz.sum(axis=2).reshape(len(self.xyz), -1)
        off = light - light.mean(axis=0)
        return off.T @ off / (len(light) * (len(light) - 1))

    def by_lamp(self) -> tuple[LampPart, ...]:
        """Return every lamp's part, the strongest first."""
        whole = self.light().value
        parts = []
        for name in self.lamps:
            total, direct, bounced = (self.light((name,), part)
                                      for part in (slice(None), 0, 1))
            share = total.value / whole if whole > 0 else 0.0
            parts.append(LampPart(name, total, direct, bounced, share))
        return tuple(sorted(parts, key=lambda each: -each.total.value))


@dataclass(frozen=True)
class LampPart:
    """What one lamp gives at one meter.

    Parameters
    ----------
    lamp : str
    total, direct, bounced : Measured
        All its light; what comes straight; what met a surface first. [as the meter]
    share : float
        Of the meter's whole reading. [1]
    """

    lamp: str
    total: Measured
    direct: Measured
    bounced: Measured
    share: float


def mix(batches: Batches, lamps: Sequence[LampLight],
        colours: np.ndarray | None = None) -> dict[str, Mixed]:
    """Return every meter under the lamps as they are set.

    Parameters
    ----------
    batches : frames.batches.Batches
        What was gathered.
    lamps : sequence of LampLight
        One for each light of the batches, in any order.
    colours : float array, shape (colours, 81), or None
        What light may have met, for the part that bands have in the errors; None leaves it out. [1]

    Raises
    ------
    ValueError
        Lamps and meters do not name the same lights.
    """
    by_name = {lamp.name: lamp for lamp in lamps}
    if set(by_name) != set(batches.lights) or len(by_name) != len(lamps):
        raise ValueError(f"the meters know the lamps {list(batches.lights)}, "
                         f"got {[lamp.name for lamp in lamps]}")
    means, lights = batches.means, [by_name[name] for name in batches.lights]
    xyz = np.einsum("mklpb,lbc->mklpc", means, lamps_band_xyz(lights, means.shape[-1]))
    bands: list[np.ndarray | None] = [None] * len(batches.names)
    if colours is not None:
        bands = [lamps_band_errors(arriving, lights, colours) for arriving in means.mean(axis=1)]
    return {name: Mixed(name, batches.lights, xyz[i], bands[i])
            for i, name in enumerate(batches.names)}
