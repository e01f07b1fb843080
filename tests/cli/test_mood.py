"""`previz mood`: frames as they are named, graded, cropped and titled."""

import json

import click
import numpy as np
import pytest
import shows
from click.testing import CliRunner
from PIL import Image

from previz.cli.main import previz
from previz.cli.mood import aspect_ratio, three
from previz.deliver.mood_sheet import MoodFrame
from previz.errors import RequestError
from previz.studies.mood import lettered, shots_named

SCENE = """\
previz: 1
title: Goods lift
room: {size: [3 m, 3 m, 2.5 m], surfaces: {walls: {reflectance: 0.4}}}
pieces:
  - {name: crate, shape: box, at: [1.5 m, 2 m], size: [0.6 m, 0.6 m, 1 m]}
lights:
  - {name: bulb, kind: bulb, at: [0.6 m, 0.6 m, 2.2 m], output: 1500 lm}
cameras:
  - {name: A, at: [2.5 m, 0.5 m, 1.3 m], aim: crate, lens: 25 mm, stop: T2.8, iso: 800}
  - {name: B, at: [0.5 m, 0.5 m, 1.3 m], aim: crate, lens: 25 mm, stop: T2.8, iso: 800}
options:
  lit: {}
  dim: {lights: {bulb: {dimmer: 25 %}}}
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    found = tmp_path_factory.mktemp("mood")
    (found / "lift.yaml").write_text(SCENE, encoding="utf-8")
    return found


def run(folder, *words, out="out"):
    return CliRunner().invoke(previz, ["mood", *words, "--size", "64", "--samples", "2", "--out",
                                       str(folder / out)])


def test_frames_are_named_with_their_titles():
    """File, option and camera, a title behind '='; what is left out is taken from before."""
    found = shots_named(["a.yaml:lit=First", ":dim", "::B=Third"])
    assert [(str(w.which.path), w.which.option, w.which.camera, w.title) for w in found] == [
        ("a.yaml", "lit", "", "First"), ("a.yaml", "dim", "", ""), ("a.yaml", "dim", "B", "Third")]
    with pytest.raises(RequestError, match="names no shot"):
        shots_named([":dim"])


def test_titles_used_twice_get_a_letter():
    """By a letter, as a director gets no numbers."""
    frames = [MoodFrame(title, np.zeros((2, 2, 3), np.uint8)) for title in ("a", "b", "a", "a")]
    assert [f.title for f in lettered(frames)] == ["a", "b", "a (b)", "a (c)"]


def test_ratios_and_triples_are_read():
    """'16:9' and '2.39'; three numbers, or one for all."""
    assert aspect_ratio("16:9") == pytest.approx(16 / 9)
    assert three("1.1, 1, 0.9") == (1.1, 1.0, 0.9)
    assert three("0.5") == (0.5, 0.5, 0.5)
    for read, wrong in ((aspect_ratio, "wide"), (aspect_ratio, "9:0"), (three, "1,2"), (three, "x")):
        with pytest.raises(click.BadParameter):
            read(wrong)


@pytest.mark.engine
def test_a_mood_sheet_and_page_are_made(folder):
    """All options by all cameras where none is named; the page holds them; a grade darkens them."""
    done = run(folder, str(folder / "lift.yaml"))
    assert done.exit_code == 0, done.output
    assert [line.rsplit("/", 1)[1] for line in done.stdout.split()] == ["mood.png", "mood.pdf",
                                                                       "mood.html"]
    page = (folder / "out" / "mood.html").read_text(encoding="utf-8")
    assert page.count("<figure>") == 4
    for title in ("lit, A", "lit, B", "dim, A", "dim, B"):
        assert f"<figcaption>{title}</figcaption>" in page
    graded = run(folder, f"{folder / 'lift.yaml'}:lit:A=Lift", "--slope", "0.8", "--saturation",
                 "0", "--title", "Grey", "--json", out="grey")
    assert graded.exit_code == 0, graded.output
    # A row says which frame it is, and has no reading.
    row, *cautions = json.loads(graded.stdout)["rows"]
    assert {each["quantity"] for each in cautions} == {"caution", "caution_brief"}
    assert row == {"scene": str(folder / "lift.yaml"), "option": "lit", "camera": "A",
                   "quantity": "frame_title", "value": "Lift", "unit": "", "standard_error": None, "note": ""}
    with Image.open(folder / "grey" / "mood-Grey.png") as sheet:
        pixels = np.asarray(sheet).astype(int)
    middle = pixels[pixels.shape[0] // 2, 200:-200]
    # Saturation 0 leaves no colour: ACES' own rendering may move a code or two.
    assert np.ptp(middle, axis=1).max() <= 6


@pytest.mark.parametrize(("words", "message"), [
    (["--cdl", "gone.cdl"], "There is no file gone.cdl"),
    (["--lut", "gone.cube"], "There is no file gone.cube"),
    (["--power", "0"], "powers above 0"),
    (["--slope", "2", "--cdl", "x.cdl"], "not both"),
])
def test_grades_that_cannot_be_used_are_refused(folder, words, message):
    """Before anything is rendered."""
    done = run(folder, str(folder / "lift.yaml"), *words, out="never")
    assert done.exit_code == 2
    assert message in " ".join(done.output.split())
    assert not (folder / "never").exists()


def test_a_grade_takes_the_place_of_a_cameras_look(folder):
    """Without one the frames are looked at as the camera's stills are; with one the look is left off."""
    (folder / "over.clf").write_text(shows.OVER, encoding="utf-8")
    text = SCENE.replace("name: B,", "name: B, show: over.clf,")
    (folder / "seen.yaml").write_text(text, encoding="utf-8")
    made = {}
    for name, words in {"plain": (), "graded": ("--slope", "1.0001")}.items():
        result = run(folder, f"{folder / 'seen.yaml'}:lit:B=As seen", *words, "--aspect", "1.78", out=name)
        assert result.exit_code == 0, result.output
        sheet = next((folder / name).glob("*.png"))
        made[name] = np.array(Image.open(sheet).convert("RGB")).astype(int)
    # What is turned over is light where the other is dark.
    middle = tuple(slice(size // 3, size // 2) for size in made["plain"].shape[:2])
    assert made["plain"].shape == made["graded"].shape
    assert np.abs(made["plain"][middle].mean() - made["graded"][middle].mean()) > 30
