"""What to say where a disk is full or closed to the program: a user's to mend, not its fault."""

from __future__ import annotations

import errno
import os

_SPACE = "Free some space there, or give another place with --out."
_RIGHTS = "Give a place that can be written to with --out, or mend its rights."
_PLACE = "Give another place with --out."

ADVICE = {
    errno.ENOSPC: _SPACE, errno.EDQUOT: _SPACE, errno.EROFS: _RIGHTS, errno.EACCES: _RIGHTS,
    errno.EPERM: _RIGHTS, errno.ENOTDIR: _PLACE, errno.EISDIR: _PLACE,
    errno.ENAMETOOLONG: "Give a shorter name.",
    errno.EIO: "The disk there cannot be read or written: look after it first.",
}  # fmt: skip
"""What of a disk goes wrong that a user can mend -> what to do."""


def disk_words(error: BaseException | None) -> str:
    """Return what to say of an error of the disk, or of one that has it for a cause; else ''."""
    while error is not None:
        if isinstance(error, OSError) and error.errno in ADVICE:
            where = f"'{error.filename}': " if error.filename else ""
            what = error.strerror or os.strerror(error.errno)
            return (f"{where}{what[:1].lower()}{what[1:]}.\n  {ADVICE[error.errno]} What was "
                    "finished is kept; the same command goes on from there.")
        error = error.__cause__ or error.__context__
    return ""
