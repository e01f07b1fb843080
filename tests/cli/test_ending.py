"""How the program ends: few words for a fault of its own, signals, and streams that nobody reads."""

import os
import signal
import stat
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from previz import faults
from previz.cli import ending
from previz.cli.main import main

SECRET = "a token that is nobody's"


@pytest.fixture
def temporary(tmp_path, monkeypatch):
    """A folder for temporary files of the test's own."""
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    return tmp_path


def fails(monkeypatch, fault):
    def broken(**_):
        raise fault

    monkeypatch.setattr("previz.cli.main.previz.main", broken)


def ended(words, status):
    with pytest.raises(SystemExit) as end:
        main(words)
    assert end.value.code == status


def test_a_fault_of_the_program_is_few_words_and_a_report(temporary, monkeypatch, capsys):
    """What happened, what is kept, where the report lies; 70 is EX_SOFTWARE of sysexits.h (4.3BSD)."""
    monkeypatch.setenv("PREVIZ_SECRET", SECRET)
    monkeypatch.setattr(sys, "argv", ["previz", "render", "a scene.yaml"])
    fails(monkeypatch, ValueError("a length below\nzero"))
    ended(["render", "a scene.yaml"], 70)
    told = capsys.readouterr().err
    assert "Traceback" not in told and len(told.splitlines()) == 2
    assert "a fault of previz itself, in cli/main.py, line " in told
    assert "ValueError: a length below zero" in told and "goes on from there" in told
    path, = temporary.glob("previz-faults-*/*")
    assert f"A report lies in {path}." in told
    report = path.read_text()
    for part in ("Traceback", "ValueError: a length below", "'a scene.yaml'", "numpy: ", "Python: "):
        assert part in report
    assert SECRET not in report
    assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700


def test_the_last_reports_are_kept(temporary, monkeypatch):
    """A few, the newest among them, whole."""
    monkeypatch.setattr(faults, "report", str)
    written = []
    for number in range(faults.MOST_REPORTS + 3):
        written.append(faults.write_report(ValueError(str(number))))
        os.utime(written[-1], (number, number))
    there = sorted(temporary.glob("previz-faults-*/*"), key=lambda path: path.stat().st_mtime)
    assert there == written[-faults.MOST_REPORTS:]


def test_a_report_goes_to_no_folder_of_another(temporary):
    """In a folder for all, one of that name that others may write to, and a link, are left alone."""
    usual = faults.write_report(ValueError()).parent
    usual.chmod(0o777)
    other = faults.write_report(ValueError("2")).parent
    assert other != usual and len(list(usual.iterdir())) == 1
    for path in usual.iterdir():
        path.unlink()
    usual.rmdir()
    usual.symlink_to(other)
    assert faults.write_report(ValueError("3")).parent not in (usual, other)


def test_a_fault_that_no_report_can_be_written_of(temporary, monkeypatch, capsys):
    """It is told all the same, and the traceback where a developer wants it."""
    monkeypatch.setattr(tempfile, "tempdir", str(temporary / "nowhere"))
    monkeypatch.setenv(faults.DEVELOPERS, "1")
    fails(monkeypatch, ZeroDivisionError())
    ended(["list"], 70)
    told = capsys.readouterr().err
    assert "in cli/main.py" in told and "No report could be written" in told and "Traceback" in told


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP])
def test_signals_to_end_are_an_interrupt(number, monkeypatch, capsys):
    """What Ctrl-C reaches, they reach; the status says which. Afterwards they are as before."""
    before = signal.getsignal(number)

    def work(**_):
        try:
            signal.raise_signal(number)
        finally:
            # A second one is not lost on work that is being put away.
            with pytest.raises(KeyboardInterrupt):
                signal.raise_signal(number)

    monkeypatch.setattr("previz.cli.main.previz.main", work)
    ended(["render"], 128 + number)
    assert "Interrupted. What was finished is kept" in capsys.readouterr().err
    assert signal.getsignal(number) == before


def test_what_outlives_its_terminal_still_does(monkeypatch):
    """A signal that is ignored, as by nohup, stays so."""
    before = signal.signal(signal.SIGHUP, signal.SIG_IGN)
    try:
        with ending.interrupts() as heard:
            signal.raise_signal(signal.SIGHUP)
        assert heard == []
    finally:
        signal.signal(signal.SIGHUP, before)


PREVIZ = f"{sys.executable} -c 'from previz.cli.main import main; main()'"


@pytest.mark.parametrize(("shell", "status", "told"), [
    (f"{PREVIZ} schema | true; exit ${{PIPESTATUS[0]}}", 141, ""),
    (f"{PREVIZ} schema >/dev/full", 2, "no space left on device"),
    (f"{PREVIZ} schema >&-", 0, ""),
    (f"{PREVIZ} check nowhere.yaml 2>&-", 2, ""),
], ids=["reader gone", "full", "no output", "no errors"])
def test_streams_that_nobody_reads(tmp_path, shell, status, told):
    """A reader that has gone, a full device, closed streams: a status, and no traceback."""
    done = subprocess.run(["bash", "-c", shell], cwd=tmp_path, text=True, capture_output=True, check=False,
                          env={**os.environ, "TMPDIR": str(tmp_path)})
    assert done.returncode == status, done.stderr
    assert told in done.stderr and "Exception ignored" not in done.stderr and "fault" not in done.stderr
    assert list(Path(tmp_path).iterdir()) == []


STUCK = """\
import hashlib
from previz.cli import ending, main
ending.SAID_AFTER = ending.GRACE = ending.ONE_SIGNAL = 0.1

def stuck(**_):
    while True:
        try:
            print("begun", flush=True)
            hashlib.pbkdf2_hmac("sha256", b"", b"", 1 << 30)
        except KeyboardInterrupt:
            pass  # It came just before.

main.previz.main = stuck
main.main(["render"])
"""
"""The program at work as the engine is: nothing of Python runs in the main thread for minutes."""


def test_a_second_signal_ends_what_hears_none(tmp_path):
    """A pass of the engine can take minutes: the first signal is answered, the second ends it in a moment."""
    running = subprocess.Popen([sys.executable, "-c", STUCK], cwd=tmp_path, text=True, stdout=subprocess.PIPE,
                               stderr=subprocess.PIPE)
    try:
        assert running.stdout.readline() == "begun\n"
        running.send_signal(signal.SIGTERM)
        assert "once more ends it at once" in running.stderr.readline()
        running.send_signal(signal.SIGTERM)
        assert running.wait(30) == 143
        assert running.stderr.read() == "Ended. What was finished before is kept.\n"
    finally:
        running.kill()
        running.stdout.close()
        running.stderr.close()
