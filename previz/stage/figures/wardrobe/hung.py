"""Skirts: cloth that hangs round both legs at once, of a dress, a coat, an apron.

A skirt is rings about the line between the legs. Each is the hull of all that it goes round, so that it
spans from thigh to thigh as cloth does, lies on the lap of who sits, and nothing comes through.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.stage.figures.mesh import grid_quads, smooth_normals, smooth_step, triangles, unit
from previz.stage.figures.wardrobe.cloth import Draped, weave
from previz.stage.figures.wardrobe.cutting import Sheet, hemmed

_BEARINGS = 128


@dataclass(frozen=True)
class Skirt:
    """How a skirt is cut.

    Parameters
    ----------
    top, bottom : float
        Heights of its upper and lower rim on a body at rest, over the body's. [1]
    ease, flare : float
        Room all round at the top; more of it a metre down. [m], [1]
    flutes, deep : float
        How many folds hang round the hem, and how deep. [1], [m]
    spans : (float, float)
        Bearings from which and to which it goes round, at the top; 0 is in front, to the left. [rad]
    opens : float
        How much narrower a span is at the hem. [rad]
    stuff : str
    thick : float
        [m]
    """

    top: float
    bottom: float
    ease: float = 6e-3
    flare: float = 0.06
    flutes: float = 13.0
    deep: float = 0.016
    spans: tuple[float, float] = (-np.pi, np.pi)
    opens: float = 0.0
    stuff: str = "cloth"
    thick: float = 2.6e-3
    salt: float = 0.0

    @property
    def whole(self):
        """Whether it goes all the way round."""
        return self.spans[1] - self.spans[0] > 2 * np.pi - 1e-6


def skirt_sheet(skirt: Skirt, drawn: Draped, ground, inner=()) -> tuple[Sheet, Rings]:
    """Return a skirt in the pose and its rings; `ground` is the height of what is under it. [m]

    `inner` are the rings of skirts that are worn under it.
    """
    rings = _rings(skirt, drawn, ground, inner)
    points, s = rings.points, rings.run
    lines, across = points.shape[:2]
    quads = grid_quads(lines, across)
    flat = points.reshape(-1, 3)
    if skirt.whole:
        # The last column is the first again; its texture goes on.
        quads = np.where(quads % across == across - 1, quads - (across - 1), quads)
    faces = triangles(quads)[:, ::-1]
    rim = _rims(lines, across, skirt.whole)
    whole, made, copied = hemmed(flat, faces, rim, skirt.thick)
    if skirt.whole:
        back = np.arange(lines) * across
        whole[back + across - 1] = whole[back]
    normals = smooth_normals(whole, made)
    count = len(flat)
    uv = np.stack(
        [rings.bearing * rings.girth.mean(), -np.broadcast_to(s[:, None], rings.bearing.shape)], axis=2
    ).reshape(-1, 2)
    if skirt.whole:
        normals[back + across - 1] = normals[back]
        plain = triangles(grid_quads(lines, across))[:, ::-1]
        made = np.concatenate([plain, made[len(plain) :]])
    uv = np.concatenate([uv, uv[copied[count:]]])
    return Sheet(whole, made, normals, uv, skirt.stuff), rings


def _rims(lines, across, whole):
    """Return the directed edges of a grid's rims, as its reversed faces have them."""
    index = np.arange(lines * across).reshape(lines, across)
    if whole:
        index[:, -1] = index[:, 0]
    top = np.stack([index[0, 1:], index[0, :-1]], axis=1)
    bottom = np.stack([index[-1, :-1], index[-1, 1:]], axis=1)
    if whole:
        return np.concatenate([top, bottom])
    left = np.stack([index[:-1, 0], index[1:, 0]], axis=1)
    right = np.stack([index[1:, -1], index[:-1, -1]], axis=1)
    return np.concatenate([top, bottom, left, right])


