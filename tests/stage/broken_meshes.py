"""Small broken and odd mesh files in plain Python: each breaks one thing of a sound file.

Sources of the formats: glTF 2.0, 4.4 and 5; the STL and PLY formats and Wavefront's OBJ (from memory).
"""

from __future__ import annotations

import copy
import json
import struct
from collections.abc import Iterator

POINTS = [(0, 0, 0), (1, 0, 0), (0, 1, 0), (0, 0, 1)]
CORNERS = [(0, 2, 1), (0, 1, 3), (1, 2, 3), (0, 3, 2)]
"""A corner of a metre's cube, closed, its faces outwards."""

NAN, INF = float("nan"), float("inf")


def tree(points=POINTS, corners=CORNERS) -> tuple[dict, bytes]:
    """Return the description and the numbers of a sound glTF file of one mesh."""
    places = b"".join(struct.pack("<3f", *each) for each in points)
    faces = b"".join(struct.pack("<3H", *each) for each in corners)
    blob = places + faces
    return {"asset": {"version": "2.0"}, "scene": 0, "scenes": [{"nodes": [0]}], "nodes": [{"mesh": 0}],
            "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 1, "material": 0}]}],
            "materials": [{"name": "paint", "pbrMetallicRoughness": {"roughnessFactor": 0.5}}],
            "accessors": [{"bufferView": 0, "componentType": 5126, "count": len(points), "type": "VEC3"},
                          {"bufferView": 1, "componentType": 5123, "count": 3 * len(corners),
                           "type": "SCALAR"}],
            "bufferViews": [{"buffer": 0, "byteLength": len(places)},
                            {"buffer": 0, "byteOffset": len(places), "byteLength": len(faces)}],
            "buffers": [{"byteLength": len(blob)}]}, blob


def glb(described: dict, blob: bytes, version: int = 2) -> bytes:
    """Return a binary glTF file."""
    text = json.dumps(described).encode()
    text += b" " * (-len(text) % 4)
    blob += bytes(-len(blob) % 4)
    return (struct.pack("<4sII", b"glTF", version, 28 + len(text) + len(blob))
            + struct.pack("<I4s", len(text), b"JSON") + text
            + struct.pack("<I4s", len(blob), b"BIN\0") + blob)


def changed(*path, value, **more) -> bytes:
    """Return a GLB with one value of its description replaced; `path` leads to it."""
    described, blob = tree(**more)
    described = copy.deepcopy(described)
    at = described
    for step in path[:-1]:
        at = at[step]
    at[path[-1]] = value
    return glb(described, blob)


def chain(depth: int) -> list[dict]:
    """Return nodes that lie one under the other, the last with a mesh."""
    return [{"children": [i + 1]} for i in range(depth - 1)] + [{"mesh": 0}]


def stl(count: int | None = None, points=POINTS, corners=CORNERS, head: bytes = b"") -> bytes:
    """Return a binary STL, whose head may count otherwise than it has."""
    body = b"".join(struct.pack("<12fH", 0, 0, 0, *(c for i in face for c in points[i]), 0)
                    for face in corners)
    return head.ljust(80, b" ") + struct.pack("<I", len(corners) if count is None else count) + body


def ply(header: str = "", rows: str = "", points: int = 4, faces: int = 4) -> bytes:
    """Return a PLY in text, with other counts, header lines or rows where given."""
    xyz = "".join(f"{x} {y} {z}\n" for x, y, z in POINTS)
    rows = rows or xyz + "".join(f"3 {a} {b} {c}\n" for a, b, c in CORNERS)
    header = header or (f"element vertex {points}\nproperty float x\nproperty float y\nproperty float z\n"
                        f"element face {faces}\nproperty list uchar int vertex_indices\n")
    return f"ply\nformat ascii 1.0\n{header}end_header\n{rows}".encode()


def obj(faces: str = "f 1 3 2\nf 1 2 4\nf 2 3 4\nf 1 4 3\n", points: str = "") -> bytes:
    """Return an OBJ with other faces or points where given."""
    return (points or "".join(f"v {x} {y} {z}\n" for x, y, z in POINTS)).encode() + faces.encode()


