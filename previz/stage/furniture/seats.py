"""Seats: chairs, stools, benches, armchairs, couches."""

from __future__ import annotations

import functools

import numpy as np

from previz.stage.furniture.kinds import Making, builds
from previz.stage.furniture.soft import cushion, piping
from previz.stage.furniture.solids import Solid, block, blocks, joined
from previz.stage.furniture.swept import curve, loft, rod, square, sweep, turned

SEAT = 0.45
"""Height of a seat where a chair is not lower itself; of its size where it is taller. [m]"""


@functools.lru_cache(maxsize=256)
def turned_leg(height: float, radius: float, sides: int = 12) -> Solid:
    """Return a leg turned on a lathe, with beads, standing on z = 0. [m]"""
    shape = [
        (0, 0),
        (0.5, 0),
        (0.62, 0.012),
        (0.55, 0.06),
        (0.72, 0.16),
        (0.74, 0.2),
        (0.58, 0.215),
        (0.76, 0.235),
        (0.6, 0.255),
        (0.74, 0.3),
        (0.98, 0.62),
        (0.94, 0.72),
        (0.68, 0.8),
        (0.9, 0.82),
        (0.9, 0.845),
        (0.7, 0.865),
        (0.95, 0.9),
        (0.95, 1.0),
        (0, 1.0),
    ]
    return turned(np.array(shape) * [radius, height], sides)


def _seat_board(width: float, depth: float, z: float, thickness: float, hollow: float) -> Solid:
    """Return a wooden seat, dished where one sits, rounded at its front. [m]"""
    return cushion((width, depth, thickness), 0.45 * thickness, -hollow, steps=(8, 8, 2), sag=hollow).moved(
        0, 0, z - thickness / 2
    )


def _back_posts(w: float, d: float, h: float, seat: float, thick: float) -> tuple[Solid, np.ndarray]:
    """Return both back posts and the path of the right one."""
    x = w / 2 - thick / 2 - 0.01
    way = curve(
        [
            (x, d / 2 - 0.02, 0),
            (x, d / 2 - 0.075, 0.55 * seat),
            (x, d / 2 - 0.085, 1.05 * seat),
            (x, d / 2 - 0.055, 0.72 * h + 0.1 * seat),
            (x, d / 2 - 0.012, h - 0.002),
        ],
        12,
    )
    width = np.interp(way[:, 2], [0, seat, h], [0.8, 1.0, 0.75])
    post = sweep(way, square(thick, thick * 0.85, 0.004), width, upward=(0, 1, 0))
    return joined(post, post.mirrored()), way


def _bow(way: np.ndarray, z: float, bend: float) -> np.ndarray:
    """Return where a rail between the back posts runs, bent back in its middle. Shape (7, 3) [m]"""
    x = float(np.interp(z, way[:, 2], way[:, 0]))
    y = float(np.interp(z, way[:, 2], way[:, 1]))
    s = np.linspace(-1, 1, 7)
    return np.stack([s * x, y + bend * (1 - s**2), np.full(7, z)], axis=1)


