"""Heads of figures: where they are, and where they would be at a mark that nobody stands at."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

HEAD_RADIUS = 0.085
"""Half the breadth of a head: of the upright cylinder that stands for it. [m]
Source: ANSUR II (from memory)."""

FACE_RADIUS = 0.1
"""From the middle of a face to its edge: half its length from chin to crown. [m]
Source: ANSUR II (from memory)."""

NOSE_TO_AXIS = 0.115
"""From the tip of the nose to the head's upright axis. [m]  Source: half the head's length and the nose,
ANSUR II (from memory)."""


@dataclass(frozen=True, eq=False)
class Head:
    """A head, of a figure or of whoever comes to its mark.

    Parameters
    ----------
    figure : str
        Name of the figure.
    mark : str
        Name of the mark; '' for where the figure itself is.
    nose, face : float array, shape (3,)
        Just off the tip of the nose: off the skin there, and ahead of the face. [m]
    ahead : float array, shape (3,)
        Unit vector that the face points along.
    """

    figure: str
    mark: str
    nose: np.ndarray
    face: np.ndarray
    ahead: np.ndarray

    @property
    def up(self) -> np.ndarray:
        """Unit vector: the face's own up, square to `ahead`."""
        up = np.array([0.0, 0, 1]) - self.ahead * self.ahead[2]
        return up / np.linalg.norm(up)

    @property
    def left(self) -> np.ndarray:
        """Unit vector to the figure's own left."""
        return np.cross(self.up, self.ahead)

    @property
    def centre(self) -> np.ndarray:
        """Point of the head's upright axis behind its nose. [m]"""
        return self.nose - NOSE_TO_AXIS * self.ahead
