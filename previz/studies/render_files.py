"""Deliver a render: stills, maps, linear light, sheets and the index, under names that stay."""

from __future__ import annotations

import hashlib
from dataclasses import asdict, fields, replace
from pathlib import Path
from typing import Any

import numpy as np

from previz import __version__
from previz.deliver.atomic import DeliveryError, write_still
from previz.deliver.exr import write_exr
from previz.deliver.face_values import face_values, note_of, plain
from previz.deliver.index import INDEX_NAME, Entry, Index, file_entry, read_index, write_index
from previz.deliver.map import write_map
from previz.deliver.rig_sheet import write_rig
from previz.deliver.scopes import write_scopes
from previz.deliver.stems import stems_of
from previz.deliver.wording import settings_text
from previz.exposure import metering
from previz.exposure.camera import settings_of
from previz.exposure.faces import faces_in
from previz.exposure.trust import not_reached
from previz.physics.exposure import DOME_CONSTANT, INCIDENT_CONSTANT, CameraSettings
from previz.scene.read import SceneFile
from previz.stage.records import Camera, Grip, Rig
from previz.stage.views import DOME
from previz.studies.render import Rendered, Shot


class RenderFiles:
    """The folder that a scene's renders are delivered to, made when the first file is written."""

    def __init__(self, file: SceneFile, folder: Path):
        self.file, self.folder = file, folder
        self.stems = stems_of(file)
        self.title = file.title or file.path.stem

    def still(self, option: str, camera: Camera, still: np.ndarray, words: str) -> None:
        """Write a still as it is now, where it will lie in the end; see `refining.Shown`."""
        self.folder.mkdir(parents=True, exist_ok=True)
        info = self._info(option, camera)
        write_still(self.folder / f"{self.stems[option, camera.name]}.png", still,
                    {**info, "Description": words} if words else info)

    def deliver(self, rendered: Rendered, *, exr: bool = True, mark_rig: bool = False,
                scopes: bool = False) -> list[Path]:
        """Write all that a render is delivered as; return every file, the sheets first.

        Stills have been written before. Linear light, what of the rig is in a still, and its scopes are
        written on wish.
        """
        self.folder.mkdir(parents=True, exist_ok=True)
        index, written, sheets = self._index(), list[Path](), []
        for shot in rendered.shots:
            paths = self._pictures(shot, exr, mark_rig, scopes)
            written += paths.values()
            index = index.with_entry(Entry(
                option=shot.option, camera=shot.camera.name, settings=_settings(shot),
                transport_hash=shot.frames.transport_hash, samples=shot.frames.samples,
                seed=shot.frames.seed, readings=_readings(shot), faces=_faces(shot),
                files=tuple(file_entry(self.folder, path, kind) for kind, path in paths.items())))
        for camera in rendered.cameras():
            path = rendered.camera_sheet(self.folder / f"{self.stems[None, camera]}.png", camera)
            index = index.with_entry(Entry(option="", camera=f"sheet {camera}",
                                           files=(file_entry(self.folder, path, "sheet"),)))
            sheets.append(path)
        write_index(self.folder, index)
        return [*sheets, *written, self.folder / INDEX_NAME]

    def _pictures(self, shot: Shot, exr: bool, mark_rig: bool, scopes: bool) -> dict[str, Path]:
        """Write the files of one shot; return them by kind."""
        stem = self.folder / self.stems[shot.option, shot.camera.name]
        title, subject = self.title, _subject(shot.option, shot.camera)
        words = self._info(shot.option, shot.camera)
        paths = {"still": stem.with_name(f"{stem.name}.png"),
                 "map": stem.with_name(f"{stem.name}-map.png")}
        write_map(paths["map"], shot.chart, settings=shot.settings, title=title, subject=subject, words=words)
        if mark_rig:
            paths["rig"] = stem.with_name(f"{stem.name}-rig.png")
            write_rig(paths["rig"], shot.developed.still, shot.rig, title=title, subject=subject,
                      words=words, cautions=shot.stage.reminders)
        if scopes:
            paths["scopes"] = stem.with_name(f"{stem.name}-scopes.png")
            write_scopes(paths["scopes"], shot.developed, shot.settings, title=title, subject=subject,
                         words=words)
        if exr:
            paths["linear"] = stem.with_name(f"{stem.name}.exr")
            write_exr(paths["linear"], shot.frames, shot.stage.lamps, shot.settings)
        return paths

    def _info(self, option: str, camera: Camera) -> dict[str, str]:
        """Return what a picture says of itself."""
        return {"Title": self.title, "Software": f"previz {__version__}", "Description":
                f"{_subject(option, camera)}. {settings_text(settings_of(camera))}"}

    def _index(self) -> Index:
        """Return the index as it is, or a new one where that is of another scene or version."""
        scene = self.file.path
        digest = hashlib.sha256(scene.read_bytes()).hexdigest()
        fresh = Index(title=self.file.title, scene=str(scene), scene_hash=digest,
                      version=__version__)
        try:
            old = read_index(self.folder)
        except DeliveryError:
            return fresh
        same = old.scene_hash == digest and old.version == __version__
        return replace(fresh, entries=old.entries) if same else fresh


def _subject(option: str, camera: Camera) -> str:
    return f"Camera {camera.name}" + (f", {option}" if option else "")


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
    camera = {f.name: float(getattr(shot.settings, f.name)) for f in fields(CameraSettings)}
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
