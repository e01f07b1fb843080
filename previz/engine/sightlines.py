"""Single lines of sight: what each meets first, and the light that comes back along it.

For reports of what a picture gives away; nothing here takes part in a render.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.engine.device import on_device, vector, vectors
from previz.engine.glass import STEP, SheetHit
from previz.engine.hit import Hit, names_of
from previz.engine.jit import dr, mi
from previz.engine.kernel import Transport
from previz.engine.starts import Start
from previz.physics.bands import band_means
from previz.physics.spectra import observer

MOST_LAYERS = 16
"""Sheets of glass, back faces counted, that a line of sight is followed through."""


@dataclass(frozen=True, eq=False)
class Met:
    """What lines of sight meet first, panes and thin glass left aside.

    Parameters
    ----------
    name : int array, shape (n,)
        Index into the names of the stage's geometry; -1 where nothing is met.
    distance : float array, shape (n,)
        inf where nothing is met. [m]
    surface : int array, shape (n,)
        Index into the stage's surfaces, in their order.
    normal : float array, shape (n, 3)
        Smooth unit normal on the side that is seen.
    shines : bool array, shape (n,)
        True on the face of a lamp.
    """

    name: np.ndarray
    distance: np.ndarray
    surface: np.ndarray
    normal: np.ndarray
    shines: np.ndarray


def meet(buffers, origins, directions) -> Met:
    """Return what lines of sight meet first.

    Origins [m] and directions, which are unit vectors, are float arrays of shape (n, 3).
    """
    count = len(directions)
    if not count:
        return Met(np.zeros(0, int), np.zeros(0), np.zeros(0, int), np.zeros((0, 3)),
                   np.zeros(0, bool))
    ray = mi.Ray3f(vectors(origins, mi.Point3f), vectors(directions))
    hit = Hit(buffers, ray, dr.full(mi.Bool, True, count))
    name = names_of(buffers, hit)
    shines = hit.valid & (hit.emitter < buffers.emitters) & (hit.cos_emit > 1e-6)
    dr.eval(name, hit.distance, hit.surface, hit.normal, shines)
    return Met(np.array(name), np.array(hit.distance, float), np.array(hit.surface),
               np.array(hit.normal, float).T, np.array(shines))


@dataclass(frozen=True, eq=False)
class Crossed:
    """Thin glass of meshes that some lines of sight cross, each line once.

    Parameters
    ----------
    number : int array, shape (n,)
        Which of the lines.
    reach : float array, shape (n,)
        How far along the line. [m]
    normal : float array, shape (n, 3)
        Smooth unit normal, of either side.
    mesh : int array, shape (n,)
        Index into the stage's meshes.
    through, back : float array, shape (n,)
        Luminous share of even light that passes, and that is mirrored. [1]
    """

    number: np.ndarray
    reach: np.ndarray
    normal: np.ndarray
    mesh: np.ndarray
    through: np.ndarray
    back: np.ndarray


def cross_sheets(buffers, origins, directions, distances) -> list[Crossed]:
    """Return the thin glass that lines of sight cross: the first of each, the second, and so on.

    The lines are as for `meet`; each ends at a distance, shape (n,). [m]
    """
    layers: list[Crossed] = []
    if not buffers.has_sheets or not len(directions):
        return layers
    count = len(directions)
    origins, directions = (np.asarray(each, float) for each in (origins, directions))
    done, last = np.zeros(count), np.full(count, -1)
    going = np.ones(count, bool)
    weights = band_means(observer()[1], buffers.bands)
    weights = weights / weights.sum()
    while going.any() and len(layers) < MOST_LAYERS:
        ray = mi.Ray3f(vectors(origins + directions * done[:, None], mi.Point3f), vectors(directions))
        ray.maxt = on_device(mi.Float, distances - done)
        hit = SheetHit(buffers, ray, on_device(mi.UInt, going) > 0)
        back, through = (sum(float(w) * s for w, s in zip(weights, each, strict=True))
                         if len(each) > 1 else each[0] for each in hit.shares(buffers))
        mesh = dr.gather(mi.UInt, buffers.sheet_mesh, hit.face, hit.valid)
        dr.eval(hit.valid, hit.counts, hit.distance, hit.face, hit.normal, mesh, back, through)
        met, face, reach = np.array(hit.valid), np.array(hit.face, int), np.array(hit.distance) + done
        counted = np.flatnonzero(np.array(hit.counts) & (face != last))
        if len(counted):
            layers.append(Crossed(
                counted, reach[counted], np.array(hit.normal, float).T[counted],
                np.array(mesh, int)[counted], np.array(through, float)[counted],
                np.array(back, float)[counted]))
        place = np.abs(origins + directions * reach[:, None]).max(axis=1)
        done = np.where(met, reach + STEP * (1 + place), done)
        last, going = np.where(met, face, last), going & met
    return layers


class SightStart(Start):
    """Given lines of sight, one thread each; as for `meet`."""

    def __init__(self, origins, directions):
        self.data = on_device(mi.Float, np.concatenate([origins, directions], axis=1))

    def ray(self, whole, sample, rng):
        """Return the line itself, the same for every sample."""
        return vector(self.data, whole * 6, mi.Point3f), vector(self.data, whole * 6 + 3)


def radiance(buffers, origins, directions, samples: int, seed: int) -> np.ndarray:
    """Return the light that comes back along lines of sight, by so many paths along each.

    The lines are as for `meet`; the light is for one unit of each lamp, as a frame's slices are, of
    shape (n, lamp, band). [1/(m² sr) or 1/sr]
    """
    count = len(directions)
    shape = (count, buffers.lamps, buffers.bands)
    if not count:
        return np.zeros(shape)
    transport = Transport(buffers, SightStart(np.asarray(origins, float),
                                              np.asarray(directions, float)))
    return np.array(transport.run(0, count, samples, seed), float).reshape(shape) / samples
