"""`previz readings` and `previz as-shot`: one room, metered by another seed as if it were the set.

The set is the scene with outputs, sky and walls that the plan does not know of; what its meters read, with
5 % on top, is what the commands are given.
"""

import csv
import datetime
import importlib.util
import io
import json
from dataclasses import replace
from pathlib import Path

import click
import numpy as np
import pytest
from click.testing import CliRunner

from previz.cli.main import previz as program
from previz.deliver import as_shot_sheet, readings_sheet
from previz.errors import DataError, RequestError
from previz.physics.exposure import CameraSettings, signal_per_luminance
from previz.rendering.progress import Progress
from previz.rendering.request import Request
from previz.scene.daylight import Daylight, Sun
from previz.scene.read import load
from previz.studies.as_shot import as_shot, read_record, record_path
from previz.studies.quantities import QUANTITIES
from previz.studies.readings import ReadingsError, readings
from previz.studies.readings.planned import Metering, factors_for, wall_reflectance, with_walls
from previz.studies.saving import save_option

pytestmark = pytest.mark.engine

spec = importlib.util.spec_from_file_location("sheet_numbers", Path(__file__).parents[1] / "sheet_numbers.py")
sheet_numbers = importlib.util.module_from_spec(spec)
spec.loader.exec_module(sheet_numbers)

SCENE = """\
previz: 1
title: Lamp room
room:
  size: [4 m, 3 m, 2.5 m]
  surfaces: {walls: {reflectance: 0.5, colour: cream}}
  openings: [{name: window, wall: west, along: 0.8 m, sill: 0.8 m, size: [1.4 m, 1.2 m], glass: none}]
daylight: {sky: overcast, illuminance: 2000 lx}
lights:
  - {name: key, kind: panel, at: [1 m, 0.5 m, 2 m], aim: [2 m, 1.5 m, 1 m], size: [0.6 m, 0.6 m],
     output: 6000 lm, cct: 4300 K, dimmer: 70 %}
  - {name: fill, kind: panel, at: [3.5 m, 0.5 m, 1.8 m], aim: [2 m, 1.5 m, 1 m], size: [0.4 m, 0.4 m],
     output: 3000 lm}
  - {name: bulb, kind: bulb, at: [3 m, 2.2 m, 2.2 m], output: 1500 lm, in_shot: yes}
cameras:
  - {name: A, at: [2 m, 0.3 m, 1.5 m], aim: [2 m, 3 m, 1.2 m], lens: 24 mm, stop: T2.8, iso: 800}
meters:
  - {name: desk, at: [2 m, 1.5 m, 0.9 m]}
  - {name: window seat, at: [0.8 m, 1.5 m, 1 m], facing: window}
  - {name: corner, at: [3.6 m, 2.6 m, 1.2 m], facing: [3.9 m, 1 m, 1.2 m]}
"""

TRUE = {"key": 0.62, "fill": 0.0, "bulb": 1.45, "sky": 1.4}
"""What lamps give on the set over the plan."""

WALLS = 0.7
"""What its walls send back over the plan, at the scout."""

ORDER = {"bands": 8, "error": 0.02}


@pytest.fixture(scope="module")
def room(tmp_path_factory):
    """The scene's file."""
    file = tmp_path_factory.mktemp("readings") / "room.yaml"
    file.write_text(SCENE, encoding="utf-8")
    return file


@pytest.fixture(scope="module")
def request_(room):
    return Request(room.parent / "frames", (96, 54), "draft", samples=2, **ORDER)


def light_on_set(room, walls=1.0):
    """Return meter -> lamp -> light by an engine run of its own. [lx]"""
    scene = with_walls(load(room).scene(), walls)
    stage = Metering(scene, Request(room.parent / "set", seed=99, **ORDER), Progress(), 60.0)
    at = stage._metered(None, 1.0, [])
    meters, light = at.alone([lamp.name for lamp in at.stage.lamps])
    return {name: dict(zip([lamp.name for lamp in at.stage.lamps], row, strict=True))
            for name, row in zip(meters, light, strict=True)}


