"""Which lamp is sampled from a place: with a probability in proportion to what each gives there.

After the first light sample, which takes all lamps in turn, a path samples one lamp from each
surface it meets. Chosen evenly, seven samples of eight are in vain on a card that one lamp fills.
So a measurement, once for a stage, estimates what each lamp gives in each cell of a grid over the
set. Any probabilities above zero leave the estimate unbiased; a floor shared by all lamps keeps a lamp
that the measurement missed, or that is turned up later, from becoming noisy.
"""

from __future__ import annotations

import numpy as np

from previz.engine import lighting
from previz.engine.device import generator, on_device, vectors
from previz.engine.frozen import launch
from previz.engine.hit import clear
from previz.engine.jit import dr, mi
from previz.physics.triangles import doubled_normals, drawn_points
from previz.stage.records import Stage

FLOOR = 0.25
"""Share of the light samples that all lamps divide evenly."""

WHOLE = 0.7
"""Share of the samples for the air that choose a lamp by what it gives in the whole set."""

CELLS = (16, 16, 8)
"""Cells of the grid along x, y and z."""

POINTS = 1 << 16
"""Points on surfaces that are measured from."""

EVEN = 0xFFFFFFFF
"""Number of the cell, of no place, in which all lamps have the same probability."""

TOGETHER = 1024
"""Points that light is measured at are so many, or a multiple."""

SEEN = (48, 27)
"""Rays of each camera that sample what it sees."""

SEEN_REFLECTANCE, GUIDE_REFLECTANCE, OUTSIDE_REFLECTANCE = 0.3, 0.5, 0.2
"""About what walls and people, boards and frames, and the ground outside send on."""

BRIGHTNESS = (0.02, 50.0)
"""Least and most that a guide may count, relative to what the cameras see."""

_START_OFF = 1e-3
"""How far off its surface a point is measured from. [m]"""


