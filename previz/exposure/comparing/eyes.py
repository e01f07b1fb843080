"""Eye-lights: whether a camera sees something bright mirrored in the wet front of an eye.

Decided from geometry: for each small part of the cornea that the camera sees, the mirror direction
is followed back into the light that arrives at the face, thing by thing. The mirror image counts
as an eye-light where it is at least three stops brighter than the iris and not lost in
black.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from previz.exposure.comparing.views import Panorama
from previz.exposure.falsecolour import DEFAULT_CRUSH
from previz.physics.exposure import MID_GREY, CameraSettings, signal_per_luminance, stops_from_grey

LEAST_STEP = 3.0
"""An eye-light is this much brighter than the iris. [stops]  Common practice, no source."""

IRIS_REFLECTANCE = 0.05
"""Of a brown iris, the usual dark ground of an eye-light. [1]  Common practice, no source."""

GRAZING = 0.05
"""Parts of the cornea that are seen more aslant than this show nothing. [1]"""


@dataclass(frozen=True, eq=False)
class Cornea:
    """The wet front of an eye, in small flat parts.

    Parameters
    ----------
    centres, normals : float array, shape (part, 3)
        [m], and unit vectors outwards.
    areas : float array, shape (part,)
        [m²]
    f0 : float
        Reflectance straight on. [1]
    """

    centres: np.ndarray
    normals: np.ndarray
    areas: np.ndarray
    f0: float


@dataclass(frozen=True)
class EyeLight:
    """One bright thing mirrored in an eye.

    Parameters
    ----------
    thing : str
        What is mirrored.
    stops : float
        Its image, from 18 % grey at the camera's settings. [stops]
    over_iris : float
        Its image over the iris. [stops]
    width : float
        Of a disc as large as its image on the eye. [m]
    clock : int
        Where on the iris, by the hours of a clock as the camera sees it; 12 is up.
    """

    thing: str
    stops: float
    over_iris: float
    width: float
    clock: int


def fresnel(cosine: ArrayLike, f0: float) -> np.ndarray:
    """Return the share that a clear surface mirrors: f0 + (1 - f0)(1 - cos)^5.

    `cosine` is that of the angle from straight on, `f0` the share straight on. [1]

    Source
    ------
    Schlick 1994, "An inexpensive BRDF model for physically-based rendering".
    """
    return f0 + (1 - f0) * (1 - np.clip(cosine, 0, 1)) ** 5


def mirrored(cornea: Cornea, position: ArrayLike,
             panorama: Panorama) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return what each part of a cornea mirrors to a camera.

    Parameters
    ----------
    cornea : Cornea
        Of one eye.
    position : float array, shape (3,)
        Of the camera. [m]
    panorama : views.Panorama
        Taken close before the eye.

    Returns
    -------
    luminance : float array, shape (part,)
        Of the image; 0 where the camera sees none. [cd/m²]
    thing : int array, shape (part,)
        Index into the panorama's things; -1 where there is none.
    cosine : float array, shape (part,)
        By which a part is foreshortened. [1]
    """
    towards = np.asarray(position, float) - cornea.centres
    towards = towards / np.linalg.norm(towards, axis=1, keepdims=True)
    cosine = np.einsum("ij,ij->i", towards, cornea.normals)
    direction = 2 * cosine[:, None] * cornea.normals - towards
    pixel = panorama.pixels(direction)
    known = (cosine > GRAZING) & (pixel >= 0)
    luminance = fresnel(cosine, cornea.f0) * panorama.seen()[pixel]
    return (np.where(known, luminance, 0.0), np.where(known, panorama.thing[pixel], -1),
            np.maximum(cosine, 0.0))


def eye_lights(cornea: Cornea, camera: Any, settings: CameraSettings, panorama: Panorama,
               sources: Collection[str],
               hidden: Callable[[np.ndarray], np.ndarray] | None = None) -> tuple[EyeLight, ...]:
    """Return the eye-lights that a camera sees, the brightest first.

    Parameters
    ----------
    cornea : Cornea
        Of one eye.
    camera : stage.records.Camera
        Its place and axes.
    settings : CameraSettings
        How the camera is set.
    panorama : views.Panorama
        Taken close before the eye.
    sources : collection of str
        Things that may make one: lamps, boards, frames, windows.
    hidden : function, optional
        (indices of parts) -> which of them lids, hair or hands hide from the camera.
    """
    luminance, thing, cosine = mirrored(cornea, camera.position, panorama)
    gaze = cornea.normals.mean(axis=0)
    iris = IRIS_REFLECTANCE * panorama.illuminance(gaze / np.linalg.norm(gaze)) / np.pi
    middle = cornea.centres.mean(axis=0)
    right, up = np.asarray(camera.world_from_camera, float)[:, :2].T
    least = max(iris * 2.0**LEAST_STEP,
                MID_GREY * 2.0**DEFAULT_CRUSH / signal_per_luminance(settings))
    found = []
    for index in np.unique(thing[thing >= 0]):
        if panorama.things[index] not in sources:
            continue
        lit = np.flatnonzero((thing == index) & (luminance > least))
        if lit.size and hidden is not None:
            lit = lit[~hidden(lit)]
        if not lit.size:
            continue
        peak = float(luminance[lit].max())
        lit = lit[luminance[lit] > peak / 4]
        area = float(np.sum(cornea.areas[lit] * cosine[lit]))
        weight = luminance[lit, None]
        offset = (cornea.centres[lit] * weight).sum(axis=0) / weight.sum() - middle
        hour = round(np.degrees(np.arctan2(offset @ right, offset @ up)) / 30) % 12
        stops = float(stops_from_grey(peak * signal_per_luminance(settings)))
        above = float(np.log2(peak / iris)) if iris > 0 else np.inf
        found.append(EyeLight(panorama.things[index], stops, above,
                              2 * float(np.sqrt(area / np.pi)), hour or 12))
    return tuple(sorted(found, key=lambda each: -each.over_iris))
