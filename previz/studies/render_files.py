"""Deliver a render: stills, maps, linear light, sheets and the index, under names that stay."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import asdict, fields, replace
from pathlib import Path
from typing import Any

import numpy as np

from previz import __version__
from previz.deliver.atomic import write_still
from previz.deliver.exr import write_exr
from previz.deliver.face_values import face_values, note_of, plain
from previz.deliver.index import (
    INDEX_NAME,
    Entry,
    Index,
    file_entry,
    write_index,
)
from previz.deliver.map import write_map
from previz.deliver.rig_sheet import write_rig
from previz.deliver.scopes import write_scopes
from previz.exposure import metering
from previz.exposure.faces import faces_in
from previz.exposure.trust import not_reached
from previz.frames.abreast import abreast
from previz.frames.arrays import file_sum
from previz.frames.lock import only_writer
from previz.physics.exposure import DOME_CONSTANT, INCIDENT_CONSTANT, CameraSettings
from previz.stage.records import Grip, Rig
from previz.stage.views import DOME
from previz.studies.kept import kept_shots
from previz.studies.render import Rendered, Shot
from previz.studies.still_files import StillFiles, subject_of_picture


class RenderFiles(StillFiles):
    """The folder that a scene's renders are delivered to; see `StillFiles`."""

    def deliver(self, rendered: Rendered, *, exr: bool = True, mark_rig: bool = False,
                scopes: bool = False) -> list[Path]:
        """Write all that a render is delivered as; return every file, the sheets first.

        Linear light, what of the rig is in a still, and its scopes are written on wish. Whoever else
        delivers to the folder at the same time waits, so that its index and sheets have what both
        have rendered.
        """
        with only_writer(self.folder):
            index, written = self._index(), list[Path]()
            shots = [shot for shot in rendered.shots if not self._stays(shot)]
            for shot in shots:
                paths = self._pictures(shot, exr, mark_rig, scopes)
                written += paths.values()
                index = index.with_entry(self._entry(
                    shot.option, shot.camera.name, paths, settings=_settings(shot),
                    transport_hash=shot.frames.transport_hash, samples=shot.frames.samples,
                    seed=shot.frames.seed, readings=_readings(shot), faces=_faces(shot), state=shot.state))
            sheets: list[Path] = []
            if shots and not (self.first and len(shots) < len(rendered.shots)):
                index, sheets = self._sheets(index, rendered)
            write_index(self.folder, index)
        return [*sheets, *written, self.folder / INDEX_NAME]

    def _sheets(self, index: Index, rendered: Rendered) -> tuple[Index, list[Path]]:
        """Write the sheets, with all options that there are at the same settings."""
        whole, without = self._whole(index, rendered)
        written = []
        for camera in rendered.cameras():
            path = self.folder / f"{self.stems[None, camera]}.png"
            left = ", ".join(without.get(camera, ()))
            written.append(whole.camera_sheet(
                path, camera, f"; without {left}, not kept as the scene and settings are" if left else ""))
            index = index.with_entry(self._entry("", f"sheet {camera}", {"sheet": path}))
        return index, written

    def _whole(self, index: Index, rendered: Rendered) -> tuple[Rendered, dict[str, list[str]]]:
        """Return (render with the shots too that were delivered before, camera -> options left out).

        Taken is what is in the cache of the scene as it is now, at this request's settings.
        """
        own = {(shot.option, shot.camera.name) for shot in rendered.shots}
        order = [(option, camera) for option, camera in self.stems if option is not None]
        known = {(each.option, each.camera) for each in index.entries if each.quality == self.quality}
        wanted = [(option, camera) for option, camera in order if (option, camera) in known - own
                  and camera in rendered.cameras()]
        if self.request is None or not wanted:
            return rendered, {}
        kept = {(shot.option, shot.camera.name): shot
                for shot in kept_shots(self.file, self.request, wanted)}
        shots = {**{(shot.option, shot.camera.name): shot for shot in rendered.shots}, **kept}
        without: dict[str, list[str]] = {}
        for camera in dict.fromkeys(camera for _, camera in wanted):
            by_kept: dict[bool, list[str]] = {True: [], False: []}
            for option, _ in (key for key in wanted if key[1] == camera):
                by_kept[(option, camera) in kept].append(f"'{option}'")
            name, without[camera] = self.stems[None, camera], by_kept[False]
            if by_kept[True]:
                self.said.append(f"{name}.png has {', '.join(by_kept[True])} too, as rendered before.")
            if by_kept[False]:
                self.said.append(f"{name}.png is without {', '.join(by_kept[False])}: the cache has nothing "
                                 "of it at these settings and of the scene as it is.")
        return replace(rendered, shots=tuple(shots[key] for key in order if key in shots)), without

    # What was there before

    def _entry(self, option: str, camera: str, paths: Mapping[str, Path], **more: Any) -> Entry:
        return Entry(option, camera, quality=self.quality, version=__version__,
                     scene_hash=self._there.scene_hash, files=tuple(
                         file_entry(self.folder, path, kind) for kind, path in paths.items()), **more)

    def _stays(self, shot: Shot) -> bool:
        """Return whether a better picture stays; say what happens to one in either case."""
        old = self._better(shot.option, shot.camera.name, shot.state, shot.frames.shape[1],
                           shot.frames.samples)
        if old is None:
            return False
        name = f"{self.stems[shot.option, shot.camera.name]}.png"
        was = f"{_size_text(old.settings['size'])} at {old.samples} paths a pixel"
        if self.first:
            self.said.append(f"{name} stays: it is of the same scene, {was}.")
            return True
        size = _size_text(reversed(shot.frames.shape))
        self.said.append(f"{name} was {was} and is {size} at {shot.frames.samples} now; the settings of "
                         "before write that again from what is kept.")
        return False

    # Files

    def _pictures(self, shot: Shot, exr: bool, mark_rig: bool, scopes: bool) -> dict[str, Path]:
        """Write the files of one shot, side by side; return them by kind."""
        stem = self._stem(shot.option, shot.camera)
        said: dict[str, Any] = {"title": self.title, "subject": subject_of_picture(shot.option, shot.camera),
                                "words": self._info(shot.option, shot.camera)}
        still, settings = shot.developed.still, shot.settings

        def plain_still(path: Path) -> None:
            # Not written yet, or written over by another render meanwhile.
            if _sum_of(path) != self._written.get(path):
                write_still(path, still, said["words"])

        kinds: dict[str, tuple[str, Callable[[Path], object]]] = {
            "still": (".png", plain_still),
            "map": ("-map.png", lambda path: write_map(path, shot.chart, settings=settings, **said))}
        if mark_rig:
            kinds["rig"] = "-rig.png", lambda path: write_rig(
                path, still, shot.rig, cautions=shot.stage.reminders, **said)
        if scopes:
            kinds["scopes"] = "-scopes.png", lambda path: write_scopes(
                path, shot.developed, settings, **said)
        if exr:
            kinds["linear"] = ".exr", lambda path: write_exr(path, shot.frames, shot.stage.lamps, settings)
        paths = {kind: stem.with_name(f"{stem.name}{end}") for kind, (end, _) in kinds.items()}
        abreast(lambda kind: kinds[kind][1](paths[kind]), kinds)
        return paths


