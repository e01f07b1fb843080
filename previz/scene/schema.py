"""The scene format as a JSON Schema, for editors that check and complete while one types.

It is made from the same table that the reader uses. It is the looser of the two: what depends on
two fields, on other things or on files is only known to the reader.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from previz.scene import gel
from previz.scene.camera import SENSORS
from previz.scene.colour import HEX, PALETTE
from previz.scene.fields import Field, table
from previz.scene.joints import PATTERN
from previz.scene.light import Consumption, OwnSpectrum
from previz.scene.mains import Mains
from previz.scene.moment import FORM
from previz.scene.names import LONGEST, MARKS
from previz.scene.options import ITEM_SECTIONS
from previz.scene.read import VERSION
from previz.scene.records import Item, Record
from previz.scene.room import Room
from previz.scene.scene import Scene
from previz.scene.stop_map import StopMap
from previz.scene.surface import LIBRARY, Surface
from previz.scene.wants import LONGEST_LIST
from previz.scene.wear import GARMENTS, MOST
from previz.units import DIMENSIONS, pattern

Schema = dict[str, Any]

# Letters of any script, without the Unicode classes that not every reader of schemas has.
_LETTER = "A-Za-z\\u00c0-\\uffff"
_NAME = f"[{_LETTER}][{_LETTER}0-9{MARKS.replace('-', '')}-]*"


def schema() -> Schema:
    """Return the JSON Schema of a scene file, draft 2020-12.

    Returns
    -------
    dict
        Plain JSON values. Scalars may be text or, where they need no unit, numbers, so that it
        holds for readers that keep all text as well as for those of YAML 1.2.
    """
    book = _Book()
    properties = {
        "previz": {"enum": [int(VERSION), VERSION], "description": "Version of the scene format."},
        **book.properties(Scene),
        "options": {
            "type": "object",
            "description": "The scene with a few things changed, by the option's name.",
            "propertyNames": _name_schema(),
            "additionalProperties": {"anyOf": [book.option(), {"type": "null"}, {"const": ""}]},
        },
    }
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "previz scene",
        "description": "A set, figures, cameras and lamps, and what to change in each option.",
        "type": "object",
        "properties": properties,
        "required": ["previz"],
        "additionalProperties": False,
        "$defs": book.definitions,
    }


LONG_LIST = 40
"""Words of a choice from which on it is a definition of its own."""


class _Book:
    """Definitions of the records, each made once."""

    def __init__(self):
        self.definitions: dict[str, Schema] = {}

    def properties(self, cls: type[Record]) -> dict[str, Schema]:
        return {name: self.field(entry) for name, entry in table(cls).items()}

    def base(self, cls: type[Record]) -> Schema:
        """Return a reference to the fields that several kinds share."""
        return self.shared(cls.__name__, lambda: {"type": "object", "properties": self.properties(cls)})

    def field(self, entry: Field) -> Schema:
        forms = _KINDS[entry.kind](self, entry)
        if entry.optional or entry.kind in ("gels", "items", "gel names", "quantities", "parts"):
            forms = [*forms, {"const": "none"}]
        made = dict(forms[0]) if len(forms) == 1 else {"anyOf": forms}
        made["description"] = _description(entry)
        if _has_plain_default(entry):
            made["default"] = entry.show(entry.default)
        if entry.example and entry.kind not in ("record", "items"):
            made["examples"] = [entry.example]
        return made

    def record(self, cls: type[Record]) -> Schema:
        """Return a reference to a whole record."""
        return self.shared(cls.__name__, lambda: self._object(cls, {}))

    def item(self, entry: Field) -> Schema:
        """Return the schema of one thing of a list."""
        if not isinstance(entry.record, dict):
            return self.record(entry.record)
        kinds = {"kind": {"enum": list(entry.record), "description": "What sort of lamp it is."}}
        cases = [
            {
                "if": {"properties": {"kind": {"const": kind}}, "required": ["kind"]},
                "then": self.shared(cls.__name__, lambda cls=cls: self._kind(cls, entry.base)),
            }
            for kind, cls in entry.record.items()
        ]
        return {"type": "object", "properties": kinds, "required": ["kind", "name"], "allOf": cases}

    def garment(self, kind: str, cls: type[Record]) -> Schema:
        """Return the schema of one garment as a group of fields."""
        return self._object(cls, {"kind": {"const": kind}})

    def _object(self, cls, extra):
        made = {
            "type": "object",
            "description": (cls.__doc__ or "").partition("\n")[0],
            "properties": {**extra, **self.properties(cls)},
            "required": [*extra, *(name for name, each in table(cls).items() if each.required)],
            "additionalProperties": False,
        }
        if getattr(cls, "one_of", ()):
            made["anyOf"] = [{"required": [name]} for name in cls.one_of]
        return made

    def _kind(self, cls: type[Record], base: type[Record]) -> Schema:
        """Return one kind of a base: its own fields whole, those of the base by name alone."""
        made = self._object(cls, {"kind": {"const": cls.kind}})
        common = table(base)
        for name, entry in table(cls).items():
            if common.get(name) is entry:
                made["properties"][name] = True
        return {"allOf": [self.base(base)], **made}

    def shared(self, name: str, make: Callable[[], Schema]) -> Schema:
        """Return a reference to a definition, which is made at its first use."""
        if name not in self.definitions:
            self.definitions[name] = {}
            self.definitions[name] = make()
        return {"$ref": f"#/$defs/{name}"}

    def option(self) -> Schema:
        """Return the schema of one option's changes."""
        lists = {
            section: {"type": "array", "items": self.item(_section(section))}
            for section in ITEM_SECTIONS
        }
        names = {"type": "array", "items": _name_schema()}
        return {
            "type": "object",
            "properties": {
                "like": {**_name_schema(), "description": "The option that it starts from."},
                "remove": {
                    "anyOf": [names, _name_schema()],
                    "description": "Names of things that it takes out.",
                },
                "add": {
                    "type": "object",
                    "properties": lists,
                    "additionalProperties": False,
                    "description": "Things that it puts in, by section.",
                },
                **self._changed_properties(Scene),
            },
            "additionalProperties": False,
        }

    def _changed_properties(self, cls):
        return {
            name: self._changed_field(entry)
            for name, entry in table(cls).items()
            if not (name == "name" and issubclass(cls, Item))
        }

    def _changed_field(self, entry):
        if entry.kind == "record":
            forms = [*_short(self, entry), self._change(entry.record, [entry.record])]
            changed = forms[0] if len(forms) == 1 else {"anyOf": forms}
        elif entry.kind == "items":
            kinds = isinstance(entry.record, dict)
            records = list(entry.record.values()) if kinds else [entry.record]
            changed = {
                "type": "object",
                # What is no 'name' field may be called anything.
                **({"propertyNames": _name_schema()} if table(entry.base)["name"].kind == "name" else {}),
                "additionalProperties": self._change(entry.base, records),
            }
        else:
            return self.field(entry)
        return {"anyOf": [changed, {"const": "none"}], "description": _description(entry)}

    def _change(self, base: type[Record], records: list[type[Record]]) -> Schema:
        """Return a reference to the fields of records that share a base, none of them required."""

        def make():
            found: dict[str, list[Schema]] = {}
            for cls in records:
                changed = self._changed_properties(cls)
                # What the record, or the one that they share, says of a plain field is said once.
                changed |= {
                    field: {"$ref": f"#/$defs/{base.__name__}/properties/{field}"}
                    for field, entry in table(cls).items()
                    if table(base).get(field) is entry and entry.kind not in ("name", "record", "items")
                }
                for field, made in changed.items():
                    if made not in found.setdefault(field, []):
                        found[field].append(made)
            properties = {
                field: forms[0] if len(forms) == 1 else {"anyOf": forms}
                for field, forms in found.items()
            }
            if len(records) > 1:
                properties["kind"] = {"enum": [cls.kind for cls in records]}
            return {"type": "object", "properties": properties, "additionalProperties": False}

        return self.shared(f"{base.__name__}Change", make)


