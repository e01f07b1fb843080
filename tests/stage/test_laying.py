"""Patterns lie on things at their true size: texture coordinates in metres, level, and on round corners."""

import dataclasses

import numpy as np
import pytest

from previz.scene.piece import USUAL_SIZES
from previz.scene.surface import Surface
from previz.stage import laying, shapes
from previz.stage.pieces import _plain_mesh as piece_mesh
from previz.stage.records import Mesh
from previz.stage.surfaces import SurfaceRegistry

SCENE = """
room:
  size: [5 m, 4 m, 2.7 m]
  surfaces: {{floor: dark oak, walls: brick}}
  openings:
    - {{name: window, wall: north, along: 1.5 m, sill: 0.9 m, size: [1.4 m, 1.2 m]}}
pieces:
{pieces}
"""


@dataclasses.dataclass
class Written:
    """As much of a scene's piece as makes a mesh."""

    shape: str
    size: tuple
    turn: float = 0.0
    at: tuple = (1.0, 2.0, 0.0)
    name: str = "thing"
    surface: None = None


SOLIDS = ("box", "cylinder", "sphere", "panel", "partition")
"""Furniture brings coordinates of its own."""


def table(size, leg=0.06, top=0.035):
    """A table of five boxes, standing on z = 0 about the origin."""
    w, d, h = size
    x, y = w / 2 - leg, d / 2 - leg
    legs = [shapes.box((a, b, 0), (a + leg, b + leg, h - top))
            for a in (-w / 2, x) for b in (-d / 2, y)]
    return shapes.join(shapes.box((-w / 2, -d / 2, h - top), (w / 2, d / 2, h)), *legs)


REGISTRY = SurfaceRegistry()
BRICK = REGISTRY.surfaces[REGISTRY.of(Surface(name="brick"))]


def stretches(mesh):
    """How long each edge of each face is in uv over what it is in space."""
    one = mesh.vertices[mesh.faces[:, [1, 2, 0]]] - mesh.vertices[mesh.faces]
    two = mesh.uv[mesh.faces[:, [1, 2, 0]]] - mesh.uv[mesh.faces]
    return np.linalg.norm(two, axis=2) / np.linalg.norm(one, axis=2)


@pytest.mark.parametrize("along", [True, False])
@pytest.mark.parametrize("turn", [0.0, 33.0])
@pytest.mark.parametrize("shape", SOLIDS)
def test_every_shape_has_coordinates_in_metres(shape, turn, along):
    """On all faces of all shapes, turned or not, uv is as long as the thing is."""
    mesh = piece_mesh(Written(shape, USUAL_SIZES[shape] or (0.9, 0.6, 1.3), turn), "brick")
    made = laying.laid(mesh, BRICK, along)
    assert made.uv.shape == (len(made.vertices), 2)
    np.testing.assert_array_equal(made.vertices[made.faces], mesh.vertices[mesh.faces])
    if shape == "sphere":
        # Around the middle of an oval ball; about its poles u closes up.
        return
    got = stretches(made)
    if shape == "cylinder":
        flat = np.abs(laying._normals(made)[0][:, 2]) > 0.9
        assert got[flat] == pytest.approx(1.0)
        assert np.quantile(got[~flat], [0.02, 0.98]) == pytest.approx([1, 1], abs=0.25)
    else:
        assert got == pytest.approx(1.0)


def test_a_drum_and_a_ball_go_once_round():
    """Its u runs once round a drum of 2 pi r, v up its height; of a ball v is the way from the equator."""
    mesh = piece_mesh(Written("cylinder", (0.6, 0.6, 0.9)), "brick")
    made = laying.laid(mesh, BRICK, False)
    side = np.unique(made.faces[np.abs(laying._normals(made)[0][:, 2]) < 0.5])
    u, v = made.uv[side].T
    assert np.ptp(u) == pytest.approx(2 * np.pi * 0.3, rel=1e-6)
    assert (v.min(), v.max()) == (0.0, pytest.approx(0.9))
    assert np.allclose(stretches(made), 1.0, atol=2e-3)
    # No face goes back over the seam.
    around = made.faces[np.abs(laying._normals(made)[0][:, 2]) < 0.5]
    assert np.abs(np.diff(made.uv[around][..., 0], axis=1)).max() < 0.1
    ball = laying.laid(piece_mesh(Written("sphere", (0.5, 0.5, 0.5)), "brick"), BRICK, False)
    assert np.ptp(ball.uv[:, 1]) == pytest.approx(np.pi * 0.25, rel=0.02)
    assert np.abs(np.diff(ball.uv[ball.faces][..., 0], axis=1)).max() < np.pi * 0.25
    assert len(ball.normals) == len(ball.vertices)
    np.testing.assert_allclose(np.linalg.norm(ball.normals, axis=1), 1)


def test_grain_goes_along_the_longest_side_of_each_board():
    """A table's legs have theirs upright, its top along; u is where the part is longest."""
    size = USUAL_SIZES["table"]
    mesh = Mesh("thing", "pine", *shapes.place(table(size), shapes.turned(np.radians(20)), (1.0, 2.0, 0.0)))
    made = laying.laid(mesh, BRICK, True)
    # Five boxes of six sides of two faces; of each side, how far it reaches in u and v.
    reach = np.ptp(made.uv[made.faces].reshape(5, 6, 6, 2), axis=2)
    up = np.abs(laying._normals(mesh)[0].reshape(5, 6, 2, 3)[:, :, 0, 2]) > 0.5
    top, legs = reach[0], reach[1:]
    assert sorted(top[:, 0]) == pytest.approx([size[1]] * 2 + [size[0]] * 4)
    assert legs[~up[1:]] == pytest.approx(np.tile([size[2] - 0.035, 0.06], (16, 1)))
    assert legs[up[1:]] == pytest.approx(0.06)
    # Each is cut from wood of its own.
    starts = made.uv[made.faces].reshape(5, 36, 2).min(axis=1).round(6)
    assert len(np.unique(starts, axis=0)) == 5


