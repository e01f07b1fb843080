"""What README has people type works: its commands, its options, its scene, the shipped scenes."""

import re
import shlex
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from previz.cli.main import COMMANDS, previz
from previz.scene.read import load

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
SCENES = sorted(path.name for path in (ROOT / "scenes").glob("*.yaml"))
SMALL = {"--size": "64", "--samples": "1", "--quality": "draft"}
"""What makes a command quick, where it has the option: a picture's numbers are other tests' concern."""


def typed():
    """Return the command lines of README's blocks that previz runs, without './.do' or 'previz'."""
    lines = re.findall(r"^    (?:\./\.do|(?:\.venv/bin/)?previz) (.+)$", README, re.MULTILINE)
    return [line for line in lines if shlex.split(line)[0] in COMMANDS]


def blocks(kind):
    return re.findall(rf"^```{kind}\n(.*?)^```", README, re.MULTILINE | re.DOTALL)


@pytest.fixture
def depot(tmp_path, monkeypatch):
    """A copy of the shipped scenes, as README's commands have them, and a place to write."""
    shutil.copytree(ROOT / "scenes", tmp_path / "scenes")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_every_command_is_reported_and_is_there():
    """README's table has every command, and none that is not there."""
    result = set(re.findall(r"^\| `previz ([a-z-]+)", README, re.MULTILINE))
    assert result == set(COMMANDS)


def test_options_that_are_named_are_there():
    """Every '--option' in README is one of some command."""
    runner, known = CliRunner(), set()
    for name in COMMANDS:
        known |= set(re.findall(r"--[a-z][a-z-]*", runner.invoke(previz, [name, "--help"]).output))
    named = set(re.findall(r"(?<![\w-])--[a-z][a-z-]*", README))
    assert named - known - {"--help"} == set()


@pytest.mark.engine
@pytest.mark.parametrize("line", typed())
def test_lines_to_type_run(line, depot):
    """A line of README runs as it stands, only smaller."""
    words = shlex.split(line)
    usage = CliRunner().invoke(previz, [words[0], "--help"]).output
    small = [word for option, value in SMALL.items() if f"{option} " in usage and option not in words
             for word in (option, value)]
    done = CliRunner().invoke(previz, [*words, *small], catch_exceptions=False)
    assert done.exit_code == 0, done.output


def test_there_are_lines_to_type():
    """The search for them can fail."""
    assert any(line.startswith("render scenes/") for line in typed())


@pytest.mark.parametrize("text", blocks("yaml"))
def test_a_scene_in_print_is_good(text, depot):
    """A scene in README is read, with all its options, and nothing in it is doubtful."""
    Path("printed.yaml").write_text(text, encoding="utf-8")
    assert load(Path("printed.yaml")).option_names
    done = CliRunner().invoke(previz, ["check", "printed.yaml"])
    assert done.exit_code == 0 and "to look at" not in done.output, done.output


@pytest.mark.parametrize("name", SCENES)
def test_shipped_scenes_are_good(name, depot):
    """Each shipped scene is checked without a doubt; `test_one_reading.py` renders every one."""
    checked = CliRunner().invoke(previz, ["check", f"scenes/{name}"])
    assert checked.exit_code == 0 and "to look at" not in checked.output, checked.output
