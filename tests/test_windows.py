"""What Windows lacks or does otherwise, stood in for by its documentation, as far as another system can."""

import ast
import ctypes
import errno
import fcntl
import os
import re
import signal
import subprocess
import sys
import tempfile
import threading
import types
from pathlib import Path

import pytest

import previz
from previz.deliver.stems import plain
from previz.errors import RequestError
from previz.frames import lock, whole
from previz.frames.lock import folder_held, only_writer
from previz.frames.whole import whole_file
from previz.page import apart, serving
from previz.rendering import machine
from previz.rendering.cache import owned
from previz.studies import folders
from tests.test_lock import TURNS, WRITERS, counted, in_threads

SCENE = Path(__file__).parents[1] / "scenes" / "signal-cabin.yaml"

# The Python Library Reference, "Unix-specific services", and others that are marked so.
UNIX_ONLY = {"fcntl", "grp", "posix", "pty", "pwd", "resource", "syslog", "termios", "tty", "curses",
             "readline"}


def test_modules_of_unix_are_imported_where_they_may_be_missing():
    """Each within a `try`, so that the module which asks for one can be imported anywhere."""
    named = re.compile(rf"import.*\b({'|'.join(UNIX_ONLY)})\b")
    texts = {path: path.read_text(encoding="utf-8") for path in Path(previz.__file__).parent.rglob("*.py")}
    found = {path: ast.parse(text) for path, text in texts.items() if named.search(text)}
    assert found
    for path, tree in found.items():
        tried = {id(each) for block in ast.walk(tree) if isinstance(block, ast.Try)
                 for step in block.body for each in ast.walk(step)}
        for each in ast.walk(tree):
            names = ([one.name for one in each.names] if isinstance(each, ast.Import) else
                     [each.module or ""] if isinstance(each, ast.ImportFrom) else [])
            assert id(each) in tried or not UNIX_ONLY & {name.split(".")[0] for name in names}, path


# Everything from elsewhere is imported first: its own guards are not what is tried here.
WITHOUT = """
import os, select, signal, subprocess, sys, types, importlib, pathlib, tempfile
import click, numpy, yaml, trimesh, shapely, PIL.Image, scipy.optimize, reportlab, ezdxf, uvicorn, starlette
import OpenEXR, PyOpenColorIO, drawsvg, multiprocessing, concurrent.futures, asyncio, webbrowser, platform
for name in ("fcntl", "grp", "pwd", "resource", "termios"):
    sys.modules[name] = None
for name in ("getuid", "geteuid", "nice", "getloadavg", "sched_getaffinity", "pathconf", "O_CLOEXEC",
             "O_NOFOLLOW", "O_NONBLOCK", "O_NOCTTY", "set_blocking", "sysconf", "fork"):
    if hasattr(os, name):
        delattr(os, name)
for name in ("SIGHUP", "SIGSTOP", "SIGCONT", "SIGKILL"):
    delattr(signal, name)
held = set()
class Msvcrt(types.ModuleType):
    LK_NBLCK, LK_UNLCK = 2, 0
    def locking(self, handle, how, count):
        (held.add if how else held.discard)(handle)
sys.modules["msvcrt"] = Msvcrt("msvcrt")
import previz
root = pathlib.Path(previz.__file__).parent
import previz.engine
for path in sorted(root.rglob("*.py")):
    name = ".".join(("previz", *path.relative_to(root).with_suffix("").parts)).removesuffix(".__init__")
    if ".engine." not in name and "bake_" not in name and not name.endswith("__main__"):
        importlib.import_module(name)
from previz.cli.main import main
main(["check", sys.argv[1]])
"""


@pytest.mark.engine
def test_all_of_it_is_imported_and_runs_without_what_unix_alone_has():
    """Every module, then a command from its start to its end."""
    done = subprocess.run([sys.executable, "-c", WITHOUT, str(SCENE)], capture_output=True, text=True,
                          check=False)
    assert done.returncode == 0 and ": good" in done.stdout, done.stderr


class Msvcrt(types.ModuleType):
    """Windows' locks, made of those here: another who tries is refused at once with EACCES or EDEADLK."""

    LK_NBLCK, LK_UNLCK = 2, 0

    def __init__(self, refusal):
        super().__init__("msvcrt")
        self.refusal = refusal

    def locking(self, handle, how, count):
        assert count == 1
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB if how else fcntl.LOCK_UN)
        except BlockingIOError:
            raise OSError(self.refusal, os.strerror(self.refusal)) from None


