"""Meshes of many triangles, simplified: near to what they were, in time, with their pictures and normals."""

import numpy as np
import pytest

from previz.physics.triangles import areas
from previz.stage import shapes
from previz.stage.mesh_files import FileMaterial, MeshPart
from previz.stage.mesh_parts import parts_of
from previz.stage.simplify import simplified

PICTURE = np.zeros((4, 4, 3), np.uint8)


def ball(**more):
    """A ball of 20 480 triangles about a point that is far from the origin."""
    vertices, faces = shapes.ball(1.0, subdivisions=5)
    return MeshPart(vertices + [40, 0, -7], faces, np.eye(4), **{"normals": None, "uv": None,
                                                               "material": FileMaterial("paint"), **more})


def test_a_ball_stays_a_ball():
    """A tenth of its triangles keep radius, volume (4/3 pi r^3), area (4 pi r^2), and that it is closed."""
    notes = []
    (made,) = simplified([ball()], 2000, notes)
    assert 1900 <= len(made.faces) <= 2000
    radii = np.linalg.norm(made.vertices - [40, 0, -7], axis=1)
    # What a face of edges e lies below a sphere is e²/6 of it: 0.0096 at twice their mean of 0.12.
    assert np.abs(radii - 1).max() < 0.01
    (part,) = parts_of(made.vertices, made.faces)
    assert part.closed and part.wound
    assert part.volume == pytest.approx(4 / 3 * np.pi, rel=0.01)
    assert areas(made.vertices[made.faces]).sum() == pytest.approx(4 * np.pi, rel=0.01)
    assert notes == [f"is simplified from 20480 to {len(made.faces)} triangles, as its piece says"]


def test_what_is_simple_enough_is_left_alone():
    parts, notes = [ball()], []
    assert simplified(parts, 20480, notes) is parts and notes == []


def test_normals_and_pictures_come_along():
    """A smooth ball keeps normals along its radii, and a picture laid along x stays where it was."""
    whole = ball()
    outward = whole.vertices - [40, 0, -7]
    uv = np.stack([outward[:, 0], outward[:, 2]], axis=1)
    painted = ball(normals=outward, uv=uv, material=FileMaterial("paint", picture=PICTURE))
    (made,) = simplified([painted], 2000, [])
    radii = made.vertices - [40, 0, -7]
    radii /= np.linalg.norm(radii, axis=1, keepdims=True)
    # The mean of what was joined: within the size of a triangle, 0.08 of the radius.
    assert np.abs(made.normals - radii).max() < 0.08
    np.testing.assert_allclose(np.linalg.norm(made.normals, axis=1), 1, atol=1e-6)
    assert np.abs(made.uv - radii[:, [0, 2]]).max() < 0.08


def test_parts_share_by_what_they_had_and_soups_are_joined():
    """A part of a few triangles keeps them; triangles that share no corner (STL) are one surface."""
    vertices, faces = ball().vertices, ball().faces
    soup = MeshPart(vertices[faces].reshape(-1, 3), np.arange(3 * len(faces)).reshape(-1, 3), np.eye(4),
                    None, None, FileMaterial())
    crate = MeshPart(*shapes.box((0, 0, 0), (1, 1, 1)), np.eye(4), None, None, FileMaterial())
    made, kept = simplified([soup, crate], 4000, [])
    assert len(made.faces) == pytest.approx(4000, rel=0.02) and kept is crate
    (part,) = parts_of(made.vertices, made.faces)
    assert part.closed


def test_the_same_each_time():
    """Renders are kept by what they are of."""
    first, again = (simplified([ball()], 1000, [])[0] for _ in range(2))
    np.testing.assert_array_equal(first.vertices, again.vertices)
    np.testing.assert_array_equal(first.faces, again.faces)
