"""Files that are not what they are called: refused at once, at their place in the scene, nothing started."""

import base64
import json
import os
import re
import struct
import subprocess
import zlib
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from crafted import CORNERS, POSTSCRIPT, SEEN, TRIANGLE, glb, gltf, obj, png, saved
from PIL import Image

import previz
from previz.cli.check import command
from previz.errors import SceneError
from previz.scene.read import load
from previz.stage import mesh_sources, plain_files
from previz.stage.build import build_stage
from previz.stage.mesh_files import read_parts
from previz.stage.mesh_sources import kind_of
from previz.stage.plain_files import FileError

TEXTURE = ("pieces: [{name: crate, shape: box, at: [1 m, 1 m], size: [1 m, 1 m, 1 m], "
           "surface: {texture: %s}}]\n")
BACKDROP = ("lights: [{name: yard, kind: backdrop, at: [0 m, 3 m, 1 m], aim: [0 m, 0 m, 1 m], "
            "size: [2 m, 1 m], output: 4 cd/m2, picture: %s}]\n")
MESH = "pieces: [{name: crate, mesh: %s, at: [1 m, 1 m]%s}]\n"
NO_POSTSCRIPT = "it is PostScript, and only PNG and JPEG are read"
DATA = "data:;base64," + base64.b64encode(TRIANGLE + CORNERS).decode()


@pytest.fixture(autouse=True)
def guarded(tmp_path, monkeypatch):
    """Starting anything fails, and an interpreter that is started all the same leaves a mark."""
    (tmp_path / "bin").mkdir()
    for name in ("gs", "gswin32c", "gswin64c"):
        (tmp_path / "bin" / name).write_text(f"#!/bin/sh\ntouch '{tmp_path}/started'\n")
        (tmp_path / "bin" / name).chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path / 'bin'}:{os.environ['PATH']}")

    def refuse(*_, **__):
        raise AssertionError("something was started")

    for where, names in ((subprocess, ("Popen", "run", "call", "check_call", "check_output")),
                         (os, ("system", "popen", "posix_spawn", "fork", "execv", "execve"))):
        for name in names:
            monkeypatch.setattr(where, name, refuse)
    monkeypatch.chdir(tmp_path)
    yield
    assert not (tmp_path / "started").exists()


def refused(tmp_path, text, column):
    """Build a scene that has one fault; `check` says the same. Return its message."""
    (tmp_path / "scene.yaml").write_text("previz: 1\n" + text)
    with pytest.raises(SceneError) as caught:
        build_stage(load("scene.yaml").scene())
    (problem,) = caught.value.problems
    assert str(problem).startswith(f"scene.yaml:2:{column}: ")
    with pytest.raises(SceneError) as checked:
        CliRunner().invoke(command, ["scene.yaml"], catch_exceptions=False)
    assert [str(each) for each in checked.value.problems] == [str(problem)]
    assert problem.advice
    return problem.message


@pytest.mark.parametrize("start", [POSTSCRIPT, b"\xc5\xd0\xd3\xc6" + struct.pack("<II", 32, 99) + b"\0" * 20
                                   + POSTSCRIPT])
@pytest.mark.parametrize(("text", "column"), [(TEXTURE, 94), (BACKDROP, 126)])
def test_postscript_called_png(tmp_path, start, text, column):
    """As texture and as backdrop, also with a preview before it."""
    (tmp_path / "sign.png").write_bytes(start)
    said = refused(tmp_path, text % "sign.png", column)
    assert said == f"the picture 'sign.png' cannot be read: {NO_POSTSCRIPT}"


