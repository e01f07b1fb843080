"""The cautions that a scene calls for; reminders only, the law and the people in charge decide.

All that paper, screens and files say of them is made here and in `heat`, `bright`, `mains`, `stands` and
`feeds`, from a scene and what it was built to. A lamp's record says what it burns, what makes its light and
what feeds it, so a new kind has its cautions without a word here.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from previz.physics.haze import droplet_mass
from previz.physics.safety import NO_SOURCE, Caution, few, haze_caution, together
from previz.stage.air import density_of
from previz.stage.bright import glare_cautions
from previz.stage.feeds import feed_cautions
from previz.stage.heat import Surroundings, gel_cautions, heat_cautions
from previz.stage.lamp_limits import efficacy_range
from previz.stage.mains import draws, load_cautions, on_mains
from previz.stage.sheets import standing
from previz.stage.stands import outside, stand_cautions, under_the_sky

if TYPE_CHECKING:
    from previz.scene.scene import Scene
    from previz.stage.records import Stage

OVERHEAD = 2.0
"""Height above which a lamp or a frame counts as hung overhead. [m]"""

OVER_HEADS = ("cord", "boom", "pipe")
"""What hangs by one of these has heads under it at any height."""

LEAST_OF_SOURCE = 0.3
"""Least share of its source's lumens that leaves a lamp (handbooks, from memory). [1]"""

LEAST_HEIGHT = 2.0
"""Height of a lamp or frame from which somebody climbs to it (common practice, no source). [m]"""

FLAME, HANGING, OUTDOORS, AIR, ARC, CLIMBING, NOTE = 0, 3, 4, 5, 7, 8, 99
"""How urgent each sort is; the load on the mains, heat and glare stand between."""


def for_scene(scene: Scene, around: Surroundings) -> tuple[Caution, ...]:
    """Return the cautions of a scene, the most urgent first, and then what is to be looked at.

    Parameters
    ----------
    scene : Scene
    around : Surroundings
        What the scene was built to.
    """
    found = [*_flames(scene), *heat_cautions(scene, around), *_overhead(scene, around), *_outdoors(scene),
             *_air(scene), *glare_cautions(scene, around), *_arcs(scene), *_climbing(scene, around),
             *stand_cautions(scene), *gel_cautions(scene), *feed_cautions(scene),
             *load_cautions(draws(scene, around.given), scene.mains)]
    for light in scene.lights:
        found += _efficacy(light, *around.given[light.name])
    found += [_note(line) for line in around.notes]
    return together(found)


def for_changed(scene: Scene, stage: Stage) -> tuple[Caution, ...]:
    """Return the cautions of a stage whose lamps are set otherwise, as a changed scene has them."""
    if stage.around is None:
        return stage.reminders
    spectra = [lamp.spectrum for lamp in stage.lamps[:len(scene.lights)]]
    return for_scene(scene, replace(stage.around, spectra=spectra))


def _note(line: str) -> Caution:
    return Caution("note", "things to check", line.rstrip("."), line, NO_SOURCE, NOTE)


def _flames(scene) -> Iterator[Caution]:
    flames = tuple(light.name for light in scene.lights if light.flame and light.on)
    if flames:
        yield Caution(
            "flame", "open flames",
            f"Open flame: {few(flames)}: the venue's leave, a watch and an extinguisher",
            f"Open flame: {', '.join(flames)}. Burn nothing without the venue's leave, a person who watches "
            "it, and an extinguisher at hand; keep cloth, hair and haze away. Local fire rules decide. "
            f"Source: {NO_SOURCE}.", NO_SOURCE, FLAME, flames)


def _high(scene, around: Surroundings):
    """Return lamps, then frames and boards, that hang above heads, each with its height. [m]"""
    # A piece that glows is hung by whoever builds the set.
    lamps = [(light, float(light.at[2])) for light in scene.lights if light.kind != "glow"]
    sheets = [(item, float(around.outlines[item.name][0][2])) for item in standing(scene)]
    return [[(item, height) for item, height in items if height > OVERHEAD or item.hung in OVER_HEADS]
            for items in (lamps, sheets)]


