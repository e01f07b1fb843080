"""Wants and moves as a person says them in a line: 'lit side clerk 0', 'key 20 % to 100 %'."""

from __future__ import annotations

import contextlib
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from previz.errors import RequestError
from previz.scene import gel, names, rules, want_rules
from previz.scene.camera import Camera
from previz.scene.fields import table
from previz.scene.lamp import Light
from previz.scene.scene import Scene
from previz.scene.wants import SUBJECTS, CameraMoves, LampMoves, Want
from previz.scene.words import did_you_mean, listed
from previz.units import UnitError, parse, quote

SUBJECT_WORDS = {field.replace("_", " "): field for field in SUBJECTS}
"""What a want begins with -> its field."""

EXAMPLES = ("lit side clerk 0", "shadow side clerk -2", "ratio clerk 4:1", "colour clerk 3600 K",
            "thing north wall -3", "thing window holds", "background A at most -2")
"""Wants as they are said."""

_NUMBER = r"[+\-\u2212]?\s*[0-9]*\.?[0-9]+"
_BOUND = rf"at\s+(?:most|least)\s+{_NUMBER}"
_AMOUNT = re.compile(
    rf"(.+?)\s+(?:is\s+|at\s+(?!most|least))?"
    rf"((?:{_BOUND}(?:\s+and\s+{_BOUND})?|{_NUMBER}(?:\s*(?::\s*1|kK|K))?|holds?|stays black)(?:\s+stops?)?)")
_PART = re.compile(rf"at\s+(most|least)\s+({_NUMBER})")


def want_of(text: str, taken: Iterable[str] = ()) -> Want:
    """Return the want that a line says.

    Parameters
    ----------
    text : str
        '<what> <name> <how much>', and after commas 'camera B', 'at window', 'at every mark', 'left side',
        'within 0.2', 'weight 2'.
    taken : iterable of str
        Names that other wants have.

    Raises
    ------
    RequestError
        It is none; says what to write.
    """
    said, *more = (" ".join(part.split()) for part in text.split(","))
    field = next((field for words, field in SUBJECT_WORDS.items() if said.startswith(f"{words} ")), None)
    if field is None:
        first = " ".join(said.split()[:2])
        raise _no_want(text, f"{did_you_mean(first, SUBJECT_WORDS)}Begin it with one of: "
                             f"{listed(SUBJECT_WORDS)}; such as {quote(EXAMPLES[0])}.")
    match = _AMOUNT.fullmatch(said[len(field) + 1:])
    if match is None:
        examples = [each for each in EXAMPLES if each.startswith(field.replace("_", " "))]
        raise _no_want(text, "Say of what and how much, such as "
                             f"{quote((examples or EXAMPLES)[0])}.")
    name, amount = match[1], match[2].replace("\N{MINUS SIGN}", "-")
    amount = amount.removesuffix("stops").removesuffix("stop").strip()
    values: dict[str, Any] = {field: name, **_amount(text, field, amount)}
    for each in more:
        values |= _more(text, field, each)
    made = Want(name=_free(f"{field.replace('_', ' ')} {name}", taken), **values)
    for _, message, advice in rules.broken(made):
        raise RequestError(f"the want {quote(text)} {message}", advice)
    return made


def _no_want(text: str, advice: str) -> RequestError:
    return RequestError(f"{quote(text)} says nothing that can be wanted", advice)


def _free(name: str, taken: Iterable[str]) -> str:
    """Return a name for a want that no other has."""
    name, taken = name[:names.LONGEST - 4].strip(), set(taken)
    numbered = (f"{name} {number}" for number in range(2, 1000))
    return name if name not in taken else next(each for each in numbered if each not in taken)


def _amount(text: str, field: str, amount: str) -> dict[str, Any]:
    """Return the fields of how much is wanted."""
    if amount in ("hold", "holds", "stays black"):
        return {"black" if amount == "stays black" else "hold": True}
    parts = _PART.findall(amount)
    if parts:
        return {f"at_{word}": _value(text, Want, f"at_{word}", number) for word, number in parts}
    if amount.endswith("K"):
        return {"cct": _value(text, Want, "cct", amount)}
    if field == "ratio" and ":" in amount:
        return {"lit_to_shadow": _value(text, Want, "lit_to_shadow", amount)}
    if field == "ratio" and amount[0] not in "+-":
        # A ratio is said in one; stops of it are said with their sign.
        return {"lit_to_shadow": _value(text, Want, "lit_to_shadow", amount)}
    return {"stops": _value(text, Want, "stops", amount)}