def test_postscript_in_meshes(tmp_path):
    """Within a GLB, as data or a file of a glTF, named by an OBJ's materials and by a PLY's comment."""
    glb(tmp_path / "a.glb", POSTSCRIPT)
    (tmp_path / "sign.png").write_bytes(POSTSCRIPT)
    buffers = [{"byteLength": 60, "uri": DATA}]
    data = f"data:image/png;base64,{base64.b64encode(POSTSCRIPT).decode()}"
    (tmp_path / "b.gltf").write_text(json.dumps(gltf([{"uri": data}, {"uri": "sign.png"}], buffers=buffers)))
    obj(tmp_path / "c.obj", "sign.png")
    (tmp_path / "d.ply").write_text(
        "ply\nformat ascii 1.0\ncomment TextureFile sign.png\nelement vertex 3\nproperty float x\n"
        "property float y\nproperty float z\nproperty float s\nproperty float t\nelement face 1\n"
        "property list uchar int vertex_indices\nend_header\n0 0 0 0 0\n1 0 0 1 0\n0 1 0 0 1\n3 0 1 2\n")
    units = ", units: m, up: z"
    for name, more, which, rest in (
            ("a.glb", "", "sign", ""), ("b.gltf", "", "0", "; so are 1 more of its pictures"),
            ("c.obj", units, "sign.png", ""), ("d.ply", units, "sign.png", "")):
        said = refused(tmp_path, MESH % (name, more), 30)
        assert said == (f"the mesh '{name}' cannot be read: its picture '{which}' is of no use: "
                        f"{NO_POSTSCRIPT}{rest}")


def test_a_picture_of_older_materials(tmp_path, monkeypatch):
    """Of specular and glossiness the library works out colours: it gets the true picture, if it is one."""
    extensions = {"KHR_materials_pbrSpecularGlossiness": {"diffuseTexture": {"index": 0}}}
    materials = [{"name": "old", "extensions": extensions}]
    good = saved(np.full((2, 2, 3), 128))
    (part,) = read_parts(str(glb(tmp_path / "good.glb", good, materials=materials)))
    assert part.material.picture.shape == (2, 2, 3)
    monkeypatch.setattr("previz.stage.gltf_sources.MOST_CONVERTED", 5)
    for data, words in ((POSTSCRIPT, NO_POSTSCRIPT), (good[:-20], "cut off"),
                        (saved(SEEN), "3 x 2 pixels large, and its material is of the older sort")):
        with pytest.raises(FileError, match=words):
            read_parts(str(glb(tmp_path / "bad.glb", data, materials=materials)))


def test_a_huge_picture_is_never_decoded(tmp_path, monkeypatch):
    """Its size is looked at first, alone and together with the others of its file."""
    monkeypatch.setattr(Image, "open", None)
    monkeypatch.setattr("previz.stage.mesh_sources.MOST_TOGETHER", 2 * 10**6)
    glb(tmp_path / "a.glb", png(30_000, 3_000, zlib.compress(b"\0" * 1000)))
    said = refused(tmp_path, MESH % ("a.glb", ""), 30)
    assert "its picture 'sign' is of no use: it is 30000 x 3000" in said
    (tmp_path / "large.png").write_bytes(png(1000, 1000, b"x" * 3000))
    buffers = [{"uri": DATA, "byteLength": 60}]
    (tmp_path / "b.gltf").write_text(json.dumps(gltf([{"uri": "large.png"}] * 3, buffers=buffers)))
    said = refused(tmp_path, MESH % ("b.gltf", ""), 30)
    assert said.endswith("its pictures have 3 million pixels together, and 2 million are the most")


# What meshes name


@pytest.mark.parametrize(
    ("data", "name", "kind"),
    [(b"glTF\2\0\0\0", "a.glb", "glb"), (b"\xef\xbb\xbf {\"asset\"", "a.gltf", "gltf"),
     (b"ply\r\nformat", "a.ply", "ply"), (b"solid a", "a.stl", "stl"),
     (b"solid of another program".ljust(80) + struct.pack("<I", 1) + b"\0" * 50, "a.stl", "stl"),
     (b"# made by hand\nv 0 0 0\n", "a.obj", "obj"), (b"g crate\r\nv 0 0 0", "a.obj", "obj")])
