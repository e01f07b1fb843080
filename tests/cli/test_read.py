"""`previz read`: hidden levels of a rendered frame, words for what cannot be read, an option of it."""

import importlib.util
import json
import re
import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
import shows
from click.testing import CliRunner
from PIL import Image

from previz.cli.main import previz
from previz.deliver import read_sheet
from previz.errors import PrevizError
from previz.exposure.camera import settings_of
from previz.exposure.comparing.difference import difference_bands
from previz.exposure.picture import develop
from previz.exposure.viewing import seen_8bit
from previz.rendering.job import StageJob
from previz.rendering.progress import Progress
from previz.rendering.request import Request
from previz.scene.read import load
from previz.sight.subjects import projected
from previz.stage.build import build_stage
from previz.studies.read import read

spec = importlib.util.spec_from_file_location("sheet_numbers", Path(__file__).parents[1] / "sheet_numbers.py")
sheet_numbers = importlib.util.module_from_spec(spec)
spec.loader.exec_module(sheet_numbers)

SCENE = """\
previz: 1
title: Yard office at night
room: {size: [4 m, 4 m, 2.6 m], surfaces: {walls: {reflectance: 0.4}}}
pieces:
  - {name: crate, shape: box, at: [1.2 m, 2.6 m], size: [0.6 m, 0.6 m, 0.9 m],
     surface: {colour: brown, reflectance: 0.3}}
  - {name: drum, shape: cylinder, at: [3.2 m, 3.0 m], size: [0.5 m, 0.5 m, 1.0 m],
     surface: {colour: navy, reflectance: 0.15}}
figures:
  - {name: clerk, person: person one, hair: none, pose: standing, at: [2.1 m, 3 m],
     facing: [2 m, 0 m, 1.6 m]}
lights:
  - {name: box, kind: soft box, at: [0.7 m, 1.4 m, 1.9 m], aim: clerk.face, size: [0.8 m, 0.8 m],
     output: 4000 lm, cct: 5600 K, spectrum: led, dimmer: 60 %}
  - {name: bulb, kind: bulb, at: [3.5 m, 2.2 m, 2.2 m], output: 900 lm, cct: 2900 K, dimmer: 50 %}
  - {name: pocket lamp, kind: bulb, at: [0.3 m, 0.3 m, 0.4 m], output: 0.2 lm, cct: 3200 K, spectrum: led}
cameras:
  - {name: A, at: [2 m, 0.4 m, 1.6 m], aim: [2.1 m, 3 m, 1.3 m], lens: 20 mm, stop: T2.8, iso: 800,
     white_balance: 4300 K}
options:
  plan: {}
  hidden:
    lights: {box: {dimmer: 25 %, cct: 4900 K}, bulb: {dimmer: 95 %}}
    cameras: {A: {stop: T2.4}}
"""

SMALL = ["--size", "128x72", "--quality", "working", "--samples", "32"]


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """The scene, and a still of its hidden option with noise of its own, alone and within another frame."""
    found = tmp_path_factory.mktemp("read")
    (found / "yard.yaml").write_text(SCENE, encoding="utf-8")
    stage = build_stage(load(found / "yard.yaml").scene("hidden"))
    camera = stage.cameras[0]
    job = StageJob(stage, Request(found / "other", (128, 72), samples=32, seed=5).order(camera.aspect))
    frames = job.frames(camera, Progress(), "")
    job.close()
    still = develop(frames, stage.lamps, settings_of(camera)).still
    Image.fromarray(still).save(found / "reference.png")
    # The same, shown smaller in a frame of another shape.
    framed = np.zeros((100, 160, 3), np.uint8)
    framed[10:82, 20:148] = still
    Image.fromarray(framed).save(found / "framed.png")
    return found


def run(folder, picture, *words, scene="yard.yaml"):
    option = () if "--option" in words else ("--option", "plan")
    return CliRunner().invoke(previz, ["read", str(folder / picture), str(folder / scene), *option, *SMALL,
                                       "--out", str(folder / "out"), *words])


@pytest.fixture(scope="module")
def rows(folder):
    """What is read of the reference, and what was said."""
    done = run(folder, "reference.png", "--json", "--save", "as read")
    assert done.exit_code == 0, done.output
    return json.loads(done.stdout)["rows"], done.stderr


def value(rows, quantity, **of):
    found = [each for each in rows if each["quantity"] == quantity
             and all(each[key] == word for key, word in of.items())]
    assert len(found) == 1, (quantity, of, found)
    return found[0]


