"""Stars: how many there are of each brightness, and a field of them that is invented but as full."""

from __future__ import annotations

import numpy as np

from previz.physics.arrays import FloatArray

COUNTS = (
    (-1.5, 0),
    (0.0, 4),
    (1.0, 15),
    (2.0, 48),
    (3.0, 171),
    (4.0, 513),
    (5.0, 1602),
    (6.0, 4800),
    (6.5, 9100),
)
"""Visual magnitude, and how many stars of the whole sky are brighter.  Source: counts of the catalogue of
bright stars, as handbooks of astronomy give them (from memory)."""

ZERO_MAGNITUDE = 2.54e-6
"""Illuminance by a star of magnitude 0 outside the air.  Source: as handbooks give it (from memory). [lx]"""

RADIUS_DEG = 1 / 60
"""Of the disc that a star is drawn as: about what an eye resolves.  Common practice, no source. [deg]"""

GRID = (64, 320)
"""Cells in height and round the sky that hold one star at most."""

EXTINCTION = 0.21
"""Of clear air for each air mass, as `sky_level.CLEAR_AIR`. [1]"""


def magnitudes(rng: np.random.Generator) -> FloatArray:
    """Return magnitudes of the stars over half a sky, by `COUNTS`; logs of numbers are straight between."""
    found = []
    for (bright, fewer), (faint, more) in zip(COUNTS, COUNTS[1:], strict=False):
        number = (more - fewer) / 2
        whole = int(number) + int(rng.random() < number - int(number))
        u = rng.random(whole)
        first = max(fewer, 1)
        found.append(bright + (faint - bright) * np.log(1 + u * (more / first - 1)) / np.log(more / first))
    return np.concatenate(found)


def star_field(seed: int = 1) -> tuple[FloatArray, float]:
    """Return stars over a grid of the sky, and what they give on level ground.

    Parameters
    ----------
    seed : int
        Which stars.

    Returns
    -------
    float array, shape (64, 320, 4)
        Unit vector to a star, and its illuminance of a surface that faces it, 0 for none. [1] and [lx]
    float
        Their sum on level ground. [lx]
    """
    rng = np.random.default_rng([seed, 41])
    level = magnitudes(rng)
    rows, columns = GRID
    cells = rng.permutation(rows * columns)[: len(level)]
    row, column = np.divmod(cells, columns)
    # Off the edges of its cell by more than its own disc, so that only one cell is asked for it.
    z = 1 - (row + 0.1 + 0.8 * rng.random(len(level))) / rows
    turn = (column + 0.15 + 0.7 * rng.random(len(level))) / columns * 2 * np.pi
    side = np.sqrt(1 - z**2)
    clear = (side * 0.15 * 2 * np.pi / columns > np.radians(RADIUS_DEG)) & (
        0.1 / rows > np.radians(RADIUS_DEG) * side
    )
    light = ZERO_MAGNITUDE * 10 ** (-0.4 * level) * np.exp(-EXTINCTION / np.maximum(z, 0.05))
    light = np.where(clear, light, 0)
    points = np.zeros((rows * columns, 4))
    points[cells] = np.stack([side * np.cos(turn), side * np.sin(turn), z, light], axis=1)
    return points.reshape(rows, columns, 4), float(np.sum(light * z))
