"""What in a cache is previz's own: only that is counted, and only that is ever removed.

A file is previz's if three things hold: it lies, through no link, where such files lie; it has a
name that only previz gives, made of fingerprints; and it begins as previz begins it. A cache that
holds nothing else is marked with a `CACHEDIR.TAG`, by which programs that back up know it too.

Source: B. Ford, Cache Directory Tagging Specification, bford.info/cachedir.
"""

from __future__ import annotations

import contextlib
import functools
import os
import re
import stat
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from previz.frames.archives import EMPTY
from previz.frames.lock import LOCK_NAME, only_writer
from previz.frames.together import LIST
from previz.frames.whole import is_note, whole_file

TAG_NAME = "CACHEDIR.TAG"
SIGNATURE = "Signature: 8a477f597d28d172789f06886806bc55"
TAG = (f"{SIGNATURE}\n# This file is a cache directory tag created by previz. What lies here can be\n"
       "# rendered again; see https://bford.info/cachedir/\n")

_LONG, _SHORT, _SUM = "[0-9a-f]{32}", "[0-9a-f]{16}", "[0-9a-f]{8}"
_PART = re.compile(r"\.(?P<name>.+)\.[0-9a-f]{12}\.part")
_MOST_HEAD = 256
_STARTS = {"array": b"\x93NUMPY", "zip": b"PK\3\4", "note": b"{"}


@dataclass(frozen=True)
class Form:
    """One kind of file of the cache.

    Parameters
    ----------
    kind : str
        Of the thing that it belongs to.
    thing, name : str
        Patterns of the folder that makes one thing with all in it, '' for a file alone, and of the
        file from there; both from the cache's folder.
    head : str
        What it begins with: 'array', 'nothing' for an empty file, 'note KEY' for a sealed note,
        'zip NAME' for an archive whose first member that is.
    note : bool
        True for the file that makes a thing count.
    """

    kind: str
    thing: str
    name: str
    head: str
    note: bool = False

    @functools.cached_property
    def pattern(self) -> re.Pattern[str]:
        """The whole path, with the thing as a group."""
        return re.compile(f"(?P<thing>{self.thing})/{self.name}" if self.thing
                          else f"(?P<thing>{self.name})")


def _folder(kind: str, thing: str, note: str, key: str, labels: str) -> tuple[Form, ...]:
    """Return the files of a folder with a note and arrays."""
    note = re.escape(note)
    return (Form(kind, thing, note, f"note {key}", note=True),
            Form(kind, thing, rf"(?:{labels})\.{_SUM}\.npy", "array"),
            Form(kind, thing, re.escape(LOCK_NAME), "nothing"))


_LAMP = rf"lamps/{_LONG}/{_SHORT}"
_LABELS = "slices|scatter|inverse|spread"
_PLANES = "albedo|normal|depth|names_index"

FORMS = (
    *_folder("picture", _LONG, "meta.json", "previz_frames", rf"lamp-\d{{3,}}|variance|{_PLANES}"),
    *_folder("lamp", _LAMP, "lamp.json", "previz_lamp", _LABELS),
    Form("lamp", _LAMP, r"rows-\d{5,}-\d{5,}/lamp\.json", "note previz_lamp"),
    Form("lamp", _LAMP, rf"rows-\d{{5,}}-\d{{5,}}/(?:{_LABELS})\.{_SUM}\.npy", "array"),
    Form("lamp", _LAMP, r"rows-\d{5,}-\d{5,}/\.lock", "nothing"),
    *_folder("planes", f"planes/{_LONG}", "planes.json", "previz_planes", _PLANES),
    Form("meter", "", rf"meters/{_LONG}(?:-{_SUM})?\.npz", "zip sums.npy", note=True),
    Form("meter", "", rf"meters/{_LONG}-rig\.json", "note previz_rig", note=True),
    Form("meter", "", rf"meters/{_LONG}\.json", "note previz_view", note=True),
    Form("bodies", "", rf"bodies/{_SHORT}\.npz", "zip 0.npy", note=True),
    Form("verdict", "", rf"verdicts/{_LONG}\.json", "note previz_verdict", note=True),
    Form("unit", f"shards/{_LONG}", r"unit\.json", "note previz_unit", note=True),
    Form("unit", f"shards/{_LONG}", rf"pass-\d{{5,}}\.{_SUM}\.npy", "array"),
    Form("lease", "", rf"shards/{_LONG}\.lease", "note previz_lease", note=True),
    Form("plan", "", rf"shards/(?:plan|cost)-{_LONG}\.json", "note previz_shards", note=True),
    Form("plan", "", r"shards/\.lock", "nothing", note=True),
    Form("pending", "", LIST.pattern, "note previz_together", note=True),
    Form("haze", "", rf"haze-{_LONG}\.npz", "zip total.npy", note=True),
)
"""All files of a cache but its own: mark, lock and limit."""

