"""Put the scene's figures on the stage: turn their words into numbers, dress them in surfaces."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from previz.errors import SceneError
from previz.scene.figure import ANCHORS, SITTING, Figure
from previz.scene.records import Target
from previz.scene.wear import options_of
from previz.stage.figures.appearance import corneas, regions, surfaces_of
from previz.stage.figures.build import FigureSpec, build_figure, check_spec, head_places
from previz.stage.figures.cloths import Cloths
from previz.stage.figures.face_chart import in_chart
from previz.stage.figures.iris import IRIS_HALF, WHITE_HALF
from previz.stage.figures.people import PEOPLE, stature_of
from previz.stage.figures.wardrobe.worn import Wear
from previz.stage.heads import Head
from previz.stage.records import Mesh
from previz.stage.surfaces import SurfaceRegistry

SEATED_EYES, STANDING_EYES = 1.18, 0.935
"""Height of the eyes before a figure is built: above the floor [m]; over stature [1]."""


@dataclass(frozen=True)
class Person:
    """One built figure.

    Parameters
    ----------
    meshes : list of Mesh
    anchors : dict of str to (position [m], normal)
    heads : tuple of Head
        Its own, and the one at each of its marks.
    notes : tuple of str
        What could not be done as written.
    """

    meshes: list[Mesh]
    anchors: dict
    heads: tuple[Head, ...]
    notes: tuple[str, ...] = ()


def _stature(figure) -> float | None:
    if figure.stature is None and figure.percentile is not None:
        return stature_of(PEOPLE[figure.person].sex, figure.percentile)
    return figure.stature


def rough_anchors(figure) -> dict[str, np.ndarray]:
    """Return a figure's anchors before it is built, all over the place where it is put."""
    rough = dict.fromkeys((*ANCHORS, "centre", "top"), _rough_eyes(figure))
    marks = {mark.name: _rough_eyes(figure.at_mark(mark.name)) for mark in figure.marks}
    return {**marks, **rough}


def _rough_eyes(figure) -> np.ndarray:
    stature = _stature(figure) or 1.7
    height = STANDING_EYES * stature
    if figure.pose in SITTING:
        height = SEATED_EYES if figure.seat is None else figure.seat + 0.44 * stature
    elif figure.pose == "lying":
        height = 0.2
    return np.asarray(figure.at, float) + [0, 0, height]


def _facing(figure, point) -> float:
    """Return the angle that a figure faces, from +x; lying, from its head to its feet. [rad]"""
    if np.isscalar(figure.facing):
        angle = float(np.radians(figure.facing))
    else:
        offset = point(figure.facing) - np.asarray(figure.at, float)
        angle = float(np.arctan2(offset[1], offset[0]))
    return angle + np.pi if figure.pose == "lying" else angle


def build_people(figures: Iterable[Figure], point: Callable[[Target], np.ndarray],
                 registry: SurfaceRegistry) -> dict[str, Person]:
    """Build every figure; those with eyes on one another meet real eyes.

    `point` gives the point that a target means; before this call figures are known roughly.
    """
    gazes = _Gazes(figures, point)
    people = {}
    for figure in figures:
        body = _built(_spec(figure, point, gazes.gaze(figure)))
        _check_floor(figure, body)
        heads = [_head_record(figure.name, "", body.anchors)]
        heads += [_head_at_mark(figure.at_mark(mark.name), body, figure.mark, point, gazes)
                  for mark in figure.marks]
        people[figure.name] = _dress(figure, body, tuple(heads), registry)
    return people


class _Gazes:
    """Where figures have their eyes: on real eyes, of figures that look back too."""

    def __init__(self, figures, point):
        self.figures = {figure.name: figure for figure in figures}
        self.point = point
        self.heads, self.bodies = {}, {}
        lookers = [each for figure in figures for each in (figure, *figure.marks)]
        looked_at = {each.looking_at.name for each in lookers
                     if each.looking_at is not None and each.looking_at.name in self.figures}
        # Where a head is depends a little on its gaze, so the second round is closer.
        for _ in range(2):
            self.heads |= {name: _head_places(self._spec(name)) for name in looked_at}

    def _spec(self, name):
        figure = self.figures[name]
        return _spec(figure, self.point, self.gaze(figure))

    def gaze(self, figure) -> np.ndarray | None:
        """Return the point of a figure's gaze, None for straight ahead."""
        target = figure.looking_at
        if target is None:
            return None
        if target.name not in self.figures or target.anchor in self._marks(target.name):
            return self.point(target)
        part = target.anchor or "eyes"
        head = self.heads.get(target.name)
        if head is None:
            return self.point(target)
        if part in head:
            return head[part][0]
        if target.name not in self.bodies:
            self.bodies[target.name] = _built(_spec(self.figures[target.name], self.point, None))
        return np.asarray(self.bodies[target.name].anchors[_BODY.get(part, part)][0])

    def _marks(self, name):
        return [mark.name for mark in self.figures[name].marks]


