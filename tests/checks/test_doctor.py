"""`previz doctor`: it finds what is there, and lives through what is not."""

import json
import os
import sys
from types import SimpleNamespace

import numpy as np
import pytest
from click.testing import CliRunner

from previz.checks import doctor, doctor_trials
from previz.checks.doctor import Finding, trial
from previz.checks.doctor_trials import expected_illuminance
from previz.cli.doctor import as_text, command
from previz.deliver.blocking.gl import GlContext, NoGraphicsError
from previz.studies import folders


@pytest.mark.engine
def test_a_machine_that_renders_is_reported():
    """Where the engine runs, every topic is checked, the light is right, and the exit is 0."""
    run = CliRunner().invoke(command, ["--json", "--backend", "processor"])
    assert run.exit_code == 0, run.output
    result = json.loads(run.output)
    assert result["rendering"] is True
    findings = {each["topic"]: each for each in result["findings"]}
    assert {"Python", "numpy", "LLVM", "GPU", "backend", "GL", "denoiser", "fonts",
            "test render"} <= set(findings)
    assert findings["backend"]["text"] == "processor"
    values = findings["test render"]["values"]
    assert values["measured"] == pytest.approx(values["expected"], rel=doctor.RENDER_WITHIN)


def test_the_worked_illuminance_is_that_of_the_lamp():
    """The closed form is the sum over the lamp's face of I cos² / r², and near I / h² above."""
    n = 400
    half, h = doctor_trials.LAMP_SIDE / 2, doctor_trials.LAMP_HEIGHT
    x = (np.arange(n) + 0.5) / n * 2 * half - half
    r2 = x[:, None] ** 2 + x[None] ** 2 + h**2
    # Lambert: L = flux / (pi A); dE = L cos cos / r² dA, both cosines h / r.
    luminance = doctor_trials.LAMP_LUMENS / (np.pi * doctor_trials.LAMP_SIDE**2)
    summed = luminance * np.mean(h**2 / r2**2) * doctor_trials.LAMP_SIDE**2
    assert expected_illuminance() == pytest.approx(summed, rel=1e-5)
    # A lamp a fifth as wide as it is far is within 2 % of a point.
    point = doctor_trials.LAMP_LUMENS / np.pi / h**2
    assert expected_illuminance() == pytest.approx(point, rel=0.02)


def stand_in(tmp_path, monkeypatch, script):
    """Put a shell script in the place of Python for the trials."""
    path = tmp_path / "python"
    path.write_text(f"#!/bin/sh\n{script}\n", encoding="utf-8")
    path.chmod(0o755)
    monkeypatch.setattr(sys, "executable", str(path))


posix = pytest.mark.skipif(os.name != "posix", reason="the stand-in is a shell script")


@posix
def test_a_process_that_is_ended_is_reported(tmp_path, monkeypatch):
    """What a bad LLVM does, ending its process, becomes a finding and not the doctor's own end."""
    stand_in(tmp_path, monkeypatch, 'echo "LLVM ERROR: Cannot select" >&2; kill -ABRT $$')
    # POSIX: SIGABRT is signal 6.
    assert trial("render") == {"failed": "ended the process with signal 6: "
                                         "LLVM ERROR: Cannot select"}
    found = doctor.render_found("auto")
    assert found.state == "missing" and "DRJIT_LIBLLVM_PATH" in found.advice


@posix
def test_a_trial_that_hangs_is_given_up(tmp_path, monkeypatch):
    """A trial that gives no answer in time becomes a finding."""
    stand_in(tmp_path, monkeypatch, "exec sleep 30")
    assert trial("gl", patience=0.3) == {"failed": "gave no answer within 0 s"}


@posix
@pytest.mark.parametrize(("script", "failed"), [
    ("echo no such module >&2; exit 3", "ended with status 3: no such module"),
    ("echo not json", "ended with status 0"),
])
def test_a_trial_without_an_answer_is_reported(tmp_path, monkeypatch, script, failed):
    """A trial that ends without an answer says how it ended."""
    stand_in(tmp_path, monkeypatch, script)
    assert trial("gl") == {"failed": failed}


def test_a_python_that_cannot_start_is_reported(tmp_path, monkeypatch):
    """A trial that cannot even be started becomes a finding."""
    monkeypatch.setattr(sys, "executable", str(tmp_path / "nowhere"))
    assert trial("gl")["failed"].startswith("could not be started: ")


def test_a_machine_that_cannot_render_is_reported_with_what_to_do(monkeypatch):
    """Without a working engine the exit is 1, and the page says what is missing and what to do."""
    def nothing(name, *_):
        return {"failed": f"no {name}", "advice": f"Install {name}."}

    monkeypatch.setattr(doctor, "trial", nothing)
    run = CliRunner().invoke(command, [])
    assert run.exit_code == 1
    lines = run.output.splitlines()
    assert any(line.split() == ["test", "render", "MISSING", "no", "render"] for line in lines)
    assert "  - Install render." in lines and "  - Install engine." in lines
    assert lines[-1] == "Rendering does not work here. Checking scenes does."