@pytest.fixture
def windows_locks(tmp_path, monkeypatch, request):
    """Locks as on Windows, their files in a folder of the test's own."""
    temporary = tmp_path / "temporary"
    temporary.mkdir()
    monkeypatch.setattr(lock, "fcntl", None)
    monkeypatch.setattr(lock, "AGAIN_AFTER", 0.001)
    monkeypatch.setattr(tempfile, "tempdir", str(temporary))
    monkeypatch.setitem(sys.modules, "msvcrt", Msvcrt(getattr(request, "param", errno.EACCES)))
    return temporary


@pytest.mark.parametrize("held", [only_writer, folder_held])
@pytest.mark.parametrize("windows_locks", [errno.EACCES, errno.EDEADLK], indirect=True)
def test_no_change_is_lost_under_windows_locks(tmp_path, windows_locks, held):
    """Four writers of twenty turns each make eighty; the folder gets no file of a lock, by any name of it."""
    folder, other = tmp_path / "folder", tmp_path / "link"
    folder.mkdir()
    other.symlink_to(folder)
    never, names = threading.Event(), [folder, other] * WRITERS

    def work():
        mine = names.pop()
        for _ in range(TURNS):
            with held(mine) as locked:
                assert locked
                counted(folder, never)

    in_threads(work)
    assert int((folder / "count").read_text()) == TURNS * WRITERS
    assert {each.name for each in folder.iterdir()} == {"count"}
    assert len(list((windows_locks / lock.APART).iterdir())) == 1


def test_where_windows_has_no_place_for_locks_it_is_told(tmp_path, windows_locks, monkeypatch):
    """Nobody waits, and the block knows."""
    (windows_locks / lock.APART).write_text("a file in the way")
    with only_writer(tmp_path / "new") as locked:
        assert locked is False and (tmp_path / "new").is_dir()


def test_a_file_that_somebody_reads_is_waited_for(tmp_path, monkeypatch):
    """On Windows it cannot be replaced meanwhile; elsewhere a refusal is a refusal."""
    path, real, refused = tmp_path / "note.json", os.replace, []

    def replace(part, to):
        if len(refused) < 3:
            refused.append(to)
            raise PermissionError(errno.EACCES, "open elsewhere", str(to))
        real(part, to)

    def refusing(part, to):
        raise PermissionError(errno.EACCES, "open elsewhere", str(to))

    monkeypatch.setattr(whole.os, "replace", replace)
    with pytest.raises(PermissionError), whole_file(path) as part:
        part.write_text("1")
    assert len(refused) == 1 and not list(tmp_path.iterdir())
    monkeypatch.setattr(sys, "platform", "win32")
    with whole_file(path) as part:
        part.write_text("2")
    assert path.read_text() == "2" and len(refused) == 3
    monkeypatch.setattr(whole, "PATIENCE", 0.02)
    monkeypatch.setattr(whole.os, "replace", refusing)
    with pytest.raises(PermissionError), whole_file(path) as part:
        part.write_text("3")
    assert path.read_text() == "2" and list(tmp_path.iterdir()) == [path]


def test_what_is_open_elsewhere_stays_in_the_cache_for_the_next_time(tmp_path, monkeypatch):
    """The rest of it goes, and what is told is what has gone."""
    notes = [tmp_path / f"{digit * 32}.json" for digit in "ab"]
    form = owned.Form("meter", "", r"[ab]{32}\.json", "note previz_view", note=True)
    for each in notes:
        each.write_text('{"previz_view": 1}')
    found = [owned.Found(each, each, form, False, each.stat()) for each in notes]
    real = Path.unlink

    def unlink(path, missing_ok=False):
        if path == notes[0]:
            raise PermissionError(errno.EACCES, "open elsewhere", str(path))
        real(path, missing_ok=missing_ok)

    monkeypatch.setattr(Path, "unlink", unlink)
    with pytest.raises(PermissionError):
        owned.remove_files(found)
    monkeypatch.setattr(sys, "platform", "win32")
    assert owned.remove_files(found) == found[1:] and notes[0].exists()
    monkeypatch.undo()
    assert owned.remove_files(found[:1]) == found[:1] and not notes[0].exists()


