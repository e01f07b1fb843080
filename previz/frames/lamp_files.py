"""What was gathered of one lamp, on disk: the part of a picture that can be used again.

A folder holds one lamp's light at one camera, as `store` holds a picture. More passes of the same
lamp take the place of fewer; what has more is never replaced by less.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from previz.frames.abreast import abreast
from previz.frames.arrays import Entry, read_array, sweep, write_array
from previz.frames.gathered import Gathered
from previz.frames.layouts import marked
from previz.frames.lock import only_writer
from previz.frames.together import together
from previz.frames.whole import AGAIN, FramesError, WholeFile, read_sealed, write_sealed

LAMP_NAME = "lamp.json"
"""The note in a lamp's folder; it is replaced last."""

_KIND = np.dtype("<f4")
_LABELS = ("slices", "scatter", "inverse", "spread")


@dataclass(frozen=True, eq=False)
class LampFile:
    """What a folder holds of one lamp.

    Parameters
    ----------
    folder : Path
    samples : float
        Paths a pixel of all lamps together that it stands for. [1]
    note : dict
        What the writer noted of it, plain values.
    gathered : Gathered
        Its arrays are mapped from disk.
    entry : dict
        Of the file of slices, for `arrays.link_array`.
    """

    folder: Path
    samples: float
    note: dict[str, Any]
    gathered: Gathered
    entry: Entry


def write_lamp(folder: str | os.PathLike[str], gathered: Gathered, samples: float,
               note: dict[str, Any]) -> None:
    """Write what was gathered of one lamp; see `write_lamps`."""
    write_lamps(Path(folder), {Path(folder): note}, [gathered], samples)


def write_lamps(cache: Path, notes: Mapping[Path, dict[str, Any]], gathered: Iterable[Gathered],
                samples: float) -> None:
    """Write what was gathered of lamps together, each unless what is there has more samples.

    A process that is killed meanwhile has written all or none.

    Parameters
    ----------
    cache : Path
        Folder that all of it lies under; see `together.together`.
    notes : mapping of Path to dict
        Folder of each lamp, made if missing, to plain values that go with it.
    gathered : iterable of Gathered
        In the same order; taken one by one.
    samples : float
        See `LampFile`.
    """
    swept = []
    with contextlib.ExitStack() as locks:
        # In one order everywhere, so that no two wait for each other.
        for folder in sorted(notes):
            locks.enter_context(only_writer(folder))
        with together(cache) as files:
            for (folder, note), each in zip(notes.items(), gathered, strict=True):
                kept = _write(folder, each, samples, note, files.whole_file)
                if kept is not None:
                    swept.append((folder, kept))
        for folder, kept in swept:
            sweep(folder, _LABELS, kept)


def _write(folder: Path, gathered: Gathered, samples: float, note: dict[str, Any],
           whole: WholeFile) -> set[str] | None:
    """Write a lamp's arrays and note; return the names of the arrays, None where there is more already."""
    with contextlib.suppress(FramesError):
        if read_lamp(folder, verify=False).samples > samples:
            return None
    head = {**marked("previz_lamp"), "note": note, "samples": float(samples),
            "weight": float(gathered.weight), "passes": gathered.passes,
            "next_pass": gathered.next_pass, "shape": list(gathered.slices.shape)}
    values = {label: getattr(gathered, label) for label in _LABELS}
    head |= {label: float(value) for label, value in values.items() if not np.ndim(value)}
    arrays = [label for label, value in values.items() if np.ndim(value)]
    # Each waits for the disk.
    files = dict(zip(arrays, abreast(
        lambda label: write_array(folder, label, values[label], _KIND), arrays), strict=True))
    head["files"] = files
    write_sealed(folder / LAMP_NAME, head, whole=whole)
    return {entry["file"] for entry in files.values()}


def read_note(folder: str | os.PathLike[str]) -> dict[str, Any]:
    """Return the note of a lamp's folder without looking at its arrays.

    Raises
    ------
    FramesError
        There is none, or it was changed.
    """
    return read_sealed(Path(folder) / LAMP_NAME, "previz_lamp")


def read_lamp(folder: str | os.PathLike[str], *, verify: bool = True) -> LampFile:
    """Read what `write_lamp` wrote.

    Parameters
    ----------
    folder : path-like
    verify : bool
        Check every byte against its checksum; else only sizes and shapes are checked.

    Raises
    ------
    FramesError
        There is no such lamp, or a file is missing, torn, or of another kind.
    """
    folder = Path(folder)
    head = read_note(folder)
    try:
        shape = tuple(head["shape"])
        parts: dict[str, Any] = {}
        for label in _LABELS:
            own = shape if label == "slices" else shape[1:]
            parts[label] = (read_array(folder, head["files"][label], own, _KIND, verify)
                            if label in head["files"] else float(head[label]))
        gathered = Gathered(weight=head["weight"], passes=head["passes"],
                            next_pass=head["next_pass"], **parts)
        return LampFile(folder, head["samples"], head["note"], gathered, head["files"]["slices"])
    except (KeyError, TypeError, ValueError) as error:
        raise FramesError(f"{folder / LAMP_NAME} contradicts itself: {error}.", AGAIN) from error
