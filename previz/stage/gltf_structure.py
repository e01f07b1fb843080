"""What a glTF file says of itself, held against the standard before anything is read by it.

No number of the file is used as a size, a place or an index before it was looked at here, so that a broken
or hostile file is told in words, and costs no memory. Nothing heavy is imported: `check` does this for every
scene.

Source: glTF 2.0 (ISO/IEC 12113:2022), 3.5 to 3.9 and 4.4.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from previz.stage.gltf_numbers import factor_faults
from previz.stage.mesh_faults import AGAIN, COPY, MOST_FACES, Fault, few

if TYPE_CHECKING:
    from previz.stage.mesh_sources import Source

COMPONENTS = {5120: ("b", 1), 5121: ("B", 1), 5122: ("h", 2), 5123: ("H", 2), 5125: ("I", 4), 5126: ("f", 4)}
"""Codes of kinds of numbers: as `struct` has them, and their length. [bytes]"""

WIDTHS = {"SCALAR": 1, "VEC2": 2, "VEC3": 3, "VEC4": 4, "MAT2": 4, "MAT3": 9, "MAT4": 16}

COUNTS = {"SCALAR": "single", "VEC2": "two", "VEC3": "three"}

FLOAT, WHOLE = (5126,), (5121, 5123, 5125)

TRIANGLES, STRIP, FAN = 4, 5, 6

DEEPEST = 200
"""Most nodes one under the other."""

MOST_NODES = 20_000

PACKED = {"KHR_draco_mesh_compression": "Draco", "EXT_meshopt_compression": "meshopt",
          "KHR_mesh_quantization": "whole numbers in place of metres", "KHR_texture_basisu": "Basis pictures"}
"""Extensions without which a file's shapes or pictures cannot be read, in words."""


@dataclass(frozen=True, eq=False)
class Use:
    """One set of triangles of a file.

    Parameters
    ----------
    mesh : int
        Which of the file's meshes they belong to.
    points, corners : int or None
        Accessors; `corners` is None where points follow one another.
    others : tuple of int
        Accessors of normals and texture coordinates.
    strip : bool
    faces : int
    """

    mesh: int
    points: int
    corners: int | None
    others: tuple[int, ...]
    strip: bool
    faces: int


@dataclass(eq=False)
class Structure:
    """A glTF file's text and numbers, and what is wrong with them.

    Parameters
    ----------
    tree : dict
    data : list of memoryview
        Of each of its buffers.
    faults : list of (message, advice)
    uses : list of Use
    notes : list of str
        Clauses on what is left out of a sound file.
    """

    tree: dict
    data: list[memoryview]
    faults: list[Fault] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    uses: list[Use] = field(default_factory=list)

    def listed(self, key: str) -> list:
        """Return one of the file's lists, empty where it has none or another thing in its place."""
        value = self.tree.get(key)
        return value if isinstance(value, list) else []


def structure_of(source: Source) -> Structure | None:
    """Return the structure of a glTF file with all its faults; None for a file of another kind."""
    described = source.described()
    if described is None:
        return None
    found = Structure(*described)
    for look in (_asset, _lists, _buffers, _accessors, _meshes, _nodes):
        found.faults += look(found)
        if found.faults and look in (_asset, _lists):
            return found
    found.faults += [(each, AGAIN) for each in factor_faults(found.tree)]
    if not found.faults:
        found.notes += _left_out(found)
    return found


def whole(value: object, least: int = 0, under: float = math.inf) -> bool:
    """Return whether a value of a file is a whole number in a range."""
    return isinstance(value, int) and not isinstance(value, bool) and least <= value < under


def _asset(found: Structure) -> Iterator[Fault]:
    asset = found.tree.get("asset")
    version = asset.get("version") if isinstance(asset, dict) else None
    if not isinstance(version, str) or version.split(".")[0] != "2":
        yield f"is glTF of version '{str(version)[:20]}'", "Export it again as glTF 2.0."
    needed = found.tree.get("extensionsRequired")
    packed = [PACKED[each] for each in (needed if isinstance(needed, list) else [])
              if isinstance(each, str) and each in PACKED]
    if packed:
        yield f"is packed ({', '.join(packed)}), which cannot be read here", (
            "Export it again without compression.")


def _lists(found: Structure) -> Iterator[Fault]:
    for key in ("buffers", "bufferViews", "accessors", "meshes", "nodes", "scenes", "materials", "textures",
                "images"):
        value = found.tree.get(key, [])
        if not isinstance(value, list) or not all(isinstance(each, dict) for each in value):
            yield f"has '{key}' that are no list of things", AGAIN


