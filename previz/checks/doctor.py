"""What this machine has, tried out for real, and what to install.

Whatever may end a process (an LLVM that is too old, a broken GL driver) is tried in a process of
its own, see `doctor_trials`.
"""

from __future__ import annotations

import json
import platform
import subprocess
import sys
from dataclasses import dataclass, field

PACKAGES = {
    "click": "", "numpy": "", "PyYAML": "", "pillow": "", "mitsuba": "renders",
    "drjit": "renders", "karellen-llvm-core": "renders without a GPU",
    "mitsuba-oidn": "cleans pictures", "opencolorio": "shows pictures", "OpenEXR": "writes EXR",
    "trimesh": "reads meshes", "pyrender": "draws blocking by GL",
}
"""Distributions that may be needed, and what the less obvious ones are for."""

OPTIONAL = ("karellen-llvm-core", "pyrender")
"""Distributions that something else can stand in for."""

LINUX = ("pyrender",)
"""Distributions that are of use on Linux alone."""

SYSTEM = {"libatomic.so.1": "libatomic1", "libstdc++.so.6": "libstdc++6"}
"""Libraries that the engine needs of a Linux system, and the Debian packages they come in."""

PATIENCE = 180.0
"""Longest that one trial may take. [s]"""

RENDER_WITHIN = 0.05
"""How far the test render may be from its worked value; its own noise is a fifth of that. [1]"""


@dataclass(frozen=True)
class Finding:
    """One thing that was examined.

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


def examine(backend: str = "auto") -> list[Finding]:
    """Examine everything, and try it; the test render runs on a backend of `engine.backend`."""
    return [python_found(), *packages_found(), *system_found(), *paths_found(), gpu_found(),
            *engine_found(backend), gl_found(), denoiser_found(), fonts_found(),
            render_found(backend)]


def works(findings: list[Finding]) -> bool:
    """Return whether the test render came out right."""
    return any(each.topic == "test render" and each.state == "good" for each in findings)


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
        if name in LINUX and not sys.platform.startswith("linux"):
            continue
        purpose = f" ({use})" if use else ""
        try:
            version = metadata.version(name)
            found.append(Finding(name, "good", version + purpose, values={"version": version}))
        except metadata.PackageNotFoundError:
            state = "note" if name in OPTIONAL else "missing"
            advice = "" if name in OPTIONAL else f"Install {name}: `pip install {name}`."
            found.append(Finding(name, state, f"not installed{purpose}", advice))
    return found


def system_found() -> list[Finding]:
    """Look for the system's libraries that no package of Python brings."""
    import ctypes

    found = []
    for library, package in SYSTEM.items() if sys.platform.startswith("linux") else ():
        try:
            ctypes.CDLL(library)
            found.append(Finding(library, "good", "there"))
        except OSError as error:
            found.append(Finding(library, "missing", str(error),
                                 f"Install {package}: `apt-get install {package}` (Debian)."))
    return found


def paths_found() -> list[Finding]:
    """Look whether Windows takes long paths, as those of the cache are."""
    from previz.studies.folders import LONG_PATHS, SHORT_PATH, has_long_paths

    if sys.platform != "win32":
        return []
    if has_long_paths():
        return [Finding("long paths", "good", "turned on")]
    text = (f"turned off: paths end at {SHORT_PATH} letters, so renders go only into folders near the top "
            "of a disk")
    return [Finding("long paths", "note", text, f"Turn long paths on: {LONG_PATHS}.")]


def engine_found(backend: str) -> list[Finding]:
    """Look at every LLVM library that the engine might load, and at what it would run on."""
    from previz.engine.backend import MINIMUM_LLVM

    answer = trial("engine", backend)
    found = []
    for library in answer.get("libraries", ()):
        version = ".".join(map(str, library["version"] or ())) or "of no known version"
        if library["usable"]:
            verdict = "can serve"
        else:
            verdict = library["fault"] or f"too old, {MINIMUM_LLVM} or newer is needed"
        found.append(Finding("LLVM", "good" if library["usable"] else "note",
                             f"{version}, {verdict}: {library['path']}", values=library))
    if not found:
        found.append(Finding("LLVM", "note", "none found"))
    if "failed" in answer:
        return [*found, Finding("backend", "missing", answer["failed"], answer.get("advice", ""), answer)]
    return [*found, Finding("backend", "good", answer["backend"], values=answer)]


def gpu_found() -> Finding:
    """Look for a GPU that renders can run on."""
    answer = trial("gpu")
    if answer.get("name"):
        return Finding("GPU", "good", answer["name"], values=answer)
    lacking = answer.get("lacking") or "no CUDA device"
    return Finding("GPU", "note", f"{lacking}; the processor renders", values=answer)


def gl_found() -> Finding:
    """Create a GL context and draw in it."""
    answer = trial("gl")
    if "renderer" in answer:
        return Finding("GL", "good", answer["renderer"], values=answer)
    advice = ""
    # pyrender stopped with Python 3.11; newer ones do without, and so do other systems than Linux.
    if sys.version_info < (3, 12) and sys.platform.startswith("linux"):
        advice = ("For quicker blocking drawings: `pip install pyrender`, and on Debian "
                  "`apt-get install libegl1 libgl1 libgl1-mesa-dri`.")
    return Finding("GL", "note", f"none ({answer['failed']}); the engine finds the shapes instead",
                   advice, answer)


def denoiser_found() -> Finding:
    """Clean a tiny noisy picture."""
    answer = trial("denoiser")
    if answer.get("applied"):
        return Finding("denoiser", "good", f"noise {answer['before']:.3f} to {answer['after']:.3f}",
                       values=answer)
    return Finding("denoiser", "missing", answer["failed"],
                   "If mitsuba-oidn is missing: `pip install mitsuba-oidn`.", answer)


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
    answer = trial("render", backend)
    if "failed" in answer:
        advice = answer.get("advice") or (
            "If an LLVM library above is at fault, set DRJIT_LIBLLVM_PATH to another one, version "
            "19 or newer; `pip install karellen-llvm-core` brings one on Linux x86-64.")
        if backend != "processor" and sys.platform == "darwin":
            advice += " If it is the GPU, `--backend processor` does without it."
        return Finding("test render", "missing", answer["failed"], advice, answer)
    off = answer["measured"] / answer["expected"] - 1
    text = (f"{answer['backend']}, {answer['seconds']:.1f} s with start-up; "
            f"{answer['measured']:.4f} for {answer['expected']:.4f} lx ({off:+.1%})")
    if abs(off) > RENDER_WITHIN:
        return Finding("test render", "missing", f"wrong light: {text}",
                       "Tell the maintainers, with this page: `previz doctor --json`.", answer)
    return Finding("test render", "good", text, values=answer)


def trial(name: str, *arguments: str, patience: float = PATIENCE) -> dict:
    """Return what one of `doctor_trials.TRIALS` found, run in a process of its own.

    There is 'failed' in it, in words, if it did not come to its end, within its patience. [s]
    """
    order = [sys.executable, "-P", "-m", "previz.checks.doctor_trials", name, *arguments]
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
    if done.returncode > 0xFFFF:
        # Windows ends a process with what its exception is called by.
        return {"failed": f"ended the process with 0x{done.returncode:08X}{why}"}
    return {"failed": f"ended with status {done.returncode}{why}"}
