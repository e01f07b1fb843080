"""Which side is which: things whose sides differ, so that a sign or an axis taken for another shows.

Expected places are worked out by hand from what the README says: x runs east, y north, z up, openings count
from a wall's low end and the floor, lengths in metres.
"""

import numpy as np
import pytest

from previz.scene.dressing import Curtain
from previz.stage import dressing, shapes
from previz.stage import sheets as sheet_files
from previz.stage.furniture import build
from previz.stage.furniture.solids import joined

ROOM = "room:\n  size: [4 m, 3 m, 2.5 m]\n  wall_thickness: 0.3 m\n"
INWARDS = {"west": (1, 0, 0), "east": (-1, 0, 0), "south": (0, 1, 0), "north": (0, -1, 0)}


def faces(mesh):
    """Corners and area vectors of a mesh's triangles."""
    corners = mesh.vertices[mesh.faces]
    return corners, np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]) / 2


def points_of(stage, name):
    """All points of a piece of several surfaces."""
    return np.concatenate([mesh.vertices for mesh in stage.meshes if mesh.name == name])


def named(stage, name):
    mesh, = (m for m in stage.meshes if m.name == name)
    return mesh


def area_towards(mesh, normal, where=None):
    """Area of the faces square to a normal, of those in a plane `where` along it only."""
    corners, areas = faces(mesh)
    along = areas @ np.asarray(normal, float)
    square = np.isclose(along, np.linalg.norm(areas, axis=1))
    if where is not None:
        square &= np.all(np.isclose(corners @ np.asarray(normal, float), where, atol=1e-9), axis=1)
    return along[square].sum()


def span(vertices, axis):
    return vertices[:, axis].min(), vertices[:, axis].max()


def door(wall, sill=0.0):
    return (f"  openings:\n    - {{name: door, wall: {wall}, along: 0.4 m, sill: {sill} m, "
            "size: [0.9 m, 2.1 m], glass: none}\n")


@pytest.mark.parametrize("wall", INWARDS)
@pytest.mark.parametrize("sill", [0.0, 0.15])
def test_reveals_of_a_door_and_of_a_window(stage_of, wall, sill):
    """Two jambs and a head look into the hole; a sill only where the floor does not go through."""
    mesh = named(stage_of(ROOM + door(wall, sill)), f"{wall} wall")
    inward = np.array(INWARDS[wall], float)
    along = np.array([0.0, 1, 0]) if wall in ("west", "east") else np.array([1.0, 0, 0])
    assert area_towards(mesh, along, 0.4) == pytest.approx(2.1 * 0.3)
    assert area_towards(mesh, -along, -1.3) == pytest.approx(2.1 * 0.3)
    assert area_towards(mesh, (0, 0, -1), -(sill + 2.1)) == pytest.approx(0.9 * 0.3)
    assert area_towards(mesh, (0, 0, 1)) == pytest.approx(0.9 * 0.3 if sill else 0.0)
    # Reveals reach outwards from the inside face, the outside is as large as the corners need.
    corners, _ = faces(mesh)
    depth = (corners.reshape(-1, 3) - [*(s if k == 1 else 0 for s, k in zip(
        (4.0, 3.0, 0), (-inward).astype(int), strict=True))]) @ inward
    assert (depth.min(), depth.max()) == pytest.approx((-0.3, 0.0))
    width = 3.0 if wall in ("west", "east") else 4.0
    assert area_towards(mesh, inward) == pytest.approx(width * 2.5 - 0.9 * 2.1)
    assert area_towards(mesh, -inward) == pytest.approx((width + 0.6) * 3.1 - 0.9 * 2.1)


