"""Patterns as they are written: what a scene file says is what its surfaces hold, and is written back."""

from pathlib import Path

import pytest

from previz.scene import writing
from previz.scene.patterns import FLOORED, PATTERNS, PLAIN, USUAL, painted, pattern_of, wear_of
from previz.scene.rules import broken
from previz.scene.surface import LIBRARY, Surface

SCENE = """previz: 1
ground: {name: gravel, pattern_size: 35 mm, relief: 150 %}
room:
  size: [5 m, 4 m, 3 m]
  surfaces:
    floor: {name: light oak, worn: 25 %}
    walls: {name: cream paint, pattern: striped paper, pattern_size: 80 mm, second: {colour: sage}}
    north: {name: brick, second: soot}
    ceiling: {name: white paint, pattern: plain}
"""


def test_a_scene_with_patterns_is_read_back_as_it_was_written(load_text):
    """Every field of a pattern, and what shows beside it by name and by colour."""
    scene = load_text(SCENE).scene()
    walls = scene.room.surfaces.walls
    assert (walls.pattern, walls.pattern_size) == ("striped paper", 0.08)
    assert walls.second.colour is not None and scene.room.surfaces.north.second == Surface(name="soot")
    assert (scene.ground.pattern_size, scene.ground.relief) == (0.035, 1.5)
    assert (scene.room.surfaces.floor.worn, scene.room.surfaces.ceiling.pattern) == (0.25, PLAIN)
    made = writing.group(writing.fields(scene.room.surfaces, Path()))
    ground = writing.group(writing.fields(scene.ground, Path()))
    again = load_text(f"previz: 1\nground: {ground}\nroom:\n  size: [5 m, 4 m, 3 m]\n  surfaces: {made}\n")
    assert again.scene().room.surfaces == scene.room.surfaces
    assert again.scene().ground == scene.ground


@pytest.mark.parametrize(("name", "written", "size", "of_room", "got"), [
    ("brick", None, None, True, ("brick", 0.215)), ("brick", PLAIN, 0.3, True, None),
    ("brick", None, 0.24, False, ("brick", 0.24)), ("pine", None, None, False, ("grain", 0.4)),
    ("pine", None, None, True, ("planks", 0.12)), ("pine", "parquet", None, True, ("parquet", 0.07)),
    ("ballast", "gravel", None, False, ("gravel", 0.05)), (None, "gravel", None, False, ("gravel", 0.02)),
    (None, None, None, True, None), ("white card", None, None, False, None)])
def test_which_pattern_a_surface_shows(name, written, size, of_room, got):
    """Its own in the library, planks for a room's boards, the word that is written, or none."""
    assert pattern_of(name, written, size, of_room) == got


def test_every_surface_of_the_library_may_be_written_with_its_pattern():
    """No surface of the library breaks a rule as it stands, worn where it wears, or with another joint."""
    for name in LIBRARY:
        assert list(broken(Surface(name=name))) == []
        word = USUAL.get(name, (None,))[0]
        if word and wear_of(name, word):
            worn = Surface(name=name, worn=0.2, places={"worn": None})
            assert list(broken(worn)) == [], name
        if word and PATTERNS[word].second:
            beside = Surface(name=name, second=Surface(name="soot"), places={"second": None})
            assert list(broken(beside)) == [], name
    assert all(name in USUAL for name in FLOORED)
    assert painted("white paint", "brick") and not painted("yellow brick", "brick")
    assert not painted("white paint", "tiles") and not painted(None, "brick")
