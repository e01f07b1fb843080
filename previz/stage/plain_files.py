"""Read a file that a scene or a mesh names: a plain file, no larger than it may be, and nothing else.

A name may lead to a device, a pipe or a folder. Opening a pipe waits for who writes to it, and a device
never ends; so a file is opened without waiting, looked at as it is open, and read up to a limit.
"""

from __future__ import annotations

import math
import os
import stat
from pathlib import Path


class FileError(ValueError):
    """Something named by a scene, or within it, that cannot be used.

    Parameters
    ----------
    message : str
        What is wrong, to follow a colon; without a full stop.
    advice : str
        What to do, whole sentences.
    """

    def __init__(self, message: str, advice: str) -> None:
        super().__init__(message, advice)
        self.message, self.advice = message, advice

    def __str__(self) -> str:
        return self.message


def read_plain(path: str | os.PathLike[str], most_bytes: float) -> bytes:
    """Return the bytes of a plain file.

    Parameters
    ----------
    path : path-like
        Links are followed.
    most_bytes : float
        Greatest size. [bytes]

    Raises
    ------
    FileError
        It is missing, may not be read, is no plain file, or larger.
    """
    flags = os.O_RDONLY
    for each in ("O_NONBLOCK", "O_CLOEXEC", "O_NOCTTY", "O_BINARY"):
        flags |= getattr(os, each, 0)
    try:
        handle = os.open(path, flags)
        about = os.fstat(handle)
        if not stat.S_ISREG(about.st_mode):
            os.close(handle)
            raise FileError("it is a device, a pipe or a folder", "Name a plain file.")
        with open(handle, "rb") as file:
            # It may grow meanwhile.
            data = b"" if about.st_size > most_bytes else file.read(int(most_bytes) + 1)
    except OSError as error:
        raise FileError(error.strerror or str(error), "Check the file and its permissions.") from error
    size = max(about.st_size, len(data))
    if size > most_bytes:
        raise FileError(f"it is {math.ceil(size / 2**20)} MB",
                        f"Use a file of {most_bytes / 2**20:.0f} MB or less.")
    return data


def beside(folder: Path, written: str) -> Path | None:
    """Return the file that a mesh names, None where it is not in the mesh's folder or below it.

    Exporters write the path on their own machine; then a file of that name beside the mesh is meant.

    Parameters
    ----------
    folder : Path
        Of the mesh, links followed.
    written : str
        As in the mesh, with '/' or '\\' between folders.
    """
    plain = written.strip().replace("\\", "/")
    for name in (plain, plain.rsplit("/", 1)[-1]):
        try:
            path = (folder / name).resolve()
            if name and path.is_relative_to(folder) and path.is_file():
                return path
        except (OSError, ValueError, RuntimeError):
            continue
    return None
