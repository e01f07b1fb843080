"""Find what the engine can run on, and start it once.

The engine runs on Dr.Jit: on a GPU through CUDA or, on a Mac, Metal, or on the processor through the
LLVM library. An LLVM that is too old does not raise an error, it ends the process, so its version is
read before the renderer's libraries are imported. Modules that need them take them from `engine.jit`,
which starts the engine; whoever lets the user choose calls `start` before a stage goes to the device.
"""

from __future__ import annotations

import ctypes
import functools
import glob
import importlib
import importlib.util
import os
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from importlib import metadata
from pathlib import Path
from types import ModuleType

from previz.engine import metal
from previz.errors import EngineError

MINIMUM_LLVM = 19
"""Oldest LLVM that is known to run the engine; 15 and 16 abort the process."""

LLVM, CUDA, METAL = "llvm_ad_rgb", "cuda_ad_rgb", "metal_ad_rgb"
"""The renderer's own names of what it runs on."""

BACKENDS = ("auto", "processor", "gpu")
FORMER = {"llvm": "processor", "cuda": "gpu"}
"""Words of earlier versions, and what is written now."""

WORDS = {LLVM: "the processor", CUDA: "the GPU", METAL: "the GPU"}

LEAST_THREADS = 2
"""See `set_threads`."""

ADVICE = (
    "Install one: `pip install karellen-llvm-core` (Linux on x86-64), or LLVM 19 or newer from "
    "your system (Debian: `apt-get install libllvm19`; macOS: `brew install llvm`; Windows: `winget install "
    "LLVM.LLVM`), and set "
    "DRJIT_LIBLLVM_PATH to its library if it is not found by itself. `previz doctor` shows what "
    "was examined. Checking scenes and mixing cached frames work without it."
)


@dataclass(frozen=True)
class Library:
    """One LLVM library that was examined.

    Parameters
    ----------
    path : str
    version : tuple of int, or None
        None where the library does not say, as those before 16 do not.
    usable : bool
    """

    path: str
    version: tuple[int, ...] | None
    usable: bool


@functools.cache
def _packaged() -> tuple[str, ...]:
    """Return paths of LLVM libraries that came as Python packages, whose lists take long to read."""
    found = []
    for package in ("karellen-llvm-core", "llvm-nanobind"):
        try:
            files = metadata.files(package) or []
        except metadata.PackageNotFoundError:
            continue
        named = [f for f in files if "libLLVM" in f.name or f.name in ("LLVM.dll", "LLVM-C.dll")]
        found += [str(f.locate().resolve()) for f in named]
    return tuple(found)


def _candidates() -> list[str]:
    """Return paths of LLVM libraries, most trusted first."""
    found = []
    if os.environ.get("DRJIT_LIBLLVM_PATH"):
        found.append(os.environ["DRJIT_LIBLLVM_PATH"])
    found += _packaged()
    patterns = (
        f"{sys.prefix}/lib/libLLVM.so*",
        "/usr/lib/*/libLLVM*.so*",
        "/usr/lib/llvm-*/lib/libLLVM*.so*",
        "/usr/lib64/libLLVM*.so*",
        # Homebrew, its versioned packages, MacPorts.
        f"{sys.prefix}/lib/libLLVM*.dylib",
        "/opt/homebrew/opt/llvm/lib/libLLVM.dylib",
        "/opt/homebrew/opt/llvm@*/lib/libLLVM.dylib",
        "/usr/local/opt/llvm/lib/libLLVM.dylib",
        "/opt/local/libexec/llvm-*/lib/libLLVM.dylib",
        # The LLVM project's installer for Windows; Dr.Jit takes its C interface there.
        f"{sys.prefix}/Library/bin/LLVM-C.dll",
        *(f"{os.environ[name]}/LLVM/bin/LLVM-C.dll" for name in ("ProgramFiles", "ProgramW6432")
          if os.environ.get(name)),
    )
    for pattern in patterns:
        found += sorted((os.path.realpath(p) for p in glob.glob(pattern)), reverse=True)
    return list(dict.fromkeys(p for p in found if os.path.exists(p)))


def _version(path: str) -> tuple[int, ...] | None:
    """Return a library's version by its C interface; None where it does not say."""
    try:
        version = ctypes.CDLL(path).LLVMGetVersion
    except (OSError, AttributeError):
        return None
    parts = [ctypes.c_uint() for _ in range(3)]
    version(*(ctypes.byref(part) for part in parts))
    return tuple(part.value for part in parts)


def libraries() -> Iterator[Library]:
    """Yield every LLVM library found, most trusted first, with whether it can serve.

    To read a version the whole library is loaded, so each is examined when it is asked for.
    """
    for path in _candidates():
        version = _version(path)
        yield Library(path, version, version is not None and version[0] >= MINIMUM_LLVM)


def has_cuda() -> bool:
    """Return True where the NVIDIA driver can be loaded and shows a device."""
    for name in ("libcuda.so.1", "nvcuda.dll"):
        try:
            driver = ctypes.CDLL(name)
        except OSError:
            continue
        count = ctypes.c_int()
        if driver.cuInit(0) == 0 and driver.cuDeviceGetCount(ctypes.byref(count)) == 0:
            return count.value > 0
    return False


