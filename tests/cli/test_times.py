"""`previz times`: times and places as they are written, and the sun where it stands."""

import csv
import datetime
import io
from dataclasses import replace

import numpy as np
import pytest
from click.testing import CliRunner

from previz.cli.main import previz
from previz.cli.times import clock_times, spot, time_zone
from previz.scene.read import load
from previz.stage.build import build_stage
from previz.stage.outdoors import resolved
from previz.studies.times import lit_at

SCENE = """\
previz: 1
title: Loading bay
room:
  size: [4 m, 4 m, 3 m]
  openings: [{name: gate, wall: south, along: 1 m, sill: 0 m, size: [2 m, 2.5 m], glass: none}]
ground: gravel
pieces:
  - {name: crate, shape: box, at: [2 m, 2 m], size: [0.6 m, 0.6 m, 1 m]}
daylight: {sky: clear, illuminance: 8000 lx, sun: {azimuth: 170 deg, altitude: 30 deg}}
cameras:
  - {name: A, at: [0.6 m, 3.4 m, 1.6 m], aim: crate, lens: 18 mm, stop: T5.6, iso: 400}
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    found = tmp_path_factory.mktemp("times")
    (found / "bay.yaml").write_text(SCENE, encoding="utf-8")
    (found / "night.yaml").write_text(
        SCENE.replace("daylight: {sky: clear, illuminance: 8000 lx, sun: {azimuth: 170 deg, "
                      "altitude: 30 deg}}", ""), encoding="utf-8")
    return found


def run(folder, *words, scene="bay.yaml"):
    return CliRunner().invoke(previz, ["times", str(folder / scene), "--place", "52.5, 13.4",
                                       "--date", "2026-06-21", "--zone", "+02:00", *words])


def clock(text):
    return datetime.time.fromisoformat(text)


def test_times_are_put_in_order_and_reported_once():
    """Single times and a row join; what is named twice counts once."""
    found = clock_times([clock("12:00"), clock("07:30")], clock("10:00"), clock("13:00"), 60)
    assert [f"{t:%H:%M}" for t in found] == ["07:30", "10:00", "11:00", "12:00", "13:00"]


@pytest.mark.parametrize(("words", "message"), [
    (["--at", "25:00"], "is no time of day"), ([], "Give times of day"),
    (["--from", "8:00"], "needs --from and --to"),
    (["--from", "9:00", "--to", "8:00"], "lies before"),
    (["--from", "0:00", "--to", "23:55", "--every", "5"], "24 are the most"),
    (["--at", "12:00", "--throw", "12"], "--throw"),
])
def test_times_that_are_none_are_refused(folder, words, message):
    """A wrong time says what to write; nothing is rendered."""
    done = run(folder, *words)
    assert done.exit_code == 2
    assert message in " ".join(done.output.split())


def test_places_and_zones_are_read():
    """North and east are plus; zones are hours from UTC or names."""
    assert spot("-33.9, 151.2") == (-33.9, 151.2)
    assert time_zone("-05:30").utcoffset(None) == datetime.timedelta(
        hours=-5, minutes=-30)
    for read, wrong in ((spot, "95, 10"), (spot, "here"), (time_zone, "noon")):
        with pytest.raises(Exception, match="write"):
            read(wrong)


BERLIN = {"latitude": 52.5, "longitude": 13.4}


def moment(text):
    """A moment of the solstice in Berlin, summer time."""
    return datetime.datetime.fromisoformat(f"2026-06-21T{text}+02:00")


def test_sun_and_sky_are_moved_together(folder):
    """The sun goes where it stands; a stated sky goes on by the law of its own kind."""
    scene = load(folder / "bay.yaml").scene()
    noon = resolved(lit_at(scene, moment("13:09"), **BERLIN).daylight)
    # 90 - 52.5 + 23.44° and a little refraction.
    assert noon.sun.altitude == pytest.approx(60.94, abs=0.05)
    # check value 4.9: 88.0 klx at 60°.
    assert noon.sun.illuminance == pytest.approx(88.0e3, rel=0.01)
    # IES recommended practice 1984 (from memory): 0.8 + 15.5 sin(h)^0.5 klx of a clear sky.
    law = [0.8 + 15.5 * np.sin(np.radians(h)) ** 0.5 for h in (noon.sun.altitude, 30.0)]
    assert noon.illuminance == pytest.approx(8000 * law[0] / law[1], rel=1e-4)
    night = resolved(lit_at(scene, moment("23:30"), **BERLIN).daylight)
    assert night.sun.illuminance == 0.0
    assert 0 < night.illuminance < 30


def test_a_stated_sun_keeps_its_share_of_the_clear_sun(folder):
    """A sun that is hidden stays hidden; one through thin cloud stays as thin."""
    scene = load(folder / "bay.yaml").scene()
    shares = []
    for lux in (0.0, 20e3):
        sun = replace(scene.daylight.sun, illuminance=lux)
        hazy = replace(scene, daylight=replace(scene.daylight, sun=sun))
        moved = resolved(lit_at(hazy, moment("13:09"), **BERLIN).daylight)
        shares.append(moved.sun.illuminance / 88.0e3)
    # check value 4.9: 76.8 klx at 30° and 88.0 klx at 60°.
    assert shares == pytest.approx([0.0, 20 / 76.8], rel=0.01)


@pytest.mark.parametrize(("sky", "clock"), [("clear", "12:00"), ("clear", "18:30"),
                                            ("clear", "22:10"), ("intermediate", "20:00"),
                                            ("overcast", "18:30"), ("clear", "03:00")])
def test_levels_outside_are_those_of_a_scene_with_that_time(folder, sky, clock):
    """Whatever moment a scene is written for, at another it has what a scene of that time has."""
    daylight = ("daylight: {{sky: {sky}, time: 2026-06-21 {clock} +02:00, latitude: 52.5 deg, "
                "longitude: 13.4 deg}}")
    files = []
    for number, each in enumerate((clock, "09:15")):
        files.append(folder / f"{sky} {number}.yaml")
        files[-1].write_text(SCENE.replace(
            "daylight: {sky: clear, illuminance: 8000 lx, sun: {azimuth: 170 deg, altitude: 30 deg}}",
            daylight.format(sky=sky, clock=each)), encoding="utf-8")
    expected, other = (load(file).scene() for file in files)
    moved = lit_at(other, moment(clock), **BERLIN)
    assert resolved(moved.daylight) == resolved(expected.daylight)
    # And so it has as lamps.
    for one, another in zip(build_stage(moved).lamps, build_stage(expected).lamps, strict=True):
        assert (one.name, one.output) == (another.name, another.output)
        np.testing.assert_array_equal(one.spectrum, another.spectrum)


def test_a_scene_without_daylight_is_reported(folder):
    """There is nothing to follow."""
    done = run(folder, "--at", "12:00", scene="night.yaml")
    assert done.exit_code == 2
    assert "has no daylight" in done.output


@pytest.mark.engine
def test_a_day_is_rendered_and_written(folder):
    """Berlin at the solstice, 13:09 summer time: the sun is at its highest, 90 - 52.5 + 23.44°."""
    done = run(folder, "--at", "13:09", "--at", "23:30", "--size", "48x27", "--samples", "2",
               "--out", str(folder / "out"))
    assert done.exit_code == 0, done.output
    # 60.94° and a little refraction (under 0.02°).
    assert "13:09: sun 60.9° high" in done.stderr or "13:09: sun 61.0° high" in done.stderr
    assert "23:30: sun -1" in done.stderr
    assert [line.rsplit("/", 1)[1] for line in done.stdout.split()] == [
        "times-2026-06-21.png", "times-2026-06-21.pdf"]
    (folder / "saved.yaml").write_text(SCENE, encoding="utf-8")
    again = run(folder, "--at", "13:09", "--size", "48x27", "--samples", "2", "--out",
                str(folder / "out"), "--csv", "--save", "noon lamp", scene="saved.yaml")
    rows = {row["quantity"]: row for row in csv.DictReader(io.StringIO(again.stdout, newline=""))}
    assert float(rows["sun_altitude"]["value"]) == pytest.approx(60.94, abs=0.05)
    assert rows["sun_altitude"]["time"] == "13:09"
    assert "taken from the cache" in again.stderr
    # The lamp stands ten metres from the middle of the gate, in the sun's direction, and fills it.
    scene = load(folder / "saved.yaml").scene("noon lamp")
    lamp, = scene.lights
    away = np.array(lamp.at) - [2.0, 0.0, 1.25]
    assert np.linalg.norm(away) == pytest.approx(10, abs=0.3)
    assert np.degrees(np.arcsin(away[2] / np.linalg.norm(away))) == pytest.approx(60.94, abs=1)
    assert (str(lamp.aim), scene.daylight.sun.illuminance) == ("gate", 0.0)
    assert float(rows["added_lamp_z"]["value"]) == lamp.at[2]
    assert "Option 'noon lamp' is in" in again.stderr
    assert "stands 10.0 m over the floor: a scaffold tower" in again.stderr
