"""A cache with one of everything in it, without an engine; and how the program reads each thing."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from furnished import SCENE, furnished_desk, request_for

from previz.deliver.index import Entry, Index, file_entry, read_index, write_index
from previz.frames.archives import read_archive, write_archive
from previz.frames.batches import Batches, read_meter, read_meter_note
from previz.frames.gathered import Gathered
from previz.frames.whole import write_sealed
from previz.page.clean import read_clean, write_clean
from previz.page.desk import Desk, Picture
from previz.rendering.cache import plan as planning
from previz.rendering.cache.body_files import read_bodies
from previz.rendering.cache.limit import USUAL_LIMIT, limit_of, set_limit
from previz.rendering.cache.meters import MeterCache
from previz.rendering.metering import StageMeters
from previz.sight import rig_seen
from previz.sight.rig_lines import Trace

WIDTH = 32
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


class Depot:
    """A folder with a cache, and the things in it."""

    def __init__(self, folder: Path):
        self.folder = folder
        self.desk = furnished_desk(folder, size=(WIDTH, None))
        self.cache = folder / "renders" / "frames"
        self._fill()
        self.things = [*self._pictures(), *self._meters(), *self._small()]

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
        self.desk.change({**LOOK, "look|a": {"name": "low", "option": "early", "camera": "A",
                                                "look": {"lamps": {"key": {"level": 0.5}}}}})

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
            Stored("looks", (self.desk.looks.path,), lambda: self.desk.looks.read() or None),
        ]

    def _noted(self) -> list[Stored]:
        """Return what scans of the rig and of the view leave, the index, and sums of the haze's densities."""
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
        state = {"total": np.ones((4, 3, 2, 3)), "squares": np.ones((4, 3)), "done": np.array(2)}
        write_archive(sums, "previz_haze", state)
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
            Stored("haze", (sums,), lambda: read_archive(sums, "previz_haze")),
            Stored("index", (renders / "index.json",), lambda: read_index(renders)),
            Stored("delivered", (renders / "still.png",), lambda: read_index(renders) and None),
        ]


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
