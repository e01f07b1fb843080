"""Which folder a scene's files go to: no two scenes share one, though they be called alike.

A folder under renders/ says in a note whose files it has, by the way from it to the scene file; so both can
be moved together. The first of two scenes of one name has the name for itself, the other the name of
its own folder after it.
"""

from __future__ import annotations

import contextlib
import itertools
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from previz.deliver.atomic import DeliveryError
from previz.deliver.index import kept_index
from previz.deliver.stems import plain
from previz.frames.layouts import marked, scene_path
from previz.frames.lock import LOCK_NAME, only_writer
from previz.frames.whole import FramesError, is_note, read_sealed, write_sealed
from previz.studies.folders import out_folder

NOTE_NAME = "scene.json"
RENDERS = Path("renders")

UNLOCKED = ("The disk of '{folder}' has no locks: render into it from one machine at a time, as what two "
            "write at once may be lost.")


def scene_folder(out: Path | None, scene: Path, *, write: bool = True, take: bool = True,
                 say: Callable[[str], None] | None = None,
                 taken: Callable[[Path], object] | None = None, **more: Any) -> Path:
    """Return the folder that a scene's files go to: as requested, or the scene's own under renders/.

    With `write` its own is made and noted as taken, so that no other run takes it meanwhile, unless without
    `take`. What is to be known of it is given to `say`; to `taken` a folder that was noted now, which may be
    let go by `release` if nothing comes of it. `more` is of `folders.out_folder`.

    Raises
    ------
    RequestError
        As `folders.out_folder`.
    """
    say = say or (lambda line: None)
    if out is not None or not scene.is_file():
        return out_folder(out, scene, write=write, **more)
    while True:
        folder = _own(scene) or next(each for each in _candidates(scene) if _free(each, scene))
        out_folder(folder, scene, write=write, **more)
        if not (write and take) or _claimed(folder, scene, say, taken):
            break
    usual = next(_candidates(scene))
    if folder != usual:
        owner = _owner(usual) or usual
        say(f"'{usual}' has the files of another scene of that name, '{scene_path(Path(), owner)}'; those of "
            f"'{scene}' are in '{folder}'.")
    return folder


def _candidates(scene: Path) -> Iterator[Path]:
    """Yield the folders that a scene's files may go to, the best first."""
    yield RENDERS / scene.stem
    parent = plain(scene.resolve().parent.name)
    name = f"{scene.stem}-{parent}" if parent else scene.stem
    yield from ([RENDERS / name] if parent else [])
    for number in itertools.count(2):
        yield RENDERS / f"{name}-{number}"


def _own(scene: Path) -> Path | None:
    """Return the folder that is noted as the scene's."""
    for number, folder in enumerate(_candidates(scene)):
        owner = _owner(folder)
        if owner is not None and _same(owner, scene):
            return folder
        # The first two may have been deleted since.
        if number > 1 and not folder.exists():
            break
    return None


def _free(folder: Path, scene: Path) -> bool:
    """Return whether no other scene has a folder: none that is there, as files are moved and renamed.

    A folder with a file of the note's name that previz did not write is somebody else's.
    """
    owner, note = _owner(folder), folder / NOTE_NAME
    if note.exists() and not is_note(note):
        return False
    return owner is None or not owner.is_file() or _same(owner, scene)


def _same(one: Path, other: Path) -> bool:
    with contextlib.suppress(OSError):
        return one.samefile(other)
    return False


def _owner(folder: Path) -> Path | None:
    """Return the scene whose files a folder has, as far as it is noted."""
    scene = None
    try:
        scene = read_sealed(folder / NOTE_NAME, "previz_folder")["scene"]
    except (FramesError, KeyError):
        # Renders of an earlier version have an index alone.
        with contextlib.suppress(DeliveryError):
            index = kept_index(folder)
            scene = index.scene if index is not None else None
    return folder.resolve() / scene if isinstance(scene, str) and scene else None


def _claimed(folder: Path, scene: Path, say: Callable[[str], None],
             taken: Callable[[Path], object] | None) -> bool:
    """Note a folder as the scene's; return False where another scene has taken it meanwhile."""
    with only_writer(folder) as locked:
        if not locked:
            say(UNLOCKED.format(folder=folder))
        if not _free(folder, scene):
            return False
        note = {**marked("previz_folder"), "scene": scene_path(folder, scene)}
        with contextlib.suppress(FramesError):
            if read_sealed(folder / NOTE_NAME, "previz_folder") == note:
                return True
        write_sealed(folder / NOTE_NAME, note)
    if taken is not None:
        taken(folder)
    return True


def release(folder: Path) -> None:
    """Remove a folder that was taken, and in which nothing was written after all."""
    with contextlib.suppress(OSError):
        if _only_noted(folder):
            with only_writer(folder):
                if _only_noted(folder):
                    (folder / NOTE_NAME).unlink()
                    (folder / LOCK_NAME).unlink(missing_ok=True)
                    folder.rmdir()
            with contextlib.suppress(OSError):
                folder.parent.rmdir()


def _only_noted(folder: Path) -> bool:
    """Return whether nothing but a note lies in a folder; its lock lies there too, but on Windows."""
    return {path.name for path in folder.iterdir()} - {LOCK_NAME} == {NOTE_NAME}
