"""A small writer of binary glTF, so that what is read was not written by the library that reads it.

Source: glTF 2.0, 4.4 (binary container) and 5 (properties).
"""

import json
import struct

import numpy as np


def write(path, *meshes):
    """Write meshes: each a name, (vertices, faces), a material as in the file, and normals or None."""
    blob, views, accessors, nodes, shapes, materials = b"", [], [], [], [], []

    def keep(values, kind, component, **bounds):
        nonlocal blob
        data = values.tobytes()
        views.append({"buffer": 0, "byteOffset": len(blob), "byteLength": len(data)})
        blob += data + b"\0" * (-len(data) % 4)
        count = values.size if kind == "SCALAR" else len(values)
        accessors.append({"bufferView": len(views) - 1, "componentType": component, "count": count,
                          "type": kind, **bounds})
        return len(accessors) - 1

    for name, (vertices, faces), material, normals in meshes:
        points = np.asarray(vertices, np.float32)
        attributes = {"POSITION": keep(points, "VEC3", 5126, min=points.min(axis=0).tolist(),
                                       max=points.max(axis=0).tolist())}
        if normals is not None:
            attributes["NORMAL"] = keep(np.asarray(normals, np.float32), "VEC3", 5126)
        corners = keep(np.asarray(faces, np.uint32), "SCALAR", 5125)
        nodes.append({"mesh": len(shapes), "name": name})
        shapes.append({"name": name, "primitives": [
            {"attributes": attributes, "indices": corners, "material": len(materials)}]})
        materials.append(material)
    tree = {"asset": {"version": "2.0"}, "scene": 0,
            "scenes": [{"nodes": list(range(len(nodes)))}], "nodes": nodes, "meshes": shapes,
            "materials": materials, "accessors": accessors, "bufferViews": views,
            "buffers": [{"byteLength": len(blob)}]}
    text = json.dumps(tree).encode()
    text += b" " * (-len(text) % 4)
    path.write_bytes(struct.pack("<4sII", b"glTF", 2, 28 + len(text) + len(blob))
                     + struct.pack("<I4s", len(text), b"JSON") + text
                     + struct.pack("<I4s", len(blob), b"BIN\0") + blob)
