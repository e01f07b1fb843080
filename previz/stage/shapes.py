"""Plain solids as triangles: the pieces of a set, and the bodies and faces of lamps.

Every function returns (vertices (n, 3) [m], faces (m, 3)), faces counter-clockwise from outside.
"""

from __future__ import annotations

import numpy as np

Triangles = tuple[np.ndarray, np.ndarray]


def join(*parts: Triangles) -> Triangles:
    """Return several bodies as one."""
    vertices, faces, start = [], [], 0
    for v, f in parts:
        vertices.append(np.asarray(v, float))
        faces.append(np.asarray(f, int) + start)
        start += len(v)
    return np.concatenate(vertices), np.concatenate(faces)


def crosses(corners: np.ndarray) -> np.ndarray:
    """Return normals of triangles (n, 3, 3), each as long as twice its area, shape (n, 3). [m²]"""
    return np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])


def crossings(corners: np.ndarray, start, direction, *, edge: float = 0.0,
              least: float = 0.0) -> np.ndarray:
    """Return how far along a line it meets each triangle, NaN where it does not, shape (n,). [m]

    Parameters
    ----------
    corners : float array, shape (n, 3, 3)
        [m]
    start, direction : float array, shape (3,)
        The line; the direction of unit length. [m]
    edge : float
        How far past its edges a triangle counts, over their length. [1]
    least : float
        Twice the area that a triangle shows the line, under which it is never met. [m²]

    Source
    ------
    Möller and Trumbore 1997, "Fast, minimum storage ray/triangle intersection".
    """
    one, two = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    across = np.cross(direction, two)
    size = np.einsum("ij,ij->i", one, across)
    gap = start - corners[:, 0]
    turned = np.cross(gap, one)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        u = np.einsum("ij,ij->i", gap, across) / size
        v = turned @ direction / size
        distance = np.einsum("ij,ij->i", two, turned) / size
        met = (u >= -edge) & (v >= -edge) & (u + v <= 1 + edge) & (np.abs(size) >= least)
    return np.where(met, distance, np.nan)


def rectangle(centre, half_u, half_v) -> Triangles:
    """Return a rectangle that faces half_u × half_v."""
    centre, u, v = (np.asarray(x, float) for x in (centre, half_u, half_v))
    corners = np.array([centre - u - v, centre + u - v, centre + u + v, centre - u + v])
    return corners, np.array([[0, 1, 2], [0, 2, 3]])


RECTANGLE_UV = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], float)
"""Texture coordinates of a `rectangle`: u along its first edge, v along its second."""


