"""`previz portrait`: the head that faces are judged on, and what the light has to do on it."""

import dataclasses
import importlib.util
import json
from pathlib import Path

import numpy as np
import pytest
import snapshot
from click.testing import CliRunner
from PIL import Image

from previz.cli.main import previz
from previz.exposure.camera import working_illuminance
from previz.exposure.mix import mix_xyz
from previz.scene.figure import Figure
from previz.scene.read import load
from previz.studies.portrait import studio
from previz.studies.portrait.run import mixed

spec = importlib.util.spec_from_file_location("sheet_numbers", Path(__file__).parents[1] / "sheet_numbers.py")
sheet_numbers = importlib.util.module_from_spec(spec)
spec.loader.exec_module(sheet_numbers)

TWO_FIGURES = """\
previz: 1
figures:
  - {name: clerk, at: [0 m, 0 m], facing: 90 deg}
  - {name: driver, at: [1 m, 0 m], facing: 90 deg}
"""


def run(*words):
    return CliRunner().invoke(previz, ["portrait", *words])


@pytest.mark.parametrize(
    ("words", "answer"),
    [
        (("--figure", "clerk"), "--figure and --option are for a SCENE; name one."),
        (("--person", "person nine"), "'person nine' is not one of 'person one'"),
        (("--fill", "3 stops"), "'3 stops' is out of range; write -10 to +0 stops."),
        (("--fill", "some"), "'some' is not a number"),
        (("two.yaml",), "The scene has 2 figures; name one with --figure: clerk, driver."),
        (("two.yaml", "--figure", "clark"), "no figure 'clark'. Did you mean 'clerk'?"),
        (("none.yaml",), "The scene has no figure; add one under 'figures:'"),
    ],
)
def test_what_cannot_be_is_answered(tmp_path, monkeypatch, words, answer):
    """A wrong word on the command line is answered with what to write, and nothing is rendered."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "two.yaml").write_text(TWO_FIGURES)
    (tmp_path / "none.yaml").write_text("previz: 1\n")
    done = run(*words)
    assert done.exit_code == 2
    assert answer in " ".join(done.output.split())
    assert not (tmp_path / "renders").exists()


def test_a_figure_leaves_its_marks_on_the_set():
    """They may face things that a studio does not have."""
    driver, = load(Path(__file__).parents[2] / "scenes" / "engine-shed.yaml").scene(None).figures
    assert any(mark.facing.text == "shunter" for mark in driver.marks if mark.facing is not None)
    stages = studio.studio(studio.studio_figure(driver))
    assert all(head.mark == "" for stage in stages.values() for head in stage.heads)


def figure(**more):
    return studio.studio_figure(Figure(name="x", at=(4.0, 2.0, 0.0), facing=20.0, **more))


def test_a_figure_of_a_scene_stands_up_for_its_portrait():
    """Whatever it does in the scene, the head is upright at the origin and looks into the lens."""
    sitter = figure(pose="leaning", seat=0.45, table=0.75, head_turn=30.0, skin="tan",
                    joints=(("left elbow flexion", 90.0),))
    stage = studio.studio(sitter)["hard"]
    eyes = stage.places["subject.eyes"]
    camera = stage.cameras[0]
    # Over the feet, and level with the lens: a nod of the head would move them by more.
    assert np.abs(eyes[0]) < 0.01
    assert camera.position == pytest.approx(eyes + [0, -studio.CAMERA_DISTANCE, 0], abs=0.01)
    assert {lamp.name for lamp in stage.lamps} == {
        *(each.name for each in studio.PLACEMENTS), studio.FILL["hard"]}


def test_placements_are_where_they_say():
    """Angles from the lens to camera left and up give the unit vector, the camera along +y."""
    by_name = {each.name: each.towards for each in studio.PLACEMENTS}
    # sin 45° cos 45° = 1/2; sin 45° = 0.7071.
    assert by_name["45° high"] == pytest.approx([-0.5, -0.5, np.sqrt(0.5)])
    assert by_name["side"][0] < -0.98
    assert by_name["three-quarter back"][1] > 0.6
    assert by_name["under"][2] < -0.7
    assert by_name["overhead"][2] > 0.99
    assert all(np.linalg.norm(each) == pytest.approx(1) for each in by_name.values())


@pytest.fixture(scope="module")
def soft():
    """The soft row's stage of a figure as it comes."""
    return studio.studio(figure())["soft"]