def test_a_mesh_is_what_its_content_says(tmp_path, data, name, kind):
    """And is refused under the name of another."""
    assert kind_of(data) == kind
    wrong = "b.stl" if kind != "stl" else "b.obj"
    (tmp_path / wrong).write_bytes(data)
    with pytest.raises(FileError, match=f"is called {wrong[1:]} and is {kind.upper()} inside"):
        read_parts(str(tmp_path / wrong))


@pytest.mark.parametrize(("data", "words"), [
    (b"PK\x03\x04rest", "it is an archive"), (b"\x1f\x8b\x08", "an archive"), (POSTSCRIPT, "PostScript"),
    (b"Kaydara FBX Binary  \0", "it is FBX"), (b"BLENDER-v300", "project"), (b"", "it is empty"),
    (b"<?xml version='1.0'?><COLLADA/>", "it is XML"), (b"solidly nothing"[5:], "of another kind"),
    (b"\0" * 200, "of another kind"), (b"import os\n", "of another kind")])
def test_what_is_no_mesh(tmp_path, data, words):
    """No other reader of the library is ever chosen, whatever the file begins with."""
    (tmp_path / "a.obj").write_bytes(data)
    assert words in refused(tmp_path, MESH % ("a.obj", ", units: m, up: z"), 30)


@pytest.mark.parametrize("address", [
    "http://127.0.0.1:1/a.bin", "https://127.0.0.1:1/a.bin", "file:///etc/hostname", "//127.0.0.1/a.bin",
    "ftp://127.0.0.1/a.bin"])
def test_addresses_elsewhere_are_not_fetched(tmp_path, monkeypatch, address):
    """Neither data nor pictures; no socket is opened."""
    monkeypatch.setattr("socket.socket.connect", None)
    for buffer, picture in ((address, "sign.png"), (DATA, address)):
        (tmp_path / "sign.png").write_bytes(saved(SEEN))
        (tmp_path / "a.gltf").write_text(json.dumps(gltf(
            [{"uri": picture}], buffers=[{"uri": buffer, "byteLength": 60}])))
        assert f"elsewhere, '{address}'" in refused(tmp_path, MESH % ("a.gltf", ""), 30)


@pytest.mark.parametrize("name", ["../out.png", "/etc/hostname", "sub/../../out.png", "linked.png",
                                  "pipe.png", "folder.png", "gone.png", "device.png", "a\0b.png", ""])
def test_a_mesh_names_what_is_beside_it(tmp_path, name):
    """Other places, devices, pipes and folders are as if they were not there; that is said."""
    (tmp_path / "out.png").write_bytes(saved(SEEN))
    inside = tmp_path / "models"
    (inside / "sub").mkdir(parents=True)
    (inside / "linked.png").symlink_to("../out.png")
    (inside / "device.png").symlink_to("/dev/zero")
    (inside / "folder.png").mkdir()
    os.mkfifo(inside / "pipe.png")
    (inside / "a.bin").write_bytes(TRIANGLE + CORNERS)
    (inside / "a.gltf").write_text(json.dumps(gltf([{"uri": name}],
                                                   buffers=[{"uri": "a.bin", "byteLength": 60}])))
    obj(inside / "b.obj", name.replace("\0", "?"))
    for mesh in ("a.gltf", "b.obj"):
        notes = []
        (part,) = read_parts(str(inside / mesh), notes)
        assert part.material.picture is None
        assert len(notes) == (0 if mesh == "b.obj" and not name else 1)
        assert all(note.endswith(f"is not in the folder of '{mesh}'") for note in notes)


