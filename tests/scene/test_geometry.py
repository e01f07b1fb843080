"""Where things stand: walls, openings and solid pieces."""

import pytest

from previz.scene.geometry import is_inside, wall_around
from previz.scene.piece import Piece
from previz.scene.room import Opening, Room

WINDOW = Opening(name="window", wall="west", along=1.0, sill=0.9, size=(1.5, 1.2))
ROOFLIGHT = Opening(name="light", wall="ceiling", along=2.0, sill=1.0, size=(1.0, 1.0))
ROOM = Room(size=(5.0, 4.0, 3.0), wall_thickness=0.2, openings=(WINDOW, ROOFLIGHT))
SET = Room(size=(5.0, 4.0, 3.0), wall_thickness=0.2, ceiling=False)


@pytest.mark.parametrize(
    ("point", "part"),
    [
        ((2.5, 2.0, 1.5), None),
        ((0.0, 2.0, 1.5), None),  # on the face of the wall
        ((2.5, 2.0, 3.0), None),  # on the face of the ceiling
        ((-0.1, 3.0, 1.5), "the west wall"),
        ((5.1, 3.0, 1.5), "the east wall"),
        ((2.5, -0.1, 1.5), "the south wall"),
        ((2.5, 4.1, 1.5), "the north wall"),
        ((2.5, 2.0, -0.1), "the floor"),
        ((4.5, 2.0, 3.1), "the ceiling"),
        ((-0.1, 4.1, 1.5), "the corner of the west and north walls"),
        ((-0.1, 2.0, 1.5), None),  # in the window
        ((-0.1, 2.0, 0.8), "the west wall"),  # below its sill
        ((2.5, 1.5, 3.1), None),  # in the rooflight
        ((-0.2, 3.0, 1.5), None),  # on the outer face
        ((-0.5, 3.0, 1.5), None),
        ((2.5, 2.0, 3.5), None),
        ((2.5, 2.0, -0.5), None),
    ],
)
def test_walls_have_a_thickness(point, part):
    """A point is in a part of the room only between its two faces and outside its openings."""
    assert wall_around(ROOM, point) == part


def test_an_open_set_has_nothing_above():
    """Over a set without a ceiling, and over its walls, there is air."""
    assert wall_around(SET, (2.5, 2.0, 3.1)) is None
    assert wall_around(SET, (-0.1, 2.0, 3.1)) is None
    assert wall_around(SET, (-0.1, 2.0, 2.9)) == "the west wall"


def solid(shape, turn=0.0):
    return Piece(name="crate", shape=shape, at=(1.0, 1.0, 0.0), size=(2.0, 0.4, 1.0), turn=turn)


@pytest.mark.parametrize(
    ("piece", "point", "inside"),
    [
        (solid("box"), (1.9, 1.0, 0.5), True),
        (solid("box"), (1.9, 1.0, 1.1), False),
        (solid("box"), (1.0, 1.3, 0.5), False),
        (solid("box"), (2.0, 1.0, 0.5), False),  # on its face
        # Turned by a right angle its long side runs north.
        (solid("box", 90.0), (1.9, 1.0, 0.5), False),
        (solid("box", 90.0), (1.0, 1.9, 0.5), True),
        # Counter-clockwise from above: at 45° the long side runs north-east.
        (solid("box", 45.0), (1.6, 1.6, 0.5), True),
        (solid("box", 45.0), (1.6, 0.4, 0.5), False),
        # In the corner of its box, outside the ellipse.
        (solid("cylinder"), (1.9, 1.15, 0.5), False),
        (solid("cylinder"), (1.5, 1.1, 0.5), True),
        (solid("sphere"), (1.0, 1.0, 0.5), True),
        (solid("sphere"), (1.9, 1.0, 0.8), False),
        (solid("table"), (1.0, 1.0, 0.5), False),  # there is air under a table
    ],
)
def test_inside_of_solid_pieces(piece, point, inside):
    """A box, cylinder or sphere is solid, in its own turned axes, from `at` upwards."""
    assert is_inside(piece, point) is inside


def test_an_opening_may_fill_its_wall(load_text):
    """An opening that ends where the wall ends fits, and two may touch."""
    scene = load_text(
        "previz: 1\nroom:\n  size: [5 m, 4 m, 3 m]\n  openings:\n"
        "    - {name: a, wall: west, along: 0 m, sill: 0 m, size: [1.7 m, 3 m]}\n"
        "    - {name: b, wall: west, along: 1.7 m, sill: 0 m, size: [2.3 m, 3 m]}\n"
    ).scene()
    assert len(scene.room.openings) == 2


def test_a_camera_may_stand_outside(load_text):
    """A camera beyond the wall, or in an opening, is allowed."""
    for at in ("[-0.5 m, 1.5 m, 1.5 m]", "[-0.1 m, 1.5 m, 1.5 m]"):
        scene = load_text(
            "previz: 1\nroom:\n  size: [5 m, 4 m, 3 m]\n  openings:\n"
            "    - {name: a, wall: west, along: 1 m, sill: 1 m, size: [1 m, 1 m]}\n"
            f"cameras: [{{name: A, at: {at}, aim: [2 m, 2 m, 1 m], lens: 35 mm, stop: 2, "
            "iso: 800}]\n"
        ).scene()
        assert scene.cameras[0].at[0] < 0
