"""The cache: every kind of file in it, damaged, cut short, emptied, swapped; what is served is right, or nothing."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from random import Random
from typing import Any

import numpy as np
from furnished import SCENE, furnished_desk, request_for

from previz.deliver.index import Entry, Index, file_entry, read_index, write_index
from previz.errors import PrevizError
from previz.frames.archives import read_archive, write_archive
from previz.frames.batches import Batches, read_meter, read_meter_note
from previz.frames.gathered import Gathered
from previz.frames.whole import write_sealed
from previz.page.clean import read_clean, write_clean
from previz.page.desk import Desk, Picture
from previz.rendering.cache import plan as planning
from previz.rendering.cache.body_files import read_bodies
from previz.rendering.cache.contents import contents_of
from previz.rendering.cache.limit import USUAL_LIMIT, limit_of, set_limit
from previz.rendering.cache.meters import MeterCache
from previz.rendering.metering import StageMeters
from previz.sight import rig_seen
from previz.sight.rig_lines import Trace

from ..damage import broken_bytes
from ..guard import Violation

WIDTH, SAMPLES = 32, 4
MOVED = SCENE.replace("at: [1 m, 1 m, 2 m]", "at: [1.2 m, 1 m, 2 m]")
LOOK = {"late|lamp|key": {"level": 0.5}, "late|camera|A": {"stop": 4.0}}


class AnewError(Exception):
    """It would be rendered anew: a right answer to any damage."""


@dataclass(frozen=True)
class Stored:
    """One thing of the cache: its files, and the function by which the program reads it."""

    label: str
    files: tuple[Path, ...]
    read: Callable[[], Any]


@dataclass(frozen=True)
class Given:
    """Damage: the number of the thing, and what its files hold then; None for a file that is gone."""

    thing: int
    files: dict[Path, bytes | None]


class Cached:
    """Damage to the cache."""

    name, share = "cached", 0.16

    def begin(self, folder: Path) -> None:
        """Fill a cache with one of everything, without an engine."""
        self.folder = folder / "depot"
        self.desk = furnished_desk(self.folder, size=(WIDTH, None))
        self.cache = self.folder / "renders" / "frames"
        self._fill()
        self.things = [*self._pictures(), *self._meters(), *self._small()]
        self.good = [_digest(thing.read()) for thing in self.things]
        self.every = {path: path.read_bytes() for path in _walked(self.folder)}
        self.stamps: dict[Path, tuple[int, int, int]] = {}
        missing = {path.relative_to(self.folder).as_posix() for path in self.every} - {
            path.relative_to(self.folder).as_posix() for thing in self.things for path in thing.files
        }
        assert all(name.endswith((".yaml", ".lock")) or "/near/" in name for name in missing), missing

    def _job(self, text: str = SCENE, option: str = "early"):
        path = self.folder / "canteen.yaml"
        path.write_text(text, encoding="utf-8")
        desk = Desk(request_for(self.folder, size=(WIDTH, None)))
        job, camera = desk.job(Picture(option, "A", 2.8, desk.quality))
        path.write_text(SCENE, encoding="utf-8")
        return job, camera

    def _fill(self) -> None:
        """Put lamps, planes and what follows from them where a render would."""
        (self.job, self.camera), (self.moved, _) = self._job(), self._job(MOVED)
        order, random = self.job.order, np.random.default_rng(7)
        grid = (order.height, order.width)
        for number, lamp in enumerate(self.job.stage.lamps):
            uneven = number % 2
            part = (random.random(grid, np.float32) + 0.5) if uneven else 0.25
            gathered = Gathered(
                random.random((order.bands, *grid), np.float32),
                random.random(grid, np.float32),
                4.0,
                4,
                4,
                part,
                part,
            )
            self.job.lamp_cache.put(lamp.name, self.camera, gathered, order.sampling.samples)
        planes = {
            "albedo": random.random((3, *grid)),
            "normal": random.random((3, *grid)),
            "depth": random.random(grid),
            "names_index": random.integers(0, 2, grid),
        }
        self.job.lamp_cache.put_planes(self.camera, ("table", "north wall"), planes)
        # Pictures are put together anew, of these.
        for path in self.cache.glob("*/meta.json"):
            shutil.rmtree(path.parent)
        assert self.job.cached(self.camera) is not None
        set_limit(self.cache, 10**9)
        self.desk.change(LOOK)

    # What is read, by the functions that a render goes by

    def _pictures(self) -> list[Stored]:
        frames = self.job.frame_folder(self.camera)
        # One folder a lamp; a picture is put together of them.
        lamps = [self.job.lamp_cache.lamp_folder(lamp.name, self.camera) for lamp in self.job.stage.lamps]
        found = self.job.cached(self.camera)
        clean = self.desk.folder / frames.name
        for number in range(2):
            write_clean(clean, found, number)

        def picture():
            return _served(self.job.cached(self.camera))

        def cleaned():
            return [read_clean(clean, found, number) for number in range(2)]

        planes = next((self.cache / "planes").iterdir())
        things = [
            Stored("picture", _files(frames), picture),
            Stored("planes", _files(planes, frames), picture),
            Stored("cleaned", _files(clean), cleaned),
        ]
        return things + [Stored("lamp", _files(folder, frames), picture) for folder in lamps]

    def _meters(self) -> list[Stored]:
        meters = StageMeters(self.job)
        lamps = tuple(lamp.name for lamp in self.job.stage.lamps)
        found = []
        for path in sorted(meters.folder.glob("*.npz")):

            def read(path=path):
                batches = Batches.empty([""], lamps, 12)
                there = read_meter(path, batches, 0)
                note = read_meter_note(path)
                return (batches, note) if there else None

            found.append(Stored("meter", (path,), read))
        return found

    def _small(self) -> list[Stored]:
        cache, moved = self.cache, self.moved.lamp_cache
        bodies = cache / "bodies" / f"{self.job.lamp_cache.all_bodies}.npz"
        one = {
            "seen": [],
            "moved": ["counter"],
            "lamps": {lamp.name: [0.001, 0.002] for lamp in self.job.stage.lamps},
        }
        planning._measured = lambda cache, camera, old, lamps: {
            **one,
            "lamps": {n: one["lamps"][n] for n in lamps},
        }

        def reused():
            return [
                (state.lamp, state.status, state.why)
                for state in planning.plan(
                    moved, self.camera, self.job.order.sampling.samples, measure=True, exact=False
                )
            ]

        reused()
        verdict = next((cache / "verdicts").iterdir())
        # From now on a verdict that cannot be read is measured again.
        planning._measured = _anew
        meter = MeterCache(self.moved)

        def change(changes=_anew):
            return meter._change([["desk"]], [0], self.job.lamp_cache.all_bodies, ["key"], changes)

        change(lambda *_: np.array([[0.001]]))
        (other,) = set((cache / "verdicts").iterdir()) - {verdict}
        return [
            Stored("bodies", (bodies,), lambda: read_bodies(bodies)),
            Stored("verdict", (verdict,), reused),
            Stored("meters' verdict", (other,), change),
            *self._noted(),
            Stored(
                "limit",
                (cache / "limit.json",),
                lambda: None if limit_of(cache) == USUAL_LIMIT else limit_of(cache),
            ),
            Stored(
                "changes", (self.desk.folder / "changes.json",), lambda: self.desk._read_changes() or None
            ),
        ]

    def _noted(self) -> list[Stored]:
        """Return what scans of the rig and of the view leave, the index, and the sums of the haze's densities."""
        renders, meters = self.folder / "renders", StageMeters(self.job)
        mask = np.random.default_rng(8).random((9, 16)) > 0.5
        trace = Trace("key", "", "", 0.25, mask, np.ones((4, 12)), np.zeros((4, 12)))

        class Scan:
            def __init__(self, *given):
                pass

            def traces(self):
                return [trace]

        rig_seen.RigScan = Scan
        rig_seen._cached(self.job, self.camera, [])
        (rig,) = meters.folder.glob("*-rig.json")
        Scan.traces = _anew
        view = meters.folder / f"{meters.camera_hash(self.camera)}.json"
        write_sealed(view, {"previz_view": 1, "shares": {"table": 0.3, "north wall": 0.1}}, view.stem)
        meters._view = _anew
        sums = self.cache / "haze-x.npz"
        write_archive(sums, {"total": np.ones((4, 3, 2, 3)), "squares": np.ones((4, 3)), "done": np.array(2)})
        (renders / "still.png").write_bytes(b"still")
        write_index(
            renders,
            Index(
                "Depot",
                "canteen.yaml",
                "ab",
                "1",
                (
                    Entry(
                        "early",
                        "A",
                        {"stop": 2.8},
                        "ab",
                        4,
                        1,
                        {},
                        {},
                        (file_entry(renders, renders / "still.png", "still"),),
                    ),
                ),
            ),
        )
        return [
            Stored("rig", (rig,), lambda: rig_seen._cached(self.job, self.camera, [])),
            Stored("view", (view,), lambda: meters._shares(self.camera)),
            Stored("haze", (sums,), lambda: read_archive(sums)),
            Stored("index", (renders / "index.json",), lambda: read_index(renders)),
            Stored("delivered", (renders / "still.png",), lambda: read_index(renders) and None),
        ]

    # Damage

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
                    raise Violation("refused without a word") from error
                return "refused"
            if given.thing % 4 == 0:
                contents_of(self.cache)
            if _nothing(found):
                return "nothing"
            if _digest(found) != self.good[given.thing] and not _in_part(thing, found):
                raise Violation(f"{thing.label}: damage was served")
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


def _anew(*given):
    raise AnewError


def _files(*folders: Path) -> tuple[Path, ...]:
    return tuple(
        path
        for folder in folders
        for path in sorted(folder.iterdir())
        if path.is_file() and path.name != ".lock"
    )


def _served(found) -> Any:
    """Return frames without what is only known of how they were put together."""
    return found and replace(found, slices=np.asarray(found.slices))


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
