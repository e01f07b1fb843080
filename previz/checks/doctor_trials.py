"""Trials of what this machine has: `python -m previz.checks.doctor_trials NAME` prints one as JSON.

Each is run in a process of its own by `previz doctor`, as some of what they try may end the
process instead of raising an error. An answer with 'failed' in it says why, in words.
"""

from __future__ import annotations

import json
import sys
import time
from dataclasses import asdict, replace


def try_engine(backend: str = "auto") -> dict:
    """Return the LLVM libraries found, why one cannot be loaded, and the backend to be taken."""
    import ctypes

    from previz.engine.backend import choose, libraries
    from previz.errors import EngineError

    answer = {"libraries": []}
    for library in libraries():
        fault = ""
        try:
            ctypes.CDLL(library.path)
        except OSError as error:
            fault = f"cannot be loaded ({error})"
        answer["libraries"].append({**asdict(library), "fault": fault})
    try:
        return {**answer, "backend": choose(backend)}
    except EngineError as error:
        return {**answer, "failed": error.message, "advice": error.advice}


def try_gpu() -> dict:
    """Return the name of the GPU that renders run on, and on a Mac why there is none."""
    import ctypes

    from previz.engine import metal
    from previz.engine.backend import has_cuda, without_metal

    if sys.platform == "darwin":
        lacking = without_metal()
        return {"name": None, "lacking": lacking} if lacking else {"name": metal.name()}
    if not has_cuda():
        return {"name": None}
    driver = ctypes.CDLL("nvcuda.dll" if sys.platform == "win32" else "libcuda.so.1")
    name, device = ctypes.create_string_buffer(256), ctypes.c_int()
    driver.cuDeviceGet(ctypes.byref(device), 0)
    driver.cuDeviceGetName(name, 256, device)
    return {"name": name.value.decode(errors="replace") or "a CUDA device"}


def try_gl() -> dict:
    """Draw a floor from 1 m above in a GL context, and see that it is 1 m away."""
    import numpy as np

    from previz.deliver.blocking.gl import GlContext, NoGraphicsError

    stage = _test_scene()
    try:
        with GlContext() as context:
            hits = context.first_hits(stage, stage.cameras[0], 16, 16)
            renderer = context.renderer_name()
    except NoGraphicsError as error:
        return {"failed": str(error)}
    if not np.allclose(hits.depth, 1.0, atol=1e-3):
        return {"failed": f"{renderer} draws wrongly"}
    return {"renderer": renderer}


def try_denoiser() -> dict:
    """Clean a grey picture with noise on it."""
    from types import SimpleNamespace

    import numpy as np

    from previz.exposure.denoise import denoise

    rng = np.random.default_rng(1)
    noisy = (0.5 + 0.1 * rng.standard_normal((3, 64, 64))).astype(np.float32)
    flat = np.ones((3, 64, 64), np.float32)
    aids = SimpleNamespace(shape=(64, 64), albedo=0.5 * flat, normal=flat / np.sqrt(3))
    cleaned = denoise(noisy, aids, quality="fast")
    before, after = float(noisy.std()), float(cleaned.picture.std())
    if not cleaned.applied:
        return {"failed": cleaned.note}
    if not after < before / 2:
        return {"failed": f"it leaves the noise, {before:.3f} to {after:.3f}"}
    return {"applied": True, "before": before, "after": after}


LAMP_SIDE, LAMP_HEIGHT, LAMP_LUMENS = 0.2, 1.0, 100.0
"""The lamp of the test scene: a square that hangs level over the floor. [m], [m], [lm]"""

FLOOR = 0.2
"""Reflectance of the test scene's floor. [1]"""


def _test_scene():
    """Return a grey floor under a square lamp, and a camera that points straight down at its side."""
    import numpy as np

    from previz.physics.light import LampLight
    from previz.physics.spectra import WAVELENGTHS_NM, normalise
    from previz.stage import shapes
    from previz.stage.records import Camera, Emitter, Mesh, Stage, Surface

    ones, half = np.ones_like(WAVELENGTHS_NM), LAMP_SIDE / 2
    down = np.array([[1.0, 0, 0], [0, 1, 0], [0, 0, -1]])
    floor = shapes.rectangle((0, 0, 0), (2, 0, 0), (0, 2, 0))
    face = shapes.rectangle((0, 0, LAMP_HEIGHT), (half, 0, 0), (0, -half, 0))
    lamp = Emitter(0, "lamp", *face, flat=True, world_from_light=down * [1, -1, 1])
    camera = Camera("test", down, np.array([1.0, 0, 1.0]), (0.5, 0.5), 1.0, 0.0, 1.0, 2.8, 800,
                    1 / 48, 0.0, 5600, 0.0, 0.02, (0.02, 0.02))
    return Stage("test", {"grey": Surface("grey", FLOOR * ones, 0 * ones, 0 * ones)},
                 (Mesh("floor", "grey", *floor),),
                 (LampLight("lamp", "lm", LAMP_LUMENS, normalise(ones), ones),), (lamp,),
                 cameras=(camera,))


def expected_illuminance() -> float:
    """Return the illuminance of the floor under the middle of the test scene's lamp. [lx]

    A Lambertian rectangle of exitance M lights a parallel plane under one of its corners with
    M/(2 pi) · (a/√(1+a²) · atan(b/√(1+a²)) + b/√(1+b²) · atan(a/√(1+b²))), a and b its sides over
    the distance; the middle is the corner of four quarters.

    Source
    ------
    Configuration factor of a differential element to a parallel rectangle, as in any handbook of
    radiative transfer (from memory).
    """
    import math

    a = LAMP_SIDE / 2 / LAMP_HEIGHT
    root = math.sqrt(1 + a * a)
    return 4 * LAMP_LUMENS / LAMP_SIDE**2 / (2 * math.pi) * 2 * a / root * math.atan(a / root)


def try_render(backend: str = "auto") -> dict:
    """Render the floor under the lamp and return the light that lands there."""
    import numpy as np

    from previz.engine.backend import choose
    from previz.engine.render import CameraJob, Sampling, open_stage
    from previz.errors import EngineError
    from previz.stage.views import camera_axes

    began = time.monotonic()
    stage = _test_scene()
    # From the side, so that the lamp does not hide it, and so narrow that the spot is even.
    position = np.array([0.6, 0.0, 0.8])
    camera = replace(stage.cameras[0], position=position, tan_half=(0.01, 0.01),
                     world_from_camera=camera_axes(position, np.zeros(3), 0.0))
    try:
        taken = choose(backend)
        buffers = open_stage(stage, 8, backend)
    except EngineError as error:
        return {"failed": error.message, "advice": error.advice}
    job = CameraJob(buffers, stage, camera, 16, 16, Sampling(samples=64, passes=2))
    while not job.finished:
        job.step()
    # A diffuse floor under one small lamp: L = E · reflectance / pi, the same in every band.
    radiance = float(np.mean(job.frames().slices))
    return {"backend": taken, "seconds": time.monotonic() - began,
            "measured": radiance * np.pi / FLOOR * LAMP_LUMENS,
            "expected": expected_illuminance()}


TRIALS = {"engine": try_engine, "gpu": try_gpu, "gl": try_gl, "denoiser": try_denoiser,
          "render": try_render}
"""Trials by name, each run in a process of its own."""

if __name__ == "__main__":
    print(json.dumps(TRIALS[sys.argv[1]](*sys.argv[2:])))
