"""Nodes of the file to records, by the one table.

A record is made even where some of its fields are wrong: these then hold `INVALID`, so that the
checks that come after can still report everything else that is wrong with it.
"""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterator
from typing import Any

from previz.scene import gel, rules, values
from previz.scene.colour import PALETTE
from previz.scene.fields import INVALID, Field, table
from previz.scene.joints import read_joints
from previz.scene.lamp import FARTHEST_METER, GREATEST_OUTPUT, LEAST_OUTPUT, NEAREST_METER
from previz.scene.light import Consumption, Light, Output, OwnSpectrum
from previz.scene.nodes import List, Map, Node, Text, spread
from previz.scene.piece import PartSurface
from previz.scene.presets import offered_efficacy
from previz.scene.records import Record
from previz.scene.surface import LIBRARY, Surface
from previz.scene.values import Reader, Reading, example_advice, text_of
from previz.scene.wants import LONGEST_LIST
from previz.scene.wear import read_wears
from previz.scene.words import (
    RENAMED_FIELDS,
    called_now,
    did_you_mean,
    field_meant,
    listed,
)
from previz.units import DIMENSIONS, UnitError, parse, quote, show


def read_value(reading: Reading, node: Node, entry: Field, subject: str) -> Any:
    """Return the value of one field.

    Parameters
    ----------
    reading : Reading
        Takes the problems.
    node : Node
        What was written.
    entry : Field
        What may be written.
    subject : str
        What messages call the field, such as "'cct' of light 'key' (fresnel)".

    Returns
    -------
    object
        As the record holds it; `INVALID` where it was written wrong.
    """
    if isinstance(node, Text):
        if node.plain and not node.text:
            message = f"{subject} has no value"
            reading.refuse(node.place, message, _empty_advice(node, entry))
            return () if entry.kind == "items" else INVALID
        if node.text == "none" and entry.optional:
            return None
        if node.text == "none" and entry.kind in ("gels", "items", "gel names", "quantities", "parts"):
            return ()
        if node.text == "none" and entry.kind not in _TEXTS and "none" not in entry.choices:
            message = f"{subject} cannot be none"
            return reading.refuse(node.place, message, example_advice(entry))
    return KINDS[entry.kind](reading, node, entry, subject)


_TEXTS = ("text", "name")
"""Kinds that take any word."""


def _empty_advice(node, entry):
    if "#" in node.place.source_line:
        return "A '#' begins a comment: put text that has one in quotes, such as '#97a488'."
    if entry.kind == "items":
        return f"{_items_advice(entry)} Or leave it out."
    return example_advice(entry)


def read_record(
    reading: Reading, node: Map, cls: type[Record], label: str, extra: tuple[str, ...] = ()
) -> Record:
    """Return a record of a mapping.

    Parameters
    ----------
    reading : Reading
        Takes the problems.
    node : Map
        What was written.
    cls : type
        The record to make.
    label : str
        What messages call it, such as "light 'key' (fresnel)"; '' for the scene itself.
    extra : tuple of str
        Fields that may be written and that the caller reads itself.

    Returns
    -------
    Record
        With its places; fields that were written wrong hold `INVALID`.
    """
    entries = table(cls)
    if label:
        refuse_unknown(reading, node, (*entries, *extra), label, noun=cls.noun)
    if issubclass(cls, Light):
        written = node.get("spectrum")
        spectrum = written.text if isinstance(written, Text) else entries["spectrum"].default
        reading.efficacy = offered_efficacy(
            cls.usual.efficacy if cls.kind else None, "" if isinstance(written, Map) else spectrum)
    found, places = {}, {}
    for name, entry in entries.items():
        if entry.dimension == "efficacy":
            entry = dataclasses.replace(entry, example=f"{reading.efficacy:g} lm/W")
        written = node.get(name)
        if written is not None:
            subject = f"'{name}' of {label}" if label else f"'{name}'"
            found[name] = read_value(reading, written, entry, subject)
            places[name] = written.place
        elif entry.required:
            message = f"{label} has no '{name}'"
            found[name] = reading.refuse(node.place, message, _missing_advice(name, entry))
    made = cls(**found, place=node.place, places=places)
    for field, message, advice in rules.broken(made):
        reading.refuse(made.where(field), f"{label} {message}", advice)
    return rules.completed(made)


def _missing_advice(name, entry):
    if entry.kind == "choice":
        return f"Write '{name}:' with one of: {listed(entry.choices)}."
    return f"Write for example {quote(f'{name}: {entry.example}')}."


def refuse_unknown(
    reading: Reading, node: Map, known: tuple[str, ...], label: str, sort: str = "field", noun: str = ""
) -> None:
    """Keep a problem for each key that is none of a record's fields.

    Parameters
    ----------
    reading, node, label
        As in `read_record`.
    known : tuple of str
        The fields.
    sort : str
        What a key is called.
    noun : str
        Of the record, for fields that were called otherwise once.
    """
    for key, _ in node.pairs():
        if key.text not in known:
            advice = called_now(RENAMED_FIELDS.get((noun, key.text))) or (
                f"{field_meant(key.text, known)}Its {sort}s are: {listed(sorted(known))}."
            )
            reading.refuse(key.place, f"{label} has no {sort} {quote(key.text)}", advice)


