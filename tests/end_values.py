"""Values worth trying in a field of a scene file, made from what the field table says of it.

For each kind of field: its limits and what lies next to them, all but nothing, what is no value at all, and
whether the table allows each.
"""

import math
from collections.abc import Iterator
from typing import Any

from previz.scene.camera import SENSORS
from previz.scene.fields import Field
from previz.scene.joints import JOINT_RANGES
from previz.units import DIMENSIONS

DENORMAL = 5e-324

ODD = (
    "1e400", "-1e400", "1e-400", "1e999999999", "1e-99999999999999999999 m", ".inf", "-.inf", ".nan",
    "nan", "inf", "0x10", "1_000", "1:30", "1e", "+-1", "--1", "1e+", "\u0661\u0662", "\uff11\uff12",
    "\u00bd", "yes", "true", "null", "~", "", " ", "1,5", "1.2.3", "m",
    "1/0 s", "0/0 s", "0:0", "T0", "f/2.8", "1" * 400, "9" * 5000, "0." + "0" * 5000 + "1",
    "x" * 5000, "\u0000", "\ufeff1", "1 m 1", [], {}, [[]], {"a": 1}, ["1 m"] * 5,
)  # fmt: skip
"""What is no value of nearly any field."""


def written(value: float, entry: Field) -> str:
    """Return a number in the unit used inside, to its last digit, as a person may write it."""
    units = DIMENSIONS[entry.dimension].units if entry.dimension else {"": "1"}
    unit = next(unit for unit, factor in units.items() if factor == "1")
    return f"{value!r} {unit}".strip()


def numbers(entry: Field) -> Iterator[tuple[float, bool]]:
    """Yield the numbers worth trying in a field, and whether its limits allow each."""
    low, high, above = entry.minimum, entry.maximum, entry.above
    tried = {DENORMAL, -DENORMAL, 1e-300, 1e-42, 1e-12, 1e-7, 1e-3, 0.0, 1.0, -1.0, 1e308, -1e308}
    for edge in (low, high, above):
        if edge is not None:
            tried |= {edge, math.nextafter(edge, -math.inf), math.nextafter(edge, math.inf)}
    for value in sorted(tried):
        inside = (low is None or value >= low) and (high is None or value <= high)
        yield value, inside and (above is None or value > above)


NOBODY = ("nobody", "crate.nose")
"""Targets that no scene here has; only the scene as a whole shows it."""

TARGETS = (
    ("crate", True), ("crate.top", True), ("A", True), (["2 m", "3.5 m", "0.5 m"], True),
    (["10000 m", "10000 m", "10000 m"], True), (["-10000 m", "-10000 m", "-10000 m"], True),
    (["2 m", "3 m", f"{1.5 + 1e-7!r} m"], True), (["2 m", "3 m", "10000 m"], True),
    (["2 m", "4 m", "3 m"], True), (["2 m", "1 m", "5 m"], True), (["2 m", "1 m", "-5 m"], True),
    (["0 m", "0 m", f"{DENORMAL!r} m"], True), (["10000.001 m", "0 m", "0 m"], False),
    ("crate.top.top", False), (["1 m"], False), *((each, False) for each in NOBODY),
)  # fmt: skip

POINTS = (
    (["0 m", "0 m", "0 m"], True), (["10000 m", "10000 m", "10000 m"], True),
    (["-10000 m", "-10000 m", "-10000 m"], True), (["10000 m", "-10000 m", "1 m"], True),
    ([f"{DENORMAL!r} m"] * 3, True), (["2 m", "5 m", "1 m"], True), (["2 m", "5 m", "5 m"], True),
    (["2 m", "5 m", "-5 m"], True), (["10001 m", "0 m", "0 m"], False), (["0 m"], False),
)  # fmt: skip

COLOURS = (
    ("red", True), ("#000000", True), ("#ffffff", True), ("#0000ff", True), (["0"] * 3, True),
    (["1"] * 3, True),
    ([f"{DENORMAL!r}", "0", "0"], True), (["1", "0", "0"], True), (["0", "0", "1"], True),
    ([f"{1e-30!r}"] * 3, True), (["1.0000001", "0", "0"], False), (["-1e-9", "0", "0"], False),
    ("#12345", False), ("bleu", False),
)  # fmt: skip

MOMENTS = (
    ("2026-06-21 12:00 +02:00", True), ("1900-01-01 00:00 UTC", True), ("2100-12-31 23:59:59 -14:00", True),
    ("2026-12-21 00:00 +14:00", True), ("2026-03-29 02:30 Europe/Paris", True), ("2024-02-29 6:00 Z", True),
    ("2026-02-29 12:00 UTC", False), ("1899-12-31 23:59 UTC", False), ("2101-01-01 00:00 UTC", False),
    ("2026-06-21 24:00 UTC", False), ("2026-06-21 12:60 UTC", False), ("2026-06-21 12:00", False),
    ("2026-06-21 12:00 +99:00", False), ("2026-06-21 12:00 Europe/Nowhere", False),
    ("2026-06-21 12:00 ../../etc/passwd", False), ("2026-06-21 12:00 " + "x" * 5000, False),
    ("0000-00-00 00:00 UTC", False),
)  # fmt: skip

