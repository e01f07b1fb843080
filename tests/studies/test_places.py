"""A lamp moved for what is wanted: what it gives straight, where it may stand, and a place that does."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from click.testing import CliRunner

from previz.cli.balance import box, widths
from previz.cli.main import previz
from previz.errors import RequestError
from previz.physics.beam import cosine_power
from previz.rendering.request import Request
from previz.scene.read import load
from previz.scene.records import Target
from previz.sight.straight import Points, Stand, in_frame, parts_of, straight
from previz.stage import shapes
from previz.stage.records import Emitter
from previz.studies.balance import balance
from previz.studies.balance.placed import Move, Place, Placed
from previz.studies.balance.sheet_places import steps

SHED = """\
previz: 1
title: Lamp over two marks
room:
  size: [6 m, 4 m, 3 m]
  surfaces: {floor: {reflectance: 0.02}, walls: {reflectance: 0.02}, ceiling: {reflectance: 0.02}}
pieces:
  - {name: post, shape: box, at: [1 m, 2 m], size: [0.5 m, 0.5 m, 2 m], surface: {reflectance: 0.02}}
lights:
  - {name: ball, kind: lantern ball, at: [3 m, 2 m, 2 m], diameter: 0.2 m, output: 5000 lm}
  - {name: box, kind: soft box, at: [5.5 m, 3.5 m, 2 m], aim: [3 m, 2 m, 0 m], size: [0.6 m, 0.4 m],
     output: 3000 lm, on: no}
cameras:
  - {name: A, at: [3 m, 0.3 m, 1.5 m], aim: [3 m, 0.05 m, 1.5 m], lens: 35 mm, stop: T2.8, iso: 800}
meters:
  - {name: left mark, at: [2 m, 2 m, 0.01 m]}
  - {name: right mark, at: [4 m, 2 m, 0.01 m]}
