"""What spot meters are pointed at: things, and patches of a picture. Nothing here needs a device."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.stage.records import Camera

COLUMNS = 480
"""Width of the grid that is searched for things. [px]"""


@dataclass(frozen=True)
class Sight:
    """What a spot meter is pointed at.

    Parameters
    ----------
    name : str
        What readings call it.
    thing : str
        Name of the meshes or lamp.
    surface : str
        Only the parts with this surface; '' for all.
    centre : float array, shape (3,), or None
        Only what is near this point. [m]
    radius : float
        How near. [m]
    """

    name: str
    thing: str
    surface: str = ""
    centre: np.ndarray | None = None
    radius: float = 0.0


class PatchView:
    """A patch of one camera's picture, whatever it shows, as `stage.views.patch_view` gives it."""

    def __init__(self, camera: Camera, name: str, patch):
        self.sights, self.patch = (Sight(name, ""),), patch
        self.width = COLUMNS
        self.height = max(1, round(COLUMNS / camera.aspect))

    def film_points(self, index: int, count: int, seed: int) -> np.ndarray:
        """Return film points drawn evenly over the patch. Shape (count, 2) [px]"""
        x, y, half_x, half_y, is_round = self.patch
        u, v = np.random.default_rng(seed).random((2, count))
        if is_round:
            radius, turn = np.sqrt(u), 2 * np.pi * v
            across, down = radius * np.cos(turn), radius * np.sin(turn)
        else:
            across, down = 2 * u - 1, 2 * v - 1
        return np.column_stack([(x + half_x * across) * self.width, (y + half_y * down) * self.height])
