"""Meshes that are odd and sound: each is repaired with a line that says so, or refused with what to do.

`check` says of each what a build says of it.
"""

import importlib.util
import io
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

from previz.cli.check import command
from previz.errors import SceneError
from previz.scene.read import load
from previz.stage import mesh_check, shapes
from previz.stage.build import build_stage
from previz.stage.mesh_files import read_parts
from previz.stage.mesh_parts import outward, parts_of, sound_faces

_spec = importlib.util.spec_from_file_location("broken_meshes", Path(__file__).parent / "broken_meshes.py")
broken = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(broken)

CORNERS = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)], float)
BOX = np.array([[0, 1, 3], [0, 3, 2], [4, 6, 7], [4, 7, 5], [0, 4, 5], [0, 5, 1], [2, 3, 7], [2, 7, 6],
                [0, 2, 6], [0, 6, 4], [1, 5, 7], [1, 7, 3]])
"""A metre's cube of 12 triangles, its faces outwards."""


def written(folder, mesh, more="", rest=""):
    """Write a scene of one piece with a mesh."""
    (folder / "scene.yaml").write_text(
        f"previz: 1\npieces:\n  - {{name: crate, mesh: {mesh}, at: [1 m, 1 m]{more}}}\n{rest}")


@pytest.fixture
def told(tmp_path, monkeypatch):
    """Return what a build says of a scene: problems, or the lines on its mesh; `check` says the same."""
    monkeypatch.chdir(tmp_path)

    def build(mesh, data, more="", rest=""):
        (tmp_path / mesh).write_bytes(data)
        written(tmp_path, mesh, more, rest)
        checked = CliRunner().invoke(command, ["scene.yaml"], catch_exceptions=True)
        try:
            stage = build_stage(load("scene.yaml").scene())
        except SceneError as error:
            assert str(checked.exception) == str(error)
            return [f"{p.message} {p.advice}" for p in error.problems]
        lines = [line for line in stage.cautions if line.startswith("Check: ")]
        assert checked.exception is None
        for line in lines:
            assert line.removeprefix("Check: ").partition(". ")[0].removesuffix(".") in checked.output
        assert bool(lines) == ("to look at" in checked.output)
        return lines

    return build


OBJ = ", units: m, up: z"


def obj(vertices=CORNERS, faces=BOX, more=""):
    return ("".join("v {:.17g} {:.17g} {:.17g}\n".format(*v) for v in vertices)
            + "".join("f {} {} {}\n".format(*f) for f in np.asarray(faces) + 1) + more).encode()


@pytest.mark.parametrize(("mesh", "data", "more", "words"), [
    ("a.obj", obj(), OBJ, []),
    ("a.stl", broken.stl(points=CORNERS.tolist(), corners=BOX.tolist()), OBJ, []),
    ("a.ply", broken.ply(), OBJ, []),
    ("a.glb", broken.glb(*broken.tree()), "", []),
    ("huge.obj", obj(CORNERS * 1e9), OBJ, ["is 1000000000 m across", "Write the `units`"]),
    ("endless.obj", obj(CORNERS * 1e300), ", units: m, up: z, scale: 1000000",
     ["is wider than all numbers of metres"]),
    ("mm.obj", obj(CORNERS * 1850), OBJ,
     ["is 1850 m across", "'units: mm' (1.85 m)", "'units: cm' (18.5 m)"]),
    ("mm.glb", broken.glb(*broken.tree([tuple(1850 * c for c in p) for p in broken.POINTS])), "",
     ["is 1850 m across", "write 'scale: 0.001' (1.85 m)"]),
    ("small.stl", broken.stl(points=(CORNERS * 0.002).tolist(), corners=BOX.tolist()), OBJ,
     ["is 2 mm across"]),
    ("dust.obj", obj(CORNERS * 1e-6), OBJ, ["is 0.001 mm across"]),
    ("point.obj", obj(CORNERS * 0), OBJ, ["has no size"]),
    ("line.obj", obj(CORNERS * [1, 0, 0]), OBJ, ["has no face with an area"]),
    ("far.obj", obj(CORNERS + [300, 0, 0]), OBJ, ["lies 301 m from its own origin"]),
    ("map.obj", obj(CORNERS + [5e5, 4e6, 0]), OBJ, ["is 1 m across and lies 4000001 m from its own origin"]),
    ("loose.obj", obj([*CORNERS, (9e9, 0, 0)]), OBJ, []),
    ("loose.ply", broken.ply(points=5, rows="0 0 0\n1 0 0\n0 1 0\n0 0 1\nnan 1e30 0\n" + "".join(
        "3 {} {} {}\n".format(*c) for c in broken.CORNERS)), OBJ, ["has 1 point far from all faces"]),
    ("short.obj", obj(more="f 1 2\nl 1 2 3\n"), OBJ, ["has 1 face with fewer than three corners"]),
    ("hidden.glb", broken.glb(
        {**broken.tree()[0], "nodes": [{"mesh": 0}, {"mesh": 0, "scale": [0, 0, 0]}],
         "scenes": [{"nodes": [0, 1]}]}, broken.tree()[1]), "", ["has 1 part scaled to nothing"]),
    ("scenes.glb", broken.changed("scenes", value=[{"nodes": [0]}, {"nodes": []}]), "", ["has 2 scenes"]),
], ids=lambda value: value if isinstance(value, str) and "." in value else "")
def test_each_is_repaired_or_refused_in_words(told, mesh, data, more, words):
    lines = told(mesh, data, more)
    assert len(lines) == bool(words)
    assert all(word in lines[0] for word in words)


