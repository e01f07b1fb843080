"""`previz study`: one lamp in several uses, in a room where geometry says what to expect."""

import importlib.util
import json
from pathlib import Path
from types import SimpleNamespace

import click
import numpy as np
import pytest
import snapshot
from click.testing import CliRunner

from previz.cli.main import previz
from previz.cli.study import lengths
from previz.deliver import study_sheet
from previz.deliver.study_sheet import lit_part
from previz.exposure.comparing.wrap import Ring, ring_angles, worst_of
from previz.exposure.meter_report import CameraNote
from previz.exposure.metering import Measured
from previz.frames.records import Short
from previz.physics.exposure import CameraSettings
from previz.rendering.progress import Progress
from previz.rendering.request import Request
from previz.scene.modifiers import Diffusion
from previz.scene.read import load
from previz.scene.records import Target
from previz.stage.build import build_stage
from previz.studies.study import Study, study
from previz.studies.study.pictures import frame_share, middle_steps, on_face
from previz.studies.study.ring import Use
from previz.studies.study.run import lit_by
from previz.studies.study.setups import BOARD_HEIGHT, BOARD_SIDE, Setups, pinned

spec = importlib.util.spec_from_file_location("sheet_numbers", Path(__file__).parents[1] / "sheet_numbers.py")
sheet_numbers = importlib.util.module_from_spec(spec)
spec.loader.exec_module(sheet_numbers)

