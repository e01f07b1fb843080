"""What of the rig stands in a camera's frame, by a picture made by arithmetic."""

import numpy as np
import pytest

from previz.exposure.comparing.coverage import HIDDEN, IN_FRAME, NEAR_EDGE
from previz.frames import Frames
from previz.sight.coverage import coverage
from previz.sight.eyes import corneas
from previz.sight.rig_bodies import _under
from previz.stage import shapes
from previz.stage.records import Camera, Emitter, Mesh, Rig, Stage, Surface

ROWS, COLUMNS = 36, 64
ONES = np.ones(81)
ROLES = np.array([[1.0, 0, 0], [0, 0, 1], [0, 1, 0]])
"""Columns right, up and ahead of a camera that looks to the north."""


def camera(name, at, axes=ROLES):
    return Camera(name, axes, np.asarray(at, float), (0.5, 0.5 * ROWS / COLUMNS), COLUMNS / ROWS, 0.0, 1.0,
                  2.8, 800, 1 / 48, 0.0, 5600.0, 0.0, 0.035, (0.035, 0.02))


def stage_of(*names, cameras=()):
    face = shapes.rectangle((0, 50, 0), (0.1, 0, 0), (0, 0, 0.1))
    return Stage("yard", {}, (), tuple(None for _ in names), tuple(
        Emitter(k, name, *face, flat=True) for k, name in enumerate(names)), cameras=tuple(cameras),
        rig=tuple(Rig(name, "panel", np.array([0, 50.0, 0]), 1.0, False) for name in names))


def frames_of(names, index, depth=None):
    plane = np.zeros((ROWS, COLUMNS), np.float32)
    return Frames(np.zeros((0, 1, ROWS, COLUMNS), np.float32), np.zeros((0, ROWS, COLUMNS), np.float32),
                  np.zeros((3, ROWS, COLUMNS), np.float32), np.zeros((3, ROWS, COLUMNS), np.float32),
                  plane + 99 if depth is None else depth, index, (), tuple(names),
                  np.array([380.0, 780.0]), 1, 1, {}, "ab", "1")


def test_what_takes_most_of_the_frame_comes_first():
    """Lamps in frame by their size in it, each where it is."""
    index = np.full((ROWS, COLUMNS), -1, np.int32)
    index[:4, :8], index[20:36, 40:60], index[10:14, 20:30] = 0, 1, 2
    names = ("small", "large", "middling")
    found = coverage(stage_of(*names), "late", camera("A", (0, 0, 0)), frames_of(names, index), "clerk")
    assert [(each.name, each.where) for each in found.seen] == [
        ("large", IN_FRAME), ("middling", IN_FRAME), ("small", IN_FRAME)]
    assert [each.share for each in found.seen] == pytest.approx(
        [320 / index.size, 40 / index.size, 32 / index.size])
    assert [each.side for each in found.seen] == ["lower right", "top", "upper left"]
    assert (found.option, found.camera, found.subject) == ("late", "A", "clerk")