class LampChoice:
    """Chances of the lamps in each cell of a grid, on the device, whose geometry and lamps are there.

    Parameters
    ----------
    points : int, optional
        Places that are measured from, in place of `POINTS`: with fewer, chances are less to the point.
    like : LampChoice, optional
        That of a stage that differs little, whose grid and places serve here too. Chances are then a little
        beside the point where things have moved.

    Attributes
    ----------
    drawn_on : DrawnSurfaces or None
        The places, until `let_go`.
    given : float array, shape (cell, light), or None
        What each lamp at 1 gives in each cell, straight and from all sides. [1/m²] or [1]
    known : bool array, shape (cell,)
        Where that was measured: cells with surfaces in them.
    """

    beside = ("low", "scale", "drawn_on", "given", "known")
    """What kernels do not read; see `frozen`."""

    def __init__(self, buffers, stage: Stage, points: int | None = None, like: LampChoice | None = None):
        self.lamps, self.lamp_count = buffers.lamps, buffers.lamp_count
        self.useful = self.lamps > 1
        if like is None:
            low, high = _extent(stage, buffers.geometry)
            self.low = [float(x) for x in low]
            self.scale = [float(n / max(h - lo, 1e-3))
                          for n, lo, h in zip(CELLS, low, high, strict=True)]
        else:
            self.low, self.scale = like.low, like.scale
        # Not as numbers of the kernel: with those, whatever moves in a scene would have it compiled anew.
        self.drawn_on, self.given = None, None
        self._grid = [(dr.opaque(mi.Float, lo), dr.opaque(mi.Float, scale))
                      for lo, scale in zip(self.low, self.scale, strict=True)]
        if not self.lamps:
            return
        if like is not None or points is not None:
            self.drawn_on = DrawnSurfaces(buffers.geometry, points) if like is None else like.drawn_on
        if not self.useful:
            return
        self.measure(buffers)
        self.even = dr.opaque(mi.Float, 1 / self.lamps)
        probabilities = _probabilities(self.given, [lamp.output for lamp in stage.lamps])
        likely, other = alias_tables(probabilities)

        self.probabilities = on_device(mi.Float, probabilities)
        self.drawn = on_device(mi.Float, np.stack([likely, other], axis=2))
        light = self.given[self.known if self.known.any() else ~self.known].mean(axis=0)
        whole = _with_floor((light * [lamp.output for lamp in stage.lamps])[None])
        self.whole = on_device(mi.Float, whole)
        self.drawn_whole = on_device(mi.Float, np.stack(alias_tables(whole), axis=2))

    def measure(self, buffers) -> None:
        """Set `given` and `known`, if they are not: of a single lamp only mirrors need them."""
        if self.given is None:
            if self.drawn_on is None:
                self.drawn_on = DrawnSurfaces(buffers.geometry, POINTS)
            self.given = self._measure(buffers)

    def let_go(self) -> None:
        """Forget the places that were measured from, which take as much room as the faces."""
        self.drawn_on = None

    def cell(self, point):
        """Return the number of the cell that a point lies in, or is nearest to. UInt"""
        along = []
        for axis, (low, scale) in enumerate(self._grid):
            at = (point[axis] - low) * scale
            # A lane that met nothing may hold no number at all. Its cell is drawn from too, and
            # a whole number made of NaN lies far outside the tables; a comparison sends it to 0.
            at = dr.select(at > 0, at, 0)
            along.append(mi.UInt(dr.minimum(at, CELLS[axis] - 1)))
        return (along[2] * CELLS[1] + along[1]) * CELLS[0] + along[0]

    def draw(self, cell, number):
        """Return the lamp that a number in [0, 1) stands for in a cell. UInt"""
        return self._draw(self.drawn, cell * self.lamp_count, number)

    def _draw(self, table, row, number):
        scaled = number * mi.Float(self.lamp_count)
        lamp = dr.minimum(mi.UInt(scaled), self.lamp_count - 1)
        likely, other = dr.gather(mi.Vector2f, table, row + lamp)
        return dr.select(scaled - mi.Float(lamp) < likely, lamp, mi.UInt(other))

    def draw_for_air(self, cell, number):
        """Return the lamp that a number stands for on a leg through haze that ends in a cell. UInt

        A leg crosses many cells, and surfaces in the last may lie in the dark where the leg does not.
        """
        of_whole = number < WHOLE
        whole = self._draw(self.drawn_whole, mi.UInt(0), dr.minimum(number / WHOLE, 1 - 2**-24))
        rest = dr.clip((number - WHOLE) / (1 - WHOLE), 0, 1 - 2**-24)
        return dr.select(of_whole, whole, self.draw(cell, rest))

    def probability_for_air(self, cell, lamp):
        """Return the probability that `draw_for_air` gives a lamp."""
        if not self.useful:
            return self.probability(cell, lamp)
        whole = dr.gather(mi.Float, self.whole, lamp)
        return WHOLE * whole + (1 - WHOLE) * self.probability(cell, lamp)

    def probability(self, cell, lamp):
        """Return the probability that a lamp is sampled from a cell; `EVEN` is every lamp alike."""
        if not self.useful:
            return mi.Float(1 / self.lamps)
        known = cell != EVEN
        return dr.select(known, dr.gather(mi.Float, self.probabilities, cell * self.lamp_count + lamp, known),
                         self.even)

    def _measure(self, buffers) -> np.ndarray:
        """Return what each lamp gives in each cell, mean over its points. Shape (cell, light)"""
        points = self.drawn_on.points
        given = light_at(buffers, points)
        cell = np.array(self.cell(vectors(points, mi.Point3f)))
        # Summed here and not on the device, where the order of the sums is not always the same.
        cells = int(np.prod(CELLS))
        sums = np.stack([np.bincount(cell, weights=given[:, k], minlength=cells)
                         for k in range(self.lamps)], axis=1)
        count = np.bincount(cell, minlength=cells)
        self.known = count > 0
        return sums / np.maximum(count, 1)[:, None]


