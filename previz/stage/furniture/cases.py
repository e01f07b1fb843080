"""Cases with doors, drawers or boards: cupboards, chests, bookcases."""

from __future__ import annotations

import functools

import numpy as np

from previz.stage.furniture.joinery import carcass, cornice, drawers, plinth, two_doors
from previz.stage.furniture.kinds import Making, builds
from previz.stage.furniture.papers import Shelved
from previz.stage.furniture.solids import Solid, block, blocks, joined
from previz.stage.furniture.swept import sweep, turned

"""Thickness of a carcass board. [m]"""


def _cupboard(making: Making, part: str, rows, crown: float, foot: float) -> None:
    w, d, h = making.size
    front = 0.034
    over = 0.02 if crown else 0.012
    low, high = foot, h - max(crown, 0.024)
    making.add(
        part,
        plinth(w - 2 * over, d - 0.02, foot),
        carcass(w - 2 * over, d - 0.02, low, high, front - 0.002, middle=True).moved(0, 0.01, 0),
    )
    if crown:
        making.add(part, cornice(w, d, high, crown))
    else:
        making.add(part, block((-w / 2, -d / 2 + 0.028, high), (w / 2, d / 2, h), 0.004))
    two_doors(making, part, w - 2 * over, -d / 2 + 0.029, low, high, rows, 0.55 * h if h > 1.3 else None)


@builds("cabinet")
def cabinet(making: Making) -> None:
    """Build a low cabinet with two doors."""
    _cupboard(making, "wood", (1.0,), 0.0, min(0.08, 0.1 * making.size[2]))


@builds("cupboard")
def cupboard(making: Making) -> None:
    """Build a tall cupboard, two panels in each door."""
    _cupboard(making, "wood", (1.0, 1.25), 0.045, 0.09)


@builds("wardrobe")
def wardrobe(making: Making) -> None:
    """Build a wardrobe with a cornice, a long panel over a short one."""
    _cupboard(making, "wood", (0.55, 1.6), 0.09, 0.12)


@builds("locker")
def locker(making: Making) -> None:
    """Build steel lockers side by side, a door to each 0.4 m or so, with vents and a number plate."""
    w, d, h = making.size
    count = max(1, round(w / 0.4))
    each, foot = w / count, min(0.12, 0.08 * h)
    making.add(
        "steel",
        carcass(w, d - 0.014, foot, h, 0.018).moved(0, 0.007, 0),
        blocks(
            [(-w / 2 + 0.006 + k * each, y, 0) for k in range(count) for y in (-d / 2 + 0.03, d / 2 - 0.04)],
            [
                (-w / 2 + 0.036 + k * each, y + 0.03, foot)
                for k in range(count)
                for y in (-d / 2 + 0.03, d / 2 - 0.04)
            ],
            0.001,
        ),
    )
    for k in range(count):
        x = -w / 2 + each * k + 0.003
        wide, tall = each - 0.006, h - foot - 0.01
        slits = [foot + 0.005 + s * tall for s in (0.12, 0.135, 0.15, 0.165, 0.86, 0.875, 0.89, 0.905)]
        leaf = joined(
            block((x, -d / 2 + 0.012, foot + 0.005), (x + wide, -d / 2 + 0.026, h - 0.005), 0.004),
            blocks(
                [(x + 0.28 * wide, -d / 2 + 0.006, z) for z in slits],
                [(x + 0.72 * wide, -d / 2 + 0.013, z + 0.007) for z in slits],
                0.003,
                0,
            ),
        )
        at = (x, -d / 2 + 0.026, 0)
        turn = -1.0 if k == 0 else -0.0
        making.hinge("steel", leaf, at, turn)
        grip = joined(
            block(
                (x + wide - 0.045, -d / 2, 0.52 * h), (x + wide - 0.03, -d / 2 + 0.013, 0.52 * h + 0.1), 0.003
            ),
            block(
                (x + 0.35 * wide, -d / 2 + 0.01, 0.8 * h),
                (x + 0.65 * wide, -d / 2 + 0.013, 0.8 * h + 0.03),
                0.001,
            ),
        )
        making.hinge("handles", grip, at, turn)


