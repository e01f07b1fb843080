"""What may move of a scene as numbers, and an answer as changes that can be dialled."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from previz.errors import PrevizError, RequestError
from previz.levels.answers import Setting
from previz.levels.moves import CameraMove, LampMove
from previz.levels.wants import Want
from previz.physics.exposure import DENSITY_OF_A_STOP
from previz.physics.light import LampLight
from previz.scene import gel as gels
from previz.scene.camera import Camera
from previz.scene.gel import Gel
from previz.scene.light import Light
from previz.scene.scene import Scene
from previz.scene.wants import CameraMoves, LampMoves
from previz.stage.lamps import lamp_light
from previz.stage.mains import draws
from previz.stage.records import Stage
from previz.studies.changes import Changes, LampChange, changed_light

STEP_MIRED = 5.0
"""Between two colours of a lamp that sets its colour; in between they run straight. [mired]"""

LEAST_MIRED = 0.1
"""Colours that are nearer to each other are one. [mired]"""

LEVEL_STEP = 0.001
"""Finest step of a dimmer. [1]  Common practice, no source."""

LEAST_IN_SHOT = 0.05
"""Least level of a lamp that is left in shot, where the scene says nothing of it. [1]  Invented."""

CCT_STEP = 10.0
"""Finest step of a colour temperature. [K]  Common practice, no source."""

THIRDS = (
    0.5, 0.56, 0.63, 0.7, 0.8, 0.9, 1.0, 1.1, 1.3, 1.4, 1.6, 1.8, 2.0, 2.2, 2.5, 2.8, 3.2, 3.6, 4.0, 4.5, 5.0,
    5.6, 6.3, 7.1, 8.0, 9.0, 10.0, 11.0, 13.0, 14.0, 16.0, 18.0, 20.0, 22.0, 25.0, 29.0, 32.0, 36.0, 40.0,
    45.0, 51.0, 57.0, 64.0,
)  # fmt: skip
"""T-stops as they are marked, in thirds.  Common practice, no source."""



@dataclass(frozen=True, eq=False)
class Choice:
    """One colour that a lamp may have.

    Parameters
    ----------
    words : str
        '4300 K', 'half cto', 'no gel'; '' for the lamp as it is.
    change : LampChange
        That makes it.
    mired : float or None
        Of a lamp that sets its colour.
    """

    words: str
    change: LampChange
    mired: float | None = None


class LampMoving:
    """One lamp of the scene, and what may be done with it.

    Parameters
    ----------
    light : Light
        As the option has it.
    output : float
        At full level. [lm]
    watts : float
        At full level. [W]
    """

    def __init__(self, light: Light, output: float, watts: float):
        self.light, self.output, self.watts = light, output, watts
        self.moves = _moves_of(light)
        self.level = light.dimmer if light.on else 0.0
        self.choices = self._choices()

    @property
    def warms(self) -> bool:
        """Whether its colour follows its level, as of tungsten that is dimmed."""
        return self.light.spectrum == "tungsten"

    @property
    def locked(self) -> bool:
        """Whether nothing of it moves."""
        low, high = self._range()
        return low == high == self.level and [each.change for each in self.choices] == [LampChange()]

    def _range(self) -> tuple[float, float]:
        if self.moves.locked:
            return self.level, self.level
        return self.moves.dimmer

    def _choices(self) -> list[Choice]:
        """Return the colours that it may have, that of now first unless it has a range of them."""
        light, moves = self.light, self.moves
        own = Choice("", LampChange())
        if moves.locked:
            return [own]
        if moves.cct is not None:
            if light.cct is None:
                raise RequestError(f"{light.label} has a measured spectrum and no colour to set", "Gel it.")
            low, high = (1e6 / kelvin for kelvin in reversed(moves.cct))
            steps = max(2, 1 + int(np.ceil((high - low) / STEP_MIRED))) if high > low else 1
            ramp = np.linspace(low, high, steps)
            if low < 1e6 / light.cct < high:
                # Its own colour is one of them, or it would never quite stay as it is.
                ramp = np.union1d(ramp[np.abs(ramp - 1e6 / light.cct) > LEAST_MIRED], 1e6 / light.cct)
            return [Choice(f"{1e6 / each:.0f} K", LampChange(cct=1e6 / each), float(each)) for each in ramp]
        sheets = [each for each in moves.gels if [each] != [gel.name for gel in light.gel]]
        bare = [Choice("no gel", LampChange(gel=()))] if sheets and light.gel else []
        return [own, *bare, *(Choice(name, LampChange(gel=(gel_named(name),))) for name in sheets)]

    def light_of(self, choice: Choice, level: float) -> LampLight:
        """Return its light in a colour at a level of 1, as warm as it is at a level."""
        lit = replace(changed_light(self.light, choice.change), on=True, dimmer=level)
        return replace(lamp_light(lit, self.output), level=1.0)

    def move(self, level: float) -> LampMove:
        """Return what may be done with it, colours as warm as they are at a level."""
        low, high = self._range()
        lights = tuple(self.light_of(choice, level) for choice in self.choices)
        ramp = tuple(choice.mired for choice in self.choices if choice.mired is not None)
        now = 0
        if ramp and self.light.cct is not None:
            now = int(np.argmin(np.abs(np.array(ramp) - 1e6 / self.light.cct)))
        return LampMove(self.light.name, lights, tuple(choice.words for choice in self.choices), self.level,
                        low, high, now, ramp if len(ramp) > 1 else (), self.moves.off and low > 0, self.watts)

    def change(self, setting: Setting) -> LampChange:
        """Return a setting as it can be dialled."""
        if self.locked:
            return LampChange()
        level = round(round(setting.level / LEVEL_STEP) * LEVEL_STEP, 6)
        change = self._levelled(level)
        if not level:
            return change
        choice = self.choices[setting.colour]
        if choice.mired is not None:
            return replace(change, cct=self._kelvin(setting.mired or choice.mired))
        return replace(change, gel=choice.change.gel)

    def _kelvin(self, mired: float) -> float | None:
        """Return a colour temperature that can be set; None where it is that of now."""
        low, high = self.moves.cct or (1600.0, 25_000.0)
        kelvin = float(np.clip(round(1e6 / mired / CCT_STEP) * CCT_STEP, low, high))
        return None if self.light.cct is not None and abs(kelvin - self.light.cct) < CCT_STEP / 2 else kelvin

    def _levelled(self, level: float) -> LampChange:
        if not level:
            return LampChange(on=False) if self.light.on and self.light.dimmer else LampChange()
        return LampChange(on=None if self.light.on else True,
                          dimmer=None if abs(level - self.light.dimmer) < LEVEL_STEP / 2 else level)

    def steps(self, change: LampChange) -> list[LampChange]:
        """Return changes whose level is a step of the dimmer less or more."""
        level = change.dimmer if change.dimmer is not None else self.light.dimmer
        low, high = self._range()
        near = [round(level + step, 6) for step in (-LEVEL_STEP, LEVEL_STEP)]
        return [replace(change, dimmer=each, on=None if self.light.on else True)
                for each in near if max(low, LEVEL_STEP) <= each <= high]


def _moves_of(light: Light) -> LampMoves:
    """Return what may be done with a lamp: what it says, or any level at its colour.

    What burns and what a vehicle's battery feeds has no dimmer, and a lamp that is off is off on purpose. One
    that is left in shot stays lit, as the light of the scene is taken to come from it.
    """
    if light.may_move is not None:
        return light.may_move
    locked = light.flame or not light.mains or not light.on
    if light.in_shot and not locked:
        return LampMoves(dimmer=(min(LEAST_IN_SHOT, light.dimmer), 1.0), off=False)
    return LampMoves(locked=locked)


def gel_named(name: str) -> Gel:
    """Return a sheet by its trade name."""
    nominal = gels.nominal(name)
    if nominal is None:
        raise ValueError(f"there is no gel '{name}'")
    figures: dict[str, Any] = dict(nominal)
    return Gel(name=name, **figures)


def lamps_of(scene: Scene, stage: Stage) -> dict[str, LampMoving]:
    """Return every lamp of a scene with what may be done with it; sun, sky and moon are none.

    Raises
    ------
    RequestError
        A lamp cannot have a colour that it is to try.
    """
    full = replace(scene, lights=tuple(replace(each, on=True, dimmer=1.0) for each in scene.lights))
    outputs = {lamp.name: lamp.output for lamp in stage.lamps}
    stated = {rig.name: rig.watts for rig in stage.rig}
    watts = {each.name: each.power() for each in draws(full, {
        name: (output, stated.get(name)) for name, output in outputs.items()})}
    return {light.name: LampMoving(light, outputs[light.name], watts.get(light.name, 0.0))
            for light in scene.lights}


def fixed(lamp: LampLight) -> LampMove:
    """Return a lamp that stays as it is: sun, sky or moon, or any lamp as it is set."""
    level = lamp.level if lamp.on else 0.0
    return LampMove(lamp.name, (replace(lamp, level=1.0, on=True),), ("",), level, level, level)


def moves(stage: Stage, lamps: Mapping[str, LampMoving], levels: Mapping[str, float]) -> list[LampMove]:
    """Return what may be done with every light of a stage; `levels` are those that tungsten is as warm as."""
    made = []
    for lamp in stage.lamps:
        if lamp.name not in lamps or lamps[lamp.name].locked:
            made.append(fixed(lamp))
            continue
        try:
            made.append(lamps[lamp.name].move(levels.get(lamp.name, 1.0)))
        except PrevizError as error:
            raise RequestError(f"{lamp.name} cannot have a colour that it is to try: {error}",
                               "Give it another range with 'may_move' or --may.") from error
    return made


# Cameras


@dataclass(frozen=True)
class Exposure:
    """How a camera may be set.

    Parameters
    ----------
    stop, nd : float
        T-stop, and density of the neutral filters. [1]
    shift : float
        More light on its picture than as it is set. [stops]
    """

    stop: float
    nd: float
    shift: float


def exposures_of(camera: Camera) -> tuple[Exposure, ...]:
    """Return how a camera may be set, as it is first; of two alike the one with less filter."""
    may = camera.may_move or CameraMoves()
    stops, filters = [camera.stop], [camera.nd]
    if may.stop is not None:
        low, high = may.stop
        stops += [each for each in THIRDS if low - 1e-9 <= each <= high + 1e-9]
    filters += [each for each in may.nd if each != camera.nd]
    made = [Exposure(stop, nd, 2 * float(np.log2(camera.stop / stop)) + (camera.nd - nd) / DENSITY_OF_A_STOP)
            for nd in sorted(filters) for stop in dict.fromkeys(stops)]
    own = Exposure(camera.stop, camera.nd, 0.0)
    kept = [own]
    for each in made:
        if all(abs(each.shift - other.shift) > 1e-3 for other in kept):
            kept.append(each)
    return tuple(kept)


def camera_moves(scene: Scene) -> tuple[list[CameraMove], Callable[[str, float], Exposure]]:
    """Return what may be done with every camera, and what finds how one is set by its shift."""
    known = {camera.name: exposures_of(camera) for camera in scene.cameras}

    def exposure(camera: str, shift: float) -> Exposure:
        return min(known[camera], key=lambda each: abs(each.shift - shift))

    return [CameraMove(name, tuple(each.shift for each in every)) for name, every in known.items()], exposure


def shifted(wants: Iterable[Want], shifts: Mapping[str, float]) -> list[Want]:
    """Return wants under cameras that are set otherwise: less light is 0 stops where more reaches it."""
    return [replace(each, reference=each.reference / 2.0 ** shifts.get(each.camera, 0.0)) for each in wants]


def changes_of(settings: Sequence[Setting], shifts: Mapping[str, float], scene: Scene,
               lamps: Mapping[str, LampMoving], exposure: Callable[[str, float], Exposure]) -> Changes:
    """Return an answer as changes that can be dialled; what stays is not among them."""
    changed = {each.lamp: lamps[each.lamp].change(each) for each in settings if each.lamp in lamps}
    cameras: dict[str, dict[str, float]] = {}
    for camera in scene.cameras:
        found = exposure(camera.name, shifts.get(camera.name, 0.0))
        values = {field: value for field, value, before in (("stop", found.stop, camera.stop),
                                                            ("nd", found.nd, camera.nd)) if value != before}
        if values:
            cameras[camera.name] = values
    return Changes({name: each for name, each in changed.items() if each != LampChange()}, cameras)
