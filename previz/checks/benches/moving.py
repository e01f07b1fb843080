"""How soon a small picture follows what is moved on the page: a lamp alone, a figure, the camera."""

from __future__ import annotations

import gc
import time
from collections import defaultdict
from collections.abc import Mapping
from typing import Any

import numpy as np

from previz.checks.benches.setting import Setting
from previz.scene.read import SceneFile, load
from previz.scene.scene import Scene
from previz.stage.build import build_stage
from previz.stage.sheets import held_by

STEP = 0.02
"""How far a thing goes from one place to the next. [m]"""

WARM = 2
"""Places before the timed ones, in which kernels are compiled."""


def moving(setting: Setting) -> tuple[dict, dict]:
    """Return 'moved_lamp_s': from a lamp's new place, as the page sends it, to its light; the median. [s]

    The lamp is the first that the camera does not see the body of. The details have the least and the 90th
    percentile, each step, and the same for a lamp in shot, a figure and the camera, where the scene has them:
    of these all lamps are traced.
    """
    file = load(setting.scene)
    scene = file.scene(setting.option or None)
    places = 6 if setting.quick else 24
    details: dict[str, Any] = {"moved_places": places}
    keys: dict[str, float] = {}
    for what, section, item in _things(scene, setting):
        total, steps = _timed(file, scene, section, item, setting, places)
        details[f"moved_{what}_s"] = float(np.median(total))
        details[f"moved_{what}_least_s"] = min(total)
        details[f"moved_{what}_p90_s"] = float(np.quantile(total, 0.9))
        details[f"moved_{what}_steps_ms"] = {name: round(1e3 * float(np.median(each)), 1)
                                             for name, each in steps.items()}
    if "moved_lamp_s" in details:
        keys["moved_lamp_s"] = details.pop("moved_lamp_s")
    return keys, details


def _things(scene: Scene, setting: Setting):
    """Yield (what, section, item) of what is moved."""
    from previz.rendering.following import Following

    stage = build_stage(scene, reminders=False)
    names = Following(stage, stage.cameras[0], setting.bands, "auto").names
    out = [light for light in scene.lights if light.name not in names]
    seen = [light for light in scene.lights if light.name in names]
    for what, section, items in (("lamp", "lights", out), ("lamp_in_shot", "lights", seen),
                                 ("figure", "figures", scene.figures), ("camera", "cameras", scene.cameras)):
        found = next((item for item in items if getattr(item, "at", None) is not None), None)
        if found is not None:
            yield what, section, found


def _timed(file: SceneFile, scene: Scene, section: str, item: Any, setting: Setting,
           places: int) -> tuple[list[float], Mapping[str, list[float]]]:
    """Return the seconds of each place, and of each step."""
    from previz.rendering.following import Following

    steps: dict[str, list[float]] = defaultdict(list)
    last = 0.0

    def lap(name: str) -> None:
        nonlocal last
        now = time.perf_counter()
        steps[name].append(now - last)
        last = now

    def moved(number: int) -> Scene:
        at = [item.at[0] + STEP * number, *item.at[1:]]
        return file.moved(setting.option, {section: {item.name: {"at": [f"{x:.4f} m" for x in at]}}})

    stage = build_stage(scene, reminders=False)
    following = Following(stage, stage.cameras[0], setting.bands, "auto", lap)
    held = held_by(scene)
    total = []
    gc.collect()
    gc.freeze()
    for number in range(1, places + WARM + 1):
        if number == WARM + 1:
            steps.clear()
        # As the page's renderer does between two wishes.
        gc.collect()
        last = began = time.perf_counter()
        there = moved(number)
        lap("scene")
        stage = build_stage(there, reminders=False)
        lap("stage")
        coarse = following.begin(stage, stage.cameras[0], held)
        coarse.step()
        layers = coarse.layers([lamp for lamp in stage.lamps if lamp.name in coarse.lamps],
                               [1.0] * len(coarse.lamps))
        layers.astype("<f2").tobytes()
        lap("pack")
        if number > WARM:
            total.append(time.perf_counter() - began)
    gc.unfreeze()
    return total, steps
