"""Parked vehicles of no make: a body drawn over its side view, real panes, wheels in their arches.

The body is a grid over the side: stations along x, and levels from sill over belt to roof. Cells of the grid
that lie in a window are glass, the others painted sheet.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.stage import shapes
from previz.stage.yard.solids import MAIN, Part, block, lathe, made, rod, rounded

PANE = "thin glass"


@dataclass(frozen=True)
class Plan:
    """A vehicle over its length, width and height, front towards +x; shares of those. [1]

    Parameters
    ----------
    roof : tuple of (x, z)
        Line of bonnet, screens and roof from the tail to the nose.
    sill, belt, head : float
        Levels: lower edge of the body, lower and upper edge of the side windows.
    axles : (float, float)
        Places of the wheels from the tail.
    wheel : float
        Radius over the height.
    sides : tuple of (x, x)
        Side windows.
    front, back : (x, x)
        Stations between which the roof's line is a screen.
    tumble : float
        How far the roof is narrower than the belt, over the width.
    doors : tuple of float
        Where there are gaps of doors.
    """

    roof: tuple[tuple[float, float], ...]
    sill: float
    belt: float
    head: float
    axles: tuple[float, float]
    wheel: float
    sides: tuple[tuple[float, float], ...]
    front: tuple[float, float]
    back: tuple[float, float]
    tumble: float
    doors: tuple[float, ...]


VAN = Plan(
    (
        (0.0, 0.86),
        (0.012, 0.955),
        (0.035, 0.985),
        (0.10, 1.0),
        (0.60, 1.0),
        (0.66, 0.985),
        (0.70, 0.955),
        (0.835, 0.60),
        (0.86, 0.575),
        (0.96, 0.52),
        (0.985, 0.47),
        (1.0, 0.38),
    ),
    0.13,
    0.55,
    0.87,
    (0.19, 0.80),
    0.155,
    ((0.675, 0.775),),
    (0.705, 0.825),
    (-1, -1),
    0.10,
    (0.30, 0.565, 0.665, 0.84),
)
CAR = Plan(
    (
        (0.0, 0.52),
        (0.01, 0.62),
        (0.03, 0.66),
        (0.12, 0.68),
        (0.15, 0.69),
        (0.27, 0.955),
        (0.33, 0.99),
        (0.45, 1.0),
        (0.53, 0.985),
        (0.565, 0.955),
        (0.70, 0.665),
        (0.72, 0.65),
        (0.90, 0.60),
        (0.96, 0.555),
        (0.99, 0.49),
        (1.0, 0.40),
    ),
    0.13,
    0.635,
    0.93,
    (0.19, 0.81),
    0.215,
    ((0.245, 0.405), (0.425, 0.60)),
    (0.57, 0.69),
    (0.16, 0.262),
    0.20,
    (0.235, 0.415, 0.655),
)


def _stations(plan: Plan) -> np.ndarray:
    """Return shares along x at which the body has corners, windows' ends among them."""
    own = [x for x, _ in plan.roof] + [
        x for pair in (*plan.sides, plan.front, plan.back) for x in pair if x >= 0
    ]
    arches = [a + plan.wheel * 0.5 * 1.18 * k for a in plan.axles for k in np.linspace(-1, 1, 13)]
    found = np.unique(np.round(np.concatenate([own, arches, np.linspace(0, 1, 33)]), 4))
    return found[(found >= 0) & (found <= 1)]


def _bottom(plan: Plan, x, size) -> np.ndarray:
    """Return the height of the body's lower edge, round over the wheels. [m]"""
    long, _, high = size
    low = np.full(len(x), plan.sill * high)
    # Ends rise a little.
    low += 0.06 * high * np.clip((np.abs(x - 0.5) - 0.44) / 0.06, 0, 1)
    radius = plan.wheel * high * 1.16
    for axle in plan.axles:
        away = (x - axle) * long
        arch = np.sqrt(np.maximum(radius**2 - away**2, 0)) + plan.wheel * high
        low = np.where(np.abs(away) < radius, np.maximum(low, arch), low)
    return low


