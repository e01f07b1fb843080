"""Meter readings with their errors, lamp by lamp, from what the engine's probes gathered.

Everything here is arithmetic on probes that keep every lamp and band apart: the lamps as they are
set now weight them. Each probe is held in independent batches, so the standard error of a reading,
of one lamp's part of it or of a ratio comes from the same numbers as the reading itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from previz.exposure.falsecolour import bt709_percent
from previz.exposure.readings import stop_of
from previz.physics.exposure import (
    DOME_CONSTANT,
    INCIDENT_CONSTANT,
    signal_per_luminance,
    stops_from_grey,
)
from previz.physics.light import lamp_band_xyz
from previz.physics.meter import (
    LUX_PER_FOOTCANDLE,
    NITS_PER_FOOTLAMBERT,
    ev_from_illuminance,
    ev_from_luminance,
)

EACH_ALONE = "key : fill, each alone"
"""The ratio (a): key light alone against fill light alone."""

LIT_TO_SHADOW = "lighting ratio (key + fill) : fill"
"""The ratio (b): lit side against shadow side, where the fill reaches both."""


class Measured(NamedTuple):
    """A number and its standard error, in the same unit."""

    value: float
    error: float


def measured(samples) -> Measured:
    """Return the mean of independent batches and its standard error.

    Parameters
    ----------
    samples : float array, shape (batch,)
        [any]
    """
    values = np.asarray(samples, dtype=float)
    return Measured(float(values.mean()), float(values.std(ddof=1) / np.sqrt(values.size)))


def jackknife(of, samples) -> Measured:
    """Return a number worked out from the mean of batches, and its standard error.

    error² = (n - 1) / n · sum of (each - mean of each)², each leaving one batch out.

    Parameters
    ----------
    of : function
        (mean over the batches) -> float.
    samples : float array, shape (batch, ...)

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


@dataclass(frozen=True, eq=False)
class Mixed:
    """One meter under the lamps as they are set, batch by batch.

    Parameters
    ----------
    name : str
    lamps : tuple of str
    xyz : float array, shape (batch, lamp, 2, 3)
        X, Y, Z of each lamp, [direct, bounced]. [lx, or cd/m² of a spot meter]
    """

    name: str
    lamps: tuple[str, ...]
    xyz: np.ndarray

    def light(self, lamps=None, part=slice(None)) -> Measured:
        """Return the light of some lamps or all, all of it or one part.

        Parameters
        ----------
        lamps : collection of str, optional
        part : int or slice
            0 for direct, 1 for bounced.

        Raises
        ------
        ValueError
            The meter knows no such lamp.
        """
        return measured(self._sums(lamps, part))

    def _sums(self, lamps=None, part=slice(None)):
        unknown = [name for name in lamps or () if name not in self.lamps]
        if unknown:
            raise ValueError(f"meter '{self.name}' knows no lamp {unknown}; it has {self.lamps}")
        rows = [i for i, name in enumerate(self.lamps) if lamps is None or name in lamps]
        return self.xyz[:, rows][:, :, part, ..., 1].reshape(len(self.xyz), -1).sum(axis=1)

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


def mix(batches, lamps) -> dict[str, Mixed]:
    """Return every meter under the lamps as they are set.

    Parameters
    ----------
    batches : frames.batches.Batches
    lamps : sequence of LampLight
        One for each light of the batches, in any order.

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
    weights = np.stack([lamp_band_xyz(by_name[name], means.shape[-1])
                        for name in batches.lights])
    xyz = np.einsum("mklpb,lbc->mklpc", means, weights)
    return {name: Mixed(name, batches.lights, xyz[i]) for i, name in enumerate(batches.names)}


@dataclass(frozen=True)
class CameraNote:
    """A camera and how it is set.

    Parameters
    ----------
    name : str
    settings : CameraSettings
    """

    name: str
    settings: object


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
    lamps : tuple of LampPart
    """

    light: Measured
    footcandles: float
    ev100: float
    stops: tuple[tuple[str, float], ...]
    lamps: tuple[LampPart, ...]


