"""Pieces that glow: shapes and parts of meshes as lamps, held to closed forms."""


from types import SimpleNamespace

import numpy as np
import pytest
import trimesh
from PIL import Image
from trimesh.visual import TextureVisuals
from trimesh.visual.material import PBRMaterial

from previz.errors import SceneError
from previz.physics.colourtemp import cct_duv, xy_of
from previz.scene.read import load
from previz.stage.lights import glow
from previz.stage.lights.glow import _evened, _shown, _texels


def shape(fields, light):
    return (f"pieces: [{{name: sign, at: [0 m, 0 m, 0 m], {fields}}}]\n"
            f"lights: [{{name: glow, kind: glow, piece: sign, {light}}}]\n")


def material(name, **more):
    return PBRMaterial(name=name, baseColorFactor=[0.1, 0.1, 0.1, 1.0], metallicFactor=0.0,
                       roughnessFactor=0.9, **more)


PICTURE = np.zeros((8, 12, 3), np.uint8)
PICTURE[:, :6] = [255, 0, 0]
PICTURE[:4, 6:] = [0, 0, 255]


def screen(folder, picture=None, turns=0, glow_colour=(1.0, 1.0, 1.0)):
    """A case with a screen of 0.6 x 0.4 m in front of it, and a knob that glows half as much.

    Written with z up for glTF's y up; the screen faces along -y of the scene.
    """
    case = trimesh.creation.box((0.8, 0.2, 0.6))
    case.visual = TextureVisuals(material=material("case"))
    corners = np.array([[-0.3, -0.11, -0.2], [0.3, -0.11, -0.2], [0.3, -0.11, 0.2], [-0.3, -0.11, 0.2]])
    corners = np.roll(corners, turns, axis=0)
    uv = np.roll(np.array([[0, 0], [1, 0], [1, 1], [0, 1.0]]), turns, axis=0)
    image = None if picture is None else Image.fromarray(picture)
    front = trimesh.Trimesh(corners, [[0, 1, 2], [0, 2, 3]], process=False)
    front.visual = TextureVisuals(uv=uv, material=material(
        "screen", emissiveFactor=list(glow_colour), emissiveTexture=image))
    knob = trimesh.Trimesh(corners * [0.1, 1, 0.1] + [0, -0.01, -0.27], [[0, 1, 2], [0, 2, 3]], process=False)
    knob.visual = TextureVisuals(material=material("knob", emissiveFactor=[0.5, 0.5, 0.5]))
    scene = trimesh.Scene([case, front, knob] if picture is None else [case, front])
    turn = trimesh.transformations.rotation_matrix(-np.pi / 2, [1, 0, 0])
    for each in scene.geometry.values():
        each.apply_transform(turn)
    scene.export(str(folder / "set.glb"))


MESH = ("pieces: [{name: set, mesh: set.glb, at: [0 m, 0 m, 0 m]}]\n"
        "lights: [{name: glow, kind: glow, piece: set, output: 400 cd/m2%s}]\n")


def test_lumens_follow_from_the_luminance(plain, tmp_path):
    """M = pi L over all of the surface: of a ball, and of a box of six faces."""
    stage = plain.stage_of(tmp_path, shape("shape: sphere, size: [0.2 m, 0.2 m, 0.2 m]",
                                           "output: 1000 cd/m2"))
    # The ball's own polyhedron: its area is short of the sphere's by less than a per cent.
    assert stage.lamps[0].output == pytest.approx(np.pi * 1000 * 4 * np.pi * 0.01, rel=0.01)
    box = plain.stage_of(tmp_path, shape("shape: panel, size: [1 m, 0.02 m, 0.3 m]", "output: 100 cd/m2"))
    area = 2 * (1 * 0.3 + 1 * 0.02 + 0.3 * 0.02)
    assert box.lamps[0].output == pytest.approx(np.pi * 100 * area)
    assert [e.name for e in box.emitters] == ["glow"] and box.emitters[0].symmetric
    # The piece is a lamp now: nothing else of it stands there.
    assert not [m for m in box.meshes if m.name == "sign"]
    assert box.rig[0].in_shot and box.rig[0].kind == "glow"
    lumens = plain.stage_of(tmp_path, shape("shape: panel, size: [1 m, 0.02 m, 0.3 m]", "output: 70 lm"))
    assert lumens.lamps[0].output == 70