OUTPUTS = (
    ("1e-6 lm", True), ("1e-6 cd", True), ("1e9 lm", True), ("1e9 cd", True), ("1e9 lx at 1000 m", True),
    ("1e-6 lx at 1 cm", True), ("1e-6 lx at 1000 m", True), ("1e9 lx at 1 cm", True),
    ({"watts": "1e6 W", "efficacy": "683 lm/W"}, True), ({"watts": "1e-3 W", "efficacy": "1e-3 lm/W"}, True),
    ({"watts": "1e-6 W", "efficacy": "1e-3 lm/W"}, False), (f"{DENORMAL!r} lm", False), ("1e-300 cd", False),
    (f"1e9 lx at {DENORMAL!r} m", False), ("1 lx at 9 mm", False), ("0 lm", False),
    ("-1 lm", False), ("1.1e9 lm", False), ("1 lx at 0 m", False), ("1 lx at 1001 m", False),
    ("1e400 lm", False), ("9000", False), ("100 W", False), ("1e9 lx at 1e400 m", False),
)  # fmt: skip

GELS = (
    ("half ctb", True), ("full minus green", True), ("nd 4.0", True), ("nd 0.0", True),
    (["full cto"] * 40, True),
    (["nd 4"] * 200, True), (["full ctb"] * 3, True), ("nd 4.1", False), ("nd " + "9" * 400, False),
    ("nd -1", False), ("half", False), (["full cto", "blue"], False),
)  # fmt: skip


WEARS = (
    (["shirt", "trousers"], True), (["dress"], True), ({"kind": "overalls", "style": "boiler suit"}, True),
    (["shirt", {"kind": "coat", "open": "yes", "collar": "up"}, "skirt", "apron", "scarf", "wool hat",
      "shoes"], True),
    ([], False), (["shirt"] * 13, False), (["crown", "trousers"], False), ([{"cloth": "wool"}], False),
    ([["shirt"]], False),
)  # fmt: skip


def joints() -> Iterator[tuple[Any, bool]]:
    """Yield figures' joints, each at its ends, and all at once."""
    for side in (0, 1):
        yield {name: f"{ends[side]!r} deg" for name, ends in JOINT_RANGES.items()}, True
    for name, (low, high) in JOINT_RANGES.items():
        yield {name: f"{high!r} deg"}, True
        yield {name: f"{low!r} deg"}, True
        yield {name: f"{math.nextafter(high, math.inf)!r} deg"}, False


def values(entry: Field) -> Iterator[tuple[Any, bool]]:
    """Yield what to write in a field, and whether the table allows it."""
    kind = entry.kind
    if kind in ("quantity", "target") and entry.dimension:
        yield from ((written(value, entry), inside) for value, inside in numbers(entry))
    if kind in ("lengths", "sensor"):
        count = 2 if kind == "sensor" else entry.counts[0]
        for value, inside in numbers(entry):
            yield [written(value, entry)] * count, inside
            if inside:
                others = [written(min(1.0, entry.maximum), entry)] * (count - 1)
                yield [written(value, entry), *others], True
                yield [*others, written(value, entry)], True
    if kind == "integers":
        for value in (0, 1, 2, 40, 41, -1, 10**9, 10**30):
            yield [str(value)] * entry.counts[0], entry.minimum <= value <= entry.maximum
        yield ["1.5", "1"], False
    if kind == "sensor":
        yield from ((name, True) for name in SENSORS)
    if kind == "choice":
        yield from ((word, True) for word in entry.choices[::1 if len(entry.choices) < 30 else 9])
        yield "nonsense", False
    if kind == "spectrum":
        yield from ((word, True) for word in entry.choices)
    if kind == "yes_no":
        yield from ((word, True) for word in ("yes", "no", "true", "false"))
        yield from ((word, False) for word in ("maybe", "1", "0", "on", "True"))
    if kind == "text":
        yield from (("x" * 200, True), ("x" * 201, False), ("a\nb", False), ("a\u202eb", False))
    if kind == "name":
        yield from (("x" * 60, True), ("x" * 61, False), ("1", False), ("../x", False), ("sun", False))
    fixed = {"target": TARGETS, "point": POINTS, "colour": COLOURS, "moment": MOMENTS, "output": OUTPUTS,
             "gels": GELS}
    yield from fixed.get(kind, ())
    if kind == "joints":
        yield from joints()
    if kind == "wears":
        yield from WEARS
    if kind == "file":
        names = ("../x.csv", "/etc/passwd", "nothing.csv", "x" * 5000, "a\u0000.csv")
        yield from ((name, False) for name in names)