# A black room, so that the lamp's own light is all there is.
SCENE = """\
previz: 1
title: Dark store
room: {size: [8 m, 8 m, 4 m], surfaces: {walls: {reflectance: 0.01}, floor: {reflectance: 0.01},
       ceiling: {reflectance: 0.01}}}
figures:
  - {name: clerk, person: person one, hair: none, pose: standing, at: [4 m, 3 m],
     facing: [4 m, 8 m, 1.6 m]}
lights:
  - {name: spot, kind: fresnel, at: [5 m, 7 m, 1.6 m], aim: clerk.face, beam: 40 deg, lens: 0.2 m,
     output: 20000 lm, watts: 500 W}
  - {name: other, kind: bulb, at: [1 m, 1 m, 2 m], output: 100 lm}
boards:
  - {name: old card, at: [2 m, 6 m, 1.6 m], facing: clerk.face, size: [1 m, 1 m]}
cameras:
  - {name: A, at: [4 m, 6 m, 1.6 m], aim: clerk.eyes, lens: 35 mm, stop: T2.8, iso: 800}
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    found = tmp_path_factory.mktemp("study")
    (found / "store.yaml").write_text(SCENE, encoding="utf-8")
    return found


@pytest.fixture(scope="module")
def found(folder):
    """The study of the spot, once."""
    said = []
    request = Request(folder / "out" / "frames", (64, None), "draft", samples=2, error=0.02)
    return study(load(folder / "store.yaml").scene(), request, lamp="spot", figure="clerk",
                 sizes=(0.6, 1.2), distances=(1.5, 9.0), progress=Progress(message=said.append)), said


@pytest.mark.engine
@pytest.mark.slow
def test_the_ladder_is_climbed_and_what_does_not_fit_is_said(found):
    """Direct, two frames and two boards; at 9 m neither fits, and why is said."""
    result, said = found
    assert [step.name for step in result.steps] == [
        "direct", "frame 0.6 m at 1.5 m", "frame 1.2 m at 1.5 m", "board 0.6 m at 1.5 m",
        "board 1.2 m at 1.5 m"]
    assert len(said) == 4 and "the lamp stands" in said[0] and "outside the room" in said[2]
    assert (result.lamp, result.kind, result.figure) == ("spot", "fresnel", "clerk")
    snapshot.hold_rows("study", result.rows())


@pytest.mark.engine
@pytest.mark.slow
def test_direct_light_is_small_and_wraps_as_a_point_does(found):
    """A 0.2 m lens some 4 m off: half at 60° and 83°, size and edge by geometry (check value 1.22)."""
    direct = found[0].steps[0]
    far = found[0].throw
    assert direct.across == pytest.approx(2 * np.degrees(np.arctan(0.1 / far)), rel=0.05)
    # The ring is 8.5 cm round: its front is nearer, which takes a degree off. Noise of 2 %.
    assert direct.wrap == pytest.approx(59.3, abs=2.5)
    assert direct.ends == pytest.approx(82.8, abs=3.5)
    assert direct.loss == 0.0
    assert direct.per_watt == pytest.approx(direct.ring.peak / 500)


@pytest.mark.engine
@pytest.mark.slow
def test_frames_and_boards_soften_and_cost_light(found):
    """Larger is softer and brighter; a 1.2 m frame at 1.5 m appears 43.6° wide where it is filled."""
    direct, small, large, card, wide = found[0].steps
    assert all(step.loss < -0.5 for step in (small, large, card, wide))
    assert large.loss > small.loss and wide.loss > card.loss
    assert direct.edge < small.edge < large.edge
    # 2 atan(0.3 / 1.48) and 2 atan(0.6 / 1.48): the view is taken 2 cm before the nose.
    assert small.across == pytest.approx(2 * np.degrees(np.arctan(0.3 / 1.48)), rel=0.05)
    assert large.across == pytest.approx(2 * np.degrees(np.arctan(0.6 / 1.48)), rel=0.05)


@pytest.mark.engine
@pytest.mark.slow
def test_a_frame_gives_what_radiometry_says(found):
    """A Lambertian cloth lit by E sends L = tau E / pi; on the axis of a square F is check value 1.5.

    The spot's beam is nearly even over 0.6 m at 2.6 m, so E is its intensity over the distance
    squared, and the face reads pi L F.
    """
    direct, small = found[0].steps[0], found[0].steps[1]
    far = found[0].throw
    at_cloth = direct.ring.peak * far**2 / (far - 1.5) ** 2
    a = 0.3 / 1.5
    quarter = 2 * a / np.sqrt(1 + a * a) * np.arctan(a / np.sqrt(1 + a * a)) / (2 * np.pi)
    expected = 0.5 * at_cloth * 4 * quarter
    # The beam falls off a little to the cloth's corners, and the ring stands off the nose: 15 %.
    assert small.ring.peak == pytest.approx(expected, rel=0.15)


@pytest.mark.engine
@pytest.mark.slow
def test_pictures_are_of_the_middle_of_each_ladder(found):
    """One of each kind, the middle of the sizes at the middle of the distances."""
    names = [step.name for step in middle_steps(found[0].steps)]
    assert names == ["direct", "frame 1.2 m at 1.5 m", "board 1.2 m at 1.5 m"]
    # At 1.5 m the 1.2 m frame stands in the shot, the smaller one less.
    assert [example.name for example in found[0].pictures.examples] == [
        "direct", "frame 0.6 m at 1.5 m", "board 1.2 m at 1.5 m"]
    # 64 px wide and 16 : 9; draft is half of that.
    stills = [still for example in found[0].pictures.examples for row in example.pictures for still in row]
    assert [still.shape for still in stills] == [(18, 32, 3)] * 3


@pytest.mark.engine
@pytest.mark.slow
def test_every_number_on_the_sheet_is_a_row(found, tmp_path):
    """What is drawn is among the rows, and without the rows of any column a number would be missing."""
    result = found[0]
    with sheet_numbers.drawing() as texts:
        result.sheet(tmp_path / "sheet")
    rows, constants = result.rows(), [f"{head}  {words}" for head, words in study_sheet.TERMS]
    constants += [words for _, words in study_sheet.TERMS]
    missing = sheet_numbers.missing(texts, rows, constants)
    assert missing == [], missing
    needed = sheet_numbers.needed(texts, rows, constants)
    assert {"stops_from_working", "loss", "output_for_same_light",
            "source_width", "nose_edge", "wrap_to_half", "wrap_to_eighth", "spill_from_brightest"} <= needed


@pytest.mark.engine
@pytest.mark.slow
def test_errors_follow_from_the_meters(found):
    """Of a quotient the relative errors add in squares; log2 divides by x ln 2 (error propagation)."""
    rows = {(row["use"], row["quantity"]): row for row in found[0].rows()}
    use, per_stop = "frame 0.6 m at 1.5 m", np.log(2)
    share = {name: rows[name, "brightest"]["standard_error"] / rows[name, "brightest"]["value"]
             for name in ("direct", use)}
    # Meters were run to 2 %; that is of the brightest, which may be better.
    assert all(0 < each <= 0.02 for each in share.values())
    both = np.hypot(share["direct"], share[use])
    loss, times = rows[use, "loss"], rows[use, "output_for_same_light"]
    assert loss["standard_error"] == pytest.approx(both / per_stop)
    assert times["standard_error"] == pytest.approx(times["value"] * both)
    assert rows["direct", "loss"]["standard_error"] == 0
    assert rows["direct", "brightest_per_watt"]["standard_error"] == pytest.approx(
        rows["direct", "brightest"]["standard_error"] / 500)
    assert 0 < rows[use, "wrap_to_half"]["standard_error"] < 2


def test_the_error_of_a_wrap_angle_follows_its_meters():
    """One noisy meter just inside the half: the slope of a straight line between two points.

    From inner I to outer O, c in between is met at s (I - c) / (I - O), which moves by
    s (c - O) / (I - O)² for each unit of I; the other side stays, so half of it counts.
    """
    angles = ring_angles(36)
    lux = 1000 * np.maximum(np.cos(np.radians(angles)), 0.02)
    inner, outer = (int(np.argmin(np.abs(angles - each))) for each in (50, 60))
    # 60° is the half itself to rounding, so a little more than that.
    part = 0.55
    error = 4.0
    use = Use("direct", 0.1, 4.0, Ring(angles, lux), *[0.0] * 7,
              readings=tuple(Measured(each, error * (i == inner)) for i, each in enumerate(lux)))
    level = part * lux.max()
    slope = 10 * (level - lux[outer]) / (lux[inner] - lux[outer]) ** 2
    # 200 draws: a standard deviation is right to 5 %, three of them.
    assert use.wrap_error(part) == pytest.approx(error * slope / 2, rel=0.15)
    assert use.wrap_error(1 / 8) < 1e-9


def test_what_is_no_number_says_why():
    """A lamp that gives nothing, is not seen and draws nothing: no row without a number lacks a note."""
    dark, nothing = float("nan"), Measured(0.0, 0.0)
    use = Use("board", 1.0, 2.0, Ring(ring_angles(36), np.zeros(36)), -np.inf, dark, dark, dark, dark, dark,
              dark, None, readings=(nothing,) * 36, wall=nothing)
    camera = CameraNote("A", CameraSettings(stop=2.8, iso=800, shutter_s=1 / 48))
    rows = Study("t", "", "lamp", "bulb", "clerk", (use,), (), "back wall", 4.0, camera).rows()
    assert [row for row in rows if row["value"] is None and not row["note"]] == []
    assert {row["quantity"]: row["note"] for row in rows if row["value"] is None}["loss"] == "no light"


def test_targets_become_points(folder):
    """A thing that is pinned needs none of the things that it named."""
    scene = load(folder / "store.yaml").scene()
    stage = build_stage(scene)
    lamp = pinned(scene.lights[0], stage.places)
    assert lamp.aim.point == pytest.approx(tuple(stage.places["clerk.face"]))
    assert scene.lights[0].aim == Target("clerk.face")


@pytest.mark.parametrize("side", [-1, 1])
def test_a_board_stands_across_from_the_lamp(side):
    """At the stated height and bearing, on the other side of the face; the scene's own where it has one."""
    head = SimpleNamespace(nose=np.array([1.0, 2.0, 1.6]), ahead=np.array([0.6, 0.8, 0.3]))
    left = np.array([-0.8, 0.6, 0.0])
    lamp = SimpleNamespace(at=tuple(head.nose + 2 * head.ahead + side * left))
    setups = Setups(SimpleNamespace(boards=()), None, lamp, head, (1.0,), (1.0,), 0.5, "white card")
    towards = setups._board_direction()
    assert np.linalg.norm(towards) == pytest.approx(1)
    assert np.degrees(np.arcsin(towards[2])) == pytest.approx(BOARD_HEIGHT)
    bearing = np.degrees(np.arctan2(towards[:2] @ left[:2], towards[:2] @ [0.6, 0.8]))
    assert bearing == pytest.approx(-side * BOARD_SIDE)
    own = SimpleNamespace(at=(1.0, 5.0, 1.6))
    setups = Setups(SimpleNamespace(boards=(own,)), None, lamp, head, (1.0,), (1.0,), 0.5, "white card")
    assert setups._board_direction() == pytest.approx([0, 1, 0])


