"""Pictures of a study: one of each kind of way, exposed for the face."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from previz.deliver.study_sheet import Example
from previz.exposure.camera import settings_of, working_illuminance
from previz.exposure.picture import develop
from previz.rendering.job import StageJob
from previz.sight.subjects import LEAST_FRONTAL, projected
from previz.stage.build import build_stage
from previz.stage.sheets import outline
from previz.studies.selection import select

IN_THE_WAY = 0.02
"""A board or frame that takes more of the frame stands in the shot. [1]"""

LOOKS = 48
"""Lines of sight across and up by which that is told."""


def middle_steps(steps, share=lambda step: 0.0) -> list:
    """Return one step of each kind to show in a picture.

    The middle of each ladder, or the nearest to it that does not stand in the shot; where all do,
    the one that takes least of it.

    Parameters
    ----------
    steps : sequence of Step
        All of the study.
    share : function
        Step -> share of the frame that its board or frame takes. [1]
    """
    shown = []
    for kind in ("direct", "frame", "board"):
        own = [step for step in steps if step.kind == kind]
        if not own:
            continue
        sizes, distances = (sorted({getattr(step, name) for step in own})
                            for name in ("size", "distance"))

        def apart(step, sizes=sizes, distances=distances):
            """Return how many rungs a step is off the middle, distance first."""
            return (abs(distances.index(step.distance) - len(distances) // 2),
                    abs(sizes.index(step.size) - len(sizes) // 2))

        clear = [step for step in own if share(step) < IN_THE_WAY]
        shown.append(min(clear, key=apart) if clear
                     else min(own, key=lambda step: (round(share(step), 2), apart(step))))
    return shown


def frame_share(camera, item) -> float:
    """Return the share of a camera's frame that a board or frame would take by itself. [1]

    Parameters
    ----------
    camera : Camera
        The one that looks.
    item : scene.modifiers.Sheet
        Faces a point.
    """
    centre, half_u, half_v = outline(item, np.asarray(item.facing.point, float))
    x, y = (np.linspace(-1, 1, 2 * LOOKS + 1)[1::2] * tan for tan in camera.tan_half)
    plane = np.stack(np.broadcast_arrays(x[None, :], y[:, None], 1.0), axis=-1).reshape(-1, 3)
    ways = plane @ np.asarray(camera.world_from_camera, float).T
    normal = np.cross(half_u, half_v)
    with np.errstate(divide="ignore", invalid="ignore"):
        reach = ((centre - camera.position) @ normal) / (ways @ normal)
        offset = camera.position + ways * reach[:, None] - centre
        inside = (reach > 0) & (np.abs(offset @ half_u) <= half_u @ half_u)
        inside &= np.abs(offset @ half_v) <= half_v @ half_v
    return float(np.mean(inside))


def pictures(found, wanted, camera: str, width: int):
    """Return a picture of each kind of way, exposed for the face, and the scene's cautions.

    Parameters
    ----------
    found : study_session.Study
        What was found.
    wanted : study_session.Wanted
        What was asked for.
    camera : str
        '' for the one that is on the face.
    width : int
        [px]

    Returns
    -------
    list of study_sheet.Example, tuple of str
    """
    made, cautions = [], ()
    stages = {"direct": build_stage(found.scenes["direct"])}
    cameras = stages["direct"].cameras
    if not cameras:
        return [], stages["direct"].cautions
    names = [each.name for each in cameras]
    own = cameras[names.index(select((camera,), names, "camera")[0]) if camera
                  else on_face(stages["direct"], found.figure)]

    def share(step) -> float:
        scene = found.scenes[step.name]
        return max((frame_share(own, item) for item in (*scene.diffusion, *scene.boards)),
                   default=0.0)

    for step in middle_steps(found.steps, share):
        stage = stages.get(step.name) or build_stage(found.scenes[step.name])
        job = StageJob(stage, wanted.picture_order(own, width))
        frames = job.cached(own) or job.render(own, lambda *_: None)
        job.close()
        settings = settings_of(own)
        # The same camera, at the speed that puts this way's light at its working stop.
        if step.ring.peak > 0:
            settings = replace(settings, iso=settings.iso * working_illuminance(settings)
                               / step.ring.peak)
        still = develop(frames, stage.lamps, settings).still
        seen = _share(frames, f"study {step.kind}")
        note = (f"stands in this shot: {100 * seen:.0f} % of the frame" if seen >= 0.005
                else Example.note)
        made.append(Example(step.name, still, note))
        cautions = stage.cautions
    return made, cautions


def on_face(stage, figure: str) -> int:
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


def _share(frames, name: str) -> float:
    """Return the share of the frame that a thing takes. [1]"""
    if name not in frames.names:
        return 0.0
    return float(np.mean(np.asarray(frames.names_index) == frames.names.index(name)))