def _half(plan: Plan, x, z, size) -> np.ndarray:
    """Return half the body's width. [m]"""
    _, wide, high = size
    level = z / high
    side = 1 - 2 * plan.tumble * 0.5 * np.clip((level - plan.belt) / (1 - plan.belt), 0, 1) ** 1.15
    side = side * (1 - 0.05 * np.clip((plan.sill + 0.22 - level) / 0.22, 0, 1) ** 2)
    ends = np.clip((np.abs(x - 0.5) - 0.36) / 0.14, 0, 1)
    return wide / 2 * side * (1 - 0.11 * ends**2.2)


def _shell(plan: Plan, size):
    """Return (painted, glass) triangles of the body."""
    long, _, high = size
    x = _stations(plan)
    top = np.interp(x, *np.array(plan.roof).T) * high
    low = _bottom(plan, x, size)
    levels = (
        np.array([plan.sill + 0.06, (plan.sill + plan.belt) / 2, plan.belt - 0.02, plan.belt, plan.head])
        * high
    )
    rows = np.stack(
        [
            low,
            *(np.clip(each, low, np.maximum(top - 0.02 * high, low)) for each in levels),
            np.maximum(top - 0.02 * high, low),
        ]
    )
    painted, glass = [], []
    at = x * long - long / 2
    for side in (-1, 1):
        y = side * _half(plan, x[None], rows, size)
        grid = np.stack([np.broadcast_to(at, rows.shape), y, rows], axis=-1)
        clear = np.zeros((len(rows) - 1, len(x) - 1), bool)
        middle = (x[1:] + x[:-1]) / 2
        for one, two in plan.sides:
            clear[4] |= (middle > one) & (middle < two)
        _cells(grid, clear, side < 0, painted, glass)
    painted_top, glass_top = _top(plan, x, at, top, size)
    return painted + painted_top, glass + glass_top


def _cells(grid, clear, forward: bool, painted: list, glass: list) -> None:
    """Add a grid's cells to what is painted or to what is clear."""
    rows, columns = grid.shape[:2]
    k = np.arange(rows * columns).reshape(rows, columns)
    a, b, c, d = k[:-1, :-1], k[:-1, 1:], k[1:, 1:], k[1:, :-1]
    for mask, into in ((~clear, painted), (clear, glass)):
        if not np.any(mask):
            continue
        p, q, r, s = (each[mask] for each in (a, b, c, d))
        faces = np.concatenate([np.stack([p, q, r], 1), np.stack([p, r, s], 1)])
        into.append((grid.reshape(-1, 3), faces if forward else faces[:, ::-1]))


def _top(plan: Plan, x, at, top, size):
    """Return (painted, glass) of roof, bonnet, screens and both ends."""
    high = size[2]
    edge = _half(plan, x, np.maximum(top - 0.02 * high, 0), size)
    across = np.array([-1, -0.9, -0.84, 0, 0.84, 0.9, 1.0])
    crown = np.array(
        [-0.02 * high, -0.005 * high, -0.003 * high, 0, -0.003 * high, -0.005 * high, -0.02 * high]
    )
    grid = np.stack(np.broadcast_arrays(at, across[:, None] * edge, top + crown[:, None]), axis=-1)
    middle = (x[1:] + x[:-1]) / 2
    clear = np.zeros((6, len(x) - 1), bool)
    for one, two in (plan.front, plan.back):
        clear[2:4] |= (middle > one) & (middle < two)
    painted, glass = [], []
    _cells(grid, clear, True, painted, glass)
    for end, forward in ((0, False), (-1, True)):
        levels = np.linspace(_bottom(plan, x, size)[end], top[end] - 0.02 * high, 5)
        half = _half(plan, np.full(5, x[end]), levels, size)
        half[-1] = edge[end]
        face = np.stack(
            np.broadcast_arrays(at[end], np.linspace(-1, 1, 7)[None] * half[:, None], levels[:, None]),
            axis=-1,
        )
        if end == 0 and plan.back[0] < 0:
            _cells(face, _back_windows(), forward, painted, glass)
        else:
            _cells(face, np.zeros((4, 6), bool), forward, painted, glass)
    return painted, glass