MARK = Form("mark", "", rf"meters/near/{_LONG}/{_LONG}\.npz", "nothing")
"""What later states of a set find a meter by."""

CLEANED = (Form("cleaned", _LONG, r"clean-\d{3,}\.npz", "zip bands.npy", note=True),
           Form("cleaned", _LONG, TAG_NAME, "tag"))
"""All files that the page keeps of pictures, in a folder of its own."""

OWN = (TAG_NAME, LOCK_NAME)
"""The cache's own files, which stay; so do previz's notes next to them, as that of its limit."""

_INSIDE = re.compile(
    rf"{_LONG}|lamps(/{_LONG}(/{_SHORT}(/rows-\d{{5,}}-\d{{5,}})?)?)?|planes(/{_LONG})?|meters(/near(/{_LONG})?)?"
    rf"|bodies|verdicts|shards(/{_LONG})?")
"""Folders of a cache."""


@dataclass(frozen=True)
class Found:
    """A file that has its place and its name from previz; `form.head` says how it should begin."""

    path: Path
    thing: Path
    form: Form
    part: bool
    about: os.stat_result

    @property
    def ours(self) -> bool:
        """Whether it begins as previz begins it; of a write that was cut short as far as it goes."""
        with contextlib.suppress(OSError):
            handle = os.open(self.path, os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0))
            with open(handle, "rb") as file:
                return _begins(file.read(_MOST_HEAD), self.form.head, self.part)
        return False


def _begins(head: bytes, form: str, part: bool) -> bool:
    """Return whether the first bytes of a file are of a form."""
    form, _, name = form.partition(" ")
    if part and len(head) < len(_STARTS.get(form, b"")) + len(name):
        return _STARTS[form].startswith(head[:len(_STARTS[form])])
    if form == "nothing":
        return not head
    if form == "array":
        return head.startswith(_STARTS[form])
    if form == "tag":
        return head.startswith(SIGNATURE.encode()) and b"created by previz" in head
    if form == "note":
        return re.match(rb'\{\s*"%s":' % name.encode(), head) is not None
    # An archive of nothing, of a stage without bodies, begins with what says so.
    return head.startswith(b"PK\5\6") or head.startswith(_STARTS[form]) and any(
        head[30:].startswith(first.encode()) for first in (name, EMPTY))


def files_in(root: Path, forms: tuple[Form, ...] = FORMS, under: Path | None = None) -> Iterator[Found]:
    """Yield every file in a cache, or under a folder of it, whose place and name are previz's.

    None of them is a link or lies behind one. Other processes may write and remove there meanwhile.
    """
    start = "" if under is None else under.relative_to(root).as_posix()
    for path, inside, about in () if _behind_link(root, start) else _walk(root, start):
        found = _form_of(inside, forms)
        if found is not None:
            form, thing = found
            yield Found(path, root / thing, form, _PART.fullmatch(path.name) is not None, about)


def _form_of(inside: str, forms: tuple[Form, ...]) -> tuple[Form, str] | None:
    """Return (form, its thing) of a path from the cache's folder, None where it has no such name."""
    folder, _, name = inside.rpartition("/")
    part = _PART.fullmatch(name)
    whole = f"{folder}/{part['name']}".lstrip("/") if part else inside
    for form in forms:
        found = form.pattern.fullmatch(whole)
        if found:
            return form, found["thing"] if form.thing else inside
    return None


def remove_file(root: Path, path: Path) -> None:
    """Remove one file of a cache, if it is previz's."""
    with contextlib.suppress(OSError):
        about, found = path.lstat(), _form_of(path.relative_to(root).as_posix(), FORMS)
        if found is not None and stat.S_ISREG(about.st_mode):
            remove_files([Found(path, path, found[0], False, about)])