@pytest.mark.parametrize(("wall", "where"), [(None, IN_FRAME), ("left", IN_FRAME), ("right", HIDDEN)])
def test_another_camera_is_seen_where_its_body_is(wall, where):
    """A body 4 m off, up and to the right; a wall 2 m off before its half of the picture hides it."""
    other = camera("B", (0.9, 4.0, 0.55))
    depth = np.full((ROWS, COLUMNS), 99.0, np.float32)
    if wall:
        depth[:ROWS // 2, slice(0, COLUMNS // 2) if wall == "left" else slice(COLUMNS // 2, COLUMNS)] = 2.0
    index = np.full((ROWS, COLUMNS), -1, np.int32)
    own = camera("A", (0, 0, 0))
    (found,) = coverage(stage_of(cameras=(own, other)), "", own, frames_of((), index, depth), None).seen
    assert (found.name, found.where) == ("camera B", where)
    if where == IN_FRAME:
        # 24 cm by 33 cm, its rear 0.45 m nearer than the lens: the box about both ends' corners.
        across = 1.02 / (3.55 * 0.5) - 0.78 / (4.08 * 0.5)
        up = (0.73 / 3.55 - 0.40 / 4.08) / (0.5 * ROWS / COLUMNS)
        assert found.side == "upper right"
        assert found.share == pytest.approx(across * up / 4, rel=1e-6)


@pytest.mark.parametrize(("at", "where"), [
    ((2.25, 4.0, 0), NEAR_EDGE), ((3.2, 4.0, 0), None), ((0, -2.0, 0), None)])
def test_another_camera_near_the_frame(at, where):
    """A breath beside the frame counts as near it; farther off, or behind, it is none's business."""
    own, other = camera("A", (0, 0, 0)), camera("B", at)
    index = np.full((ROWS, COLUMNS), -1, np.int32)
    found = coverage(stage_of(cameras=(own, other)), "", own, frames_of((), index), None).seen
    assert [each.where for each in found] == ([where] if where else [])


@pytest.mark.parametrize("smooth", [False, True])
def test_corneas_are_the_eyes_own(smooth):
    """Each eye has the faces nearer to it than to the other, with their areas and outward normals."""
    vertices, faces = shapes.ball(0.012, subdivisions=1)
    left, right = np.array([0.03, 0.0, 1.6]), np.array([-0.035, 0.01, 1.61])
    surfaces = {"iris": Surface("iris", ONES, 0 * ONES, 0.0277 * ONES, 1.0, 0.0)}
    outward = vertices / np.linalg.norm(vertices, axis=1, keepdims=True) if smooth else None
    meshes = tuple(Mesh("clerk", "iris", vertices + at, faces[: 20 + 30 * k], outward)
                   for k, at in enumerate((left, right)))
    stage = Stage("one", surfaces, meshes, (), (), places={"clerk.left eye": left, "clerk.right eye": right})
    found = corneas(stage, "clerk")
    for eye, mesh, at in zip(found, meshes, (left, right), strict=True):
        corners = mesh.vertices[mesh.faces]
        # The area of a triangle by its sides (Heron).
        a, b, c = (np.linalg.norm(corners[:, i] - corners[:, j], axis=1) for i, j in ((0, 1), (1, 2), (2, 0)))
        half = (a + b + c) / 2
        assert eye.areas == pytest.approx(np.sqrt(half * (half - a) * (half - b) * (half - c)), rel=1e-6)
        assert np.linalg.norm(eye.normals, axis=1) == pytest.approx(np.ones(len(corners)))
        # Flat faces of a ball stand square to its radius through their middle, and so do means of its own.
        radial = (eye.centres - at) / np.linalg.norm(eye.centres - at, axis=1, keepdims=True)
        assert np.einsum("ij,ij->i", eye.normals, radial).min() > (0.9999 if smooth else 0.99)
    assert corneas(stage, "porter") == []


@pytest.mark.parametrize(("at", "height"), [
    ((1.0, 2.0, 1.5), 0.8), ((1.0, 2.0, 0.7), 0.0), ((1.9, 2.0, 1.5), 0.0), ((1.0, 3.1, 1.5), 0.0),
    ((0.4, 2.0, 1.5), 0.0), ((1.0, 0.9, 1.5), 0.0), ((1.3, 2.8, 1.5), 1.2)])
def test_a_stand_ends_on_what_is_under_it(at, height):
    """The top of the piece that a point is over, of two the higher, or the floor; no figure's."""
    meshes = (Mesh("desk", "grey", *shapes.box((0.5, 1.0, 0), (1.5, 3.0, 0.8))),
              Mesh("case", "grey", *shapes.box((1.2, 2.6, 0.8), (1.5, 3.0, 1.2))),
              Mesh("clerk", "grey", *shapes.box((0.5, 1.0, 0), (1.5, 3.0, 1.4)), role="figure"))
    assert _under(Stage("one", {}, meshes, (), ()), np.array(at)) == pytest.approx(height)