def _read_record(reading: Reading, node: Node, entry: Field, subject: str) -> Any:
    node = spread(node, entry.record.short) or node
    if not isinstance(node, Map):
        advice = f"Its fields are: {listed(sorted(table(entry.record)))}."
        return reading.refuse(node.place, f"{subject} is not a group of fields", advice)
    return read_record(reading, node, entry.record, subject)


def _read_items(reading: Reading, node: Node, entry: Field, subject: str) -> Any:
    if not isinstance(node, List):
        reading.refuse(node.place, f"{subject} is not a list", _items_advice(entry))
        return ()
    return tuple(_each_item(reading, node, entry))


def _items_advice(entry):
    return f"Begin each {entry.base.noun} with '- name:' on a line of its own."


def _each_item(reading, node, entry) -> Iterator[Record]:
    for number, each in enumerate(node.nodes, start=1):
        key = (id(each), entry.base)
        if key not in reading.seen:
            # The node is kept with the record, so that its id is not given to another.
            reading.seen[key] = each, _read_item(reading, each, entry, f"{entry.base.noun} number {number}")
        made = reading.seen[key][1]
        if made is not INVALID:
            yield made


def _read_item(reading, node, entry, label):
    if not isinstance(node, Map):
        advice = "Write '- name: ...' and the other fields below it."
        return reading.refuse(node.place, f"{label} is not a group of fields", advice)
    noun = entry.base.noun
    name = node.get("name")
    if isinstance(name, Text) and name.text:
        label = f"{noun} {quote(name.text)}"
    if not isinstance(entry.record, dict):
        return read_record(reading, node, entry.record, label)
    kind = node.get("kind")
    choices = listed(entry.record)
    cls = None
    if kind is None:
        message = f"{label} has no 'kind'"
        reading.refuse(node.place, message, f"Write 'kind:' with one of: {choices}.")
    else:
        advice = f"Write one of: {choices}."
        text = text_of(reading, kind, f"'kind' of {label}", advice)
        cls = entry.record.get(text)
        if text is not INVALID and cls is None:
            advice = f"{did_you_mean(text, entry.record)}{advice}"
            reading.refuse(kind.place, f"'kind' of {label} cannot be {quote(text)}", advice)
    if cls:
        return read_record(reading, node, cls, f"{label} ({cls.kind})", extra=("kind",))
    # Without a kind its own fields are unknown, but what all kinds share can still be read.
    return read_record(reading, node, entry.base, label, extra=tuple(node.entries))


def _read_surface(reading: Reading, node: Node, entry: Field, subject: str) -> Any:
    if isinstance(node, Map):
        return read_record(reading, node, Surface, subject)
    text = text_of(reading, node, subject, "Write a name from the library, or '{colour: sage}'.")
    if text is INVALID:
        return text
    text = reading.word(node.place, text, LIBRARY)
    if text in LIBRARY:
        return Surface(name=text, place=node.place, places={"name": node.place})
    if text in PALETTE:
        message = f"{subject}: {quote(text)} is a colour, not a surface"
        return reading.refuse(node.place, message, f"Write '{{colour: {text}}}'.")
    advice = (
        f"{did_you_mean(text, LIBRARY)}Write a group of fields, such as "
        f"'{{reflectance: 0.35, colour: sage}}', or a name that 'previz list surfaces' shows, such "
        "as 'brick' or 'white paint'."
    )
    return reading.refuse(node.place, f"{subject} cannot be {quote(text)}", advice)


def _read_parts(reading: Reading, node: Node, entry: Field, subject: str) -> Any:
    if not isinstance(node, Map) or not node.entries:
        message = f"{subject} is not a group of parts"
        return reading.refuse(node.place, message, f"Write for example {quote(entry.example)}.")
    found = []
    for key, value in node.pairs():
        surface = _read_surface(reading, value, entry, f"{quote(key.text)} in {subject}")
        found.append(surface if surface is INVALID else PartSurface(
            part=key.text, surface=surface, place=key.place))
    return INVALID if INVALID in found else tuple(found)


def _read_gels(reading: Reading, node: Node, entry: Field, subject: str) -> Any:
    nodes = node.nodes if isinstance(node, List) else (node,)
    sheets = tuple(_read_gel(reading, each, subject) for each in nodes)
    return INVALID if INVALID in sheets else sheets


def _read_gel(reading, node, subject):
    if isinstance(node, Map):
        return read_record(reading, node, gel.Gel, subject)
    text = text_of(reading, node, subject, "Write for example 'half ctb'.")
    if text is INVALID:
        return text
    figures = gel.nominal(text)
    if figures is not None:
        return gel.Gel(name=text, **figures, place=node.place, places={"name": node.place})
    advice = (
        f"{did_you_mean(gel.spelt_out(text), gel.NAMES)}Write its figures, such as "
        f"'{{mired: +134 mired, transmission: 55 %}}', or one of: {listed(gel.NAMES)}."
    )
    return reading.refuse(node.place, f"{subject} cannot be {quote(text)}", advice)