def _buffers(found: Structure) -> Iterator[Fault]:
    lengths = []
    for i, buffer in enumerate(found.listed("buffers")):
        length = buffer.get("byteLength")
        lengths.append(length if whole(length) else 0)
        if not whole(length, 1):
            yield f"has a buffer of {length!s:.20} bytes", AGAIN
        elif i >= len(found.data) or length > len(found.data[i]):
            there = len(found.data[i]) if i < len(found.data) else 0
            yield f"has {there} bytes of numbers, and {length} are said to be there", COPY
    wrong = 0
    for view in found.listed("bufferViews"):
        start, length, stride = view.get("byteOffset", 0), view.get("byteLength"), view.get("byteStride", 4)
        buffer = view.get("buffer")
        wrong += not (whole(buffer, 0, len(lengths)) and whole(start) and whole(length)
                      and start + length <= lengths[buffer] and whole(stride, 1, 253))
    if wrong:
        yield f"has {few(wrong, 'range')} of numbers that lie outside of its data", AGAIN


def _accessors(found: Structure) -> Iterator[Fault]:
    wrong = sparse = 0
    for accessor in found.listed("accessors"):
        sparse += "sparse" in accessor
        wrong += "sparse" not in accessor and span(found, accessor) is None
    if sparse:
        yield f"keeps {few(sparse, 'list')} of numbers as differences (sparse accessors)", (
            "Export it again without them.")
    if wrong:
        yield f"has {few(wrong, 'list')} of numbers that reach past its data or are of no known kind", AGAIN


def span(found: Structure, accessor: dict) -> tuple[int, int, int] | None:
    """Return (start, stride, buffer) of an accessor [bytes], None where it is not all in the file's data."""
    view, count = accessor.get("bufferView"), accessor.get("count")
    views = found.listed("bufferViews")
    code, kind = accessor.get("componentType"), accessor.get("type")
    if not (whole(view, 0, len(views)) and whole(count, 1) and whole(code) and code in COMPONENTS
            and isinstance(kind, str) and kind in WIDTHS):
        return None
    item = COMPONENTS[code][1] * WIDTHS[kind]
    view = views[view]
    start, stride = accessor.get("byteOffset", 0), view.get("byteStride", item)
    length = view.get("byteLength")
    if not (whole(start) and whole(stride, item) and whole(length)
            and start + (count - 1) * stride + item <= length):
        return None
    first = view.get("byteOffset", 0)
    return (first + start, stride, view.get("buffer")) if whole(first) else None


def _meshes(found: Structure) -> Iterator[Fault]:
    fans = False
    for number, mesh in enumerate(found.listed("meshes")):
        primitives = mesh.get("primitives")
        for each in primitives if isinstance(primitives, list) else [None]:
            if not isinstance(each, dict) or not isinstance(each.get("attributes"), dict):
                yield "has a mesh without points", AGAIN
                return
            mode = each.get("mode", TRIANGLES)
            if mode in (TRIANGLES, STRIP):
                yield from _primitive(found, number, each, mode)
            elif mode == FAN:
                fans = True
    if fans:
        yield "has fans of triangles, which cannot be read here", "Export it as plain triangles."


