"""Railway: track, buffer stop, signal, platform, sleepers, telegraph line."""

from __future__ import annotations

import numpy as np

from previz.stage import shapes
from previz.stage.trees import drawn_by
from previz.stage.yard.solids import MAIN, Part, block, extruded, lathe, made, rod, rounded

GAUGE = 1.435
"""Between the inner faces of the rails' heads.  Source: EN 15273 and UIC 510 (from memory). [m]"""

RAIL = (
    (-0.075, 0.0),
    (0.075, 0.0),
    (0.075, 0.011),
    (0.012, 0.030),
    (0.009, 0.112),
    (0.0355, 0.122),
    (0.0355, 0.150),
    (0.028, 0.159),
    (-0.028, 0.159),
    (-0.0355, 0.150),
    (-0.0355, 0.122),
    (-0.009, 0.112),
    (-0.012, 0.030),
    (-0.075, 0.011),
)
"""Cross-section of a flat-bottomed rail of 54 kg/m, 159 mm high, foot 150 and head 71 mm wide: about 54E1 of
EN 13674-1 (from memory). [m]"""

SLEEPER = (0.25, 2.6, 0.13)
"""Width, length and depth of a timber sleeper.  Common practice, no source. [m]"""

SPACING = 0.65
"""From sleeper to sleeper.  Common practice, no source. [m]"""

PLATE = 0.02
"""Thickness of the plates that rails lie on. [m]"""


def track(size, name: str) -> list[Part]:
    """Return rails on chairs and sleepers in a bed of stone; the rails' tops are at the size's height."""
    long, wide, high = size
    rng = drawn_by(name, "track")
    foot = high - 0.159
    count = max(int(long / SPACING), 1)
    run = (np.arange(count) + 0.5) / count * long - long / 2
    top = foot - PLATE
    sleepers, chairs, bolts = [], [], []
    out = GAUGE / 2 + 0.0355
    for x in run:
        turn = rng.normal() * 0.004
        body = block(-SLEEPER[0] / 2, SLEEPER[0] / 2, -SLEEPER[1] / 2, SLEEPER[1] / 2, top - SLEEPER[2], top)
        sleepers.append(
            shapes.place(body, shapes.turned(turn), (x + rng.normal() * 0.008, rng.normal() * 0.02, 0))
        )
        for side in (-1, 1):
            y = side * out
            chairs.append(block(x - 0.09, x + 0.09, y - 0.17, y + 0.17, top, foot + 0.001))
            chairs += [
                block(x - 0.06, x + 0.06, y + s * 0.085 - 0.02, y + s * 0.085 + 0.02, foot, foot + 0.035)
                for s in (-1, 1)
            ]
            bolts += [rod((x, y + s * 0.14, foot), (x, y + s * 0.14, foot + 0.03), 0.014, 6) for s in (-1, 1)]
    rails = []
    for side in (-1, 1):
        rails.append(extruded([(side * out + y, foot + z) for y, z in RAIL], -long / 2, long / 2))
    heads = [
        block(-long / 2, long / 2, side * out - 0.026, side * out + 0.026, high - 0.002, high + 0.0006)
        for side in (-1, 1)
    ]
    return [
        made("old timber", *sleepers),
        made("rust", *chairs, *bolts, *rails),
        made("steel", *heads),
        made("ballast", _bed(long, wide, top - 0.03, rng)),
    ]


def _bed(long, wide, top, rng) -> shapes.Triangles:
    """Return a bed of stone with uneven flanks, level with the sleepers' tops but for their last 3 cm."""
    run = np.linspace(-long / 2, long / 2, max(int(long / 0.12), 2))
    rows = np.array([-0.5, -0.47, -0.40, -0.36, -0.2, 0.0, 0.2, 0.36, 0.40, 0.47, 0.5]) * wide
    level = np.array([0, 0.35, 0.85, 1, 0.97, 0.94, 0.97, 1, 0.85, 0.35, 0]) * top
    rough = rng.normal(size=(len(run), len(rows))) * 0.012
    rough[:, [0, -1]] = 0
    points = np.stack(np.broadcast_arrays(run[:, None], rows, level), axis=-1) + 0.0
    points[..., 2] = np.clip(points[..., 2] + rough, 0, None)
    return _sheet(points)


