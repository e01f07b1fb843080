"""A comparison, a match and a day as data: every number of their sheets is a row, with unit and error."""

import ast
import csv
import datetime
import importlib.util
import io
import json
import math
import re
from dataclasses import replace
from pathlib import Path

import pytest
import snapshot

from previz.deliver import compare_table, match_sheet, times_sheet
from previz.exposure.comparing.difference import difference_bands
from previz.exposure.falsecolour import signed, stop_bands
from previz.frames.records import Short
from previz.rendering.request import Request
from previz.scene.read import load
from previz.studies import quantities
from previz.studies.compare import compare
from previz.studies.match import Take, match
from previz.studies.quantities import QUANTITIES
from previz.studies.result import row
from previz.studies.times import times

pytestmark = [
    pytest.mark.engine,
    # The colour library warns of optional parts that are not installed.
    pytest.mark.filterwarnings("ignore"),
]

spec = importlib.util.spec_from_file_location("sheet_numbers", Path(__file__).parents[1] / "sheet_numbers.py")
sheet_numbers = importlib.util.module_from_spec(spec)
spec.loader.exec_module(sheet_numbers)

HELD = [row(quantity, value, **of) for quantity, value, of in (
    ("stops_from_working", 1.26, {"lamp": "key 2"}), ("lit_side", 1616.0, {}), ("lit_to_shadow", 13.09, {}),
    ("nose_edge", 0.0121, {}), ("camera_stop", 5.6, {}), ("camera_shutter", 1 / 48, {}),
    ("spill_key_share", 0.607, {}))]

# Two faces by two cameras: the box keys the clerk and fills the porter; numbers in names are no readings.
SCENE = """\
previz: 1
title: Parcels office 2
room:
  size: [4 m, 4 m, 2.6 m]
  surfaces: {walls: {reflectance: 0.3}}
  openings: [{name: window 1, wall: south, along: 1 m, sill: 0.6 m, size: [2 m, 1.6 m], glass: none}]
daylight: {sky: clear, time: 2026-06-21 13:00 +02:00, latitude: 52.5 deg, longitude: 13.4 deg,
  sun: {}}
figures:
  - {name: clerk, person: person one, hair: none, pose: standing, at: [1.6 m, 2.4 m],
     facing: [1.6 m, 0 m, 1.6 m]}
  - {name: porter, person: person one, hair: none, pose: standing, at: [2.6 m, 2.4 m],
     facing: [3.5 m, 0 m, 1.6 m]}
lights:
  - {name: box 1, kind: soft box, at: [0.6 m, 1.4 m, 1.9 m], aim: clerk.face, size: [0.6 m, 0.6 m],
     output: 9000 lm, watts: 80 W, cct: 4300 K, spectrum: led}
  - {name: desk lamp, kind: bulb, at: [2.1 m, 3.2 m, 1.9 m], output: 900 lm, in_shot: yes}
cameras:
  - {name: A, at: [1.6 m, 0.8 m, 1.6 m], aim: clerk.face, lens: 25 mm, stop: T5.6, iso: 320}
  - {name: B, at: [3.4 m, 0.8 m, 1.6 m], aim: porter.face, lens: 25 mm, stop: T2.8, iso: 250}
options:
  night 1: {daylight: none}
  late: {daylight: none, lights: {box 1: {dimmer: 40 %}}, cameras: {A: {white_balance: 3600 K}}}
  day: {}
  hazy: {daylight: none, haze: {density: 0.2 /m},
    lights: {box 1: {gel: half cto, dimmer: 30 %}, desk lamp: {dimmer: 20 %}}}
"""


@pytest.mark.parametrize("text", [
    "+1.3", "1\u202f620", "1\u202f620 lx", "13.1 : 1", "12 mm", "T5.6", "1/48 s",
    "61 % of it key", "key 2: +1.3",
])
def test_what_is_a_row_is_found(text):
    """Numbers rounded as on a set, in the unit behind them; names with figures in them are none."""
    assert sheet_numbers.missing([text], HELD) == []


