"""Pictures of normals and roughness, written in scenes and in glTF files.

glTF 2.0 (ISO/IEC 12113:2022, from memory): red is to the right and green up, 0 and 255 are -1 and 1;
roughness is the green of its picture times the factor, and its square the GGX width.
"""

import numpy as np
import pytest
from crafted import glb, saved
from PIL import Image

from previz.errors import SceneError
from previz.stage.picture_maps import MOST_SIDE, of_few, relief_of, shows_normals

LEVEL = (128, 128, 255)
RIGHT = (218, 128, 218)  # cos 45° = 0.707 is code 217.7: the surface falls towards greater u.
UP = (128, 218, 218)
PANEL = ("pieces: [{name: panel, shape: panel, at: [0 m, 2 m], size: [2 m, 3 cm, 1 m], "
         "surface: {reflectance: 40 %%, %s}}]\n")


def picture(*rows):
    return np.array(rows, np.uint8)


@pytest.fixture
def maps(tmp_path):
    """Pictures beside the scene: of normals, of roughness, of heights, and of none."""
    for name, pixels in {"normals": picture([LEVEL, RIGHT], [UP, LEVEL]),
                         "dull": np.full((4, 4, 3), 128, np.uint8),
                         "white": np.full((4, 4, 3), 255, np.uint8),
                         "heights": np.full((4, 4, 3), 90, np.uint8)}.items():
        Image.fromarray(pixels).save(tmp_path / f"{name}.png")
    (tmp_path / "torn.png").write_bytes((tmp_path / "normals.png").read_bytes()[:60])
    return tmp_path


def surface_of(stage):
    return next(stage.surfaces[mesh.surface] for mesh in stage.meshes if mesh.name == "panel")


def test_normals_lean_as_gltf_has_them():
    """A normal of 45° to the right falls by 1 towards greater u; codes 127 and 128 are level."""
    relief = relief_of(picture([LEVEL, RIGHT], [UP, (127, 127, 255)]), (1.0, 2.0))
    expected = [[[0, 0], [-1, 0]], [[0, -1], [0, 0]]]
    np.testing.assert_allclose(relief.slopes, expected, atol=0.005)
    assert relief.size == (1.0, 2.0)
    np.testing.assert_allclose(relief_of(picture([RIGHT]), (1, 1), 0.5).slopes, [[[-0.5, 0]]], atol=0.003)


def test_what_is_no_picture_of_normals_is_told():
    assert shows_normals(picture([LEVEL, RIGHT]))
    assert not shows_normals(np.full((4, 4, 3), 90, np.uint8))
    # Normals in an object's directions point all ways.
    assert not shows_normals(np.random.default_rng(1).integers(0, 256, (16, 16, 3)).astype(np.uint8))


def test_large_maps_are_made_smaller():
    large = np.zeros((8, 3 * MOST_SIDE, 3), np.uint8)
    large[:, ::2] = 200
    small = of_few(large)
    assert max(small.shape) <= MOST_SIDE
    assert small.mean() == pytest.approx(large.mean(), rel=0.02)


def test_a_scene_names_its_pictures(stage_of, maps):
    """At true size they repeat over metres; without one they go once on each side."""
    made = surface_of(stage_of(
        PANEL % "normals: normals.png, roughness_picture: dull.png, picture_size: [0.5 m, 25 cm]"))
    assert made.relief.size == made.pattern.size == (0.5, 0.25)
    # (128 / 255)² is the width, and no gloss was written: it has one.
    assert made.gloss == 1.0
    assert made.roughness == pytest.approx((128 / 255) ** 2, abs=1e-4)
    np.testing.assert_allclose(made.pattern.tile, np.broadcast_to([0, 1, 1, 1], (4, 4, 4)), atol=1e-3)
    stage = stage_of(PANEL % "texture: white.png, normals: normals.png")
    made = surface_of(stage)
    assert made.relief.size == (1.0, 1.0)
    assert made.texture_size is None
    mesh = next(each for each in stage.meshes if each.name == "panel")
    assert mesh.uv.min() == 0.0 and mesh.uv.max() == 1.0
    stage = stage_of(PANEL % "texture: white.png, picture_size: [0.5 m, 25 cm]")
    assert surface_of(stage).texture_size == (0.5, 0.25)
    mesh = next(each for each in stage.meshes if each.name == "panel")
    assert np.ptp(mesh.uv[:, 0]) >= 2.0 - 1e-9


@pytest.mark.parametrize(("fields", "message"), [
    ("normals: heights.png", "the picture 'heights.png' shows no normals: many of them would point into"),
    ("normals: torn.png", "the picture 'torn.png' cannot be read: "),
    ("roughness_picture: torn.png", "the picture 'torn.png' cannot be read: "),
    ("normals: none.png", "there is no file 'none.png' in the scene's folder"),
    ("picture_size: [1 m, 1 m]", "has a picture's size and no picture"),
    ("normals: normals.png, pattern: planks", "has a picture and a pattern"),
])
def test_bad_ones_are_told_where_they_stand(stage_of, maps, fields, message):
    with pytest.raises(SceneError) as raised:
        stage_of(PANEL % fields)
    assert message in str(raised.value)
    assert "surface" in str(raised.value) or "panel" in str(raised.value)


def glb_of(tmp_path, data, **material):
    described = {"name": "m", "pbrMetallicRoughness": {"roughnessFactor": 0.5}, **material}
    return glb(tmp_path / "plate.glb", data, materials=[described])


PIECE = "pieces: [{name: panel, mesh: plate.glb, at: [0 m, 2 m]}]\n"


def test_a_gltf_file_brings_its_own(stage_of, tmp_path):
    """Normals with their strength; roughness is the picture's green times the factor."""
    data = saved(picture([LEVEL, RIGHT], [UP, LEVEL]))
    glb_of(tmp_path, data, normalTexture={"index": 0, "scale": 0.5})
    made = surface_of(stage_of(PIECE))
    np.testing.assert_allclose(made.relief.slopes, [[[0, 0], [-0.5, 0]], [[0, -0.5], [0, 0]]], atol=0.005)
    assert made.pattern is None
    data = saved(picture([(0, 255, 0), (0, 51, 0)]))
    glb_of(tmp_path, data, pbrMetallicRoughness={
        "metallicRoughnessTexture": {"index": 0}, "roughnessFactor": 0.5})
    made = surface_of(stage_of(PIECE))
    rough = np.array([0.5, 0.1])
    widths = made.roughness * made.pattern.tile[0, :, 3]
    np.testing.assert_allclose(widths, np.maximum(rough**2, 0.02), rtol=1e-3)
    np.testing.assert_allclose(made.gloss * made.pattern.tile[0, :, 2], 1 - rough, rtol=1e-3)


def test_a_gltf_file_with_heights_for_normals_is_refused(stage_of, tmp_path):
    glb_of(tmp_path, saved(np.full((4, 4, 3), 90, np.uint8)), normalTexture={"index": 0})
    with pytest.raises(SceneError, match="material 'm' whose picture of normals shows no normals"):
        stage_of(PIECE)
