"""Where the files of a scene go."""

from __future__ import annotations

import os
from pathlib import Path

from previz.errors import RequestError


def out_folder(out: Path | None, scene: Path, *, write: bool = True) -> Path:
    """Return the folder that a scene's files go to.

    Raises
    ------
    RequestError
        It is no folder, or with `write` nothing can be written there; said before any work.
    """
    folder = out if out is not None else Path("renders") / scene.stem
    there = next(each for each in (folder, *folder.absolute().parents) if each.exists())
    if not there.is_dir():
        raise RequestError(f"'{there}' is a file, and the files go to a folder of that name; "
                               "give another with --out.")
    if write and not os.access(there, os.W_OK | os.X_OK):
        raise RequestError(f"Nothing can be written to the folder '{there}'; give another with "
                               "--out.")
    return folder
