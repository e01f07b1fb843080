"""Scenes at the ends of what the field table allows, one field at a time; made from that table.

`cases()` goes through every field of every record that a scene can hold, lamps of every kind included, and
yields a whole scene for each value worth trying: least, greatest, barely more than nothing, just outside,
and texts that other readers take for numbers. `edges()` has of these what a minute allows: each record at
one place, and only what lies at a limit. `together()` puts things of one list into one scene. Scenes are
plain JSON, which is YAML.
"""

import copy
import functools
import json
import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from previz.scene.camera import SENSORS, Camera, SpotPatch
from previz.scene.daylight import Daylight, Moon, Sun
from previz.scene.fields import Field, table
from previz.scene.figure import Figure
from previz.scene.gel import Gel
from previz.scene.haze import Haze
from previz.scene.joints import JOINT_RANGES
from previz.scene.light import LIGHTS, Consumption, Glow, Light, OwnSpectrum
from previz.scene.modifiers import Board, Diffusion, Flag, Grid, Held, Net
from previz.scene.piece import Piece
from previz.scene.room import Opening, Room
from previz.scene.scene import Scene
from previz.scene.surface import Surface
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


@dataclass(frozen=True)
class End:
    """A scene with one field at an end.

    Parameters
    ----------
    record : str
        Where the record stands, such as 'lights[fresnel].barn_doors'.
    field, kind : str
    value : object
        As written.
    inside : bool
        Whether the table allows it; what several fields have to fit together may refuse it still.
    scene : dict
        The whole of it.
    """

    record: str
    field: str
    kind: str
    value: Any
    inside: bool
    scene: dict[str, Any]

    @property
    def label(self) -> str:
        """What a failure is told with."""
        return f"{self.record}.{self.field} = {json.dumps(self.value)[:80]}"

    @property
    def text(self) -> str:
        """The scene as a file."""
        return as_text(self.scene)


def as_text(scene: dict[str, Any]) -> str:
    """Return a scene as a file."""
    return json.dumps(scene, ensure_ascii=False)


BASE = {
    "previz": "1",
    "ground": "grey card",
    "pieces": [{"name": "crate", "shape": "box", "at": "2 m, 5 m", "size": ["1 m", "1 m", "1 m"]}],
    "lights": [{"name": "key", "kind": "bulb", "at": ["3 m", "2 m", "2 m"], "output": "900 lm"}],
    "cameras": [{"name": "A", "at": ["2 m", "1 m", "1.5 m"], "aim": "crate", "lens": "25 mm", "stop": "T2.8",
                 "iso": "800"}],
    "meters": [{"name": "middle", "at": ["2 m", "3 m", "1 m"]}],
}  # fmt: skip
BASE["pieces"][0]["at"] = ["2 m", "5 m"]

ROOM = {"size": ["4 m", "8 m", "3 m"],
        "openings": [{"name": "window", "wall": "west", "along": "2 m", "sill": "1 m",
                      "size": ["1.5 m", "1.2 m"]}]}  # fmt: skip

SUN = {"azimuth": "270 deg", "altitude": "30 deg"}

SAMPLES: dict[type, dict[str, Any]] = {
    Room: ROOM,
    Opening: ROOM["openings"][0] | {"name": "hole"},
    Piece: {"shape": "box", "at": ["2 m", "4 m"], "size": ["0.5 m", "0.5 m", "0.5 m"]},
    Figure: {"at": ["2 m", "4 m"], "facing": "-90 deg"},
    Daylight: {"sky": "clear", "sun": SUN},
    Sun: SUN,
    Moon: {"azimuth": "150 deg", "altitude": "35 deg"},
    Haze: {"density": "0.02 /m"},
    Surface: {"reflectance": "50 %"},
    Gel: {"mired": "+100 mired", "transmission": "50 %"},
    OwnSpectrum: {"cie": "FL11"},
    Consumption: {"watts": "100 W", "efficacy": "20 lm/W"},
    Camera: {**BASE["cameras"][0], "name": "thing"},
    SpotPatch: {"across": "50 %", "down": "50 %"},
    **{cls: {"at": ["2 m", "3 m", "1.5 m"], "facing": "A", "size": ["1 m", "1 m"]}
       for cls in (Board, Diffusion, Flag, Net, Grid)},
}  # fmt: skip
"""Records that the examples of their fields do not make, or not to go together."""

