"""Dark is an answer: no lamps, no light at a face, nothing in the set, from every command."""

import io
import json

import numpy as np
import pytest
from click.testing import CliRunner
from delivered import read_exr
from PIL import Image

from previz import frames as fr
from previz.cli.main import previz
from previz.deliver.index import read_index
from previz.rendering.request import QUALITIES, Quality
from previz.sight import face_view, rig_lines
from previz.studies import veil

pytestmark = pytest.mark.engine

ROOM = """\
previz: 1
title: The lamp room at night
room: {size: [4 m, 3 m, 2.6 m], surfaces: {walls: {reflectance: 0.4}}}
"""

FIGURE = """\
figures:
  - {name: clerk, person: person one, stature: 1.76 m, hair: none, pose: standing, at: [2 m, 1.9 m],
     facing: [2 m, 0.3 m, 1.6 m]}
"""

CAMERA = """\
cameras:
  - {name: A, at: [2 m, 0.3 m, 1.6 m], aim: [2 m, 1.9 m, 1.6 m], lens: 35 mm, stop: T2.8, iso: 800}
"""

KEY = "  - {name: key, kind: bulb, at: [1 m, 0.5 m, 2 m], output: 900 lm, cct: 3000 K"

OFF = ROOM + FIGURE + f"""\
haze: {{level: light}}
lights:
{KEY}}}
""" + CAMERA + """\
options:
  lit: {}
  at nothing: {lights: {key: {dimmer: 0 %}}}
  switched off: {lights: {key: {on: no}}}
  struck: {remove: [key]}
"""
DARK = ("at nothing", "switched off", "struck")

LIT_ALONE = ROOM + FIGURE + f"haze: {{level: light}}\nlights:\n{KEY}}}\n" + CAMERA

# Four boards about the clerk, from floor to ceiling, with no slit between them.
BOXED = ROOM + FIGURE + f"""\
lights:
{KEY}}}
pieces:
  - {{name: north side, shape: box, at: [2 m, 2.6 m, -0.1 m], size: [1.4 m, 5 cm, 2.9 m]}}
  - {{name: south side, shape: box, at: [2 m, 1.2 m, -0.1 m], size: [1.4 m, 5 cm, 2.9 m]}}
  - {{name: west side, shape: box, at: [1.35 m, 1.9 m, -0.1 m], size: [5 cm, 1.6 m, 2.9 m]}}
  - {{name: east side, shape: box, at: [2.65 m, 1.9 m, -0.1 m], size: [5 cm, 1.6 m, 2.9 m]}}
cameras:
  - {{name: A, at: [2 m, 1.35 m, 1.6 m], aim: clerk.eyes, lens: 18 mm, stop: T2.8, iso: 800}}
  - {{name: B, at: [0.6 m, 0.4 m, 1.6 m], aim: [2 m, 1.5 m, 1.2 m], lens: 18 mm, stop: T2.8, iso: 800}}
"""

NO_LAMPS = ROOM + FIGURE + CAMERA
CAMERA_ALONE = "previz: 1\n" + CAMERA

SHUTTERED = ROOM.replace("surfaces:", """openings: [{name: door, wall: south, along: 1.5 m, sill: 0 m,
  size: [1 m, 2 m]}], surfaces:""") + FIGURE + CAMERA + """\
daylight: {sky: none, sun: {azimuth: 180 deg, altitude: 30 deg}}
pieces:
  - {name: shutter, shape: box, at: [2 m, -0.3 m, -0.3 m], size: [6 m, 0.2 m, 4 m], surface: black paint}
"""

SCENES = {"off": OFF, "lit": LIT_ALONE, "boxed": BOXED, "no-lamps": NO_LAMPS,
          "camera": CAMERA_ALONE, "shuttered": SHUTTERED}
SMALL_VIEWS = ((face_view, "WIDE_PIXELS", 16), (face_view, "WIDE_SAMPLES", 2),
               (face_view, "CLOSE_PIXELS", 16), (face_view, "CLOSE_SAMPLES", 2),
               (rig_lines, "TRACED", 32), (rig_lines, "PATHS", 2),
               (veil, "AIR_SIZE", 16), (veil, "AIR_SAMPLES", 4))
"""Views from faces, of the rig and of the air, as small as they can be."""

SMALL = ("--size", "48x27", "--samples", "4", "--quality", "draft")


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """A folder with all the scenes, which the tests work in."""
    folder = tmp_path_factory.mktemp("dark")
    for name, text in SCENES.items():
        (folder / f"{name}.yaml").write_text(text, encoding="utf-8")
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        # Light is there or not, and two runs are held against each other bit for bit: neither needs more.
        patch.setitem(QUALITIES, "draft", Quality(4, 2, 0.5, 0.3))
        for module, name, least in SMALL_VIEWS:
            patch.setattr(module, name, least)
        yield folder