def receptor(mixed: Mixed, cameras, dome: bool = False) -> Receptor:
    """Return what one incident meter shows.

    Parameters
    ----------
    mixed : Mixed
    cameras : sequence of CameraNote
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
    return Receptor(light, lux / LUX_PER_FOOTCANDLE, ev100, stops, mixed.by_lamp())


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
    colour: object = None


@dataclass(frozen=True)
class Ratios:
    """Key and fill at a face, under both definitions in print.

    Parameters
    ----------
    figure : str
    basis : str
        What was taken for key and for fill.
    key, fill : Measured
        Each alone. [lx]
    each_alone, lit_to_shadow : Measured
        K / F and (K + F) / F; inf without fill. [1]
    """

    figure: str
    basis: str
    key: Measured
    fill: Measured
    each_alone: Measured
    lit_to_shadow: Measured

    def named(self) -> tuple[tuple[str, Measured], ...]:
        """Return both ratios with their names."""
        return (EACH_ALONE, self.each_alone), (LIT_TO_SHADOW, self.lit_to_shadow)


def stops_of(ratio: Measured) -> Measured:
    """Return a ratio in stops: log2 r.

    Parameters
    ----------
    ratio : Measured
        [1]
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        return Measured(float(np.log2(ratio.value)),
                        float(ratio.error / np.float64(ratio.value) / np.log(2)))


def _over(key, fill):
    with np.errstate(divide="ignore", invalid="ignore"):
        return float(np.float64(key) / np.float64(fill))


def ratios_by_sides(figure: str, left: Mixed, right: Mixed) -> Ratios:
    """Return the ratios of a face from the meters at its two cheeks.

    The fill is taken to reach both sides alike, so what the lit side has more is the key. This
    counts the room's return of the key's own light as the fill that it is.

    Parameters
    ----------
    figure : str
    left, right : Mixed
    """
    one, other = left.light(), right.light()
    lit, shadow, side = ((one, other, ("left", "right")) if one.value >= other.value
                         else (other, one, ("right", "left")))
    key = Measured(lit.value - shadow.value, float(np.hypot(lit.error, shadow.error)))
    whole = _over(lit.value, shadow.value)
    relative = np.hypot(_over(lit.error, lit.value), _over(shadow.error, shadow.value))
    error = float(whole * relative)
    return Ratios(figure, f"by its sides: key = what the {side[0]} cheek has over the {side[1]}, "
                  f"fill = the {side[1]} cheek",
                  key, shadow, Measured(whole - 1, error), Measured(whole, error))


def ratios_by_lamps(figure: str, left: Mixed, right: Mixed, key_lamps=()) -> Ratios:
    """Return the ratios of a face from the lamps, at the cheek that has more of the key.

    Parameters
    ----------
    figure : str
    left, right : Mixed
    key_lamps : collection of str
        Lamps that make the key; the strongest of the brighter cheek if none is named. Their light
        off the walls counts as key.

    Raises
    ------
    ValueError
        The meters know no such lamp.
    """
    names = tuple(key_lamps)
    at = max((left, right), key=lambda side: side.light(names or None).value)
    names = names or (at.by_lamp()[0].lamp,)
    others = tuple(name for name in at.lamps if name not in names)
    pair = np.stack([at._sums(names), at._sums(others)], axis=1)
    if pair[:, 1].mean() > 0:
        ratio = jackknife(lambda mean: _over(*mean), pair)
    else:
        ratio = Measured(np.inf, 0.0)
    called = " + ".join(f"'{name}'" for name in names)
    cheek = at.name.rpartition(": ")[2]
    return Ratios(figure, f"by its lamps at the {cheek}: key = {called}, fill = every other lamp",
                  measured(pair[:, 0]), measured(pair[:, 1]), ratio,
                  Measured(ratio.value + 1, ratio.error))


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
        Measured(float(stops_from_grey(signal)), relative / np.log(2)),
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
    ratios : tuple of Ratios
    spots : tuple of SpotReading
    precision : float
        Relative standard error that was asked for. [1]
    short : tuple of (str, float)
        Meters that did not reach it, with the error that they have. [1]
    paths : (int, int)
        Fewest and most paths of a meter.
    bands : int
    lamps : tuple of str
    """

    title: str
    option: str
    cameras: tuple[CameraNote, ...]
    places: tuple[Place, ...]
    ratios: tuple[Ratios, ...]
    spots: tuple[SpotReading, ...]
    precision: float
    short: tuple[tuple[str, float], ...]
    paths: tuple[int, int]
    bands: int
    lamps: tuple[str, ...]
