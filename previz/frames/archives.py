"""Archives: several arrays and a note in one file, whole or not at all."""

from __future__ import annotations

import json
import os
import struct
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from previz.frames.layouts import array_layout, marked
from previz.frames.whole import WholeFile, whole_file

_OF = "of"
"""Member that says what the archive was written as, and with which members.

The container's checksums are of each member alone: one that is lost with its entry is not missed there."""

_NOTE = "note"

_END = struct.Struct("<4s4H2LH")
"""End of the container; the fifth is the number of its members.

Source: PKWARE, APPNOTE.TXT, 4.3.16 (from memory)."""

EMPTY = f"{_OF}.npy"
"""First member of an archive without arrays; others begin with their first array."""


def write_archive(path: str | os.PathLike[str], kind: str, arrays: Mapping[str, ArrayLike],
                  note: Mapping[str, Any] | None = None, of: str | None = None,
                  whole: WholeFile = whole_file) -> None:
    """Write an archive.

    Parameters
    ----------
    path : path-like
        Replaced if it is there.
    kind : str
        Key of `layouts.LAYOUTS`.
    arrays : mapping of str to array
        By names other than 'of', 'note' and the kind.
    note : mapping, optional
        Plain values that go with them.
    of : str, optional
        What `read_archive` has to ask for; the file's name by default.
    whole : function
        As `whole_file`, which gives it its name.
    """
    path, names = Path(path), list(arrays)
    more = {} if note is None else {_NOTE: np.array(json.dumps(note))}
    says = {_OF: _label(path, of, [*arrays, *more, kind]), **marked(kind)}
    # Damage takes what comes after it along: what says how much there is comes early.
    members = {**{name: arrays[name] for name in names[:1]}, **says,
               **{name: arrays[name] for name in names[1:]}, **more}
    with whole(path) as part, open(part, "wb") as file:
        np.savez(file, **members)


def read_archive(path: str | os.PathLike[str], kind: str, of: str | None = None
                 ) -> tuple[dict[str, np.ndarray], dict[str, Any]] | None:
    """Return the arrays and the note of an archive; None where it is missing, torn, another's or newer.

    One that says nothing of itself is of the first layout, which did not.

    Parameters
    ----------
    path : path-like
    kind : str
        Key of `layouts.LAYOUTS`.
    of : str, optional
        As in `write_archive`.
    """
    path = Path(path)
    try:
        with open(path, "rb") as file, np.load(file, allow_pickle=False) as state:
            members = dict(state)
            file.seek(-_END.size, os.SEEK_END)
            # No archive is empty: one without members has lost its list of them.
            if not members or len(members) != _END.unpack(file.read())[4]:
                return None
        says = {_OF, kind} & set(members)
        label = members.pop(_OF, None)
        whole = not says or bool(label == _label(path, of, members))
        if not whole or not array_layout(kind, members):
            return None
        note = json.loads(str(members.pop(_NOTE, "{}")))
    except Exception:
        # Readers of archives raise nearly anything on a damaged one; all of it means this.
        return None
    members.pop(kind, None)
    every = isinstance(note, dict) and all(isinstance(each, np.ndarray) for each in members.values())
    return (members, note) if every else None


def _label(path: Path, of: str | None, members: Iterable[str]) -> np.ndarray:
    return np.array("\n".join([path.name if of is None else of, *sorted(members)]))
