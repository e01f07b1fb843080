"""Glass in mesh files: what is a pane and what a body, what it is made of, and what is refused."""


from types import SimpleNamespace

import numpy as np
import pytest

from previz.errors import SceneError
from previz.scene.read import load
from previz.stage import shapes
from previz.stage.build import build_stage
from previz.stage.mesh_parts import inside_out

PANE = shapes.box((-0.5, -0.5, -0.003), (0.5, 0.5, 0.003))
FACE = shapes.rectangle((0, 0, 0), (0.5, 0, 0), (0, 0.5, 0))
BALL = shapes.ball(0.3, subdivisions=3)
THROUGH = {"KHR_materials_transmission": {"transmissionFactor": 1.0}}
PLASTIC = {"metallicFactor": 0.0, "roughnessFactor": 0.0}


def blended(alpha, colour=(1, 1, 1), **more):
    return {"name": "screen", "alphaMode": "BLEND",
            "pbrMetallicRoughness": {"baseColorFactor": [*colour, alpha], **more}}


def clear(colour=(1, 1, 1), name="screen", roughness=0.0, **extensions):
    extensions = {f"KHR_materials_{key}": value for key, value in extensions.items()}
    return {"name": name, "extensions": THROUGH | extensions, "pbrMetallicRoughness": {
        **PLASTIC, "baseColorFactor": [*colour, 1], "roughnessFactor": roughness}}


@pytest.fixture
def stage_with(tmp_path, monkeypatch, glb):
    """Build a stage with one mesh file; `more` is added to the piece."""
    monkeypatch.chdir(tmp_path)

    def build(*meshes, more="", scene=""):
        glb.write(tmp_path / "car.glb", *meshes)
        (tmp_path / "scene.yaml").write_text(
            f"previz: 1\npieces:\n  - {{name: car, mesh: car.glb, at: [0 m, 0 m, 1 m]{more}}}\n{scene}",
            encoding="utf-8")
        return build_stage(load("scene.yaml").scene())

    return build


def glass_of(stage):
    """The glass of the only mesh, and that mesh."""
    mesh, = (m for m in stage.meshes if m.name == "car")
    return stage.surfaces[mesh.surface].glass, mesh


def reported(error):
    """Message and advice of each problem, without its place."""
    return [(p.message, p.advice) for p in error.value.problems]


@pytest.mark.parametrize(("body", "closed"), [(PANE, True), (FACE, False)],
                         ids=["both faces", "one face"])
@pytest.mark.parametrize("material", [blended(0.2), clear()], ids=["blended", "transmission"])
def test_a_flat_thin_thing_is_a_pane(stage_with, body, closed, material):
    """However the file says that it is clear, and whether it was drawn with both of its faces."""
    glass, _ = glass_of(stage_with(("front", body, material, None)))
    assert glass.thickness > 0 and glass.closed == closed
    assert glass.ior == 1.5
    assert np.allclose(glass.tint, 1)


def test_a_windscreen_is_a_pane(stage_with):
    """A shell bent by 50 deg from side to side is one still."""
    a = np.linspace(-0.44, 0.44, 21)
    rows = [np.stack([r * np.sin(a), np.full(21, y), r * np.cos(a)], axis=1)
            for r in (2.0, 1.995) for y in (0, 0.8)]
    o, p, i, j = (21 * k + np.arange(20) for k in range(4))

    def strip(a, b, c, d):
        return [np.stack([a, b, c], 1), np.stack([a, c, d], 1)]

    ends = np.array([[0, 21, 63], [0, 63, 42], [20, 62, 83], [20, 83, 41]])
    faces = np.concatenate([*strip(o, o + 1, p + 1, p), *strip(i + 1, i, j, j + 1),
                            *strip(p, p + 1, j + 1, j), *strip(o + 1, o, i, i + 1), ends])
    glass, _ = glass_of(stage_with(("front", (np.concatenate(rows), faces), blended(0.3), None)))
    assert glass.closed
    assert glass.thickness == pytest.approx(0.005, rel=0.02)


