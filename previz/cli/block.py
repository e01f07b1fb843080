"""`previz block`: the cameras' frames as flat shapes, and the set from above, within seconds."""

from __future__ import annotations

import importlib
import os
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import click

from previz.cli.block_beside import Beside
from previz.cli.options import BACKEND, CAMERA, OUT, SCENE, SizeType
from previz.deliver.stems import unique_stems
from previz.studies.folders import out_folder
from previz.studies.selection import select

SMALLEST = (320, 180)
"""Below this size the lettering covers what it names. [px]"""

PLANE_BANDS = 8
"""Wavelength bands of the engine's first hits; shapes have no use for more."""


@click.command()
@SCENE
@click.option("--option", "options", multiple=True, metavar="NAME",
              help="This option instead of the scene as it is written; may be given again.")
@CAMERA
@click.option("--size", type=SizeType(), default="960", show_default=True,
              help="Width and height of a whole drawing in pixels; 16:9 by a width alone.")
@click.option("--shapes", type=click.Choice(["auto", "gl", "engine"]), default="auto",
              show_default=True, help="What finds the shapes; auto takes GL where there is any.")
@OUT
@BACKEND
def command(scene, options, cameras, size, shapes, out, backend):
    """Draw SCENE without light: what each camera has in frame as flat shapes with names, and the
    whole set from above with the cameras' fields of view and the ways the lamps point.

    Writes block-CAMERA.png for every camera and block-above.png.
    """
    began = time.monotonic()
    size = drawing_size(size)
    # Each of the two processes keeps one core busy; more threads would only be in the other's way.
    if "numpy" not in sys.modules:
        os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    with _Finder(shapes, backend, size) as finder:
        file, stages = _stages(scene, options, finder)
        known = list(dict.fromkeys(c.name for stage in stages.values() for c in stage.cameras))
        wanted = set(select(cameras, known, "camera"))
        drawn = _draw(stages, wanted, size, finder, file.title or scene.stem)
    for path in _write(out_folder(out, scene), drawn):
        click.echo(str(path))
    click.echo(f"Done in {time.monotonic() - began:.1f} s.", err=True)


def _stages(scene, options, finder):
    """Return the file of a scene and the stage of each wanted option; '' is the scene as written."""
    from previz.scene.read import load

    file = load(scene)
    names = select(options, file.option_names, "option") if options else [""]
    scenes = {name: file.scene(name or None) for name in names}
    finder.read_ahead(scenes.values())
    from previz.stage.build import build_stage
    from previz.stage.people import prepare

    # While mesh files are read beside.
    prepare([figure for scene in scenes.values() for figure in scene.figures])
    return file, {name: build_stage(scene, finder.read_parts) for name, scene in scenes.items()}


def drawing_size(size) -> tuple[int, int]:
    """Return the width and height of a drawing.

    Parameters
    ----------
    size : (int, int or None)
        As `options.SizeType` reads it. [px]

    Raises
    ------
    click.UsageError
        It is too small to read.
    """
    width, height = size
    height = height or round(width * 9 / 16)
    if width < SMALLEST[0] or height < SMALLEST[1]:
        raise click.UsageError(f"{width}x{height} is too small to read; write "
                               f"{SMALLEST[0]}x{SMALLEST[1]} or more.")
    return width, height


class _Finder:
    """Finds first hits by GL, or by the engine where there is no GL or it is asked for."""

    def __init__(self, shapes: str, backend: str, size: tuple[int, int]):
        self.shapes, self.backend, self.size = shapes, backend, size
        self.beside = None

    def __enter__(self):
        if self.shapes != "engine":
            self.beside = Beside(self.size)
        return self

    def __exit__(self, *_):
        if self.beside is not None:
            self.beside.close()

    def read_ahead(self, scenes):
        """Have the mesh files of some scenes read while their stages are begun."""
        if self.beside is not None:
            paths = {str(Path(piece.mesh)) for scene in scenes for piece in scene.pieces if piece.mesh}
            self.beside.read_ahead(sorted(paths))

    @property
    def read_parts(self):
        """What reads mesh files."""
        from previz.stage.mesh_files import read_parts

        return read_parts if self.beside is None else self.beside.read_parts

    def look(self, views):
        """Ask for what is seen in each of some (view, option); return what yields it.

        It is first hits, or the finished drawing.
        """
        return self._seen(views, () if self.beside is None else self.beside.look(views))

    def _seen(self, views, found):
        from previz.deliver.blocking.hits import NoGraphicsError

        left = list(views)
        try:
            for seen in found:
                del left[0]
                yield seen
        except NoGraphicsError as error:
            self._without_gl(error)
        for view, _ in left:
            yield engine_first_hits(view.stage, view.camera, *view.grid, self.backend)

    def _without_gl(self, error):
        if self.shapes == "gl":
            from previz.deliver.atomic import DeliveryError

            raise DeliveryError(f"There is no GL to draw with here ({error}).",
                                "Leave --shapes out, or see `previz doctor`.") from error
        click.echo(f"No GL here ({error}); the engine finds the shapes.", err=True)


