"""What a terminal and a pipe are told of a long job."""

import io
import time

import pytest

from previz.cli import progress as module
from previz.cli.progress import TerminalProgress


class Stream(io.StringIO):
    """A stream that says whether it is a terminal."""

    def __init__(self, terminal):
        super().__init__()
        self.isatty = lambda: terminal


def until(truth):
    end = time.monotonic() + 60
    while not truth():
        assert time.monotonic() < end
        time.sleep(0.005)


@pytest.fixture(autouse=True)
def quick(monkeypatch):
    monkeypatch.setattr(module, "TICK", 0.01)
    monkeypatch.setattr(module, "QUIET", 0.05)


def test_the_line_lives_while_one_piece_of_work_lasts():
    """It is painted again without another report, says for how long, and is cleared at the end."""
    stream = Stream(True)
    progress = TerminalProgress(stream)
    progress.show("camera A")
    until(lambda: stream.getvalue().count("camera A") > 3)
    assert "camera A, 0 s so far" in stream.getvalue()
    progress.end()
    assert stream.getvalue().endswith("\r\x1b[K")
    until(lambda: not progress._ticking)
    assert stream.getvalue().endswith("\r\x1b[K")


def test_time_left_runs_down_between_reports():
    progress = TerminalProgress(Stream(True))
    assert module._time(30.0, 4.2) == ", about 26 s left"
    assert module._time(3.0, 5.0) == ", 5 s so far"
    assert module._time(None, 0.0) == ""
    progress.end()


def test_a_pipe_has_a_line_now_and_then():
    """Nothing at once; a whole line once nothing was said for a while, and none after the end."""
    stream = Stream(False)
    progress = TerminalProgress(stream)
    progress.show("camera A")
    assert stream.getvalue() == ""
    until(lambda: stream.getvalue().count("\n") == 2)
    progress.end()
    lines = stream.getvalue().splitlines()
    assert all(line.startswith("  0%  camera A") for line in lines) and "\x1b" not in stream.getvalue()
    until(lambda: not progress._ticking)
    assert stream.getvalue().splitlines() == lines


def test_what_is_drawn_is_told_and_ended_with(monkeypatch, capsys):
    """Also where drawing fails."""
    made = []

    class Told(TerminalProgress):
        def __init__(self):
            super().__init__(Stream(True))
            made.append(self)

    monkeypatch.setattr(module, "TerminalProgress", Told)
    assert module.drawn(lambda: "sheet") == "sheet"
    with pytest.raises(OSError, match="full"):
        module.drawn(lambda: (_ for _ in ()).throw(OSError("full")))
    assert all("100%  drawing and writing" in each.stream.getvalue() and each._now is None for each in made)
    assert len(made) == 2
