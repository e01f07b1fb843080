"""What a question to the page's server is about: an option under changes, and a camera's shot of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from previz.errors import DataError
from previz.exposure.camera import settings_of
from previz.exposure.picture import Developed, develop
from previz.page import pack
from previz.page.change_text import read_changes, read_moves
from previz.page.describe import reference_of
from previz.page.desk import Desk, Found
from previz.physics.exposure import CameraSettings
from previz.physics.light import LampLight
from previz.scene.camera import Camera
from previz.scene.scene import Scene
from previz.stage.cautions import for_changed
from previz.stage.outdoors import MOON, SKY, SUN
from previz.stage.records import Stage
from previz.studies.changes import Changes, LampChange, changed_scene, lamp_lights, lamp_of, staged_camera


@dataclass(frozen=True, eq=False)
class Lit:
    """An option under changes; `scene` is as written and moved, `changed` has the changes laid over it."""

    option: str
    moves: str
    scene: Scene
    stage: Stage
    changes: Changes
    changed: Scene

    def lamps(self) -> list[LampLight]:
        """Return the lamps as changed."""
        return lamp_lights(self.changed, self.stage)

    def staged(self) -> Stage:
        """Return the stage with the lamps as changed, and the cautions that they call for."""
        stage = replace(self.stage, lamps=tuple(self.lamps()))
        return replace(stage, reminders=for_changed(self.changed, stage))

    def at_full(self, name: str, *, fading: bool) -> LampLight:
        """Return a lamp as it is at full level in its colour as changed.

        Sky, sun and moon count as full where they give what the scene says. A fading lamp has the
        colour of its level, else that of full level.
        """
        if name in (SKY, SUN, MOON):
            change = self.changes.lamps.get(name, LampChange())
            plain = Changes({name: replace(change, dimmer=None, on=None)})
            return lamp_of(changed_scene(self.scene, self.stage, plain), self.stage, name)
        scene = self.changed
        if not fading:
            scene = replace(scene, lights=tuple(replace(each, dimmer=1.0) for each in scene.lights))
        return pack.full(lamp_of(scene, self.stage, name))


@dataclass(frozen=True, eq=False)
class Shot(Lit):
    """An option seen by a camera under changes, with the best frames there are."""

    camera: Camera
    found: Found

    @property
    def settings(self) -> CameraSettings:
        """The camera's settings as changed."""
        return settings_of(staged_camera(self.stage, self.camera))

    def developed(self) -> Developed:
        """Return the picture as `previz render` makes it."""
        return develop(self.found.frames, self.lamps(), self.settings)

    def lamp_alone(self, number: int) -> tuple[np.ndarray, np.ndarray, list[list[float]]]:
        """Return one lamp's bands, its picture at full level, and how that fades; see `pack`."""
        name = self.found.frames.lights[number]
        bands, scale = pack.lamp_bands(self.found.frames, self.found.clean, number)
        written = next(c for c in self.scene.cameras if c.name == self.camera.name)
        picture = pack.lamp_picture(bands, scale, self.at_full(name, fading=False), reference_of(written))
        light = next((each for each in self.changed.lights if each.name == name), None)
        return bands, picture, pack.fade_tables(bands, light)


def option_of(desk: Desk, query: Mapping[str, str]) -> str:
    """Return the option that a question is about; the first without one."""
    return query.get("option", desk.options[0])


def lit(desk: Desk, query: Mapping[str, str]) -> Lit:
    """Return the option that a question is about, under its changes.

    Raises
    ------
    DataError, RequestError
        The option, lamp or value is none of the scene's.
    """
    option, look = option_of(desk, query), query.get("look", "")
    changes, moves = read_changes(look), read_moves(look)
    scene, stage = desk.scene(option, moves), desk.stage(option, moves)
    return Lit(option, moves, scene, stage, changes, changed_scene(scene, stage, changes))


def shot(desk: Desk, query: Mapping[str, str]) -> Shot:
    """Return the shot that a question is about.

    Raises
    ------
    DataError, RequestError
        The option, camera, lamp or value is none of the scene's, or nothing is rendered yet.
    """
    of = lit(desk, query)
    name = desk.camera(of.option, query.get("camera", ""), of.moves).name
    camera = next(c for c in of.changed.cameras if c.name == name)
    found = desk.find(of.option, name, camera.stop, of.moves)
    if found is None:
        raise DataError(f"nothing of camera {name} is rendered yet", "Wait for the draft.")
    return Shot(of.option, of.moves, of.scene, of.stage, of.changes, of.changed, camera, found)
