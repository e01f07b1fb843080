"""A face as a set has it: lit side, shadow side, both ratios, and their errors."""

import numpy as np
import pytest

from previz.exposure import faces
from previz.exposure.faces import FaceLight, face_light, key_lamps, stops_of
from previz.exposure.metering import Measured, Mixed, from_working, jackknife
from previz.physics.exposure import DOME_CONSTANT, CameraSettings

SETTINGS = CameraSettings(stop=2.8, iso=800, shutter_s=1 / 48)


def cheek(side, lamp, sky, batches=8, noise=None):
    """A flat meter with light from two lamps, [direct, bounced] each, white in X, Y, Z."""
    xyz = np.zeros((batches, 2, 2, 3))
    xyz[:, 0], xyz[:, 1] = np.array(lamp, float)[:, None], np.array(sky, float)[:, None]
    if noise is not None:
        xyz *= noise[:, None, None, None]
    return Mixed(f"clerk: {side} cheek", ("lamp", "sky"), xyz)


# Two versions of an encyclopaedia's article on lighting ratio; check values 9.1 and 9.2.
@pytest.mark.parametrize(
    ("key", "fill", "alone", "whole"),
    [(200, 100, 2, 3), (800, 200, 4, 5), (100, 100, 1, 2), (700, 100, 7, 8), (300, 100, 3, 4)])
def test_ratios_of_a_face_are_those_of_the_book(key, fill, alone, whole):
    """K 800, F 200 on the lit side and F 200 on the other: 4:1 key alone, 5:1 lit to shadow."""
    left, right = cheek("left", (key, 0), (0, fill)), cheek("right", (0, 0), (0, fill))
    for pair, side in (((left, right), "left"), ((right, left), "right")):
        face = face_light("clerk", *pair)
        assert (face.lit_side, face.lit.value, face.shadow.value) == (side, key + fill, fill)
        assert face.key_alone.value == pytest.approx(key)
        assert dict(face.ratios) == {faces.LIT_TO_SHADOW: face.lit_to_shadow,
                                     faces.KEY_TO_FILL: face.key_to_fill}
        assert (face.lit_to_shadow.value, face.key_to_fill.value) == pytest.approx((whole, alone))
    assert stops_of(face.lit_to_shadow).value == pytest.approx(np.log2(whole))
    lamps = key_lamps("clerk", left, right, ("lamp",))
    assert (lamps.key.value, lamps.others.value) == pytest.approx((key, fill))
    assert lamps.key_to_others.value == pytest.approx(alone)
    assert lamps.all_to_others.value == pytest.approx(whole)


def test_without_a_shadow_sides_light_ratios_have_no_end():
    """The lit side is the figure's own; without fill both ratios are infinite, in the dark none."""
    face = face_light("clerk", cheek("left", (0, 0), (0, 0)), cheek("right", (500, 0), (0, 0)))
    assert (face.lit_side, face.shadow_side) == ("right", "left")
    assert face.lit_to_shadow.value == face.key_to_fill.value == np.inf
    dark = face_light("clerk", cheek("left", (0, 0), (0, 0)), cheek("right", (0, 0), (0, 0)))
    assert np.isnan(dark.lit_to_shadow.value) and dark.cct is None
    assert key_lamps("clerk", cheek("left", (0, 0), (0, 0)), cheek("right", (0, 0), (0, 0))) is None


def test_a_keys_own_return_is_fill_by_sides_and_key_by_lamps():
    """Lit 400 lx and shadow 100 lx of one lamp: 4:1 and 3:1, and no other lamp."""
    pair = cheek("left", (300, 100), (0, 0)), cheek("right", (0, 100), (0, 0))
    face = face_light("clerk", *pair)
    assert (face.lit_to_shadow.value, face.key_to_fill.value) == pytest.approx((4, 3))
    assert key_lamps("clerk", *pair).key_to_others.value == np.inf


def test_the_key_is_named_or_the_strongest():
    """Lamps that are named are taken where they give most; unknown ones are refused."""
    pair = cheek("left", (120, 0), (60, 0)), cheek("right", (10, 0), (90, 0))
    assert key_lamps("clerk", *pair).lamps == ("lamp",)
    sky = key_lamps("clerk", *pair, ("sky",))
    assert (sky.cheek, sky.key.value, sky.others.value) == ("right", pytest.approx(90),
                                                            pytest.approx(10))
    with pytest.raises(ValueError, match="knows no lamp"):
        key_lamps("clerk", *pair, ("rim",))


