"""Closed forms of light off flat mirrors: lamps at their mirror images."""

from __future__ import annotations

import numpy as np

from previz.checks.validation import stages
from previz.checks.validation.records import Group
from previz.stage import shapes
from previz.stage.records import Sun, Surface

GROUP = Group("Light, through the engine")
SOURCE = "mirror image, inverse square, Schlick's reflectance (geometrical optics)"
STRAIGHT = 0.879
"""Reflectance of the mirror at square incidence. [1]"""


def checks(backend: str):
    """Yield the checks, on a backend as of `engine.backend.start`."""
    yield from _sun(backend)
    yield from _bulb(backend)


def _mirror() -> Surface:
    return Surface(stages.GREY, 0 * stages.ONES, 0 * stages.ONES, STRAIGHT * stages.ONES, 1.0, 0.0)


def _reflectance(cosine: float) -> float:
    return STRAIGHT + (1 - STRAIGHT) * (1 - cosine) ** 5


def _sun(backend):
    low, high = np.cos(np.radians(30)), 0.5
    board = [stages.sheet(1, 1, (0, 2, 1.5), (0, -1, 0), "board")]
    built = stages.stage((), board, _mirror(), light=stages.lamp(80_000.0, "lx"),
                         sun=Sun(0, np.array([0.0, -low, high])),
                         probes=[stages.probe((0, 2 - 1.5 * low / high, 0))])
    found = stages.measure(built, backend)
    yield GROUP.rendered("sun of 80 000 lx, 30° up, and off an upright mirror, on level ground",
                         SOURCE, 80_000 * high * (1 + _reflectance(low)), found.total[0],
                         found.total_error[0])


def _bulb(backend):
    ball = stages.emitter(shapes.ball(0.03, subdivisions=4), (0, 0, 1), symmetric=True)
    glass = [stages.sheet(4, 4, (0, 0, 0), stages.UP, "mirror")]
    built = stages.stage([ball], glass, _mirror(), light=stages.lamp(4 * np.pi * 1000),
                         probes=[stages.probe((1.5, 0, 1), (-1, 0, 0))])
    found = stages.measure(built, backend)
    image = 1000 / 2.5**2 * 0.6 * _reflectance(0.8)
    yield GROUP.rendered("bulb of 1000 cd at 1.5 m, and its image in a mirror at 2.5 m", SOURCE,
                         1000 / 1.5**2 + image, found.total[0], found.total_error[0])
