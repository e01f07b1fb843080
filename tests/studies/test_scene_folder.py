"""No two scenes share a folder, though they be called alike; and each finds its own again."""

import contextlib
import json
import shutil
from pathlib import Path
from threading import Barrier, BrokenBarrierError, Thread

import pytest

from previz.frames.lock import LOCK_NAME
from previz.studies import scene_folder as module
from previz.studies.scene_folder import NOTE_NAME, release, scene_folder

ONE, OTHER = Path("a/yard.yaml"), Path("b/yard.yaml")
RENDERS = Path("renders")


@pytest.fixture(autouse=True)
def project(tmp_path, monkeypatch):
    """A project with two scenes of one name, and the work in it."""
    folder = tmp_path / "project"
    for scene in (ONE, OTHER):
        (folder / scene).parent.mkdir(parents=True)
        (folder / scene).write_text(str(scene))
    monkeypatch.chdir(folder)
    return folder


def test_two_scenes_of_one_name_have_folders_of_their_own():
    """The first has the name, the other its own folder's after it, which is told, in every run."""
    said = []
    assert scene_folder(None, ONE, say=said.append) == RENDERS / "yard"
    assert said == []
    for _ in range(2):
        assert scene_folder(None, OTHER, say=said.append) == RENDERS / "yard-b"
        assert scene_folder(None, ONE) == RENDERS / "yard"
    assert said == ["'renders/yard' has the files of another scene of that name, 'a/yard.yaml'; those of "
                    "'b/yard.yaml' are in 'renders/yard-b'."] * 2
    # A third, in a folder called as the second's, and an ending of its own.
    for scene, folder in (("c/b/yard.yaml", "yard-b-2"), ("b/yard.yml", "yard-b-3")):
        Path(scene).parent.mkdir(parents=True, exist_ok=True)
        Path(scene).touch()
        assert scene_folder(None, Path(scene)) == RENDERS / folder


def test_the_way_to_a_scene_is_its_own_however_it_is_written(monkeypatch):
    """Whole, by a link, or from within its folder's own."""
    assert scene_folder(None, ONE) == RENDERS / "yard"
    Path("link").symlink_to("a")
    for scene in (ONE.resolve(), Path("link/yard.yaml"), Path("b/../a/yard.yaml")):
        assert scene_folder(None, scene) == RENDERS / "yard"
    assert json.loads((RENDERS / "yard" / NOTE_NAME).read_text())["scene"] == "../../a/yard.yaml"


def test_a_project_can_be_moved_and_copied(project, monkeypatch):
    """The way from folder to scene is kept, not where both are: a copy's folders are of the copy's scenes."""
    scene_folder(None, ONE)
    scene_folder(None, OTHER)
    shutil.copytree(project, project.parent / "copy")
    monkeypatch.chdir(project.parent / "copy")
    assert [scene_folder(None, scene) for scene in (OTHER, ONE)] == [RENDERS / "yard-b", RENDERS / "yard"]


def test_a_scene_that_was_moved_keeps_its_folder():
    """Where the scene of the note is no longer there, the one of its name goes on with it."""
    scene_folder(None, ONE)
    ONE.rename("yard.yaml")
    assert scene_folder(None, Path("yard.yaml")) == RENDERS / "yard"
    # It is noted: the other one does not take it.
    assert scene_folder(None, OTHER) == RENDERS / "yard-b"


def test_a_folder_that_was_deleted_moves_no_other():
    """The second keeps its folder, and with it what it has rendered."""
    for scene in (ONE, OTHER):
        scene_folder(None, scene)
    shutil.rmtree(RENDERS / "yard")
    assert scene_folder(None, OTHER) == RENDERS / "yard-b"


@pytest.mark.parametrize("layout", [2, 3])
def test_renders_of_an_earlier_version_are_known_by_their_index(layout):
    """It has no note; its index says which scene it was of."""
    folder = RENDERS / "yard"
    folder.mkdir(parents=True)
    scene = "b/yard.yaml" if layout == 2 else "../../b/yard.yaml"
    words = {"title": "", "scene": scene, "scene_hash": "", "version": "0", "entries": []}
    (folder / "index.json").write_text(json.dumps({"previz_index": layout, **words}))
    assert scene_folder(None, ONE, write=False) == RENDERS / "yard-a"
    assert scene_folder(None, OTHER, write=False) == folder
    assert not (folder / NOTE_NAME).exists()


def test_a_folder_with_a_note_of_others_is_left():
    """A file of the note's name that previz did not write stays, and the scene goes elsewhere."""
    (RENDERS / "yard").mkdir(parents=True)
    (RENDERS / "yard" / NOTE_NAME).write_text("{}")
    assert scene_folder(None, ONE) == RENDERS / "yard-a"
    assert (RENDERS / "yard" / NOTE_NAME).read_text() == "{}"


def test_two_that_begin_at_once_take_two_folders(monkeypatch):
    """Both find the name free; the one that comes second to the lock looks again."""
    barrier, plain = Barrier(2), module.out_folder

    def met(*given, **more):
        with contextlib.suppress(BrokenBarrierError):
            barrier.wait(0.3)
        return plain(*given, **more)

    monkeypatch.setattr(module, "out_folder", met)
    found = {}
    threads = [Thread(target=lambda scene=scene: found.update({scene: scene_folder(None, scene)}))
               for scene in (ONE, OTHER)]
    for each in threads:
        each.start()
    for each in threads:
        each.join(20)
    assert len(set(found.values())) == 2


def test_a_folder_in_which_nothing_was_written_is_let_go():
    """A scene that turned out to be wrong leaves nothing; one that was used before stays."""
    taken = []
    folder = scene_folder(None, ONE, taken=taken.append)
    assert taken == [folder] and {path.name for path in folder.iterdir()} == {NOTE_NAME, LOCK_NAME}
    scene_folder(None, ONE, taken=taken.append)
    assert taken == [folder]
    release(folder)
    assert not RENDERS.exists()
    folder = scene_folder(None, ONE)
    (folder / "A.png").touch()
    release(folder)
    assert (folder / NOTE_NAME).exists()


def test_a_folder_that_is_requested_is_taken_as_it_is(tmp_path):
    """--out is the user's word; so is a portrait without a scene."""
    assert scene_folder(tmp_path / "out", ONE) == tmp_path / "out"
    assert scene_folder(None, Path("portrait")) == RENDERS / "portrait"
    assert not (tmp_path / "out").exists() and not RENDERS.exists()


def test_a_disk_without_locks_is_told(monkeypatch):
    """Once, where the folder is taken."""
    monkeypatch.setattr("previz.frames.lock.fcntl", None)
    said = []
    scene_folder(None, ONE, say=said.append)
    assert len(said) == 1 and "one machine at a time" in said[0]
