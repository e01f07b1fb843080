"""First hits of a camera: albedo and normal for denoising, depth and names for reports."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.engine.device import generator, vector
from previz.engine.frozen import launch
from previz.engine.hit import Hit, names_of
from previz.engine.jit import dr, mi
from previz.engine.shading import Vertex
from previz.engine.starts import CameraStart
from previz.engine.tables import NONE
from previz.engine.upload import Buffers
from previz.physics.bands import band_xyz
from previz.physics.chromatic_adaptation import REC709_FROM_XYZ
from previz.physics.daylight import daylight_spectrum
from previz.physics.spectra import normalise


def rec709_from_bands(bands: int) -> np.ndarray:
    """Return the matrix from a banded reflectance under D65 to linear Rec. 709. Shape (3, bands)."""
    xyz = band_xyz(normalise(daylight_spectrum(6504.0)), bands)
    return REC709_FROM_XYZ @ (xyz / xyz[:, 1].sum()).T


def _albedo(buffers, vertex, matrix):
    """Return the linear Rec. 709 albedo of a vertex, gloss included."""
    total = list(vertex.reflectance)
    if buffers.has_transmission:
        total = [r + t for r, t in zip(total, vertex.transmission, strict=True)]
    if buffers.has_gloss:
        shine = vertex.of_gloss(lambda f0: vertex.gloss * f0)
        total = [t + s for t, s in zip(total, shine, strict=True)]
    channels = [sum(float(matrix[c][b]) * total[b] for b in range(buffers.bands))
                for c in range(3)]
    return mi.Color3f(*(dr.clip(c, 0, 1) for c in channels))


def render_planes(buffers, start, samples: int, seed: int) -> dict[str, np.ndarray]:
    """Return the planes of one camera.

    Albedo and normal take so many samples a pixel, spread over pixel and pupil as the render's are.

    Returns
    -------
    dict
        'albedo', 'normal' (3, rows, columns); 'depth' along the axis [m] and 'names_index'
        (rows, columns), both through the pixel's centre and the middle of the pupil.
    """
    count, grid = start.width * start.height, (start.height, start.width)
    *means, depth, names = launch(_planes, Planes(buffers, start), count, dr.opaque(mi.UInt, samples),
                                  dr.opaque(mi.UInt, seed))
    albedo, normal = (np.array(each).reshape(3, *grid) / np.float32(max(samples, 1)) for each in means)
    return {"albedo": albedo, "normal": normal, "depth": np.array(depth).reshape(grid),
            "names_index": np.array(names).astype(np.int32).reshape(grid)}


@dataclass
class Planes:
    """What the planes of one camera are traced from."""

    buffers: Buffers
    start: CameraStart


def _planes(planes: Planes, count: int, samples, seed):
    """Return (sum of albedo, sum of normals, depth, name) of pixels."""
    buffers, start = planes.buffers, planes.start
    whole = dr.arange(mi.UInt, count)
    rng = generator(seed, whole)
    matrix = rec709_from_bands(buffers.bands)

    def body(sample, rng, albedo, normal):
        colour, facing = _seen(buffers, *start.ray(whole, mi.UInt(0), rng), matrix)
        return sample + 1, rng, albedo + colour, normal + facing

    zero = dr.zeros(mi.Float, count)
    _, _, albedo, normal = dr.while_loop(
        state=(mi.UInt(0), rng, mi.Color3f(zero), mi.Vector3f(zero)),
        cond=lambda sample, *_: sample < samples, body=body, label="planes")
    origin, direction = start.middles()
    hit = Hit(buffers, mi.Ray3f(origin, direction), mi.Bool(True))
    depth = hit.distance * dr.dot(direction, vector(start.data, 9))
    return albedo, normal, depth, names_of(buffers, hit)


def _seen(buffers, origin, direction, matrix):
    """Return (albedo, normal) of what rays meet first."""
    hit = Hit(buffers, mi.Ray3f(origin, direction), mi.Bool(True))
    vertex = Vertex(buffers, hit.surface, hit.normal, hit.side, -direction, hit.uv, hit.valid,
                    level=hit.level, tangents=hit.tangents, tile=hit.tile)
    colour = _albedo(buffers, vertex, matrix)
    # A lamp's own face and the open sky are full white to the denoiser.
    bright = ~hit.valid | (hit.emitter != NONE)
    if buffers.has_bodies:
        # So is glass, of which most is what lies behind it.
        bright |= hit.valid & (dr.gather(mi.Float, buffers.body_ior, hit.surface, hit.valid) > 0)
    return dr.select(bright, 1, colour), dr.select(hit.valid, hit.normal, 0)
