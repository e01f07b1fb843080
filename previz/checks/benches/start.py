"""How long it takes to begin: the command line, a cold render step by step, a scene's first picture."""

from __future__ import annotations

import http.client
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from urllib.parse import urlsplit

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


SOON = 120.0
"""A picture that takes longer is none that comes soon. [s]"""


def light(setting: Setting) -> tuple[dict, dict]:
    """Return how long it takes to the first picture of a scene, of commands in processes of their own.

    'first_light_s' is a render with no kernel compiled before, 'warm_light_s' one with them there and nothing
    of the scene, 'cached_light_s' one of which all is there but the still. Besides, the page: until it has
    frames to show.
    """
    words = [str(setting.scene), *(["--option", setting.option] if setting.option else [])]
    with tempfile.TemporaryDirectory() as home:
        folder = Path(home)

        def render(name: str, *more: str) -> float:
            out = folder / name
            return _until(_still_in(out), ["render", *words, "--out", str(out), *more], home)

        keys = {"first_light_s": render("cold"), "warm_light_s": render("warm")}
        small = ["--size", "320", "--samples", "2", "--no-exr"]
        _run(["render", *words, "--out", str(folder / "kept"), *small], home).wait()
        for still in (folder / "kept").glob("*.png"):
            still.unlink()
        keys["cached_light_s"] = render("kept", *small)
        if setting.quick:
            return keys, {}
        page = _until(_frames_of, ["page", *words, "--no-open", "--out", str(folder / "page")], home)
        return keys, {"warm_page_s": page}


def _still_in(folder: Path) -> Callable[[subprocess.Popen], bool]:
    return lambda process: any(folder.glob("*.png"))


def _frames_of(process: subprocess.Popen) -> bool:
    """Return whether a page has frames to show; it says its address first."""
    if not hasattr(process, "address"):
        process.address = urlsplit(process.stdout.readline().decode().strip())
    asked = http.client.HTTPConnection(process.address.netloc, timeout=SOON)
    try:
        asked.request("GET", f"{process.address.path}frames.json")
        return json.loads(asked.getresponse().read()).get("key") is not None
    except (OSError, ValueError, http.client.HTTPException):
        return False
    finally:
        asked.close()


def _run(words: list[str], home: str) -> subprocess.Popen:
    """Start a command whose compiled kernels are kept in a folder of their own."""
    own = {**os.environ, "HOME": home, "DRJIT_CACHE_DIR": home}
    return subprocess.Popen([sys.executable, "-P", "-m", "previz", *words], stdout=subprocess.PIPE,
                            stderr=subprocess.DEVNULL, env=own)


def _until(seen: Callable[[subprocess.Popen], bool], words: list[str], home: str) -> float:
    """Return the time from the start of a command until something of it is seen; it is ended then. [s]

    Raises
    ------
    TimeoutError
        It has ended, or gone on for too long, without that.
    """
    began = time.perf_counter()
    process = _run(words, home)
    try:
        while not seen(process):
            if process.poll() is not None or time.perf_counter() - began > SOON:
                raise TimeoutError(f"`previz {' '.join(words)}` has shown no picture")
            time.sleep(0.005)
        return time.perf_counter() - began
    finally:
        process.terminate()
        process.communicate()


def _least(words: list[str], repeats: int) -> float:
    """Return the least time of a command in a process of its own. [s]"""
    times = []
    for _ in range(repeats):
        began = time.perf_counter()
        subprocess.run([sys.executable, "-m", "previz", *words], stdout=subprocess.DEVNULL,
                       stderr=subprocess.DEVNULL, check=True)
        times.append(time.perf_counter() - began)
    return min(times)