@pytest.mark.engine
def test_a_glowing_panel_and_ball_light_as_closed_forms_say(bench, tmp_path):
    """A 1.2 m square of 1000 cd/m² gives 321.61 lx 2 m ahead of it (Howell; check value 1.6), and a ball of
    0.1 m, E = pi L (R / d)² = 7.854 lx (check value 1.8).
    """
    panel = bench.stage_of(tmp_path, shape("shape: panel, size: [1.2 m, 0.01 m, 1.2 m]",
                                           "output: 1000 cd/m2"))
    ahead = bench.Meters(np.array([[0, 2.005, 0.6]]), np.array([[0, -1.0, 0]]), np.ones(1))
    lux = bench.light(panel, ahead, samples=20_000)[0, 0] * panel.lamps[0].output
    assert lux == pytest.approx(321.61, rel=0.01)
    ball = bench.stage_of(tmp_path, shape("shape: sphere, size: [0.2 m, 0.2 m, 0.2 m]",
                                          "output: 1000 cd/m2"))
    aside = bench.Meters(np.array([[2.0, 0, 0.1]]), np.array([[-1.0, 0, 0]]), np.ones(1))
    lux = bench.light(ball, aside, samples=20_000)[0, 0] * ball.lamps[0].output
    assert lux == pytest.approx(7.854, rel=0.01)


@pytest.mark.engine
def test_parts_of_a_mesh_that_glow_in_its_file(bench, tmp_path):
    """The screen at its luminance, the knob at half of it, the case dark; far off L A / d²."""
    screen(tmp_path)
    stage = bench.stage_of(tmp_path, MESH % "")
    assert sorted(m.surface for m in stage.meshes if m.name == "set") == ["set: case"]
    area = 0.6 * 0.4 * (1 + 0.5 * 0.01)
    assert stage.lamps[0].output == pytest.approx(np.pi * 400 * area)
    assert sorted(e.share for e in stage.emitters) == pytest.approx([0.005 / 1.005, 1 / 1.005])
    ahead = bench.Meters(np.array([[0, -20.0, 0], [0, 20.0, 0]]), np.array([[0, 1.0, 0], [0, -1, 0]]),
                         np.ones(2))
    lux = bench.light(stage, ahead, samples=4000)[:, 0] * stage.lamps[0].output
    assert lux[0] == pytest.approx(400 * area / 19.89**2, rel=0.01)
    assert lux[1] == 0
    knob = bench.stage_of(tmp_path, MESH % ", material: knob")
    assert knob.lamps[0].output == pytest.approx(np.pi * 400 * 0.0024)
    assert {m.surface for m in knob.meshes} == {"set: case", "set: screen"}
    whole = bench.stage_of(tmp_path, MESH.replace("output: 400 cd/m2", "output: 9 lm") % "")
    assert whole.lamps[0].output == 9


@pytest.mark.parametrize("turns", range(4))
def test_a_screen_shows_its_picture_upright(plain, tmp_path, turns):
    """Red at the left of a viewer, blue at the upper right, wherever its corners begin."""
    screen(tmp_path, PICTURE, turns)
    stage = plain.stage_of(tmp_path, MESH % "")
    face = stage.emitters[0]
    right, up, ahead = face.world_from_light.T
    assert ahead == pytest.approx([0, -1, 0], abs=1e-6)
    rows, columns = face.picture.shape[:2]
    local = (face.vertices - face.vertices.mean(axis=0)) @ face.world_from_light
    size = np.ptp(local, axis=0)

    def seen(x, z):
        """Return the colour at a place of the set, as the engine reads it."""
        place = np.array([x, -0.11, z]) - face.vertices.mean(axis=0)
        column = int((place @ right / size[0] + 0.5) * columns)
        row = int((0.5 - place @ up / size[1]) * rows)
        return face.picture[row, column]

    # A viewer along +y has +x at the right.
    assert np.argmax(seen(-0.2, 0.1)) == 0 and seen(-0.2, 0.1)[2] == 0
    assert np.argmax(seen(0.2, 0.1)) == 2 and seen(0.2, 0.1)[0] == 0
    assert not seen(0.2, -0.1).any()
    # The lamp's lumens hold the picture's mean, so the picture itself has a mean luminance of one.
    assert float((face.picture @ [0.2126, 0.7152, 0.0722]).mean()) == pytest.approx(1, rel=1e-3)


def test_a_picture_on_anything_else_counts_by_its_mean(plain, tmp_path):
    """Places spread over a part by area find the mean of its texture: half red, a quarter blue."""
    screen(tmp_path, PICTURE)
    scene = load_scene(tmp_path, MESH % "")
    from previz.stage.imported import piece_meshes
    from previz.stage.surfaces import SurfaceRegistry

    parts = [glow.GlowPart(*each) for each in piece_meshes(
        scene.pieces[0], SurfaceRegistry(), None, None, [])]
    part = next(p for p in parts if p.material.name == "screen")
    assert _shown(part).mean(axis=0) == pytest.approx([0.5, 0, 0.25], abs=0.01)


def load_scene(folder, text):
    path = folder / "scene.yaml"
    path.write_text("previz: 1\n" + text, encoding="utf-8")
    return load(path).scene()


