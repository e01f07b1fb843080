"""The grip list: boards, frames, flags, nets, grids, and what holds them and the lamps.

Heights of stands, what a wide frame takes and how many sandbags go where are common practice, no source.
Wind load decides out of doors, and rigging overhead everywhere: both are for the competent person.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from previz.plans.lengths import FOOT, IMPERIAL, METRIC, roughly, said, said_finely
from previz.plans.lines import GripLine, LampLine
from previz.scene.light import LIGHTS
from previz.scene.modifiers import Board, Diffusion
from previz.scene.scene import Scene
from previz.stage.hanging import PIPE_REACH
from previz.stage.records import Stage
from previz.stage.sheets import standing
from previz.studies.paper.support import (
    ABOVE,
    BOOM,
    CAMERA,
    CLAMP,
    FLOOR,
    LAMP,
    ON,
    STAND,
    Support,
    Supports,
    point_of,
)

STANDS = (("low", 1.3), ("medium", 2.5), ("high", 4.0))
"""Classes of stands and how high each reaches. [m]  Common practice, no source."""

TOWER = "tower or lift"
"""What is needed over the highest stand."""

HEAVY = 15.0
"""From this weight on, stated or the least that lamps of its kind have, a lamp has a heavy stand. [kg]
Common practice, no source."""

WIDE = 1.25
"""A sheet that is wider has a stand at each side. [m]  Common practice, no source: frames of 4 ft have one,
of 6 ft two."""

ON_LAMP = 0.6
"""What is before a lamp no farther off and no larger than this is held by an arm from the lamp's own stand.
[m]  Common practice, no source."""

BAGS = ((1.8, 1), (3.0, 2), (math.inf, 3))
"""Sandbags for a stand up to a height. [m]  Common practice, no source."""

LEAST_SAIL = 0.2
"""What is smaller takes no wind to speak of. [m²]  Common practice, no source."""

SANDBAGS = {METRIC: "sandbag, 10 kg, by a plain rule", IMPERIAL: "sandbag, 25 lb, by a plain rule"}
"""Weight of one: common practice, no source."""

BACKDROP = "frame or truss for a backdrop"

SAFETY, ARM, BOARD_CLAMP = "safety wire", "arm with clamp", "board clamp"


@dataclass
class _Needs:
    """What is counted for a list: how many of each, and for whom."""

    counts: dict[str, int] = field(default_factory=dict)
    names: dict[str, dict[str, None]] = field(default_factory=dict)

    def add(self, what: str, name: str, count: int = 1) -> None:
        if count > 0:
            self.counts[what] = self.counts.get(what, 0) + count
            self.names.setdefault(what, {})[name] = None

    def lines(self) -> Iterable[GripLine]:
        for what in sorted(self.counts, key=_order):
            yield GripLine("", "", what, self.counts[what], of=tuple(self.names[what]))


def _order(what: str) -> tuple[int, int, str]:
    """Stands from low to high, then the rest by name; sandbags and safety wires last."""
    if what.startswith(("stand", "heavy stand", TOWER)):
        reach = [word for word, _ in STANDS]
        return 0, next((k for k, word in enumerate(reach) if word in what), len(reach)), what
    return (2 if what in (*SANDBAGS.values(), SAFETY) else 1), 0, what


def grip_lines(scene: Scene, stage: Stage, tags: Mapping[str, str], lamps: Sequence[LampLine],
               system: str = METRIC) -> tuple[GripLine, ...]:
    """Return what stands in the light, and what holds that and the lamps.

    Parameters
    ----------
    scene : Scene
        One option of a scene.
    stage : Stage
        Built of it.
    tags : mapping of str to str
        As `previz.plans.tags.tags_of` gives them.
    lamps : sequence of LampLine
        Of the scene; a lamp that is off stands there all the same.
    system : str
        Of lengths in words: 'metric' or 'imperial'.
    """
    supports = Supports(scene, stage, system)
    what = {grip.name: grip.what for grip in stage.grip}
    needs, named, held = _Needs(), [], {}
    for light in scene.lights:
        held[light.name] = supports.of(light)
    weights = {lamp.name: lamp.weight for lamp in lamps}
    for light in scene.lights:
        if light.name in weights:
            _hold_lamp(needs, light, held[light.name], weights[light.name], supports)
    for item in standing(scene):
        support = supports.of(item)
        wide = max(_level_side(item), 0.0) > WIDE
        text = "two stands" if support.way == STAND and wide else support.text
        named.append(GripLine(tags.get(item.name, ""), item.name, _said(item, what[item.name], system), 1,
                              (float(item.size[0]), float(item.size[1])),
                              point_of(supports.places[item.name]), text))
        _hold_sheet(needs, item, support, held, supports, wide)
    return (*named, *needs.lines())


def sandbag_rule(system: str = METRIC) -> str:
    """Return by which rule sandbags are counted."""
    each, least = (("square metre", f"{LEAST_SAIL:g} m²") if system == METRIC
                   else (f"{1 / FOOT**2:.0f} ft²", f"{LEAST_SAIL / FOOT**2:.0f} ft²"))
    return (f"Sandbags by a plain rule (common practice, no source): {_by_height(system)}; 1 more behind a "
            f"boom; out of doors 1 more at each stand for each begun {each} of sail, from {least} on. Wind "
            "load decides out of doors, and the competent person with it.")


def sandbag_rule_brief(system: str = METRIC) -> str:
    """Return the same in a line."""
    return (f"{_by_height(system)}, more behind booms and for sail (common practice, no source); wind load "
            "decides out of doors")


def _by_height(system: str) -> str:
    low, high = (roughly(height, system) for height, _ in BAGS[:2])
    return f"{BAGS[0][1]} for a stand to {low}, {BAGS[1][1]} to {high}, {BAGS[2][1]} over that"


def grip_notes(lines: Iterable[GripLine], system: str = METRIC) -> tuple[str, ...]:
    """Return what is said under a list: by which rule sandbags are counted, and who decides overhead."""
    listed = {line.what for line in lines}
    notes = []
    if SANDBAGS[system] in listed:
        notes.append(sandbag_rule(system))
    if SAFETY in listed:
        notes.append("What is overhead has a second suspension of its own, and so has what is put on it; a "
                     "competent rigger decides (EN/IEC 60598-2-17, 17.6.6).")
    if any(TOWER in what for what in listed):
        notes.append("Towers and lifts: set up and worked from by those trained for it, under local "
                     "working-at-height law.")
    if any(BACKDROP in what for what in listed):
        notes.append("Frames and trusses of backdrops: load, ballast and wind are a competent rigger's.")
    return tuple(notes)


def stand_for(height: float, *, heavy: bool = False, system: str = METRIC) -> str:
    """Return the class of stand that reaches a height over the floor. [m]"""
    for word, reach in STANDS:
        if height <= reach + 1e-9:
            return f"{'heavy stand' if heavy else 'stand'}, {word}, to {said(reach, system)}"
    return f"{TOWER}, over {said(STANDS[-1][1], system)}"


def bags_for(height: float, *, sail: float = 0.0, boom: bool = False) -> int:
    """Return how many sandbags one stand gets.

    Parameters
    ----------
    height : float
        Of its top over the floor. [m]
    sail : float
        Area that wind takes, 0 indoors. [m²]
    boom : bool
    """
    for_wind = math.ceil(sail - 1e-9) if sail >= LEAST_SAIL else 0
    return next(count for most, count in BAGS if height <= most + 1e-9) + int(boom) + for_wind


def _said(item: Any, what: str, system: str) -> str:
    if item.noun == "flag" and item.shape == "T":
        return "flag, T"
    if item.noun == "grid":
        return f"grid, cells of {said_finely(item.cell, system)}"
    return what


def _level_side(item: Any) -> float:
    """Return how wide a sheet is between the stands at its sides. [m]"""
    turned = abs(math.sin(math.radians(item.turn))) > math.sqrt(0.5)
    return float(item.size[1] if turned else item.size[0])


def _hold_lamp(needs: _Needs, light: Any, support: Support, weight: float | None, supports: Supports) -> None:
    usual = LIGHTS[light.kind].usual.weight
    least = weight if weight is not None else (usual[0] if usual else 0.0)
    sail = _sail(light) if supports.is_outdoors(light.at) else 0.0
    if light.kind == "backdrop":
        width, height = (said(side, supports.system) for side in light.size)
        needs.add(f"{BACKDROP}, {width} × {height}", light.name)
    _hold(needs, light.name, support, supports, heavy=least >= HEAVY, sail=sail)
    if support.is_overhead:
        parts = [getattr(light, part, None) for part in ("barn_doors", "snoot", "egg_crate")]
        needs.add(SAFETY, light.name, 1 + sum(part is not None for part in parts))


def _hold_sheet(needs: _Needs, item: Any, support: Support, lamps: Mapping[str, Support], supports: Supports,
                wide: bool) -> None:
    at = supports.places[item.name]
    sail = item.size[0] * item.size[1] if supports.is_outdoors(at) else 0.0
    if support.way == LAMP:
        by = lamps[support.by]
        if item.distance <= ON_LAMP and max(item.size) <= ON_LAMP:
            needs.add(ARM, item.name)
            needs.add(SAFETY, item.name, int(by.is_overhead))
            return
        support = Support(STAND, support.text, support.foot, support.height)
    if support.way == STAND:
        stands = 2 if wide else 1
        fixing = BOARD_CLAMP if isinstance(item, Board) else ARM
        if wide and isinstance(item, Diffusion):
            fixing = "frame holder"
        needs.add(fixing, item.name, stands)
        for _ in range(stands):
            _hold(needs, item.name, support, supports, sail=sail)
        return
    _hold(needs, item.name, support, supports, sail=sail)
    if support.is_overhead:
        needs.add(SAFETY, item.name)


def _hold(needs: _Needs, name: str, support: Support, supports: Supports, *, heavy: bool = False,
          sail: float = 0.0) -> None:
    """Count what holds one thing."""
    way = support.way
    if way in (STAND, BOOM):
        what = stand_for(support.height, heavy=heavy, system=supports.system)
        needs.add(what, name)
        if not what.startswith(TOWER):
            # A tower has ballast and outriggers by its own manual.
            needs.add(SANDBAGS[supports.system], name, bags_for(support.height, sail=sail, boom=way == BOOM))
        if way == BOOM:
            needs.add("boom arm", name)
        elif support.aside:
            needs.add("arm with clamp", name)
    elif way in (FLOOR, ON):
        needs.add("floor plate", name)
    elif way == CLAMP:
        needs.add("clamp", name)
    elif way == CAMERA:
        needs.add("camera bracket", name)
    elif way == ABOVE:
        needs.add("overhead fixing (pipe, pole or ceiling clamp)", name)
    elif way == "cord":
        needs.add("cord with its fixings", name)
    elif way == "pipe":
        needs.add(f"pipe, {said(2 * PIPE_REACH, supports.system)}, with its fixings", name)
        needs.add("pipe clamp", name)
    elif way == "wall plate":
        needs.add("wall plate", name)


def _sail(light: Any) -> float:
    """Return the area of a lamp that wind takes: its face's. [m²]"""
    size = getattr(light, "size", None)
    if size is not None:
        return float(size[0] * size[1])
    across = float(getattr(light, "lens", getattr(light, "diameter", 0.0)))
    return across**2
