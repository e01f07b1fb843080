"""What the parts of a stand-in figure are made of: skin and its sheen, eyes, hair, cloth."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from previz.physics import skin as skins
from previz.physics.optics import normal_reflectance
from previz.physics.spectra import WAVELENGTHS_NM
from previz.stage.figures.eyes import PUPIL_RADIUS, RING_RADIUS
from previz.stage.figures.tones import LIGHTEST, scalp_tones, strand_colour, strand_tones
from previz.stage.records import Surface
from previz.stage.surfaces import ONES

if TYPE_CHECKING:
    from previz.scene.figure import Figure
    from previz.stage.figures.build import Figure3D

WET_INDEX = 1.376
"""Refractive index of the cornea. From memory."""

LIPS_ROUGHNESS = 0.28
"""Roughness of the shine of lips, never more than the skin's. Common practice, no source. [1]"""

HAIR_ROUGHNESS = 0.14
"""Roughness of the shine along a hair. [1]

The cone that light mirrored by a hair leaves in is 5 to 10 deg wide at a standard deviation; a GGX of width
alpha turns normals by about alpha radians, and mirrored light by twice as much: 0.5 × 0.13 to 0.26,
once more widened since a ribbon stands for several hairs. Source: Marschner et al., "Light
scattering from human hair fibers", ACM TOG 22(3), 2003, table 1 (from memory).
"""

HAIR_ACROSS = 0.55
"""Roughness of it across a hair, which is round: light is thrown to all sides. [1]"""

HAIR_GLOSS = 0.7
"""Share of hair that carries its shine; the rest is worn, or in the shade of other scales.
Common practice, no source. [1]"""

BROWS = 0.65
"""Albedo of brows over that of the hair of the head. Common practice, no source. [1]"""

SHELL = 0.45
"""Albedo of the shell over that of hair: it lies in the shade of strands, whose gaps it closes.
Common practice, no source. [1]"""


def surfaces_of(figure: Figure) -> dict[str, Surface]:
    """Return the surface of every part of a figure but its clothes."""
    step, sheen = figure.skin, figure.sheen
    share, roughness = skins.SHEENS[sheen]
    skin = skins.skin_reflectance(step, sheen)
    skin_f0 = normal_reflectance(skins.SKIN_INDEX)
    hair = skins.hair_reflectance(figure.hair_colour)
    hair_f0 = normal_reflectance(skins.HAIR_INDEX) * ONES
    colour = figure.hair_colour
    strand = strand_colour(colour)
    return {
        "skin": Surface(f"skin, {step}, {sheen}", skin, 0 * ONES, skin_f0 * ONES, share,
                        roughness, subsurface=1.0),
        # Short roots between the hairs darken the skin under them.
        "scalp": Surface(f"scalp, {step}, {sheen}, {colour}", skin, 0 * ONES, skin_f0 * ONES, share,
                         roughness, subsurface=1.0, pattern=scalp_tones(colour)),
        "lips": Surface(f"lips, {step}, {sheen}", _lips(skin), 0 * ONES, skin_f0 * ONES, share,
                        min(LIPS_ROUGHNESS, roughness), subsurface=1.0),
        "hair": Surface(f"hair, {colour}", SHELL * hair, 0 * ONES, 0 * ONES),
        "strands": Surface(f"strands, {colour}", strand, _through_strands(strand), hair_f0, HAIR_GLOSS,
                           HAIR_ROUGHNESS, pattern=strand_tones(colour), across=HAIR_ACROSS),
        "beard": Surface(f"beard, {colour}", strand, _through_strands(strand), hair_f0, HAIR_GLOSS,
                         HAIR_ROUGHNESS, pattern=strand_tones(colour), across=HAIR_ACROSS),
        "brows": Surface(f"brows, {colour}", BROWS * strand, _through_strands(BROWS * strand), hair_f0,
                         0.5 * HAIR_GLOSS, HAIR_ROUGHNESS, pattern=strand_tones(colour), across=HAIR_ACROSS),
        "lashes": _plain("lashes", 0.03),
        "eye white": _wet("eye white", _eye_white()),
        "iris": _wet("iris", _iris()),
        "iris rim": _wet("iris rim", 0.4 * _iris()),
        "pupil": _wet("pupil", 0.004 * ONES),
        "teeth": _plain("teeth", 0.5, 1.0, 0.2),
        "shoes": _plain("shoes", 0.03, 0.6, 0.3),
    }


def _plain(name, value, gloss=0.0, roughness=0.4, f0=0.04) -> Surface:
    return Surface(name, value * ONES, 0 * ONES, f0 * ONES, gloss, roughness)


def _wet(name, reflectance) -> Surface:
    """Return a surface under a film of tears, which mirrors the lamps."""
    return Surface(name, reflectance, 0 * ONES, normal_reflectance(WET_INDEX) * ONES, 1.0, 0.01)


def _lips(skin: np.ndarray) -> np.ndarray:
    """Return lips: skin with more blood near the surface (common practice, no source)."""
    blood = np.interp(WAVELENGTHS_NM, [380, 500, 580, 620, 780], [0.75, 0.6, 0.55, 0.85, 0.95])
    return skin * blood


def _iris() -> np.ndarray:
    """Return a brown iris (common practice, no source)."""
    return np.interp(WAVELENGTHS_NM, [380, 480, 560, 640, 780], [0.012, 0.02, 0.042, 0.09, 0.12])


def _eye_white() -> np.ndarray:
    """Return the white of an eye, a little warm and no lighter than fair skin.

    Common practice, no source: drawn as white as paint, eyes seem to shine in the dark.
    """
    return np.interp(WAVELENGTHS_NM, [380, 450, 550, 650, 780], [0.30, 0.35, 0.37, 0.41, 0.42])


def _through_strands(hair: np.ndarray) -> np.ndarray:
    """Return what a thin lock lets through: more than a mass of hair sends back, in its colour.

    Common practice, no source: the root of the mass's albedo, since light in a mass has passed
    several hairs; halved, as the other half goes back or sideways. Never so much that the lightest
    strand would send on more than it gets.
    """
    return np.minimum(0.5 * np.sqrt(hair), 0.97 - LIGHTEST * hair)


def corneas(body: Figure3D) -> dict[str, np.ndarray]:
    """Return which faces of the corneas lie over the iris, its rim, and the pupil.

    The engine has no shells of clear stuff in front of things, so the cornea itself is painted:
    its wet bulge gives the catchlight, and what is under it gives the colour.
    """
    part = body.part("cornea")
    middle = part.vertices[part.faces].mean(axis=1)
    off_axis = []
    for eye in body.eyes:
        offset = middle - eye.centre
        along = offset @ eye.turn[:, 0]
        off_axis.append(np.linalg.norm(offset - along[:, None] * eye.turn[:, 0], axis=1))
    away = np.min(off_axis, axis=0)
    return {
        "pupil": part.faces[away < PUPIL_RADIUS],
        "iris": part.faces[(away >= PUPIL_RADIUS) & (away < RING_RADIUS)],
        "iris rim": part.faces[away >= RING_RADIUS],
    }


def trousers(upper: Surface) -> Surface:
    """Return a darker cut of the same cloth."""
    return Surface(f"{upper.name}, darker", upper.reflectance * 0.6, 0 * ONES, upper.specular,
                   upper.gloss, upper.roughness)
