"""Who is at which unit: a file a unit, which is renewed while the work goes on and expires when it does not.

Leases save double work and nothing else: the results of a unit that two have done are the same files.
"""

from __future__ import annotations

import contextlib
import os
import platform
import threading
import uuid
from pathlib import Path
from types import TracebackType
from typing import Any

from previz.frames.layouts import marked
from previz.frames.whole import FramesError, read_sealed, write_sealed
from previz.rendering.shards.results import SHARDS

EXPIRES = 120.0
"""Seconds without a sign of life after which somebody else may take a unit. [s]

Network disks show what others wrote late: up to a minute by the usual attribute caches (nfs(5), acdirmax)."""

BEATS = 5
"""Signs of life in that time."""


class Leases:
    """The leases that one process holds in a cache, renewed until they are given back.

    Parameters
    ----------
    cache : Path
    expires : float
        See `EXPIRES`. [s]
    """

    def __init__(self, cache: Path, expires: float = EXPIRES):
        self.folder, self.expires = Path(cache) / SHARDS, expires
        self._token = uuid.uuid4().hex
        self._held: set[str] = set()
        self._ended = threading.Event()
        self._beating: threading.Thread | None = None

    def __enter__(self) -> Leases:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None,
                 trace: TracebackType | None) -> None:
        self._ended.set()
        for name in list(self._held):
            self.give_back(name)
        if self._beating is not None:
            self._beating.join()

    def path(self, name: str) -> Path:
        """Return the file of a unit's lease."""
        return self.folder / f"{name}.lease"

    def take(self, name: str) -> bool:
        """Take a unit; return False where somebody is at it."""
        path = self.path(name)
        self.folder.mkdir(parents=True, exist_ok=True)
        part = path.with_name(f".{path.name}.{uuid.uuid4().hex[:12]}.part")
        taken = False
        # Held from before it is there: an interrupt at any moment has it given back.
        self._held.add(name)
        try:
            write_sealed(part, {**marked("previz_lease"), "machine": platform.node(), "process": os.getpid(),
                                "token": self._token}, whole=contextlib.nullcontext)
            taken = _put(part, path) or self._taken_over(part, path)
        finally:
            part.unlink(missing_ok=True)
            if not taken:
                self.give_back(name)
        self._beat()
        return taken

    def give_back(self, name: str) -> None:
        """Let others take a unit."""
        with contextlib.suppress(OSError):
            # Whoever has taken it over meanwhile keeps it.
            if _said(self.path(name)).get("token") == self._token:
                self.path(name).unlink()
        # Last: what an interrupt leaves is given back at the end.
        self._held.discard(name)

    def others(self) -> set[str]:
        """Return the units that somebody else seems to be at; an expired lease still counts."""
        return {path.stem for path in self.folder.glob("*.lease")} - self._held

    def _taken_over(self, part: Path, path: Path) -> bool:
        """Put a lease in the place of one that has expired; of two who do, the last has it."""
        # By the clock of the disk: those of machines differ.
        age = self.expires
        with contextlib.suppress(FileNotFoundError):
            age = part.stat().st_mtime - path.stat().st_mtime
        if age < self.expires and not _has_died(_said(path)):
            return False
        try:
            os.replace(part, path)
        except PermissionError:
            # On Windows, where somebody reads it just now.
            return False
        return bool(_said(path).get("token") == self._token)

    def _beat(self) -> None:
        if self._beating is None:
            self._beating = threading.Thread(target=self._renew, daemon=True)
            self._beating.start()

    def _renew(self) -> None:
        while not self._ended.wait(self.expires / BEATS):
            for name in list(self._held):
                with contextlib.suppress(OSError):
                    # One that was lost is its new owner's to renew.
                    if _said(self.path(name)).get("token") == self._token:
                        os.utime(self.path(name))


def _put(part: Path, path: Path) -> bool:
    """Give a lease its name; return False where there is one."""
    try:
        os.link(part, path)
    except FileExistsError:
        return False
    except OSError:
        # Some file systems allow one name a file.
        try:
            os.close(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666))
        except FileExistsError:
            return False
        os.replace(part, path)
    return True


def _said(path: Path) -> dict[str, Any]:
    """Return what a lease says; nothing where there is none."""
    with contextlib.suppress(FramesError):
        return read_sealed(path, "previz_lease")
    return {}


def _has_died(said: dict[str, Any]) -> bool:
    """Return whether a lease's process was of this machine and is no more."""
    number = said.get("process")
    if said.get("machine") != platform.node() or not isinstance(number, int) or os.name != "posix":
        return False
    try:
        os.kill(number, 0)
    except ProcessLookupError:
        return True
    except OSError:
        return False
    return False
