"""Sections: heights and lengths as the scene has them, and what a cut leaves of things as geometry has it."""

import sys
from pathlib import Path

import numpy as np
import pytest
import shapely

from previz.errors import RequestError
from previz.plans.cut import Cut, cut_of, default_cut, turned
from previz.plans.lettering import corners
from previz.plans.marks import plain
from previz.plans.records import PAGES, Shape, Symbol, Words
from previz.plans.section import draw_section, fitted_section, section_keys, section_notes
from previz.plans.section_set import cut_face, cut_pieces, outlines, ways_of_wall
from previz.plans.sheet import room as room_of
from previz.plans.tags import tags_of

sys.path.insert(0, str(Path(__file__).parent))

from planned import YARD, built  # noqa: E402

ROOM = """
previz: 1
title: Office
room:
  size: [5 m, 4 m, 2.6 m]
  wall_thickness: 0.2 m
  openings:
    - {name: window, wall: west, along: 1 m, sill: 0.9 m, size: [1.5 m, 1.2 m]}
    - {name: door, wall: east, along: 0.4 m, sill: 0 m, size: [0.9 m, 2 m], glass: none}
    - {name: hatch, wall: north, along: 3 m, sill: 1 m, size: [1 m, 0.8 m]}
pieces:
  - {name: crate, shape: box, at: [2.5 m, 1.5 m, 0.2 m], size: [0.8 m, 0.6 m, 0.5 m]}
  - {name: drum, shape: cylinder, at: [4 m, 1.5 m], size: [0.6 m, 0.6 m, 0.9 m]}
  - {name: chest, shape: box, at: [1 m, 3.5 m], size: [0.8 m, 0.6 m, 0.5 m]}
  - {name: near box, shape: box, at: [1 m, 0.5 m], size: [0.4 m, 0.4 m, 0.4 m]}
figures:
  - {name: clerk, pose: standing, at: [2 m, 2.5 m], facing: 270 deg}
lights:
  - {name: key, kind: fresnel, at: [4.5 m, 2.5 m, 2.1 m], aim: clerk.face, output: 3000 lm}
  - {name: lamp, kind: practical, at: [1 m, 3.5 m, 1.1 m], output: 400 lm, in_shot: yes}
  - {name: pool, kind: soft box, at: [2.5 m, 0.5 m, 2.2 m], aim: [2.5 m, 1.5 m, 0.5 m], size: [0.6 m, 0.4 m],
     output: 2000 lm}
  - {name: sun lamp, kind: fresnel, at: [-20 m, 2 m, 4 m], aim: clerk.face, output: 90 klm}
boards: [{name: card, at: [1 m, 2.5 m, 1.4 m], facing: clerk.face, size: [1 m, 0.8 m]}]
cameras: [{name: A, at: [2 m, 0.6 m, 1.5 m], aim: clerk.eyes, lens: 35 mm, stop: T2.8, iso: 800}]
"""
MM = 0.001


@pytest.fixture(scope="module")
def office(tmp_path_factory):
    scene, stage = built(tmp_path_factory.mktemp("office"), ROOM)
    return scene, stage, tags_of([scene])


MADE = {}


def drawn(office, text, scale=50, system="metric"):
    scene, stage, tags = office
    key = scene.title, text, scale, system
    if key not in MADE:
        MADE[key] = draw_section(scene, stage, tags, cut_of(text, scene, stage), scale=scale, system=system)
    return MADE[key]


def areas(drawing, layer, name, part):
    """Return what shapes of a thing cover together."""
    return shapely.union_all([shapely.Polygon(mark.points) for mark in plain(drawing.marks)
                              if isinstance(mark, Shape) and mark.closed
                              and (mark.layer, mark.name, mark.part) == (layer, name, part)])


def walls(office, text):
    """Return what is cut of walls, floor and ceiling."""
    scene, stage, _ = office
    marks = ways_of_wall(scene, cut_of(text, scene, stage))
    return shapely.union_all([shapely.Polygon(mark.points) for mark in marks if mark.fill == "cut"])


def faces(office, text, name):
    """Return the face that a cut leaves of a piece."""
    scene, stage, _ = office
    marks = cut_pieces(stage, scene, cut_of(text, scene, stage))
    return shapely.union_all([shapely.Polygon(mark.points) for mark in marks if mark.name == name])


