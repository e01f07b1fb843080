"""Plain solids: closed, the right size, the right side out."""

import numpy as np
import pytest

from previz.stage import shapes


def signed_volume(body):
    """Volume by the divergence theorem; positive where faces point outwards."""
    corners = np.asarray(body[0], float)[body[1]]
    return np.einsum("ij,ij->", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])) / 6


def area(body):
    corners = np.asarray(body[0], float)[body[1]]
    return 0.5 * np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0],
                                         corners[:, 2] - corners[:, 0]), axis=1).sum()


def loose_edges(body):
    """Edges that are not run through once in each direction: none in a closed, consistent body."""
    # Corners that lie together count as one: boxes of one piece share none between their faces.
    _, same = np.unique(np.round(body[0], 9), axis=0, return_inverse=True)
    faces = same.ravel()[body[1]]
    runs = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    forth = {tuple(run) for run in runs}
    assert len(forth) == len(runs), "an edge is run through twice in one direction"
    return [run for run in forth if run[::-1] not in forth]


SOLIDS = {
    # name: body, volume, area (elementary geometry)
    "box": (shapes.box((1, 2, 3), (2, 4, 6)), 6.0, 2 * (2 + 3 + 6)),
    # A regular 48-gon of circumradius r has the area 24 r² sin(2 pi / 48).
    "cylinder": (shapes.frustum(0.5, 0.5, 2.0), 2 * 24 * 0.25 * np.sin(np.pi / 24), None),
    # Prismatoid: h (A + a + sqrt(A a)) / 3 with areas of similar 48-gons.
    "frustum": (shapes.frustum(0.6, 0.3, 1.0),
                24 * np.sin(np.pi / 24) * (0.36 + 0.09 + 0.18) / 3, None),
    "ball": (shapes.ball(0.7), None, 4 * np.pi * 0.49),
    "small ball": (shapes.ball(0.02, subdivisions=1), None, 4 * np.pi * 0.0004),
}


@pytest.mark.parametrize("name", SOLIDS)
def test_solids_are_closed_and_face_outwards(name):
    """Every edge is shared by two faces, and the volume is the textbook one."""
    body, volume, surface = SOLIDS[name]
    assert loose_edges(body) == []
    assert signed_volume(body) > 0
    if volume is not None:
        assert signed_volume(body) == pytest.approx(volume)
    if surface is not None:
        assert area(body) == pytest.approx(surface)


def test_balls_come_close_to_a_ball():
    """A ball of the exact area has the radius to 2 % at every corner, less when finer."""
    for subdivisions, off in ((1, 0.05), (2, 0.02), (4, 0.002)):
        vertices, _ = shapes.ball(1.0, subdivisions=subdivisions)
        np.testing.assert_allclose(np.linalg.norm(vertices, axis=1), 1, atol=off)


def test_a_disc_has_the_area_of_its_circle():
    """Lamps give the lumens of the circle, however few sides are drawn."""
    for sides in (12, 48):
        body = shapes.disc(0.3, sides=sides)
        assert area(body) == pytest.approx(np.pi * 0.09)
        corners = body[0][body[1]]
        normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        assert np.all(normal[:, 2] > 0)
        np.testing.assert_allclose(normal[:, :2], 0)


def test_a_rectangle_faces_its_first_edge_cross_its_second():
    """The face points along half_u × half_v and has four times their area."""
    vertices, faces = shapes.rectangle((1, 2, 3), (0.5, 0, 0), (0, 0, 0.25))
    normal = np.cross(vertices[faces[0][1]] - vertices[faces[0][0]],
                      vertices[faces[0][2]] - vertices[faces[0][0]])
    np.testing.assert_allclose(normal / np.linalg.norm(normal), [0, -1, 0])
    assert area((vertices, faces)) == pytest.approx(0.5)
    np.testing.assert_allclose(vertices.mean(axis=0), [1, 2, 3])


def test_normals_of_a_shade_are_square_to_it():
    """Smooth normals point out of the cone, square to its slope."""
    bottom, top, height = 0.15, 0.09, 0.22
    vertices, _ = shapes.frustum(bottom, top, height, closed=False)
    normals = shapes.frustum_normals(bottom, top, height)
    slopes = vertices[48:] - vertices[:48]
    np.testing.assert_allclose(np.einsum("ij,ij->i", slopes, normals[:48]), 0, atol=1e-12)
    np.testing.assert_allclose(np.linalg.norm(normals, axis=1), 1)
    assert np.all(np.einsum("ij,ij->i", normals[:48, :2], vertices[:48, :2]) > 0)


