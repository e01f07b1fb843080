"""What a light means for a camera: its stop, its stops from the working stop; spots on a picture.

Incident readings come from the engine's probes (`metering`), never from pixels. Spot readings here
are means over the pixels of a named thing, from the picture as rendered, never denoised.
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
from previz.physics.meter import (
    ev_from_luminance,
    illuminance_for_stop,
    incident_f_number,
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