def test_walls_floor_and_ceiling_are_cut_where_the_scene_has_them(office):
    """Along y = 3.2 m nothing is open: 5 m by 2.6 m clear, 0.2 m thick all round."""
    found = walls(office, "y = 3.2 m")
    whole = shapely.box(-0.2, -0.2, 5.2, 2.8)
    assert found.symmetric_difference(whole.difference(shapely.box(0, 0, 5, 2.6))).area < MM**2


def test_a_cut_through_a_window_and_a_door_leaves_their_gaps(office):
    """Y = 1.2 m meets the window (sill 0.9 m, head 2.1 m) in the west and the door (0 to 2 m) in the east."""
    found = walls(office, "y = 1.2 m")
    full = shapely.box(-0.2, -0.2, 5.2, 2.8).difference(shapely.box(0, 0, 5, 2.6))
    gaps = shapely.union_all([shapely.box(-0.2, 0.9, 0, 2.1), shapely.box(5, 0, 5.2, 2.0)])
    assert found.symmetric_difference(full.difference(gaps)).area < MM**2


def test_a_slanting_cut_makes_walls_as_much_longer(office):
    """At 45 deg a wall 0.2 m thick is met over 0.2 / cos 45 deg (trigonometry)."""
    left = walls(office, "0.5 m, 0.5 m to 3.5 m, 3.5 m").intersection(shapely.box(-1, 0.3, 1, 0.6)).bounds
    assert left[2] - left[0] == pytest.approx(0.2 / np.cos(np.pi / 4), abs=MM)


def test_cut_faces_are_those_of_geometry(office):
    """A box 0.8 m by 0.5 m, and a cylinder across its middle, 0.6 m by 0.9 m."""
    crate = faces(office, "y = 1.5 m", "crate")
    assert crate.bounds == pytest.approx((2.1, 0.2, 2.9, 0.7), abs=MM)
    assert crate.area == pytest.approx(0.8 * 0.5, abs=MM**2)
    assert faces(office, "y = 1.5 m", "drum").area == pytest.approx(0.6 * 0.9, rel=1e-6)


def test_beside_its_axis_a_cylinder_is_cut_along_a_chord(office):
    """0.2 m off the axis of radius 0.3 m the chord is 2 sqrt(0.3² - 0.2²), less what its sides are flat."""
    area = faces(office, "y = 1.7 m", "drum").area
    assert area == pytest.approx(2 * np.sqrt(0.3**2 - 0.2**2) * 0.9, rel=0.02)


def test_what_is_beyond_is_outlined_and_what_is_on_this_side_is_left_out(office):
    drawing = drawn(office, "y = 1.5 m")
    chest = areas(drawing, "pieces", "chest", "outline")
    assert chest.bounds == pytest.approx((0.6, 0, 1.4, 0.5), abs=MM)
    assert areas(drawing, "pieces", "chest", "cut").is_empty
    assert areas(drawing, "pieces", "near box", "outline").is_empty


def test_lamps_cameras_and_eyes_are_as_high_as_the_scene_says(office):
    scene, stage, _ = office
    drawing = drawn(office, "y = 2.5 m")
    symbols = {mark.name: mark for mark in drawing.marks if isinstance(mark, Symbol)}
    for light in scene.lights:
        assert symbols[light.name].at == pytest.approx((light.at[0], light.at[2]), abs=MM)
    assert symbols["A"].at == pytest.approx((2, 1.5), abs=MM)
    assert symbols["key"].attributes["HEIGHT"] == "2.10 m"
    eyes, = [mark.points for mark in plain(drawing.marks) if isinstance(mark, Shape) and mark.part == "eyes"]
    assert eyes[:, 1] == pytest.approx(stage.places["clerk.eyes"][2], abs=MM)


def test_the_strip_has_the_heights(office):
    words = [mark.text for mark in plain(drawn(office, "y = 2.5 m").marks) if isinstance(mark, Words)]
    for length in ("2.60 m", "2.10 m", "0.90 m", "1.50 m", "2.00 m"):
        assert length in words
    imperial = [mark.text for mark in plain(drawn(office, "y = 2.5 m", 48, "imperial").marks)
                if isinstance(mark, Words)]
    # 2.6 m is 102.36 in, 8 ft 6 1/2 in to the half inch.
    assert "8' 6 1/2\"" in imperial


