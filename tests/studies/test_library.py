"""`import previz`: scenes, shots and studies as values, without a command line."""

import csv
import doctest
import errno
import io
import json
import os
import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

import previz
from previz.errors import RequestError, ResourceError
from previz.exposure.display import show_8bit
from previz.rendering.job import StageJob
from previz.rendering.progress import Cancelled

ROOT = Path(__file__).parents[2]

SCENE = """\
previz: 1
title: Yard office, evening
room: {size: [3 m, 3 m, 2.5 m], surfaces: {walls: {reflectance: 0.4}}}
daylight: {sky: overcast, illuminance: 40 lx}
pieces:
  - {name: stand, shape: box, at: [1.4 m, 2 m], size: [0.4 m, 0.4 m, 1.2 m], surface: grey card}
lights:
  - {name: key, kind: fresnel, at: [2.7 m, 0.4 m, 2.2 m], aim: stand.top, output: 3000 lm, spectrum: led}
  - {name: desk lamp, kind: bulb, at: [0.5 m, 2.4 m, 1.4 m], output: 400 lm, cct: 2700 K}
cameras:
  - {name: A, at: [2.5 m, 0.5 m, 1.3 m], aim: stand.centre, lens: 25 mm, stop: T2.8, iso: 800}
  - {name: B, at: [0.5 m, 0.5 m, 1.3 m], aim: stand.centre, lens: 25 mm, stop: T2.8, iso: 800}
meters:
  - {name: on the stand, at: [1.4 m, 2 m, 1.22 m]}
options:
  full: {}
  late:
    lights: {key: {dimmer: 40 %, gel: half cto}, desk lamp: {on: no}}
    cameras: {A: {iso: 1600, white_balance: 3200 K}}
"""

LATE = ({"desk lamp": {"on": False}},
        {"key": {"dimmer": 0.4, "gel": "half cto"}, "iso": 1600, "white_balance": 3200.0})
SETTINGS = {"size": (64, 36), "quality": "draft", "samples": 2, "error": 0.1}


