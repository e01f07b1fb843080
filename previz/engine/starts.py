"""Where paths begin: at a camera's pixels, or at the receptors of meters."""

from __future__ import annotations

from collections import namedtuple

import numpy as np

from previz.engine.device import on_device
from previz.engine.jit import dr, mi
from previz.stage.records import Camera, Probe

Receptor = namedtuple("Receptor", "point normal")


class CameraStart:
    """Thin-lens rays through pixels; one thread a pixel, row by row from the top.

    Parameters
    ----------
    camera : Camera
    width, height : int
        Size of the whole picture. [px]
    """

    has_receptor = False
    slots = 1

    def __init__(self, camera: Camera, width: int, height: int):
        self.width, self.height = width, height
        axes = np.asarray(camera.world_from_camera, float)
        values = [*camera.position, *axes[:, 0], *axes[:, 1], *axes[:, 2], *camera.tan_half,
                  camera.lens_radius, camera.focus, width, height]
        self.data = on_device(mi.Float, values)

    def _number(self, index):
        return dr.gather(mi.Float, self.data, mi.UInt(index))

    def _vector(self, index):
        return mi.Vector3f(*(self._number(index + k) for k in range(3)))

    def through(self, x, y, lens):
        """Return (origin, direction) of the ray through a film position.

        Parameters
        ----------
        x, y : Float
            Pixels from the left and the top.
        lens : Point2f
            Place on the unit disc of the entrance pupil.
        """
        right, up, ahead = self._vector(3), self._vector(6), self._vector(9)
        across = (2 * x / self._number(16) - 1) * self._number(12)
        upwards = (1 - 2 * y / self._number(17)) * self._number(13)
        focus, radius = self._number(15), self._number(14)
        shift = right * (lens.x * radius) + up * (lens.y * radius)
        aim = (right * across + up * upwards + ahead) * focus
        return mi.Point3f(self._vector(0) + shift), dr.normalize(aim - shift)

    def ray(self, whole, sample, rng):
        """Return a random ray of a pixel: box filter, even over the pupil."""
        row = whole // self.width
        column = whole - row * self.width
        x = mi.Float(column) + rng.next_float32()
        y = mi.Float(row) + rng.next_float32()
        lens = mi.warp.square_to_uniform_disk_concentric(
            mi.Point2f(rng.next_float32(), rng.next_float32()))
        return self.through(x, y, lens)

    def slot(self, thread, bounced):
        """Return the place of a thread's sums."""
        return thread


class Copies:
    """A camera whose picture is taken several times at once, each by threads of its own.

    Parameters
    ----------
    camera : CameraStart
    pixels : int
        Threads of one copy.
    """

    has_receptor = False
    slots = 2

    def __init__(self, camera: CameraStart, pixels: int):
        self.camera, self.pixels = camera, pixels

    def ray(self, whole, sample, rng):
        """Return a random ray of a pixel."""
        return self.camera.ray(whole % self.pixels, sample, rng)

    def slot(self, thread, bounced):
        """Return the place of a thread's sums: first what came straight, then what bounced."""
        return thread * 2 + dr.select(bounced, mi.UInt(1), mi.UInt(0))


class ProbeStart:
    """Receptors of meters; `batches` threads for each, so that their spread gives the error.

    Parameters
    ----------
    probes : sequence of Probe
    batches : int
        Threads for each probe.
    """

    has_receptor = True
    slots = 2

    def __init__(self, probes: tuple[Probe, ...], batches: int):
        self.batches = batches
        rows = [[*p.position, *p.normal, float(p.dome)] for p in probes]
        self.data = on_device(mi.Float, rows)

    def _vector(self, whole, index):
        at = (whole // self.batches) * 7 + index
        return mi.Vector3f(*(dr.gather(mi.Float, self.data, at + k) for k in range(3)))

    def _dome(self, whole):
        return dr.gather(mi.Float, self.data, (whole // self.batches) * 7 + 6) > 0.5

    def receptor(self, whole):
        """Return where a thread's receptor is and where it faces."""
        return Receptor(mi.Point3f(self._vector(whole, 0)), self._vector(whole, 3))

    def ray(self, whole, sample, rng):
        """Return the receptor itself: its first leg has no length."""
        return mi.Point3f(self._vector(whole, 0)), -self._vector(whole, 3)

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

    def slot(self, thread, bounced):
        """Return the place of a thread's sums: first what came straight, then what bounced."""
        return thread * 2 + dr.select(bounced, mi.UInt(1), mi.UInt(0))
