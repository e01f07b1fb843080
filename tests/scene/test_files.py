"""Files that a scene names: only those in its own folder, of the right sort and size."""

import os

import pytest

from previz.errors import SceneError
from previz.scene.piece import MESH_BYTES
from previz.scene.read import load


def piece(mesh, more=", units: m, up: z"):
    return f"previz: 1\npieces:\n  - {{name: engine, mesh: {mesh}, at: [1 m, 1 m]{more}}}\n"


def message(text):
    return text.split(": ", 1)[1].splitlines()[0], text.splitlines()[-1].strip()


@pytest.fixture
def scene_folder(folder, monkeypatch):
    """A scene's folder inside another, with files in both."""
    inner = folder / "depot"
    inner.mkdir()
    (folder / "outside.obj").write_text("v 0 0 0\n")
    (inner / "models").mkdir()
    (inner / "models" / "engine.obj").write_text("v 0 0 0\n")
    (inner / "models" / "engine.glb").write_bytes(b"glTF")
    (inner / "models" / "Engine.STL").write_bytes(b"solid")
    monkeypatch.chdir(inner)
    return inner


OUT = "Copy the file into the scene's folder and name it from there."
FROM_HERE = "Name the file from the scene's folder, for example 'models/levers.glb'."
THERE = "Check the name, and that the file lies in the scene's folder."


@pytest.fixture
def reported_there(scene_folder):
    def report(text):
        (scene_folder / "scene.yaml").write_text(text, encoding="utf-8")
        with pytest.raises(SceneError) as caught:
            load("scene.yaml")
        assert len(caught.value.problems) == 1
        return str(caught.value)

    return report


@pytest.mark.parametrize(
    ("mesh", "what", "advice"),
    [
        ("models/gone.obj", "there is no file 'models/gone.obj' in the scene's folder.", THERE),
        ("../outside.obj", "'../outside.obj' leads out of the scene's folder.", OUT),
        ("models/../../outside.obj",
         "'models/../../outside.obj' leads out of the scene's folder.", OUT),
        ("/etc/engine.obj", "'/etc/engine.obj' is a place on one machine.", FROM_HERE),
        ("'C:\\models\\engine.obj'", "'C:\\models\\engine.obj' is a place on one machine.",
         FROM_HERE),
        ("'C:engine.obj'", "'C:engine.obj' is a place on one machine.", FROM_HERE),
        ("'\\\\pc\\share\\engine.obj'", "'\\\\pc\\share\\engine.obj' is a place on one machine.",
         FROM_HERE),
        ("'models\\engine.obj'", "'models\\engine.obj' has a '\\' in it.",
         "Write 'models/engine.obj'."),
        ("models/engine.fbx", "'models/engine.fbx' is not a kind of file that can be read here.",
         "Use a file that ends in .gltf, .glb, .obj, .ply, .stl."),
        ("models", "'models' is not a kind of file that can be read here.",
         "Use a file that ends in .gltf, .glb, .obj, .ply, .stl."),
        ('"a\\0.obj"', "'a?.obj' cannot be a file's name.", "Name a file in the scene's folder."),
        ("~/engine.obj", "there is no file '~/engine.obj' in the scene's folder.", THERE),
    ],
)  # fmt: skip
def test_only_files_in_the_folder(reported_there, mesh, what, advice):
    """A mesh that is missing, elsewhere, or not a mesh is reported with the way out."""
    text = reported_there(piece(mesh))
    assert message(text) == (f"'mesh' of piece 'engine': {what}", advice)


def test_a_name_too_long_for_the_system(reported_there):
    """A file name that the system refuses is reported, not passed on."""
    text = reported_there(piece("x" * 5000 + ".obj"))
    assert "cannot be a file's name." in text


def test_a_folder_with_the_name_of_a_mesh(scene_folder, reported_there):
    """A folder is not a mesh, whatever it is called."""
    (scene_folder / "shed.obj").mkdir()
    assert message(reported_there(piece("shed.obj"))) == (
        "'mesh' of piece 'engine': 'shed.obj' is a folder.", "Name the file itself."
    )  # fmt: skip


def test_symbolic_links_are_followed(scene_folder, reported_there):
    """A link inside the folder that leads out of it is refused; one that stays is good."""
    (scene_folder / "link.obj").symlink_to("../outside.obj")
    (scene_folder / "away").symlink_to(scene_folder.parent, target_is_directory=True)
    for mesh in ("link.obj", "away/outside.obj"):
        assert f"'{mesh}' leads out of the scene's folder." in reported_there(piece(mesh))