def _sum_of(path: Path) -> int | None:
    return file_sum(path) if path.is_file() else None


def _size_text(size: Iterable[int]) -> str:
    return "x".join(str(side) for side in size)


def _readings(shot: Shot) -> dict[str, Any]:
    """Return every meter's reading as plain values."""
    found, short = {}, {each.name: each for each in shot.short}
    for name, mixed in shot.meters.items():
        constant = DOME_CONSTANT if name.endswith(DOME) else INCIDENT_CONSTANT
        light = mixed.light()
        found[name] = {
            "lux": light.value, "error": light.error, "standard_error": light.paths,
            "band_error": light.bands,
            "not_reached": not_reached(short[name]) if name in short else None,
            "stops_from_working": plain(metering.from_working(light, shot.settings,
                                                              constant).value), **note_of(light),
            "lamps": {part.lamp: {"direct": part.direct.value, "bounced": part.bounced.value}
                      for part in mixed.by_lamp()},
        }
    return found


def _faces(shot: Shot) -> dict[str, Any]:
    """Return every face as plain values."""
    return {face.figure: face_values(face, [(shot.camera.name, shot.settings)])
            for face in faces_in(shot.meters)}


def _settings(shot: Shot) -> dict[str, Any]:
    """Return camera, lamps, rig and grip as plain values."""
    held = {f.name: getattr(shot.settings, f.name) for f in fields(CameraSettings)}
    show, optics = held.pop("show"), held.pop("optics")
    camera: dict[str, Any] = {name: float(value) for name, value in held.items() if value is not None}
    if show is not None:
        camera["show"] = {"file": show.name, "sum": hashlib.sha256(show.content).hexdigest(),
                          "takes": show.takes, "gives": show.gives, "decision": show.decision}
    if optics is not None:
        camera["optics"] = asdict(optics)
    if shot.camera.iris is not None:
        camera["iris"] = asdict(shot.camera.iris)
    lamps = {lamp.name: {"unit": lamp.unit, "output": float(lamp.output),
                         "level": float(lamp.level), "on": bool(lamp.on)}
             for lamp in shot.stage.lamps}
    hanging: tuple[Rig | Grip, ...] = (*shot.stage.rig, *shot.stage.grip)
    size = [int(n) for n in np.array(shot.frames.shape)[::-1]]
    return {"camera": camera, "lamps": lamps, "size": size,
            "cautions": list(shot.stage.cautions),
            "reminders": [each.plain() for each in shot.stage.reminders],
            "rig": [asdict(each.sighting) for each in shot.rig],
            "hung": {each.name: each.hung for each in hanging if each.hung},
            "grip": [{"name": each.name, "what": each.what, "size": list(each.size)}
                     for each in shot.stage.grip]}
