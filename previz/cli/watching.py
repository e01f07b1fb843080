"""Notice that files were saved, however an editor goes about it, and stop work that is outdated.

Editors write in place, or write another file and give it the name; for a moment there may be no
file, or half of one. So a file is known by its number, time and size, and a change counts once
it has been still for a moment.
"""

from __future__ import annotations

import _thread
import dataclasses
import threading
import time
from collections.abc import Iterable, Mapping
from pathlib import Path

CHECK_EVERY = 0.2
"""Time between two checks of the files. [s]"""

STILL = 0.3
"""How long files have to be as they are before they are read. [s]"""


def stamp(path: Path) -> tuple | None:
    """Return what tells one state of a file from another; None where it is not there."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_ino, found.st_mtime_ns, found.st_size


def named_files(value) -> set[Path]:
    """Return every file that the records of a scene name, at any depth."""
    found: set[Path] = set()
    waiting, seen = [value], set()
    while waiting:
        each = waiting.pop()
        if id(each) in seen:
            continue
        seen.add(id(each))
        if isinstance(each, Path):
            if each.is_file():
                found.add(each)
        elif dataclasses.is_dataclass(each) and not isinstance(each, type):
            waiting += [getattr(each, field.name) for field in dataclasses.fields(each)]
        elif isinstance(each, Mapping):
            waiting += list(each.values())
        elif isinstance(each, list | tuple | set | frozenset):
            waiting += list(each)
    return found


class Watch:
    """Checks files from a thread of its own."""

    def __init__(self, paths: Iterable[Path]):
        self._paths = {Path(path) for path in paths}
        self._seen = {path: stamp(path) for path in self._paths}
        self._changed = threading.Event()
        self._closing = threading.Event()
        self._working = False
        self._lock = threading.Lock()
        self._thread = threading.Thread(target=self._check, daemon=True)
        self._thread.start()

    def also(self, paths: Iterable[Path]) -> None:
        """Check more files."""
        with self._lock:
            for path in map(Path, paths):
                if path not in self._paths:
                    self._paths.add(path)
                    self._seen[path] = stamp(path)

    def wait(self, seconds: float | None = None) -> bool:
        """Wait until a file was saved and is still; False where the time is over before."""
        end = None if seconds is None else time.monotonic() + seconds
        # In short turns: an interrupt has to get through on every system.
        while not self._changed.wait(CHECK_EVERY):
            if end is not None and time.monotonic() > end:
                return False
        return True

    def taken(self) -> None:
        """Say that the files are read now: what was saved before needs no more notice."""
        self._changed.clear()

    @property
    def changed(self) -> bool:
        """True where a file was saved that has not been `taken` yet."""
        return self._changed.is_set()

    def work(self, job) -> bool:
        """Do a job in this, the main thread; leave it where a file is saved meanwhile, and return False.

        The job has to keep its work when it is interrupted.
        """
        try:
            try:
                with self._lock:
                    self._working = True
                if self.changed:
                    return False
                job()
            finally:
                with self._lock:
                    self._working = False
        except KeyboardInterrupt:
            if not self.changed:
                raise
            return False
        return True

    def close(self) -> None:
        """Stop checking."""
        self._closing.set()
        self._thread.join()

    def _check(self) -> None:
        moved_at = None
        while not self._closing.wait(CHECK_EVERY):
            with self._lock:
                now = {path: stamp(path) for path in self._paths}
                if now != {path: self._seen[path] for path in self._paths}:
                    self._seen.update(now)
                    moved_at = time.monotonic()
                elif moved_at is not None and time.monotonic() - moved_at >= STILL:
                    moved_at = None
                    self._changed.set()
                    if self._working:
                        self._working = False
                        _thread.interrupt_main()
