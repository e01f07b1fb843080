"""What must hold between the things of a scene: names, targets, and where things stand."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping

from previz.scene import geometry, mains_rules, stop_map, want_rules
from previz.scene.camera import Camera, Meter, SpotPatch
from previz.scene.fields import INVALID, table
from previz.scene.figure import ANCHORS, THING_ANCHORS, Figure
from previz.scene.furniture import KINDS
from previz.scene.light import Glow, Light
from previz.scene.modifiers import Held, Sheet
from previz.scene.piece import Piece
from previz.scene.records import Item, Place, Target
from previz.scene.scene import Scene
from previz.scene.wants import Want
from previz.scene.words import did_you_mean, listed
from previz.units import quote, show

Fault = tuple[Place, str, str]
"""Place, message and advice."""

INSIDE_WORDS = {Camera: "sees nothing", Meter: "reads nothing", Light: "lights nothing"}
"""What must not be inside anything, and what becomes of it there."""


def faults(scene: Scene, removed: Mapping[str, Place] | None = None) -> Iterator[Fault]:
    """Yield everything that is wrong between the things of a scene.

    Parameters
    ----------
    scene : Scene
        Records may hold `INVALID`; those fields are passed over.
    removed : dict of str to Place, or None
        Names that the option applied has taken out, and where it says so.
    """
    found: dict[str, Item] = {}
    items = list(scene.all_items())
    glowing: dict[tuple, Item] = {}
    for item in sorted(items, key=lambda each: (each.place.line, each.place.column)):
        if item.name is INVALID:
            continue
        first = found.get(item.name)
        if first is None:
            found[item.name] = item
        else:
            message = f"two things are called '{item.name}', this {item.noun} and the {first.noun}"
            yield item.where("name"), f"{message} on line {first.place.line}", (
                "Give every thing in the scene a name of its own."
            )  # fmt: skip
    for item in items:
        for field, entry in table(type(item)).items():
            aimed = getattr(item, field)
            if entry.kind == "target" and isinstance(aimed, Target):
                yield from _target_faults(item, field, aimed, found, removed or {}, scene.room)
        yield from _too_fine(item)
        if isinstance(item, Figure):
            yield from _mark_faults(item, found, removed or {})
        if isinstance(item, SpotPatch) and isinstance(item.camera, Target):
            other = found.get(item.camera.name)
            if not isinstance(other, Camera | None) or item.camera.point is not None:
                yield item.where("camera"), (
                    f"'camera' of {item.label} is {quote(str(item.camera))}, which is no camera"
                ), f"Write one of: {listed(want_rules.names_of(scene.cameras))}."  # fmt: skip
        if isinstance(item, Glow) and isinstance(item.piece, Target):
            yield from _glow_faults(item, found)
            first = glowing.setdefault((item.piece.name, item.material), item)
            if first is not item:
                yield item.where("piece"), f"{item.label} glows where {first.label} does", (
                    "Keep one of the two, or write the 'material' that each is."
                )  # fmt: skip
        if isinstance(item, Want):
            yield from want_rules.named_faults(scene, item, removed or {})
        if isinstance(item, Held) and isinstance(item.before, Target):
            yield from _before_faults(item, found)
    if scene.room:
        for opening, field, message, advice in geometry.opening_faults(scene.room):
            yield opening.where(field), message, advice
    elif scene.haze and scene.haze.fills == "room":
        yield scene.haze.where("fills"), "'haze' fills the room, and there is no room", (
            "Write 'fills: everywhere', or a room."
        )  # fmt: skip
    yield from mains_rules.faults(scene, found, removed or {})
    yield from stop_map.faults(scene.map)
    yield from _places_inside(scene)


def _mark_faults(figure, found, removed) -> Iterator[Fault]:
    """Yield what is wrong with what a figure faces or has its eyes on from its marks."""
    for mark in figure.marks:
        for field in ("facing", "looking_at"):
            aimed = getattr(mark, field)
            if isinstance(aimed, Target) and aimed.name == figure.name:
                yield mark.where(field), f"'{field}' of {mark.label} is the figure itself", (
                    "Name another thing, or a point."
                )  # fmt: skip
            elif isinstance(aimed, Target):
                yield from _target_faults(mark, field, aimed, found, removed)


def _glow_faults(item, found) -> Iterator[Fault]:
    """Yield what is wrong with the piece that a lamp is."""
    aimed, place = item.piece, item.where("piece")
    other = found.get(aimed.name) if aimed.point is None else None
    if aimed.point is not None or aimed.anchor is not None or not isinstance(other, Piece | None):
        yield place, f"'piece' of {item.label} is {quote(str(aimed))}, which is no piece", (
            "Write the name of a piece."
        )  # fmt: skip
    elif other is not None and item.material is not None and other.mesh is None:
        parts = tuple(KINDS[other.shape].parts) if other.shape in KINDS else ()
        if item.material not in parts:
            yield item.where("material"), f"{item.label} names a material, and {other.label} is no mesh", (
                f"Write one of its parts: {listed(parts)}." if parts else
                "Leave out 'material': the whole piece glows."
            )  # fmt: skip


def _before_faults(item, found) -> Iterator[Fault]:
    """Yield what is wrong with the lamp that a sheet is in front of."""
    aimed, place = item.before, item.where("before")
    subject = f"'before' of {item.label}"
    other = found.get(aimed.name) if aimed.point is None else None
    if aimed.point is not None or aimed.anchor is not None or not isinstance(other, Light | None):
        shown = quote(str(aimed))
        yield place, f"{subject} is {shown}, which is no lamp", "Write the name of a lamp."
    elif other is not None and other.aim is None and other.held != "above":
        yield place, f"{subject}: {other.label} is not aimed at anything", (
            "Aim the lamp, or write 'at' and 'facing' in place of 'before'."
        )  # fmt: skip


def _target_faults(item, field, aimed, found, removed, room=None) -> Iterator[Fault]:
    place, subject = item.where(field), f"'{field}' of {item.label}"
    if aimed.point is not None:
        if _one_place(aimed.point, getattr(item, "at", None)):
            advice = "Choose a point away from where it stands."
            yield place, f"{subject} is the point where it stands", advice
        return
    other = found.get(aimed.name)
    if other is None:
        yield _nobody(place, subject, aimed, found, removed)
    elif isinstance(other, SpotPatch | Want):
        what = "which is a place in a picture" if isinstance(other, SpotPatch) else "which stands nowhere"
        yield place, f"{subject} is {other.label}, {what}", "Name a thing, or write a point."
    elif other is item:
        yield place, f"{subject} is the {item.noun} itself", "Name another thing, or a point."
    else:
        yield from _part_faults(place, subject, item, aimed, other, room)


def _nobody(place, subject, aimed, found, removed) -> Fault:
    if aimed.name in removed:
        line = removed[aimed.name].line
        message = f"{subject} is {quote(aimed.text)}, which the option removes on line {line}"
        return place, message, f"Change it in the option too, or keep '{aimed.name}'."
    advice = f"{did_you_mean(aimed.name, found)}The scene has: {listed(sorted(found))}."
    return place, f"{subject} is {quote(aimed.text)}, and nothing has that name", advice


def _part_faults(place, subject, item, aimed, other, room) -> Iterator[Fault]:
    parts = THING_ANCHORS
    if isinstance(other, Figure):
        parts = (*ANCHORS, *(m.name for m in other.marks if m.name is not INVALID))
    if aimed.anchor is not None and aimed.anchor not in parts:
        advice = f"{did_you_mean(aimed.anchor, parts)}Its parts are: {listed(parts)}."
        yield place, f"{subject}: {other.label} has no part {quote(aimed.anchor)}", advice
        return
    there = geometry.part_of_thing(room, other, aimed.anchor)
    if not isinstance(item, Glow) and _one_place(there, getattr(item, "at", None)):
        advice = "Move one of the two."
        yield place, f"{subject}: {other.label} stands at the very same point", advice


def _one_place(one, other) -> bool:
    """Return whether two points are too near each other for a direction."""
    if one in (None, INVALID) or other in (None, INVALID):
        return False
    return math.dist(one, other) < geometry.SAME_PLACE


EXTENTS = ("size", "flame", "diameter", "lens", "length")
"""Fields with how large a lamp's face, a piece or a sheet is."""


