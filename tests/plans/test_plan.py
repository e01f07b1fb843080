"""The plan: everything where the scene has it to the millimetre, and names that can be read."""

import sys
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
import shapely

from previz.errors import RequestError
from previz.plans import plan
from previz.plans.lamp_marks import CODES
from previz.plans.legend import plan_keys
from previz.plans.lettering import corners
from previz.plans.marks import plain
from previz.plans.records import FILLS, LAYERS, PAGES, PENS, Disc, Shape, Words
from previz.plans.sheet import room
from previz.plans.tags import tags_of
from previz.scene.light import LIGHTS
from previz.scene.read import load
from previz.stage.build import build_stage

sys.path.insert(0, str(Path(__file__).parent))

from planned import YARD, boxes, built, entries, shapes, symbol, texts  # noqa: E402

SCENES = Path(__file__).parents[2] / "scenes"
SHIPPED = {"signal-cabin": ("bounce", "direct"), "canteen": ("boxes", "tubes alone"),
           "engine-shed": ("low sun", "shafts", "lamp for sun"),
           "carriage-window": ("blue hour", "afternoon", "slats")}
MM = 0.001


@pytest.fixture(scope="module")
def shipped():
    """(name, option) -> scene, stage, tags, footprints, of what the repository ships."""
    found = {}
    for name, options in SHIPPED.items():
        file = load(SCENES / f"{name}.yaml")
        tags, prints = tags_of(file.scenes.values()), {}
        for option in options:
            scene = file.scene(option)
            stage = build_stage(scene)
            # In one option alone somebody stands elsewhere; all others are outlined once.
            if not prints or option == "shafts":
                prints = plan.prints_of(scene, stage)
            found[name, option] = scene, stage, tags, prints
    return found


@pytest.fixture(scope="module")
def cabin(shipped):
    scene, stage, tags, prints = shipped["signal-cabin", "bounce"]
    return scene, stage, plan.draw_plan(scene, stage, tags, scale=25, system="metric", prints=prints)


@pytest.fixture(scope="module")
def yard(tmp_path_factory):
    scene, stage = built(tmp_path_factory.mktemp("yard"), YARD)
    return scene, stage, plan.draw_plan(scene, stage, tags_of([scene]), scale=50, system="metric")


def faults(drawing, space):
    """Return what of a drawing's lettering cannot be read or lies outside."""
    words, areas = boxes(drawing)
    found = [f"'{one.text}' lies on '{two.text}'" for (one, a), (two, b)
             in combinations(zip(words, areas, strict=True), 2)
             if a.bounds[0] < b.bounds[2] and b.bounds[0] < a.bounds[2] and a.intersection(b).area > 0.05]
    low, high = (np.array(each) * 1000 / drawing.scale for each in (drawing.low, drawing.high))
    field = shapely.box(*low, *high).buffer(1e-6)
    found += [f"'{word.text}' lies outside" for word, area in zip(words, areas, strict=True)
              if not field.contains(area)]
    if np.any(high - low > np.array(space) + 1e-6):
        found.append("larger than the page")
    return found


LONG = pytest.mark.long


@pytest.mark.parametrize(("page", "system", "whole"), [
    ("a4", "metric", True), ("a3", "imperial", False), pytest.param("a3", "metric", True, marks=LONG),
    pytest.param("a3", "imperial", True, marks=LONG), pytest.param("a4", "imperial", True, marks=LONG),
])
def test_nothing_written_lies_on_other_words_or_outside(shipped, page, system, whole):
    for (name, option), (scene, stage, tags, prints) in shipped.items():
        if not whole and option != SHIPPED[name][0]:
            continue
        drawing = plan.fitted_plan(scene, stage, tags, PAGES[page], system=system, prints=prints)
        assert faults(drawing, room(PAGES[page]).size) == [], (name, option)
        written = " ".join(texts(drawing))
        for light in scene.lights:
            assert light.name in written, (name, option, light.name)


def test_marks_are_of_known_layers_pens_and_fills(cabin, yard):
    for _, _, drawing in (cabin, yard):
        for mark in plain(drawing.marks):
            assert mark.layer in LAYERS
            if isinstance(mark, (Shape, Disc)):
                assert mark.pen in (*PENS, "")
                assert mark.fill in (*FILLS, "")
            if isinstance(mark, Shape):
                assert np.all(np.isfinite(mark.points))