@pytest.mark.engine
def test_the_command_writes_a_sheet(found, folder):
    """One small step of the ladder, without pictures; its meters have been run."""
    done = CliRunner().invoke(previz, [
        "study", str(folder / "store.yaml"), "--lamp", "spot", "--sizes", "60 cm", "--distances",
        "1.5 m", "--no-pictures", "--quality", "draft", "--out", str(folder / "out"), "--json"])
    assert done.exit_code == 0, done.output
    # Numbers have standard output to themselves.
    assert {row["use"] for row in json.loads(done.stdout)["rows"]} == {
        "", "direct", "frame 0.6 m at 1.5 m", "board 0.6 m at 1.5 m"}
    for name in ("study-spot-draft.png", "study-spot-draft.pdf"):
        assert name in done.stderr and (folder / "out" / name).exists()


@pytest.mark.parametrize(("words", "message"), [
    (["--lamp", "spott"], "no lamp 'spott'. Did you mean 'spot'?"),
    (["--face", "clark"], "no figure 'clark'"),
    (["--board", "silk"], "no surface in the library 'silk'"),
    (["--sizes", "big"], "--sizes"),
    (["--camera", "B"], "no camera 'B'"),
    (["--json", "--csv"], "Give --json or --csv, not both."),
])
@pytest.mark.engine
def test_wrong_words_are_answered(folder, words, message):
    """Names and lengths are checked before anything is traced."""
    done = CliRunner().invoke(previz, ["study", str(folder / "store.yaml"), *words])
    assert done.exit_code == 2
    assert message in done.output


