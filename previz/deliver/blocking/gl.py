"""First hits by GL: every body is drawn in a colour that is its number, by pyrender."""

from __future__ import annotations

import os
import sys
import warnings
from collections.abc import Callable
from types import ModuleType
from typing import TypeVar

import numpy as np

from previz.deliver.blocking.views import FirstHits, hit_names
from previz.stage.records import Camera, Stage

NEAREST = 0.02
"""Nothing nearer to a camera than this is drawn. [m]"""

DEVICE = "EGL_DEVICE_ID"
"""Environment variable by which pyrender picks one of the devices that EGL lists."""

Context = TypeVar("Context")


class NoGraphicsError(Exception):
    """No GL context can be had here; the text says why."""


def import_pyrender() -> ModuleType:
    """Import pyrender, set to do without a display.

    Raises
    ------
    ImportError
        It would have to open a window: without EGL it draws by pyglet, on a Mac in the main thread alone.
    """
    if not sys.platform.startswith("linux"):
        raise ImportError("EGL, which draws without a window, is there on Linux alone")
    # EGL needs no display and opens no window, so it serves where there is one as well.
    os.environ.setdefault("PYOPENGL_PLATFORM", "egl")
    os.environ.setdefault("PYGLET_HEADLESS", "1")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import pyrender
    return pyrender


def _count_devices() -> int:
    if os.environ.get("PYOPENGL_PLATFORM") != "egl":
        return 1
    from pyrender.platforms import egl

    return len(egl.query_devices())


def first_that_works(make: Callable[[], Context], count: Callable[[], int]) -> Context:
    """Return what `make` makes on the first EGL device that it works on.

    A machine may list a GPU that will not draw before the software that will.

    Parameters
    ----------
    make : function
        Opens the device that `DEVICE` names, the first one if it is not set.
    count : function
        Returns how many devices there are.

    Raises
    ------
    Exception
        Whatever the first device raised, if none works or `DEVICE` was set.
    """
    try:
        return make()
    except Exception:
        if DEVICE in os.environ:
            raise
        for device in range(1, count()):
            os.environ[DEVICE] = str(device)
            try:
                return make()
            # Any of the errors that a device may raise only means: try the next.
            except Exception:
                del os.environ[DEVICE]
        raise


def _why(error: Exception) -> str:
    """Return an error in one line."""
    line = " ".join(f"{type(error).__name__}: {error}".split()).strip(": ")
    return line if len(line) <= 160 else f"{line[:157]}..."


