"""The studies by `import previz`: each returns a result with rows and a sheet, without a command line."""

import csv
import datetime
import functools
import importlib
import inspect
import io
import json

import pytest

import previz
from previz.errors import RequestError
from previz.rendering.progress import Progress
from previz.studies.quantities import QUANTITIES

pytestmark = [
    pytest.mark.engine, pytest.mark.slow,
    # The colour library warns of optional parts that are not installed.
    pytest.mark.filterwarnings("ignore"),
]

SCENE = """\
previz: 1
title: Shed by day
room:
  size: [4 m, 4 m, 3 m]
  openings: [{name: door, wall: south, along: 1 m, sill: 0 m, size: [2 m, 2.4 m]}]
daylight: {sky: clear, time: '2026-03-20 11:00 +00:00', latitude: 51 deg, longitude: 0 deg}
haze: {visibility: 60 m}
figures:
  - {name: clerk, person: person one, at: [2 m, 2.6 m], facing: door}
lights:
  - {name: key, kind: fresnel, at: [3.4 m, 1 m, 2.2 m], aim: clerk.face, output: 3000 lm}
cameras:
  - {name: A, at: [2 m, 1 m, 1.6 m], aim: clerk.face, lens: 35 mm, stop: T4, iso: 400}
options:
  full: {}
  half: {lights: {key: {dimmer: 50 %}}}
"""

SETTINGS = {"size": 64, "quality": "draft", "samples": 2, "error": 0.3}


@pytest.fixture(scope="module")
def file(tmp_path_factory):
    path = tmp_path_factory.mktemp("studies") / "shed.yaml"
    path.write_text(SCENE)
    return previz.open(path)


@pytest.fixture(scope="module")
def settings(file):
    return {**SETTINGS, "cache": file.path.parent / "frames"}


MOMENTS = [datetime.datetime(2026, 3, 20, hour, tzinfo=datetime.UTC) for hour in (12, 17)]

CALLS = {
    "balance": lambda file, **words: previz.balance(file["full"], ["ratio clerk 4"], few=True, **words),
    "compare": lambda file, **words: previz.compare(file, options=["full", "half"], **words),
    "match": lambda file, **words: previz.match(file["full"], file["half"], ("A", ""), **words),
    "study": lambda file, **words: previz.study(file["full"], lamp="key", sizes=(1.2,), **words),
    "haze": lambda file, **words: previz.haze(file["full"], factors=(1.0, 2.0), **words),
    "portrait": lambda file, **words: previz.portrait(file["full"], figure="clerk", **words),
    "times": lambda file, **words: previz.times(file["full"], MOMENTS, **words),
    "walk": lambda file, **words: previz.walk(file["full"], figure="clerk", every=0.5, **words),
    "readings": lambda file, **words: previz.readings(file["full"], "day.csv", scout=True, **words),
    "as_shot": lambda file, **words: previz.as_shot(file["full"], shot=["key, 50 %"], **words),
    "what_if": lambda file, **words: previz.what_if(file["full"], ["lit side clerk 0"], step=0.0, **words),
    "mood": lambda file, **words: previz.mood([f"{file.path}:half=Evening"], **words),
}


@pytest.mark.parametrize("name", CALLS)
def test_a_study_takes_what_it_is_given(file, settings, monkeypatch, name):
    """Each is called as it is written, with one request made of the settings."""
    module = importlib.import_module(f"previz.studies.{name}")
    real = getattr(module, name)

    @functools.wraps(real)
    def called(*args, **words):
        return inspect.signature(real).bind(*args, **words).arguments

    monkeypatch.setattr(module, name, called)
    given = CALLS[name](file, **settings)
    request = given["request"]
    assert (request.size, request.quality, request.samples, request.error) == ((64, None), "draft", 2, 0.3)
    assert isinstance(given["progress"], Progress)
    if name == "times":
        assert (given["latitude"], given["longitude"], given["moments"]) == (51.0, 0.0, MOMENTS)


def held(result, folder):
    """Hold what every result gives: rows in each form, known quantities, and a sheet."""
    rows = result.rows()
    assert rows and {row["quantity"] for row in rows} <= set(QUANTITIES)
    assert json.loads(result.to_json())["rows"] == rows
    assert len(list(csv.DictReader(io.StringIO(result.to_csv())))) == len(rows)
    written = result.sheet(folder / "sheet")
    assert written and all(path.is_file() for path in written)
    return rows


@pytest.mark.long
def test_compare(file, settings, tmp_path):
    """Half of one lamp shows in the rows of its option: less light on the lit side."""
    rows = held(previz.compare(file, **settings), tmp_path)
    lit = {row["option"]: row["value"] for row in rows if row["quantity"] == "lit_side"}
    assert 0 < lit["half"] < lit["full"]


@pytest.mark.long
def test_match(file, settings, tmp_path):
    """Half the light against all of it does not pass for the same level."""
    rows = held(previz.match(file["full"], file["half"], ("A", "A"), **settings), tmp_path)
    assert {"verdict", "face_difference"} <= {row["quantity"] for row in rows}


@pytest.mark.long
def test_study(file, settings, tmp_path):
    held(previz.study(file["full"], lamp="key", sizes=(1.2,), distances=(1.0,), **settings), tmp_path)


@pytest.mark.long
def test_haze(file, settings, tmp_path):
    """Twice the haze, twice its density, as it is thin."""
    rows = held(previz.haze(file["full"], factors=(1.0, 2.0), **settings), tmp_path)
    one, two = (row["value"] for row in rows if row["quantity"] == "haze_density")
    assert two == pytest.approx(2 * one)


@pytest.mark.long
def test_portrait(settings, tmp_path):
    held(previz.portrait(person="person two", **settings), tmp_path)


@pytest.mark.long
def test_times(file, settings, tmp_path):
    """Noon and evening, where the scene is; without a place it asks for one."""
    held(previz.times(file["full"], MOMENTS, **settings), tmp_path)
    with pytest.raises(RequestError, match="does not say where it is"):
        previz.times(file["full"], MOMENTS, latitude=None, **settings)


def test_mood(file, settings, tmp_path):
    """A frame has a title and no reading."""
    rows = held(previz.mood([f"{file.path}:half=Evening"], **settings), tmp_path)
    assert [row["value"] for row in rows if row["quantity"] == "frame_title"] == ["Evening"]