def pictured_box(low, high) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return an upright box with texture coordinates, each side showing the whole picture.

    Seen from outside every upright side shows it upright and unmirrored; from above, with
    its top to the north.

    Parameters
    ----------
    low, high : float array, shape (3,)
        Two corners. [m]

    Returns
    -------
    vertices, faces, uv : array
        Shapes (24, 3), (12, 3) and (24, 2).
    """
    low, high = np.asarray(low, float), np.asarray(high, float)
    middle, half = (low + high) / 2, (high - low) / 2
    x, y, z = np.eye(3)
    sides = []
    for right, up in ((x, z), (y, z), (-x, z), (-y, z), (x, y), (-x, y)):
        out = np.cross(right, up)
        sides.append(rectangle(middle + out * half, right * half, up * half))
    return *join(*sides), np.tile(RECTANGLE_UV, (6, 1))


def box(low, high) -> Triangles:
    """Return an upright box between two corners."""
    low, high = np.asarray(low, float), np.asarray(high, float)
    corners = np.array([[x, y, z] for z in (low[2], high[2]) for y in (low[1], high[1])
                        for x in (low[0], high[0])])
    faces = [[0, 2, 3], [0, 3, 1], [4, 5, 7], [4, 7, 6], [0, 1, 5], [0, 5, 4],
             [2, 6, 7], [2, 7, 3], [0, 4, 6], [0, 6, 2], [1, 3, 7], [1, 7, 5]]
    return corners, np.array(faces)


def frustum(bottom: float, top: float, height: float, *, sides: int = 48,
            closed: bool = True) -> Triangles:
    """Return an upright round body from z=0 to `height`.

    Parameters
    ----------
    bottom, top : float
        Radii. [m]
    height : float
        [m]
    sides : int
    closed : bool
        With both end faces; a lamp shade has none.
    """
    turn = np.arange(sides) * 2 * np.pi / sides
    ring = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    low = np.column_stack([ring * bottom, np.zeros(sides)])
    high = np.column_stack([ring * top, np.full(sides, height)])
    i = np.arange(sides)
    j = (i + 1) % sides
    faces = [np.stack([i, j, j + sides], 1), np.stack([i, j + sides, i + sides], 1)]
    vertices = [low, high]
    if closed:
        vertices.append(np.array([[0, 0, 0], [0, 0, height]], float))
        faces += [np.stack([j, i, np.full(sides, 2 * sides)], 1),
                  np.stack([i + sides, j + sides, np.full(sides, 2 * sides + 1)], 1)]
    return np.concatenate(vertices), np.concatenate(faces)


def frustum_normals(bottom: float, top: float, height: float, sides: int = 48) -> np.ndarray:
    """Return the smooth normals of an open `frustum`."""
    turn = np.arange(sides) * 2 * np.pi / sides
    slope = (bottom - top) / height
    ring = np.column_stack([np.cos(turn), np.sin(turn), np.full(sides, slope)])
    ring /= np.linalg.norm(ring, axis=1, keepdims=True)
    return np.concatenate([ring, ring])


def disc(radius: float, *, sides: int = 48) -> Triangles:
    """Return a round face in the plane z=0 with its normal along +z, of exactly the area pi r²."""
    turn = np.arange(sides) * 2 * np.pi / sides
    # The polygon is drawn a little large, so that it has the circle's area.
    grown = radius * np.sqrt(2 * np.pi / (sides * np.sin(2 * np.pi / sides)))
    rim = np.column_stack([np.cos(turn) * grown, np.sin(turn) * grown, np.zeros(sides)])
    i = np.arange(sides)
    faces = np.stack([np.full(sides, sides), i, (i + 1) % sides], 1)
    return np.concatenate([rim, np.zeros((1, 3))]), faces


def ball(radius: float, *, subdivisions: int = 2) -> Triangles:
    """Return a ball about the origin with exactly the area 4 pi r².

    An icosahedron whose faces are split in four and pushed out; it is its own point reflection.
    """
    golden = (1 + 5**0.5) / 2
    points = [(s, t * golden, 0) for s in (-1, 1) for t in (-1, 1)]
    vertices = np.array(points + [(0, a, b) for a, b, _ in points]
                        + [(b, 0, a) for a, b, _ in points], float)
    vertices /= np.linalg.norm(vertices[0])
    near = 2 / np.sqrt(1 + golden**2) * 1.01
    close = np.linalg.norm(vertices[:, None] - vertices[None], axis=2) < near
    faces = [(i, j, k) for i in range(12) for j in range(i + 1, 12) for k in range(j + 1, 12)
             if close[i, j] and close[j, k] and close[i, k]]
    faces = np.array(faces)
    for _ in range(subdivisions):
        vertices, faces = _split(vertices, faces)
    corners = vertices[faces]
    double = crosses(corners)
    inward = np.einsum("ij,ij->i", double, corners.mean(axis=1)) < 0
    faces[inward] = faces[inward][:, ::-1]
    area = 0.5 * np.linalg.norm(double, axis=1).sum()
    return vertices * radius * np.sqrt(4 * np.pi / area), faces


def _split(vertices, faces):
    """Return every triangle in four, new corners pushed out to the unit sphere."""
    edges = np.sort(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), axis=1)
    unique, place = np.unique(edges, axis=0, return_inverse=True)
    middle = vertices[unique].mean(axis=1)
    middle /= np.linalg.norm(middle, axis=1, keepdims=True)
    ab, bc, ca = (place.ravel()[k * len(faces):(k + 1) * len(faces)] + len(vertices)
                  for k in range(3))
    a, b, c = faces.T
    pieces = [(a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca)]
    return (np.concatenate([vertices, middle]),
            np.concatenate([np.stack(piece, 1) for piece in pieces]))


def moved(body: Triangles, step) -> Triangles:
    """Return a body moved by a step. [m]"""
    vertices, faces = body
    return vertices + np.asarray(step, float), faces


def place(body: Triangles, axes: np.ndarray, origin) -> Triangles:
    """Return a body turned by world-from-local `axes` (3, 3) and moved to `origin`."""
    vertices, faces = body
    return vertices @ np.asarray(axes, float).T + np.asarray(origin, float), faces


def turned(angle: float) -> np.ndarray:
    """Return the matrix of a turn about z, counter-clockwise from above. [rad]"""
    c, s = np.cos(angle), np.sin(angle)
    return np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]])


def aimed(direction, roll: float = 0.0) -> np.ndarray:
    """Return world-from-local axes whose z column points along a direction.

    Parameters
    ----------
    direction : float array, shape (3,)
        Need not be of unit length.
    roll : float
        Turn about the direction. [rad]

    Returns
    -------
    float array, shape (3, 3)
        Columns: x level with the horizon, y upwards, z along `direction`, right-handed; looking
        along the direction, x points left.

    Raises
    ------
    ValueError
        The direction has no length.
    """
    z = np.asarray(direction, float)
    length = np.linalg.norm(z)
    if not length > 1e-9:
        raise ValueError("a direction must have a length")
    z = z / length
    up = np.array([0.0, 0.0, 1.0]) if abs(z[2]) < 0.9999 else np.array([0.0, 1.0, 0.0])
    x = np.cross(up, z)
    x /= np.linalg.norm(x)
    y = np.cross(z, x)
    c, s = np.cos(roll), np.sin(roll)
    return np.stack([x * c + y * s, y * c - x * s, z], axis=1)


def wall_cells(width: float, height: float, holes) -> list[tuple[float, float, float, float]]:
    """Return the rectangles (u0, u1, v0, v1) of a wall that its openings leave.

    Parameters
    ----------
    width, height : float
        The wall, from (0, 0). [m]
    holes : sequence of (u0, u1, v0, v1)
        Openings inside it. [m]
    """
    us = sorted({0.0, width, *(h[0] for h in holes), *(h[1] for h in holes)})
    vs = sorted({0.0, height, *(h[2] for h in holes), *(h[3] for h in holes)})
    cells = []
    for v0, v1 in zip(vs, vs[1:], strict=False):
        for u0, u1 in zip(us, us[1:], strict=False):
            u, v = (u0 + u1) / 2, (v0 + v1) / 2
            if not any(h[0] < u < h[1] and h[2] < v < h[3] for h in holes):
                cells.append((u0, u1, v0, v1))
    return cells