def run(*words, code=0):
    """Run the program here; return what it says. It may not warn of numbers that are none."""
    done = CliRunner().invoke(previz, [str(word) for word in words], catch_exceptions=False)
    assert done.exit_code == code, done.output
    assert not [word for word in done.output.replace("\u2212", "-").split()
                if word.strip(".,:;") in ("nan", "inf", "-inf", "-nan")], done.output
    return done


@pytest.fixture(scope="module")
def rendered(place):
    """Every scene, rendered once."""
    for name in SCENES:
        more = () if name == "lit" else ("--scopes", "--mark-rig")
        run("render", f"{name}.yaml", *SMALL, *more)
    return place


def strict(text):
    """Read JSON that may have no number that JSON has not."""
    def refuse(word):
        raise AssertionError(f"{word} is no JSON")

    return json.loads(text, parse_constant=refuse)


def black(path):
    with Image.open(path) as still:
        return not np.any(np.asarray(still))


def shots_in_the_dark(folder):
    out = folder / "renders"
    return [out / "off" / f"{stem}-A-draft" for stem in ("at-nothing", "switched-off", "struck")] + [
        out / scene / "A-draft" for scene in ("boxed", "no-lamps", "camera", "shuttered")]


def test_stills_are_black_and_maps_are_there(rendered):
    """Each dark shot has a black still and a map, EXR, scopes and rig next to it."""
    for shot in shots_in_the_dark(rendered):
        assert black(f"{shot}.png"), shot
        for more in ("-map.png", "-scopes.png", "-rig.png", ".exr"):
            assert shot.with_name(shot.name + more).is_file()
        assert not np.any(read_exr(f"{shot}.exr")["mix"][1]["RGB"]), shot
    assert not black(rendered / "renders" / "off" / "lit-A-draft.png")
    assert not black(rendered / "renders" / "boxed" / "B-draft.png")


def test_readings_of_nothing_are_words(rendered):
    """In the index a meter without light has 0 lx, no stops, and says 'no light'."""
    for scene in SCENES:
        folder = rendered / "renders" / scene
        strict((folder / "index.json").read_text(encoding="utf-8"))
        for entry in read_index(folder).entries:
            for name, result in entry.readings.items():
                dark = (entry.option in DARK or scene in ("no-lamps", "shuttered")
                        or scene == "boxed" and name.startswith("clerk"))
                if dark:
                    assert result["lux"] == 0 and result["stops_from_working"] is None, (scene, name)
                    assert result["note"] == "no light"
                else:
                    assert result["lux"] > 0 and np.isfinite(result["stops_from_working"])
                    assert "note" not in result


def test_the_lit_option_is_what_it_is_alone(rendered):
    """Dark options next to it change nothing: the same readings, the same still, bit for bit."""
    both = {}
    for scene, option in (("off", "lit"), ("lit", "")):
        entries = read_index(rendered / "renders" / scene).entries
        both[scene] = next(e for e in entries if e.option == option and e.camera == "A").readings
    assert both["off"] == both["lit"]
    with Image.open(rendered / "renders" / "off" / "lit-A-draft.png") as one, \
            Image.open(rendered / "renders" / "lit" / "A-draft.png") as other:
        assert np.array_equal(np.asarray(one), np.asarray(other))


def test_a_second_render_takes_the_dark_from_the_cache(rendered):
    """Frames of no lamps are kept and read like any others, and give the same files."""
    for scene, names in (("off", ("struck-A-draft",)), ("no-lamps", ("A-draft",)), ("camera", ("A-draft",))):
        folder = rendered / "renders" / scene
        before = [(folder / f"{name}.png").read_bytes() for name in names]
        run("render", f"{scene}.yaml", *SMALL)
        assert [(folder / f"{name}.png").read_bytes() for name in names] == before
        kept = [fr.read(path.parent) for path in folder.glob("frames/*/meta.json")]
        assert any(each.slices.shape[0] == 0 and each.lights == () for each in kept)


@pytest.mark.parametrize("goal", [("--noise", "10%"), ("--time-budget", "60 s")])
def test_refining_what_is_dark_ends_at_once(rendered, goal):
    """There is no noise in the dark, and no reason to wait."""
    said = run("render", "off.yaml", *SMALL, "--option", "at nothing", "--option", "struck", *goal,
               "--out", "refined").output
    assert said.count("noise of the picture 0.0%") == 2
    assert black(rendered / "refined" / "struck-A-draft.png")