def _back_windows() -> np.ndarray:
    clear = np.zeros((4, 6), bool)
    clear[2, [1, 4]] = True
    clear[2, [2, 3]] = False
    return clear


def _wheels(plan: Plan, size):
    long, wide, high = size
    radius = plan.wheel * high
    thick = 0.12 * wide
    tyre = lathe(
        [
            (0.60 * radius, -thick / 2),
            (0.93 * radius, -thick / 2),
            (radius, -0.35 * thick),
            (radius, 0.35 * thick),
            (0.93 * radius, thick / 2),
            (0.60 * radius, thick / 2),
        ],
        36,
    )
    disc = lathe(
        [
            (0.63 * radius, 0.38 * thick),
            (0.60 * radius, 0.22 * thick),
            (0.42 * radius, 0.14 * thick),
            (0.34 * radius, 0.30 * thick),
            (0.16 * radius, 0.36 * thick),
            (0.0, 0.37 * thick),
        ],
        28,
    )
    found = []
    for axle in plan.axles:
        for side in (-1, 1):
            axes = shapes.aimed((0, side, 0))
            place = ((axle - 0.5) * long, side * (wide / 2 - thick / 2 - 0.035), radius)
            found.append((shapes.place(tyre, axes, place), shapes.place(disc, axes, place)))
    return found


def _inside(plan: Plan, size) -> list[Part]:
    """Return floor, seats, wheel and what closes the body from below."""
    long, wide, high = size
    floor = plan.sill * high + 0.06
    w = wide / 2 - 0.12
    dark = [block(-0.47 * long, 0.47 * long, -w * 0.94, w * 0.94, floor, floor + 0.03)]
    for axle in plan.axles:
        radius = plan.wheel * high * 1.2
        at = (axle - 0.5) * long
        for side in (-1, 1):
            arch = lathe([(radius, 0.0), (radius, 0.2)], 24)
            body = shapes.place(
                arch, shapes.aimed((0, -side, 0)), (at, side * (wide / 2 - 0.03), plan.wheel * high)
            )
            dark += [
                body,
                (body[0], body[1][:, ::-1]),
                rod(
                    (at, side * (wide / 2 - 0.24), plan.wheel * high),
                    (at, side * (wide / 2 - 0.235), plan.wheel * high),
                    radius,
                    24,
                ),
            ]
    seats = []
    rows = [plan.front[0] - 0.10] + ([plan.sides[0][0] + 0.05] if len(plan.sides) > 1 else [])
    seat = floor + 0.24 * high
    for share in rows:
        for side in (-1, 1):
            s = (share - 0.5) * long
            seats += [
                block(s - 0.05, s + 0.42, side * 0.42 - 0.24, side * 0.42 + 0.24, seat - 0.14, seat),
                block(
                    s - 0.16, s - 0.04, side * 0.42 - 0.24, side * 0.42 + 0.24, seat - 0.1, seat + 0.30 * high
                ),
            ]
    front = (plan.front[1] - 0.5) * long
    dark.append(
        block(
            front - 0.28,
            front + 0.12,
            -w * 0.9,
            w * 0.9,
            (plan.belt - 0.12) * high,
            (plan.belt - 0.01) * high,
        )
    )
    ring = lathe([(0.165, -0.012), (0.19, 0.0), (0.165, 0.012), (0.165, -0.012)], 20)
    lean = np.array([-0.85, 0, 0.5])
    dark.append(shapes.place(ring, shapes.aimed(lean), (front - 0.42, 0.4, plan.belt * high - 0.03)))
    if len(plan.sides) == 1:
        wall = (plan.sides[0][0] - 0.045 - 0.5) * long
        dark.append(block(wall - 0.02, wall, -w * 0.93, w * 0.93, floor, 0.94 * high))
    return [made("black paint", *dark), made("black leather", *seats)]


