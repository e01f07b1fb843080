"""The desk: one scene on the page, its options staged when needed, and its frames found.

It also holds the changes made so far, which are on disk before the page gets word that they are
kept.
"""

from __future__ import annotations

import copy
import dataclasses
import json
import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar, cast

import numpy as np

from previz import frames
from previz.errors import DataError, PrevizError, resource_error
from previz.faults import fault_words
from previz.frames.arrays import META_NAME
from previz.frames.layouts import is_newer, marked, set_aside
from previz.frames.lock import only_writer
from previz.frames.whole import read_sealed, refuse_foreign, write_sealed
from previz.page.change_values import check_changes, good_changes
from previz.page.clean import is_clean, mark_clean_used
from previz.page.looks import LooksFile, is_beside
from previz.page.opening import PageRequest
from previz.page.quick import QuickLamps
from previz.rendering.cache.store import mark_used
from previz.rendering.job import StageJob
from previz.rendering.metering import Effort, StageMeters
from previz.rendering.request import LOOK, Order
from previz.scene.camera import Camera
from previz.scene.read import SceneFile, load
from previz.scene.scene import Scene
from previz.stage.build import build_stage
from previz.stage.records import Camera as StageCamera
from previz.stage.records import Stage
from previz.stage.show_files import shown_through
from previz.studies.changes import staged_camera
from previz.studies.selection import no_camera, select, select_options

T, K = TypeVar("T"), TypeVar("K")

CHANGES_NAME = "changes.json"
MOST_MOVED = 32
"""Scenes with things moved, and stages, that are kept at hand; those used last stay."""

MOST_FRAMES = 64
"""Pictures' frames at hand. They lie on the disk and are read from there; yet each holds on to its file."""

MOST_MADE = 96
"""Other things made of a scene that are kept at hand: what is wanted, walks, backgrounds."""

LARGEST_MOVES = 1 << 16
"""Longest text of what is moved. [characters]"""

MOST_CHANGES = 2000
"""Most lamps and cameras, over all options, that changes are kept of."""


@dataclass(frozen=True)
class Picture:
    """One picture: an option seen by a camera at a stop, at one quality.

    Parameters
    ----------
    stop : float
        T-stop, which sets the depth of field. [1]
    quality : str
        A key of `request.QUALITIES`, or `request.LOOK`.
    moves : str
        What stands elsewhere than the option has it, is put in or taken out, as `moves_text` has it.
    """

    option: str
    camera: str
    stop: float
    quality: str
    moves: str = ""