@builds("chair")
def chair(making: Making) -> None:
    """Build a chair; by its variant with turned legs and spindles, a ladder back, or a splat."""
    w, d, h = making.size
    seat = min(SEAT, 0.56 * h)
    style, thick = making.variant % 3, min(0.036, 0.09 * w)
    posts, way = _back_posts(w, d, h, seat, thick)
    front = d / 2 - 0.045
    leg = (
        turned_leg(seat - 0.03, 0.024, 10)
        if style == 1
        else loft(
            np.array([square(0.026, 0.026), square(0.036, 0.036)])[:, :, [0, 1, 1]] * [1, 1, 0]
            + np.array([0, 0, 1.0]) * np.array([0, seat - 0.03])[:, None, None]
        )
    )
    x = w / 2 - 0.04
    making.add("wood", posts, leg.moved(x, -front, 0), leg.moved(-x, -front, 0))
    rail = seat - 0.062
    making.add(
        "wood",
        blocks(
            [(-x, -front - 0.01, rail), (-x, d / 2 - 0.1, rail)],
            [(x, -front + 0.01, seat - 0.02), (x, d / 2 - 0.08, seat - 0.02)],
        ),
        blocks(
            [(x - 0.01, -front, rail), (-x - 0.01, -front, rail)],
            [(x + 0.01, d / 2 - 0.08, seat - 0.02), (-x + 0.01, d / 2 - 0.08, seat - 0.02)],
        ),
    )
    low = 0.3 * seat
    side = rod(
        curve([(x, -front, low), (x, 0, low + 0.004), (x, d / 2 - 0.05, low)], 5),
        0.010,
        8,
        scale=[0.8, 1.0, 1.25, 1.0, 0.8],
    )
    cross = rod(
        [(-x, 0, low), (-0.4 * x, 0, low), (0.4 * x, 0, low), (x, 0, low)],
        0.010,
        8,
        scale=[0.8, 1.2, 1.2, 0.8],
    )
    making.add("wood", side, side.mirrored(), cross)
    making.add("seat", _seat_board(w, d - 0.045, seat + 0.006, 0.03, 0.007).moved(0, -0.0225, 0))
    _chair_back(making, way, style, seat, h)


def _chair_back(making: Making, way, style: int, seat: float, h: float) -> None:
    bend, tall = 0.018, h - seat
    crest = sweep(_bow(way, h - 0.075 * tall / 0.43, bend), square(0.018, 0.115 * tall / 0.43, 0.006))
    making.add("wood", crest)
    if style == 2:
        for share in (0.3, 0.55):
            making.add("wood", sweep(_bow(way, seat + share * tall, bend), square(0.013, 0.05, 0.004)))
        return
    low = _bow(way, seat + 0.16 * tall, 0.4 * bend)
    high = _bow(way, h - 0.2 * tall, bend)
    making.add("wood", sweep(low, square(0.016, 0.03, 0.004)))
    if style == 0:
        s = np.array([1.0, 0.55, 0.45, 0.8, 1.15, 1.0])
        path = np.linspace(low[3], high[3], 6) + np.outer([0, 0.4, 0.9, 0.9, 0.5, 0], [0, 0.012, 0])
        making.add(
            "wood",
            sweep(path, square(0.3 * (way[0, 0] * 2), 0.009), np.stack([s, np.ones(6)], 1), upward=(0, 1, 0)),
        )
        return
    for share in np.linspace(-0.66, 0.66, 4):
        ends = [
            np.array([np.interp(share, np.linspace(-1, 1, 7), each[:, k]) for k in range(3)])
            for each in (low, high)
        ]
        path = np.linspace(*ends, 6)
        making.add("wood", rod(path, 0.0075, 6, scale=[0.8, 1.0, 1.25, 1.3, 1.05, 0.8]))


@builds("stool")
def stool(making: Making) -> None:
    """Build a stool on four splayed legs, its seat round or square by its variant."""
    w, d, h = making.size
    thick = min(0.034, 0.1 * h)
    if making.variant % 2:
        making.add("wood", _seat_board(w * 0.96, d * 0.96, h, thick, 0.004))
    else:
        disc = turned(
            [
                (0, 0),
                (0.44, 0),
                (0.475, 0.25 * thick),
                (0.48, 0.6 * thick),
                (0.46, thick),
                (0.3, thick - 0.003),
                (0, thick - 0.005),
            ],
            36,
        )
        making.add("wood", disc._replace(vertices=disc.vertices * [w, d, 1]).moved(0, 0, h - thick))
    profile = np.array([0.62, 0.8, 1.0, 1.05, 0.8])
    feet = []
    for sx, sy in ((1, 1), (-1, 1), (-1, -1), (1, -1)):
        top = np.array([sx * (0.28 * w), sy * (0.28 * d), h - 0.6 * thick])
        foot = np.array([sx * (w / 2 - 0.018), sy * (d / 2 - 0.018), 0.0])
        feet.append((foot, top))
        leg = rod(np.linspace(foot, top, 5), 0.019, 10, scale=profile)
        # Its foot is sawn level.
        making.add(
            "wood",
            leg._replace(
                vertices=np.where(leg.vertices[:, 2:] < 0.004, leg.vertices * [1, 1, 0], leg.vertices)
            ),
        )
    for k in range(4):
        low = 0.32 if k % 2 else 0.4
        ends = [foot + (top - foot) * low for foot, top in (feet[k], feet[(k + 1) % 4])]
        making.add("wood", rod(np.linspace(*ends, 4), 0.0105, 8, scale=[0.8, 1.15, 1.15, 0.8]))


