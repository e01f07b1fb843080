"""How patterns lie on things: texture coordinates in metres, so that boards and bricks have their true size.

A face is projected along its own normal, in the axes of the thing as it is turned. What has courses stands
upright: v goes up, measured from the floor, and u runs to the right as the face is looked at, on round the
corners. What has a grain goes along the longest side of each board. Walls, floor and ceiling of a room are laid
together, so that bricks meet at corners and openings. Different things show different pieces of a tile.
"""

from __future__ import annotations

import dataclasses

import numpy as np

from previz.stage.patterns.noise import lot
from previz.stage.records import Mesh, Surface

LEVEL = 0.72
"""Vertical part of a face's normal from which it lies: a little over that of a slope of 45°. [1]"""

STRAIGHT = 0.35
"""How far upright faces keep to two directions, from which a thing is taken to have a turn: 1 of a box. [1]"""

STRAIGHT_ON = 0.9999
"""Least part of a face's normal along an axis for it to lie square to that. [1]"""

MANY = 12
"""Corners that a round body has more of. [1]"""

SLACK = 0.02
"""How far corners of a round body lie off its shape, over its radius. [1]"""

ASIDE = 7.0
"""Within how much different things lie aside from each other on the tile. [m]"""

UP = np.array([0.0, 0.0, 1.0])


def needs_uv(surface: Surface) -> bool:
    """Return whether a surface changes over the coordinates of its mesh."""
    places = surface.pattern, surface.relief, surface.across, surface.texture_size
    return any(each is not None for each in places)


def laid(mesh: Mesh, surface: Surface, along: bool) -> Mesh:
    """Return a mesh with texture coordinates in metres, where its surface needs any and it has none.

    Vertices whose faces lie in different projections are split; smooth normals stay.

    Parameters
    ----------
    mesh : Mesh
    surface : Surface
        The mesh's own.
    along : bool
        Whether its pattern runs along the longest side of each connected part.
    """
    if mesh.uv is not None or not needs_uv(surface) or not len(mesh.faces):
        return mesh
    turn = _turn(mesh)
    local = dataclasses.replace(mesh, vertices=mesh.vertices @ turn)
    round_body = _round(local, along)
    if round_body is not None:
        uv, chart = round_body
    elif along:
        uv, chart = _along(local)
    else:
        low, high = local.vertices.min(axis=0), local.vertices.max(axis=0)
        chart, uv = _upright(local, (low + high) / 2, (high - low) / 2, False)
        uv = uv + _aside(mesh.name, np.zeros(len(chart), int), chart == 4)
    return _split(mesh, uv, chart)


def laid_room(mesh: Mesh, surface: Surface, size) -> Mesh:
    """Return a wall, floor or ceiling with texture coordinates that go on from one wall to the next.

    `size` is the room's inside: across, deep, high. [m]
    """
    if mesh.uv is not None or not needs_uv(surface):
        return mesh
    half = np.array([size[0] / 2, size[1] / 2, 0.0])
    chart, uv = _upright(mesh, half, half, True)
    return _split(mesh, uv, chart)


def _normals(mesh: Mesh) -> tuple[np.ndarray, np.ndarray]:
    """Return unit normals and areas of the faces, shapes (n, 3) and (n,). [m²]"""
    one, two, three = (mesh.vertices[mesh.faces[:, k]] for k in range(3))
    across = np.cross(two - one, three - one)
    long = np.linalg.norm(across, axis=1)
    return across / np.maximum(long, 1e-30)[:, None], long / 2


def _turn(mesh: Mesh) -> np.ndarray:
    """Return the thing's own axes in the world, as columns: as most of its upright faces stand."""
    normals, areas = _normals(mesh)
    weight = areas * np.hypot(normals[:, 0], normals[:, 1]) ** 2
    total = weight.sum()
    if total > 1e-3 * areas.sum():
        fourth = np.sum(weight * np.exp(4j * np.arctan2(normals[:, 1], normals[:, 0]))) / total
        angle = float(np.angle(fourth)) / 4 if abs(fourth) > STRAIGHT else 0.0
    else:
        edge = mesh.vertices[mesh.faces[0, 1]] - mesh.vertices[mesh.faces[0, 0]]
        angle = float(np.arctan2(edge[1], edge[0]))
    if abs(angle) < 1e-6:
        return np.eye(3)
    c, s = np.cos(angle), np.sin(angle)
    return np.array([[c, -s, 0], [s, c, 0], [0, 0, 1.0]])


