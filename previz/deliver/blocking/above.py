"""What is drawn over the shapes seen from above: walls, openings, cameras, lamps' aims, a scale."""

from __future__ import annotations

import numpy as np
from PIL import ImageDraw

from previz.deliver.blocking.shade import NOTHING, OUTLINE, ROLE_COLOURS
from previz.deliver.blocking.views import FINE, WALLS, View
from previz.stage.records import Camera

CUT_WALL = (122, 124, 128)
"""Colour of walls where they are cut. [sRGB]"""

CAMERA = (62, 88, 110)
"""Colour of cameras and what they see. [sRGB]"""

AIM = 0.75
"""Length of the line from a lamp that points level. [m]"""

FACING = 0.45
"""Length of the line that a figure faces along. [m]"""

STEEP = 0.93
"""How far up or down a camera may point, as a sine, and still have a field from above. [1]"""


class Plan:
    """A pen over the fine picture of the view from above.

    Parameters
    ----------
    view : View
    image : PIL.Image.Image
        The fine picture, drawn on in place.
    """

    def __init__(self, view: View, image):
        self.view, self.stage = view, view.stage
        self.pen = ImageDraw.Draw(image, "RGBA")

    def at(self, points) -> np.ndarray:
        """Return fine pixels of world points, as seen straight down."""
        points = np.atleast_2d(np.asarray(points, float))[:, :2]
        scale, centre = self.view.pixels_per_metre * FINE, self.view.camera.position[:2]
        grid = np.array(self.view.grid)
        return (points - centre) * [scale, -scale] + grid / 2

    def line(self, points, colour, width=1.0):
        """Draw a line through world points; the width is in pixels of the drawing."""
        self.pen.line([tuple(p) for p in self.at(points)], fill=colour, width=round(width * FINE),
                      joint="curve")

    def area(self, points, colour):
        """Fill a polygon of world points."""
        self.pen.polygon([tuple(p) for p in self.at(points)], fill=colour)

    def spot(self, point, radius, fill, outline=OUTLINE):
        """Draw a disc of a radius in pixels of the drawing about a world point."""
        (x, y), r = self.at(point)[0], radius * FINE
        self.pen.ellipse([x - r, y - r, x + r, y + r], fill=fill, outline=outline, width=FINE)

    def walls(self) -> None:
        """Draw the room's walls as cut, with their openings."""
        thin = 1.5 / self.view.pixels_per_metre
        bands = {}
        for mesh in self.stage.meshes:
            if mesh.name in WALLS:
                low, high = mesh.vertices.min(axis=0)[:2], mesh.vertices.max(axis=0)[:2]
                grow = np.where(high - low < 2 * thin, thin, 0)
                bands[mesh.name] = low - grow, high + grow
        for low, high in bands.values():
            self.area(_rectangle(low, high), CUT_WALL)
        panes = {pane.name for pane in self.stage.panes}
        for guide in self.stage.guides:
            if guide.opening:
                self._opening(guide, bands.values(), guide.name in panes)

    def _opening(self, guide, bands, glazed):
        u, v = np.asarray(guide.half_u, float), np.asarray(guide.half_v, float)
        normal = np.cross(u, v)
        corners = [np.asarray(guide.centre) + a * u + b * v for a, b in
                   ((-1, -1), (1, -1), (1, 1), (-1, 1), (-1, -1))]
        if abs(normal[2]) > 0.5 * np.linalg.norm(normal):
            self.line(corners, (*OUTLINE, 110), 0.75)
            return
        along = u if np.hypot(*u[:2]) > np.hypot(*v[:2]) else v
        half = np.abs(along[:2])
        centre = np.asarray(guide.centre, float)[:2]
        for low, high in bands:
            near = np.all(centre > low - 0.02) and np.all(centre < high + 0.02)
            across = 0 if high[0] - low[0] < high[1] - low[1] else 1
            if not near or half[across] > half[1 - across]:
                continue
            start, end = centre - half, centre + half
            start[across], end[across] = low[across], high[across]
            self.area(_rectangle(start, end), NOTHING)
            levels = (low[across], high[across])
            if glazed:
                levels = (*levels, (low[across] + high[across]) / 2)
            for level in levels:
                ends = np.stack([start, end])
                ends[:, across] = level
                self.line(ends, OUTLINE, 0.75)

    def field(self, camera: Camera) -> None:
        """Draw what a camera sees as a thin wedge, up to the walls it stands between."""
        edges = field_edges(camera)
        low, high = self._bounds(camera)
        if edges is not None:
            reach = 3 * float(np.linalg.norm(high - low)) + 1
            origin = np.asarray(camera.position, float)[:2]
            wedge = [origin, origin + edges[0] * reach, origin + edges[1] * reach]
            shape = clipped(np.array(wedge), low, high)
            if len(shape) > 2:
                self.area(shape, (*CAMERA, 26))
                for edge in edges:
                    self.line([origin, origin + edge * exit_distance(origin, edge, low, high)],
                              (*CAMERA, 170), 0.75)

    def _bounds(self, camera):
        """Return the rectangle that a camera's field is drawn in: its room, or the drawing."""
        position = np.asarray(camera.position, float)[:2]
        walls = {m.name.split()[0]: m.vertices for m in self.stage.meshes if m.name in WALLS}
        if len(walls) == len(WALLS):
            low = np.array([walls["west"][:, 0].max(), walls["south"][:, 1].max()])
            high = np.array([walls["east"][:, 0].min(), walls["north"][:, 1].min()])
            if np.all(position > low) and np.all(position < high):
                return low, high
        half = np.array(self.view.grid) / 2 / FINE / self.view.pixels_per_metre
        centre = self.view.camera.position[:2]
        return centre - half, centre + half

    def camera(self, camera: Camera) -> None:
        """Draw where a camera stands: a dot with a short line along its axis."""
        ahead = camera.world_from_camera[:, 2] * 16 / self.view.pixels_per_metre
        self.line([camera.position, camera.position + ahead], CAMERA, 2.5)
        self.spot(camera.position, 5, CAMERA)

    def lamps(self, seen: set[str]) -> None:
        """Draw where each lamp is aimed, and a ring where one is hidden under something."""
        for emitter in self.stage.emitters:
            centre = np.asarray(emitter.vertices).mean(axis=0)
            if emitter.flat:
                axis = np.asarray(emitter.world_from_light, float)[:, 2]
                self.line([centre, centre + axis * AIM], OUTLINE, 1.25)
            if emitter.name not in seen:
                self.spot(centre, 4, ROLE_COLOURS["lamp"])

    def sheets(self) -> None:
        """Draw boards, frames and flags, which are too thin to be seen from above."""
        for mesh in self.stage.meshes:
            if mesh.role in ("board", "frame", "flag"):
                points = mesh.vertices[:, :2]
                order = np.argsort(np.arctan2(*(points - points.mean(axis=0)).T[::-1]))
                self.area(points[order], (*ROLE_COLOURS[mesh.role], 190))
                long = points - points.mean(axis=0)
                _, _, axes = np.linalg.svd(long, full_matrices=False)
                ends = points[[np.argmin(long @ axes[0]), np.argmax(long @ axes[0])]]
                self.line(np.concatenate([points[order], points[order][:1]]), OUTLINE, 1)
                self.line(ends, OUTLINE, 3)
                self.line(ends, ROLE_COLOURS[mesh.role], 1.5)

    def facings(self) -> None:
        """Draw where each figure faces."""
        figures = {mesh.name for mesh in self.stage.meshes if mesh.role == "figure"}
        for probe in self.stage.probes:
            name, _, part = probe.name.partition(": ")
            if name in figures and part == "face, dome":
                self.line([probe.position, probe.position + probe.normal * FACING], OUTLINE, 1.25)


