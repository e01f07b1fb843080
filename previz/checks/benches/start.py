"""How long it takes to begin: the command line, and a cold render step by step."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import time

from previz.checks.benches.setting import Setting

COLD = """
import json, sys, time
spent, began = {}, time.perf_counter()
def lap(name):
    global began
    now = time.perf_counter()
    spent[name] = spent.get(name, 0.0) + now - began
    began = time.perf_counter()
scene, option, width, height, samples, bands, out = sys.argv[1:]
width, height, samples, bands = int(width), int(height), int(samples), int(bands)
from pathlib import Path
import previz.studies.render
from previz.scene.read import load
lap("imports")
from previz.stage.build import build_stage
stage = build_stage(load(Path(scene)).scene(option or None))
camera = stage.cameras[0]
lap("build")
from previz.engine import backend
backend.start()
from previz.engine.render import CameraJob, Sampling, open_stage
lap("engine")
buffers = open_stage(stage, bands)
lap("upload")
CameraJob(buffers, stage, camera, 16, 9, Sampling(1, 1)).step()
lap("compile")
job = CameraJob(buffers, stage, camera, width, height, Sampling(samples, 1))
job.step()
lap("trace")
frames = job.frames()
lap("planes")
from previz import frames as fr
from previz.exposure.camera import settings_of
from previz.deliver.map import exposure_map, write_map
from previz.deliver.atomic import write_still
from previz.exposure.picture import develop
settings = settings_of(camera)
developed = develop(frames, stage.lamps, settings)
lap("denoise")
fr.write(Path(out) / "frames", frames)
write_still(Path(out) / "still.png", developed.still, {})
write_map(Path(out) / "map.png", exposure_map(developed.signal, frames.names_index),
          title="Bench", subject="A", settings=settings, words={})
lap("write")
print(json.dumps(spent))
"""


def start(setting: Setting) -> tuple[dict, dict]:
    """Return 'help_s' and 'check_s', and the steps of a render with no kernel compiled before."""
    repeats = 3 if setting.quick else 7
    keys = {"help_s": _least(["--help"], repeats),
            "check_s": _least(["check", str(setting.scene)], repeats)}
    with tempfile.TemporaryDirectory() as folder:
        # Compiled kernels are kept under the home folder, or where Dr.Jit is told.
        done = subprocess.run(
            [sys.executable, "-c", COLD, str(setting.scene), setting.option,
             *map(str, setting.size), str(setting.samples), str(setting.bands), folder],
            env={**os.environ, "HOME": folder, "DRJIT_CACHE_DIR": folder},
            capture_output=True, text=True, check=False)
    if done.returncode:
        return keys, {"cold_failed": done.stderr[-500:]}
    return keys, {"cold_seconds": json.loads(done.stdout.splitlines()[-1])}


def _least(words: list[str], repeats: int) -> float:
    """Return the least time of a command in a process of its own. [s]"""
    times = []
    for _ in range(repeats):
        began = time.perf_counter()
        subprocess.run([sys.executable, "-m", "previz", *words], stdout=subprocess.DEVNULL,
                       stderr=subprocess.DEVNULL, check=True)
        times.append(time.perf_counter() - began)
    return min(times)
