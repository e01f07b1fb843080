"""What is measured of one option by one camera: the numbers that stand by its picture."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from previz.exposure import metering
from previz.exposure.camera import settings_of
from previz.exposure.comparing import measures as comparing
from previz.exposure.comparing.eyes import EyeLight
from previz.exposure.comparing.faces import LampOnFace, lamps_on_face
from previz.exposure.comparing.measures import KeySource, ShotMeasures
from previz.exposure.faces import FaceLight, cheeks_of, face_light
from previz.exposure.metering import Mixed
from previz.exposure.picture import Developed
from previz.frames.records import Frames, Short
from previz.physics.exposure import MID_GREY, luminance_from_signal
from previz.physics.mains import Draw
from previz.rendering.job import StageJob
from previz.rendering.metering import Effort, StageMeters
from previz.scene.scene import Scene
from previz.sight.face_view import Outlook, head_of
from previz.sight.subjects import projected
from previz.stage.colours import stage_colours
from previz.stage.mains import draws
from previz.stage.records import Camera, Stage

FOREGROUND = ("figure", "lamp", "board", "frame", "flag")
"""Roles of what is no background."""

METER_SECONDS = 120.0
"""Face meters are run no longer than about this; then they say their own error. [s]"""


class OptionMeters:
    """The meters and face views of one option; each is worked out once and when it is needed.

    The device and the cache are the job's; the precision is the relative standard error of the face
    meters [1]; `kept` is as of `face_view.Outlook`, the rest as of `option_run.MeasureRequest`.
    """

    def __init__(self, job: StageJob, precision: float, draws: Sequence[Draw] = (),
                 kept: dict[Path, Frames] | None = None, *, key_lamps: tuple[str, ...] = (),
                 volts: float = 230.0):
        self.kept: dict[Path, Frames] = {} if kept is None else kept
        self.job, self.stage, self.precision, self.draws = job, job.stage, precision, draws
        self.named_key, self.volts = key_lamps, volts
        self._meters = StageMeters(job)
        self._cheeks: dict[str, tuple[Mixed, Mixed]] = {}
        self._short: dict[str, tuple[Short, ...]] = {}
        self._outlooks: dict[str, Outlook] = {}

    def cheeks(self, figure: str) -> tuple[Mixed, Mixed]:
        """Return the flat meters at a figure's left and right cheek, under the lamps as set."""
        if figure not in self._cheeks:
            left, right = names = cheeks_of(figure)
            effort = Effort(self.precision, METER_SECONDS)
            gathered = self._meters.incident(effort, names)
            mixed = metering.mix(gathered, self.stage.lamps, stage_colours(self.stage))
            self._cheeks[figure] = mixed[left], mixed[right]
            self._short[figure] = self._meters.short(gathered, effort.precision)
        return self._cheeks[figure]

    def short(self, figure: str) -> tuple[Short, ...]:
        """Return which of the meters at a figure's cheeks did not come to the precision."""
        self.cheeks(figure)
        return self._short[figure]

    def outlook(self, figure: str) -> Outlook:
        """Return what can be seen from a figure's face."""
        if figure not in self._outlooks:
            self._outlooks[figure] = Outlook(self.job, head_of(self.stage, figure),
                                             self.kept)
        return self._outlooks[figure]

    def key_lamps(self, figure: str) -> tuple[str, ...]:
        """Return the lamps that make a figure's key."""
        named = tuple(n for n in self.named_key if n in (lamp.name for lamp in self.stage.lamps))
        if named:
            return named
        left, right = self.cheeks(figure)
        lit = max((left, right), key=lambda side: side.light().value)
        return (lit.by_lamp()[0].lamp,)

    def lamps_on(self, figure: str) -> tuple[LampOnFace, ...]:
        """Return what each lamp does to a figure's face."""
        return lamps_on_face(figure, *self.cheeks(figure))

    def key_source(self, figure: str, face: FaceLight, camera: Camera) -> KeySource | None:
        """Return where a figure's key comes from, as a camera sees it."""
        lamps = self.key_lamps(figure)
        lit = self.cheeks(figure)[0 if face.lit_side == "left" else 1]
        whole = lit.light(lamps).value
        straight = lit.light(lamps, 0).value / whole if whole > 0 else 0.0
        return self.outlook(figure).key_source(face.lit_side, lamps, camera, straight)


def measure_shot(meters: OptionMeters, option: str, camera: Camera, frames: Frames,
                 develop: Callable[[], Developed], subject: str | None,
                 spill: str = "") -> ShotMeasures:
    """Return what is measured of one option, '' for the scene as written, by one camera.

    The subject is the figure whose face is measured; the picture is developed when that is done. Spill is
    given for a surface, '' for what lies behind the subject.
    """
    stage, settings = meters.stage, settings_of(camera)
    face = key = lit = None
    eyes: tuple[EyeLight, ...] = ()
    key_lamps = meters.named_key
    grey: float = np.float64(luminance_from_signal(MID_GREY, settings))
    near = -np.inf
    if subject is not None:
        face = face_light(subject, *meters.cheeks(subject))
        near = projected(camera, stage.places[f"{subject}.face"])[2]
        if face.lit.value > 0:
            lit = face.lit.value
            grey = comparing.grey_in(lit)
            key_lamps = meters.key_lamps(subject)
            key = meters.key_source(subject, face, camera)
            eyes = meters.outlook(subject).eye_lights(camera, settings)
    picture = develop()
    things, names = frames.names_index, frames.names
    behind = comparing.background(picture.raw, frames, near, foreground_of(stage), grey)
    surface = spill or (behind.name if behind else "")
    return ShotMeasures(
        option=option, camera=camera.name, settings=settings, face=face, key=key,
        background=behind,
        hottest=comparing.extreme_area(picture.clean, picture.raw, things, names, grey,
                                       hottest=True),
        darkest=comparing.extreme_area(picture.clean, picture.raw, things, names, grey,
                                       hottest=False),
        spill=comparing.spill(picture.raw, frames, stage.lamps, surface, key_lamps, grey),
        eye_lights=eyes,
        load=comparing.mains_load(meters.draws, meters.volts, lit),
        short=() if subject is None else meters.short(subject))


def foreground_of(stage: Stage) -> set[str]:
    """Return the names of what is no background: people, boards, and lamps that are seen.

    A backing with a picture is one, though it shines.
    """
    backings = {emitter.name for emitter in stage.emitters if emitter.picture is not None}
    return ({mesh.name for mesh in stage.meshes if mesh.role in FOREGROUND}
            | {emitter.name for emitter in stage.emitters}) - backings


def draws_of(scene: Scene, stage: Stage) -> list[Draw]:
    """Return what each lamp of a scene that gives light draws; the stage is built of it."""
    watts = {rig.name: rig.watts for rig in stage.rig}
    return draws(scene, {lamp.name: (lamp.output, watts.get(lamp.name)) for lamp in stage.lamps})
