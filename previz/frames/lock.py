"""One writer at a time in a folder that several processes share."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from pathlib import Path

try:
    import fcntl
except ImportError:  # Elsewhere than on POSIX; writers there rely on whole files alone.
    fcntl = None  # type: ignore[assignment]

LOCK_NAME = ".lock"


@contextlib.contextmanager
def only_writer(folder: str | os.PathLike[str]) -> Iterator[None]:
    """Wait until no other process writes in a folder, and keep others waiting meanwhile.

    A process that ends for whatever reason lets go.

    Parameters
    ----------
    folder : path-like
        Made if missing.
    """
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    if fcntl is None:
        yield
        return
    with open(folder / LOCK_NAME, "ab") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        try:
            yield
        finally:
            fcntl.flock(file, fcntl.LOCK_UN)
