"""The gate before the device: no stage passes with a corner or a number that would be read elsewhere."""

from dataclasses import replace

import numpy as np
import pytest

from previz.engine.render import open_stage
from previz.stage.mesh_files import FileMaterial
from previz.stage.mesh_gate import hold, material_faults, shape_faults, uv_faults

BOX = ("pieces: [{name: crate, shape: box, at: [0 m, 0 m], size: [1 m, 1 m, 1 m]}]\n"
       "lights: [{name: bulb, kind: bulb, at: [0 m, 0 m, 3 m], output: 1 lm}]\n")


@pytest.fixture(scope="module")
def sound(plain, tmp_path_factory):
    return plain.stage_of(tmp_path_factory.mktemp("gate"), BOX)


def faulty(stage, **change):
    """The stage with its first mesh changed."""
    first, *rest = stage.meshes
    return replace(stage, meshes=(replace(first, **change), *rest))


FACE = np.array([[0, 1, 2]])
POINTS = np.eye(3)


@pytest.mark.parametrize("change", [
    {"faces": FACE - 1}, {"faces": FACE + 1}, {"faces": FACE + 2**31}, {"faces": FACE.astype(float)},
    {"faces": FACE[:, :2]}, {"faces": FACE[0]}, {"vertices": POINTS * np.nan},
    {"vertices": np.full((3, 3), np.inf)},
    {"vertices": POINTS * 1e7}, {"vertices": POINTS * -1e39}, {"vertices": POINTS[:, :2]},
    {"normals": POINTS[:2]}, {"normals": POINTS * np.nan}, {"uv": POINTS}, {"uv": np.full((3, 2), np.inf)},
    {"uv": np.full((3, 2), 1e9)}], ids=str)
def test_a_stage_that_would_be_read_elsewhere_is_held(sound, change):
    """Neither a build nor the device takes it; nothing of the engine is started for that."""
    whole = {"vertices": POINTS, "faces": FACE, "normals": None, "uv": None}
    hold(faulty(sound, **whole))
    wrong = faulty(sound, **{**whole, **change})
    with pytest.raises(ValueError, match="'crate' has "):
        hold(wrong)
    with pytest.raises(ValueError, match="'crate' has "):
        open_stage(wrong, 1)


def test_lamps_are_held_too(sound):
    (lamp, *others) = sound.emitters
    bad = replace(sound, emitters=(replace(lamp, vertices=np.asarray(lamp.vertices) * np.nan), *others))
    with pytest.raises(ValueError, match="'bulb' has points"):
        hold(bad)


def test_points_that_no_face_uses_may_be_anything():
    """Files pass with them, and they are left out."""
    assert not list(shape_faults(np.concatenate([POINTS, [[np.nan] * 3]]), FACE, np.eye(4)))
    assert list(shape_faults(np.concatenate([POINTS, [[np.nan] * 3]]), FACE + 1, np.eye(4)))


def test_materials_and_places_on_pictures():
    for fields in ({"rgb": (np.nan, 0, 0)}, {"roughness": np.inf}, {"roughness": -0.1}, {"glow": (0, -1, 0)}):
        assert list(material_faults(FileMaterial("paint", **fields)))
    assert not list(material_faults(FileMaterial("paint")))
    assert list(uv_faults(np.zeros((2, 2)), 3)) and not list(uv_faults(np.zeros((3, 2)), 3))