def test_a_closed_body_refracts_and_stands_on_a_gap(stage_with):
    """With the file's index; absorption is what is left after a distance (KHR_materials_volume)."""
    made = clear(ior={"ior": 1.33}, volume={"thicknessFactor": 0.1, "attenuationDistance": 0.2,
                                            "attenuationColor": [0.25, 0.25, 0.25]})
    glass, mesh = glass_of(stage_with(("bottle", BALL, made, BALL[0] / 0.3)))
    assert glass.thickness == 0 and glass.ior == 1.33
    assert np.allclose(glass.absorption, -np.log(0.25) / 0.2)
    assert mesh.vertices[:, 2].min() == pytest.approx(
        1 + BALL[0][:, 1].min() + 0.0005, abs=1e-6)
    assert np.allclose(np.linalg.norm(mesh.normals, axis=1), 1)


def test_a_body_that_faces_inwards_is_turned(stage_with):
    """Its outside is known by its volume; a cavity within it stays one."""
    inner = (BALL[0] * 0.8, BALL[1][:, ::-1])
    vertices = np.concatenate([BALL[0], inner[0]])
    shell = np.concatenate([BALL[1], inner[1] + len(BALL[0])])

    def volume(mesh):
        corners = mesh.vertices[mesh.faces]
        return np.einsum("ij,ij->", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])) / 6

    _, turned = glass_of(stage_with(("ball", (BALL[0], BALL[1][:, ::-1]), clear(), None)))
    whole = volume(turned)
    assert whole == pytest.approx(4 / 3 * np.pi * 0.027, rel=0.02)
    _, hollow = glass_of(stage_with(("globe", (vertices, shell), clear(), None)))
    assert volume(hollow) == pytest.approx(whole * (1 - 0.8**3), rel=1e-5)


def test_a_pane_with_the_mean_normals_of_its_corners_is_flat(stage_with):
    """As boxes often come; a ball's own normals are kept."""
    corners = PANE[0] / np.abs(PANE[0]) / np.sqrt(3)
    _, mesh = glass_of(stage_with(("front", PANE, clear(), corners)))
    own = np.cross(*np.moveaxis(np.diff(mesh.vertices[mesh.faces], axis=1), 1, 0))
    own /= np.linalg.norm(own, axis=1, keepdims=True)
    assert np.allclose(mesh.normals[mesh.faces], own[:, None], atol=1e-6)
    _, ball = glass_of(stage_with(("ball", BALL, clear(), BALL[0] / 0.3)))
    assert len(ball.vertices) == len(BALL[0])


def test_a_file_may_say_that_a_closed_thing_is_hollow(stage_with):
    """A volume of thickness 0 is a thin wall (KHR_materials_volume); so is `thin glass`."""
    glass, _ = glass_of(stage_with(("globe", BALL, clear(volume={"thicknessFactor": 0.0}), None)))
    assert glass.thickness > 0 and not glass.closed
    stage = stage_with(("globe", BALL, clear(), None), more=", surface: thin glass")
    assert glass_of(stage)[0].thickness > 0
    assert glass_of(stage_with(("globe", BALL, clear(), None)))[0].thickness == 0


def test_a_sheet_has_the_thickness_of_its_file(stage_with):
    """In the file's unit: here the mesh is enlarged twice. Attenuation is in metres."""
    made = clear(volume={"thicknessFactor": 0.01, "attenuationDistance": 0.02,
                         "attenuationColor": [0.5, 0.5, 0.5]})
    glass, _ = glass_of(stage_with(("front", FACE, made, None), more=", scale: 2"))
    assert glass.thickness == pytest.approx(0.02)
    assert np.allclose(glass.tint, 0.5)


def test_tints(stage_with):
    """A blended colour counts in the share of its alpha; that of transmission counts whole."""
    glass, _ = glass_of(stage_with(("front", PANE, blended(0.2, (0.5, 0.5, 0.5)), None)))
    assert np.allclose(glass.tint, 1 - 0.2 * 0.5)
    glass, _ = glass_of(stage_with(("front", PANE, blended(0.8, (0, 0, 0)), None)))
    assert np.allclose(glass.tint, 0.2)
    glass, _ = glass_of(stage_with(("front", PANE, clear((0.6, 0.6, 0.6)), None)))
    assert np.allclose(glass.tint, 0.6)
    # A body takes it at both of its sides, over its mean chord 4 V / A (Cauchy).
    glass, _ = glass_of(stage_with(("ball", BALL, clear((0.6, 0.6, 0.6)), None)))
    assert np.allclose(np.exp(-glass.absorption * 4 * 0.3 / 3), 0.36, rtol=0.01)