def _read_gel_names(reading: Reading, node: Node, entry: Field, subject: str) -> Any:
    nodes = node.nodes if isinstance(node, List) else (node,)
    if not 1 <= len(nodes) <= LONGEST_LIST:
        message = f"{subject} has {len(nodes)} gels"
        return reading.refuse(node.place, message, f"Write 1 to {LONGEST_LIST}: {quote(entry.example)}.")
    found = []
    for each in nodes:
        text = text_of(reading, each, f"a gel of {subject}", "Write for example 'half cto'.")
        if text is not INVALID and gel.nominal(text) is None:
            advice = f"{did_you_mean(gel.spelt_out(text), gel.NAMES)}Write one of: {listed(gel.NAMES)}."
            text = reading.refuse(each.place, f"{subject} cannot be {quote(text)}", advice)
        found.append(text)
    return INVALID if INVALID in found else tuple(dict.fromkeys(found))


def _read_spectrum(reading: Reading, node: Node, entry: Field, subject: str) -> Any:
    if isinstance(node, Map):
        return read_record(reading, node, OwnSpectrum, subject)
    return KINDS["choice"](reading, node, entry, subject)


_AT_A_DISTANCE = re.compile(r"(.+?)\s+at\s+(.+)")
_LEAST = f"{LEAST_OUTPUT:.6f} lm"
_OUT = "for a lamp that is out write 'on: no' or 'dimmer: 0 %'."
_OUTPUT_FORMS = "Write for example '9000 lm', '9000 cd' or '900 lx at 3 m'."
_OUTPUT_UNITS = {
    unit: dimension
    for dimension in ("flux", "intensity", "illuminance", "luminance")
    for unit in DIMENSIONS[dimension].units
}


def _read_output(reading: Reading, node: Node, entry: Field, subject: str) -> Any:
    if isinstance(node, Map):
        made = read_record(reading, node, Consumption, subject)
        if INVALID in (made.watts, made.efficacy):
            return INVALID
        value = made.watts * made.efficacy
        if value < LEAST_OUTPUT:
            message = f"{subject} is {value:.2g} lm in all, which no lamp gives as little as"
            return reading.refuse(node.place, message, f"Write {_LEAST} or more; {_OUT}")
        return Output(value=value, unit="lm", watts=made.watts, place=made.place, places=made.places)
    text = text_of(reading, node, subject, _OUTPUT_FORMS)
    if text is INVALID:
        return text
    try:
        value, unit, distance = _output_of(text, reading.efficacy)
        if value <= 0:
            raise UnitError(f"{quote(text)} is no light at all", f"Write more than 0; {_OUT}")
        if value < LEAST_OUTPUT:
            advice = f"Write {LEAST_OUTPUT:.6f} {unit} or more; {_OUT}"
            raise UnitError(f"{quote(text)} is less than any lamp gives", advice)
        if value > GREATEST_OUTPUT:
            raise UnitError(f"{quote(text)} is more than any lamp gives", _OUTPUT_FORMS)
    except UnitError as error:
        return reading.refuse(node.place, f"{subject}: {error.message}", error.advice)
    return Output(value=value, unit=unit, distance=distance, place=node.place)


def _output_of(text, efficacy):
    """Return value, unit and distance of an output that is written as text."""
    distant = _AT_A_DISTANCE.fullmatch(text)
    if distant:
        value = parse(distant[1], "illuminance")
        distance = parse(distant[2], "length")
        if not NEAREST_METER <= distance <= FARTHEST_METER:
            raise UnitError(
                f"{quote(distant[2])} is no distance to meter a lamp at",
                f"Write {show(NEAREST_METER, 'length')} to {show(FARTHEST_METER, 'length')}.",
            )
        return value, "lx", distance
    unit = re.sub(r"^[-+0-9.eE\s]*", "", text)
    if unit in DIMENSIONS["power"].units:
        raise UnitError(
            f"{quote(text)} is the power it draws, not its light",
            f"Write '{{watts: {text}, efficacy: {efficacy:g} lm/W}}' with the lamp's own lm/W.",
        )
    if not unit:
        raise UnitError(f"{quote(text)} has no unit", _OUTPUT_FORMS)
    if unit not in _OUTPUT_UNITS:
        raise UnitError(f"{quote(text)} is not an amount of light", _OUTPUT_FORMS)
    dimension = _OUTPUT_UNITS[unit]
    value = parse(text, dimension)
    if dimension == "illuminance":
        raise UnitError(
            f"{quote(text)} does not say at what distance", f"Write for example '{text} at 3 m'."
        )
    return value, DIMENSIONS[dimension].usual, None


KINDS: dict[str, Reader] = {
    **values.SIMPLE,
    "joints": read_joints,
    "wears": lambda reading, node, entry, subject: read_wears(reading, node, entry, subject, read_record),
    "record": _read_record,
    "items": _read_items,
    "surface": _read_surface,
    "parts": _read_parts,
    "gels": _read_gels,
    "gel names": _read_gel_names,
    "output": _read_output,
    "spectrum": _read_spectrum,
}
"""How each kind of field is read."""
