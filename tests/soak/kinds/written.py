"""Scenes written anew from the field table: any field, at and beyond the ends of its range."""

from __future__ import annotations

import functools
from pathlib import Path

from hypothesis import strategies as st

from previz.scene.camera import SENSORS
from previz.scene.colour import PALETTE
from previz.scene.fields import Field, table
from previz.scene.gel import NAMES, Gel
from previz.scene.light import Consumption, OwnSpectrum
from previz.scene.options import ITEM_SECTIONS
from previz.scene.scene import Scene
from previz.scene.surface import LIBRARY, Surface
from previz.scene.wear import GARMENTS
from previz.units import DIMENSIONS

from .scenes import dumped
from .staged import checked, staged

THINGS = ("one", "two", "three", "four", "five")
"""Names of things, few, so that things name each other."""

POINTS = ("", ".eyes", ".face", ".top", ".centre", ".left cheek", ".chest", ".nowhere")
HARD = ("0", "-1", "1e-300", "1e300", "nan", "1e-7", "1e9", "")
WIDE = 24
"""Of so many values one is wrong on purpose."""


# Strategies are made once for each field: to make them takes longer than to draw from them.


@functools.cache
def _quantity(entry: Field):
    """Return the strategy of a quantity in the field's range, often at its ends, in any of its units."""
    units = DIMENSIONS[entry.dimension or "number"].units
    low = next((each for each in (entry.minimum, entry.above) if each is not None), -1e4)
    high = entry.maximum if entry.maximum is not None else max(abs(low), 1.0) * 1e4
    ends = [each for each in (entry.minimum, entry.maximum) if each is not None]
    usual = [float(each) for each in (entry.default,) if isinstance(each, float | int)]
    inside = st.floats(low, high, exclude_min=entry.minimum is None and entry.above is not None)
    value = inside if not ends + usual else st.one_of(inside, st.sampled_from(usual * 2 + ends))
    good = st.builds(
        lambda number, unit: f"{number / float(units[unit]):.17g} {unit}".strip(),
        value,
        st.sampled_from(list(units)),
    )
    return _now_and_then(st.builds("{} {}".format, st.sampled_from(HARD), st.sampled_from(list(units))), good)


def _now_and_then(seldom, mostly):
    return _ONE_IN.flatmap(lambda number: seldom if number == 0 else mostly)


_ONE_IN = st.integers(0, WIDE)
_METRES = Field("quantity", "", dimension="length", minimum=-5.0, maximum=5.0)
_NEAR = Field("quantity", "", dimension="length", above=0.0, maximum=4.0)
_SHARE = Field("quantity", "", dimension="number", minimum=0.0, maximum=1.0)


@functools.cache
def _target(entry: Field):
    points = st.lists(_quantity(_METRES), min_size=3, max_size=3)
    named = st.builds("{}{}".format, st.sampled_from(THINGS[:3]), st.sampled_from(("",) * 8 + POINTS))
    return st.one_of(named, points, *([_quantity(entry)] if entry.dimension else ()))


@functools.cache
def _lengths(entry: Field):
    one = Field(
        "quantity", "", dimension="length", minimum=entry.minimum, maximum=entry.maximum, above=entry.above
    )
    near = _NEAR if entry.kind == "lengths" else _METRES
    return st.one_of(
        [
            st.lists(_now_and_then(_quantity(one), _quantity(near)), min_size=count, max_size=count)
            for count in entry.counts
        ]
    )


_LIGHT = st.builds(
    "{} {}".format,
    st.sampled_from(("450", "1200", "3e3", "1e-9", "1e12", "0")),
    st.sampled_from(("lm", "lm", "cd", "cd/m2", "lx at 1 m", "lx at 0 m", "klm")),
)
_INTEGERS = st.lists(st.sampled_from(("0", "1", "2", "3", "12", "999")), min_size=2, max_size=2)
_MOMENTS = st.sampled_from(
    (
        "2026-10-14 21:30 +02:00",
        "2026-06-21 12:00 +00:00",
        "0001-01-01 00:00 +14:00",
        "9999-12-31 23:59 -12:00",
        "2026-02-29 12:00 +01:00",
    )
)
_JOINTS = st.dictionaries(
    st.sampled_from(("left elbow", "right knee", "neck", "waist", "left wrist")),
    st.builds("{} deg".format, st.integers(-180, 180)),
    max_size=2,
)


