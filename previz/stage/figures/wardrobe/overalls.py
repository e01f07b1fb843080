"""Overalls: trousers with a bib on buckled straps, or a boiler suit in one piece with a collar."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np

from previz.stage.figures.mesh import smooth_step
from previz.stage.figures.wardrobe import collars, shirt, trousers
from previz.stage.figures.wardrobe.creases import Habit
from previz.stage.figures.wardrobe.garment import Buttons, Lines, Made, least
from previz.stage.figures.wardrobe.pinned import neck_spots, patch, pin, strip

BIB, TOP = 0.775, 0.615
"""Heights of the bib's upper edge and of the waist behind, over the body's."""


def make(rest, wear, under) -> Made:
    """Return overalls cut for a person."""
    return _boiler_suit(rest, wear, under) if wear.style == "boiler suit" else _bib(rest, wear, under)


def _cut(wear):
    return SimpleNamespace(crease=False, belt=False, turn_ups=wear.turn_ups)


def _bib(rest, wear, under):
    lines, size = Lines(rest), rest.height / 1.75
    wide, deep = 0.115 * size, 0.20 * size
    y, z = np.abs(rest.points[:, 1]), rest.points[:, 2]
    front = rest.normals[:, 0] > -0.35
    top, waist = BIB * rest.height, TOP * rest.height
    # The bib narrows upwards; behind, the cloth ends at the waist.
    edge = np.interp(z, [waist - 0.02, waist + 0.09, top], [deep, wide * 1.15, wide])
    bib = np.where(front & ~lines.is_arm, np.minimum(edge - y, top - z), -0.2)
    keep = np.maximum(lines.below(TOP), bib)
    room = 4.5e-3 * smooth_step(-np.abs(z - waist), -0.12, -0.02)
    lift = under + 2.5e-3 + room + trousers.legs(rest, lines, _cut(wear)) + 2e-3 * (bib > 0)
    panels = [lines.panel(keep, lines.leg(trousers.hem(rest)), thick=3e-3)]
    if wear.turn_ups:
        panels.append(trousers.turn_up(lines, rest))
    laid, buttons = list(_bib_details(rest, top, waist, wide, size)), []
    for side in (1.0, -1.0):
        spots = np.array([[side * (wide - 0.022), top - 0.030]])
        buttons.append(Buttons(pin(rest, "front", spots), 8e-3, 2e-3, 5.5e-3, "metal"))
        spots = np.array([[side * (0.118 * size), waist - 0.02 - 0.022 * k] for k in (0, 1)])
        buttons.append(Buttons(pin(rest, "front", spots), 7e-3, 2e-3, 1.5e-3, "metal"))
    return Made(
        lift,
        0.9 * lines.ones * smooth_step(waist + 0.02 - z, 0, 0.08),
        Habit(salt=6.1, sleeve=0.0, waist=0.8, pits=0.0, waistline=TOP - 0.08, length=1.15),
        tuple(panels),
        tuple(laid),
        tuple(buttons),
        over=0.0,
        hides=least(keep - 0.02, lines.leg(-0.02)),
    )


def _bib_details(rest, top, waist, wide, size):
    """Yield pockets, straps and buckles of a bib."""
    yield patch(
        rest,
        "front",
        [
            (-0.075 * size, top - 0.035),
            (0.075 * size, top - 0.035),
            (0.072 * size, top - 0.165),
            (-0.072 * size, top - 0.165),
        ],
        2.4e-3,
        (14, 14),
        thick=2.4e-3,
        bow=0.008,
    )
    run = np.linspace(top - 0.03, top - 0.16, 20)
    yield strip(
        rest, "front", np.stack([0 * run + 0.028, run], axis=1), 0.003, 3.4e-3, thick=1.4e-3, across=3
    )
    line = np.stack([np.linspace(-wide * 1.2, wide * 1.2, 40), np.full(40, waist)], axis=1)
    yield strip(rest, "front", line, 0.036, 2.0e-3, thick=2.2e-3)
    for side in (1.0, -1.0):
        y = np.linspace(wide - 0.022, 0.098 * size, 40)
        crown = pin(rest, "neck", neck_spots(np.array([side * 1.75]), np.array([8.0]))).at(rest.points)[0]
        z = np.linspace(top - 0.045, crown[2] - 0.004, 40)
        yield strip(rest, "front", np.stack([side * y, z], axis=1), 0.034, 3.4e-3, thick=2.8e-3)
        y = np.linspace(0.098 * size, -0.015, 60)
        z = crown[2] - 0.004 - np.linspace(0, 1, 60) * (crown[2] - waist - 0.02)
        yield strip(
            rest, "back", np.stack([side * y, z], axis=1), 0.034, 3.4e-3 + (side > 0) * 1.6e-3, thick=2.8e-3
        )
        at = (side * (wide - 0.022), top - 0.012)
        yield patch(
            rest,
            "front",
            [
                (at[0] - 0.021, at[1] + 0.018),
                (at[0] + 0.021, at[1] + 0.018),
                (at[0] + 0.021, at[1] + 0.004),
                (at[0] - 0.021, at[1] + 0.004),
            ],
            7e-3,
            (4, 4),
            stuff="metal",
            thick=2.5e-3,
        )
        z = waist - 0.085
        yield patch(
            rest,
            "front",
            [
                (side * 0.115 * size - 0.055, z),
                (side * 0.115 * size + 0.055, z),
                (side * 0.115 * size + 0.055, z - 0.13),
                (side * 0.115 * size - 0.055, z - 0.13),
            ],
            2.4e-3,
            (12, 10),
            thick=2.4e-3,
        )
        yield patch(
            rest,
            "back",
            [
                (side * 0.08 - 0.06, waist - 0.11),
                (side * 0.08 + 0.06, waist - 0.11),
                (side * 0.08 + 0.06, waist - 0.24),
                (side * 0.08 - 0.06, waist - 0.24),
            ],
            2.4e-3,
            (12, 10),
            thick=2.4e-3,
        )


def _boiler_suit(rest, wear, under):
    lines, seam = Lines(rest), shirt.SEAM + 0.6
    close = lines.closeness(seam)
    before = rest.ends["arm"][1] + 0.012 - rest.along
    lift = under + 2e-3 + 6e-3 * close + trousers.legs(rest, lines, _cut(wear))
    z, waist = rest.points[:, 2], TOP * rest.height
    lift = lift + 4e-3 * smooth_step(-np.abs(z - waist - 0.05), -0.09, -0.01) * ~lines.is_arm
    keep = least(lines.neck(seam), lines.sleeve(0.012 - 0.046), lines.leg(trousers.hem(rest)))
    cuff = least(np.where(lines.is_arm, 0.052 - before, -0.2), lines.sleeve(0.012))
    panels = [lines.panel(keep, thick=3e-3), lines.panel(cuff, extra=2.4e-3, thick=3e-3)]
    if wear.turn_ups:
        panels.append(trousers.turn_up(lines, rest))
    laid = [
        *collars.stand_and_fall(rest, seam, stand=1.4, fall=2.2, points=3.6, spread=0.5, gape=0.12, lift=5e-3)
    ]
    top = float(pin(rest, "neck", np.array([[0.0, -0.018 * (seam + 0.5)]])).at(rest.points)[0, 2])
    run = np.linspace(top, 0.52 * rest.height, 70)
    laid.append(strip(rest, "front", np.stack([0 * run + 1e-3, run], axis=1), 0.044, 2.6e-3, thick=2.6e-3))
    at = np.linspace(top - 0.05, 0.54 * rest.height, 7)
    buttons = (Buttons(pin(rest, "front", np.stack([0 * at, at], axis=1)), 7e-3, 2e-3, 3.6e-3),)
    for side in (1.0, -1.0):
        x = side * 0.088 * rest.height / 1.75
        z = top - 0.12
        laid.append(
            patch(
                rest,
                "front",
                [(x - 0.06, z), (x + 0.06, z), (x + 0.06, z - 0.13), (x - 0.06, z - 0.13)],
                2.2e-3,
                (12, 11),
                thick=2.4e-3,
            )
        )
        laid.append(
            patch(
                rest,
                "front",
                [
                    (x - 0.064, z + 8e-3),
                    (x + 0.064, z + 8e-3),
                    (x + 0.064, z - 0.036),
                    (x - 0.064, z - 0.036),
                ],
                5e-3,
                (7, 12),
                thick=3e-3,
                bow=0.008,
            )
        )
    run = np.linspace(-np.pi, np.pi, 120) * 0.16
    laid.append(
        strip(rest, "round", np.stack([run, 0 * run + waist], axis=1), 0.045, 2.0e-3, thick=2e-3, across=5)
    )
    laid += shirt.yoke(rest)
    return Made(
        lift,
        close * np.where(lines.is_arm, smooth_step(before, 0.05, 0.1), 1.0),
        Habit(salt=6.6, length=1.2, waistline=TOP),
        tuple(panels),
        tuple(laid),
        buttons,
        over=1.0e-2 * (1 - smooth_step(lines.net.ring, seam + 3, seam + 5)),
        hides=least(lines.neck(seam + 1), lines.sleeve(-0.03), lines.leg(-0.02)),
    )
