"""The lamp list: where each lamp is, what it is pointed at, what is on it, what it draws."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from previz.physics.mains import FILAMENTS, SUPPLY_POWER_FACTOR, Draw
from previz.plans.lengths import METRIC, said, said_finely
from previz.plans.lines import LampLine
from previz.scene.gel import gel_name
from previz.scene.light import BarnDoors, EggCrate, ShutterCut, Snoot
from previz.scene.modifiers import Diffusion, Flag, Grid, Net
from previz.scene.scene import Scene
from previz.stage.records import Stage
from previz.studies.paper.support import Supports, point_of

DOWN = "straight down"
"""Aim of what hangs and is aimed at nothing."""

PLAIN_FRONTS = ("panel", "small box")
"""Kinds with a plain front, of whose usual beam nothing is said."""

SIDES = ("top", "bottom", "left", "right")

LEVEL = 1e-6
"""Of an aim that goes straight up or down, less than this is level; it has no bearing. [m]"""


def lamp_lines(scene: Scene, stage: Stage, tags: Mapping[str, str],
               system: str = METRIC) -> tuple[LampLine, ...]:
    """Return a line for each lamp of the scene, in its order, also for those that are off.

    Parameters
    ----------
    scene : Scene
        One option of a scene.
    stage : Stage
        Built of it.
    tags : mapping of str to str
        As `previz.plans.tags.tags_of` gives them.
    system : str
        Of lengths in words: 'metric' or 'imperial'.
    """
    supports = Supports(scene, stage, system)
    return tuple(_line(light, scene, stage, tags, supports) for light in scene.lights)


def _line(light: Any, scene: Scene, stage: Stage, tags: Mapping[str, str], supports: Supports) -> LampLine:
    aim, pan, tilt, throw = _aim(light, stage)
    watts, amperes, guessed, factor = _draw(light, scene, stage)
    return LampLine(
        tag=tags.get(light.name, ""), name=light.name, kind=light.kind, at=point_of(light.at), aim=aim,
        pan=pan, tilt=tilt, throw=throw, size=face_size(light, scene), cct=light.cct,
        gels=tuple(_gels(light)), dimmer=light.dimmer, on=light.on,
        in_shot=light.in_shot,
        modifiers=(*_setting(light), *_accessories(light, supports.system),
                   *_before(light, scene, tags, supports.system)),
        watts=watts, amperes=amperes, guessed=guessed, power_factor=factor, weight=light.weight,
        support=supports.of(light).text, circuit=light.circuit,
        spectrum=light.spectrum if isinstance(light.spectrum, str) else "own")


def bearing(direction: Any) -> tuple[float | None, float]:
    """Return pan and tilt of a direction.

    Parameters
    ----------
    direction : float array, shape (3,)
        Of any length, x east, y north, z up.

    Returns
    -------
    (float or None, float)
        Clockwise from north seen from above, from 0 to below 360, None for one that goes straight up or down;
        over (+) or under (-) level. [deg]
    """
    east, north, up = (float(each) for each in direction)
    level = float(np.hypot(east, north))
    tilt = float(np.degrees(np.arctan2(up, level)))
    # A bearing a hair under 0 is 360 after the first remainder.
    pan = float(np.degrees(np.arctan2(east, north))) % 360.0 % 360.0
    return (pan if level > LEVEL else None), tilt


def _aim(light: Any, stage: Stage) -> tuple[str, float | None, float | None, float | None]:
    """Return what a lamp is aimed at, pan and tilt [deg], and throw [m]."""
    if light.aim is None:
        if light.held != "above":
            return "", None, None, None
        return DOWN, None, -90.0, float(light.at[2])
    point = stage.places[light.aim.text.strip()] if light.aim.point is None else light.aim.point
    direction = np.asarray(point, float) - np.asarray(light.at, float)
    return str(light.aim), *bearing(direction), float(np.linalg.norm(direction))


def _draw(light: Any, scene: Scene, stage: Stage) -> tuple[float | None, float | None, bool, float]:
    """Return watts [W], amperes [A], whether they are guessed, and the power factor."""
    spectrum = light.spectrum if isinstance(light.spectrum, str) else "led"
    factor = light.power_factor or (1.0 if spectrum in FILAMENTS else SUPPLY_POWER_FACTOR)
    if light.flame or not light.mains:
        return None, None, False, 1.0 if light.flame else factor
    lumens, watts = stage.around.given[light.name] if stage.around else (0.0, None)
    draw = Draw(light.name, light.watts if watts is None else watts, lumens, spectrum, light.power_factor)
    return draw.power(), draw.amperes(scene.mains.voltage), draw.watts is None, factor


def face_size(light: Any, scene: Scene) -> tuple[float, ...]:
    """Return width and height of a lamp's bright face, of a tube length and diameter, or a diameter. [m]"""
    if light.kind == "glow":
        piece = next((each for each in scene.pieces if each.name == light.piece.name), None)
        if piece is None or piece.size is None:
            return ()
        *sides, _ = sorted(piece.size, reverse=True)
        return tuple(float(side) for side in sides)
    if light.flame:
        return tuple(float(side) for side in light.flame)
    for field in ("size", "lens"):
        value = getattr(light, field, None)
        if value is not None:
            return tuple(float(side) for side in value) if isinstance(value, tuple) else (float(value),)
    length = getattr(light, "length", None)
    return (float(light.diameter),) if length is None else (float(length), float(light.diameter))


