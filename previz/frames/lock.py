"""One writer at a time in a folder that several processes share."""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

try:
    import fcntl
except ImportError:  # Windows has locks of its own.
    fcntl = None  # type: ignore[assignment]

LOCK_NAME = ".lock"

WITHOUT = tuple(getattr(errno, name) for name in ("ENOLCK", "ENOSYS", "ENOTSUP", "EOPNOTSUPP", "EINVAL")
                if hasattr(errno, name))
"""What a file system without locks says; some shared over a network have none."""

APART = "previz-locks"
"""Folder of locks among the temporary files, on Windows: there no file goes that somebody holds."""

AGAIN_AFTER = 0.02
"""How long Windows' lock is left alone before it is tried again: it tells nobody that it is free. [s]"""


@contextlib.contextmanager
def only_writer(folder: str | os.PathLike[str]) -> Iterator[bool]:
    """Wait until no other process writes in a folder, and keep others waiting meanwhile.

    A process that ends for whatever reason lets go. Another one may have removed the folder while
    this one waited; it is made anew.

    Parameters
    ----------
    folder : path-like
        Made if missing.

    Yields
    ------
    bool
        False where the file system has no locks; then nobody is kept waiting. On Windows those of the same
        user on the same machine are.
    """
    folder = Path(folder)
    _make(folder)
    if fcntl is None:
        with _held_apart(folder) as locked:
            yield locked
        return
    handle, locked = _locked(folder)
    try:
        yield locked
    finally:
        # Closing it lets go of the lock.
        os.close(handle)


@contextlib.contextmanager
def folder_held(folder: str | os.PathLike[str]) -> Iterator[bool]:
    """Keep others that do the same waiting, as `only_writer`, and leave no file in a folder of somebody's.

    The folder itself is locked. It has to be there.

    Yields
    ------
    bool
        False where the system or the file system cannot; then nobody is kept waiting.
    """
    if fcntl is None:
        with _held_apart(Path(folder)) as locked:
            yield locked
        return
    handle = os.open(folder, os.O_RDONLY | os.O_CLOEXEC)
    try:
        try:
            locked = _lock(handle)
        except OSError as error:
            # Some file systems lock only what may be written to.
            if error.errno != errno.EBADF:
                raise
            locked = False
        yield locked
    finally:
        os.close(handle)


@contextlib.contextmanager
def _held_apart(folder: Path) -> Iterator[bool]:
    """Hold the lock that stands for a folder among the temporary files of the user.

    A folder has one, by whatever way it is named; the file stays, and is empty.

    Source: Python's msvcrt, locking (LK_NBLCK raises OSError where another holds it); Microsoft, _locking and
    LockFile (let go of as its process ends, and beyond the end of a file too).
    """
    try:
        import msvcrt

        place = Path(tempfile.gettempdir(), APART)
        place.mkdir(exist_ok=True)
        name = os.path.normcase(os.path.realpath(folder))
        own = hashlib.blake2b(name.encode(errors="surrogatepass"), digest_size=16).hexdigest()
        handle = os.open(place / own, os.O_RDWR | os.O_CREAT)
    except (ImportError, OSError):
        yield False
        return
    try:
        while True:
            try:
                msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined]
                break
            except OSError as error:
                if error.errno not in (errno.EACCES, errno.EDEADLK):
                    raise
                time.sleep(AGAIN_AFTER)
        try:
            yield True
        finally:
            msvcrt.locking(handle, msvcrt.LK_UNLCK, 1)  # type: ignore[attr-defined]
    finally:
        os.close(handle)


def _make(folder: Path) -> None:
    while True:
        try:
            folder.mkdir(parents=True, exist_ok=True)
            return
        except FileExistsError:
            # It may have been there, and gone again when it was looked at.
            if folder.exists():
                raise


def _locked(folder: Path) -> tuple[int, bool]:
    """Return (the folder's lock file, whether it is locked): the file that has the name now."""
    while True:
        try:
            handle = os.open(folder / LOCK_NAME, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o666)
        except FileNotFoundError:
            _make(folder)
            continue
        try:
            locked = _lock(handle)
            # A lock on a file that was removed meanwhile keeps nobody out.
            if not locked or _named(handle, folder / LOCK_NAME):
                return handle, locked
        except BaseException:
            os.close(handle)
            raise
        os.close(handle)


def _lock(handle: int) -> bool:
    """Lock a file; return False where the file system cannot."""
    try:
        fcntl.flock(handle, fcntl.LOCK_EX)
    except OSError as error:
        if error.errno not in WITHOUT:
            raise
        return False
    return True


def _named(handle: int, path: Path) -> bool:
    """Return whether a file still has its name."""
    try:
        return os.path.samestat(os.fstat(handle), path.stat())
    except FileNotFoundError:
        return False
