"""Meshes: GLB by its tree and its numbers, OBJ, PLY and STL by lines, heads and bytes."""

from __future__ import annotations

import json
import struct
from random import Random

import numpy as np
import trimesh

from ..damage import ODD, ODD_FLOATS, ODD_NUMBERS, broken_bytes, broken_text
from .files import FileKind, Sample
from .pictures import damaged_picture, jpegs, pngs

PIECE = "pieces: [{name: thing, mesh: FILE, at: [0 m, 0 m]}]\n"
GLASS = "pieces: [{name: thing, mesh: FILE, at: [0 m, 0 m], surface: glass}]\n"
SIGN = (
    "pieces: [{name: thing, mesh: FILE, at: [0 m, 0 m]}]\n"
    "lights: [{name: sign, kind: glow, piece: thing, output: 200 cd/m2}]\n"
)

WORDS = (
    "POSITION",
    "NORMAL",
    "TEXCOORD_0",
    "COLOR_0",
    "VEC2",
    "VEC3",
    "VEC4",
    "SCALAR",
    "MAT4",
    "BLEND",
    "MASK",
    "OPAQUE",
    "image/png",
    "../outside.png",
    "/etc/hostname",
    "http://127.0.0.1:9/a.png",
    "data:image/png;base64,AAAA",
    "x" * 5000,
)
LINES = (
    *ODD_NUMBERS,
    "f 1 2 3",
    "f 1//1 2//2 3//3",
    "f -1 -2 -3",
    "f 1 2 99999999",
    "f 0 0 0",
    "f 1/1/1 2/2 3",
    "v 1 2",
    "v nan 0 0",
    "v 1e38 0 0",
    "mtllib thing.mtl",
    "mtllib ../outside.mtl",
    "usemtl none",
    "usemtl a",
    "vt 0 0",
    "vn 0 0 0",
    "o a",
    "g b",
    "s off",
    "l 1 2",
    "p 1",
    "element face 999999999",
    "element vertex -1",
    "property list uchar int x",
    "property float x",
    "format ascii 1.0",
    "format binary_big_endian 1.0",
    "end_header",
    "facet normal 0 0 1",
    "outer loop",
    "vertex 0 0 nan",
    "endloop",
    "endfacet",
    "endsolid",
    "solid",
    "3 0 1 2",
    "3 0 1 99",
)
MATERIALS = b"""newmtl a
Kd 0.5 0.4 0.3
Ns 20
d 0.4
Tf 0.9 0.9 0.9
illum 4
map_Kd p.png
newmtl b
Kd 1 1 1
Ke 1 1 0
"""


def _box() -> trimesh.Trimesh:
    return trimesh.creation.box((0.5, 0.4, 0.3))


class _Blob:
    """The binary part of a GLB, as it is put together."""

    def __init__(self):
        self.data, self.views, self.accessors = b"", [], []

    def view(self, data: bytes) -> int:
        self.views.append({"buffer": 0, "byteOffset": len(self.data), "byteLength": len(data)})
        self.data += data + bytes(-len(data) % 4)
        return len(self.views) - 1

    def accessor(self, values: np.ndarray, kind: str, component: int) -> int:
        count = values.size if kind == "SCALAR" else len(values)
        bounds = (
            {"min": values.min(axis=0).tolist(), "max": values.max(axis=0).tolist()} if kind == "VEC3" else {}
        )
        self.accessors.append(
            {
                "bufferView": self.view(values.tobytes()),
                "componentType": component,
                "count": count,
                "type": kind,
                **bounds,
            }
        )
        return len(self.accessors) - 1


