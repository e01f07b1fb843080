"""A shot with other levels, colours and camera settings: by arithmetic, nothing is rendered."""

from __future__ import annotations

from dataclasses import replace

from previz.exposure.camera import settings_of
from previz.exposure.picture import develop
from previz.frames.records import Short
from previz.rendering.job import StageJob
from previz.rendering.metering import StageMeters
from previz.rendering.request import Request
from previz.scene.scene import Scene
from previz.sight.rig_bodies import bodies_of
from previz.sight.rig_seen import rig_in
from previz.studies.changes import Changes, changed_scene, lamp_lights, staged_camera
from previz.studies.render import Shot
from previz.studies.state import state_of


def relit(shot: Shot, scene: Scene, changes: Changes, request: Request) -> Shot:
    """Return a shot of an option under changes of its lamps and its camera, by the request that made it.

    The depth of field stays that of the stop that the shot was rendered at.

    Raises
    ------
    RequestError
        The option has no such lamp or camera, or a change cannot be had without rendering.
    """
    changed = changed_scene(scene, shot.stage, changes)
    written = next(each for each in changed.cameras if each.name == shot.camera.name)
    camera = staged_camera(shot.stage, written)
    stage = replace(shot.stage, lamps=tuple(lamp_lights(changed, shot.stage)),
                    cameras=tuple(camera if each.name == camera.name else each
                                  for each in shot.stage.cameras))
    # Light paths and lines of sight are those of the shot, so this job finds them in the cache.
    job = StageJob(stage, request.order(camera.aspect))
    short: tuple[Short, ...] = ()
    if shot.gathered is not None:
        short = StageMeters(job).short(shot.gathered, request.precision)
    return replace(shot, camera=camera, stage=stage, short=short, changed=changes.text(),
                   state=state_of(job.paths, camera, stage.lamps),
                   rig=rig_in(job, camera, bodies_of(changed, stage)),
                   developed=develop(shot.frames, stage.lamps, settings_of(camera)))
