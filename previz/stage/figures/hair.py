"""Hair of a stand-in figure: a shell with relief along the strands, and loose strands over it.

The shell thins to nothing at the hairline and fine strands cross that line, so that hair does not
end in an edge. Everything is laid on the resting head and moves with it.
"""

from __future__ import annotations

from functools import cache

import numpy as np

from previz.stage.figures.data import body_data
from previz.stage.figures.mesh import grid_quads, joined, smooth_normals, smooth_step, sound, triangles, unit
from previz.stage.figures.people import PEOPLE
from previz.stage.figures.scalp import direction, scalp
from previz.stage.figures.skin import bare, head_shape
from previz.stage.figures.strands import ribbons, scatter, wave

STYLES = ("none", "short", "long", "bun")


@cache
def hair(person, style):
    """Return the hair on the resting head, None for 'none'. [m]

    Returns
    -------
    shell, strands : (vertices, triangles, normals)
        What light does not pass, and single locks that it does.
    """
    if style == "none":
        return None
    made = _long(person) if style == "long" else _combed(person, style)
    for array in (*made[0], *made[1]):
        array.setflags(write=False)
    return made


@cache
def under_hair(person):
    """Return which quads of the finer head lie inside the hairline."""
    shape, skull, data = head_shape(person), scalp(person), body_data()
    inside = skull.from_line(unit(shape.points - skull.centre)) > 4e-3
    inside &= bare().finer.apply(data.ears[bare().head_rows]) < 0.03
    return inside[bare().finer.quads].all(axis=1)


class _Combed:
    """Hair that runs out from a whorl, or in to a bun, along circles through one pole."""

    def __init__(self, person, style):
        self.scalp, self.person, self.style = scalp(person), PEOPLE[person], style
        side = 0.18 if style == "short" else 0.0
        height = np.radians(60.0 if style == "short" else 26.0)
        self.pole = direction(np.pi - side, height)
        self.one = unit(np.cross([0.0, 1.0, 0.0], self.pole))
        self.two = np.cross(self.pole, self.one)
        turn = np.linspace(0, 2 * np.pi, 361)
        polar = np.linspace(0.02, 2.7, 240)
        over = self.scalp.over_line(self.outward(turn[:, None], polar[None, :]))
        out = over < 0
        first = np.argmax(out, axis=1)
        edge = polar[np.where(out.any(axis=1), first, len(polar) - 1)]
        self.turn, self.edge = turn, edge

    def outward(self, turn, polar):
        """Return unit vectors at a turn about the pole and an angle from it. [rad]"""
        aside = np.cos(turn)[..., None] * self.one + np.sin(turn)[..., None] * self.two
        return np.cos(polar)[..., None] * self.pole + np.sin(polar)[..., None] * aside

    def edge_at(self, turn):
        """Return the angle from the pole at which the hair ends. [rad]"""
        return np.interp(turn % (2 * np.pi), self.turn, self.edge)

    def depth(self, outward):
        """Return the thickness of the hair along unit vectors. [m]"""
        points = self.scalp.at(outward)
        above = (points[..., 2] - self.scalp.eye_height) / self.scalp.height
        inside = np.maximum(self.scalp.from_line(outward), 0.0)
        if self.style == "bun":
            return 9e-3 * (1 - np.exp(-inside / 14e-3))
        top = 18e-3 if self.person.sex == "male" else 20e-3
        sides = 6e-3 if self.person.sex == "male" else 13e-3
        top = top * (1 - 0.35 * self.person.recede)
        full = sides + (top - sides) * smooth_step(above, 0.25, 0.95)
        full = full * (0.45 + 0.55 * smooth_step(above, -0.5, 0.1))
        return full * (1 - np.exp(-inside / 15e-3))


def _combed(person, style):
    """Return short hair, or hair drawn back to a bun."""
    comb = _Combed(person, style)
    shells, locks = [_combed_shell(comb)], [_combed_strands(comb), _hairline(comb)]
    if style == "bun":
        ball, loose = _bun(comb)
        shells.append(ball)
        locks.append(loose)
    return joined(shells), joined(locks)