def _more(text: str, field: str, said: str) -> dict[str, Any]:
    """Return the field that follows a comma."""
    forms: tuple[tuple[str, Callable[[str], dict[str, Any]]], ...] = (
        (r"camera (.+)", lambda value: {"camera": value}),
        (r"at (?:every mark)()", lambda value: {"every_mark": True}),
        (r"at (?:mark )?(.+)", lambda value: {"at_mark": value}),
        (r"(left|right) side", lambda value: {"side": value}),
        (r"weight (.+)", lambda value: {"weight": _value(text, Want, "weight", value)}),
        (r"within (.+ mired)", lambda value: {"within_mired": _value(text, Want, "within_mired", value)}),
        (r"within (.+?)(?: stops?)?", lambda value: {"within": _value(text, Want, "within", value)}),
    )
    for form, made in forms:
        match = re.fullmatch(form, said)
        if match:
            return made(match[1])
    raise RequestError(f"{quote(said)} in the want {quote(text)} is not understood",
                       "Write after a comma 'camera B', 'at window', 'at every mark', 'left side', "
                       "'within 0.2' or 'weight 2'.")


def _value(text: str, cls: type, field: str, written: str) -> float:
    """Return a number within the limits of a field of the scene format."""
    entry = table(cls)[field]
    try:
        value = parse(written, entry.dimension or "number", example=entry.example)
    except UnitError as error:
        raise RequestError(f"{quote(text)}: {error.message}", error.advice) from None
    if (entry.minimum is not None and value < entry.minimum) or (
            entry.maximum is not None and value > entry.maximum):
        raise RequestError(f"{quote(text)}: {quote(written)} is out of range", f"Write {entry.range_text}.")
    return value


def _span(text: str, cls: type, field: str, written: str) -> tuple[float, float]:
    """Return the ends of a range."""
    ends = [_value(text, cls, field, each) for each in re.split(r"\s+to\s+", written)]
    if len(ends) != 2 or ends[0] > ends[1]:
        raise RequestError(f"{quote(text)}: {quote(written)} is no range",
                           f"Write the least and the most, such as {quote(table(cls)[field].example)}.")
    return ends[0], ends[1]


def with_wants(scene: Scene, said: Iterable[str | Want]) -> tuple[Want, ...]:
    """Return what is wanted of a scene: what is said, or what the scene wants where nothing is.

    Raises
    ------
    RequestError
        A line is no want, or names what the scene does not have; or nothing is wanted at all.
    """
    made: list[Want] = []
    wrong: list[RequestError] = []
    for each in said:
        with _gathered(wrong):
            made.append(want_of(each, [other.name for other in made]) if isinstance(each, str) else each)
    wants = tuple(made) or scene.wants
    if not wants and not wrong:
        raise RequestError("Nothing is wanted", "Write 'wants:' in the scene, or say with --want what is "
                           f"wanted, such as {quote(EXAMPLES[0])}.")
    for want in made:
        wrong += [RequestError(message, advice)
                  for _, message, advice in want_rules.named_faults(scene, want, {})]
    _refuse(wrong)
    return wants


def with_moves(scene: Scene, *, may: Iterable[str] = (), lock: Iterable[str] = (),
               gels: Mapping[str, Iterable[str]] | Iterable[str] = (), stop: Iterable[str] = (),
               nd: Iterable[str] = ()) -> Scene:
    """Return a scene whose lamps and cameras may be moved as is said, over what the scene says.

    Parameters
    ----------
    may : iterable of str
        'key 20 % to 100 %', 'key 3200 K to 5600 K', or both after a comma.
    lock : iterable of str
        Lamps that stay as they are.
    gels : mapping of str to iterable of str, or iterable of str
        By lamp; or 'key=half cto, quarter cto'.
    stop, nd : iterable of str
        'T2 to T5.6' for every camera or 'A=T2 to T5.6'; '0, 0.3, 0.6' likewise.

    Raises
    ------
    RequestError
        A line is not understood, or names a lamp or camera that the scene does not have.
    """
    lamps = {light.name: light for light in scene.lights}
    wrong: list[RequestError] = []
    for text in may:
        with _gathered(wrong):
            name = max((each for each in lamps if text.startswith(each)), key=len, default=None)
            if name is None:
                raise _nobody("lamp", re.split(r",|\s+[0-9]", text)[0], lamps)
            moves: dict[str, Any] = {}
            for part in (each.strip() for each in text[len(name):].split(",")):
                moves |= _lamp_move(text, part)
            lamps[name] = _moved(lamps[name], text, **moves)
    sheets = {name: list(each) for name, each in gels.items()} if isinstance(gels, Mapping) else {}
    for text in () if isinstance(gels, Mapping) else gels:
        with _gathered(wrong):
            name, rest = _assigned(text, "key=half cto, quarter cto")
            sheets[name] = [each.strip() for each in rest.split(",")]
    for name, choice in sheets.items():
        with _gathered(wrong):
            if name not in lamps:
                raise _nobody("lamp", name, lamps)
            for sheet in choice:
                if gel.nominal(sheet) is None:
                    raise RequestError(f"there is no gel {quote(sheet)} for {name}",
                                       f"{did_you_mean(gel.spelt_out(sheet), gel.NAMES)}There are: "
                                       f"{listed(gel.NAMES)}.")
            lamps[name] = _moved(lamps[name], name, gels=tuple(choice))
    for name in lock:
        if name in lamps:
            lamps[name] = replace(lamps[name], may_move=LampMoves(locked=True))
        else:
            wrong.append(_nobody("lamp", name, lamps))
    cameras = _cameras_moved(scene, stop, nd, wrong)
    _refuse(wrong)
    return replace(scene, lights=tuple(lamps.values()), cameras=tuple(cameras.values()))


