"""One frame, mixed once: as rendered for readings, and cleaned for looking at."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.exposure.camera import balanced_acescg_from_xyz, expose
from previz.exposure.denoise import denoise
from previz.exposure.display import show_8bit
from previz.exposure.mix import mix_xyz
from previz.physics.exposure import signal_per_luminance


@dataclass(frozen=True, eq=False)
class Pictured:
    """One frame in the forms that a comparison needs.

    Parameters
    ----------
    xyz : float array, shape (3, row, column)
        Scene as rendered, X, Y, Z. [cd/m²]
    linear : float array, shape (3, row, column)
        Scene-linear ACEScg, exposed, balanced and denoised. [1]
    signal : float array, shape (row, column)
        Exposed luminance before balance, denoised. [1]
    clean : float array, shape (row, column)
        The same as luminance. [cd/m²]
    still : uint8 array, shape (row, column, 3)
        sRGB.
    note : str
        Why it was not denoised; '' if it was.
    """

    xyz: np.ndarray
    linear: np.ndarray
    signal: np.ndarray
    clean: np.ndarray
    still: np.ndarray
    note: str

    @property
    def raw(self) -> np.ndarray:
        """Luminance as rendered. [cd/m²]"""
        return self.xyz[1]


def pictured(frames, lamps, settings, quality: str = "high") -> Pictured:
    """Mix, expose, denoise and display one frame.

    Parameters
    ----------
    frames : Frames
        One camera's transport.
    lamps : sequence of LampLight
        As they are set.
    settings : CameraSettings
        How the camera is set.
    quality : str
        Of the denoiser: 'fast', 'balanced' or 'high'.
    """
    xyz = mix_xyz(frames, lamps)
    cleaned = denoise(expose(xyz, settings), frames, quality=quality)
    back = np.linalg.inv(balanced_acescg_from_xyz(settings.white_balance, settings.tint))[1]
    signal = np.maximum(np.einsum("c,crk->rk", back, cleaned.picture), 0)
    return Pictured(xyz, cleaned.picture, signal, signal / signal_per_luminance(settings),
                    show_8bit(cleaned.picture), "" if cleaned.applied else cleaned.note)