def test_a_link_to_the_scene_s_own_folder(scene_folder):
    """The scene's folder may itself be reached by a link, and links may stay inside it."""
    (scene_folder / "scene.yaml").write_text(piece("same.obj"), encoding="utf-8")
    (scene_folder / "same.obj").symlink_to("models/engine.obj")
    (scene_folder.parent / "linked").symlink_to(scene_folder, target_is_directory=True)
    mesh = load(scene_folder.parent / "linked" / "scene.yaml").scene().pieces[0].mesh
    assert mesh == (scene_folder / "models" / "engine.obj").resolve()


def test_a_link_in_a_circle(scene_folder, reported_there):
    """A link that leads to itself is reported."""
    (scene_folder / "loop.obj").symlink_to("loop.obj")
    assert "'mesh' of piece 'engine': " in reported_there(piece("loop.obj"))


def test_a_mesh_that_is_too_large(scene_folder, reported_there):
    """A mesh over 512 MB is refused and its size reported."""
    with (scene_folder / "large.obj").open("wb") as large:
        large.truncate(MESH_BYTES + 1)  # sparse: takes no room
    assert message(reported_there(piece("large.obj"))) == (
        "'mesh' of piece 'engine': 'large.obj' is 513 MB.", "Use a file of 512 MB or less."
    )  # fmt: skip


@pytest.mark.skipif(os.geteuid() == 0, reason="root can read everything")
def test_a_mesh_that_may_not_be_read(scene_folder, reported_there):
    """A file without permission is reported."""
    (scene_folder / "models" / "engine.obj").chmod(0)
    assert "cannot be read." in reported_there(piece("models/engine.obj"))


def test_a_mesh_says_its_units_and_its_up(reported_there):
    """An obj, ply or stl file says neither units nor upward axis, so the scene must."""
    assert message(reported_there(piece("models/engine.obj", ", up: z"))) == (
        "piece 'engine' does not say what the numbers in 'engine.obj' are.",
        "Write 'units:' with one of: m, cm, mm, ft, in.",
    )
    assert message(reported_there(piece("models/engine.obj", ", units: mm"))) == (
        "piece 'engine' does not say which way is up in 'engine.obj'.",
        "Write 'up: y' or 'up: z'.",
    )


def test_a_gltf_file_says_them_itself(scene_folder, reported_there):
    """GlTF is in metres with y up by its own definition, and cannot be written otherwise."""
    assert message(reported_there(piece("models/engine.glb", ", units: mm"))) == (
        "piece 'engine' is a glb file, and these are in metres with y up.",
        "Leave out 'units', or change the size by 'scale'.",
    )
    assert message(reported_there(piece("models/engine.glb", ", up: z"))) == (
        "piece 'engine' is a glb file, and these are in metres with y up.",
        "Leave out 'up'.",
    )


def test_a_mesh_has_no_size(reported_there):
    """The size of a mesh is reported by its units and scale."""
    text = reported_there(piece("models/engine.obj", ", units: m, up: z, size: [1 m, 1 m, 1 m]"))
    assert message(text) == (
        "piece 'engine' is a mesh, and 'size' is for shapes.",
        "Leave it out; 'units' and 'scale' say how large a mesh is.",
    )


def test_shape_or_mesh(reported_there):
    """A piece is one or the other."""
    text = reported_there(piece("models/engine.obj", ", units: m, up: z, shape: stool"))
    assert message(text) == ("piece 'engine' has both a shape and a mesh.", "Keep one of the two.")


def test_good_meshes(scene_folder):
    """A good mesh is an absolute path; its ending may be in capitals; glTF gets its units."""
    for mesh, more, units, up in (
        ("models/engine.glb", "", "m", "y"),
        ("models/Engine.STL", ", units: mm, up: z", "mm", "z"),
        ("./models/../models/engine.obj", ", units: ft, up: y", "ft", "y"),
    ):
        (scene_folder / "scene.yaml").write_text(piece(mesh, more), encoding="utf-8")
        made = load("scene.yaml").scene().pieces[0]
        assert made.mesh.is_absolute() and made.mesh.is_file()
        assert (made.units, made.up, made.size) == (units, up, None)


def test_missing_texture(reported_there):
    """A picture that is not there is reported like a mesh."""
    assert message(reported_there("previz: 1\nground: {texture: gravel.png}\n")) == (
        "'texture' of 'ground': there is no file 'gravel.png' in the scene's folder.", THERE
    )  # fmt: skip
    assert message(reported_there("previz: 1\nground: {texture: gravel.tif}\n")) == (
        "'texture' of 'ground': 'gravel.tif' is not a kind of file that can be read here.",
        "Use a file that ends in .png, .jpg, .jpeg.",
    )
