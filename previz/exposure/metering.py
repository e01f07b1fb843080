"""Meter readings with their errors, lamp by lamp, from what the engine's probes gathered.

Everything here is arithmetic on probes that keep every lamp and band apart: the lamps as they are
set now weight them. Each probe is held in independent batches, so the standard error of a reading,
of one lamp's part of it or of a ratio comes from the same numbers as the reading itself.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from previz.exposure.camera import stop_of, working_illuminance
from previz.exposure.falsecolour import bt709_percent
from previz.frames.batches import Batches
from previz.frames.records import Short
from previz.physics.exposure import (
    DOME_CONSTANT,
    INCIDENT_CONSTANT,
    CameraSettings,
    signal_per_luminance,
    stops_from_grey,
)
from previz.physics.light import LampLight, lamps_band_errors, lamps_band_xyz
from previz.physics.meter import (
    LUX_PER_FOOTCANDLE,
    NITS_PER_FOOTLAMBERT,
    ev_from_illuminance,
    ev_from_luminance,
)

if TYPE_CHECKING:
    from previz.exposure.faces import FaceLight, KeyLamps
    from previz.exposure.metering_colour import ColourReport


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
    """Return the mean of independent batches and its error.

    error² = (standard error of the mean)² + (what bands may be off)².

    Parameters
    ----------
    samples : float array, shape (batch,)
        [any]
    bands : float
        See `physics.band_error`. [as samples]
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
    """Return how far a light lies over (+) or under (-) the stop that a camera is set to.

    Parameters
    ----------
    light : Measured
        [lx]
    settings : CameraSettings
        The camera.
    constant : float
        C of the receptor. [lx s]

    Returns
    -------
    Measured
        -inf without light. [stops]
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
        light = self.batch_light(lamps, part)
        return measured(light, self.band_error(lamps, part))

    def band_error(self, lamps: Collection[str] | None = None, part: int | slice = slice(None)) -> float:
        """Return how far bands may leave what `light` returns off; lamps' errors add."""
        if self.bands is None:
            return 0.0
        rows = [i for i, name in enumerate(self.lamps) if lamps is None or name in lamps]
        return float(self.bands[rows][:, part].sum())

    def batch_light(self, lamps: Collection[str] | None = None,
                    part: int | slice = slice(None)) -> np.ndarray:
        """Return what `light` does, batch by batch. Shape (batch,)"""
        unknown = [name for name in lamps or () if name not in self.lamps]
        if unknown:
            raise ValueError(f"meter '{self.name}' knows no lamp {unknown}; it has {self.lamps}")
        rows = [i for i, name in enumerate(self.lamps) if lamps is None or name in lamps]
        return self.xyz[:, rows][:, :, part, ..., 1].reshape(len(self.xyz), -1).sum(axis=1)

    def covariance(self, other: Mixed | None = None) -> np.ndarray:
        """Return how the errors of the lamps' light go together, here or with another meter's.

        Parameters
        ----------
        other : Mixed, optional
            With as many batches; this meter itself without it.

        Returns
        -------
        float array, shape (lamp, lamp)
            Of the means over the batches; rows are this meter's lamps. [lx²]
        """
        one, two = (each.xyz[..., 1].sum(axis=2) for each in (self, other or self))
        off = [each - each.mean(axis=0) for each in (one, two)]
        return off[0].T @ off[1] / (len(one) * (len(one) - 1))

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
        All its light; what comes straight; what met a surface on the way. [as the meter]
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
    means = batches.means
    weights = lamps_band_xyz([by_name[name] for name in batches.lights], means.shape[-1])
    xyz = np.einsum("mklpb,lbc->mklpc", means, weights)
    bands: list[np.ndarray | None] = [None] * len(batches.names)
    if colours is not None:
        lights = [by_name[name] for name in batches.lights]
        bands = [lamps_band_errors(arriving, lights, colours) for arriving in means.mean(axis=1)]
    return {name: Mixed(name, batches.lights, xyz[i], bands[i])
            for i, name in enumerate(batches.names)}


@dataclass(frozen=True)
class CameraNote:
    """A camera and how it is set.

    Parameters
    ----------
    name : str
    settings : CameraSettings
    """

    name: str
    settings: CameraSettings


