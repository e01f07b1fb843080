"""What meters show: stops, footcandles and levels of each place and spot, and a report of them all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from previz.exposure.camera import stop_of
from previz.exposure.falsecolour import bt709_percent
from previz.exposure.metering import LampPart, Measured, Mixed, from_working
from previz.frames.records import Short
from previz.physics.exposure import (
    DOME_CONSTANT,
    INCIDENT_CONSTANT,
    CameraSettings,
    signal_per_luminance,
    stops_from_grey,
)
from previz.physics.meter import (
    LUX_PER_FOOTCANDLE,
    NITS_PER_FOOTLAMBERT,
    ev_from_illuminance,
    ev_from_luminance,
)
from previz.physics.safety import Caution

if TYPE_CHECKING:
    from previz.exposure.faces import FaceLight, KeyLamps
    from previz.exposure.metering_colour import ColourReport


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
    """Return what one incident meter [lx] shows, flat or domed, with its stops for some cameras."""
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
    """Return what a camera's spot meter, mixed in cd/m², reads on a thing.

    `share` is of the picture. [1]
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
    cautions : tuple of Caution
        That the scene calls for.
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
    cautions: tuple[Caution, ...] = ()
