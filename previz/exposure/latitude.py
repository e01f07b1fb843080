"""What a camera holds over and under grey: where its picture clips, and where all is black.

Over: each channel of the linear picture is held at 0.18 · 2^over, as a photosite is full; so what is much
too bright turns white by way of the colours that fill last.

Under: 0.18 · 2^-under and all that is darker is black, as nothing of it is told apart; from there it rises
to what it is over one stop, u² (5 − 3u) of the limit for u = level / limit − 1. It goes by luminance, all
channels by the same factor: a shadow keeps its hue as it falls away. Everything more than a stop over the
limit is the picture as it was, bit for bit.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from previz.physics.chromatic_adaptation import acescg_from_xyz
from previz.physics.exposure import MID_GREY


@cache
def acescg_luminance() -> np.ndarray:
    """Return what red, green and blue of ACEScg count in luminance. Shape (3,) [1]

    Source
    ------
    S-2014-004 (ACEScg), by its primaries.
    """
    return np.linalg.inv(acescg_from_xyz())[1]


def held(acescg: ArrayLike, over: float | None, under: float | None) -> np.ndarray:
    """Return a picture within a camera's latitude; without limits the picture itself.

    Parameters
    ----------
    acescg : float array, shape (3, row, column)
        Scene-linear, 0.18 for mid grey. [1]
    over, under : float or None
        [stops]

    Returns
    -------
    float32 array, shape (3, row, column)
        [1]
    """
    picture = np.asarray(acescg, np.float32)
    if over is not None:
        picture = np.minimum(picture, np.float32(MID_GREY * 2.0**over))
    if under is not None:
        floor = np.float32(MID_GREY * 2.0**-under)
        level = np.einsum("c,crk->rk", acescg_luminance().astype(np.float32), picture)
        above = np.clip(level / floor - 1, 0, 1)
        dark = level < 2 * floor
        share = np.where(dark, above * above * (5 - 3 * above) * floor / np.where(dark, np.maximum(
            level, floor), 1), np.float32(1))
        picture = picture * share
    return picture


def told_apart(linear: ArrayLike, over: float | None, under: float | None) -> tuple[np.ndarray, np.ndarray]:
    """Return where a picture within a latitude is what it was without: not clipped, and not in the dark.

    Parameters
    ----------
    linear : float array, shape (row, column, 3)
        After `held`. [1]
    over, under : float or None
        [stops]

    Returns
    -------
    two bool arrays, shape (row, column, 3)
        Of the dark the last stop before the limit is a part.
    """
    light = np.asarray(linear, float)
    open_above = np.ones(light.shape, bool) if over is None else light < 0.98 * MID_GREY * 2.0**over
    if under is None:
        return open_above, np.ones(light.shape, bool)
    bright = light @ acescg_luminance() > 2 * MID_GREY * 2.0**-under
    return open_above, np.broadcast_to(bright[..., None], light.shape)


def shader_lines(over: float | None, under: float | None) -> list[str]:
    """Return the same as lines of GLSL that change `vec3 light`."""
    lines = []
    if over is not None:
        lines.append(f"light = min(light, vec3({MID_GREY * 2.0**over:.9e}));")
    if under is not None:
        floor = MID_GREY * 2.0**-under
        weights = ", ".join(f"{each:.9e}" for each in acescg_luminance())
        lines += [f"float level = dot(vec3({weights}), light);",
                  f"float above = clamp(level / {floor:.9e} - 1.0, 0.0, 1.0);",
                  f"if (level < {2 * floor:.9e}) "
                  f"light *= above * above * (5.0 - 3.0 * above) * {floor:.9e} / max(level, {floor:.9e});"]
    return lines
