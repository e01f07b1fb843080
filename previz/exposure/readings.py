"""Readings: what the meters and the picture say, in the words of a set.

Incident readings come from the engine's probes, lamp by lamp, never from pixels. Spot readings
are means over the pixels of a named thing, from the picture as rendered, never denoised.

Two ratios of key and fill are in print and both are given (`key_fill`), since each is called
"the ratio" by some.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.exposure.falsecolour import bt709_percent
from previz.physics.colourtemp import cct_duv, xy_from_xyz
from previz.physics.exposure import (
    INCIDENT_CONSTANT,
    density_transmission,
    signal_per_luminance,
    stops_from_grey,
)
from previz.physics.light import lamps_band_xyz
from previz.physics.meter import (
    ev_from_luminance,
    illuminance_for_stop,
    incident_f_number,
    key_to_fill,
    lighting_ratio,
)


@dataclass(frozen=True)
class Spot:
    """Mean of a thing's pixels.

    Parameters
    ----------
    name : str
        The thing.
    luminance : float
        [cd/m²]
    signal : float
        Scene-linear; 0.18 is mid grey. [1]
    stops : float
        From 18 % grey; -inf without light. [stops]
    ev100 : float
        Exposure value of the luminance at ISO 100, K 12.5. [EV]
    video_percent : float
        BT.709 level. [%]
    cct, duv : float or None
        Colour of what comes to the lens; None where it has no colour temperature. [K], [1]
    pixels : int
        How many pixels it takes.
    """

    name: str
    luminance: float
    signal: float
    stops: float
    ev100: float
    video_percent: float
    cct: float | None
    duv: float | None
    pixels: int


@dataclass(frozen=True, eq=False)
class Incident:
    """Light that arrives at one meter.

    Parameters
    ----------
    name : str
        The meter.
    lamps : tuple of str
        Order of the parts.
    xyz : float array, shape (lamp, 2, 3)
        Illuminance of each lamp, [direct, bounced], as X, Y, Z. [lx]
    stderr : float
        Standard error of the whole. [lx]
    """

    name: str
    lamps: tuple[str, ...]
    xyz: np.ndarray
    stderr: float

    @property
    def illuminance(self):
        """All the light. [lx]"""
        return float(self.xyz[:, :, 1].sum())

    @property
    def direct(self):
        """Light straight from the lamps. [lx]"""
        return float(self.xyz[:, 0, 1].sum())

    @property
    def bounced(self):
        """Light that met a surface on its way. [lx]"""
        return float(self.xyz[:, 1, 1].sum())

    def of(self, names):
        """Return the light of some of the lamps.

        Parameters
        ----------
        names : iterable of str
            Lamps.

        Returns
        -------
        float
            [lx]

        Raises
        ------
        ValueError
            The meter knows no such lamp.
        """
        names = tuple(names)
        unknown = [name for name in names if name not in self.lamps]
        if unknown:
            raise ValueError(f"meter '{self.name}' knows no lamp {unknown}; it has {self.lamps}")
        rows = [number for number, name in enumerate(self.lamps) if name in names]
        return float(self.xyz[rows, :, 1].sum())

    def colour(self):
        """Return CCT [K] and Duv of the light, or (None, None) where it has none."""
        return _colour(self.xyz.sum(axis=(0, 1)))


@dataclass(frozen=True)
class KeyFill:
    """Key and fill at one place, each metered alone.

    Parameters
    ----------
    key, fill : float
        [lx]
    """

    key: float
    fill: float

    @property
    def key_to_fill(self):
        """Key : fill, each metered alone; inf without fill. [1]"""
        return _ratio(key_to_fill, self)

    @property
    def lighting_ratio(self):
        """(Key + fill) : fill, lit side to shadow side; inf without fill. [1]"""
        return _ratio(lighting_ratio, self)


def _ratio(of, pair):
    with np.errstate(divide="ignore", invalid="ignore"):
        return float(of(pair.key, pair.fill))


def _colour(xyz):
    if not xyz[1] > 0:
        return None, None
    try:
        return cct_duv(xy_from_xyz(xyz))
    except ValueError:
        return None, None


def working_illuminance(settings, constant=INCIDENT_CONSTANT):
    """Return the light that meters at the stop that is set: E = C T² / (t S tau).

    Parameters
    ----------
    settings : CameraSettings
        The camera.
    constant : float
        C of the incident meter. [lx s]

    Returns
    -------
    float
        [lx]

    Source
    ------
    ISO 2720:1974, incident-light equation.
    """
    passed = settings.iso * density_transmission(settings.nd_density)
    return float(
        illuminance_for_stop(
            settings.stop, exposure_index=passed, shutter=settings.shutter_s, constant=constant
        )
    )


def stops_from_working(illuminance, settings, constant=INCIDENT_CONSTANT):
    """Return how far a light lies over (+) or under (-) the working stop.

    Parameters
    ----------
    illuminance : float array, shape (...)
        [lx]
    settings : CameraSettings
        The camera.
    constant : float
        C. [lx s]

    Returns
    -------
    float array, shape (...)
        log2(E / working illuminance); -inf without light. [stops]
    """
    with np.errstate(divide="ignore"):
        return np.log2(
            np.asarray(illuminance, dtype=float) / working_illuminance(settings, constant)
        )


def stop_of(illuminance, settings, constant=INCIDENT_CONSTANT):
    """Return the T-stop an incident meter shows for this camera: T = sqrt(E t S tau / C).

    Parameters
    ----------
    illuminance : float array, shape (...)
        [lx]
    settings : CameraSettings
        ISO, shutter and neutral filters; its own stop plays no part.
    constant : float
        C. [lx s]

    Returns
    -------
    float array, shape (...)
        T. [1]
    """
    passed = settings.iso * density_transmission(settings.nd_density)
    return incident_f_number(
        illuminance, exposure_index=passed, shutter=settings.shutter_s, constant=constant
    )


def spot(xyz, frames, name, settings):
    """Return the mean of a thing's pixels.

    Parameters
    ----------
    xyz : float array, shape (3, row, column)
        The picture as rendered. [cd/m²]
    frames : Frames
        Which pixel sees what.
    name : str
        One of the frames' names.
    settings : CameraSettings
        The camera.

    Returns
    -------
    Spot or None
        None where the camera does not see it.

    Raises
    ------
    ValueError
        The frames know no such name.
    """
    if name not in frames.names:
        raise ValueError(f"the frames know no '{name}'; they have {list(frames.names)}")
    seen = np.asarray(frames.names_index) == frames.names.index(name)
    pixels = int(np.count_nonzero(seen))
    if pixels == 0:
        return None
    mean = np.asarray(xyz)[:, seen].mean(axis=1, dtype=float)
    signal = float(mean[1] * signal_per_luminance(settings))
    cct, duv = _colour(mean)
    with np.errstate(divide="ignore"):
        ev100 = float(ev_from_luminance(mean[1]))
    return Spot(
        name=name,
        luminance=float(mean[1]),
        signal=signal,
        stops=float(stops_from_grey(signal)),
        ev100=ev100,
        video_percent=float(bt709_percent(signal)),
        cct=cct,
        duv=duv,
        pixels=pixels,
    )


def incident(probes, lamps, name):
    """Return what one meter reads under the lamps as they are set.

    Parameters
    ----------
    probes : Probes
        Per unit lamp.
    lamps : sequence of LampLight
        In the order of the probes' lights, or in any order where the probes name them.
    name : str
        The meter.

    Returns
    -------
    Incident

    Raises
    ------
    ValueError
        There is no such meter, or the lamps are not those of the probes.
    """
    if name not in probes.names:
        raise ValueError(f"there is no meter '{name}'; there are {list(probes.names)}")
    order = probes.lights or tuple(lamp.name for lamp in lamps)
    by_name = {lamp.name: lamp for lamp in lamps}
    row = probes.names.index(name)
    count, _, bands = probes.illuminance.shape[1:]
    if set(order) != set(by_name) or len(order) != count or len(by_name) != len(lamps):
        raise ValueError(
            f"the meters know the lamps {list(order)}, got {[lamp.name for lamp in lamps]}"
        )
    weights = lamps_band_xyz([by_name[lamp] for lamp in order], bands)
    xyz = np.einsum("lpb,lbc->lpc", probes.illuminance[row], weights)
    noise = probes.stderr[row] * weights[:, :, 1].sum(axis=1)[:, None]
    return Incident(name, tuple(order), xyz, float(np.sqrt(np.sum(noise**2))))


def key_fill(reading, key_lamps=()):
    """Split what a meter reads into key and fill.

    Parameters
    ----------
    reading : Incident
        At the face.
    key_lamps : iterable of str
        Lamps that make the key; the strongest at the meter if none is named.

    Returns
    -------
    KeyFill
        The light of the key lamps, bounced light included, and of all others.

    Raises
    ------
    ValueError
        The meter knows no such lamp.

    See Also
    --------
    key_fill_sides : Where the key's own light off the walls is most of the fill.
    """
    names = tuple(key_lamps)
    if not names and reading.lamps:
        names = (reading.lamps[int(np.argmax(reading.xyz[:, :, 1].sum(axis=1)))],)
    key = reading.of(names)
    return KeyFill(key, max(reading.illuminance - key, 0.0))


def key_fill_sides(lit, shadow):
    """Split two readings of a face, towards the key and away from it, into key and fill.

    The fill is taken to reach both sides alike, so what the lit side has more is the key. This
    counts the room's return of the key's own light as the fill that it is.

    Parameters
    ----------
    lit, shadow : Incident
        Meters at the two sides of the face.

    Returns
    -------
    KeyFill
        `lighting_ratio` is lit side to shadow side, as metered.
    """
    return KeyFill(max(lit.illuminance - shadow.illuminance, 0.0), shadow.illuminance)
