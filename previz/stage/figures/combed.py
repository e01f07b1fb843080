"""Hair that keeps to the head: short, clipped close, and drawn back to a tail or a bun."""

from __future__ import annotations

import numpy as np

from previz.stage.figures.growing import about, follow, march, roots, ruffled, tangent
from previz.stage.figures.mesh import grid_quads, joined, smooth_normals, smooth_step, sound, triangles, unit
from previz.stage.figures.people import PEOPLE
from previz.stage.figures.scalp import direction, scalp
from previz.stage.figures.strands import ribbons, scatter, strand_places, wave

TILT = np.radians(3.0)
"""Lean of the scales of a hair's cuticle: about 2 to 4 deg, towards the root. [rad]

Source: Marschner et al., "Light scattering from human hair fibers", ACM TOG 22(3), 2003 (from memory).
"""


def above_eyes(skull, out):
    """Return the height of the skin over the eyes, over that of the crown. [1]"""
    return (skull.at(out)[..., 2] - skull.eye_height) / skull.height


def shell(skull, height, *, edge=(14e-3, 46e-3), columns=72, rows=40):
    """Return a surface over the scalp that ends inside the hairline, under the skin.

    Parameters
    ----------
    skull : Scalp
    height : callable
        Unit vectors outward -> height over the skin. [m]
    edge : (float, float)
        Distance inside the hairline where it comes out of the skin, and where it has its height. [m]
    """
    turn = 2 * np.pi * np.arange(columns) / columns
    out = direction(*np.meshgrid(turn, np.linspace(np.pi / 2, -0.9, rows), indexing="ij"))
    inside = skull.from_line(out)
    share = smooth_step(inside, *edge)
    points = skull.at(out, share * (height(out) + 1.5e-3) - 1.5e-3).reshape(-1, 3)
    quads = grid_quads(columns, rows, closed=True)
    quads = quads[(inside.reshape(-1)[quads] > edge[0]).all(axis=1)]
    normals = smooth_normals(points, quads)
    used, faces = sound(points, triangles(quads))
    return points[used], faces, normals[used]


def locks(paths, outward, width, salt, *, roll=2.2, tip=0.12, root=0.5):
    """Return strands along paths as ribbons, and their texture corners.

    `width` is half the width of each at its widest. [m]  Each is rolled about itself by up to half of
    `roll`, so that some show their flat from wherever they are seen. [rad]
    """
    count, points = paths.shape[:2]
    turned = roll * (scatter(count, salt) - 0.5)
    made = ribbons(paths, outward, width, roll=turned, tip=tip, root=root, tilt=TILT)
    return made, strand_places(count, points, salt + 1)


def together(pieces):
    """Return several of what `locks` returns as one."""
    parts, places = zip(*pieces, strict=True)
    return joined(parts), np.concatenate(places)


def crop(person):
    """Return hair clipped close: every hair stands for itself and the scalp shows between them."""
    skull, out = scalp(person), roots(scalp(person), 13_000, 21, fade=14e-3, over=1e-3)
    above = smooth_step(above_eyes(skull, out), 0.1, 0.8)
    length = (3.5e-3 + 5.0e-3 * above) * (0.75 + 0.5 * scatter(len(out), 24))
    length = length * smooth_step(skull.from_line(out), -8e-3, 9e-3)
    lie = unit(tangent(_nape(out) + ruffled(out, 0.12), out))
    lean = np.radians(38 + 34 * scatter(len(out), 25))[:, None]
    away = unit(np.sin(lean) * lie + np.cos(lean) * out + 0.12 * _spread(len(out), 26))
    step = np.array([0.0, 0.5, 1.0])[None, :, None]
    path = skull.at(out, -0.6e-3)[:, None] + (length[:, None, None] * step) * away[:, None]
    # Each lies down a little more towards its tip.
    path = path + (0.18 * length)[:, None, None] * step**2 * (lie - out)[:, None]
    gap = path - skull.centre
    far = np.linalg.norm(gap, axis=2, keepdims=True)
    # Behind the ears, where the head is hollow, they would run into it.
    least = skull.reach(gap / far)[..., None] + 0.6e-3 * (2 * step - 1)
    path = skull.centre + gap * (np.maximum(far, least) / far)
    width = 1.1e-4 + 0.7e-4 * scatter(len(out), 27)
    made, places = locks(path, np.broadcast_to(out[:, None], path.shape), width, 28, tip=0.35, root=1.0)
    return None, made, places


