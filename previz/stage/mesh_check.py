"""What `check` says of the meshes of a scene: what a build would refuse, and what it would note.

A glTF file that is small, plain and sound all through is passed by its own numbers, without anything heavy.
Every other mesh is read as a build reads it, so that the two cannot disagree.
"""

from __future__ import annotations

import functools
import math
import os
from pathlib import Path
from typing import TYPE_CHECKING

from previz.errors import Problem, SceneError
from previz.scene.piece import METRIC_SUFFIXES
from previz.stage.gltf_numbers import POSES
from previz.stage.gltf_structure import COMPONENTS, TRIANGLES, WIDTHS, Structure, Use, span, structure_of
from previz.stage.mesh_faults import MeshError
from previz.stage.mesh_sources import open_source
from previz.stage.plain_files import FileError

if TYPE_CHECKING:
    from previz.scene.lamp import Light
    from previz.scene.piece import Piece
    from previz.scene.records import Place
    from previz.scene.scene import Scene

PLAIN_FACES = 30_000
"""Most triangles of a file that is passed by its own numbers; more are read sooner with numpy."""

PLAIN_BYTES = 8 * 2**20
"""Such a file is not longer than this. [bytes]"""

PLAIN_SIZES = (0.02, 15.0)
"""Sizes of a mesh of which nothing is to be said, measured by the corners of boxes round its parts. [m]"""

READ_BYTES = 100 * 2**20
"""A file longer than this is read when it is rendered. [bytes]"""


Size = tuple[float, float, float]


class Verdict:
    """What is wrong with a piece's mesh, and the lines that a build notes of it."""

    def __init__(self, problems: tuple[Problem, ...] = (), notes: tuple[str, ...] = ()):
        self.problems, self.notes = problems, notes


def look_at_mesh(piece: Piece, scene: Scene) -> Verdict:
    """Return the verdict on a piece with a mesh of a scene, of which lamps may be made."""
    lamps = tuple(each for each in scene.lights if each.kind == "glow" and each.piece.name == piece.name)
    room = scene.room and scene.room.size
    try:
        about = os.stat(piece.mesh)
    except OSError:
        return _read(piece, lamps, room)
    # Records are alike wherever they are written, and problems are not.
    places = piece.where("mesh"), *(each.place for each in lamps)
    return _verdict(piece, lamps, room, places, about.st_mtime_ns, about.st_size)


@functools.lru_cache(maxsize=256)
def _verdict(piece: Piece, lamps: tuple[Light, ...], room: Size | None, _places: tuple[Place, ...],
             _changed: int, size: int) -> Verdict:
    """Return a verdict, kept: options share their pieces, and problems and notes are asked for apart."""
    path = Path(piece.mesh)
    glass = piece.surface is not None and "glass" in (piece.surface.name or "")
    if path.suffix.lower() in METRIC_SUFFIXES and size < PLAIN_BYTES and not lamps and not glass:
        try:
            source = open_source(path)
        except FileError:
            return _read(piece, lamps, room)
        found = structure_of(source)
        if found is not None and not found.faults and not source.notes and _is_plain(found, piece.scale):
            return Verdict()
    return _head_alone(piece, path, size) if size > READ_BYTES else _read(piece, lamps, room)


def _read(piece: Piece, lamps: tuple[Light, ...], room: Size | None) -> Verdict:
    """Return the verdict of a build."""
    from previz.stage.glazing import written_glazing
    from previz.stage.imported import piece_meshes
    from previz.stage.lights import glow
    from previz.stage.mesh_sizes import widest
    from previz.stage.surfaces import SurfaceRegistry

    notes: list[str] = []
    glazing = written_glazing(piece)
    own = piece.surface is None or glazing is not None
    try:
        parts = [glow.GlowPart(*each) for each in piece_meshes(
            piece, SurfaceRegistry(), None if own else "own", glazing, notes, widest(room))]
        notes += glow.unlit_notes(piece, parts, lamps)
        for lamp in lamps:
            notes += glow.colour_notes(lamp, parts) + glow.turned_notes(lamp, parts)
            lit = glow.lit_parts(lamp, parts)
            parts = [part for part in parts if part not in lit]
    except SceneError as error:
        return Verdict(error.problems)
    return Verdict((), tuple(notes))


def _head_alone(piece: Piece, path: Path, size: int) -> Verdict:
    from previz.stage.imported import problems_of
    from previz.stage.mesh_files import opened

    try:
        opened(path, [])
    except FileError as error:
        return Verdict(problems_of(piece, [(f"cannot be read: {error.message}", error.advice)]).problems)
    except MeshError as error:
        return Verdict(problems_of(piece, error.faults).problems)
    return Verdict((), (f"Check: the mesh '{path.name}' has {size / 2**20:.0f} MB, of which only the head "
                        "was checked; the rest is when it is rendered.",))


# Passed by its own numbers


def _is_plain(found: Structure, scale: float) -> bool:
    """Return whether a sound file's numbers are all such that a build has nothing to say of it."""
    if found.notes or not found.uses or not _is_known(found):
        return False
    if sum(use.faces for use in found.uses) > PLAIN_FACES:
        return False
    materials = found.listed("materials")
    if not all(map(_opaque, materials)) or len({each["name"] for each in materials}) < len(materials):
        return False
    if len(found.listed("scenes")) != 1:
        return False
    boxes = {i: [_box(found, use) for use in found.uses if use.mesh == i]
             for i in range(len(found.listed("meshes")))}
    if any(None in each or not each for each in boxes.values()):
        return False
    low, high = [math.inf] * 3, [-math.inf] * 3
    for box in _placed(found, boxes):
        if box is None:
            return False
        low, high = list(map(min, low, box[0])), list(map(max, high, box[1]))
    extent = max((b - a for a, b in zip(low, high, strict=True)), default=0) * scale
    away = max(map(abs, (*low, *high))) * scale
    return PLAIN_SIZES[0] < extent < PLAIN_SIZES[1] and away < PLAIN_SIZES[1]


