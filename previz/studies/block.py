"""Blocking: what each camera has in frame as flat shapes, and the set from above, without light."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from previz import __version__
from previz.deliver.atomic import write_png
from previz.deliver.blocking.drawing import Drawing, draw_view
from previz.deliver.blocking.gl import GlContext, NoGraphicsError
from previz.deliver.blocking.notes import field_of_view, hung_by, lamp_heights, scale_of, sky_mark
from previz.deliver.blocking.views import FirstHits, View, blocking_views
from previz.deliver.stems import unique_stems
from previz.errors import RequestError
from previz.physics.safety import Caution, together
from previz.rendering.progress import SETTING_UP, Progress
from previz.scene.read import SceneFile
from previz.stage.build import build_stage
from previz.stage.records import Camera, Stage
from previz.studies.result import Result, Row, row
from previz.studies.rows import caution_rows
from previz.studies.selection import select

SMALLEST = (320, 180)
"""Below this size the lettering covers what it names. [px]"""

PLANE_BANDS = 8
"""Wavelength bands of the engine's first hits; shapes have no use for more."""


@dataclass(frozen=True, eq=False)
class Blocking(Result):
    """Drawings of a scene, each with its option, '' for the scene as it is written; and their numbers."""

    study = "block"
    axes = ("option", "camera", "lamp", "thing")

    title: str
    drawings: tuple[tuple[str, Drawing], ...]

    @property
    def cautions(self) -> tuple[Caution, ...]:
        """Of all options that are drawn."""
        return together(each for _, drawing in self.drawings for each in drawing.view.stage.reminders)

    def _rows(self) -> list[Row]:
        found = []
        for option, drawing in self.drawings:
            rows = _plan_rows(drawing.view) if drawing.view.frame is None else _frame_rows(drawing)
            found += [{"option": option, **each} for each in rows]
            if drawing.view.frame is None:
                found += caution_rows(drawing.view.stage.reminders, option=option)
        return found

    def sheet(self, path: Path | str) -> list[Path]:
        """Write a PNG a drawing, the camera's name or 'above' after the given one; return the files."""
        path = Path(path)
        stems = drawing_stems(path.name, [(option, None if drawing.view.frame is None else drawing.view.name)
                                          for option, drawing in self.drawings])
        files = [path.with_name(f"{stem}.png") for stem in stems]
        for file, (option, drawing) in zip(files, self.drawings, strict=True):
            what = "From above" if drawing.view.frame is None else f"Camera {drawing.view.name}"
            write_png(file, drawing.image, {
                "Title": self.title, "Description": f"Blocking. {what}{f', {option}' * bool(option)}",
                "Software": f"previz {__version__}"})
        return files


def block(file: SceneFile, *, options: Sequence[str] = (), cameras: Sequence[str] = (),
          size: tuple[int, int | None] = (960, None), shapes: str = "auto", backend: str = "auto",
          progress: Progress | None = None) -> Blocking:
    """Draw a scene without light.

    Parameters
    ----------
    options : sequence of str
        The scene as it is written without any.
    cameras : sequence of str
        All without any; the view from above is always drawn.
    size : (int, int or None)
        Width and height of a drawing; 16:9 by a width alone. [px]
    shapes : {'auto', 'gl', 'engine'}
        What finds the shapes; 'auto' takes GL where there is any.
    backend : str
        What the engine runs on, see `engine.backend`.
    progress : Progress, optional
        Says where the engine has to stand in for GL.

    Raises
    ------
    SceneError
        The stage cannot be built.
    RequestError
        The scene has no such option or camera, the size is too small, or GL is requested and there
        is none.
    EngineError
        There is neither GL, nor can the engine run here.
    """
    pixels, progress = drawing_size(size), progress or Progress()
    progress.show(SETTING_UP)
    chosen = select(options, file.option_names, "option") if options else [""]
    stages = {option: build_stage(file.scene(option or None)) for option in chosen}
    known = dict.fromkeys(camera.name for stage in stages.values() for camera in stage.cameras)
    seen_by = select(cameras, known, "camera")
    views = [(option, view) for option, stage in stages.items() for view in blocking_views(stage, pixels)
             if view.frame is None or view.name in seen_by]
    drawings = []
    with progress.running(len(views)):
        hits = first_hits([view for _, view in views], shapes, backend, progress)
        for (option, view), seen in zip(views, hits, strict=True):
            drawings.append((option, draw_view(view, seen, pixels, option)))
            progress.add(1, view.name)
    return Blocking(file.title or file.path.stem, tuple(drawings))