ELSEWHERE = "at points that it does not have"


def gltf_cases() -> Iterator[tuple[str, bytes, str]]:
    """Yield (what is broken, a GLB, words of the message)."""
    sound, blob = tree()
    yield "empty", b"", "is empty"
    yield "another kind", b"PK\3\4" + bytes(60), "it is an archive"
    yield "cut", glb(sound, blob)[:-20], "it is cut off"
    yield "cut in its text", glb(sound, blob)[:60], "it is cut off"
    yield "an old version", glb(sound, blob, version=1), "it is glTF 1"
    yield "no record", (struct.pack("<4sII", b"glTF", 2, 24) + struct.pack("<I4s", 4, b"JSON")
                        + b"[1] "), "no record"
    yield "deep text", glb({}, b"").replace(b"{}", b"[" * 2), "no JSON"
    yield "wild corner", changed("scene", value=0, corners=[*CORNERS, (0, 1, 9000)]), ELSEWHERE
    yield "a point that is none", changed("scene", value=0, points=[*POINTS[:3], (NAN, 0, 1)]), "not finite"
    yield "an endless point", changed("scene", value=0, points=[*POINTS[:3], (INF, 0, 1)]), "not finite"
    accessor = ("accessors", 0)
    for what, value in (("count", -4), ("count", 0), ("count", 10**12), ("count", 4.0), ("byteOffset", -12),
                        ("byteOffset", 10**9), ("bufferView", 7), ("componentType", 1), ("type", "VEC9"),
                        ("componentType", 5123)):
        yield f"{what} {value}", changed(*accessor, what, value=value), ""
    yield "points of two numbers", changed(*accessor, "type", value="VEC2"), "points that are not three"
    yield "sparse", changed(*accessor, "sparse", value={"count": 1}), "sparse"
    for what, value in (("byteLength", -1), ("byteLength", 10**12), ("byteOffset", -4), ("buffer", 3),
                        ("byteStride", -12), ("byteStride", 0)):
        yield f"a view's {what} {value}", changed("bufferViews", 0, what, value=value), ""
    yield "a long buffer", changed("buffers", 0, "byteLength", value=10**9), "bytes of numbers"
    primitive = ("meshes", 0, "primitives", 0)
    yield "no points", changed(*primitive, "attributes", value={}), "no points"
    yield "corners elsewhere", changed(*primitive, "indices", value=-1), "no corners"
    yield "corners by threes", changed("accessors", 1, "count", value=11), "whole triangles"
    yield "a material elsewhere", changed(*primitive, "material", value=5), "material that it does not have"
    yield "fans", changed(*primitive, "mode", value=6), "fans of triangles"
    yield "lines", changed(*primitive, "mode", value=1), "has no faces"
    for what, value in (("matrix", [NAN] * 16), ("matrix", [1.0] * 4), ("translation", [0, INF, 0]),
                        ("scale", [1, 1]), ("rotation", "none"), ("translation", [1e300, 0, 0])):
        yield f"a node's {what} {value[:2]}", changed("nodes", 0, what, value=value), "place, turn or scale"
    yield "a mesh elsewhere", changed("nodes", 0, "mesh", value=-1), "mesh that it does not have"
    yield "a node under itself", changed("nodes", value=[{"children": [0], "mesh": 0}]), "under themselves"
    circle = [{"children": [1]}, {"children": [0]}]
    yield "nodes in a circle", changed("nodes", value=circle), "under themselves"
    yield "nodes without an end", changed("nodes", value=chain(5000)), "one under the other"
    yield "a scene elsewhere", changed("scene", value=3), "no scene"
    yield "nodes elsewhere", changed("scenes", 0, "nodes", value=[12]), "nodes that it does not have"
    yield "too many nodes", changed("nodes", value=[{"mesh": 0}] * 30000), "nodes, and"
    many, numbers = tree()
    many["nodes"], many["scenes"] = [{"mesh": 0}] * 15000, [{"nodes": list(range(15000))}]
    many["meshes"][0]["primitives"] *= 200
    yield "a mesh in many places", glb(many, numbers), "has 12000000 triangles"
    metal = ("materials", 0, "pbrMetallicRoughness")
    for what, value in (("roughnessFactor", NAN), ("roughnessFactor", 7), ("metallicFactor", -1),
                        ("baseColorFactor", [1, 1, 1]), ("baseColorFactor", [NAN, 1, 1, 1])):
        yield f"a material's {what} {value}", changed(*metal, what, value=value), "has material 'paint'"
    yield "factors that are none", changed(*metal, value=[1]), "no list of names and numbers"
    yield "an emission of none", changed("materials", 0, "emissiveFactor", value=[NAN, 0, 0]), "emissive"
    yield "no picture", changed(*metal, "baseColorTexture", value={"index": 4}), "a picture missing"
    yield "packed", changed("extensionsRequired", value=["KHR_draco_mesh_compression"]), "is packed (Draco)"
    yield "lists that are none", changed("nodes", value={"mesh": 0}), "'nodes' that are no list"


