"""Words of earlier scene files: read as what they are called now, and pointed out at their place."""

import pytest
from click.testing import CliRunner

from previz.cli.check import command
from previz.scene.read import load
from previz.scene.words import RENAMED, RENAMED_FIELDS

OLD = """\
previz: 1
ground: tarmac
diffusion:
  - {name: f, size: [1 m, 1 m], at: [1 m, 1 m, 1 m], facing: [1 m, 3 m, 1 m], cloth: light frost}
  - {name: g, size: [1 m, 1 m], at: [1 m, 2 m, 1 m], facing: [1 m, 3 m, 1 m], cloth: heavy frost}
pieces:
  - {name: tarmac, shape: box, at: [2 m, 2 m, 0 m], size: [1 m, 1 m, 0.1 m],
     surface: {name: wet tarmac, gloss: 0.2}}
cameras:
  - {name: A, at: [1 m, 1 m, 1.5 m], aim: f, lens: 35 mm, stop: T2.8, iso: 800, tint: 0.002}
options:
  late:
    cameras: {A: {tint: 0.004}}
  wide:
    add: {cameras: [{name: B, at: [1 m, 0 m, 1 m], aim: f, lens: 25 mm, stop: T2.8, iso: 8, tint: -0.001}]}
    diffusion: {f: {cloth: heavy frost}}
"""
NEW = OLD
for old, new in {"ground: tarmac": "ground: asphalt", "wet tarmac": "wet asphalt", "tint:": "green:",
                 "light frost": "thin frost", "heavy frost": "thick frost"}.items():
    NEW = NEW.replace(old, new)

PLACES = {(2, 9, "tarmac"), (4, 86, "light frost"), (5, 86, "heavy frost"), (8, 22, "wet tarmac"),
          (10, 81, "tint"), (13, 19, "tint"), (15, 93, "tint"), (16, 28, "heavy frost")}


@pytest.fixture
def read(tmp_path, monkeypatch):
    """Read a scene's text."""
    monkeypatch.chdir(tmp_path)

    def text(content):
        (tmp_path / "scene.yaml").write_text(content)
        return load("scene.yaml")

    return text


def plain(value):
    """A record as plain values, without the places at which they are written."""
    if isinstance(value, tuple):
        return tuple(map(plain, value))
    if hasattr(value, "__dataclass_fields__"):
        return {name: plain(getattr(value, name)) for name in value.__dataclass_fields__
                if name not in ("place", "places")}
    return value


def test_an_earlier_file_is_the_same_scene(read):
    """Of every option; names and titles that happen to be such words stay."""
    old, new = read(OLD), read(NEW)
    assert old.option_names == ("late", "wide")
    assert {name: plain(scene) for name, scene in old.scenes.items()} == {
        name: plain(scene) for name, scene in new.scenes.items()}
    assert [old.scene(name).cameras[-1].green for name in ("", "late", "wide")] == [0.002, 0.004, -0.001]
    assert old.scene("wide").diffusion[0].cloth == "thick frost"
    assert old.scene("").pieces[0].name == "tarmac"
    assert new.earlier == ()


def test_each_such_word_is_pointed_out_once(read):
    """With its place, what it is called now, and what to write; `check` shows it and ends well."""
    found = read(OLD).earlier
    assert {(each.line, each.column, each.message.split("'")[1]) for each in found} == PLACES
    assert len(found) == len(PLACES)
    renamed = {**RENAMED, **{old: new for (_, old), new in RENAMED_FIELDS.items()}}
    for each in found:
        word = each.message.split("'")[1]
        assert each.message == f"'{word}' is called '{renamed[word]}' now, and is read as that"
        assert each.advice == f"Write '{renamed[word]}'."
    answer = CliRunner().invoke(command, ["scene.yaml"])
    assert answer.exit_code == 0
    assert "scene.yaml:2:9: 'tarmac' is called 'asphalt' now, and is read as that." in answer.stderr
    assert "8 things to look at" in answer.stdout


def test_an_option_may_have_the_new_word_over_the_old(read):
    """And the old one over the new: both are the same field."""
    for base, option, expected in (("tint", "green", 0.004), ("green", "tint", 0.004)):
        text = OLD.replace("iso: 800, tint: 0.002", f"iso: 800, {base}: 0.002")
        file = read(text.replace("{tint: 0.004}", f"{{{option}: 0.004}}"))
        assert [file.scene(name).cameras[0].green for name in ("", "late")] == [0.002, expected]
