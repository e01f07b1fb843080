"""Archives: several arrays and a note in one file, whole or not at all."""

from __future__ import annotations

import json
import os
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

EMPTY = f"{_OF}.npy"
"""First member of an archive without arrays; others begin with their first array."""


def write_archive(path: str | os.PathLike[str], arrays: Mapping[str, ArrayLike],
                  note: Mapping[str, Any] | None = None, of: str | None = None,
                  whole: WholeFile = whole_file, kind: str = "") -> None:
    """Write an archive.

    Parameters
    ----------
    path : path-like
        Replaced if it is there.
    arrays : mapping of str to array
        By names other than 'of' and 'note'.
    note : mapping, optional
        Plain values that go with them.
    of : str, optional
        What `read_archive` has to ask for; the file's name by default.
    whole : function
        As `whole_file`, which gives it its name.
    kind : str
        Key of `layouts.LAYOUTS`, whose layout is noted; '' for none.
    """
    path = Path(path)
    members = dict(arrays) if note is None else {**arrays, _NOTE: np.array(json.dumps(note))}
    layout = {name: np.array(number) for name, number in (marked(kind) if kind else {}).items()}
    members = {**members, _OF: _label(path, of, {**members, **layout}), **layout}
    with whole(path) as part, open(part, "wb") as file:
        np.savez(file, **members)  # type: ignore[arg-type]


def read_archive(path: str | os.PathLike[str], of: str | None = None, kind: str = ""
                 ) -> tuple[dict[str, np.ndarray], dict[str, Any]] | None:
    """Return the arrays and the note of an archive, None where it is missing, torn or another's.

    So is one of another layout than is written now.

    Parameters
    ----------
    path : path-like
    of : str, optional
    kind : str
        As in `write_archive`.
    """
    path = Path(path)
    try:
        with open(path, "rb") as file, np.load(file, allow_pickle=False) as state:
            members = dict(state)
        whole = bool(members.pop(_OF) == _label(path, of, members))
        if kind:
            whole = whole and array_layout(kind, members)
            members.pop(kind, None)
        note = json.loads(str(members.pop(_NOTE, "{}")))
    except Exception:
        # Readers of archives raise nearly anything on a damaged one; all of it means this.
        return None
    return (members, note) if whole else None


def _label(path: Path, of: str | None, members: Iterable[str]) -> np.ndarray:
    return np.array("\n".join([path.name if of is None else of, *sorted(members)]))
