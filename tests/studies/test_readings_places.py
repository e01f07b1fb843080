"""Names in readings: sides of a face, marks, things, lamps that were on, stops at a meter's settings."""

from types import SimpleNamespace

import numpy as np
import pytest

from previz.exposure.camera import settings_of
from previz.physics.exposure import luminance_from_signal
from previz.stage.views import DOME
from previz.studies.readings.places import LIT, SHADOW, Places
from previz.studies.readings.written import readings_in, typed


def camera(name):
    return SimpleNamespace(name=name, stop=2.8, iso=800.0, shutter_s=1 / 48, nd_density=0.0,
                           white_balance=5600.0, tint=0.0, over=None, under=None, show=None, optics=None)


def lamp(name, level=1.0, on=True):
    return SimpleNamespace(name=name, level=level, on=on)


PROBES = ("desk", "desk" + DOME, "clerk: left cheek", "clerk: right cheek", "clerk: left cheek" + DOME,
          "clerk: right cheek" + DOME, "clerk: face" + DOME, "clerk at window", "clerk at window" + DOME)
STAGE = SimpleNamespace(
    probes=[SimpleNamespace(name=name, dome=name.endswith(DOME)) for name in PROBES],
    heads=[SimpleNamespace(figure="clerk", mark=""), SimpleNamespace(figure="clerk", mark="window")],
    cameras=[camera("A"), camera("B")],
    lamps=[lamp("key"), lamp("fill"), lamp("back and rim"), lamp("spare", on=False), lamp("sky"),
           lamp("sun")])
PLACES = Places(STAGE, ["back wall", "clerk: face"])


def taken(text, usual="all"):
    rows, problems = typed([text])
    found, more = readings_in(rows)
    made, missing = PLACES.taken(found, usual)
    return made[0] if made else None, [*problems, *more, *missing]


@pytest.mark.parametrize(("place", "meters", "side"), [
    ("desk", ("desk",), ""), ("Clerk's left cheek", ("clerk: left cheek",), ""),
    ("clerk, face", None, ""), ("clerk face", ("clerk: face" + DOME,), ""),
    ("clerk", ("clerk: face" + DOME,), ""),
    ("clerk lit side", ("clerk: left cheek", "clerk: right cheek"), LIT),
    ("clerk: key side", ("clerk: left cheek", "clerk: right cheek"), LIT),
    ("clerk fill side", ("clerk: left cheek", "clerk: right cheek"), SHADOW),
    ("clerk at window", ("clerk at window",), ""), ("window", ("clerk at window",), "")])
def test_places(place, meters, side):
    """Names as people say them; flat where there is a flat receptor, a face by its dome."""
    found, problems = taken(f'"{place}", 400 lx' if "," not in place else f"{place}, 400 lx")
    if meters is None:
        assert problems
    else:
        assert problems == [] and (found.meters, found.side) == (meters, side)


def test_receptors_and_things():
    """A dome where it is said; a face has no flat meter at its middle; spot meters are pointed at things."""
    assert taken("desk, 400 lx, receptor=dome")[0].meters == ("desk" + DOME,)
    _, wrong = taken("clerk face, 400 lx, receptor=flat")
    assert "no flat receptor at 'clerk: face'" in wrong[0].message
    spot, _ = taken("back wall, 12 cd/m2, camera=b")
    assert (spot.thing, spot.camera, spot.value, spot.unit) == ("back wall", "B", 12, "cd/m²")


@pytest.mark.parametrize(("text", "on"), [
    ("key", {"key": None}), ("key + fill", {"key": None, "fill": None}),
    ("Fill and key", {"key": None, "fill": None}),
    ("back and rim", {"back and rim": None}),
    ("back and rim + daylight", dict.fromkeys(("back and rim", "sky", "sun"))),
    ("key at 50 %, fill 30%", {"key": 0.5, "fill": 0.3}),
    ("all", dict.fromkeys(("key", "fill", "back and rim", "sky", "sun"))),
    ("all but key, daylight", dict.fromkeys(("fill", "back and rim"))),
    ("none", {"sky": None, "sun": None}), ("daylight", {"sky": None, "sun": None}),
    ("spare", {"spare": None}), ("key, daylight", {"key": None, "sky": None, "sun": None})])
def test_what_was_on(text, on):
    """Lamps by name and level, all as planned, all but some, daylight."""
    found, problems = taken(f"desk, 400 lx, lamps={text}")
    assert problems == [] and found.levels == on


def test_levels_and_what_goes_without_saying():
    """A level is of the lamps, never of the sky; without a word it is all, or at the scout daylight."""
    dimmed, _ = taken("desk, 4 lx, lamps=key and daylight, level=40 %")
    assert dimmed.levels == {"key": 0.4, "sky": None, "sun": None}
    assert "spare" not in taken("desk, 4 lx")[0].levels and "key" in taken("desk, 4 lx")[0].levels
    assert set(taken("desk, 4 lx", "daylight")[0].levels) == {"sky", "sun"}


def test_names_that_are_not_there():
    """Which may be meant, and which there are; at the lamp itself."""
    _, (place,) = taken("clerk left cheak, 4 lx")
    assert place.message == "the scene has no place for a meter 'clerk left cheak'"
    assert place.advice.startswith("Did you mean 'clerk: left cheek'? It has: 'desk', ")
    _, (wrong,) = taken("desk, 4 lx, lamps=key + fil")
    assert wrong.message == "the scene has no lamp 'fil'" and wrong.column == 25
    assert wrong.advice.startswith("Did you mean 'fill'? ")
    _, (thing,) = taken("back wal, 4 cd/m2")
    assert "no thing for a spot meter 'back wal'" in thing.message
    _, (one,) = taken("desk, 4 lx, camera=C")
    assert "no camera 'C'" in one.message


def test_stops_become_light():
    """E = C N² / (S t), C 250 flat, 330 domed, K 12.5: ISO 2720:1974; the camera's settings unless said."""
    flat, dome, set_, spot, grey = (taken(text)[0].value for text in (
        "desk, T4", "desk, T4, receptor=dome", "desk, T4, iso=100, shutter=1/50", "back wall, spot=T4",
        "back wall, spot=+1 stop"))
    assert flat == pytest.approx(250 * 16 * 48 / 800) and dome == pytest.approx(330 * 16 * 48 / 800)
    assert set_ == pytest.approx(250 * 16 * 50 / 100) and spot == pytest.approx(12.5 * 16 * 48 / 800)
    assert grey == pytest.approx(float(luminance_from_signal(0.36, settings_of(STAGE.cameras[0]))))
    assert taken("desk, T4, iso=100, shutter=172.8 deg")[0].value == pytest.approx(250 * 16 * 50 / 100)


@pytest.mark.parametrize("text", ["+1e6 stop", "1e300 lx", "1e12 cd/m2", "-30 stops"])
def test_numbers_beyond_any_meter(text):
    """They are told, as any other fault is."""
    _, wrong = taken(f"back wall, {text}")
    assert len(wrong) == 1 and ("out of range" in wrong[0].message or "any meter" in wrong[0].message)


def test_a_stop_without_a_camera():
    """It says nothing without ISO and shutter."""
    places = Places(SimpleNamespace(probes=STAGE.probes, heads=[], cameras=[], lamps=STAGE.lamps), [])
    rows, _ = typed(["desk, T4", "desk, T4, iso=100, shutter=1/50"])
    made, wrong = places.taken(readings_in(rows)[0], "all")
    assert [each.message for each in wrong] == ["a stop says nothing without ISO and shutter"]
    np.testing.assert_allclose([each.value for each in made], 250 * 16 * 50 / 100)
