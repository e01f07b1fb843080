"""Wants and moves of a scene as numbers: what is said in a line, what may move, what can be dialled."""

import time
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from previz.deliver.balance_words import (
    miss_text,
    place_words,
    remedy_text,
    sentences,
    value_text,
    verdict_text,
    wanted_text,
)
from previz.errors import RequestError
from previz.exposure.metering import Measured
from previz.frames.batches import BATCHES
from previz.levels.advice import Remedy
from previz.levels.answers import Reading, Setting
from previz.levels.response import Response
from previz.levels.wants import BRIGHTER, COLOUR, DARKER, LEVEL, RATIO, Want
from previz.scene.read import load
from previz.stage.build import build_stage
from previz.stage.records import Guide
from previz.studies.balance import moving, phrases, solving, subjects
from previz.studies.changes import LampChange

SCENE = """\
previz: 1
title: Lamp room
ground: gravel
pieces:
  - {name: locker, shape: box, at: [2 m, 5 m], size: [1 m, 0.4 m, 1.8 m]}
figures:
  - {name: clerk, at: [2 m, 3 m], facing: 270 deg, hair: none, marks: [
      {name: window, at: [1 m, 2 m], facing: 300 deg}, {name: by the door, at: [3 m, 2 m]}]}
lights:
  - {name: key, kind: fresnel, at: [0.5 m, 1 m, 2 m], aim: clerk.face, output: 900 lm, cct: 3200 K}
  - {name: fill, kind: panel, at: [3.5 m, 1 m, 2 m], aim: clerk.face, size: [0.6 m, 0.6 m], output: 900 lm,
     cct: 4300 K, may_move: {dimmer: 10 % to 80 %, cct: 3200 K to 5600 K}}
  - {name: wash, kind: panel, at: [2 m, 2 m, 3 m], aim: locker, size: [0.6 m, 0.6 m], output: 900 lm,
     cct: 5600 K, gel: quarter cto, may_move: {gels: [half cto, quarter cto], off: no}}
  - {name: candle, kind: candle, at: [4 m, 4 m, 1 m], output: 12 lm}
  - {name: spare, kind: bulb, at: [4.5 m, 4 m, 1 m], output: 400 lm, on: no}
cameras:
  - {name: wide, at: [2 m, 0 m, 1.6 m], aim: locker, lens: 25 mm, stop: T2.8, iso: 800}
  - {name: close, at: [2 m, 0.2 m, 1.6 m], aim: clerk.face, lens: 50 mm, stop: T4, iso: 800,
     may_move: {stop: T2.8 to T5.6, nd: [0.3, 0.6]}}
meters:
  - {name: bench, at: [2 m, 2 m, 1 m]}
wants:
  - {name: lit, lit_side: clerk, stops: 0}
"""


@pytest.fixture(scope="module")
def scene(tmp_path_factory):
    path = tmp_path_factory.mktemp("balance") / "room.yaml"
    path.write_text(SCENE, encoding="utf-8")
    return load(path).scene()


@pytest.fixture(scope="module")
def stage(scene):
    return build_stage(scene)


def written(want):
    """Return what a want says beyond its usual values."""
    usual = phrases.Want(name="x")
    return {field: value for field, value in vars(want).items()
            if value != getattr(usual, field) and field not in ("place", "places", "name")}