INSTEAD = {
    (Haze, "visibility"): ("density",), (Haze, "level"): ("density",), (Surface, "file"): ("reflectance",),
    (Surface, "name"): ("reflectance",), (OwnSpectrum, "file"): ("cie",), (OwnSpectrum, "warm"): ("cie",),
    (OwnSpectrum, "cool"): ("cie",), (SpotPatch, "azimuth"): ("across", "down"),
    (SpotPatch, "altitude"): ("across", "down"), (Held, "before"): ("at", "facing"),
    (Daylight, "time"): ("sun",), (Daylight, "moon"): ("sun",), (Gel, "name"): ("mired", "transmission"),
    (Gel, "file"): ("mired", "transmission"), (Piece, "mesh"): ("shape", "size"),
    (Daylight, "latitude"): ("sun",), (Daylight, "longitude"): ("sun",),
}  # fmt: skip
"""Fields that take the place of others."""

ALONG = {
    (Haze, "contrast"): {"visibility": "60 m"}, (Haze, "low"): {"high": ["4 m", "8 m", "3 m"]},
    (Haze, "high"): {"low": ["0 m", "0 m", "0 m"]}, (SpotPatch, "azimuth"): {"altitude": "30 deg"},
    (SpotPatch, "altitude"): {"azimuth": "30 deg"}, (SpotPatch, "width"): {"height": "10 %"},
    (SpotPatch, "height"): {"width": "10 %"}, (Figure, "seat"): {"pose": "seated"},
    (Figure, "table"): {"pose": "leaning"}, (Held, "distance"): {"before": "lamp"},
    (Daylight, "time"): {"latitude": "51.5 deg", "longitude": "7.1 deg"},
    (Daylight, "latitude"): {"time": "2026-10-14 17:30 +02:00", "longitude": "7.1 deg"},
    (Daylight, "longitude"): {"time": "2026-10-14 12:30 +02:00", "latitude": "51.5 deg"},
    (Daylight, "illuminance"): {"sky": "overcast"}, (Board, "side"): {"surface": None},
    (Surface, "roughness"): {"gloss": "50 %"}, (Piece, "mesh"): {"units": "m", "up": "z"},
    (Piece, "scale"): {"mesh": "models/levers.obj", "units": "cm", "up": "z", "shape": None, "size": None},
}  # fmt: skip
"""Fields that go along with others; None leaves one out."""


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
    if kind == "file":
        names = ("../x.csv", "/etc/passwd", "nothing.csv", "x" * 5000, "a\u0000.csv")
        yield from ((name, False) for name in names)


def sample(cls: type, name: str = "") -> dict[str, Any]:
    """Return the least that makes a record of a class, by the table's own examples."""
    if cls in SAMPLES:
        made = dict(SAMPLES[cls])
    elif issubclass(cls, Light):
        made = {field: _plain(value) for field, value in cls.sample.items()}
        made |= {"kind": cls.kind} | ({} if cls is Glow else {"at": ["2 m", "3 m", "2 m"]})
        if "aim" in made:
            made["aim"] = "crate"
        if cls is Glow:
            made["piece"] = "crate"
    else:
        made = {field: _plain(entry.example) for field, entry in table(cls).items() if entry.required}
    if "name" in table(cls) and cls is not Surface and cls is not Gel:
        made["name"] = name or "thing"
    return made


def _plain(example: str) -> Any:
    if example.startswith("["):
        return [each.strip() for each in example.strip("[]").split(",")]
    return example


@dataclass(frozen=True)
class Host:
    """Where records of a class stand in a scene."""

    label: str
    cls: type
    make: Callable[[dict[str, Any]], dict[str, Any]]

    def scene(self, record: dict[str, Any]) -> dict[str, Any]:
        """Return the whole scene with this record in it."""
        return self.make(record)


def _at_home(record):
    """A scene's own fields over what every scene here has."""
    return {**BASE, **record}


def hosts() -> Iterator[Host]:
    """Yield every place where a record can stand in a scene, lamps of each kind apart."""
    yield Host("scene", Scene, _at_home)
    yield from _within(Scene, "", _at_home, {})


def _within(cls, label, make, own) -> Iterator[Host]:
    for field, entry in table(cls).items():
        path = f"{label}.{field}" if label else field
        for kind, sub, listed in _records(entry):
            if sub is cls:
                continue
            inner = functools.partial(_put, make, own, field, sub, listed)
            where = f"{path}[{kind}]" if kind else path
            yield Host(where, sub, inner)
            yield from _within(sub, where, inner, sample(sub))


def _records(entry):
    """The records that a field can hold: name of its kind, class, whether in a list."""
    if entry.kind == "record":
        yield "", entry.record, False
    elif entry.kind == "items" and isinstance(entry.record, dict):
        yield from ((kind, sub, True) for kind, sub in entry.record.items())
    elif entry.kind == "items":
        yield "", entry.record, True
    else:
        single = {"surface": Surface, "gels": Gel, "spectrum": OwnSpectrum, "output": Consumption}
        if entry.kind in single:
            yield "", single[entry.kind], False