@pytest.mark.parametrize("direction", [(1, 0, 0), (0.3, -2, 1), (0, 0, 1), (0, 0, -3), (-1, 1, 5)])
def test_aimed_axes(direction):
    """Z points along the direction, x is level, the set is right-handed; a roll turns x to y."""
    axes = shapes.aimed(direction)
    np.testing.assert_allclose(axes.T @ axes, np.eye(3), atol=1e-12)
    assert np.linalg.det(axes) == pytest.approx(1)
    np.testing.assert_allclose(axes[:, 2], np.asarray(direction) / np.linalg.norm(direction))
    assert axes[2, 0] == pytest.approx(0)
    if abs(axes[2, 2]) < 0.9999:
        assert axes[2, 1] > 0
        # Seen along the direction with the head up, x is on the left.
        right = np.cross(axes[:, 2], [0, 0, 1])
        assert axes[:, 0] @ right < 0
    rolled = shapes.aimed(direction, np.pi / 2)
    np.testing.assert_allclose(rolled[:, 0], axes[:, 1], atol=1e-12)


def test_a_direction_needs_a_length():
    """An aim at one's own place is refused."""
    with pytest.raises(ValueError, match="must have a length"):
        shapes.aimed((0, 0, 0))


def test_turning_is_counter_clockwise_from_above():
    """A quarter turn takes east to north."""
    np.testing.assert_allclose(shapes.turned(np.pi / 2) @ [1, 0, 0], [0, 1, 0], atol=1e-12)


def test_walls_round_openings():
    """The cells of a wall cover it once, without its openings."""
    holes = [(0.5, 1.5, 0.9, 2.0), (2.0, 2.8, 0.0, 2.1)]
    cells = shapes.wall_cells(4.0, 2.6, holes)
    size = sum((u1 - u0) * (v1 - v0) for u0, u1, v0, v1 in cells)
    assert size == pytest.approx(4.0 * 2.6 - 1.0 * 1.1 - 0.8 * 2.1)
    rng = np.random.default_rng(1)
    for u, v in rng.uniform((0, 0), (4.0, 2.6), (400, 2)):
        inside = sum(u0 < u < u1 and v0 < v < v1 for u0, u1, v0, v1 in cells)
        open_here = any(u0 < u < u1 and v0 < v < v1 for u0, u1, v0, v1 in holes)
        assert inside == (0 if open_here else 1)


def test_joining_keeps_every_body():
    """Faces of the second body point to its own corners."""
    first, second = shapes.box((0, 0, 0), (1, 1, 1)), shapes.box((2, 0, 0), (3, 2, 1))
    assert signed_volume(shapes.join(first, second)) == pytest.approx(3)
    moved = shapes.place(first, shapes.turned(1.0), (5, 6, 7))
    assert signed_volume(moved) == pytest.approx(1)
    np.testing.assert_allclose(moved[0][0], [5, 6, 7])


def test_a_box_with_a_picture_shows_it_the_right_side_round():
    """On each upright side u runs to the viewer's right and v up; on top v runs north."""
    low, high = np.array([-1.0, -0.2, 0.0]), np.array([2.0, 0.3, 1.5])
    vertices, faces, uv = shapes.pictured_box(low, high)
    assert signed_volume((vertices, faces)) == pytest.approx(3.0 * 0.5 * 1.5)
    for side in range(6):
        corners, place = vertices[4 * side:4 * side + 4], uv[4 * side:4 * side + 4]
        right, up = corners[1] - corners[0], corners[3] - corners[0]
        out = np.cross(right, up)
        # Outwards, and its corners have the corners of the picture.
        assert (corners.mean(axis=0) - (low + high) / 2) @ out > 0
        np.testing.assert_array_equal(place, [[0, 0], [1, 0], [1, 1], [0, 1]])
        if abs(out[2]) < 1e-9:
            assert up[2] > 0
        else:
            assert up[1] > 0