@pytest.mark.parametrize(("text", "expected"), [
    ("lit side clerk 0", {"lit_side": "clerk", "stops": 0}),
    ("lit side clerk is -1.5 stops", {"lit_side": "clerk", "stops": -1.5}),
    ("shadow side the old porter \u22122", {"shadow_side": "the old porter", "stops": -2}),
    ("ratio clerk 4:1", {"ratio": "clerk", "lit_to_shadow": 4}),
    ("ratio clerk 4", {"ratio": "clerk", "lit_to_shadow": 4}),
    ("ratio clerk +2 stops", {"ratio": "clerk", "stops": 2}),
    ("colour clerk 3600 K", {"colour": "clerk", "cct": 3600}),
    ("thing locker 2 at -3", {"thing": "locker 2", "stops": -3}),
    ("thing locker holds", {"thing": "locker", "hold": True}),
    ("thing locker stays black", {"thing": "locker", "black": True}),
    ("meter bench at least -3 and at most 1", {"meter": "bench", "at_least": -3, "at_most": 1}),
    ("background A at most -2, within 0.3", {"background": "A", "at_most": -2, "within": 0.3}),
    ("lit side clerk 0, at by the door, left side, weight 2, camera B",
     {"lit_side": "clerk", "stops": 0, "at_mark": "by the door", "side": "left", "weight": 2, "camera": "B"}),
    ("colour clerk 3600 K, at every mark, within 15 mired",
     {"colour": "clerk", "cct": 3600, "every_mark": True, "within_mired": 15}),
])
def test_a_line_says_a_want(text, expected):
    """In the words of the scene file; names may have figures and spaces."""
    assert written(phrases.want_of(text)) == expected


@pytest.mark.parametrize(("text", "message"), [
    ("fill clerk 2", "Begin it with one of: lit side"), ("lit sied clerk 0", "Did you mean 'lit side'"),
    ("lit side clerk", "Say of what and how much"), ("lit side clerk 40", "out of range"),
    ("lit side clerk 3600 K", "is of a 'lit_side' and has 'cct'"), ("lit side clerk 0, brightly", "comma"),
    ("meter bench holds", "Of a 'meter' write"), ("ratio clerk 0.5", "out of range"), ("", "Begin it with"),
])
def test_a_line_that_says_none_is_refused(text, message):
    """With what to write."""
    with pytest.raises(RequestError, match=message):
        phrases.want_of(text)


def test_names_of_wants_are_their_own(scene):
    """Two lines of one thing are two wants; names that are not there are refused."""
    made = phrases.with_wants(scene, ["meter bench 0", "meter bench at most 2"])
    assert [each.name for each in made] == ["meter bench", "meter bench 2"]
    assert phrases.with_wants(scene, ()) == scene.wants
    with pytest.raises(RequestError, match="Did you mean 'clerk'"):
        phrases.with_wants(scene, ["lit side clrek 0"])
    with pytest.raises(RequestError, match="Nothing is wanted"):
        phrases.with_wants(replace(scene, wants=()), ())


def test_what_is_said_of_moves_is_laid_over_the_scene(scene):
    """Ranges, gels, locks, stops and filters; the scene's own where nothing is said."""
    said = phrases.with_moves(scene, may=["fill 20 to 60 %", "key 3200 K to 4300 K, 5 % to 100 %"],
                              gels=["wash=full cto"], lock=["candle"], stop=["T2 to T4"], nd=["close=0, 0.9"])
    lamps = {light.name: light.may_move for light in said.lights}
    assert lamps["fill"].dimmer == (0.2, 0.6) and lamps["fill"].cct == (3200, 5600)
    assert lamps["key"].cct == (3200, 4300) and lamps["key"].dimmer == (0.05, 1)
    assert lamps["wash"].gels == ("full cto",) and lamps["candle"].locked
    cameras = {camera.name: camera.may_move for camera in said.cameras}
    assert (cameras["wide"].stop, cameras["close"].stop, cameras["close"].nd) == ((2, 4), (2, 4), (0, 0.9))


@pytest.mark.parametrize(("words", "message"), [
    ({"may": ["kee 20 % to 100 %"]}, "Did you mean 'key'"), ({"may": ["key 100 % to 20 %"]}, "is no range"),
    ({"may": ["key a lot"]}, "does not say how"), ({"lock": ["nobody"]}, "there is no lamp"),
    ({"gels": ["key half cto"]}, "is not understood"),
    ({"gels": ["key=halff cto"]}, "Did you mean 'half cto'"),
    ({"gels": ["fill=half cto"]}, "Keep one of the two"), ({"stop": ["B=T2 to T4"]}, "there is no camera"),
    ({"nd": ["none"]}, "is not a number"), ({"may": ["key 20 % to 130 %"]}, "out of range"),
])
def test_moves_that_are_not_understood_are_refused(scene, words, message):
    """Each with what to write."""
    with pytest.raises(RequestError, match=message):
        phrases.with_moves(scene, **words)