def _sheet(points) -> shapes.Triangles:
    """Return a grid of points, x along its rows and y along its columns, as faces that look up."""
    rows, columns = points.shape[:2]
    k = np.arange(rows * columns).reshape(rows, columns)
    a, b, c, d = (each.ravel() for each in (k[:-1, :-1], k[1:, :-1], k[1:, 1:], k[:-1, 1:]))
    return points.reshape(-1, 3), np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)])


def sleepers(size, name: str) -> list[Part]:
    """Return a stack of sleepers, layer across layer."""
    long, wide, high = size
    rng = drawn_by(name, "sleepers")
    layers = max(int(high / SLEEPER[2]), 1)
    bodies = []
    for layer in range(layers):
        across = layer % 2
        length, span = (wide, long) if across else (long, wide)
        count = max(int(span / (SLEEPER[0] * 1.15)), 1) if not across or layers == 1 else 2
        for k in range(count):
            at = ((k + 0.5) / count - 0.5) * (span - (0 if count > 2 else 0.3 * span))
            at += rng.normal() * 0.008
            low = layer * high / layers
            body = block(
                -length / 2, length / 2, -SLEEPER[0] / 2, SLEEPER[0] / 2, low, low + high / layers - 0.002
            )
            axes = shapes.turned(np.pi / 2 * across + rng.normal() * 0.008)
            bodies.append(shapes.place(body, axes, (at, 0, 0) if across else (rng.normal() * 0.02, at, 0)))
    return [made(MAIN, *bodies)]


def buffer_stop(size, name: str) -> list[Part]:
    """Return a stop of old rails with a beam across and two buffers towards -x."""
    long, wide, high = size
    out = GAUGE / 2 + 0.04
    beam, back = 0.78 * high, long / 2
    steel = []
    for y in (-out, out):
        steel += [
            rod((-long / 2 + 0.35, y, 0), (-long / 2 + 0.35, y, high * 0.92), 0.055, 6),
            rod((back, y, 0), (-long / 2 + 0.4, y, beam), 0.055, 6),
            rod((-long / 2 + 0.35, y, 0.2), (back - 0.2, y, 0.2), 0.045, 6),
        ]
    timber = block(-long / 2 + 0.14, -long / 2 + 0.29, -wide / 2, wide / 2, beam - 0.15, beam + 0.15)
    stripe = [
        block(-long / 2 + 0.132, -long / 2 + 0.1395, y - 0.12, y + 0.12, beam - 0.149, beam + 0.149)
        for y in np.arange(-wide / 2 + 0.25, wide / 2, 0.6)
    ]
    pads = []
    for y in (-0.875, 0.875):
        x = -long / 2
        pads += [
            rod((x + 0.14, y, beam), (x + 0.04, y, beam), 0.11, 16),
            rod((x + 0.04, y, beam), (x, y, beam), 0.21, 24, 0.19),
        ]
    return [
        made("rust", *steel),
        made("dark red paint", timber),
        made("white paint", *stripe),
        made("cast iron", *pads),
    ]


def signal(size, name: str) -> list[Part]:
    """Return a post with one arm at danger, its two glasses, a lamp's case, a ladder."""
    long, wide, high = size
    top = high - 0.64
    post = rounded("white paint", rod((0, 0, 0), (0, 0, top + 0.15), 0.125, 16, 0.085))
    base = rounded("black paint", rod((0, 0, 0), (0, 0, 1.1), 0.14, 16, 0.13))
    finial = rounded(
        "dark red paint",
        shapes.moved(
            lathe(
                [
                    (0.0, 0.0),
                    (0.10, 0.0),
                    (0.10, 0.05),
                    (0.05, 0.09),
                    (0.10, 0.2),
                    (0.085, 0.27),
                    (0.03, 0.33),
                    (0.012, 0.52),
                    (0.0, 0.54),
                ],
                16,
            ),
            (0, 0, top + 0.1),
        ),
    )
    y = -0.16
    reach = long - 0.70
    arm = block(-0.12 - reach, -0.12, y - 0.012, y + 0.012, top - 0.17, top + 0.13)
    stripe = block(
        -0.12 - reach + 0.28, -0.12 - reach + 0.48, y - 0.0145, y - 0.0125, top - 0.169, top + 0.129
    )
    frame, glass = [], []
    for k, (x, z) in enumerate(((0.10, -0.02), (0.13, -0.30))):
        ring = lathe([(0.125, -0.012), (0.125, 0.012), (0.10, 0.012), (0.10, -0.012), (0.125, -0.012)], 20)
        axes = shapes.aimed((0, -1, 0))
        frame.append(shapes.place(ring, axes, (x, y, top + z)))
        glass.append(
            (
                ("red glass", "green glass")[k],
                shapes.place(shapes.disc(0.10, sides=20), axes, (x, y, top + z)),
            )
        )
    frame.append(rod((-0.2, y, top), (0.0, y, top), 0.03, 8))
    case = block(0.02, 0.18, -0.09, 0.10, top - 0.14, top + 0.10)
    cap = rod((0.10, 0.0, top + 0.10), (0.10, 0.0, top + 0.2), 0.07, 10, 0.03)
    ladder = [rod((s * 0.17, 0.62, 0), (s * 0.17, 0.24, top - 0.35), 0.016, 6) for s in (-1, 1)]
    steps = int((top - 0.5) / 0.28)
    ladder += [
        rod((-0.17, 0.62 - 0.38 * t, t * (top - 0.35)), (0.17, 0.62 - 0.38 * t, t * (top - 0.35)), 0.011, 6)
        for t in (np.arange(steps) + 1) / (steps + 1)
    ]
    weight = [
        rod((0.0, -0.16, 1.6), (0.55, -0.16, 1.5), 0.02, 6),
        rod((0.4, -0.22, 1.53), (0.4, -0.10, 1.53), 0.12, 12),
        rod((0.02, -0.16, 1.6), (0.02, -0.16, top), 0.007, 4),
    ]
    return [
        post,
        base,
        finial,
        made("dark red paint", arm),
        made("white paint", stripe),
        made("cast iron", *frame, case, cap, *ladder, *weight),
        *(Part(*each) for each in glass),
    ]


