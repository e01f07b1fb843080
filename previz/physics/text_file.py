"""Numbers out of measurement files that people bring along, with the line of whatever is wrong."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

_APART = re.compile(r"[,\s]+")
_NUMBER = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]{1,4})?")

GREATEST = 1e12
"""No number in a measurement is larger; what is computed of them stays finite."""

LEAST_STEP = 1e-6
"""Angles nearer to each other are one. [deg]"""


class TextFileError(ValueError):
    """Something in a file that cannot be used.

    Parameters
    ----------
    line : int
        Counted from 1; 0 where it is the file as a whole.
    message : str
        What is wrong, without a full stop.
    """

    def __init__(self, line: int, message: str) -> None:
        super().__init__(f"line {line}: {message}" if line else message)
        self.line, self.message = line, message


def number(text: str, line: int) -> float:
    """Return a finite number.

    Parameters
    ----------
    text : str
        As it stands in the file.
    line : int
        Where it stands, for the message.

    Raises
    ------
    TextFileError
        It is no number, or too large a one.
    """
    if len(text) > LONGEST or not _NUMBER.fullmatch(text):
        raise TextFileError(line, f"'{text[:40]}' is not a number")
    value = float(text)
    if abs(value) > GREATEST:
        raise TextFileError(line, f"'{text[:40]}' is too large a number")
    return value


LONGEST = 400
"""Most characters of a number."""


def whole_number(value: float, line: int, what: str, least: int, most: int) -> int:
    """Return a number that must be a whole one within limits; `what` says in messages what it is.

    Raises
    ------
    TextFileError
        It is not.
    """
    if value != int(value) or not least <= value <= most:
        raise TextFileError(line, f"{what} should be a whole number from {least} to {most}, not {value:g}")
    return int(value)


def numbered_lines(text: str) -> list[tuple[int, str]]:
    """Return the lines of a file with their numbers from 1, its byte order and end-of-file marks left out.

    Raises
    ------
    TextFileError
        There is nothing in it.
    """
    lines = list(enumerate(text.lstrip("\ufeff").replace("\x1a", "").splitlines(), start=1))
    if not any(line.strip() for _, line in lines):
        raise TextFileError(0, "the file is empty")
    return lines


class Numbers:
    """The numbers of a part of a file, one after the other over its lines.

    Parameters
    ----------
    lines : sequence of (int, str)
        Line numbers and lines; commas and white space part the numbers.
    """

    def __init__(self, lines: Sequence[tuple[int, str]]) -> None:
        self._tokens = [(at, token) for at, line in lines for token in _APART.split(line) if token]
        self._next = 0
        self.line = lines[-1][0] if lines else 0

    def announced(self, count: int, what: str) -> None:
        """Raise a `TextFileError` where fewer than `count` numbers follow; `what` says of what."""
        left = len(self._tokens) - self._next
        if left < count:
            raise TextFileError(
                self.line, f"the file announces {what}, {count} in all, and {left} numbers follow")

    def end(self) -> None:
        """Raise a `TextFileError` where not all numbers have been taken."""
        left = len(self._tokens) - self._next
        if left:
            raise TextFileError(self.line, f"{left} numbers are left over after the last intensity that "
                                           "the file announces")

    def take(self, what: str) -> float:
        """Return the next number; `what` says in messages what it should have been.

        Raises
        ------
        TextFileError
            There is none, or it is no number.
        """
        if self._next == len(self._tokens):
            raise TextFileError(self.line, f"the file ends before {what}")
        self.line, token = self._tokens[self._next]
        self._next += 1
        return number(token, self.line)

    def whole(self, what: str, least: int, most: int) -> int:
        """Return the next number, which must be a whole one within limits."""
        value = self.take(what)
        return whole_number(value, self.line, what, least, most)

    def array(self, count: int, what: str) -> np.ndarray:
        """Return the next `count` numbers. Shape (count,)"""
        return np.array([self.take(what) for _ in range(count)])

    def shares(self, count: int, what: str, most: float, unit: str = "") -> np.ndarray:
        """Return the next `count` numbers, each from 0 to `most`. Shape (count,)"""
        values = []
        for _ in range(count):
            values.append(self.take(what))
            if not 0 <= values[-1] <= most:
                raise TextFileError(self.line, f"{what} is {values[-1]:g}{unit}")
        return np.array(values)

    def rising(self, count: int, what: str) -> np.ndarray:
        """Return the next `count` angles, each above the one before; what is all but 0 is. Shape (count,)"""
        values: list[float] = []
        for _ in range(count):
            value = self.take(what)
            if abs(value) < LEAST_STEP:
                value = 0.0
            if values and value < values[-1] + LEAST_STEP:
                raise TextFileError(self.line, f"{what} should rise, and {value:g} follows "
                                               f"{values[-1]:g}")
            values.append(value)
        return np.array(values)