def test_colour_dimmer_and_switch_cost_nothing(plain, tmp_path):
    """They are levels and spectra: the paths of the light are the same; red is red."""
    from previz.stage.fingerprint import light_path_hash

    fields = "shape: panel, size: [1 m, 0.02 m, 0.3 m]"
    plainly = plain.stage_of(tmp_path, shape(fields, "output: 70 lm"))
    red = plain.stage_of(tmp_path, shape(fields, "output: 70 lm, colour: red, dimmer: 30 %, on: no"))
    assert light_path_hash(plainly) == light_path_hash(red)
    assert red.lamps[0].level == 0.3 and not red.lamps[0].on
    assert cct_duv(xy_of(plainly.lamps[0].spectrum))[0] == pytest.approx(6500, rel=0.01)
    x, y = xy_of(red.lamps[0].spectrum)
    assert x > 0.42 and y < 0.36


def test_what_cannot_glow_is_reported(plain, tmp_path, monkeypatch):
    """Too many triangles, and a material that the mesh has not."""
    screen(tmp_path)
    with pytest.raises(SceneError, match="the piece has no material 'glass'") as caught:
        plain.stage_of(tmp_path, MESH % ", material: glass")
    assert "Its materials are: case, knob, screen." in str(caught.value)
    monkeypatch.setattr(glow, "MOST_TRIANGLES", 3)
    with pytest.raises(SceneError, match="would glow with 4 triangles, and 3 are the most") as caught:
        plain.stage_of(tmp_path, MESH % "")
    assert "Export a simpler mesh, or name the 'material' that glows." in str(caught.value)


def test_a_mesh_that_glows_and_is_no_lamp_is_reported(plain, tmp_path):
    """What is emissive in a file gives no light until the scene says how much."""
    screen(tmp_path)
    stage = plain.stage_of(tmp_path, MESH.partition("lights")[0])
    assert ("Check: knob, screen of set glows in its file and gives no light here. Add a lamp '{name: ..., "
            "kind: glow, piece: set, output: 300 cd/m2}'.") in stage.cautions
    assert not stage.lamps


def test_a_colour_in_the_file_is_reported(plain, tmp_path):
    """A lamp's colour is the scene's; where the file has one and the scene none, it says which."""
    screen(tmp_path, glow_colour=[1.0, 0.2, 0.1])
    line = ("Check: the glow of set has a colour in its file, and glow has none. Write 'colour: [1, 0.2, "
            "0.1]' to have it.")
    assert line in plain.stage_of(tmp_path, MESH % ", material: screen").cautions
    own = plain.stage_of(tmp_path, MESH % ", material: screen, colour: [1, 0.2, 0.1]")
    assert line not in own.cautions
    x, y = xy_of(own.lamps[0].spectrum)
    # sRGB (1, 0.2, 0.1) is at x 0.5005, y 0.3618 (IEC 61966-2-1); the lamp is a white LED of 6500 K.
    assert (x, y) == pytest.approx((0.5005, 0.3618), abs=0.01)
    screen(tmp_path)
    assert not [each for each in plain.stage_of(tmp_path, MESH % "").cautions if "colour" in each]


def test_large_triangles_are_split_and_nothing_is_lost():
    """The surface keeps its area; no triangle stays far above the mean."""
    vertices = np.array([[0, 0, 0], [8.0, 0, 0], [0, 8, 0], [0, 0, 1], [0.1, 0, 1], [0, 0.1, 1]])
    faces = np.array([[0, 1, 2], [3, 4, 5]])
    more, split = _evened(vertices, faces)
    areas = glow._areas(more, split)
    assert areas.sum() == pytest.approx(glow._areas(vertices, faces).sum())
    assert areas.max() <= glow.UNEVEN * areas.mean()


def test_texels_lie_as_texture_coordinates_say():
    """The first row is the upper one, as v goes up; the picture repeats in both directions."""
    picture = np.arange(6.0).reshape(2, 3, 1)
    uv = np.array([[0.1, 0.9], [0.5, 0.9], [0.9, 0.9], [0.1, 0.1], [0.5, 0.1], [0.9, 0.1]])
    for shift in ((0, 0), (1, 0), (0, -2), (-3, 5)):
        assert _texels(picture, uv + shift)[:, 0].tolist() == [0, 1, 2, 3, 4, 5]


@pytest.mark.parametrize("turned", [0, 1])
def test_a_picture_on_faces_that_are_no_rectangle_is_taken_evenly(turned):
    """Faces that cancel each other have no direction, and corners in one place no edge."""
    corners = np.zeros((3, 3)) if turned else np.eye(3)
    faces = [[0, 1, 2], [2, 1, 0]]
    part = SimpleNamespace(material=SimpleNamespace(glow_picture=PICTURE, glow=(1.0, 1.0, 1.0)),
                           mesh=SimpleNamespace(vertices=corners, faces=faces, uv=np.zeros((3, 2))))
    assert glow._pictured(part) is None


def test_materials_that_a_file_numbers_are_told_by_their_number():
    """A file's name of a material may be a number."""
    parts = [SimpleNamespace(material=SimpleNamespace(name=name, glow=(1.0, 0.0, 0.0)))
             for name in (7, "dial")]
    (line,) = glow.unlit_notes(SimpleNamespace(name="desk"), parts, ())
    assert line.startswith("Check: 7, dial of desk glows in its file")