def engine_first_hits(stage, camera, width: int, height: int, backend: str = "auto"):
    """Return what a camera sees, from the engine.

    Parameters
    ----------
    stage : Stage
        What is seen.
    camera : Camera
        Seen through the middle of its pupil.
    width, height : int
        [px]
    backend : {'auto', 'processor', 'gpu'}
        What the engine runs on.

    Returns
    -------
    FirstHits

    Raises
    ------
    EngineError
        The engine cannot run here.
    """
    import numpy as np

    from previz.deliver.blocking.hits import FirstHits
    from previz.engine.render import open_stage

    buffers = open_stage(stage, PLANE_BANDS, backend)
    from previz.engine.planes import render_planes
    from previz.engine.starts import CameraStart

    planes = render_planes(buffers, CameraStart(camera, width, height), samples=1, seed=0)
    index = planes["names_index"]
    depth = np.where(index < 0, np.float32(np.inf), planes["depth"])
    return FirstHits(depth, index, buffers.geometry.names, planes["normal"])


def _draw(stages, wanted, size, finder, title):
    """Return every drawing of each option: (option, camera or None from above, PNG)."""
    from previz.deliver.blocking.views import blocking_views

    views = [(view, name) for name, stage in stages.items() for view in blocking_views(stage, size)
             if view.frame is None or view.name in wanted]
    found = finder.look(views)
    # While the first view is looked at.
    _get_ready()
    with ThreadPoolExecutor(2) as pool:
        drawn = [pool.submit(_drawn, seen, view, name, size, title)
                 for seen, (view, name) in zip(found, views, strict=True)]
    return [(name, None if view.frame is None else view.name, each.result())
            for (view, name), each in zip(views, drawn, strict=True)]


def _get_ready() -> None:
    """Import what draws and packs."""
    importlib.import_module("previz.deliver.blocking.drawing")
    importlib.import_module("previz.deliver.still")


def _drawn(seen, view, option, size, title) -> bytes:
    """Return a drawing as PNG, from first hits or from the finished picture."""
    from previz import __version__
    from previz.deliver.atomic import packed_png
    from previz.deliver.blocking.drawing import FirstHits, draw_view
    from previz.deliver.still import png_info

    image = draw_view(view, seen, size, option) if isinstance(seen, FirstHits) else seen
    what = "From above" if view.frame is None else f"Camera {view.name}"
    return packed_png(image, png_info({
        "Title": title, "Description": f"Blocking. {what}{f', {option}' * bool(option)}",
        "Software": f"previz {__version__}"}))


def file_stems(drawings) -> list[str]:
    """Return a file name for each (option, camera), no two the same; '' stands for from above.

    Parameters
    ----------
    drawings : list of (str, str or None)
        Option ('' for the scene as written) and camera (None from above).
    """
    # The views from above come first, so that a camera of that name gives way to them.
    order = sorted(drawings, key=lambda each: each[1] is not None)
    stems = dict(zip(order, unique_stems(
        [("block", option, camera or "above") for option, camera in order]), strict=True))
    return [stems[each] for each in drawings]


def _write(folder, drawn):
    """Write the drawings; return their files."""
    from previz.deliver.atomic import write_bytes

    paths = [folder / f"{stem}.png" for stem in file_stems([(name, camera) for name, camera, _ in drawn])]
    for path, (_, _, packed) in zip(paths, drawn, strict=True):
        write_bytes(path, packed)
    return paths
