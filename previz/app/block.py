"""`previz block`: the cameras' frames as flat shapes, and the set from above, within seconds."""

from __future__ import annotations

import contextlib
import threading
import time

import click

from previz.app.options import BACKEND, CAMERA, OUT, SCENE, SIZE, chosen, out_folder

SMALLEST = (320, 180)
"""Below this size the lettering covers what it names. [px]"""

PLANE_BANDS = 8
"""Wavelength bands of the engine's first hits; shapes have no use for more."""


@click.command()
@SCENE
@click.option("--option", "options", multiple=True, metavar="NAME",
              help="This option instead of the scene as it is written; may be given again.")
@CAMERA
@SIZE
@click.option("--shapes", type=click.Choice(["auto", "gl", "engine"]), default="auto",
              show_default=True, help="What finds the shapes; auto takes GL where there is any.")
@OUT
@BACKEND
def command(scene, options, cameras, size, shapes, out, backend):
    """Draw SCENE without light: what each camera has in frame as flat shapes with names, and the
    whole set from above with the cameras' fields of view and the ways the lamps point.

    Writes block-CAMERA.png for every camera and block-above.png; a size is that of the whole
    drawing, 16:9 where only its width is given.
    """
    from previz.scene.read import load
    from previz.stage.build import build_stage

    began = time.monotonic()
    size = drawing_size(size)
    file = load(scene)
    names = chosen(options, file.option_names, "option") if options else [""]
    drawn = {}
    with _Finder(shapes, backend) as finder:
        stages = {name: build_stage(file.scene(name or None)) for name in names}
        known = list(dict.fromkeys(c.name for stage in stages.values() for c in stage.cameras))
        wanted = set(chosen(cameras, known, "camera"))
        for name, stage in stages.items():
            drawn[name] = _draw(stage, wanted, size, finder, name)
    for path in _write(out_folder(out, scene), drawn, file.title or scene.stem):
        click.echo(str(path))
    click.echo(f"Done in {time.monotonic() - began:.1f} s.", err=True)


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
    """Finds first hits by GL, or by the engine where there is no GL or it is asked for.

    What GL needs is imported beside the building of the stage, which takes as long.
    """

    def __init__(self, shapes: str, backend: str):
        self.shapes, self.backend = shapes, backend
        self.eye = self.importing = None
        self.opened = shapes == "engine"

    def __enter__(self):
        if not self.opened:
            self.importing = threading.Thread(target=_import_ahead, daemon=True)
            self.importing.start()
        return self

    def __exit__(self, *_):
        if self.eye is not None:
            self.eye.close()

    def _open(self):
        from previz.deliver.blocking_hits import GlEye, NoGraphicsError

        self.importing.join()
        self.opened = True
        try:
            self.eye = GlEye()
        except NoGraphicsError as error:
            self._without_gl(error)

    def _without_gl(self, error):
        if self.shapes == "gl":
            from previz.deliver.atomic import DeliveryError

            raise DeliveryError(f"There is no GL to draw with here ({error}).",
                                "Leave --shapes out, or see `previz doctor`.") from error
        click.echo(f"No GL here ({error}); the engine finds the shapes.", err=True)

    def first_hits(self, view):
        """Return what the rays of a view meet."""
        from previz.deliver.blocking_hits import NoGraphicsError

        if not self.opened:
            self._open()
        if self.eye is not None:
            try:
                return self.eye.first_hits(view.stage, view.camera, *view.grid)
            except NoGraphicsError as error:
                self.eye = None
                self._without_gl(error)
        return engine_first_hits(view.stage, view.camera, *view.grid, self.backend)


def _import_ahead():
    """Import what GL needs; if that fails, it fails again, and is told, when GL is opened."""
    from previz.deliver.blocking_hits import import_pyrender

    with contextlib.suppress(Exception):
        import_pyrender()


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
    backend : {'auto', 'llvm', 'cuda'}
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

    from previz.deliver.blocking_hits import FirstHits
    from previz.engine.render import open_stage

    buffers = open_stage(stage, PLANE_BANDS, backend)
    from previz.engine.planes import render_planes
    from previz.engine.starts import CameraStart

    planes = render_planes(buffers, CameraStart(camera, width, height), samples=1, seed=0)
    index = planes["names_index"]
    depth = np.where(index < 0, np.float32(np.inf), planes["depth"])
    return FirstHits(depth, index, buffers.geometry.names, planes["normal"])


def _draw(stage, wanted, size, finder, option):
    from previz.deliver.blocking import blocking_views, draw_blocking

    views = [view for view in blocking_views(stage, size)
             if view.frame is None or view.name in wanted]
    return draw_blocking(stage, {view: finder.first_hits(view) for view in views}, size,
                         option=option)


def file_stems(drawings) -> list[str]:
    """Return a file name for each (option, camera), no two the same; '' stands for from above.

    Parameters
    ----------
    drawings : list of (str, str or None)
        Option ('' for the scene as written) and camera (None from above).
    """
    stems: dict[tuple, str] = {}
    # The views from above come first, so that a camera of that name gives way to them.
    for option, camera in sorted(drawings, key=lambda each: each[1] is not None):
        parts = "-".join(part for part in ("block", option, camera or "above") if part)
        stem = "".join(c if c.isalnum() or c in "-_" else "-" for c in parts)
        number, free = 1, stem
        while free.lower() in {taken.lower() for taken in stems.values()}:
            number += 1
            free = f"{stem}-{number}"
        stems[option, camera] = free
    return [stems[each] for each in drawings]


def _write(folder, drawn, title):
    from previz import __version__
    from previz.deliver.atomic import write_png
    from previz.deliver.still import png_info

    flat = [(option, drawing) for option, drawings in drawn.items() for drawing in drawings]
    keys = [(option, None if drawing.above else drawing.name) for option, drawing in flat]
    paths = []
    for (option, drawing), stem in zip(flat, file_stems(keys), strict=True):
        what = "From above" if drawing.above else f"Camera {drawing.name}"
        words = {"Title": title, "Description": f"Blocking. {what}{f', {option}' * bool(option)}",
                 "Software": f"previz {__version__}"}
        path = folder / f"{stem}.png"
        write_png(path, drawing.image, png_info(words))
        paths.append(path)
    return paths