def test_solid_blending_stays_solid(stage_with):
    """Exporters write BLEND for what has an alpha of 1."""
    stage = stage_with(("door", PANE, blended(1.0, (0.5, 0.5, 0.5)), None))
    assert glass_of(stage)[0] is None


def test_frosted_panes_scatter_what_they_let_through(stage_with):
    """Rough transmission of a sheet is a lobe; a body of it is refused."""
    stage = stage_with(("front", FACE, clear(roughness=0.5), None))
    surface = next(iter(s for name, s in stage.surfaces.items() if "screen" in name))
    assert surface.glass is None and surface.transmission.min() > 0.9
    assert surface.lobe == pytest.approx(2 * 0.5**2)


@pytest.mark.parametrize(("body", "material", "message", "advice"), [
    (BALL, clear(roughness=0.5),
     "is frosted glass in a closed body, and only clear bodies can be rendered",
     "Set its roughness to 0, or make it a sheet."),
    (PANE, clear(transmission={"transmissionFactor": 0.5}),
     "lets 50 % of the light through clearly and scatters the rest",
     "Clear glass has a transmission of 1; for milky glass write the piece's `surface`, such as opal "
     "glass."),
    (PANE, clear(transmission={"transmissionFactor": 1.0, "transmissionTexture": {"index": 0}}),
     "lets light through by a picture, here more and there less",
     "Give it one transmission, or write a `surface` for the piece."),
    (PANE, blended(0.7),
     "is blended with a light colour at an alpha of 70 %, neither glass nor solid",
     "Give it an alpha of 1, or of 50 % and less for glass, or write a `surface` for the piece, such "
     "as muslin."),
    ((BALL[0], np.concatenate([BALL[1][:600], BALL[1][600:, ::-1]])), clear(),
     "is closed, but some of its faces look in and some out",
     "Have its normals recalculated in the program it comes from."),
], ids=["frosted body", "half", "textured", "milky", "inside out"])
def test_what_cannot_be_done_names_its_material(stage_with, body, material, message, advice):
    """And its mesh and its file, with what to do."""
    with pytest.raises(SceneError) as error:
        stage_with(("front glass", body, material, None))
    assert reported(error) == [(f"the material 'screen' of 'front glass' in 'car.glb' {message}", advice)]


def test_all_faults_of_a_file_are_reported_at_once(stage_with):
    """Each material by itself; a surface for the piece replaces them all."""
    meshes = [("one", PANE, blended(0.7) | {"name": "net"}, None),
              ("two", BALL, clear(roughness=0.5, name="globe"), None)]
    with pytest.raises(SceneError) as error:
        stage_with(*meshes)
    assert {message.split(" in ")[0] for message, _ in reported(error)} == {
        "the material 'net' of 'one'", "the material 'globe' of 'two'"}
    with pytest.raises(SceneError) as error:
        stage_with(*meshes, scene="  - {name: other, mesh: car.glb, at: [2 m, 0 m]}\n")
    assert len(reported(error)) == 4
    assert glass_of(stage_with(meshes[0], more=", surface: muslin"))[0] is None