WHAT = (("desk", "key"), ("corner", "fill"), ("corner", "bulb"), ("desk", "all"), ("window seat", "all"),
        ("corner", "all"), ("window seat", "daylight"), ("desk", "all but key"))


def day(room, wrong=-1):
    """Return a table of eight readings of 5 %, one of them in foot-candles without saying so."""
    rng, lines, light = np.random.default_rng(11), ["place,reading,lamps,who"], light_on_set(room)
    for i, (place, on) in enumerate(WHAT):
        names = {"all": list(TRUE), "daylight": ["sky"], "all but key": ["fill", "bulb", "sky"]}.get(on, [on])
        read = sum(TRUE[name] * light[place][name] for name in names) * np.exp(rng.normal(0, 0.05))
        lines.append(f"{place},{read * (0.3048**2 if i == wrong else 1):.2f} lx,{on},gaffer")
    return "\n".join(lines) + "\n"


@pytest.fixture(scope="module")
def table(room):
    file = room.parent / "day.csv"
    file.write_text(day(room, wrong=5), encoding="utf-8")
    return file


def run(*words):
    return CliRunner().invoke(program, [*map(str, words)], standalone_mode=False)


@pytest.fixture(scope="module")
def found(room, request_, table):
    """The plan under the day's readings, with pictures."""
    return readings(load(room).scene(), request_, table=table, picture=True)


def test_lamps_and_the_reading_that_cannot_be_so(found):
    """Outputs within 0.15 stop, the dead one, the swapped unit and what it would have to be."""
    lamps = {line.lamp: line for line in found.lamps}
    assert lamps["fill"].dead and lamps["fill"].verdict.startswith("dead: under ")
    for name in ("key", "bulb", "sky"):
        assert lamps[name].told and abs(lamps[name].stops - np.log2(TRUE[name])) < 0.15
        assert abs(lamps[name].stops - np.log2(TRUE[name])) < 3 * lamps[name].error
    assert [line.number for line in found.lines if line.out] == [6]
    assert found.lines[5].remark.startswith("left out: footcandles written down as lux")
    assert found.lines[5].found == pytest.approx(found.lines[5].read / 0.3048**2, rel=0.2)
    words = " ".join(found.sentences)
    assert "fill is dead" in words and "Reading 6 (corner, all: " in words and "cannot be so" in words
    # 70 % over 0.62 is more than there is; 100 % over 1.45 is not.
    assert lamps["key"].to_set == pytest.approx(0.7 / TRUE["key"], rel=0.1) and lamps["key"].short > 0
    assert lamps["bulb"].to_set == pytest.approx(1 / TRUE["bulb"], rel=0.1) and lamps["bulb"].short is None
    assert lamps["sky"].to_set is None and found.daylight["sky"][1] == pytest.approx(2800, rel=0.1)
    assert "key would have to be at" in words and "set bulb to" in words


def test_every_number_is_a_row_and_pictures_stand_side_by_side(found, tmp_path):
    """Plan, what is there, and what is set again; what the sheet draws is among the rows."""
    names = [name for name, _ in found.pictures]
    assert names[:2] == ["camera A, as planned", "as it is now"] and "set again" in names[2]
    means = [float(still.mean()) for _, still in found.pictures]
    assert len({round(mean, 2) for mean in means}) == 3
    with sheet_numbers.drawing() as texts:
        found.sheet(tmp_path / "sheet")
    rows = found.rows()
    # What stands behind '±' is the standard error of a row; what is off is drawn without its sign in words.
    more = [{**each, "value": each["standard_error"], "unit": ""} for each in rows]
    constants = [each for term in readings_sheet.TERMS for each in (*term, "  ".join(term))]
    constants.append("100 %")
    assert sheet_numbers.missing(texts, rows + more, constants) == []
    assert {"output_off", "light_read", "light_planned", "level_to_set"} <= sheet_numbers.needed(
        texts, rows, constants)
    assert {row["quantity"] for row in rows} <= set(QUANTITIES)
    assert all(QUANTITIES[row["quantity"]].unit == row["unit"] for row in rows)
    assert json.loads(found.to_json())["rows"] == json.loads(json.dumps(rows))


