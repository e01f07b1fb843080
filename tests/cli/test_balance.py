"""`previz balance`: levels that meet what is wanted, as an option that is saved and metered anew shows."""

import csv
import importlib.util
import io
import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

import previz as library
from previz.cli.main import previz
from previz.deliver import balance_sheet
from previz.errors import RequestError
from previz.exposure.falsecolour import signed, stop_bands
from previz.scene.read import load
from previz.studies.quantities import QUANTITIES

pytestmark = [
    pytest.mark.engine,
    # The colour library warns of optional parts that are not installed.
    pytest.mark.filterwarnings("ignore"),
]

spec = importlib.util.spec_from_file_location("sheet_numbers", Path(__file__).parents[1] / "sheet_numbers.py")
sheet_numbers = importlib.util.module_from_spec(spec)
spec.loader.exec_module(sheet_numbers)

SCENE = """\
previz: 1
title: Lamp room
ground: {reflectance: 0.1}
pieces:
  - {name: locker, shape: panel, at: [2 m, 4.2 m], size: [2.4 m, 0.03 m, 2.2 m], surface: {reflectance: 0.3}}
figures:
  - {name: clerk, person: person one, hair: none, pose: standing, at: [2 m, 3 m], facing: 270 deg,
     marks: [{name: bench, at: [1.2 m, 2.6 m], facing: 270 deg}]}
lights:
  - {name: key, kind: panel, at: [0.2 m, 1.6 m, 2 m], aim: clerk.face, size: [0.5 m, 0.5 m], output: 3000 lm,
     cct: 4300 K, spectrum: led, may_move: {cct: 3200 K to 5600 K}}
  - {name: fill, kind: panel, at: [3.8 m, 1.6 m, 2 m], aim: clerk.face, size: [0.5 m, 0.5 m], output: 3000 lm,
     cct: 4300 K, spectrum: led}
  - {name: wash, kind: panel, at: [2 m, 3.9 m, 2.8 m], aim: locker, size: [0.4 m, 0.4 m], output: 1500 lm,
     cct: 5600 K, spectrum: led}
cameras:
  - {name: A, at: [2 m, 0.4 m, 1.6 m], aim: clerk.face, lens: 25 mm, stop: T2.8, iso: 800,
     white_balance: 4300 K}
wants:
  - {name: face at the stop, lit_side: clerk, stops: 0}
  - {name: fill two under, shadow_side: clerk, stops: -2}
  - {name: warmer, colour: clerk, cct: 3800 K}
  - {name: locker up, thing: locker, stops: 0.3}
options:
  day: {}
"""  # fmt: skip

SMALL = ("--size", "96x54", "--quality", "draft", "--samples", "2")


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    found = tmp_path_factory.mktemp("balance")
    (found / "room.yaml").write_text(SCENE, encoding="utf-8")
    return found


@pytest.fixture(scope="module")
def option(folder):
    return library.open(folder / "room.yaml")["day"]


@pytest.fixture(scope="module")
def settings(folder):
    return {"size": (96, 54), "quality": "draft", "samples": 2, "error": 0.02, "cache": folder / "frames"}


@pytest.fixture(scope="module")
def found(option, settings):
    """What the scene wants, answered."""
    return option.balance(**settings)


def run(folder, *words):
    return CliRunner().invoke(previz, ["balance", str(folder / "room.yaml"), *words, *SMALL, "--out",
                                       str(folder / "out")])


def test_wants_are_met_when_the_saved_option_is_metered_anew(found, folder, settings):
    """To 0.05 stops and two standard errors of both, by other random numbers."""
    assert found.met and found.said == ["All 4 wants are met."]
    assert found.save("balanced") == folder / "room.yaml"
    file = library.open(folder / "room.yaml")
    assert file.options == ("day", "balanced") and file["day"].scene == found.file.scene("day")
    fresh = file["balanced"].balance(**{**settings, "seed": 7}, pictures=False)
    for before, after in zip(fresh.solution.before, found.solution.after, strict=True):
        off = abs(before.value.value - before.want.target)
        noise = 2 * np.hypot(before.value.error, after.value.error)
        # A colour by 5 mired, about 70 K.
        assert off < (5.0 if before.want.kind == "colour" else 0.05) + noise, before
    # What is wanted already is left as it is, but for what noise tells.
    assert all(abs(line.stops) < 0.15 for line in fresh.lamps)