@builds("chest of drawers")
def chest(making: Making) -> None:
    """Build a chest of four drawers, the lowest the tallest, on bracket feet."""
    w, d, h = making.size
    foot, top = 0.1 * h, 0.026
    making.add(
        "wood",
        carcass(w - 0.03, d - 0.03, foot, h - top, 0.03).moved(0, 0.008, 0),
        block((-w / 2, -d / 2 + 0.014, h - top), (w / 2, d / 2, h), 0.006),
        block((-w / 2 + 0.03, -d / 2 + 0.05, foot * 0.6), (w / 2 - 0.03, d / 2 - 0.02, foot), 0.003),
    )
    making.add(
        "wood",
        *(
            block(
                (sx * (w / 2 - 0.016) - 0.05 * (sx > 0), y, 0),
                (sx * (w / 2 - 0.016) + 0.05 * (sx < 0), y + 0.04, foot),
                0.004,
            )
            for sx in (-1, 1)
            for y in (-d / 2 + 0.034, d / 2 - 0.045)
        ),
    )
    room = h - top - foot - 0.01
    drawers(
        making,
        "wood",
        -w / 2 + 0.03,
        w / 2 - 0.03,
        -d / 2 + 0.031,
        np.array([0.3, 0.27, 0.23, 0.2]) * room,
        foot + 0.006,
    )


@builds("dresser")
def dresser(making: Making) -> None:
    """Build a dresser: doors and two drawers below, plates on racks above."""
    w, d, h = making.size
    waist, foot = 0.46 * h, 0.07
    making.add(
        "wood",
        plinth(w - 0.03, d - 0.02, foot),
        carcass(w - 0.03, d - 0.02, foot, waist - 0.03, 0.03).moved(0, 0.01, 0),
        block((-w / 2, -d / 2 + 0.03, waist - 0.03), (w / 2, d / 2, waist), 0.006),
        blocks(
            [(-w / 2 + 0.015, -d / 2 + 0.03, 0.72 * waist)], [(w / 2 - 0.015, -d / 2 + 0.05, 0.735 * waist)]
        ),
    )
    two_doors(making, "wood", w - 0.03, -d / 2 + 0.029, foot, 0.72 * waist)
    for side in (-1, 1):
        edges = sorted((side * 0.004, side * (w / 2 - 0.018)))
        drawers(making, "wood", *edges, -d / 2 + 0.031, [0.2 * waist], 0.74 * waist)
    deep, y1 = min(0.2, 0.45 * d), d / 2
    rack = carcass(w - 0.06, deep, waist, h - 0.06).moved(0, y1 - deep / 2, 0)
    making.add(
        "wood", rack, cornice(w - 0.02, deep + 0.03, h - 0.06, 0.06).moved(0, y1 - deep / 2 - 0.015, 0)
    )
    room = (h - 0.1 - waist) / 3
    for k in (1, 2):
        z = waist + k * room
        making.add(
            "wood",
            blocks(
                [(-w / 2 + 0.05, y1 - deep + 0.01, z), (-w / 2 + 0.05, y1 - deep + 0.012, z + 0.05)],
                [(w / 2 - 0.05, y1, z + 0.016), (w / 2 - 0.05, y1 - deep + 0.02, z + 0.062)],
            ),
        )
        radius = min(0.11, 0.42 * room)
        dish = plate_form(radius).turned(0, 90 - 14)
        count = max(int((w - 0.14) / (2.15 * radius)), 1)
        for x in (np.arange(count) - (count - 1) / 2) * (w - 0.12) / count:
            making.add(
                "plates", dish.moved(x + making.chance.uniform(-0.006, 0.006), y1 - 0.055, z + 0.018 + radius)
            )