"""

UP = Points(np.array([[0.0, 0, 0]]), np.array([[0.0, 0, 1]]), np.array([False]))
DOWN = np.array([[[1.0, 0, 0], [0, -1, 0], [0, 0, -1]]])


def over(height, scale=1.0):
    """A lamp that shines straight down."""
    return Stand(np.array([[0, 0, height]]), DOWN, np.array([scale]))


def disc_part(radius, table=None):
    """A disc that shines along its own z, as points."""
    corners, faces = shapes.disc(radius)
    emitter = Emitter(0, "disc", corners, faces, 1.0, table)
    stage = SimpleNamespace(lamps=[SimpleNamespace(name="disc")], emitters=[emitter])
    return parts_of(stage, "disc", np.zeros(3), np.eye(3))


def total(parts, stand, points):
    """What all pieces of a lamp give."""
    return sum(straight(part, stand, points).sum(axis=1) for part in parts)


@pytest.mark.parametrize(("radius", "distance"), [(0.05, 2.0), (0.5, 2.0), (1.0, 2.0)])
def test_a_disc_overhead_lights_a_point_as_it_should(radius, distance):
    """A Lambertian disc of one lumen straight above gives E = pi L sin² = 1 / (pi (r² + d²))."""
    light = total(disc_part(radius), over(distance), UP)
    # Twelve points stand for the disc, drawn with a polygon of a few dozen sides.
    assert light[0, 0] == pytest.approx(1 / (np.pi * (radius**2 + distance**2)), rel=0.03)


def test_light_falls_by_distance_cosine_beam_and_kind_of_receptor():
    """A small lamp with a beam: I(theta) cos / r² at a flat receptor, half of 1 + cos at a domed one."""
    table = cosine_power(8.0)
    aside = Points(np.array([[1.5, 0, 0], [1.5, 0, 0]]), np.array([[0, 0, 1.0], [0, 0, 1.0]]),
                   np.array([False, True]))
    light = total(disc_part(1e-3, table), over(2.0), aside)
    # 3-4-5: the point lies 2.5 m away, at a cosine of 0.8.
    intensity = float(table.intensity(np.degrees(np.arccos(0.8))))
    assert light[0] == pytest.approx([intensity * 0.8 / 6.25, intensity * 0.9 / 6.25], rel=1e-3)
    # Twice as large is four times the area, and from a lumen the same light far away.
    twice = total(disc_part(1e-3, table), over(2.0, scale=2.0), aside)
    assert twice == pytest.approx(light, rel=1e-3)


def test_what_may_lie_in_a_frame_is_told_with_its_size():
    """A ball beside the frame by less than its radius reaches into it; behind the camera nothing does."""
    camera = SimpleNamespace(position=np.zeros(3), world_from_camera=np.eye(3), tan_half=(0.5, 0.3))
    assert in_frame(camera, np.array([0.9, 0, 2.0]), 0.0)
    assert not in_frame(camera, np.array([1.2, 0, 2.0]), 0.1)
    assert in_frame(camera, np.array([1.2, 0, 2.0]), 0.3)
    assert not in_frame(camera, np.array([0, 0, -1.0]), 0.1)


def test_boxes_and_widths_are_read():
    """Ends in metres; what is none says what to write."""
    assert box("0.5..3, -1..2.5 , 1.2..2.4 m") == ((0.5, 3), (-1, 2.5), (1.2, 2.4))
    assert widths("0.6 m to 1.5 m") == (0.6, 1.5)
    assert widths("60 cm") == (0.6, 0.6)
    for read, wrong in ((box, "1..2, 3..4"), (box, "2..1, 0..1, 0..1"), (widths, "2 m to 1 m")):
        with pytest.raises(Exception, match="write"):
            read(wrong)


@pytest.fixture(scope="module")
def shed(tmp_path_factory):
    path = tmp_path_factory.mktemp("places") / "shed.yaml"
    path.write_text(SHED, encoding="utf-8")
    return path


WANTS = ["meter left mark 0", "meter right mark -2"]


@pytest.mark.engine
def test_the_lamp_goes_where_both_levels_are_met(shed):
    """Two stops between two marks on the floor: no level of a lamp in the middle does it, its place does.

    A small ball gives I h / r³ at each (inverse square and cosine law): its coordinates say the ratio.
    """
    file, request = load(shed), Request(shed.parent / "frames", quality="draft")
    found = balance(file, "", request, wants=WANTS, pictures=False,
                    move=Move("ball", within=((1.0, 5.0), (1.0, 3.0), (1.0, 2.5))))
    placed = found.placed
    assert placed.better
    assert (placed.now.met, placed.best.met) == (0, 2)
    at = np.array(placed.best.item.at)
    assert np.all(at >= [1, 1, 1])
    assert np.all(at <= [5, 3, 2.5])
    left, right = (np.sum((at - [x, 2, 0.01]) ** 2) ** -1.5 for x in (2, 4))
    # What counts as met is 0.1 stop for each; black walls still send a little.
    assert np.log2(left / right) == pytest.approx(2, abs=0.25)
    assert found.met
    # What is told of before is of the old place: both marks alike.
    before = [each.value.value for each in found.solution.before]
    assert before[0] == pytest.approx(before[1], abs=0.1)
    assert f"Move 'ball' to x {at[0]:.2f}, y {at[1]:.2f}" in " ".join(found.said)
    there = [each["value"] for each in found.rows()
             if each["quantity"] == "place_x" and each["note"] == "moved there"]
    assert there == [at[0]]
    found.save("moved")
    saved = load(shed).scene("moved")
    assert saved.lights[0].at == placed.best.item.at
    assert saved.lights[0].dimmer == found.changed.lights[0].dimmer
    # Where levels do, nothing is looked for.
    stays = balance(file, "", request, wants=WANTS[1:], pictures=False, move=Move("ball"))
    assert not stays.placed.better
    assert "levels alone meet every want" in " ".join(stays.said)


@pytest.mark.engine
@pytest.mark.parametrize(("move", "told"), [
    (Move("key"), "There is no lamp 'key'"),
    (Move("ball", sizes=(0.5, 1.0)), "no front"),
    (Move("box"), "is off"),
    (Move("ball", aims=(Target("post"),)), "is not aimed"),
    (Move("ball", within=((0.8, 1.2), (1.8, 2.2), (0.5, 1.5))), "nowhere in the box"),
    (Move("ball", within=((-0.1, -0.05), (1.8, 2.2), (0.5, 1.5))), "nowhere in the box"),
])
def test_what_cannot_be_moved_so_is_refused(shed, move, told):
    """No such lamp, one that is off, no size or aim to change, a box that lies in a post or in a wall."""
    request = Request(shed.parent / "frames", quality="draft")
    with pytest.raises(RequestError, match=told):
        balance(load(shed), "", request, wants=WANTS, pictures=False, move=move)


def test_how_a_lamp_may_be_moved_needs_a_lamp(shed):
    """The words of a box belong to --move."""
    done = CliRunner().invoke(previz, ["balance", str(shed), "--want", WANTS[0], "--keep-side"])
    assert done.exit_code == 2
    assert "name it with --move" in " ".join(done.output.split())


def test_what_is_said_names_coordinates_sizes_and_limits(shed):
    """A place that does better is named with all that changes; else that none does."""
    light = load(shed).scene().lights[1]
    now, there = Place(light, 1.0, 1), Place(replace(light, at=(5.5, 3.5, 1.0), size=(1.2, 0.8)), 0.0, 2)
    said = " ".join(Placed(light, there, now, (there,), 500, ("the least z, 1.00 m",), 2).words())
    assert "Move 'box' to x 5.50, y 3.50, z 1.00 m, 1.20 x 0.80 m large: 1.00 m from where it stands" in said
    assert "2 of 2 wants are met then, 1 where it stands (500 places looked at, 1 metered)" in said
    assert "held back by the least z, 1.00 m" in said
    nearer = replace(there, missed=0.5, met=1)
    said = Placed(light, nearer, now, (nearer,), 500, (), 2).words()[0]
    assert ("No place that was tried meets more wants than 1 of 2, but they miss by 0.50 stops on average "
            "then, by 0.71 where it stands") in said
    assert Placed(light, now, now, (there,), 500, (), 2).words() == [
        "No other place of 'box' does better (500 places looked at, 1 metered)."]


def test_a_sheet_is_tried_nearer_and_aside():
    """Steps along its facing, level aside and square to both, the smallest first; straight up as well."""
    made = np.array(steps(np.array([0.0, 2.0, 0.0])))
    assert len(made) == 11
    assert np.all(np.diff(np.linalg.norm(made, axis=1)) >= -1e-9)
    # Every step is along one of three square directions.
    assert np.all((np.abs(made) > 1e-9).sum(axis=1) == 1)
    assert made[:, 1].max() == pytest.approx(1.0)
    assert np.abs(np.array(steps(np.array([0, 0, 3.0])))).max(axis=0) == pytest.approx([0.5, 0.25, 1.0])


BOARD = SHED.replace("meters:", """\
boards:
  - {name: card, at: [1.3 m, 3.2 m, 1 m], facing: [3 m, 3.2 m, 1 m], size: [1 m, 1 m]}