@dataclass(frozen=True)
class Rings:
    """The rings of a skirt.

    Parameters
    ----------
    points : float array, shape (rings, around, 3)
        [m]
    outward : float array, as the points
    bearing : float array, shape (rings, around)
        [rad]
    run : float array, shape (rings,)
        Length of cloth from the top. [m]
    girth : float array, shape (rings,)
        Mean radius. [m]
    axis : tuple of float array, shape (rings, 3)
        Middles, and the directions to the front and to the left.
    levels : float array, shape (rings,)
        Heights on a body at rest. [m]
    """

    points: np.ndarray
    outward: np.ndarray
    bearing: np.ndarray
    run: np.ndarray
    girth: np.ndarray
    axis: tuple
    levels: np.ndarray

    def outside(self, points, height, clear):
        """Return points pushed out of the skirt.

        Parameters
        ----------
        points : float array, shape (n, 3)
            [m]
        height : float array, shape (n,)
            Of each on a body at rest; those on arms have none (inf). [m]
        clear : float
            How far outside they are to be. [m]
        """
        step = self.levels[0] - self.levels[1]
        place = (self.levels[0] - height) / step
        rows = np.flatnonzero((place > -1.5) & (place < len(self.levels) - 1))
        at = np.clip(place[rows], 0, len(self.levels) - 1.001)
        low = at.astype(int)
        part = (at - low)[:, None]
        centre, front, side = (line[low] + part * (line[low + 1] - line[low]) for line in self.axis)
        off = points[rows] - centre
        x, y = np.einsum("ij,ij->i", off, front), np.einsum("ij,ij->i", off, side)
        angle, radius = np.arctan2(y, x), np.hypot(x, y)
        span = self.bearing[low]
        turn = span[:, 0] + (angle - span[:, 0]) % (2 * np.pi)
        column = (turn - span[:, 0]) / (span[:, -1] - span[:, 0]) * (self.points.shape[1] - 1)
        inside = column <= self.points.shape[1] - 1
        column = np.clip(np.round(column).astype(int), 0, self.points.shape[1] - 1)
        reach = np.linalg.norm(self.points - self.axis[0][:, None], axis=2)
        reach = reach[low, column] + part[:, 0] * (reach[low + 1, column] - reach[low, column])
        more = np.where(inside, np.maximum(reach + clear - radius, 0), 0) * np.clip(1.5 + place[rows], 0, 1)
        pushed = np.array(points)
        pushed[rows] += more[:, None] * (x[:, None] * front + y[:, None] * side) / radius[:, None].clip(1e-6)
        return pushed


def _rings(skirt, drawn, ground, inner):
    rest, net = drawn.rest, weave()
    top, bottom = skirt.top * rest.height, skirt.bottom * rest.height
    count = int(np.ceil((top - bottom) / 0.012)) + 1
    levels = np.linspace(top, bottom, count)
    step = levels[0] - levels[1]
    rows = np.flatnonzero(
        (net.arm < 0.25) & (rest.points[:, 2] < top + 0.08) & (rest.points[:, 2] > max(bottom - 0.06, 0.05))
    )[::3]
    height = rest.points[rows, 2]
    points = drawn.points[rows] + drawn.normals[rows] * ground[rows, None]
    place = np.clip(np.round((top - height) / step).astype(int), 0, count - 1)
    centre, side = _axis(drawn, rows, points, place, count)
    for other in inner:
        points = np.concatenate([points, other.points.reshape(-1, 3)])
        levels_of = np.repeat(other.levels, other.points.shape[1])
        place = np.concatenate([place, np.round((top - levels_of) / step).astype(int)])
    inside = (place >= 0) & (place < count)
    points, place = points[inside], place[inside]
    ahead = unit(_slope(centre))
    side = unit(side - np.sum(side * ahead, axis=1, keepdims=True) * ahead)
    front = np.cross(side, -ahead)
    bearing = np.linspace(-np.pi, np.pi, _BEARINGS + 1)
    looks = bearing[:-1]
    # How far what is inside reaches in each direction, from the rings close by.
    near = np.stack([place - 2, place - 1, place, place + 1, place + 2]).clip(0, count - 1)
    reach = np.full((count, _BEARINGS), -1.0)
    order = np.argsort(place, kind="stable")
    for one in near:
        sorted_rows = order
        at = one[sorted_rows]
        off = points[sorted_rows] - centre[at]
        x = np.einsum("ij,ij->i", off, front[at])
        y = np.einsum("ij,ij->i", off, side[at])
        out = x[:, None] * np.cos(looks) + y[:, None] * np.sin(looks)
        starts = np.flatnonzero(np.diff(at, prepend=-1))
        reach[at[starts]] = np.maximum(reach[at[starts]], np.maximum.reduceat(out, starts, axis=0))
    for row in range(1, count):
        reach[row] = np.where(reach[row] < 0, reach[row - 1], reach[row])
    for row in range(count - 2, -1, -1):
        reach[row] = np.where(reach[row] < 0, reach[row + 1], reach[row])
    down = (top - levels)[:, None]
    # Cloth that hangs from hips and lap does not go back in under them, but for the stuff's own weight.
    fall = 0.16 * step
    for row in range(1, count):
        reach[row] = np.maximum(reach[row], reach[row - 1] - fall)
    kernel = np.ones(5) / 5
    smooth = np.pad(reach, ((2, 2), (0, 0)), mode="edge")
    reach = np.maximum(np.stack([smooth[k : k + count] for k in range(5)]).mean(axis=0), reach - 2e-3)
    reach = np.apply_along_axis(
        lambda line: np.convolve(line, kernel, "valid"), 1, np.pad(reach, ((0, 0), (2, 2)), mode="wrap")
    )
    reach = (
        reach
        + skirt.ease * smooth_step(down, -0.02, 0.10)
        + 2.5e-3
        + skirt.flare * np.maximum(down - 0.08, 0)
    )
    lean = np.cos(looks[:, None] - looks)
    with np.errstate(divide="ignore"):
        longer = np.where(lean > 0.05, 1 / lean, np.inf)
    hull = np.min(reach[:, None, :] * longer, axis=2)
    return _folded(skirt, drawn, (centre, front, side), hull, levels, bearing)


