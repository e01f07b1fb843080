"""A scene over a day: with the sun where it stands at each time, and a lamp that would replace it."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import ClassVar

import numpy as np

from previz.deliver.times_sheet import write_times
from previz.errors import RequestError
from previz.exposure.comparing.day import HELPS, Hour, Outside, outside_lamp, summary
from previz.exposure.comparing.measures import stops_from
from previz.exposure.faces import CHEEKS, cheeks_of
from previz.exposure.metering import Mixed, jackknife
from previz.physics.safety import Caution, together
from previz.physics.sky_level import clear_sun_illuminance
from previz.physics.solar import sun_position
from previz.rendering.ahead import look_ahead
from previz.rendering.job import StageJob
from previz.rendering.needs import EACH_STILL
from previz.rendering.progress import SETTING_UP, Progress
from previz.rendering.request import Request
from previz.scene.daylight import Sun as ScenicSun
from previz.scene.scene import Scene
from previz.sight.face_view import faces_of
from previz.stage.build import build_stage
from previz.stage.outdoors import MOON, SKY, SUN, resolved, shining
from previz.stage.records import Stage, Sun
from previz.studies.option_run import taken
from previz.studies.outside import AddedLamp
from previz.studies.result import Result, Row, row
from previz.studies.rows import caution_rows, shot_rows
from previz.studies.selection import no_camera, select, select_one
from previz.studies.sun_lamp import lamp_for_sun, sun_opening


@dataclass(frozen=True, eq=False)
class Day(Result):
    """A scene at several times of a day; see `times`.

    Parameters
    ----------
    hours : tuple of Hour
        One for each moment.
    camera, figure : str
        Who saw them; whose face was measured, '' for none.
    cautions : tuple of Caution
        That the scenes call for.
    lamp : AddedLamp or None
        For the sun of one of the moments, where that is requested.
    """

    study: ClassVar[str] = "times"
    axes: ClassVar[tuple[str, ...]] = ("time", "option", "camera", "figure", "meter", "lamp", "thing")

    title: str
    option: str
    moments: tuple[datetime.datetime, ...]
    latitude: float
    longitude: float
    hours: tuple[Hour, ...]
    camera: str
    figure: str
    throw: float
    least: float
    cautions: tuple[Caution, ...]
    lamp: AddedLamp | None = None

    @property
    def subject(self) -> str:
        """Date, place, camera and face in a line."""
        first = self.moments[0]
        return (f"{first:%Y-%m-%d} at {self.latitude:g}, {self.longitude:g} ({first.tzinfo}), "
                f"camera {self.camera}" + (f", on {self.figure}" if self.figure else "")
                + (f", option '{self.option}'" if self.option else ""))

    def _rows(self) -> list[Row]:
        first = self.moments[0]
        rows = [row("date", f"{first:%Y-%m-%d}"), row("zone", str(first.tzinfo)),
                row("latitude", self.latitude), row("longitude", self.longitude),
                row("replacement_distance", self.throw), row("least_help", self.least)]
        for hour in self.hours:
            of = {"time": hour.label, "option": self.option, "camera": self.camera}
            rows += [row("sun_altitude", hour.altitude, **of), row("sun_azimuth", hour.azimuth, **of),
                     *shot_rows(hour.measures, **of)]
            on = {**of, "figure": self.figure}
            if hour.measures.face is not None:
                rows += [row(f"by_{part}", getattr(hour, part), hour.errors.get(part), **on)
                         for part in ("sun", "sky", "moon", "lamps")]
                rows.append(row("sun_help", hour.help, hour.errors.get("help"),
                                note="all of it" if np.isinf(hour.help) else "", **on))
            if hour.outside is not None:
                rows += _lamp_rows(hour.outside, **of)
        if self.figure:
            rows.append(row("sun_summary", summary(self.hours, self.least), figure=self.figure))
        if self.lamp is not None:
            rows += self.lamp.rows(option=self.option, camera=self.camera)
        return rows + caution_rows(self.cautions)

    def sheet(self, path: Path | str) -> list[Path]:
        """Write the sheet as a PNG and a PDF under a name without its ending; return the files."""
        return write_times(Path(path), self.hours, self._words(f"Times of day: {self.subject}"),
                           title=self.title, subject=self.subject, distance=self.throw, least=self.least,
                           cautions=self.cautions)


def _lamp_rows(lamp: Outside, **of: str) -> list[Row]:
    """Return the lamp that would replace the sun in one opening."""
    of = {**of, "thing": lamp.opening}
    return [row("replacement_intensity", lamp.intensity, **of), row("replacement_beam", lamp.beam, **of),
            row("replacement_flux", lamp.flux, **of), row("replacement_load", lamp.watts, **of)]


def times(scene: Scene, request: Request, *, moments: Sequence[datetime.datetime], latitude: float,
          longitude: float, camera: str = "", figure: str = "", throw: float = 10.0,
          least: float = HELPS, title: str = "", lamp_at: datetime.datetime | None = None,
          progress: Progress | None = None) -> Day:
    """Render and measure a scene at every time.

    Parameters
    ----------
    scene : Scene
        With daylight and a camera.
    request : Request
        Of the pictures and meters.
    moments : sequence of datetime.datetime
        With their time zone, in order.
    latitude, longitude : float
        North and east positive. [deg]
    camera, figure : str
        '' for the first camera, and for its own subject.
    throw : float
        From the lamp that would stand in for the sun to the opening. [m]
    least : float
        From how much on the face the sun counts as help. [stops]
    title : str
        In place of the scene's own.
    lamp_at : datetime.datetime, optional
        One of the moments: the lamp for its sun is put into the scene of it and metered; see
        `sun_lamp.lamp_for_sun`.
    progress : Progress, optional
        Counts the pictures, and says of each whether it was rendered.

    Raises
    ------
    RequestError
        The scene has no daylight or no such camera, or there is no time.
    """
    progress, figure_of_all = progress or Progress(), figure
    progress.show(SETTING_UP)
    if not moments:
        raise RequestError("There is no time to show; give at least one.")
    if lamp_at is not None and lamp_at not in moments:
        raise RequestError(f"{lamp_at:%H:%M} is not among the times, so there is no sun to put a lamp for.",
                           f"Choose one of: {', '.join(f'{each:%H:%M}' for each in moments)}.")
    if scene.daylight is None:
        raise RequestError("The scene has no daylight; add 'daylight: {sky: clear, sun: ...}'.")
    if scene.daylight.sun is None:
        progress.say("The scene has no sun; only the level of its sky follows the time.")
    if not scene.cameras:
        raise no_camera()
    name = select_one(camera, [each.name for each in scene.cameras], "camera")
    if lamp_at is not None:
        found = shining(resolved(lit_at(scene, lamp_at, latitude, longitude).daylight))
        if found is None or found[0] != SUN:
            raise RequestError(f"The sun does not shine at {lamp_at:%H:%M}: there is no lamp to put for it.",
                               "Choose another time, or give the scene a sun.")
    hours: list[Hour] = []
    lamp: AddedLamp | None = None
    with progress.running(len(moments)):
        for moment in moments:
            place = sun_position(moment, latitude_deg=latitude, longitude_deg=longitude)
            changed = lit_at(scene, moment, latitude, longitude)
            stage = build_stage(changed)
            select((figure,) if figure else (), faces_of(stage), "figure")
            if not hours:
                look_ahead([(StageJob(stage, request.meter_order()), each) for each in stage.cameras
                            if each.name == name], request, progress, held=EACH_STILL, times=len(moments))
            hour, figure_of_all, put = _hour(changed, stage, name, figure_of_all, moment, place, throw,
                                             request, progress, lamp=moment == lamp_at)
            hours.append(hour)
            lamp = put or lamp
    return Day(title or scene.title, scene.option, tuple(moments), latitude, longitude, tuple(hours), name,
               figure_of_all, throw, least,
               together([*stage.reminders, *(() if lamp is None else lamp.cautions)]), lamp)


def lit_at(scene: Scene, moment: datetime.datetime, latitude: float, longitude: float) -> Scene:
    """Return a scene at another moment, as a scene file with that time has it.

    Sun, moon and sky follow from the time by the laws that hold for any scene. A level that the
    scene states for its sky or sun is taken to be of the moment that it shows, and goes on by the
    same law.

    Parameters
    ----------
    scene : Scene
        With daylight; else it is the same at any moment.
    moment : datetime.datetime
        With its time zone.
    latitude, longitude : float
        [deg]
    """
    written = scene.daylight
    if written is None or (
            written.time, written.latitude, written.longitude) == (moment, latitude, longitude):
        return scene
    sun, moon = written.sun, written.moon
    if sun is not None:
        sun = replace(sun, altitude=None, azimuth=None, illuminance=None, cct=None)
    if moon is not None:
        moon = replace(moon, altitude=None, azimuth=None)
    moved = replace(written, time=moment, latitude=latitude, longitude=longitude, sun=sun, moon=moon,
                    illuminance=None)
    then, now = resolved(replace(written, illuminance=None)), resolved(moved)
    if written.illuminance is not None and now.illuminance is not None and then.illuminance is not None:
        moved = replace(moved, illuminance=written.illuminance * now.illuminance / then.illuminance)
    stated = None if written.sun is None else written.sun.illuminance
    if stated is not None and sun is not None:
        moved = replace(moved, sun=replace(sun, illuminance=_carried(stated, then.sun, now.sun)))
    return replace(scene, daylight=moved)


def _carried(stated: float, then: ScenicSun | None, now: ScenicSun | None) -> float:
    """Return what a sun gives at another moment that gives so much by the scene. [lx]"""
    if then is None or now is None or then.altitude is None or now.illuminance is None:
        raise ValueError("the sun has no place or no strength")
    usual = clear_sun_illuminance(then.altitude)
    return (stated / usual if usual > 0 else 0.0) * now.illuminance


def _hour(scene: Scene, stage: Stage, name: str, figure: str, moment: datetime.datetime,
          place: tuple[float, float], throw: float, request: Request,
          progress: Progress, *, lamp: bool) -> tuple[Hour, str, AddedLamp | None]:
    """Return one time, the figure that was measured, '' for none, and with `lamp` the one for its sun."""
    camera = next(each for each in stage.cameras if each.name == name)
    label = f"{moment:%H:%M}"
    shot = taken(scene, stage, camera, figure, request, f"{label}: sun {place[0]:.1f}° high,", progress)
    face, subject = shot.measures.face, ""
    parts, errors = dict.fromkeys(("sun", "sky", "lamps"), 0.0), dict[str, float]()
    if face is not None:
        subject = face.figure
        parts, errors = _parts(shot.meters.cheeks(subject)[0 if face.lit_side == "left" else 1])
    outside, put, disc = None, None, stage.sun
    shines = disc is not None and stage.lamps[disc.lamp].name == SUN
    if disc is not None and shines:
        at = stage.places.get(f"{subject}.face", camera.position)
        outside = _outside(stage, disc, at, throw)
    shot.job.close()
    if lamp and disc is not None and shines:
        progress.show(f"{label}: lamp for the sun")
        meter, light = "", None
        if face is not None:
            side = CHEEKS.index(face.lit_side)
            meter, light = cheeks_of(subject)[side], shot.meters.cheeks(subject)[side]
        put = lamp_for_sun(scene, stage, disc, request, label=f"the sun of {label}", throw=throw,
                           figure=subject if face is not None else "", meter=meter, light=light)
    return Hour(label, moment.hour + moment.minute / 60, *place, shot.measures, shot.picture.still, **parts,
                outside=outside, errors=errors), subject, put


def _parts(lit: Mixed) -> tuple[dict[str, float], dict[str, float]]:
    """Return what sun, sky, moon and lamps give at the lit cheek, and the standard errors.

    The errors have that of the sun's help too.
    """
    outdoors = {"sun": SUN, "sky": SKY, "moon": MOON}
    names = {part: tuple(name for name in lit.lamps if name == lamp) for part, lamp in outdoors.items()}
    names["lamps"] = tuple(name for name in lit.lamps if name not in outdoors.values())
    light = {part: lit.light(lamps) for part, lamps in names.items()}
    errors = {part: each.paths for part, each in light.items()}
    if light["sun"].value > 0 and lit.light().value > light["sun"].value:
        whole = lit.batch_light()
        both = np.stack([whole, whole - lit.batch_light(names["sun"])], axis=1)
        errors["help"] = jackknife(lambda mean: stops_from(*mean), both).error
    return {part: each.value for part, each in light.items()}, errors


def _outside(stage: Stage, sun: Sun, face: np.ndarray, throw: float) -> Outside | None:
    """Return the lamp for the sun, through the opening that it shines through.

    See `sun_lamp.sun_opening` for which.
    """
    towards = np.asarray(sun.towards, float)
    opening = sun_opening(stage, towards, face)
    if opening is None:
        return None
    corners = [a * opening.half_u + b * opening.half_v for a in (-1, 1) for b in (-1, 1)]
    flat = [corner - towards * (corner @ towards) for corner in corners]
    width = max(float(np.linalg.norm(one - other)) for one in flat for other in flat)
    return outside_lamp(opening.name, stage.lamps[sun.lamp].output, throw, width)