meters:
  - {name: front, at: [3 m, 3.2 m, 1 m], facing: [6 m, 3.2 m, 1 m]}
  - {name: back, at: [2.98 m, 3.2 m, 1 m], facing: [0 m, 3.2 m, 1 m]}""").replace(
      "at: [3 m, 2 m, 2 m], diameter", "at: [4.5 m, 3.2 m, 1.4 m], diameter")


@pytest.mark.engine
@pytest.mark.long
def test_a_board_is_brought_nearer_for_more_fill(tmp_path):
    """What comes off a board rises as it is brought nearer: the want that no level meets is met."""
    path = tmp_path / "board.yaml"
    path.write_text(BOARD, encoding="utf-8")
    request = Request(tmp_path / "frames", quality="draft")
    plain = balance(load(path), "", request, wants=["meter front 0", "meter back -9"], pictures=False)
    off = plain.solution.after[1].value.value - plain.solution.after[0].value.value
    wants = ["meter front 0, within 0.05", f"meter back {off + 0.6:.2f}, within 0.2"]
    found = balance(load(path), "", request, wants=wants, pictures=False, move=Move("card"))
    assert found.placed.better
    assert found.met
    # The nearest step that does: (1.7 m over 1.45 m) squared is 0.46 stops, within 0.2 of 0.6.
    assert found.placed.best.item.at == (1.55, 3.2, 1.0)
    found.save("nearer")
    assert load(path).scene("nearer").boards[0].at == found.placed.best.item.at