def light_at(buffers, points) -> np.ndarray:
    """Return about what each lamp gives at points [m], from any side, by one light sample each.

    Illuminance of a small ball's front per unit lamp, shape (point, light). [1/m²] or [1]
    """
    # By thousands, so that a few more or fewer are launched from the same recording.
    count = -(-len(points) // TOGETHER) * TOGETHER
    padded = np.concatenate([points, np.broadcast_to(points[-1:], (count - len(points), 3))])
    given = launch(_light_at, buffers, on_device(mi.Float, padded), count)
    return np.array(given).reshape(-1, buffers.lamps)[:len(points)]


def _light_at(buffers, points, count: int):
    """Return what `light_at` does, of so many points that lie on the device."""
    thread = dr.arange(mi.UInt, count * buffers.lamps)
    point = dr.gather(mi.Point3f, points, thread // buffers.lamp_count)
    return light_samples(buffers, point, thread % buffers.lamp_count, 0x9E3779B9)[1]


def light_samples(buffers, point, lamp, seed: int):
    """Return (direction, what arrives from any side) of one light sample for each point and lamp."""
    rng = generator(mi.UInt(seed), dr.arange(mi.UInt, dr.width(point)))
    u, where = rng.next_float32(), mi.Point2f(rng.next_float32(), rng.next_float32())
    guides = lighting.Guides(buffers, point) if buffers.guides else None
    direction, distance, value, pdf = lighting.sample_light(
        buffers, guides, point, lamp, u, where, mi.Bool(True))
    useful = clear(buffers, point + direction * _START_OFF, direction, distance - _START_OFF,
                   (value > 0) & (pdf > 0))
    return direction, dr.select(useful, value / pdf, 0)


UNKNOWN = 1e6
"""Brightness of what was not measured: no path to it is ended as too faint."""


def guide_brightness(buffers, stage: Stage) -> tuple[np.ndarray, np.ndarray]:
    """Return (what each guide counts, how bright it is), relative to what the cameras see. Shape (guide,)

    The sky and the sun in an opening are sampled as lamps; what is left for a guide is
    the ground outside.
    """
    outputs = np.array([lamp.output for lamp in stage.lamps], float)
    seen = camera_points(buffers, stage.cameras)
    if not len(seen) or not len(stage.guides) or not len(outputs):
        return np.ones(len(stage.guides)), np.full(len(stage.guides), UNKNOWN)
    level = light_at(buffers, seen) @ outputs
    usual = SEEN_REFLECTANCE * np.minimum(level, np.quantile(level, 0.95)).mean()
    found = []
    for guide in stage.guides:
        light = (light_at(buffers, _points_before(guide)) @ outputs).mean()
        found.append(light * (OUTSIDE_REFLECTANCE if guide.opening else GUIDE_REFLECTANCE))
    measured = np.array(found) / max(usual, 1e-12)
    brightness = np.clip(measured, *BRIGHTNESS)
    opening = np.array([guide.opening for guide in stage.guides])
    # The root hedges against what one sample misses; most of an opening is sky, sampled as a lamp.
    counted = np.sqrt(np.where(opening, np.minimum(brightness, 1), brightness))
    return counted, np.minimum(np.maximum(measured, counted), UNKNOWN)


def camera_points(buffers, cameras) -> np.ndarray:
    """Return points on what the cameras see, shape (n, 3). [m]"""
    from previz.engine.starts import CameraStart

    found = []
    for camera in cameras:
        start = CameraStart(camera, *SEEN)
        thread = dr.arange(mi.UInt, SEEN[0] * SEEN[1])
        numbers = mi.PCG32(size=SEEN[0] * SEEN[1])
        origin, direction = start.ray(thread, mi.UInt(0), numbers)
        hit = buffers.scene.ray_intersect_preliminary(mi.Ray3f(origin, direction), coherent=True)
        # A little before the surface, so that light from in front reaches it.
        points = np.array(origin + direction * (hit.t - 5 * _START_OFF)).T
        found.append(points[np.array(hit.is_valid())])
    return np.concatenate(found) if found else np.zeros((0, 3))


def _points_before(guide) -> np.ndarray:
    """Return points just off a guide, on both its sides. [m]"""
    random = np.random.default_rng(11)
    centre, count = np.asarray(guide.centre, float), 512
    if guide.radius > 0:
        away = random.normal(size=(count, 3))
        return centre + away / np.linalg.norm(away, axis=1, keepdims=True) * guide.radius * 1.05
    u, v = np.asarray(guide.half_u, float), np.asarray(guide.half_v, float)
    normal = np.cross(u, v)
    normal /= max(np.linalg.norm(normal), 1e-12)
    side = np.where(random.random((count, 1)) < 0.5, -1, 1) * 0.02
    return (centre + u * random.uniform(-1, 1, (count, 1)) + v * random.uniform(-1, 1, (count, 1))
            + normal * side)


def _extent(stage: Stage, geometry) -> tuple[np.ndarray, np.ndarray]:
    """Return the corners of the part of the stage that most of its triangles lie in. [m]"""
    corners = geometry.positions[geometry.faces]
    # As `mean` has it, and in a tenth of its time.
    middles = (corners[:, 0] + corners[:, 1] + corners[:, 2]) / np.float32(3)
    places = [np.asarray(camera.position, float) for camera in stage.cameras]
    low, high = np.quantile(middles, [0.02, 0.98], axis=0) if len(middles) else np.zeros((2, 3))
    for place in places:
        low, high = np.minimum(low, place), np.maximum(high, place)
    return low - 0.25, high + 0.25


class DrawnSurfaces:
    """Points on the faces, large faces having more of them.

    Attributes
    ----------
    points : float array, shape (count, 3)
        [m]
    faces : int array, shape (count,)
        The face of each.
    areas, middles : float arrays, shapes (n,), (n, 3)
        All surfaces, as points that each stand for an area: those drawn, and the middles of faces without
        one. [m²], [m]
    in_cells : float array, shape (cell,), or None
        The area in each cell of the grid, once it is known. [m²]
    """

    def __init__(self, geometry, count: int):
        random = np.random.default_rng(7)
        self.in_cells: np.ndarray | None = None
        corners = geometry.positions[geometry.faces].astype(float)
        size = np.linalg.norm(doubled_normals(corners), axis=1)
        # By the root of the area: a field outside does not take all points from a table.
        share = np.sqrt(size)
        # A mesh of very many small faces has no more of them than a wall.
        share /= np.maximum(np.bincount(geometry.face_name, weights=share), 1e-9)[geometry.face_name] ** 0.5
        # Under a bare sky there is but a face without area, which stands for none.
        share = share if share.sum() > 0 else np.ones_like(share)
        self.faces = random.choice(len(share), count, p=share / share.sum())
        self.points = drawn_points(corners[self.faces], random)
        number = np.bincount(self.faces, minlength=len(size))
        rest = number == 0
        # As `mean` has it, and in a tenth of its time.
        middles = (corners[rest, 0] + corners[rest, 1] + corners[rest, 2]) / 3
        self.middles = np.concatenate([self.points, middles])
        self.areas = np.concatenate([(size / 2 / np.maximum(number, 1))[self.faces], size[rest] / 2])


def _probabilities(given: np.ndarray, outputs) -> np.ndarray:
    """Return each lamp's probability in each cell, from what it gives there at full."""
    light = given * np.asarray(outputs, float)
    grid = light.reshape(CELLS[2], CELLS[1], CELLS[0], -1)
    # What is around a cell counts a little: its points may have missed a small pool of light.
    light = (grid + around(grid) / 100).reshape(light.shape)
    light += 1e-3 * light.mean(axis=0)
    return _with_floor(light)


def _with_floor(light: np.ndarray) -> np.ndarray:
    """Return shares of the lamps' light, row by row, with a floor that all lamps divide evenly."""
    total = light.sum(axis=1, keepdims=True)
    lamps = light.shape[1]
    share = np.where(total > 0, light / np.maximum(total, 1e-30), 1 / lamps)
    return FLOOR / lamps + (1 - FLOOR) * share


def around(grid: np.ndarray) -> np.ndarray:
    """Return the sum over each cell and those that touch it; the first axes are z, y and x."""
    padded = np.pad(grid, [(1, 1)] * 3 + [(0, 0)] * (grid.ndim - 3))
    return sum(padded[z:z + CELLS[2], y:y + CELLS[1], x:x + CELLS[0]]
               for z in range(3) for y in range(3) for x in range(3))


def alias_tables(probabilities: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return tables from which a row's choice is drawn in one step.

    Parameters
    ----------
    probabilities : float array, shape (row, choice)
        Each row sums to 1.

    Returns
    -------
    likely, other : float array, int array, shape (row, choice)
        Chance that a choice drawn evenly is kept, and what is taken in its place if it is not.

    Source: Vose, IEEE Transactions on Software Engineering 17(9), 1991 (from memory).
    """
    rows, choices = probabilities.shape
    left = probabilities * choices
    likely, other = np.ones_like(left), np.tile(np.arange(choices), (rows, 1))
    open_ = np.ones_like(left, bool)
    every = np.arange(rows)
    for _ in range(choices - 1):
        # The least of those left is filled up from the largest.
        small = np.where(open_, left, np.inf).argmin(axis=1)
        large = np.where(open_, left, -np.inf).argmax(axis=1)
        likely[every, small] = np.clip(left[every, small], 0, 1)
        other[every, small] = large
        left[every, large] -= 1 - left[every, small]
        open_[every, small] = False
    return likely, other
