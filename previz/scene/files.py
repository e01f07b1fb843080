"""Files that a scene names: meshes and pictures in the scene's own folder.

A scene file may come from somebody else, so it may only name files of its own folder.
"""

from __future__ import annotations

import math
import os
from pathlib import Path, PurePosixPath, PureWindowsPath

from previz.units import quote


def inside(
    base: Path, written: str, suffixes: tuple[str, ...], most_bytes: float
) -> Path | tuple[str, str]:
    """Return the file that was named, or what is wrong and what to write.

    Parameters
    ----------
    base : Path
        Folder of the scene file; nothing outside it is used, symbolic links followed.
    written : str
        The name, with '/' between folders.
    suffixes : tuple of str
        Endings that are allowed, lower case, with the dot.
    most_bytes : float
        Greatest size. [bytes]

    Returns
    -------
    Path or (str, str)
        The file, absolute and with links followed; or a message and advice.
    """
    fault = _fault_of_name(written, suffixes)
    if fault:
        return fault
    try:
        folder = base.resolve()
        path = (folder / written).resolve()
        if not path.is_relative_to(folder):
            return (
                f"{quote(written)} leads out of the scene's folder",
                "Copy the file into the scene's folder and name it from there.",
            )
        return _fault_of_file(path, written, most_bytes) or path
    except (OSError, ValueError, RuntimeError):
        return f"{quote(written)} cannot be a file's name", "Name a file in the scene's folder."


def _fault_of_name(written, suffixes):
    if PurePosixPath(written).is_absolute() or PureWindowsPath(written).drive:
        return (
            f"{quote(written)} is a place on one machine",
            "Name the file from the scene's folder, for example 'models/levers.glb'.",
        )
    if "\\" in written:
        slashed = written.replace("\\", "/")
        return f"{quote(written)} has a '\\' in it", f"Write {quote(slashed)}."
    if PurePosixPath(written).suffix.lower() not in suffixes:
        return (
            f"{quote(written)} is not a kind of file that can be read here",
            f"Use a file that ends in {', '.join(suffixes)}.",
        )
    return None


def _fault_of_file(path, written, most_bytes):
    if path.is_dir():
        return f"{quote(written)} is a folder", "Name the file itself."
    if not path.exists():
        return (
            f"there is no file {quote(written)} in the scene's folder",
            "Check the name, and that the file lies in the scene's folder.",
        )
    if not path.is_file():
        return f"{quote(written)} is not a file", "Name a file in the scene's folder."
    if not os.access(path, os.R_OK):
        return f"{quote(written)} cannot be read", "Check its permissions."
    size = path.stat().st_size
    if size > most_bytes:
        return (
            f"{quote(written)} is {math.ceil(size / 2**20)} MB",
            f"Use a file of {most_bytes / 2**20:.0f} MB or less.",
        )
    return None