def test_what_stands_before_the_cut_is_dashed_and_says_how_far(office):
    drawing = drawn(office, "y = 1.5 m")
    marks = [mark for mark in plain(drawing.marks) if isinstance(mark, Shape) and mark.name == "pool"
             and mark.part == "outline"]
    assert {mark.pen for mark in marks} == {"hidden"}
    words = [mark.text for mark in plain(drawing.marks) if isinstance(mark, Words)]
    assert any("1.00 m before" in text for text in words)
    assert any("2.00 m beyond" in text for text in words)


def test_a_lamp_far_outside_does_not_shrink_the_drawing(office):
    scene, stage, tags = office
    found = fitted_section(scene, stage, tags, default_cut(scene, stage), PAGES["a4"], system="metric")
    assert found.scale == 50
    words = [mark.text for mark in plain(found.marks) if isinstance(mark, Words)]
    assert "stands at \N{MINUS SIGN}20.00 m along" in words
    size = np.subtract(found.high, found.low) * 1000 / found.scale
    assert np.all(size <= np.array(room_of(PAGES["a4"]).size) + 1e-6)


def test_names_do_not_lie_on_each_other(office):
    scene, stage, tags = office
    for text in ("y = 2.5 m", "key to lamp"):
        found = fitted_section(scene, stage, tags, cut_of(text, scene, stage), PAGES["a4"], system="metric")
        unit = found.scale / 1000
        boxes = [shapely.Polygon(corners(mark, unit) / unit) for mark in plain(found.marks)
                 if isinstance(mark, Words)]
        for k, one in enumerate(boxes):
            assert all(one.intersection(other).area < 0.05 for other in boxes[k + 1:])


@pytest.mark.parametrize(("text", "start", "along", "length"), [
    ("y = 1.5 m", (0, 1.5), (1, 0), 5.0), ("x=2 m", (2, 0), (0, 1), 4.0),
    ("Y = 5 ft", (0, 1.524), (1, 0), 5.0),
    ("4 m, 3 m to 1 m, 3 m", (5, 3), (-1, 0), 5.0),
    # Through the corner at 45 deg, to the far wall.
    ("1 m, 1 m to 2 m, 2 m", (0, 0), (np.sqrt(0.5), np.sqrt(0.5)), 4 * np.sqrt(2)),
])
def test_what_is_written_is_the_cut(office, text, start, along, length):
    scene, stage, _ = office
    cut = cut_of(text, scene, stage)
    assert (cut.start, cut.along) == (pytest.approx(start, abs=1e-9), pytest.approx(along, abs=1e-9))
    assert cut.length == pytest.approx(length)


def test_a_cut_between_two_things_goes_through_both(office):
    scene, stage, _ = office
    cut = cut_of("key to lamp", scene, stage)
    for name in ("key", "lamp"):
        assert cut.turned(stage.places[name])[2] == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize(("text", "said"), [
    ("through the middle", "is no place for a section"), ("y = 9 m", "misses the set"),
    ("y = 3", "'3' has no unit"),
    ("key to kye", "nothing is called 'kye'"), ("key to key", "both ends are one place"),
    ("1 m, 2 m to 1 m", "nothing is called"), ("y = -0.1 m", "misses the set"),
    ("10 m, 0 m to 10 m, 4 m", "misses the set"),
])
def test_what_is_no_cut_is_refused_in_words(office, text, said):
    scene, stage, _ = office
    with pytest.raises(RequestError, match=said):
        cut_of(text, scene, stage)


def test_one_looks_north_along_y_and_west_along_x(office):
    scene, stage, _ = office
    assert "looking north" in section_notes(cut_of("y = 1 m", scene, stage))[0]
    assert "looking west" in section_notes(cut_of("x = 1 m", scene, stage))[0]
    assert "to 225" not in section_notes(cut_of("1 m, 1 m to 2 m, 2 m", scene, stage))[0]


def test_turning_keeps_all_distances_and_handedness(office):
    """A rigid turn: distances stay, and a right-handed system stays one (its determinant is 1)."""
    scene, stage, _ = office
    cut = cut_of("0.5 m, 0.5 m to 3.5 m, 2 m", scene, stage)
    assert np.linalg.det(cut.axes) == pytest.approx(1)
    seen = turned(stage, cut)
    for one, two in (("key", "lamp"), ("clerk.eyes", "card")):
        assert np.linalg.norm(seen.places[one] - seen.places[two]) == pytest.approx(
            np.linalg.norm(np.asarray(stage.places[one]) - stage.places[two]))


