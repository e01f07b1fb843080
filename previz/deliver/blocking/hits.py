"""First hits: what each ray through a picture meets, and how far away.

They come from GL where a context can be had (`GlEye`), and from the engine elsewhere; both are
pinhole, through the middle of every pixel.
"""

from __future__ import annotations

import os
import sys
import types
import warnings
from dataclasses import dataclass
from importlib import import_module

import numpy as np

from previz.stage.records import Camera, Stage

NEAREST = 0.02
"""Nothing nearer to a camera than this is drawn by GL. [m]"""


class NoGraphicsError(Exception):
    """No GL context can be had here; the text says why."""


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


VIEWER, GRAPHS = "pyrender.viewer", "networkx"
"""Modules that pyrender imports and first hits do without: its window, and what its scenes are made of."""


def import_pyrender():
    """Import pyrender without its window, and told to do without a display where it can."""
    if sys.platform.startswith("linux"):
        # EGL needs no display and opens no window, so it serves where there is one as well.
        os.environ.setdefault("PYOPENGL_PLATFORM", "egl")
    # It would be imported below, and must not go without anything where others may need it.
    import_module("trimesh")
    # The window needs a toolkit that may be missing, and both take half of the import's time.
    before = {name: sys.modules.get(name, ...) for name in (VIEWER, GRAPHS)}
    empty = [name for name, module in before.items() if module in (None, ...)]
    for name in empty:
        sys.modules[name] = types.ModuleType(name)
        sys.modules[name].Viewer = None
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            import pyrender
    finally:
        for name in empty:
            if before[name] is None:
                sys.modules[name] = None
            else:
                del sys.modules[name]
    return pyrender


DEVICE = "EGL_DEVICE_ID"
"""Environment variable by which pyrender picks one of the devices that EGL lists."""


def _count_devices() -> int:
    if os.environ.get("PYOPENGL_PLATFORM") != "egl":
        return 1
    from pyrender.platforms import egl

    return len(egl.query_devices())


def first_that_works(make, count):
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
        Whatever the first device raised, if none works or one was asked for.
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


def _why(error) -> str:
    """Return an error in one line."""
    told = " ".join(f"{type(error).__name__}: {error}".split()).strip(": ")
    return told if len(told) <= 160 else f"{told[:157]}..."


class GlEye:
    """One GL context; a context manager. Only one may be open at a time.

    Closing one ends the whole of the process's connection to GL, any other with it.

    Raises
    ------
    NoGraphicsError
        pyrender is not installed, or there is no GL to be had.
    """

    def __init__(self):
        try:
            self._pyrender = import_pyrender()
            self._renderer = first_that_works(
                lambda: self._pyrender.OffscreenRenderer(16, 16), _count_devices)
            # Only now can it be imported.
            from previz.deliver.blocking.buffer import HitRenderer, HitScene

            self._renderer._renderer, self._scene = HitRenderer(16, 16), HitScene
        # Which error a machine without GL raises depends on what it lacks: ImportError,
        # AttributeError, AssertionError, a GLError, ValueError for no device and more.
        except Exception as error:
            raise NoGraphicsError(_why(error)) from error

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.close()

    def close(self) -> None:
        """Give the context back."""
        if self._renderer is not None:
            self._renderer.delete()
            self._renderer = None

    def renderer_name(self) -> str:
        """Return what draws, in GL's own words."""
        from OpenGL.GL import GL_RENDERER, GL_VERSION, glGetString

        told = [glGetString(each) for each in (GL_RENDERER, GL_VERSION)]
        return ", ".join(each.decode(errors="replace") for each in told if each)

    def warm(self, width: int, height: int) -> None:
        """Draw a triangle that nobody sees, so that the first picture that counts comes sooner.

        Parameters
        ----------
        width, height : int
            [px]

        Raises
        ------
        NoGraphicsError
            The context fails while drawing.
        """
        scene = self._scene()
        scene.add(np.array([[0, 0, -2], [1, 0, -2], [0, 1, -2]], np.float32),
                  np.array([[0, 1, 2]], np.uint32), 0)
        scene.look(self._pyrender.PerspectiveCamera(yfov=1.0, znear=1.0, zfar=3.0))
        self._render(scene, width, height)

    def _render(self, scene, width, height):
        """Return the number of each pixel's colour and its depth."""
        render_flags = self._pyrender.RenderFlags
        self._renderer.viewport_width, self._renderer.viewport_height = width, height
        try:
            return self._renderer.render(scene, flags=render_flags.SEG | render_flags.SKIP_CULL_FACES,
                                         seg_node_map=scene.colours)
        except Exception as error:
            raise NoGraphicsError(_why(error)) from error

    def first_hits(self, stage: Stage, camera: Camera, width: int, height: int) -> FirstHits:
        """Return what a camera sees.

        Parameters
        ----------
        stage : Stage
            What is seen.
        camera : Camera
            Seen as a pinhole.
        width, height : int
            [px]

        Raises
        ------
        NoGraphicsError
            The context fails while drawing.
        """
        names, scene = hit_names(stage), self._scene()
        nearest, farthest = np.inf, NEAREST * 2
        for index, (vertices, faces) in enumerate(_bodies(stage, names)):
            if not len(faces):
                continue
            scene.add(vertices, faces, index)
            ahead = (vertices - camera.position) @ camera.world_from_camera[:, 2]
            nearest, farthest = min(nearest, ahead.min()), max(farthest, ahead.max())
        gap = 1e-3 * (farthest - nearest) + 1e-3 if np.isfinite(nearest) else 0.0
        near, far = max(NEAREST, nearest - gap), farthest + gap
        if not scene.meshes or far <= near:
            return FirstHits(np.full((height, width), np.inf, np.float32),
                             np.full((height, width), -1, np.int32), names)
        scene.look(self._pyrender.PerspectiveCamera(
            yfov=2 * np.arctan(camera.tan_half[1]), znear=near, zfar=far,
            aspectRatio=camera.tan_half[0] / camera.tan_half[1]), camera_pose(camera))
        index, depth = self._render(scene, width, height)
        return FirstHits(depth, index, names)


def camera_pose(camera: Camera) -> np.ndarray:
    """Return the (4, 4) pose of a camera for GL, which looks along -z with y up."""
    pose = np.eye(4)
    right, up, forward = np.asarray(camera.world_from_camera, float).T
    pose[:3, 0], pose[:3, 1], pose[:3, 2] = right, up, -forward
    pose[:3, 3] = camera.position
    return pose


def _bodies(stage, names):
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


def gl_first_hits(stage: Stage, camera: Camera, width: int, height: int) -> FirstHits:
    """Return what a camera sees, from a GL context of its own.

    Parameters
    ----------
    stage : Stage
        What is seen.
    camera : Camera
        Seen as a pinhole.
    width, height : int
        [px]

    Raises
    ------
    NoGraphicsError
        No GL context can be had.
    """
    with GlEye() as eye:
        return eye.first_hits(stage, camera, width, height)
