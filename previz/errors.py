"""What previz tells a person when something they gave it cannot be used.

    PrevizError
      SceneError   the scene file is wrong; every problem at once, each with its place
      RequestError what is requested is not in the scene, or cannot be had of it
      EngineError  the renderer cannot run here
      DataError    a file of frames, a mesh or a picture cannot be read or written
        frames.FramesError, deliver.atomic.DeliveryError, exposure.grading.GradeError

Every one of them says what is wrong and what to do about it. The program prints the text and exits
with 2; anything else that escapes is a fault of the program itself.
"""

from __future__ import annotations

from collections.abc import Iterable
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
