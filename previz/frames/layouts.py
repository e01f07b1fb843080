"""The layouts of files that previz writes and reads again, and the step from each to the next.

A file says which layout it has, under a word that says what it is. A reader takes it up step by step, so
that each step is written once, when the layout changes, and never touched again. What cannot be taken up is
in the cache and is rendered anew. What was written by a newer previz is never guessed at.

The text of scenes has a version of its own (`scene.read`); words that it no longer has are in
`scene.words`. What is written for others alone, tables, cards and sheets, says its layout and is not read.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

Content = dict[str, Any]
Step = Callable[[Content, Path], Content]
"""Makes the next layout of what a file in a folder says."""


class LayoutError(ValueError):
    """A file has a layout that cannot be read; the text says which and is to follow the file's name.

    Parameters
    ----------
    message : str
        What is wrong, without a full stop.
    newer : bool
        Whether a newer previz wrote it.
    """

    def __init__(self, message: str, newer: bool = False) -> None:
        super().__init__(message)
        self.newer = newer


@dataclass(frozen=True)
class Layout:
    """One kind of file.

    Parameters
    ----------
    now : int
        Layout that is written.
    steps : dict of int to function
        From each earlier layout that can be taken up, what makes the next of it.
    sealed : int
        First layout with a checksum over the file's own content, where it is a note (`whole.write_sealed`).
    """

    now: int = 1
    steps: Mapping[int, Step] = field(default_factory=dict)
    sealed: int = 1


def _lamp_names(lamp: Content, folder: Path) -> Content:
    """Take up a lamp whose note and samples were called otherwise; some of its layout have the new names."""
    names = {"told": "note", "worth": "samples"}
    return {names.get(key, key): value for key, value in lamp.items()}


def _index_faces(index: Content, folder: Path) -> Content:
    """Take up an index that had no faces, and kinds of files that nothing writes any more."""
    kept = ("still", "map", "linear", "rig", "scopes", "sheet")
    return {**index, "entries": [
        {"faces": {}, **entry, "files": [file for file in entry["files"] if file["kind"] in kept]}
        for entry in index["entries"]]}


def _index_qualities(index: Content, folder: Path) -> Content:
    """Take up an index whose entries were all of one quality, text and version; its scene as it was given."""
    made = {"quality": "working", "state": "", "scene_hash": index["scene_hash"], "version": index["version"]}
    return {**index, "scene": scene_path(folder, Path(index["scene"])),
            "entries": [{**made, **entry} for entry in index["entries"]]}


def _index_sealed(index: Content, folder: Path) -> Content:
    """Take up an index that had no seal; the seal is looked at before, see `whole.take_seal`."""
    return index


def scene_path(folder: Path, scene: Path) -> str:
    """Return a scene file's path from a folder of renders, so that both can be moved together."""
    try:
        return Path(os.path.relpath(scene.resolve(), folder.resolve())).as_posix()
    except ValueError:
        # Elsewhere than on POSIX: on another drive there is no way from here.
        return scene.resolve().as_posix()


def _page_green(page: Content, folder: Path) -> Content:
    """Take up a look whose cameras' shift towards green was called tint."""
    def renamed(key: str, values: Content) -> Content:
        camera = key.split("|")[1:2] == ["camera"]
        return {"green" if camera and name == "tint" else name: value for name, value in values.items()}

    return {**page, "changes": {key: renamed(key, values) if isinstance(values, dict) else values
                                for key, values in page["changes"].items()}}


LAYOUTS = {
    "previz_index": Layout(4, {1: _index_faces, 2: _index_qualities, 3: _index_sealed}, sealed=4),
    "previz_page": Layout(2, {1: _page_green}),
    "previz_looks": Layout(),
    "previz_folder": Layout(),
    "previz_limit": Layout(),
    "previz_pace": Layout(),
    "previz_frames": Layout(),
    "previz_lamp": Layout(2, {1: _lamp_names}),
    "previz_planes": Layout(),
    "previz_verdict": Layout(),
    "previz_view": Layout(),
    "previz_rig": Layout(),
    "previz_meter": Layout(),
    "previz_bodies": Layout(),
    "previz_clean": Layout(),
    "previz_haze": Layout(),
    "previz_handout": Layout(),
    "previz_together": Layout(),
    "previz_shot": Layout(),
    "previz_tried": Layout(),
    "previz_look": Layout(),
    "previz_unit": Layout(),
    "previz_lease": Layout(),
    "previz_shards": Layout(),
}
"""Word that a file says its layout under -> its layouts."""


def marked(kind: str) -> Content:
    """Return what a file of a kind says of its layout."""
    return {kind: LAYOUTS[kind].now}


def taken_up(kind: str, content: Mapping[str, Any], folder: Path) -> Content:
    """Return what a file says, in the layout that is written now.

    Parameters
    ----------
    kind : str
        A key of `LAYOUTS`, and of the content.
    content : dict
        As read.
    folder : Path
        Where the file lies.

    Raises
    ------
    LayoutError
        It was written by a newer previz, has no layout, or one that no step leads on from.
    """
    known, layout = LAYOUTS[kind], content.get(kind)
    if not isinstance(layout, int) or isinstance(layout, bool) or layout < 1:
        raise LayoutError(f"has no layout but {layout!r}")
    if layout > known.now:
        raise LayoutError(f"was written by a newer previz: it has layout {layout}, and this one reads up to "
                          f"layout {known.now}", newer=True)
    made = dict(content)
    for number in range(layout, known.now):
        if number not in known.steps:
            raise LayoutError(f"has layout {number} of an earlier previz, which is no longer read")
        try:
            made = known.steps[number](made, folder)
        except (KeyError, TypeError, AttributeError) as error:
            raise LayoutError(f"contradicts its layout {number}") from error
        made[kind] = number + 1
    return made


def array_layout(kind: str, arrays: Mapping[str, Any]) -> bool:
    """Return whether a file of arrays can be read; one that says nothing is of the first layout."""
    try:
        layout = int(arrays[kind]) if kind in arrays else 1
    except (TypeError, ValueError):
        return False
    return layout == LAYOUTS[kind].now


def is_newer(error: BaseException) -> bool:
    """Return whether a file could not be read because a newer previz wrote it."""
    cause = error.__cause__
    return isinstance(cause, LayoutError) and cause.newer


def set_aside(path: Path) -> None:
    """Keep a file of a newer previz under another name, where this one is about to write its own."""
    with contextlib.suppress(OSError):
        os.replace(path, path.with_name(f"{path.stem}-newer{path.suffix}"))
