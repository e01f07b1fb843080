"""The cache: every kind of file in it, damaged, cut short, emptied, swapped; what is served is right."""

from __future__ import annotations

import hashlib
import json
import os
from dataclasses import dataclass
from pathlib import Path
from random import Random
from typing import Any

import numpy as np

from previz.errors import PrevizError
from previz.rendering.cache.contents import contents_of

from ..damage import broken_bytes
from ..guard import ViolationError
from .stored import AnewError, Depot, Stored


@dataclass(frozen=True)
class Given:
    """Damage: the number of the thing, and what its files hold then; None for a file that is gone."""

    thing: int
    files: dict[Path, bytes | None]


class Cached:
    """Damage to the cache."""

    name = "cached"

    def begin(self, folder: Path) -> None:
        """Fill a cache with one of everything, without an engine."""
        self.folder = folder / "depot"
        depot = Depot(self.folder)
        self.cache, self.things = depot.cache, depot.things
        self.good = [_digest(thing.read()) for thing in self.things]
        self.every = {path: path.read_bytes() for path in _walked(self.folder)}
        self.stamps: dict[Path, tuple[int, int, int]] = {}
        missing = {path.relative_to(self.folder).as_posix() for path in self.every} - {
            path.relative_to(self.folder).as_posix() for thing in self.things for path in thing.files
        }
        assert all(
            name.endswith((".yaml", ".lock", "CACHEDIR.TAG")) or "/near/" in name for name in missing
        ), missing

    def make(self, chance: Random) -> Given:
        """Return damage to one or two files of a thing."""
        thing = chance.randrange(len(self.things))
        files = {}
        for path in chance.sample(
            self.things[thing].files, min(chance.choice((1, 1, 1, 2)), len(self.things[thing].files))
        ):
            files[path] = self._damaged(path, self.every[path], chance)
        if chance.random() < 0.08:
            # Two things of a kind have changed places, as a careless copy leaves them.
            alike = [each for each in self.things if each.label == self.things[thing].label]
            other = chance.choice(alike)
            own, theirs = self.things[thing].files, other.files
            files = {path: None for path in own if path.parent == own[0].parent} | {
                own[0].parent / path.name if len(own) > 1 else own[0]: self.every[path]
                for path in theirs
                if path.parent == theirs[0].parent
            }
        return Given(thing, files)

    def _damaged(self, path: Path, data: bytes, chance: Random) -> bytes | None:
        match chance.randrange(10):
            case 0:
                return None
            case 1:
                return b""
            case 2:
                return data[: chance.randrange(len(data) or 1)]
            case 3:
                return self.every[chance.choice(list(self.every))]
            case 4:
                at = chance.randrange(len(data) or 1)
                return data[:at] + bytes(min(4096, len(data) - at)) + data[at + 4096 :]
            case 5 if path.suffix == ".json":
                return _other_values(data, chance)
            case 6 if path.suffix == ".npz":
                # The directory at a file's end says what is in it.
                at = max(0, len(data) - 400)
                return data[:at] + broken_bytes(data[at:], chance, 2)
            case _:
                return broken_bytes(data, chance, 3)

    def attempt(self, given: Given) -> str:
        """Damage the files, read the thing as the program does, and put all back."""
        thing = self.things[given.thing]
        try:
            for path, data in given.files.items():
                if data is None:
                    path.unlink(missing_ok=True)
                else:
                    path.write_bytes(data)
            try:
                found = thing.read()
            except AnewError:
                return "anew"
            except PrevizError as error:
                if not str(error).strip():
                    raise ViolationError("refused without a word") from error
                return "refused"
            if given.thing % 4 == 0:
                contents_of(self.cache)
            if _nothing(found):
                return "nothing"
            if _digest(found) != self.good[given.thing] and not _in_part(thing, found):
                raise ViolationError(f"{thing.label}: damage was served")
            return "as it was"
        finally:
            self._put_back()

    def _put_back(self) -> None:
        """Put back what the damage, or a reader that mends, has changed, added or taken away."""
        there = {path: os.stat(path) for path in _walked(self.folder)}
        for path in there.keys() - self.every.keys():
            path.unlink()
        for path, data in self.every.items():
            stamp = there.get(path)
            if stamp is None or self.stamps.get(path) != (
                stamp.st_mtime_ns,
                stamp.st_ctime_ns,
                stamp.st_size,
            ):
                path.parent.mkdir(parents=True, exist_ok=True)
                path.unlink(missing_ok=True)
                path.write_bytes(data)
                stamp = os.stat(path)
                self.stamps[path] = stamp.st_mtime_ns, stamp.st_ctime_ns, stamp.st_size

    def smaller(self, given: Given):
        """Yield damage to fewer files."""
        for path in given.files if len(given.files) > 1 else ():
            yield Given(given.thing, {each: data for each, data in given.files.items() if each != path})

    def keep(self, given: Given, folder: Path) -> None:
        """Write the damaged files."""
        for path, data in given.files.items():
            (folder / path.name).write_bytes(b"(gone)" if data is None else data)
        names = {path.relative_to(self.folder).as_posix(): data is None for path, data in given.files.items()}
        (folder / "thing.txt").write_text(
            f"{self.things[given.thing].label}\n{json.dumps(names, indent=1)}\n"
        )


def _walked(folder: Path) -> list[Path]:
    return [Path(root) / name for root, _, names in os.walk(folder) for name in names]


def _nothing(found: Any) -> bool:
    return found is None or (isinstance(found, list) and any(each is None for each in found))


def _in_part(thing: Stored, found: Any) -> bool:
    """Return whether a plan only has lamps rendered again that would have been used."""
    return (
        thing.label in ("verdict", "lamp")
        and isinstance(found, list)
        and all(status in ("missing", "reused", "cached") for _, status, _ in found)
        and any(status == "missing" for _, status, _ in found)
    )


def _other_values(data: bytes, chance: Random) -> bytes:
    """Return a note with a value changed, or one too deep or too long to be one."""
    try:
        note = json.loads(data)
    except ValueError:
        return data
    key = chance.choice(list(note))
    note[key] = chance.choice(
        (
            None,
            -1,
            0,
            2,
            99,
            1e300,
            float("nan"),
            float("inf"),
            "x",
            [],
            {},
            True,
            [[1]],
            {"a": 1},
            "\ud800",
            10**400,
        )
    )
    made = json.dumps(note).encode()
    return chance.choice(
        (made, made, made, b"[" * 100_000, b'{"a":' * 5000, b"\xff" + made, b"null", b"1" * 5000, b"NaN")
    )


def _digest(value: Any) -> str:
    """Return a checksum of arrays, records and plain values."""
    total = hashlib.blake2b(digest_size=16)

    def take(each: Any) -> None:
        if isinstance(each, np.ndarray):
            total.update(f"{each.dtype}{each.shape}".encode() + np.ascontiguousarray(each).tobytes())
        elif hasattr(each, "__dataclass_fields__"):
            for name in each.__dataclass_fields__:
                take(getattr(each, name))
        elif isinstance(each, dict):
            for key in sorted(each, key=str):
                total.update(repr(key).encode())
                take(each[key])
        elif isinstance(each, list | tuple):
            total.update(f"{len(each)}".encode())
            for part in each:
                take(part)
        else:
            total.update(repr(each).encode("utf-8", "backslashreplace"))

    take(value)
    return total.hexdigest()
