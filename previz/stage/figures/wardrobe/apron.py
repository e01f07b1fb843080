"""An apron over all else: a bib on a strap round the neck, a tie at the waist, a skirt in front."""

from __future__ import annotations

import numpy as np

from previz.stage.figures.wardrobe.garment import Lines, Made
from previz.stage.figures.wardrobe.hung import Skirt
from previz.stage.figures.wardrobe.pinned import NECK, neck_spots, patch, pin, strip
from previz.stage.figures.wardrobe.trousers import belt

TIE, BIB = 0.615, 0.755
"""Heights of the tie and of the bib's upper edge, over the body's."""


def make(rest, wear, under) -> Made:
    """Return an apron cut for a person."""
    lines = Lines(rest)
    lift = under + 2e-3
    tie, top = TIE * rest.height, BIB * rest.height
    wide = 0.125 * rest.height / 1.75
    laid = [
        patch(
            rest,
            "front",
            [(-wide, top), (wide, top), (wide * 1.2, tie - 0.03), (-wide * 1.2, tie - 0.03)],
            2.5e-3,
            (26, 26),
            thick=2.2e-3,
        ),
        patch(
            rest,
            "front",
            [(-wide, top + 1e-3), (wide, top + 1e-3), (wide, top - 0.028), (-wide, top - 0.028)],
            3.4e-3,
            (4, 24),
            thick=1.6e-3,
        ),
        patch(
            rest,
            "front",
            [
                (-wide * 0.5, tie + 0.135),
                (wide * 0.5, tie + 0.135),
                (wide * 0.5, tie + 0.03),
                (-wide * 0.5, tie + 0.03),
            ],
            4.2e-3,
            (12, 12),
            thick=2e-3,
        ),
        belt(rest, tie, wide=0.024, lift=4.6e-3, stuff="cloth"),
    ]
    # The strap climbs from the bib's corners to the neck and goes round behind it.
    ring = 4.6
    turns = np.linspace(0.85, 2 * np.pi - 0.85, 60)
    laid.append(strip(rest, "neck", _unwrapped(turns, np.full(60, ring)), 0.018, 6e-3, thick=2.2e-3))
    neck = pin(rest, "neck", neck_spots(np.array([0.85]), np.array([ring]))).at(rest.points)[0]
    y = np.linspace(wide - 0.015, neck[1], 26)
    z = np.linspace(top - 0.01, neck[2] + 0.004, 26)
    for side in (1.0, -1.0):
        laid.append(strip(rest, "front", np.stack([side * y, z], axis=1), 0.018, 4.4e-3, thick=2.2e-3))
    for side, length in ((0.012, 0.17), (-0.014, 0.20)):
        run = np.linspace(0, 1, 18)
        line = np.stack([side * (0.4 + 1.6 * run), tie - length * run], axis=1)
        laid.append(strip(rest, "back", line, 0.022, 6e-3 - 2e-3 * run, thick=2e-3))
    for side in (1.0, -1.0):
        run = np.linspace(0, 1, 12)
        line = np.stack([side * 0.055 * np.sin(np.pi * run), tie + 0.012 - 0.035 * run], axis=1)
        laid.append(strip(rest, "back", line, 0.020, 7.5e-3, thick=2.4e-3))
    skirt = Skirt(
        TIE + 0.008,
        0.30,
        ease=3e-3,
        flare=0.03,
        flutes=8,
        deep=0.008,
        spans=(-1.35, 1.35),
        thick=2.2e-3,
        salt=2.2,
    )
    return Made(lift, lines.ones, None, (), tuple(laid), (), (skirt,))


def _unwrapped(bearing, ring):
    """Return places of the chart 'neck' that run on past the back."""
    return np.stack([bearing * NECK, -0.018 * ring], axis=1)