def test_every_number_of_the_sheet_is_a_row(found, tmp_path):
    """Wants before and after, lamps, settings; with pictures of both, and the same as JSON and CSV."""
    with sheet_numbers.drawing() as texts:
        files = found.sheet(tmp_path / "sheet")
    rows = found.rows()
    limits = [signed(each.centre, 1) for each in stop_bands() if each.mark]
    constants = [*(text for _, text in balance_sheet.TERMS), *(band.label for band in stop_bands()),
                 *(f"{word} {limit}" for word in ("under", "over") for limit in limits),
                 "map: stops from 18 % grey", *found.said]
    assert [path.suffix for path in files] == [".png", ".pdf"]
    # Errors stand beside their readings, in the rows as in the table.
    shown = [text for text in texts if not text.startswith("±")]
    assert sheet_numbers.missing(shown, rows, constants) == []
    # Each stands for a column: a number that no other quantity has.
    assert {"level_before", "dimmer_after", "dimmer_moves", "cct_after", "full_load", "camera_iso"} <= (
        sheet_numbers.needed(shown, rows, constants))
    assert all(QUANTITIES[each["quantity"]].unit == each["unit"] for each in rows)
    assert json.loads(found.to_json())["rows"] == json.loads(json.dumps(rows))
    assert len(list(csv.DictReader(io.StringIO(found.to_csv())))) == len(rows)
    before, after = found.seen[0].stills
    assert before.shape == after.shape and (before != after).any()
    # The answer's own level: half the light is a stop.
    key = next(line for line in found.lamps if line.name == "key")
    assert key.stops == pytest.approx(np.log2(key.after / key.before))


def test_the_picture_of_an_answer_is_what_the_option_renders_as(found, option, settings):
    """From the frames that are there, as changed levels on a shot are."""
    shot = option.render("A", **settings)
    changes = {name: {key: value for key, value in vars(each).items() if value is not None}
               for name, each in found.changes.lamps.items()}
    assert (shot.with_lamps(changes).still == found.seen[0].stills[1]).all()


def test_several_places_at_once(option, settings):
    """A mark that nobody stands at is met as the figure's own place is; its meters are of the empty mark."""
    wants = ["lit side clerk 0, at bench", "thing locker at most 0.5"]
    found = option.balance(wants, pictures=False, **settings)
    assert found.met and not found.seen
    rows = [each for each in found.rows() if each["mark"] == "bench" and each["quantity"] == "level_after"]
    assert len(rows) == 1 and abs(rows[0]["value"]) < 0.1 and rows[0]["figure"] == "clerk"


def test_what_no_level_meets_is_answered_with_what_would_do(folder, found):
    """Exit status 0, the want that is missed by how much, and one thing to change."""
    result = run(folder, "--option", "day", "--no-pictures", "--want", "lit side clerk 2.5")
    assert result.exit_code == 0, result.output
    assert "The want is not met." in result.output and "stops under" in result.output
    assert "What would do, each alone: " in result.output and "bigger" in result.output


@pytest.mark.parametrize(("words", "message"), [
    (("--want", "lit side nobody 0"), "which is no figure"),
    (("--want", "lit side clerk 0", "--want", "lit side clerk 2"), "exclude each other"),
    (("--option", "night"), "There is no option 'night'"), (("--lock", "kee"), "Did you mean 'key'"),
    (("--lock", "key", "--lock", "fill", "--lock", "wash"), "Nothing may move"),
    (("--save", "day"), "already an option 'day'"),
    (("--save", "9"), "does not begin with a letter"), (("--save", "a", "--save-own", "b"), "not both"),
    (("--rule", "hope"), "least worst"), (("--camera", "B"), "no camera 'B'"),
])
def test_what_cannot_be_is_refused_before_any_work(folder, words, message):
    """With what to write, and nothing changed."""
    before = (folder / "room.yaml").read_bytes()
    result = run(folder, *words)
    said = result.output if result.exception is None else f"{result.output} {result.exception}"
    assert result.exit_code != 0 and message.replace("There is no option", "has no option") in " ".join(
        said.split())
    assert (folder / "room.yaml").read_bytes() == before


def test_an_answer_is_saved_by_the_command(folder):
    """As an option of a file of its own, which is read as any scene is."""
    result = run(folder, "--option", "day", "--no-pictures", "--save-own", "evening", "--want",
                 "lit side clerk 0.5", "--json")
    assert result.exit_code == 0, result.output
    rows = json.loads(result.stdout)["rows"]
    assert [each["value"] for each in rows if each["quantity"] == "want_met"] == [True]
    saved = load(folder / "room-evening.yaml")
    assert "evening" in saved.option_names
    level = next(each["value"] for each in rows
                 if each["quantity"] == "dimmer_after" and each["lamp"] == "key")
    assert next(light for light in saved.scene("evening").lights if light.name == "key").dimmer == level


def test_words_of_the_library_are_checked(option):
    """A misspelt word is refused with those that there are."""
    with pytest.raises(RequestError, match="There is no word 'wannts'"):
        option.balance(wannts=["lit side clerk 0"])
