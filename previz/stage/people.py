"""Put the scene's figures on the stage: lower their words to numbers, dress them in surfaces."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.errors import SceneError
from previz.physics import skin as skins
from previz.physics.spectra import WAVELENGTHS_NM
from previz.stage.figure_eyes import PUPIL_RADIUS
from previz.stage.figure_people import PEOPLE, stature_of
from previz.stage.figures import FigureSpec, build_figure, check_spec
from previz.stage.records import Mesh, Surface
from previz.stage.surfaces import ONES, SurfaceShelf

SKIN_F0 = ((skins.SKIN_INDEX - 1) / (skins.SKIN_INDEX + 1)) ** 2
"""Gloss of skin at normal incidence. [1]"""

WET_F0 = 0.025
"""Gloss of a wet eye, index 1.376 (from memory)."""

SEATED_EYES, STANDING_EYES = 1.18, 0.935
"""Height of the eyes before a figure is built: above the floor [m]; over stature [1]."""


@dataclass(frozen=True)
class Person:
    """One built figure.

    Parameters
    ----------
    meshes : list of Mesh
    anchors : dict of str to (position [m], normal)
    forward : float array, shape (3,)
        Where the face points.
    """

    meshes: list[Mesh]
    anchors: dict
    forward: np.ndarray


def _stature(figure) -> float | None:
    if figure.stature is None and figure.percentile is not None:
        return stature_of(PEOPLE[figure.person].sex, figure.percentile)
    return figure.stature


def rough_anchors(figure) -> dict[str, np.ndarray]:
    """Return a figure's anchors before it is built, all over the place where it is put."""
    from previz.scene.figure import ANCHORS

    stature = _stature(figure) or 1.7
    height = {"seated": SEATED_EYES, "lying": 0.2}.get(figure.pose, STANDING_EYES * stature)
    at = np.asarray(figure.at, float) + [0, 0, height]
    return dict.fromkeys((*ANCHORS, "centre", "top"), at)


def _facing(figure, point) -> float:
    """Return the angle that a figure faces, counter-clockwise from +x. [rad]"""
    if np.isscalar(figure.facing):
        return float(np.radians(figure.facing))
    offset = point(figure.facing) - np.asarray(figure.at, float)
    return float(np.arctan2(offset[1], offset[0]))


def _body_facing(figure, point) -> float:
    """Return the figure's azimuth as its builder counts it: lying, from the head to the feet."""
    angle = _facing(figure, point)
    return angle + np.pi if figure.pose == "lying" else angle


def build_people(figures, point, shelf: SurfaceShelf) -> dict[str, Person]:
    """Build every figure; those that look at one another look at real eyes.

    Parameters
    ----------
    figures : tuple of scene.figure.Figure
    point : function
        A target -> the point it means; before this call figures are known roughly.
    shelf : SurfaceShelf
    """
    names = {figure.name for figure in figures}
    specs = {figure.name: _spec(figure, point, None) for figure in figures}
    looked_at = {figure.looking_at.name for figure in figures
                 if figure.looking_at is not None and figure.looking_at.name in names}
    known = {name: build_figure(specs[name]) for name in looked_at}

    def seen(target) -> np.ndarray:
        if target.name in known:
            return np.asarray(known[target.name].anchors[target.anchor or "eyes"][0])
        return point(target)

    people = {}
    for figure in figures:
        if figure.looking_at is not None:
            body = build_figure(_spec(figure, point, seen(figure.looking_at)))
        else:
            body = known.get(figure.name) or build_figure(specs[figure.name])
        people[figure.name] = _dress(figure, body, shelf)
    return people


_FIELDS = {"facing": "facing", "stature": "stature", "seat_height": "seat", "gaze": "looking_at",
           "head_turn": "head_turn", "head_tilt": "head_tilt", "position": "at"}
"""Number of a figure -> the field of the scene that it comes from."""


