"""Colour words against the Munsell renotation and the colour names of NBS Circular 553.

Sources: the renotation of Newhall, Nickerson and Judd (1943; ASTM D1535) as held by colour-science
0.4.7; centroids of the ISCC-NBS names in sRGB, from a public dictionary of colours (read).
"""

import numpy as np
import pytest

from previz.physics.lamps import illuminant
from previz.physics.spectra import xyz_of
from previz.scene.colour import NOTATIONS, PALETTE, linear_from_hex
from previz.scene.surface import Surface
from previz.stage.surfaces import build_surface, luminance

STRONG = {
    "strong red": "#bc3f4a", "strong orange": "#ed872d", "strong yellow": "#d4af37",
    "strong yellow green": "#7e9f2e", "strong green": "#007959", "strong bluish green": "#007a74",
    "strong blue": "#0067a5", "strong purplish blue": "#545aa7", "strong purple": "#875692",
}  # fmt: skip
"""ISCC-NBS names of colours that only the brightest paint and dye have."""

D65 = (0.3127, 0.3290)


def lightness_chroma_hue(colour, xyz):
    """Of a colour under D65, white at Y = 1."""
    return colour.models.Lab_to_LCHab(colour.XYZ_to_Lab(xyz, D65))


def of_hex(colour, text):
    return lightness_chroma_hue(colour, colour.RGB_to_XYZ(
        linear_from_hex(text), colour.RGB_COLOURSPACES["sRGB"], apply_cctf_decoding=False))


def of_word(colour, word, **more):
    """Through the reflectance spectrum that a render uses."""
    made = build_surface(Surface(colour=linear_from_hex(PALETTE[word]), **more))
    light = illuminant("D65")
    return made, lightness_chroma_hue(colour, xyz_of(light * made.reflectance) / xyz_of(light)[1])


@pytest.mark.parametrize("word", NOTATIONS)
def test_a_word_is_its_munsell_notation(colour, word):
    """Under daylight each word's spectrum has the colour of its notation, to a just visible step."""
    c, d = (colour.xy_to_XYZ(np.asarray(xy)) for xy in (
        colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["C"], D65))
    xyz = colour.xyY_to_XYZ(colour.notation.munsell.munsell_colour_to_xyY(NOTATIONS[word]))
    expected = lightness_chroma_hue(
        colour, colour.chromatic_adaptation(xyz, c, d, transform="Bradford"))
    _, found = of_word(colour, word)
    difference = colour.delta_E(*(colour.models.LCHab_to_Lab(each) for each in (expected, found)))
    # 8-bit steps are up to 0.5, the spectra of the uplift up to 1.
    assert difference < 1.5


@pytest.mark.parametrize("word", NOTATIONS)
def test_no_word_is_as_strong_as_the_brightest_dye(colour, word):
    """Of less chroma than the ISCC-NBS 'strong' name of the nearest hue."""
    _, (_, chroma, hue) = of_word(colour, word)
    strong = [of_hex(colour, each) for each in STRONG.values()]
    gap = [abs((hue - each[2] + 180) % 360 - 180) for each in strong]
    assert chroma < strong[int(np.argmin(gap))][1]


def test_navy_and_tan_as_cloth_has_them(colour):
    """Half of the chroma of 'dark blue', and less than that of 'light yellowish brown'; so is a navy
    wool of 8 %, which keeps the word's hue and not its depth.
    """
    _, navy = of_word(colour, "navy")
    assert navy[1] < 0.5 * of_hex(colour, "#00304e")[1]
    _, tan = of_word(colour, "tan")
    assert tan[1] < 0.8 * of_hex(colour, "#c19a6b")[1]
    made, wool = of_word(colour, "navy", reflectance=0.08)
    assert luminance(made.reflectance) == pytest.approx(0.08)
    assert wool[1] < 0.7 * of_hex(colour, "#436b95")[1]


def test_every_word_that_is_no_grey_has_a_notation():
    """And no other."""
    greys = {"white", "silver", "grey", "charcoal", "black"}
    assert set(NOTATIONS) == set(PALETTE) - greys