def moves_text(moves: object) -> str:
    """Return what is moved as text: the same for the same moves, '' for none.

    Parameters
    ----------
    moves : dict
        As `SceneFile.moved` takes it.

    Raises
    ------
    DataError
        It is no such thing, or too long.
    """
    if not isinstance(moves, dict):
        raise DataError("what is moved is a group of values", "Reload the page.")
    text = json.dumps(moves, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    if len(text) > LARGEST_MOVES:
        raise DataError("too much is moved", "Save what there is as an option, and go on from there.")
    return text if any(moves.values()) else ""


def _kept(known: OrderedDict[K, T], key: K, value: T, most: int) -> None:
    """Keep a value among at most so many; the one that was used longest ago goes."""
    known[key] = value
    while len(known) > most:
        known.popitem(last=False)


def _used(known: OrderedDict[K, T], key: K) -> T | None:
    """Return a value that is kept, None for none, and count it as used last."""
    if key not in known:
        return None
    known.move_to_end(key)
    return known[key]


@dataclass(frozen=True, eq=False)
class Found:
    """Frames that are there, the name of their folder, and the folder of what was cleaned of them."""

    picture: Picture
    frames: frames.Frames
    key: str
    clean: Path

    def described(self) -> dict:
        """Return what they are in plain values, for the page."""
        rows, columns = self.frames.shape
        return {
            "key": self.key, "quality": self.picture.quality, "stop": self.picture.stop,
            "width": columns, "height": rows, "lamps": list(self.frames.lights),
            "samples": self.frames.samples,
            "clean": is_clean(self.clean, len(self.frames.lights)),
        }


class Desk:
    """A scene file, opened for the page.

    Raises
    ------
    SceneError
        The file cannot be used.
    RequestError
        An option or camera is requested that is not there.
    """

    def __init__(self, request: PageRequest):
        self.request = request
        self._lock = threading.RLock()
        self._reading, self._staging = threading.Lock(), threading.Lock()
        self.folder = request.folder / "page"
        self.file, self.options, self.stamp = None, (), None
        self._shows: tuple[Path, ...] = ()
        self.show_stamps: list[tuple[int, int] | None] = []
        self.edition = 0
        """How often the scene was read; a page that knows another number has to ask again."""
        self.saving = threading.Lock()
        """Held while the scene file is written to."""
        self._jobs: OrderedDict[tuple[str, str, Order], StageJob] = OrderedDict()
        self._stages: OrderedDict[tuple[str, str], Stage] = OrderedDict()
        self._moved: OrderedDict[tuple[str, str], Scene] = OrderedDict()
        self.quick = QuickLamps()
        self._frames: OrderedDict[str, frames.Frames] = OrderedDict()
        self._made: OrderedDict[Hashable, object] = OrderedDict()
        self._making: dict[Hashable, threading.Lock] = {}
        self.looks = LooksFile(self.path, self.folder)
        self.changes: dict[str, object] = {**self._read_changes(), **self.looks.read()}
        self.reload()

    # The scene file

    @property
    def path(self) -> Path:
        """The scene file."""
        return self.request.scene

    @property
    def quality(self) -> str:
        """The quality that is requested; drafts come before it."""
        return self.request.request.quality

    def _stamp(self):
        found = self.path.stat()
        return found.st_mtime_ns, found.st_size

    def stamp_now(self) -> object:
        """Return what tells the scene file as it is from any other; () where there is none."""
        try:
            return self._stamp()
        except OSError:
            return ()

    def _show_stamps(self):
        # A show file that is exported anew while the page is open is to be seen on it.
        stamps = []
        for path in self._shows:
            try:
                found = path.stat()
                stamps.append((found.st_mtime_ns, found.st_size))
            except OSError:
                stamps.append(None)
        return stamps

    def changed_on_disk(self) -> bool:
        """True if the scene file, or one that pictures are shown through, is there and not as it was read."""
        now = self.stamp_now()
        return now != () and (now != self.stamp or self._show_stamps() != self.show_stamps)

    @property
    def gone(self) -> bool:
        """True while there is no scene file any more."""
        return self.stamp_now() == ()

    def as_it_is(self) -> Desk:
        """Return the desk of the scene as it is now, which no later `reload` changes.

        Whatever is answered from it is of one scene. Stages and frames are shared with this desk.
        """
        with self._lock:
            return copy.copy(self)

    def reload(self) -> None:
        """Read the scene file again; on any problem the desk stays as it was.

        Raises
        ------
        SceneError, RequestError
            As for a new desk.
        """
        # One at a time, so that what was read last is what stays.
        with self._reading:
            stamp = self.stamp_now()
            try:
                file, options = self._read()
            except Exception:
                # What is spoilt is not read again before it changes.
                self.stamp, self.show_stamps = stamp, self._show_stamps()
                raise
            with self._lock:
                self.file, self.options, self.stamp = file, options, stamp
                self.show_stamps = self._show_stamps()
                self.edition += 1
                self._jobs, self._stages, self._moved = OrderedDict(), OrderedDict(), OrderedDict()
                self._made, self._making = OrderedDict(), {}

    def _read(self) -> tuple[SceneFile, tuple[str, ...]]:
        """Return the scene file, and those of the requested options that have a requested camera."""
        file = load(self.path)
        options = select_options(file, self.request.options)
        shown = set(select(self.request.cameras, self._camera_names(file, options), "camera"))
        # An option may take the requested cameras out; then there is nothing to see.
        options = [o for o in options if shown & {c.name for c in file.scene(o).cameras}]
        if not options:
            raise no_camera()
        cameras = [camera for scene in map(file.scene, options) for camera in scene.cameras]
        self._shows = tuple({camera.show.file: None for camera in cameras if camera.show is not None})
        # What pictures are looked at through has to be sound before there is a page to show them.
        for camera in cameras:
            shown_through(camera)
        return file, tuple(options)

    @staticmethod
    def _camera_names(file, options) -> list[str]:
        return list(dict.fromkeys(c.name for o in options for c in file.scene(o).cameras))

    def scene(self, option: str, moves: str = "") -> Scene:
        """Return the scene of an option, as written or with things moved.

        Raises
        ------
        DataError
            There is no such option.
        RequestError
            With what is moved it is no scene.
        """
        if option not in self.options:
            raise DataError(f"the scene has no option '{option}'", "Reload the page.")
        if not moves:
            return self.file.scene(option)
        with self._lock:
            known = _used(self._moved, (option, moves))
        if known is None:
            known = self.file.moved(option, json.loads(moves))
            with self._lock:
                _kept(self._moved, (option, moves), known, MOST_MOVED)
        return known

    def cameras(self, option: str, moves: str = "") -> list[Camera]:
        """Return the cameras of an option that the page shows."""
        names = self.request.cameras
        return [c for c in self.scene(option, moves).cameras if not names or c.name in names]

    def camera(self, option: str, name: str = "", moves: str = "") -> Camera:
        """Return one camera of an option, as written or moved; the first for ''."""
        for camera in self.cameras(option, moves):
            if name in ("", camera.name):
                return camera
        raise DataError(f"the option has no camera '{name}'", "Reload the page.")

    def stage(self, option: str, moves: str = "") -> Stage:
        """Return the stage of an option, built when it is first needed."""
        # Figures take seconds to build, so one thread builds and the others wait for it.
        with self._staging:
            found = _used(self._stages, (option, moves))
            if found is None:
                found = build_stage(self.scene(option, moves))
                _kept(self._stages, (option, moves), found, MOST_MOVED + len(self.options))
            return found

    def made(self, key: Hashable, make: Callable[[], T]) -> T:
        """Return something of the scene as it was read, made when it is first needed."""
        with self._lock:
            making = self._making.setdefault(key, threading.Lock())
        # One thread makes it and the others wait for it; what goes wrong is tried again.
        with making:
            with self._lock:
                known = _used(self._made, key)
            if known is None:
                known = make()
                with self._lock:
                    _kept(self._made, key, known, MOST_MADE)
                    for each in [each for each in self._making if each not in self._made]:
                        if not self._making[each].locked():
                            del self._making[each]
            return cast(T, known)

    # Frames

    def job(self, picture: Picture) -> tuple[StageJob, StageCamera]:
        """Return the render job of a picture and its staged camera, opened at its stop."""
        request = self.request.request
        if picture.quality != request.quality:
            request = dataclasses.replace(request, quality=picture.quality, samples=None)
        option, moves = picture.option, picture.moves
        written = dataclasses.replace(self.camera(option, picture.camera, moves), stop=picture.stop)
        stage = self.stage(option, moves)
        camera = staged_camera(stage, written)
        order = request.order(camera.aspect)
        with self._lock:
            job = _used(self._jobs, (option, moves, order))
            if job is None:
                job = StageJob(stage, order)
                _kept(self._jobs, (option, moves, order), job, 2 * (MOST_MOVED + len(self.options)))
            return job, camera

    def frames_at(self, picture: Picture) -> Found | None:
        """Return the frames of exactly this picture, None where they are not there yet."""
        job, camera = self.job(picture)
        folder = job.frame_folder(camera)
        with self._lock:
            known = _used(self._frames, folder.name)
        if known is None or not folder.is_dir():
            known = job.cached(camera)
            if known is None:
                with self._lock:
                    self._frames.pop(folder.name, None)
                return None
            with self._lock:
                _kept(self._frames, folder.name, known, MOST_FRAMES)
        else:
            # What is looked at is the last to go where the cache makes room.
            mark_used(folder / META_NAME)
            mark_clean_used(self.folder / folder.name)
        return Found(picture, known, folder.name, self.folder / folder.name)

    def find(self, option: str, camera: str, stop: float, moves: str = "") -> Found | None:
        """Return the best frames there are for a camera at a stop.

        Full quality comes before the right depth of field, and both before a draft and a first look.
        """
        written = self.camera(option, camera, moves).stop
        for quality in self.qualities(option, camera, moves):
            for each in dict.fromkeys((stop, written)):
                found = self.frames_at(Picture(option, camera, each, quality, moves))
                if found is not None:
                    return found
        return None

    def qualities(self, option: str, camera: str, moves: str = "") -> list[str]:
        """Return the qualities that a camera's picture is rendered in, the best first."""
        drafts = dataclasses.replace(self.request.request, quality="draft", samples=None)
        look = drafts.worth_a_look(self.camera(option, camera, moves).aspect)
        return list(dict.fromkeys((self.quality, "draft", *((LOOK,) if look else ()))))

    # Meters

    def meters(self, option: str, moves: str = ""):
        """Return what the meters of an option have gathered so far, None before anything.

        Returns
        -------
        frames.batches.Batches or None
        """
        camera = self.camera(option, moves=moves)
        job, _ = self.job(Picture(option, camera.name, camera.stop, self.quality, moves))
        if not job.stage.probes:
            return None
        # Any precision will do, so nothing is traced here: the worker does that.
        gathered = StageMeters(job).incident(Effort(np.inf))
        return gathered if gathered.paths.any() else None

    # Changes

    def _read_changes(self) -> dict:
        try:
            return good_changes(read_sealed(self.folder / CHANGES_NAME, "previz_page")["changes"])
        except frames.FramesError as error:
            if is_newer(error):
                set_aside(self.folder / CHANGES_NAME)
            return {}
        except (AttributeError, KeyError, TypeError, ValueError):
            return {}

    def change(self, changes: dict) -> None:
        """Take changes over and write them down; a value of None takes one back.

        They go by the page's own keys, such as 'direct|lamp|key'.

        Raises
        ------
        DataError
            There are too many, or one is none that a page can set; see `change_values`.
        """
        check_changes(changes, self.changes)
        beside = {key: value for key, value in changes.items() if is_beside(key)}
        with self._lock:
            kept = self.looks.change(beside) if beside else {
                key: value for key, value in self.changes.items() if is_beside(key)}
            own = self._change_own({key: value for key, value in changes.items() if not is_beside(key)})
            self.changes = {**own, **kept}

    def _change_own(self, changes: dict) -> dict:
        """Take over changes that lie with the renders, and return all of them."""
        own = {key: value for key, value in self.changes.items() if not is_beside(key)}
        if not changes:
            return own
        with only_writer(self.folder):
            # Another page of the scene may have written meanwhile.
            merged = {**(self._read_changes() or own), **changes}
            merged = {key: value for key, value in merged.items() if value is not None}
            if len(merged) > MOST_CHANGES or len(json.dumps(merged)) > 1 << 20:
                raise DataError("there are too many changes to keep", "Undo some of them.")
            refuse_foreign(self.folder / CHANGES_NAME)
            write_sealed(self.folder / CHANGES_NAME,
                         {**marked("previz_page"), "scene": str(self.path), "changes": merged})
        return merged


def problem_text(error: Exception) -> str:
    """Return what is said of an error: a user's to mend in full, others in few words, with a report."""
    if isinstance(error, PrevizError):
        return str(error)
    lacking = resource_error(error)
    return fault_words(error) if lacking is None else str(lacking)
