"""`previz doctor`: what this machine has, tried out for real, and what to install.

Whatever may end a process (an LLVM that is too old, a broken GL driver) is tried in a process of
its own: `python -m previz.app.doctor TRIAL` runs one trial and prints what it found as JSON.
"""

from __future__ import annotations

import json
import platform
import subprocess
import sys
import time
from dataclasses import asdict, dataclass, field

import click

PACKAGES = {
    "click": "", "numpy": "", "PyYAML": "", "pillow": "", "mitsuba": "renders",
    "drjit": "renders", "karellen-llvm-core": "renders without a GPU",
    "mitsuba-oidn": "cleans pictures", "opencolorio": "shows pictures", "OpenEXR": "writes EXR",
    "trimesh": "reads meshes", "pyrender": "draws blocking by GL",
}
"""Distributions that are looked for, and what the less obvious ones are for."""

OPTIONAL = ("karellen-llvm-core", "pyrender")
"""Distributions that something else can stand in for."""

PATIENCE = 180.0
"""Longest that one trial may take. [s]"""

RENDER_WITHIN = 0.05
"""How far the test render may be from its worked value; its own noise is a fifth of that. [1]"""


@dataclass(frozen=True)
class Finding:
    """One thing that was looked at.

    Parameters
    ----------
    topic : str
        What it is.
    state : {'good', 'missing', 'note'}
        Whether it serves; a note is neither good nor bad.
    text : str
        What was found.
    advice : str
        What to install or do; '' for nothing.
    values : dict
        The same as plain JSON values.
    """

    topic: str
    state: str
    text: str
    advice: str = ""
    values: dict = field(default_factory=dict)


@click.command()
@click.option("--json", "as_json", is_flag=True, help="Print the findings as JSON.")
@click.option("--backend", type=click.Choice(["auto", "llvm", "cuda"]), default="auto",
              show_default=True, help="What the test render runs on.")
def command(as_json, backend):
    """Look at this machine: Python, packages, LLVM, GPU, GL, denoiser, fonts, and a test render.

    Says what to install for whatever is missing. Ends with 0 if rendering works, else with 1.
    """
    findings = examine(backend)
    works = any(each.topic == "test render" and each.state == "good" for each in findings)
    if as_json:
        told = {"rendering": works, "findings": [asdict(each) for each in findings]}
        click.echo(json.dumps(told, indent=1, ensure_ascii=False))
    else:
        click.echo(as_text(findings, works))
    if not works:
        raise click.exceptions.Exit(1)


def examine(backend: str = "auto") -> list[Finding]:
    """Look at everything, and try it.

    Parameters
    ----------
    backend : {'auto', 'llvm', 'cuda'}
        What the test render runs on.
    """
    return [python_found(), *packages_found(), gpu_found(), *engine_found(backend), gl_found(),
            denoiser_found(), fonts_found(), render_found(backend)]


def as_text(findings, works: bool) -> str:
    """Return findings as aligned lines, and what to do below them."""
    width = max(len(each.topic) for each in findings)
    marks = {"good": "good   ", "missing": "MISSING", "note": "       "}
    lines = [f"{each.topic:{width}}  {marks[each.state]}  {each.text}" for each in findings]
    advice = list(dict.fromkeys(each.advice for each in findings if each.advice))
    if advice:
        lines += ["", "What to do:", *(f"  - {each}" for each in advice)]
    lines += ["", "Rendering works." if works else
              "Rendering does not work here. Checking scenes does."]
    return "\n".join(lines)


def python_found() -> Finding:
    """Say which Python this is."""
    text = f"{platform.python_version()} at {sys.executable}, {platform.platform()}"
    return Finding("Python", "good", text, values={"version": platform.python_version(),
                                                   "platform": platform.platform()})


def packages_found() -> list[Finding]:
    """Look for the packages that previz uses."""
    from importlib import metadata

    found = []
    for name, use in PACKAGES.items():
        purpose = f" ({use})" if use else ""
        try:
            version = metadata.version(name)
            found.append(Finding(name, "good", version + purpose, values={"version": version}))
        except metadata.PackageNotFoundError:
            state = "note" if name in OPTIONAL else "missing"
            advice = "" if name in OPTIONAL else f"Install {name}: `pip install {name}`."
            found.append(Finding(name, state, f"not installed{purpose}", advice))
    return found


def engine_found(backend: str) -> list[Finding]:
    """Look at every LLVM library that the engine might load, and at what it would run on."""
    from previz.engine.backend import MINIMUM_LLVM

    told = trial("engine", backend)
    found = []
    for library in told.get("libraries", ()):
        version = ("of unknown version" if library["version"] is None
                   else ".".join(map(str, library["version"])))
        usable = library["usable"]
        verdict = "can serve" if usable else f"too old, {MINIMUM_LLVM} or newer is needed"
        found.append(Finding("LLVM", "good" if usable else "note",
                             f"{version}, {verdict}: {library['path']}", values=library))
    if not found:
        found.append(Finding("LLVM", "note", "none found"))
    if "failed" in told:
        return [*found, Finding("backend", "missing", told["failed"], told.get("advice", ""), told)]
    return [*found, Finding("backend", "good", told["backend"], values=told)]


def gpu_found() -> Finding:
    """Look for a CUDA GPU."""
    told = trial("gpu")
    if told.get("name"):
        return Finding("GPU", "good", told["name"], values=told)
    return Finding("GPU", "note", "no CUDA device; the processor renders", values=told)


