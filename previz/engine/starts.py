"""Where paths begin: at a camera's pixels, or at the receptors of meters."""

from __future__ import annotations

import numpy as np

from previz.engine.device import number, on_device, vector
from previz.engine.jit import dr, mi
from previz.physics.taking import Iris
from previz.stage.records import Camera, Probe


class Start:
    """Where the paths of each thread begin, and where their light is summed.

    With two `slots` what came straight from a lamp is kept from what bounced.
    """

    has_receptor = False
    slots = 1

    def slot(self, thread, bounced):
        """Return the place of a thread's sums: with two, first what came straight."""
        if self.slots == 1:
            return thread
        return thread * 2 + dr.select(bounced, mi.UInt(1), mi.UInt(0))


class CameraStart(Start):
    """Thin-lens rays through the pixels of a picture; one thread a pixel, row by row from the top."""

    def __init__(self, camera: Camera, width: int, height: int):
        self.width, self.height = width, height
        # Read by the kernel, not compiled into it: pictures of every width share one kernel.
        self.columns = dr.opaque(mi.UInt, width)
        axes = np.asarray(camera.world_from_camera, float)
        values = [*camera.position, *axes[:, 0], *axes[:, 1], *axes[:, 2], *camera.tan_half,
                  camera.lens_radius, camera.focus, width, height]
        self.bladed = camera.iris is not None and camera.lens_radius > 0
        if self.bladed:
            values += _polygon(camera.iris)
        self.data = on_device(mi.Float, values)

    def through(self, x, y, lens):
        """Return (origin, direction) of the ray through a film position.

        `x` and `y` are pixels from the left and the top; `lens` is a place on the unit disc of the
        entrance pupil, a Point2f.
        """
        data = self.data
        right, up, ahead = (vector(data, k) for k in (3, 6, 9))
        across = (2 * x / number(data, 16) - 1) * number(data, 12)
        upwards = (1 - 2 * y / number(data, 17)) * number(data, 13)
        focus, radius = number(data, 15), number(data, 14)
        shift = right * (lens.x * radius) + up * (lens.y * radius)
        aim = (right * across + up * upwards + ahead) * focus
        return mi.Point3f(vector(data, 0) + shift), dr.normalize(aim - shift)

    def _corner(self, whole):
        row = whole // self.columns
        return mi.Float(whole - row * self.columns), mi.Float(row)

    def middles(self):
        """Return the rays through the middles of all pixels and of the lens."""
        x, y = self._corner(dr.arange(mi.UInt, self.width * self.height))
        return self.through(x + 0.5, y + 0.5, mi.Point2f(0))

    def ray(self, whole, sample, rng):
        """Return a random ray of a pixel: box filter, even over the pupil."""
        x, y = self._corner(whole)
        x, y = x + rng.next_float32(), y + rng.next_float32()
        where = mi.Point2f(rng.next_float32(), rng.next_float32())
        lens = self._on_blades(where) if self.bladed else mi.warp.square_to_uniform_disk_concentric(where)
        return self.through(x, y, lens)

    def _on_blades(self, where):
        """Return a place on an opening of straight blades, even over its area, by a place in a square."""
        data = self.data
        blades, turn, radius, wedge = (number(data, 18 + k) for k in range(4))
        # Of the wedge between two corners and the middle; each has as much of the square's width.
        at = where.x * blades
        corner = dr.minimum(dr.floor(at), blades - 1)
        out, aside = radius * dr.sqrt(where.y), dr.clip(at - corner, 0, 1)
        from_sine, from_cosine = dr.sincos(turn + corner * wedge)
        to_sine, to_cosine = dr.sincos(turn + (corner + 1) * wedge)
        return mi.Point2f(out * dr.lerp(from_sine, to_sine, aside),
                          out * dr.lerp(from_cosine, to_cosine, aside))


def _polygon(iris: Iris) -> list[float]:
    """Return blades, turn, distance of a corner from the middle and angle between corners of a pupil.

    Its area is that of the unit disc. [1], [rad], [1], [rad]
    """
    wedge = 2 * np.pi / iris.blades
    return [iris.blades, np.radians(iris.turn_deg), np.sqrt(wedge / np.sin(wedge)), wedge]


class Copies(Start):
    """A camera whose picture is taken several times at once, each by so many threads of its own."""

    slots = 2

    def __init__(self, camera: CameraStart, pixels: int):
        self.camera, self.pixels = camera, dr.opaque(mi.UInt, pixels)

    def ray(self, whole, sample, rng):
        """Return a random ray of a pixel."""
        return self.camera.ray(whole % self.pixels, sample, rng)


class ProbeStart(Start):
    """Receptors of meters; `batches` threads for each, so that their spread gives the error."""

    has_receptor = True
    slots = 2

    def __init__(self, probes: tuple[Probe, ...], batches: int):
        self.batches = batches
        rows = [[*p.position, *p.normal, float(p.dome)] for p in probes]
        self.data = on_device(mi.Float, rows)

    def _dome(self, whole):
        return number(self.data, (whole // self.batches) * 7 + 6) > 0.5

    def receptor(self, whole):
        """Return (where a thread's receptor is, where it faces)."""
        at = (whole // self.batches) * 7
        return vector(self.data, at, mi.Point3f), vector(self.data, at + 3)

    def ray(self, whole, sample, rng):
        """Return the receptor itself: its first leg has no length."""
        point, normal = self.receptor(whole)
        return point, -normal

    def response(self, whole, normal, direction):
        """Return (weight of light from a direction, pdf of `sample` for it)."""
        cosine = dr.dot(normal, direction)
        flat = dr.maximum(cosine, 0)
        dome = 0.5 * (1 + cosine)
        is_dome = self._dome(whole)
        return (dr.select(is_dome, dome, flat),
                dr.select(is_dome, dome * dr.inv_two_pi, flat * dr.inv_pi))

    def sample(self, whole, normal, point):
        """Draw a direction in proportion to the receptor's response."""
        flat = mi.warp.square_to_cosine_hemisphere(point)
        cosine = 2 * dr.sqrt(point.x) - 1
        sine = dr.safe_sqrt(1 - dr.square(cosine))
        s, c = dr.sincos(dr.two_pi * point.y)
        dome = mi.Vector3f(sine * c, sine * s, cosine)
        local = dr.select(self._dome(whole), dome, mi.Vector3f(flat))
        return mi.Frame3f(normal).to_world(local)
