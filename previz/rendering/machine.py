"""What this machine has left: memory by every limit that is set to it, room on a disk, size of files."""

from __future__ import annotations

import contextlib
import ctypes
import os
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

try:
    import resource
except ImportError:  # Elsewhere than on POSIX; no limits are set there.
    resource = None  # type: ignore[assignment]

PROC, CGROUPS = Path("/proc"), Path("/sys/fs/cgroup")


class Left(NamedTuple):
    """How much is left of something. [byte]

    `why` says what limits it and `advice` what can be done, in words; `mapped` is true where mapped files
    count too.
    """

    size: float
    why: str
    advice: str = "Raise the limit."
    mapped: bool = False


def memory_left() -> list[Left]:
    """Return what is left of memory by each limit that is known; none where the system says nothing.

    Source: Linux proc(5), MemAvailable; cgroups(7) and the kernel's admin guide, memory.max and memory.stat
    (files in memory are taken back when needed); getrlimit(2); macOS sysconf(3), _SC_PHYS_PAGES; Microsoft,
    MEMORYSTATUSEX, ullAvailPageFile (the most that a process can still take).
    """
    if sys.platform == "darwin":
        return [*_of_mac(), *_of_process()]
    if sys.platform == "win32":
        return [*_of_windows()]
    return [*_of_machine(), *_of_groups(), *_of_process()]


def disk_left(folder: Path) -> float | None:
    """Return how much can be written to a folder that is there or to be made, None where unknown. [byte]"""
    there = Path(os.path.abspath(folder))
    while not there.exists() and there != there.parent:
        there = there.parent
    try:
        return float(shutil.disk_usage(there).free)
    except OSError:
        return None


def largest_file() -> float | None:
    """Return how large a file may be, None without a limit. [byte]"""
    return _limit("RLIMIT_FSIZE")


def gpu_left() -> float | None:
    """Return the free memory of the GPU that is used first, None where the driver does not say. [byte]

    Source: NVML API reference, nvmlDeviceGetMemoryInfo.
    """
    try:
        library = ctypes.CDLL("nvml.dll" if sys.platform == "win32" else "libnvidia-ml.so.1")
    except OSError:
        return None
    device, about = ctypes.c_void_p(), (ctypes.c_ulonglong * 3)()
    first = os.environ.get("CUDA_VISIBLE_DEVICES", "0").split(",")[0]
    number = int(first) if first.isdecimal() else 0
    fine = (library.nvmlInit_v2() == 0
            and library.nvmlDeviceGetHandleByIndex_v2(number, ctypes.byref(device)) == 0
            and library.nvmlDeviceGetMemoryInfo(device, about) == 0)
    # In this order: all, free, used.
    return float(about[1]) if fine else None


def used() -> tuple[float, float]:
    """Return (memory of its own, addresses) that this process has already. [byte]"""
    about = _numbers(PROC / "self" / "status")
    return about.get("RssAnon", 0.0) * 1024, about.get("VmSize", 0.0) * 1024


def _of_machine() -> Iterator[Left]:
    about = _numbers(PROC / "meminfo")
    if "MemAvailable" in about:
        yield Left(1024 * (about["MemAvailable"] + about.get("SwapFree", 0.0)), "are free on this machine",
                   "Close other programs.")


def _of_mac() -> Iterator[Left]:
    """Yield all the memory of a Mac: how much of it is free hangs on swap files, which grow."""
    with contextlib.suppress(OSError, ValueError, AttributeError):
        yield Left(float(os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")), "are in this machine",
                   "Take a larger machine.")


class _MemoryStatus(ctypes.Structure):
    """MEMORYSTATUSEX: its size, the share in use [percent], then seven sizes. [byte]"""

    _fields_ = (("length", ctypes.c_uint32), ("load", ctypes.c_uint32), ("sizes", ctypes.c_uint64 * 7))


def _of_windows() -> Iterator[Left]:
    """Yield what Windows still lets a process take: free memory and page files."""
    about = _MemoryStatus(length=ctypes.sizeof(_MemoryStatus))
    with contextlib.suppress(AttributeError, OSError):
        if ctypes.windll.kernel32.GlobalMemoryStatusEx(ctypes.byref(about)):  # type: ignore[attr-defined]
            # In this order: physical, free of it, page files, free of them, addresses, free, extended.
            yield Left(float(about.sizes[3]), "are free on this machine", "Close other programs.")


def _of_groups() -> Iterator[Left]:
    """Yield what is left of control groups, in which containers and batch queues run."""
    lines: list[str] = []
    with contextlib.suppress(OSError):
        lines = (PROC / "self" / "cgroup").read_text().splitlines()
    for line in lines:
        kinds, path = line.split(":", 2)[1:]
        if kinds and "memory" not in kinds.split(","):
            continue
        base = CGROUPS / "memory" if kinds else CGROUPS
        names = ("limit_in_bytes", "usage_in_bytes") if kinds else ("max", "current")
        inner = base / path.lstrip("/")
        for folder in (each for each in (inner, *inner.parents) if each.is_relative_to(base)):
            most, now = (_number(folder / f"memory.{name}") for name in names)
            if most is not None and now is not None and most < 1 << 60:
                about = _numbers(folder / "memory.stat")
                files = sum(about.get(f"{'total_' if kinds else ''}{key}", 0.0)
                            for key in ("inactive_file", "active_file"))
                yield Left(max(most - now + min(files, now), 0.0), "are left to this container")


def _of_process() -> Iterator[Left]:
    own, addresses = used()
    most = _limit("RLIMIT_AS")
    if most is not None:
        yield Left(max(most - addresses, 0.0), "are left by this shell's limit (`ulimit -v`)", mapped=True)
    most = _limit("RLIMIT_DATA")
    if most is not None:
        yield Left(max(most - own, 0.0), "are left by this shell's limit (`ulimit -d`)")


def _limit(name: str) -> float | None:
    if resource is None:
        return None
    soft = resource.getrlimit(getattr(resource, name))[0]
    return None if soft == resource.RLIM_INFINITY else float(soft)


def _number(path: Path) -> float | None:
    """Return the number of a file, None for 'max' and where there is none."""
    try:
        return float(path.read_text())
    except (OSError, ValueError):
        return None


def _numbers(path: Path) -> dict[str, float]:
    """Return the numbers of a file of names and numbers."""
    found: dict[str, float] = {}
    with contextlib.suppress(OSError):
        for line in path.read_text(errors="replace").splitlines():
            name, _, rest = line.replace(":", " ").partition(" ")
            with contextlib.suppress(ValueError, IndexError):
                found[name] = float(rest.split()[0])
    return found