def _slanting(mesh: Mesh, normals: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return which flat faces turn to none of the axes, and a number for each of their planes' directions."""
    aside = np.abs(normals).max(axis=1) < STRAIGHT_ON
    if mesh.normals is not None:
        aside = np.zeros_like(aside)  # Of a smooth body neighbours are to agree: by the axes.
    steps = np.rint(normals[aside] * 400).astype(np.int64) + 512
    return aside, np.unique(steps @ [1, 2048, 2048 * 2048], return_inverse=True)[1]


def _upright(mesh: Mesh, middle, half, inside: bool):
    """Return (chart of each face, uv of its corners, shape (n, 3, 2)), upright faces with v up.

    Charts 0 to 3 face south, east, north and west, 4 lie; above are slopes. u runs round the walls: seen from
    outside counter-clockwise from above; from inside (where `inside` and a face turns to the middle) clockwise.
    """
    normals = _normals(mesh)[0]
    side = np.where(np.abs(normals[:, 0]) > np.abs(normals[:, 1]), np.where(normals[:, 0] > 0, 1, 3),
                    np.where(normals[:, 1] > 0, 2, 0))
    chart = np.where(np.abs(normals[:, 2]) > LEVEL, 4, side)
    corners = mesh.vertices[mesh.faces]
    offset = corners - middle
    x, y = offset[..., 0], offset[..., 1]
    a, b = half[0], half[1]
    inward = inside & (np.einsum("ij,ij->i", offset.mean(axis=1)[:, :2], normals[:, :2]) < 0)
    # How many sides come before a face: from outside those that face south, east, north, west; from inside
    # the walls that face so, the north wall first.
    order = np.where(inward, np.array([0, 3, 2, 1, 0])[chart], chart % 4)
    long, wide = (y, -x) if b > a else (x, y)
    run = np.stack([x, y, -x, -y, long])[chart, np.arange(len(chart))] + (order * (a + b))[:, None]
    height = np.where((chart == 4)[:, None], wide, corners[..., 2])
    uv = np.stack([run, height], axis=-1)
    aside, number = _slanting(mesh, normals)
    if np.any(aside):
        facing = normals[aside]
        level = np.cross(UP, facing)
        level /= np.linalg.norm(level, axis=1, keepdims=True)
        rising = np.cross(facing, level)
        # From where the slope meets the floor's level, so that courses are as on what stands upright.
        base = corners[aside]
        uv[aside] = np.stack([np.einsum("nkj,nj->nk", base - middle, level),
                              np.einsum("nkj,nj->nk", base, rising)], axis=-1)
        chart[aside] = 5 + number
    return chart, uv


def _along(mesh: Mesh):
    """Return (uv, chart) of a mesh whose connected parts each have u along their longest side."""
    normals = _normals(mesh)[0]
    part = _parts(len(mesh.vertices), mesh.faces)
    count = part.max() + 1
    low, high = np.full((count, 3), np.inf), np.full((count, 3), -np.inf)
    for axis in range(3):
        np.minimum.at(low[:, axis], part, mesh.vertices[:, axis])
        np.maximum.at(high[:, axis], part, mesh.vertices[:, axis])
    of_face = part[mesh.faces[:, 0]]
    across = np.argmax(np.abs(normals), axis=1)
    # Where two sides are alike the first of x, y, z is the longer.
    wide = ((high - low) + np.array([2e-6, 1e-6, 0.0]))[of_face]
    each = np.arange(len(across))
    wide[each, across] = -1
    first = np.argmax(wide, axis=1)
    second = 3 - first - across
    corners = mesh.vertices[mesh.faces] - ((low + high) / 2)[of_face][:, None]
    uv = np.stack([corners[each, :, first], corners[each, :, second]], axis=-1)
    chart = of_face * 3 + across
    aside, number = _slanting(mesh, normals)
    if np.any(aside):
        facing, axis = normals[aside], np.eye(3)[first[aside]]
        run = axis - facing * np.einsum("ij,ij->i", axis, facing)[:, None]
        run /= np.maximum(np.linalg.norm(run, axis=1, keepdims=True), 1e-12)
        up = np.cross(facing, run)
        uv[aside] = np.stack([np.einsum("nkj,nj->nk", corners[aside], run),
                              np.einsum("nkj,nj->nk", corners[aside], up)], axis=-1)
        chart[aside] = 3 * count + number * count + of_face[aside]
    return uv + _aside(mesh.name, of_face, np.ones(len(across), bool)), chart


def _parts(count: int, faces: np.ndarray) -> np.ndarray:
    """Return the number of the connected part that each vertex belongs to, from 0."""
    label = np.arange(count)
    while True:
        least = label[faces].min(axis=1)
        lower = label.copy()
        for k in range(3):
            np.minimum.at(lower, faces[:, k], least)
        lower = lower[lower]
        if np.array_equal(lower, label):
            return np.unique(label, return_inverse=True)[1]
        label = lower


def _round(mesh: Mesh, along: bool):
    """Return (uv, chart) of an upright drum or a ball, and None for what is neither.

    u goes around the axis and v up; the other way where a grain goes up a drum taller than wide.
    """
    low, high = mesh.vertices.min(axis=0), mesh.vertices.max(axis=0)
    middle, half = (low + high) / 2, np.maximum((high - low) / 2, 1e-9)
    scaled = (mesh.vertices - middle) / half
    level = np.hypot(scaled[:, 0], scaled[:, 1])
    ball = len(scaled) > MANY and bool(np.all(np.abs(np.hypot(level, scaled[:, 2]) - 1) < SLACK))
    drum = len(scaled) > MANY and bool(np.all((np.abs(level - 1) < SLACK) | (level < SLACK)))
    if not ball and not drum:
        return None
    normals, corners = _normals(mesh)[0], scaled[mesh.faces]
    turn = np.arctan2(corners[..., 1], corners[..., 0])
    centre = np.arctan2(corners.mean(axis=1)[:, 1], corners.mean(axis=1)[:, 0])[:, None]
    # On the axis there is no direction: that of the face's middle. Beyond the seam a face goes on.
    turn = np.where(level[mesh.faces] < 1e-6, centre, turn)
    turn = centre + (turn - centre + np.pi) % (2 * np.pi) - np.pi
    places = mesh.vertices[mesh.faces]
    rise = np.arctan2(corners[..., 2], level[mesh.faces]) * half[2] if ball else places[..., 2]
    uv = np.stack([turn * (half[0] + half[1]) / 2, rise], axis=-1)
    if along and drum and half[2] > max(half[:2]):
        uv = uv[..., ::-1].copy()
    chart = (turn.mean(axis=1) > 0).astype(int)
    if drum:
        ends = np.abs(normals[:, 2]) > LEVEL
        uv[ends] = (places - middle)[ends][..., :2]
        chart[ends] = np.where(normals[ends, 2] > 0, 2, 3)
    return uv + _aside(mesh.name, np.zeros(len(chart), int), np.full(len(chart), along)), chart


def _aside(name: str, part: np.ndarray, both: np.ndarray) -> np.ndarray:
    """Return how far parts of a thing lie aside on the tile, shape (n, 1, 2); upwards only where `both`. [m]"""
    key = sum((k + 1) * 131 * ord(letter) for k, letter in enumerate(name))
    right = lot(801, np.full(len(part), key), part) * ASIDE
    upward = lot(802, np.full(len(part), key), part) * ASIDE
    return np.stack([right, np.where(both, upward, 0.0)], axis=-1)[:, None]


def _split(mesh: Mesh, uv: np.ndarray, chart: np.ndarray) -> Mesh:
    """Return a mesh with a vertex for each that its faces have in different charts.

    Parameters
    ----------
    mesh : Mesh
    uv : float array, shape (faces, 3, 2)
        Of each corner of each face. [m]
    chart : int array, shape (faces,)
        Faces of one chart agree about the uv of their common vertices.
    """
    key = (mesh.faces.astype(np.int64) * (int(chart.max()) + 1) + chart[:, None]).ravel()
    _, first, place = np.unique(key, return_index=True, return_inverse=True)
    source = mesh.faces.ravel()[first]
    return dataclasses.replace(
        mesh, vertices=mesh.vertices[source], faces=place.reshape(-1, 3).astype(mesh.faces.dtype),
        normals=None if mesh.normals is None else mesh.normals[source], uv=uv.reshape(-1, 2)[first])
