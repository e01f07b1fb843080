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


# Reflection factors [%] of commonly used materials, in a public building encyclopaedia (read).
TABLE = {
    "gloss white paint": (75, 85), "light green paint": (45, 55), "dark green paint": (15, 20),
    "dark blue paint": (15, 20), "dark red paint": (15, 20), "yellow paint": (60, 70),
    "brown paint": (20, 30), "grey paint": (25, 35), "white enamel": (65, 75),
    "light oak": (25, 35), "dark brick": (10, 15), "rough concrete": (20, 30),
    "grey plaster": (40, 45), "dark plaster": (15, 25), "granite": (20, 25),
    "limestone": (35, 55), "sandstone": (20, 40), "marble": (30, 70), "white paper": (70, 80),
    "nickel": (50, 62), "polished silver": (90, 97), "mirror": (80, 88),
}  # fmt: skip


@pytest.mark.parametrize("name", TABLE)
def test_materials_of_a_published_table(name):
    """Each lies in the range that the table gives for it; of polished metals the upper end is that
    of clean new metal, which the table's are not quite.
    """
    low, high = TABLE[name]
    found = luminance_reflectance(MATERIALS[name].reflectance, illuminant("D65"))
    assert low - 1e-9 <= 100 * found <= high + 1e-9


# Optical constants n, k at 450, 550 and 650 nm of public tables that an open renderer ships (read).
CONSTANTS = {
    "copper": ((1.17, 2.39), (0.96, 2.58), (0.22, 3.64)),
    "gold leaf": ((1.51, 1.88), (0.35, 2.71), (0.17, 3.14)),
    "polished silver": ((0.15, 2.47), (0.12, 3.34), (0.14, 4.13)),
    "polished aluminium": ((0.62, 5.47), (0.96, 6.69), (1.47, 7.79)),
}


@pytest.mark.parametrize("name", CONSTANTS)
def test_metals_have_fresnels_reflectance(name):
    """R = ((n-1)² + k²) / ((n+1)² + k²) at square incidence, to the two digits kept."""
    for nm, (n, k) in zip((450, 550, 650), CONSTANTS[name], strict=True):
        expected = ((n - 1) ** 2 + k**2) / ((n + 1) ** 2 + k**2)
        assert MATERIALS[name].reflectance[(nm - 380) // 5] == pytest.approx(expected, abs=0.02)


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
    assert metals == {
        "steel", "brass", "aluminium", "chrome", "silver board", "mirror", "polished aluminium",
            "hard silver", "soft silver",
        "copper", "gold leaf", "polished silver", "nickel", "stainless steel", "galvanised steel",
        "cast iron", "bronze",
    }  # fmt: skip
    brass = MATERIALS["brass"].reflectance
    assert brass[54] > 1.5 * brass[14]
    assert np.ptp(MATERIALS["chrome"].reflectance) < 0.03
    assert MATERIALS["mirror"].roughness == 0
    assert MATERIALS["mirror"].reflectance.mean() > 0.85