def test_walls_and_openings_lie_where_the_scene_has_them(cabin):
    # Walls of 0.25 m round 5.2 x 3.8 m; the window in the west wall from 1.5 m on, 1.7 m wide.
    _, _, drawing = cabin
    cut = shapely.union_all([shapely.Polygon(points) for name in ("west", "south", "east", "north")
                             for points in shapes(drawing, "walls", f"{name} wall", "cut")])
    inside, window = shapely.box(0, 0, 5.2, 3.8), shapely.box(-0.25, 1.5, 0, 3.2)
    want = shapely.box(-0.25, -0.25, 5.45, 4.05) - inside - window
    assert cut.symmetric_difference(want).area < 1e-9
    hole, = shapes(drawing, "openings", "yard window", "outline")
    assert np.allclose(sorted(map(tuple, hole)), [(-0.25, 1.5), (-0.25, 3.2), (0, 1.5), (0, 3.2)], atol=MM)
    # The glass stands just outside the glazing bars of 40 mm in the middle of the wall.
    glass, = shapes(drawing, "openings", "yard window", "glass")
    assert np.allclose(glass[:, 0], -0.125 - 0.02, atol=MM)


def test_a_ceilings_opening_and_a_high_window_are_dashed(shipped):
    scene, stage, tags, prints = shipped["engine-shed", "low sun"]
    drawing = plan.draw_plan(scene, stage, tags, scale=100, system="metric", prints=prints)
    roof, = shapes(drawing, "pieces", "roof light", "overhead")
    assert np.allclose([roof.min(0), roof.max(0)], [(3, 6.4), (12, 7.6)], atol=MM)
    # Its sill of 1.8 m is over the cut, and the wall goes on under it.
    side, = shapes(drawing, "openings", "side window", "overhead")
    assert np.allclose([side.min(0), side.max(0)], [(3.2, -0.4), (5.6, 0)], atol=MM)
    assert any(np.allclose(np.ptp(points, axis=0), [16.8, 0.4], atol=MM)
               for points in shapes(drawing, "walls", "south wall", "cut"))


def test_lamps_lie_where_the_scene_has_them_and_point_where_they_aim(cabin):
    scene, stage, drawing = cabin
    for light in scene.lights:
        made = symbol(drawing, "lamps", light.name)
        assert np.allclose(made.at, light.at[:2], atol=MM)
        assert made.attributes["HEIGHT"] == f"{light.at[2]:.2f} m"
    # Bodies of true size: the soft box's front is 0.4 m wide, and stands square to its aim.
    face, = (part.points for part in symbol(drawing, "lamps", "desk helper").parts if part.part == "face")
    chest = stage.places["clerk.chest"]
    east, north = (chest[:2] - (0.62, 1.2)) / np.hypot(*(chest[:2] - (0.62, 1.2)))
    assert np.ptp(face @ [-north, east]) == pytest.approx(0.4, abs=MM)
    # Tilted down by what lies under it, its 0.3 m show from above as their share across the aim.
    down = 1.75 - chest[2]
    tilt = down / np.hypot(down, np.hypot(*(chest[:2] - (0.62, 1.2))))
    assert np.ptp(face @ [east, north]) == pytest.approx(0.3 * tilt, abs=MM)
    # The line of aim ends at what it is aimed at: the arrow's tip.
    tips = np.concatenate(shapes(drawing, "beams", "desk helper", "aim"))
    assert np.hypot(*(tips - chest[:2]).T).min() < MM


def test_beams_open_to_half_of_their_peak(tmp_path):
    # 30 deg level: the lines stand 15 deg to each side of the aim, and start at the lens' edges.
    scene, stage = built(tmp_path, """
previz: 1
room: {size: [8 m, 8 m, 3 m]}
lights: [{name: spot, kind: fresnel, at: [4 m, 1 m, 1.5 m], aim: [4 m, 5 m, 1.5 m], beam: 30 deg, lens: 0.2 m,
          output: 9000 lm}]
""")
    drawing = plan.draw_plan(scene, stage, tags_of([scene]), scale=50, system="metric")
    lines = shapes(drawing, "beams", "spot", "beam")
    turns = sorted(np.degrees(np.arctan2(*(two - one))) for one, two in lines)
    assert np.allclose(turns, [-15, 15], atol=0.05)
    assert np.allclose(sorted(line[0][0] for line in lines), [3.9, 4.1], atol=0.002)
    # As far as what it is aimed at, 4 m on.
    assert np.allclose([line[1][1] for line in lines], 5.0, atol=0.01)