def platform(size, name: str) -> list[Part]:
    """Return a platform whose edge is on its -y side: brick face, overhanging stones, white line, paving."""
    long, wide, high = size
    stone = 0.09
    edge = 0.75
    count = max(round(long / 0.9), 1)
    step = long / count
    left = -long / 2
    stones = [
        block(
            left + k * step + 0.003,
            left + (k + 1) * step - 0.003,
            -wide / 2 - 0.0,
            -wide / 2 + min(edge, wide),
            high - stone,
            high,
        )
        for k in range(count)
    ]
    body = block(left, -left, -wide / 2 + 0.08, wide / 2, 0, high - stone)
    parts = [made("dark brick", body), made("granite", *stones)]
    if wide > edge:
        parts.append(made(MAIN, block(left, -left, -wide / 2 + edge, wide / 2, high - stone, high - 0.004)))
    line = block(left, -left, -wide / 2 + 0.02, -wide / 2 + 0.12, high - 0.01, high + 0.0012)
    return [*parts, made("white paint", line)]


def telegraph_line(size, name: str) -> list[Part]:
    """Return poles with crossarms and insulators, at most 55 m apart, and the wires between them."""
    long, wide, high = size
    spans = max(int(np.ceil(long / 55.0)), 1) if long > 4 else 0
    run = np.linspace(-long / 2, long / 2, spans + 1) if spans else np.zeros(1)
    arms = [high - 0.35 - 0.32 * k for k in range(2)]
    places = np.array([(y * wide / 2 * 0.92) for y in (-1, -0.42, 0.42, 1)])
    timber, beams, cups, wires = [], [], [], []
    for x in run:
        timber.append(rod((x, 0, 0), (x, 0, high), 0.14, 12, 0.095))
        for z in arms:
            beams.append(block(x - 0.045, x + 0.045, -wide / 2, wide / 2, z - 0.05, z + 0.05))
            beams += [rod((x, y, z), (x, y, z + 0.1), 0.011, 6) for y in places]
            cups += [
                shapes.moved(
                    lathe(
                        [
                            (0.028, 0.0),
                            (0.042, 0.005),
                            (0.036, 0.06),
                            (0.028, 0.075),
                            (0.036, 0.09),
                            (0.0, 0.12),
                        ],
                        12,
                    ),
                    (x, y, z + 0.08),
                )
                for y in places
            ]
    for one, two in zip(run, run[1:], strict=False):
        share = np.linspace(0, 1, 13)
        sag = 0.012 * (two - one) * 4 * share * (1 - share)
        for z in arms:
            for y in places:
                line = np.column_stack([one + share * (two - one), np.full(13, y), z + 0.17 - sag])
                wires += [rod(a, b, 0.003, 3) for a, b in zip(line, line[1:], strict=False)]
    parts = [rounded(MAIN, *timber), made("old timber", *beams), rounded("porcelain", *cups)]
    return parts + ([made("copper", *wires)] if wires else [])