class GlContext:
    """One GL context; a context manager. Only one may be open at a time.

    Closing one ends the whole of the process's connection to GL, any other with it.

    Raises
    ------
    NoGraphicsError
        pyrender is not installed, or there is no GL to be had.
    """

    def __init__(self) -> None:
        try:
            self._pyrender = import_pyrender()
            self._renderer = first_that_works(
                lambda: self._pyrender.OffscreenRenderer(16, 16), _count_devices)
        # Which error a machine without GL raises depends on what it lacks: ImportError,
        # AttributeError, AssertionError, a GLError, ValueError for no device and more.
        except Exception as error:
            raise NoGraphicsError(_why(error)) from error

    def __enter__(self) -> GlContext:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Give the context back."""
        if self._renderer is not None:
            self._renderer.delete()
            self._renderer = None

    def renderer_name(self) -> str:
        """Return what draws, in GL's own words."""
        from OpenGL.GL import GL_RENDERER, GL_VERSION, glGetString

        parts = [glGetString(each) for each in (GL_RENDERER, GL_VERSION)]
        return ", ".join(each.decode(errors="replace") for each in parts if each)

    def first_hits(self, stage: Stage, camera: Camera, width: int, height: int) -> FirstHits:
        """Return what a camera, taken for a pinhole, sees in a picture of a width and a height. [px]

        Raises
        ------
        NoGraphicsError
            The context fails while drawing.
        """
        names = hit_names(stage)
        bodies = {index: body for index, body in enumerate(_bodies(stage, names)) if len(body[1])}
        ahead = [(vertices - camera.position) @ camera.world_from_camera[:, 2]
                 for vertices, _ in bodies.values()]
        nearest = min((part.min() for part in ahead), default=0.0)
        farthest = max((part.max() for part in ahead), default=0.0)
        gap = 1e-3 * (farthest - nearest) + 1e-3
        near, far = max(NEAREST, nearest - gap), farthest + gap
        if far <= near:
            return FirstHits(np.full((height, width), np.inf, np.float32),
                             np.full((height, width), -1, np.int32), names)
        try:
            colours, depth = self._drawn(bodies, camera, (near, far), width, height)
        except Exception as error:
            raise NoGraphicsError(_why(error)) from error
        index = numbers_of(colours)
        return FirstHits(np.where(index < 0, np.float32(np.inf), depth), index, names)

    def _drawn(self, bodies, camera: Camera, span: tuple[float, float], width: int, height: int):
        """Return the colours and the depths of a picture; `span` is from where to where it is drawn."""
        scene, colours = _ordered_scene(self._pyrender), {}
        for number, (vertices, faces) in bodies.items():
            mesh = self._pyrender.Mesh([self._pyrender.Primitive(positions=vertices, indices=faces)])
            colours[scene.add(mesh, name=str(number))] = colour_of(number)
        scene.add(self._pyrender.PerspectiveCamera(
            yfov=2 * np.arctan(camera.tan_half[1]), znear=span[0], zfar=span[1],
            aspectRatio=camera.tan_half[0] / camera.tan_half[1]), pose=camera_pose(camera))
        self._renderer.viewport_width, self._renderer.viewport_height = width, height
        flags = self._pyrender.RenderFlags
        return self._renderer.render(scene, flags.SEG | flags.SKIP_CULL_FACES, colours)


def _ordered_scene(pyrender: ModuleType):
    """Return an empty scene that draws bodies named '0', '1', ... in that order.

    The order of a set changes from run to run, and with it which of two faces in one place is seen.
    """
    class OrderedScene(pyrender.Scene):
        @property
        def mesh_nodes(self):
            return sorted(super().mesh_nodes, key=lambda node: int(node.name))

    return OrderedScene()


def colour_of(number: int) -> list[int]:
    """Return the colour that `numbers_of` reads as a number from 0 to 2^24 - 2."""
    # Colour 0 is left to what is not hit.
    return [(number + 1) >> shift & 255 for shift in (0, 8, 16)]


def numbers_of(colours: np.ndarray) -> np.ndarray:
    """Return the number of each pixel of a picture of `colour_of`; -1 where nothing is.

    uint8 of shape (rows, columns, 3) gives int32 of shape (rows, columns).
    """
    red, green, blue = np.moveaxis(colours.astype(np.int32), -1, 0)
    return red + (green << 8) + (blue << 16) - 1


def camera_pose(camera: Camera) -> np.ndarray:
    """Return the (4, 4) pose of a camera for GL, whose axis is -z with y up."""
    pose = np.eye(4)
    right, up, forward = np.asarray(camera.world_from_camera, float).T
    pose[:3, 0], pose[:3, 1], pose[:3, 2] = right, up, -forward
    pose[:3, 3] = camera.position
    return pose


def _bodies(stage: Stage, names: tuple[str, ...]) -> list[tuple[np.ndarray, np.ndarray]]:
    """Return (vertices, faces) of everything that shares a name, in the order of the names.

    Panes of meshes have no faces, as they are seen through.
    """
    parts: dict[str, list] = {name: [] for name in names}
    for body in (*stage.meshes, *stage.emitters):
        surface = stage.surfaces.get(getattr(body, "surface", None))
        faces = np.asarray(body.faces, np.uint32)
        parts[body.name].append((np.asarray(body.vertices, np.float32),
                                 faces[:0] if surface is not None and surface.is_sheet else faces))
    joined = []
    for name in names:
        starts = np.cumsum([0] + [len(vertices) for vertices, _ in parts[name]])
        joined.append((np.concatenate([vertices for vertices, _ in parts[name]]),
                       np.concatenate([faces + np.uint32(start) for (_, faces), start
                                       in zip(parts[name], starts, strict=False)])))
    return joined