def _rectangle(low, high):
    return [(low[0], low[1]), (high[0], low[1]), (high[0], high[1]), (low[0], high[1])]


def field_edges(camera: Camera) -> np.ndarray | None:
    """Return the level directions that bound what a camera sees, from above.

    Returns
    -------
    float array, shape (2, 2), or None
        Unit vectors, the right one first; None where it points so steeply that there are none.
    """
    right, up, ahead = np.asarray(camera.world_from_camera, float).T
    across, upwards = camera.tan_half
    corners = [ahead + a * across * right + b * upwards * up for a in (-1, 1) for b in (-1, 1)]
    middles = [ahead + a * across * right for a in (-1, 1)]
    middles += [ahead + b * upwards * up for b in (-1, 1)]
    level = np.array([ahead, *corners, *middles])[:, :2]
    if abs(ahead[2]) > STEEP or np.any(level @ level[0] <= 0.05 * np.linalg.norm(level[0])):
        return None
    forward = level[0] / np.linalg.norm(level[0])
    side = np.array([forward[1], -forward[0]])
    slopes = (level @ side) / (level @ forward)
    edges = np.array([forward + slopes.max() * side, forward + slopes.min() * side])
    return edges / np.linalg.norm(edges, axis=1, keepdims=True)


def exit_distance(origin, direction, low, high) -> float:
    """Return how far a ray from inside a rectangle goes before it leaves it. [m]"""
    with np.errstate(divide="ignore", invalid="ignore"):
        ahead = np.where(direction > 0, high - origin, low - origin) / direction
    ahead = ahead[np.isfinite(ahead)]
    return float(ahead.min()) if len(ahead) else 0.0


def clipped(polygon: np.ndarray, low, high) -> np.ndarray:
    """Return the part of a convex polygon inside a rectangle; empty where there is none.

    Source
    ------
    Sutherland and Hodgman, Reentrant polygon clipping (1974).
    """
    points = list(polygon)
    for axis in (0, 1):
        for bound, sign in ((low[axis], 1), (high[axis], -1)):
            kept = []
            for a, b in zip(points, points[1:] + points[:1], strict=True):
                inside_a, inside_b = sign * (a[axis] - bound), sign * (b[axis] - bound)
                if inside_a >= 0:
                    kept.append(a)
                if inside_a * inside_b < 0:
                    kept.append(a + (b - a) * inside_a / (inside_a - inside_b))
            points = kept
    return np.array(points)