@dataclass(frozen=True)
class Receptor:
    """A reading of one receptor.

    Parameters
    ----------
    light : Measured
        Illuminance, flat (cosine) or domed (cardioid). [lx]
    footcandles : float
        The same. [fc]
    ev100 : float
        Exposure value at ISO 100 by the constant of the receptor; -inf without light. [EV]
    stops : tuple of (str, float)
        Camera, and the T-stop to set at its ISO, shutter and filters. [1]
    working : tuple of (str, Measured)
        Camera, and how far the light lies over the stop that it is set to. [stops]
    lamps : tuple of LampPart
    constant : float
        C of the receptor. [lx s]
    """

    light: Measured
    footcandles: float
    ev100: float
    stops: tuple[tuple[str, float], ...]
    working: tuple[tuple[str, Measured], ...]
    lamps: tuple[LampPart, ...]
    constant: float = INCIDENT_CONSTANT


def receptor(mixed: Mixed, cameras: Sequence[CameraNote], dome: bool = False) -> Receptor:
    """Return what one incident meter shows.

    Parameters
    ----------
    mixed : Mixed
        In lx.
    cameras : sequence of CameraNote
        Those that a stop is worked out for.
    dome : bool
        Takes the constant C of a domed receptor.
    """
    constant = DOME_CONSTANT if dome else INCIDENT_CONSTANT
    light = mixed.light()
    lux = max(light.value, 0.0)
    with np.errstate(divide="ignore"):
        ev100 = float(ev_from_illuminance(lux, constant))
    stops = tuple((camera.name, float(stop_of(lux, camera.settings, constant)))
                  for camera in cameras)
    working = tuple((camera.name, from_working(light, camera.settings, constant))
                    for camera in cameras)
    return Receptor(light, lux / LUX_PER_FOOTCANDLE, ev100, stops, working, mixed.by_lamp(),
                    constant)


@dataclass(frozen=True)
class Place:
    """A place where light is metered.

    Parameters
    ----------
    name : str
    flat, dome : Receptor or None
    colour : metering_colour.ColourReport or None
        Of the light on the flat receptor (on the dome where there is no flat one).
    """

    name: str
    flat: Receptor | None
    dome: Receptor | None
    colour: ColourReport | None = None


@dataclass(frozen=True)
class SpotReading:
    """What a spot meter reads on one thing.

    Parameters
    ----------
    name, camera : str
        The thing, and the camera it is seen from.
    luminance : Measured
        Mean over what the camera sees of it. [cd/m²]
    footlamberts : float
        The same. [fL]
    stops : Measured
        From 18 % grey at the camera's settings; -inf without light. [stops]
    percent : float
        BT.709 level, 100 at most. [%]
    ev100 : float
        Exposure value at ISO 100, K 12.5; -inf without light. [EV]
    share : float
        Of the camera's picture that it takes. [1]
    lamps : tuple of LampPart
        Direct: lit straight by the lamp, or the lamp itself.
    """

    name: str
    camera: str
    luminance: Measured
    footlamberts: float
    stops: Measured
    percent: float
    ev100: float
    share: float
    lamps: tuple[LampPart, ...]


def spot_reading(mixed: Mixed, name: str, camera: CameraNote, share: float) -> SpotReading:
    """Return what a camera's spot meter reads.

    Parameters
    ----------
    mixed : Mixed
        In cd/m².
    name : str
        The thing.
    camera : CameraNote
        It and its settings.
    share : float
        Of the picture. [1]
    """
    luminance = mixed.light()
    nits = max(luminance.value, 0.0)
    signal = nits * signal_per_luminance(camera.settings)
    relative = luminance.error / nits if nits > 0 else 0.0
    with np.errstate(divide="ignore"):
        ev100 = float(ev_from_luminance(nits))
    return SpotReading(
        name, camera.name, luminance, nits / NITS_PER_FOOTLAMBERT,
        Measured(float(stops_from_grey(signal)), relative / np.log(2),
                 luminance.bands / nits / np.log(2) if nits > 0 else 0.0),
        float(bt709_percent(signal)), ev100, share, mixed.by_lamp())


@dataclass(frozen=True)
class Report:
    """All the readings of one option of a scene.

    Parameters
    ----------
    title, option : str
        The scene; '' for the option where it has none.
    cameras : tuple of CameraNote
    places : tuple of Place
    faces : tuple of faces.FaceLight
    key_lamps : tuple of faces.KeyLamps
        Of each face that is lit.
    spots : tuple of SpotReading
    precision : float
        Relative standard error of the request. [1]
    short : tuple of frames.records.Short
        Meters that did not reach it.
    paths : (int, int)
        Fewest and most paths of a meter.
    bands : int
    lamps : tuple of str
    """

    title: str
    option: str
    cameras: tuple[CameraNote, ...]
    places: tuple[Place, ...]
    faces: tuple[FaceLight, ...]
    key_lamps: tuple[KeyLamps, ...]
    spots: tuple[SpotReading, ...]
    precision: float
    short: tuple[Short, ...]
    paths: tuple[int, int]
    bands: int
    lamps: tuple[str, ...]
