"""Read a plain glTF file by its own numbers, to the last bit as the library reads it.

The library takes longer to import than the rest of a stage takes to build, and most meshes have nothing that
needs it: triangles with a plain material each, in nodes side by side. Everything else is left to it.

Source: glTF 2.0, 3.6.2 (accessors), 3.5.2 (transformations), 3.7.2 (meshes), 3.9 (materials).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from previz.stage.gltf_structure import COMPONENTS, TRIANGLES, WIDTHS, Structure, span, structure_of
from previz.stage.mesh_sources import Source

LISTS = {"asset", "scene", "scenes", "nodes", "meshes", "accessors", "bufferViews", "buffers", "materials",
         "samplers", "extras"}
NODE = {"name", "mesh", "matrix", "translation", "rotation", "scale", "extras"}
PRIMITIVE = {"attributes", "indices", "mode", "material"}
ATTRIBUTES = {"POSITION", "NORMAL", "TEXCOORD_0"}
MATERIAL = {"name", "pbrMetallicRoughness", "doubleSided", "alphaMode", "extras"}
FACTORS = {"baseColorFactor", "metallicFactor", "roughnessFactor"}
"""What the parts of a plain file may have."""

LEAST_RANGE = 1e-6
"""Range of normals under which the library takes them for none."""


@dataclass(frozen=True, eq=False)
class PlainPart:
    """One mesh of a plain file; see `mesh_files.MeshPart`.

    Parameters
    ----------
    name : str
    vertices, faces, pose, normals, uv
        As of `MeshPart`.
    material : dict
        As written, without anything but what `MATERIAL` and `FACTORS` name.
    """

    name: str
    vertices: np.ndarray
    faces: np.ndarray
    pose: np.ndarray
    normals: np.ndarray | None
    uv: np.ndarray | None
    material: dict


def plain_parts(source: Source) -> list[PlainPart] | None:
    """Return the meshes of a file whose structure is sound, None where the library has to read it."""
    found = structure_of(source)
    if found is None or found.faults or not _is_plain(found):
        return None
    parts = [_part(found, node) for node in _in_order(found)]
    # What is taken for none is drawn by its faces, which is the library's to say.
    return None if any(part.normals is not None and np.ptp(part.normals) < LEAST_RANGE
                       for part in parts) else parts


def _is_plain(found: Structure) -> bool:
    """Return whether there is nothing in a file but what is read here."""
    nodes, meshes, materials = (found.listed(key) for key in ("nodes", "meshes", "materials"))
    return (set(found.tree) <= LISTS and len(found.listed("scenes")) == 1
            and all(set(node) <= NODE and "mesh" in node for node in nodes)
            and all(map(_is_plain_mesh, meshes)) and all(map(_is_plain_material, materials))
            and all(map(_named, (nodes, meshes, materials))))


def _named(things: list[dict]) -> bool:
    """Return whether things have names that the library keeps as they are."""
    names = [each.get("name") for each in things]
    return all(isinstance(name, str) and name and name != "world" for name in names) and (
        len(set(names)) == len(names))


def _is_plain_mesh(mesh: dict) -> bool:
    primitives = mesh["primitives"]
    return len(primitives) == 1 and all(
        set(each) <= PRIMITIVE and set(each["attributes"]) <= ATTRIBUTES
        and each.get("mode", TRIANGLES) == TRIANGLES and "indices" in each and "material" in each
        for each in primitives)


def _is_plain_material(material: dict) -> bool:
    return (set(material) <= MATERIAL and set(material.get("pbrMetallicRoughness", {})) <= FACTORS
            and material.get("alphaMode", "OPAQUE") == "OPAQUE")


def _in_order(found: Structure) -> Iterator[dict]:
    """Yield the nodes in the library's order: those that are listed last first."""
    nodes = found.listed("nodes")
    for index in reversed(found.listed("scenes")[0].get("nodes", [])):
        yield nodes[index]


def _part(found: Structure, node: dict) -> PlainPart:
    mesh = found.listed("meshes")[node["mesh"]]
    primitive, = mesh["primitives"]
    attributes = primitive["attributes"]

    def read(key: str) -> np.ndarray | None:
        return _numbers(found, attributes[key]).astype(float) if key in attributes else None

    uv = read("TEXCOORD_0")
    if uv is not None:
        # The library turns it over before it widens it.
        uv = np.stack([uv[:, 0], (np.float32(1) - uv[:, 1].astype(np.float32)).astype(float)], axis=1)
    return PlainPart(mesh["name"], np.ascontiguousarray(read("POSITION")),
                     _numbers(found, primitive["indices"]).astype(int).reshape(-1, 3), _pose(node),
                     read("NORMAL"), uv, found.listed("materials")[primitive["material"]])


def _numbers(found: Structure, index: int) -> np.ndarray:
    """Return an accessor's numbers, shape (count, numbers each)."""
    accessor = found.listed("accessors")[index]
    at = span(found, accessor)
    assert at is not None, "the structure is sound"
    start, stride, buffer = at
    kind, size = COMPONENTS[accessor["componentType"]]
    width, count = WIDTHS[accessor["type"]], accessor["count"]
    data = np.frombuffer(found.data[buffer], np.uint8)[start:start + (count - 1) * stride + width * size]
    rows = np.lib.stride_tricks.as_strided(data, (count, width * size), (stride, 1))
    return np.ascontiguousarray(rows).view(np.dtype(kind).newbyteorder("<")).reshape(count, width)


def _pose(node: dict) -> np.ndarray:
    """Return a node's matrix, by the library's steps."""
    pose = np.array(node["matrix"], float).reshape(4, 4).T if "matrix" in node else np.eye(4)
    steps: tuple[tuple[str, Callable[[Any], np.ndarray]], ...] = (
        ("translation", _moved), ("rotation", _turned),
        ("scale", lambda scale: np.diag(np.concatenate((scale, [1.0])))))
    for key, matrix in steps:
        if key in node:
            pose = np.dot(pose, matrix(node[key]))
    return pose


def _moved(by: list[float]) -> np.ndarray:
    matrix = np.eye(4)
    matrix[:3, 3] = by
    return matrix


def _turned(rotation: list[float]) -> np.ndarray:
    """Return the matrix of a quaternion x, y, z, w, which need not be of unit length."""
    q = np.array(rotation, float)[[3, 0, 1, 2]]
    # As the library adds them up.
    n = np.dot(q * q, [1.0] * 4)
    matrix = np.eye(4)
    if n < 4 * np.finfo(float).eps:
        return matrix
    q = q * np.sqrt(2.0 / n)
    p = q[None, :] * q[:, None]
    matrix[:3, :3] = [[1 - p[2, 2] - p[3, 3], p[1, 2] - p[3, 0], p[1, 3] + p[2, 0]],
                      [p[1, 2] + p[3, 0], 1 - p[1, 1] - p[3, 3], p[2, 3] - p[1, 0]],
                      [p[1, 3] - p[2, 0], p[2, 3] + p[1, 0], 1 - p[1, 1] - p[2, 2]]]
    return matrix