@pytest.mark.engine
def test_hidden_levels_are_found_against_each_other(rows):
    """Box 25 from 60 %, bulb 95 from 50 %: 2.19 stops apart; T2.4 from T2.8 and noise of another seed."""
    numbers, _ = rows
    box, bulb = (value(numbers, "read_change", lamp=name) for name in ("box", "bulb"))
    apart = np.log2(0.25 / 0.60) - np.log2(0.95 / 0.50)
    assert box["value"] - bulb["value"] == pytest.approx(apart, abs=0.1)
    error = np.hypot(box["standard_error"], bulb["standard_error"])
    assert abs(box["value"] - bulb["value"] - apart) < 4 * error
    # What levels lost in the mean the exposure has: a brighter scene is a wider stop.
    shift = (np.log2(0.25 / 0.60) + np.log2(0.95 / 0.50)) / 2
    assert value(numbers, "read_exposure")["value"] == pytest.approx(
        shift + 2 * np.log2(2.8 / 2.4), abs=0.15)
    assert value(numbers, "read_look")["value"] == "previz"


@pytest.mark.engine
def test_what_is_not_told_is_said(rows):
    """A lamp of a fifth of a lumen; and that levels have no scale, in words."""
    numbers, said = rows
    assert value(numbers, "read_state", lamp="pocket lamp")["value"] == "gives too little here to be told"
    assert "cannot tell a brighter scene from a wider stop" in said
    assert "pocket lamp: under 3% of the light everywhere, so not told" in said


@pytest.mark.engine
def test_the_reference_is_measured_as_the_nearest_is(rows):
    """The ratio of the face agrees between the reference and what was found, and not with the plan."""
    numbers, _ = rows
    ratios = {name: np.log2(value(numbers, "picture_lit_to_shadow", picture=name)["value"])
              for name in ("reference", "plan", "nearest")}
    assert abs(ratios["nearest"] - ratios["reference"]) < 0.2
    assert abs(ratios["plan"] - ratios["reference"]) > 0.3


@pytest.mark.engine
def test_what_was_read_is_an_option(rows, folder):
    """It has the levels, at most full, the stop and the balance; nothing else of the file has changed."""
    numbers, said = rows
    file = load(folder / "yard.yaml")
    assert "Saved as option 'as read'" in said and "as read" in file.option_names
    lights = {each.name: each for each in file.scene("as read").lights}
    levels = {name: value(numbers, "read_level", lamp=name)["value"] for name in ("box", "bulb")}
    most = max(1.0, *levels.values())
    for name, level in levels.items():
        assert lights[name].dimmer == pytest.approx(level / most, abs=1e-3)
    assert lights["pocket lamp"].dimmer == pytest.approx(1 / most, abs=1e-3)
    camera = file.scene("as read").cameras[0]
    exposure = value(numbers, "read_exposure")["value"] + np.log2(most)
    assert camera.stop == pytest.approx(2.8 * 2 ** (-exposure / 2), abs=0.01)
    assert file.scene("hidden") == load(folder / "yard.yaml").scene("hidden")


@pytest.mark.engine
def test_every_number_of_the_sheet_is_a_row(rows, folder):
    """What is drawn is the value of a row, and what stands behind a ± its standard error."""
    found = read(folder / "reference.png", load(folder / "yard.yaml").scene("plan"),
                 Request(folder / "out" / "frames", (128, 72), "working", samples=32), look="previz")
    with sheet_numbers.drawing() as texts:
        files = found.sheet(folder / "sheet")
    assert [path.suffix for path in files] == [".png", ".pdf"]
    made = found.rows()
    errors = [each["standard_error"] for each in made if each["standard_error"] is not None]
    told = [float(each) for text in texts for each in re.findall(r"± ([\d.]+)", text)]
    assert len(told) > 4
    for each in told:
        step = 0.5 if each >= 1 else 0.0501 if round(10 * each) == round(10 * each, 6) else 0.00501
        assert min(abs(each - error) for error in errors) <= step
    plain = [re.sub(r" ± [\d.]+", "", text) for text in texts]
    constants = [*(text for _, text in read_sheet.TERMS), *(band.label for band in difference_bands()),
                 "under 3% of the light"]
    plain = [text.replace("under 3% of the light", "") for text in plain]
    assert sheet_numbers.missing(plain, made, constants) == []
    # Read so well that it is drawn as the camera's own.
    kelvin = {each["quantity"]: f"{each['value']:.0f}" for each in made
              if each["quantity"] in ("camera_balance", "read_balance")}
    alike = {"read_balance"} if kelvin["read_balance"] == kelvin["camera_balance"] else set()
    assert {"read_change", "read_cct", "read_shift", "read_share", "picture_lit_to_shadow",
            "read_balance"} <= sheet_numbers.needed(plain, made, constants) | alike


