"""What things look like on a plan: plain geometry, the true size of each thing where that can be read.

All take `unit`, what a mm of paper is in m of the set, and give marks in m.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np
from shapely.geometry import MultiPoint

from previz.plans.outlines import hull
from previz.plans.records import Disc, Shape, Words

LEAST = 4.0
"""Least extent of a lamp or camera, so that it can be found. [mm]"""

MOST = 10.0
"""Greatest extent of what stands beyond the edge of the drawing, and is not drawn to scale. [mm]"""

HEAD = 2.0
"""Length of an arrow's head. [mm]"""


def kind_codes(kinds: Iterable[str]) -> dict[str, str]:
    """Return kind of lamp -> two letters of its own, made of its word.

    The first letters of its first two words, or of a single word its first two; where another kind before it
    has those, its first letter with the first of its others that leaves a code free.
    """
    codes: dict[str, str] = {}
    for kind in kinds:
        words = kind.upper().split()
        letters = "".join(words)
        pairs = [words[0][0] + words[1][0]] if len(words) > 1 else []
        pairs += [letters[0] + other for other in letters[1:]]
        codes[kind] = next((pair for pair in pairs if pair not in codes.values()), letters)
    return codes


def arrow(start: np.ndarray, end: np.ndarray, unit: float, layer: str, pen: str, name: str, part: str,
          ) -> Iterator[Shape]:
    """Yield a line with a small head at its end."""
    along = np.subtract(end, start)
    long = float(np.hypot(*along))
    if long < 1e-9:
        return
    along = along / long
    side = np.array([-along[1], along[0]])
    head = min(HEAD * unit, long)
    neck = end - along * head
    yield Shape(layer, np.array([start, neck]), pen=pen, name=name, part=part)
    points = np.array([end, neck + side * 0.3 * head, neck - side * 0.3 * head])
    yield Shape(layer, points, True, "thin", "ink", name, part)


def grown(points: np.ndarray, at: np.ndarray, unit: float, least: float = LEAST, most: float = np.inf,
          ) -> np.ndarray:
    """Return an outline enlarged, or shrunk, about a place to an extent on paper between limits [mm]."""
    points = np.asarray(points, float)
    extent = float(np.ptp(points, axis=0).max()) / unit if len(points) else 0.0
    if extent <= 0:
        return points
    factor = min(max(least / extent, 1.0), max(most / extent, 0.0))
    return np.asarray(at + (points - at) * factor)


def lamp_body(at: np.ndarray, body: np.ndarray, faces: list[np.ndarray], name: str, unit: float, lit: bool,
              scale_by: float, open_: bool = False) -> Iterator[Shape]:
    """Yield a lamp's body from above with its bright faces.

    Parameters
    ----------
    at : float array, shape (2,)
    body : float array, shape (n, 2)
        Corners that its outline goes round. [m]
    faces : list of float arrays, shape (n, 2)
        Each bright face. [m]
    scale_by : float
        1 for the true size.
    open_ : bool
        True for one that hangs over an area: what is under it is to be seen.
    """
    def sized(points: np.ndarray) -> np.ndarray:
        return np.asarray(at + (points - at) * scale_by)

    pen = "outline" if lit else "hidden"
    around = sized(hull(body))
    yield Shape("lamps", around, len(around) > 2, pen,
                "" if open_ else "tint" if lit else "paper", name, "outline")
    for face in faces:
        corners = sized(hull(face))
        thin = len(corners) < 3 or narrowest(corners) < 0.5 * unit
        if thin:
            yield Shape("lamps", longest(corners), False, "cut" if lit else "hidden", "", name, "face")
        else:
            yield Shape("lamps", corners, True, pen, "" if open_ else "paper", name, "face")


def _ends(points: np.ndarray) -> list[int]:
    """Return which two points are farthest apart."""
    gaps = np.hypot(*(points[:, None] - points[None]).transpose(2, 0, 1))
    one, two = np.unravel_index(int(np.argmax(gaps)), gaps.shape)
    return [int(one), int(two)]


def longest(points: np.ndarray) -> np.ndarray:
    """Return the two points that are farthest apart, shape (2, 2)."""
    return np.asarray(points[_ends(points)])


