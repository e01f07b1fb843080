"""Stills under names that stay, each written as soon as there is one."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path

import numpy as np

from previz import __version__
from previz.deliver.atomic import write_still
from previz.deliver.index import INDEX_NAME, Entry, Index, file_entry, kept_index
from previz.deliver.stems import KINDS, USUAL, stems_of
from previz.deliver.wording import settings_text
from previz.errors import RequestError
from previz.exposure.camera import settings_of
from previz.frames.layouts import scene_path
from previz.rendering.request import Request
from previz.scene.read import SceneFile
from previz.stage.records import Camera
from previz.studies.folders import usable


class StillFiles:
    """The folder that a scene's renders are delivered to, made when the first file is written.

    Parameters
    ----------
    file : SceneFile
    folder : Path
    request : Request, optional
        Of the renders. With it the sheets have the options too that were rendered before.
    names : str
        Quality by which files are called where that is not the request's own: what is delivered comes
        before pictures of that quality, and never in the place of better ones of the same state.

    Raises
    ------
    RequestError
        The folder has another scene's renders, or cannot be written to.
    DeliveryError
        It has an index that previz did not write, or that cannot be read.
    """

    def __init__(self, file: SceneFile, folder: Path, request: Request | None = None, names: str = ""):
        self.file, self.folder, self.request = file, folder, request
        self.quality = names or (USUAL if request is None else request.quality)
        self.first = bool(names) and request is not None and names != request.quality
        self.stems = stems_of(file, self.quality)
        usable(folder, files=(INDEX_NAME, *(
            f"{stem}{kind}" for stem in self.stems.values()
            for kind in (*(f"{each}.png" for each in KINDS), ".exr"))))
        self.title = file.title or file.path.stem
        self.said: list[str] = []
        """What is to be said of it: what stays, what takes the place of better, what is on sheets."""
        self._there = self._index()
        self._written: dict[Path, int] = {}

    def still(self, option: str, camera: Camera, still: np.ndarray, words: str, state: str = "") -> None:
        """Write a still as it is now, where it will lie in the end; see `refining.Shown`."""
        if self.first and self._better(option, camera.name, state, still.shape[1], 0):
            return
        self.folder.mkdir(parents=True, exist_ok=True)
        info = self._info(option, camera)
        path = self.path_of(option, camera)
        write_still(path, still, {**info, "Description": words} if words else info)
        self._written[path] = file_entry(self.folder, path, "still").crc32

    def path_of(self, option: str, camera: Camera) -> Path:
        """Return where a still lies."""
        stem = self._stem(option, camera)
        return stem.with_name(f"{stem.name}.png")

    def has(self, option: str) -> bool:
        """Return whether there is a still of an option, of whatever state."""
        return any(each.option == option and each.quality == self.quality
                   and (option, each.camera) in self.stems
                   and (self.folder / f"{self.stems[option, each.camera]}.png").is_file()
                   for each in self._there.entries)

    def is_there(self, option: str, camera: Camera, state: str) -> bool:
        """Return whether there is a still of that state."""
        entry = self._there.entry(option, camera.name, self.quality)
        return entry is not None and entry.state == state and self.path_of(option, camera).is_file()

    # What was there before

    def _index(self) -> Index:
        """Return the index with what of it holds."""
        scene = self.file.path
        fresh = Index(title=self.file.title, scene=scene_path(self.folder, scene),
                      scene_hash=hashlib.sha256(scene.read_bytes()).hexdigest(), version=__version__)
        old = kept_index(self.folder)
        if old is None:
            return fresh
        other = self.folder / old.scene
        if old.scene and other.is_file() and not other.samefile(scene):
            raise RequestError(f"'{self.folder}' has the pictures of the scene '{old.scene}'",
                               "Give another folder with --out.")
        return replace(fresh, entries=old.entries)

    def _better(self, option: str, camera: str, state: str, width: int, samples: int) -> Entry | None:
        """Return what was there of a picture if it is of the same state, and larger or of more paths."""
        old = self._there.entry(option, camera, self.quality)
        if old is None or old.state not in ("", state):
            return None
        return old if old.settings.get("size", [0])[0] > width or old.samples > samples > 0 else None

    def _stem(self, option: str, camera: Camera) -> Path:
        return self.folder / self.stems[option, camera.name]

    def _info(self, option: str, camera: Camera) -> dict[str, str]:
        """Return what a picture says of itself."""
        return {"Title": self.title, "Software": f"previz {__version__}", "Description":
                f"{subject_of_picture(option, camera)}. {settings_text(settings_of(camera))}"}


def subject_of_picture(option: str, camera: Camera) -> str:
    """Return what a picture is of, in words."""
    return f"Camera {camera.name}" + (f", {option}" if option else "")