def _value(entry: Field, deep: int):
    """Return the strategy of a field's value."""
    if entry.kind in _PLAIN:
        return _PLAIN[entry.kind]
    match entry.kind:
        case "quantity":
            return _quantity(entry)
        case "choice":
            return st.sampled_from((*entry.choices * 8, "none"))
        case "target":
            return _target(entry)
        case "point" | "lengths":
            return _lengths(entry)
        case "range":
            return st.builds("{} to {}".format, _quantity(entry), _quantity(entry))
        case "quantities":
            return st.lists(_quantity(entry), min_size=1, max_size=3)
        case "gel names":
            return st.lists(st.sampled_from((*NAMES, "nd 9")), min_size=1, max_size=3)
        case "surface":
            return st.one_of(st.sampled_from((*LIBRARY, "glass", "thin glass")), _record(Surface, deep + 1))
        case "parts":
            parts = st.sampled_from(("legs", "handles", "seat", "nothing"))
            return st.dictionaries(parts, st.sampled_from((*LIBRARY, "glass")), max_size=2)
        case "gels":
            return st.lists(
                st.one_of(st.sampled_from((*NAMES, "nd 0.3", "nd 9")), _record(Gel, deep + 1)), max_size=3
            )
        case "output":
            return st.one_of(_LIGHT, _record(Consumption, deep + 1))
        case "spectrum":
            return st.one_of(st.sampled_from(entry.choices), _record(OwnSpectrum, deep + 1))
        case "file":
            return st.sampled_from(
                [f"{name}{suffix}" for name in ("missing", "../out") for suffix in entry.suffixes]
            )
        case "record":
            return _record(entry.record, deep + 1)
        case "items":
            return _items(entry, deep)
    raise ValueError(f"no value is known of a field of kind '{entry.kind}'")


_PLAIN = {
    "yes_no": st.sampled_from(("yes", "no") * 8 + ("maybe",)),
    "integers": _INTEGERS,
    "moment": _MOMENTS,
    "joints": _JOINTS,
    "wears": st.lists(st.one_of(st.sampled_from((*GARMENTS, "crown")), st.fixed_dictionaries(
        {"kind": st.sampled_from(tuple(GARMENTS))}, optional={"open": st.sampled_from(("yes", "no"))})),
        max_size=5),
    "name": st.sampled_from(THINGS),
    "text": st.sampled_from(("Depot", "Yard", "", "x" * 201)),
    "sensor": st.sampled_from((*SENSORS, "[24.9 mm, 14 mm]")),
    "colour": st.one_of(
        st.sampled_from((*PALETTE, "#97a488", "#000000")), st.lists(_quantity(_SHARE), min_size=3, max_size=3)
    ),
}
"""Kind of field -> strategy, where it follows from the kind alone."""


def _items(entry: Field, deep: int):
    records = list(entry.record.values()) if isinstance(entry.record, dict) else [entry.record]
    return st.lists(st.one_of([_record(cls, deep + 1) for cls in records]), min_size=1, max_size=2)


@functools.cache
def _record(cls, deep: int = 0):
    """Return the strategy of a record: what is required, and a few of its other fields."""
    entries = {name: entry for name, entry in table(cls).items() if entry.kind != "items" or deep < 2}
    free = [name for name, entry in entries.items() if not entry.required and entry.kind != "file"]
    chosen = st.lists(st.sampled_from(free), max_size=4) if free else st.just([])
    one_of = st.sampled_from(list(cls.one_of)) if getattr(cls, "one_of", ()) else None
    values = {name: st.deferred(lambda entry=entry: _value(entry, deep)) for name, entry in entries.items()}

    @st.composite
    def record(draw) -> dict:
        wanted = {*draw(chosen), *([draw(one_of)] if one_of is not None else ())}
        made = {"kind": cls.kind} if isinstance(getattr(cls, "kind", None), str) else {}
        for name, entry in entries.items():
            if entry.required or name in wanted:
                made[name] = draw(values[name])
        return made

    return record()


_SCENE, _MORE = st.deferred(lambda: _record(Scene)), st.integers(0, 3)


@st.composite
def _scene(draw) -> dict:
    """A scene of a few sections, its things of different names."""
    tree = {"previz": "1", **draw(_SCENE)}
    number = 0
    for section in [tree.get(name) for name in ITEM_SECTIONS]:
        for each in section if isinstance(section, list) else ():
            each["name"] = THINGS[number % len(THINGS)] + ("" if number < len(THINGS) else f" {number}")
            number += 1
    if draw(_MORE) == 0:
        tree["options"] = {
            "other": {name: value for name, value in draw(_SCENE).items() if name not in ITEM_SECTIONS}
        }
    return tree


class Written:
    """A scene as plain values."""

    name = "written"
    strategy = _scene()

    def begin(self, folder: Path) -> None:
        """Make ready."""
        self.path = folder / "scene.yaml"
        self.number = 0

    def attempt(self, given: dict) -> str:
        """Check it and, where it is good, stage it."""
        self.path.write_text(dumped(given), encoding="utf-8")
        self.number += 1
        return staged(checked(self.path), figures=self.number % 8 == 0)

    def keep(self, given: dict, folder: Path) -> None:
        """Write it."""
        (folder / "scene.yaml").write_text(dumped(given), encoding="utf-8")
