"""The file that a camera's picture is looked at through, whole and as it was read."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path


@dataclass(frozen=True)
class ShowFile:
    """A look-up table or a colour decision, and what it is fed.

    Parameters
    ----------
    name : str
        Of the file, for people.
    content : bytes
        All of it, so that what is shown is what was read, whatever becomes of the file meanwhile.
    ending : str
        '.cube', '.clf', or of the ASC CDL '.cc', '.ccc', '.cdl'.
    takes, gives : str
        Encodings of the light that goes in, and of what comes out: words of a scene file.
    decision : str
        Id of the decision, '' for the only one and for tables.
    """

    name: str
    content: bytes = field(repr=False)
    ending: str
    takes: str
    gives: str
    decision: str = ""

    @contextmanager
    def on_disk(self) -> Iterator[Path]:
        """Lay the file where it is for a moment, and for nobody else: libraries read files by their paths.

        The path is another each time, as libraries keep what they have read by path.
        """
        with tempfile.TemporaryDirectory(prefix="previz-show-") as folder:
            path = Path(folder) / f"show{self.ending}"
            path.write_bytes(self.content)
            yield path