def test_pictures_with_cut_outs(tmp_path, monkeypatch):
    """Alpha that differs over what a mesh shows of a picture is refused, or pointed out if it is cut out."""
    import trimesh
    from PIL import Image

    monkeypatch.chdir(tmp_path)

    def write(alpha, top=1.0, mode="BLEND"):
        pixels = np.full((8, 8, 4), 255, np.uint8)
        pixels[..., 3] = alpha
        body = trimesh.Trimesh(*FACE, process=False)
        body.visual = trimesh.visual.TextureVisuals(
            uv=(FACE[0][:, :2] + 0.5) * [1, top], material=trimesh.visual.material.PBRMaterial(
                name="leaf", alphaMode=mode, baseColorTexture=Image.fromarray(pixels)))
        body.export(tmp_path / "leaf.glb")
        (tmp_path / "leaf.yaml").write_text(
            "previz: 1\npieces:\n  - {name: car, mesh: leaf.glb, at: [0 m, 0 m]}\n", encoding="utf-8")
        return build_stage(load("leaf.yaml").scene())

    # Rows from the top: the upper half is clear, v runs upwards.
    half = np.where(np.arange(8) < 4, 0, 255)[:, None]
    with pytest.raises(SceneError) as error:
        write(half)
    (message, advice), = reported(error)
    assert message.startswith("the material 'leaf' of ")
    assert message.endswith(" is blended by its picture's alpha, from 0 % to 100 %")
    assert advice == ("Cut its shape out of the mesh and give it one alpha, or write a `surface` for "
                      "the piece.")
    assert glass_of(write(50))[0] is not None
    assert glass_of(write(half, top=0.5))[0] is None
    cut = write(half, mode="MASK")
    assert glass_of(cut)[0] is None
    note, = (line for line in cut.cautions if "leaf" in line)
    # 16 384 places: 0.4 % of standard error.
    assert note in {f"Check: the picture of material 'leaf' in 'leaf.glb' cuts away {n} % of car; it is "
                    "rendered whole." for n in (49, 50, 51)}
    assert not [line for line in write(half, top=0.5, mode="MASK").cautions if "leaf" in line]


@pytest.mark.parametrize(("up", "top"), [("z", (0.1, 0.2, 0.9)), ("y", (0.1, -0.9, 0.2))])
def test_up_is_the_axis_that_is_named(tmp_path, monkeypatch, up, top):
    """Files whose y is up are turned about x: their y becomes our z, their z our -y."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "thing.obj").write_text("v 0 0 0\nv 1 0 0\nv 0.1 0.2 0.9\nf 1 2 3\n", encoding="utf-8")
    (tmp_path / "scene.yaml").write_text(
        f"previz: 1\npieces:\n  - {{name: thing, mesh: thing.obj, units: m, up: {up}, at: [0 m, 0 m]}}\n",
        encoding="utf-8")
    (mesh,) = (m for m in build_stage(load("scene.yaml").scene()).meshes if m.name == "thing")
    assert np.abs(mesh.vertices - top).max(axis=1).min() < 1e-6


def test_obj_files_say_it_with_dissolve(tmp_path, monkeypatch):
    """`d`, or `Tr` its inverse, with `Ni` for the index (MTL, from memory)."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "pane.obj").write_text(
        "mtllib pane.mtl\nusemtl clear\nv 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n", encoding="utf-8")
    (tmp_path / "scene.yaml").write_text(
        "previz: 1\npieces:\n  - {name: car, mesh: pane.obj, units: m, up: z, at: [0 m, 0 m]}\n",
        encoding="utf-8")
    for line in ("d 0.2", "Tr 0.8"):
        (tmp_path / "pane.mtl").write_text(
            f"newmtl clear\nKd 0.4 0.4 0.4\nNi 1.45\nillum 4\n{line}\n", encoding="utf-8")
        glass, _ = glass_of(build_stage(load("scene.yaml").scene()))
        assert glass.ior == 1.45
        # The colour's byte is 102.
        assert np.allclose(glass.tint, 1 - 0.2 * 0.6, atol=1e-3)
    (tmp_path / "pane.mtl").write_text("newmtl clear\nKd 0.4 0.4 0.4\nd 1\n", encoding="utf-8")
    assert glass_of(build_stage(load("scene.yaml").scene()))[0] is None


def test_pieces_of_the_set_may_be_glass(tmp_path, monkeypatch):
    """A flat box is a pane, another is a block; a colour tints it."""
    monkeypatch.chdir(tmp_path)

    def build(size, surface):
        (tmp_path / "scene.yaml").write_text(
            f"previz: 1\npieces:\n  - {{name: car, shape: box, at: [0 m, 0 m], size: {size}, "
            f"surface: {surface}}}\n", encoding="utf-8")
        return glass_of(build_stage(load("scene.yaml").scene()))[0]

    sheet, block = "[1 m, 6 mm, 1 m]", "[0.1 m, 0.1 m, 0.1 m]"
    assert build(sheet, "glass").closed and build(block, "glass").thickness == 0
    tinted = build(sheet, "{name: glass, colour: [0.5, 0.5, 0.5]}")
    assert np.allclose(tinted.tint, 0.5, atol=1e-6)
    assert build(sheet, "{name: glass, transmission: 0.4}") is None
    with pytest.raises(SceneError) as error:
        build(block, "{name: glass, roughness: 0.3}")
    assert reported(error) == [("piece 'car' is frosted glass in a closed body, and only clear bodies can "
                            "be rendered", "Set its roughness to 0, or make it a sheet.")]


