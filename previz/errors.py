"""What previz tells a person when something they gave it cannot be used.

    PrevizError
      SceneError   the scene file is wrong; every problem at once, each with its place
      RequestError what is requested is not in the scene, or cannot be had of it
      EngineError  the renderer cannot run here
      DataError    a file of frames, a mesh or a picture cannot be read or written
        frames.FramesError, deliver.atomic.DeliveryError, exposure.grading.GradeError
      ResourceError the machine has not enough memory or disk, or does not let the program at it

Every one of them says what is wrong and what to do about it. The program prints the text and exits
with 2; anything else that escapes is a fault of the program itself.
"""

from __future__ import annotations

import contextlib
import errno
import os
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

SHOWN_COLUMNS = 100
"""Width of the part of a long source line that is shown. [characters]"""


@dataclass(frozen=True)
class Problem:
    """One thing that is wrong in a scene file.

    Parameters
    ----------
    path : str
        The file, as the person named it.
    line, column : int
        Where, counted from 1; a line of 0 means the file as a whole.
    message : str
        What is wrong; a sentence, its full stop may be left out.
    advice : str
        What to write instead; whole sentences.
    source_line : str
        The line itself, '' where there is none to show.
    """

    path: str
    line: int
    column: int
    message: str
    advice: str
    source_line: str = ""

    def __str__(self):
        message = self.message if self.message.endswith(".") else f"{self.message}."
        if self.line < 1:
            lines = [f"{self.path}: {message}"]
        else:
            lines = [f"{self.path}:{self.line}:{self.column}: {message}"]
            if self.source_line.strip():
                source, column = _window(self.source_line, self.column)
                number = f"{self.line:5d}"
                lines.append(f"{number} | {source}")
                lines.append(f"{' ' * len(number)} | {' ' * (column - 1)}^")
        if self.advice:
            lines.append(f"  {self.advice}")
        return "\n".join(lines)


def _window(source, column):
    """Return the part of a source line round `column` that is shown, and the column in it."""
    source = "".join(letter if letter.isprintable() else " " for letter in source)
    if len(source) <= SHOWN_COLUMNS:
        return source.rstrip(), column
    start = max(0, min(column - 1 - SHOWN_COLUMNS // 2, len(source) - SHOWN_COLUMNS))
    shown = source[start : start + SHOWN_COLUMNS]
    column -= start
    if start:
        shown, column = f"...{shown}", column + 3
    if start + SHOWN_COLUMNS < len(source):
        shown = f"{shown}..."
    return shown.rstrip(), column


class PrevizError(Exception):
    """Something given to previz cannot be used; the text says what and what to do."""


class SceneError(PrevizError):
    """A scene file is wrong.

    Parameters
    ----------
    problems : iterable of Problem
        All of them; kept as a tuple sorted by file, line and column.
    """

    def __init__(self, problems: Iterable[Problem]):
        found = sorted(problems, key=lambda each: (each.path, each.line, each.column))
        self.problems: tuple[Problem, ...] = tuple(found)
        super().__init__(self.problems)

    def __str__(self):
        return "\n".join(str(each) for each in self.problems)


class _AdvisedError(PrevizError):
    def __init__(self, message: str, advice: str = ""):
        super().__init__(message, advice)
        self.message = message
        self.advice = advice

    def __str__(self):
        message = self.message if self.message.endswith(".") else f"{self.message}."
        return f"{message}\n  {self.advice}" if self.advice else message


class RequestError(_AdvisedError):
    """What is requested is not in the scene, or cannot be had of it.

    Parameters
    ----------
    message : str
        What is wrong, with the names that there are.
    advice : str
        What to do about it.
    """


class EngineError(_AdvisedError):
    """The renderer cannot run, or not with what it was given.

    Parameters
    ----------
    message : str
        What is wrong.
    advice : str
        What to do about it.
    """


class DataError(_AdvisedError):
    """A file that was found cannot be used: frames, a mesh, a picture.

    Parameters
    ----------
    message : str
        What is wrong, naming the file.
    advice : str
        What to do about it.
    """


class ResourceError(_AdvisedError):
    """The machine has not enough memory or disk for it, or does not let the program write there.

    Parameters
    ----------
    message : str
        What is wrong, with the place.
    advice : str
        What to do about it.
    """


_SPACE = "Free some space there, or give another place with --out."
_RIGHTS = "Give a place that can be written to with --out, or mend its rights."
_PLACE = "Give another place with --out."
_FILES = "Close other programs, or raise the limit with `ulimit -n`."

DISK = {
    errno.ENOSPC: _SPACE, errno.EDQUOT: _SPACE, errno.EROFS: _RIGHTS, errno.EACCES: _RIGHTS,
    errno.EPERM: _RIGHTS, errno.ENOTDIR: _PLACE, errno.EISDIR: _PLACE,
    errno.ENOENT: "It was taken away meanwhile: put it back, or give another place with --out.",
    errno.EFBIG: "A file may not be larger there: raise the limit (`ulimit -f`), give another place with "
                 "--out, or make the picture smaller with --size.",
    errno.ENAMETOOLONG: "Give a shorter name.",
    errno.EIO: "The disk there cannot be read or written: look after it first.",
    errno.ESTALE: "The disk there has gone: look after it first.",
    errno.EMFILE: _FILES, errno.ENFILE: _FILES,
}  # fmt: skip
"""What of a disk goes wrong that a user can mend -> what to do."""

MEMORY = "Make pictures smaller with --size, or take fewer at once with --camera and --option."
"""What to do where the memory is used up."""

_NO_MEMORY = ("out of memory", "bad_alloc", "cannot allocate memory", "failed to allocate")
"""What libraries say where the memory is used up, in small letters."""


def resource_error(error: BaseException | None) -> ResourceError | None:
    """Return what to say of an error of disk or memory, or of one that has it for a cause; else None."""
    while error is not None:
        if isinstance(error, OSError) and error.errno in DISK:
            where = f"'{os.fsdecode(error.filename)}': " if error.filename else ""
            what = error.strerror or os.strerror(error.errno)
            return ResourceError(f"{where}{what[:1].lower()}{what[1:]}", DISK[error.errno])
        if isinstance(error, MemoryError) or getattr(error, "errno", None) == errno.ENOMEM or (
                isinstance(error, RuntimeError) and any(w in str(error).lower() for w in _NO_MEMORY)):
            gpu = any(each in str(error).lower() for each in ("backend=cuda", "backend=metal", "metalaccel"))
            return ResourceError(f"There is not enough memory {'on the GPU ' if gpu else ''}for that",
                                 f"{MEMORY}{' Or render with --backend processor.' if gpu else ''}")
        error = error.__cause__
    return None


@contextlib.contextmanager
def resources_told() -> Iterator[None]:
    """Raise what goes wrong with disk or memory in a block, or in a function, as a `ResourceError`."""
    try:
        yield
    except (OSError, MemoryError, RuntimeError) as error:
        told = resource_error(error)
        if told is None:
            raise
        raise told from error