@builds("bench")
def bench(making: Making) -> None:
    """Build a bench of three planks on two trestles, with a rail under it."""
    w, d, h = making.size
    top, gap = 0.032, 0.006
    each = (d - 2 * gap) / 3
    edges = -d / 2 + np.arange(3) * (each + gap)
    making.add(
        "wood",
        blocks(
            np.stack([np.full(3, -w / 2), edges, np.full(3, h - top)], 1),
            np.stack([np.full(3, w / 2), edges + each, np.full(3, h)], 1),
            0.004,
            0,
        ),
    )
    for side in (-1, 1):
        x = side * (w / 2 - min(0.18, 0.2 * w))
        making.add(
            "wood",
            block((x - 0.03, -d / 2 + 0.015, h - top - 0.06), (x + 0.03, d / 2 - 0.015, h - top), 0.004),
        )
        for sy in (-1, 1):
            path = [(x, sy * (d / 2 - 0.025), 0), (x, sy * 0.28 * d, h - top - 0.055)]
            making.add("wood", _sawn(sweep(path, square(0.055, 0.05, 0.004), upward=(1, 0, 0))))
        making.add("wood", block((x - 0.014, -0.36 * d, 0.3 * h), (x + 0.014, 0.36 * d, 0.3 * h + 0.055)))
        bolts = rod([(x, 0, 0), (x, 0, 0.004)], 0.008, 8)
        making.add("iron", *(bolts.moved(0, y, h) for y in (-each - gap, 0, each + gap)))
    reach = w / 2 - min(0.18, 0.2 * w)
    making.add("wood", block((-reach, -0.018, 0.3 * h + 0.02), (reach, 0.018, 0.3 * h + 0.085)))


def _sawn(leg: Solid) -> Solid:
    """Return a slanting leg whose foot is level with the floor."""
    z = leg.vertices[:, 2:]
    return leg._replace(vertices=np.where(z < 0.01, leg.vertices * [1, 1, 0], leg.vertices))


def _feet(making: Making, w: float, d: float, high: float) -> None:
    foot = turned(
        [(0, 0), (0.018, 0), (0.026, 0.25 * high), (0.022, 0.6 * high), (0.03, high), (0, high)], 12
    )
    making.add(
        "feet", *(foot.moved(sx * (w / 2 - 0.07), sy * (d / 2 - 0.07), 0) for sx in (-1, 1) for sy in (-1, 1))
    )


def _arm(width: float, depth: float, low: float, high: float) -> Solid:
    """Return an arm that rolls outwards over its panel, its front at -y, about x = 0. [m]"""
    roll = 0.56 * width
    turn = np.linspace(-0.35 * np.pi, 1.05 * np.pi, 12)
    over = np.stack([0.06 * width + roll * np.cos(turn), high - roll + roll * np.sin(turn)], 1)
    section = np.concatenate(
        [[(-0.3 * width, low), (0.36 * width, low), (0.36 * width, high - 1.9 * roll)], over]
    )
    section = section[section[:, 1] <= high + 1e-9]
    ys = np.array([-0.5, -0.488, -0.46, 0.3, 0.5]) * depth
    grow = np.array([0.86, 0.96, 1.0, 1.0, 1.0])
    middle = section.mean(axis=0)
    rings = np.array(
        [[(x, y, z) for x, z in middle + (section - middle) * g] for y, g in zip(ys, grow, strict=True)]
    )
    return loft(rings)