@pytest.mark.engine
def test_marked_points_line_up_another_frame(folder):
    """A picture of another shape is refused with what to write; with two points it is read."""
    done = run(folder, "framed.png")
    assert done.exit_code == 2 and "1.60 : 1" in done.output and "--at" in done.output
    stage, marks = build_stage(load(folder / "yard.yaml").scene("plan")), []
    for place in ("clerk.face", "crate", "drum"):
        x, y, _ = projected(stage.cameras[0], stage.places[place])
        across, down = (20 + (x + 1) / 2 * 128) / 160, (10 + (1 - y) / 2 * 72) / 100
        marks += ["--at", f"{100 * across:.2f}%,{100 * down:.2f}%={place}"]
    done = run(folder, "framed.png", *marks, "--json", "--look", "previz")
    assert done.exit_code == 0, done.output
    numbers = json.loads(done.stdout)["rows"]
    assert value(numbers, "read_miss")["value"] < 1e-3
    apart = (value(numbers, "read_change", lamp="box")["value"]
             - value(numbers, "read_change", lamp="bulb")["value"])
    assert apart == pytest.approx(-2.19, abs=0.15)


def refused(done):
    """The words of a command that did not run; those of a bad file are shown by the program's own end."""
    assert done.exit_code == 2 or isinstance(done.exception, PrevizError), done.output
    return " ".join(f"{done.output} {done.exception}".split())


def png(rows, columns, colour):
    """A PNG of one tone."""
    def chunk(kind, data):
        return (struct.pack(">I", len(data)) + kind + data
                + struct.pack(">I", zlib.crc32(kind + data)))
    line = b"\0" + bytes(colour) * columns
    return (b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", columns, rows, 8, 2, 0, 0, 0))
            + chunk(b"IDAT", zlib.compress(line * rows)) + chunk(b"IEND", b""))


@pytest.mark.parametrize(("name", "content", "message"), [
    ("none.png", None, "No such file"), ("text.png", b"hello", "only PNG and JPEG are read"),
    ("cut.png", png(72, 128, (9, 9, 9))[:60], "cut off"),
    ("even.png", png(72, 128, (90, 90, 90)), "one even tone"),
    ("tiny.png", png(9, 16, (90, 90, 90)), "too small"),
])
def test_pictures_that_cannot_be_used(folder, name, content, message):
    """Each is refused in words before anything is rendered."""
    if content is not None:
        (folder / name).write_bytes(content)
    done = run(folder, name)
    assert message in refused(done)


@pytest.mark.parametrize(("words", "message"), [
    (["--camera", "C"], "no camera 'C'"), (["--anchor", "key"], "no lamp 'key'"),
    (["--on", "driver"], "no figure 'driver'"), (["--beside", "dusk"], "no option 'dusk'"),
    (["--at", "40,20=crate"], "no share of the picture"), (["--at", "40%=crate"], "marks no point"),
    (["--at", "40%,20%=crat", "--at", "1%,1%=sofa"], "no place 'sofa'"),
    (["--at", "40%,20%=crate"], "two points"), (["--save", "hidden"], "already an option 'hidden'"),
    (["--save", "a: b"], "a: b"),
])
def test_requests_that_cannot_be_met(folder, words, message):
    """What the scene does not have, and points that line up nothing."""
    done = run(folder, "reference.png", *words)
    assert message in refused(done)


def test_a_still_through_a_table_is_no_still_to_undo(folder):
    """It is said before anything is rendered; as any other picture it can be read."""
    (folder / "look.cube").write_text(shows.cube(), encoding="utf-8")
    show = "show: {file: look.cube, takes: acescct, gives: srgb}, white_balance: 4300 K"
    (folder / "seen.yaml").write_text(SCENE.replace("white_balance: 4300 K", show), encoding="utf-8")
    result = run(folder, "reference.png", "--look", "previz", scene="seen.yaml")
    assert result.exit_code == 2
    assert result.output.strip().removeprefix("Error: ") == """\
camera A's picture is looked at through 'look.cube', which cannot be taken back to light.
  Render the still with 'show: none', or read it as any other: --look srgb."""


def test_levels_are_found_in_a_still_that_was_graded_and_clipped(folder):
    """A decision is undone; what the camera could not hold is left out, and the lamps are as they were."""
    from dataclasses import replace

    from previz.physics.viewing import ShowFile
    from previz.studies.read.picture import looks

    show = ShowFile("look.ccc", shows.CDL.encode(), ".ccc", "acescct", "acescct", "evening")
    stage = build_stage(load(folder / "yard.yaml").scene("hidden"))
    settings = replace(settings_of(stage.cameras[0]), show=show, over=2.0, under=4.0)
    light = np.array([[[0.18, 0.2, 0.15], [2.0, 0.5, 0.4], [0.01, 0.01, 0.01]]])
    still = seen_8bit(np.moveaxis(light, -1, 0), settings)
    (look,) = looks(still / 255, "previz", settings)
    assert np.abs(np.log2(look.linear[0, 0] / light[0, 0])).max() < 0.05
    assert (look.codes == [[[look.codes[0, 0, 0], look.codes[0, 0, 1], look.codes[0, 0, 2]],
                            [1.0, look.codes[0, 1, 1], look.codes[0, 1, 2]], [0.0, 0.0, 0.0]]]).all()
    assert 0 < look.codes[0, 1, 1] < 1 and [each.name for each in looks(still / 255, "auto", settings)] == [
        "srgb", "previz"]
