"""Rooms: walls that keep light out, openings that let it in, and where they are."""

import numpy as np
import pytest

from previz.engine.probe import ProbeJob
from previz.engine.render import luminance_weights, open_stage

SIZE = np.array([4.0, 3.0, 2.5])
ROOM = "room:\n  size: [4 m, 3 m, 2.5 m]\n"
DAYLIGHT = ("daylight: {sky: overcast, illuminance: 10000 lx, "
            "sun: {azimuth: 250 deg, altitude: 35 deg, illuminance: 50000 lx}}\nground: gravel\n")


def opening(wall, along=0.7, sill=0.9, width=1.2, height=1.0, **more):
    extra = "".join(f", {key}: {value}" for key, value in more.items())
    return (f"  openings:\n    - {{name: window, wall: {wall}, along: {along} m, sill: {sill} m, "
            f"size: [{width} m, {height} m]{extra}}}\n")


def meters(places):
    return "meters:\n" + "".join(
        f"  - {{name: m{i}, at: [{p[0]} m, {p[1]} m, {p[2]} m], facing: [{q[0]} m, {q[1]} m, "
        f"{q[2]} m]}}\n" for i, (p, q) in enumerate(places))


def readings(stage, rounds=4):
    """Direct and bounced light of each lamp at each meter, per unit. (meter, lamp, 2)"""
    flat = [probe for probe in stage.probes if not probe.dome]
    job = ProbeJob(open_stage(stage, 1), stage, probes=flat)
    job.run(0.003, rounds)
    return job.batches.means.mean(axis=1) @ luminance_weights(1)


def area_facing(stage, name, axis, value, normal):
    """Area of a mesh's faces in the plane axis = value that face along a normal."""
    total = 0.0
    for mesh in stage.meshes:
        if mesh.name != name:
            continue
        corners = mesh.vertices[mesh.faces]
        double = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        flat = np.all(np.abs(corners[:, :, axis] - value) < 1e-9, axis=1)
        along = double @ np.asarray(normal, float) / 2
        total += along[flat & (along > 0)].sum()
    return total


# Each wall: the axis it is square to, where its inside is, where it faces, its width.
WALLS = {
    "west": (0, 0.0, (1, 0, 0), 3.0), "east": (0, 4.0, (-1, 0, 0), 3.0),
    "south": (1, 0.0, (0, 1, 0), 4.0), "north": (1, 3.0, (0, -1, 0), 4.0),
}


@pytest.mark.parametrize("wall", WALLS)
def test_an_opening_is_cut_where_it_is_written(stage_of, wall):
    """The wall's inside face is its rectangle less the opening, and faces into the room."""
    axis, value, normal, width = WALLS[wall]
    stage = stage_of(ROOM + opening(wall))
    assert area_facing(stage, f"{wall} wall", axis, value, normal) == pytest.approx(
        width * 2.5 - 1.2)
    for other in WALLS:
        if other != wall:
            axis, value, normal, width = WALLS[other]
            assert area_facing(stage, f"{other} wall", axis, value, normal) == pytest.approx(
                width * 2.5)
    guide, = stage.guides
    pane, = stage.panes
    assert guide.opening
    # Along counts from the wall's low-x or low-y end, sill from the floor.
    axis, value, normal, _ = WALLS[wall]
    across = 1 - axis
    assert guide.centre[across] == pytest.approx(0.7 + 0.6)
    assert guide.centre[2] == pytest.approx(0.9 + 0.5)
    assert guide.centre[axis] == pytest.approx(value)
    # The glass is inside the thickness of the wall (0.2 m), parallel to it.
    inwards = np.asarray(normal, float)
    assert 0 < (guide.centre - pane.centre) @ inwards < 0.2
    assert abs(np.cross(pane.half_u, pane.half_v) @ inwards) == pytest.approx(1.2 / 4)