def test_colours_hours_and_what_is_not_told(room, request_):
    """A colour is held against the plan's; hours want time and place; lamps that are on together alone."""
    found = readings(load(room).scene(), request_, readings=[
        "desk, 400 lx, lamps=key and fill, colour=3300 K, hour=16:30", "corner, 210 lx, lamps=key and fill"])
    colour, = found.colours
    assert 3500 < colour.planned < 5700 and colour.mired == pytest.approx(1e6 / 3300 - 1e6 / colour.planned)
    words = " ".join(found.sentences)
    assert "read 3300 K, planned " in words and "mired warmer" in words
    assert "The hours are not counted" in words and "taken as planned: bulb and sky" in words
    assert "One more reading would tell most with only " in words or "with daylight alone" in words
    assert found.lines[0].on == "key and fill, 16:30"


def test_a_reading_that_was_taken_otherwise_is_explained(room, request_):
    """With a lamp on that it does not name, or by a dome where the place has a flat one too."""
    scene, light = load(room).scene(), light_on_set(room)
    good = [f"desk, {light['desk'][name]:.1f} lx, lamps={name}" for name in ("key", "fill", "bulb")]
    good += [f"corner, {light['corner'][name]:.2f} lx, lamps={name}" for name in ("key", "fill", "bulb")]
    both = light["desk"]["key"] + light["desk"]["fill"]
    found = readings(scene, request_, readings=[*good, f"desk, {both:.0f} lx, lamps=key"])
    assert [line.remark for line in found.lines if line.out] == [
        "left out: it would fit with fill on as well"]
    dome = sum(light["desk, dome"][name] for name in ("fill", "bulb"))
    flat = sum(light["desk"][name] for name in ("fill", "bulb"))
    assert abs(np.log2(dome / flat)) > 0.3
    found = readings(scene, request_, readings=[*good, f"desk, {dome:.0f} lx, lamps=fill + bulb"])
    assert [line.remark for line in found.lines if line.out] == ["left out: it would fit a dome there"]


@pytest.mark.parametrize(("hour", "sun"), [("09:00", True), ("23:30", False)])
def test_readings_of_another_hour_have_another_sun(room, request_, hour, sun):
    """The sun stands where it stood then; where it is down there is no lamp for it, and that is said."""
    scene = load(room).scene()
    moment = datetime.datetime(2026, 6, 21, 15, 0, tzinfo=datetime.timezone(datetime.timedelta(hours=2)))
    clear = Daylight(sky="clear", time=moment, latitude=52.5, longitude=13.4, sun=Sun())
    shining = replace(scene, daylight=clear)
    metering = Metering(shining, request_, Progress(), 60.0)
    assert metering.follows_hours and not Metering(scene, request_, Progress(), 60.0).follows_hours
    then = metering.stage(datetime.time.fromisoformat(hour))
    assert [lamp.name for lamp in then.lamps if lamp.name == "sun"] == (["sun"] if sun else [])
    if sun:
        assert then.sun.towards @ metering.stage().sun.towards < 0.9


def test_the_command_and_the_option_that_it_writes(room, table):
    """Rows on standard output, sentences beside them; the option is the plan with real outputs."""
    out = room.parent
    words = ("readings", room, table, "--out", out, "--csv", "--bands", "8", "--precision", "2 %",
             "--save", "as read")
    done = run(*words)
    assert done.exception is None, done.output
    rows = {(row["lamp"], row["quantity"]): row for row in csv.DictReader(io.StringIO(done.stdout))}
    assert rows["fill", "output_verdict"]["value"].startswith("dead") and "fill is dead" in done.stderr
    assert "Cautions" in done.stderr and (out / "readings.png").exists()
    file = load(room)
    lamps = {light.name: light for light in file.scene("as read").lights}
    assert lamps["key"].dimmer == pytest.approx(0.7 * float(rows["key", "output_factor"]["value"]), abs=1e-3)
    assert not lamps["fill"].on and lamps["bulb"].dimmer == 1.0
    assert file.scene("as read").daylight.illuminance == pytest.approx(
        2000 * float(rows["sky", "output_factor"]["value"]), rel=1e-3)
    assert isinstance(run(*words).exception, DataError)