def _too_fine(item) -> Iterator[Fault]:
    """Yield a thing so small and so far off that its corners would be rounded to one point."""
    at = getattr(item, "at", None)
    if not isinstance(item, Light | Piece | Sheet) or at in (None, INVALID):
        return
    written = [value for name in EXTENTS if name in table(type(item))
               and (value := getattr(item, name)) not in (None, INVALID)]
    extents = [side for value in written for side in (value if isinstance(value, tuple) else (value,))]
    if geometry.too_fine(at, extents):
        far = max(abs(each) for each in at)
        held = float(f"{far * geometry.FINEST / 8:.1g}")
        yield item.where("at"), (
            f"{item.label} is {show(min(extents), 'length')} across at {show(far, 'length')} from the "
            f"origin, where places are held to {show(held, 'length')}"
        ), "Put the scene near [0 m, 0 m, 0 m], or make it larger."  # fmt: skip


def _places_inside(scene) -> Iterator[Fault]:
    sections: Iterable[Item] = (*scene.cameras, *scene.meters, *scene.lights)
    for item in sections:
        if item.at is INVALID or isinstance(item, Glow):
            continue
        place = item.where("at")
        outcome = next(words for cls, words in INSIDE_WORDS.items() if isinstance(item, cls))
        wall = geometry.wall_around(scene.room, item.at) if scene.room else None
        if wall:
            message = f"{item.label} is inside {wall} and {outcome}"
            yield place, message, _room_advice(scene.room)
        elif scene.room is None and scene.ground and item.at[2] < 0:
            message = f"{item.label} is under the ground and {outcome}"
            yield place, message, "Raise it above 0 m."
        for piece in scene.pieces:
            if geometry.is_inside(piece, item.at):
                message = f"{item.label} is inside {piece.label} and {outcome}"
                yield place, message, "Move it out, or move the piece."


def _room_advice(room) -> str:
    across, deep, high = (show(each, "length") for each in room.size)
    return (
        f"Inside the room x runs from 0 m to {across}, y to {deep} and z to {high}; the walls are "
        f"{show(room.wall_thickness, 'length')} thick."
    )