@pytest.mark.parametrize("mesh", ["a.glb", "a.obj"])
def test_a_mesh_is_read_once(tmp_path, monkeypatch, mesh):
    """A small sound glTF file is passed by its own numbers; any other mesh is read, once for all options."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / mesh).write_bytes(broken.glb(*broken.tree()) if mesh == "a.glb" else obj())
    written(tmp_path, mesh, OBJ if mesh == "a.obj" else "",
            "options: {one: {pieces: {}}, two: {pieces: {}}}\n")
    read = []
    whole = mesh_check._read
    monkeypatch.setattr(mesh_check, "_read", lambda *args: read.append(args) or whole(*args))
    assert CliRunner().invoke(command, ["scene.yaml"]).exit_code == 0
    assert len(read) == (mesh == "a.obj")


def test_a_verdict_follows_the_scene_and_the_file(tmp_path, monkeypatch):
    """A line more above a piece, and the same scene once its mesh is put right."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "a.obj").write_bytes(obj(faces=BOX + 1))
    for line, title in ((3, ""), (4, "title: shed\n")):
        written(tmp_path, "a.obj", OBJ)
        text = (tmp_path / "scene.yaml").read_text()
        (tmp_path / "scene.yaml").write_text(text.replace("pieces", title + "pieces"))
        (problem,) = CliRunner().invoke(command, ["scene.yaml"]).exception.problems
        assert problem.line == line and "at points that it does not have; it has 8" in problem.message
    (tmp_path / "a.obj").write_bytes(obj() + b"# put right\n")
    assert CliRunner().invoke(command, ["scene.yaml"]).exit_code == 0


@pytest.mark.parametrize("change", [
    {"points": [*broken.POINTS[:3], (0, 0, np.nan)]}, {"corners": [*broken.CORNERS, (0, 1, 77)]},
    {"points": [*broken.POINTS, (5, 5, 5)]}, {"points": [tuple(90 * c for c in p) for p in broken.POINTS]}])
def test_numbers_that_are_not_plain_are_read_whole(tmp_path, change):
    path = tmp_path / "a.glb"
    path.write_bytes(broken.glb(*broken.tree(**change)))
    written(tmp_path, "a.glb")
    source = mesh_check.open_source(path)
    assert not mesh_check._is_plain(mesh_check.structure_of(source), 1.0)
    path.write_bytes(broken.glb(*broken.tree()))
    source = mesh_check.open_source(path)
    assert mesh_check._is_plain(mesh_check.structure_of(source), 1.0)


def test_poses_are_the_library_s(tmp_path):
    """The size that a file is passed by goes by its nodes' places, turns and scales, as the library's."""
    described, blob = broken.tree()
    turned = {"rotation": [0.5, -0.5, 0.5, 0.5], "translation": [3, 0, -1], "scale": [2, 1, 0.5]}
    matrix = {"matrix": [0, 0, -2, 0, 0, 3, 0, 0, 1, 0, 0, 0, 5, 6, 7, 1]}
    for nodes in ([{"children": [1], **turned}, {"mesh": 0, **matrix}], [{"children": [1], **matrix},
                                                                        {"mesh": 0, **turned}]):
        path = tmp_path / "a.glb"
        path.write_bytes(broken.glb({**described, "nodes": nodes}, blob))
        found = mesh_check.structure_of(mesh_check.open_source(path))
        boxes = {0: [mesh_check._box(found, use) for use in found.uses]}
        ((low, high),) = mesh_check._placed(found, boxes)
        (part,) = read_parts(str(path))
        cube = np.array([[x, y, z, 1] for x in (0, 1) for y in (0, 1) for z in (0, 1)]) @ part.pose.T
        np.testing.assert_allclose([low, high], [cube[:, :3].min(axis=0), cube[:, :3].max(axis=0)], atol=1e-6)