def narrowest(points: np.ndarray) -> float:
    """Return the extent across the longest way through points. [m]"""
    one, two = points[_ends(points)]
    along = (two - one) / max(float(np.hypot(*(two - one))), 1e-12)
    across = (points - one) @ np.array([-along[1], along[0]])
    return float(np.ptp(across))


def overhead_mark(outline: np.ndarray, unit: float, name: str) -> Shape:
    """Return the dashed line round what hangs. `outline` has shape (n, 2). [m]"""
    around = MultiPoint(outline).convex_hull.buffer(1.1 * unit, quad_segs=4)
    return Shape("lamps", np.array(around.exterior.coords)[:-1], True, "hidden", "", name, "hung")


def in_shot_mark(low: np.ndarray, high: np.ndarray, unit: float, name: str) -> Iterator[Shape]:
    """Yield corners round what is left in the picture, as a frame has them. [m]"""
    middle, half = (low + high) / 2, (high - low) / 2
    arm = np.minimum(1.3 * unit, 0.7 * half)
    for way in np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]):
        corner = middle + half * way
        points = np.array([corner - [arm[0] * way[0], 0], corner, corner - [0, arm[1] * way[1]]])
        yield Shape("lamps", points, False, "outline", "", name, "in shot")


def camera_body(at: np.ndarray, ahead: np.ndarray, name: str, unit: float) -> Shape:
    """Return a camera from above, narrow towards its lens, the entrance pupil at `at`."""
    long = max(0.32, 1.4 * LEAST * unit)
    side = np.array([-ahead[1], ahead[0]])
    points = [at + side * 0.16 * long, at - 0.3 * long * ahead + side * 0.16 * long,
              at - 0.3 * long * ahead + side * 0.3 * long, at - long * ahead + side * 0.3 * long]
    mirrored = [p - 2 * ((p - at) @ side) * side for p in points[::-1]]
    return Shape("cameras", np.array([*points, *mirrored]), True, "outline", "cloth", name, "outline")


def cross(at: np.ndarray, unit: float, name: str) -> Iterator[Shape]:
    """Yield the cross of tape that marks a place on the floor."""
    for way in ((1, 1), (1, -1)):
        arm = 1.7 * unit * np.array(way)
        yield Shape("figures", np.array([at - arm, at + arm]), False, "cut", "", name, "mark")


def sheet_line(what: str, one: np.ndarray, two: np.ndarray, facing: np.ndarray, name: str, unit: float,
               ) -> Iterator[Shape]:
    """Yield something flat from above, a line from end to end with the pattern of what it is.

    Parameters
    ----------
    what : str
        A noun of what stands in the light: 'board', 'diffusion frame', 'flag', 'net', 'grid'.
    facing : float array, shape (2,)
        Where its face looks, of unit length.
    """
    yield Shape("grip", np.array([one, two]), False, "outline" if what == "net" else "cut", "", name, "width")
    yield from _PATTERNS[what](one, two, facing, name, unit)


def _along(one: np.ndarray, two: np.ndarray, unit: float, pitch: float) -> np.ndarray:
    count = max(int(np.hypot(*np.subtract(two, one)) / unit / pitch), 3)
    return np.asarray(one + (np.arange(count) + 0.5)[:, None] / count * np.subtract(two, one))


def _way(one: np.ndarray, two: np.ndarray) -> np.ndarray:
    along = np.subtract(two, one)
    return np.asarray(along / max(float(np.hypot(*along)), 1e-12))


def _tick(start: np.ndarray, end: np.ndarray, name: str) -> Shape:
    return Shape("grip", np.array([start, end]), False, "thin", "", name, "pattern")


def _board(one: np.ndarray, two: np.ndarray, facing: np.ndarray, name: str, unit: float) -> Iterator[Shape]:
    for at in _along(one, two, unit, 1.6):
        yield _tick(at, at + (_way(one, two) - facing) * 1.1 * unit, name)


def _frame(one: np.ndarray, two: np.ndarray, facing: np.ndarray, name: str, unit: float) -> Iterator[Shape]:
    places = _along(one, two, unit, 1.2)
    sides = np.where(np.arange(len(places)) % 2, -0.9, 0.9)[:, None] * unit * facing
    yield Shape("grip", np.array([one, *(places + sides), two]), False, "thin", "", name, "pattern")