def test_what_is_missing_is_said(tmp_path):
    """A piece without its picture is rendered in its own colour, with a line to look at."""
    (tmp_path / "scene.yaml").write_text("previz: 1\n" + MESH % ("a.obj", ", units: m, up: z"))
    obj(tmp_path / "a.obj", "C:\\Users\\someone\\wood.png")
    stage = build_stage(load("scene.yaml").scene())
    assert ("Check: the picture 'C:\\Users\\someone\\wood.png' is not in the folder of 'a.obj'; crate is "
            "rendered without it.") in stage.cautions
    # An exporter's own path is of no use here; a file of that name beside the mesh is meant.
    (tmp_path / "wood.png").write_bytes(saved(SEEN))
    (part,) = read_parts("a.obj", notes := [])
    np.testing.assert_array_equal(part.material.picture, SEEN)
    assert notes == []
    (tmp_path / "crate.mtl").unlink()
    read_parts("a.obj", notes)
    assert notes == ["the file of materials 'crate.mtl' is not in the folder of 'a.obj'"]


def test_data_of_a_mesh_that_is_missing(tmp_path):
    """Without it there is nothing to render: refused, and `check` says so too."""
    (tmp_path / "a.gltf").write_text(json.dumps(gltf([], buffers=[{"uri": "a.bin", "byteLength": 60}])))
    said = refused(tmp_path, MESH % ("a.gltf", ""), 30)
    assert said == ("the mesh 'a.gltf' cannot be read: the file of data 'a.bin' is not in the folder of "
                    "'a.gltf'")


def test_what_a_mesh_names_is_not_endless(tmp_path, monkeypatch):
    """All of it together is no larger than a mesh may be; one file that is named twice is read once."""
    for name in ("b.png", "c.png"):
        (tmp_path / name).write_bytes(saved(SEEN))
    size = len(saved(SEEN))
    monkeypatch.setattr("previz.stage.mesh_sources.MESH_BYTES", 2 * size - 1)
    source = object.__new__(mesh_sources.Source)
    source.path, source.notes, source._files = tmp_path / "a.gltf", [], {}
    assert len(source._named("b.png", 1e9, "picture")) == size
    assert len(source._named("./b.png", 1e9, "picture")) == size
    with pytest.raises(FileError, match="it is 1 MB"):
        source._named("c.png", 1e9, "picture")


@pytest.mark.parametrize(("tree", "words"), [
    ("{", "no JSON"), ("[" * 100_000, "no"), ("{\"buffers\": 3}", "its buffers are no list"),
    ("{\"images\": [1]}", "its images are no list"),
    (json.dumps({"images": [{}] * 1001}), "more than 1000 pictures"),
    (json.dumps(gltf([{"bufferView": 99}], buffers=[{"uri": "data:;base64,AAAA"}])), "not where it should"),
    (json.dumps(gltf([{"bufferView": 2}], b"1234", buffers=[{"uri": "data:;base64,AAAA"}])), "cut off"),
    (json.dumps(gltf([{}], buffers=[{"uri": "data:;base64,AAAA"}])), "without an address"),
    (json.dumps(gltf([], buffers=[{"uri": "data:;base64,A"}])), "no base64")])
def test_descriptions_that_make_no_sense(tmp_path, tree, words):
    """In our words, never a library's."""
    (tmp_path / "a.gltf").write_text(tree if tree.startswith("{") else "{\"a\":" + tree)
    assert words in refused(tmp_path, MESH % ("a.gltf", ""), 30)


def test_parts_share_their_picture(tmp_path):
    """A thousand parts of one material hold its picture once."""
    data = saved(SEEN)
    tree = gltf([{"bufferView": 2}], data)
    primitives = tree["meshes"][0]["primitives"] * 5
    glb(tmp_path / "a.glb", data, meshes=[{"primitives": primitives}])
    assert len({id(part.material.picture) for part in read_parts("a.glb")}) == 1
    (tmp_path / "scene.yaml").write_text("previz: 1\n" + MESH % ("a.glb", ""))
    stage = build_stage(load("scene.yaml").scene())
    assert len([s for s in stage.surfaces.values() if s.texture is not None]) == 1


# Plain files