def test_all_that_is_not_understood_is_told_at_once(scene):
    """Wants and moves alike: each message with its advice."""
    with pytest.raises(RequestError) as caught:
        phrases.with_wants(scene, ["lit side nobody 0", "bright", "ratio clerk 4:1"])
    assert str(caught.value).count("\n  ") == 2 and "'bright'" in str(caught.value)
    with pytest.raises(RequestError) as caught:
        phrases.with_moves(scene, may=["kee 5 %"], lock=["nobody"], gels=["key=halff cto", "wash"],
                           stop=["B=T2 to T4"], nd=["none"])
    assert str(caught.value).count("\n  ") == 6 and str(caught.value).count("there is no lamp") == 2


def numbers(scene, stage, *lines):
    """Return wants as numbers, and the meters they need."""
    return subjects.subjects_of(scene, stage, phrases.with_wants(scene, lines))


def test_wants_are_numbers_at_meters(scene, stage):
    """Sides of a face by its two cheeks, things by the camera's spot meter; each from its own zero."""
    found, needed = numbers(
        scene, stage, "lit side clerk 0.5", "shadow side clerk -1, camera wide", "ratio clerk 4:1",
        "colour clerk 4000 K", "thing locker holds", "meter bench -1", "background close -2")
    lit, shadow, ratio, colour, locker, bench, behind = (each.want for each in found)
    cheeks = ("clerk: left cheek", "clerk: right cheek")
    assert (lit.kind, lit.meters, lit.side, lit.target) == (LEVEL, cheeks, BRIGHTER, 0.5)
    assert (shadow.side, shadow.camera, ratio.kind, ratio.target) == (DARKER, "wide", RATIO, 2.0)
    assert (colour.kind, colour.target, colour.within) == (COLOUR, 250.0, 10.0)
    # The first camera that is aimed at the figure counts for it, else the first.
    assert (lit.camera, bench.camera, locker.camera) == ("close", "wide", "wide")
    # E = C T² / (t S), C 250 (ISO 2720:1974): 240 lx at T4, ISO 800 and 1/48 s.
    assert lit.reference == pytest.approx(250 * 16 * 48 / 800)
    # 18 % grey in that light: 0.18 E / pi.
    assert behind.reference == pytest.approx(0.18 * 240 / np.pi)
    # A perfect white card in the light that meters at the stop: log2(1 / 0.18) over grey.
    assert locker.at_most and locker.target == pytest.approx(np.log2(1 / 0.18))
    assert needed == subjects.Needed((*cheeks, "bench"), (("wide", "locker"),), (("close", ""),))
    assert [each.words for each in found] == [
        "lit side, clerk", "shadow side, clerk", "ratio, clerk", "colour, clerk", "locker", "bench",
        "background, camera close"]


def test_marks_are_metered_at_cheeks_of_their_own(scene, stage):
    """One want for each mark; the cheeks lie in the head at the mark as in the figure's own."""
    found, needed = numbers(scene, stage, "lit side clerk 0, at every mark",
                            "shadow side clerk -2, at window")
    assert [each.want.name for each in found] == [
        "lit side clerk at window", "lit side clerk at by the door", "shadow side clerk"]
    metered = subjects.with_meters(stage, needed)
    probes = {probe.name: probe for probe in metered.probes}
    assert set(needed.incident) <= set(probes) and len(metered.probes) == len(stage.probes) + 4
    own = [probes[f"clerk: {side} cheek"] for side in ("left", "right")]
    there = [probes[f"clerk at window: {side} cheek"] for side in ("left", "right")]
    # As far apart, and turned as far, as the figure's own: a head moves as a whole.
    apart = [np.linalg.norm(one.position - other.position) for one, other in (own, there)]
    assert apart[0] == pytest.approx(apart[1], abs=1e-3)
    assert own[0].normal @ own[1].normal == pytest.approx(there[0].normal @ there[1].normal, abs=1e-6)
    head = next(each for each in stage.heads if each.mark == "window")
    assert all(np.linalg.norm(probe.position - head.nose) < 0.15 for probe in there)
    assert all(probe.normal @ head.ahead == pytest.approx(np.sqrt(0.5)) for probe in there)


