"""Pictures that say how a surface leans, and how rough it is, as a relief and a pattern of it.

Source: glTF 2.0 (ISO/IEC 12113:2022), material.normalTexture and pbrMetallicRoughness: red and green are the
normal to the right and up, from -1 to 1, blue out of the surface; green of the other picture is the
roughness, whose square is the GGX width (both from memory).
"""

from __future__ import annotations

import numpy as np
from PIL import Image

from previz.stage.records import SMOOTH, Pattern, Relief

MOST_SIDE = 2048
"""Texels along a side from which a map is made smaller. [1]"""

LEAST_OUT = 0.15
"""Least part of a normal out of the surface; a slope of 6.6. [1]"""

INWARDS = 0.25
"""Share of normals along the surface or into it, from which a picture is not one of normals. [1]"""

NO_NORMALS = ("shows no normals: many of them would point into the surface",
              "Name a picture of normals in the surface's own directions, which is light blue; heights, and "
              "normals in an object's directions, cannot be used.")


def of_few(picture: np.ndarray) -> np.ndarray:
    """Return a picture of bytes made smaller where it is large; its means stay."""
    most = max(picture.shape[:2])
    if most <= MOST_SIDE:
        return picture
    return np.asarray(Image.fromarray(picture).reduce(-(-most // MOST_SIDE)))


def shows_normals(picture: np.ndarray) -> bool:
    """Return whether bytes, shape (rows, columns, 3), can be normals in a surface's own directions."""
    out = picture[..., 2]
    return bool(np.mean(out < 255 * (1 + LEAST_OUT) / 2) < INWARDS)


def relief_of(picture: np.ndarray, size: tuple[float, float], strength: float = 1.0) -> Relief:
    """Return the relief of a picture of normals.

    Parameters
    ----------
    picture : uint8 array, shape (rows, columns, 3)
        As it is stored, not linear light.
    size : (float, float)
        Of the picture in the mesh's uv. [m] or [1]
    strength : float
        What red and green are multiplied by. [1]
    """
    codes = of_few(picture).astype(np.float32)
    # The two codes about the middle both mean straight up.
    normal = np.where(np.abs(codes - 127.5) <= 0.5, 0, codes / 127.5 - 1)
    out = np.maximum(normal[..., 2:], LEAST_OUT)
    return Relief(-strength * normal[..., :2] / out, size)


def roughness_pattern(rough: np.ndarray, width: float, size: tuple[float, float], second: np.ndarray,
                      gloss: np.ndarray | None = None) -> Pattern:
    """Return a pattern of a surface whose roughness varies.

    Parameters
    ----------
    rough : float array, shape (rows, columns)
        Roughness as files have it, whose square is the GGX width. [1]
    width : float
        GGX width of the surface. [1]
    size
        As of `relief_of`.
    second : float array, shape (81,)
        Not shown.
    gloss : float array, shape (rows, columns), or None
        Factor on the gloss.
    """
    tile = np.ones((*rough.shape, 4), np.float32)
    tile[..., 0] = 0
    if gloss is not None:
        tile[..., 2] = gloss
    tile[..., 3] = np.maximum(rough**2, SMOOTH) / width
    return Pattern(tile, size, second)