def test_the_scout_tells_sky_and_walls(room, request_):
    """Both within two of their errors and a tenth; kept as an option with the walls' reflectance."""
    light, rng = light_on_set(room, WALLS), np.random.default_rng(2)
    typed = [f"{place}, {TRUE['sky'] * light[place]['sky'] * np.exp(rng.normal(0, 0.03)) * 0.3048**2:.3f} fc"
             for place in ("window seat", "desk", "corner", "back wall") if place in light]
    found = readings(load(room).scene(), request_, readings=typed, scout=True, reading_error=0.03)
    sky, = found.lamps
    assert sky.lamp == "sky" and abs(sky.stops - np.log2(TRUE["sky"])) < max(2.5 * sky.error, 0.1)
    factor, error = found.found.walls
    assert found.found.walls_told and abs(factor - WALLS) < 2.5 * error < 0.35
    assert any(line.startswith("The walls send back ") for line in found.sentences)
    written = found.save(load(room), "as scouted")
    walls = load(written).scene("as scouted").room.surfaces.walls
    assert walls.reflectance == pytest.approx(0.5 * factor, abs=1e-4) and walls.colour is not None


def test_wrong_names_are_told_all_at_once(room, request_, table):
    """Exit 2 and nothing written; names, units and columns each at its place."""
    wrong = room.parent / "wrong.csv"
    wrong.write_text("place,reading,lamps\ndeks,4 lx,all\ndesk,4,kee\n")
    with pytest.raises(ReadingsError) as caught:
        readings(load(room).scene(), request_, table=wrong)
    assert [(each.line, each.column) for each in caught.value.problems] == [(2, 1), (3, 6)]
    wrong.write_text("place,reading,lamps\ndeks,4 lx,all\ndesk,4 lx,kee\n")
    with pytest.raises(ReadingsError, match="Did you mean 'desk'") as caught:
        readings(load(room).scene(), request_, table=wrong)
    assert "Did you mean 'key'" in str(caught.value)
    with pytest.raises(RequestError, match="There are no readings"):
        readings(load(room).scene(), request_)
    assert isinstance(run("as-shot", room, "--readings", table).exception, click.UsageError)


def test_walls_that_can_be_tried(room):
    """Up to what walls send back; none without a room, or of a measured surface."""
    scene = load(room).scene()
    factors, own = factors_for(scene)
    assert own == 0.5 and list(factors) == [0.6, 1.0, 1.5]
    assert factors_for(replace(scene, room=None)) == (np.ones(1), 0.0)
    light = with_walls(scene, 1.84)
    assert light.room.surfaces.walls.reflectance == 0.92
    assert light.room.surfaces.floor == scene.room.surfaces.floor
    assert list(factors_for(light)[0]) == [0.5, 0.72, 1.0]


def test_walls_are_saved_whole(tmp_path):
    """A named surface, one of numbers, and a wall of its own: written with all that it has."""
    file = tmp_path / "walls.yaml"
    file.write_text("previz: 1\nroom:\n  size: [4 m, 3 m, 2.5 m]\n  surfaces:\n    walls: cream paint\n"
                    "    north: {reflectance: 0.4, colour: sage, gloss: 0.2, roughness: 0.3}\n",
                    encoding="utf-8")
    scene = load(file)
    save_option(scene, "darker", "", with_walls(scene.scene(), 0.5))
    saved, was = (load(file).scene(name).room.surfaces for name in ("darker", None))
    assert saved.walls.name == "cream paint"
    assert saved.walls.reflectance == pytest.approx(0.5 * wall_reflectance(was), abs=1e-4)
    assert saved.north == replace(was.north, reflectance=0.2) and saved.south is None


SHOT = ["key, 35 %, 3800 K", "fill, off", "A, T4, ISO 400, ND 0.3, 4800 K"]


