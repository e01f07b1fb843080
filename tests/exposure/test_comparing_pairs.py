"""Two pictures, two faces, two shots: differences and what is said of them."""

from dataclasses import replace

import numpy as np
import pytest

from previz.exposure.comparing import match
from previz.exposure.comparing.coverage import HIDDEN, IN_FRAME, Coverage, Sighting
from previz.exposure.comparing.difference import (
    EDGES,
    difference,
    difference_bands,
    difference_index,
)
from previz.exposure.comparing.faces import LampOnFace, conflicts, lamps_on_face
from previz.exposure.comparing.measures import Area, FaceLight, KeySource, ShotMeasures
from previz.exposure.metering import Measured, Mixed
from previz.physics.exposure import CameraSettings

SETTINGS = CameraSettings(stop=2.8, iso=800, shutter_s=1 / 48, white_balance=3200)
"""18 % grey at 117.6 lx: E = 250 · 2.8² · 48 / 800."""


def test_a_stop_is_a_stop_and_black_is_black():
    """Twice the signal is one stop; two blacks differ by nothing however small they are."""
    base = np.array([[0.18, 0.36, 0.0, 1e-6]])
    found = difference(np.array([[0.36, 0.18, 0.0, 4e-6]]), base)
    # The floor of eight stops under grey takes 0.003 and 0.006 stop off a stop here.
    assert found[0, :2] == pytest.approx([1, -1], abs=0.01)
    assert found[0, 2] == 0 and abs(found[0, 3]) < 0.01
    with pytest.raises(ValueError, match="cannot be compared"):
        difference(base, base[:, :2])


def test_every_difference_has_its_band():
    """Bands meet without gaps, 'same' is a quarter of a stop to either side, ends are open."""
    bands = difference_bands()
    assert [b.low for b in bands[1:]] == [b.high for b in bands[:-1]] == list(EDGES)
    stops = np.array([[-9.0, -0.3, -0.2, 0.0, 0.2, 0.5, 1.0, 2.0, 9.0]])
    labels = [bands[i].label for i in difference_index(stops)[0]]
    assert labels == ["−3 or more", "−½", "same", "same", "same", "+½", "+1", "+2", "+3 or more"]
    lightness = [sum(b.colour) for b in bands]
    # Grey prints keep the order: every band is lighter than the one below.
    assert np.all(np.diff([np.dot(b.colour, (0.2126, 0.7152, 0.0722)) for b in bands]) > 0)
    assert lightness[0] < 100 and lightness[-1] > 700


def cheeks(lit, shadow, lamps):
    """Meters at a left and a right cheek, one number a lamp."""
    made = []
    for name, lux in (("left", lit), ("right", shadow)):
        xyz = np.zeros((4, len(lamps), 2, 3))
        xyz[:, :, 1, 1] = lux
        made.append(Mixed(name, lamps, xyz))
    return made


def test_a_lamp_that_shapes_one_face_and_flattens_the_other_is_found():
    """Light adds up: a face without a lamp is its readings less that lamp's parts."""
    lamps = ("box", "window")
    # The box keys the fitter: 5:1 with it, 1.25:1 without. It fills the driver: 2:1 with, 8:1
    # without.
    fitter = lamps_on_face("fitter", *cheeks((375, 125), (0, 100), lamps))
    driver = lamps_on_face("driver", *cheeks((100, 700), (312.5, 87.5), lamps))
    assert fitter[0].ratio == pytest.approx(5.0)
    assert fitter[0].without.value == pytest.approx(1.25)
    assert fitter[0].effect == pytest.approx(2.0)
    assert driver[0].effect == pytest.approx(-2.0)
    pairs = conflicts({"fitter": fitter, "driver": driver})
    assert [(a.lamp, a.figure, b.figure) for a, b in pairs] == [("box", "fitter", "driver")]
    assert conflicts({"fitter": fitter}) == []


def test_what_is_left_in_shot_is_not_unwanted():
    """Only what is seen and was not meant to be counts."""
    seen = (Sighting("tube", "lamp", IN_FRAME, 0.01, True),
            Sighting("card", "board", IN_FRAME, 0.02),
            Sighting("camera B", "camera", HIDDEN))
    assert [s.name for s in Coverage("boxes", "A", "fitter", seen).unwanted] == ["card"]