def glb() -> bytes:
    """Return a GLB with what a reader may meet.

    Source: glTF 2.0, 4.4 and 5, and the extensions of its registry.
    """
    box, blob = _box(), _Blob()
    points, uv = (
        np.asarray(box.vertices, np.float32),
        np.random.default_rng(4).random((8, 2)).astype(np.float32),
    )
    attributes = {
        "POSITION": blob.accessor(points, "VEC3", 5126),
        "TEXCOORD_0": blob.accessor(uv, "VEC2", 5126),
        "NORMAL": blob.accessor(np.asarray(box.vertex_normals, np.float32), "VEC3", 5126),
    }
    corners = blob.accessor(np.asarray(box.faces, np.uint16), "SCALAR", 5123)
    pictures = [blob.view(pngs()[1]), blob.view(jpegs()[0])]
    materials = [
        {
            "name": "paint",
            "pbrMetallicRoughness": {
                "baseColorFactor": [0.8, 0.2, 0.1, 1],
                "roughnessFactor": 0.4,
                "metallicFactor": 0,
                "baseColorTexture": {"index": 0},
            },
            "emissiveFactor": [1, 0.5, 0],
            "emissiveTexture": {"index": 1},
            "alphaMode": "MASK",
            "alphaCutoff": 0.5,
        },
        {
            "name": "pane",
            "pbrMetallicRoughness": {"baseColorFactor": [1, 1, 1, 0.3], "roughnessFactor": 0},
            "alphaMode": "BLEND",
            "extensions": {
                "KHR_materials_transmission": {"transmissionFactor": 0.9},
                "KHR_materials_ior": {"ior": 1.5},
                "KHR_materials_volume": {
                    "thicknessFactor": 0.01,
                    "attenuationDistance": 2,
                    "attenuationColor": [0.9, 1, 0.9],
                },
            },
        },
    ]
    tree = {
        "asset": {"version": "2.0"},
        "scene": 0,
        "scenes": [{"nodes": [0, 1]}],
        "nodes": [
            {"mesh": 0, "name": "a", "children": [2], "translation": [0, 1, 0], "rotation": [0, 0, 0, 1]},
            {"mesh": 1, "name": "b", "scale": [1, 2, 1]},
            {"mesh": 0, "name": "c", "matrix": np.eye(4).ravel().tolist()},
        ],
        "meshes": [
            {
                "name": f"m{k}",
                "primitives": [{"attributes": attributes, "indices": corners, "material": k, "mode": 4}],
            }
            for k in range(2)
        ],
        "materials": materials,
        "textures": [{"source": 0, "sampler": 0}, {"source": 1}],
        "samplers": [{"wrapS": 10497}],
        "images": [
            {"bufferView": pictures[0], "mimeType": "image/png"},
            {"bufferView": pictures[1], "mimeType": "image/jpeg"},
        ],
        "extensionsUsed": ["KHR_materials_transmission", "KHR_materials_ior", "KHR_materials_volume"],
        "accessors": blob.accessors,
        "bufferViews": blob.views,
        "buffers": [{"byteLength": len(blob.data)}],
    }
    return joined(tree, blob.data)


def joined(tree: object, blob: bytes) -> bytes:
    """Return a GLB of its tree and its binary part."""
    text = json.dumps(tree).encode("utf-8", "surrogatepass")
    text += b" " * (-len(text) % 4)
    return (
        struct.pack("<4sII", b"glTF", 2, 28 + len(text) + len(blob))
        + struct.pack("<I4s", len(text), b"JSON")
        + text
        + struct.pack("<I4s", len(blob), b"BIN\0")
        + blob
    )


def parted(data: bytes) -> tuple[dict, bytes]:
    """Return the tree and the binary part of a GLB that is whole."""
    size = struct.unpack("<I", data[12:16])[0]
    return json.loads(data[20 : 20 + size]), data[28 + size :]


