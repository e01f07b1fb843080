"""What the blocking drawings show: every camera with some air round its frame, and from above.

A view is a camera of the stage and the size of the grid of rays through it. Their first hits come
from GL where a context can be had (`gl`), and from the engine elsewhere; both are pinhole, through
the middle of every pixel, and need not know what is drawn from them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from previz.deliver.blocking.cautions import cautions_height
from previz.stage.records import Camera, Stage

ABOVE = "above"
"""Name of the view from above."""

WALLS = ("north wall", "south wall", "east wall", "west wall")
"""Names that a room's walls always have."""

OVERHEAD = ("ceiling",)
"""What is taken away for the view from above."""

FINE = 2
"""Rays a drawn pixel, across and down."""

FRAME_SHARE = 0.86
"""Share of the drawing's width or height that the delivered frame takes up. [1]"""

CAPTION_SHARE = 0.075
"""Share of the drawing's height that the line under it takes up. [1]"""

EYE_HEIGHT = 3000.0
"""How far up the view from above is taken. [m]

So far away that a thing 3 m high is less than half a pixel off where it would be in a parallel
view of 800 pixels, and near enough that single precision still resolves 0.3 mm.
"""


@dataclass(frozen=True, eq=False)
class FirstHits:
    """What is seen through the middle of each pixel.

    Parameters
    ----------
    depth : float32 array, shape (rows, columns)
        Along the view's axis; inf where nothing is. [m]
    names_index : int32 array, shape (rows, columns)
        Index into `names`; -1 where nothing is.
    names : tuple of str
        Every name of the stage, as `hit_names` returns them.
    normal : float32 array, shape (3, rows, columns), or None
        World normal; None lets it be found from the depth.
    """

    depth: np.ndarray
    names_index: np.ndarray
    names: tuple[str, ...]
    normal: np.ndarray | None = None


def hit_names(stage: Stage) -> tuple[str, ...]:
    """Return the names that hits point to: those of the meshes, then those of the emitters."""
    return tuple(dict.fromkeys([m.name for m in stage.meshes] + [e.name for e in stage.emitters]))


@dataclass(frozen=True, eq=False)
class View:
    """One drawing before its shapes are known.

    Parameters
    ----------
    name : str
        The camera's name, or `ABOVE`.
    stage : Stage
        What is seen; the view from above has lost its ceiling.
    camera : Camera
        Pinhole that the rays go through; wider than the camera it stands for.
    width, height : int
        Size of the picture part of the drawing, without the caption. [px]
    frame : (float, float, float, float) or None
        Left, top, right and bottom of the delivered frame; None from above. [px]
    pixels_per_metre : float or None
        Scale from above; None for a camera. [px/m]
    """

    name: str
    stage: Stage
    camera: Camera
    width: int
    height: int
    frame: tuple[float, float, float, float] | None = None
    pixels_per_metre: float | None = None

    @property
    def grid(self) -> tuple[int, int]:
        """Columns and rows of rays."""
        return self.width * FINE, self.height * FINE

    def project(self, points) -> tuple[np.ndarray, np.ndarray]:
        """Return where points are drawn, and how deep they lie; see `project`."""
        return project(self.camera, self.width, self.height, points)


def project(camera: Camera, width: int, height: int, points) -> tuple[np.ndarray, np.ndarray]:
    """Return where a camera sees points.

    Parameters
    ----------
    camera : Camera
        Seen as a pinhole.
    width, height : int
        Size of the picture. [px]
    points : float array, shape (..., 3)
        [m]

    Returns
    -------
    pixels : float array, shape (..., 2)
        From the left and the top; meaningless where the depth is not above 0. [px]
    depth : float array, shape (...)
        Along the camera's axis. [m]
    """
    seen = (np.asarray(points, float) - camera.position) @ np.asarray(camera.world_from_camera)
    depth = seen[..., 2]
    safe = np.where(np.abs(depth) < 1e-9, 1e-9, depth)
    across = seen[..., 0] / safe / camera.tan_half[0]
    upwards = seen[..., 1] / safe / camera.tan_half[1]
    pixels = np.stack([(across + 1) * width / 2, (1 - upwards) * height / 2], axis=-1)
    return pixels, depth


def caption_height(height: int) -> int:
    """Return the height of the line under a drawing. [px]"""
    return max(22, round(height * CAPTION_SHARE))


def blocking_views(stage: Stage, size: tuple[int, int]) -> tuple[View, ...]:
    """Return every drawing of a stage, one option of a scene: its cameras in order, then from above.

    `size` is the width and height of a drawing, caption included. [px]
    """
    width, height = size[0], size[1] - caption_height(size[1])
    views = [_camera_view(stage, camera, width, height) for camera in stage.cameras]
    return (*views, _above_view(stage, width, height - cautions_height(stage, size)))


def _camera_view(stage, camera, width, height) -> View:
    # The frame keeps its shape; what is left of the drawing shows what lies just outside it.
    half_width = min(width, height * camera.aspect) * FRAME_SHARE / 2
    half_height = half_width / camera.aspect
    wider = (camera.tan_half[0] * width / 2 / half_width,
             camera.tan_half[1] * height / 2 / half_height)
    seen = replace(camera, tan_half=wider, aspect=width / height, lens_radius=0.0)
    frame = (width / 2 - half_width, height / 2 - half_height,
             width / 2 + half_width, height / 2 + half_height)
    return View(camera.name, stage, seen, width, height, frame)


def extent(stage: Stage) -> tuple[np.ndarray, np.ndarray]:
    """Return the lowest and highest corner of everything that stands in a scene. [m]

    The ground outside has no end and does not count.
    """
    bodies = [m.vertices for m in stage.meshes if m.role != "outside"]
    bodies += [e.vertices for e in stage.emitters]
    points = [np.stack([b.min(axis=0), b.max(axis=0)]) for b in map(np.asarray, bodies) if len(b)]
    points += [np.asarray(camera.position, float)[None] for camera in stage.cameras]
    if not points:
        return np.zeros(3), np.ones(3)
    joined = np.concatenate(points)
    return joined.min(axis=0), joined.max(axis=0)


def _above_view(stage, width, height) -> View:
    low, high = extent(stage)
    span = np.maximum(high - low, 0.5)
    # Air all round for names: a tenth of the width, a bit less above and below.
    scale = min(width * 0.80 / span[0], height * 0.86 / span[1])
    middle = (low + high) / 2
    meshes = tuple(mesh for mesh in stage.meshes if mesh.name not in OVERHEAD)
    camera = Camera(
        name=ABOVE, position=np.array([middle[0], middle[1], low[2] + EYE_HEIGHT]),
        world_from_camera=np.array([[1.0, 0, 0], [0, 1, 0], [0, 0, -1]]),
        tan_half=(width / 2 / scale / EYE_HEIGHT, height / 2 / scale / EYE_HEIGHT),
        aspect=width / height, lens_radius=0.0, focus=EYE_HEIGHT, stop=1.0, iso=100.0,
        shutter_s=1.0, nd_density=0.0, white_balance=6504.0, tint=0.0, focal=1.0,
        sensor=(1.0, height / width))
    return View(ABOVE, replace(stage, meshes=meshes), camera, width, height,
                pixels_per_metre=scale)
