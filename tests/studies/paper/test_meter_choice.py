"""Which readings a meter sheet has: on meters that are made up, so that what each lamp gives is known."""

import csv
import io
from types import SimpleNamespace

import numpy as np
import pytest

from previz.exposure.camera import settings_of, working_illuminance
from previz.exposure.metering import Measured, Mixed
from previz.rendering.meter_kinds import Aim
from previz.studies.paper.meter_choice import DARKEN, TELLING, Place, not_alone, sheet_of, tolerance
from previz.studies.paper.meters import meter_csv, meter_notes
from previz.studies.readings.written import filled, read_csv, readings_in


def camera(name, stop=2.8):
    return SimpleNamespace(name=name, stop=stop, iso=800.0, shutter_s=1 / 48, nd_density=0.0,
                           white_balance=5600.0, tint=0.0, over=None, under=None, show=None, optics=None)


def lamp(name, level=1.0, on=True):
    return SimpleNamespace(name=name, level=level, on=on)


def mixed(name, error=0.0, **lamps):
    """A meter that has so many lux of each lamp, with a relative standard error on each."""
    rng, y = np.random.default_rng(3), np.array([*lamps.values()], float)
    noise = rng.normal(size=(16, len(y)))
    noise -= noise.mean(axis=0)
    noise *= error * np.sqrt(16) / np.maximum(noise.std(axis=0, ddof=1), 1e-9)
    xyz = np.zeros((16, len(y), 2, 3))
    xyz[:, :, 0, 1] = y * (1 + noise)
    return Mixed(name, tuple(lamps), xyz)


def place(name, error=0.0, side="", mark="", aim=None, spare=False, **lamps):
    return Place(name, mixed(name, error, **lamps), mark, side, aim, spare)


LAMPS = [lamp("key", 0.7), lamp("fill"), lamp("bulb"), lamp("spare", on=False)]
DESK = place("desk", 0.01, key=300, fill=90, bulb=4, spare=0)
CHEEK = place("clerk left cheek", 0.01, side="lit side", key=800, fill=100, bulb=0.3, spare=0)
CORNER = place("corner", 0.02, key=20, fill=15, bulb=30, spare=0)
ROOM = [DESK, CHEEK, CORNER]


def said(lines):
    return [(line.place, line.lamps) for line in lines]


def test_all_lamps_everywhere_then_each_by_itself_where_it_counts():
    """Each lamp once where it counts, and where it makes most of the light; nothing of one that is off."""
    lines = sheet_of(ROOM, LAMPS, [camera("A")])
    assert said(lines) == [
        ("desk", "all"), ("clerk left cheek", "all"), ("corner", "all"),
        ("desk", "key"), ("clerk left cheek", "key"), ("desk", "fill"), ("corner", "bulb")]
    key = lines[4]
    # By hand: 800 lx against what meters at T2.8.
    working = working_illuminance(settings_of(camera("A")))
    assert (key.lux, key.camera, key.note) == (pytest.approx(800.0), "A", "lit side, at 70 %")
    assert key.stops == pytest.approx(np.log2(800 / working)) and key.error == pytest.approx(8.0)
    assert not_alone(lines, LAMPS) == ()


def test_a_lamp_that_no_meter_shows_is_named():
    """Under a lux nothing is asked for, and the sheet says which lamp that leaves untold."""
    dim = [place("desk", key=300, rim=0.4)]
    lines = sheet_of(dim, [lamp("key"), lamp("rim")], [])
    assert said(lines) == [("desk", "all"), ("desk", "key")] and lines[0].stops is None
    assert not_alone(lines, [lamp("key"), lamp("rim")]) == ("rim",)
    assert meter_notes(lines, [lamp("key"), lamp("rim")])[-1] == (
        "Not told by this sheet: rim. Name a place that its light reaches under 'meters:'.")
    assert meter_notes((), [lamp("key")]) == ()
    # A lamp by itself is all there is.
    alone = sheet_of([place("desk", key=300)], [lamp("key")], [])
    assert said(alone) == [("desk", "all")] and not_alone(alone, [lamp("key")]) == ()


def test_a_spare_place_is_for_lamps_that_reach_no_other():
    """A rim that no cheek sees is metered at the forehead; that has no line of its own for all lamps."""
    places = [place("left cheek", key=500, rim=0.2), place("forehead", spare=True, key=90, rim=60)]
    lines = sheet_of(places, [lamp("key"), lamp("rim")], [])
    assert said(lines) == [("left cheek", "all"), ("left cheek", "key"), ("forehead", "rim")]


def test_daylight_stays_on_where_it_does_not_hide_the_lamp():
    """The key is read with daylight; the bulb, a fiftieth of it, with the windows dark."""
    day = [lamp("sky"), lamp("sun"), lamp("key"), lamp("bulb")]
    lines = sheet_of([place("desk", sky=100, sun=200, key=400, bulb=5)], day, [], "at 18:10")
    assert said(lines) == [("desk", each) for each in ("all", "daylight", "key + daylight", "bulb")]
    assert lines[1].lux == pytest.approx(300) and lines[2].lux == pytest.approx(700)
    assert (lines[1].note, lines[3].note) == ("at 18:10", DARKEN)
    assert "Daylight as planned" in meter_notes(lines, day)[1]
    # A moonlit night shows on no meter, so nothing is dark or light by it.
    night = sheet_of([place("desk", sky=0.1, sun=0.2, key=400, bulb=5)], day, [])
    assert said(night) == [("desk", "all"), ("desk", "key"), ("desk", "bulb")]
    assert "Daylight" not in " ".join(meter_notes(night, day))
    # Where daylight is all but everything, that is one line.
    sunny = sheet_of([place("yard", sky=9000, sun=50_000, key=30, bulb=0)], day, [])
    assert said(sunny) == [("yard", "all"), ("yard", "key")] and sunny[1].note == DARKEN


