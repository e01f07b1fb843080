"""Put the scene's figures on the stage: lower their words to numbers, dress them in surfaces."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.physics import skin as skins
from previz.stage.figures import (
    FigureSpec,
    build_figure,
    person_sex,
    stature_of_percentile,
)
from previz.stage.records import Mesh, Surface
from previz.stage.surfaces import ONES, SurfaceShelf

SKIN_F0 = 0.028
"""Gloss of skin at normal incidence, index 1.4.  Source: facts on skin gloss (from memory)."""

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
        return stature_of_percentile(person_sex(figure.person), figure.percentile)
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


def _spec(figure, point, gaze) -> FigureSpec:
    return FigureSpec(
        person=figure.person, stature=_stature(figure), pose=figure.pose,
        position=tuple(float(x) for x in figure.at), facing=_facing(figure, point),
        head_turn=float(np.radians(figure.head_turn)),
        head_tilt=float(np.radians(figure.head_tilt)),
        gaze=None if gaze is None else tuple(float(x) for x in gaze),
        seat_height=figure.seat, hair=figure.hair)


def _plain(name: str, value: float, gloss: float = 0.0, roughness: float = 0.4,
           f0: float = 0.04) -> Surface:
    return Surface(name, value * ONES, 0 * ONES, f0 * ONES, gloss, roughness)


def _dress(figure, body, shelf: SurfaceShelf) -> Person:
    skin = skins.skin_reflectance(figure.skin)
    lips = skins.lip_reflectance(figure.skin)
    hair = skins.hair_reflectance(figure.hair_colour)
    cloth = shelf.lower(figure.clothing)
    surfaces = {
        "skin": Surface(f"skin, {figure.skin}", skin, 0 * ONES, SKIN_F0 * ONES, 1.0, 0.36),
        "lips": Surface(f"lips, {figure.skin}", lips, 0 * ONES, SKIN_F0 * ONES, 1.0, 0.28),
        "hair": Surface(f"hair, {figure.hair_colour}", hair, 0 * ONES, 0.046 * ONES, 1.0, 0.32),
        "brows": Surface(f"brows, {figure.hair_colour}", hair, 0 * ONES, 0 * ONES),
        "lashes": _plain("lashes", 0.03),
        "eye white": _plain("eye white", 0.55, 1.0, 0.01, WET_F0),
        "iris": Surface("iris", skins.iris_reflectance(), 0 * ONES, WET_F0 * ONES, 1.0, 0.01),
        "pupil": _plain("pupil", 0.01, 1.0, 0.01, WET_F0),
        "teeth": _plain("teeth", 0.5, 1.0, 0.2),
        "shoes": _plain("shoes", 0.03, 0.6, 0.3),
    }
    meshes = []
    for part in body.parts:
        if part.name in ("upper clothes", "lower clothes"):
            name = cloth if part.name == "upper clothes" else shelf.add(_trousers(shelf, cloth))
        else:
            name = shelf.add(surfaces[part.name])
        meshes.append(Mesh(figure.name, name, part.vertices, part.faces, part.normals,
                           part.uv, role="figure"))
    return Person(meshes, body.anchors, np.asarray(body.anchors["face"][1]))


def _trousers(shelf: SurfaceShelf, cloth: str) -> Surface:
    """Return a darker cut of the same cloth."""
    upper = shelf.surfaces[cloth]
    return Surface(f"{cloth}, darker", upper.reflectance * 0.6, 0 * ONES, upper.specular,
                   upper.gloss, upper.roughness)