def test_a_lamp_in_a_globe_is_reported_what_to_write(stage_with):
    """A closed skin passes for solid glass; `thin glass` says that it is hollow."""
    scene = "lights:\n  - {name: bulb, kind: bulb, at: [0 m, 0 m, 1 m], output: 800 lm}\n"
    stage = stage_with(("globe", BALL, clear(), None), scene=scene)
    assert [line for line in stage.cautions if "bulb" in line and "thin glass" in line] == [
        "Check: bulb is within car, a body of glass, and its light is found by chance alone. If that is "
        "hollow, write `surface: thin glass` for it."]
    stage = stage_with(("globe", BALL, clear(), None), more=", surface: thin glass", scene=scene)
    assert not [line for line in stage.cautions if "thin glass" in line]


CARD = """  - {name: card, shape: box, at: [0 m, 1 m], size: [2 m, 20 mm, 2 m], surface: white card}
lights:
  - {name: key, kind: soft box, at: [-1.2 m, 0.4 m, 1.5 m], aim: [0 m, 1 m, 1 m], size: [0.5 m, 0.5 m],
     output: 2000 lm}
cameras:
  - {name: A, at: [0 m, -1.5 m, 1 m], aim: [0 m, 1 m, 1 m], lens: 100 mm,
     stop: T4, iso: 800}
"""


@pytest.mark.engine
@pytest.mark.parametrize("material", [blended(0.2, (0.8, 0.9, 0.9)), clear()],
                         ids=["blended", "transmission"])
@pytest.mark.parametrize("body", [PANE, FACE], ids=["both faces", "one face"])
def test_a_card_is_seen_through_a_pane_of_a_file(stage_with, body, material):
    """From the file to the picture: at the pane's own transmission, 1.5 being the index."""
    from previz.engine import backend
    from previz.physics.optics import pane

    backend.start()
    from previz.engine.render import CameraJob, Sampling, luminance_weights, open_stage

    def level(stage):
        job = CameraJob(open_stage(stage, 4), stage, stage.cameras[0], 16, 9, Sampling(256, 2, 1))
        while not job.finished:
            job.step()
        light = np.asarray(job.frames().slices, float)
        return float(np.einsum("lbrc,b->", light, luminance_weights(4)))

    stage = stage_with(("front", body, material, None), scene=CARD)
    glass = stage.surfaces[next(m.surface for m in stage.meshes if m.name == "car")].glass
    bare = level(stage_with(("front", (body[0] * 0.01, body[1]), material, None), scene=CARD))
    ratio = level(stage) / bare
    # Square on, but for the angle of view; the room's own return is nil.
    assert ratio == pytest.approx(float(pane(1.0, 1.5, internal=np.mean(glass.tint))[0]), rel=0.02)
    assert 0.78 <= ratio <= 0.97


@pytest.mark.parametrize(("low", "high", "inside"), [
    ((1, 1, 1), (2, 2, 2), True), ((-1, 1, 1), (2, 2, 2), False), ((1, 1, 1), (2, 2, 4), False),
    ((1, 1, -1), (2, 4, 2), False), ((0, 0, 0), (3, 3, 3), True)])
def test_a_cavity_lies_within_its_body_all_round(low, high, inside):
    """A part that faces inwards is a body's hollow only where no side of it stands out of that body."""
    def part(low, high, **more):
        return SimpleNamespace(**{"closed": True, "wound": True, "volume": 1.0, "area": 6.0,
                                  "low": np.array(low, float), "high": np.array(high, float)} | more)

    hollow, body = part(low, high, volume=-1.0), part((0, 0, 0), (3, 3, 3))
    assert inside_out([hollow, body]) == ([] if inside else [hollow])
    # A single skin, or one that faces inwards itself, holds nothing.
    for other in (part((0, 0, 0), (3, 3, 3), closed=False), part((0, 0, 0), (3, 3, 3), volume=-1.0)):
        assert hollow in inside_out([hollow, other])
