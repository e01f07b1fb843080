"""Haze, inside the kernel: what a leg of a path loses in it, where it scatters, and where to sample.

The haze fills the scene or an upright box, evenly or thinning with height:

    sigma(z) = sigma0 · exp(-(z - floor) / height)

so optical depth along a ray and its inverse have closed forms. On the leg that leaves the camera
single scattering is sampled where the light is (`airlight`): in the beam of a lamp that has one,
in the shaft of the sun behind an opening, near everything else. On every other leg that is given to the
air the same is done with one sample (`special.HazeLeg`); where the path goes on from comes of free
flight.

Source: sampling along a ray in proportion to the angle seen from the lamp: Kulla and Fajardo,
"Importance sampling techniques for path tracing in participating media", EGSR 2012 (from memory).
Phase function: Henyey and Greenstein 1941.
"""

from __future__ import annotations

from previz.engine import lighting
from previz.engine.device import Rectangle, first_three, number, vector
from previz.engine.jit import dr, mi

FAR = 2e3
"""Haze farther away than this is left out. [m]"""

SKY_TURNS = 61
"""How often the number that a sample of the sky is drawn by goes through all openings."""

EVEN_SHARE = 0.15
"""Share of the samples along a leg that fade with the haze alone, so that no light is missed."""


class Haze:
    """The haze of one stage on the device."""

    def __init__(self, buffers):
        self.buffers = buffers
        data = buffers.haze_data
        self.density, self.g, self.thinning, self.floor = (number(data, k) for k in range(4))
        self.low, self.high = (vector(data, k, mi.Point3f) for k in (4, 7))

    def interval(self, origin, direction, distance):
        """Return (from, to) of the part of a ray that lies in the haze; empty if to <= from."""
        safe = mi.Vector3f(*(dr.select(dr.abs(c) < 1e-8, 1e-8, c) for c in direction))
        a, b = (self.low - origin) / safe, (self.high - origin) / safe
        near = dr.maximum(dr.max(dr.minimum(a, b)), 0)
        far = dr.minimum(dr.min(dr.maximum(a, b)), dr.minimum(distance, FAR))
        return near, dr.maximum(far, near)

    def sigma(self, point):
        """Return the extinction coefficient at a point inside the haze. [1/m]"""
        if not self.buffers.haze_thins:
            return self.density
        return self.density * dr.exp(-(point.z - self.floor) * self.thinning)

    def depth(self, origin, direction, near, far):
        """Return the optical depth of part of a ray. [1]"""
        length = far - near
        if not self.buffers.haze_thins:
            return self.density * length
        slope = direction.z * self.thinning
        start = self.sigma(origin + direction * near)
        x = slope * length
        small = dr.abs(x) < 1e-4
        ratio = dr.select(small, 1 - 0.5 * x, (1 - dr.exp(-x)) / dr.select(small, 1, x))
        return start * length * ratio

    def reach(self, origin, direction, near, depth):
        """Return the distance at which an optical depth past `near` is reached. [m]"""
        if not self.buffers.haze_thins:
            return near + depth / self.density
        slope = direction.z * self.thinning
        start = self.sigma(origin + direction * near)
        flat = depth / dr.maximum(start, 1e-20)
        x = slope * flat
        small = dr.abs(x) < 1e-4
        bent = -dr.log(dr.maximum(1 - x, 1e-20)) / dr.select(small, 1, slope)
        return near + dr.select(small, flat * (1 + 0.5 * x), bent)

    def along(self, origin, direction, distance):
        """Return the optical depth of a ray up to a distance. [1]"""
        near, far = self.interval(origin, direction, distance)
        return self.depth(origin, direction, near, far)

    def reach_of_light(self, point):
        """Return the distance from a lamp within which places lit by it are drawn densely. [m]"""
        return 1 / (dr.pi * dr.maximum(self.sigma(point), 1e-9))

    @staticmethod
    def denser(reach, distance, size):
        """Return about how much denser `sample_leg` draws places than free flight does, so far from a lamp.

        `reach` is as of `reach_of_light`, or 0 for 1; `size` the lamp's radius. [m]
        """
        return dr.maximum(reach / dr.maximum(dr.maximum(distance, size), 1e-6), 1)

    def phase(self, cosine):
        """Return the phase function at the cosine of the turn; 1 is straight on. [1/sr]"""
        square = dr.square(self.g)
        base = dr.maximum(1 + square - 2 * self.g * cosine, 1e-6)
        return dr.inv_four_pi * (1 - square) / (base * dr.sqrt(base))

    def turn(self, direction, point):
        """Return a direction drawn from the phase function."""
        g = dr.select(dr.abs(self.g) < 1e-3, 1e-3, self.g)
        part = (1 - dr.square(g)) / (1 - g + 2 * g * point.x)
        cosine = dr.clip((1 + dr.square(g) - dr.square(part)) / (2 * g), -1, 1)
        sine = dr.safe_sqrt(1 - dr.square(cosine))
        s, c = dr.sincos(dr.two_pi * point.y)
        return mi.Frame3f(direction).to_world(mi.Vector3f(sine * c, sine * s, cosine))