def test_a_floor_and_a_ceiling_have_thickness_and_sides(stage_of):
    """The floor's top is at 0 and goes under the walls; the ceiling is lit from below."""
    stage = stage_of(ROOM + "ground: gravel\n")
    floor = named(stage, "floor")
    np.testing.assert_allclose([floor.vertices.min(axis=0), floor.vertices.max(axis=0)],
                               [[-0.3, -0.3, -0.3], [4.3, 3.3, 0.0]])
    assert area_towards(floor, (0, 0, 1), 0.0) == pytest.approx(4.6 * 3.6)
    assert area_towards(floor, (0, 0, -1), 0.3) == pytest.approx(4.6 * 3.6)
    ceiling = named(stage, "ceiling")
    assert area_towards(ceiling, (0, 0, -1), -2.5) == pytest.approx(12.0)
    assert area_towards(ceiling, (0, 0, 1), 2.8) == pytest.approx(4.6 * 3.6)
    ground = named(stage, "ground")
    assert area_towards(ground, (0, 0, 1), -0.02) == pytest.approx(6000.0**2)


@pytest.mark.parametrize("wall", INWARDS)
def test_a_pane_is_behind_its_bars(stage_of, wall):
    """Bars are in the middle of the wall, the pane just outside them, the guide at the inside face."""
    window = (f"  openings:\n    - {{name: window, wall: {wall}, along: 0.4 m, sill: 0.7 m, "
              "size: [1 m, 0.6 m], panes: [4, 1], bar: 0.05 m}\n")
    stage = stage_of(ROOM + window)
    inward = np.array(INWARDS[wall], float)
    guide, = stage.guides
    pane, = stage.panes
    assert (guide.centre - pane.centre) @ inward == pytest.approx(0.15 + 0.025)
    bars = named(stage, "window").vertices.reshape(3, 8, 3)
    off = (bars - guide.centre) @ inward
    np.testing.assert_allclose([off.min(axis=1), off.max(axis=1)], [[-0.175] * 3, [-0.125] * 3])
    across = 1 if wall in ("west", "east") else 0
    np.testing.assert_allclose(sorted(bars[:, :, across].mean(axis=1)), [0.65, 0.9, 1.15])
    np.testing.assert_allclose(np.ptp(bars[:, :, 2], axis=1), 0.6)
    assert np.linalg.norm(pane.half_u) == pytest.approx(0.5)
    assert np.linalg.norm(pane.half_v) == pytest.approx(0.3)


@pytest.mark.parametrize(("at", "aim", "wall", "point"), [
    ((1.0, 0.5, 1.0), (2.0, 1.5, 1.2), "north", (3.5, 3.0, 1.5)),
    ((1.0, 0.5, 1.0), (2.0, 0.8, 0.9), "east", (4.0, 1.4, 0.7)),
    ((3.0, 2.5, 1.0), (2.0, 2.1, 1.3), "west", (0.0, 1.3, 1.9)),
    ((3.0, 2.5, 1.0), (2.6, 1.5, 0.2), "south", (2.0, 0.0, 0.05)),
    ((3.0, 2.5, 1.0), (2.6, 1.5, 2.2), "south", (2.0, 0.0, 2.45))])
def test_a_line_of_sight_across_the_room(stage_of, at, aim, wall, point):
    """It ends on the wall that it meets first, off the middle; above or below, at the wall's edge."""
    text = ROOM + (f"cameras:\n  - {{name: A, at: {[f'{v} m' for v in at]}, aim: {[f'{v} m' for v in aim]}, "
                   "lens: 35 mm, stop: T2.8, iso: 800}\n").replace("'", "")
    probe, = (each for each in stage_of(text).probes if each.name == "back wall")
    np.testing.assert_allclose(probe.normal, INWARDS[wall])
    np.testing.assert_allclose(probe.position, np.add(point, 0.01 * np.array(INWARDS[wall])), atol=1e-9)


# What hangs in openings, on each wall: half of the frames are left-handed


def volume(body):
    """Volume that a closed body encloses, below zero where its faces look inwards. [m³]"""
    corners = body[0][body[1]]
    return np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])).sum() / 6


def dressed(stage_of, wall, words, along=0.05):
    return stage_of(ROOM + f"  openings:\n    - {{name: window, wall: {wall}, along: {along} m, sill: 0.8 m, "
                    f"size: [1 m, 1.2 m], {words}}}\n")