def test_courses_are_level_and_meet_at_every_corner(stage_of):
    """In a room v is the height, and u goes on where two walls meet inside and round an opening."""
    stage = stage_of(SCENE.format(pieces="  []"))
    walls = [mesh for mesh in stage.meshes if mesh.name.endswith(" wall")]
    assert len(walls) == 4
    for wall in walls:
        upright = np.abs(laying._normals(wall)[0][:, 2]) < 0.5
        at = np.unique(wall.faces[upright])
        np.testing.assert_allclose(wall.uv[at, 1], wall.vertices[at, 2])
        assert stretches(wall) == pytest.approx(1.0)
    inside = {wall.name: dict(corners_inside(wall)) for wall in walls}
    met = 0
    for one, two in (("north wall", "east wall"), ("east wall", "south wall"), ("south wall", "west wall")):
        for place in set(inside[one]) & set(inside[two]):
            assert inside[one][place] == pytest.approx(inside[two][place])
            met += 1
    assert met >= 6
    # All cells of a wall round its window are one sheet.
    north = walls[0]
    facing = [(place, uv) for place, uv in corners_inside(north) if place[1] == 4.0]
    assert len(facing) > 12
    assert len({tuple((uv - np.array(place)[[0, 2]]).round(6)) for place, uv in facing}) == 1


def corners_inside(wall):
    """Yield place and uv of every corner of the inside faces of a wall."""
    for face, normal in zip(wall.faces, laying._normals(wall)[0], strict=True):
        if turned_in(normal, wall.vertices[face].mean(axis=0)):
            for k in face:
                yield tuple(wall.vertices[k].round(9)), wall.uv[k]


def turned_in(normal, place):
    """Whether a face of a room's wall is its inside: it turns to the middle and lies on the room's edge."""
    low, high = np.zeros(3), np.array([5.0, 4.0, 2.7])
    on_edge = np.any(np.isclose(place[:2], low[:2]) | np.isclose(place[:2], high[:2]))
    return on_edge and normal @ (place - (low + high) / 2) < 0 and abs(normal[2]) < 0.5


def test_courses_go_round_a_block_and_boards_along_a_floor(stage_of):
    """A turned block has level courses, unbroken round its corners; a floor's boards lie the long way."""
    stage = stage_of(SCENE.format(pieces="  - {name: pier, shape: box, at: [2 m, 2 m], "
                                            "size: [0.5 m, 0.7 m, 2 m], turn: 25 deg, surface: brick}"))
    pier = next(mesh for mesh in stage.meshes if mesh.name == "pier")
    upright = np.abs(laying._normals(pier)[0][:, 2]) < 0.5
    assert np.allclose(pier.uv[pier.faces[upright]][..., 1], pier.vertices[pier.faces[upright]][..., 2])
    u = np.unique(pier.uv[np.unique(pier.faces[upright])][:, 0].round(6))
    # Five edges, the first and the last of them the same: one way round of 2.4 m.
    assert np.diff(u) == pytest.approx([0.5, 0.7, 0.5, 0.7], abs=1e-5) or np.diff(u) == pytest.approx(
        [0.7, 0.5, 0.7, 0.5], abs=1e-5)
    floor = next(mesh for mesh in stage.meshes if mesh.name == "floor")
    top = floor.faces[laying._normals(floor)[0][:, 2] > 0.5]
    assert np.ptp(floor.uv[top], axis=(0, 1)) == pytest.approx([5.4, 4.4])


def test_things_show_pieces_of_their_own(stage_of):
    """Two blocks alike lie aside from each other on the tile, by their names alone."""
    pieces = "\n".join(f"  - {{name: {name}, shape: box, at: [{x} m, 2 m], size: [0.5 m, 0.5 m, 1 m], "
                       "surface: brick}" for name, x in (("one", 1), ("two", 3)))
    stage, again = (stage_of(SCENE.format(pieces=pieces)) for _ in range(2))
    one, two = ([mesh.uv for mesh in made.meshes if mesh.name in ("one", "two")] for made in (stage, again))
    assert not np.allclose(one[0], one[1]) and np.array_equal(one[0], two[0])


def test_slopes_of_roofs_are_not_shrunk():
    """A flat face that leans is laid in its own plane, its courses level."""
    lean = np.array([[1, 0, 0], [0, 0.8, -0.6], [0, 0.6, 0.8]])
    body = shapes.place(shapes.box((0, 0, 0), (2, 1, 0.02)), lean, (0, 0, 3))
    for along in (True, False):
        made = laying.laid(Mesh("roof", "brick", *body), BRICK, along)
        assert stretches(made) == pytest.approx(1.0)
    level = made.vertices[:, 2]
    top = made.faces[laying._normals(made)[0] @ [0, -0.6, 0.8] > 0.99]
    v, z = made.uv[top][..., 1].ravel(), level[top].ravel()
    assert np.polyfit(z, v, 1)[0] == pytest.approx(1 / 0.6, rel=1e-6)


def test_what_has_coordinates_or_needs_none_stays_as_it_is():
    """Own uv, and surfaces that are the same all over."""
    mesh = piece_mesh(Written("box", (1.0, 1.0, 1.0)), "brick")
    own = dataclasses.replace(mesh, uv=np.zeros((8, 2)))
    assert laying.laid(own, BRICK, False) is own
    plain = dataclasses.replace(BRICK, pattern=None, relief=None)
    assert laying.laid(mesh, plain, False) is mesh
    assert laying.laid(mesh, dataclasses.replace(plain, across=0.4), True).uv is not None
