"""`previz bench`: its keys are stable, and what it measures is what it says."""

import json

import numpy as np
import pytest
from click.testing import CliRunner

from previz.checks.benches import parts, start
from previz.checks.benches.setting import room, with_faces
from previz.cli.main import previz

SCENE = """\
previz: 1
title: Yard office
room: {size: [3 m, 3 m, 2.5 m]}
lights:
  - {name: lamp, kind: bulb, at: [0.5 m, 2.4 m, 1.4 m], output: 400 lm}
  - {name: key, kind: panel, at: [2.5 m, 2.4 m, 2 m], aim: lamp, size: [0.3 m, 0.3 m], output: 900 lm}
cameras:
  - {name: A, at: [2.5 m, 0.5 m, 1.3 m], aim: lamp, lens: 25 mm, stop: T2.8, iso: 800}
"""
# What the documentation and other programs read; a key that goes is a broken promise.
STABLE = {"pass_ratio", "per_lamp_ratio", "bounce_gain", "mix_over_read", "level_change_s",
          "edit_one_of_12", "lamps_32_over_8", "help_s", "check_s"}


@pytest.fixture
def bench(tmp_path):
    scene = tmp_path / "office.yaml"
    scene.write_text(SCENE)

    def run(*words):
        done = CliRunner().invoke(previz, ["bench", str(scene), "--quick", "--size", "32x18", "--json",
                                           *words], catch_exceptions=False, standalone_mode=False)
        return json.loads(done.stdout)

    return run


def test_every_promised_key_has_a_goal_and_every_part_a_function():
    """The table of parts leads to functions, and the promised keys to goals."""
    from importlib import import_module

    assert set(parts.GOALS) >= STABLE
    for name, (module, text) in parts.PARTS.items():
        assert callable(getattr(import_module(f"previz.checks.benches.{module}"), name))
        assert text


def test_mixing_is_measured_against_reading(bench):
    """A part can be run alone; its ratio is that of its seconds."""
    result = bench("--part", "mix")
    details = result["details"]
    assert result["mix_over_read"] == pytest.approx(details["mix_seconds"] / details["read_seconds"],
                                                  abs=1e-4)
    assert set(result) & STABLE == {"mix_over_read"}
    assert {"machine", "date", "quick", "size", "samples", "bands", "scene"} <= set(result)
    # No memory of these days reads slower or faster than that. [GB/s]
    assert 0.5 < details["read_gigabytes_per_second"] < 2000


def test_a_command_is_timed_until_something_is_seen(tmp_path):
    """In a process of its own, which is ended then; one that ends before shows nothing."""
    asked = []
    spent = start._until(lambda process: asked.append(process) or len(asked) > 2, ["--help"], str(tmp_path))
    assert 0.01 < spent < start.SOON and asked[0].poll() is not None
    with pytest.raises(TimeoutError, match="`previz --version` has shown no picture"):
        start._until(lambda process: False, ["--version"], str(tmp_path))


def test_rooms_are_what_they_are_made_for():
    """As many lamps as requested, one of them moved and nothing else; about as many faces."""
    for count in (2, 8, 32):
        assert len(room(count).lamps) == count
    one, two = room(12), room(12, moved=True)
    differ = [a.name for a, b in zip(one.emitters, two.emitters, strict=True)
              if not np.allclose(a.vertices, b.vertices)]
    assert differ == ["lamp 0"]
    for count in (10_000, 100_000):
        faces = sum(len(m.faces) for m in with_faces(one, count).meshes)
        assert faces == pytest.approx(count, rel=0.05)


@pytest.mark.engine
def test_ratios_against_the_library(bench):
    """The oldest keys are still there, and above zero."""
    result = bench("--part", "passes")
    assert result["pass_ratio"] > 0
    assert result["per_lamp_ratio"] > 0
