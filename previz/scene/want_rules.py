"""What must hold of wants and of what may move: in each, and against the rest of the scene."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING

from previz.scene.fields import INVALID
from previz.scene.figure import Mark
from previz.scene.names import KEPT
from previz.scene.records import Item, Place
from previz.scene.wants import FACES, SEEN, SUBJECTS, LampMoves, Want
from previz.scene.words import did_you_mean, listed
from previz.units import quote

if TYPE_CHECKING:
    from previz.scene.scene import Scene

Fault = tuple[str, str, str]
"""Field that is at fault, the message after the record's label, and advice."""

LEVELS = ("lit_side", "shadow_side", "meter", *SEEN)
"""Subjects whose level is wanted."""

AMOUNTS = ("stops", "lit_to_shadow", "cct", "at_most", "at_least", "hold", "black")
"""Fields that say how much."""

_FITTING = {
    **dict.fromkeys(LEVELS, ("stops", "at_most", "at_least")),
    **dict.fromkeys(SEEN, ("stops", "at_most", "at_least", "hold", "black")),
    "ratio": ("stops", "lit_to_shadow"),
    "colour": ("cct",),
}
"""Subject -> what may be wanted of it."""

_SAY = {"ratio": "'lit_to_shadow: 4:1'", "colour": "'cct: 3600 K'"}


def want(made: Want) -> Iterator[Fault]:
    """Yield what is wrong inside a want."""
    written = [field for field in SUBJECTS if getattr(made, field) is not None]
    if len(written) != 1:
        what = "nothing that it is of" if not written else f"both {quote(written[0])} and {quote(written[1])}"
        yield "" if not written else written[1], f"has {what}", (
            f"Write one of: {listed(SUBJECTS)}." if not written else "Make two wants of it.")
        return
    subject = written[0]
    # A level of 0 is one.
    given = [field for field in AMOUNTS if not any(getattr(made, field) is each for each in (None, False))]
    if INVALID in (getattr(made, field) for field in (subject, *given)):
        return
    fitting = _FITTING[subject]
    for field in given:
        if field not in fitting:
            yield field, f"is of a '{subject}' and has '{field}'", (
                f"Of a '{subject}' write {_one_of(fitting)}.")
            return
    yield from _amount(made, subject, given)
    for field in ("at_mark", "side"):
        if getattr(made, field) is not None and subject not in FACES:
            yield field, f"is of a '{subject}' and has '{field}', which is of a figure", "Leave it out."
    if made.every_mark is True and subject not in FACES:
        yield "every_mark", f"is of a '{subject}', which has no marks", "Leave it out."
    if made.every_mark is True and made.at_mark is not None:
        yield "at_mark", "has one mark and every mark", "Keep one of the two."
    if made.side is not None and subject in ("ratio", "shadow_side"):
        yield "side", f"is of a '{subject}' and chooses a cheek", (
            "Leave 'side' out, or want the 'lit_side' with a 'side'.")
    if subject == "background" and made.camera is not None:
        yield "camera", "is of a camera's background and has a camera", "Leave out 'camera'."


def _amount(made: Want, subject: str, given: list[str]) -> Iterator[Fault]:
    """Yield what is wrong with how much is wanted."""
    if not given:
        example = _SAY.get(subject, "'stops: -2'")
        yield "", "does not say how much", f"Write for example {example}."
    elif set(given) == {"at_most", "at_least"}:
        if made.at_least is not None and made.at_most is not None and made.at_least > made.at_most:
            yield "at_least", "is to be more than it may be", "Write an 'at_least' under 'at_most'."
    elif len(given) > 1:
        yield given[1], f"has both '{given[0]}' and '{given[1]}'", "Keep one of the two."
    if subject == "ratio" and made.stops is not None and made.stops is not INVALID and made.stops < 0:
        yield "stops", "has a lit side under its shadow side", "Write 'stops: 0' or more."


def _one_of(fields: Iterable[str]) -> str:
    fields = [f"'{each}'" for each in fields]
    return fields[0] if len(fields) == 1 else f"{', '.join(fields[:-1])} or {fields[-1]}"


def lamp_moves(made: LampMoves) -> Iterator[Fault]:
    """Yield what is wrong inside what may be done to a lamp."""
    if made.locked is True:
        for field in ("dimmer", "off", "cct", "gels"):
            if field in made.places:
                yield field, f"has a lamp that is locked and '{field}'", "Keep one of the two."
        return
    if made.cct is not None and made.gels:
        yield "gels", "has a range of colours and gels", (
            "Keep one of the two: a lamp that sets its colour needs no gel.")


def named_faults(scene: Scene, each: Want, removed: Mapping[str, Place]) -> Iterator[tuple[Place, str, str]]:
    """Yield what a want names that the scene does not have: place, message and advice."""
    figures = {figure.name: figure for figure in scene.figures if figure.name is not INVALID}
    cameras = names_of(scene.cameras)
    known = {
        **dict.fromkeys(FACES, ("figure", list(figures))),
        "meter": ("meter", names_of(scene.meters)),
        "spot": ("patch of 'spots:'", names_of(scene.spots)),
        "thing": ("thing", _things(scene)), "background": ("camera", cameras), "camera": ("camera", cameras),
    }
    for field, (what, names) in known.items():
        name = getattr(each, field)
        if name in (None, INVALID) or name in names:
            continue
        where, subject = each.where(field), f"'{field}' of {each.label}"
        if name in removed:
            yield where, (f"{subject} is {quote(name)}, which the option removes on line "
                          f"{removed[name].line}"), f"Remove the {each.noun} in the option too."
        else:
            yield where, f"{subject} is {quote(name)}, which is no {what}", (
                f"{did_you_mean(name, names)}There are: {listed(names)}.")
    subject = each.subject
    figure = figures.get(getattr(each, subject)) if subject in FACES else None
    if figure is None:
        return
    marks = names_of(figure.marks)
    if each.at_mark not in (None, INVALID, *marks):
        said = quote(each.at_mark)
        yield each.where("at_mark"), (
            f"'at_mark' of {each.label} is {said}, which is no mark of {figure.label}"), (
            f"{did_you_mean(each.at_mark, marks)}Its marks are: {listed(marks)}.")
    if each.every_mark is True and not marks:
        yield each.where("every_mark"), f"{figure.label} has no marks", "Write 'marks:' of the figure."


def names_of(items: Iterable[Item | Mark]) -> list[str]:
    """Return the names of records, those left out that were written wrong."""
    return [item.name for item in items if item.name is not INVALID]


def _things(scene: Scene) -> list[str]:
    """Return the names of what a spot meter can be pointed at, before anything is built."""
    rooms = [name for name in KEPT if name.endswith("wall") or name in ("floor", "ceiling")]
    openings = [each.name for each in scene.room.openings] if scene.room else []
    sections = (scene.pieces, scene.figures, scene.lights, scene.boards, scene.diffusion, scene.flags,
                scene.nets, scene.grids)
    names = [item.name for section in sections for item in section]
    found = [*names, *openings, *(f"{figure.name}: face" for figure in scene.figures),
             *(rooms if scene.room else []), *(["ground"] if scene.ground is not None else [])]
    return [name for name in found if isinstance(name, str)]
