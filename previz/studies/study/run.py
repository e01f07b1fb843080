"""One run of a study: the lamp and the face are chosen, and each use is measured in turn."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from previz.errors import RequestError
from previz.exposure import metering
from previz.exposure.camera import settings_of
from previz.exposure.faces import cheeks_of
from previz.exposure.meter_report import CameraNote
from previz.rendering.job import StageJob
from previz.rendering.metering import Effort, StageMeters
from previz.rendering.progress import SETTING_UP, Progress
from previz.rendering.request import Request
from previz.scene.light import Light
from previz.scene.scene import Scene
from previz.scene.surface import LIBRARY
from previz.sight.face_view import faces_of, head_of
from previz.stage.build import BACK_WALL, build_stage
from previz.stage.records import Stage
from previz.studies.selection import select, select_one
from previz.studies.study.pictures import pictures_of
from previz.studies.study.result import Study
from previz.studies.study.ring import METER_SECONDS, Use, measured
from previz.studies.study.setups import Setups

STRONGEST = 0.05
"""Relative error that the cheeks are metered to, to find the strongest lamp. [1]"""


def study(scene: Scene, request: Request, *, lamp: str = "", figure: str = "",
          sizes: tuple[float, ...] = (0.6, 1.2, 2.4), distances: tuple[float, ...] = (1.0, 2.0),
          transmission: float = 0.5, surface: str = "white card", spill: str = "", camera: str = "",
          pictures: bool = True, progress: Progress | None = None) -> Study:
    """Study one lamp of a scene: aimed straight at a face, through a frame of cloth, off a board.

    Parameters
    ----------
    scene : Scene
        One option of a scene.
    request : Request
        Its size is the pictures'; its precision that of the meters.
    lamp : str
        '' for the strongest at the face.
    figure : str
        Whose face is lit; '' for that which the lamp is aimed at, else the first.
    sizes, distances : tuple of float
        Sides of the boards and frames, and from the face to them. [m]
    transmission : float
        Of the frames' cloth. [1]
    surface : str
        Of the boards, from the library.
    spill : str
        Name of a meter that spill is read on; '' for the back wall.
    camera : str
        Of the pictures; '' for the one that is on the face.
    pictures : bool
        Render one picture of each kind.

    Raises
    ------
    RequestError
        The scene has no face, no lamp, or not what is named.
    """
    progress = progress or Progress()
    progress.show(SETTING_UP)
    select((surface,), LIBRARY, "surface in the library")
    stage = build_stage(scene)
    faces = faces_of(stage)
    if not faces:
        raise RequestError("The scene has no face to light; add one under 'figures:'.")
    figure = select_one(figure or lit_by(scene, lamp, faces), faces, "figure")
    if camera:
        select((camera,), [each.name for each in stage.cameras], "camera")
    head = head_of(stage, figure)
    light = _lamp(scene, stage, request, lamp, figure)
    if (np.asarray(light.at) - head.nose) @ head.ahead < 0:
        progress.say(f"'{light.name}' stands behind the face of '{figure}': aimed straight, it lights the "
                     "edge of the head alone")
    setups, left_out = Setups(scene, stage, light, head, sizes, distances, transmission, surface).all()
    for line in left_out:
        progress.say(line)
    with progress.running(len(setups) + (3 if pictures and stage.cameras else 0)):
        uses: list[Use] = []
        for setup in setups:
            progress.show(setup.name)

            def going(_: object, name: str = setup.name) -> None:
                progress.show(name)

            uses.append(measured(setup, request, head, light, spill, uses[0].ring.peak if uses else None,
                                 going))
            progress.add(1, setup.name)
        result = Study(
            scene.title, scene.option, light.name, light.kind, figure, tuple(uses), tuple(left_out),
            spill or BACK_WALL, float(np.linalg.norm(np.asarray(light.at) - head.nose)),
            next((CameraNote(each.name, settings_of(each)) for each in stage.cameras), None))
        if not pictures:
            return result
        scenes = {setup.name: setup.scene for setup in setups}
        return replace(result, pictures=pictures_of(uses, scenes, figure, request, camera, progress))


def lit_by(scene: Scene, lamp: str, faces: list[str]) -> str:
    """Return the figure that a lamp is aimed at; the first where it is aimed at none."""
    aimed = {light.name: light.aim.name for light in scene.lights
             if light.aim is not None}
    figure = aimed.get(lamp)
    return figure if figure is not None and figure in faces else faces[0]


def _lamp(scene: Scene, stage: Stage, request: Request, lamp: str, figure: str) -> Light:
    """Return the lamp that is studied: the one named, or the strongest at the face."""
    lights = {light.name: light for light in scene.lights}
    if not lights:
        raise RequestError("The scene has no lamp to study; add one under 'lights:'.")
    if lamp:
        return lights[select_one(lamp, lights, "lamp")]
    job = StageJob(stage, request.meter_order())
    names = cheeks_of(figure)
    mixed = metering.mix(StageMeters(job).incident(Effort(STRONGEST, METER_SECONDS), names), stage.lamps)
    job.close()
    lit = max((mixed[name] for name in names), key=lambda each: each.light().value)
    return next((lights[part.lamp] for part in lit.by_lamp() if part.lamp in lights), scene.lights[0])
