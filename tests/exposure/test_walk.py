"""A strip of meters that are known: sides, lamps, colour, causes, other levels, words and plain values."""

import importlib.util
import json
from pathlib import Path

import numpy as np
import pytest

from previz.exposure.comparing.uneven import HOLE, HOT
from previz.exposure.comparing.walk_words import record, summary, uneven_text, where_text

_path = Path(__file__).with_name("synthetic_walk.py")
_spec = importlib.util.spec_from_file_location("synthetic_walk", _path)
way = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(way)


def test_both_sides_are_those_of_the_closed_form():
    """Illuminance on a flat meter is I cos θ / d² (check value 1.1), of both lamps together."""
    strip = way.strip(back=0.0)
    for reading in strip.readings:
        at = np.array(reading.point.at)
        sides = [sum(lumens * way.on_flat(at, normal, lamp)
                     for lamp, lumens in zip(way.PLACES, way.LUMENS, strict=True))
                 for normal in way.normals()]
        for light, lux in ((reading.face.lit, max(sides)), (reading.face.shadow, min(sides))):
            assert abs(light.value - lux) <= 4 * light.error + 1e-6 * lux
        assert reading.face.lit_side == ("left" if sides[0] > sides[1] else "right")
        # 117.6 lx at the working stop (ISO 2720:1974, C = 250).
        assert reading.lit.value == pytest.approx(np.log2(reading.face.lit.value / 117.6), abs=1e-6)
        # A share e of error is e / ln 2 stops.
        assert reading.lit.error == pytest.approx(reading.face.lit.error / reading.face.lit.value / np.log(2))
    assert [strip.readings[i].point.mark for i in strip.marks] == ["start", "window", "bench"]


def test_lamps_add_up_to_the_lit_side():
    """Each lamp's part is its own; together they are the reading."""
    for reading in way.strip().readings:
        assert sum(each.value for each in reading.lamps) == pytest.approx(reading.face.lit.value)


def test_other_levels_are_the_same_as_meters_run_for_them():
    """Half the door lamp: what it gives is half everywhere, and the bench lamp's is what it was."""
    full, half = way.strip(), way.strip((0.5, 1.0))
    for one, other in zip(full.readings, half.readings, strict=True):
        if one.face.lit_side == other.face.lit_side:
            assert [each.value for each in other.lamps] == pytest.approx(
                [0.5 * one.lamps[0].value, one.lamps[1].value])
    off = way.strip((0.0, 1.0))
    assert all(reading.lamps[0].value == 0 for reading in off.readings)


def test_the_hole_between_two_lamps_is_named_with_its_lamps():
    """Past the door lamp the face turns its back on it: a hole, before the bench lamp comes up."""
    strip = way.strip()
    (hole, cause), = [(each, cause) for each, cause in zip(strip.unevens, strip.causes, strict=True)
                      if each.kind == HOLE]
    levels = [reading.lit.value for reading in strip.readings]
    assert levels[hole.at] == min(levels[hole.between[0]:hole.between[1]])
    assert cause.lamp == "door lamp" and cause.change < 0 and cause.behind
    at = np.array(strip.readings[hole.at].point.at)
    distances = {name: np.linalg.norm(place - at) for name, place in way.PLACES.items()}
    assert cause.nearest == min(distances, key=distances.get)
    assert cause.distance == pytest.approx(min(distances.values()))
    words = uneven_text(strip, strip.unevens.index(hole))
    assert words.startswith(f"A hole of {hole.by.value:.1f} stops at {strip.metres[hole.at]:.1f} m, between ")
    assert f"'door lamp', the nearest lamp, {cause.distance:.1f} m away, falls off there most" in words
    assert "as it is behind the face" in words
    # 2 to the power of its depth brighter.
    even = strip.readings[hole.at].face.lit.value * 2**hole.by.value
    assert f"{even:.0f} lx would be even" in words
    assert words in summary(strip)


def test_a_lamp_that_is_off_is_said_to_be():
    """The bench lamp is nearest to the hole that the door lamp leaves, and is off."""
    places = way.points()
    made = way.batches(places)
    # The way's end is lit again by what comes back, as before a white wall.
    made.sums[2 * 20:, :, 0, 1] *= 40
    strip = way.strip_of("porter", places, made, way.lamps((1.0, 0.0)), way.SETTINGS,
                         places={"bench lamp": way.PLACES["bench lamp"]})
    words = " ".join(summary(strip))
    assert "the nearest lamp is 'bench lamp'" in words and "m away, which is off" in words


def test_a_hot_spot_is_named_with_the_lamp_that_makes_it():
    """With the bench lamp far down the door lamp's pool stands alone: it rises from the start, then falls."""
    strip = way.strip((1.0, 0.02))
    hot = [cause for each, cause in zip(strip.unevens, strip.causes, strict=True) if each.kind == HOT]
    assert [cause.lamp for cause in hot] == ["door lamp"] and hot[0].change > 0 and hot[0].share > 0.9
    assert any("makes it, with" in line and "'door lamp'" in line for line in summary(strip))


