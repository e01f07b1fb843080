"""No two pictures of a scene have the same file, whatever their options and cameras are called."""

from previz.deliver.stems import KINDS, LONGEST, plain, stems_of, unique_stems
from previz.scene.read import load

SCENE = """
previz: 1
room: {size: [3 m, 3 m, 2.5 m]}
lights:
  - {name: key, kind: bulb, at: [1 m, 1 m, 2 m], output: 900 lm}
cameras:
  - {name: A, at: [1.5 m, 0.3 m, 1.4 m], aim: key, lens: 25 mm, stop: T2.8, iso: 800}
  - {name: A-map, at: [1.5 m, 0.3 m, 1.4 m], aim: key, lens: 25 mm, stop: T2.8, iso: 800}
options:
  low key: {lights: {key: {dimmer: 40 %}}}
  low-key: {lights: {key: {dimmer: 10 %}}}
  Low Key: {lights: {key: {dimmer: 20 %}}}
  sheet: {}
"""


def test_every_picture_of_a_scene_has_files_of_its_own(tmp_path):
    """Marks, capitals, a camera named as a kind of file, and an option named as the sheet."""
    path = tmp_path / "names.yaml"
    path.write_text(SCENE)
    stems = stems_of(load(path))
    assert stems["low key", "A"] == "low-key-A"
    assert stems["low-key", "A"] == "low-key-A-2"
    assert stems[None, "A"] == "sheet-A"
    assert stems["sheet", "A"] == "sheet-A-2"
    files = [f"{stem}{kind}".lower() for (option, _), stem in stems.items()
             for kind in (KINDS if option is not None else ("",))]
    assert len(files) == len(set(files))


def test_names_that_are_too_long_for_a_disk_are_shortened():
    """Letters of four bytes: 60 are a name (scene/names.py), and two names 481 bytes; a file may have 255.

    Source: Linux limits.h, NAME_MAX. What is being written has 19 more, '-scopes.png' 11.
    """
    long = "\U00020000" * 59
    names = [(f"{long}a", f"{long}b"), (f"{long}a", f"{long}c"), ("x" * 60, "y" * 60)]
    stems = unique_stems(names)
    assert len(set(stems)) == 3 and stems[2] == f"{'x' * 60}-{'y' * 60}"
    assert max(len(f".{stem}-scopes.png.{'0' * 12}.part".encode()) for stem in stems) <= 255
    # It is the same whatever else there is, so a picture keeps its file.
    assert unique_stems(names[1:2]) == stems[1:2]
    assert len(plain(long * 3).encode()) <= LONGEST


def test_a_plain_name_stays_as_it_is():
    """Only what clashes gets a number."""
    assert unique_stems([("bounce", "A"), ("", "A"), ("nuit été", "B'2")]) == [
        "bounce-A", "A", "nuit-été-B-2"]