def _combed_shell(comb, columns=250, rows=26):
    turn = np.linspace(0, 2 * np.pi, columns + 1)[:-1]
    share = np.linspace(0, 1, rows)
    share = share + 0.10 * np.sin(np.pi * share) * share
    # The shell stops short of the hairline by an uneven strip that loose strands cover.
    edge = comb.edge_at(turn)
    out = comb.outward(turn, edge)
    ahead = out[:, 0] / np.hypot(out[:, 0], out[:, 1])
    under_fringe = (comb.person.fringe > 0) * smooth_step(ahead, 0.3, 0.7)
    strip = 0.080 + 0.035 * wave(turn / (2 * np.pi) * 60, 9, 60)
    edge = edge - strip * (1 - 0.8 * under_fringe)
    polar = 0.02 + (edge[:, None] - 0.02) * share
    outward = comb.outward(np.repeat(turn[:, None], rows, axis=1), polar)
    depth = comb.depth(outward)
    around = turn[:, None] / (2 * np.pi) + 0.018 * wave(polar * 5.0, 3)
    strength = smooth_step(polar, 0.15, 0.95)
    relief = 0.62 * wave(around * 34, 5, 34) + 0.30 * wave(around * 77, 6, 77)
    relief = relief + 0.35 * wave(polar * 9 + 4 * around, 7)
    # The skull is known to about a millimetre; the edge is tucked under the skin.
    inner = smooth_step((1 - share) / (1 - 0.8 * under_fringe[:, None]), 0.0, 0.16)
    depth = inner * depth * (0.82 + 0.13 * strength * relief) + 1.9e-3 * inner - 1.2e-3
    points = comb.scalp.at(outward, depth)
    quads = grid_quads(columns, rows, closed=True)
    points = points.reshape(-1, 3)
    return points, triangles(quads), smooth_normals(points, quads)


def _combed_strands(comb, count=3300, points=5):
    """Return loose strands over the shell."""
    turn = 2 * np.pi * scatter(count, 51)
    edge = comb.edge_at(turn)
    polar = np.arccos(1 - scatter(count, 52) * (1 - np.cos(0.985 * edge)))
    root = comb.outward(turn, polar)
    above = (comb.scalp.at(root)[:, 2] - comb.scalp.eye_height) / comb.scalp.height
    short = comb.style == "short"
    length = (0.012 + 0.022 * smooth_step(above, 0.2, 0.9)) if short else np.full(count, 0.055)
    length = length * (0.7 + 0.6 * scatter(count, 53))
    step = np.linspace(0, 1, points)
    sign = 1.0 if short else -1.0
    travel = sign * length[:, None] * step / comb.scalp.reach(root)[:, None]
    drift = 0.010 * (scatter(count, 54) - 0.5) + (0.006 * wave(turn * 6, 55, 38) if short else 0)
    far = np.maximum(polar[:, None] + travel, 0.03)
    front = np.cos(np.arctan2(root[:, 1], root[:, 0]))[:, None] > 0.55
    over = np.where(front, comb.person.fringe, 0.006) / comb.scalp.reach(root)[:, None]
    far = np.minimum(far, edge[:, None] + over * (0.6 + 0.4 * scatter(count, 60)[:, None]))
    turns = turn[:, None] + drift[:, None] * step**1.5 / 0.09 / np.maximum(np.sin(far), 0.15)
    outwards = comb.outward(turns, far)
    inside = comb.depth(outwards)
    stray = scatter(count, 56) ** 6 * (5e-3 if short else 3e-3)
    level = (0.90 + 0.16 * scatter(count, 57))[:, None]
    lift = (level - 0.25 * (1 - step) ** 3 + 0.12 * step) * inside + 0.7e-3
    lift = lift + (0.3e-3 + stray[:, None] + (1.2e-3 if short else 0.0)) * step**1.5
    paths = comb.scalp.at(outwards, lift)
    width = (1.2e-4 + 1.9e-4 * scatter(count, 58)) * (1.0 if short else 0.8)
    roll = 1.1 * (scatter(count, 59) - 0.5)
    return ribbons(paths, outwards, width, roll=roll, tip=0.15)


