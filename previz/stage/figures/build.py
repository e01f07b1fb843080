"""Stand-in figures: people of true proportion whose faces light can be judged on.

`build_figure` takes plain numbers and gives meshes by part, and the points of the body that lamps
are aimed at, lenses focused on and meters held to. World axes: z up; lengths in m; azimuths
counter-clockwise from +x.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cache

import numpy as np

from previz.scene.figure import (
    AGE_LIMITS,
    GRIPS,
    HEAD_TILT,
    HEAD_TURN,
    SEAT_LIMITS,
    STATURE_LIMITS,
    TABLE_LIMITS,
)
from previz.scene.joints import JOINT_RANGES
from previz.stage.figures import anchors as figure_anchors
from previz.stage.figures.beard import BEARDS, beard
from previz.stage.figures.body import Body, settle
from previz.stage.figures.brows import brows, lashes
from previz.stage.figures.data import body_data
from previz.stage.figures.expressions import EXPRESSIONS, shares, shows_teeth, with_face
from previz.stage.figures.eyes import clear_balls, clear_lids, eye_surfaces
from previz.stage.figures.grip import mug, placed_axis
from previz.stage.figures.hair import STYLES, falling, from_hairline, hair, scalp_places, under_hair
from previz.stage.figures.mesh import compact, joined, smooth_normals, sound, triangles, unit, used_rows
from previz.stage.figures.people import PEOPLE, older, stature_of
from previz.stage.figures.pose import SIDES, dense_weights, turn
from previz.stage.figures.shoes import SOLE
from previz.stage.figures.skin import bare, face_shape, head_shape
from previz.stage.figures.stance import STANCES
from previz.stage.figures.wardrobe.hats import under_hat
from previz.stage.figures.wardrobe.outfit import clothes, hat_of, outfit_of
from previz.stage.figures.wardrobe.worn import Wear

PARTS = (
    "skin", "scalp", "lips", "eye white", "iris", "pupil", "cornea", "brows", "lashes", "hair",
    "strands", "beard", "teeth", "tongue", "cup",
)
"""Names of the parts of a body; each appears once at most. Clothes come after them."""

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
        Share of each, 0 to 1, on top of the expression's. [1]
    expression : str
        One of `EXPRESSIONS`.
    age : float or None
        Of the head; None for the person's own. [years]
    left_hand, right_hand : str or None
        One of `scene.figure.GRIPS`; None for the pose's own.
    wears : tuple of Wear, or None
        Garments; None for the person's own working clothes.
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
    expression: str = "neutral"
    age: float | None = None
    left_hand: str | None = None
    right_hand: str | None = None
    wears: tuple[Wear, ...] | None = None


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
        One of `PARTS`, or of clothes 'upper clothes' and 'lower clothes' for the cloth of the outermost
        garment of body and legs, and else the garment's word and its stuff. The cornea is a clear shell
        in front of the iris; the scalp is the skin under hair; strands are single locks over the hair's
        own shell.
    vertices : float array, shape (n, 3)
        World position. [m]
    faces : int array, shape (m, 3)
        Corners, counter-clockwise seen from outside; hair, brows and lashes are seen from both.
    normals : float array, shape (n, 3)
        Unit vertex normals.
    uv : float array, shape (n, 2), or None
        Texture coordinates, v upwards: of skin and lips as in `BodyData`, of eyes the places about
        their axis, of strands along each and across all, of the scalp its distance from the hairline, of
        clothes u across the grain and v along it; None where the part has none. [1] or [m]
    garment : int or None
        Of clothes: which of `Figure3D.wears` it is of.
    stuff : str
        Of clothes: 'cloth' for the garment's own, and else what it is: 'buttons', 'metal' and so on.
    """

    name: str
    vertices: np.ndarray
    faces: np.ndarray
    normals: np.ndarray
    uv: np.ndarray | None = None
    garment: int | None = None
    stuff: str = ""


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
    wears : tuple of Wear
        Its garments, the innermost first.
    """

    parts: tuple[Part, ...]
    anchors: dict[str, tuple[np.ndarray, np.ndarray]]
    joints: dict[str, float]
    eyes: tuple
    notes: tuple[str, ...] = ()
    wears: tuple[Wear, ...] = ()

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
    one_of("expression", spec.expression, EXPRESSIONS)
    if spec.age is not None:
        within("age", spec.age, *AGE_LIMITS, "years")
    for name in ("left_hand", "right_hand"):
        if getattr(spec, name) is not None:
            one_of(name, getattr(spec, name), GRIPS)
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
    outfit = outfit_of(spec.person, spec.wears)
    dressed = [_pressed(part, body) for part in clothes(body, outfit)]
    surfaces = {name: _rested(part, body) for name, part in _surfaces(spec, body, outfit).items()}
    cover = {name: part[:3] for name, part in surfaces.items()} | _covers(spec, body)
    cover |= {number: (part.points, part.faces, part.normals)
              for number, part in enumerate(dressed) if not part.on_head}
    anchors = figure_anchors.anchors(body, cover)
    place = np.asarray(spec.position, float)

    def part(name, points, faces, normals, *more):
        return Part(name, points @ world.T + place, faces, normals @ world.T, *more)

    return Figure3D(
        parts=(*(part(name, *surface) for name, surface in surfaces.items()),
               *(part(one.name, one.points, one.faces, one.normals, one.uv, one.garment, one.stuff)
                 for one in dressed)),
        anchors=_in_world(anchors, world, place),
        joints=body.angles,
        eyes=tuple(eye.carried(world, place) for eye in body.eyes),
        notes=body.notes,
        wears=outfit,
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
                  float(np.degrees(spec.head_turn)), float(np.degrees(spec.head_tilt)), _grips(spec)), world


def _grips(spec):
    """Return what each hand does where that is set, as pairs of side and grip."""
    hands = {"left": spec.left_hand, "right": spec.right_hand}
    return tuple((side, grip) for side, grip in hands.items() if grip is not None)


def _cups(spec, body: Body):
    """Return the mugs in a figure's hands, their handles away from the palm."""
    made = []
    for side, grip in _grips(spec):
        if grip == "cup":
            point, along = placed_axis(body.posed, spec.person, side, grip)
            palm = body.posed.at(f"{side} middle 1") - point
            points, *rest = mug(body.scale * point, along, -palm)
            made.append((points, *rest))
    return made


