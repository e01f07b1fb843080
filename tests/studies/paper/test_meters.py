"""The meter sheet of a small room, filled in as on the set, and what `previz readings` makes of it.

The set is the plan with outputs that it does not know of, and 5 % on each reading.
"""

import csv
import io

import numpy as np
import pytest

from previz.errors import RequestError
from previz.rendering.progress import Progress
from previz.rendering.request import Request
from previz.scene.read import load
from previz.stage.build import build_stage
from previz.studies.paper.meters import _Metering, meter_csv, meter_lines, not_alone
from previz.studies.readings import readings

pytestmark = pytest.mark.engine

SCENE = """\
previz: 1
title: Lamp room
room: {size: [4 m, 3 m, 2.5 m], surfaces: {walls: {reflectance: 0.5, colour: cream}}}
lights:
  - {name: key, kind: panel, at: [1 m, 0.5 m, 2 m], aim: clerk, size: [0.6 m, 0.6 m], output: 6000 lm,
     cct: 4300 K, dimmer: 70 %}
  - {name: fill, kind: panel, at: [3.5 m, 0.5 m, 1.8 m], aim: clerk, size: [0.4 m, 0.4 m], output: 3000 lm}
  - {name: bulb, kind: bulb, at: [3 m, 2.2 m, 2.2 m], output: 900 lm, in_shot: yes}
  - {name: spare, kind: bulb, at: [1 m, 2.2 m, 2.2 m], output: 900 lm, on: no}
figures:
  - {name: clerk, person: person one, pose: standing, at: [2 m, 1.8 m], facing: 270 deg,
     marks: [{name: door, at: [1 m, 1.2 m]}]}
cameras:
  - {name: A, at: [2 m, 0.3 m, 1.5 m], aim: clerk, lens: 24 mm, stop: T2.8, iso: 800}
meters:
  - {name: low shelf, at: [3.6 m, 2.6 m, 1.2 m], facing: [3.9 m, 1 m, 1.2 m]}
spots:
  - {name: back wall, across: 10 %, down: 40 %, width: 10 %, height: 10 %}
"""

ON_SET = {"key": 2**-0.5, "fill": 0.0, "bulb": 1.0}
"""What lamps give on the set over the plan: half a stop down, dead, as planned."""


@pytest.fixture(scope="module")
def room(tmp_path_factory):
    """Return scene, stage, request, lines and the places that they are of."""
    file = tmp_path_factory.mktemp("sheet") / "room.yaml"
    file.write_text(SCENE, encoding="utf-8")
    scene = load(file).scene()
    stage, request = build_stage(scene), Request(file.parent / "frames", bands=8, error=0.04)
    lines = meter_lines(scene, stage, request, seconds=60)
    return scene, stage, request, lines, _Metering(scene, stage, request, Progress(), 60).places()


def filled_in(room, factors, noise, folder):
    """Return the sheet's table with what a meter shows where lamps give so much of their plan."""
    *_, lines, places = room
    rng, rows = np.random.default_rng(7), list(csv.DictReader(io.StringIO(meter_csv(lines))))
    at = {place.name: place.mixed for place in places}
    for row in rows:
        names = factors if row["lamps"] == "all" else [row["lamps"]]
        light = sum(factors[name] * at[row["place"]].light((name,)).value for name in names)
        row["reading"] = f"{light * np.exp(noise * rng.normal()):.3f}"
    path = folder / "day.csv"
    with open(path, "w", encoding="utf-8", newline="") as out:
        table = csv.DictWriter(out, list(rows[0]))
        table.writeheader()
        table.writerows(rows)
    return path, rows


