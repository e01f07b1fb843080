"""The one table of what may be written in a scene file.

Every record of a scene is a frozen dataclass whose fields are made by the helpers below. Each
carries its kind, dimension, default, limits, choices and help. The reader, the JSON Schema and the
program's lists all read this table and nothing else, so they cannot disagree.

The help of a field is its documentation; a record's docstring adds what there is to say beyond it.
A quantity is held in the unit that its dimension has inside: m, lm, lx, cd, K, W, kg, deg; shares as 1
for the whole. A colour is held as linear sRGB, 0 to 1; where its help says hue, only the hue counts.
"""

from __future__ import annotations

import dataclasses
import functools
from dataclasses import dataclass
from typing import Any

from previz.units import DIMENSIONS, show

COMMON_PRACTICE = "common practice, no source"
FROM_MEMORY = "from memory"


LEAST_LENGTH = 1e-4
"""Nothing that is built is smaller: the thickness of paper. At 10 m from the origin single-precision
positions are good to a hundredth of it. [m]  Common practice, no source."""

LEAST_SHARE = 1e-4
"""Least share of light that anything lets through that lets any through: density 4, behind which nothing
useful is left. [1]  Common practice, no source."""


class _Marker:
    """A value that stands for no value; equal only to itself."""

    def __init__(self, label):
        self._label = label

    def __repr__(self):
        return self._label

    def __reduce__(self):
        return self._label

    def __bool__(self):
        return False


REQUIRED = _Marker("REQUIRED")
"""The default of a field that must be written."""

INVALID = _Marker("INVALID")
"""The value of a field that was written wrong; never in a scene that `load` returns."""


@dataclass(frozen=True)
class Field:
    """One thing that may be written, and everything that is known about it.

    Parameters
    ----------
    kind : str
        How it is read; a key of `previz.scene.reading.KINDS`.
    help : str
        What it means; a phrase that ends in a full stop.
    default : object
        Value where it is not written; `REQUIRED` where it must be. A default of None also lets
        the word 'none' be written.
    dimension : str or None
        Sort of quantity, a key of `previz.units.DIMENSIONS`.
    usual : str or None
        Unit to suggest, where it is not the dimension's own (lenses are given in mm).
    minimum, maximum : float or None
        Least and greatest value allowed, in the unit used inside.
    above : float or None
        Value that it must exceed.
    choices : tuple of str
        The words that may be written.
    counts : tuple of int
        How many values a list may have.
    record : type, dict of str to type, or None
        Record that a mapping becomes; a dict chooses it by the item's `kind`.
    base : type or None
        What the records of a dict share.
    suffixes : tuple of str
        Endings of a file's name that are allowed.
    example : str
        A value as written, for messages.
    source : str
        Mark of where the default comes from.
    none_allowed : bool
        True lets 'none' be written although the default is something.
    """

    kind: str
    help: str
    default: Any = REQUIRED
    dimension: str | None = None
    usual: str | None = None
    minimum: float | None = None
    maximum: float | None = None
    above: float | None = None
    choices: tuple[str, ...] = ()
    counts: tuple[int, ...] = ()
    record: Any = None
    base: type | None = None
    suffixes: tuple[str, ...] = ()
    example: str = ""
    source: str = ""
    none_allowed: bool = False

    @property
    def required(self) -> bool:
        """True where it must be written."""
        return self.default is REQUIRED

    @property
    def optional(self) -> bool:
        """True where 'none' may be written."""
        return self.default is None or self.none_allowed

    @property
    def unit(self) -> str:
        """Unit to suggest; '' for none."""
        if self.dimension is None:
            return ""
        return self.usual or DIMENSIONS[self.dimension].usual

    @property
    def range_text(self) -> str:
        """The limits in words, '' where there are none."""
        low = self.above if self.minimum is None else self.minimum
        if low is None and self.maximum is None:
            return ""
        if low is None:
            return f"{self.show(self.maximum)} or less"
        if self.maximum is None:
            return f"more than {self.show(low)}" if self.minimum is None else f"{self.show(low)} or more"
        if self.minimum is None:
            return f"more than {self.show(low)}, up to {self.show(self.maximum)}"
        return f"{self.show(low)} to {self.show(self.maximum)}"

    def show(self, value: Any) -> str:
        """Return a value, as the record holds it, as a person would write it."""
        if value is None or value == ():
            return "none"
        if isinstance(value, bool):
            return "yes" if value else "no"
        if self.kind == "range" and isinstance(value, tuple):
            return " to ".join(self.show(each) for each in value)
        if isinstance(value, tuple):
            return f"[{', '.join(self.show(each) for each in value)}]"
        if isinstance(value, int | float):
            return show(value, self.dimension or "number")
        return str(value)


