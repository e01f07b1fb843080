"""The cache of one scene's lamps: where each lamp's light at each camera is kept.

- `lamps/<what the light depends on>/<how the other lamps stand>/`: one lamp at one camera
- `bodies/<how all lamps stand>.npz`: their bodies
- `planes/<what is seen>/`: albedo, normal, depth and names of a camera's picture
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterable
from dataclasses import astuple, replace
from pathlib import Path
from typing import Any

import numpy as np

from previz import __version__
from previz.engine.render import CameraJob
from previz.frames.arrays import Entry, link_array, read_array, write_array
from previz.frames.gathered import Gathered
from previz.frames.lamp_files import LAMP_NAME, LampFile, read_lamp, read_note, write_lamps
from previz.frames.layouts import marked
from previz.frames.store import PLANES
from previz.frames.together import finish
from previz.frames.whole import FramesError, read_sealed, write_sealed
from previz.rendering.cache.body_files import write_bodies
from previz.rendering.cache.owned import mark
from previz.rendering.request import Order
from previz.stage.fingerprint import digest_of, seen_by
from previz.stage.ingredients import SHORT, Ingredients
from previz.stage.records import Camera, Stage

PLANES_NAME = "planes.json"

Planes = tuple[tuple[str, ...], dict[str, np.ndarray]]
"""Names of what a camera sees, and its planes: albedo, normal, depth, index of names."""


class LampCache:
    """The cached light of a stage's lamps, at one size and with one set of rules.

    `parts` are the stage's ingredients.
    """

    def __init__(self, stage: Stage, order: Order, parts: Ingredients):
        self.stage, self.order, self.folder, self.parts = stage, order, Path(order.cache), parts
        finish(self.folder)
        sampling = order.sampling
        self.settings = {
            "size": [order.width, order.height], "bands": order.bands, "seed": sampling.seed,
            "depths": list(astuple(sampling.limits)), "version": __version__}
        self.all_bodies = digest_of(sorted(b for b in self.parts.bodies.values() if b))[:SHORT]

    # Lamps

    def lamp_folder(self, lamp: str, camera: Camera) -> Path:
        """Return the folder of a lamp's light with all lamps where they are."""
        key = self.parts.of_lamp(lamp, camera, self.settings)
        return self.folder / "lamps" / key / self.parts.other_bodies(lamp)

    def find(self, lamp: str, camera: Camera) -> LampFile | None:
        """Return a lamp's light with all lamps where they are, None where it is not there."""
        return self._read(self.lamp_folder(lamp, camera), False)

    def elsewhere(self, lamp: str, camera: Camera) -> list[LampFile]:
        """Return a lamp's light with other lamps standing otherwise, the last used first."""
        own = self.lamp_folder(lamp, camera)
        found = []
        for note in own.parent.glob(f"*/{LAMP_NAME}"):
            if note.parent != own and (file := self._read(note.parent, False)) is not None:
                with contextlib.suppress(FileNotFoundError):
                    found.append((note.stat().st_mtime, file))
        return [file for _, file in sorted(found, key=lambda pair: -pair[0])]

    def put(self, lamp: str, camera: Camera, gathered: Gathered, samples: float,
            rows: tuple[int, int] | None = None) -> None:
        """Keep a lamp's light, or that of some rows of the picture."""
        self.put_together([lamp], camera, [gathered], samples, rows)

    def put_together(self, lamps: Iterable[str], camera: Camera, gathered: Iterable[Gathered], samples: float,
                     rows: tuple[int, int] | None = None) -> None:
        """Keep the light of several lamps, in their order, all of it or none; as `put`."""
        self.keep_bodies()
        notes = {}
        for lamp in lamps:
            folder = self.rows_folder(lamp, camera, rows)
            notes[folder] = {**self.note_of(lamp, camera), "place": self._place(folder)}
        write_lamps(self.folder, notes, gathered, samples)

    def put_all(self, lamps: Iterable[str], job: CameraJob, samples: float,
                rows: tuple[int, int] | None) -> None:
        """Keep what a render has gathered of its lamps, in their order."""
        lamps = list(lamps)
        self.put_together(lamps, job.camera, map(job.gathered, range(len(lamps))), samples, rows)

    def rows_folder(self, lamp: str, camera: Camera, rows: tuple[int, int] | None) -> Path:
        """Return the folder of some rows of a lamp's light; of all of them without `rows`."""
        folder = self.lamp_folder(lamp, camera)
        return folder if rows is None else folder / f"rows-{rows[0]:05d}-{rows[1]:05d}"

    def find_rows(self, lamp: str, camera: Camera, rows: tuple[int, int] | None) -> LampFile | None:
        """Return some rows of a lamp's light, None where they are not there."""
        return self._read(self.rows_folder(lamp, camera, rows), True)

    def _read(self, folder: Path, verify: bool) -> LampFile | None:
        """Return a lamp's light, None where it is torn or another's."""
        try:
            file = read_lamp(folder, verify=verify)
        except FramesError:
            return None
        own = self._place(folder)
        return file if file.note.get("place", own) == own else None

    def _place(self, folder: Path) -> str:
        return folder.relative_to(self.folder).as_posix()

    def keep_bodies(self) -> None:
        """Keep the bodies of all lamps, to be compared with later."""
        mark(self.folder)
        write_bodies(self.bodies_path(self.all_bodies), self.stage, self.parts)

    def bodies_path(self, digest: str) -> Path:
        """Return the file of the bodies of all lamps, however they stood."""
        return self.folder / "bodies" / f"{digest}.npz"

    def note_of(self, lamp: str, camera: Camera) -> dict[str, Any]:
        """Return the note of a lamp's light, to say later what has changed."""
        parts = self.parts
        return {"lamp": lamp, "camera": camera.name, "seen": digest_of(seen_by(camera))[:SHORT],
                "settings": self.settings, "things": parts.things, "air": parts.air,
                "own": [parts.bodies[lamp], parts.lamps[lamp]],
                "bodies": {k: v for k, v in parts.bodies.items() if k != lamp and v},
                "all_bodies": self.all_bodies}

    def notes_of(self, lamp: str) -> list[dict[str, Any]]:
        """Return the notes of all light of a lamp of this name that is cached."""
        found = []
        for path in (self.folder / "lamps").glob(f"*/*/{LAMP_NAME}"):
            with contextlib.suppress(FramesError, KeyError, TypeError):
                note = read_note(path.parent)["note"]
                if note["lamp"] == lamp:
                    found.append(note)
        return found

    # Planes

    def planes_folder(self, camera: Camera, bodies: dict[str, str] | None = None) -> Path:
        """Return the folder of what a camera sees, with the lamps' bodies as they stand or others."""
        return self.folder / "planes" / digest_of(
            self.parts.things, self.parts.bodies if bodies is None else bodies, seen_by(camera),
            self.settings)[:32]

    def planes(self, camera: Camera) -> Planes | None:
        """Return (names, planes) of what a camera sees, None where they are not there."""
        return self._planes_in(self.planes_folder(camera))

    def plane_files(self, camera: Camera) -> dict[str, tuple[Path, Entry]]:
        """Return where each plane of what a camera sees lies, with its entry; none where none are there."""
        folder = self.planes_folder(camera)
        try:
            files = read_sealed(folder / PLANES_NAME, "previz_planes", folder.name)["files"]
        except (FramesError, KeyError):
            return {}
        return {label: (folder, entry) for label, entry in files.items()}

    def _planes_in(self, folder: Path) -> Planes | None:
        try:
            head = read_sealed(folder / PLANES_NAME, "previz_planes", folder.name)
            grid = (self.order.height, self.order.width)
            return tuple(head["names"]), {
                label: read_array(folder, head["files"][label], (
                    (3, *grid) if label in ("albedo", "normal") else grid), kind)
                for label, kind in PLANES.items() if label != "variance"}
        except (FramesError, KeyError, TypeError):
            return None

    def put_planes(self, camera: Camera, names: Iterable[str],
                   planes: dict[str, np.ndarray]) -> None:
        """Keep what a camera sees."""
        folder = self._new_planes(camera)
        self._name_planes(folder, names, {
            label: write_array(folder, label, planes[label], kind)
            for label, kind in PLANES.items() if label != "variance"})

    def take_planes(self, camera: Camera, file: LampFile) -> None:
        """Keep what a camera saw, if it is there, when a lamp's light was rendered: it sees the same now.

        The other lamps' bodies stood otherwise then, and it must be known that it sees none of what differs.
        """
        note = file.note
        try:
            # Sun and sky have no bodies, which notes leave out.
            stood = {**dict.fromkeys(self.parts.bodies, ""), **note["bodies"], note["lamp"]: note["own"][0]}
        except (KeyError, TypeError):
            return
        before = self.planes_folder(camera, stood)
        found = self._planes_in(before)
        if found is None or before == self.planes_folder(camera):
            return
        folder = self._new_planes(camera)
        with contextlib.suppress(FileNotFoundError, FramesError, KeyError):
            files = read_sealed(before / PLANES_NAME, "previz_planes", before.name)["files"]
            self._name_planes(folder, found[0], {
                label: link_array(folder, label, before, files[label]) for label in found[1]})

    def _new_planes(self, camera: Camera) -> Path:
        mark(self.folder)
        folder = self.planes_folder(camera)
        folder.mkdir(parents=True, exist_ok=True)
        return folder

    def _name_planes(self, folder: Path, names: Iterable[str], files: dict[str, Entry]) -> None:
        write_sealed(folder / PLANES_NAME,
                     {**marked("previz_planes"), "names": list(names), "files": files}, folder.name)


def mark_used(note: Path) -> None:
    """Say that something in the cache was used now, so that it is kept longer than the rest."""
    with contextlib.suppress(OSError):
        os.utime(note)


def joined(files: list[LampFile]) -> Gathered:
    """Return one lamp's light over the whole picture from that of its rows, in their order."""
    parts = [file.gathered for file in files]

    def over_rows(label: str) -> Any:
        values = [getattr(part, label) for part in parts]
        if not any(np.ndim(v) for v in values):
            return values[0]
        return np.concatenate([np.broadcast_to(v, part.scatter.shape)
                               for v, part in zip(values, parts, strict=True)])

    first = parts[0]
    return Gathered(np.concatenate([p.slices for p in parts], axis=1), over_rows("scatter"),
                    first.weight, first.passes, first.next_pass, over_rows("inverse"),
                    over_rows("spread"))


def rows_of(gathered: Gathered, top: int, rows: int) -> Gathered:
    """Return some rows of what was gathered."""
    span = slice(top, top + rows)

    def cut(value: Any) -> Any:
        return value if not np.ndim(value) else value[span]

    return replace(gathered, slices=gathered.slices[:, span], scatter=gathered.scatter[span],
                   inverse=cut(gathered.inverse), spread=cut(gathered.spread))
