"""One run of `previz meter`: stages in, reports out."""

from __future__ import annotations

import time
from dataclasses import dataclass, fields, replace
from pathlib import Path

import click
import numpy as np

from previz.cli.progress import TerminalProgress
from previz.engine.render import Sampling
from previz.errors import RequestError
from previz.exposure import metering
from previz.exposure.faces import cheeks_of, faces_in, key_lamps
from previz.exposure.metering_colour import arriving_spectrum, colour_report
from previz.physics.exposure import CameraSettings
from previz.rendering.job import StageJob
from previz.rendering.metering import Effort, StageMeters
from previz.rendering.progress import Progress
from previz.rendering.request import Order
from previz.stage.build import build_stage
from previz.stage.colours import stage_colours
from previz.stage.records import Patch
from previz.stage.views import DOME, sky_direction
from previz.studies.selection import select


@dataclass(frozen=True)
class Wanted:
    """What the command line asked for; see `previz meter --help`."""

    cameras: tuple[str, ...]
    precision: float
    minutes: float
    spots: tuple[str, ...]
    no_spots: bool
    key_lamps: tuple[str, ...]
    reference: float | None
    seed: int
    bands: int
    backend: str
    cache: Path
    explain: bool = False
    patches: tuple[tuple[float, ...], ...] = ()
    skies: tuple[tuple[float, ...], ...] = ()

    def pointed(self, scene) -> tuple[Patch, ...]:
        """Return what the command line points spot meters at, beside what a scene does."""
        north = 0.0 if scene.daylight is None else scene.daylight.north
        made = [Patch(f"patch at {100 * x:g} %, {100 * y:g} %", middle=(x, y), size=tuple(size) or None)
                for x, y, *size in self.patches]
        made += [Patch(f"sky at {azimuth:g} deg, {altitude:g} deg",
                       towards=sky_direction(azimuth, altitude, north)) for azimuth, altitude in self.skies]
        return tuple(made)

    def order(self) -> Order:
        """Return the engine's order; pictures play no part in it."""
        return Order(16, 9, Sampling(1, 1, self.seed), self.bands, self.backend, self.cache)


def meter(file, options, wanted: Wanted) -> list[metering.Report]:
    """Meter every option.

    Parameters
    ----------
    file : scene.read.SceneFile
        The scene.
    options : list of str
        '' for the scene as written.
    wanted : Wanted
        What to meter, and how well.
    """
    stages = {}
    for name in options:
        scene = file.scene(name or None)
        stage = build_stage(scene)
        stages[name] = replace(stage, patches=stage.patches + wanted.pointed(scene))
    for stage in stages.values():
        _check(stage, wanted)
    # An option without the key has its own readings all the same.
    select(wanted.key_lamps, list(dict.fromkeys(
        lamp.name for stage in stages.values() for lamp in stage.lamps)), "lamp")
    progress = TerminalProgress().start(len(stages) * (1 if wanted.no_spots else 2))
    try:
        return [_report(name, stage, wanted, progress) for name, stage in stages.items()]
    finally:
        progress.end()


def _check(stage, wanted: Wanted) -> None:
    """Refuse names that a stage does not have, before anything is traced."""
    select(wanted.cameras, [camera.name for camera in stage.cameras], "camera")
    if not stage.probes and not stage.cameras:
        raise RequestError("The scene has nothing to meter with; add a figure, a camera, or a "
                               "place under 'meters:'.")


def _report(option: str, stage, wanted: Wanted, progress: Progress) -> metering.Report:
    job = StageJob(stage, wanted.order())
    meters = StageMeters(job)
    if wanted.spots:
        select(wanted.spots, meters.spot_names(), "thing")
    label = f"{option}, " if option else ""
    cameras = [c for c in stage.cameras if not wanted.cameras or c.name in wanted.cameras]
    notes = tuple(metering.CameraNote(c.name, _settings(c)) for c in cameras)
    until = time.monotonic() + 60 * wanted.minutes
    incident = meters.incident(_effort(wanted, progress, f"{label}incident meters", until))
    gathered, colours = [incident], stage_colours(stage)
    spots = ()
    if not wanted.no_spots:
        progress.show(f"{label}looking through the cameras")
        aims = [aim for camera in cameras for aim in (
            *meters.aims(camera, wanted.spots), *meters.patch_aims(camera, wanted.spots))]
        seen = meters.spots(aims, _effort(wanted, progress, f"{label}spot meters", until))
        gathered.append(seen)
        spots = _spots(aims, metering.mix(seen, stage.lamps, colours), notes)
    job.close()
    if wanted.explain:
        click.echo(f"{label}meters:", err=True)
        for line in meters.explained():
            click.echo(f"  {line}", err=True)
    mixed = metering.mix(incident, stage.lamps, colours)
    faces = faces_in(mixed)
    paths = [int(n) * each.sums.shape[1] for each in gathered for n in each.paths]
    short = [one for each in gathered for one in meters.short(each, wanted.precision)]
    return metering.Report(
        title=stage.title, option=option, cameras=notes,
        places=tuple(_places(stage, incident, mixed, notes, wanted)),
        faces=faces, key_lamps=tuple(filter(None, (
            key_lamps(face.figure, *(mixed[name] for name in cheeks_of(face.figure)),
                      [name for name in wanted.key_lamps if name in incident.lights])
            for face in faces))), spots=spots, precision=wanted.precision,
        short=tuple(short), paths=(min(paths), max(paths)) if paths else (0, 0),
        bands=wanted.bands, lamps=tuple(lamp.name for lamp in stage.lamps))


def _settings(camera) -> CameraSettings:
    return CameraSettings(**{f.name: getattr(camera, f.name) for f in fields(CameraSettings)})


def _effort(wanted: Wanted, progress: Progress, label: str, until: float) -> Effort:
    """Return the effort of one set of meters, told on the progress line as one unit of work."""
    done = None

    def tell(state):
        nonlocal done
        if done is None:
            # What was there before says nothing about the pace.
            progress.skip(state.share)
            progress.show(f"{label}: starting the engine")
        else:
            progress.add(state.share - done, f"{label}: {state.unfinished} not yet at "
                         f"{100 * wanted.precision:g} %, worst {100 * state.worst:.1f} % "
                         f"('{state.name}')")
        done = state.share

    return Effort(wanted.precision, max(until - time.monotonic(), 0.0), tell)


def _places(stage, incident, mixed, notes, wanted: Wanted):
    """Yield the places of the stage's meters, flat and dome side by side."""
    names = list(dict.fromkeys(p.name.removesuffix(DOME) if p.dome else p.name
                               for p in stage.probes))
    for name in names:
        flat, dome = mixed.get(name), mixed.get(name + DOME)
        either = flat or dome
        spectrum = arriving_spectrum(incident, stage.lamps, incident.names.index(either.name))
        colour = colour_report(either, spectrum, wanted.reference) if np.any(spectrum) else None
        yield metering.Place(
            name, flat and metering.receptor(flat, notes),
            dome and metering.receptor(dome, notes, dome=True), colour)


def _spots(aims, mixed, notes):
    by_camera = {note.name: note for note in notes}
    return tuple(
        metering.spot_reading(mixed[f"{aim.name}, {aim.camera.name}"], aim.name,
                              by_camera[aim.camera.name], aim.share)
        for aim in aims)