@pytest.mark.parametrize(("lines", "message"), [
    (("lit side clerk 0", "lit side clerk 1"), "both are of lit side, clerk"),
    (("meter bench at most 0", "meter bench at least 1"), "exclude each other"),
    (("lit side clerk -2", "shadow side clerk 0"), "the darker one"),
    (("lit side clerk 0", "shadow side clerk -1", "ratio clerk 8:1"), "are no ratio"),
])
def test_wants_that_exclude_each_other_are_refused(scene, stage, lines, message):
    """Whatever the light is."""
    with pytest.raises(RequestError, match=message):
        numbers(scene, stage, *lines)


@pytest.mark.parametrize("lines", [
    ("lit side clerk 0", "lit side clerk 0.1"), ("lit side clerk 0", "lit side clerk 1, camera wide"),
    ("meter bench at most 1", "meter bench at least 0"), ("lit side clerk 0", "lit side clerk 1, at window"),
    ("lit side clerk 0", "shadow side clerk -2", "ratio clerk 4:1"),
])
def test_wants_that_go_together_are_taken(scene, stage, lines):
    """Within what they allow, of other cameras' stops and at other marks."""
    assert len(numbers(scene, stage, *lines)[0]) == len(lines)


def test_what_may_move_is_what_is_said(scene, stage):
    """Any level at its colour where nothing is; flames, and what is off, stay."""
    lamps = moving.lamps_of(scene, stage)
    assert {name: each.locked for name, each in lamps.items()} == {
        "key": False, "fill": False, "wash": False, "candle": True, "spare": True}
    by_name = {each.lamp: each for each in moving.moves(stage, lamps, {})}
    key, fill, wash, spare = (by_name[name] for name in ("key", "fill", "wash", "spare"))
    assert (key.low, key.high, len(key.colours), key.mired) == (0, 1, 1, ())
    assert (fill.low, fill.high, fill.may_be_off, wash.may_be_off) == (0.1, 0.8, True, False)
    assert fill.mired[0] == pytest.approx(1e6 / 5600) and fill.mired[-1] == pytest.approx(1e6 / 3200)
    assert max(np.diff(fill.mired)) <= moving.STEP_MIRED
    assert fill.mired[fill.colour] == pytest.approx(1e6 / 4300)  # Its own, so that it can stay.
    # Its own gel is among those to try, and none.
    assert wash.words == ("", "no gel", "half cto") and wash.colour == 0
    assert (spare.low, spare.high) == (0, 0) and all(each.watts > 0 for each in (key, fill, wash))


def test_a_camera_moves_in_thirds(scene):
    """Of stop and filter together, as it is set first, of two alike the one with less filter."""
    wide, close = (moving.exposures_of(camera) for camera in scene.cameras)
    assert [each.shift for each in wide] == [0]
    assert close[0] == moving.Exposure(4, 0, 0)
    found = {(each.stop, each.nd): each.shift for each in close}
    # Two stops of aperture are a factor of 4: log2 of (4 / 2.8)² and of 10^-0.6.
    assert found[2.8, 0] == pytest.approx(2 * np.log2(4 / 2.8))
    assert found[5.6, 0.6] == pytest.approx(2 * np.log2(4 / 5.6) - 0.6 / np.log10(2))
    assert {stop for stop, _ in found} == {2.8, 3.2, 3.6, 4, 4.5, 5, 5.6}
    want = Want("x", LEVEL, ("m",), 0, reference=100, camera="close")
    assert moving.shifted([want], {"close": 1.0})[0].reference == 50