def _hairline(comb, count=2700, points=3):
    """Return fine strands that start on both sides of the hairline and blur it."""
    turn = 2 * np.pi * scatter(count, 71)
    edge = comb.edge_at(turn)
    back = 0.016 * scatter(count, 72) ** 0.75 - 0.0025 * scatter(count, 73) ** 2
    reach = comb.scalp.reach(comb.outward(turn, edge))
    polar = edge - back / reach
    root = comb.outward(turn, polar)
    front = np.cos(np.arctan2(root[:, 1], root[:, 0])) > 0.55
    # Hair leaves the forehead upwards and sideways, and everywhere else outwards.
    if comb.style == "bun":
        sign = np.full(count, -1.0)
    else:
        sign = np.where(front & (comb.person.fringe == 0), -0.75, 0.8)
    length = (0.009 + 0.011 * scatter(count, 74)) * np.where(front, 1.25, 0.85)
    step = np.linspace(0, 1, points)
    sweep = 0.5 * np.where(front, -np.sign(comb.person.parting or 0.4), 0.0)
    sweep = (sweep + 0.7 * (scatter(count, 75) - 0.5)) * (0.4 if comb.style == "bun" else 1.0)
    far = polar[:, None] + sign[:, None] * length[:, None] * step / reach[:, None]
    turns = turn[:, None] + (sweep * length / reach)[:, None] * step / np.sin(far)
    outwards = comb.outward(turns, far)
    lift = comb.depth(outwards) * np.minimum(0.9 * step + 0.35, 1.1) + 0.1e-3 + 1.1e-3 * step
    paths = comb.scalp.at(outwards, lift)
    width = 0.6e-4 + 1.1e-4 * scatter(count, 76)
    return ribbons(paths, outwards, width, roll=1.2 * (scatter(count, 77) - 0.5), tip=0.15)


def _bun(comb):
    """Return a coil of hair at the pole, a flattened ball wound with relief, and its strands."""
    columns, rows = 96, 30
    size = 0.30 * comb.scalp.height
    seat = comb.scalp.at(comb.pole[None], 0.006)[0] + comb.pole * 0.62 * size
    turn = np.linspace(0, 2 * np.pi, columns + 1)[:-1]
    polar = np.linspace(0.02, np.pi - 0.3, rows)

    def surface(turn, polar, lift=0.0):
        wound = wave(turn * 7 / (2 * np.pi) * 2 + polar * 2.2, 91, 14)
        fine = wave(turn * 40 / (2 * np.pi) + polar * 9, 92, 40)
        far = size * (1 + 0.055 * wound + 0.022 * fine) + lift
        flat = far * np.cos(polar) * 0.72
        wide = far * np.sin(polar)
        return (seat + flat[..., None] * comb.pole + (wide * np.cos(turn))[..., None] * comb.one
                + (wide * np.sin(turn))[..., None] * comb.two)

    grid = surface(np.repeat(turn[:, None], rows, axis=1), np.repeat(polar[None], columns, axis=0))
    points = grid.reshape(-1, 3)
    quads = grid_quads(columns, rows, closed=True)
    ball = (points, triangles(quads), smooth_normals(points, quads))
    count, knots = 420, 5
    start, high = 2 * np.pi * scatter(count, 93), 0.4 + 1.9 * scatter(count, 94)
    step = np.linspace(0, 1, knots)
    turns = start[:, None] + 1.3 * step
    polars = high[:, None] + 0.55 * (scatter(count, 95)[:, None] - 0.3) * step
    lift = 0.5e-3 + (scatter(count, 96) ** 4 * 4e-3)[:, None] * step**2
    paths = surface(turns, polars, lift)
    width = 1.6e-4 + 2.2e-4 * scatter(count, 97)
    strands = ribbons(paths, unit(paths - seat), width, roll=scatter(count, 98) - 0.5, tip=0.2)
    return ball, strands


class _Curtain:
    """Long hair: from a parting over the skull, then straight down to the shoulders."""

    def __init__(self, person):
        self.scalp = scalp(person)
        parting = PEOPLE[person].parting
        bare_head = head_shape(person)
        self.low = np.min(bare_head.points[:, 2]) + 0.045
        start = np.arctan2(0.26 * parting, 1.0)
        ups = np.linspace(0.2, 1.5, 200)
        over = self.scalp.over_line(direction(np.full(200, start), ups))
        self.start = direction(start, ups[np.argmax(over > 0)])
        self.crown = direction(np.pi - 0.35 * parting, np.radians(70.0))

    def at(self, sign, share, along, height):
        """Return points of the curtain, on the left for a sign of 1, on the right for -1. [m]

        `share` is 0 at the face and 1 at the middle of the back; `along` 0 at the parting, 1 where the hair
        leaves the skull and 2 at the ends; `height` is over the curtain's own surface.
        """
        root = _slerp(self.start, self.crown, np.clip(share / 0.55, 0.0, 1.0) ** 0.9)
        bearing = sign * np.radians(60 + 120 * share)
        leave = direction(bearing, np.radians(-10.0) + 0 * share)
        skull = np.minimum(along, 1.0)
        outward = _slerp_each(root, leave, skull)
        near_face = smooth_step(share, 0.0, 0.10)
        # A little fuller at the parting, so that the outline stays as round as the skull's.
        depth = 1.1e-2 + 2e-3 * smooth_step(skull, 0.0, 0.25) - 4e-3 * smooth_step(skull, 0.25, 0.75)
        depth = depth * (0.25 + 0.75 * near_face) + 2.0e-3
        far = self.scalp.reach(outward, ears=True) + depth + height
        points = self.scalp.centre + outward * far[..., None]
        fall = np.maximum(along - 1.0, 0.0)
        drop = np.maximum(points[..., 2] - self.low, 0.0)
        level = np.stack([np.cos(bearing), np.sin(bearing), 0 * bearing], axis=-1)
        # The hair swells a little where it leaves the head and turns in at its ends.
        swell = 0.010 * np.sin(np.pi * np.clip(fall, 0, 1)) - 0.014 * fall**2
        swell = swell - 0.016 * fall * smooth_step(share, 0.55, 1.0)
        ripple = np.sin(9 * share + 2.6 * np.pi * fall + sign)
        swell = swell + 0.0035 * ripple * smooth_step(fall, 0, 0.4)
        points = points + level * swell[..., None]
        points[..., 2] -= fall * drop
        return points