def _surfaces(spec, body: Body, outfit):
    """Return every part over the floor in body axes: name -> (vertices, triangles, normals, uv if any)."""
    data, skin, scale = body_data(), bare(), body.scale
    expressions = shares(spec)
    open_by = 1 - expressions["blink"]
    # Lids follow the eyes up and down by most of it, the upper more than the lower.
    for side, eye in zip(SIDES, body.eyes, strict=True):
        expressions[f"{side} lid up"] = (eye.up / 12 if eye.up > 0 else eye.up / 35) * open_by
        expressions[f"{side} lid down"] = max(-eye.up, 0.0) / 18 * open_by
    wide = max(np.mean([eye.up for eye in body.eyes]), 0.0) / 27 * open_by
    expressions["wide"] = expressions.get("wide", 0.0) + wide
    face = face_shape(spec.person, expressions, older(spec.person, spec.age))
    weights = dense_weights()

    def posed(rows):
        return scale * body.posed.skin(face[rows], weights[rows])

    parts = {}
    head = skin.finer.apply(posed(skin.head_rows))
    quads = skin.finer.quads
    normals = smooth_normals(head, quads)
    if spec.expression != "neutral" or older(spec.person, spec.age):
        head = clear_balls(head, normals, body.eyes)
    head = clear_lids(head, normals, body.eyes)
    normals = smooth_normals(head, quads)
    hands = posed(skin.hand_rows)
    style = PEOPLE[spec.person].hair if spec.hair is None else spec.hair
    hidden = under_hair(spec.person) & (style != "none")
    parts["skin"] = _skin(head, normals, hands, ~skin.lip & ~hidden)
    parts["lips"] = _cut(skin.head, head, normals, skin.lip)
    if hidden.any():
        line = from_hairline(spec.person)
        parts["scalp"] = _picked(head, triangles(quads[hidden]), normals, scalp_places(line))
    eyes = [eye_surfaces(eye) for eye in body.eyes]
    for name in ("eye white", "iris", "pupil", "cornea"):
        both = [surfaces[name] for surfaces in eyes]
        parts[name] = (*joined([each[:3] for each in both]), np.concatenate([each[3] for each in both]))
    points, *rest = _brows(spec.person)
    if spec.expression != "neutral" or spec.age is not None:
        points = with_face(spec.person, points, face)
    parts["brows"] = body.with_head((points, *rest))
    lash_rows = used_rows(data.quads["lashes"])
    moved = np.zeros((len(face), 3))
    moved[lash_rows] = posed(lash_rows)
    parts["lashes"] = lashes(moved, body.eyes)
    worn = _worn(spec, body)
    if worn is not None:
        hat = hat_of(outfit)
        if worn.shell is not None:
            parts["hair"] = body.with_head(_bare_of(worn.shell, hat, spec.person))
        parts["strands"] = body.with_head(_bare_of((*worn.strands, worn.places), hat, spec.person))
    grown = beard(spec.person, spec.beard)
    if grown is not None:
        # It goes with the skin that it grows from, which the face and the neck move.
        turn_of_head, resting = body.posed.turn_of("head"), head_shape(spec.person).points
        steps = (head - scale * body.posed.carry("head", resting)) @ turn_of_head / scale
        parts["beard"] = body.with_head((*grown.moved(steps), grown.places))
    if shows_teeth(expressions):
        for name in ("teeth", "tongue"):
            rows, mouth = compact(data.quads[name])
            inside = posed(rows)
            parts[name] = (inside, triangles(mouth), smooth_normals(inside, mouth), along_row(face[rows]))
    cups = _cups(spec, body)
    if cups:
        parts["cup"] = joined(cups)
    return {name: parts[name] for name in PARTS if name in parts}