def test_an_answer_is_what_can_be_dialled(scene, stage):
    """Tenths of a percent, tens of kelvin; what stays is no change, and nothing is off."""
    lamps = moving.lamps_of(scene, stage)
    assert lamps["key"].change(Setting("key", 0.41637)) == LampChange(dimmer=0.416)
    assert lamps["key"].change(Setting("key", 1.0)) == LampChange()
    assert lamps["key"].change(Setting("key", 0.0002)) == LampChange(on=False)
    assert lamps["fill"].change(Setting("fill", 0.5, 3, 1e6 / 4003)) == LampChange(dimmer=0.5, cct=4000)
    assert lamps["fill"].change(Setting("fill", 0.5, 3, 1e6 / 4302)).cct is None
    found = lamps["wash"].change(Setting("wash", 1.0, 2))
    assert [gel.name for gel in found.gel] == ["half cto"] and found.dimmer is None
    assert lamps["wash"].change(Setting("wash", 1.0, 1)).gel == ()
    assert lamps["candle"].change(Setting("candle", 0.0)) == LampChange()


def answering(stage, gains):
    """Return meters whose light of each lamp is so many lux at full level; all white, without noise."""
    lamps = {lamp.name: lamp for lamp in stage.lamps}
    names = tuple(lamps)
    light = np.zeros((len(gains), BATCHES, len(names), 2, 12))
    for number, by_lamp in enumerate(gains.values()):
        for lamp, lux in by_lamp.items():
            light[number, :, names.index(lamp), 0] = lux / lamps[lamp].output
    return Response(tuple(gains), names, light)


CHEEKS = {"clerk: left cheek": {"key": 900.0, "fill": 60.0},
          "clerk: right cheek": {"key": 30.0, "fill": 500.0}}


def steady(scene):
    """Return a scene whose cameras stay as they are."""
    return replace(scene, cameras=tuple(replace(each, may_move=None) for each in scene.cameras))


def test_wants_within_reach_are_met_as_dialled(scene, stage):
    """Levels by arithmetic: two lamps, two sides; another stop where the lamps are held."""
    subjects_, _ = numbers(scene, stage, "lit side clerk 0", "shadow side clerk -2")
    response, wants = answering(stage, CHEEKS), [each.want for each in subjects_]
    found = solving.solve(response, wants, steady(scene), stage, "least squares")
    assert found.met and found.conflict == found.remedies == ()
    # 900 k + 60 f = 240 lx and 30 k + 500 f = 60 lx, once the fill keeps over its 10 %.
    k, f = np.linalg.solve([[900, 60], [30, 500]], [240, 60])
    assert found.changes.lamps["key"].dimmer == pytest.approx(k, abs=0.003)
    assert found.changes.lamps["fill"].dimmer == pytest.approx(f, abs=0.003)
    assert [each.value.value for each in found.after] == pytest.approx([0, -2], abs=0.02)
    assert found.before[0].value.value == pytest.approx(np.log2(960 / 240), abs=1e-3)
    held = phrases.with_moves(scene, lock=["key", "fill", "wash"])
    stopped = solving.solve(response, wants[:1], held, stage, "least squares")
    # Two stops over: density 0.6 passes a quarter.
    assert stopped.changes.cameras == {"close": {"nd": 0.6}} and not stopped.changes.lamps
    assert stopped.met and abs(stopped.after[0].value.value) < 0.02


def test_either_cheek_may_become_the_lit_one(scene, stage):
    """The fill holds the right cheek high and may not move: the left one becomes the darker, and is."""
    held = phrases.with_moves(steady(scene), lock=["fill", "wash"])
    wants = [each.want for each in numbers(scene, stage, "lit side clerk 0", "shadow side clerk -3")[0]]
    # As it is set the left cheek has 810 lx and the right 250; the key off leaves 0 and 240.
    gains = {"clerk: left cheek": {"key": 810.0, "fill": 30.0},
             "clerk: right cheek": {"key": 10.0, "fill": 240.0}}
    found = solving.solve(answering(stage, gains), wants, held, stage, "least squares")
    assert found.met and found.changes.lamps == {"key": LampChange(on=False)}