def test_cameras_of_other_stops_have_lines_of_their_own():
    """Two stops closer is two stops under; a camera at the same stop adds nothing."""
    lines = sheet_of([CORNER], LAMPS, [camera("A"), camera("B", 5.6), camera("C")])
    first, second = lines[:2]
    assert [each.camera for each in lines if each.lamps == "all"] == ["A", "B"]
    assert first.stops - second.stops == pytest.approx(2.0)
    assert all(each.camera == "A" for each in lines[2:])
    table = list(csv.reader(io.StringIO(meter_csv(lines))))
    assert len(table) == len(lines) and table[1][:2] == ["corner", "all"]
    assert table[1][4] == f"A {first.stops:+.1f} / B {second.stops:+.1f}"
    assert table[2][4] == f"{lines[2].stops:+.1f}"


def test_what_a_spot_meter_reads():
    """cd/m² from 18 % grey: 0.18 / pi of the working light is 0 stops."""
    grey = working_illuminance(settings_of(camera("A"))) * 0.18 / np.pi
    wall = place("north wall", aim=Aim(camera("A"), "north wall", 0.2), key=grey)
    line, = sheet_of([wall], [lamp("key")], [camera("B", 8.0)])
    assert (line.unit, line.camera, line.note) == ("cd/m²", "A", "spot meter, from 18 % grey")
    assert line.stops == pytest.approx(0.0, abs=1e-3)
    head, row = csv.reader(io.StringIO(meter_csv([line])))
    assert head[2] == "camera" and row[2] == "A" and row[3].endswith(" cd/m²")


def test_tolerance_by_hand():
    """2 sqrt(0.05² + 0.1²/3 + 0.03²) of one lamp; of four even ones the lamps' part is half; daylight 0.3."""
    assert tolerance(Measured(400.0, 12.0), [1.0], least=0.0) == pytest.approx(
        2 * np.sqrt(0.05**2 + 0.1**2 / 3 + 0.03**2))
    assert tolerance(Measured(400.0, 0.0), [0.25] * 4, least=0.0) == pytest.approx(
        2 * np.sqrt(0.05**2 + 0.1**2 / 3 / 4))
    assert tolerance(Measured(400.0, 0.0), [], 1.0, least=0.0) == pytest.approx(2 * np.sqrt(0.05**2 + 0.03))
    # What is taken to tell that a lamp is half a stop down does.
    assert tolerance(Measured(TELLING, 0.0), [1.0]) < 1 - 2**-0.5 < tolerance(Measured(4.0, 0.0), [1.0])
    # Half a lux in two; never more than all of it, and no light has no share.
    assert tolerance(Measured(2.0, 0.0), [1.0]) == pytest.approx(2 * np.sqrt(0.05**2 + 0.1**2 / 3 + 0.0625))
    assert tolerance(Measured(0.3, 0.0), [1.0]) == tolerance(Measured(0.0, 0.0), []) == 1.0


def test_one_right_reading_in_twenty_is_asked():
    """Outputs evenly within 10 %, the meter and the plan normal: k = 2 of JCGM 100:2008 holds 19 of 20."""
    rng, count = np.random.default_rng(5), 20_000
    light = np.array([300.0, 90.0, 60.0])
    allowed = tolerance(Measured(450.0, 9.0), list(light / 450))
    truth = (1 + rng.uniform(-0.1, 0.1, (count, 3))) @ light
    read = truth * (1 + rng.normal(0, 0.05, count)) + rng.normal(0, 9.0, count)
    assert np.mean(np.abs(read / 450 - 1) > allowed) == pytest.approx(0.0455, abs=0.006)
    # A lamp alone that is half a stop down is nearly always asked: 29 % against 16 %.
    alone = tolerance(Measured(300.0, 3.0), [1.0])
    low = 300 * 2**-0.5 * (1 + rng.normal(0, 0.05, count))
    assert np.mean(np.abs(low / 300 - 1) > alone) > 0.99


def test_the_sheet_as_a_table(tmp_path):
    """It is read as it is once filled; a bare number has the unit expected; empty lines are counted."""
    lines = sheet_of(ROOM, LAMPS, [camera("A")])
    rows = list(csv.DictReader(io.StringIO(meter_csv(lines))))
    assert ", ".join(rows[0]) == "place, lamps, expected, tolerance, stops from working, reading, notes"
    assert (rows[4]["expected"], rows[4]["reading"], rows[4]["notes"]) == ("800 lx", "", "lit side, at 70 %")
    assert rows[4]["tolerance"] == f"{100 * lines[4].tolerance:.0f} %"
    rows[0]["reading"], rows[1]["reading"], rows[2]["reading"] = "402", "78 fc", "T2.8 1/3"
    found, problems, empty = of_table(tmp_path, rows)
    assert not problems and empty == 4
    assert [(each.place.text, each.shown) for each in found] == [
        ("desk", "402 lx"), ("clerk left cheek", "78 fc"), ("corner", "T2.8 1/3")]
    assert found[0].value == 402 and found[0].lamps.text == "all"


def of_table(folder, rows):
    out = io.StringIO()
    table = csv.DictWriter(out, list(rows[0]))
    table.writeheader()
    table.writerows(rows)
    path = folder / "sheet.csv"
    path.write_text(out.getvalue(), encoding="utf-8")
    read, problems = read_csv(path)
    read, empty = filled(read)
    found, wrong = readings_in(read)
    return found, [*problems, *wrong], empty