def gl_found() -> Finding:
    """Create a GL context and draw in it."""
    told = trial("gl")
    if "renderer" in told:
        return Finding("GL", "good", told["renderer"], values=told)
    advice = ("For quicker blocking drawings install GL: `apt-get install libegl1 libgl1 "
              "libgl1-mesa-dri` (Debian) and, on Python 3.11, `pip install pyrender`.")
    return Finding("GL", "note", f"none ({told['failed']}); the engine finds the shapes instead",
                   advice, told)


def denoiser_found() -> Finding:
    """Clean a tiny noisy picture."""
    told = trial("denoiser")
    if told.get("applied"):
        return Finding("denoiser", "good", f"noise {told['before']:.3f} to {told['after']:.3f}",
                       values=told)
    return Finding("denoiser", "missing", f"does not work ({told['failed']})",
                   "Install it, `pip install mitsuba-oidn`, or render more samples.", told)


def fonts_found() -> Finding:
    """Measure a word in the fonts that come with previz."""
    try:
        from previz.deliver.canvas import width_of

        widths = {weight: width_of("Camera A", 16, weight) for weight in ("regular", "strong")}
    # The picture library raises many kinds of error for a font that it cannot read.
    except Exception as error:
        return Finding("fonts", "missing", f"cannot be read ({error})",
                       "Install previz again: its own font files are damaged or missing.")
    return Finding("fonts", "good", "Lato, two weights", values=widths)


def render_found(backend: str) -> Finding:
    """Render a tiny scene whose result is known."""
    told = trial("render", backend)
    if "failed" in told:
        advice = told.get("advice") or (
            "If an LLVM library above is at fault, set DRJIT_LIBLLVM_PATH to another one, version "
            "19 or newer; `pip install karellen-llvm-core` brings one on Linux x86-64.")
        return Finding("test render", "missing", told["failed"], advice, told)
    off = told["measured"] / told["expected"] - 1
    text = (f"{told['backend']}, {told['seconds']:.1f} s with start-up; "
            f"{told['measured']:.4f} for {told['expected']:.4f} lx ({off:+.1%})")
    if abs(off) > RENDER_WITHIN:
        return Finding("test render", "missing", f"wrong light: {text}",
                       "Tell the maintainers, with this page: `previz doctor --json`.", told)
    return Finding("test render", "good", text, values=told)


def trial(name: str, *arguments: str, patience: float = PATIENCE) -> dict:
    """Run one trial in a process of its own and return what it found.

    Parameters
    ----------
    name : str
        One of `TRIALS`.
    *arguments : str
        For the trial.
    patience : float
        Longest that it may take. [s]

    Returns
    -------
    dict
        With 'failed' in it, in words, if the trial did not come to its end.
    """
    order = [sys.executable, "-m", "previz.app.doctor", name, *arguments]
    try:
        done = subprocess.run(order, capture_output=True, text=True, errors="replace",
                              timeout=patience, stdin=subprocess.DEVNULL)
    except subprocess.TimeoutExpired:
        return {"failed": f"gave no answer within {patience:.0f} s"}
    except OSError as error:
        return {"failed": f"could not be started: {error}"}
    answers = [line for line in done.stdout.splitlines() if line.startswith("{")]
    if done.returncode == 0 and answers:
        return json.loads(answers[-1])
    last = [line.strip() for line in done.stderr.splitlines() if line.strip()]
    why = f": {last[-1]}" if last else ""
    if done.returncode < 0:
        return {"failed": f"ended the process with signal {-done.returncode}{why}"}
    return {"failed": f"ended with status {done.returncode}{why}"}


def try_engine(backend: str = "auto") -> dict:
    """Return the LLVM libraries found and the backend that would be taken."""
    from previz.engine.backend import choose, libraries
    from previz.errors import EngineError

    told = {"libraries": [asdict(library) for library in libraries()]}
    try:
        return {**told, "backend": choose(backend)}
    except EngineError as error:
        return {**told, "failed": error.message, "advice": error.advice}


def try_gpu() -> dict:
    """Return the name of the first CUDA device."""
    import ctypes

    from previz.engine.backend import has_cuda

    if not has_cuda():
        return {"name": None}
    driver = ctypes.CDLL("nvcuda.dll" if sys.platform == "win32" else "libcuda.so.1")
    name, device = ctypes.create_string_buffer(256), ctypes.c_int()
    driver.cuDeviceGet(ctypes.byref(device), 0)
    driver.cuDeviceGetName(name, 256, device)
    return {"name": name.value.decode(errors="replace") or "a CUDA device"}


def try_gl() -> dict:
    """Look at a floor from 1 m above in a GL context, and see that it is 1 m away."""
    import numpy as np

    from previz.deliver.blocking_hits import GlEye, NoGraphicsError

    stage = _test_scene()
    try:
        with GlEye() as eye:
            hits = eye.first_hits(stage, stage.cameras[0], 16, 16)
            renderer = eye.renderer_name()
    except NoGraphicsError as error:
        return {"failed": str(error).splitlines()[0]}
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
    """Return a grey floor under a square lamp, and a camera that looks straight down beside it."""
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
    """Render the floor under the lamp and tell the light that lands there."""
    from dataclasses import replace

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