def test_gels_are_chosen_that_help_where_something_else_is_missed(scene, stage):
    """A want that no level meets keeps no lamp from the gel that brings another about."""
    wants = [each.want for each in numbers(scene, stage, "colour clerk 3600 K", "ratio clerk 8:1")[0]]
    held = phrases.with_moves(steady(scene), lock=["key", "fill"])
    gains = {"clerk: left cheek": {"wash": 200.0}, "clerk: right cheek": {"wash": 100.0}}
    found = solving.solve(answering(stage, gains), wants, held, stage, "least squares")
    # 5600 K and a quarter cto (33.5 mired) make 4700 K; a half (67) 4070 K, nearer to 3600 K.
    assert [gel.name for gel in found.changes.lamps["wash"].gel] == ["half cto"]
    assert abs(found.after[0].miss) < abs(found.before[0].miss) - 20 and found.after[1].miss < -1


def test_tungsten_is_counted_as_warm_as_it_is_dimmed(scene, stage):
    """A key that is dimmed to a tenth is warmer than at full level, and the reading says so."""
    subjects_, _ = numbers(scene, stage, "lit side clerk -1.5", "colour clerk 3000 K, within 60 mired")
    response = answering(stage, {name: {"key": lux["key"]} for name, lux in CHEEKS.items()})
    found = solving.solve(response, [each.want for each in subjects_], scene, stage, "least squares")
    assert found.before[1].value.value == pytest.approx(1e6 / 3200, abs=3)
    assert found.after[1].value.value > found.before[1].value.value + 15


def test_what_no_level_meets_says_what_would_do(scene, stage):
    """A lamp that would have to be bigger, by how much."""
    subjects_, _ = numbers(scene, stage, "lit side clerk 3")
    found = solving.solve(answering(stage, CHEEKS), [each.want for each in subjects_], steady(scene), stage,
                          "least squares")
    assert not found.met and found.conflict == ("lit side clerk",)
    # The key's 900 lx and the fill's 60 at 80 % come to 948 of 240 · 2^2.9 lx, with the 0.1 allowed.
    bigger = next(each for each in found.remedies if (each.kind, each.lamp) == ("bigger", "key"))
    assert bigger.amount == pytest.approx(np.log2((240 * 2**2.9 - 48) / 900), abs=0.05)
    said = sentences(found.after, found.conflict, found.remedies)
    assert said[0] == "The want is not met." and "key 1 stop bigger" in said[2]


TWELVE = """\
previz: 1
ground: gravel
lights: [{lamps}]
cameras: [{{name: A, at: [2 m, 0 m, 1.6 m], aim: m0, lens: 25 mm, stop: T2.8, iso: 800}}]
meters: [{meters}]
"""


@pytest.mark.timed
def test_twelve_lamps_and_ten_wants_take_less_than_a_second(tmp_path):
    """From meters that are there: levels that were hidden are found again, to what the dimmers hold."""
    lamps = ", ".join(f"{{name: l{k}, kind: bulb, at: [{k} m, 2 m, 2 m], output: 900 lm}}" for k in range(12))
    meters = ", ".join(f"{{name: m{k}, at: [{k} m, 3 m, 1 m]}}" for k in range(10))
    (tmp_path / "twelve.yaml").write_text(TWELVE.format(lamps=lamps, meters=meters), encoding="utf-8")
    many = load(tmp_path / "twelve.yaml").scene()
    built, rng = build_stage(many), np.random.default_rng(5)
    response = answering(built, {
        f"m{k}": {f"l{n}": float(lux) for n, lux in enumerate(rng.gamma(0.5, 100, 12))} for k in range(10)})
    hidden = {f"l{n}": LampChange(dimmer=float(level)) for n, level in enumerate(rng.uniform(0.05, 1, 12))}
    asked = [each.want for each in numbers(many, built, *(f"meter m{k} 0" for k in range(10)))[0]]
    there = solving.readings(response, asked, many, built, solving.Changes(hidden))
    asked = [replace(want, target=each.value.value) for want, each in zip(asked, there, strict=True)]
    began = time.perf_counter()
    found = solving.solve(response, asked, many, built, "least squares")
    assert time.perf_counter() - began < 1.0
    assert found.met and all(abs(each.miss) < 0.05 for each in found.after)