def _spread(count, salt):
    return np.stack([scatter(count, salt + 40 * k) - 0.5 for k in range(3)], axis=-1)


def _nape(out):
    """Return how close-cut hair grows: from the crown forward on top, and down at sides and back."""
    top = smooth_step(out[..., 2], 0.30, 0.80)[..., None]
    ahead = smooth_step(out[..., 0], -0.75, -0.35)[..., None]
    over = ahead * np.array([1.0, 0.0, 0.1]) + (1 - ahead) * np.array([-0.6, 0.0, -0.6])
    return top * over + (1 - top) * np.array([-0.15, 0.0, -1.0])


def short(person):
    """Return short hair, parted and brushed aside, or over the forehead where the person has a fringe."""
    skull, who = scalp(person), PEOPLE[person]
    man = who.sex == "male"
    depth = _short_depth(skull, who)

    def flow(out, ahead, *_):
        going = tangent(_short_flow(out, who) + ruffled(out, 0.10, 0.7 * who.parting), out)
        return going if ahead is None else unit(going) + 0.5 * tangent(ahead, out)

    def lift(out, gone):
        return depth(out) * (1 - np.exp(-gone / 9e-3))

    start = roots(skull, 950, 31, fade=8e-3)
    above = above_eyes(skull, start)
    full = smooth_step(above, 0.15, 0.85)
    length = (0.012 + 0.034 * full) if man else (0.026 + 0.034 * full)
    front = smooth_step(start[:, 0], 0.55, 0.80)
    length = length * (1 - 0.25 * front) if who.fringe == 0 else length
    length = length * (0.8 + 0.4 * scatter(len(start), 34))
    inside = np.maximum(skull.from_line(start), 0)
    # What grows towards the rim ends soon after it.
    rim = 0.010 + who.fringe + inside * (1.1 if man else 1.4)
    length = np.where((above < 0.35) | (who.fringe > 0), np.minimum(length, rim), length)
    guides = march(skull, start, length, flow, lift, 7, ears=False)
    out, lead = about(skull, guides, 8600, 41)
    paths, outward = follow(skull, guides, out, lead, 44, points=6, clump=0.72, shorter=0.35, ears=False,
                            stray=0.05, away=4e-3 if man else 6e-3)
    fine = 0.45 + 0.55 * smooth_step(above_eyes(skull, out), -0.2, 0.45)
    width = (1.5e-4 + 1.5e-4 * scatter(len(out), 51)) * fine
    pieces = [locks(paths, outward, width, 52), fringe_of_down(skull, guides, 55)]
    made, places = together(pieces)
    return None, made, places


def _short_depth(skull, who):
    top, sides = (16e-3, 5.5e-3) if who.sex == "male" else (19e-3, 12e-3)
    top = top * (1 - 0.3 * who.recede)

    def depth(out):
        above = above_eyes(skull, out)
        full = sides + (top - sides) * smooth_step(above, 0.25, 0.95)
        full = full * (0.45 + 0.55 * smooth_step(above, -0.5, 0.1))
        return full * (1 - 0.55 * np.exp(-np.maximum(skull.from_line(out), 0.0) / 12e-3))

    return depth


def _short_flow(out, who):
    """Return where short hair lies: away from the parting on top, down at the sides and the back."""
    x, y, z = np.moveaxis(out, -1, 0)
    top = smooth_step(z, 0.30, 0.72)[..., None]
    parting = who.parting or 0.4
    aside = np.tanh((y - 0.42 * parting) / 0.07)
    back = smooth_step(x, -0.15, -0.7)
    still = np.zeros_like(x)
    if who.fringe > 0:
        over = np.stack([0.9 - 2.0 * back, 0.45 * aside, -0.35 * back], axis=-1)
    else:
        front = smooth_step(x, 0.25, 0.7)
        over = np.stack([-0.25 - 0.65 * front - 0.8 * back, aside * (1 - 0.75 * back),
                         0.4 * front - 0.8 * back], axis=-1)
    temple = 0.25 * smooth_step(x, 0.2, 0.5)
    down = np.stack([-0.35 - temple, 0.12 * np.sign(y), still - 1.0], axis=-1)
    return top * over + (1 - top) * down