def _put(make, own, field, sub, listed, record):
    """A record in its field of the record around it."""
    if not listed:
        return make({**own, field: record})
    kept = [each for each in BASE.get(field, ()) if each["name"] != record.get("name")]
    needs = ({"lights": [*BASE["lights"], {**sample(LIGHTS["soft box"]), "name": "lamp"}]}
             if issubclass(sub, Held) and record.get("before") == "lamp" else {})  # fmt: skip
    made = make({**own, field: [*kept, record]})
    return {**made, **needs}


def cases(*, odd: bool = True, labels: tuple[str, ...] = ()) -> Iterator[End]:
    """Yield a scene for each value worth trying of every field of every record.

    Parameters
    ----------
    odd : bool
        Texts that are no value of any field too.
    labels : tuple of str
        Only records whose place begins with one of these; all without any.
    """
    for host in hosts():
        if not labels or host.label.startswith(labels):
            for field, entry in table(host.cls).items():
                tried = values(entry)
                if odd:
                    tried = (*tried, *((each, False) for each in ODD if not means(each, entry)))
                yield from _ends(host, field, tried)


def edges() -> Iterator[End]:
    """Yield what of `cases` lies at a limit, for every field at the first place where it can stand."""
    seen = set()
    for host in hosts():
        for field, entry in table(host.cls).items():
            shared = issubclass(host.cls, Light) and table(Light).get(field) == entry
            key = Light if shared else host.cls, field
            if key not in seen:
                seen.add(key)
                yield from _ends(host, field, (each for each in values(entry) if _at_limit(each[0], entry)))


def _at_limit(value, entry) -> bool:
    """Return whether a number is a limit or all but nothing; True for what is no number."""
    if entry.dimension is None or entry.kind not in ("quantity", "target", "lengths"):
        return entry.kind != "joints"
    found = value if isinstance(value, list) else [value]
    number = found[0].partition(" ")[0]
    return number[:1] in "-.0123456789" and float(number) in (entry.minimum, entry.maximum, 0.0, DENORMAL)


def _ends(host, field, tried) -> Iterator[End]:
    entry = table(host.cls)[field]
    if entry.kind in ("items", "record"):
        tried = [each for each in tried if each[0] in ODD]
    around = {**sample(host.cls), **_along(host.cls, field)}
    around = {key: value for key, value in around.items() if value is not None}
    for value, inside in tried:
        yield End(host.label, field, entry.kind, value, inside, host.scene({**around, field: value}))


LISTS = ("pieces", "lights", "boards", "diffusion", "flags", "nets", "grids", "meters", "cameras", "spots")
"""Lists whose things can stand in one scene together."""


def together(ends: Iterable[End], count: int = 20) -> Iterator[tuple[list[End], dict[str, Any]]]:
    """Yield ends with a scene that has them all: up to `count` things of one list, or a single one.

    Things get names and places of their own.
    """
    groups: dict[str, list[End]] = {}
    for end in ends:
        top = end.record.split(".")[0].split("[")[0]
        if top not in LISTS or end.field == "name":
            yield [end], end.scene
            continue
        group = groups.setdefault(top, [])
        group.append(end)
        if len(group) == count:
            yield _joined(top, groups.pop(top))
    for top, group in groups.items():
        yield _joined(top, group)


def _joined(top, ends):
    scene = copy.deepcopy(BASE)
    for number, end in enumerate(ends):
        more = [copy.deepcopy(each) for each in end.scene[top] if each["name"] == "thing"]
        for each in more:
            each["name"] = f"thing {chr(ord('a') + number)}"
            if "at" in each and end.field != "at":
                across = 1.5 + number % 5 * 1.3
                each["at"] = [f"{across} m", f"{3 + number // 5} m", *each["at"][2:]]
        scene[top] = [*scene.get(top, ()), *more]
        if len(end.scene["lights"]) > len(scene["lights"]):
            scene["lights"] = end.scene["lights"]
    return ends, scene


def _along(cls, field):
    """What else is written or left out where a field is."""
    found = {}
    for (owner, name), others in INSTEAD.items():
        if name == field and issubclass(cls, owner):
            found |= dict.fromkeys(others)
    for (owner, name), more in ALONG.items():
        if name == field and issubclass(cls, owner):
            found |= more
    if found.get("before"):
        found |= {"at": None, "facing": None}
    return found


def means(text, entry):
    """Return whether an odd text does mean something in a field."""
    if not isinstance(text, str):
        return text in ([], {}) and entry.kind in ("gels", "items", "joints", "record", "surface", "spectrum")
    words = ("text", "name", "yes_no", "file", "choice", "moment", "target")
    return entry.kind in words or text.startswith(("1e-", "1" * 400, "0.00"))