@pytest.mark.parametrize("wall", INWARDS)
def test_a_curtain_near_the_end_of_a_wall(stage_of, wall):
    """It laps over the wall where there is some, its cloth and rod hang before it and face the room."""
    stage = dressed(stage_of, wall, "curtain: {fullness: 1.5, overlap: 0.3 m, open: 0 %}")
    cloth, rod = (m for m in stage.meshes if m.name == "window")
    inward = np.array(INWARDS[wall], float)
    across = 1 if wall in ("west", "east") else 0
    start = np.array([4.0 if wall == "east" else 0, 3.0 if wall == "north" else 0, 0])
    low, high = span(cloth.vertices, across)
    assert (low, high) == pytest.approx((0.05 - 0.045, 1.05 + 0.3), abs=1e-3)
    assert span(cloth.vertices, 2) == pytest.approx((0.8 - 0.3, 2.0 + 0.3), abs=1e-9)
    off = (cloth.vertices - start) @ inward
    assert (off.min(), off.max()) == pytest.approx((0.02, 0.02 + 2 * dressing.fold_depth(1.5)), abs=1e-3)
    _, areas = faces(cloth)
    # Each strip looks to the room; so does its smooth normal, which leans as the fold does.
    assert np.all(areas @ inward > 0) and np.all(cloth.normals @ inward > 0)
    flat = areas / np.linalg.norm(areas, axis=1, keepdims=True)
    assert np.einsum("ij,ij->i", flat, cloth.normals[cloth.faces[:, 0]]).min() > 0.8
    assert volume((rod.vertices, rod.faces)) == pytest.approx(
        (high - low) * 0.018 * np.ptp(rod.vertices[:, 2]), rel=0.01)
    assert span(rod.vertices, 2) == pytest.approx((2.3, 2.318))


def test_a_curtain_at_the_far_end_and_under_the_ceiling(stage_of):
    """It stops half a centimetre short of the next wall and of the ceiling, and never reaches the floor."""
    stage = dressed(stage_of, "south", "curtain: {fullness: 1, overlap: 1 m, open: 0 %}", along=2.9)
    cloth, rod = (m for m in stage.meshes if m.name == "window")
    assert span(cloth.vertices, 0) == pytest.approx((1.9, 3.9 + 0.095), abs=1e-9)
    assert span(cloth.vertices, 2) == pytest.approx((0.005, 2.0 + 0.495), abs=1e-9)
    assert rod.vertices[:, 2].max() <= 2.5


def test_threads_of_a_net():
    """Laid flat, what goes through is as written, holes included; nine tenths of the rest are sent back."""
    net = dressing.net_surface("window", Curtain(transmission=0.55, open=0.2))
    np.testing.assert_allclose(net.transmission * 0.8 + 0.2, 0.55)
    np.testing.assert_allclose(net.reflectance * 0.8, 0.9 * 0.45)


@pytest.mark.parametrize("wall", INWARDS)
def test_upright_slats_are_drawn_from_the_low_end(stage_of, wall):
    """Half lowered they cover the half with the lower x or y; the rail goes over the whole width."""
    stage = dressed(stage_of, wall, "blind: {width: 80 mm, spacing: 100 mm, angle: 30 deg, lowered: 50 %, "
                    "upright: yes}")
    mesh = named(stage, "window")
    slats, rail = mesh.vertices[:20].reshape(5, 4, 3), mesh.vertices[20:]
    across = 1 if wall in ("west", "east") else 0
    np.testing.assert_allclose(np.sort(slats[:, :, across].mean(axis=1)), 0.05 + 0.1 * (np.arange(5) + 0.5))
    assert span(rail, across) == pytest.approx((0.05, 1.05))
    assert span(rail, 2) == pytest.approx((2.0 - 0.018, 2.0))
    assert volume((rail, mesh.faces[10:] - 20)) == pytest.approx(0.018 * 0.018)
    # Their inner edges, towards the room, are turned to the low end of the wall.
    inward = np.array(INWARDS[wall], float)
    inner = slats[0][np.argsort(slats[0] @ inward)[2:], across].mean()
    assert inner - slats[0][:, across].mean() == pytest.approx(-0.04 * np.sin(np.radians(30)))


# Furniture and solids


def body_of(kind, size):
    """All of a piece as (points, triangles)."""
    made = joined(*build(kind, size).values())
    return made.vertices, made.faces


