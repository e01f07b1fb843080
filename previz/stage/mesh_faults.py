"""What is wrong with a mesh file, in words that follow its name: 'is cut short', and what to do."""

from __future__ import annotations

from collections.abc import Iterable

Fault = tuple[str, str]
"""What follows 'the mesh 'engine.glb'', and whole sentences of advice."""

AGAIN = "Export it again from the program that it comes from."

COPY = "Copy or export it again."

MOST_FACES = 10_000_000
"""Most triangles of one file; to build that takes 3 to 5 GB."""

MOST_TOLD = 5
"""Faults of one file that are told; a broken file can have thousands of one kind."""


class MeshError(Exception):
    """A mesh file that cannot be rendered.

    Parameters
    ----------
    message, advice : str
        The first fault.
    more : iterable of (str, str)
        The others.
    """

    def __init__(self, message: str, advice: str, more: Iterable[Fault] = ()):
        self.faults: list[Fault] = list(dict.fromkeys([(message, advice), *more]))
        super().__init__(message)


def refuse(faults: Iterable[Fault]) -> None:
    """Raise a `MeshError` of faults, if there are any."""
    found = list(faults)
    if found:
        raise MeshError(*found[0], found[1:])


def few(count: int, noun: str) -> str:
    """Return a count with its noun: '1 face', '3 faces'."""
    return f"{count} {noun}{'' if count == 1 else 's'}"