@pytest.mark.engine
def test_a_closed_room_is_dark(stage_of):
    """No sun and no sky gets into a room without openings, not even at its edges."""
    near = 0.002
    corners = [(x, y, z) for x in (near, 4 - near) for y in (near, 3 - near)
               for z in (near, 2.5 - near)]
    edges = [(2, near, near), (2, 3 - near, 2.5 - near), (near, 1.5, near), (near, near, 1.2)]
    middle = (2.0, 1.5, 1.2)
    places = [(p, middle) for p in (*corners, *edges)] + [(middle, (2, 1.5, 2.4))]
    got = readings(stage_of(ROOM + DAYLIGHT + meters(places)))
    assert np.all(got == 0)


@pytest.mark.engine
def test_the_sun_falls_where_geometry_says(stage_of):
    """Through a window without glass the sun lights the floor inside its projected outline."""
    # Sun from compass 270 deg (west), 45 deg high: it travels east and down, x = -z from the
    # opening. Wall 0.2 m thick, opening y 0.7 to 1.9, z 0.9 to 1.9: the inner edge of the sill
    # throws the near end of the patch to x = 0.9, the outer edge of the head the far end to 1.7.
    sun = "daylight: {sky: none, sun: {azimuth: 270 deg, altitude: 45 deg, illuminance: 1000 lx}}\n"
    lit = [(1.0, 0.8), (1.0, 1.8), (1.6, 0.8), (1.6, 1.8), (1.3, 1.3)]
    dark = [(0.8, 1.3), (1.8, 1.3), (1.3, 0.6), (1.3, 2.0)]
    places = [((x, y, 0.001), (x, y, 2.0)) for x, y in lit + dark]
    stage = stage_of(ROOM + opening("west", glass="none") + sun + meters(places))
    direct = readings(stage)[:, 0, 0]
    # Cosine of 45 deg on the floor (check value 1.1); 1 % for the meters.
    np.testing.assert_allclose(direct[:5], np.sqrt(0.5), rtol=0.01)
    np.testing.assert_allclose(direct[5:], 0)


@pytest.mark.engine
@pytest.mark.parametrize(("north", "wall"), [("0 deg", "south"), ("90 deg", "west"),
                                             ("180 deg", "north")])
def test_north_turns_the_sun(stage_of, north, wall):
    """With north turned clockwise, a sun in the south comes in by the next wall clockwise."""
    sun = ("daylight: {sky: none, sun: {azimuth: 180 deg, altitude: 20 deg, illuminance: 1000 lx}, "
           f"north: {north}}}\n")
    middle = (2.0, 1.5, 1.3)
    aims = {"south": (2, 0, 1.3), "west": (0, 1.5, 1.3), "north": (2, 3, 1.3), "east": (4, 1.5, 1.3)}
    # Only one wall has its window, large enough for the middle of the room to see the sun.
    seen = {}
    for each in aims:
        width = 3.0 if each in ("north", "south") else 2.0
        text = ROOM + opening(each, 0.5, 0.3, width, 2.1, glass="none") + sun + meters(
            [(middle, aims[each])])
        seen[each] = readings(stage_of(text), 1)[0, 0, 0]
    assert seen.pop(wall) == pytest.approx(np.cos(np.radians(20)), rel=0.02)
    assert all(value == 0 for value in seen.values())


@pytest.mark.engine
def test_sky_through_a_window(stage_of):
    """The sky that a meter sees through an opening is the integral over the opening."""
    # Overcast sky, L = Lz (1 + 2 sin g) / 3, E = 7 pi Lz / 9 on open ground (check value 4.5); the meter
    # faces the window from 1.5 m, so what it gets is summed over the outer edge of the opening.
    distance, wall = 1.5, 0.2
    place, aim = (distance, 1.3, 1.1), (0.0, 1.3, 1.1)
    text = (ROOM + opening("west", glass="none") + meters([(place, aim)])
            + "daylight: {sky: overcast, illuminance: 10000 lx, sun: none}\nground: gravel\n")
    got = readings(stage_of(text), 30)[0, 0, 0]
    y, z = np.meshgrid((np.arange(400) + 0.5) / 400 * 1.2 + 0.7 - 1.3,
                       (np.arange(400) + 0.5) / 400 * 1.0 + 0.9 - 1.1)
    # A line of sight passes the outer edge of the wall too: scale what is seen to that plane.
    outer = (distance + wall) / distance
    inside = ((np.abs(y * outer) <= 0.6) & (z * outer >= 0.9 - 1.1) & (z * outer <= 1.9 - 1.1))
    squared = distance**2 + y**2 + z**2
    sine = z / np.sqrt(squared)
    luminance = np.where(inside & (sine > 0), (1 + 2 * sine) / 3 / (7 * np.pi / 9), 0)
    expected = np.mean(luminance * distance**2 / squared**2) * 1.2
    assert got == pytest.approx(expected, rel=0.01)


