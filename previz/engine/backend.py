"""Find a backend for the engine and start it once.

The engine runs on Dr.Jit: on a CUDA GPU, or on the processor through the LLVM library. An LLVM
that is too old does not raise an error, it ends the process, so its version is asked for before
the engine is imported.
"""

from __future__ import annotations

import ctypes
import functools
import glob
import importlib
import os
import sys
from dataclasses import dataclass
from importlib import metadata

from previz.errors import EngineError

MINIMUM_LLVM = 19
"""Oldest LLVM that is known to run the engine; 15 and 16 abort the process."""

VARIANTS = {"llvm": "llvm_ad_rgb", "cuda": "cuda_ad_rgb"}

ADVICE = (
    "Install one: `pip install karellen-llvm-core` (Linux on x86-64), or LLVM 19 or newer from "
    "your system (Debian: `apt-get install libllvm19`; macOS: `brew install llvm`), and set "
    "DRJIT_LIBLLVM_PATH to its library if it is not found by itself. `previz doctor` shows what "
    "was looked at. Checking scenes and mixing cached frames work without it."
)


@dataclass(frozen=True)
class Library:
    """One LLVM library that was looked at.

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
        "/opt/homebrew/opt/llvm/lib/libLLVM.dylib",
        "/usr/local/opt/llvm/lib/libLLVM.dylib",
    )
    for pattern in patterns:
        found += sorted((os.path.realpath(p) for p in glob.glob(pattern)), reverse=True)
    return list(dict.fromkeys(p for p in found if os.path.exists(p)))


def _version(path: str) -> tuple[int, ...] | None:
    """Ask a library for its version through its C interface; None where it does not say."""
    try:
        ask = ctypes.CDLL(path).LLVMGetVersion
    except (OSError, AttributeError):
        return None
    parts = [ctypes.c_uint() for _ in range(3)]
    ask(*(ctypes.byref(part) for part in parts))
    return tuple(part.value for part in parts)


def libraries() -> list[Library]:
    """Return every LLVM library found, most trusted first, with whether it can serve."""
    looked = []
    for path in _candidates():
        version = _version(path)
        looked.append(Library(path, version, version is not None and version[0] >= MINIMUM_LLVM))
    return looked


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


def choose(backend: str = "auto") -> str:
    """Return 'cuda' or 'llvm' for what was asked ('auto', 'cuda', 'llvm').

    Raises
    ------
    EngineError
        The backend asked for, or any at all, is not there.
    """
    if backend in ("auto", "cuda") and has_cuda():
        return "cuda"
    if backend == "cuda":
        raise EngineError("No CUDA device was found.", "Use `--backend llvm`, or check the driver.")
    usable = [library for library in libraries() if library.usable]
    if not usable:
        raise EngineError("Rendering needs the LLVM library, and none that can serve was found.",
                          ADVICE)
    os.environ["DRJIT_LIBLLVM_PATH"] = usable[0].path
    return "llvm"


@functools.cache
def _started(variant: str):
    drjit = importlib.import_module("drjit")
    mitsuba = importlib.import_module("mitsuba")
    mitsuba.set_variant(variant)
    mitsuba.set_log_level(mitsuba.LogLevel.Error)
    threads = os.environ.get("PREVIZ_THREADS")
    if threads and variant.startswith("llvm"):
        drjit.set_thread_count(int(threads))
    return mitsuba, drjit


def start(backend: str = "auto"):
    """Start the engine and return (mitsuba, drjit), set to one variant.

    Parameters
    ----------
    backend : {'auto', 'llvm', 'cuda'}

    Raises
    ------
    EngineError
        No backend can serve, or the package is not installed.
    """
    variant = VARIANTS[choose(backend)]
    try:
        return _started(variant)
    except ImportError as error:
        raise EngineError(f"The engine could not be loaded: {error}.",
                          "Install it: `pip install mitsuba`.") from error
