"""A short soak in every run of the tests, and what the soak itself finds out of inputs that misbehave."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]

SECONDS = float(os.environ.get("SOAK_SECONDS", "30"))
"""Time of one core that a run of the tests spends on inputs, all kinds together. [s]"""

SEED, INPUTS = 1, 20_000
"""The same inputs each time, as far as the time goes: a fault found in one run is found in the next."""

LEAST = 5
"""Inputs of each kind that are tried however slow the machine is."""


@pytest.mark.slow
def test_no_input_escapes(record_property):
    """Of every kind of input, each is refused in words or taken; nothing is started, left or served wrong."""
    done = subprocess.run(
        [
            sys.executable,
            "-m",
            "tests.soak",
            "--seconds",
            str(SECONDS),
            "--inputs",
            str(INPUTS),
            "--seed",
            str(SEED),
            "--json",
        ],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    tallies = json.loads(done.stdout)
    record_property("soak", ", ".join(f"{tally['tried']} {tally['name']}" for tally in tallies))
    assert all(tally["tried"] >= LEAST for tally in tallies), done.stderr


BAD = """
import os, subprocess, sys, time
sys.path.insert(0, "tests")
from pathlib import Path
from tests.soak import run
from tests.soak.kinds import KINDS

class Bad:
    name = "bad"

    def begin(self, folder):
        self.outside = folder.parent / "soak-outside"
        run.KEPT = Path(sys.argv[1])

    def make(self, chance):
        return [None]

    number = -1

    def attempt(self, given):
        self.number += 1
        match self.number:
            case 0:
                return "good"
            case 1:
                raise KeyError("x")
            case 2:
                subprocess.run(["true"])
            case 3:
                self.outside.write_text("x")
            case 4:
                bytearray(8 << 30)
            case 5:
                os.kill(os.getpid(), 11)

    def smaller(self, given):
        return iter(())

    def keep(self, given, folder):
        (folder / "given.txt").write_text(repr(given))

tried = Bad.attempt
again = [0, 1, 1, 2, 2, 3, 3, 4, 4, 5]  # What fails is tried once more, to be shown at its smallest.
Bad.step = -1

def attempt(self, given):
    self.step += 1
    self.number = again[self.step] - 1
    return tried(self, given)

Bad.attempt = attempt
KINDS["bad"] = Bad
tally = run.run(run.Plan("bad", 1, 100))
for mark in tally.findings:
    print(mark)
"""


def test_what_misbehaves_is_found(tmp_path):
    """A traceback, a program, a file outside, memory without end and a crash are each told apart and kept."""
    done = subprocess.run(
        [sys.executable, "-c", BAD, str(tmp_path)], cwd=ROOT, capture_output=True, text=True, check=True
    )
    Path(os.environ.get("TMPDIR", "/tmp"), "soak-outside").unlink(missing_ok=True)
    found = done.stdout.splitlines()
    for words in (
        "KeyError",
        "started a program: subprocess",
        "wrote to",
        "MemoryError",
        "ended with signal 11",
    ):
        assert any(words in mark for mark in found), (words, found)
    assert len(found) == 5
    kept = [each.read_text() for each in tmp_path.glob("bad/*/found.txt")]
    assert len(kept) == 4 and all("--again bad:1:" in text for text in kept)
