"""Files that take their names together: a process that is killed leaves all of them new or all old.

Each is written under a name of its own; then a list of them is; then they are given their names. Whoever
comes after one that did not get so far does it in its place, so that what belongs together is never seen in
part: work that is gone on with is the same as if it had never been left.
"""

from __future__ import annotations

import contextlib
import os
import re
import uuid
from collections.abc import Iterator
from pathlib import Path, PurePosixPath

from previz.frames.layouts import marked
from previz.frames.whole import FramesError, read_sealed, sync_folder, take_name, write_sealed

LIST = re.compile(r"together-[0-9a-f]{12}\.json")
"""Names of lists, in the folder that all the files lie under."""


class Together:
    """Files under a folder that have not yet their names."""

    def __init__(self, folder: Path):
        self.folder = folder
        self.named: list[tuple[Path, Path]] = []

    @contextlib.contextmanager
    def whole_file(self, path: str | os.PathLike[str]) -> Iterator[Path]:
        """Write one of the files; as `whole.whole_file`, but for when it gets its name."""
        path = Path(path)
        path.parent.mkdir(parents=True, exist_ok=True)
        part = path.with_name(f".{path.name}.{uuid.uuid4().hex[:12]}.part")
        self.named.append((part, path))
        yield part
        with open(part, "rb+") as file:
            os.fsync(file.fileno())


@contextlib.contextmanager
def together(folder: str | os.PathLike[str]) -> Iterator[Together]:
    """Give the files that are written in the block their names at its end, all or none.

    Parameters
    ----------
    folder : path-like
        All of them lie under it; `finish` has to be called for it before they are read.
    """
    made = Together(Path(folder))
    note = made.folder / f"together-{uuid.uuid4().hex[:12]}.json"
    try:
        yield made
        if len(made.named) > 1:
            write_sealed(note, {**marked("previz_together"), "files": [
                [each.relative_to(made.folder).as_posix() for each in pair] for pair in made.named]})
    except BaseException:
        for part, _ in made.named:
            part.unlink(missing_ok=True)
        raise
    _name(made.named, note)


def finish(folder: str | os.PathLike[str]) -> None:
    """Give their names to files of which a process was killed before it had; others may do so meanwhile."""
    folder = Path(folder)
    for note in [each for each in folder.glob("together-*.json") if LIST.fullmatch(each.name)]:
        with contextlib.suppress(FramesError, KeyError, TypeError, ValueError):
            listed = read_sealed(note, "previz_together")["files"]
            _name([(folder / part, folder / path) for part, path in listed if _fits(part, path)], note)


def _fits(part: str, path: str) -> bool:
    """Return whether a name of a list is one for a name that a write has made."""
    one, other = PurePosixPath(part), PurePosixPath(path)
    return (one.parent == other.parent and not other.is_absolute() and ".." not in other.parts
            and re.fullmatch(rf"\.{re.escape(other.name)}\.[0-9a-f]{{12}}\.part", one.name) is not None)


def _name(pairs: list[tuple[Path, Path]], note: Path) -> None:
    for part, path in pairs:
        # Another process may have done it.
        with contextlib.suppress(FileNotFoundError):
            take_name(part, path)
    for parent in {path.parent for _, path in pairs if path.parent.is_dir()}:
        sync_folder(parent)
    note.unlink(missing_ok=True)
