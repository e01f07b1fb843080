"""A scarf: wound once round the neck in soft folds, its ends on the chest."""

from __future__ import annotations

import numpy as np

from previz.stage.figures.mesh import smooth_step
from previz.stage.figures.wardrobe.garment import Lines, Made
from previz.stage.figures.wardrobe.pinned import NECK, Laid, neck_spots, pin


def make(rest, wear, under) -> Made:
    """Return a scarf for a person."""
    lines = Lines(rest)
    laid = [*_ends(rest), _loop(rest, 0.0, 1.9, 6.2, 0.017), _loop(rest, 1.3, 1.2, 4.4, 0.013)]
    return Made(under + 1e-3, 0 * lines.ones, None, (), tuple(laid))


def _loop(rest, salt, top, bottom, puff):
    """Return one turn round the neck."""
    turns = np.linspace(-np.pi, np.pi, 121)[:, None]
    rows = np.linspace(0, 1, 22)
    droop = 1.1 * np.exp(-((turns / 0.8) ** 2))
    ring = top + 0.7 * droop + (bottom + droop - top) * rows + 0.25 * np.sin(2 * turns + salt)
    wave = np.sin(2 * np.pi * (2.6 * rows + 0.35 * np.sin(turns + salt) + 0.2 * np.sin(2 * turns + 2 * salt)))
    lift = 3e-3 + puff * np.sin(np.pi * rows) ** 0.7 + 3.2e-3 * wave * np.sin(np.pi * rows)
    lift = lift + 2e-3 * np.sin(3 * turns + salt)
    uv = np.stack([turns * NECK + 0 * rows, -0.024 * rows + 0 * turns], axis=2).reshape(-1, 2)
    return Laid(
        pin(rest, "neck", neck_spots(turns + 0 * ring, ring).reshape(-1, 2)),
        *ring.shape,
        lift.reshape(-1),
        uv,
        thick=5e-3,
    )


def _ends(rest):
    """Yield the two ends that hang on the chest."""
    top = pin(rest, "neck", neck_spots(np.array([0.0]), np.array([5.2]))).at(rest.points)[0, 2]
    for side, length, start in ((0.055, 0.30, 0.012), (-0.050, 0.25, -0.012)):
        s, t = np.meshgrid(np.linspace(0, 1, 34), np.linspace(-0.5, 0.5, 17), indexing="ij")
        wide = 0.055 + 0.070 * smooth_step(s, 0.0, 0.5)
        y = start + (side - start) * smooth_step(s, 0.0, 0.35) + wide * t + 0.004 * np.sin(5 * s + side)
        flat = np.stack([y, top + 0.02 - length * s], axis=2).reshape(-1, 2)
        fold = np.cos(2 * np.pi * (2.2 * t + 0.15 * np.sin(4 * s))) * (4.5e-3 - 2.0e-3 * s)
        lift = 8e-3 + 4e-3 * (side > 0) * (1 - s) + fold
        yield Laid(pin(rest, "front", flat), 34, 17, lift.reshape(-1), flat, thick=5e-3)