def _made(entry):
    """Return a dataclass field that carries a table entry."""
    if entry.required:
        return dataclasses.field(metadata={"entry": entry})
    return dataclasses.field(default=entry.default, metadata={"entry": entry})


def quantity(dimension: str, help: str, default: Any = REQUIRED, **limits: Any):
    """Return a field for a number with a unit.

    Parameters
    ----------
    dimension : str
        A key of `previz.units.DIMENSIONS`.
    help : str
        What it means.
    default : float, None or REQUIRED
        In the unit used inside.
    **limits
        Other parameters of `Field`.
    """
    limits.setdefault("example", DIMENSIONS[dimension].example)
    return _made(Field("quantity", help, default, dimension=dimension, **limits))


def share(help: str, default: Any, **limits: Any):
    """Return a field for a share of a whole, from 0 to 1 unless limited; parameters as in `quantity`."""
    return quantity("fraction", help, default, **{"minimum": 0.0, "maximum": 1.0, **limits})


def text(help: str, default: Any = REQUIRED, **more: Any):
    """Return a field for free text; parameters as in `quantity`."""
    return _made(Field("text", help, default, **more))


def named(help: str, example: str = "desk lamp"):
    """Return the field for an item's own name."""
    return _made(Field("name", help, example=example))


def choice(choices: tuple[str, ...], help: str, default: Any = REQUIRED, **more: Any):
    """Return a field for one of a few words; parameters as in `quantity`."""
    more.setdefault("example", choices[0])
    return _made(Field("choice", help, default, choices=tuple(choices), **more))


def yes_no(help: str, default: bool):
    """Return a field for yes or no; parameters as in `quantity`."""
    return _made(Field("yes_no", help, default, example="yes"))


def target(help: str, default: Any = REQUIRED, dimension: str | None = None, **more: Any):
    """Return a field for a `Target`; parameters as in `quantity`.

    With a `dimension`, 'angle' or 'length', a plain quantity may be written instead of a target.
    """
    more.setdefault("example", "clerk.eyes")
    return _made(Field("target", help, default, dimension=dimension, **more))


def point(help: str, default: Any = REQUIRED, counts: tuple[int, ...] = (3,)):
    """Return a field for a position in the world [m]; where `counts` has 2, two numbers lie at z = 0."""
    example = "[1.6 m, 2.4 m]" if 2 in counts else "[1.1 m, 2.5 m, 1.15 m]"
    # 10 km keeps single-precision positions good to a millimetre.
    return _made(
        Field("point", help, default, dimension="length", counts=counts, example=example,
              minimum=-10_000.0, maximum=10_000.0)
    )  # fmt: skip


def size(count: int, help: str, default: Any = REQUIRED, **more: Any):
    """Return a field for the lengths of a thing's 2 or 3 edges; parameters as in `quantity`."""
    more.setdefault("example", "[1.2 m, 1.2 m]" if count == 2 else "[1.4 m, 0.7 m, 0.75 m]")
    more.setdefault("minimum", LEAST_LENGTH)
    more.setdefault("maximum", 1000.0)
    return _made(Field("lengths", help, default, dimension="length", counts=(count,), **more))


def integers(count: int, help: str, default: Any = REQUIRED, **more: Any):
    """Return a field for a list of whole numbers; parameters as in `size`."""
    return _made(Field("integers", help, default, counts=(count,), **more))


def file(suffixes: tuple[str, ...], help: str, default: Any = None, **more: Any):
    """Return a field for a file that lies in the scene's own folder; parameters as in `quantity`.

    `suffixes` are the endings that are allowed, lower case, with the dot; `maximum` is the greatest
    size. [bytes]
    """
    return _made(Field("file", help, default, suffixes=suffixes, **more))


def special(kind: str, help: str, default: Any = REQUIRED, **more: Any):
    """Return a field of a kind of its own; parameters as in `quantity`.

    `kind` is a key of `previz.scene.reading.KINDS`: surface, colour, gels, output, sensor ...
    """
    return _made(Field(kind, help, default, **more))


def record(cls: type, help: str, default: Any = REQUIRED, **more: Any):
    """Return a field for one mapping that becomes a record; parameters as in `quantity`."""
    return _made(Field("record", help, default, record=cls, **more))


def items(cls: Any, help: str, *, base: type | None = None):
    """Return a field for a list of named items.

    Parameters
    ----------
    cls : type or dict of str to type
        The record of an item, or the record for each `kind` of item.
    help : str
        What the list holds.
    base : type or None
        What all kinds share; by default `cls` itself.
    """
    return _made(Field("items", help, (), record=cls, base=base or cls))


@functools.cache
def table(cls: type) -> dict[str, Field]:
    """Return the table of a record: name of each field to what is known about it.

    In the order of the record's definition; do not change it.
    """
    return {
        each.name: each.metadata["entry"]
        for each in dataclasses.fields(cls)
        if "entry" in each.metadata
    }