def _stuffed(making: Making, seats: int) -> None:
    """Build a stuffed seat for so many, with loose cushions."""
    w, d, h = making.size
    leg = min(0.09, 0.12 * h)
    arm, back = min(0.2, 0.24 * w), min(0.2, 0.24 * d)
    seat = min(0.44, 0.54 * h)
    _feet(making, w, d, leg + 0.02)
    inner = w - 1.72 * arm
    base_top = seat - 0.13
    making.add(
        "cover",
        cushion((w - 0.5 * arm, d - 0.05, base_top - leg), 0.03, 0.0, steps=(6, 4, 3)).moved(
            0, 0, (base_top + leg) / 2
        ),
    )
    side = _arm(arm, d - 0.02, leg, min(0.62 * h + 0.05, 0.68 * h))
    x = w / 2 - 0.62 * arm
    making.add("cover", side.moved(x, -0.01, 0), side.moved(x, -0.01, 0).mirrored())
    making.add("cover", _back_roll(inner + 0.5 * arm, back, leg, h).moved(0, d / 2, 0))
    each, deep = inner / seats, d - back - 0.02
    thick = seat - base_top + 0.02
    for k in range(seats):
        at = -inner / 2 + each * (k + 0.5)
        one = cushion(
            (each - 0.008, deep, thick), 0.035, 0.028, steps=(9, 8, 4), dents=making.chance, sag=0.012
        )
        making.add("cushions", one.moved(at, -back / 2 - 0.012, seat - thick / 2 + 0.012))
        for z in (-0.5, 0.5):
            cord = piping(each - 0.02, deep - 0.014, z * (thick - 0.085), 0.03)
            making.add("piping", cord.moved(at, -back / 2 - 0.012, seat - thick / 2 + 0.012))
        tall = h - seat - 0.03
        pad = cushion((each - 0.012, tall, 0.17), 0.075, 0.045, steps=(8, 8, 4), dents=making.chance)
        pad = pad.turned(0, 90 - 13).moved(
            at + making.chance.uniform(-0.004, 0.004), d / 2 - back - 0.02, seat + 0.5 * tall + 0.012
        )
        making.add("cushions", pad)


def _back_roll(width: float, depth: float, low: float, high: float) -> Solid:
    """Return the upholstered back, its rear at y = 0, leaning and rounded at its top. [m]"""
    lean = 0.22 * (high - low) * 0.6
    turn = np.linspace(0, np.pi, 9)
    r = 0.5 * depth * 0.7
    top = np.stack([-r - 0.005 + r * np.cos(turn), high - r + r * np.sin(turn)], 1)
    section = np.concatenate([[(-depth - lean * 0.4, low), (-lean * 0.5, low)], top])
    xs = np.array([-0.5, -0.485, -0.45, 0.45, 0.485, 0.5]) * width
    grow = [0.9, 0.975, 1.0, 1.0, 0.975, 0.9]
    middle = section.mean(axis=0)
    rings = np.array(
        [[(x, y, z) for y, z in middle + (section - middle) * g] for x, g in zip(xs, grow, strict=True)]
    )
    return loft(rings)


@builds("armchair")
def armchair(making: Making) -> None:
    """Build an armchair with one cushion to sit on and one for the back."""
    _stuffed(making, 1)


@builds("couch")
def couch(making: Making) -> None:
    """Build a couch, a cushion to each 0.62 m or so."""
    _stuffed(making, max(2, round((making.size[0] - 0.4) / 0.62)))
