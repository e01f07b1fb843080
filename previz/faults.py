"""What is said of a fault of the program itself, and the report that is left of it.

A report holds what happened, where, and what it ran on: the traceback, the command line, versions and
the platform. It holds nothing of the environment, where passwords may stand.
"""

from __future__ import annotations

import contextlib
import os
import platform
import sys
import tempfile
import time
import traceback
from pathlib import Path

from previz import __version__

MOST_REPORTS = 5
"""Reports that are kept; older ones go."""

SHOWN = 200
"""Most of what an error says that is said again. [characters]"""

DEVELOPERS = "PREVIZ_TRACEBACK"
"""Variable of the environment that has the traceback printed too, for those who mend it."""

LIBRARIES = ("click", "colour-science", "drjit", "karellen-llvm-core", "mitsuba", "mitsuba-oidn", "numpy",
             "opencolorio", "OpenEXR", "pillow", "PyYAML", "reportlab", "starlette", "trimesh", "uvicorn")
"""Distributions whose versions a report has."""


def fault_words(error: BaseException) -> str:
    """Leave a report of an error that nobody foresaw, and return what to say of it, in few words.

    Nothing is raised where no report can be written; then the words have the place alone.
    """
    said = " ".join(str(error).split())
    said = said if len(said) <= SHOWN else f"{said[:SHOWN]}..."
    what = f"{type(error).__name__}: {said}" if said else type(error).__name__
    try:
        where = f"A report lies in {write_report(error)}"
    except OSError as failed:
        where = f"No report could be written ({failed.strerror})"
    return f"This is a fault of previz itself, in {_place(error)}: {what}.\n  {where}."


def write_report(error: BaseException) -> Path:
    """Write a report of an error, whole or not at all, in a folder of our own; return its file.

    Raises
    ------
    OSError
        It cannot be written.
    """
    folder = _own_folder()
    name = f"fault-{time.strftime('%Y%m%d-%H%M%S')}-{os.getpid()}"
    handle, part = tempfile.mkstemp(prefix=".", suffix=".part", dir=folder)
    try:
        with open(handle, "w", encoding="utf-8", errors="backslashreplace") as file:
            file.write(report(error))
        number, path = 1, folder / f"{name}.txt"
        while path.exists():
            number += 1
            path = folder / f"{name}-{number}.txt"
        os.replace(part, path)
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(part)
        raise
    _forget(folder, path)
    return path


def report(error: BaseException) -> str:
    """Return a report as text."""
    about = {"previz": __version__, "command": " ".join(map(repr, sys.argv)), "folder": _here(),
             "Python": f"{platform.python_version()} at {sys.executable}",
             # The library's own line of these starts a program.
             "platform": f"{platform.system()} {platform.release()} {platform.machine()}",
             **_versions()}
    lines = [f"{name}: {text}" for name, text in about.items()]
    return "\n".join([*lines, "", *traceback.format_exception(error)])


def _own_folder() -> Path:
    """Return a folder for reports that nobody else can write to, made if missing."""
    whose = os.getuid() if hasattr(os, "getuid") else ""
    folder = Path(tempfile.gettempdir(), f"previz-faults-{whose}".rstrip("-"))
    with contextlib.suppress(FileExistsError):
        folder.mkdir(mode=0o700)
    about = folder.lstat()
    # In a folder that all may write to, another may have made one of that name, or a link. On Windows
    # temporary files are in the user's own folder, and a mode says nothing of who may write.
    mine = not hasattr(os, "getuid") or (about.st_uid == os.getuid() and not about.st_mode & 0o022)
    if mine and folder.is_dir() and not folder.is_symlink():
        return folder
    return Path(tempfile.mkdtemp(prefix="previz-faults-"))


def _forget(folder: Path, newest: Path) -> None:
    """Remove all but the last reports."""
    with contextlib.suppress(OSError):
        there = {each: each.stat().st_mtime for each in folder.glob("fault-*.txt") if each != newest}
        for each in sorted(there, key=lambda path: there[path])[: max(0, len(there) + 1 - MOST_REPORTS)]:
            each.unlink()


def _place(error: BaseException) -> str:
    """Return where in previz an error came from: 'studies/render.py, line 12'."""
    own = Path(__file__).parent
    steps = [step for step in traceback.extract_tb(error.__traceback__)
             if Path(step.filename).is_relative_to(own)]
    if not steps:
        return "its start"
    return f"{Path(steps[-1].filename).relative_to(own).as_posix()}, line {steps[-1].lineno}"


def _here() -> str:
    try:
        return os.getcwd()
    except OSError:
        return "gone"


def _versions() -> dict[str, str]:
    from importlib import metadata

    found = {}
    for name in LIBRARIES:
        with contextlib.suppress(metadata.PackageNotFoundError):
            found[name] = metadata.version(name)
    return found
