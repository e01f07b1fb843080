"""From frames to what a person looks at: one denoised linear picture, the still, the signal.

The mix is denoised once, while it is still linear; still and map are both made of that. Readings
are not: a meter is a probe of the engine with its own samples.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.exposure.camera import balanced_acescg_from_xyz, expose
from previz.exposure.denoise import denoise
from previz.exposure.display import show_8bit
from previz.exposure.falsecolour import stop_bands
from previz.exposure.mix import mix_xyz


@dataclass(frozen=True, eq=False)
class Developed:
    """One frame, developed.

    Parameters
    ----------
    linear : float array, shape (3, row, column)
        Scene-linear ACEScg, exposed and balanced, denoised; 0.18 is mid grey.
    still : uint8 array, shape (row, column, 3)
        sRGB.
    signal : float array, shape (row, column)
        Exposed luminance before balance and view, from the denoised picture. [1]
    bands : tuple of Band
        Of the exposure map.
    note : str
        Why the picture was not denoised; '' if it was.
    """

    linear: np.ndarray
    still: np.ndarray
    signal: np.ndarray
    bands: tuple
    note: str


def develop(frames, lamps, settings) -> Developed:
    """Mix, expose, denoise and display one frame.

    Parameters
    ----------
    frames : Frames
    lamps : sequence of LampLight
    settings : CameraSettings
    """
    exposed = expose(mix_xyz(frames, lamps), settings)
    cleaned = denoise(exposed, frames)
    xyz_from_balanced = np.linalg.inv(
        balanced_acescg_from_xyz(settings.white_balance, settings.tint))
    signal = np.einsum("c,crk->rk", xyz_from_balanced[1], cleaned.picture)
    # The matrices carry no exposure: `expose` has put it into the picture already.
    return Developed(cleaned.picture, show_8bit(cleaned.picture), np.maximum(signal, 0),
                     stop_bands(), "" if cleaned.applied else cleaned.note)