def fringe_of_down(skull, guides, salt, count=2600, points=4):
    """Return fine short hairs along the hairline, which the longer ones start behind."""
    out, lead = about(skull, guides, count, salt, fade=6e-3, over=3e-3, near=14e-3)
    paths, outward = follow(skull, guides, out, lead, salt + 3, points=points, clump=0.35, shorter=0.85,
                            stray=0.10, away=2.5e-3, level=(0.3, 0.8), ears=False)
    width = 0.7e-4 + 0.7e-4 * scatter(len(out), salt + 12)
    return locks(paths, outward, width, salt + 13, root=1.0)


class _Drawn:
    """Hair drawn back to one place."""

    def __init__(self, person, height):
        self.skull, self.pole = scalp(person), direction(np.pi, np.radians(height))
        self.one = unit(np.cross([0.0, 1.0, 0.0], self.pole))
        self.two = np.cross(self.pole, self.one)

    def depth(self, out):
        inside = np.maximum(self.skull.from_line(out), 0.0)
        near = np.arccos(np.clip(out @ self.pole, -1, 1))
        return (6.5e-3 + 2.5e-3 * np.exp(-(near / 0.35) ** 2)) * (1 - 0.8 * np.exp(-inside / 14e-3))

    def pieces(self):
        """Return the strands over the skull, and the shell under them."""
        skull, pole = self.skull, self.pole

        def flow(out, *_):
            return tangent(pole + 0.0 * out, out)

        def lift(out, gone):
            wavy = 1 + 0.16 * wave(4 + 3.2 * np.arctan2(out @ self.two, out @ self.one), 61)
            return self.depth(out) * wavy * (1 - np.exp(-gone / 14e-3))

        start = roots(skull, 760, 62, fade=5e-3)
        far = np.arccos(np.clip(start @ pole, -1, 1))
        length = np.maximum(far - 0.10, 0.03) * skull.reach(start)
        guides = march(skull, start, length, flow, lift, 9, ears=False)
        out, lead = about(skull, guides, 5600, 66)
        paths, outward = follow(skull, guides, out, lead, 70, points=8, clump=0.22, shorter=0.45, stray=0.035,
                                away=5e-3, level=(0.6, 1.06), ears=False)
        width = 2.2e-4 + 2.0e-4 * scatter(len(out), 80)
        own = locks(paths, outward, width, 81, roll=1.7)
        return [own, fringe_of_down(skull, guides, 85)], shell(
            skull, lambda out: 0.40 * self.depth(out))


def bun(person):
    """Return hair drawn back to a coil."""
    drawn = _Drawn(person, 26.0)
    pieces, under = drawn.pieces()
    size = 0.30 * drawn.skull.height
    seat = drawn.skull.at(drawn.pole[None], 0.006)[0] + drawn.pole * 0.62 * size

    def surface(turn, polar, lift):
        wound = wave(turn * 7 / (2 * np.pi) * 2 + polar * 2.2, 91, 14)
        far = size * (1 + 0.075 * wound) + lift
        flat, wide = far * np.cos(polar) * 0.72, far * np.sin(polar)
        return (seat + flat[..., None] * drawn.pole + (wide * np.cos(turn))[..., None] * drawn.one
                + (wide * np.sin(turn))[..., None] * drawn.two)

    columns, rows = 64, 22
    turn, polar = np.meshgrid(np.linspace(0, 2 * np.pi, columns + 1)[:-1],
                              np.linspace(0.02, np.pi - 0.3, rows), indexing="ij")
    points = surface(turn, polar, -2.5e-3).reshape(-1, 3)
    quads = grid_quads(columns, rows, closed=True)
    ball = (points, triangles(quads), smooth_normals(points, quads))
    count, knots = 2000, 8
    step = np.linspace(0, 1, knots)
    turns = 2 * np.pi * scatter(count, 93)[:, None] + 1.5 * step
    high = np.arccos(1 - 1.85 * scatter(count, 94))
    polars = high[:, None] + 0.5 * (scatter(count, 95)[:, None] - 0.3) * step
    lift = -0.4e-3 + 1.2e-3 * scatter(count, 96) + 7e-3 * (scatter(count, 97) > 0.97) * scatter(count, 98)
    over = lift[:, None] * np.minimum(4 * step * (1 - step) + 0.25, 1)
    paths = surface(turns, np.maximum(polars, 0.02), over)
    width = 2.2e-4 + 2.4e-4 * scatter(count, 99)
    pieces.append(locks(paths, unit(paths - seat), width, 100, roll=1.7, root=0.3))
    made, places = together(pieces)
    return joined([under, ball]), made, places