class Along:
    """A density along one leg for one lamp: where its light is, with an even part everywhere.

    The leg is in the haze from `near` to `far` [m]; the even part falls with `sigma`, the extinction
    at its beginning [1/m].
    """

    def __init__(self, near, far, sigma):
        self.near, self.far, self.sigma = near, far, dr.maximum(sigma, 1e-6)
        self.lost = dr.maximum(1 - dr.exp(-self.sigma * dr.maximum(far - near, 1e-6)), 1e-9)
        # Nothing to aim at yet: without `inside` these do not count.
        self.inside, self.shafts, self.shafted = mi.Bool(False), [], mi.Bool(False)
        self.low, self.high, self.middle, self.gap = self.near, self.far, mi.Float(0), mi.Float(1)
        self.angle_low, self.angle_high = mi.Float(0), mi.Float(0)

    def towards(self, origin, direction, centre, size, low, high):
        """Aim the density at a place: even in the angle seen from it, between two distances.

        The light's radius `size` keeps it finite on a leg that runs through the light; outside `low`
        and `high` along the leg the lamp gives nothing. [m]
        """
        self.low = dr.clip(low, self.near, self.far)
        self.high = dr.clip(high, self.near, self.far)
        self.inside = self.high > self.low + 1e-6
        self.middle = dr.dot(centre - origin, direction)
        gap2 = dr.squared_norm(centre - origin) - dr.square(self.middle)
        self.gap = dr.sqrt(dr.maximum(gap2, 0) + dr.square(size))
        self.angle_low = dr.atan((self.low - self.middle) / self.gap)
        self.angle_high = dr.atan((self.high - self.middle) / self.gap)

    def within(self, spans, here):
        """Aim the density at spans of the leg, each in proportion to its length, in the lanes `here`."""
        self.shafts = [(dr.clip(a, self.near, self.far), dr.clip(b, self.near, self.far))
                       for a, b in spans]
        self.total = sum((dr.maximum(b - a, 0) for a, b in self.shafts), mi.Float(0))
        self.shafted = here
        self.inside = dr.select(here, self.total > 1e-5, self.inside)

    def sample(self, u):
        """Return a distance drawn from the density. [m]"""
        even = (u < EVEN_SHARE) | ~self.inside
        spread = dr.select(self.inside, u / EVEN_SHARE, u)
        rest = (u - EVEN_SHARE) / (1 - EVEN_SHARE)
        fading = self.near - dr.log(dr.maximum(1 - spread * self.lost, 1e-9)) / self.sigma
        return dr.select(even, dr.minimum(fading, self.far), self._aimed(rest))

    def _aimed(self, u):
        angle = dr.lerp(self.angle_low, self.angle_high, u)
        aimed = dr.clip(self.middle + self.gap * dr.tan(angle), self.low, self.high)
        if not self.shafts:
            return aimed
        left, found, at = u * self.total, mi.Bool(False), self.near
        for low, high in self.shafts:
            length = dr.maximum(high - low, 0)
            take = ~found & (left < length)
            found |= take
            at = dr.select(take, low + left, at)
            left -= length
        return dr.select(self.shafted, at, aimed)

    def density(self, distance):
        """Return the density at a distance. [1/m]"""
        between = (distance >= self.low) & (distance <= self.high)
        spread = dr.maximum(self.angle_high - self.angle_low, 1e-9)
        aimed = self.gap / (spread * (dr.square(self.gap) + dr.square(distance - self.middle)))
        aimed = dr.select(between, aimed, 0)
        if self.shafts:
            covers = sum((dr.select((distance >= low) & (distance <= high), mi.Float(1), 0)
                          for low, high in self.shafts), mi.Float(0))
            aimed = dr.select(self.shafted, covers / dr.maximum(self.total, 1e-9), aimed)
        even = self.sigma * dr.exp(-self.sigma * (distance - self.near)) / self.lost
        return dr.select(self.inside, EVEN_SHARE * even + (1 - EVEN_SHARE) * aimed, even)


def cone_span(origin, direction, apex, axis, cosine):
    """Return (from, to) of the part of a ray inside an endless cone; (0, 0) for none.

    A cone of less than a right angle is convex, so the part is one span.
    """
    square = dr.square(cosine)
    offset = origin - apex
    da, oa = dr.dot(direction, axis), dr.dot(offset, axis)
    a = dr.square(da) - square
    b = da * oa - square * dr.dot(direction, offset)
    c = dr.square(oa) - square * dr.squared_norm(offset)
    root2 = dr.square(b) - a * c
    root = dr.safe_sqrt(root2)
    safe = dr.select(dr.abs(a) < 1e-7, 1e-7, a)
    t0, t1 = (-b - root) / safe, (-b + root) / safe
    low, high = dr.minimum(t0, t1), dr.maximum(t0, t1)
    front_low, front_high = oa + da * low > 0, oa + da * high > 0
    # a < 0: the ray leaves the cone again; a > 0: it stays inside to one side.
    closed = (a < 0) & (root2 > 0) & front_low & front_high
    open_far = (a > 0) & (da > 0)
    open_near = (a > 0) & (da <= 0)
    start = dr.select(open_far & (root2 > 0), dr.select(front_low, low, high), low)
    start = dr.select(open_far & (root2 > 0) & ~front_low, high, start)
    stop = dr.select(open_near & (root2 > 0), dr.select(front_high, high, low), high)
    always = (a > 0) & (root2 <= 0)
    start = dr.select(open_near | always, 0, start)
    stop = dr.select(open_far | always, FAR, stop)
    any_part = closed | open_far | open_near | always
    return dr.select(any_part, start, 0), dr.select(any_part, stop, 0)