def test_no_flag_is_advised_where_a_picture_is_read(scene, stage):
    """Straight and bounced light are not told apart in a view; less of the sky is."""
    lamps = moving.lamps_of(scene, stage)
    tried = [Remedy("flagged", "key", "hatch, wide", 0.4), Remedy("flagged", "key", "locker, wide", 0.4),
             Remedy("freed", "sky", "", -0.4), Remedy("freed", "sky", "", 0.4),
             Remedy("freed", "key", "", -9.0), Remedy("bigger", "key", "", 0.01),
             Remedy("blacked", "key", "background, wide", 0.4)]
    assert [solving.sane(each, lamps, ("hatch, wide",)) for each in tried] == [
        False, True, True, False, False, False, False]


READINGS = {
    "level": Want("level", LEVEL, ("m",), 0.0), "ratio": Want("ratio", RATIO, ("m", "n"), 2.0),
    "colour": Want("colour", COLOUR, ("m",), 1e6 / 3600, within=10.0),
    "most": Want("most", LEVEL, ("m",), 2.5, at_most=True),
}


def read(name, value, error=0.02):
    want = READINGS[name]
    return Reading(want, Measured(value, error), want.miss(value))


def test_readings_are_said_as_on_a_set():
    """Stops with their sign, a ratio to one, kelvin; how far off, and which way."""
    assert [wanted_text(want) for want in READINGS.values()] == ["0.0", "4.0 : 1", "3600 K", "at most +2.5"]
    assert value_text(READINGS["level"], Measured(-0.498, 0.012)) == ("\N{MINUS SIGN}0.50", "± 0.01")
    # 2^1.585 = 3; its error is 3 ln 2 · 0.02.
    assert value_text(READINGS["ratio"], Measured(1.585, 0.02)) == ("3.0 : 1", "± 0.04")
    # K²/10⁶ of a mired: 4000 K off by 1 mired is 16 K.
    assert value_text(READINGS["colour"], Measured(250.0, 1.0)) == ("4000 K", "± 16")
    assert value_text(READINGS["level"], Measured(-29.9, 0.0)) == ("no light", "")
    assert [miss_text(each) for each in (
        read("level", 0.05), read("level", -0.84), read("most", -7.0), read("most", 3.1),
        read("colour", 250.0), read("colour", 300.0), read("level", -29.9))] == [
        "met", "0.84 stops under", "met", "0.60 stops over", "28 mired too cool", "22 mired too warm",
        "no light"]


def test_the_verdict_counts_what_is_met():
    """All, some, one or none."""
    good, bad = read("level", 0.0), read("colour", 300.0)
    assert verdict_text([good, good]) == "Both wants are met."
    assert verdict_text([good] * 3) == "All 3 wants are met."
    assert verdict_text([good, bad]) == "1 of 2 wants is met, 'colour' is not."
    assert verdict_text([good, good, bad, read("ratio", 0.0)]) == (
        "2 of 4 wants are met, 'colour' and 'ratio' are not.")
    assert [verdict_text([bad] * count) for count in (1, 2, 3)] == [
        "The want is not met.", "Neither want is met.", "None of 3 wants is met."]


@pytest.mark.parametrize(("remedy", "said"), [
    (Remedy("bigger", "key", "", 1.0), "key 1 stop bigger"),
    (Remedy("freed", "key", "", -0.5), "key, which is held as it is, 0.5 stops down"),
    (Remedy("freed", "sky", "", -0.5), "0.5 stops less of the sky, by nets, or by ND before windows"),
    (Remedy("exposed", "", "", 0.7, "A"), "camera A 0.7 stops more open"),
    (Remedy("flagged", "key", "clerk: left cheek", 0.4),
     "a flag or net that takes 40 % of key off the left cheek of clerk"),
    (Remedy("blacked", "sky", "north wall, A", 0.4),
     "black cloth that takes 40 % of what is bounced of the sky off north wall"),
    (Remedy("bounced more", "key", "background, A", 1.0),
     "a board nearer or larger, for 1 stop more of what is bounced of key at the background of camera A"),
])
def test_what_would_do_is_said(remedy, said):
    """In a crew's words."""
    assert remedy_text(remedy) == said


