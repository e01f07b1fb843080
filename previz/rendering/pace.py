"""How fast this machine rendered last, kept beside the cache, so that the time of a render can be told."""

from __future__ import annotations

import contextlib
import platform
from pathlib import Path

from previz.frames.layouts import marked
from previz.frames.whole import FramesError, read_sealed, write_sealed

PACE_NAME = "pace.json"

LEAST = 0.2
"""Less time than this says nothing of the pace. [s]"""


class Pace:
    """Counts paths and the time that they took, without the first pass, for which kernels are compiled."""

    def __init__(self) -> None:
        self.paths = self.seconds = 0.0

    def add(self, paths: float, seconds: float) -> None:
        """Count a pass."""
        self.paths += paths
        self.seconds += seconds

    def keep(self, cache: Path, runs_on: str) -> None:
        """Keep it beside the cache, if it says anything; a disk that is full is no matter here."""
        if self.seconds >= LEAST:
            with contextlib.suppress(OSError):
                write_sealed(cache / PACE_NAME, {
                    **marked("previz_pace"), "machine": platform.node(), "runs_on": runs_on,
                    "paths_per_second": self.paths / self.seconds})


def kept_pace(cache: Path, runs_on: str) -> float | None:
    """Return the paths a second of the last render of a scene, or of another one's, on this machine.

    None where nothing was rendered on this backend yet.
    """
    others = sorted(cache.parent.parent.glob(f"*/{cache.name}/{PACE_NAME}"), key=changed, reverse=True)
    for path in (cache / PACE_NAME, *others):
        with contextlib.suppress(FramesError, KeyError, TypeError, ValueError):
            found = read_sealed(path, "previz_pace")
            if (found["machine"], found["runs_on"]) == (platform.node(), runs_on):
                return max(float(found["paths_per_second"]), 1.0)
    return None


def changed(path: Path) -> float:
    """Return when a file was written last, seconds since 1970; 0 where it is gone. [s]"""
    with contextlib.suppress(OSError):
        return path.stat().st_mtime
    return 0.0
