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
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from end_values import DENORMAL, NOBODY, ODD, values, written

from previz.scene.camera import Camera, SpotPatch
from previz.scene.daylight import Daylight, Moon, Sun
from previz.scene.fields import table
from previz.scene.figure import Figure
from previz.scene.gel import Gel
from previz.scene.haze import Haze
from previz.scene.light import LIGHTS, Consumption, Glow, Light, OwnSpectrum
from previz.scene.mains import Generator, Mains
from previz.scene.modifiers import Board, Diffusion, Flag, Grid, Held, Net
from previz.scene.piece import Piece
from previz.scene.room import Opening, Room
from previz.scene.scene import Scene
from previz.scene.surface import Surface
from previz.scene.wants import Want


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
    Want: {"thing": "crate", "stops": "-2"},
    Mains: {"phases": "3"},
    Generator: {"rating": "20 kVA"},
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
    (Daylight, "latitude"): ("sun",), (Daylight, "longitude"): ("sun",), (Want, "cct"): ("thing", "stops"),
    (Want, "lit_to_shadow"): ("thing", "stops"), (Want, "side"): ("thing",), (Want, "meter"): ("thing",),
    (Generator, "power"): ("rating",),
    **{(Want, field): ("stops",) for field in ("at_most", "at_least", "hold", "black")},
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
    (Surface, "roughness"): {"gloss": "50 %"}, (Surface, "pattern_size"): {"pattern": "planks"},
    (Surface, "second"): {"pattern": "brick"}, (Surface, "relief"): {"pattern": "planks"},
    (Piece, "mesh"): {"units": "m", "up": "z"},
    (Piece, "scale"): {"mesh": "models/levers.obj", "units": "cm", "up": "z", "shape": None, "size": None},
}  # fmt: skip
"""Fields that go along with others; None leaves one out."""


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


__all__ = ["BASE", "DENORMAL", "NOBODY", "ODD", "End", "Host", "as_text", "cases", "edges", "hosts", "means",
           "sample", "together", "values", "written"]