def test_light_that_is_wrong_is_not_called_good(monkeypatch):
    """A render that ends but gives twice the light does not pass."""
    result = {"backend": "processor", "seconds": 1.0, "measured": 62.0, "expected": 31.0}
    monkeypatch.setattr(doctor, "trial", lambda *_: result)
    found = doctor.render_found("auto")
    assert found.state == "missing" and found.text.startswith("wrong light: ")
    assert "+100.0%" in found.text


def test_a_missing_package_is_named(monkeypatch):
    """A package that is needed and not there says how to install it; one with a stand-in not."""
    monkeypatch.setattr(doctor, "PACKAGES", {"no-such-package": "renders", "pyrender-gone": ""})
    monkeypatch.setattr(doctor, "OPTIONAL", ("pyrender-gone",))
    needed, spare = doctor.packages_found()
    assert (needed.state, needed.text) == ("missing", "not installed (renders)")
    assert needed.advice == "Install no-such-package: `pip install no-such-package`."
    assert (spare.state, spare.advice) == ("note", "")


@posix
def test_a_missing_system_library_names_its_package(monkeypatch):
    """A library that the engine needs of the system and lacks is reported with its package."""
    monkeypatch.setattr(doctor, "SYSTEM", {"libnosuchthing.so.1": "libnosuchthing1"})
    monkeypatch.setattr(sys, "platform", "linux")
    (found,) = doctor.system_found()
    assert found.state == "missing" and "libnosuchthing.so.1" in found.text
    assert found.advice == "Install libnosuchthing1: `apt-get install libnosuchthing1` (Debian)."


def test_a_process_that_windows_ends_is_reported(monkeypatch):
    """By what its exception is called by; 0xC0000005 is an access violation (Microsoft, NTSTATUS values)."""
    monkeypatch.setattr(doctor.subprocess, "run",
                        lambda *_, **__: SimpleNamespace(returncode=0xC0000005, stdout="", stderr=""))
    assert trial("render") == {"failed": "ended the process with 0xC0000005"}


@pytest.mark.parametrize("system", ["darwin", "win32"])
def test_what_is_of_use_on_linux_alone_is_not_asked_for_elsewhere(monkeypatch, system):
    """Drawings by GL need EGL: no package is missed for it, and none is advised."""
    monkeypatch.setattr(sys, "platform", system)
    assert "pyrender" not in {each.topic for each in doctor.packages_found()}
    assert doctor.system_found() == []
    with pytest.raises(NoGraphicsError, match="Linux alone"):
        GlContext()
    monkeypatch.setattr(doctor, "trial", lambda *_: {"failed": "no EGL"})
    found = doctor.gl_found()
    assert found.advice == "" and found.text == "none (no EGL); the engine finds the shapes instead"


def test_a_gpu_that_fails_on_a_mac_can_be_done_without(monkeypatch):
    """Where the processor was asked for, that is no advice."""
    monkeypatch.setattr(sys, "platform", "darwin")
    monkeypatch.setattr(doctor, "trial", lambda *_: {"failed": "ended the process with signal 6"})
    assert "`--backend processor` does without" in doctor.render_found("auto").advice
    assert "`--backend processor` does without" not in doctor.render_found("processor").advice


@pytest.mark.parametrize(("taken", "state"), [(True, "good"), (False, "note")])
def test_long_paths_are_looked_for_on_windows(monkeypatch, taken, state):
    """With the command that turns them on where they are not."""
    monkeypatch.setattr(folders, "has_long_paths", lambda: taken)
    assert doctor.paths_found() == []
    monkeypatch.setattr(sys, "platform", "win32")
    found, = doctor.paths_found()
    assert found.state == state and ("LongPathsEnabled" in found.advice) is not taken


def test_an_llvm_that_cannot_be_loaded_says_why(monkeypatch):
    """An LLVM that fails to load is distinguished from one that is too old."""
    libraries = [{"path": "/a", "version": None, "usable": False, "fault": "cannot be loaded (x)"},
                 {"path": "/b", "version": [15, 0, 6], "usable": False, "fault": ""},
                 {"path": "/c", "version": [23, 1, 4], "usable": True, "fault": ""}]
    monkeypatch.setattr(doctor, "trial", lambda *_: {"libraries": libraries, "backend": "processor"})
    result = [each.text for each in doctor.engine_found("auto")]
    assert result == ["of no known version, cannot be loaded (x): /a",
                    "15.0.6, too old, 19 or newer is needed: /b", "23.1.4, can serve: /c", "processor"]


def test_the_page_is_aligned_and_says_each_thing_to_do_once():
    """Topics share a column, and advice that two findings give is written once."""
    text = as_text([Finding("GL", "note", "none", "Install it."),
                    Finding("denoiser", "missing", "none", "Install it.")], True)
    assert text.splitlines() == [
        "GL                 none",
        "denoiser  MISSING  none",
        "",
        "What to do:",
        "  - Install it.",
        "",
        "Rendering works.",
    ]
