"""pyrender's renderer with what first hits need: a number and a depth for every pixel, no tree of things.

For pictures of any kind pyrender draws four samples a pixel, and works depths out in a way that takes
longer than to draw a set. One sample, through the middle of the pixel, is all that a first hit is.
"""

from __future__ import annotations

import numpy as np
from OpenGL import GL
from pyrender import Mesh, Node, Primitive
from pyrender.constants import RenderFlags
from pyrender.renderer import Renderer

BAND = 64
"""Rows that are worked out at once, so few that they stay in the processor's cache."""


def colour_of(number: int) -> list[int]:
    """Return the colour that `HitRenderer` reads as a number from 0 to 2^24 - 2."""
    # Colour 0 is left to what is not hit.
    return [(number + 1) >> shift & 255 for shift in (0, 8, 16)]


class HitScene:
    """Numbered bodies and one camera, as pyrender's renderer asks a scene for them.

    pyrender's own scene is a tree, for which it takes a library of graphs that is slow to import; and it
    draws its things in any order, so that of two faces in one place now this and now that one is seen.
    """

    lights = ()

    def __init__(self):
        self.colours, self.mesh_nodes, self.meshes = {}, [], set()
        self.main_camera_node = None

    def add(self, vertices, faces, number: int) -> None:
        """Add a body.

        Parameters
        ----------
        vertices : float32 array, shape (n, 3)
            In the world. [m]
        faces : uint32 array, shape (m, 3)
        number : int
            What it is known by, from 0 on.
        """
        mesh = Mesh([Primitive(positions=vertices, indices=faces, mode=GL.GL_TRIANGLES)])
        node = Node(mesh=mesh)
        self.meshes.add(mesh)
        self.mesh_nodes.append(node)
        self.colours[node] = colour_of(number)

    def look(self, camera, pose=None) -> None:
        """Set what it is seen by: one of pyrender's cameras, and its pose."""
        self.main_camera_node = Node(camera=camera, matrix=pose)

    @staticmethod
    def get_pose(node):
        """Return a node's pose; all lie in the world's axes."""
        return node.matrix


class HitRenderer(Renderer):
    """Renders flat colours, as `colour_of` gives them, to numbers and depths.

    Parameters
    ----------
    viewport_width, viewport_height : int
        [px]
    """

    def __init__(self, viewport_width: int, viewport_height: int):
        super().__init__(viewport_width, viewport_height)
        # Rays are counted, not the pixels of a screen that may be finer.
        self.dpscale = 1
        self.viewport_width, self.viewport_height = viewport_width, viewport_height
        self._read = None

    def render(self, scene, flags, seg_node_map=None):
        """Return the number and the depth of every pixel, top row first.

        Returns
        -------
        number : int32 array, shape (rows, columns)
            -1 where nothing is.
        depth : float32 array, shape (rows, columns)
            Along the view's axis; inf where nothing is. [m]
        """
        self._read = super().render(scene, flags | RenderFlags.OFFSCREEN, seg_node_map)
        return self._read

    def read_color_buf(self):
        """Return the numbers; asked for where pyrender takes the screen's own buffer for the picture."""
        return self._read[0]

    def read_depth_buf(self):
        """Return the depths, likewise."""
        return self._read[1]

    def _sorted_mesh_nodes(self, scene):
        return scene.mesh_nodes

    def _configure_main_framebuffer(self):
        size = self.viewport_width, self.viewport_height
        if self._main_fb_dims == size:
            return
        self._delete_main_framebuffer()
        self._main_fb = GL.glGenFramebuffers(1)
        GL.glBindFramebuffer(GL.GL_DRAW_FRAMEBUFFER, self._main_fb)
        self._main_cb, self._main_db = GL.glGenRenderbuffers(2)
        for buffer, kind, place in (
                (self._main_cb, GL.GL_RGBA, GL.GL_COLOR_ATTACHMENT0),
                (self._main_db, GL.GL_DEPTH_COMPONENT24, GL.GL_DEPTH_ATTACHMENT)):
            GL.glBindRenderbuffer(GL.GL_RENDERBUFFER, buffer)
            GL.glRenderbufferStorage(GL.GL_RENDERBUFFER, kind, *size)
            GL.glFramebufferRenderbuffer(GL.GL_DRAW_FRAMEBUFFER, place, GL.GL_RENDERBUFFER, buffer)
        # The one that is drawn into is the one that is read; GL lets a thing be deleted twice.
        self._main_fb_ms, self._main_cb_ms, self._main_db_ms = (
            self._main_fb, self._main_cb, self._main_db)
        self._main_fb_dims = size

    def _read_main_framebuffer(self, scene, flags):
        columns, rows = self._main_fb_dims
        GL.glBindFramebuffer(GL.GL_READ_FRAMEBUFFER, self._main_fb)
        colours = np.empty((rows, columns, 4), np.uint8)
        GL.glReadPixels(0, 0, columns, rows, GL.GL_RGBA, GL.GL_UNSIGNED_BYTE, colours)
        share = np.empty((rows, columns), np.float32)
        GL.glReadPixels(0, 0, columns, rows, GL.GL_DEPTH_COMPONENT, GL.GL_FLOAT, share)
        # GL's first row is the lowest.
        number = colours[::-1].view("<i4")[..., 0] & 0xFFFFFF
        number -= 1
        lens = scene.main_camera_node.camera
        depth = _depth(share[::-1], lens.znear, lens.zfar)
        depth[number < 0] = np.inf
        return number, depth


def _depth(share, near, far) -> np.ndarray:
    """Return depths from what GL keeps of them: 0 at the near plane and 1 at the far one, even in 1/z."""
    depth = np.empty(share.shape, np.float32)
    for top in range(0, len(share), BAND):
        # Where the planes lie far apart, single precision would lose what the 24 bits still tell.
        part = share[top:top + BAND].astype(float)
        part *= near - far
        part += far
        depth[top:top + BAND] = np.divide(near * far, part, out=part)
    return depth
