"""Whether a mesh is of a size, at a place and of a detail that was meant: lines to look at."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import numpy as np

WIDEST, NARROWEST = 60.0, 0.01
"""A piece of a set is hardly wider or smaller than this: a locomotive with a coach, a cup's handle (common
practice, no source). [m]"""

ROOMS = 4.0
"""In a set with a room, a piece wider than so many times the room is pointed out, if it is wider than
`STREET` too: what is seen through a window may be larger than the room. [1]"""

STREET = 16.0
"""[m]"""

FAR = 10.0
"""A mesh whose middle lies so many times its size from its own origin has one that is not its own. [1]"""

FAR_AWAY = 20.0
"""Nearer to its origin than this, no mesh is pointed out. [m]"""

MANY = 1_000_000
"""Triangles from which on a mesh costs more than it is likely to show."""

UNITS = (("mm", 0.001), ("cm", 0.01), ("in", 0.0254), ("ft", 0.3048), ("m", 1.0))


def bounds(points: Iterable[np.ndarray]) -> tuple[np.ndarray, np.ndarray]:
    """Return (least, greatest) coordinates, shape (3,) each, of arrays of points, shape (n, 3). [m]"""
    ends = [(each.min(axis=0), each.max(axis=0)) for each in points]
    return np.min([low for low, _ in ends], axis=0), np.max([high for _, high in ends], axis=0)


def widest(room: tuple[float, float, float] | None) -> float:
    """Return how wide a mesh may be before it is pointed out, in a room of such a size or in none. [m]"""
    return WIDEST if room is None else min(WIDEST, max(STREET, ROOMS * max(room)))


def size_notes(piece, low: np.ndarray, high: np.ndarray, count: int, most: float = WIDEST) -> list[str]:
    """Return lines on a piece's mesh: its size, how far it lies from its place, its triangles.

    Parameters
    ----------
    piece
        With `mesh` set.
    low, high : float array, shape (3,)
        Its least and greatest coordinates about its own origin. [m]
    count : int
        Of triangles.
    most : float
        As of `widest`. [m]
    """
    extent, away = float(np.max(high - low)), float(np.linalg.norm((low + high) / 2))
    name, lines = f"the mesh '{Path(piece.mesh).name}'", []
    if not NARROWEST <= extent <= most:
        lines.append(f"Check: {name} is {_length(extent)} across.{_likely(piece, extent)}")
    elif away > max(FAR * extent, FAR_AWAY):
        lines.append(f"Check: {name} lies {_length(away)} from its own origin, which is what stands at 'at'. "
                     "Move it to its origin in the program that it comes from if that is not meant.")
    if count > MANY:
        lines.append(f"Check: {name} has {count / 1e6:.1f} million triangles. 'triangles: 500000' renders it "
                     "simplified, with less memory and sooner.")
    return lines


def _likely(piece, extent: float) -> str:
    """Return what unit or scale would make a piece of the mesh, in a sentence."""
    own = dict(UNITS)[piece.units or "m"]
    fits = [(unit, extent * metres / own) for unit, metres in UNITS
            if unit != (piece.units or "m") and 0.05 <= extent * metres / own <= 20.0]
    if not fits:
        return " Look at its units and scale."
    if Path(piece.mesh).suffix.lower() in (".gltf", ".glb"):
        return " If it was made in " + ", or ".join(
            f"{unit}, write 'scale: {piece.scale * dict(UNITS)[unit]:g}' ({_length(size)})"
            for unit, size in fits) + "."
    return " Write " + ", or ".join(f"'units: {unit}' ({_length(size)})" for unit, size in fits) + (
        " if it was made in that.")


def _length(metres: float) -> str:
    if metres >= 100:
        return f"{metres:.0f} m"
    return f"{metres:.3g} m" if metres >= 1 else f"{1000 * metres:.3g} mm"