def test_one_lamp_and_its_fill(soft):
    """A picture has its key in full, the fill by its stops, and nothing else."""
    lamps = soft.lamps
    levels = {lamp.name: lamp.level for lamp in mixed(lamps, "side", "soft", -3.0)}
    # 2^-3.
    assert levels["side"] == 1 and levels["frontal"] == pytest.approx(0.125)
    assert sum(levels.values()) == pytest.approx(1.125)
    assert [lamp.level for lamp in mixed(lamps, "frontal", "soft", -3.0) if lamp.level] == [1]
    assert sum(lamp.level for lamp in mixed(lamps, "side", "soft", None)) == 1


class Seen:
    """The hard row of one head, rendered small, and where things are in its pictures."""

    def __init__(self, cache):
        from previz.engine.render import Sampling
        from previz.rendering.job import StageJob
        from previz.rendering.request import Order

        self.stage = studio.studio(figure(person="person two", skin="tan", hair="bun"))["hard"]
        self.frames = {}
        job = None
        for camera, size, samples in zip(self.stage.cameras, ((128, 160), (208, 80)), (16, 24),
                                         strict=True):
            other = StageJob(self.stage, Order(*size, Sampling(samples, 1, 1), 12, "auto", cache))
            if job is not None:
                other.share(job)
            job = other
            self.frames[camera.name] = job.render(camera, lambda *_: None)
        job.close()

    def luminance(self, placement, camera=studio.HEAD):
        """Return a picture in cd/m², with no fill."""
        return mix_xyz(self.frames[camera], mixed(self.stage.lamps, placement, "hard", None))[1]

    def pixel(self, point, camera=studio.HEAD):
        """Return the (row, column) of a point of the world."""
        view = next(each for each in self.stage.cameras if each.name == camera)
        rows, columns = self.frames[camera].shape
        x, y, z = view.world_from_camera.T @ (np.asarray(point) - view.position)
        across, up = x / z / view.tan_half[0], y / z / view.tan_half[1]
        return int((1 - up) / 2 * rows), int((1 + across) / 2 * columns)

    def near(self, picture, name, reach=2, camera=studio.HEAD):
        """Return the pixels about an anchor of the head."""
        row, column = self.pixel(self.stage.places[f"subject.{name}"], camera)
        return picture[row - reach : row + reach + 1, column - reach : column + reach + 1]


@pytest.fixture(scope="module")
def seen(tmp_path_factory):
    return Seen(tmp_path_factory.mktemp("frames"))


@pytest.mark.engine
def test_a_key_from_45_leaves_a_triangle_on_the_far_cheek(seen):
    """Across the far cheek, under the eye: the nose's shadow, then light again, then the dark."""
    picture = seen.luminance("45° high")
    eye, nose = (seen.stage.places[f"subject.{name}"] for name in ("left eye", "nose"))
    lit = np.median(seen.near(picture, "right cheek"))
    runs = []
    # Heights between the lower lid and the wing of the nose. [m]
    for height in np.linspace(eye[2] - 0.018, nose[2] + 0.004, 5):
        row, start = seen.pixel([nose[0], nose[1], height])
        _, end = seen.pixel([eye[0] + 0.035, eye[1], height])
        bright = picture[row, start:end] > 0.3 * lit
        # Lit, dark, lit, dark: three changes from the nose to the jaw.
        runs.append(int(np.abs(np.diff(bright.astype(int))).sum()))
    assert max(runs) >= 3, runs
    # The mouth's far corner and the jaw below it stay dark.
    row, column = seen.pixel(seen.stage.places["subject.left ear"])
    assert picture[row, column - 3] < 0.1 * lit


@pytest.mark.engine
def test_sockets_are_dark_under_toplight(seen):
    """With the lamp over the crown the eyes are 3 stops and more under the bridge of the nose."""
    picture = seen.luminance("overhead")
    eyes = max(np.median(seen.near(picture, f"{side} eye", 1)) for side in ("left", "right"))
    row, column = seen.pixel(seen.stage.places["subject.nose"])
    ridge = np.median(picture[row - 8 : row - 2, column - 1 : column + 2])
    assert ridge > 8 * eyes
    assert ridge > 0.2 * np.median(seen.near(seen.luminance("frontal"), "right cheek"))