def test_a_place_without_a_room_has_a_ground(tmp_path):
    scene, stage = built(tmp_path, YARD)
    cut = default_cut(scene, stage)
    drawing = draw_section(scene, stage, tags_of([scene]), cut, scale=100, system="metric")
    assert any(isinstance(mark, Shape) and mark.part == "ground" for mark in plain(drawing.marks))
    assert any(isinstance(mark, Words) and mark.text == "ground" for mark in plain(drawing.marks))
    assert section_keys(drawing, scene, "metric")


def test_an_empty_place_is_drawn_too(tmp_path):
    scene, stage = built(tmp_path, "previz: 1\ntitle: Bare\nroom: {size: [3 m, 3 m, 2.5 m]}\n")
    drawing = draw_section(scene, stage, {}, default_cut(scene, stage), scale=50, system="metric")
    thick = scene.room.wall_thickness
    cut = areas(drawing, "walls", "wall", "cut").union(areas(drawing, "walls", "floor", "cut"))
    cut = cut.union(areas(drawing, "walls", "ceiling", "cut"))
    # All round a clear 3 m by 2.5 m.
    assert cut.area == pytest.approx((3 + 2 * thick) * (2.5 + 2 * thick) - 3 * 2.5, abs=MM**2)


def test_a_cut_along_a_face_leaves_nothing_odd(office):
    """A plane in the very face of the box, and one that only touches its edge."""
    scene, stage, _ = office
    mesh = next(mesh for mesh in stage.meshes if mesh.name == "crate")
    cut = Cut((0.0, 1.2), (1.0, 0.0))
    face = cut_face(mesh, np.array([0, 1.2, 0.0]), np.array([*cut.ahead, 0.0]), cut)
    assert face.area == pytest.approx(0, abs=MM**2) or face.area == pytest.approx(0.4, abs=MM**2)


HUNG = """
previz: 1
title: Hung
room: {size: [5 m, 4 m, 3 m], wall_thickness: 0.2 m}
figures: [{name: clerk, pose: standing, at: [2 m, 2 m], facing: 270 deg, stature: 1.8 m}]
lights:
  - {name: ball, kind: lantern ball, at: [1 m, 2 m, 2 m], diameter: 0.4 m, output: 2000 lm, hung: cord}
  - {name: out, kind: lantern ball, at: [3 m, 2 m, 2 m], diameter: 0.4 m, output: 2000 lm, hung: boom}
  - {name: key, kind: fresnel, at: [4 m, 1 m, 2 m], aim: clerk.face, output: 2000 lm}
boards: [{name: card, at: [0.6 m, 1 m, 1.4 m], facing: clerk.face, size: [1 m, 0.8 m]}]
"""


@pytest.fixture(scope="module")
def hung(tmp_path_factory):
    scene, stage = built(tmp_path_factory.mktemp("hung"), HUNG)
    return scene, stage, tags_of([scene])


def lines_of(drawing, name, part):
    found = [mark.points for mark in plain(drawing.marks) if isinstance(mark, Shape)
             and (mark.name, mark.part) == (name, part)]
    return np.concatenate(found) if found else np.zeros((0, 2))


def test_a_cord_goes_up_to_the_ceiling(hung):
    """From the cap on the ball, 2 m + 0.2 m + 0.02 m, to the ceiling at 3 m, upright over its middle."""
    points = lines_of(drawn(hung, "y = 2 m"), "ball", "hanger")
    assert points[:, 1].max() == pytest.approx(3, abs=MM)
    assert points[:, 1].min() == pytest.approx(2.22, abs=3 * MM)
    assert points[:, 0].mean() == pytest.approx(1, abs=MM)


def test_stands_go_down_to_the_floor(hung):
    """Under a lamp, under a board at its lower edge, and under the far end of a boom; none under a cord."""
    drawing = drawn(hung, "y = 2 m")
    for name, along in (("key", 4.0), ("card", 0.6)):
        pole_ = lines_of(drawing, name, "stand")[:2]
        assert pole_[0] == pytest.approx((along, 0), abs=MM)
        assert pole_[1][0] == pytest.approx(along, abs=MM)
    end = hung[1].places["out.boom end"]
    assert lines_of(drawing, "out", "stand")[:2, 0] == pytest.approx([end[0]] * 2, abs=MM)
    assert lines_of(drawing, "out", "stand")[:2, 1] == pytest.approx([0, end[2]], abs=MM)
    assert not len(lines_of(drawing, "ball", "stand"))


