"""A second opinion: the same Stage told to the renderer's own plain path tracer.

Nothing here is used to make a picture. It serves to check the kernel, and as the yardstick that
its speed is told by: one picture of all lamps mixed, by Mitsuba's `path` and its own plugins.

What is told otherwise, or not at all:

- Gloss: a rough plastic or conductor stands for it. Its Fresnel factor and the way the diffuse
  light under it loses energy differ from ours by some per cent; matt surfaces and cloth are exact.
- A pane mirrors by the mean of both polarisations (0.1 % off at 30°, 3 % at 75°), and light behind
  one is found by chance only.
- A lamp with an angular table becomes a point that projects it: no size, no focus, no part in the
  picture. One that shines wider than 70° to a side, or is not flat, becomes an even diffuse face.
- Without `spectral` colours are Rec. 709: exact for grey, the usual compromise for the rest.
- With `spectral` a textured surface, the sky and beams have no spectrum of their own: textures are
  turned into one by the renderer, sky and beams are of equal energy with the right luminance.
- Haze is even and is rendered by `volpath`. With bounds on all sides it is a box that no surface
  may lie in the faces of; without bounds sun and sky are not told right, as it ends at no wall.
- Clear glass of meshes is a dielectric, by the mean of both polarisations as a pane's is; a sheet
  with both its faces bends light. Tinted glass is not told.
- Guides do not exist.

Units: the picture is luminance, XYZ in cd/m². In RGB the renderer carries no unit, so emitters are
given Rec. 709 components whose Y is in cd/m². In spectral mode its Y is 1 for a spectrum of
1 W m⁻² sr⁻¹ nm⁻¹, which has 683.002 · 106.750 cd/m².
"""

from __future__ import annotations

import argparse
import pickle
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

from previz.engine import backend
from previz.engine.plain_parts import LUMINANCE_OF_UNIT_Y, Parts
from previz.physics.chromatic_adaptation import REC709_FROM_XYZ
from previz.stage.records import Camera, Stage


def start(spectral: bool = False):
    """Start the engine in the variant needed; one process has one variant. Returns mitsuba."""
    if not spectral:
        return backend.start()[0]
    variant = backend.VARIANTS[backend.choose()].replace("rgb", "spectral")
    return backend.load(variant)[0]


def plain_scene(stage: Stage, camera: Camera, width: int, height: int, *, max_depth: int = 64,
                rr_depth: int = 5, spectral: bool = False):
    """Return a Mitsuba scene that its own `path` integrator renders.

    Parameters
    ----------
    stage : Stage
    camera : Camera
        One of the stage's, or any other.
    width, height : int
        Size of the picture; pixels must be square. [px]
    max_depth, rr_depth : int
        As the integrator counts them: edges of a path, and from where it may end by chance.
    spectral : bool
        For the spectral variant; the process must have been started in it.

    Returns
    -------
    mitsuba.Scene
        All lamps as they are set; see the module's text for units and limits.

    Raises
    ------
    ValueError
        The pixels would not be square, or the haze thins with height.
    """
    mi = start(spectral)
    tell = Parts(mi, stage, spectral)
    integrator = "path" if stage.haze is None else "volpath"
    parts = {"type": "scene", "sensor": tell.camera(camera, width, height),
             "integrator": {"type": integrator, "max_depth": max_depth, "rr_depth": rr_depth}}
    for i, mesh in enumerate(stage.meshes):
        parts[f"mesh{i}"] = tell.mesh(f"mesh{i}", mesh, tell.surface(stage.surfaces[mesh.surface]))
    for i, emitter in enumerate(stage.emitters):
        parts |= tell.emitter(i, emitter)
    for i, pane in enumerate(stage.panes):
        parts |= {f"pane{i}sheet{k}": sheet for k, sheet in enumerate(tell.pane(pane))}
    if tell.bounded:
        parts["haze"] = tell.haze_box()
    if stage.sun is not None and tell.rgb(stage.sun.lamp).any():
        parts["sun"] = tell.sun()
    if stage.sky is not None and tell.rgb(stage.sky.lamp).any():
        parts["sky"] = tell.sky()
    return mi.load_dict(parts)


def plain_passes(stage: Stage, camera: Camera, width: int, height: int, *, samples: int = 64,
                 passes: int = 8, seed: int = 1, spectral: bool = False, **depths) -> np.ndarray:
    """Return independent pictures of the stage by the plain path tracer.

    Parameters
    ----------
    stage, camera, width, height, spectral
        As in `plain_scene`. The spectral ones are made by another process.
    samples, passes : int
        Paths a pixel of each pass; number of passes.
    seed : int
        Of the first pass.
    **depths
        As in `plain_scene`.

    Returns
    -------
    float array, shape (passes, 3, height, width)
        XYZ. [cd/m²]

    Raises
    ------
    RuntimeError
        The other process failed.
    """
    task = {"stage": stage, "camera": camera, "width": width, "height": height,
            "samples": samples, "passes": passes, "seed": seed, "spectral": spectral, **depths}
    if not spectral:
        return _run(task)
    with tempfile.TemporaryDirectory() as folder:
        asked, made = Path(folder) / "task.pickle", Path(folder) / "passes.npy"
        asked.write_bytes(pickle.dumps(task))
        done = subprocess.run([sys.executable, "-P", "-m", "previz.engine.oracle", asked, made],
                              capture_output=True, text=True, check=False)
        if done.returncode:
            raise RuntimeError(f"the spectral renderer failed: {done.stderr.strip()}")
        return np.load(made)


def _run(task: dict) -> np.ndarray:
    task = dict(task)
    samples, passes, seed = (task.pop(key) for key in ("samples", "passes", "seed"))
    scene = plain_scene(**task)
    mi = start(task["spectral"])
    unit = LUMINANCE_OF_UNIT_Y if task["spectral"] else 1.0
    xyz_from_rgb = np.linalg.inv(REC709_FROM_XYZ) * unit
    pictures = [np.array(mi.render(scene, spp=samples, seed=seed + k), float)
                for k in range(passes)]
    return np.einsum("ij,prcj->pirc", xyz_from_rgb, np.stack(pictures))


def main() -> None:
    """Render a pickled task (written by `plain_passes`) and save its passes as npy."""
    parser = argparse.ArgumentParser(prog="python -m previz.engine.oracle", description=main.__doc__)
    parser.add_argument("task", type=Path)
    parser.add_argument("out", type=Path)
    words = parser.parse_args()
    np.save(words.out, _run(pickle.loads(words.task.read_bytes())))


if __name__ == "__main__":
    main()
