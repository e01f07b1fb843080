"""Values of the field table as a scene file has them: what `read` reads back as the same value.

Whoever writes into a scene file takes its texts from here, so that a unit or a word is never spelt a
second time. Everything stands on one line, lists and groups in brackets.
"""

from __future__ import annotations

import datetime
import json
from collections.abc import Callable, Sequence
from decimal import Decimal
from pathlib import Path
from typing import Any

from previz.scene import gel, names
from previz.scene.fields import Field, table
from previz.scene.gel import Gel
from previz.scene.lamp import Output
from previz.scene.piece import PartSurface
from previz.scene.records import Record, Target
from previz.scene.surface import Surface
from previz.units import DIMENSIONS


def number(value: float) -> str:
    """Return a number in plain digits that read back as the same double."""
    text = format(Decimal(repr(float(value))).normalize(), "f")
    return "0" if text == "-0" else text


def percent(value: float) -> str:
    """Return a share as a percentage that reads back as the same double."""
    return f"{format((Decimal(repr(float(value))) * 100).normalize(), 'f')} %"


def quantity(value: float, dimension: str) -> str:
    """Return a quantity in the unit that is used inside, to its last digit."""
    if dimension == "fraction":
        return percent(value)
    if dimension == "t_stop":
        return f"T{number(value)}"
    sizes = DIMENSIONS[dimension].units
    unit = next(name for name, size in sizes.items() if size == "1")
    return f"{number(value)} {unit}".rstrip()


def text_of(entry: Field, value: Any, folder: Path) -> str:
    """Return the text of a field's value.

    Parameters
    ----------
    entry : Field
        Of the table.
    value : object
        As the record holds it.
    folder : Path
        Of the scene file, which files are named from.

    Raises
    ------
    ValueError
        Values of that kind are not written by previz.
    """
    if value is None:
        return "none"
    if entry.kind not in WRITERS:
        raise ValueError(f"a field of kind '{entry.kind}' is not written")
    return WRITERS[entry.kind](entry, value, folder)


def fields(record: Record, folder: Path, before: Record | None = None, *,
           first: Sequence[str] = ()) -> list[str]:
    """Return 'field: value' of what differs from another record, or from what fields have unwritten.

    Parameters
    ----------
    record : Record
    folder : Path
        Of the scene file.
    before : Record, optional
        Of the same class.
    first : sequence of str
        Fields that are to stand before the others, which keep the table's order.
    """
    entries = table(type(record))
    order = [*(name for name in first if name in entries), *(name for name in entries if name not in first)]
    found = []
    for name in order:
        value = getattr(record, name)
        unchanged = entries[name].default if before is None else getattr(before, name)
        if value != unchanged:
            found.append(f"{name}: {text_of(entries[name], value, folder)}")
    return found


def group(texts: Sequence[str]) -> str:
    """Return fields as a group in brackets."""
    return f"{{{', '.join(texts)}}}"


def gels(sheets: Sequence[Gel], folder: Path) -> str:
    """Return the gels of a lamp: a trade name where a sheet has one, else its figures."""
    if not sheets:
        return "none"
    made = [sheet.name if sheet.name in gel.NAMES else group(fields(sheet, folder)) for sheet in sheets]
    return f"[{', '.join(made)}]" if len(made) > 1 else made[0]


def moment(value: datetime.datetime) -> str:
    """Return date, time of day and hours from UTC."""
    seconds = ":%S" if value.second else ""
    return f"{value.isoformat(' ')[:10]} {value:%H:%M}{seconds} {value.isoformat()[-6:]}"


def _quantity(entry: Field, value: float, folder: Path) -> str:
    return quantity(value, entry.dimension or "number")


def _listed(entry: Field, value: Sequence[float], folder: Path) -> str:
    # On the floor a place is written by two numbers, where it may be.
    if entry.counts == (2, 3) and len(value) == 3 and value[2] == 0:
        value = value[:2]
    return f"[{', '.join(quantity(each, entry.dimension or 'number') for each in value)}]"


def _target(entry: Field, value: Target | float, folder: Path) -> str:
    if not isinstance(value, Target):
        return quantity(value, entry.dimension or "number")
    if value.point is None:
        return value.text
    return f"[{', '.join(quantity(each, 'length') for each in value.point)}]"


def _output(entry: Field, value: Output, folder: Path) -> str:
    at = "" if value.distance is None else f" at {quantity(value.distance, 'length')}"
    return f"{number(value.value)} {value.unit}{at}"


def _text(entry: Field, value: str, folder: Path) -> str:
    # A plain word needs no quotes, and reads better without.
    return value if names.fault(value) is None else json.dumps(value, ensure_ascii=False)


def _record(entry: Field, value: Record, folder: Path) -> str:
    return group(fields(value, folder))


def _surface(entry: Field, value: Surface, folder: Path) -> str:
    if value.name is not None and value == Surface(name=value.name):
        return value.name
    return _record(entry, value, folder)


def _parts(entry: Field, value: Sequence[PartSurface], folder: Path) -> str:
    return group([f"{each.part}: {text_of(_SURFACE, each.surface, folder)}" for each in value])


_SURFACE = Field("surface", "")


def _wears(entry: Field, value: Sequence[Any], folder: Path) -> str:
    made = []
    for garment in value:
        texts = fields(garment, folder)
        made.append(group([f"kind: {garment.kind}", *texts]) if texts else garment.kind)
    return f"[{', '.join(made)}]"


WRITERS: dict[str, Callable[[Field, Any, Path], str]] = {
    "quantity": _quantity,
    "text": _text,
    "name": _text,
    "choice": lambda entry, value, folder: str(value),
    "yes_no": lambda entry, value, folder: "yes" if value else "no",
    "target": _target,
    "point": _listed,
    "lengths": _listed,
    "integers": lambda entry, value, folder: f"[{', '.join(str(each) for each in value)}]",
    "moment": lambda entry, value, folder: moment(value),
    "file": lambda entry, value, folder: json.dumps(value.relative_to(folder).as_posix()),
    "record": _record,
    "colour": lambda entry, value, folder: f"[{', '.join(number(each) for each in value)}]",
    "gels": lambda entry, value, folder: gels(value, folder),
    "output": _output,
    "sensor": lambda entry, value, folder: f"[{', '.join(quantity(each, 'length') for each in value)}]",
    "surface": _surface,
    "parts": _parts,
    "wears": _wears,
    "spectrum": lambda entry, value, folder: value if isinstance(value, str) else _record(
        entry, value, folder),
}
"""How each kind of field is written; the others are not."""
