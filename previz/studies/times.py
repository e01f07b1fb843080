"""One run of `previz times`: the scene with the sun where it stands at each time."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from previz.cli.progress import TerminalProgress
from previz.engine.render import Sampling
from previz.errors import RequestError
from previz.exposure.camera import settings_of
from previz.exposure.comparing.day import Hour, outside_lamp
from previz.exposure.comparing.pictures import pictured
from previz.physics.sky_level import clear_sun_illuminance
from previz.physics.solar import sun_position
from previz.rendering.job import StageJob
from previz.rendering.request import QUALITIES, Order, size_for
from previz.sight.subjects import subject_of
from previz.stage.build import build_stage
from previz.stage.outdoors import MOON, SKY, SUN, resolved
from previz.studies.measures import OptionMeters, draws_of, measure_shot
from previz.studies.selection import select


@dataclass(frozen=True)
class Wanted:
    """What the command line asked for; see `previz times --help`.

    Parameters
    ----------
    moments : tuple of datetime.datetime
        With their time zone, in order.
    latitude, longitude : float
        [deg]
    camera, figure : str
        '' for the first camera, and for its own subject.
    throw : float
        From the lamp that would stand in for the sun to the opening. [m]
    size, quality, samples, seed, bands, backend, cache
        As of `previz render`.
    """

    moments: tuple[datetime.datetime, ...]
    latitude: float
    longitude: float
    camera: str
    figure: str
    throw: float
    size: tuple
    quality: str
    cache: Path
    samples: int | None = None
    seed: int = 1
    bands: int = 12
    backend: str = "auto"

    def order(self, camera) -> Order:
        """Return the engine's order for one picture."""
        quality = QUALITIES[self.quality]
        samples = self.samples or quality.samples
        passes = max(p for p in range(1, quality.passes + 1) if samples % p == 0)
        size = (max(16, round(n * quality.scale)) for n in size_for(self.size, camera.aspect))
        return Order(*size, Sampling(samples, passes, self.seed), self.bands, self.backend,
                     self.cache)


def lit_at(scene, moment, latitude: float, longitude: float):
    """Return a scene at another moment, as a scene file with that time has it.

    Sun, moon and sky follow from the time by the laws that hold for any scene. A level that the
    scene states for its sky or sun is taken to be of the moment that it shows, and goes on by the
    same law.

    Parameters
    ----------
    scene : scene.scene.Scene
        With daylight.
    moment : datetime.datetime
        With its time zone.
    latitude, longitude : float
        [deg]
    """
    written = scene.daylight
    if (written.time, written.latitude, written.longitude) == (moment, latitude, longitude):
        return scene
    sun, moon = written.sun, written.moon
    if sun is not None:
        sun = replace(sun, altitude=None, azimuth=None, illuminance=None, cct=None)
    if moon is not None:
        moon = replace(moon, altitude=None, azimuth=None)
    moved = replace(written, time=moment, latitude=latitude, longitude=longitude, sun=sun, moon=moon,
                    illuminance=None)
    then, now = resolved(replace(written, illuminance=None)), resolved(moved)
    if written.illuminance is not None:
        moved = replace(moved, illuminance=written.illuminance * now.illuminance / then.illuminance)
    if sun is not None and written.sun.illuminance is not None:
        usual = clear_sun_illuminance(then.sun.altitude)
        share = written.sun.illuminance / usual if usual > 0 else 0.0
        moved = replace(moved, sun=replace(sun, illuminance=share * now.sun.illuminance))
    return replace(scene, daylight=moved)