def _spec(figure, point, gaze) -> FigureSpec:
    """Return the figure in plain numbers.

    Raises
    ------
    SceneError
        A number is more than a body can do.
    """
    spec = FigureSpec(
        person=figure.person, stature=_stature(figure), pose=figure.pose,
        position=tuple(float(x) for x in figure.at), facing=_body_facing(figure, point),
        head_turn=float(np.radians(figure.head_turn)),
        head_tilt=float(np.radians(figure.head_tilt)),
        gaze=None if gaze is None else tuple(float(x) for x in gaze),
        seat_height=figure.seat, hair=figure.hair)
    wrong = check_spec(spec)
    if wrong:
        raise SceneError([figure.where(_FIELDS.get(each.field, "person")).problem(
            f"{figure.label}: {each.message}", each.advice) for each in wrong])
    return spec


def _plain(name: str, value: float, gloss: float = 0.0, roughness: float = 0.4,
           f0: float = 0.04) -> Surface:
    return Surface(name, value * ONES, 0 * ONES, f0 * ONES, gloss, roughness)


def _lips(skin: np.ndarray) -> np.ndarray:
    """Return lips: skin with more blood near the surface (common practice, no source)."""
    blood = np.interp(WAVELENGTHS_NM, [380, 500, 580, 620, 780], [0.75, 0.6, 0.55, 0.85, 0.95])
    return skin * blood


def _iris() -> np.ndarray:
    """Return a brown iris (common practice, no source)."""
    return np.interp(WAVELENGTHS_NM, [380, 480, 560, 640, 780], [0.02, 0.03, 0.06, 0.12, 0.16])


def _surfaces(figure) -> dict[str, Surface]:
    """Return the surface of every part but the clothes."""
    skin = skins.skin_reflectance(figure.skin)
    hair = skins.hair_reflectance(figure.hair_colour)
    hair_f0 = ((skins.HAIR_INDEX - 1) / (skins.HAIR_INDEX + 1)) ** 2
    return {
        "skin": Surface(f"skin, {figure.skin}", skin, 0 * ONES, SKIN_F0 * ONES, 1.0,
                        skins.SKIN_ROUGHNESS),
        "lips": Surface(f"lips, {figure.skin}", _lips(skin), 0 * ONES, SKIN_F0 * ONES, 1.0, 0.28),
        "hair": Surface(f"hair, {figure.hair_colour}", hair, 0 * ONES, hair_f0 * ONES, 1.0, 0.32),
        "brows": Surface(f"brows, {figure.hair_colour}", hair, 0 * ONES, 0 * ONES),
        "lashes": _plain("lashes", 0.03),
        "eye white": _plain("eye white", 0.55, 1.0, 0.01, WET_F0),
        "iris": Surface("iris", _iris(), 0 * ONES, WET_F0 * ONES, 1.0, 0.01),
        "pupil": _plain("pupil", 0.01, 1.0, 0.01, WET_F0),
        "teeth": _plain("teeth", 0.5, 1.0, 0.2),
        "shoes": _plain("shoes", 0.03, 0.6, 0.3),
    }


def _corneas(body) -> dict[str, np.ndarray]:
    """Return which faces of the corneas lie over the iris, and which over the pupil.

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
    pupil = np.min(off_axis, axis=0) < PUPIL_RADIUS
    return {"pupil": part.faces[pupil], "iris": part.faces[~pupil]}


def _dress(figure, body, shelf: SurfaceShelf) -> Person:
    """Return a built figure with a surface for each of its parts."""
    surfaces = _surfaces(figure)
    cloth = shelf.lower(figure.clothing)
    named = {"upper clothes": cloth, "lower clothes": shelf.add(_trousers(shelf, cloth))}
    meshes = []

    def add(part, name, faces):
        surface = named.get(name) or shelf.add(surfaces[name])
        meshes.append(Mesh(figure.name, surface, part.vertices, faces, part.normals, part.uv,
                           role="figure"))

    for part in body.parts:
        if part.name == "cornea":
            for name, faces in _corneas(body).items():
                add(part, name, faces)
        elif part.name not in ("iris", "pupil"):
            add(part, part.name, part.faces)
    return Person(meshes, body.anchors, np.asarray(body.anchors["face"][1]))


def _trousers(shelf: SurfaceShelf, cloth: str) -> Surface:
    """Return a darker cut of the same cloth."""
    upper = shelf.surfaces[cloth]
    return Surface(f"{cloth}, darker", upper.reflectance * 0.6, 0 * ONES, upper.specular,
                   upper.gloss, upper.roughness)