def test_only_plain_files_are_read(tmp_path):
    """A pipe and a device do not hold anything up; a file that is larger than it may be is not read."""
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "large").write_bytes(b"x" * 11)
    for path in (tmp_path / "pipe", "/dev/zero", tmp_path):
        with pytest.raises(FileError, match="it is a device, a pipe or a folder"):
            plain_files.read_plain(path, 10)
    with pytest.raises(FileError, match="No such file"):
        plain_files.read_plain(tmp_path / "gone", 10)
    with pytest.raises(FileError, match="it is 1 MB"):
        plain_files.read_plain(tmp_path / "large", 10)
    assert plain_files.read_plain(tmp_path / "large", 11) == b"x" * 11


@pytest.mark.parametrize("field", ["texture: pipe.png", "texture: device.png", "file: pipe.csv"])
def test_a_scene_names_plain_files(tmp_path, field):
    """Found when the scene is read."""
    os.mkfifo(tmp_path / "pipe.png")
    os.mkfifo(tmp_path / "pipe.csv")
    (tmp_path / "device.png").symlink_to("/dev/zero")
    (tmp_path / "scene.yaml").write_text("previz: 1\nground: {" + field + "}\n")
    with pytest.raises(SceneError, match="is not a file|leads out of the scene's folder"):
        load("scene.yaml")


def test_tags_of_yaml_make_nothing(tmp_path):
    """A tag that some readers would run is a fault of the file."""
    (tmp_path / "scene.yaml").write_text(
        "previz: 1\ntitle: !!python/object/apply:os.system ['touch started']\n")
    with pytest.raises(SceneError):
        load("scene.yaml")


def test_no_picture_is_opened_by_guessing():
    """Every call in the package that opens a picture says which kinds it may be."""
    calls = [(path.name, call) for path in Path(previz.__file__).parent.rglob("*.py")
             for call in re.findall(r"Image\.open\([^\n]*", path.read_text(encoding="utf-8"))]
    assert calls and all("formats=[" in call or name.startswith("bake_") for name, call in calls)


RUNS = (r"\b(?:pickle|marshal|shelve)\b|(?<![\w.])(?:eval|exec)\(|os\.(?:system|popen|exec|spawn)|shell=True|"
        r"urlopen|urllib\.request|yaml\.(?:load|unsafe|full)|allow_pickle=True|\.allow_anywhere|allow_remote=True")
"""What would run or fetch what a file says."""


def test_nothing_runs_or_fetches_what_a_file_says():
    """No module evaluates or opens addresses; some start programs, from no file's words.

    One unpickles: a stage, from the pipe of a process of the package that it has started itself.
    """
    texts = {path.relative_to(Path(previz.__file__).parent).as_posix(): path.read_text(encoding="utf-8")
             for path in Path(previz.__file__).parent.rglob("*.py")}
    assert {name for name, text in texts.items() if re.search(RUNS, text)} == {"stage/ahead.py"}
    assert {name for name, text in texts.items() if "subprocess" in text} == {
        "page/renders.py", "page/opening.py", "page/hand.py", "page/apart.py", "stage/ahead.py",
        "studies/shard/processes.py", "checks/benches/start.py", "checks/doctor.py"}
    assert {name for name, text in texts.items() if re.search(r"trimesh\.(?:load|exchange)", text)} == {
        "stage/mesh_sources.py"}
    assert {name for name, text in texts.items() if re.search(r"yaml\.\w*Loader\b", text)} == {
        "scene/nodes.py", "scene/edit.py"}
    assert re.findall(r"yaml\.\w*Loader\b", texts["scene/edit.py"]) == ["yaml.BaseLoader"]
    # Base loaders make texts, lists and maps of it, and nothing else.
    assert set(re.findall(r"yaml\.\w*Loader\b", texts["scene/nodes.py"])) == {
        "yaml.BaseLoader", "yaml.CBaseLoader"}