def _section(name):
    held = {"openings": Room, "circuits": Mains, "zones": StopMap}
    return table(held.get(name, Scene))[name]


def _name_schema():
    return {"type": "string", "pattern": f"^{_NAME}$", "maxLength": LONGEST}


def _description(entry):
    limits = f" {entry.range_text[:1].upper()}{entry.range_text[1:]}." if entry.range_text else ""
    return f"{entry.help}{'' if entry.kind == 'file' else limits}"


def _has_plain_default(entry):
    return not entry.required and entry.kind not in (
        "record", "items", "surface", "text", "file", "output"
    )  # fmt: skip


def _written(book, dimension):
    """Return the schema of a quantity as text."""
    return book.shared(dimension, lambda: {"type": "string", "pattern": pattern(dimension)})


def _quantity(book: _Book, entry: Field) -> list[Schema]:
    forms: list[Schema] = [_written(book, entry.dimension)]
    if DIMENSIONS[entry.dimension].bare:
        forms.append(_number("number", entry))
    return forms


def _number(sort, entry):
    limits = {
        "minimum": entry.minimum, "exclusiveMinimum": entry.above, "maximum": entry.maximum,
    }  # fmt: skip
    return {"type": sort, **{name: value for name, value in limits.items() if value is not None}}


def _integers(book: _Book, entry: Field) -> list[Schema]:
    whole = [{"type": "string", "pattern": "^[+-]?[0-9]{1,9}$"}, _number("integer", entry)]
    return [_array({"anyOf": whole}, entry.counts)]