def _overhead(scene, around: Surroundings) -> Iterator[Caution]:
    """Yield the caution for what hangs above heads, with its weight as far as it is known."""
    lamps, sheets = _high(scene, around)
    names = tuple(item.name for item, _ in (*lamps, *sheets))
    if names:
        weights = [light.weight for light, _ in lamps]
        known = sum(weight for weight in weights if weight is not None)
        unknown = None in weights or bool(sheets)
        weight = f" Lamps with a stated weight: {known:g} kg." if known else ""
        ask = "" if not unknown else (" Ask for the weight of the rest." if known
                                      else " Ask for their weights.")
        stated = f", {known:g} kg stated" if known else ""
        source = "IEC 60598-2-17, 17.6.6"
        yield Caution(
            "overhead", "things hung overhead",
            f"Overhead: {few(names)}{stated}: rated points, a second suspension on each, a licensed rigger",
            f"Overhead: {', '.join(names)}. Secure lamp and accessories with a second suspension that does "
            f"not depend on the clamp.{weight}{ask} Points are to be rated for the load, and people kept "
            f"from under while it is hung; a licensed rigger decides. Source: {source}.",
            source, HANGING, names, known)
    booms = tuple(item.name for item in (*scene.lights, *standing(scene)) if item.hung == "boom")
    if booms:
        yield Caution(
            "boom", "booms", f"Boom: {few(booms)}: weigh down stand and short end, nobody under it",
            f"Boom: {', '.join(booms)}. Weigh down the stand and the short end, lock the pivot, and keep "
            f"people from under it. Whoever is in charge of rigging decides. Source: {NO_SOURCE}.",
            NO_SOURCE, HANGING, booms)


def _climbing(scene, around: Surroundings) -> Iterator[Caution]:
    lamps, sheets = _high(scene, around)
    # The bright face is a little off the place of its lamp; the plan from above tells its height too.
    faces = {each.name: float(np.asarray(each.vertices)[:, 2].mean()) for each in around.emitters}
    top = max((faces.get(item.name, height) for item, height in (*lamps, *sheets)), default=0.0)
    if top > LEAST_HEIGHT:
        yield Caution(
            "height", "work at height",
            f"Work at height, to {top:.1f} m: a platform or a footed ladder, two people",
            f"Work at height: the highest lamp or frame is {top:.1f} m up. Use a platform, or a ladder that "
            "somebody holds; no one climbs alone, with full hands, or over people. Local working-at-height "
            f"law and the competent person decide. Source: {NO_SOURCE}.",
            NO_SOURCE, CLIMBING, ("height",), top)


def _outdoors(scene) -> Iterator[Caution]:
    """Yield the caution for what is fed from the mains under the sky."""
    if not under_the_sky(scene):
        return
    names = tuple(light.name for light in scene.lights
                  if on_mains(light) and outside(light, scene.room))
    if not names:
        return
    laid = [scene.ground, *(piece.surface for piece in scene.pieces)]
    wet = any(each is not None and (each.name or "").startswith("wet") for each in laid)
    source = "IEC 60364-4-41, 411.3.3, from memory"
    where = "Outside, on wet ground" if wet else "Outside"
    yield Caution(
        "outdoors", "mains outside",
        f"{where}: {few(names)}: an RCD (GFCI) of 30 mA, joints dry and off the ground, stop in rain",
        f"{where}: {', '.join(names)}. Where it can get wet, feed them by a residual-current device (RCD, "
        "GFCI) of 30 mA at most; use lamps and connectors that are rated for rain, keep joints dry and off "
        "the ground, cover and route cables, weigh stands down for wind, and stop in rain. A licensed "
        f"electrician decides. Source: {source}.", source, OUTDOORS - wet, names, float(wet))


def _air(scene) -> Iterator[Caution]:
    if scene.haze is not None:
        density = density_of(scene.haze)
        low, high = droplet_mass(density)
        source = "ANSI E1.5, 29 CFR 1910.1000"
        yield Caution(
            "haze", "haze in the air",
            f"Haze, about {low:.0f} to {high:.0f} mg/m³: tell people, those with asthma first; ventilate; "
            "ask before smoke detectors trip",
            f"{haze_caution(density)} Source: {source}.", source, AIR, ("haze",), density)


def _arcs(scene) -> Iterator[Caution]:
    arcs = tuple(light.name for light in scene.lights if light.spectrum == "metal halide" and light.on)
    if arcs:
        yield Caution(
            "arc", "arc lamps", f"Arc lamps: {few(arcs)}: never with the glass off or cracked, it keeps "
            "ultraviolet in",
            f"Arc lamps: {', '.join(arcs)}. Never without the lens that keeps ultraviolet in, nor with one "
            "that is cracked; let them cool before they are struck again or opened. Their maker's "
            f"instructions and a licensed electrician decide. Source: {NO_SOURCE}.", NO_SOURCE, ARC, arcs)


def _efficacy(light, lumens: float, watts: float | None) -> list[Caution]:
    """Return a line for a lamp that gives more or less for its watts than its class can."""
    limits = efficacy_range(light)
    if limits is None or not watts or not lumens:
        return []
    name, low, high = limits
    efficacy = lumens / watts
    if LEAST_OF_SOURCE * low <= efficacy <= high:
        return []
    return [_note(f"Check: {light.name} would give {efficacy:.0f} lm/W; {name} sources give {low:.3g} to "
                  f"{high:.3g}, and a lamp passes on a third to nearly all of that.")]