@pytest.mark.parametrize("text", [
    "−1.3", "1.3", "+1.4", "1\u202f630", "1\u202f620 K", "13.2 : 1", "13 mm", "T1.3", "1/50 s", "62 %",
    "key 3",
])
def test_what_is_no_row_is_missing(text):
    """Another sign, figure or unit is another number."""
    assert len(sheet_numbers.missing([text], HELD)) == 1
    assert sheet_numbers.missing([text], HELD, [f"Always {text} on it."]) == []


def test_a_number_has_one_meaning():
    """No block of the register gives a name again that another has."""
    tree = ast.parse(Path(quantities.__file__).read_text(encoding="utf-8"))
    names = [key.value for node in ast.walk(tree) if isinstance(node, ast.Dict)
             for key in node.keys if isinstance(key, ast.Constant)]
    assert len(names) > 50 and len(names) == len(set(names))


@pytest.fixture(scope="module")
def office(tmp_path_factory):
    """The scene, and what is requested of its pictures."""
    folder = tmp_path_factory.mktemp("office")
    (folder / "office.yaml").write_text(SCENE, encoding="utf-8")
    request = Request(folder / "frames", (96, 54), "draft", samples=4, error=0.1)
    return load(folder / "office.yaml"), request


def drawn(result, folder):
    """Return every text of a result's sheet."""
    with sheet_numbers.drawing() as texts:
        result.sheet(folder / "sheet")
    return texts


def held(result, folder, constants, needed):
    """Hold a sheet against its rows; each of these quantities must be needed for it."""
    texts, rows = drawn(result, folder), result.rows()
    assert sheet_numbers.missing(texts, rows, constants) == []
    assert needed <= sheet_numbers.needed(texts, rows, constants)
    assert all(QUANTITIES[each["quantity"]].unit == each["unit"] for each in rows)
    assert json.loads(result.to_json())["rows"] == json.loads(json.dumps(rows))
    table = list(csv.DictReader(io.StringIO(result.to_csv())))
    assert [each["quantity"] for each in table] == [each["quantity"] for each in rows]


FACE = {"lit_side", "shadow_side", "stops_from_working", "lit_to_shadow", "face_cct", "off_balance"}
CAMERA = {"camera_stop", "camera_iso", "camera_shutter", "camera_balance"}


@pytest.fixture(scope="module")
def compared(office):
    """The comparison, as if two meters had fallen short."""
    file, request = office
    made = compare(file, request, options=("night 1", "late"))
    key = ("late", "B")
    cell = made.cells[key]
    measures = replace(cell.measures, short=(Short("porter: left cheek", 0.0437, True),
                                             Short("porter: right cheek", 0.0312, False)))
    return replace(made, cells={**made.cells, key: replace(cell, measures=measures)})


def test_every_number_of_a_comparison_is_a_row(compared, tmp_path):
    """Faces, key, levels, spill, eye-lights, colour, load, shares of frames, lamps on faces, doubts."""
    limits = [signed(each.centre, 1) for each in stop_bands() if each.mark]
    constants = [*(text for _, text in compare_table.TERMS), "2 options, 2 cameras",
                 *(band.label for band in (*stop_bands(), *difference_bands())),
                 *(f"{word} {limit}" for word in ("under", "over") for limit in limits),
                 "map: stops from 18 % grey"]
    held(compared, tmp_path, constants, FACE | CAMERA | {
        "key_side", "key_height", "nose_edge", "frame_share", "spill_key_share",
        "eye_light_width", "eye_light_clock", "load", "current", "mains", "light_per_watt",
        "reached_error", "trusted_within"})
    snapshot.hold_rows("compare", compared.rows())


