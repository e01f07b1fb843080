"""Stand-in figures: people of true proportion whose faces light can be judged on.

`build_figure` takes plain numbers and gives meshes by part, and the points of the body that lamps
are aimed at, lenses focused on and meters held to. World axes: z up; lengths in m; azimuths
counter-clockwise from +x.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache

import numpy as np

from previz.scene.figure import HEAD_TILT, HEAD_TURN, SEAT_LIMITS, STATURE_LIMITS, TABLE_LIMITS
from previz.scene.joints import JOINT_RANGES
from previz.stage.figures import anchors as figure_anchors
from previz.stage.figures.beard import BEARDS, beard
from previz.stage.figures.body import Body, settle
from previz.stage.figures.brows import brows, lashes
from previz.stage.figures.data import body_data
from previz.stage.figures.dress import cloth_part, garments, suit
from previz.stage.figures.eyes import clear_lids, eye_surfaces
from previz.stage.figures.hair import STYLES, falling, from_hairline, hair, scalp_places, under_hair
from previz.stage.figures.mesh import compact, joined, smooth_normals, sound, triangles, unit, used_rows
from previz.stage.figures.people import PEOPLE, stature_of
from previz.stage.figures.pose import SIDES, dense_weights, turn
from previz.stage.figures.shoes import SOLE, shoe
from previz.stage.figures.skin import bare, face_shape, head_shape
from previz.stage.figures.stance import STANCES

PARTS = (
    "skin", "scalp", "lips", "eye white", "iris", "pupil", "cornea", "brows", "lashes", "hair",
    "strands", "beard", "teeth", "upper clothes", "lower clothes", "shoes",
)
"""Names of the parts a figure can have; each appears once at most."""

_POPLITEAL = {"male": 430 / 1755, "female": 387 / 1626}
"""Height of the underside of the knee over stature. Source: ANSUR II medians."""


@dataclass(frozen=True)
class FigureSpec:
    """One figure, in plain numbers; it can be a key of what is kept of figures.

    Parameters
    ----------
    person : str
        'person one' to 'person six'; see `PEOPLE`.
    stature : float or None
        Bare standing height; None for the median of the person's sex. [m]
    pose : str
        One of `STANCES`. 'leaning' sits at a table with the forearms on it; 'lying' is on the back.
    position : (float, float, float)
        Between the feet on the floor; seated, the middle of the seat on the floor plan with z
        the floor; lying, under the hips. [m]
    facing : float
        Azimuth the body faces, counter-clockwise from +x; lying, from the head to the feet. [rad]
    head_turn : float
        Of the head to the figure's left, on top of the pose. [rad]
    head_tilt : float
        Of the chin upwards, on top of the pose. [rad]
    gaze : (float, float, float) or None
        Point the eyes are on; the head follows where the eyes alone would be strained. [m]
    seat_height, table_height : float or None
        Over the floor; None for what fits the figure. [m]
    hair : str or None
        One of `STYLES`; None for the person's own.
    beard : str
        One of `BEARDS`.
    joints : dict of float
        Joint of `JOINT_RANGES` -> angle that replaces the pose's own. [deg]
    smile, blink, jaw_open : float
        Share of each, 0 to 1. [1]
    """

    person: str
    stature: float | None = None
    pose: str = "standing"
    position: tuple[float, float, float] = (0.0, 0.0, 0.0)
    facing: float = 0.0
    head_turn: float = 0.0
    head_tilt: float = 0.0
    gaze: tuple[float, float, float] | None = None
    seat_height: float | None = None
    table_height: float | None = None
    hair: str | None = None
    beard: str = "none"
    joints: dict[str, float] = field(default_factory=dict, hash=False)
    smile: float = 0.0
    blink: float = 0.0
    jaw_open: float = 0.0


@dataclass(frozen=True)
class SpecProblem:
    """What is wrong with one field of a `FigureSpec`, and what to write."""

    field: str
    message: str
    advice: str


@dataclass(frozen=True)
class Part:
    """Triangles of one figure that share a material.

    Parameters
    ----------
    name : str
        One of `PARTS`. The cornea is a clear shell in front of the iris; the scalp is the skin
        under hair; strands are single locks over the hair's own shell.
    vertices : float array, shape (n, 3)
        World position. [m]
    faces : int array, shape (m, 3)
        Corners, counter-clockwise seen from outside; hair, brows and lashes are seen from both.
    normals : float array, shape (n, 3)
        Unit vertex normals.
    uv : float array, shape (n, 2), or None
        Texture coordinates: of strands along each and across all; of the scalp its distance from the
        hairline; None where the part has none.
    """

    name: str
    vertices: np.ndarray
    faces: np.ndarray
    normals: np.ndarray
    uv: np.ndarray | None = None


@dataclass(frozen=True)
class Figure3D:
    """A figure in the world.

    Parameters
    ----------
    parts : tuple of Part
    anchors : dict of (position, normal)
        Name -> point 2 mm outside the figure [m] and the smoothed outward direction there.
    joints : dict of float
        Joint -> angle in the pose. [deg]
    eyes : tuple of Eye
        Left and right, in the world.
    notes : tuple of str
        What could not be done as written.
    """

    parts: tuple[Part, ...]
    anchors: dict[str, tuple[np.ndarray, np.ndarray]]
    joints: dict[str, float]
    eyes: tuple
    notes: tuple[str, ...] = ()

    def part(self, name):
        """Return one part by name, None where the figure has none of it."""
        return next((part for part in self.parts if part.name == name), None)


def default_seat_height(person, stature):
    """Return the seat height at which thighs lie level and the shod feet are flat. [m]"""
    return _POPLITEAL[PEOPLE[person].sex] * stature + SOLE


def check_spec(spec):
    """Return everything that is wrong with a figure's numbers, as a list of `SpecProblem`."""
    found = []

    def one_of(name, value, choices):
        if value not in choices:
            found.append(SpecProblem(
                name, f"there is no {name} {value!r}", f"Write one of: {', '.join(choices)}."))

    def within(name, value, low, high, unit_name):
        if not (np.isfinite(value) and low <= value <= high):
            found.append(SpecProblem(
                name, f"{name.replace('_', ' ')} is {value:g} {unit_name}",
                f"Write a value from {low:g} to {high:g} {unit_name}."))

    one_of("person", spec.person, PEOPLE)
    one_of("pose", spec.pose, STANCES)
    if spec.hair is not None:
        one_of("hair", spec.hair, STYLES)
    one_of("beard", spec.beard, BEARDS)
    for name, limits in (("stature", STATURE_LIMITS), ("seat_height", SEAT_LIMITS),
                         ("table_height", TABLE_LIMITS)):
        if getattr(spec, name) is not None:
            within(name, getattr(spec, name), *limits, "m")
    for name in ("smile", "blink", "jaw_open"):
        within(name, getattr(spec, name), 0.0, 1.0, "of 1")
    for name, limit in (("head_turn", HEAD_TURN), ("head_tilt", HEAD_TILT)):
        within(name, float(np.degrees(getattr(spec, name))), -limit, limit, "deg")
    for name, angle in spec.joints.items():
        if name not in JOINT_RANGES:
            one_of("joints", name, JOINT_RANGES)
        elif not JOINT_RANGES[name][0] <= angle <= JOINT_RANGES[name][1]:
            low, high = JOINT_RANGES[name]
            found.append(SpecProblem(
                "joints", f"{name} is {angle:g} deg", f"Write {low:g} to {high:g} deg."))
    numbers = [*spec.position, spec.facing, *(spec.gaze or ())]
    if not np.all(np.isfinite(numbers)):
        found.append(SpecProblem("position", "a position is not a finite number", "Write metres."))
    return found