KNOWN = {"": {"asset", "scene", "scenes", "nodes", "meshes", "materials", "accessors", "bufferViews",
              "buffers"},
         "nodes": {"mesh", "children", *POSES}, "meshes": {"primitives"},
         "materials": {"pbrMetallicRoughness", "doubleSided", "alphaMode", "emissiveFactor"},
         "accessors": {"bufferView", "byteOffset", "componentType", "count", "type", "min", "max",
                       "normalized"},
         "bufferViews": {"buffer", "byteOffset", "byteLength", "byteStride", "target"},
         "buffers": {"byteLength", "uri"}, "scenes": {"nodes"}}
"""What a plain file may say of itself, names and extras aside; any other is read as a build reads it."""

PRIMITIVE = {"attributes", "indices", "material", "mode", "extras"}
ATTRIBUTES = {"POSITION", "NORMAL", "TEXCOORD_0"}
FACTORS = {"baseColorFactor", "metallicFactor", "roughnessFactor"}


def _is_known(found: Structure) -> bool:
    """Return whether a file says nothing of itself but what is looked at here."""
    for key, allowed in KNOWN.items():
        for each in found.listed(key) if key else [found.tree]:
            if not set(each) <= allowed | {"name", "extras"} or not isinstance(each.get("name", ""), str):
                return False
            if key != "materials" and not isinstance(each.get("extras", {}), dict):
                return False
    return all(set(each) <= PRIMITIVE and each.get("mode", TRIANGLES) == TRIANGLES
               and set(each["attributes"]) <= ATTRIBUTES
               for mesh in found.listed("meshes") for each in mesh["primitives"])


def _opaque(material: dict) -> bool:
    """Return whether a material neither glows nor lets light through, and has no picture."""
    factors = material.get("pbrMetallicRoughness", {})
    return (material.get("alphaMode", "OPAQUE") == "OPAQUE" and not any(material.get("emissiveFactor", ()))
            and isinstance(material.get("name"), str)
            and isinstance(factors, dict) and set(factors) <= FACTORS)


def _columns(found: Structure, index: int) -> list[list]:
    """Return an accessor's numbers, a list for each of its columns; none where they lie askew."""
    accessor = found.listed("accessors")[index]
    (start, stride, buffer), (code, size) = span(found, accessor), COMPONENTS[accessor["componentType"]]
    width, count = WIDTHS[accessor["type"]], accessor["count"]
    if stride % size:
        return []
    end = start + (count - 1) * stride + width * size
    numbers = memoryview(found.data[buffer])[start:end].cast(code)
    return [numbers[k::stride // size].tolist() for k in range(width)]


def _box(found: Structure, use: Use) -> tuple[list[float], list[float]] | None:
    """Return (least, greatest) coordinates of a set of triangles whose numbers are sound, else None."""
    columns = _columns(found, use.points)
    numbers = [*columns, *(column for index in use.others for column in _columns(found, index))]
    if use.strip or not columns or not all(math.isfinite(sum(each)) for each in numbers):
        return None
    corners = range(len(columns[0]))
    if use.corners is not None:
        listed = _columns(found, use.corners)
        if not listed:
            return None
        corners = listed[0]
        if max(corners) >= len(columns[0]):
            return None
    if len(set(corners)) < len(columns[0]):
        # Points that no face uses may be anything.
        return None
    return [min(each) for each in columns], [max(each) for each in columns]


def _placed(found: Structure, boxes: dict):
    """Yield the boxes of all nodes' meshes as placed, along the file's axes; None for one without volume."""
    nodes = found.listed("nodes")
    waiting = [(each, IDENTITY) for each in found.listed("scenes")[0].get("nodes", [])]
    while waiting:
        index, above = waiting.pop()
        node = nodes[index]
        pose = _times(above, _pose(node))
        waiting += [(child, pose) for child in node.get("children", ())]
        if "mesh" not in node:
            continue
        if abs(_volume(pose)) < 1e-9:
            yield None
            return
        for low, high in boxes[node["mesh"]]:
            ends = list(zip(low, high, strict=True))
            points = [[sum(pose[r][c] * ends[c][corner >> c & 1] for c in range(3)) + pose[r][3]
                       for r in range(3)] for corner in range(8)]
            yield ([min(each) for each in zip(*points, strict=True)],
                   [max(each) for each in zip(*points, strict=True)])


IDENTITY = [[float(r == c) for c in range(4)] for r in range(3)]
"""A pose as three rows of four."""


def _times(a, b):
    return [[sum(a[r][k] * b[k][c] for k in range(3)) + (a[r][3] if c == 3 else 0.0) for c in range(4)]
            for r in range(3)]


def _volume(pose) -> float:
    (a, b, c, _), (d, e, f, _), (g, h, i, _) = pose
    return a * (e * i - f * h) - b * (d * i - f * g) + c * (d * h - e * g)


def _pose(node: dict):
    """Return a node's pose in the one above.  Source: glTF 2.0, 3.5.2"""
    if "matrix" in node:
        return [[node["matrix"][4 * c + r] for c in range(4)] for r in range(3)]
    x, y, z, w = node.get("rotation", (0.0, 0.0, 0.0, 1.0))
    turn = [[1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
            [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
            [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)]]
    scale, move = node.get("scale", (1, 1, 1)), node.get("translation", (0, 0, 0))
    return [[turn[r][c] * scale[c] for c in range(3)] + [move[r]] for r in range(3)]