def _primitive(found: Structure, number: int, each: dict, mode: int) -> Iterator[Fault]:
    accessors = found.listed("accessors")

    def of(index, kind, codes, what):
        """Return an accessor that has the kind that it must, or the fault."""
        if not whole(index, 0, len(accessors)):
            return None, (f"has no {what} where it says that they are", AGAIN)
        held = accessors[index]
        if held.get("type") != kind or held.get("componentType") not in codes:
            sort = "whole" if codes is WHOLE else "floating-point"
            return None, (f"has {what} that are not {COUNTS[kind]} {sort} numbers each", AGAIN)
        return held, None

    attributes = each["attributes"]
    points, fault = of(attributes.get("POSITION"), "VEC3", FLOAT, "points")
    if fault:
        yield fault
        return
    count = points.get("count")
    for name, kind, what in (("NORMAL", "VEC3", "normals"), ("TEXCOORD_0", "VEC2", "texture coordinates")):
        if name in attributes:
            held, fault = of(attributes[name], kind, FLOAT, what)
            if fault:
                yield fault
            elif held.get("count") != count:
                yield f"has {held.get('count')} {what} for {count} points", AGAIN
    corners = None
    if "indices" in each:
        corners, fault = of(each["indices"], "SCALAR", WHOLE, "corners")
        if fault:
            yield fault
            return
        count = corners.get("count")
    if not whole(count, 3) or (mode == TRIANGLES and count % 3):
        yield f"has triangles with {count} corners in all, which is no number of whole triangles", AGAIN
        return
    if "material" in each and not whole(each["material"], 0, len(found.listed("materials"))):
        yield "has a mesh with a material that it does not have", AGAIN
    others = tuple(attributes[name] for name in ("NORMAL", "TEXCOORD_0") if name in attributes)
    found.uses.append(Use(number, attributes["POSITION"], each.get("indices"), others, mode == STRIP,
                          count - 2 if mode == STRIP else count // 3))


def _nodes(found: Structure) -> Iterator[Fault]:
    nodes, scenes, meshes = (found.listed(key) for key in ("nodes", "scenes", "meshes"))
    if len(nodes) > MOST_NODES:
        yield f"has {len(nodes)} nodes, and {MOST_NODES} are the most", "Join its meshes and export it again."
        return
    scene = found.tree.get("scene", 0)
    if scenes and not whole(scene, 0, len(scenes)):
        yield "has no scene where it says that it is", AGAIN
        return
    parents = [0] * len(nodes)
    for node in nodes:
        children = node.get("children", [])
        if not isinstance(children, list) or not all(whole(each, 0, len(nodes)) for each in children):
            yield "has nodes under others that it does not have", AGAIN
            return
        for each in children:
            parents[each] += 1
        if "mesh" in node and not whole(node["mesh"], 0, len(meshes)):
            yield "has a node with a mesh that it does not have", AGAIN
    roots = scenes[scene].get("nodes", []) if scenes else [i for i, each in enumerate(parents) if not each]
    if not isinstance(roots, list) or not all(whole(each, 0, len(nodes)) for each in roots):
        yield "has a scene of nodes that it does not have", AGAIN
        return
    yield from _walk(found, roots, parents)


def _walk(found: Structure, roots: list[int], parents: list[int]) -> Iterator[Fault]:
    """Yield what is wrong with the tree of nodes, which is gone through once, level by level."""
    nodes, faces = found.listed("nodes"), 0
    if max(parents, default=0) > 1 or any(parents[root] for root in roots):
        yield "has nodes that lie under two others, or under themselves", AGAIN
        return
    each_mesh = [_faces_of(found, mesh) for mesh in found.listed("meshes")]
    level, depth = roots, 0
    while level:
        if (depth := depth + 1) > DEEPEST:
            yield f"has more than {DEEPEST} nodes one under the other", (
                "Flatten its tree and export it again.")
            return
        faces += sum(each_mesh[nodes[i]["mesh"]] for i in level
                     if whole(nodes[i].get("mesh"), 0, len(each_mesh)))
        level = [child for i in level for child in nodes[i].get("children", [])]
    if faces > MOST_FACES:
        yield f"has {faces} triangles, and {MOST_FACES} are the most", "Export a simpler mesh."


def _faces_of(found: Structure, mesh: dict) -> int:
    accessors, total = found.listed("accessors"), 0
    primitives = mesh.get("primitives")
    for each in primitives if isinstance(primitives, list) else ():
        if isinstance(each, dict) and isinstance(each.get("attributes"), dict):
            index = each.get("indices", each["attributes"].get("POSITION"))
            if whole(index, 0, len(accessors)) and whole(accessors[index].get("count")):
                total += accessors[index]["count"] // 3
    return total


def _left_out(found: Structure) -> Iterator[str]:
    """Yield a clause for each thing of a sound file that is left out when it is rendered."""
    scenes = found.listed("scenes")
    if len(scenes) > 1:
        yield f"has {len(scenes)} scenes, of which the one that it opens with is rendered"
    if found.listed("skins") or any("targets" in each for mesh in found.listed("meshes")
                                    for each in mesh.get("primitives", ())):
        yield "has a skeleton or shapes that it changes to, and is rendered as it rests"
    if any(each.get("texCoord") for material in found.listed("materials") for each in (
            material.get("pbrMetallicRoughness", {}).get("baseColorTexture", {}),
            material.get("emissiveTexture", {}))):
        yield "lays pictures by a second set of texture coordinates, for which the first is taken"
    if "KHR_texture_transform" in str(found.tree.get("materials", "")):
        yield "moves or turns its pictures on its faces (KHR_texture_transform), which is left out"