def heights_over(body, x, y):
    """Lowest and highest point of a body over a place, None where it has nothing."""
    corners = body[0][body[1]]
    found = shapes.crossings(corners, np.array([x, y, 10.0]), np.array([0.0, 0, -1]))
    found = 10.0 - found[np.isfinite(found)]
    return (round(found.min(), 6), round(found.max(), 6)) if len(found) else None


def test_the_backs_of_chairs_and_shelves():
    """A chair's back and a shelf's back are at +y; what is before them is open."""
    chair = body_of("chair", (0.5, 0.6, 0.9))
    # Over the seat's front there is nothing; over its rear there is the back, which leans.
    assert heights_over(chair, 0.1, -0.2)[1] == pytest.approx(0.46, abs=0.01)
    tops = [heights_over(chair, 0.1, y) for y in np.arange(0.2, 0.3, 0.01)]
    assert max(each[1] for each in tops if each) > 0.88
    shelf = body_of("shelf", (1.0, 0.4, 1.8))
    assert heights_over(shelf, 0.1, 0.195) == (0.0, 1.8)
    assert heights_over(shelf, 0.1, -0.1) == (0.0, 1.8)
    corners = shelf[0][shelf[1]]
    levels = shapes.crossings(corners, np.array([0.1, -0.1, 10.0]), np.array([0.0, 0, -1]))
    levels = np.unique(np.round(10 - levels[np.isfinite(levels)], 6))
    steps = np.array([0.0, 1, 2, 3, 4]) * (1.8 - 0.022) / 4
    np.testing.assert_allclose(levels, np.sort(np.concatenate([steps, steps + 0.022])), atol=1e-6)


def test_a_desk_is_open_where_one_sits():
    """A panel at the left, drawers at the right, one across the far side that does not reach the floor."""
    desk = body_of("desk", (1.4, 0.7, 0.75))
    assert 0.2 < heights_over(desk, -0.2, 0.306)[0] < 0.35
    # Room for knees under the drawer.
    assert heights_over(desk, -0.2, -0.25)[0] > 0.6
    for x in (-0.665, 0.5):
        assert heights_over(desk, x, 0.0)[0] < 0.07
    legs = body_of("table", (1.4, 0.7, 0.75))
    for x, y, low in ((0.63, 0.28, 0.0), (-0.63, -0.28, 0.0), (0.29, 0.2, 0.718), (0.6, 0.0, 0.718)):
        assert heights_over(legs, x, y)[0] == pytest.approx(low, abs=1e-6)


def test_crossings_are_measured_along_the_line():
    """A lopsided triangle met off its middle, from before, from behind and past each edge."""
    corners = np.array([[[0.0, 0, 2], [3, 0, 2], [0, 1, 5]]])
    # In its plane z = 2 + 3 y; inside where x / 3 + y < 1.
    for x, y, met in ((1.2, 0.5, True), (2.0, 0.4, False), (-0.1, 0.4, False), (1.0, -0.1, False)):
        found = shapes.crossings(corners, np.array([x, y, 0.5]), np.array([0.0, 0, 1]))
        assert np.isfinite(found[0]) == met
        if met:
            assert found[0] == pytest.approx(1.5 + 3 * y)
            behind = shapes.crossings(corners, np.array([x, y, 9.0]), np.array([0.0, 0, 1]))
            assert behind[0] == pytest.approx(2 + 3 * y - 9)
    slanted = np.array([0.6, 0.0, 0.8])
    found = shapes.crossings(corners, np.array([0.3, 0.2, 2.0]), slanted)
    assert found[0] == pytest.approx(0.6 / 0.8)


def test_a_shade_leans_as_its_radii_say():
    """A shade that is wider below has normals that look up; one that is wider above, down."""
    for bottom, top, sign in ((0.2, 0.1, 1), (0.1, 0.2, -1)):
        normals = shapes.frustum_normals(bottom, top, 0.3)
        np.testing.assert_allclose(normals[:, 2], sign * np.sin(np.arctan(0.1 / 0.3)))
        vertices, sides = shapes.frustum(bottom, top, 0.3, closed=False)
        assert np.linalg.norm(vertices[:48, :2], axis=1) == pytest.approx(bottom)
        assert np.linalg.norm(vertices[48:, :2], axis=1) == pytest.approx(top)
        corners = vertices[sides]
        areas = shapes.crosses(corners)
        assert np.all(np.einsum("ij,ij->i", areas, normals[sides[:, 0]]) > 0)