class Meshes(FileKind):
    """The files of pieces."""

    name = "meshes"

    def samples(self) -> list[Sample]:
        """Return one of each form and use."""
        box, ball = _box(), trimesh.creation.icosphere(1, 0.3)
        with open("thing.mtl", "wb") as file:
            file.write(MATERIALS)
        with open("p.png", "wb") as file:
            file.write(pngs()[0])
        lines = [f"v {x:g} {y:g} {z:g}" for x, y, z in box.vertices] + [
            "vt 0 0",
            "vt 1 0",
            "vt 1 1",
            "vn 0 0 1",
            "usemtl a",
        ]
        lines += [f"f {a + 1}/1/1 {b + 1}/2/1 {c + 1}/3/1" for a, b, c in box.faces[:8]] + [
            "usemtl b",
            "g lid",
        ]
        lines += [f"f {a + 1} {b + 1} {c + 1}" for a, b, c in box.faces[8:]]
        obj = "\n".join(["# our own", "mtllib thing.mtl", "o box", *lines, ""]).encode()
        ply = [ball.export(file_type="ply", encoding=sort) for sort in ("ascii", "binary")]
        stl = [box.export(file_type="stl_ascii").encode(), box.export(file_type="stl")]
        files = [
            ("a.glb", glb(), PIECE),
            ("b.glb", glb(), SIGN),
            ("c.glb", glb(), GLASS),
            ("d.obj", obj, PIECE),
            ("e.obj", obj, SIGN),
            ("f.ply", ply[0], PIECE),
            ("g.ply", ply[1], GLASS),
            ("h.stl", stl[0], PIECE),
            ("i.stl", stl[1], PIECE),
        ]
        # GLB says its unit and axes itself.
        return [
            Sample(
                name,
                data,
                scene.replace("FILE", name if name.endswith(".glb") else f"{name}, units: m, up: z"),
            )
            for name, data, scene in files
        ]

    def damaged(self, sample: Sample, chance: Random) -> bytes:
        """Return it with its tree, numbers, lines or bytes changed."""
        data = sample.data
        if data.startswith(b"glTF") and chance.random() < 0.9:
            tree, blob = parted(data)
            if chance.random() < 0.75:
                for _ in range(chance.randint(1, 4)):
                    _changed_tree(tree, chance)
            if chance.random() < 0.4:
                blob = _changed_numbers(blob, tree, chance)
            return joined(tree, blob)
        if not data.startswith(b"glTF") and chance.random() < 0.7:
            # Latin letters stand for bytes, so that binary parts come through.
            text = broken_text(data.decode("latin-1"), chance, LINES)
            return text.encode("latin-1", "replace")
        return broken_bytes(data, chance)


def _changed_tree(tree: dict, chance: Random) -> None:
    """Change one value of a GLB's tree in place."""
    holders = [each for each in _holders(tree) if each]
    if not holders:
        return
    holder = chance.choice(holders)
    key = chance.choice(list(holder) if isinstance(holder, dict) else range(len(holder)))
    match chance.randrange(8):
        case 0:
            del holder[key]
        case 1:
            holder[key] = chance.choice(ODD)
        case 2:
            holder[key] = chance.choice((*ODD_FLOATS, -1, -5, 3, 1e300))
        case 3:
            holder[key] = chance.choice(WORDS)
        case 4:
            holder[key] = chance.choice(
                (None, True, False, [], {}, [0], [[]], {"index": 0}, [1e38] * 16, [0] * 4)
            )
        case 5:
            other = chance.choice(holders)
            at = chance.choice(list(other) if isinstance(other, dict) else range(len(other)))
            holder[key] = json.loads(json.dumps(other[at]))
        case 6 if isinstance(holder, dict):
            holder[chance.choice(WORDS)] = holder[key]
        case _:
            number = holder[key]
            if isinstance(number, int | float) and not isinstance(number, bool):
                holder[key] = chance.choice(
                    (number + 1, number - 1, -number, number * 2, number * 1e6, number / 2)
                )


def _changed_numbers(blob: bytes, tree: dict, chance: Random) -> bytes:
    """Change numbers of a GLB's binary part, or one of its pictures."""
    if chance.random() < 0.3:
        for picture in (pngs()[1], jpegs()[0]):
            at = blob.find(picture)
            if at >= 0 and chance.random() < 0.5:
                made = damaged_picture(picture, chance)[: len(picture)]
                return blob[:at] + made + blob[at + len(made) :]
    made = bytearray(blob)
    for _ in range(chance.randint(1, 6)):
        at = 4 * chance.randrange(len(made) // 4)
        wide = chance.choice(("<f", "<I", "<H"))
        value = (
            chance.choice(ODD_FLOATS)
            if wide == "<f"
            else chance.choice(ODD) & (0xFFFF if wide == "<H" else 2**32 - 1)
        )
        made[at : at + struct.calcsize(wide)] = struct.pack(wide, value)
    return bytes(made)


def _holders(tree: object):
    """Yield every mapping and list of a tree."""
    if isinstance(tree, dict | list):
        yield tree
        for value in tree.values() if isinstance(tree, dict) else tree:
            yield from _holders(value)