def test_cameras_lie_where_the_scene_has_them_and_see_their_angle(cabin):
    _, _, drawing = cabin
    made = symbol(drawing, "cameras", "A")
    assert np.allclose(made.at, (3.85, 0.85), atol=MM)
    assert np.hypot(*(made.parts[0].points - made.at).T).min() < 0.06
    edges = [np.subtract(two, one) for one, two in shapes(drawing, "cameras", "A", "field")]
    turns = sorted(np.degrees(np.arctan2(edge[1], edge[0])) for edge in edges)
    # Super 35, 24.89 mm wide, on 30 mm: t = 24.89 / 60 to each side, u = 9/16 t up and down. Looking down by
    # p = 3.45 deg, its lower corners are the widest from above: tan = t / (cos p - u sin p), 2 x 22.856 deg.
    assert turns[1] - turns[0] == pytest.approx(45.71, abs=0.02)
    for one, two in shapes(drawing, "cameras", "A", "field"):
        assert np.allclose(one, (3.85, 0.85), atol=MM)
        # They end at the walls.
        assert min(abs(two[0]), abs(two[0] - 5.2), abs(two[1]), abs(two[1] - 3.8)) < MM


def test_people_and_their_marks(shipped):
    scene, stage, tags, prints = shipped["engine-shed", "low sun"]
    drawing = plan.draw_plan(scene, stage, tags, scale=100, system="metric", prints=prints)
    outline = shapely.Polygon(max(shapes(drawing, "figures", "driver", "outline"), key=len))
    assert outline.contains(shapely.Point(12.2, 3.45))
    # Breadth of shoulders and depth of chest of a grown person; from memory, ANSUR II: 0.49 m and 0.25 m.
    assert 0.08 < outline.area < 0.25
    for mark, at in (("driver.buffers", (10.4, 3.7)), ("driver.side rods", (8.4, 3.7))):
        middle = np.mean(np.concatenate(shapes(drawing, "figures", mark, "mark")), axis=0)
        assert np.allclose(middle, at, atol=MM)
    ways = shapes(drawing, "figures", "driver", "way")
    assert np.allclose(ways, [[(12.2, 3.45), (10.4, 3.7)], [(10.4, 3.7), (8.4, 3.7)]], atol=MM)
    # Facing the engine from its side: straight north.
    arrow = shapes(drawing, "figures", "driver.side rods", "facing")[0]
    assert abs(arrow[1][0] - arrow[0][0]) < 0.05
    assert arrow[1][1] > arrow[0][1]


def test_running_dimensions_are_those_of_the_scene(cabin, yard):
    for scene, stage, drawing in (cabin, yard):
        east, north = entries(drawing, False), entries(drawing, True)
        tags = tags_of([scene])
        far = {"dusk through the window", "tower"}
        for light in scene.lights:
            if light.name in far:
                assert tags[light.name] not in east
                continue
            assert east[tags[light.name]] == pytest.approx(light.at[0], abs=MM)
            assert north[tags[light.name]] == pytest.approx(light.at[1], abs=MM)
        for grip in stage.grip:
            assert east[tags[grip.name]] == pytest.approx(grip.position[0], abs=MM)
            assert north[tags[grip.name]] == pytest.approx(grip.position[1], abs=MM)
        for camera in scene.cameras:
            tag = f"Cam {camera.name}"
            assert (east[tag], north[tag]) == pytest.approx(camera.at[:2], abs=MM)
        for figure in scene.figures:
            assert (east[figure.name], north[figure.name]) == pytest.approx(figure.at[:2], abs=MM)
    assert "1.55 m" in texts(cabin[2])


def test_a_room_has_its_sizes(cabin):
    # Along the west wall 1.5, 1.7 and 0.6 m to the north; 5.2 m across, 3.8 m deep.
    for text in ("5.20 m", "3.80 m", "1.50 m", "1.70 m", "0.60 m"):
        assert text in texts(cabin[2])
    assert "sill 0.95 m, head 2.15 m" in texts(cabin[2])


def test_what_stands_far_away_is_drawn_at_the_edge_in_its_true_direction(yard):
    scene, _, drawing = yard
    assert drawing.high[0] - drawing.low[0] < 20
    made = symbol(drawing, "lamps", "tower")
    assert made.at == (60, 30)
    shown = np.mean(np.concatenate([part.points for part in made.parts]), axis=0)
    aim = np.array([3.0, 3.0])
    along = (np.array([60, 30]) - aim) / np.hypot(57, 27)
    away = shown - aim
    assert abs(away @ [-along[1], along[0]]) < 0.3
    assert 0 < away @ along < 15
    assert shapes(drawing, "beams", "tower", "break")
    assert {"east 60.00 m,", "north 30.00 m"} <= set(texts(drawing))