def _array(form, counts):
    return {"type": "array", "items": form, "minItems": min(counts), "maxItems": max(counts)}


def _target(book: _Book, entry: Field) -> list[Schema]:
    target = book.shared("target", lambda: {
        "anyOf": [
            {"type": "string", "pattern": rf"^{_NAME}(\s*\.\s*[a-z][a-z ]*)?$"},
            _array(_written(book, "length"), (3,)),
        ]
    })  # fmt: skip
    return [target, _written(book, entry.dimension)] if entry.dimension else [target]


def _lengths(book: _Book, entry: Field) -> list[Schema]:
    return [_array(_written(book, "length"), entry.counts)]


def _colour(book: _Book, entry: Field) -> list[Schema]:
    share = Field("number", "", dimension="number", minimum=0.0, maximum=1.0)
    return [book.shared("colour", lambda: {
        "anyOf": [
            {"enum": list(PALETTE)},
            {"type": "string", "pattern": f"^{HEX.pattern}$"},
            _array({"anyOf": _quantity(book, share)}, (3,)),
        ]
    })]  # fmt: skip


def _words(book, words):
    """Return the schema of one of some words; a long list of them is defined once."""
    if len(words) < LONG_LIST:
        # An editor of YAML 1.2 has a number where 3 is written.
        return {"enum": [*words, *(int(word) for word in words if word.isdecimal())]}
    return book.shared(f"{words[0]} and {len(words) - 1} more", lambda: {"enum": list(words)})


def _surface(book: _Book, entry: Field) -> list[Schema]:
    return [book.shared("surface", lambda: {
        "anyOf": [_words(book, tuple(LIBRARY)), book.record(Surface)],
    })]  # fmt: skip


def _gels(book: _Book, entry: Field) -> list[Schema]:
    sheet = book.shared("gel", lambda: {
        "anyOf": [
            {"enum": list(gel.NAMES)},
            {"type": "string", "pattern": r"^nd [0-9]+(\.[0-9]+)?$"},
            book.record(gel.Gel),
        ]
    })  # fmt: skip
    return [sheet, {"type": "array", "items": sheet}]


def _gel_names(book: _Book, entry: Field) -> list[Schema]:
    name: Schema = {"anyOf": [{"enum": list(gel.NAMES)},
                              {"type": "string", "pattern": r"^nd [0-9]+(\.[0-9]+)?$"}]}
    return [name, _array(name, (1, LONGEST_LIST))]


