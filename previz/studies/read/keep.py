"""What was read, as an option of the scene: levels at most full, the stop opened by what that takes."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from previz.errors import PrevizError, RequestError
from previz.levels.picture_answer import ALIKE, OFF, SURE_COLOUR, TOLD, Answer, LampFound
from previz.physics.tungsten import cct_at_light
from previz.scene.light import Light
from previz.scene.read import SceneFile
from previz.scene.scene import Scene
from previz.stage.lamps import DARKEST_FILAMENT
from previz.studies.changes import MOST_DAYLIGHT, Changes, changed_scene, changes_from
from previz.studies.read.lamps import free_colour, is_tungsten
from previz.studies.read.result import Reading
from previz.studies.saving import save_option

_DARK = 0.002
"""Level under which a lamp is switched off. [1]"""


def changes_of(reading: Reading) -> tuple[Changes, float]:
    """Return what was read as changes that a dimmer can do, and how far all levels came down for it. [stops]

    Lamps that the picture says nothing of stay against the others as the scene has them.
    """
    scene, found = reading.scene, reading.answer
    own = {lamp.name: lamp.level if lamp.on else 0.0 for lamp in reading.stage.lamps}
    levels = {each.name: _level(each, own[each.name]) for each in found.lamps}
    lights = {each.name: each for each in scene.lights}
    most = max((levels[name] for name in lights if name in levels), default=1.0)
    down = max(1.0, most)
    lamps = {}
    for each in found.lamps:
        level = levels[each.name] / down
        light = lights.get(each.name)
        change: dict[str, object] = {}
        if light is not None and level < _DARK:
            change["on"] = False
        elif light is not None:
            change |= {"on": True, "dimmer": round(min(level, 1.0), 3)}
        else:
            change["dimmer"] = round(min(level, MOST_DAYLIGHT), 4)
        told = each.state == TOLD and each.shift is not None and (each.shift_error or 0) <= SURE_COLOUR
        if told and free_colour(scene, each.name) and level >= _DARK:
            change["cct"] = round(_set_colour(light, each.cct, level), -1)
        lamps[each.name] = change
    opened = float(np.log2(down))
    return changes_from(lamps, {reading.camera: _camera(reading, found, opened)}), opened


def _camera(reading: Reading, found: Answer, opened: float) -> dict[str, float]:
    stop = reading.settings.stop * 2.0 ** (-(found.exposure + opened) / 2)
    return {"stop": round(stop, 2), "white_balance": round(float(np.clip(found.balance, 1700, 25000)), -1),
            "green": round(float(np.clip(found.tint, -0.02, 0.02)), 4)}


def _level(each: LampFound, own: float) -> float:
    if each.state in (TOLD, ALIKE):
        return each.level
    return 0.0 if each.state == OFF else own


def _set_colour(light: Light | None, kelvin: float, level: float) -> float:
    """Return the colour at full that a lamp is to have so that it has this one as it is dimmed. [K]"""
    if not is_tungsten(light):
        return kelvin
    low, high = kelvin, 3 * kelvin
    for _ in range(40):
        middle = (low + high) / 2
        warm = float(cct_at_light(max(min(level, 1.0), DARKEST_FILAMENT), middle))
        low, high = (middle, high) if warm < kelvin else (low, middle)
    return middle


def save(reading: Reading, file: SceneFile, name: str, *, own: bool = False) -> tuple[Path, tuple[str, ...]]:
    """Write what was read as a new option; return the file, and what is to be said of it.

    Raises
    ------
    DataError
        See `saving.save_option`.
    RequestError
        The scene format cannot hold it.
    """
    changes, opened = changes_of(reading)
    try:
        after = after_of(reading, changes)
    except PrevizError as error:
        raise RequestError(f"what was read cannot be an option: {error}") from None
    path = save_option(file, name, reading.option, after, own=own)
    said = [f"Saved as option '{name}' in {path.name}."]
    if opened > 0.005:
        said.append(f"All levels are {opened:.1f} stops down so that the brightest lamp is at full, and the "
                    f"stop is as much wider.")
    return path, tuple(said)


def after_of(reading: Reading, changes: Changes) -> Scene:
    """Return the scene with what was read."""
    return changed_scene(reading.scene, reading.stage, changes)