def _walk(root: Path, inside: str = "") -> Iterator[tuple[Path, str, os.stat_result]]:
    """Yield (path, its path from the root, what it is) of the regular files of a cache's folders."""
    try:
        entries = sorted(os.scandir(root / inside), key=lambda each: each.name)
    except OSError:
        return
    for entry in entries:
        name = f"{inside}/{entry.name}" if inside else entry.name
        with contextlib.suppress(OSError):
            about = entry.stat(follow_symlinks=False)
            if stat.S_ISDIR(about.st_mode) and _INSIDE.fullmatch(name):
                yield from _walk(root, name)
            elif stat.S_ISREG(about.st_mode):
                yield root / name, name, about


def _behind_link(root: Path, inside: str) -> bool:
    parts = inside.split("/")
    return any(root.joinpath(*parts[:k]).is_symlink() for k in range(1, len(parts) + 1) if inside)


def followed(root: Path) -> bool:
    """Return whether anything may be removed of a cache: a folder, or a link to one that previz has marked.

    A cache may have been put on another disk, with a link in its place; that previz wrote there shows
    by its mark. Links further up are the user's way to where renders go.
    """
    return root.is_dir() and (not root.is_symlink() or is_marked(root))


def is_marked(root: Path) -> bool:
    """Return whether a folder has previz's mark."""
    try:
        with open(root / TAG_NAME, "rb") as file:
            return _begins(file.read(_MOST_HEAD), "tag", False)
    except OSError:
        return False


def mark(root: Path) -> None:
    """Mark a folder as a cache, unless it holds anything else: what is marked is left out of backups."""
    if (root / TAG_NAME).exists():
        return
    root.mkdir(parents=True, exist_ok=True)
    if not any(_is_foreign(root, path) for path in root.iterdir()):
        with whole_file(root / TAG_NAME) as part:
            part.write_text(TAG, encoding="ascii")


def _is_foreign(root: Path, path: Path) -> bool:
    name = path.name
    part = _PART.fullmatch(name)
    name = part["name"] if part else name
    if path.is_symlink():
        return True
    if path.is_dir():
        return _INSIDE.fullmatch(name) is None
    return name not in OWN and not is_note(path) and not any(
        re.fullmatch(form.name, name) for form in (*FORMS, *CLEANED))


def foreign_in(root: Path, forms: tuple[Form, ...] = (*FORMS, MARK), own: tuple[str, ...] = OWN,
               ) -> list[Path]:
    """Return what lies in a cache and is not previz's; of a folder that is not, the folder alone."""
    if not followed(root):
        return [root] if root.is_symlink() or root.exists() else []
    mine = {found.path for found in files_in(root, forms) if found.ours}
    mine |= {root / name for name in own} | {path for path in root.glob("*.json") if is_note(path)}
    return sorted(_others(root, "", mine))


def _others(root: Path, inside: str, mine: set[Path]) -> Iterator[Path]:
    with contextlib.suppress(OSError):
        for entry in os.scandir(root / inside):
            name = f"{inside}/{entry.name}" if inside else entry.name
            if entry.is_dir(follow_symlinks=False) and _INSIDE.fullmatch(name):
                yield from _others(root, name, mine)
            elif root / name not in mine:
                yield root / name


def remove_files(found: list[Found], folder: Path | None = None) -> list[Found]:
    """Remove those files that are previz's, notes first, so that nobody reads the rest.

    Folders go with their last file, up to and with the thing's own `folder`, whose writers are kept
    waiting meanwhile. Returns what was removed: on Windows what somebody has open stays for the next time.
    """
    mine = [each for each in found if each.ours]
    if not mine:
        return []
    with only_writer(folder) if folder is not None else contextlib.nullcontext():
        # The lock goes last: who waits for it then makes the folder anew.
        mine.sort(key=lambda each: (each.path.name == LOCK_NAME, not each.form.note))
        mine = [each for each in mine if _removed(each.path)]
        if folder is not None:
            _remove_lock(folder / LOCK_NAME)
    if folder is not None:
        for place in sorted({each.path.parent for each in mine} | {folder}, reverse=True):
            remove_empty(place)
    return mine


def _removed(path: Path) -> bool:
    """Remove a file; return False where it is in use, which only Windows minds."""
    try:
        path.unlink(missing_ok=True)
    except PermissionError:
        if sys.platform != "win32":
            raise
        return False
    return True


def remove_empty(folder: Path) -> None:
    """Remove a folder in which nothing is left."""
    with contextlib.suppress(OSError):
        folder.rmdir()


def _remove_lock(path: Path) -> None:
    with contextlib.suppress(OSError):
        about = path.lstat()
        if stat.S_ISREG(about.st_mode) and not about.st_size:
            path.unlink()
