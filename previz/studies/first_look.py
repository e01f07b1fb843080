"""A first look at a render's first picture, where its still will lie, while there is none of the scene."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Sequence
from pathlib import Path

from previz.deliver.atomic import enlarged, write_bytes
from previz.errors import PrevizError
from previz.rendering.first_light import PATHS, first_light, load_engine, tabulate
from previz.rendering.job import StageJob
from previz.rendering.request import Request
from previz.stage.ahead import StageAhead
from previz.stage.records import Camera, Stage
from previz.studies.selection import label_of
from previz.studies.state import state_of
from previz.studies.still_files import StillFiles

MOST_MESHES = 32 * 2**20
"""Size of a scene's mesh files from which on there is no first look. [bytes]"""


class FirstLook:
    """The first look of one render; whoever makes one takes it back if the render comes to nothing.

    Parameters
    ----------
    ahead : StageAhead
        The stage of the first option.
    files : StillFiles
    request : Request
    say : function
        Takes the line that says where it is.
    """

    def __init__(self, ahead: StageAhead, files: StillFiles, request: Request, say: Callable[[str], None]):
        self.ahead, self.files, self.request, self.say = ahead, files, request, say
        self._path: Path | None = None
        self._before: bytes | None = None
        self._written = b""

    def show(self, option: str, cameras: Sequence[str]) -> None:
        """Render and write it, unless the picture is there, or can be put together at once."""
        if option and option not in self.files.file.option_names:
            return
        fresh = self._fresh()
        if fresh and self.files.has(option) or self._is_large(option):
            return
        if not fresh:
            load_engine(self.request.backend)
            tabulate(lambda: self.ahead.ready)
        stage = self.ahead.stage()
        camera = None if stage is None else next(
            (each for each in stage.cameras if not cameras or each.name in cameras), None)
        if stage is None or camera is None:
            return
        order = self.request.order(camera.aspect)
        if not self.request.worth_a_look(camera.aspect):
            return
        job = StageJob(stage, order)
        state = state_of(job.paths, camera, stage.lamps)
        if self.files.is_there(option, camera, state) or job.frame_folder(camera).is_dir():
            return
        # What is wrong with the machine or the scene is said by the render.
        with contextlib.suppress(PrevizError, MemoryError, RuntimeError):
            self._write(option, camera, stage, (order.width, order.height))

    def _fresh(self) -> bool:
        """Return whether it seems that all is there: something was kept since the scene was written."""
        with contextlib.suppress(OSError):
            return self.request.cache.stat().st_mtime > self.files.file.path.stat().st_mtime
        return False

    def _is_large(self, option: str) -> bool:
        """Return whether the scene has meshes that are too large to be held twice for a look."""
        size = 0
        with contextlib.suppress(OSError):
            pieces = self.files.file.scene(option or None).pieces
            size = sum(Path(each.mesh).stat().st_size for each in pieces if each.mesh is not None)
        return size > MOST_MESHES

    def _write(self, option: str, camera: Camera, stage: Stage, size: tuple[int, int]) -> None:
        still = first_light(stage, camera, self.request)
        words = f"First look, {still.shape[1]} pixels wide on {PATHS} paths a pixel; the picture follows"
        path = self.files.path_of(option, camera)
        before = path.read_bytes() if path.is_file() else None
        # As large as what follows, so that a viewer that has it open stays as it is.
        self.files.still(option, camera, enlarged(still, *size), words)
        self._path, self._before, self._written = path, before, path.read_bytes()
        label = label_of(option, f"camera {camera.name}")
        self.say(f"{label}: a first look is in {path}; the picture follows.")

    def take_back(self) -> None:
        """Put back what was there, where the first look still lies in its place."""
        self.ahead.close()
        if self._path is None:
            return
        with contextlib.suppress(OSError):
            if self._path.read_bytes() != self._written:
                return
            if self._before is None:
                self._path.unlink()
            else:
                write_bytes(self._path, self._before)
