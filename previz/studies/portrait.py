"""One run of `previz portrait`: a studio rendered once, and a picture mixed for each placement."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from pathlib import Path

from previz.cli.progress import TerminalProgress
from previz.deliver.portrait_sheet import PortraitCell, PortraitRow
from previz.engine.render import Sampling
from previz.exposure import metering
from previz.exposure.faces import CHEEKS, cheeks_of, faces_in
from previz.exposure.picture import develop
from previz.rendering.job import METER_SECONDS, StageJob
from previz.rendering.metering import Effort, StageMeters
from previz.rendering.progress import Progress
from previz.rendering.request import QUALITIES, Order, size_for
from previz.stage.colours import stage_colours
from previz.studies import portrait_studio as studio

EYES_LARGER = 2
"""Width of the eyes' picture over the portrait's: an eye-light is a few pixels in it, which the
denoiser keeps. [1]"""

METERS = 0.1
"""About how much of the work of one row its meters are, for the time left. [1]"""

PRECISION = 0.02
"""Relative standard error that the cheeks are metered to, under all lamps together. [1]"""


@dataclass(frozen=True)
class Asked:
    """What the command line asked for; see `previz portrait --help`.

    Parameters
    ----------
    width : int
        Of one portrait. [px]
    fill : float or None
        Fill against the key; None for no fill. [stops]
    exposure : float
        How far the lens is opened from what a meter at the face sets. [stops]
    """

    width: int
    fill: float | None
    exposure: float
    quality: str
    samples: int | None
    seed: int
    backend: str
    cache: Path

    def order(self, camera) -> Order:
        """Return the engine's order for one camera's picture; the eyes are taken larger."""
        quality = QUALITIES[self.quality]
        samples = self.samples or quality.samples
        passes = max(p for p in range(1, quality.passes + 1) if samples % p == 0)
        width = self.width * (EYES_LARGER if camera.name == studio.EYES else 1)
        size = (max(16, round(n * quality.scale)) for n in size_for((width, None), camera.aspect))
        return Order(*size, Sampling(samples, passes, self.seed), 12, self.backend, self.cache)


def portrait(figure, asked: Asked) -> list[PortraitRow]:
    """Return the rows of a figure's portrait sheet.

    Parameters
    ----------
    figure : scene.figure.Figure
        Whose head it is.
    asked : Asked
    """
    stages = studio.studio(studio.studio_figure(figure))
    progress = TerminalProgress().start(len(stages) * (2 + METERS))
    try:
        return [_row(name, stage, asked, progress) for name, stage in stages.items()]
    finally:
        progress.end()


def _row(name: str, stage, asked: Asked, progress: Progress) -> PortraitRow:
    job, seen = None, {}
    for camera in stage.cameras:
        previous, job = job, StageJob(stage, asked.order(camera))
        if previous is not None:
            job.share(previous)
        seen[camera.name] = job.frames(camera, progress, f"{name} lamps, {camera.name}")
    progress.show(f"{name} lamps, meters")
    meters = StageMeters(job)
    gathered = meters.incident(Effort(PRECISION, METER_SECONDS), cheeks_of(studio.SUBJECT))
    progress.add(METERS, f"{name} lamps, meters")
    job.close()
    cells = tuple(_cell(each, name, stage, seen, meters, gathered, asked)
                  for each in studio.PLACEMENTS)
    return PortraitRow(name, studio.SOURCES[name], cells)


def mixed(lamps, placement: str, row: str, fill: float | None):
    """Return a stage's lamps with one alight, and the fill.

    Parameters
    ----------
    lamps : sequence of LampLight
        Of the stage.
    placement, row : str
        Which lamp is the key, and 'hard' or 'soft'.
    fill : float or None
        Fill against the key; None for none. [stops]
    """
    share = 0.0 if fill is None else 2.0**fill
    levels = {placement: 1.0}
    # The frontal soft lamp is its row's fill too; as a key it needs no more of itself.
    levels[studio.FILL[row]] = max(levels.get(studio.FILL[row], 0.0), share)
    return [dataclasses.replace(lamp, level=levels.get(lamp.name, 0.0)) for lamp in lamps]


def _cell(placement, row, stage, seen, meters, gathered, asked: Asked) -> PortraitCell:
    lamps = mixed(stage.lamps, placement.name, row, asked.fill)
    settings = studio.settings()
    opened = dataclasses.replace(settings, stop=settings.stop * 2 ** (-asked.exposure / 2))
    stills = [develop(seen[name], lamps, opened) for name in (studio.HEAD, studio.EYES)]
    face, = faces_in(metering.mix(gathered, lamps, stage_colours(stage)))
    # All lamps together were run to that; under one of them a side may be far from it.
    sides = dict(zip(cheeks_of(studio.SUBJECT), CHEEKS, strict=True))
    short = tuple(each._replace(name="lit side" if sides[each.name] == face.lit_side else "shadow side")
                  for each in meters.short(gathered, PRECISION, lamps))
    return PortraitCell(
        placement.name, placement.words, stills[0].still, stills[1].still,
        face, settings, next((each.note for each in stills if each.note), ""), short)