def _slerp(one, two, share):
    """Return unit vectors on the great circle from one vector to another."""
    angle = np.arccos(np.clip(one @ two, -1, 1))
    share = np.asarray(share)[..., None]
    return (np.sin((1 - share) * angle) * one + np.sin(share * angle) * two) / np.sin(angle)


def _slerp_each(one, two, share):
    angle = np.arccos(np.clip(np.sum(one * two, axis=-1), -0.999, 0.9999))[..., None]
    share = share[..., None]
    mixed = np.sin((1 - share) * angle) * one + np.sin(share * angle) * two
    return unit(mixed / np.sin(angle))


def _long(person, columns=150, rows=34):
    """Return hair to the shoulders."""
    curtain = _Curtain(person)
    shells, locks = [], []
    for side, sign in ((0, 1.0), (1, -1.0)):
        share = np.repeat(np.linspace(0, 1, columns)[:, None], rows, axis=1)
        along = np.concatenate([np.linspace(0, 1, 18), np.linspace(1, 2, rows - 17)[1:]])
        along = np.repeat(along[None], columns, axis=0)
        warp = share + 0.012 * wave(along * 3.5, 31 + side)
        relief = 0.9e-3 * wave(warp * 26, 33 + side) + 0.5e-3 * wave(warp * 58, 35 + side)
        relief = relief + 0.8e-3 * wave(along * 6 + share * 5, 37 + side)
        height = relief * smooth_step(along, 0.05, 0.35)
        ends = along * (1 - 0.03 * smooth_step(along, 1.5, 2.0) * (0.5 + 0.5 * wave(share * 22, 39)))
        points = curtain.at(sign, share, ends, height).reshape(-1, 3)
        quads = grid_quads(columns, rows)
        quads = quads if sign > 0 else quads[:, ::-1]
        # All locks behind the crown start in one point, which leaves triangles without area.
        normals = smooth_normals(points, quads)
        used, faces = sound(points, triangles(quads))
        shells.append((points[used], faces, normals[used]))
        locks.append(_long_strands(curtain, sign, 60 + 20 * side))
    return joined(shells), joined(locks)


def _long_strands(curtain, sign, salt, count=1150, knots=10):
    share = scatter(count, salt) * 1.01 - 0.005
    first = 0.9 * scatter(count, salt + 1) ** 1.5
    last = first + 0.5 + 0.9 * scatter(count, salt + 2)
    step = np.linspace(0, 1, knots)
    along = np.minimum(first[:, None] + (last - first)[:, None] * step, 2.06)
    drift = 0.03 * (scatter(count, salt + 3) - 0.5)
    shares = np.clip(share[:, None] + drift[:, None] * step, -0.02, 1.02)
    stray = 0.4e-3 + 6e-3 * scatter(count, salt + 4) ** 5
    height = stray[:, None] * np.sin(np.pi * (0.15 + 0.75 * step)) + 0.5e-3
    paths = curtain.at(sign, shares, along, height)
    width = 1.8e-4 + 3.0e-4 * scatter(count, salt + 5)
    outward = unit(paths - curtain.scalp.centre)
    outward[..., 2] *= 0.3
    return ribbons(paths, unit(outward), width, roll=scatter(count, salt + 6) - 0.5, tip=0.2)