def test_scopes_are_one_file_a_picture(compared, tmp_path, monkeypatch):
    """Each option by each camera, under a name of its own and with its own settings."""
    written = []
    monkeypatch.setattr("previz.studies.compare.write_scopes",
                        lambda path, picture, settings, **words: written.append((path, picture, settings)))
    paths = compared.scopes(tmp_path)
    assert [path for path, *_ in written] == paths and len(set(paths)) == len(compared.cells) == 4
    assert [(picture, settings) for _, picture, settings in written] == [
        (cell.picture, cell.measures.settings) for cell in compared.cells.values()]


def test_every_number_of_a_match_is_a_row(office, tmp_path):
    """Both shots, their differences with the limits, and what to change: T-stop, fill, balance, levels."""
    file, request = office
    matched = match(Take("night 1", file.scene("night 1"), "A"), Take("hazy", file.scene("hazy"), "A"),
                    request, limits={"face": 0.3, "ratio": 0.2})
    assert {"fill_to_add", "balance_to_set", "face_limit", "veil_difference", "veil_level"} <= {
        each["quantity"] for each in matched.rows()}
    # One meter off by a share e is off by e / ln 2 stops; two shots' errors add as squares.
    lit = [each for each in matched.rows() if each["quantity"] == "lit_side"]
    gap = next(each for each in matched.rows() if each["quantity"] == "face_difference")
    assert gap["standard_error"] == pytest.approx(math.hypot(*(
        each["standard_error"] / each["value"] for each in lit)) / math.log(2), rel=1e-3)
    limits = [signed(each.centre, 1) for each in stop_bands() if each.mark]
    scale = ["maps: stops from 18 % grey", *(band.label for band in stop_bands()),
             *(f"{word} {limit}" for word in ("under", "over") for limit in limits)]
    held(matched, tmp_path, [match_sheet._NOTE, *scale], {
        "lit_side", "lit_to_shadow", "key_to_fill", "face_cct", "camera_balance", "nose_edge",
        "balance_to_set", "mired_limit", "duv_limit", "direction_limit"})
    snapshot.hold_rows("match", matched.rows())


def test_every_number_of_a_day_is_a_row(office, tmp_path):
    """Sun, both sides and ratio at each time, what is the sun's and how it helps, and a lamp for it."""
    file, request = office
    zone = datetime.timezone(datetime.timedelta(hours=2))
    moments = [datetime.datetime(2026, 6, 21, *clock, tzinfo=zone) for clock in ((13, 9), (21, 45))]
    day = times(file.scene("day"), request, moments=moments, latitude=52.5, longitude=13.4, camera="A",
                throw=7.5, least=0.7)
    held(day, tmp_path, [text for _, text in times_sheet.TERMS], {
        "lit_side", "shadow_side", "lit_to_shadow", "key_to_fill", "face_cct", "camera_shutter",
        "camera_balance", "latitude", "longitude", "sun_azimuth", "replacement_intensity",
        "replacement_distance", "replacement_flux"})
    snapshot.hold_rows("times", day.rows())
    light = {each["quantity"]: each for each in day.rows() if each["time"] == "13:09"}
    whole = light["lit_side"]["value"]
    # Light adds up.
    assert sum(light[f"by_{part}"]["value"] for part in ("sun", "sky", "moon", "lamps")) == pytest.approx(
        whole, rel=1e-6)
    # h = log2((s + r) / r): dh = (ds - s/r dr) / ((s + r) ln 2), whatever goes together in s and r.
    errors = {part: light[f"by_{part}"]["standard_error"] for part in ("sun", "sky", "moon", "lamps")}
    sun = light["by_sun"]["value"]
    rest = errors["sky"] + errors["moon"] + errors["lamps"]
    most = (errors["sun"] + sun / (whole - sun) * rest) / (whole * math.log(2))
    assert 0 < light["sun_help"]["standard_error"] < 1.05 * most


def test_every_quantity_that_code_names_is_registered():
    """A row of an unknown quantity would stop a run that happens to have it."""
    named = {name for path in Path(quantities.__file__).parent.rglob("*.py")
             for name in re.findall(r'row\(\s*"(\w+)"', path.read_text(encoding="utf-8"))}
    assert len(named) > 100 and named - set(QUANTITIES) == set()
