"""The lights of an option as numbers, each at the level that it has and at others; and the weather."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from previz.levels.moves import LampMove
from previz.levels.problem import Problem, State
from previz.levels.sensitivity import at_level
from previz.physics.light import LampLight
from previz.scene.scene import Scene
from previz.stage.lamps import lamp_light
from previz.stage.outdoors import MOON, SKY, SUN
from previz.stage.records import Stage
from previz.studies.balance.moving import LEVEL_STEP, fixed

RAMP = np.arange(-6.0, 6.5, 0.5)
"""Levels for which the colour of tungsten is worked out; in between it runs straight. [stops]"""

CLOUD = 2.0
"""What a cloud takes of the sun, the sky left as it is. [stops]  Common practice, no source."""


def lights_of(scene: Scene, stage: Stage) -> list[LampMove]:
    """Return every light of a stage as it is set, tungsten in the colours that it has at other levels."""
    written = {light.name: light for light in scene.lights}
    made = []
    for lamp in stage.lamps:
        light = written.get(lamp.name)
        move = fixed(lamp)
        if light is not None and light.spectrum == "tungsten" and move.level > 0:
            # It is no warmer than at its full level however much more of it is wanted.
            levels = np.clip(move.level * 2.0**RAMP, LEVEL_STEP, 1.0)
            colours = tuple(replace(lamp_light(replace(light, dimmer=float(level), on=True), lamp.output),
                                    level=1.0) for level in levels)
            move = replace(move, colours=colours, words=("",) * len(colours),
                           colour=int(np.flatnonzero(RAMP == 0)[0]))
        made.append(move)
    return made


def at_stops(problem: Problem, state: State, lamp: int, stops: float) -> State:
    """Return a state with one lamp so many stops up or down, tungsten as warm as it is then."""
    other = at_level(problem, state, lamp, stops)
    if len(problem.lamps[lamp].colours) == 1:
        return other
    places = state.places.copy()
    places[lamp] = np.interp(stops, RAMP, range(RAMP.size))
    return replace(other, places=places)


def weather_of(lamps: Iterable[LampLight]) -> list[tuple[str, str, float]]:
    """Return what the weather may do, as (what it is called, light, factor of its level).

    Clouds before the sun leave the sky as it is, which real ones do not: it grows brighter or darker. Where
    there is no sun the sky is halved and doubled (invented, one stop either way).
    """
    there = {lamp.name for lamp in lamps if lamp.on and lamp.level * lamp.output > 0}
    made = []
    if SUN in there:
        made += [("sun two stops down", SUN, 2.0**-CLOUD), ("sun gone", SUN, 0.0)]
    elif SKY in there:
        made += [("sky half", SKY, 0.5), ("sky double", SKY, 2.0)]
    if MOON in there:
        made.append(("moon gone", MOON, 0.0))
    return made