def side(name="A", lit=470.4, shadow=117.6, cct=3200.0, duv=0.0, bearing=(-45.0, 30.0),
         edge=0.02, **more):
    """A shot: lit 470.4 lx is two stops over the working 117.6 lx, and 4:1 over the shadow."""
    face = FaceLight("clerk", "left", Measured(lit, 0), Measured(shadow, 0), cct, duv)
    key = KeySource(("key",), "card", 1.0, 30.0, 30.0, *bearing, 40.0, edge, 0.06)
    measures = ShotMeasures("", "A", SETTINGS, face, key, Area("wall", -2.0))
    return match.Side(name, measures, **more)


def test_the_same_shot_cuts_with_itself():
    """Nothing is different, and nothing is advised."""
    gaps = match.differences(side(), side())
    assert all(gap in (None, 0) for gap in gaps.values())
    assert gaps["sky"] is None


@pytest.mark.parametrize(("changed", "key", "expected"), [
    ({"lit": 940.8, "shadow": 235.2}, "face", 1.0),  # twice the light
    ({"shadow": 58.8}, "ratio", 1.0),  # 4:1 to 8:1
    ({"bearing": (45.0, 30.0)}, "direction", 75.52),  # acos(sin² 30 + cos² 30 cos 90)
    ({"cct": 4300.0}, "mired", -79.9),  # check value 2.5
    ({"duv": 0.006}, "duv", 0.006),
    ({"edge": 0.04}, "softness", 1.0),
])
def test_differences_are_in_stops_degrees_and_mired(changed, key, expected):
    """Each change moves its own number by what it should and no other."""
    gaps = match.differences(side(), side("B", **changed))
    assert gaps[key] == pytest.approx(expected, abs=0.05)
    others = [k for k, gap in gaps.items() if gap and abs(gap) > 1e-9 and k != key]
    assert others == []


def test_two_hard_edges_cut():
    """Edges under two millimetres are both hard: their ratio means nothing on a screen."""
    gaps = match.differences(side(edge=0.0003), side("B", edge=0.0018))
    assert gaps["softness"] == 0


def test_sky_background_and_veil_are_compared_where_both_have_them():
    """Levels are as exposed; clear air has no veil."""
    gaps = match.differences(side(sky=2.0, background=-1.0), side("B", sky=3.5, background=-3.0,
                                                                  veil=0.25))
    assert gaps["sky"] == 1.5 and gaps["background"] == -2.0
    # A veil two stops under grey over a floor eight stops under: log2(2^-2 + 2^-8) + 8.
    assert gaps["veil"] == pytest.approx(np.log2(0.25 + 2**-8) + 8, abs=1e-9)


def test_advice_closes_the_gap():
    """What is advised brings the second shot to the first."""
    first, second = side(), side("B", lit=940.8, shadow=235.2, cct=4300.0)
    gaps = match.differences(first, second)
    result, changes = match.advice("face", gaps["face"], first, second)
    # One stop: T2.8 · 2^(1/2) = T3.96, or density 0.301.
    assert "from T2.8 to T4.0" in result and "ND 0.3" in result
    assert changes == {"stop_to_set": pytest.approx(2.8 * 2**0.5, rel=1e-3),
                       "nd_to_add": pytest.approx(np.log10(2), rel=1e-3)}
    balance = match.balance_for(4300.0, first.measures.face.mired_off(3200.0))
    # A light that is white on the first side is white on the second at its own temperature.
    assert balance == pytest.approx(4300.0)
    assert "warm B by 80 mired, or set its balance to 4300 K" in match.advice(
        "mired", gaps["mired"], first, second).words
    for key in match.LIMITS:
        assert match.advice(key, 1.0, first, second).words


def test_no_stop_is_advised_that_no_lens_has():
    """Five stops under at T2.8 would take T0.5; the light has to do it, and the stop moves nothing."""
    second = side("B")
    result, changes = match.advice("face", -5.0, side(), second)
    assert "T0" not in result
    assert "5.0 stops more light on the face" in result and changes == {"light_to_add": 5.0}
    assert match.by_stop(-5.0, second) == 0.0
    assert match.advice("background", -1.7, side(), second, -5.0, 1.0).words == (
        "lift the background of B by 1.7 stops")
    assert match.advice("background", 0.5, side(), second, -5.0, 1.0).words == ""


