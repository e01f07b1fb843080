"""What the parts of a stand-in figure are made of: skin and its sheen, eyes, hair, cloth."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from previz.physics import skin as skins
from previz.physics.optics import normal_reflectance
from previz.physics.spectra import WAVELENGTHS_NM
from previz.stage.figures.complexion import face_pattern, hand_pattern, in_hands
from previz.stage.figures.eyes import PUPIL_RADIUS, RING_RADIUS
from previz.stage.figures.face_chart import in_chart, inside
from previz.stage.figures.iris import eye_white, iris, iris_pattern, white_pattern
from previz.stage.figures.mesh import smooth_step
from previz.stage.figures.people import PEOPLE
from previz.stage.figures.pores import face_relief, hand_relief, lip_relief, skin_relief
from previz.stage.figures.tones import LIGHTEST, scalp_tones, strand_colour, strand_tones
from previz.stage.records import Pattern, Surface
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
    plain = Surface(f"skin, {step}, {sheen}", skin, 0 * ONES, skin_f0 * ONES, share, roughness,
                    subsurface=1.0)
    person = PEOPLE[figure.person]
    years = person.years if figure.age is None else figure.age
    # Maps are kept, so they are made for every fifth year.
    fifth = 5 * round(years / 5)
    face = replace(plain, name=f"face, {step}, {sheen}", relief=face_relief(fifth),
                   pattern=face_pattern(step, sheen, person.sex == "male", fifth))
    hair = skins.hair_reflectance(figure.hair_colour)
    hair_f0 = normal_reflectance(skins.HAIR_INDEX) * ONES
    colour = figure.hair_colour
    coloured = replace(_wet("iris" if figure.eyes == "brown" else f"iris, {figure.eyes}", iris(figure.eyes)),
                       pattern=iris_pattern(figure.eyes))
    strand = strand_colour(colour)
    return {
        "skin": replace(plain, relief=skin_relief()),
        "face": face,
        "hand": replace(plain, name=f"hand, {step}, {sheen}", pattern=hand_pattern(step, sheen, fifth),
                        relief=hand_relief()),
        # The lining of the mouth is wet and red in everyone (common practice, no source).
        "mouth": Surface("mouth", _lining(), 0 * ONES, skin_f0 * ONES, 1.0, 0.15),
        # Short roots between the hairs darken the skin under them.
        "scalp": Surface(f"scalp, {step}, {sheen}, {colour}", skin, 0 * ONES, skin_f0 * ONES, share,
                         roughness, subsurface=1.0, pattern=scalp_tones(colour)),
        "lips": replace(face, name=f"lips, {step}, {sheen}", roughness=min(LIPS_ROUGHNESS, roughness),
                        gloss=1.0, relief=lip_relief()),
        "hair": Surface(f"hair, {colour}", SHELL * hair, 0 * ONES, 0 * ONES),
        "strands": Surface(f"strands, {colour}", strand, _through_strands(strand), hair_f0, HAIR_GLOSS,
                           HAIR_ROUGHNESS, pattern=strand_tones(colour), across=HAIR_ACROSS),
        "beard": Surface(f"beard, {colour}", strand, _through_strands(strand), hair_f0, HAIR_GLOSS,
                         HAIR_ROUGHNESS, pattern=strand_tones(colour), across=HAIR_ACROSS),
        "brows": Surface(f"brows, {colour}", BROWS * strand, _through_strands(BROWS * strand), hair_f0,
                         0.5 * HAIR_GLOSS, HAIR_ROUGHNESS, pattern=strand_tones(colour), across=HAIR_ACROSS),
        "lashes": _plain("lashes", 0.03),
        "eye white": replace(_wet("eye white", eye_white()), pattern=white_pattern()),
        "iris": coloured,
        "iris rim": replace(coloured, name=coloured.name.replace("iris", "iris rim")),
        "pupil": _wet("pupil", 0.004 * ONES),
        "teeth": Surface("teeth", _teeth(), 0 * ONES, 0.05 * ONES, 1.0, 0.12, pattern=teeth_pattern()),
        "tongue": Surface("tongue", _lining(), 0 * ONES, skin_f0 * ONES, 1.0, 0.3),
        # White glazed ware, as of a canteen (common practice, no source).
        "cup": _plain("cup", 0.72, 1.0, 0.07),
    }


def _plain(name, value, gloss=0.0, roughness=0.4, f0=0.04) -> Surface:
    return Surface(name, value * ONES, 0 * ONES, f0 * ONES, gloss, roughness)


def _wet(name, reflectance) -> Surface:
    """Return a surface under a film of tears, which mirrors the lamps."""
    return Surface(name, reflectance, 0 * ONES, normal_reflectance(WET_INDEX) * ONES, 1.0, 0.01)


def _lining() -> np.ndarray:
    """Return the lining of the mouth and the tongue (common practice, no source)."""
    return np.interp(WAVELENGTHS_NM, [380, 500, 570, 610, 660, 780], [0.045, 0.045, 0.04, 0.065, 0.085, 0.10])


def _teeth() -> np.ndarray:
    """Return teeth, a little yellow and of a middling shade, L* of about 67.

    Common practice, no source.
    """
    return np.interp(WAVELENGTHS_NM, [380, 450, 550, 650, 780], [0.22, 0.28, 0.37, 0.41, 0.43])


def _through_strands(hair: np.ndarray) -> np.ndarray:
    """Return what a thin lock lets through: more than a mass of hair sends back, in its colour.

    Common practice, no source: the root of the mass's albedo, since light in a mass has passed
    several hairs; halved, as the other half goes back or sideways. Never so much that the lightest
    strand would send on more than it gets.
    """
    return np.minimum(0.5 * np.sqrt(hair), 0.97 - LIGHTEST * hair)


TOOTH = 7.4e-3
"""Mean width of a tooth along the row. From memory, of the six in front. [m]"""


@cache
def teeth_pattern() -> Pattern:
    """Return one tooth, over places along the row and upwards: darker where it meets the next."""
    place = np.abs(2 * (np.arange(48) + 0.5) / 48 - 1)
    gap = smooth_step(place, 0.86, 1.0)
    factor = np.broadcast_to((1.04 - 0.10 * place**2) * (1 - 0.72 * gap), (2, 48))
    plain = np.ones_like(factor)
    tile = np.stack([0 * plain, factor, plain, plain], axis=-1).astype(np.float32)
    return Pattern(tile, (TOOTH, TOOTH), _teeth())


def regions(part) -> dict[str, tuple[np.ndarray, np.ndarray]]:
    """Return the faces and the texture coordinates of each region of the skin that is a surface of its own.

    The face is all that lies on its chart, from the hairline to the chin and short of the ears.
    """
    uv = part.uv
    corners = uv[part.faces]
    on_face = inside(corners).all(axis=1)
    middle = corners.mean(axis=1)
    on_hand = (middle[:, 1] < 0.21) & (middle[:, 0] < 0.78) & (middle[:, 0] > 0.3)
    in_mouth = (middle[:, 1] < 0.15) & (middle[:, 0] > 0.7) & ~on_hand
    rest = ~(on_face | on_hand | in_mouth)
    found = {"face": (part.faces[on_face], in_chart(uv)), "skin": (part.faces[rest], uv),
             "hand": (part.faces[on_hand], in_hands(uv)), "mouth": (part.faces[in_mouth], uv)}
    return {name: each for name, each in found.items() if len(each[0])}


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