def shaft_span(origin, direction, shape, towards):
    """Return (from, to) of the part of a ray that a far light `towards` it reaches through a rectangle."""
    across = dr.dot(towards, shape.normal)
    safe = dr.select(dr.abs(across) < 1e-4, 1e-4, across)

    # A point is moved along the light's direction into the opening's plane; the place where it
    # lands is linear in the distance along the ray.
    def slab(dual):
        offset, slope = origin - shape.centre, direction
        shift0 = dr.dot(offset, dual) - dr.dot(offset, shape.normal) / safe * dr.dot(towards, dual)
        shift1 = dr.dot(slope, dual) - dr.dot(slope, shape.normal) / safe * dr.dot(towards, dual)
        flat = dr.select(dr.abs(shift1) < 1e-8, 1e-8, shift1)
        a, b = (-1 - shift0) / flat, (1 - shift0) / flat
        return dr.minimum(a, b), dr.maximum(a, b)

    low_u, high_u = slab(shape.dual_u)
    low_v, high_v = slab(shape.dual_v)
    # Only behind the opening, as seen from the light.
    behind0 = -dr.dot(origin - shape.centre, shape.normal) / safe
    behind1 = -dr.dot(direction, shape.normal) / safe
    flat = dr.select(dr.abs(behind1) < 1e-8, 1e-8, behind1)
    turn = -behind0 / flat
    low_b = dr.select(behind1 > 0, turn, -FAR)
    high_b = dr.select(behind1 > 0, FAR, turn)
    low = dr.maximum(dr.maximum(low_u, low_v), dr.maximum(low_b, 0))
    high = dr.minimum(dr.minimum(high_u, high_v), high_b)
    usable = (dr.abs(across) > 1e-3) & (high > low)
    return dr.select(usable, low, 0), dr.select(usable, high, 0)


def sample_leg(buffers, haze, lamp, u, number, origin, direction, near, far):
    """Draw a place of a leg, in the haze from `near` to `far` [m], where one lamp lights the air.

    `u` chooses among the lamp's emitters; `lighting.sample_light` with the same number takes the
    same one. Of the openings that the sky comes in by, which is another matter, it chooses one too.

    Returns
    -------
    distance, density, size : Float, Float, Float
        [m], [1/m]; given what `u` chose, which has about this radius [m].
    """
    leg = Along(near, far, haze.sigma(origin + direction * near))
    openings = [index for index in range(buffers.guides) if buffers.guide_opening[index]]
    centre, size, low, high, aimed = mi.Point3f(0), mi.Float(1), near, far, mi.Bool(False)
    if buffers.emitters:
        first, count = lighting.emitters_of(buffers, lamp)
        which = dr.minimum(mi.UInt(u * mi.Float(count)), dr.maximum(count, 1) - 1)
        emitter = dr.minimum(first + which, buffers.emitters - 1)
        centre = first_three(lighting.read_emitter(buffers, "middle", emitter), mi.Point3f)
        axis = first_three(lighting.read_emitter(buffers, "ahead", emitter))
        size, cosine, behind, _ = lighting.read_emitter(buffers, "beam", emitter)
        narrow, aimed = (cosine > 0) & (count > 0), count > 0
        start, end = cone_span(origin, direction, centre - axis * behind, axis, cosine)
        low, high = dr.select(narrow, start, near), dr.select(narrow, end, far)
    if buffers.sky_lamp >= 0 and openings:
        sky = lamp == buffers.sky_lamp
        at = mi.UInt(openings[0])
        # Not by `u` itself, which also says whether a sample is aimed at an opening at all.
        scaled = u * SKY_TURNS - dr.floor(u * SKY_TURNS)
        for index, opening in enumerate(openings[1:], 1):
            at = dr.select(scaled * len(openings) >= index, mi.UInt(opening), at)
        shape = Rectangle(buffers.guide_data, at)
        centre = dr.select(sky, shape.centre, centre)
        size = dr.select(sky, dr.sqrt(shape.area) * 0.5, size)
        low, high, aimed = dr.select(sky, near, low), dr.select(sky, far, high), aimed | sky
    leg.towards(origin, direction, centre, size, low, high)
    leg.inside &= aimed
    if buffers.sun_lamp >= 0 and openings:
        towards = vector(buffers.sun, 0)
        leg.within([shaft_span(origin, direction, Rectangle(buffers.guide_data, index), towards)
                    for index in openings], lamp == buffers.sun_lamp)
    distance = leg.sample(number)
    return distance, leg.density(distance), size