def _range(book: _Book, entry: Field) -> list[Schema]:
    end = pattern(entry.dimension).strip("^$")
    return [book.shared(f"range of {entry.dimension}",
                        lambda: {"type": "string", "pattern": rf"^{end}\s+to\s+{end}$"})]


def _quantities(book: _Book, entry: Field) -> list[Schema]:
    each: Schema = {"anyOf": _quantity(book, entry)}
    return [*_quantity(book, entry), _array(each, (1, LONGEST_LIST))]


def _output(book: _Book, entry: Field) -> list[Schema]:
    light = [pattern(each).strip("^$") for each in ("flux", "intensity", "luminance")]
    distant = rf"{pattern('illuminance').strip('^$')}\s+at\s+{pattern('length').strip('^$')}"
    forms = "|".join((*light, distant))
    return [
        book.shared("output", lambda: {"type": "string", "pattern": f"^({forms})$"}),
        book.record(Consumption),
    ]


def _file(book: _Book, entry: Field) -> list[Schema]:
    endings = "|".join(each.lstrip(".") for each in entry.suffixes)
    return [{"type": "string", "pattern": rf"^[^/\\].*\.({endings})$"}]


def _short(book: _Book, entry: Field) -> list[Schema]:
    """Return what may be written in a record's place as a plain text."""
    short = entry.record.short
    return _KINDS[table(entry.record)[short].kind](book, table(entry.record)[short]) if short else []


def _joints(book: _Book, entry: Field) -> list[Schema]:
    return [book.shared("joints", lambda: {
        "type": "object",
        "propertyNames": {"pattern": PATTERN},
        "additionalProperties": _written(book, "angle"),
    })]  # fmt: skip


def _wears(book: _Book, entry: Field) -> list[Schema]:
    def garment() -> Schema:
        cases = [
            {"if": {"properties": {"kind": {"const": kind}}, "required": ["kind"]},
             "then": book.shared(f"{cls.__name__}Garment",
                                 lambda kind=kind, cls=cls: book.garment(kind, cls))}
            for kind, cls in GARMENTS.items()
        ]  # fmt: skip
        group = {"type": "object", "properties": {"kind": {"enum": list(GARMENTS)}}, "required": ["kind"],
                 "allOf": cases}
        return {"anyOf": [{"enum": list(GARMENTS)}, group]}

    one = book.shared("garment", garment)
    return [one, _array(one, (1, MOST))]


_KINDS: dict[str, Callable[[_Book, Field], list[Schema]]] = {
    "joints": _joints,
    "wears": _wears,
    "text": lambda book, entry: [{"type": ["string", "number"]}],
    "name": lambda book, entry: [_name_schema()],
    "quantity": _quantity,
    "choice": lambda book, entry: [_words(book, entry.choices)],
    "yes_no": lambda book, entry: [{"enum": ["yes", "no", True, False, "true", "false"]}],
    "target": _target,
    "point": _lengths,
    "lengths": _lengths,
    "integers": _integers,
    "range": _range,
    "quantities": _quantities,
    "gel names": _gel_names,
    "colour": _colour,
    "sensor": lambda book, entry: [{"enum": list(SENSORS)}, _array(_written(book, "length"), (2,))],
    "moment": lambda book, entry: [{"type": "string", "pattern": f"^{FORM.pattern}$"}],
    "file": _file,
    "surface": _surface,
    "parts": lambda book, entry: [{"type": "object", "additionalProperties": _surface(book, entry)[0]}],
    "gels": _gels,
    "output": _output,
    "spectrum": lambda book, entry: [{"enum": list(entry.choices)}, book.record(OwnSpectrum)],
    "record": lambda book, entry: [*_short(book, entry), book.record(entry.record)],
    "items": lambda book, entry: [{"type": "array", "items": book.item(entry)}],
}
"""The schema of each kind of field, as alternatives."""