def times(scene, wanted: Wanted, tell):
    """Render and measure a scene at every time.

    Parameters
    ----------
    scene : scene.scene.Scene
        With daylight and a camera.
    wanted : Wanted
        What was asked for.
    tell : function
        Called with a line about each picture.

    Returns
    -------
    hours : list of Hour
        One for each time.
    camera : str
        Name of the camera that saw them.
    figure : str
        '' where the camera is on no face.
    cautions : tuple of str
        That the scenes call for.
    """
    if scene.daylight is None:
        raise RequestError("The scene has no daylight; add 'daylight: {sky: clear, sun: ...}'.")
    if scene.daylight.sun is None:
        tell("The scene has no sun; only the level of its sky follows the time.")
    names = [camera.name for camera in scene.cameras]
    if not names:
        raise RequestError("The scene has no camera; add one under 'cameras:'.")
    name = select((wanted.camera,) if wanted.camera else (), names, "camera")[0]
    progress, hours, cautions, figure = TerminalProgress().start(len(wanted.moments)), [], (), wanted.figure
    try:
        for moment in wanted.moments:
            altitude, azimuth = sun_position(moment, latitude_deg=wanted.latitude,
                                             longitude_deg=wanted.longitude)
            changed = lit_at(scene, moment, wanted.latitude, wanted.longitude)
            stage = build_stage(changed)
            progress.show(f"{moment:%H:%M}")
            hour, figure = _hour(changed, stage, name, figure, moment, (altitude, azimuth), wanted,
                                 tell)
            hours.append(hour)
            cautions = stage.cautions
            progress.add(1, f"{moment:%H:%M}")
    finally:
        progress.end()
    return hours, name, figure, cautions


def _hour(scene, stage, name: str, figure: str, moment, place, wanted: Wanted, tell):
    """Return one time, and the figure that was measured."""
    camera = next(each for each in stage.cameras if each.name == name)
    job = StageJob(stage, wanted.order(camera))
    frames = job.cached(camera)
    tell(f"{moment:%H:%M}: sun {place[0]:.1f}° high, "
         + ("taken from the cache" if frames is not None else "rendering"))
    frames = frames or job.render(camera, lambda *_: None)
    subject = figure or subject_of(stage, camera, frames)
    measures = OptionMeters(job, QUALITIES[wanted.quality].precision, draws_of(scene, stage))
    picture = pictured(frames, stage.lamps, settings_of(camera))
    seen = measure_shot(measures, scene.option, camera, frames, lambda: picture, subject)
    parts = {"sun": 0.0, "sky": 0.0, "moon": 0.0, "lamps": 0.0}
    if subject is not None:
        lit = measures.cheeks(subject)[0 if seen.face.lit_side == "left" else 1]
        for part in lit.by_lamp():
            kind = part.lamp if part.lamp in (SUN, SKY, MOON) else "lamps"
            parts[kind] += part.total.value
    outside = None
    disc = None if stage.sun is None else stage.lamps[stage.sun.lamp]
    if disc is not None and disc.name == SUN:
        at = stage.places.get(f"{subject}.face", camera.position)
        outside = _outside(stage, at, disc.output, wanted.throw)
    job.close()
    hours = moment.hour + moment.minute / 60
    return Hour(f"{moment:%H:%M}", hours, *place, seen, picture.still, **parts,
                outside=outside), subject or ""


def _outside(stage, face, illuminance: float, throw: float):
    """Return the lamp for the sun, through the opening that it shines through.

    That is the one on the way from the face to the sun, or else the one that lets most of it in.
    """
    towards, best, chosen_one = np.asarray(stage.sun.towards, float), 0.0, None
    for guide in (each for each in stage.guides if each.opening):
        normal = np.cross(guide.half_u, guide.half_v)
        facing = float(abs(normal @ towards))
        reach = ((guide.centre - face) @ normal) / (normal @ towards or 1e-9)
        point = face + reach * towards - guide.centre
        through = reach > 0 and all(abs(point @ half) <= half @ half
                                    for half in (guide.half_u, guide.half_v))
        weight = 4 * facing * (1e3 if through else 1.0)
        # The sun comes in only where it stands outside the opening.
        outward = (guide.centre - face) @ towards > 0
        if outward and weight > best:
            best, chosen_one = weight, guide
    if chosen_one is None:
        return None
    corners = [a * chosen_one.half_u + b * chosen_one.half_v for a in (-1, 1) for b in (-1, 1)]
    flat = [corner - towards * (corner @ towards) for corner in corners]
    width = max(float(np.linalg.norm(one - other)) for one in flat for other in flat)
    return outside_lamp(chosen_one.name, illuminance, throw, width)