def run(script, folder):
    """Run a script in a process of its own in which click cannot be imported."""
    blocked = "import sys; sys.modules['click'] = None\n"
    done = subprocess.run([sys.executable, "-c", blocked + script], cwd=folder, text=True,
                          capture_output=True, timeout=300, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def file(tmp_path_factory):
    path = tmp_path_factory.mktemp("library") / "office.yaml"
    path.write_text(SCENE)
    return previz.open(path)


@pytest.fixture(scope="module")
def cache(file):
    return file.path.parent / "frames"


@pytest.fixture(scope="module")
def shot(file, cache):
    return file["full"].render("A", cache=cache, **SETTINGS)


def test_importing_it_loads_nothing_else(tmp_path):
    """Not the engine, the command line, numpy or any other part, until something is used."""
    run("import previz\n"
        "assert [name for name in sys.modules if name.startswith('previz')] == ['previz']\n"
        "assert not {'numpy', 'mitsuba', 'drjit', 'PIL', 'yaml'} & set(sys.modules)\n"
        "assert {'open', 'compare', 'mood'} <= set(dir(previz))\n"
        "previz.open\n"
        "assert not {'numpy', 'mitsuba', 'drjit', 'PIL'} & set(sys.modules)\n", tmp_path)
    with pytest.raises(AttributeError, match="no attribute 'rendr'"):
        previz.rendr  # noqa: B018


def test_a_file_has_its_options_cameras_and_lamps(file, tmp_path):
    """What a file holds is there by name; '' is the scene as written."""
    assert (file.title, file.options, list(file), len(file)) == (
        "Yard office, evening", ("full", "late"), ["full", "late"], 2)
    assert file["full"].cameras == ("A", "B")
    assert file["full"].lamps == ("key", "desk lamp", "sky")
    assert file[""].name == ""
    with pytest.raises(RequestError, match="has no option 'lat'. Did you mean 'late'"):
        file["lat"]
    (tmp_path / "bad.yaml").write_text(SCENE.replace("aim: stand.top", "aim: stnad.top"))
    with pytest.raises(previz.errors.SceneError, match=r"bad.yaml:8:\d+: "):
        previz.open(tmp_path / "bad.yaml")


@pytest.mark.engine
def test_a_shot_is_a_picture_a_map_and_light(shot):
    """Arrays of one shape; the still is the linear light through the output transform."""
    assert (shot.still.shape, shot.still.dtype) == ((18, 32, 3), np.uint8)
    assert (shot.linear.shape, shot.linear.dtype.kind) == ((18, 32, 3), "f")
    assert (shot.map.shape, shot.map.dtype) == ((18, 32, 3), np.uint8)
    assert np.array_equal(show_8bit(np.moveaxis(shot.linear, -1, 0)), shot.still)
    assert shot.linear.max() > 0.01
    png = Image.open(io.BytesIO(shot._repr_png_()), formats=["PNG"])
    assert np.array_equal(np.asarray(png), shot.still)


@pytest.mark.engine
def test_changed_lamps_are_the_option_that_says_the_same(file, cache, shot, monkeypatch):
    """Picture, map and every number are those of a scene with these values; nothing is traced."""
    monkeypatch.setattr(StageJob, "buffers", property(lambda self: pytest.fail("the engine is used")))
    written = file["late"].render("A", cache=cache, **SETTINGS)
    lamps, more = LATE
    changed = shot.with_lamps(lamps, **more)
    in_steps = shot.with_lamps(more | {"key": {"dimmer": 1.0}}, **{"desk lamp": {"on": True}})
    in_steps = in_steps.with_lamps(lamps, key={"dimmer": 0.4, "gel": ["half cto"]})
    for each in (changed, in_steps):
        assert np.array_equal(each.still, written.still)
        assert np.array_equal(each.map, written.map)
        assert ([{**row, "option": ""} for row in each.rows()]
                == [{**row, "option": ""} for row in written.rows()])
    assert not np.array_equal(changed.still, shot.still)


@pytest.mark.engine
def test_a_stop_is_a_stop(shot):
    """T5.6 against T2.8 leaves a quarter of the light: (5.6 / 2.8)² = 4, but for the denoiser."""
    closed = shot.with_lamps(stop=5.6)
    assert closed.linear.mean() == pytest.approx(shot.linear.mean() / 4, rel=0.01)
    stops = [next(row["value"] for row in each.rows() if row["quantity"] == "stops_from_working")
             for each in (shot, closed)]
    # The light is the same; the working stop asks for two stops more of it.
    assert stops[1] == pytest.approx(stops[0] - 2)


@pytest.mark.engine
def test_a_sheet_says_what_was_changed(shot, tmp_path):
    """The sheet of a changed shot is written, and does not pass for the option's own."""
    changed = shot.with_lamps({"desk lamp": {"on": False}}, key={"dimmer": 0.4}, stop=4.0)
    path, = changed.sheet(tmp_path / "sheets" / "evening")
    assert path == tmp_path / "sheets" / "evening.png" and path.stat().st_size > 10_000
    assert changed.shot.changed == "changed: desk lamp off, key at 40 %, stop 4"
    assert shot.shot.changed == ""


@pytest.mark.engine
@pytest.mark.parametrize(("lamps", "more", "why"), [
    ({"kye": {"on": False}}, {}, "nothing called 'kye' can be changed.*\n.*key, desk lamp, sky.*stop, iso"),
    ({}, {"lens": 0.05}, "nothing called 'lens' can be changed without rendering"),
    ({"key": {"at": (1, 1, 1)}}, {}, "a lamp has no 'at' that costs no rendering.*\n.*dimmer, on"),
    ({"key": {"dimmer": 1.5}}, {}, "level of key lies from 0 to 1, not 1.5"),
    ({"key": 0.5}, {}, "what is changed of 'key' is 0.5"),
    ({"key": {"gel": "rose"}}, {}, "there is no gel 'rose' for key.*\n.*half cto"),
    ({"sky": {"gel": "half cto"}}, {}, "the sky takes no gel"),
    ({}, {"stop": 500.0}, "stop of camera A lies from 0.5 to 128"),
])
def test_what_needs_a_render_is_refused(shot, lamps, more, why):
    """A wrong name, a wrong value or a change of the light's paths is refused, with what there is."""
    with pytest.raises(RequestError, match=why):
        shot.with_lamps(lamps, **more)


@pytest.mark.parametrize(("words", "why"), [
    ({"camera": "C"}, "has no camera 'C'"), ({"qualty": "draft"}, "no setting 'qualty'.\n.*'quality'"),
    ({"quality": "best"}, "no quality 'best'.\n.*draft, working, fine"),
    ({"size": 3.5}, "3.5 is no size"), ({"size": (3, 4)}, "is no size"),
])
def test_a_request_that_cannot_be_met_is_refused(file, words, why):
    """Before anything is rendered, and with what there is."""
    with pytest.raises(RequestError, match=why):
        file["full"].render(**words)


@pytest.mark.engine
def test_rows_are_the_same_in_every_form(shot):
    """JSON and CSV hold what `rows` does; each quantity has its unit and meaning."""
    rows, found = shot.rows(), json.loads(shot.to_json())
    assert found["rows"] == rows and found["study"] == "render"
    assert {row["quantity"] for row in rows} == set(found["quantities"])
    table = list(csv.DictReader(io.StringIO(shot.to_csv())))
    assert [list(row) for row in table] == [list(row) for row in rows]
    for text, row in zip(table, rows, strict=True):
        assert text["quantity"] == row["quantity"]
        if isinstance(row["value"], float):
            assert float(text["value"]) == row["value"]
    light = next(row for row in rows if row["quantity"] == "illuminance" and not row["lamp"]
                 and row["meter"] == "on the stand")
    assert 0 < light["standard_error"] < 0.2 * light["value"] and light["unit"] == "lx"
    # The map's bands share out the frame.
    shares = [row["value"] for row in rows if row["quantity"] == "band_share"]
    assert sum(shares) == pytest.approx(1.0)


@pytest.mark.engine
def test_meters_read_what_the_shot_was_metered_at(file, cache, shot):
    """The same meter from the same paths; lamps' parts add up to the whole."""
    found = file["full"].meters(["A"], error=0.1, no_spots=True, cache=cache)
    pairs = []
    for rows in (shot.rows(), found.rows()):
        here = [row for row in rows if row["quantity"] == "illuminance" and row["receptor"] == "flat"
                and row["meter"] == "on the stand"]
        pairs.append({row["lamp"]: row["value"] for row in here})
    assert pairs[0] == pairs[1] and set(pairs[0]) == {"", "key", "desk lamp", "sky"}
    assert pairs[0][""] == pytest.approx(sum(pairs[0][name] for name in pairs[0] if name))
    assert {row["camera"] for row in found.rows()} == {"", "A"}
    with pytest.raises(RequestError, match="no word 'spotz'.\n.*'spots'"):
        file["full"].meters(spotz=["stand"])


@pytest.mark.engine
def test_it_is_told_how_far_it_is_and_can_be_cancelled(file, tmp_path):
    """Cancelled after its first passes it has kept them, and the same request goes on from there."""
    shares, lines = [], []
    # Four passes of one path a pixel.
    words = {**SETTINGS, "size": (32, 18), "quality": "working", "samples": 4, "message": lines.append,
             "cache": tmp_path / "frames", "progress": lambda share, what, left: shares.append(share)}
    with pytest.raises(Cancelled):
        file["full"].render("B", cancel=lambda: any(share > 0.2 for share in shares), **words)
    assert 0 < max(shares) < 0.9
    kept = list((tmp_path / "frames").rglob("lamp.json"))
    assert kept
    shares.clear()
    done = file["full"].render("B", **words)
    assert shares == sorted(shares) and shares[-1] == pytest.approx(1.0)
    assert any("of the rig" in line for line in lines)
    whole = file["full"].render("B", **{**words, "cache": tmp_path / "whole"})
    assert np.array_equal(done.still, whole.still)


def test_a_study_gets_the_request_and_its_own_words(file, tmp_path, monkeypatch):
    """Settings become one request; the rest goes to the study, which is asked what it takes."""
    from previz.studies import haze

    def study(scene, request, *, factors=(), progress=None):
        return scene, request, factors, progress

    monkeypatch.setattr(haze, "haze", study, raising=False)
    lines = []
    scene, request, factors, progress = previz.haze(
        file["late"], factors=(0.5, 1.0), size=320, quality="fine", cache=tmp_path, message=lines.append)
    assert (scene, factors) == (file.file.scene("late"), (0.5, 1.0))
    assert (request.size, request.quality, request.cache) == ((320, None), "fine", tmp_path)
    progress.say("done")
    assert lines == ["done"]
    with pytest.raises(RequestError, match="no word 'factor'.\n.*'factors'"):
        previz.haze(file["late"], factor=2)


def test_disk_and_memory_that_are_short_are_told_in_words(shot, file, tmp_path, monkeypatch):
    """A ResourceError with the place, of a render, of meters, of a study and of a sheet."""
    def full(*_, **__):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), "frames/a.npy")

    for name in ("render.render", "meter.meter", "compare.compare"):
        monkeypatch.setattr(f"previz.studies.{name}", full)
    for work in (file["full"].render, file["full"].meters, lambda **words: previz.compare(file, **words)):
        with pytest.raises(ResourceError, match="^'frames/a.npy': no space left on device"):
            work(cache=tmp_path)
    (tmp_path / "taken.png").mkdir()
    with pytest.raises(ResourceError, match="taken.png': is a directory"):
        shot.sheet(tmp_path / "taken")
    assert [path.name for path in tmp_path.iterdir()] == ["taken.png"]
    with pytest.raises(RequestError, match="is a file"):
        file["full"].render(cache=Path(__file__) / "frames")
    with pytest.raises(RequestError, match="16 to 16384 px"):
        file["full"].render(cache=tmp_path, size=(20000, 100))


def test_what_its_docstrings_show_is_so(monkeypatch):
    """Every example that costs no rendering runs and gives what it shows."""
    from previz.library import scenes

    monkeypatch.chdir(ROOT)
    found = doctest.testmod(scenes)
    assert found.attempted >= 3 and found.failed == 0


@pytest.mark.engine
@pytest.mark.slow
def test_the_readme_s_script_runs(tmp_path):
    """The block under 'In a notebook or a script' as it stands, smaller, where there is no click."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    script, = re.findall(r"```python\n(.*?)```", text, re.S)
    for usual, small in (("(960, 540)", "(64, 36)"), (".meters()", ".meters(error=0.5, no_spots=True)"),
                         ('quality="draft"', 'quality="draft", error=0.5')):
        assert usual in script
        script = script.replace(usual, small)
    (tmp_path / "scenes").symlink_to(ROOT / "scenes")
    said = run(script, tmp_path)
    # What it prints is a ratio of the clerk's face with its error.
    assert re.fullmatch(r"clerk \d+\.\d+ ± \d+\.\d+\n", said)
    assert (tmp_path / "cabin.png").is_file()