def build_figure(spec: FigureSpec) -> Figure3D:
    """Return a figure's meshes and anchors.

    Raises
    ------
    ValueError
        Something in the spec is out of range; all of it is named.
    DataError
        The body data of the package cannot be read.

    Limits
    ------
    Skin bends by linear blending, so a bare elbow at its greatest angle would thin; clothes do not
    fall under gravity; long hair keeps its shape when the head lies down.
    """
    problems = check_spec(spec)
    if problems:
        raise ValueError("; ".join(f"{p.message}. {p.advice}" for p in problems))
    body, world = _settled(spec)
    surfaces = _surfaces(spec, body)
    surfaces = {name: _rested(name, part, body) for name, part in surfaces.items()}
    anchors = figure_anchors.anchors(body, surfaces | _covers(spec, body))
    place = np.asarray(spec.position, float)
    return Figure3D(
        parts=tuple(Part(name, points @ world.T + place, faces, normals @ world.T, *uv)
                    for name, (points, faces, normals, *uv) in surfaces.items()),
        anchors=_in_world(anchors, world, place),
        joints=body.angles,
        eyes=tuple(eye.carried(world, place) for eye in body.eyes),
        notes=body.notes,
    )


def head_places(spec: FigureSpec) -> dict[str, tuple[np.ndarray, np.ndarray]]:
    """Return the anchors of a figure's head without building the figure, which takes a tenth.

    As in `Figure3D`, but on the skin where hair would lift them off it; the spec has no problems.
    """
    body, world = _settled(spec)
    return _in_world(figure_anchors.head(body), world, np.asarray(spec.position, float))