def test_a_body_turned_inside_out_is_the_right_one_again():
    """Its faces are those of the right one, and a cavity within another body stays one."""
    faces, turned = outward(CORNERS, BOX[:, ::-1])
    assert turned == 12
    np.testing.assert_array_equal(faces, BOX)
    assert outward(CORNERS, BOX)[1] == 0
    within = np.concatenate([CORNERS, 0.25 + CORNERS / 2])
    hollow = np.concatenate([BOX, BOX[:, ::-1] + 8])
    assert outward(within, hollow)[1] == 0
    assert outward(within, np.concatenate([BOX[:, ::-1], BOX[:, ::-1] + 8]))[1] >= 12


def test_faces_that_are_there_twice_or_have_no_area_go():
    """Whichever corner they begin with; a face and its reverse are two."""
    faces = np.concatenate([BOX, BOX[:3, [1, 2, 0]], [[0, 0, 1], [2, 3, 2]]])
    np.testing.assert_array_equal(sound_faces(CORNERS, faces), BOX)
    both = np.concatenate([BOX, BOX[:, ::-1]])
    assert len(sound_faces(CORNERS, both)) == 24


def test_what_is_closed():
    """Two boxes that share an edge, and a sheet drawn from both sides, are; a box with a hole is torn."""
    (box,) = parts_of(CORNERS, BOX)
    assert box.closed and box.wound and not box.is_torn() and not box.is_pane()
    assert box.volume == pytest.approx(1) and box.area == pytest.approx(6)
    (pair,) = parts_of(np.concatenate([CORNERS, CORNERS + [1, 1, 0]]), np.concatenate([BOX, BOX + 8]))
    assert pair.closed and pair.wound and pair.volume == pytest.approx(2)
    sheet = BOX[:2]
    (skin,) = parts_of(CORNERS, np.concatenate([sheet, sheet[:, ::-1]]))
    assert skin.closed and skin.is_pane() and skin.volume == pytest.approx(0)
    (alone,) = parts_of(CORNERS, sheet)
    assert not alone.closed and not alone.is_torn()
    angle = np.arange(64) * np.pi / 32
    ring = np.stack([np.cos(angle), np.sin(angle), 0 * angle], axis=1)
    wall = [(i, (i + 1) % 64, 64 + i) for i in range(64)] + [((i + 1) % 64, 64 + (i + 1) % 64, 64 + i)
                                                             for i in range(64)]
    ends = [(128, (i + 1) % 64, i) for i in range(64)] + [(129, 64 + i, 64 + (i + 1) % 64) for i in range(64)]
    tin = np.concatenate([ring, ring + [0, 0, 2], [[0, 0, 0], [0, 0, 2]]])
    (whole,) = parts_of(tin, np.array(wall + ends))
    assert whole.closed
    (torn,) = parts_of(tin, np.array(wall[1:] + ends))
    assert not torn.closed and torn.is_torn()
    (tumbler,) = parts_of(tin, np.array(wall + ends[:64]))
    assert not tumbler.closed and not tumbler.is_torn()


def test_a_mesh_is_measured_by_its_room(told):
    """35 m are a chair in inches in a room of 5 m, and a coach with its engine where there is none."""
    assert told("a.obj", obj(CORNERS * 35), OBJ) == []
    (line,) = told("a.obj", obj(CORNERS * 35), OBJ, "room: {size: [5 m, 4 m, 3 m]}\n")
    assert "is 35 m across. Write 'units: cm' (350 mm), or 'units: in' (889 mm)" in line


def test_a_chandelier_of_thousands_of_parts():
    """What is found of each does not grow with how many there are."""
    rng = np.random.default_rng(0)
    at = 4 * rng.permutation(4096)[:, None, None] + [[[0.0, 0, 0]]]
    points = (at + np.array(broken.POINTS, float)).reshape(-1, 3)
    faces = (4 * np.arange(4096)[:, None, None] + np.array(broken.CORNERS)).reshape(-1, 3)
    parts = parts_of(points, faces[:, ::-1])
    assert len(parts) == 4096 and all(part.closed for part in parts)
    assert {round(part.volume, 9) for part in parts} == {round(-1 / 6, 9)}
    np.testing.assert_array_equal(outward(points, faces[:, ::-1])[0], faces)


GLOW = "lights: [{name: lamp, kind: glow, piece: crate, output: 400 cd/m2}]\n"


