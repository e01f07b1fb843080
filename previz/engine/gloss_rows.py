"""Rows of directional albedo for glosses that one row does not describe.

Every surface has a row of its own in the tables, by its number. Behind them lie blocks: one over the
roughness, shared by all surfaces on which that varies from place to place, and one over the bearing for each
gloss of two widths. No Mitsuba here: numpy in, numpy out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.engine.gloss import (
    LEAST_FUZZ,
    WIDTHS,
    across_tables,
    albedo_tables,
    fuzz_table,
    turn_mean,
    under_terms,
    width_at,
)
from previz.stage.records import SMOOTH, Stage, Surface

PLAIN, VARIED, ACROSS = range(3)
"""How a surface's rows are read: its own alone, by its roughness, or by the bearing."""


@dataclass(frozen=True)
class GlossRows:
    """What of the surfaces' gloss is not told by a reflectance, a share and one roughness.

    Parameters
    ----------
    a, b : float32 array, shape (rows, ANGLES)
        Directional albedo: of each surface, then of the blocks.
    means : float32 array, shape (rows, 3)
        As `gloss.under_terms`.
    coat : float32 array, shape (surfaces, 4)
        Width square to u, 0 for the same all round; power of the fibres' distribution, 0 for none; first
        row of its block; `PLAIN`, `VARIED` or `ACROSS`.
    fuzz_scale : float32 array, shape (surfaces,)
        As of `gloss.fuzz_table`; 0 where there are no fibres.
    """

    a: np.ndarray
    b: np.ndarray
    means: np.ndarray
    coat: np.ndarray
    fuzz_scale: np.ndarray


def varies(surface: Surface) -> bool:
    """Return whether a surface's roughness is not the same everywhere."""
    factors = None if surface.pattern is None else np.asarray(surface.pattern.tile)[..., 3]
    return (factors is not None and surface.gloss > 0 and not is_smooth(surface)
            and bool(np.any(np.abs(factors - 1) > 1e-3)))


def is_smooth(surface: Surface) -> bool:
    """Return whether a surface's gloss is a perfect mirror."""
    widest = max(surface.roughness, surface.across or 0.0)
    return surface.fuzz is None and widest < SMOOTH


def mirrors_evenly(surface: Surface) -> bool:
    """Return whether a surface is the same perfect mirror everywhere, and as flat as its faces."""
    if not (surface.gloss > 0 and is_smooth(surface)) or surface.relief is not None:
        return False
    return surface.pattern is None or bool(np.all(np.abs(surface.pattern.tile[..., 2] - 1) < 1e-3))


def own_rows(surface: Surface) -> tuple[np.ndarray, np.ndarray]:
    """Return A and B of a surface's gloss, the mean over all bearings."""
    if surface.fuzz is not None:
        albedo, _ = fuzz_table(round(float(surface.fuzz), 4))
        return albedo, np.zeros_like(albedo)
    if is_smooth(surface):
        return albedo_tables(0.0)
    if surface.across is not None:
        a, b = (turn_mean(each) for each in across_tables(*_widths(surface)))
        return a, b
    return albedo_tables(round(float(surface.roughness), 4))


def _widths(surface: Surface) -> tuple[float, float]:
    along, across = (max(SMOOTH, round(float(each), 4)) for each in (surface.roughness, surface.across))
    return along, across


def flatten_gloss(stage: Stage, a: np.ndarray, b: np.ndarray) -> GlossRows:
    """Return the rows of a stage whose surfaces' own are given, that of a lamp's black face the last."""
    coat, scale = np.zeros((len(a), 4), np.float32), np.zeros(len(a), np.float32)
    coat[:, 2] = np.arange(len(a))
    blocks, count, shared = [(a, b)], len(a), None
    for i, surface in enumerate(stage.surfaces.values()):
        if surface.fuzz is not None:
            coat[i, 1] = 1 / max(round(float(surface.fuzz), 4), LEAST_FUZZ)
            scale[i] = fuzz_table(round(float(surface.fuzz), 4))[1]
        elif surface.across is not None and surface.gloss > 0 and not is_smooth(surface):
            coat[i] = _widths(surface)[1], 0, count, ACROSS
            blocks.append(across_tables(*_widths(surface)))
            count += len(blocks[-1][0])
        elif varies(surface):
            if shared is None:
                shared = count
                rows = [albedo_tables(round(float(w), 4)) for w in width_at(np.arange(WIDTHS))]
                blocks.append(tuple(np.stack(each) for each in zip(*rows, strict=True)))
                count += WIDTHS
            coat[i, 2:] = shared, VARIED
    a, b = (np.concatenate(each).astype(np.float32) for each in zip(*blocks, strict=True))
    means = np.array([under_terms(*each) for each in zip(a.astype(float), b.astype(float), strict=True)])
    return GlossRows(a, b, means.astype(np.float32), coat, scale)