def test_a_boom_goes_to_its_stand(yard):
    _, stage, drawing = yard
    line, = shapes(drawing, "grip", "lantern", "boom")
    assert np.allclose(line, [(3, 5), stage.places["lantern.boom end"][:2]], atol=MM)
    stand, = (mark for mark in drawing.marks if isinstance(mark, Disc) and mark.part == "stand")
    assert np.allclose(stand.at, line[1])


def test_what_stands_in_the_light_is_drawn_at_its_true_width(yard):
    _, stage, drawing = yard
    line, = shapes(drawing, "grip", "card", "width")
    assert np.allclose(sorted(line.tolist()), [(1.6, 3.0), (1.6, 4.2)], atol=MM)
    # The ticks of a board are behind its face, which looks east.
    ticks = np.array(shapes(drawing, "grip", "card", "pattern"))
    assert np.all(ticks[:, 1, 0] < 1.6)
    patterns = {name: len(shapes(drawing, "grip", name, "pattern"))
                for name in ("card", "silk", "cutter", "lace", "cells")}
    assert patterns["silk"] == patterns["cutter"] == 1
    assert min(patterns["card"], patterns["lace"], patterns["cells"]) >= 3
    assert "lower edge 0.70 m" in texts(drawing)


def test_without_a_room_lengths_count_from_a_cross(yard):
    scene, _, drawing = yard
    assert len(shapes(drawing, "dimensions", "origin", "origin")) == 2
    assert entries(drawing, False)["origin"] == 0
    assert any("ringed cross" in key.text for key in plan_keys(drawing, scene))


def test_north_and_the_sun_turn_with_the_set(yard):
    # True north 30 deg clockwise of up; the sun at 120 deg stands 150 deg clockwise of up.
    _, _, drawing = yard
    compass, = (mark for mark in drawing.marks if isinstance(mark, Disc) and mark.part == "compass")
    sun, = (mark for mark in drawing.marks if isinstance(mark, Disc) and mark.name == "sun")
    turn = np.degrees(np.arctan2(*np.subtract(sun.at, compass.at)))
    assert turn == pytest.approx(150, abs=0.1)
    tip = np.mean([points[0] for points in shapes(drawing, "sheet", "north", "north")], axis=0)
    assert np.degrees(np.arctan2(*np.subtract(tip, compass.at))) == pytest.approx(30, abs=0.1)


def test_what_is_off_or_hung_or_in_shot_is_drawn_so(shipped, yard):
    scene, stage, tags, prints = shipped["carriage-window", "afternoon"]
    drawing = plan.draw_plan(scene, stage, tags, scale=20, system="metric", prints=prints)
    lamp = symbol(drawing, "lamps", "reading lamp")
    assert {part.part for part in lamp.parts} == {"outline", "face", "hung", "in shot"}
    assert all(part.pen == "hidden" for part in lamp.parts if part.part in ("outline", "face"))
    assert lamp.attributes["LEVEL"] == "off"
    keys = " ".join(key.text for key in plan_keys(drawing, scene))
    assert "off" in keys
    assert "Hung overhead" in keys
    assert "Board" not in keys
    # What is under a large soft lamp overhead is to be seen.
    assert all(part.fill == "" for part in symbol(yard[2], "lamps", "top").parts)


def test_a_lamp_that_shines_straight_down_says_so_and_hides_nothing(tmp_path):
    scene, stage = built(tmp_path, """
previz: 1
room: {size: [4 m, 4 m, 3 m]}
lights: [{name: low, kind: panel, at: [1 m, 1 m, 2 m], aim: [1 m, 1 m, 0 m], size: [0.6 m, 0.3 m],
          output: 900 lm}]
""")
    drawing = plan.draw_plan(scene, stage, tags_of([scene]), scale=50, system="metric")
    assert "PA · h 2.00 m · down" in texts(drawing)
    parts = symbol(drawing, "lamps", "low").parts
    assert all(part.fill == "" for part in parts)
    # Face of its true size: 0.6 by 0.3 m.
    face, = (part.points for part in parts if part.part == "face")
    assert sorted(np.ptp(face, axis=0)) == pytest.approx([0.3, 0.6], abs=MM)
    assert not shapes(drawing, "beams", "low")