@pytest.mark.usefixtures("found")
def test_as_shot_against_the_plan(room, request_, tmp_path):
    """Half a lamp is a stop; exposure by stop, ISO and ND; meters by what is cached."""
    found = as_shot(load(room).scene(), request_, shot=SHOT, take="12A")
    lamps = {line.lamp: line for line in found.lamps}
    assert lamps["key"].stops == pytest.approx(-1)
    assert (lamps["fill"].stops, lamps["bulb"].stops) == (-np.inf, 0)
    assert lamps["key"].mired == pytest.approx(1e6 / 3800 - 1e6 / 4300)
    camera, = found.cameras
    as_set = CameraSettings(4.0, 400, camera.planned.shutter_s, 0.3, 4800.0)
    gain = signal_per_luminance(as_set) / signal_per_luminance(camera.planned)
    assert camera.stops == pytest.approx(np.log2(gain))
    assert camera.stops == pytest.approx(-2 * np.log2(4 / 2.8) - 1 - 0.3 / np.log10(2))
    desk = next(each for each in found.meters if each.meter == "desk")
    assert desk.shot.value < desk.planned.value and desk.stops == pytest.approx(
        np.log2(desk.shot.value / desk.planned.value))
    assert [name for name, _ in found.pictures] == ["camera A, as planned", "as shot"]
    words = " ".join(found.sentences)
    for each in ("fill off", "key −1.00 stop (35 % for 70 %)", "exposed 3.03 stops under"):
        assert each in words
    with sheet_numbers.drawing() as texts:
        found.sheet(tmp_path / "sheet")
    rows = found.rows()
    more = [{**each, "value": each["standard_error"], "unit": ""} for each in rows]
    constants = [each for term in as_shot_sheet.TERMS for each in (*term, "  ".join(term))]
    as_planned = [{**each, "quantity": each["quantity"].removeprefix("shot_")} for each in rows]
    assert sheet_numbers.missing(texts, [*rows, *more, *as_planned], [*constants, *found.sentences]) == []


def test_the_record_is_kept_and_read_again(room, table):
    """Written whole beside the renders, with readings; without a table it is held against the plan."""
    out = room.parent
    words = ("as-shot", room, "--out", out, "--take", "12A", "--bands", "8", "--precision", "2 %", "--json")
    given = [word for each in SHOT for word in ("--set", each)]
    done = run(*words, *given, "--readings", table)
    assert done.exception is None, done.output
    path = record_path(out, "", "12A")
    kept = read_record(path)
    assert kept.lamps["key"] == {"on": True, "dimmer": 0.35, "cct": 3800.0} and len(kept.readings) == 8
    assert json.loads(path.read_text())["previz_shot"] == 1 and kept.cameras["A"]["nd"] == 0.3
    again = run(*words)
    assert again.exception is None and again.stdout == done.stdout
    assert isinstance(run(*words[:5], "13").exception, DataError)
    path.write_text(path.read_text().replace("0.35", "0.45"))
    with pytest.raises(DataError, match="was changed after it was written"):
        read_record(path)
    (out / "as-shot-14.json").write_text("my notes")
    refused = run(*words[:5], "14", "--set", "key, 50 %")
    assert isinstance(refused.exception, DataError) and (out / "as-shot-14.json").read_text() == "my notes"


def test_wrong_words_of_what_was_shot(room, request_):
    """Names, levels without a unit, what a lamp or a camera does not have: all at once."""
    with pytest.raises(ReadingsError) as caught:
        as_shot(load(room).scene(), request_,
                shot=["kee, 50 %", "key, 120 %", "bulb, ISO 800", "A, 40 %", "key, loud", "A, T4, 900 K",
                      "sky, 140 %", "bulb, 20 %", "bulb, 20 %", "bulb, 30 %"])
    said = [each.message for each in caught.value.problems]
    assert said == ["the scene has no lamp or camera 'kee'", "'120 %' is no level", "a lamp has no iso",
                    "a camera has no level", "'loud' is nothing that is set",
                    "white_balance of camera A lies from 1500 to 25000, not 900.0",
                    "'bulb' was set otherwise in a line before"]
