"""The scenes of the first hour: each is good and small, and its head says how it is run, as README does."""

import re
from pathlib import Path

import pytest

from previz.scene.read import load
from previz.stage import named_files
from previz.stage.build import build_stage

ROOT = Path(__file__).parents[2]
SCENES = sorted((ROOT / "scenes" / "first-hour").glob("*.yaml"))


def test_there_are_nine_in_order():
    """They are numbered without a gap, and README runs each of them, in that order."""
    assert [path.name[:2] for path in SCENES] == [f"{number}-" for number in range(1, 10)]
    readme = (ROOT / "README.md").read_text("utf-8")
    run = re.findall(r"^\| \[\d\]\((\S+)\) \| `previz (\S+) (\S+)", readme, re.M)
    assert [Path(name).name for name, _, _ in run] == [path.name for path in SCENES]
    for path, (_, command, first) in zip(SCENES, run, strict=True):
        head = path.read_text("utf-8").splitlines()[1]
        assert first.startswith(f"scenes/first-hour/{path.name}")
        assert f"scenes/first-hour/{path.name}" in head and head.startswith("#   previz ")
        assert command in path.read_text("utf-8")


@pytest.mark.parametrize("path", SCENES, ids=[path.stem for path in SCENES])
def test_each_is_good_and_small(path):
    """No faults and no doubts about places; so few lamps and lines that one thing is to be seen."""
    file = load(path)
    assert len(path.read_text("utf-8").splitlines()) <= 60
    for option in file.scenes.values():
        assert not list(named_files.faults(option))
        assert 1 <= len(option.lights) <= 4 and 1 <= len(option.figures) <= 2
    stage = build_stage(file.scene(None))
    assert stage.lamps and stage.cameras