def without_metal() -> str:
    """Return why Metal cannot serve here, in words; '' where it can."""
    found = metal.lacking()
    return found or ("" if _offered(METAL) else "an engine that was built without Metal")


def _offered(variant: str) -> bool:
    """Return whether the installed engine has a variant, by its own list: to import it would settle more."""
    found = importlib.util.find_spec("mitsuba")
    if found is None or found.origin is None:
        return False
    try:
        return f"'{variant}'" in Path(found.origin).with_name("config.py").read_text(encoding="utf-8")
    except OSError:
        return False


@functools.cache
def has_metal() -> bool:
    """Return True on a Mac whose GPU the engine can run on."""
    return not without_metal()


def gpu() -> str | None:
    """Return the variant that runs on the GPU here, CUDA before Metal; None without a GPU that can serve."""
    if has_cuda():
        return CUDA
    return METAL if has_metal() else None


def variant_of(backend: str) -> str:
    """Return the variant for 'gpu' or 'processor', as `choose` gives it."""
    return LLVM if backend == "processor" else gpu() or CUDA


def choose(backend: str = "auto") -> str:
    """Return 'gpu' or 'processor' for a request ('auto', 'gpu' or 'processor').

    Raises
    ------
    EngineError
        The backend requested, or any at all, is not there, or there is no such backend.
    """
    if backend not in BACKENDS:
        raise EngineError(f"There is no backend '{backend}'.",
                          f"Write '{FORMER[backend]}'." if backend in FORMER else
                          "Write 'auto', 'processor' or 'gpu'.")
    if backend in ("auto", "gpu") and gpu():
        return "gpu"
    if backend == "gpu" and sys.platform == "darwin":
        raise EngineError(f"The GPU of this Mac cannot serve: {without_metal()}.",
                          "Use `--backend processor`.")
    if backend == "gpu":
        raise EngineError("No CUDA device was found.",
                          "Use `--backend processor`, or check the driver.")
    usable = next((library for library in libraries() if library.usable), None)
    if usable is None:
        raise EngineError("Rendering needs the LLVM library, and none that can serve was found.",
                          ADVICE)
    os.environ["DRJIT_LIBLLVM_PATH"] = usable.path
    return "processor"


def runs_on(backend: str = "auto") -> str:
    """Return what a request will run on, 'gpu' or 'processor', without starting it."""
    if _engine.settled:
        return "processor" if _engine.variant == LLVM else "gpu"
    return "gpu" if backend != "processor" and gpu() else "processor"


def running() -> str | None:
    """Return the renderer's own name of what this process runs on; None before it was started."""
    return _engine.variant


@dataclass
class _Engine:
    """What this process runs on, and whether a stage may lie there already."""

    variant: str | None = None
    settled: bool = False


_engine = _Engine()


def load(variant: str | None = None) -> tuple[ModuleType, ModuleType]:
    """Return (mitsuba, drjit), started.

    Parameters
    ----------
    variant : str, optional
        One of the renderer's own; by default the one that runs, or the one that `choose` returns.

    Raises
    ------
    EngineError
        No backend can serve, or the package is not installed.
    """
    variant = variant or _engine.variant or variant_of(choose())
    try:
        drjit = importlib.import_module("drjit")
        mitsuba = importlib.import_module("mitsuba")
        if variant == _engine.variant:
            return mitsuba, drjit
        mitsuba.set_variant(variant)
    except ImportError as error:
        raise EngineError(f"The engine could not be loaded: {error}.",
                          "Install it: `pip install mitsuba`.") from error
    mitsuba.set_log_level(mitsuba.LogLevel.Error)
    if variant == LLVM:
        set_threads(drjit)
    _engine.variant = variant
    return mitsuba, drjit


def set_threads(drjit: ModuleType) -> None:
    """Have the engine run on as many threads as PREVIZ_THREADS says, or there are cores.

    They are two at least: a single one works in the thread that calls, which keeps numbers under the smallest
    normal one, and the engine's own threads take them for 0. So tails of light had other last bits.
    """
    threads = int(os.environ.get("PREVIZ_THREADS") or drjit.thread_count())
    drjit.set_thread_count(max(threads, LEAST_THREADS))


def start(backend: str = "auto") -> tuple[ModuleType, ModuleType]:
    """Settle what this process renders on, and return (mitsuba, drjit).

    Parameters
    ----------
    backend : {'auto', 'processor', 'gpu'}
        'auto' takes what runs already, or else the GPU where there is one.

    Raises
    ------
    EngineError
        No backend can serve, the package is not installed, or the process has settled on the other.
    """
    if _engine.settled and backend == "auto":
        return load()
    variant = variant_of(choose(backend))
    if _engine.settled and variant != _engine.variant:
        raise EngineError(f"This process renders on {WORDS[_engine.variant]} already.",
                          f"Start another one for {WORDS[variant]}.")
    started = load(variant)
    _engine.settled = True
    return started