def test_meters_say_no_light(rendered):
    """As a table, as JSON and as CSV, with every other option's readings in place."""
    result = strict(run("meter", "off.yaml", "--precision", "30%", "--json", "--key", "key").stdout)
    by_option = {each["option"]: each for each in result["options"]}
    assert set(by_option) == {"lit", *DARK}
    for option, each in by_option.items():
        assert each["reached"]
        for place in each["incident"].values():
            receptor = place["flat"] or place["dome"]
            if option == "lit":
                assert receptor["illuminance"]["value"] > 0 and receptor["ev100"] is not None
                continue
            assert receptor["illuminance"]["value"] == 0
            assert receptor["note"] == "no light" and receptor["ev100"] is None
        for spot in each["spots"]:
            assert (spot.get("note") == "no light") == (option != "lit")
        assert all(("note" in face["lit_side"]) == (option != "lit") for face in each["faces"].values())
    for scene in ("no-lamps", "boxed", "camera", "shuttered"):
        table = run("meter", f"{scene}.yaml", "--precision", "30%").stdout
        assert scene == "camera" or "no light" in table
        run("meter", f"{scene}.yaml", "--precision", "30%", "--csv")
        strict(run("meter", f"{scene}.yaml", "--precision", "30%", "--json").stdout)


@pytest.mark.parametrize("scene", ["off", "no-lamps", "camera", "boxed", "shuttered"])
def test_sheets_of_the_dark(rendered, scene):
    """Comparison, mood and blocking are written."""
    for command, name in (("compare", "compare-draft.pdf"), ("mood", "mood-draft.html"),
                          ("block", "block-above.png")):
        size = ("--size", "320x180") if command == "block" else SMALL
        done = run(command, f"{scene}.yaml", *size, *(("--json",) if command == "compare" else ()))
        if command == "compare":
            held_rows(done.stdout)
        assert (rendered / "renders" / scene / name).is_file()


def held_rows(text):
    """Return rows of JSON by quantity; what is no number says why."""
    rows = strict(text)["rows"]
    assert [row for row in rows if row["value"] is None and not row["note"]] == []
    return {row["quantity"]: row for row in rows}


def test_a_cut_between_dark_and_light(rendered):
    """Black cuts to black; black and light do not, and it is said where light is missing."""
    assert "They cut." in run("match-cut", "off.yaml:struck", ":at nothing", *SMALL).output
    said = run("match-cut", "off.yaml:lit", ":struck", *SMALL).output
    assert "no light on the face in struck: light it" in said
    assert "They do not cut yet" in said
    done = run("match-cut", "off.yaml:struck", ":lit", *SMALL, "--json")
    assert "no light on the face in struck: light it there, or take it away in lit" in done.stderr
    rows = held_rows(done.stdout)
    assert (rows["face_difference"]["value"], rows["face_difference"]["note"]) == (None, "differs")


def test_haze_and_times_of_the_dark(rendered):
    """A ladder of dark haze, and a day behind a shutter."""
    for option in ("at nothing", "struck"):
        held_rows(run("haze", "off.yaml", *SMALL, "--option", option, "--densities", "0, 1, 3",
                      "--json").stdout)
    held_rows(run("times", "shuttered.yaml", *SMALL, "--place", "50, 8", "--date", "2026-06-01", "--zone",
                  "+00:00", "--at", "12:00", "--at", "23:00", "--json").stdout)
    assert (rendered / "renders" / "shuttered" / "times-2026-06-01-draft.pdf").is_file()


@pytest.mark.long
def test_a_study_and_a_portrait_in_the_dark(rendered):
    """A lamp whose light does not reach the face is studied all the same; a portrait has its own."""
    run("study", "boxed.yaml", *SMALL, "--sizes", "0.6 m", "--distances", "0.4 m")
    assert list((rendered / "renders" / "boxed").glob("study-*.png"))
    said = run("study", "no-lamps.yaml", code=2).output
    assert "The scene has no lamp to study; add one under 'lights:'." in said
    run("portrait", "no-lamps.yaml", "--size", "64", "--samples", "4", "--quality", "draft")
    assert not black(rendered / "renders" / "no-lamps" / "portrait-draft.png")


def test_the_page_answers_in_the_dark(rendered):
    """Scene, frames, meters, spot, pictures and the hand-out of a set without lamps."""
    def request(scene, path):
        return run("page", f"{scene}.yaml", *SMALL, "--get", path)

    for scene in ("no-lamps", "camera"):
        assert strict(request(scene, "frames.json").stdout)["lamps"] == []
        assert strict(request(scene, "spot.json?camera=A&x=0.5&y=0.5").stdout)["parts"] == []
        for path in ("still.png?camera=A", "still.png?camera=A&quick=1"):
            assert not np.any(np.asarray(Image.open(_file(request(scene, path)))))
        for path in ("map.png?camera=A", "settled?camera=A", "difference.png?camera=A"):
            assert request(scene, path).stdout_bytes
        assert "<!doctype html>" in request(scene, "handout.html?camera=A").stdout


def _file(done):
    return io.BytesIO(done.stdout_bytes)

