"""`previz paper`: a small set of two options on paper, without an engine but for one picture."""

import csv
import importlib.util
import io
import json
import re
import sys
from pathlib import Path

import click
import numpy as np
import pytest
from click.testing import CliRunner

import previz
from previz.cli.main import previz as program
from previz.deliver.canvas import Canvas
from previz.deliver.map import exposure_map
from previz.deliver.pack import PackPicture
from previz.errors import RequestError, SceneError
from previz.frames import together
from previz.physics.exposure import CameraSettings
from previz.plans.lines import MeterLine
from previz.plans.records import PAGES, Drawing, Head, Sheet
from previz.plans.sheet import compose
from previz.rendering.progress import Progress
from previz.rendering.request import Request
from previz.scene.read import load
from previz.studies.paper import load_all, paper
from previz.studies.paper import run as run_module
from previz.studies.paper.drawings import Page
from previz.studies.quantities import QUANTITIES

# The colour library warns of optional parts that are not installed.
pytestmark = pytest.mark.filterwarnings("ignore")


def module(name, path):
    spec = importlib.util.spec_from_file_location(name, path)
    found = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(found)
    return found


TESTS = Path(__file__).parents[1]
sheet_numbers = module("sheet_numbers", TESTS / "sheet_numbers.py")

# 2 x 2000 W at 230 V are 17.4 A, on a circuit of 16 A that holds 12.8 A (NEC 210.20(A), 80 %).
SCENE = """\
previz: 1
title: Lamp room
room:
  size: [4 m, 3 m, 2.5 m]
  openings: [{name: door, wall: west, along: 1 m, sill: 0 m, size: [0.9 m, 2.1 m]}]
mains: {circuits: [{name: wall one, breaker: 16 A}, {name: wall two, breaker: 16 A}]}
pieces:
  - {name: desk, shape: desk, at: [2 m, 2 m], size: [1.2 m, 0.6 m, 0.75 m]}
lights:
  - {name: key, kind: fresnel, at: [1 m, 0.5 m, 2 m], aim: desk, output: 40 klm, watts: 2000 W, weight: 9 kg,
     cct: 3200 K, circuit: wall one, gel: half ctb}
  - {name: fill, kind: fresnel, at: [3.5 m, 0.5 m, 1.8 m], aim: desk, output: 40 klm, watts: 2000 W,
     weight: 9 kg, cct: 3200 K, circuit: wall one}
  - {name: bulb, kind: bulb, at: [3 m, 2.2 m, 2.2 m], output: 1500 lm, in_shot: yes, circuit: wall two}
boards:
  - {name: card, at: [0.6 m, 2 m, 1.4 m], size: [1 m, 0.7 m], facing: desk, surface: white card}
cameras:
  - {name: A, at: [2 m, 0.3 m, 1.5 m], aim: [2 m, 3 m, 1.2 m], lens: 24 mm, stop: T2.8, iso: 800}
meters:
  - {name: window seat, at: [2 m, 1.5 m, 0.9 m]}
options:
  two: {}
  one: {remove: [card], lights: {fill: {on: no}, key: {gel: none, dimmer: 50 %}}}
"""


@pytest.fixture(scope="module")
def room(tmp_path_factory):
    file = tmp_path_factory.mktemp("paper") / "room.yaml"
    file.write_text(SCENE, encoding="utf-8")
    return file


def run(*words):
    return CliRunner().invoke(program, [*map(str, words)], standalone_mode=False)


@pytest.fixture(scope="module")
def made(room):
    """The scene on paper, plans and lists alone."""
    return paper([load(room)], Request(room.parent / "frames"), pictures=False, meters=False)


@pytest.fixture(scope="module")
def written(room):
    """The command's run, and its folder."""
    out = room.parent / "out"
    return run("paper", room, "--no-pictures", "--no-meters", "--out", out), out / "paper"


