"""What of a scene stands on the page's plan, what may be changed of each thing, and what can be put in."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from previz.plans.extent import marks_of
from previz.scene.camera import Camera
from previz.scene.fields import REQUIRED, Field, table
from previz.scene.figure import ANCHORS, Figure
from previz.scene.furniture import KINDS
from previz.scene.light import LIGHTS, Glow, Light
from previz.scene.modifiers import Board, Diffusion, Flag, Grid, Held, Net, Sheet
from previz.scene.piece import Piece
from previz.scene.records import Item, Target
from previz.scene.scene import Scene
from previz.scene.writing import quantity, text_of
from previz.stage.records import Stage
from previz.units import show

SECTIONS = ("pieces", "figures", "boards", "diffusion", "flags", "nets", "grids", "cameras", "lights")
"""Lists of a scene whose things stand on the plan, the last on top."""

SHEETS: Mapping[str, type[Sheet]] = {
    "boards": Board, "diffusion": Diffusion, "flags": Flag, "nets": Net, "grids": Grid}

TURNED_TO = {"lights": "aim", "cameras": "aim", **dict.fromkeys(SHEETS, "facing")}
"""Field that says what a thing of a section is pointed at."""

MORE = {
    "lights": ("output", "size", "length", "flood", "beam", "field", "edge", "turn"),
    "boards": ("size", "turn"), "diffusion": ("size", "cloth", "distance", "turn"),
    "flags": ("size", "distance", "turn"), "nets": ("size", "layers", "distance", "turn"),
    "grids": ("size", "cell", "depth", "distance", "turn"), "cameras": ("lens", "roll"), "pieces": (),
    "figures": (),
}
"""Fields of a section that are changed beside its plan, as text."""

WORDS = {
    "output": "Output", "size": "Size", "length": "Length", "flood": "Flood", "beam": "Beam",
    "field": "Field", "edge": "Edge", "turn": "Roll", "cloth": "Cloth", "layers": "Layers", "cell": "Cell",
    "depth": "Depth", "lens": "Lens", "roll": "Lean", "distance": "From the lamp", "surface": "Face",
}
"""What those are called."""

CARRIED = ("facing", "pose", "looking_at", "seat", "table", "head_turn", "head_tilt")
"""What a figure takes along from a mark that it leaves."""

STANDS = {"stand": 2.0, "camera": 1.6, "set": 1.0}
"""Height that a lamp is put in at, by what holds its kind. [m]  Common practice, no source."""

UNDER_CEILING = 0.35
"""From the ceiling down to what is put in to hang from it. [m]"""

WITHOUT_CEILING = 4.0
"""Height of that where there is no room. [m]"""

SHEET_HEIGHT = 1.6
"""[m]"""

SHEET_SIZES = {"boards": ["1.2 m", "1.2 m"], "diffusion": ["1.2 m", "1.2 m"], "flags": ["0.6 m", "0.9 m"],
               "nets": ["0.6 m", "0.9 m"], "grids": ["1.2 m", "1.2 m"]}
"""Sizes that sheets are put in with. Common practice, no source."""


ON_TABLES = (
    "book", "books", "paper", "papers", "stack of paper", "ledger", "open ledger", "newspaper", "mug", "cup",
    "plate", "bowl", "teapot", "jug", "urn", "kettle", "saucepan", "bottle", "tumbler", "wine glass", "jar")

PIECE_HEIGHTS = {
    **dict.fromkeys(ON_TABLES, 0.75), "clock": 1.8, "picture": 1.4, "notice board": 1.2, "tool board": 1.1,
    "coat hooks": 0.6, "wall shelf": 1.4, "fire bucket": 1.1, "cable": 2.2, "pipe run": 0.3}
"""Heights of the undersides of pieces that do not stand on the floor. [m]  Common practice, no source."""


def written(entry: Field, value: Any, folder: Path) -> Any:
    """Return a value as an option of a scene file has it: text, or a list of text.

    Raises
    ------
    ValueError
        Values of that kind are not written by previz.
    """
    if entry.kind in ("point", "lengths") and value is not None:
        return [quantity(each, "length") for each in value]
    if isinstance(value, Target) and value.point is not None:
        return [quantity(each, "length") for each in value.point]
    return text_of(entry, value, folder)


def thing_values(section: str, item: Item, before: Item | None, stage: Stage, folder: Path) -> dict:
    """Return what the page knows of one thing beyond its marks.

    Parameters
    ----------
    section : str
        One of `SECTIONS`.
    item, before : Item
        As it stands; as the option has it, None for what was put in.
    folder : Path
        Of the scene file.
    """
    field = TURNED_TO.get(section, "")
    target = getattr(item, field) if field else None
    at = _place(item, stage)
    values: dict[str, Any] = {
        "section": section, "name": item.name, "noun": item.noun, "kind": getattr(item, "kind", ""),
        "at": _rounded(at), "fixed": _fixed(item), "added": before is None,
        "written": {} if before is None else _written(section, before, folder),
        "fields": [_field(item, name, folder) for name in MORE[section] if _has(item, name)],
        "target": None, "angle": None,
    }
    if field and not values["fixed"]:
        point = None if target is None else _point_of(target, stage)
        values["target"] = {"field": field, "text": _said(target),
                            "optional": table(type(item))[field].optional,
                            "point": None if point is None else _rounded(point)}
    if isinstance(item, Piece):
        values["angle"] = {"field": "turn", "deg": item.turn}
    if isinstance(item, Figure):
        values |= _figure(item, stage, folder)
    if isinstance(item, Camera):
        values["lens_mm"] = round(item.lens * 1000, 3)
    if isinstance(item, Light):
        values["on"] = item.on
    return values


def _has(item: Item, name: str) -> bool:
    if name not in table(type(item)):
        return False
    # How far a sheet is from its lamp says nothing where it stands by itself.
    return name != "distance" or getattr(item, "before", None) is not None


def _field(item: Item, name: str, folder: Path) -> dict:
    entry = table(type(item))[name]
    value = getattr(item, name)
    shown = written(entry, value, folder)
    text = f"[{', '.join(shown)}]" if isinstance(shown, list) else shown
    return {"name": name, "label": WORDS[name], "text": text, "choices": list(entry.choices),
            "optional": entry.optional, "help": entry.help}


def _fixed(item: Item) -> str:
    """Return why a thing cannot be moved by itself, '' where it can."""
    if isinstance(item, Glow):
        return f"It is the piece {item.piece.name}, and goes where that goes."
    if isinstance(item, Held) and item.before is not None:
        return f"It is in front of {item.before.name}, and goes where that goes."
    return ""


def _place(item: Item, stage: Stage) -> np.ndarray:
    at = getattr(item, "at", None)
    if at is None:
        grip = next((each for each in stage.grip if each.name == item.name), None)
        return np.asarray(stage.places[item.name] if grip is None else grip.position, float)
    return np.asarray(at, float)


def _rounded(point: Any) -> list[float]:
    return [round(float(each), 4) + 0.0 for each in point]


def _said(target: Any) -> str:
    return target.text if isinstance(target, Target) and target.point is None else ""


def _point_of(target: Target, stage: Stage) -> np.ndarray:
    return np.asarray(stage.places[target.text.strip()] if target.point is None else target.point, float)


def _written(section: str, item: Item, folder: Path) -> dict[str, Any]:
    """Return the fields that are moved on a plan as the option has them."""
    home = item.home if isinstance(item, Figure) and item.home is not None else item
    entries = table(type(item))
    names = ["at", *([TURNED_TO[section]] if section in TURNED_TO else []), *MORE[section]]
    names += ["turn"] if section == "pieces" else ["facing", "mark"] if section == "figures" else []
    found: dict[str, Any] = {name: written(entries[name], getattr(home, name), folder) for name in names
             if name in entries}
    if isinstance(item, Figure):
        found["mark"] = "none" if item.mark is None else item.mark
    return found


def _figure(figure: Figure, stage: Stage, folder: Path) -> dict:
    facing = figure.facing
    if isinstance(facing, Target):
        way = _point_of(facing, stage)[:2] - np.asarray(figure.at[:2], float)
        deg = float(np.degrees(np.arctan2(way[1], way[0])))
    else:
        deg = float(facing)
    carried = {}
    if figure.mark is not None:
        entries = table(Figure)
        home = figure.home
        carried = {name: written(entries[name], getattr(figure, name), folder) for name in CARRIED
                   if home is None or getattr(home, name) != getattr(figure, name)}
    return {"angle": {"field": "facing", "deg": round(deg, 2) % 360.0, "to": _said(facing)},
            "mark": figure.mark, "carried": carried,
            "places": [{"name": name, "at": _rounded(at)} for name, at in marks_of(figure)[1]]}


def target_groups(scene: Scene) -> list[dict]:
    """Return what things can be pointed at: groups with a word, and names or parts in them."""
    groups = [{"label": figure.name, "names": [f"{figure.name}.{part}" for part in ANCHORS]}
              for figure in scene.figures]
    sheets = [each for section in SHEETS for each in getattr(scene, section)]
    others = (("Pieces", scene.pieces), ("Openings", scene.room.openings if scene.room else ()),
              ("Boards and frames", sheets),
              ("Meters", scene.meters), ("Cameras", scene.cameras), ("Lamps", scene.lights))
    return groups + [{"label": label, "names": [each.name for each in section]}
                     for label, section in others if section]


def kinds_to_put_in(ceiling: float | None) -> list[dict]:
    """Return what can be put in: section, kind, a word for it, the least fields, and the height it comes at.

    `ceiling` is the room's height, None without a room. [m]
    """
    above = WITHOUT_CEILING if ceiling is None else ceiling - UNDER_CEILING
    found = []
    for kind, cls in LIGHTS.items():
        if cls is Glow:
            continue
        sample: dict[str, Any] = {"kind": kind}
        for name, text in cls.sample.items():
            sample[name] = text[1:-1].split(", ") if text.startswith("[") else text
        low, high = (show(each, "flux") for each in cls.usual.lumens)
        found.append({"section": "lights", "kind": kind, "word": kind, "fields": sample,
                      "aim": "aim" if table(cls)["aim"].default is REQUIRED else "", "held": cls.held,
                      "height": _rounded([min(STANDS.get(cls.held, above), above)])[0],
                      "usual": f"usually {low} to {high}"})
    for section, sheet in SHEETS.items():
        fields: dict[str, Any] = {"size": SHEET_SIZES[section]}
        if section == "diffusion":
            fields["cloth"] = "half silk"
        found.append({"section": section, "kind": "", "word": sheet.noun, "fields": fields, "aim": "facing",
                      "held": "stand",
                      "height": _rounded([min(SHEET_HEIGHT, above)])[0], "usual": ""})
    for word, kind in KINDS.items():
        size = " x ".join(f"{each:g}" for each in kind.size)
        found.append({"section": "pieces", "kind": "", "word": word, "fields": {"shape": word}, "aim": "",
                      "held": "set", "height": min(PIECE_HEIGHTS.get(word, 0.0), above),
                      "usual": f"usually {size} m"})
    return found
