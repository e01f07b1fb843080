"""One writer at a time: what is read, changed and written under the lock is never lost."""

import contextlib
import errno
import os
import subprocess
import sys
import threading

import pytest

from previz.frames import lock
from previz.frames.lock import LOCK_NAME, only_writer

TURNS, WRITERS = 20, 4


def counted(folder, turn):
    """Add one to a number in a file, as slowly as it takes for another to get in between."""
    path = folder / "count"
    number = int(path.read_text() or 0) if path.exists() else 0
    turn.wait(0.0005)
    path.write_text(str(number + 1))


def in_threads(work, count=WRITERS):
    """Run work in threads that all begin at once."""
    start = threading.Barrier(count)

    def begin():
        start.wait(20)
        work()

    threads = [threading.Thread(target=begin) for _ in range(count)]
    for each in threads:
        each.start()
    for each in threads:
        each.join(20)


@pytest.mark.parametrize("locked", [True, False])
def test_no_change_is_lost_under_the_lock(tmp_path, locked):
    """Four writers of twenty turns each make eighty; without the lock they do not, so the test tells."""
    never = threading.Event()

    def work():
        for _ in range(TURNS):
            with only_writer(tmp_path) if locked else contextlib.nullcontext():
                counted(tmp_path, never)

    in_threads(work)
    count = int((tmp_path / "count").read_text() or 0)
    assert (count == TURNS * WRITERS) is locked


HOLDER = """\
import sys, time
from previz.frames.lock import only_writer
with only_writer(sys.argv[1]):
    print("held", flush=True)
    time.sleep(60)
"""


def test_who_is_killed_lets_go(tmp_path):
    """The lock is the system's: no process leaves one behind, however it ends."""
    words = [sys.executable, "-c", HOLDER, str(tmp_path)]
    holder = subprocess.Popen(words, stdout=subprocess.PIPE, text=True)
    got = threading.Event()

    def wait():
        with only_writer(tmp_path):
            got.set()

    try:
        assert holder.stdout.readline() == "held\n"
        waiting = threading.Thread(target=wait)
        waiting.start()
        assert not got.wait(0.1)
    finally:
        holder.kill()
        holder.wait(20)
        holder.stdout.close()
    waiting.join(20)
    assert got.is_set()
    # What the dead one left is a file, which stands for nothing.
    assert (tmp_path / LOCK_NAME).exists()


def test_a_lock_on_a_file_that_was_removed_keeps_others_out_all_the_same(tmp_path):
    """Who waits while the folder is cleared makes it anew, and locks what the others lock then."""
    folder = tmp_path / "lamp"
    inside, most, waiting = [], [], threading.Semaphore(0)

    def work():
        waiting.release()
        with only_writer(folder):
            assert (folder / LOCK_NAME).exists()
            inside.append(1)
            most.append(len(inside))
            threading.Event().wait(0.01)
            inside.pop()

    threads = [threading.Thread(target=work) for _ in range(3)]
    with only_writer(folder):
        for each in threads:
            each.start()
            waiting.acquire(timeout=20)
        threading.Event().wait(0.05)
        (folder / LOCK_NAME).unlink()
        folder.rmdir()
    for each in threads:
        each.join(20)
    assert most == [1, 1, 1]


def test_an_error_inside_goes_out_and_lets_go(tmp_path):
    """A file that is missing in the block is the block's own matter."""
    with pytest.raises(FileNotFoundError, match="lamp"), only_writer(tmp_path):
        raise FileNotFoundError("lamp")
    with only_writer(tmp_path) as locked:
        assert locked


@pytest.mark.parametrize(("number", "told"), [
    (errno.ENOLCK, True), (errno.EOPNOTSUPP, True), (errno.EIO, False)])
def test_a_disk_without_locks_is_told_of(tmp_path, monkeypatch, number, told):
    """Some disks in a network have none: nobody waits, and the block knows; other errors are errors."""
    def refused(handle, what):
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(lock.fcntl, "flock", refused)
    with contextlib.ExitStack() as stack:
        if told:
            assert stack.enter_context(only_writer(tmp_path)) is False
        else:
            with pytest.raises(OSError):
                stack.enter_context(only_writer(tmp_path))