def _axis(drawn, rows, points, place, count):
    """Return the middle of each ring, smoothed, and the direction to the figure's left."""
    left = weave().left[rows] > 0.5
    middle = np.zeros((count, 3))
    halves = []
    for half in (left, ~left):
        number = np.bincount(place[half], minlength=count)
        total = np.stack([np.bincount(place[half], points[half, k], count) for k in range(3)], axis=1)
        known = np.flatnonzero(number)
        mean = total[known] / number[known, None]
        halves.append(np.stack([np.interp(np.arange(count), known, mean[:, k]) for k in range(3)], axis=1))
    middle = (halves[0] + halves[1]) / 2
    side = halves[0] - halves[1]
    # Walking legs pass one another: the hips keep their say in what is left.
    pelvis = drawn.posed.turn_of("pelvis")[:, 1]
    side = unit(side) + 1.5 * pelvis
    width = 9
    kernel = np.hanning(width + 2)[1:-1]
    kernel /= kernel.sum()
    for table in (middle, side):
        padded = np.pad(table, ((width // 2, width // 2), (0, 0)), mode="reflect", reflect_type="odd")
        for k in range(3):
            table[:, k] = np.convolve(padded[:, k], kernel, "valid")
    return middle, side


def _slope(line):
    return np.gradient(line, axis=0)


def _folded(skirt, drawn, axis, hull, levels, bearing):
    """Return the rings with their folds, pressed on the seat and kept off the floor."""
    centre, front, side = axis
    down = levels[0] - levels
    count = len(centre)
    low, high = skirt.spans
    share = np.linspace(0, 1, _BEARINGS + 1)
    away = (skirt.opens * smooth_step(down, 0.05, max(down[-1], 0.1)))[:, None]
    if skirt.whole:
        angle = np.broadcast_to(bearing, (count, _BEARINGS + 1))
    else:
        angle = (low + away) + share * (high - low - 2 * away)
    radius = np.stack(
        [np.interp(angle[row], bearing[:-1], hull[row], period=2 * np.pi) for row in range(count)]
    )
    hanging = smooth_step(down, 0.06, 0.30 + 0.2 * down[-1])[:, None]
    salt = skirt.salt
    turn = (
        np.round(skirt.flutes) * angle + 1.1 * np.sin(2 * angle + salt) + 0.8 * np.sin(3 * angle + 1.3 + salt)
    )
    turn = turn + 0.5 * np.sin(6.0 * down[:, None] + 2 * angle + salt)
    size = 0.6 + 0.4 * np.sin(2 * angle + 0.7 + salt) * np.sin(3 * angle + salt)
    flute = np.cos(turn) + 0.25 * np.cos(2 * turn + 0.6)
    spin = unit(np.cos(angle)[..., None] * front[:, None] + np.sin(angle)[..., None] * side[:, None])
    # Where the cloth lies on something from above, folds are pulled flat; below it hangs freely.
    lying = np.clip(spin[..., 2], 0, 1) ** 1.5
    radius = radius - 0.8 * lying * skirt.ease * hanging
    radius = radius + skirt.deep * hanging * size * (flute + 0.75) * (1 - 0.88 * lying)
    ripple = 1.6e-3 * np.sin(34 * down[:, None] + 3.1 * np.sin(2 * angle) + salt) + 1.2e-3 * np.sin(
        19 * down[:, None] - 4 * angle + salt
    )
    points = centre[:, None] + spin * (radius + np.maximum(ripple, -1e-3))[..., None]
    points = _settled(points, spin, lying)
    if drawn.seat is not None:
        knees = min(drawn.posed.at(f"{one} shank")[0] for one in ("left", "right"))
        over = (points[..., 0] < knees - 0.06) & (points[..., 2] < drawn.seat + 1.5e-3)
        over &= points[..., 0] > drawn.posed.at("pelvis")[0] - 0.22
        points[..., 2] = np.where(over, drawn.seat + 1.5e-3, points[..., 2])
    points[..., 2] = np.maximum(points[..., 2], 0.02)
    run = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=2).mean(axis=1))])
    return Rings(points, spin, angle, run, radius.mean(axis=1), axis, levels)


def _settled(points, spin, lying):
    """Return rings drawn a little together along the cloth, never inwards."""
    for _ in range(3):
        mean = np.array(points)
        mean[1:-1] = (points[:-2] + 2 * points[1:-1] + points[2:]) / 4
        inward = np.minimum(np.sum((mean - points) * spin, axis=2), 0)
        points = mean - inward[..., None] * spin
    return points