def test_a_place_is_named_without_its_meter():
    """The cheek of a figure, a thing as a camera sees it, a meter of the scene."""
    assert [place_words(each) for each in ("porter at gate: right cheek", "locker, A", "bench")] == [
        "the right cheek of porter at gate", "locker", "bench"]


def test_a_background_is_the_mean_of_what_lies_behind(stage):
    """Of pixels behind the face but people, lamps and boards; its batches have the picture's noise."""
    from previz.studies.balance.gathering import behind

    lamps = tuple(lamp.name for lamp in stage.lamps)
    slices = np.zeros((len(lamps), 12, 4, 6), np.float32)
    slices[0, :, :2], slices[1, :, :2] = 2.0, 1.0
    slices[:, :, 2:] = 50.0
    depth = np.full((4, 6), 9.0)
    depth[3] = 1.0
    index = np.zeros((4, 6), int)
    index[2] = 1
    variance = np.zeros((len(lamps), 4, 6), np.float32)
    variance[0] = 0.04
    frames = SimpleNamespace(shape=(4, 6), slices=slices, variance=variance, depth=depth, names_index=index,
                             names=("locker", "clerk"), lights=lamps)
    found = behind(stage, stage.cameras[0], frames)
    assert found.meters == ("background, wide",) and found.lamps == lamps
    total = found.light.sum(axis=3)[0]
    assert total.mean(axis=0)[0] == pytest.approx(np.full(12, 2.0)) and not total[:, 2:].any()
    # Twelve pixels of variance 0.04: the mean has 0.2 / sqrt(12).
    spread = total[:, 0, 0].std(ddof=1) / np.sqrt(len(total))
    assert spread == pytest.approx(0.2 / np.sqrt(12), rel=1e-3)
    assert total[:, 1].std() == pytest.approx(0, abs=1e-9)


def test_a_window_is_what_is_seen_through_it(stage):
    """Of pixels whose line passes the opening, those that see beyond it; not bars, nor who is in front."""
    from previz.studies.balance.gathering import through

    camera = stage.cameras[0]
    axes = np.asarray(camera.world_from_camera, float)
    # It fills the middle half of the picture's width and height, 2 m ahead.
    half = [axes[:, k] * camera.tan_half[k] * 2 * 0.5 for k in (0, 1)]
    hole = Guide("hatch", camera.position + 2 * axes[:, 2], *half, opening=True)
    rows, columns, lamps = 8, 12, tuple(lamp.name for lamp in stage.lamps)
    slices = np.full((len(lamps), 12, rows, columns), 7.0, np.float32)
    slices[:, :, 2:6, 3:9] = 3.0
    depth = np.full((rows, columns), 9.0)
    # A bar in the opening, and somebody in front, both bright.
    depth[2:6, 4], depth[2:6, 8] = 2.0, 1.0
    slices[:, :, :, [4, 8]] = 99.0
    frames = SimpleNamespace(shape=(rows, columns), slices=slices, depth=depth, lights=lamps,
                             variance=np.zeros((len(lamps), rows, columns), np.float32))
    held = replace(stage, guides=(*stage.guides, hole))
    found = through(held, camera, frames, "hatch")
    assert found.meters == ("hatch, wide",) and found.mean().sum(axis=2) == pytest.approx(3.0)
    away = replace(hole, centre=camera.position - 2 * axes[:, 2])
    with pytest.raises(RequestError, match="does not see through 'hatch'"):
        through(replace(stage, guides=(away,)), camera, frames, "hatch")
