"""A plain glTF file is read by its own numbers, to the last bit as the library reads it."""

import importlib.util
from pathlib import Path

import numpy as np
import pytest

from previz.stage import mesh_files
from previz.stage.gltf_plain import plain_parts
from previz.stage.mesh_files import read_parts
from previz.stage.mesh_sources import open_source

_spec = importlib.util.spec_from_file_location("broken_meshes", Path(__file__).parent / "broken_meshes.py")
broken = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(broken)

MODELS = Path(__file__).parents[2] / "scenes" / "models"

MOVED = {"translation": [3.1, 0.2, -1.7], "rotation": [0.3, -0.5, 0.1, 0.77], "scale": [2.3, 1.1, 0.5]}
MATRIX = {"matrix": [0, 0, -2.1, 0, 0, 3.3, 0, 0, 1.7, 0, 0, 0, 5.1, 6.2, 7.3, 1]}
MATERIAL = {"name": "paint", "pbrMetallicRoughness": {"baseColorFactor": [0.123, 0.456, 0.789, 1.0],
                                                      "roughnessFactor": 0.37}}


def crafted(**pose):
    """Return a file of a mesh with normals and texture coordinates, in one node."""
    tree, blob = broken.tree()
    rng = np.random.default_rng(5)
    more = {"NORMAL": rng.normal(size=(4, 3)), "TEXCOORD_0": rng.random((4, 2))}
    attributes = dict(tree["meshes"][0]["primitives"][0]["attributes"])
    views, accessors = list(tree["bufferViews"]), list(tree["accessors"])
    for key, values in more.items():
        data = values.astype(np.float32).tobytes()
        views.append({"buffer": 0, "byteOffset": len(blob), "byteLength": len(data)})
        accessors.append({"bufferView": len(views) - 1, "componentType": 5126, "count": 4,
                          "type": f"VEC{values.shape[1]}"})
        attributes[key] = len(accessors) - 1
        blob += data
    primitive = {**tree["meshes"][0]["primitives"][0], "attributes": attributes, "material": 0}
    return broken.glb({**tree, "bufferViews": views, "accessors": accessors, "materials": [MATERIAL],
                       "buffers": [{"byteLength": len(blob)}], "scenes": [{"nodes": [0]}], "scene": 0,
                       "meshes": [{"name": "crate", "primitives": [primitive]}],
                       "nodes": [{"name": "crate", "mesh": 0, **pose}]}, blob)


def alike(one, other):
    """Return whether arrays are the same: numbers, kind, and how they lie, which products go by."""
    if one is None or other is None:
        return one is other
    one, other = np.asarray(one), np.asarray(other)
    return (one.dtype == other.dtype and np.array_equal(one, other)
            and one.flags.c_contiguous == other.flags.c_contiguous)


@pytest.mark.parametrize("file", ["levers.glb", "shunter.glb", {}, MOVED, MATRIX], ids=str)
def test_it_is_as_the_library_has_it(tmp_path, monkeypatch, file):
    path = MODELS / file if isinstance(file, str) else tmp_path / "a.glb"
    if not isinstance(file, str):
        path.write_bytes(crafted(**file))
    assert plain_parts(open_source(path)) is not None
    own = read_parts(str(path))
    monkeypatch.setattr(mesh_files, "plain_parts", lambda source: None)
    for made, known in zip(own, read_parts(str(path)), strict=True):
        for key in ("name", "vertices", "faces", "pose", "normals", "uv"):
            assert alike(getattr(made, key), getattr(known, key)), key
        for key in known.material.__dataclass_fields__:
            assert alike(getattr(made.material, key), getattr(known.material, key)), key


@pytest.mark.parametrize("change", [
    {"extensionsUsed": ["KHR_materials_ior"]}, {"images": []}, {"cameras": []}, {"skins": []},
    {"nodes": [{"name": "a", "children": [1]}, {"name": "b", "mesh": 0}]},
    {"nodes": [{"name": "world", "mesh": 0}]}, {"nodes": [{"mesh": 0}]},
    {"materials": [{**MATERIAL, "alphaMode": "BLEND"}]},
    {"materials": [{**MATERIAL, "emissiveFactor": [1, 1, 1]}]},
    {"materials": [MATERIAL, MATERIAL]},
], ids=str)
def test_what_is_more_is_left_to_the_library(tmp_path, change):
    path = tmp_path / "a.glb"
    data = crafted()
    source = _source(path, data)
    assert plain_parts(source) is not None
    source._tree.update(change)
    assert plain_parts(source) is None


def _source(path, data):
    path.write_bytes(data)
    return open_source(path)
