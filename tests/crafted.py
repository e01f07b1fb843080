"""Meshes and pictures made by hand, good and otherwise, so that no library that reads them wrote them.

Sources: PNG, W3C Recommendation, 5 (chunks); glTF 2.0, 3 and 4.4 (binary container).
"""

import io
import json
import struct
import zlib

import numpy as np
from PIL import Image

POSTSCRIPT = b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 8 8\n%%EndComments\n{} loop\n"
TRIANGLE = np.float32([[0, 0, 0], [1, 0, 0], [0, 1, 0]]).tobytes()
CORNERS = np.float32([[0, 0], [1, 0], [0, 1]]).tobytes()

def gltf(pictures, data=b"", **more):
    """A glTF description of one triangle whose materials' base colours are pictures."""
    return {"asset": {"version": "2.0"}, "scene": 0, "scenes": [{"nodes": [0]}], "nodes": [{"mesh": 0}],
            "meshes": [{"primitives": [{"attributes": {"POSITION": 0, "TEXCOORD_0": 1}, "material": k}
                                       for k in range(len(pictures))]}],
            "materials": [{"name": f"m{k}", "pbrMetallicRoughness": {"baseColorTexture": {"index": k}}}
                          for k in range(len(pictures))],
            "textures": [{"source": k} for k in range(len(pictures))], "images": pictures,
            "accessors": [{"bufferView": 0, "componentType": 5126, "count": 3, "type": "VEC3",
                           "min": [0, 0, 0], "max": [1, 1, 0]},
                          {"bufferView": 1, "componentType": 5126, "count": 3, "type": "VEC2"}],
            "bufferViews": [{"buffer": 0, "byteOffset": start, "byteLength": length}
                            for start, length in ((0, 36), (36, 24), (60, len(data)))],
            "buffers": [{"byteLength": 60 + len(data)}], **more}


def glb(path, data, **more):
    """Write a GLB whose only material shows what the data are."""
    image = {"bufferView": 2, "mimeType": "image/png", "name": "sign"}
    text = json.dumps(gltf([image], data, **more)).encode()
    text += b" " * (-len(text) % 4)
    whole = TRIANGLE + CORNERS + data
    whole += b"\0" * (-len(whole) % 4)
    path.write_bytes(struct.pack("<4sII", b"glTF", 2, 28 + len(text) + len(whole))
                     + struct.pack("<I4s", len(text), b"JSON") + text
                     + struct.pack("<I4s", len(whole), b"BIN\0") + whole)
    return path


def obj(path, picture):
    path.write_text("mtllib crate.mtl\nv 0 0 0\nv 1 0 0\nv 0 1 0\nvt 0 0\nvt 1 0\nvt 0 1\nusemtl wood\n"
                    "f 1/1 2/2 3/3\n")
    path.with_name("crate.mtl").write_text(
        f"newmtl wood\nKd 0.5 0.4 0.3\nmap_Kd {picture}\nnewmtl other\nmap_Kd never.gif\n")
    return path


def png(width, height, idat=b"", *more, depth=8, colour=2):
    """A PNG of chunks: its size, others in their order, its pixels."""
    head = struct.pack(">IIBBBBB", width, height, depth, colour, 0, 0, 0)
    chunks = [(b"IHDR", head), *more, (b"IDAT", idat), (b"IEND", b"")]
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))
        for name, body in chunks)


def saved(pixels, kind="PNG", **more):
    made = io.BytesIO()
    image = pixels if isinstance(pixels, Image.Image) else Image.fromarray(np.asarray(pixels, np.uint8))
    image.save(made, format=kind, **more)
    return made.getvalue()


SEEN = np.arange(2 * 3 * 3, dtype=np.uint8).reshape(2, 3, 3) * 10