def test_the_places_of_a_sheet(room):
    """Both cheeks, the mark, the meter, the spot; each lamp that is on by itself, none that is off."""
    _, stage, _, lines, _ = room
    assert [line.place for line in lines if line.lamps == "all"] == [
        "clerk left cheek", "clerk right cheek", "clerk at door", "low shelf", "back wall"]
    assert {line.lamps for line in lines} == {"all", "key", "fill", "bulb"}
    assert not_alone(lines, stage.lamps) == ()
    assert [line.mark for line in lines[:3]] == ["", "", "door"] and lines[4].unit == "cd/m²"
    assert {line.note for line in lines[:2]} == {"lit side", "shadow side"}
    assert len(lines) <= 14
    for line in lines:
        assert 0.1 < line.tolerance < 0.3 and line.error / line.lux < 0.06
        assert line.camera == "A" and abs(line.stops) < 8
    # The same lamps at the same place come to the whole: light adds up.
    for place in {line.place for line in lines}:
        parts = [line.lux for line in lines if line.place == place and line.lamps != "all"]
        whole = next(line.lux for line in lines if line.place == place)
        assert sum(parts) <= whole * 1.001


def test_a_sheet_that_reads_as_expected_is_at_plan(room, tmp_path):
    """What is expected, written in as it is read: no lamp is off, dead or in doubt."""
    scene, _, request, lines, _ = room
    path = tmp_path / "day.csv"
    rows = list(csv.DictReader(io.StringIO(meter_csv(lines))))
    with open(path, "w", encoding="utf-8", newline="") as out:
        table = csv.DictWriter(out, list(rows[0]))
        table.writeheader()
        table.writerows({**row, "reading": row["expected"]} for row in rows)
    found = readings(scene, request, table=path)
    assert all(line.told and not line.dead and abs(line.stops) < 0.02 for line in found.lamps)
    assert len(found.lamps) == 3 and not any(line.out for line in found.lines)
    assert "As planned: key, fill and bulb." in found.sentences


def test_a_lamp_half_a_stop_off_and_a_dead_one_are_found(room, tmp_path):
    """By readings of 5 %, each bare number in the unit of what is expected; some lines left empty."""
    scene, _, request, lines, _ = room
    path, rows = filled_in(room, ON_SET, 0.05, tmp_path)
    found = readings(scene, request, table=path)
    lamps = {line.lamp: line for line in found.lamps}
    assert lamps["fill"].dead and not lamps["key"].dead and not lamps["bulb"].dead
    assert lamps["key"].stops == pytest.approx(-0.5, abs=0.12)
    assert lamps["bulb"].stops == pytest.approx(0.0, abs=0.12)
    # The readings of these lamps are among those to be asked; one in twenty may be so without.
    asked = {row["lamps"] for row, line in zip(rows, lines, strict=True)
             if abs(float(row["reading"]) / line.lux - 1) > line.tolerance}
    assert {"key", "fill"} <= asked and "bulb" not in asked
    half = path.read_text(encoding="utf-8").splitlines()
    whole = [line for line in half if "bulb" not in line]
    empty = [line.rsplit(",", 2)[0] + ",," for line in half if line not in whole]
    path.write_text("\n".join([*whole, *empty]) + "\n", encoding="utf-8")
    found = readings(scene, request, table=path)
    assert "1 line of the meter sheet has no reading." in found.sentences


def test_a_sheet_that_nobody_filled_in_says_so(room, tmp_path):
    """In words, with what to write; nothing is metered."""
    scene, _, request, lines, _ = room
    path = tmp_path / "day.csv"
    path.write_text(meter_csv(lines), encoding="utf-8")
    with pytest.raises(RequestError) as caught:
        readings(scene, request, table=path)
    assert str(caught.value).startswith(f"None of the meter sheet's {len(lines)} lines has a reading.")
    assert "into the column 'reading'" in str(caught.value)


def test_a_scene_without_lamps_or_meters_has_no_sheet(tmp_path):
    """Nothing to meter with, and nothing to meter."""
    for text in (SCENE[:SCENE.index("lights:")] + SCENE[SCENE.index("meters:"):SCENE.index("spots:")],
                 SCENE[:SCENE.index("figures:")].replace("aim: clerk", "aim: [2 m, 2 m, 1 m]")):
        file = tmp_path / "bare.yaml"
        file.write_text(text, encoding="utf-8")
        scene = load(file).scene()
        assert meter_lines(scene, build_stage(scene), Request(tmp_path / "frames")) == ()