@pytest.mark.engine
def test_both_eyes_have_their_eye_light(seen):
    """Over the lens, each pupil mirrors the lamp as a point many times as bright as itself."""
    picture = seen.luminance("frontal", studio.EYES)
    for side in ("left", "right"):
        # The pupil is 3.8 mm across and a pixel 0.7 mm.
        pupil = seen.near(picture, f"{side} eye", 2, studio.EYES)
        # A pupil sends back 0.4 % of what a lens of 3.4° over it mirrors at 2.5 %.
        assert pupil.max() > 20 * np.median(pupil)
        assert np.median(pupil) < 0.1 * np.median(picture)


@pytest.mark.engine
def test_the_lamp_behind_draws_an_edge_on_the_hair(seen):
    """From three-quarter back the hair on the lamp's side stands out and the face does not."""
    picture = seen.luminance("three-quarter back")
    row, column = seen.pixel(seen.stage.places["subject.crown"])
    edge = np.sort(picture[row : row + 60, : column].ravel())[-30:].mean()
    face = np.median(seen.near(picture, "face", 4))
    skin = np.median(seen.near(seen.luminance("frontal"), "right cheek"))
    assert edge > 20 * face
    # Bright enough to be seen as an edge: within two stops of frontally lit skin.
    assert edge > 0.25 * skin


@pytest.mark.engine
def test_every_lamp_gives_the_working_light_at_the_face(soft, tmp_path):
    """A meter at the face, held towards each lamp, reads the working stop's light."""
    from previz.engine.render import Sampling
    from previz.exposure import metering
    from previz.rendering.job import StageJob
    from previz.rendering.metering import Effort, StageMeters
    from previz.rendering.request import Order
    from previz.stage.records import Probe

    face = soft.places["subject.face"]
    # Without the head, whose nose would hide some.
    probes = tuple(Probe(each.name, face, each.towards) for each in studio.PLACEMENTS)
    bare = dataclasses.replace(
        soft, probes=probes, meshes=tuple(m for m in soft.meshes if m.role != "figure"))
    job = StageJob(bare, Order(16, 16, Sampling(1, 1, 1), 12, "auto", tmp_path))
    found = StageMeters(job).incident(Effort(0.01, 20.0))
    job.close()
    working = float(working_illuminance(studio.settings()))
    for each in studio.PLACEMENTS:
        lamps = mixed(bare.lamps, each.name, "soft", None)
        # 3 %: three standard errors, and what the cloth sends back.
        lux = metering.mix(found, lamps)[each.name].light().value
        assert lux == pytest.approx(working, rel=0.03), each.name


@pytest.mark.engine
def test_the_sheet_is_written(tmp_path, monkeypatch):
    """The command leaves one labelled sheet of both rows, says where, and prints its numbers."""
    # What the meters read is tested elsewhere.
    monkeypatch.setattr("previz.studies.portrait.run.PRECISION", 0.3)
    with sheet_numbers.drawing() as texts:
        done = run("--person", "person one", "--skin", "dark", "--hair", "none", "--sheen", "powdered",
                   "--size", "64", "--samples", "1", "--out", str(tmp_path / "out"), "--json")
    assert done.exit_code == 0, done.output
    path = tmp_path / "out" / "portrait-person-one-dark-powdered-none.png"
    assert str(path) in done.stderr
    rows = json.loads(done.stdout)["rows"]
    # Every placement of both rows has its two sides in lux, each with its error.
    lux = [row for row in rows if row["quantity"] in ("lit_side", "shadow_side")]
    assert len({(row["source"], row["placement"], row["meter"]) for row in lux}) == 2 * 6 * 2
    assert all(row["unit"] == "lx" and 0 < row["standard_error"] < row["value"] for row in lux)
    snapshot.hold_rows("portrait", rows)
    # The person's age is a name, and sizes in cm are rows in metres.
    constants = [text for text in texts if text.startswith("Portrait: ")] + list(studio.SOURCES.values())
    missing = sheet_numbers.missing(texts, rows, constants)
    assert missing == [], missing
    assert {"lit_side", "shadow_side", "stops_from_working", "lit_to_shadow", "key_to_fill"} <= (
        sheet_numbers.needed(texts, rows, constants))
    sizes = {row["source"]: row["value"] for row in rows if row["quantity"] == "source_size"}
    assert sizes == {"hard": 0.12, "soft": 0.9}
    with Image.open(path) as sheet:
        assert sheet.size[0] == 2400
        assert sheet.text["Title"] == ("Portrait: person one (a man of about 35, medium build), "
                                       "dark skin, powdered, no hair")
