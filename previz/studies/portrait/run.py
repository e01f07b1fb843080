"""One run of a portrait: a studio rendered once, and a picture mixed for each placement."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence

from previz.deliver.portrait_sheet import PortraitCell, PortraitRow
from previz.exposure import metering
from previz.exposure.faces import CHEEKS, FaceLight, cheeks_of, faces_in
from previz.exposure.picture import develop
from previz.frames.records import Frames, Short
from previz.physics.light import LampLight
from previz.physics.safety import together
from previz.rendering.job import METER_SECONDS, StageJob
from previz.rendering.metering import Effort, StageMeters
from previz.rendering.progress import SETTING_UP, Progress
from previz.rendering.request import Request
from previz.scene.scene import Scene
from previz.stage.colours import stage_colours
from previz.stage.records import Stage
from previz.studies.portrait import studio
from previz.studies.portrait.result import Portrait
from previz.studies.portrait.sitter import described, sitter

EYES_LARGER = 2
"""Width of the eyes' picture over the portrait's: an eye-light is a few pixels in it, which the
denoiser keeps. [1]"""

METERS = 0.1
"""About how much of the work of one row its meters are, for the time left. [1]"""

STILLS = 1.0
"""About how much of it its stills are: two for each placement, mixed and denoised. [1]"""

PRECISION = 0.02
"""Relative standard error that the cheeks are metered to, under all lamps together. [1]"""


def portrait(scene: Scene | None, request: Request, *, figure: str = "", person: str | None = None,
             skin: str | None = None, sheen: str | None = None, hair: str | None = None,
             hair_colour: str | None = None, fill: float | None = -4.0, exposure: float = 1.0,
             progress: Progress | None = None) -> Portrait:
    """Render one head under each classic placement of the key, hard and soft, and meter its cheeks.

    Parameters
    ----------
    scene : Scene or None
        One option of a scene whose figure it is; None for a built-in person.
    request : Request
        The width is that of one portrait; without an error, cheeks are metered to `PRECISION`.
    figure : str
        Which figure of the scene; '' where it has but one.
    person, skin, sheen, hair, hair_colour : str or None
        What is to be otherwise than in the scene; see `scene.figure.Figure`.
    fill : float or None
        Fill against the key; None for no fill. [stops]
    exposure : float
        How far the lens is opened from what a meter at the face sets. [stops]

    Raises
    ------
    RequestError
        The scene has no such figure.
    """
    progress = progress or Progress()
    progress.show(SETTING_UP)
    head = sitter(scene, figure, {"person": person, "skin": skin, "sheen": sheen, "hair": hair,
                                  "hair_colour": hair_colour})
    stages = studio.studio(studio.studio_figure(head))
    with progress.running(len(stages) * (2 + METERS + STILLS)):
        lines = tuple(_line(name, stage, request, fill, exposure, progress)
                      for name, stage in stages.items())
    # Its lamps stand in for one after the other, so that their load is nobody's.
    cautions = together(each for stage in stages.values() for each in stage.reminders if each.kind != "mains")
    return Portrait(described(head), lines, studio.settings(), fill, exposure, cautions)


def _line(name: str, stage: Stage, request: Request, fill: float | None, exposure: float,
          progress: Progress) -> PortraitRow:
    """Return all placements of one size of source."""
    precision, seen = PRECISION if request.error is None else request.error, dict[str, Frames]()
    job = StageJob(stage, request.meter_order())
    for camera in stage.cameras:
        size = request.at(request.size[0] * (EYES_LARGER if camera.name == studio.EYES else 1))
        job = job.like(size.order(camera.aspect))
        seen[camera.name] = job.frames(camera, progress, f"{name} lamps, {camera.name}")
    label = f"{name} lamps, meters"
    progress.show(label)
    meters = StageMeters(job)
    gathered = meters.incident(Effort(precision, METER_SECONDS, lambda _: progress.show(label)),
                               cheeks_of(studio.SUBJECT))
    progress.add(METERS, label)
    job.close()
    cells = []
    for placement in studio.PLACEMENTS:
        progress.show(f"{name} lamps, {placement.name}")
        lamps = mixed(stage.lamps, placement.name, name, fill)
        face, = faces_in(metering.mix(gathered, lamps, stage_colours(stage)))
        # All lamps together were run to that; under one of them a side may be far from it.
        sides = dict(zip(cheeks_of(studio.SUBJECT), CHEEKS, strict=True))
        short = tuple(
            each._replace(name="lit side" if sides[each.name] == face.lit_side else "shadow side")
            for each in meters.short(gathered, precision, lamps))
        cells.append(_cell(placement, seen, lamps, exposure, face, short))
        progress.add(STILLS / len(studio.PLACEMENTS), f"{name} lamps, {placement.name}")
    return PortraitRow(name, studio.SOURCES[name], tuple(cells))


def mixed(lamps: Sequence[LampLight], placement: str, source: str, fill: float | None) -> list[LampLight]:
    """Return a stage's lamps with one placement of a source alight, and its fill, None for none. [stops]"""
    share = 0.0 if fill is None else 2.0**fill
    levels = {placement: 1.0}
    # The frontal soft lamp is its row's fill too; as a key it needs no more of itself.
    levels[studio.FILL[source]] = max(levels.get(studio.FILL[source], 0.0), share)
    return [dataclasses.replace(lamp, level=levels.get(lamp.name, 0.0)) for lamp in lamps]


def _cell(placement: studio.Placement, seen: Mapping[str, Frames], lamps: list[LampLight],
          exposure: float, face: FaceLight, short: tuple[Short, ...]) -> PortraitCell:
    settings = studio.settings()
    opened = dataclasses.replace(settings, stop=settings.stop * 2 ** (-exposure / 2))
    stills = [develop(seen[name], lamps, opened) for name in (studio.HEAD, studio.EYES)]
    return PortraitCell(
        placement.name, placement.words, stills[0].still, stills[1].still,
        face, settings, next((each.note for each in stills if each.note), ""), short)