_BODY = {"centre": "chest", "top": "crown"}
"""Parts that everything has, and the anchor of a figure that they mean."""


def _head_record(figure: str, mark: str, anchors) -> Head:
    face, ahead = (np.asarray(part, float) for part in anchors["face"])
    return Head(figure, mark, np.asarray(anchors["nose"][0], float), face, ahead)


def _head_at_mark(there, body, occupied: str | None, point, gazes) -> Head:
    """Return the head at a mark: the figure's own where it stands there."""
    taken = there.mark == occupied
    anchors = body.anchors if taken else _head_places(_spec(there, point, gazes.gaze(there)))
    return _head_record(there.name, there.mark, anchors)


SINKS = 0.01
"""A figure whose joints were set may sink into the floor by as much. [m]"""


def _check_floor(figure, body) -> None:
    """Refuse joints that put a part of the figure under what it stands on."""
    if not figure.joints:
        return
    floor = figure.at[2]
    deepest = min(body.parts, key=lambda part: part.vertices[:, 2].min())
    depth = floor - deepest.vertices[:, 2].min()
    if depth > SINKS:
        what = {"shoes": "a foot", "skin": "a hand or the head", "upper clothes": "an arm or the trunk",
                "lower clothes": "a knee or the hips"}.get(
                    deepest.name, "the head" if deepest.garment is None else "what it wears")
        raise SceneError([figure.where("joints").problem(
            f"{figure.label}: its joints put {what} {100 * depth:.0f} cm under the "
            "floor", "Bend hips and knees so that the feet come up, or raise its 'at'.")])


KEPT = 24
"""Figures kept in memory: options of a scene mostly hold the same people in the same places."""


_built = lru_cache(KEPT)(build_figure)
_head_places = lru_cache(KEPT)(head_places)


_FIELDS = {"facing": "facing", "stature": "stature", "seat_height": "seat", "gaze": "looking_at",
           "head_turn": "head_turn", "head_tilt": "head_tilt", "position": "at", "joints": "joints",
           "table_height": "table",
           **{name: name for name in ("age", "expression", "left_hand", "right_hand")}}
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
        position=tuple(float(x) for x in figure.at), facing=_facing(figure, point),
        head_turn=float(np.radians(figure.head_turn)),
        head_tilt=float(np.radians(figure.head_tilt)),
        gaze=None if gaze is None else tuple(float(x) for x in gaze),
        seat_height=figure.seat, table_height=figure.table, hair=figure.hair, beard=figure.beard,
        joints=dict(figure.joints or ()), expression=figure.expression, age=figure.age,
        left_hand=figure.left_hand, right_hand=figure.right_hand,
        wears=None if figure.wears is None else tuple(
            Wear(garment.kind, options_of(garment)) for garment in figure.wears))
    wrong = check_spec(spec)
    if wrong:
        raise SceneError([figure.where(_FIELDS.get(each.field, "person")).problem(
            f"{figure.label}: {each.message}", each.advice) for each in wrong])
    return spec


def _dress(figure, body, heads: tuple[Head, ...], registry: SurfaceRegistry) -> Person:
    """Return a built figure with a surface for each of its parts."""
    surfaces = surfaces_of(figure)
    cloths = Cloths(figure, body.wears, registry)
    meshes = []

    def add(part, name, faces, uv=None):
        surface = registry.add(surfaces[name]) if part.garment is None else cloths.of(part)
        meshes.append(Mesh(figure.name, surface, part.vertices, faces, part.normals, uv, role="figure"))

    for part in body.parts:
        if part.name == "cornea":
            for name, faces in corneas(body).items():
                add(part, name, faces, part.uv + IRIS_HALF)
        elif part.name == "eye white":
            add(part, part.name, part.faces, part.uv + WHITE_HALF)
        elif part.name == "skin":
            for name, (faces, uv) in regions(part).items():
                add(part, name, faces, uv)
        elif part.name == "lips":
            add(part, part.name, part.faces, in_chart(part.uv))
        elif part.name not in ("iris", "pupil"):
            add(part, part.name, part.faces, part.uv)
    return Person(meshes, body.anchors, heads, tuple(f"{figure.label}: {note}" for note in body.notes))