def test_ladders_are_read():
    """Lengths with their units, smallest first, each once."""
    assert lengths("4 ft, 0.6 m, 60 cm") == pytest.approx((0.6, 1.2192))
    for wrong in ("1, 2", "0 m", "1 m, 2 m, 3 m, 4 m, 5 m, 6 m, 7 m"):
        with pytest.raises(click.BadParameter):
            lengths(wrong)


def test_a_picture_is_of_a_use_that_does_not_stand_in_the_shot():
    """The nearest to the middle that is clear; where none is, the one that takes least."""
    steps = [SimpleNamespace(kind="frame", size=size, distance=distance,
                             name=f"{size:g} at {distance:g}")
             for distance in (1.0, 2.0) for size in (0.6, 1.2, 2.4)]
    assert [s.name for s in middle_steps(steps)] == ["1.2 at 2"]
    shares = {"1.2 at 2": 0.5, "2.4 at 2": 0.9, "0.6 at 2": 0.2, "1.2 at 1": 0.0, "0.6 at 1": 0.0,
              "2.4 at 1": 0.3}
    assert [s.name for s in middle_steps(steps, lambda s: shares[s.name])] == ["1.2 at 1"]
    assert [s.name for s in middle_steps(steps, lambda s: shares[s.name] + 0.1)] == ["1.2 at 1"]
    assert [s.name for s in middle_steps(steps, lambda s: 0.9 - 0.1 * s.size)] == ["2.4 at 2"]