def drawing_size(size: tuple[int, int | None]) -> tuple[int, int]:
    """Return the width and height of a drawing. [px]

    Raises
    ------
    RequestError
        It is too small to read.
    """
    width, height = size[0], size[1] or round(size[0] * 9 / 16)
    if width < SMALLEST[0] or height < SMALLEST[1]:
        raise RequestError(f"{width}x{height} is too small to read; write "
                           f"{SMALLEST[0]}x{SMALLEST[1]} or more.")
    return width, height


def first_hits(views: list[View], shapes: str = "auto", backend: str = "auto",
               progress: Progress | None = None) -> Iterator[FirstHits]:
    """Yield what is seen in each view, by GL or by the engine; see `block`.

    Raises
    ------
    RequestError
        GL is requested and there is none.
    """
    left = list(views)
    if shapes != "engine":
        try:
            with GlContext() as context:
                while left:
                    yield context.first_hits(left[0].stage, left[0].camera, *left[0].grid)
                    del left[0]
        except NoGraphicsError as error:
            if shapes == "gl":
                raise RequestError(f"There is no GL to draw with here ({error}).",
                                   "Leave --shapes out, or see `previz doctor`.") from error
            (progress or Progress()).say(f"No GL here ({error}); the engine finds the shapes.")
    for view in left:
        yield engine_first_hits(view.stage, view.camera, *view.grid, backend)


def engine_first_hits(stage: Stage, camera: Camera, width: int, height: int,
                      backend: str = "auto") -> FirstHits:
    """Return what a camera sees through the middle of its pupil, from the engine; sides in px.

    Raises
    ------
    EngineError
        The engine cannot run here.
    """
    from previz.engine.render import open_stage

    buffers = open_stage(stage, PLANE_BANDS, backend)
    from previz.engine.planes import render_planes
    from previz.engine.starts import CameraStart

    planes = render_planes(buffers, CameraStart(camera, width, height), samples=1, seed=0)
    index = planes["names_index"]
    depth = np.where(index < 0, np.float32(np.inf), planes["depth"])
    return FirstHits(depth, index, buffers.geometry.names, planes["normal"])


def _frame_rows(drawing: Drawing) -> list[Row]:
    """Return what a camera's drawing says."""
    view = drawing.view
    camera = next(each for each in view.stage.cameras if each.name == view.name)
    across, upwards = field_of_view(camera)
    of = {"camera": camera.name}
    return [row("focal_length", camera.focal, **of), row("camera_stop", camera.stop, **of),
            row("frame_aspect", camera.aspect, **of), row("field_across", across, **of),
            row("field_upwards", upwards, **of),
            *(row("lamp_in_frame", rig.name in drawing.in_frame, lamp=rig.name, **of)
              for rig in view.stage.rig)]


def _plan_rows(view: View) -> list[Row]:
    """Return what the view from above says."""
    stage, mark = view.stage, sky_mark(view.stage)
    lamps = {rig.name for rig in stage.rig}
    rows = [row("focal_length", camera.focal, camera=camera.name) for camera in stage.cameras]
    rows += [row("lamp_height", height, lamp=name) for name, height in lamp_heights(stage).items()]
    rows += [row("hung", by, **{"lamp" if name in lamps else "thing": name})
             for name, by in hung_by(stage).items()]
    if mark is not None:
        rows.append(row("sky_height", mark[2], lamp=mark[0]))
    return [*rows, row("plan_scale", scale_of(view))]


def drawing_stems(head: str, drawings: list[tuple[str, str | None]]) -> list[str]:
    """Return a file name for each (option, camera), no two the same; the camera is None from above."""
    # The views from above come first, so that a camera of that name gets another.
    order = sorted(drawings, key=lambda each: each[1] is not None)
    stems = dict(zip(order, unique_stems(
        [(head, option, camera or "above") for option, camera in order]), strict=True))
    return [stems[each] for each in drawings]