def test_what_things_hang_by_is_told(hung):
    words = [mark.text for mark in plain(drawn(hung, "y = 2 m").marks) if isinstance(mark, Words)]
    assert any("on a cord" in text for text in words)
    assert any("on a boom" in text for text in words)


def test_a_person_has_the_height_of_the_scene(hung):
    """1.8 m up, as the scene has it, and what soles and hair add: up to 6 cm (common practice, no source)."""
    drawing = drawn(hung, "y = 2 m")
    assert -0.01 <= lines_of(drawing, "clerk", "outline")[:, 1].max() - 1.8 <= 0.06
    told, = [mark.text for mark in plain(drawing.marks) if isinstance(mark, Words) and " top " in mark.text]
    assert 1.79 <= float(told.split("top ")[1].removesuffix(" m")) <= 1.86


def test_the_legend_has_stands_and_what_things_hang_by(hung):
    keys = [key.text for key in section_keys(drawn(hung, "y = 2 m"), hung[0], "imperial")]
    assert any(text.startswith("Stand, its feet 1'") for text in keys)
    assert any(text.startswith("What it hangs by") for text in keys)


def test_a_section_that_nobody_asked_for_says_where_it_goes(hung):
    scene, stage, _ = hung
    cut = default_cut(scene, stage)
    assert "through the eyes of clerk" in section_notes(cut)[0]
    assert cut.turned(stage.places["clerk.eyes"])[2] == pytest.approx(0, abs=5 * MM)


def test_a_name_that_is_nearly_right_is_proposed(hung):
    scene, stage, _ = hung
    with pytest.raises(RequestError) as refused:
        cut_of("ball to clerc", scene, stage)
    assert "Did you mean 'clerk'?" in str(refused.value)


@pytest.mark.parametrize("text", ["y = 0 m", "y = 4 m", "4 m, 4 m to 1 m, 4 m"])
def test_a_cut_along_the_face_of_a_wall_shows_the_room(office, text):
    """The end walls' windows and doors are elsewhere: 5 m by 2.6 m clear, 0.2 m thick all round."""
    found = walls(office, text)
    whole = shapely.box(-0.2, -0.2, 5.2, 2.8).difference(shapely.box(0, 0, 5, 2.6))
    assert found.symmetric_difference(whole).area < 10 * MM**2


def test_a_cut_with_nothing_on_it_is_drawn_with_the_walls_alone(tmp_path):
    """No piece, lamp or person: no names but heights of floor and ceiling, and lengths of walls."""
    scene, stage = built(tmp_path, "previz: 1\ntitle: Bare\nroom: {size: [3 m, 4 m, 2.5 m]}\n")
    words = [mark.text for mark in plain(
        draw_section(scene, stage, {}, cut_of("x = 1 m", scene, stage), scale=50, system="metric").marks)
        if isinstance(mark, Words)]
    assert {"floor", "ceiling", "0.00 m", "2.50 m", "4.00 m"} <= set(words)
    assert set(words) <= {"floor", "ceiling", "wall", "0.00 m", "2.50 m", "4.00 m"}


def test_a_person_behind_a_counter_is_hidden_by_it(tmp_path):
    """The counter is 1 m high, from y = 1 to 1.5 m; at y = 2.5 m a person, whole from the other side."""
    scene, stage = built(tmp_path, """
previz: 1
title: Counter
room: {size: [4 m, 4 m, 2.6 m]}
pieces: [{name: counter, shape: box, at: [2 m, 1.25 m], size: [2 m, 0.5 m, 1 m]}]
figures: [{name: clerk, pose: standing, at: [2 m, 2.5 m], facing: 270 deg}]
""")
    for text, lowest in (("y = 1.2 m", 1.0), ("3 m, 3.5 m to 1 m, 3.5 m", 0.0)):
        seen = turned(stage, cut_of(text, scene, stage))
        found, = (each.area for each in outlines(seen, scene) if each.person)
        # To the grid that bodies are taken to.
        assert found.bounds[1] == pytest.approx(lowest, abs=0.015)