def _in_world(anchors, world, place):
    return {name: (world @ point + place, world @ normal) for name, (point, normal) in anchors.items()}


def _settled(spec):
    """Return the body in its pose, in its own axes over the floor, and the turn to the world."""
    person = PEOPLE[spec.person]
    stature = stature_of(person.sex, 50) if spec.stature is None else spec.stature
    seat = default_seat_height(spec.person, stature)
    seat = seat if spec.seat_height is None else spec.seat_height
    table = seat + 0.165 * stature if spec.table_height is None else spec.table_height
    world = turn("z", np.degrees(spec.facing))
    target = None if spec.gaze is None else world.T @ np.subtract(spec.gaze, spec.position)
    return settle(spec.person, stature, spec.pose, seat, table, target, spec.joints,
                  float(np.degrees(spec.head_turn)), float(np.degrees(spec.head_tilt))), world


def _surfaces(spec, body: Body):
    """Return every part over the floor in body axes: name -> (vertices, triangles, normals, uv if any)."""
    data, skin, scale = body_data(), bare(), body.scale
    expressions = {"smile": spec.smile, "blink": spec.blink, "jaw open": spec.jaw_open}
    # Lids follow the eyes up and down by most of it, the upper more than the lower.
    for side, eye in zip(SIDES, body.eyes, strict=True):
        expressions[f"{side} lid up"] = (eye.up / 12 if eye.up > 0 else eye.up / 35) * (1 - spec.blink)
        expressions[f"{side} lid down"] = max(-eye.up, 0.0) / 18 * (1 - spec.blink)
    expressions["wide"] = max(np.mean([eye.up for eye in body.eyes]), 0.0) / 27 * (1 - spec.blink)
    face = face_shape(spec.person, expressions)
    weights = dense_weights()

    def posed(rows):
        return scale * body.posed.skin(face[rows], weights[rows])

    parts = {}
    head = skin.finer.apply(posed(skin.head_rows))
    quads = skin.finer.quads
    head = clear_lids(head, smooth_normals(head, quads), body.eyes)
    normals = smooth_normals(head, quads)
    hands = posed(skin.hand_rows)
    style = PEOPLE[spec.person].hair if spec.hair is None else spec.hair
    hidden = under_hair(spec.person) & (style != "none")
    parts["skin"] = joined([
        _picked(head, triangles(quads[~skin.lip & ~hidden]), normals),
        (hands, triangles(skin.hand_quads), smooth_normals(hands, skin.hand_quads)),
    ])
    parts["lips"] = _picked(head, triangles(quads[skin.lip]), normals)
    if hidden.any():
        line = from_hairline(spec.person)
        parts["scalp"] = _picked(head, triangles(quads[hidden]), normals, scalp_places(line))
    eyes = [eye_surfaces(eye) for eye in body.eyes]
    for name in ("eye white", "iris", "pupil", "cornea"):
        parts[name] = joined([surfaces[name] for surfaces in eyes])
    parts["brows"] = body.with_head(_brows(spec.person))
    lash_rows = used_rows(data.quads["lashes"])
    moved = np.zeros((len(face), 3))
    moved[lash_rows] = posed(lash_rows)
    parts["lashes"] = lashes(moved, body.eyes)
    worn = _worn(spec, body)
    if worn is not None:
        if worn.shell is not None:
            parts["hair"] = body.with_head(worn.shell)
        parts["strands"] = body.with_head((*worn.strands, worn.places))
    grown = beard(spec.person, spec.beard)
    if grown is not None:
        # It goes with the skin that it grows from, which the face and the neck move.
        turn_of_head, resting = body.posed.turn_of("head"), head_shape(spec.person).points
        steps = (head - scale * body.posed.carry("head", resting)) @ turn_of_head / scale
        parts["beard"] = body.with_head((*grown.moved(steps), grown.places))
    if spec.jaw_open > 0.02 or spec.smile > 0.3:
        rows, mouth = compact(np.concatenate([data.quads["teeth"], data.quads["tongue"]]))
        inside = posed(rows)
        parts["teeth"] = (inside, triangles(mouth), smooth_normals(inside, mouth))
    wear = suit()
    for name, weight in (("upper", wear.jumper_weights), ("lower", wear.weights)):
        cloth = scale * body.posed.skin(garments(spec.person), weight)
        parts[f"{name} clothes"] = cloth_part(name, cloth, spec.person, scale)
    feet = [shoe(spec.person, side, SOLE / scale, body.posed) for side in SIDES]
    points, faces, normals = joined(feet)
    parts["shoes"] = (scale * points, faces, normals)
    return {name: parts[name] for name in PARTS if name in parts}


