"""Pictures of a study: one of each kind of use, exposed for the face."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from previz.deliver.plates import Plate
from previz.exposure.camera import settings_of, working_illuminance
from previz.exposure.comparing.views import pinhole_rays
from previz.exposure.comparing.wrap import Step
from previz.exposure.picture import develop
from previz.frames.records import Frames
from previz.physics.rays import rectangle_reach
from previz.physics.safety import Caution, together
from previz.rendering.job import StageJob
from previz.rendering.progress import Progress
from previz.rendering.request import Request
from previz.scene.modifiers import Sheet
from previz.scene.scene import Scene
from previz.sight.subjects import LEAST_FRONTAL, projected
from previz.stage.build import build_stage
from previz.stage.records import Camera, Stage
from previz.stage.sheets import outline
from previz.studies.study.setups import BOARD, FRAME

MOST_WIDE = 640
"""Pictures are no wider than this. [px]"""

IN_THE_SHOT = 0.02
"""A board or frame that takes more of the frame stands in the shot. [1]"""

LEAST_SEEN = 0.005
"""What takes less of a picture is not said to stand in it. [1]"""

LINES = 96
"""Lines of sight across and up by which that is found."""


class Pictures(NamedTuple):
    """Pictures of a study.

    `in_shot` is the share of its picture that a step's board or frame takes, by the step's name. [1]
    """

    examples: tuple[Plate, ...] = ()
    in_shot: Mapping[str, float] = {}
    cautions: tuple[Caution, ...] = ()


def middle_steps(steps: Sequence[Step], share: Callable[[Step], float] = lambda step: 0.0) -> list[Step]:
    """Return one step of each kind to show in a picture.

    The middle of each ladder, or the nearest to it whose board or frame does not stand in the shot, by its
    share of the frame [1]; where all do, the one that takes least of it.
    """
    shown = []
    for kind in ("direct", "frame", "board"):
        own = [step for step in steps if step.kind == kind]
        if not own:
            continue
        sizes, distances = (sorted({getattr(step, name) for step in own})
                            for name in ("size", "distance"))

        def off(step: Step, sizes: list[float] = sizes,
                distances: list[float] = distances) -> tuple[int, int]:
            """Return how many rungs a step is off the middle, distance first."""
            return (abs(distances.index(step.distance) - len(distances) // 2),
                    abs(sizes.index(step.size) - len(sizes) // 2))

        clear = [step for step in own if share(step) < IN_THE_SHOT]
        shown.append(min(clear, key=off) if clear
                     else min(own, key=lambda step: (round(share(step), 2), off(step))))
    return shown


def frame_share(camera: Camera, item: Sheet) -> float:
    """Return the share of a frame that a board or frame, facing a point, would take by itself. [1]"""
    centre, half_u, half_v = outline(item, np.asarray(item.facing.point, float))
    rays, _ = pinhole_rays(LINES, LINES, camera.world_from_camera, camera.tan_half)
    _, inside = rectangle_reach(camera.position, rays.reshape(-1, 3), centre, half_u, half_v)
    return float(np.mean(inside))


def pictures_of(steps: Sequence[Step], scenes: Mapping[str, Scene], figure: str, request: Request,
                camera: str, progress: Progress) -> Pictures:
    """Return a picture of each kind of use, exposed for a figure's face; a picture is 1 of the work.

    The steps are all of the study, straight first; scenes go by their names and have their people. The
    camera is the one that is on the face for ''.
    """
    straight = build_stage(scenes[steps[0].name])
    if not straight.cameras:
        return Pictures(cautions=straight.reminders)
    names = [each.name for each in straight.cameras]
    own = straight.cameras[names.index(camera) if camera else on_face(straight, figure)]

    def share(step: Step) -> float:
        scene = scenes[step.name]
        return max((frame_share(own, item) for item in (*scene.diffusion, *scene.boards)),
                   default=0.0)

    size = request.at(min(request.size[0], MOST_WIDE))
    made, in_shot, cautions = [], {}, [*straight.reminders]
    for step in middle_steps(steps, share):
        stage = build_stage(scenes[step.name])
        cautions += stage.reminders
        job = StageJob(stage, replace(size, exact=True).order(own.aspect))
        frames = job.frames(own, progress, f"picture, {step.name}")
        job.close()
        settings = settings_of(own)
        # The same camera, at the speed that puts this light at its working stop.
        if step.ring.peak > 0:
            settings = replace(settings, iso=settings.iso * working_illuminance(settings)
                               / step.ring.peak)
        still = develop(frames, stage.lamps, settings).still
        seen = _share(frames, {"frame": FRAME, "board": BOARD}.get(step.kind, ""))
        if seen >= LEAST_SEEN:
            in_shot[step.name] = seen
        note = (f"stands in this shot: {100 * seen:.0f} % of the frame" if seen >= LEAST_SEEN
                else "this lamp alone, exposed for the face")
        made.append(Plate([[still]], step.name, note))
    return Pictures(tuple(made), in_shot, together(cautions))


def on_face(stage: Stage, figure: str) -> int:
    """Return the number of the camera that a face is in the frame of, largest and most from before.

    The first camera where no frame holds it.
    """
    place = np.asarray(stage.places[f"{figure}.face"], float)
    ahead = next(p.normal for p in stage.probes if p.name.startswith(f"{figure}: face"))
    scores = []
    for camera in stage.cameras:
        x, y, depth = projected(camera, place)
        towards = camera.position - place
        frontal = float(ahead @ towards / np.linalg.norm(towards))
        inside = abs(x) < 1 and abs(y) < 1 and frontal > LEAST_FRONTAL
        scores.append(frontal / (depth * camera.tan_half[1]) ** 2 if inside else 0.0)
    return int(np.argmax(scores))


def _share(frames: Frames, name: str) -> float:
    """Return the share of the frame that a thing takes. [1]"""
    if name not in frames.names:
        return 0.0
    return float(np.mean(np.asarray(frames.names_index) == frames.names.index(name)))
