"""`previz haze`: one scene at several densities."""

import importlib.util
from pathlib import Path

import click
import pytest
import snapshot
from click.testing import CliRunner
from PIL import Image

from previz.cli.haze import ladder
from previz.cli.main import previz
from previz.deliver import haze_sheet
from previz.rendering.cache.limit import left_in
from previz.rendering.progress import Cancelled, Progress
from previz.rendering.request import Request
from previz.scene.read import load
from previz.studies.haze import haze

spec = importlib.util.spec_from_file_location("sheet_numbers", Path(__file__).parents[1] / "sheet_numbers.py")
sheet_numbers = importlib.util.module_from_spec(spec)
spec.loader.exec_module(sheet_numbers)

SCENE = """\
previz: 1
title: Lamp room
room: {size: [4 m, 4 m, 3 m], surfaces: {walls: {reflectance: 0.1}}}
haze: {level: light}
figures:
  - {name: clerk, person: person one, hair: none, pose: standing, at: [2.3 m, 2.2 m],
     facing: [2 m, 0 m, 1.5 m]}
lights:
  - {name: lamp, kind: bulb, at: [2 m, 3 m, 1.5 m], output: 400 lm}
cameras:
  - {name: A, at: [2 m, 0.5 m, 1.5 m], aim: clerk.eyes, lens: 25 mm, stop: T2.8, iso: 800}
options:
  clear: {haze: none}
"""


@pytest.fixture(scope="module")
def scene(tmp_path_factory):
    file = tmp_path_factory.mktemp("haze") / "room.yaml"
    file.write_text(SCENE, encoding="utf-8")
    return file


def run(*words):
    return CliRunner().invoke(previz, ["haze", *map(str, words)], standalone_mode=False)


def test_factors():
    """Fractions and numbers, sorted; what is no ladder is refused in words."""
    assert ladder("2, 1/2,0 ,1") == (0.0, 0.5, 1.0, 2.0)
    for wrong in ("", "-1", "1/0", "thick", "1,2,3,4,5,6,7,8,9", "101"):
        with pytest.raises(click.BadParameter, match="no ladder of densities"):
            ladder(wrong)


def test_a_scene_without_haze_is_answered_with_what_to_write(scene):
    """An option without haze ends in words."""
    done = run(scene, "--option", "clear")
    assert isinstance(done.exception, click.UsageError)
    assert "add for example 'haze: {level: light}'" in str(done.exception)


@pytest.fixture(scope="module")
def ladder_words(scene):
    """What the command of the ladder is given; its frames are used by a study, too."""
    return (scene, "--densities", "0,1/2,1,4", "--size", "96", "--samples", "8", "--out", scene.parent)


@pytest.fixture(scope="module")
def first(ladder_words):
    """The ladder, rendered once."""
    done = run(*ladder_words)
    assert done.exception is None, done.output
    return done


@pytest.mark.engine
def test_the_ladder(first, ladder_words):
    """Up to twice from one render, four times anew; both are said; a second run renders nothing."""
    done, words, folder = first, ladder_words, ladder_words[-1]
    assert "Rendered anew: 4 ×. More than 2 × the density rendered" in done.stderr
    assert "1 ×. Every path was weighed anew" in done.stderr
    sheet = folder / "haze-A.png"
    with Image.open(sheet) as picture:
        assert picture.width == 2400
    assert (folder / "haze-A.pdf").exists()
    kept = {file: file.stat().st_mtime_ns for file in (folder / "frames").glob("haze-*.npz")}
    assert len(kept) >= 2
    # Whatever is kept is known as previz's own, so that it can be bounded and cleared.
    assert left_in(folder / "frames") == []
    assert run(*words).exception is None
    assert {f: f.stat().st_mtime_ns for f in (folder / "frames").glob("haze-*.npz")} == kept
    # A torn file is rendered anew.
    next(iter(kept)).write_bytes(b"torn")
    assert run(*words).exception is None


@pytest.mark.engine
def test_every_number_on_the_sheet_is_a_row(first, scene, tmp_path):
    """What is drawn is among the rows, most with a standard error; without them it would be missing."""
    request = Request(scene.parent / "frames", (96, None), samples=8)
    found = haze(load(scene).scene(), request, factors=(0.0, 0.5, 1.0, 4.0))
    with sheet_numbers.drawing() as texts:
        found.sheet(tmp_path / "sheet")
    rows, constants = found.rows(), [each for term in haze_sheet.TERMS for each in (*term, "  ".join(term))]
    constants += ["stops from 18 % grey", "lost in 10 m"]
    # What stands behind '±' is the standard error of a row, and has no sign of its own.
    errors = [{**each, "value": each["standard_error"], "unit": ""} for each in rows]
    missing = sheet_numbers.missing(texts, rows + errors, constants)
    assert missing == [], missing
    assert {"haze_density", "haze_visibility", "lost_in_10_m", "face_contrast", "blacks_level",
            "veil_over_blacks", "droplets_most"} <= sheet_numbers.needed(texts, rows, constants)
    snapshot.hold_rows("haze", rows)
    at = {(row["haze"], row["quantity"]): row for row in rows}
    for quantity in ("face_level", "behind_face_level", "face_contrast", "blacks_level"):
        assert 0 < at["1 ×", quantity]["standard_error"] < 1
    # The visual range and the loss of a beam run with the density: exp(-s x).
    assert at["4 ×", "haze_visibility"]["value"] == pytest.approx(at["1 ×", "haze_visibility"]["value"] / 4)
    assert at["4 ×", "lost_in_10_m"]["value"] == pytest.approx(4 * at["1 ×", "lost_in_10_m"]["value"])
    assert (at["4 ×", "picture_from"]["value"], at["½ ×", "picture_from"]["value"]) == (
        "own render", "one render")
    veil = at["none", "veil_over_blacks"]
    assert (veil["value"], veil["note"]) == (None, "no light")
    assert ("none", "haze_visibility") not in at


@pytest.mark.engine
def test_a_ladder_that_is_cancelled_goes_on_where_it_was(scene, tmp_path):
    """What was rendered by then is kept: the same request ends with the picture of one run."""
    request, factors = Request(tmp_path / "one", (32, None), samples=8), (1.0,)
    rounds = iter((False, False, True))
    with pytest.raises(Cancelled):
        haze(load(scene).scene(), request, factors=factors, progress=Progress(cancel=lambda: next(rounds)))
    assert len(list((tmp_path / "one").glob("haze-*.npz"))) == 1
    whole = haze(load(scene).scene(), Request(tmp_path / "two", (32, None), samples=8), factors=factors)
    assert haze(load(scene).scene(), request, factors=factors).to_json() == whole.to_json()