def other_cases() -> Iterator[tuple[str, str, bytes, str]]:
    """Yield (what is broken, the file's ending, its bytes, words of the message)."""
    yield "empty", "obj", b"", "is empty"
    for what, faces in (("wild", "f 1 2 9\n"), ("zero", "f 0 1 2\n"), ("back too far", "f -1 -2 -9\n"),
                        ("huge", "f 1 2 99999999999999999999\n")):
        yield f"{what} corners", "obj", obj(faces), ELSEWHERE
    yield "corners that are words", "obj", obj("f a b c\n"), "no whole numbers"
    yield "corners with fractions", "obj", obj("f 1.5 2 3\n"), "no whole numbers"
    yield "lines alone", "obj", obj("l 1 2\n"), "has no faces"
    yield "faces of two corners", "obj", obj("f 1 2\nf 2 3\n"), "has no faces"
    yield "points of two numbers", "obj", obj(points="v 0 0\nv 1 0\nv 0 1\nv 1 1\n"), ""
    yield "a point that is none", "obj", obj(points="v 0 0 nan\nv 1 0 0\nv 0 1 0\nv 1 1 0\n"), "not finite"
    yield "words for points", "obj", obj(points="v a b c\nv 1 0 0\nv 0 1 0\nv 1 1 0\n"), ""
    yield "no name's length", "stl", b"solid", "has no faces"
    yield "cut", "stl", stl()[:-30], "is cut short"
    yield "a wild count", "stl", stl(2**32 - 1), "is cut short"
    yield "no triangles", "stl", stl(corners=[]), "has no faces"
    yield "words", "stl", b"solid a\nfacet normal 0 0 1\nvertex 0 0 x\nendsolid a\n", ""
    yield "points that are none", "stl", stl(points=[(NAN, 0, 0), *POINTS[1:]]), "not finite"
    yield "no header's end", "ply", ply().replace(b"end_header", b"header"), "is no PLY"
    yield "another kind", "ply", b"\x89PNG\r\n\x1a\n" + bytes(40), "it is PNG"
    yield "points without height", "ply", ply().replace(b"property float z\n", b""), "no points of three"
    yield "fewer than none", "ply", ply(points=-4), "fewer than no points"
    yield "a wild count", "ply", ply(points=10**12), "is cut short"
    yield "too many faces", "ply", ply(faces=10**9), "faces, and"
    yield "points alone", "ply", ply(faces=0), "has no faces"
    yield "wild corners", "ply", ply().replace(b"3 0 3 2", b"3 0 3 9"), ELSEWHERE
    yield "corners below zero", "ply", ply().replace(b"3 0 3 2", b"3 0 3 -1"), ELSEWHERE
    yield "a kind that is none", "ply", ply().replace(b"float z", b"quad z"), "is no PLY"
    yield "points that are none", "ply", ply().replace(b"0 0 1\n", b"0 0 nan\n"), "not finite"