def _lamp_move(text: str, part: str) -> dict[str, Any]:
    if "%" in part:
        # '20 to 100 %' is said too.
        part = re.sub(r"^([0-9.]+)\s+to\s+(.*%)$", r"\1 % to \2", part)
        return {"dimmer": _span(text, LampMoves, "dimmer", part)}
    if "K" in part:
        part = re.sub(r"^([0-9.]+)\s+to\s+(.*K)$", r"\1 K to \2", part)
        return {"cct": _span(text, LampMoves, "cct", part)}
    if part in ("may be off", "stays on"):
        return {"off": part == "may be off"}
    raise RequestError(f"{quote(text)} does not say how the lamp may be moved",
                       "Write for example 'key 20 % to 100 %' or 'key 3200 K to 5600 K'.")


def _moved(light: Light, text: str, **moves: Any) -> Light:
    """Return a lamp that may be moved so as well; what it says itself of the same is put aside."""
    before = light.may_move or LampMoves()
    made = replace(before, **{"locked": False, **moves})
    for _, message, advice in rules.broken(made):
        raise RequestError(f"{quote(text)}: 'may_move' of {light.label} {message}", advice)
    return replace(light, may_move=made)


def _cameras_moved(scene: Scene, stop: Iterable[str], nd: Iterable[str],
                   wrong: list[RequestError]) -> dict[str, Camera]:
    cameras = {camera.name: camera for camera in scene.cameras}
    for field, lines in (("stop", stop), ("nd", nd)):
        for text in lines:
            with _gathered(wrong):
                example = "A=T2 to T5.6" if field == "stop" else "A=0, 0.3, 0.6"
                name, rest = _assigned(text, example) if "=" in text else ("", text)
                if name and name not in cameras:
                    raise _nobody("camera", name, cameras)
                for each in ([name] if name else cameras):
                    made = cameras[each].may_move or CameraMoves()
                    if field == "stop":
                        made = replace(made, stop=_span(text, CameraMoves, "stop", rest))
                    else:
                        made = replace(made, nd=tuple(_value(text, CameraMoves, "nd", part.strip())
                                                      for part in rest.split(",")))
                    cameras[each] = replace(cameras[each], may_move=made)
    return cameras


def _assigned(text: str, example: str) -> tuple[str, str]:
    name, sign, rest = (part.strip() for part in text.partition("="))
    if not (name and sign and rest):
        raise RequestError(f"{quote(text)} is not understood", f"Write for example {quote(example)}.")
    return name, rest


@contextlib.contextmanager
def _gathered(wrong: list[RequestError]) -> Iterator[None]:
    """Keep what is refused for `_refuse`, so that all that is wrong is told at once."""
    try:
        yield
    except RequestError as error:
        wrong.append(error)


def _refuse(wrong: Sequence[RequestError]) -> None:
    """Raise what was gathered, as one."""
    if wrong:
        *before, last = wrong
        raise RequestError("\n".join([*map(str, before), last.message]), last.advice)


def _nobody(what: str, name: str, known: Iterable[str]) -> RequestError:
    return RequestError(f"there is no {what} {quote(name)}",
                        f"{did_you_mean(name, known)}There are: {listed(known)}.")