def percent(share: float) -> str:
    """Return a share in words: '30 %'."""
    return f"{100 * share:.0f} %"


def takes_gel(light: Any) -> bool:
    """Return whether a sheet can be put before a lamp: not before flames, pictures and what glows itself."""
    return not light.flame and light.kind not in ("backdrop", "screen", "sign", "glow")


def _gels(light: Any) -> Iterator[str]:
    for gel in light.gel:
        yield gel_name(gel) if takes_gel(light) else f"{gel_name(gel)}, set in it or behind it"


def _setting(light: Any) -> Iterator[str]:
    """Yield how wide the beam is set, and the roll about it."""
    beam, field = getattr(light, "beam", None), getattr(light, "field", None)
    if isinstance(beam, str):
        yield f"{beam} beam"
    elif light.photometry is not None:
        yield f"beam as {light.photometry.name}"
    elif beam is not None and (light.kind not in PLAIN_FRONTS or beam != usual_beam(light)):
        yield f"beam {beam:g}°"
    elif field is not None:
        yield f"field {field:g}°"
    elif hasattr(light, "flood"):
        yield "full spot" if light.flood == 0 else ("full flood" if light.flood == 1
                                                    else f"flood {percent(light.flood)}")
    if getattr(light, "iris", 1.0) < 1:
        yield f"iris {percent(light.iris)} open"
    if getattr(light, "edge", 0.0) >= 0.5:
        yield "soft edge"
    if light.turn and not getattr(light, "ball", False):
        yield f"rolled {light.turn:g}° counter-clockwise seen from in front"


def usual_beam(light: Any) -> Any:
    """Return the full angle that beams of a lamp's kind have where none is written, None for none. [deg]"""
    return next((field.default for field in dataclasses.fields(light) if field.name == "beam"), None)


def _accessories(light: Any, system: str) -> Iterator[str]:
    """Yield what is put on a lamp, with how it is set."""
    for field in ("barn_doors", "snoot", "shutters", "egg_crate", "shade"):
        part = getattr(light, field, None)
        if isinstance(part, BarnDoors):
            leaves = ", ".join(f"{side} {getattr(part, side):g}°" for side in SIDES if side in part.places)
            yield f"barn doors ({leaves})" if leaves else "barn doors"
        elif isinstance(part, Snoot):
            yield f"snoot {said_finely(part.length, system)}"
        elif isinstance(part, ShutterCut):
            blades = ", ".join(f"{side} {percent(getattr(part, side))}" for side in SIDES
                               if getattr(part, side))
            yield f"shutters in ({blades})" if blades else "shutters out"
        elif isinstance(part, EggCrate):
            yield f"egg crate {said_finely(part.cell, system)}"
        elif part is not None:
            yield (f"shade {said_finely(part.top, system)} to {said_finely(part.bottom, system)}, "
                   f"{said_finely(part.height, system)} high")
    if getattr(light, "grid", None) is not None:
        yield f"fabric grid {light.grid:g}°"
    if getattr(light, "skirt", None) is not None:
        yield f"skirt {said_finely(light.skirt, system)}"


def _before(light: Any, scene: Scene, tags: Mapping[str, str], system: str) -> Iterator[str]:
    """Yield what stands before a lamp, the nearest first."""
    held = [item for item in (*scene.diffusion, *scene.flags, *scene.nets, *scene.grids)
            if item.before is not None and item.before.name == light.name]
    for item in sorted(held, key=lambda each: each.distance):
        words = (tags.get(item.name, ""), short_name(item, system), f"at {said(item.distance, system)}")
        yield " ".join(filter(None, words))


def short_name(item: Any, system: str = METRIC) -> str:
    """Return what a frame, flag, net or grid is in a word or two."""
    if isinstance(item, Diffusion):
        return item.cloth or f"diffusion {percent(item.transmission)} through"
    if isinstance(item, Flag):
        return "T flag" if item.shape == "T" else "flag"
    if isinstance(item, Net):
        return (f"{item.layers} net" if item.transmission is None
                else f"net {percent(item.transmission)} through")
    if isinstance(item, Grid):
        return f"grid {said_finely(item.cell, system)}"
    return str(item.noun)
