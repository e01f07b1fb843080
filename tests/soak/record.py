"""What a kind of input is, and the one way in which an input is tried."""

from __future__ import annotations

import re
import traceback
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import Protocol

from previz.errors import PrevizError, SceneError

from .guard import Guard, ViolationError


class Kind(Protocol):
    """One kind of input.

    An input is the text or bytes of a file, or plain values; a generator in one state makes one input.
    """

    name: str

    def begin(self, folder: Path) -> None:
        """Make ready in a process of its own, in a folder of its own that is its current one."""

    def make(self, chance: Random) -> object:
        """Return an input."""

    def attempt(self, given: object) -> str:
        """Try an input; return in a word what became of it, or raise `ViolationError` or what escapes."""

    def smaller(self, given: object) -> object:
        """Return an iterator over smaller inputs, the smallest steps last."""

    def keep(self, given: object, folder: Path) -> None:
        """Write an input to a folder for a person to look at."""


@dataclass
class Finding:
    """What one input did that none may do.

    Parameters
    ----------
    mark : str
        The kind of fault: findings of one mark are one fault.
    text : str
        What happened, with the traceback.
    """

    mark: str
    text: str


@dataclass
class Tally:
    """What came of the inputs of one kind."""

    name: str
    tried: int = 0
    seconds: float = 0.0
    outcomes: dict[str, int] = field(default_factory=dict)
    findings: dict[str, int] = field(default_factory=dict)

    def line(self) -> str:
        """Return it in one line."""
        rate = self.tried / self.seconds if self.seconds else 0.0
        came = ", ".join(f"{count} {what}" for what, count in sorted(self.outcomes.items()))
        return f"{self.name:9} {self.tried:7} inputs, {rate:6.0f} a second: {came or 'none'}"


def tried(kind: Kind, given: object, guard: Guard) -> tuple[str, Finding | None]:
    """Return what became of an input in a word, and what it did wrong, if anything."""
    try:
        with guard.watched():
            try:
                return kind.attempt(given), None
            except PrevizError as error:
                told(error)
                return "refused", None
    except Exception as error:  # Whatever it is: that is what is looked for.
        return "found", Finding(_mark(error), "".join(traceback.format_exception(error))[-6000:])


def told(error: PrevizError) -> None:
    """Hold what a person is told against what it has to be.

    Raises
    ------
    ViolationError
        There are no words, no advice, or no place.
    """
    text = str(error)
    text.encode("utf-8", "surrogateescape")
    if not text.strip():
        raise ViolationError(f"{type(error).__name__} has no words")
    if isinstance(error, SceneError):
        if not error.problems:
            raise ViolationError("a SceneError without a problem")
        for each in error.problems:
            if not (each.message.strip() and each.advice.strip()):
                raise ViolationError(f"a problem without words or advice: {each!r}")
            if each.line < 0 or each.column < 0:
                raise ViolationError(f"a problem without a place: {each!r}")
    if re.search(r"Traceback|<[a-z_.]+ object at 0x|numpy\.|\bNoneType\b", text):
        raise ViolationError(f"words of the program, not of a person: {text[:400]}")


def _mark(error: Exception) -> str:
    """Return what kind of fault an error is: its class, and where in the program it arose."""
    where = ""
    for frame in traceback.extract_tb(error.__traceback__):
        if "/previz/" in frame.filename:
            where = f"{frame.filename.rpartition('/previz/')[2]}:{frame.name}"
    words = re.sub(r"[0-9.]+|'[^']*'|/\S+", "_", str(error))[:80] if isinstance(error, ViolationError) else ""
    return f"{type(error).__name__} {where} {words}".strip()