def test_the_background_is_reported_as_it_is_once_the_stop_has_met_the_face():
    """Closing two stops for the face takes two off the background too: what is left is advised."""
    first, second = side(), side("B")
    result, changes = match.advice("background", 0.5, first, second, 2.0, 1.0)
    # +0.5 - 2 = -1.5: what cut before does not any more.
    assert result == "once the stop has met the face, lift the background of B by 1.5 stops"
    assert changes == {"level_to_add": 1.5}
    assert match.advice("sky", 2.4, first, second, 2.0, 1.0).words == (
        "the stop that meets the face meets this too")
    assert match.advice("sky", 0.9, first, second, 1.0, 1.0).words == ""


def test_no_balance_is_advised_beyond_the_dial():
    """A shift past any temperature, or past the camera's scale, is not given as a balance."""
    assert match.balance_for(10000.0, 120.0) is None
    assert match.balance_for(25000.0, 15.0) is None


def test_verdicts_are_plain():
    """All within the limits cut; what is different is named; what only one has is not compared."""
    good = match.Point("face", "lit side", "a", "b", 0.2, 0.5)
    off = match.Point("mired", "colour", "a", "b", -40.0, 15.0, "warm B")
    missing = match.Point("sky", "sky", "+2 from grey", "not in the frame", None, 1.0)
    nowhere = replace(missing, first="not in the frame")
    assert match.verdict([good, nowhere]) == "They cut."
    assert match.verdict([good, off]) == "They do not cut yet: colour is too far apart."
    assert match.verdict([off, replace(off, label="lit side")]) == (
        "They do not cut yet: colour and lit side are too far apart.")
    assert match.verdict([good, missing]) == "They cut. Not compared: sky."


def test_limits_can_be_set():
    """A limit takes the place of the usual one; an unknown or negative one is refused."""
    assert match.limits_with({"face": 0.2})["face"] == 0.2
    with pytest.raises(ValueError, match="no limit 'hue'"):
        match.limits_with({"hue": 1})
    with pytest.raises(ValueError, match="0 or more"):
        match.limits_with({"face": -1})


def test_two_shots_in_the_dark_are_alike():
    """No light against no light differs by nothing; against light the words say where it lacks."""
    def side(name, lux, background):
        face = FaceLight("clerk", "left", Measured(lux, 0.0), Measured(lux / 2, 0.0))
        return match.Side(name, ShotMeasures("", "A", SETTINGS, face), background=background)

    black, lit = side("struck", 0.0, -np.inf), side("lit", 117.6, -1.0)
    assert match.differences(black, black)["face"] == 0
    assert match.differences(black, black)["background"] == 0
    gap = match.differences(lit, black)["face"]
    assert gap == -np.inf
    assert match.advice("face", gap, lit, black).words == "no light on the face in struck: light it"
    assert match.advice("background", np.inf, black, lit).words == (
        "no light on the background in struck: light it there, or take it away in lit")


@pytest.mark.parametrize(("gain", "loss", "told"), [
    (0.34, -0.34, True), (0.32, -0.34, False), (0.34, -0.32, False), (-0.34, 0.34, True),
    (0.34, 0.34, False)])
def test_a_lamp_is_remarked_on_from_a_third_of_a_stop(gain, loss, told):
    """It must add so much contrast to one face and take so much from another, whichever comes first."""
    def effect(figure, stops):
        one = Measured(1, 0)
        return LampOnFace("key", figure, one, one, 4.0 * 2**stops, Measured(4.0, 0), False)

    effects = {"fitter": (effect("fitter", gain),), "driver": (effect("driver", loss),)}
    found = conflicts(effects)
    assert bool(found) == told
    assert all(up.effect > 0 > down.effect and up.figure != down.figure for up, down in found)


# Common practice, no source.
@pytest.mark.parametrize(("key", "limit"), [
    ("face", 0.5), ("ratio", 0.5), ("direction", 30.0), ("mired", 15.0), ("duv", 0.004), ("sky", 1.0),
    ("background", 1.0), ("softness", 1.0), ("veil", 1.0)])
def test_where_a_cut_ends(key, limit):
    """A difference cuts up to its limit, either way, and no further; the limit itself still cuts."""
    assert set(match.LIMITS) == set(match.UNITS)
    for share, cuts in ((0.98, True), (1.0, True), (1.02, False)):
        for sign in (1, -1):
            point = match.Point(key, key, "", "", sign * share * limit, match.LIMITS[key])
            assert point.cuts is cuts
    assert match.Point(key, key, "", "", None, limit).cuts is None
