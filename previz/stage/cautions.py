"""The cautions that a scene calls for; reminders only, the law and the people in charge decide."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

import numpy as np

from previz.physics.safety import haze_caution
from previz.stage.air import density_of
from previz.stage.lamp_limits import efficacy_range
from previz.stage.sheets import Edges, standing

if TYPE_CHECKING:
    from previz.scene.scene import Scene

PLANNING_AID = (
    "Planning aid only. Local electrical, fire, rigging and working-at-height law, the venue, and "
    "the licensed or competent person in charge decide."
)

OVERHEAD = 2.0
"""Height above which a lamp or a frame counts as hung overhead. [m]"""

HOT_SPECTRA = ("tungsten", "metal halide")
"""Spectra of lamps that are hot to the touch."""

OVER_HEADS = ("cord", "boom", "pipe")
"""What hangs by one of these has heads under it at any height."""

NEAR_CLOTH = 1.0
"""A hot lamp nearer to cloth than this is pointed out (common practice, no source). [m]"""

LEAST_OF_SOURCE = 0.3
"""Least share of its source's lumens that leaves a lamp (handbooks, from memory). [1]"""


def for_scene(scene: Scene, outlines: Mapping[str, Edges],
              drawn: Mapping[str, tuple[float, float | None]]) -> tuple[str, ...]:
    """Return the cautions of a scene, the general one first.

    Parameters
    ----------
    scene : Scene
    outlines : dict of str to (centre, half edge, half edge)
        Where each sheet of the scene stands, by its name. [m]
    drawn : dict of str to (float, float or None)
        Lumens and watts of each lamp by its name.
    """
    lines = [PLANNING_AID, *_overhead(scene, outlines)]
    for light in scene.lights:
        lines += _heat(scene, light, outlines)
    booms = [item.name for item in (*scene.lights, *standing(scene)) if item.hung == "boom"]
    if booms:
        lines.append(f"Boom: {', '.join(booms)}. Weigh down the stand and the short end, lock the pivot, "
                     "and keep people from under it.")
    flames = [light.name for light in scene.lights if light.flame]
    if flames:
        lines.append(f"Open flame: {', '.join(flames)}. Burn nothing without the venue's leave, a "
                     "person who watches it, and an extinguisher at hand; keep cloth, hair and "
                     "haze away.")
    if any(light.spectrum == "metal halide" for light in scene.lights):
        lines.append("Arc lamps: never without the lens that keeps ultraviolet in; let them cool "
                     "before they are struck again or opened.")
    for light in scene.lights:
        lines += _efficacy(light, *drawn[light.name])
    if scene.haze is not None:
        lines.append(haze_caution(density_of(scene.haze)))
    return tuple(lines)


def together(cautions: Iterable[str]) -> tuple[str, ...]:
    """Return the cautions of several scenes, without those that another says with more names.

    Names stand between the kind and the rest, as in 'Overhead: key, back. Secure them ...'.
    """
    lines = tuple(dict.fromkeys(cautions))

    def parts(line):
        head, _, rest = line.partition(". ")
        kind, colon, names = head.partition(": ")
        return (kind, rest), set(names.split(", ")) if colon else {line}

    parsed = [parts(line) for line in lines]
    return tuple(line for line, (kind, names) in zip(lines, parsed, strict=True)
                 if not any(kind == other and names < more for other, more in parsed))


def _overhead(scene, outlines) -> list[str]:
    """Return the caution for what hangs above heads, with its weight as far as it is known."""
    # A piece that glows is hung by whoever builds the set.
    high = [light for light in scene.lights if light.kind != "glow"
            and (light.at[2] > OVERHEAD or light.hung in OVER_HEADS)]
    frames = [item.name for item in standing(scene)
              if outlines[item.name][0][2] > OVERHEAD or item.hung in OVER_HEADS]
    names = [light.name for light in high] + frames
    if not names:
        return []
    weights = [light.weight for light in high]
    known = sum(weight for weight in weights if weight is not None)
    weight = f" Lamps with a stated weight: {known:g} kg." if known else ""
    unknown = "" if None not in weights and not frames else (
        " Ask for the weight of the rest." if known else " Ask for their weights.")
    return [f"Overhead: {', '.join(names)}. Secure lamp and accessories with a second "
            f"suspension that does not depend on the clamp.{weight}{unknown}"]


def _heat(scene, light, outlines) -> list[str]:
    """Return a caution for each cloth that is near a hot lamp or a flame."""
    if light.spectrum not in HOT_SPECTRA and not light.flame:
        return []
    found = []
    for cloth in (*scene.diffusion, *scene.flags, *scene.nets, *scene.grids):
        gap = _distance(np.asarray(light.at, float), outlines[cloth.name])
        if gap < NEAR_CLOTH:
            found.append(f"Heat: {light.name} is {gap:.1f} m from {cloth.name}. Keep the lamp's "
                         "marked distance and use flame-retardant cloth.")
    return found


def _distance(point, edges: Edges) -> float:
    """Return the distance of a point from a rectangle. [m]"""
    centre, *halves = edges
    offset = point - centre
    nearest = np.zeros(3)
    for half in halves:
        nearest += half * np.clip(offset @ half / (half @ half), -1, 1)
    return float(np.linalg.norm(offset - nearest))


def _efficacy(light, lumens: float, watts: float | None) -> list[str]:
    """Return a line for a lamp that gives more or less for its watts than its class can."""
    limits = efficacy_range(light)
    if limits is None or not watts or not lumens:
        return []
    name, low, high = limits
    efficacy = lumens / watts
    if LEAST_OF_SOURCE * low <= efficacy <= high:
        return []
    return [f"Check: {light.name} would give {efficacy:.0f} lm/W; {name} sources give {low:.3g} to "
            f"{high:.3g}, and a lamp passes on a third to nearly all of that."]