@functools.lru_cache(maxsize=256)
def plate_form(radius: float, sides: int = 28) -> Solid:
    """Return a plate with a foot and a rim, lying on z = 0. [m]"""
    r, t = radius, 0.0035
    low = [
        (0, 0.003),
        (0.5 * r, 0.003),
        (0.52 * r, 0.0),
        (0.57 * r, 0.0),
        (0.6 * r, 0.004),
        (0.7 * r, 0.011),
        (0.97 * r, 0.019),
        (r, 0.0205),
    ]
    high = [
        (0.99 * r, 0.0215),
        (0.95 * r, 0.021),
        (0.71 * r, 0.011 + t),
        (0.62 * r, 0.004 + t),
        (0.5 * r, 0.003 + t),
        (0, 0.003 + t),
    ]
    scale = r / 0.125
    return turned(np.array(low + high) * [1, scale], sides)


@builds("shelf")
def shelf(making: Making) -> None:
    """Build an open shelf of four boards and a top, closed at its back."""
    w, d, h = making.size
    making.add("wood", _open_case(w, d, h, 4))


def _open_case(w: float, d: float, h: float, count: int, foot: float = 0.0) -> Solid:
    board, b = 0.022, 0.022
    sides = blocks(
        [(-w / 2, -d / 2, 0), (w / 2 - b, -d / 2, 0)], [(-w / 2 + b, d / 2, h), (w / 2, d / 2, h)], 0.002, 2
    )
    zs = foot + np.arange(count + 1) * (h - board - foot) / count
    boards = blocks(
        [(-w / 2 + b, -d / 2 + 0.003, z) for z in zs],
        [(w / 2 - b, d / 2 - 0.008, z + board) for z in zs],
        0.002,
        0,
    )
    return joined(sides, boards, block((-w / 2 + b, d / 2 - 0.008, 0), (w / 2 - b, d / 2 - 0.001, h), 0.0, 2))


@builds("bookcase")
def bookcase(making: Making) -> None:
    """Build a bookcase with a plinth and a cornice, full of books, some of them lying."""
    w, d, h = making.size
    foot, crown = 0.08, 0.05
    tall = h - crown
    count = max(2, round((tall - foot) / 0.34))
    over = 0.012
    making.add(
        "wood",
        _open_case(w - 2 * over, d - over, tall, count, foot).moved(0, over / 2, 0),
        block((-w / 2 + 0.034, -d / 2 + 0.03, 0), (w / 2 - 0.034, -d / 2 + 0.05, foot), 0.002),
        cornice(w, d, tall, crown),
    )
    step = (tall - 0.022 - foot) / count
    shelved = Shelved(making)
    for k in range(count):
        shelved.row(
            -w / 2 + 0.038, w / 2 - 0.038, d / 2 - 0.014, d - 0.045, foot + k * step + 0.0222, step - 0.026
        )
    shelved.finish()


@builds("wall shelf")
def wall_shelf(making: Making) -> None:
    """Build a board on two brackets of iron."""
    w, d, h = making.size
    thick = 0.022
    making.add("board", block((-w / 2, -d / 2, h - thick), (w / 2, d / 2, h), 0.004, 0))
    for x in (-0.34 * w, 0.34 * w):
        z = h - thick
        turn = np.linspace(0, np.pi / 2, 7)
        way = np.stack(
            [0 * turn + x, d / 2 - 0.012 - 0.8 * d * (1 - np.cos(turn)), 0.03 + (z - 0.04) * np.sin(turn)], 1
        )
        making.add(
            "brackets",
            block((x - 0.009, d / 2 - 0.006, 0), (x + 0.009, d / 2, z), 0.002),
            block((x - 0.009, -d / 2 + 0.03, z - 0.006), (x + 0.009, d / 2, z), 0.002),
            sweep(way, [(0.004, -0.006), (0.004, 0.006), (-0.004, 0.006), (-0.004, -0.006)]),
        )
