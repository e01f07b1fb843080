"""From frames to a picture: one frame mixed once, as rendered for readings, denoised for the eye.

The mix is denoised while it is still linear; still and map are both made of that. Readings are not:
a meter is a probe of the engine with its own samples.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from previz.exposure.camera import balanced_acescg_from_xyz, expose
from previz.exposure.denoise import denoise
from previz.exposure.mix import mix_xyz
from previz.exposure.viewing import seen_8bit
from previz.frames.records import Frames
from previz.physics.exposure import CameraSettings, signal_per_luminance
from previz.physics.light import LampLight


@dataclass(frozen=True, eq=False)
class Developed:
    """One frame, developed.

    Parameters
    ----------
    settings : CameraSettings
        How the camera is set.
    xyz : float array, shape (3, row, column)
        Scene as rendered, X, Y, Z. [cd/m²]
    linear : float array, shape (3, row, column)
        Scene-linear ACEScg, exposed, balanced and denoised; 0.18 is mid grey. Beyond the camera's latitude
        too. [1]
    signal : float array, shape (row, column)
        Exposed luminance before balance and view, from the denoised picture. [1]
    still : uint8 array, shape (row, column, 3)
        sRGB, within the camera's latitude and through its show file.
    note : str
        Why the picture was not denoised; '' if it was.
    """

    settings: CameraSettings
    xyz: np.ndarray
    linear: np.ndarray
    signal: np.ndarray
    still: np.ndarray
    note: str

    @property
    def raw(self) -> np.ndarray:
        """Luminance as rendered. [cd/m²]"""
        return self.xyz[1]

    @property
    def clean(self) -> np.ndarray:
        """Luminance of the denoised picture. [cd/m²]"""
        return self.signal / signal_per_luminance(self.settings)


def develop(frames: Frames, lamps: Sequence[LampLight], settings: CameraSettings,
            quality: str = "high") -> Developed:
    """Mix, expose, denoise and display one camera's frame under lamps as they are set.

    `quality` is the denoiser's: 'fast', 'balanced' or 'high'.
    """
    xyz = mix_xyz(frames, lamps)
    cleaned = denoise(expose(xyz, settings), frames, quality=quality)
    # The matrix carries no exposure: `expose` has put it into the picture already.
    xyz_from_balanced = np.linalg.inv(
        balanced_acescg_from_xyz(settings.white_balance, settings.tint))
    signal = np.einsum("c,crk->rk", xyz_from_balanced[1], cleaned.picture)
    return Developed(settings, xyz, cleaned.picture, np.maximum(signal, 0),
                     seen_8bit(cleaned.picture, settings), "" if cleaned.applied else cleaned.note)