@cache
def _brows(person):
    data = body_data()
    return brows(data.eyes[data.people.index(person)], head_shape(person), PEOPLE[person].brow)


def _worn(spec, body):
    """Return the `Hair` that a figure wears, None for none."""
    style = PEOPLE[spec.person].hair if spec.hair is None else spec.hair
    return hair(spec.person, style, falling(body.posed.turn_of("head")))


def _covers(spec, body):
    """Return what anchors are lifted off besides the figure's parts: strands have gaps, their cover none."""
    worn = _worn(spec, body)
    return {} if worn is None else {"cover of the hair": body.with_head(worn.cover)}


def _picked(points, faces, normals, *uv):
    """Return only what some faces use."""
    used, faces = compact(faces)
    return points[used], faces, normals[used], *(each[used] for each in uv)


def _rested(name, part, body: Body):
    """Press what would sink into the seat, or into the ground under a figure that lies."""
    points, faces, normals, *uv = part
    if body.pose == "lying":
        level = 5e-4
        pressed = points[:, 2] < level
    elif body.pose in ("seated", "leaning") and name in ("upper clothes", "lower clothes"):
        level = body.seat + 5e-4
        # Only what is over the seat; the shins of the trousers hang below it.
        knees = min(body.scale * body.posed.at(f"{side} shank")[0] for side in SIDES)
        pressed = (points[:, 2] < level) & (points[:, 0] < knees - 0.07)
        pressed &= points[:, 2] > level - 0.09
    else:
        return part
    if not pressed.any():
        return part
    points, normals = np.array(points), np.array(normals)
    points[pressed, 2] = level
    normals[pressed] = unit(normals[pressed] * [0.3, 0.3, 1.0])
    used, faces = sound(points, faces)
    return points[used], faces, normals[used], *(each[used] for each in uv)
