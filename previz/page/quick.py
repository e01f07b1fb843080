"""Small pictures for a moving hand, for a page that cannot mix for itself.

Each lamp's light is kept small, as X, Y, Z in the colour that it has now. A level that moves is then a sum of
small pictures, and a colour that moves one lamp's bands weighed anew. What was used longest ago goes.
"""

from __future__ import annotations

import io
import threading
from collections import OrderedDict
from collections.abc import Hashable
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image

from previz.exposure.camera import balanced_acescg_from_xyz
from previz.exposure.optics import taken
from previz.exposure.viewing import seen_near
from previz.page import pack
from previz.page.clean import is_clean
from previz.physics.exposure import CameraSettings, signal_per_luminance
from previz.physics.light import LampLight, lamp_band_xyz

if TYPE_CHECKING:
    from previz.page.desk import Found
    from previz.page.shots import Shot

WIDTH = 480
"""Width of a picture that is sent while a hand moves. [px]"""

MOST_BYTES = 192 << 20
"""Most that is kept of small lamps: at 480 x 270 and 12 bands those of 40. [byte]"""

_JPEG = 92


class QuickLamps:
    """Lamps' light at a small size, of whatever frames were asked for last.

    `most` is how many bytes may be kept; one picture's lamps are kept whatever they take.
    """

    def __init__(self, most: int = MOST_BYTES):
        self.most, self.size = most, 0
        self._kept: OrderedDict[tuple[Hashable, ...], tuple[np.ndarray, bytes]] = OrderedDict()
        """By a picture's key, a lamp's number, whether it was cleaned, and what of it; with its colour."""
        self._lock = threading.Lock()

    def xyz(self, request: Shot) -> np.ndarray:
        """Return the scene with its lamps as changed, shape (row, column, 3). [cd/m²]"""
        found, lamps = request.found, {lamp.name: lamp for lamp in request.lamps()}
        frames = found.frames
        step = max(1, round(frames.shape[1] / WIDTH))
        clean = is_clean(found.clean, len(frames.lights))
        rows, columns = (len(range(0, side, step)) for side in frames.shape)
        total = np.zeros((rows * columns, 3), np.float32)
        for number, name in enumerate(frames.lights):
            lamp = lamps[name]
            if lamp.on and lamp.level:
                light = self._light(found, number, clean[number], step, lamp)
                total += light * np.float32(lamp.level)
        self._trim(found.key)
        return total.reshape(rows, columns, 3)

    def _light(self, found: Found, number: int, clean: bool, step: int, lamp: LampLight) -> np.ndarray:
        """Return one lamp at full level in its colour, X, Y, Z, shape (pixel, 3). [cd/m²]"""
        weights = lamp_band_xyz(pack.full(lamp), found.frames.slices.shape[1]).astype(np.float32)
        # Only the last colour is kept of each lamp.
        key, colour = (found.key, number, clean, "xyz"), weights.tobytes()
        known = self._get(key, colour)
        if known is None:
            known = self._bands(found, number, clean, step).T @ weights
            self._put(key, known, colour)
        return known

    def _bands(self, found: Found, number: int, clean: bool, step: int) -> np.ndarray:
        """Return one lamp's bands, shape (band, pixel). [as the slices]"""
        key = (found.key, number, clean, "bands")
        known = self._get(key)
        if known is None:
            bands, scale = pack.lamp_bands(found.frames, found.clean, number)
            small = np.asarray(bands)[:, ::step, ::step]
            known = small.reshape(len(small), -1).astype(np.float32) * np.float32(scale)
            self._put(key, known)
        return known

    def _get(self, key: tuple[Hashable, ...], colour: bytes = b"") -> np.ndarray | None:
        with self._lock:
            known = self._kept.get(key)
            if known is None or known[1] != colour:
                return None
            self._kept.move_to_end(key)
            return known[0]

    def _put(self, key: tuple[Hashable, ...], value: np.ndarray, colour: bytes = b"") -> None:
        with self._lock:
            before = self._kept.pop(key, None)
            self.size += value.nbytes - (0 if before is None else before[0].nbytes)
            self._kept[key] = value, colour

    def _trim(self, own: str) -> None:
        """Let go of what was used longest ago, but not of one picture's own lamps."""
        with self._lock:
            for key in list(self._kept):
                if self.size <= self.most:
                    break
                if key[0] != own:
                    self.size -= self._kept.pop(key)[0].nbytes


def quick_still(xyz: np.ndarray, settings: CameraSettings) -> np.ndarray:
    """Return the still of a small picture, uint8 of shape (row, column, 3), sRGB."""
    matrix = balanced_acescg_from_xyz(settings.white_balance, settings.tint) * signal_per_luminance(settings)
    exposed = xyz.reshape(-1, 3) @ matrix.T.astype(np.float32)
    if settings.optics is not None:
        exposed = taken(exposed.T.reshape(3, *xyz.shape[:2]), settings).reshape(3, -1).T
    return seen_near(exposed, settings).reshape(xyz.shape)


def quick_signal(xyz: np.ndarray, settings: CameraSettings) -> np.ndarray:
    """Return the luminance signal of a small picture, shape (row, column); 0.18 is mid grey. [1]"""
    return np.maximum(xyz[..., 1], 0) * np.float32(signal_per_luminance(settings))


def jpeg_bytes(picture: np.ndarray, widest: int = WIDTH) -> bytes:
    """Return an 8-bit sRGB picture as a JPEG file, at most so wide; its colours are as fine as its light."""
    file, image = io.BytesIO(), Image.fromarray(picture)
    if image.width > widest:
        height = max(1, round(image.height * widest / image.width))
        image = image.resize((widest, height), Image.Resampling.BOX)
    image.save(file, "JPEG", quality=_JPEG, subsampling=0)
    return file.getvalue()