def test_a_body_that_glows_inwards_glows_outwards(told, tmp_path):
    """Its emitter is that of the right body, to the last corner, and a line says so."""
    stages, lines = [], []
    for mesh, faces in (("a.obj", BOX), ("b.obj", np.concatenate([BOX[:, ::-1], BOX[:2, ::-1]]))):
        lines = told(mesh, obj(faces=faces), OBJ, GLOW)
        stages.append(build_stage(load("scene.yaml").scene()))
    assert lines == ["Check: 12 faces of crate look inwards in its file, and are turned outwards to glow."]
    right, turned = (stage.emitters[0] for stage in stages)
    np.testing.assert_array_equal(right.vertices, turned.vertices)
    assert {tuple(np.roll(f, -np.argmin(f))) for f in right.faces} == {
        tuple(np.roll(f, -np.argmin(f))) for f in turned.faces}
    assert stages[0].lamps[0].output == stages[1].lamps[0].output


def test_a_body_that_glows_partly_inwards_is_told(told):
    """Which way was meant is not known."""
    (line,) = told("a.obj", obj(faces=np.concatenate([BOX[:4, ::-1], BOX[4:]])), OBJ, GLOW)
    assert "has bodies with faces that look in and faces that look out" in line


def test_glass_with_holes_is_told(told):
    """A bottle with a face missing refracts nothing; with doubled faces it is a body as it was."""
    rough = broken.stl(points=CORNERS.tolist(), corners=[*BOX.tolist(), *BOX[:4].tolist()])
    assert told("a.stl", rough, OBJ + ", surface: glass") == []
    (mesh,) = (m for m in build_stage(load("scene.yaml").scene()).meshes if m.name == "crate")
    assert len(mesh.faces) == 12
    small = np.concatenate([CORNERS, [[0.5, 0.5, 0], [0.5, 0.45, 0], [0.55, 0.5, 0]]])
    # The underside about a small hole.
    under = [(0, 8, 2), (2, 8, 6), (6, 8, 10), (6, 10, 4), (4, 10, 9), (4, 9, 0), (0, 9, 8)]
    sides = [face for face in BOX.tolist() if any(CORNERS[c][2] for c in face)]
    (line,) = told("b.obj", obj(small, [*sides, *under]), OBJ + ", surface: glass")
    assert "the glass of crate has 1 body with holes" in line


def test_a_mesh_of_many_triangles_is_simplified_on_wish(told, monkeypatch):
    """By its piece, with a line; one of more than a million says how."""
    vertices, faces = shapes.ball(1.0, subdivisions=4)
    (line,) = told("a.obj", obj(vertices, faces), OBJ + ", triangles: 500")
    (mesh,) = (m for m in build_stage(load("scene.yaml").scene()).meshes if m.name == "crate")
    count = len(mesh.faces)
    assert line == f"Check: the mesh 'a.obj' is simplified from 5120 to {count} triangles, as its piece says."
    assert 450 <= len(mesh.faces) <= 500
    monkeypatch.setattr("previz.stage.mesh_sizes.MANY", 5000)
    (line,) = told("b.obj", obj(vertices, faces), OBJ)
    assert "has 0.0 million triangles. 'triangles: 500000' renders it simplified" in line


def test_a_picture_without_places_on_it_counts_by_its_mean(told, tmp_path):
    """And one that is laid by a second set of places is told."""
    saved = io.BytesIO()
    Image.fromarray(np.array([[[255, 0, 0], [0, 0, 255]]], np.uint8)).save(saved, format="PNG")
    (tmp_path / "sign.png").write_bytes(saved.getvalue())
    described, blob = broken.tree()
    described |= {"images": [{"uri": "sign.png"}], "textures": [{"source": 0}]}
    described["materials"][0]["pbrMetallicRoughness"]["baseColorTexture"] = {"index": 0, "texCoord": 1}
    lines = told("a.glb", broken.glb(described, blob))
    assert any("lays pictures by a second set" in line for line in lines)
    assert any("has 1 part with a picture and no places on it; its mean colour" in line for line in lines)
    (part,) = read_parts("a.glb")
    assert part.material.picture is None
    np.testing.assert_allclose(part.material.rgb, [0.5, 0, 0.5])


def test_of_a_huge_file_the_head_is_checked(tmp_path, monkeypatch):
    """What is wrong there is told; for the rest it says that it was not read."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(mesh_check, "READ_BYTES", 100)
    written(tmp_path, "a.stl", OBJ)
    for data, words, code in ((broken.stl(), "of which only the head was checked", 0),
                              (broken.stl(7), "it counts 7 triangles and has room for 4", 1),
                              (b"PK\3\4" + bytes(200), "it is an archive", 1)):
        (tmp_path / "a.stl").write_bytes(data)
        done = CliRunner().invoke(command, ["scene.yaml"])
        assert done.exit_code == code and words in done.output + str(done.exception)