def along_row(points):
    """Return places of teeth along their row, from its middle to the left, and upwards. [m]"""
    back = points[:, 0].max() - 0.027
    return np.stack([0.027 * np.arctan2(points[:, 1], points[:, 0] - back), points[:, 2]], axis=1)


def _bare_of(part, hat, person):
    """Return hair without what a hat covers, if there is one."""
    points, faces, normals, *uv = part
    if hat is None:
        return part
    covered = under_hat(person, hat, points)
    return _picked(points, faces[~covered[faces].any(axis=1)], normals, *uv)


@cache
def _brows(person):
    data = body_data()
    return brows(data.eyes[data.people.index(person)], head_shape(person), PEOPLE[person].brow)


def _skin(head, normals, hands, shown):
    """Return the shown quads of the head, and the hands, as one part with its texture corners."""
    skin = bare()
    face = _cut(skin.head, head, normals, shown)
    palms = _cut(skin.hands, hands, smooth_normals(hands, skin.hand_quads))
    return *joined([face[:3], palms[:3]]), np.concatenate([face[3], palms[3]])


def _cut(cut, points, normals, shown=slice(None)):
    """Return some quads of a closed surface, cut open where their texture is."""
    used, faces = compact(triangles(cut.quads[shown]))
    rows = cut.rows[used]
    return points[rows], faces, normals[rows], cut.uv[used]


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


def _rested(part, body: Body):
    """Press what would sink into the ground under a figure that lies."""
    points, faces, normals, *uv = part
    pressed = points[:, 2] < 5e-4
    if body.pose != "lying" or not pressed.any():
        return part
    points, normals = _flat(points, normals, pressed, 5e-4)
    used, faces = sound(points, faces)
    return points[used], faces, normals[used], *(each[used] for each in uv)


def _flat(points, normals, pressed, level):
    points, normals = np.array(points), np.array(normals)
    points[pressed, 2] = level
    normals[pressed] = unit(normals[pressed] * [0.3, 0.3, 1.0])
    return points, normals


def _pressed(part, body: Body):
    """Press clothes that would sink into the seat, or into the ground under a figure that lies."""
    points = part.points
    if body.pose == "lying":
        level = 5e-4
        pressed = points[:, 2] < level
    elif body.pose in ("seated", "leaning"):
        level = body.seat + 5e-4
        # Only what is over the seat; the shins of the trousers hang below it.
        knees = min(body.scale * body.posed.at(f"{side} shank")[0] for side in SIDES)
        pressed = (points[:, 2] < level) & (points[:, 0] < knees - 0.07)
        pressed &= points[:, 2] > level - 0.09
    else:
        pressed = np.zeros(len(points), bool)
    normals = part.normals
    if pressed.any():
        points, normals = _flat(points, normals, pressed, level)
    used, faces = sound(points, part.faces)
    return replace(part, points=points[used], faces=faces, normals=normals[used], uv=part.uv[used])