def _trim(plan: Plan, size) -> list[Part]:
    """Return lamps, bumpers, plates, mirrors, handles and the gaps of doors."""
    long, wide, high = size
    nose, tail = long / 2, -long / 2
    z = plan.roof[-1][1] * high - 0.05
    lens, rims, red = [], [], []
    for side in (-1, 1):
        y = side * 0.36 * wide
        rims.append(rod((nose - 0.12, y, z), (nose + 0.012, y, z), 0.105, 24))
        lens.append(
            shapes.place(
                lathe([(0.09, 0.0), (0.06, 0.014), (0.0, 0.02)], 24),
                shapes.aimed((1, 0, 0)),
                (nose + 0.0125, y, z),
            )
        )
        red.append(
            block(
                tail - 0.012,
                tail + 0.1,
                side * 0.40 * wide - 0.05,
                side * 0.40 * wide + 0.05,
                0.40 * high,
                0.50 * high,
            )
        )
    low = (plan.sill + 0.05) * high
    bumpers = [
        block(nose - 0.06, nose + 0.05, -0.44 * wide, 0.44 * wide, low, low + 0.09),
        block(tail - 0.05, tail + 0.06, -0.44 * wide, 0.44 * wide, low, low + 0.09),
    ]
    grille = [
        block(nose - 0.02, nose + 0.008, -0.24 * wide, 0.24 * wide, h, h + 0.012)
        for h in np.linspace(z - 0.09, z + 0.08, 7)
    ]
    plates = [
        block(nose + 0.05, nose + 0.056, -0.22, 0.22, low - 0.01, low + 0.1),
        block(tail - 0.056, tail - 0.05, -0.22, 0.22, low - 0.01, low + 0.1),
    ]
    gaps, grips = [], []
    for door in plan.doors:
        x = (door - 0.5) * long
        for side in (-1, 1):
            levels = np.linspace((plan.sill + 0.05) * high, plan.belt * high, 6)
            y = side * (_half(plan, np.full(6, door), levels, size) + 0.0015)
            for k in range(5):
                if levels[k] < _bottom(plan, np.array([door]), size)[0]:
                    continue
                corners = np.array(
                    [
                        (x - 0.003, y[k], levels[k]),
                        (x + 0.003, y[k], levels[k]),
                        (x + 0.003, y[k + 1], levels[k + 1]),
                        (x - 0.003, y[k + 1], levels[k + 1]),
                    ]
                )
                gaps.append((corners, np.array([[0, 1, 2], [0, 2, 3]])[:, :: side * -1]))
            hold = (plan.belt - 0.05) * high
            out = side * float(_half(plan, np.array([door]), np.array([hold]), size)[0])
            grips.append(
                rod((x + 0.05, out + side * 0.022, hold), (x + 0.17, out + side * 0.022, hold), 0.011, 6)
            )
    mirror = (plan.sides[-1][1] - 0.5) * long
    glass = [
        block(
            mirror - 0.06,
            mirror - 0.02,
            s * (wide / 2 + 0.06) - 0.075,
            s * (wide / 2 + 0.06) + 0.075,
            plan.belt * high + 0.02,
            plan.belt * high + 0.16,
        )
        for s in (-1, 1)
    ]
    return [
        made("white tile", *lens),
        rounded("chrome", *rims),
        made("dark red paint", *red),
        made("chrome", *bumpers, *grips),
        made("black paint", *gaps, *glass, *grille),
        made("white enamel", *plates),
    ]


def _vehicle(plan: Plan, size) -> list[Part]:
    painted, glass = _shell(plan, size)
    wheels = _wheels(plan, size)
    return [
        rounded(MAIN, *painted, limit=32),
        made(PANE, *glass),
        rounded("rubber", *(t for t, _ in wheels)),
        rounded("steel", *(d for _, d in wheels)),
        *_inside(plan, size),
        *_trim(plan, size),
    ]


def van(size, name: str) -> list[Part]:
    """Return a delivery van, front towards +x."""
    return _vehicle(VAN, size)


def car(size, name: str) -> list[Part]:
    """Return a small car, front towards +x."""
    return _vehicle(CAR, size)