def test_a_turned_piece_stands_where_it_is_written(stage_of):
    """A turn is counter-clockwise from above: the front of a cabinet 1.2 m wide then looks east."""
    stage = stage_of("pieces: [{name: locker, shape: cabinet, at: [2 m, 1 m, 0.2 m], "
                     "size: [1.2 m, 0.4 m, 0.9 m], turn: 90 deg},\n"
                     "  {name: seat, shape: chair, at: [5 m, 1 m], size: [0.5 m, 0.6 m, 0.9 m], "
                     "turn: 90 deg}]\n")
    vertices = points_of(stage, "locker")
    np.testing.assert_allclose([vertices.min(axis=0), vertices.max(axis=0)],
                               [[1.8, 0.4, 0.2], [2.2, 1.6, 1.1]], atol=1e-9)
    # The back, at +y, comes to lie at -x.
    seat = points_of(stage, "seat")
    high = seat[seat[:, 2] > 0.8]
    assert high[:, 0].max() < 4.74


def test_a_ball_of_three_sizes(stage_of):
    """An ellipsoid that stands where it is written, turned; its normals are those of the ellipsoid."""
    stage = stage_of("pieces: [{name: egg, shape: sphere, at: [2 m, 1 m, 0.5 m], size: [0.4 m, 0.6 m, 1 m], "
                     "turn: 90 deg}]\n")
    egg = named(stage, "egg")
    np.testing.assert_allclose([egg.vertices.min(axis=0), egg.vertices.max(axis=0)],
                               [[1.7, 0.8, 0.5], [2.3, 1.2, 1.5]], atol=2e-3)
    half = np.array([0.3, 0.2, 0.5])
    slope = (egg.vertices - [2, 1, 1]) / half**2
    slope /= np.linalg.norm(slope, axis=1, keepdims=True)
    np.testing.assert_allclose(egg.normals, slope, atol=2e-3)
    assert len(egg.faces) == 20 * 4**4


# Sheets


SHEETS = """\
flags:
  - {name: cutter, at: [1 m, 0 m, 1.5 m], facing: [1 m, 5 m, 1.5 m], size: [0.6 m, 0.9 m], shape: T,
     bar: 0.2 m, arm: 0.3 m}
  - {name: leaning, at: [4 m, 0 m, 1.5 m], facing: [4 m, 5 m, 1.5 m], size: [1 m, 0.2 m], turn: 30 deg}
nets: [{name: net, at: [7 m, 0 m, 1.5 m], facing: [7 m, 5 m, 1.5 m], size: [0.6 m, 0.9 m]}]
grids: [{name: crate, at: [9 m, 0 m, 1.5 m], facing: [9 m, 5 m, 1.5 m], size: [0.6 m, 0.3 m], cell: 0.1 m,
         depth: 0.05 m}]
boards: [{name: card, at: [12 m, 0 m, 1.5 m], facing: [12 m, 5 m, 1.5 m], size: [0.8 m, 0.4 m]}]
"""


@pytest.fixture
def sheets(stage_of):
    return stage_of(SHEETS)


def test_a_tee_flag_stands_on_its_stem(sheets):
    """The bar is on top over the whole width, the stem below in the middle, the arm under that."""
    cloth, arm = (m for m in sheets.meshes if m.name == "cutter")
    bar, stem = cloth.vertices.reshape(2, 4, 3)
    np.testing.assert_allclose([*span(bar, 0), *span(bar, 2)], [0.7, 1.3, 1.75, 1.95], atol=1e-9)
    np.testing.assert_allclose([*span(stem, 0), *span(stem, 2)], [0.9, 1.1, 1.05, 1.75], atol=1e-9)
    np.testing.assert_allclose(span(arm.vertices, 2), (0.75, 1.05), atol=1e-9)
    assert np.abs(arm.vertices[:, 0] - 1).max() < 0.05