def test_a_frame_takes_the_share_that_geometry_has(folder):
    """A 0.5 m sheet square to the lens at 2 m: 0.25 m² of the frame's area there; behind, none."""
    camera = build_stage(load(folder / "store.yaml").scene()).cameras[0]
    ahead = camera.world_from_camera[:, 2]
    for far, size in ((2.0, 0.5), (-2.0, 0.5), (2.0, 50.0)):
        at = camera.position + far * ahead
        sheet = Diffusion(name="sheet", size=(size, size), at=tuple(at),
                          facing=Target("", tuple(at - ahead)), transmission=0.5, spread=1.0)
        wide, high = (2 * far * tan for tan in camera.tan_half)
        expected = min(size**2 / (wide * high), 1.0) if far > 0 else 0.0
        # 48 lines a side: an edge is right to half a line of each, 5 % of so small a sheet.
        assert frame_share(camera, sheet) == pytest.approx(expected, rel=0.1)


def test_the_face_is_the_one_the_lamp_is_on_and_the_camera_is_on_it(folder):
    """Of two people the lamp's own, seen by the camera that looks them in the face."""
    text = SCENE.replace("lights:", """  - {name: driver, person: person two, pose: standing, at: [4 m, 6 m],
     facing: [4 m, 0 m, 1.6 m]}
lights:""").replace("cameras:", """cameras:
  - {name: B, at: [3.6 m, 4 m, 1.6 m], aim: driver.eyes, lens: 35 mm, stop: T2.8,
     iso: 800}""")
    path = folder / "two.yaml"
    path.write_text(text, encoding="utf-8")
    scene = load(path).scene()
    faces = ["driver", "clerk"]
    assert lit_by(scene, "spot", faces) == "clerk"
    assert lit_by(scene, "other", faces) == "driver"
    stage = build_stage(scene)
    names = [camera.name for camera in stage.cameras]
    assert names[on_face(stage, "clerk")] == "A"
    assert names[on_face(stage, "driver")] == "B"


def test_the_lit_part_is_never_larger_than_the_sheet():
    """A slanted board's near edge fills 66° by 88° from 1 m; the board is still 1.2 m."""
    step = SimpleNamespace(kind="board", across=65.0, up=88.0, distance=1.0, size=1.2)
    assert lit_part(step) == pytest.approx((1.2, 1.2))
    step.across = 34.0
    # 2 · tan(17°) = 0.61.
    assert lit_part(step) == pytest.approx((0.61, 1.2), abs=0.01)
    assert lit_part(SimpleNamespace(kind="direct", across=1.0, up=1.0)) is None


def test_of_a_ring_the_worst_meter_that_counts_is_named():
    """Named as a crew has it; one in the dark is left out, and what is no part of the ring stays."""
    angles = ring_angles(36)
    lux = 1000 * np.maximum(np.cos(np.radians(angles)), 0.001)
    top, side = int(np.argmax(lux)), int(np.argmin(np.abs(angles - 60)))
    dark, wall = Short(f"ring {int(np.argmin(lux))}", 0.9, True), Short("back wall", 0.02, False)
    ring = Ring(angles, lux)
    assert worst_of([dark, wall], ring) == (wall,)
    bright, half = Short(f"ring {top}", 0.02, True), Short(f"ring {side}", 0.05, False)
    assert worst_of([bright, wall, dark], ring) == (Short("brightest", 0.02, True), wall)
    # Few paths anywhere that counts are said of the worst.
    assert worst_of([bright, half], ring) == (Short("worst meter round the head", 0.05, True),)