def tied(person, down):
    """Return hair drawn back to a tail."""
    drawn = _Drawn(person, 16.0)
    pieces, under = drawn.pieces()
    band, tail = _tail(drawn, np.array(down))
    made, places = together([*pieces, tail])
    return joined([under, band]), made, places


def _tail(drawn, down, count=1500, knots=12):
    """Return the band that hair is tied with, and the tail that hangs from it."""
    skull, pole, radius = drawn.skull, drawn.pole, 9e-3
    seat = skull.at(pole[None], 0.004)[0]
    step = np.linspace(0, 1, knots)
    spine, ahead = [seat], unit(pole + 0.25 * np.array([0.0, 0.0, 1.0]))
    for _ in range(knots - 1):
        ahead = unit(0.62 * ahead + 0.42 * down)
        there = spine[-1] + ahead * (0.24 / (knots - 1))
        out = unit(there - skull.centre)
        least = skull.reach(out[None], ears=True)[0] + 0.012 + 0.012 * min(len(spine) / 4, 1)
        there = skull.centre + out * max(np.linalg.norm(there - skull.centre), least)
        ahead = unit(there - spine[-1])
        spine.append(there)
    spine = np.array(spine)
    along = unit(np.gradient(spine, axis=0))
    one = unit(np.cross(along, [0.0, 1.0, 0.0]))
    two = np.cross(along, one)
    shape = np.interp(step, [0, 0.06, 0.12, 0.4, 0.75, 1.0], [1.0, 0.85, 1.0, 1.75, 1.5, 0.5]) * radius
    turn, far = 2 * np.pi * scatter(count, 111), np.sqrt(scatter(count, 112))
    lock = np.round(turn * 9 / (2 * np.pi)) * 2 * np.pi / 9
    turns = turn[:, None] + (lock - turn)[:, None] * 0.8 * step**1.5
    turns = turns + 0.5 * step * (scatter(count, 113) - 0.5)[:, None]
    fars = far[:, None] * (1 + 0.5 * (scatter(count, 114) < 0.05)[:, None] * step) * shape
    end = 1 - 0.4 * scatter(count, 115) ** 2
    place = end[:, None] * step * (knots - 1)
    low = np.minimum(place.astype(int), knots - 2)
    part = (place - low)[..., None]

    def read(table):
        return table[low] * (1 - part) + table[low + 1] * part

    away = np.cos(turns)[..., None] * read(one) + np.sin(turns)[..., None] * read(two)
    paths = read(spine) + away * fars[..., None]
    width = 2.0e-4 + 2.0e-4 * scatter(count, 116)
    tail = locks(paths, away, width, 117, roll=2.6, root=1.0)
    ring = np.linspace(0, 2 * np.pi, 25)[:-1]
    heights, swell = np.linspace(-2e-3, 9e-3, 6), np.array([0.8, 1.0, 1.08, 1.08, 1.0, 0.7])
    points = (seat + heights[None, :, None] * along[0] + (1.15 * radius * swell)[None, :, None]
              * (np.cos(ring)[:, None] * one[0] + np.sin(ring)[:, None] * two[0])[:, None]).reshape(-1, 3)
    quads = grid_quads(24, 6, closed=True)
    return (points, triangles(quads), smooth_normals(points, quads)), tail