def test_a_turn_of_a_sheet(sheets):
    """Counter-clockwise for whoever it faces: from the north its west end is at the right, and goes up."""
    flag = named(sheets, "leaning").vertices
    west = flag[flag[:, 0] < 4].mean(axis=0)
    np.testing.assert_allclose([west[0], west[2]], [4 - 0.5 * np.cos(np.radians(30)), 1.5 + 0.25], atol=1e-9)


def test_a_net_is_open_at_the_bottom(sheets):
    """Three rods: none along the lower edge."""
    frame = named(sheets, "net").vertices.reshape(3, 8, 3)
    low = frame[:, :, 2].min(axis=1)
    level = np.ptp(frame[:, :, 0], axis=1) > 0.5
    assert level.sum() == 1 and low[level][0] > 1.9
    np.testing.assert_allclose(sorted(frame[~level][:, :, 0].mean(axis=1)), [6.7, 7.3], atol=1e-9)


def test_rods_are_as_thick_as_they_are(sheets):
    """Square rods of a frame, 12 mm, and of a flag's arm, along where they go."""
    rods = named(sheets, "net").vertices.reshape(3, 8, 3)
    assert np.sort(np.ptp(rods, axis=1)).round(9).tolist() == [
        [0.012, 0.012, length] for length in np.sort(np.ptp(rods, axis=1))[:, 2].round(9)]
    assert sorted(np.ptp(rods, axis=1).max(axis=1)) == pytest.approx([0.6, 0.9, 0.9])
    _, arm = (m.vertices for m in sheets.meshes if m.name == "cutter")
    assert np.ptp(arm, axis=0)[:2] == pytest.approx(sheet_files.ARM)


@pytest.mark.parametrize(("lobe", "radius"), [("12 deg", 0.12555 + 0.15), ("90 deg", None), (None, None)])
def test_where_a_lamp_seems_to_be_through_frost(stage_of, lobe, radius):
    """A ball about it as wide as the lobe at its distance and half of its lens; none for a wide or even one.

    Half of the peak is at 6 deg: sin 6 deg = w sqrt(ln 2), w = 0.12555; at 1 m, 0.12555 m.
    """
    words = "" if lobe is None else f", lobe: {lobe}, spread: 100 %"
    stage = stage_of(
        "lights: [{name: key, kind: fresnel, at: [0 m, 0 m, 2 m], aim: [0 m, 5 m, 1 m], lens: 300 mm, "
        "output: 5 klm}]\ndiffusion: [{name: frost, before: key, distance: 1 m, size: [1 m, 1.2 m], "
        f"transmission: 80 %{words}}}]\n")
    found = [guide for guide in stage.guides if guide.name == "key through frost"]
    assert [guide.radius for guide in found] == ([] if radius is None else [pytest.approx(radius, abs=2e-4)])


def test_a_grid_has_its_cells_across_and_up(sheets):
    """Seven walls stand and four lie, as deep as written, along where it faces."""
    walls = named(sheets, "crate").vertices.reshape(-1, 4, 3)
    upright = np.ptp(walls[:, :, 2], axis=1) > 0.25
    upright &= np.ptp(walls[:, :, 0], axis=1) < 1e-9
    assert (upright.sum(), (~upright).sum()) == (7, 4)
    np.testing.assert_allclose(sorted(walls[upright][:, 0, 0]), 8.7 + 0.1 * np.arange(7), atol=1e-9)
    np.testing.assert_allclose(sorted(walls[~upright][:, 0, 2]), 1.35 + 0.1 * np.arange(4), atol=1e-9)
    np.testing.assert_allclose(span(walls.reshape(-1, 3), 1), (-0.025, 0.025), atol=1e-9)


def test_a_board_has_its_face_before_its_back(sheets):
    """Its face looks to where it faces; its black back lies behind it and looks away."""
    face, back = (m for m in sheets.meshes if m.name == "card")
    assert area_towards(face, (0, 1, 0)) == pytest.approx(0.32)
    assert area_towards(back, (0, -1, 0)) == pytest.approx(0.32)
    assert face.vertices[:, 1] == pytest.approx(0.0)
    assert back.vertices[:, 1].max() < 0
    assert sheets.surfaces[back.surface].reflectance.max() < 0.1
