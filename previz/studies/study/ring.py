"""One use of a lamp, measured: by meters round a cylinder in the head's place, and as seen from the face."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

from previz.errors import RequestError
from previz.exposure import metering
from previz.exposure.comparing import measures as comparing
from previz.exposure.comparing.extent import shadow_edge
from previz.exposure.comparing.wrap import RING, Ring, Step, ring_angles, ring_places, worst_of, wrap_angle
from previz.exposure.metering import Measured, Mixed
from previz.frames.records import Short
from previz.rendering.job import StageJob
from previz.rendering.metering import Effort, StageMeters
from previz.rendering.request import Request
from previz.scene.light import Light
from previz.sight.face_view import Head, Outlook
from previz.stage.build import BACK_WALL, build_stage
from previz.stage.colours import stage_colours
from previz.stage.heads import HEAD_RADIUS, NOSE_TO_AXIS
from previz.stage.records import Probe
from previz.studies.measures import draws_of
from previz.studies.study.setups import BOARD, FRAME, Setup

COUNT = 36
"""Meters in the ring."""

METER_SECONDS = 60.0
"""Meters of one use are run no longer than about this. [s]"""

IN_THE_DARK, BRIGHT = 0.05, 0.35
"""Relative error that will do for meters under this share of the ring's brightest: a percent or two
of that. [1]"""

DRAWS = 200
"""Rings that are drawn for the error of a wrap angle, which makes it right to a twentieth."""

EIGHTH = 1 / 8
"""Part of the brightest at which the light round a head is taken to end. [1]"""

MAINS = 230.0
"""What the lamp is plugged into; light for each watt does not depend on it. [V]"""


@dataclass(frozen=True, eq=False)
class Use(Step):
    """One use of a lamp, with the errors of what was metered.

    Parameters
    ----------
    readings : tuple of Measured
        Of the ring's meters, in its order. [lx]
    wall : Measured or None
        Light on the surface that spill is read on. [lx]
    """

    readings: tuple[Measured, ...] = ()
    wall: Measured | None = field(default=None)

    @property
    def brightest(self) -> Measured:
        """What the brightest meter on the front half reads. [lx]"""
        return self.readings[int(np.flatnonzero(self.ring.angles == self.ring.peak_angle)[0])]

    def wrap_error(self, part: float) -> float:
        """Return the standard error of a wrap angle: its spread over rings with drawn noise. [deg]

        Source
        ------
        JCGM 101:2008, propagation of distributions by a Monte Carlo method (from memory).
        """
        noise = np.array([each.paths for each in self.readings])
        drawn = self.ring.lux + np.random.default_rng(1).normal(size=(DRAWS, len(noise))) * noise
        return float(np.std([wrap_angle(self.ring.angles, lux, part) for lux in drawn]))


def measured(setup: Setup, request: Request, head: Head, lamp: Light, spill: str, direct: float | None,
             going: Callable[[object], None]) -> Use:
    """Measure one use of a lamp, with a ring of meters in the place of a head.

    Parameters
    ----------
    spill : str
        Name of a meter; '' for the back wall.
    direct : float or None
        What the lamp aimed straight gives; None where this is that. [lx]
    going : function
        Called with a `Standing` after each round of the meters.
    """
    stage = build_stage(setup.bare)
    centre = head.nose - NOSE_TO_AXIS * head.ahead
    places, normals = ring_places(centre, head.ahead, HEAD_RADIUS, COUNT)
    ring = [Probe(f"{RING}{i}", at, normal)
            for i, (at, normal) in enumerate(zip(places, normals, strict=True))]
    others = [probe for probe in stage.probes if probe.name == (spill or BACK_WALL)]
    if spill and not others:
        raise RequestError(f"The scene has no meter '{spill}'; name one under "
                           "'meters:', or leave it out for the back wall.")
    job = StageJob(replace(stage, probes=(*ring, *others)), request.meter_order())
    mixed, short = _readings(job, [probe.name for probe in ring], request.precision, going)
    readings = tuple(mixed[probe.name].light() for probe in ring)
    lux = np.array([each.value for each in readings])
    found = Ring(ring_angles(COUNT), lux)
    across, up = _extent(job, setup, head, lamp)
    job.close()
    side = "left" if found.peak_angle >= 0 else "right"
    wall = mixed[others[0].name].light() if others else None
    load = comparing.mains_load(draws_of(setup.bare, stage), MAINS, found.peak)
    return Use(
        setup.kind, setup.size, setup.distance, found,
        0.0 if direct is None else comparing.stops_from(found.peak, direct), across, up,
        float(shadow_edge(across, head.throw(side))), wrap_angle(found.angles, lux),
        wrap_angle(found.angles, lux, EIGHTH),
        comparing.stops_from(wall.value if wall else np.nan, found.peak), load.lux_per_watt,
        bool(load.guessed), worst_of(short, found), readings, wall)


def _extent(job: StageJob, setup: Setup, head: Head, lamp: Light) -> tuple[float, float]:
    """Return how large the source is as seen from the face, across and up; nan where it is not seen. [deg]"""
    thing, at = lamp.name, np.asarray(lamp.at, float)
    for name, sheets in ((FRAME, setup.scene.diffusion), (BOARD, setup.scene.boards)):
        if sheets:
            thing, at = name, np.asarray(sheets[0].at, float)
    towards = at - head.at
    extent = Outlook(job, head).extent(thing, towards / np.linalg.norm(towards), (lamp.name,))
    return (extent.across, extent.up) if extent is not None else (float("nan"),) * 2


def _readings(job: StageJob, ring: list[str], precision: float,
              going: Callable[[object], None]) -> tuple[dict[str, Mixed], list[Short]]:
    """Return the readings of all meters, and which are short of the precision.

    Those in the dark are read no more precisely than they count.
    """
    meters, lamps, colours = StageMeters(job), job.stage.lamps, stage_colours(job.stage)
    coarse = max(precision, IN_THE_DARK)
    rough = meters.incident(Effort(coarse, METER_SECONDS, going))
    mixed = metering.mix(rough, lamps, colours)
    least = BRIGHT * max(mixed[name].light().value for name in ring)
    bright = [name for name in mixed if name not in ring or mixed[name].light().value >= least]
    fine = meters.incident(Effort(precision, METER_SECONDS, going), bright)
    short = [each for each in meters.short(rough, coarse) if each.name not in bright]
    return {**mixed, **metering.mix(fine, lamps, colours)}, [*meters.short(fine, precision), *short]