def _flag(one: np.ndarray, two: np.ndarray, facing: np.ndarray, name: str, unit: float) -> Iterator[Shape]:
    half = 0.45 * unit * facing
    corners = np.array([one - half, two - half, two + half, one + half])
    yield Shape("grip", corners, True, "thin", "cloth", name, "pattern")


def _net(one: np.ndarray, two: np.ndarray, facing: np.ndarray, name: str, unit: float) -> Iterator[Shape]:
    for at in _along(one, two, unit, 2.2):
        for sign in (-1, 1):
            arm = 0.7 * unit * (facing + sign * _way(one, two))
            yield _tick(at - arm, at + arm, name)


def _grid(one: np.ndarray, two: np.ndarray, facing: np.ndarray, name: str, unit: float) -> Iterator[Shape]:
    for at in _along(one, two, unit, 1.3):
        yield _tick(at - facing * unit, at + facing * unit, name)


_PATTERNS = {"board": _board, "diffusion frame": _frame, "flag": _flag, "net": _net, "grid": _grid}


def break_mark(at: np.ndarray, along: np.ndarray, unit: float, layer: str, name: str) -> Shape:
    """Return the zigzag across a line that says that a length is left out there."""
    side = np.array([-along[1], along[0]])
    steps = ((-2.2, 0.0), (-0.7, 0.0), (-0.35, 1.2), (0.35, -1.2), (0.7, 0.0), (2.2, 0.0))
    points = np.array([at + (s * side + a * along) * unit for s, a in steps])
    return Shape(layer, points, False, "outline", "", name, "break")


def north_arrow(at: np.ndarray, turn_deg: float, unit: float) -> Iterator[Shape | Words]:
    """Yield an arrow to the north, turned clockwise from up, with its letter beyond its tip."""
    turn = np.radians(turn_deg)
    up, right = np.array([np.sin(turn), np.cos(turn)]) * unit, np.array([np.cos(turn), -np.sin(turn)]) * unit
    tip, notch = at + 2.4 * up, at - 2.6 * up
    for sign, fill in ((-1, "ink"), (1, "paper")):
        foot = at - 4.2 * up + sign * 1.6 * right
        yield Shape("sheet", np.array([tip, foot, notch]), True, "thin", fill, "north", "north")
    x, y = at + 4.2 * up
    yield Words("sheet", (float(x), float(y - 0.85 * unit)), "N", 2.4, "centre", strong=True, name="north")


def sun_marks(at: np.ndarray, unit: float, layer: str = "sun", radius: float = 1.5) -> Iterator[Shape | Disc]:
    """Yield a small sun: a disc with rays. `radius` in mm."""
    yield Disc(layer, (float(at[0]), float(at[1])), radius * unit, "outline", "paper", "sun", "sun")
    for turn in np.arange(8) * np.pi / 4:
        way = np.array([np.cos(turn), np.sin(turn)])
        ray = np.array([at + way * 1.35 * radius * unit, at + way * 1.95 * radius * unit])
        yield Shape(layer, ray, False, "outline", "", "sun", "sun")


def moon_marks(at: np.ndarray, lit: float, towards: float, unit: float, layer: str = "sun",
               radius: float = 1.8) -> Iterator[Shape | Disc]:
    """Yield the moon with its phase.

    Parameters
    ----------
    lit : float
        Share of the disc that is lit. [1]
    towards : float
        Direction of its lit side, counter-clockwise from +x. [deg]
    radius : float
        [mm]
    """
    yield Disc(layer, (float(at[0]), float(at[1])), radius * unit, "outline", "ink", "moon", "moon")
    turns = np.linspace(-np.pi / 2, np.pi / 2, 25)
    limb = np.stack([np.cos(turns), np.sin(turns)], axis=1)
    # The edge of the light is half an ellipse: its half width is how far the lit share is past one half.
    inner = np.stack([(1 - 2 * lit) * np.cos(turns[::-1]), np.sin(turns[::-1])], axis=1)
    turn = np.radians(towards)
    axes = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    if lit > 0.01:
        yield Shape(layer, at + np.concatenate([limb, inner]) @ axes * radius * unit, True, "thin", "paper",
                    "moon", "lit part")