def test_what_is_wanted_is_said_where_it_is_not():
    """A range that all of it is in leaves nothing to say; one that none of it is in takes all of the way."""
    wide, = (way.strip(wanted=(-9, 9)),)
    assert wide.unevens == () and "all of it lies in the wanted range" in " ".join(summary(wide))
    bright = way.strip(wanted=(6.0, 7.0))
    one, = bright.unevens
    assert (one.kind, one.first, one.last) == (HOLE, 0, len(bright.readings) - 1)
    assert "nder the wanted range by" in " ".join(summary(bright))


def test_colour_drifts_from_the_warm_lamp_to_the_cool_one():
    """2800 K by the door, CIE daylight of 5600 K at the bench, the balance at 3200 K (mired: 1e6 / K)."""
    strip = way.strip(back=0.0)
    drift = strip.drift
    assert drift.warmest < drift.coolest
    warm, cool = (strip.readings[i] for i in (drift.warmest, drift.coolest))
    assert warm.mired.value == pytest.approx(1e6 / warm.face.cct - 1e6 / 3200)
    assert 1e6 / 5600 - 2 < 1e6 / cool.face.cct < 1e6 / warm.face.cct < 1e6 / 2800 + 2
    assert drift.by.value == pytest.approx(warm.mired.value - cool.mired.value)
    assert f"drifts by {drift.by.value:.0f} mired" in " ".join(summary(strip))
    assert way.strip((1.0, 0.0)).drift.by.value == pytest.approx(0, abs=0.5)


def test_the_error_of_a_colour_is_its_spread():
    """Where both lamps count, the stated error is the spread over other draws of the noise, to a third."""
    places = [each for each in way.points() if each.metres == 3.0]
    made = way.batches(places, noise=0.2)
    strip = way.strip_of("porter", places, made, way.lamps(), way.SETTINGS)
    drawn = []
    for seed in range(60):
        shuffled = np.random.default_rng(seed).integers(0, 64, 64)
        again = way.batches(places, noise=0.2)
        again.sums = made.sums[:, shuffled]
        drawn.append(way.strip_of("porter", places, again, way.lamps(), way.SETTINGS).readings[0].mired.value)
    assert strip.readings[0].mired.error == pytest.approx(np.std(drawn), rel=0.35)


def test_the_lit_side_changes_where_it_is_seen_to():
    """From the left cheek to the right between the lamps; noise where both are alike changes nothing."""
    strip = way.strip()
    at, = strip.swaps
    assert strip.readings[at].face.lit_side == "right" and strip.readings[0].face.lit_side == "left"
    assert f"is the left cheek, the figure's own, the right from {strip.metres[at]:.1f} m on." in " ".join(
        summary(strip))
    assert way.strip((0.0, 1e-3), noise=0.3, back=1.0).swaps == ()


def test_where_is_said_by_marks():
    """At a mark, between two, before and after them."""
    strip = way.strip()
    assert where_text(strip, 0) == "at start"
    assert where_text(strip, 1) == "between start and window"
    assert where_text(strip, len(strip.readings) - 2) == "between window and bench"


def test_in_the_dark_there_is_nothing_to_say():
    """Lamps off: no light, no colour, no hole."""
    dark = way.strip((0.0, 0.0))
    assert summary(dark) == ("No light reaches the face anywhere on the way.",)
    assert dark.drift is None and dark.unevens == ()
    assert json.loads(json.dumps(record(dark)))["lit_stops"]["value"] == [None] * len(dark.readings)


def test_what_no_camera_shows_is_over_so_many_stops_under():
    """Lamps at a hundred-thousandth: how far it is under what is wanted is told as a least."""
    strip = way.strip((1e-6, 1e-6), wanted=(-1.0, 0.5))
    assert strip.readings[strip.unevens[0].at].lit.value < -15
    assert uneven_text(strip, 0).startswith("Under the wanted range by over 11.0 stops at ")


def test_the_record_has_all_of_it_as_plain_values():
    """Lists along the way, as long as it; JSON gives them back as they are."""
    strip = way.strip()
    kept = json.loads(json.dumps(record(strip), allow_nan=False))
    count = len(strip.readings)
    assert kept["metres"] == list(strip.metres)
    for key in ("lit_stops", "shadow_stops", "lit_lx", "lit_to_shadow", "off_balance_mired"):
        assert len(kept[key]["value"]) == len(kept[key]["error"]) == count
    assert set(kept["lamps_lx"]) == set(way.PLACES) and len(kept["lamps_lx"]["door lamp"]["value"]) == count
    assert kept["lit_stops"]["value"][3] == pytest.approx(strip.readings[3].lit.value)
    assert [each["words"] for each in kept["uneven"]] == [
        uneven_text(strip, i) for i in range(len(strip.unevens))]
    assert [(each["name"], each["at"]) for each in kept["marks"]] == [
        ("start", 0), ("window", 16), ("bench", 24)]
