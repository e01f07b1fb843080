"""Collars: bands and falls laid round the neck, pinned to the neck's own rings."""

from __future__ import annotations

import numpy as np

from previz.stage.figures.wardrobe.pinned import NECK, Laid, neck_spots, pin

_COLUMNS = 72


def _laid(rest, bearings, rings, lift, stuff, thick):
    """Return a grid over bearings [rad] and rings, both shape (columns, rows)."""
    spots = neck_spots(bearings, rings)
    uv = np.stack([bearings * NECK, -0.018 * rings], axis=2).reshape(-1, 2)
    return Laid(
        pin(rest, "neck", spots.reshape(-1, 2)), *rings.shape, lift.reshape(-1), uv, stuff, thick=thick
    )


def _turns(start):
    """Return bearings from the left of the front round the back to its right. [rad]"""
    return np.linspace(start, 2 * np.pi - start, _COLUMNS)[:, None]


def stand_and_fall(
    rest,
    seam,
    *,
    stand=1.7,
    fall=1.5,
    points=2.9,
    spread=0.36,
    lift=3.0e-3,
    gape=0.025,
    stuff="cloth",
    stiff=6.5e-3,
):
    """Return a shirt's collar: its stand, and the fall that is turned down over it.

    Parameters
    ----------
    seam : float
        Ring of the seam at the neck.
    stand, fall, points : float
        Rings that the stand goes up, and the fall down past the seam at the back and at its points.
    spread : float
        Bearing of the points from the middle. [rad]
    lift, stiff : float
        Of the stand over the garment; of the roll over the stand. [m]
    gape : float
        Bearing at which the two ends meet. [rad]
    """
    turns = _turns(gape)
    front = np.exp(-(((np.pi - np.abs(turns - np.pi)) / 0.75) ** 2))
    top = seam - stand + 0.75 * front
    rows = np.linspace(0, 1, 5)
    rings = seam + 0.25 + (top - seam - 0.25) * rows
    band = _laid(
        rest,
        np.broadcast_to(turns, rings.shape),
        rings,
        np.broadcast_to(lift + 1.5e-3 * rows, rings.shape),
        stuff,
        2.2e-3,
    )
    end = seam + fall + (points - fall) * np.exp(-(((np.pi - np.abs(turns - np.pi)) / 0.55) ** 2))
    down = np.linspace(0, 1, 11)
    ring = (
        top
        - 0.12
        + (end - top) * np.clip((down - 0.12) / 0.88, 0, 1) ** 0.9
        - 0.18 * np.sin(np.pi * np.clip(down / 0.2, 0, 1))
    )
    # The front edges lean out to the points.
    away = np.minimum(turns, 2 * np.pi - turns)
    lean = spread * down * np.exp(-((away / 0.5) ** 2))
    bearing = turns + np.where(turns < np.pi, 1, -1) * lean
    over = lift + 0.5e-3 + stiff * np.sin(np.pi * np.clip(down * 1.0 + 0.12, 0, 1)) ** 0.7 + 2.0e-3 * down
    turned = _laid(rest, bearing, ring, np.broadcast_to(over, ring.shape), stuff, 2.6e-3)
    return band, turned


def ribbed(rest, seam, *, up=1.1, lift=2.0e-3, stuff="band", roll=2.6e-3):
    """Return a knitted neckband that stands round the neck."""
    turns = np.linspace(-np.pi, np.pi, 120)[:, None]
    rows = np.linspace(0, 1, 9)
    ring = seam + 0.35 - (up + 0.35) * rows + 0 * turns
    height = lift + roll * np.sin(np.pi * rows) ** 0.6
    rib = 0.45e-3 * np.cos(84 * turns)
    return _laid(rest, turns + 0 * ring, ring, height + rib, stuff, 3.2e-3)


def tailored(rest, seam, *, start=0.62, up=1.3, down=1.5, lift=3e-3, stiff=9e-3, stuff="cloth"):
    """Return the collar of a jacket or a coat: from one gorge round the back to the other."""
    turns = _turns(start)
    away = np.minimum(turns, 2 * np.pi - turns) - start
    back = np.clip(away / 1.2, 0, 1)
    top = seam - up * (0.35 + 0.65 * back)
    end = seam + down + 2.0 * (1 - back)
    rows = np.linspace(0, 1, 12)
    ring = (
        top
        - 0.2 * np.sin(np.pi * np.clip(rows / 0.25, 0, 1))
        + (end - top) * np.clip((rows - 0.1) / 0.9, 0, 1)
    )
    over = lift + stiff * np.sin(np.pi * np.clip(0.15 + 0.85 * rows, 0, 1)) ** 0.7 * (0.45 + 0.55 * back)
    lean = 0.16 * rows * np.exp(-((away / 0.3) ** 2))
    bearing = turns + np.where(turns < np.pi, 1, -1) * lean
    return _laid(rest, bearing, ring, over, stuff, 3.2e-3)


def upright(rest, seam, *, start=0.10, up=2.6, lift=6e-3, stuff="cloth"):
    """Return a collar that is turned up, standing off the neck."""
    turns = _turns(start)
    rows = np.linspace(0, 1, 9)
    front = np.exp(-(((np.pi - np.abs(turns - np.pi)) / 0.6) ** 2))
    ring = seam + 0.4 - (up * (1 - 0.25 * front) + 0.4) * rows
    over = lift + 9e-3 * rows**1.5 * (1 + 0.8 * front) + 0 * turns
    bearing = turns + np.where(turns < np.pi, 1, -1) * 0.20 * rows
    return _laid(rest, bearing, ring, over, stuff, 4e-3)