def test_errors_of_a_ratio():
    """Sides of 1 % each that know nothing of each other give 1.4 %; 0.02 stops."""
    random = np.random.default_rng(4)
    grain = 1 + 0.08 * random.standard_normal((2, 64))
    face = face_light("clerk", cheek("left", (300, 0), (0, 0), 64, grain[0]),
                      cheek("right", (100, 0), (0, 0), 64, grain[1]))
    ratio = face.lit_to_shadow
    # Independent errors add in squares; 9 % is what 64 batches know of each error.
    assert ratio.error / ratio.value == pytest.approx(0.01 * np.sqrt(2), rel=0.2)
    assert stops_of(ratio).error == pytest.approx(ratio.error / ratio.value / np.log(2))
    assert face.key_to_fill.error == ratio.error
    # Leaving one batch out gives the same to first order.
    pairs = np.stack([300 * grain[0], 100 * grain[1]], axis=1)
    assert ratio.error == pytest.approx(jackknife(lambda m: m[0] / m[1], pairs).error, rel=0.03)
    assert face.key_alone.error == pytest.approx(
        jackknife(lambda m: m[0] - m[1], pairs).error, rel=1e-9)


def test_what_both_sides_share_is_no_error_of_their_ratio():
    """Where both cheeks err alike their ratio is exact, though neither side is."""
    grain = 1 + 0.08 * np.random.default_rng(2).standard_normal(64)
    face = face_light("clerk", cheek("left", (300, 0), (0, 0), 64, grain),
                      cheek("right", (100, 0), (0, 0), 64, grain))
    assert face.lit.error > 1
    assert face.lit_to_shadow.error == pytest.approx(0, abs=1e-6)


def test_stops_from_the_working_stop():
    """Twice the working light is one stop over, on each receptor by its own constant."""
    # ISO 2720: E = C T² / (t S); C 250 flat, 330 domed.
    for constant in (250.0, DOME_CONSTANT):
        light = 2 * constant * 2.8**2 * 48 / 800
        found = from_working(Measured(light, 0.01 * light), SETTINGS, constant)
        assert found.value == pytest.approx(1)
        assert found.error == pytest.approx(0.01 / np.log(2))
    assert from_working(Measured(0.0, 0.0), SETTINGS)[:2] == (-np.inf, 0.0)
    # What noise takes below nothing is no light; and what bands may be off goes by the light too.
    assert from_working(Measured(-3.0, 1.0), SETTINGS)[:2] == (-np.inf, 0.0)
    found = from_working(Measured(50.0, 2.0, 0.5), SETTINGS)
    assert found[1:] == pytest.approx((2 / 50 / np.log(2), 0.5 / 50 / np.log(2)))


def test_the_colour_of_a_face_is_that_of_its_lit_side():
    """D65 on the lit side is 6503 K, Duv +0.0032 (check value 2.4), whatever the shadow side has."""
    left, right = cheek("left", (100, 0), (0, 50)), cheek("right", (0, 0), (0, 20))
    left.xyz[...] *= [0.95047, 1.0, 1.08883]
    face = face_light("clerk", left, right)
    assert face.cct == pytest.approx(6503, abs=5) and face.duv == pytest.approx(0.0032, abs=2e-4)


def test_warmer_light_is_plus_mired():
    """3200 K under a balance of 5600 K is +133.9 mired (check value 2.5)."""
    face = FaceLight("clerk", "left", Measured(1, 0), Measured(1, 0), 3200.0, 0.0)
    assert face.mired_off(5600.0) == pytest.approx(133.9, abs=0.05)


def test_ratios_without_end_have_no_stops_to_speak_of():
    """Light against none is no end of stops over, none against light no end under; nobody is warned of it."""
    assert stops_of(Measured(np.inf, 0.0)).value == np.inf
    assert stops_of(Measured(0.0, 0.0)).value == -np.inf
    half = stops_of(Measured(0.5, 0.05, 0.03))
    # d log2 r = dr / (r ln 2).
    assert half == pytest.approx((-1, 0.1 / np.log(2), 0.06 / np.log(2)))
