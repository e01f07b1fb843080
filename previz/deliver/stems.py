"""Names of the files that an option and a camera have, no two the same."""

from __future__ import annotations

import zlib
from collections.abc import Iterable, Sequence

KINDS = ("", "-map", "-rig", "-scopes")
"""What follows a stem in the names of a picture's files."""


USUAL, OTHER_QUALITIES = "working", ("draft", "fine")
"""Qualities of pictures, see `rendering.request.QUALITIES`."""

LONGEST = 200
"""Most of a stem; file systems take names of 255, with what marks a file's kind, and that it is being
written. [bytes]"""

LONGEST_PICKED = 80
"""Most of what was picked out in the stem of a sheet. [bytes]"""


RESERVED = frozenset(("CON", "PRN", "AUX", "NUL", *(f"{device}{number}" for device in ("COM", "LPT")
                                                      for number in "0123456789¹²³")))
"""Names of devices on Windows, whatever ending follows.

Source: Microsoft, Naming Files, Paths, and Namespaces.
"""


def plain(text: str, longest: int = LONGEST) -> str:
    """Return a name as part of a file's: letters, figures, - and _ stay, the rest becomes -.

    One that is too long for a file system loses its end, for a mark of all that it was.
    """
    made = "".join(c if c.isalnum() or c in "-_" else "-" for c in text)
    if made.upper() in RESERVED:
        # Everywhere, so that a folder can go from one system to another.
        made = f"{made}_"
    if len(made.encode()) <= longest:
        return made
    mark = f"-{zlib.crc32(text.encode()):08x}"
    return made.encode()[: longest - len(mark)].decode(errors="ignore") + mark


def unique_stems(names: Iterable[Sequence[str]], kinds: Sequence[str] = ("",)) -> list[str]:
    """Return a file name, without what marks its kind, for each of some names.

    Parameters
    ----------
    names : sequence of sequence of str
        Parts of each name, '' for one that it does not have. The first of two that would be
        written alike keeps its own; case does not count, as some disks do not know it.
    kinds : sequence of str
        What may follow a stem.
    """
    stems, taken = [], set()
    for parts in names:
        stem = plain("-".join(part for part in parts if part))
        number, free = 1, stem
        while taken & (files := {f"{free}{kind}".lower() for kind in kinds}):
            number += 1
            free = f"{stem}-{number}"
        taken |= files
        stems.append(free)
    return stems


def stems_of(file, quality: str = USUAL) -> dict[tuple[str | None, str], str]:
    """Return the stem of every picture of a scene file by option and camera, and of its sheets.

    '' is the scene as written; None stands for the option of a camera's sheet. It goes by all options
    and cameras that are written, whichever are requested, so a picture has the same name in any run.
    Pictures of another quality than the usual have it at the end of their names.
    """
    options = file.option_names or ("",)
    cameras = dict.fromkeys(camera.name for option in options
                            for camera in file.scene(option or None).cameras)
    keys = [(each, option, camera) for each in (USUAL, *OTHER_QUALITIES)
            for option in (None, *options) for camera in cameras]
    stems = unique_stems([("sheet" if option is None else option, camera, ending(each))
                          for each, option, camera in keys], KINDS)
    return {(option, camera): stem for (each, option, camera), stem in zip(keys, stems, strict=True)
            if each == quality}


def ending(quality: str) -> str:
    """Return what the names of files of a quality end with; '' for the usual."""
    return "" if quality == USUAL else quality


def sheet_stem(head: str, parts: Iterable[str] = (), quality: str = USUAL) -> str:
    """Return the stem of a study's sheet: what it is, what of the scene was picked out, its quality.

    So that sheets of other options, or of a quick look, do not take each other's place.
    """
    picked = plain("-".join(part for part in parts if part), LONGEST_PICKED)
    return "-".join(part for part in (head, picked, ending(quality)) if part)
