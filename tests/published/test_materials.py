"""Reflectances of set and grip materials (set practice: common practice, no source; ±0.1)."""

import numpy as np
import pytest

from previz.physics.lamps import illuminant
from previz.physics.materials import MATERIALS
from previz.physics.skin import luminance_reflectance

# Lowest and highest luminance reflectance found on set.
PRACTICE = {
    "foam board": (0.80, 0.90), "muslin": (0.70, 0.80), "unbleached muslin": (0.60, 0.70),
    "silver board": (0.70, 0.90), "white paint": (0.75, 0.85), "black cloth": (0.02, 0.04),
    "grey card": (0.18, 0.18),
}  # fmt: skip


@pytest.mark.parametrize("name", PRACTICE)
def test_grip_materials(name):
    """Boards, cloths and paint lie inside the customary ranges."""
    low, high = PRACTICE[name]
    found = luminance_reflectance(MATERIALS[name].reflectance, illuminant("D65"))
    assert low - 1e-9 <= found <= high + 1e-9


def test_grey_card_is_grey():
    """18 % at all wavelengths, without shine."""
    card = MATERIALS["grey card"]
    assert np.all(card.reflectance == 0.18)
    assert card.gloss == 0
    assert not card.metal


def test_unbleached_is_warm_and_black_still_returns_a_little():
    """Unbleached muslin is redder than bleached; black cloth is not a hole."""
    at = [14, 54]  # 450 and 650 nm
    warm = np.divide(*MATERIALS["unbleached muslin"].reflectance[at])
    white = np.divide(*MATERIALS["muslin"].reflectance[at])
    assert warm < white - 0.1
    assert MATERIALS["black cloth"].reflectance.min() > 0.01


def test_metals():
    """Brass is yellow, aluminium and chrome are not; a mirror keeps nearly all."""
    # Optical constants of the metals (from memory): Al 0.91 polished, Cr about 0.55, brass 0.9 red.
    metals = {name for name, each in MATERIALS.items() if each.metal}
    assert metals == {"steel", "brass", "aluminium", "chrome", "silver board", "mirror"}
    brass = MATERIALS["brass"].reflectance
    assert brass[54] > 1.5 * brass[14]
    assert np.ptp(MATERIALS["chrome"].reflectance) < 0.03
    assert MATERIALS["mirror"].roughness == 0
    assert MATERIALS["mirror"].reflectance.mean() > 0.85
