"""Flat shapes from first hits: one quiet colour a role, a little form, and thin outlines."""

from __future__ import annotations

import numpy as np
from PIL import Image

from previz.deliver.blocking.views import FINE, WALLS, FirstHits, View
from previz.stage.records import Stage

ROLE_COLOURS = {
    "room": (220, 219, 215),
    "set": (193, 194, 192),
    "figure": (198, 148, 124),
    "lamp": (224, 194, 118),
    "board": (247, 247, 245),
    "frame": (171, 200, 196),
    "flag": (78, 80, 88),
    "outside": (222, 226, 220),
}
"""Colour by role; 'room' is its walls, floor and ceiling, set off from what stands in it. [sRGB]

The shades are our own: quiet, and different in lightness as well as in hue.
"""

ROOM = (*WALLS, "floor", "ceiling")
"""Names that the shell of a room always has."""

NOTHING = (232, 236, 240)
"""Colour where no ray hits anything. [sRGB]"""

OUTLINE = (58, 60, 66)

LEVEL = 0.90
"""How light a face is that points neither with `FORM` nor against it. [1]"""

FORM = (0.06, 0.03, 0.09)
"""What facing along +x, +y and up adds to that; only so much that a box has three sides. [1]"""

SILHOUETTE, CREASE = 0.85, 0.30
"""How dark an outline is: where the name changes or the depth jumps, and where a face bends. [1]"""

DEPTH_JUMP = 0.03
"""How far depth leaves its own slope, over the depth, where an outline is drawn. [1]"""

BEND = 0.85
"""Cosine between the normals on both sides of a pixel below which a crease is drawn. [1]"""

BEYOND = 0.50
"""Share of the paper's colour mixed in outside the delivered frame. [1]"""


def roles_of(stage: Stage) -> dict[str, str]:
    """Return the role of every name; a lamp's lit face makes the name a lamp's."""
    roles = {mesh.name: "room" if mesh.name in ROOM else mesh.role for mesh in stage.meshes}
    roles.update({emitter.name: "lamp" for emitter in stage.emitters})
    return roles


def shaded(view: View, hits: FirstHits) -> np.ndarray:
    """Return the fine picture of a view from the first hits of its grid.

    Returns
    -------
    uint8 array, shape (rows, columns, 3)
        sRGB, `FINE` rows and columns a pixel.
    """
    roles = roles_of(view.stage)
    of_name = [roles.get(name, "set") for name in hits.names]
    palette = np.array([*(ROLE_COLOURS[role] for role in of_name), NOTHING], np.float32).T.copy()
    bends = np.array([*(role not in ("figure", "outside") for role in of_name), False])
    # Looked up four times, which is quickest with whole numbers of the machine's own size.
    index, form = hits.names_index.astype(np.intp), np.array(FORM, np.float32)
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        inverse = 1 / hits.depth
        if hits.normal is None:
            normal = normals_of_depth(view, inverse)
            form = form @ np.asarray(view.camera.world_from_camera, np.float32)
        else:
            normal = hits.normal
        ink = 1 - _outlines(index, inverse, normal, bends)
        light = sum(part * weight for part, weight in zip(normal, form, strict=True))
    light += np.float32(LEVEL)
    # A lone pixel has no slope, so no normal; and the open air has none at all.
    light[~np.isfinite(light) | (index < 0)] = 1
    light *= ink
    picture = np.empty((*index.shape, 3), np.uint8)
    for channel, line in enumerate(OUTLINE):
        part = palette[channel][index] * light + (1 - ink) * np.float32(line)
        picture[..., channel] = np.clip(part, 0, 255)
    return picture


def normals_of_depth(view: View, inverse: np.ndarray) -> np.ndarray:
    """Return normals, towards the eye, from the slope of the depth.

    In a pinhole picture the inverse depth w of a plane n·p = k is linear in the tangents (X, Y)
    of the ray: n is along (dw/dX, dw/dY, w - X dw/dX - Y dw/dY). So flat things come out exactly
    flat.

    Parameters
    ----------
    view : View
        Whose camera the depth is along.
    inverse : float32 array, shape (rows, columns)
        One over the depth; 0 where nothing is. [1/m]

    Returns
    -------
    float32 array, shape (3, rows, columns)
        Along the camera's right, up and forward; meaningless at edges and where nothing is.
    """
    rows, columns = inverse.shape
    step_x = 2 * view.camera.tan_half[0] / columns
    step_y = 2 * view.camera.tan_half[1] / rows
    x = ((np.arange(columns) + 0.5) * step_x - view.camera.tan_half[0]).astype(np.float32)
    y = (view.camera.tan_half[1] - (np.arange(rows) + 0.5) * step_y).astype(np.float32)
    normal = np.empty((3, rows, columns), np.float32)
    right, up, ahead = normal
    np.subtract(inverse[:, :-2], inverse[:, 2:], out=right[:, 1:-1])
    right[:, 0], right[:, -1] = right[:, 1], right[:, -2]
    np.subtract(inverse[2:], inverse[:-2], out=up[1:-1])
    up[0], up[-1] = up[1], up[-2]
    right *= np.float32(1 / (2 * step_x))
    up *= np.float32(1 / (2 * step_y))
    np.negative(inverse, out=ahead)
    ahead -= x * right
    ahead -= y[:, None] * up
    length = right * right
    length += up * up
    length += ahead * ahead
    np.sqrt(length, out=length)
    normal /= length
    return normal


def _outlines(index, inverse, normal, bends):
    """Return how dark the outlines make each pixel, 0 to 1."""
    edges, creases = np.zeros(index.shape, bool), np.zeros(index.shape, bool)
    creased = bends[index]
    for axis in (0, 1):
        before, here, after = (_shifted(index, axis, k) for k in range(3))
        low, middle, high = (_shifted(inverse, axis, k) for k in range(3))
        jump = low - 2 * middle
        jump += high
        edge = np.abs(jump, out=jump) > DEPTH_JUMP * middle
        edge |= here != before
        inside = _shifted(edges, axis, 1)
        inside |= edge
        cosine = sum(_shifted(part, axis, 0) * _shifted(part, axis, 2) for part in normal)
        bend = cosine < BEND
        bend &= _shifted(creased, axis, 1)
        bend &= before == after
        inside = _shifted(creases, axis, 1)
        inside |= bend
    dark = creases * np.float32(CREASE)
    dark[edges] = SILHOUETTE
    return dark


def _shifted(values, axis, start):
    """Return the view of all but two rows (axis 0) or columns (axis 1), from `start` on."""
    length = values.shape[axis] - 2
    return values[start:start + length] if axis == 0 else values[:, start:start + length]


def reduced(fine: np.ndarray) -> np.ndarray:
    """Return a fine picture at the size it is drawn."""
    return np.asarray(Image.fromarray(fine).reduce(FINE))
