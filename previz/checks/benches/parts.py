"""The parts of a bench and the goals of what they measure; a new part is one line here."""

from __future__ import annotations

import os
import platform
from datetime import date
from importlib import import_module
from importlib.metadata import version
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from previz.checks.benches.setting import Setting

PARTS = {
    "passes": ("plain", "our one pass over plain renders of the library"),
    "bounce": ("plain", "noise of bounced light at equal time, against the library"),
    "window": ("plain", "noise of the sky through a window at equal time, against the library"),
    "haze": ("haze", "noise of hazy air at equal time, against the library, and what haze costs"),
    "mix": ("mixing", "mixing slices, over reading them once"),
    "level": ("mixing", "a level and a colour changed, to the new still and map"),
    "hand": ("page", "a level moved on a page without a GPU, to its small picture"),
    "balance": ("wanted", "levels for ten wants of twelve lamps, from cached meters"),
    "edit": ("edit", "one lamp of twelve moved, over rendering all"),
    "moving": ("moving", "a lamp, a figure and the camera moved, to the first small picture"),
    "single": ("single", "passes of one path a pixel, over one pass of as many paths"),
    "device": ("device", "pictures that a GPU is to make while somebody waits"),
    "lamps": ("scaling", "one pass with 2, 8 and 32 lamps"),
    "pixels": ("scaling", "paths a second over the size of the picture"),
    "faces": ("scaling", "10 thousand to 2 million faces"),
    "cores": ("scaling", "one pass on 1, 2, 4 ... threads"),
    "start": ("start", "the command line, and a cold render step by step"),
    "light": ("start", "the first picture of a scene, from the command line and on the page"),
}
"""Name of a part -> module of `benches` with a function of that name, and what it measures."""

GOALS = {
    "pass_ratio": ("at most", 1.25), "per_lamp_ratio": ("at most", 0.1),
    "bounce_gain": ("at least", 25.0), "haze_gain": ("at least", 10.0),
    "haze_cost": ("at most", 1.3), "window_gain": ("at least", 30.0), "mix_over_read": ("at most", 3.0),
    "level_change_s": ("at most", 0.6), "edit_one_of_12": ("at most", 0.12),
    "balance_s": ("at most", 1.0), "moved_lamp_s": ("at most", 0.15), "hand_s": ("at most", 0.1),
    "single_over_whole": ("at most", 1.25), "lamps_32_over_8": ("at most", 1.6), "help_s": ("at most", 0.4),
    "check_s": ("at most", 0.4), "first_light_s": ("at most", 2.5), "warm_light_s": ("at most", 1.2),
    "cached_light_s": ("at most", 1.2),
}
"""Key of a result -> whether it is to be at most or at least what, on two cores."""

ON_A_GPU = {
    "pass_ratio": ("at most", 1.1), "per_lamp_ratio": ("at most", 0.2), "moved_lamp_s": ("at most", 0.1),
    "one_path_720p_s": ("at most", 0.03), "picture_1080p_s": ("at most", 6.0),
}
"""The same where it is another goal on a GPU."""

FOR_A_GPU = ("device",)
"""Parts that take too long without one; on the processor they are run by name alone."""


def goals(backend: str) -> dict[str, tuple[str, float]]:
    """Return the goals on a backend, 'processor' or 'gpu'."""
    return {**GOALS, **(ON_A_GPU if backend == "gpu" else {})}


def usual(setting: Setting) -> tuple[str, ...]:
    """Return the parts that are run where none is named."""
    return tuple(part for part in PARTS if setting.backend == "gpu" or part not in FOR_A_GPU)


def measure(part: str, setting: Setting) -> tuple[dict, dict]:
    """Run one part.

    Returns
    -------
    (dict, dict)
        Keys that have a goal, and whatever else was measured.
    """
    module, _ = PARTS[part]
    return getattr(import_module(f"previz.checks.benches.{module}"), part)(setting)


def report(setting: Setting, results: dict, details: dict) -> dict[str, object]:
    """Return what was measured, on what and where, as plain JSON values with stable keys."""
    return {**{key: round(value, 4) for key, value in results.items()}, "details": details,
            "scene": str(setting.scene), "option": setting.option, "size": list(setting.size),
            "samples": setting.samples, "bands": setting.bands, "quick": setting.quick,
            "backend": setting.backend,
            "date": date.today().isoformat(), "machine": machine()}


def machine() -> dict[str, object]:
    """Return what a timing was taken on."""
    return {"processor": platform.machine(), "cores": os.cpu_count(),
            "load": os.getloadavg()[0] if hasattr(os, "getloadavg") else None,
            "python": platform.python_version(),
            **{name: version(name) for name in ("mitsuba", "drjit", "numpy")}}