def test_names_of_many_lamps_at_one_place_can_be_read(tmp_path):
    lamps = "".join(f"  - {{name: lamp with a long name {chr(97 + k)}, kind: bulb, output: 900 lm, "
                    f"at: [{0.3 + 0.05 * k:.2f} m, {3.5 - 0.03 * k:.2f} m, 2 m]}}\n" for k in range(16))
    scene, stage = built(tmp_path, f"previz: 1\nroom: {{size: [5 m, 4 m, 3 m]}}\nlights:\n{lamps}")
    drawing = plan.fitted_plan(scene, stage, tags_of([scene]), PAGES["a4"], system="metric")
    assert faults(drawing, room(PAGES["a4"]).size) == []
    assert {light.name for light in scene.lights} <= set(texts(drawing))


@pytest.mark.parametrize("text", ["previz: 1\n", "previz: 1\nroom: {size: [3 m, 3 m, 2.5 m]}\n", """
previz: 1
lights: [{name: far, kind: bulb, at: [500 m, -300 m, 2 m], output: 900 lm}]
"""])
def test_scenes_with_next_to_nothing_have_a_plan(tmp_path, text):
    scene, stage = built(tmp_path, text)
    drawing = plan.fitted_plan(scene, stage, tags_of([scene]), PAGES["a4"], system="imperial")
    assert faults(drawing, room(PAGES["a4"]).size) == []
    # At once at a scale of a set, not of a map.
    assert drawing.scale <= 100


def test_what_no_scale_has_room_for_is_told(tmp_path):
    scene, stage = built(tmp_path, "previz: 1\nroom: {size: [900 m, 4 m, 3 m]}\n")
    with pytest.raises(RequestError, match="no room on the page"):
        plan.fitted_plan(scene, stage, {}, PAGES["a4"], system="metric")


def test_every_kind_of_lamp_has_letters_of_its_own():
    assert set(CODES) == set(LIGHTS)
    assert len(set(CODES.values())) == len(CODES)
    for kind, code in CODES.items():
        assert code[0] == kind[0].upper()
        assert len(code) == 2
        # In their order in the kind's word.
        assert code[1] in kind.upper()[1:]


@pytest.mark.parametrize("kind", list(LIGHTS))
def test_every_kind_of_lamp_is_drawn(tmp_path, kind):
    fields = ", ".join(f"{key}: {value}" for key, value in LIGHTS[kind].sample.items())
    at = "" if kind == "glow" else "at: [2 m, 1 m, 2 m], "
    scene, stage = built(tmp_path, f"""
previz: 1
room: {{size: [4 m, 4 m, 3 m]}}
pieces: [{{name: sign, shape: box, at: [2 m, 1 m, {1.9 if kind == "glow" else 0.5} m],
          size: [0.5 m, 0.1 m, 0.2 m]}}]
lights: [{{name: one, kind: {kind}, {at}{fields}}}]
""")
    drawing = plan.draw_plan(scene, stage, tags_of([scene]), scale=50, system="metric")
    made = symbol(drawing, "lamps", "one")
    outline = np.concatenate([part.points for part in made.parts if part.part == "outline"])
    # Never under 4 mm of paper.
    assert np.ptp(outline, axis=0).max() >= 0.2 - 1e-6
    assert np.hypot(*(outline.mean(axis=0) - (2, 1))) < 0.6
    assert any(text.startswith(f"{CODES[kind]} · h ") for text in texts(drawing))


def test_a_legend_stays_within_its_samples(cabin, yard):
    for scene, _, drawing in (cabin, yard):
        for key in plan_keys(drawing, scene):
            for part in key.parts:
                if isinstance(part, Words):
                    points = corners(part)
                elif isinstance(part, Disc):
                    points = np.add(part.at, [[-part.radius] * 2, [part.radius] * 2])
                else:
                    points = part.points
                assert np.all(np.abs(points) <= (4.55, 2.55)), key.text


def test_margins_hold_what_stands_beside_the_extent(cabin, shipped):
    scene, stage, drawing = cabin
    low, high = plan.plan_extent(scene, stage)
    # The walls from outside; the lamp 3 m beyond the window is not to scale.
    assert np.allclose([low, high], [(-0.25, -0.25), (5.45, 4.05)])
    less, more = plan.margins(25)
    # About: at a scale of 1:25, to 10 mm of paper; on the west side stands a lamp's name besides.
    assert (np.subtract(low, less) - drawing.low)[1] == pytest.approx(0, abs=0.25)
    assert (np.add(high, more) - drawing.high)[1] == pytest.approx(0, abs=0.25)