@pytest.mark.parametrize(("enabled", "deepest"), [(1, 4096), (0, 259), (None, 259)])
def test_a_path_that_windows_does_not_take_is_refused(monkeypatch, tmp_path, enabled, deepest):
    """Unless long paths are turned on in its registry, or where they are not named there."""
    class Key:
        def __enter__(self):
            return self

        def __exit__(self, *_):
            return None

    def value(key, name):
        assert isinstance(key, Key) and name == "LongPathsEnabled"
        if enabled is None:
            raise FileNotFoundError(name)
        return enabled, 4

    monkeypatch.setitem(sys.modules, "winreg", types.SimpleNamespace(
        HKEY_LOCAL_MACHINE=1, QueryValueEx=value,
        OpenKey=lambda root, where: Key() if where.endswith(r"Control\FileSystem") else pytest.fail(where)))
    monkeypatch.setattr(sys, "platform", "win32")
    monkeypatch.delattr(os, "pathconf")
    folder = tmp_path / ("f" * 60)
    assert folders._longest(tmp_path, "PC_PATH_MAX") == deepest
    if deepest == 4096:
        assert folders.usable(folder) == folder
    else:
        with pytest.raises(RequestError, match="259 bytes there; give another .* LongPathsEnabled"):
            folders.usable(folder)


def test_no_file_is_called_as_a_device():
    """Microsoft, Naming Files: CON, PRN, AUX, NUL, COM and LPT with a figure, whatever ending follows."""
    assert [plain(each) for each in ("con", "Aux", "lpt1", "com¹", "console", "com10")] == [
        "con_", "Aux_", "lpt1_", "com¹_", "console", "com10"]


def test_memory_is_asked_of_each_system(monkeypatch):
    """Of Windows what a process may still take, of a Mac what is in it."""
    class Kernel:
        def GlobalMemoryStatusEx(self, at):  # noqa: N802
            about = at._obj
            assert about.length == ctypes.sizeof(about) == 64  # Of the structure, by Microsoft's header.
            about.sizes[:] = [32, 8, 48, 20, 99, 98, 0]
            return 1

    monkeypatch.setattr(ctypes, "windll", types.SimpleNamespace(kernel32=Kernel()), raising=False)
    monkeypatch.setattr(sys, "platform", "win32")
    assert [left.size for left in machine.memory_left()] == [20]
    monkeypatch.setattr(sys, "platform", "darwin")
    monkeypatch.setattr(machine, "_of_process", lambda: [])
    assert [left.size for left in machine.memory_left()] == [
        os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")]


def test_workers_hear_no_interrupt_of_the_page(monkeypatch):
    """A session of their own here, a process group on Windows, where they start below the rest."""
    assert apart.apart(below=True) == {"start_new_session": True}
    monkeypatch.setattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0x200, raising=False)
    monkeypatch.setattr(subprocess, "BELOW_NORMAL_PRIORITY_CLASS", 0x4000, raising=False)
    assert apart.apart() == {"creationflags": 0x200} and apart.apart(below=True) == {"creationflags": 0x4200}


def test_a_port_is_the_pages_alone_on_windows(monkeypatch):
    """Microsoft: with SO_REUSEADDR another program may have the same port."""
    set_ = []

    class Socket(serving.socket.socket):
        def setsockopt(self, level, option, value):
            set_.append(option)

    monkeypatch.setattr(serving.socket, "socket", Socket)
    monkeypatch.setattr(serving.socket, "SO_EXCLUSIVEADDRUSE", -5, raising=False)
    monkeypatch.setattr(sys, "platform", "win32")
    serving.bound(0).close()
    assert set_ == [-5]


OUTPUT = """
import sys
from previz.cli.ending import open_streams
sys.platform = "win32"
open_streams()
sys.stdout.write("\\u0394E \\u2192 1\\r\\n")
"""


def test_what_goes_to_a_file_on_windows_is_utf_8():
    """A code page has no arrow; and CSV has ends of lines of its own."""
    done = subprocess.run([sys.executable, "-c", OUTPUT], capture_output=True, check=True,
                          env={**os.environ, "PYTHONIOENCODING": "cp1252"})
    assert done.stdout == "ΔE → 1\r\n".encode()


def test_ctrl_break_ends_as_ctrl_c_does(monkeypatch):
    """Windows' SIGBREAK, here another signal of that name."""
    from previz.cli import ending

    monkeypatch.setattr(signal, "SIGBREAK", signal.SIGUSR1, raising=False)
    with pytest.raises(KeyboardInterrupt), ending.interrupts() as heard:
        signal.raise_signal(signal.SIGUSR1)
    assert heard == [signal.SIGUSR1]