def table(folder, name):
    with (folder / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_it_writes_paper_drawings_and_lists(written):
    """One PDF, the drawings as SVG and DXF, each list as CSV; each is named on standard output."""
    done, folder = written
    assert done.exception is None, done.output
    names = {path.name for path in folder.iterdir()}
    assert {"paper.pdf", "drawings.dxf", *(f"{name}.csv" for name in (
        "lamps", "grip", "gels", "cable", "power", "flicker", "changes", "truck"))} <= names
    assert any(re.fullmatch(r"plan.*\.svg", name) for name in names)
    assert {Path(line).name for line in done.stdout.split()} == names
    assert (folder / "paper.pdf").read_bytes().startswith(b"%PDF")


def test_a_circuit_over_the_rule_is_told_everywhere(written, made):
    """In the terminal on its own line, in the CSV by the word OVER, on paper in words: 17.4 A over 12.8 A."""
    done, folder = written
    said = "Lamp room, two: circuit wall one, OVER: 17.4 A on a circuit that may hold 12.8 A, 4.6 A too much"
    assert said in done.stderr.splitlines()
    flagged = [row for row in table(folder, "power") if row["flag"] == "OVER"]
    assert [(row["option"], row["name"]) for row in flagged] == [("two", "wall one")]
    assert "17.4 A" in flagged[0]["note"]
    sys.path.insert(0, str(TESTS / "deliver"))
    try:
        from test_plan_pdf import letters, pages
        from test_plan_pdf import said as words_of
    finally:
        sys.path.pop(0)
    pdf = (folder / "paper.pdf").read_bytes()
    text = " ".join(word for content, _ in pages(pdf) for word in words_of(content, letters(pdf)))
    assert "OVER: 17.4 A on a circuit that may hold 12.8 A" in text.replace("\xa0", " ")
    assert made.over == [said]


def words_on(made):
    """All words of its pages of lists, and of its drawings."""
    texts = []
    for page in made.pages:
        if isinstance(page, Sheet):
            continue
        with sheet_numbers.drawing() as drawn:
            canvas = Canvas(made.layout.setting.width, 4000)
            top = 0.0
            for block in page[1:]:
                block.draw(canvas, 0, top, made.layout.setting.inner)
                top += block.height
        texts += drawn
    return texts


def test_every_number_on_the_lists_is_a_row(made):
    """Known quantities, one way in each form, and every number that is drawn among them."""
    rows = made.rows()
    assert {row["quantity"] for row in rows} <= set(QUANTITIES)
    assert json.loads(made.to_json())["rows"] == rows
    assert len(list(csv.DictReader(io.StringIO(made.to_csv())))) == len(rows)
    # Heads and notes that stand on every sheet of the kind, and words that are rows themselves.
    constants = [row["value"] for row in rows if isinstance(row["value"], str)]
    constants += [row["note"] for row in rows if row["note"]] + [line.note for line in made.pack.truck]
    constants += [line.what for line in made.pack.truck] + ["A, 3 h and more", *made.over]
    assert sheet_numbers.missing(words_on(made), rows, constants) == []


def test_totals_agree_with_the_lists(made):
    """Watts, cable and truck are sums over the lines that the lists have."""
    for set_up in made.pack.scenes[0].set_ups:
        on = [lamp for lamp in set_up.lamps if lamp.on]
        assert set_up.power.watts == pytest.approx(sum(lamp.watts for lamp in on))
        assert sum(line.watts for line in set_up.power.circuits) == pytest.approx(set_up.power.watts)
        pieces = [length for each in set_up.runs for length in each.pieces]
        assert sorted(pieces) == sorted(line.length for line in set_up.cables for _ in range(line.count))
        of = {"option": set_up.option, "quantity": "load"}
        total = [row["value"] for row in made.rows() if of.items() <= row.items()]
        assert total == [pytest.approx(set_up.power.watts)]
    lamps = sum(line.count for line in made.pack.truck if line.group == "lamps")
    assert lamps == max(len(each.lamps) for each in made.pack.scenes[0].set_ups) == 3


def test_what_is_changed_between_options(made):
    """The card is struck, the fill goes off, the key loses its gel: each is told once."""
    change, = made.pack.scenes[0].changes
    assert {change.before, change.after} == {"one", "two"}
    names = {each.name for each in change.changes}
    assert {"card", "fill", "key"} <= names


def test_words_on_drawings_are_rows_too(made):
    """Every word with a figure on a plan is a row with the drawing that it stands on."""
    rows = [(row["value"], row["note"]) for row in made.rows() if row["quantity"] == "drawn_words"]
    for view in ("Plan", "Section"):
        words = {text for text, note in rows if note.startswith(view)}
        assert "2.20 m" in words or view == "Plan"
        assert [text for text in words if text.startswith("Scale 1:")]
    assert any(text == "4.00 m" and note.startswith("Plan") for text, note in rows)


def test_lists_come_as_json(made):
    """All lists as they are, option by option, in plain values."""
    lists = json.loads(made.to_json())["lists"]
    options = {each["option"]: each for each in lists["scenes"][0]["options"]}
    assert [lamp["name"] for lamp in options["two"]["lamps"]] == ["key", "fill", "bulb"]
    assert options["one"]["lamps"][1]["on"] is False
    assert options["two"]["power"]["circuits"][0]["over"] is True
    assert lists["truck"]


def test_both_systems_and_papers(room):
    """Feet and inches on letter paper; three pages and no more of so small a scene."""
    found = paper([load(room)], Request(room.parent / "frames"), options=["two"], page="letter",
                  system="imperial", pictures=False, meters=False)
    words = " ".join(words_on(found))
    assert "6' 6 1/2\"" in words.replace("\xa0", " ") and "19.8 lb" in words and " ft²" in words
    assert len(found.pages) <= 4 and [sheet.sheet.page for sheet in found.drawings][0] == (279.4, 215.9)


def test_a_day_of_two_scenes(room, tmp_path):
    """One truck, one cover; each scene has its own pages, and files of two names."""
    other = tmp_path / "yard.yaml"
    other.write_text(SCENE.replace("Lamp room", "Yard").replace("name: two,", "name: two,"), encoding="utf-8")
    found = paper(load_all([room, other]), Request(tmp_path / "frames"), pictures=False, meters=False)
    assert [scene.title for scene in found.pack.scenes] == ["Lamp room", "Yard"]
    names = set(found.files())
    assert {"room-drawings.dxf", "yard-drawings.dxf"} <= names and "drawings.dxf" not in names
    # The most that any one set-up needs: what stands in two scenes is not carried twice.
    assert sum(line.count for line in found.pack.truck if line.group == "lamps") == 3
    assert len(found.over) == 2


def test_faults_of_several_scenes_are_told_at_once(room, tmp_path):
    """Every fault of every file with its place, no traceback, and nothing is written."""
    bad = [tmp_path / f"bad{number}.yaml" for number in (1, 2)]
    for file in bad:
        file.write_text(SCENE.replace("kind: bulb", "kind: blub").replace("T2.8", "T-2"), encoding="utf-8")
    with pytest.raises(SceneError) as caught:
        load_all([room, *bad])
    said = str(caught.value)
    assert said.count("blub") >= 2 and said.count("T-2") >= 2 and all(str(file) in said for file in bad)
    done = run("paper", room, *bad, "--no-pictures", "--no-meters", "--out", tmp_path / "out")
    assert isinstance(done.exception, SceneError) and not (tmp_path / "out").exists()


@pytest.mark.parametrize("words, said", [
    (["--option", "tow"], "no option 'tow'. Did you mean 'two'"), (["--camera", "B"], "no camera 'B'"),
    (["--scale", "2"], "At 1:2 the plan is larger than A4 has room for"),
    (["--page", "a5"], "a5"),
])
def test_what_there_is_not_is_refused(room, tmp_path, words, said):
    """Names and scales that cannot be are told, and no file is there or changed."""
    done = run("paper", room, "--no-pictures", "--no-meters", "--out", tmp_path / "out", *words)
    # Status 2: the user's to mend.
    assert isinstance(done.exception, click.UsageError) and said in str(done.exception)
    assert not list(tmp_path.rglob("*.pdf"))


def test_an_interrupt_leaves_what_was_there(made, tmp_path, monkeypatch):
    """Ctrl-C while files are written leaves all of them as they were, and no part behind."""
    folder = tmp_path / "paper"
    made.sheet(folder)
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    real, count = together.Together.whole_file, []

    def interrupted(self, path):
        count.append(path)
        if len(count) == 5:
            raise KeyboardInterrupt
        return real(self, path)

    monkeypatch.setattr(together.Together, "whole_file", interrupted)
    with pytest.raises(KeyboardInterrupt):
        made.sheet(folder)
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before
    monkeypatch.undo()
    # The same scene makes the same files.
    made.sheet(folder)
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


def test_library_gives_the_same(room):
    """`previz.paper` takes a file or several, and words of its own and of all studies."""
    found = previz.paper(room, pictures=False, meters=False, cache=room.parent / "frames")
    assert found.title == "Lamp room" and len(found.pages) >= 2
    with pytest.raises(RequestError, match="no word 'picture'"):
        previz.paper([room], picture=False)
    with pytest.raises(RequestError, match="no page 'a5'"):
        previz.paper(room, page="a5", pictures=False, meters=False, cache=room.parent / "frames")


@pytest.mark.engine
def test_pictures_and_their_numbers(room, tmp_path):
    """A draft of 160 x 90 stands on the first page with its map; it is taken from the cache the next time."""
    request = Request(tmp_path / "frames", (160, 90), "draft", samples=2, bands=8, error=0.5)
    said = []
    asked = {"options": ["two"], "meters": False, "progress": Progress(message=said.append)}
    found = paper([load(room)], request, **asked)
    picture, = found.pack.scenes[0].pictures
    assert picture.still.shape == (45, 80, 3) and picture.chart.index.shape == (45, 80)
    assert np.ptp(picture.still) > 0 and any("rendering" in line for line in said)
    assert isinstance(found.pages[0], list)
    paper([load(room)], request, **asked)
    assert "taken from the cache" in said[-1]
    assert {"camera_stop", "camera_iso"} <= {row["quantity"] for row in found.rows()}


SHIPPED = sorted((TESTS.parent / "scenes").glob("*.yaml"))


class Drawn:
    """As many drawings as there may be of a scene, all the same."""

    def __init__(self, title, scenes, stages, tags, ask):
        drawing = Drawing("plan", 50, (), (0.0, 0.0), (1.0, 1.0))
        page = Page(("plan",), lambda number: compose(
            drawing, PAGES[ask.page], Head(title, "Plan", number), (), system=ask.system))
        self.plans, self.differences, self.sections = (page,) * len(scenes), (page,), (page,)
        self.section, self.scenes = self.sections, scenes

    def made(self, one):
        """Draw nothing more."""


@pytest.mark.parametrize("scene, page, system", [
    *((scene.stem, "a4", "metric") for scene in SHIPPED), ("engine-shed", "letter", "imperial")])
def test_a_shipped_scene_takes_six_pages_or_fewer(scene, page, system, monkeypatch):
    """With a picture by each camera, all lists, and what a meter is to read at 14 places of each option."""
    file = load(TESTS.parent / "scenes" / f"{scene}.yaml")
    still = np.full((54, 96, 3), 90, np.uint8)
    chart = exposure_map(np.full((54, 96), 0.18))
    said = ("clerk: lit side 195 lx, +0.7 stops, shadow side 64.6 lx, −0.9 stops",
            "lit : shadow 3.0 : 1, key alone : fill 2.0 : 1")

    def pictured(shot):
        option, camera = shot
        return PackPicture(option, camera, still, chart, CameraSettings(2.8, 800.0, 1 / 48, 5600.0), said)

    line = MeterLine("clerk right cheek", "desk lamp + daylight", 31.8, 0.3, 0.16, -1.9, "A",
                     note="lit side")
    monkeypatch.setattr(run_module, "Drawings", Drawn)
    monkeypatch.setattr(run_module, "shots_of", lambda stages, cameras, *_, **more: {
        option: tuple((option, name) for name in cameras) for option in stages})
    monkeypatch.setattr(run_module, "picture_of", pictured)
    monkeypatch.setattr(run_module, "meter_lines", lambda *_, **more: (line,) * 14)
    found = paper([file], Request(file.path.parent / "frames"), page=page, system=system)
    assert len(found.pages) <= 6
    # What there is of each option is there: its picture, its plan or the one for all, its meter sheet.
    assert len(found.pack.scenes[0].pictures) == len(file.option_names) * len(file.scene().cameras)
    assert len(found.drawings) >= 2 and len(found.meters_csv) == len(file.option_names)
    words = words_on(found)
    assert sum(word.startswith("Meter sheet, ") for word in words) == len(file.option_names)
