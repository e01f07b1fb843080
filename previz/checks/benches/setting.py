"""What the parts of a bench measure on: one scene, and rooms made for a number of lamps or faces."""

from __future__ import annotations

import dataclasses
import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from previz.engine.backend import runs_on, start
from previz.rendering.request import size_for
from previz.scene.read import load
from previz.stage.build import build_stage
from previz.stage.records import Mesh, Stage
from previz.studies.selection import no_camera

BANDS = 12
"""Wavelength bands of what is timed."""


@dataclass(frozen=True)
class Setting:
    """What is measured on: a scene's option, the size of the timed picture [px], its paths a pixel, bands.

    Where it is quick, what takes longest is left out, and the rest timed less. The backend is 'processor' or
    'gpu', and started.
    """

    scene: Path
    option: str
    size: tuple[int, int]
    samples: int
    bands: int
    quick: bool
    backend: str = "processor"

    def stage(self) -> Stage:
        """Return the stage of the scene's option."""
        return build_stage(load(self.scene).scene(self.option or None))


SIZES = {"processor": (320, 180), "gpu": (1920, 1080)}
"""Of the timed picture, where none is requested. [px]"""


def setting_for(scene: Path, option: str | None, size: tuple[int, int | None] | None, samples: int,
                quick: bool, backend: str = "auto") -> Setting:
    """Return what to measure on, for a picture that fills a box at the first camera's aspect. [px]

    The option is the scene's first, if it has any, for None; the size that of `SIZES`; samples are a quarter
    where it is to be quick. The engine is started.

    Raises
    ------
    RequestError
        The scene has no camera.
    EngineError
        The backend is not there.
    """
    file = load(scene)
    chosen = option or (file.option_names[0] if file.option_names else "")
    cameras = file.scene(chosen or None).cameras
    if not cameras:
        raise no_camera()
    start(backend)
    kind = runs_on(backend)
    return Setting(scene, chosen, size_for(size or SIZES[kind], cameras[0].aspect),
                   max(1, samples // 4) if quick else samples, BANDS, quick, kind)


def room(lamps: int, moved: bool = False) -> Stage:
    """Return a room with so many panels in rows under its ceiling, two cameras' width from the set.

    With `moved` the first of them, behind the camera, hangs a little further on.
    """
    columns = int(np.ceil(np.sqrt(2 * lamps)))
    lines = ["previz: 1", "title: Bench", "room: {size: [8 m, 6 m, 3.2 m]}", "pieces:"]
    lines += [f"  - {{name: crate {k}, shape: box, at: [{2 + 1.3 * k:.2f} m, 4.2 m], "
              f"size: [0.6 m, 0.5 m, {0.5 + 0.25 * k:.2f} m]}}" for k in range(4)]
    lines.append("lights:")
    for k in range(lamps):
        x = 0.6 + 6.8 * (k % columns + 0.5) / columns + (0.1 if moved and k == 0 else 0.0)
        y = 0.4 + 5.2 * (k // columns) / max(1, -(-lamps // columns) - 1 or 1)
        lines.append(f"  - {{name: lamp {k}, kind: panel, at: [{x:.3f} m, {min(y, 5.6):.3f} m, 3 m], "
                     "aim: crate 1, size: [0.3 m, 0.3 m], output: 1500 lm}")
    lines += ["cameras:", "  - {name: A, at: [4 m, 1.2 m, 1.5 m], aim: crate 1, lens: 25 mm, "
              "stop: T2.8, iso: 800}"]
    return built("\n".join(lines) + "\n")


def window_room(glass: str) -> Stage:
    """Return a room that an overcast sky lights through a window of 'none', 'clear' or 'double' glass."""
    return built(f"""\
previz: 1
title: Bench
room:
  size: [5 m, 4 m, 2.7 m]
  openings:
    - {{name: window, wall: west, along: 1.2 m, sill: 0.9 m, size: [1.4 m, 1.2 m], glass: {glass}}}
daylight: {{sky: overcast, illuminance: 10000 lx}}
pieces:
  - {{name: table, shape: table, at: [2 m, 1.8 m], size: [1.2 m, 0.8 m, 0.75 m]}}
  - {{name: crate, shape: box, at: [3.2 m, 3.3 m], size: [0.6 m, 0.5 m, 0.9 m]}}
cameras:
  - {{name: A, at: [4.5 m, 0.6 m, 1.5 m], aim: table, lens: 25 mm, stop: T2.8, iso: 800}}
""")


def built(text: str) -> Stage:
    """Return the stage of a scene's text."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "bench.yaml"
        path.write_text(text, encoding="utf-8")
        return build_stage(load(path).scene(None))


def with_faces(stage: Stage, faces: int) -> Stage:
    """Return a stage with a bumpy ball of about so many faces added to it."""
    rows = max(3, round(np.sqrt(faces / 4)))
    columns = 2 * rows
    theta, phi = np.meshgrid(np.linspace(0, np.pi, rows + 1),
                             np.arange(columns) * 2 * np.pi / columns, indexing="ij")
    radius = 0.5 + 0.02 * np.sin(40 * theta) * np.sin(40 * phi)
    vertices = (np.stack([np.sin(theta) * np.cos(phi), np.sin(theta) * np.sin(phi),
                          np.cos(theta)], axis=-1) * radius[..., None]).reshape(-1, 3)
    i, j = np.meshgrid(np.arange(rows), np.arange(columns), indexing="ij")
    a, b = i * columns + j, i * columns + (j + 1) % columns
    corners = np.concatenate([np.stack([a, a + columns, b + columns], -1).reshape(-1, 3),
                              np.stack([a, b + columns, b], -1).reshape(-1, 3)])
    ball = Mesh("ball", next(iter(stage.surfaces)), vertices + [4.0, 3.4, 1.2], corners)
    return dataclasses.replace(stage, meshes=(*stage.meshes, ball))