def test_glazing_bars(stage_of):
    """Three panes across and two up have two upright bars and one level one, in the wall."""
    stage = stage_of(ROOM + opening("west", panes="[3, 2]", bar="0.04 m"))
    bars, = [mesh for mesh in stage.meshes if mesh.name == "window"]
    assert len(bars.faces) == 3 * 12
    boxes = bars.vertices.reshape(3, 8, 3)
    size = np.ptp(boxes, axis=1)
    upright = size[:, 2] > 0.9
    assert upright.sum() == 2
    np.testing.assert_allclose(size[upright][:, 1], 0.04)
    np.testing.assert_allclose(sorted(boxes[upright][:, :, 1].mean(axis=1)), [0.7 + 0.4, 0.7 + 0.8])
    np.testing.assert_allclose(boxes[~upright][:, :, 2].mean(), 0.9 + 0.5)
    assert np.all((boxes[:, :, 0] > -0.2) & (boxes[:, :, 0] < 0))


def test_an_opening_in_the_ceiling(stage_of):
    """A skylight is placed from the room's corner: along is x and sill is y."""
    stage = stage_of(ROOM + opening("ceiling", 1.0, 0.5, 1.2, 0.8))
    guide, = stage.guides
    np.testing.assert_allclose(guide.centre, [1.6, 0.9, 2.5])
    assert area_facing(stage, "ceiling", 2, 2.5, (0, 0, -1)) == pytest.approx(12 - 0.96)


@pytest.mark.engine
def test_a_set_without_a_ceiling(stage_of):
    """An open set has no ceiling and takes the sky from above."""
    text = (ROOM + "  ceiling: no\ndaylight: {sky: overcast, illuminance: 1000 lx}\n"
            + meters([((2, 1.5, 2.4), (2, 1.5, 3.0))]))
    stage = stage_of(text)
    assert not any(mesh.name == "ceiling" for mesh in stage.meshes)
    # 0.1 m below the edge of the walls a level meter sees nearly the whole dome.
    assert readings(stage)[0, 0, 0] == pytest.approx(1, abs=0.02)


def test_double_glazing(stage_of):
    """Glass is one sheet, two, or none."""
    for glass, sheets in (("clear", [1]), ("double", [2]), ("none", [])):
        stage = stage_of(ROOM + opening("east", glass=glass))
        assert [pane.sheets for pane in stage.panes] == sheets


@pytest.mark.parametrize(("aim", "wall", "point"), [
    ((2, 3, 1.2), "north", (2, 3, 1.2)), ((0, 1.5, 1.2), "west", (0, 1.5, 1.2)),
    ((4, 1.5, 1.7), "east", (4, 1.5, 1.7)), ((2.1, 1.4, 0.2), "south", None)])
def test_the_wall_behind_what_the_camera_sees(stage_of, aim, wall, point):
    """The back wall's meter is where the line of sight ends, and faces into the room."""
    text = ROOM + (f"cameras:\n  - {{name: A, at: [2 m, 1.5 m, 1.2 m], aim: [{aim[0]} m, {aim[1]} m, "
                   f"{aim[2]} m], lens: 35 mm, stop: T2.8, iso: 800}}\n")
    probe, = [each for each in stage_of(text).probes if each.name == "back wall"]
    axis, value, normal, _ = WALLS[wall]
    np.testing.assert_allclose(probe.normal, normal)
    assert abs(probe.position[axis] - value) == pytest.approx(0.01)
    if point is not None:
        np.testing.assert_allclose(probe.position, np.asarray(point) + 0.01 * np.asarray(normal))
    else:
        assert 0 < probe.position[2] < 2.5
