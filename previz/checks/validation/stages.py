"""Small stages whose light is known in closed form."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.engine.probe import ProbeJob
from previz.engine.render import Limits, open_stage
from previz.physics.light import LampLight
from previz.physics.spectra import normalise
from previz.stage import shapes
from previz.stage.records import Camera, Emitter, Mesh, Probe, Stage, Surface

ONES = np.ones(81)
EQUAL_ENERGY = normalise(ONES)
DOWN, UP = np.array([0.0, 0.0, -1.0]), np.array([0.0, 0.0, 1.0])
GREY = "grey"


def lamp(output: float = 1.0, unit: str = "lm", spectrum=EQUAL_ENERGY) -> LampLight:
    """Return a lamp that is the same in all bands."""
    return LampLight("lamp", unit, output, spectrum, ONES)


def grey(reflectance: float) -> Surface:
    """Return a matt surface."""
    return Surface(GREY, reflectance * ONES, 0 * ONES, 0 * ONES)


def emitter(solid, at=(0, 0, 0), direction=UP, **more) -> Emitter:
    """Return an emitting solid whose own z points along a direction.

    Parameters
    ----------
    solid : (vertices, faces)
        As the functions of `shapes` give it.
    at, direction : float array, shape (3,)
        Where its origin is [m], and its direction.
    **more
        As in `Emitter`.
    """
    placed = shapes.place(solid, shapes.aimed(np.asarray(direction, float)), np.asarray(at, float))
    return Emitter(0, "lamp", *placed, **more)


def sheet(width: float, height: float, centre, direction=DOWN, name: str = "sheet") -> Mesh:
    """Return a flat rectangle of the grey surface."""
    face = shapes.rectangle((0, 0, 0), (width / 2, 0, 0), (0, height / 2, 0))
    axes = shapes.aimed(np.asarray(direction, float))
    return Mesh(name, GREY, *shapes.place(face, axes, np.asarray(centre, float)))


def closed_box(size: float) -> tuple[np.ndarray, np.ndarray]:
    """Return a cube from the origin that is seen from inside."""
    vertices, faces = shapes.box((0, 0, 0), (size, size, size))
    return vertices, faces[:, ::-1]


def probe(at, normal=UP, name: str = "") -> Probe:
    """Return a flat meter."""
    facing = np.asarray(normal, float)
    return Probe(name or f"{at} {normal}", np.asarray(at, float), facing / np.linalg.norm(facing))


def camera(at, target) -> Camera:
    """Return a narrow pinhole camera."""
    at = np.asarray(at, float)
    left, up, ahead = shapes.aimed(np.asarray(target, float) - at).T
    return Camera("A", np.stack([-left, up, ahead], axis=1), at, (0.1, 0.1), 1.0, 0.0, 1.0, 2.8,
                  800, 1 / 48, 0.0, 5600.0, 0.0, 0.05, (0.01, 0.01))


def stage(emitters=(), meshes=(), surface=None, light=None, probes=(), **more) -> Stage:
    """Return a stage of one lamp and one surface."""
    surface = surface or grey(0.5)
    return Stage("closed form", {surface.name: surface}, tuple(meshes), (light or lamp(),),
                 tuple(emitters), probes=tuple(probes), **more)


@dataclass(frozen=True)
class Reading:
    """What the meters of a stage read.

    Parameters
    ----------
    value, error : float array, shape (probe, 2)
        [direct, bounced] and their standard errors. [lx]
    total, total_error : float array, shape (probe,)
        [lx]
    """

    value: np.ndarray
    error: np.ndarray
    total: np.ndarray
    total_error: np.ndarray


def measure(built: Stage, backend: str, precision: float = 0.001, *, max_depth: int = 64,
            most_rounds: int = 200) -> Reading:
    """Run the meters of a stage of one lamp through the engine, in one band."""
    job = ProbeJob(open_stage(built, 1, backend), built, limits=Limits(max_depth))
    job.run(precision, most_rounds)
    parts = np.einsum("mklpb,lb->mkp", job.batches.means, job.weights)
    count = np.sqrt(parts.shape[1])
    both = parts.sum(axis=2)
    return Reading(parts.mean(axis=1), parts.std(axis=1, ddof=1) / count, both.mean(axis=1),
                   both.std(axis=1, ddof=1) / count)
