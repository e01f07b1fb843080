"""A goniometer for lamps of a scene: the light on many small meters, in one pass.

Lamps of one scene stand far from each other, each with meters of its own round it or on a screen before it.
"""

from dataclasses import dataclass, replace

import numpy as np
import pytest

from previz.physics.beam import AngularTable
from previz.scene.read import load
from previz.stage import shapes
from previz.stage.build import build_stage
from previz.stage.records import Emitter, Guide, Probe

LAMPS = 8
"""Lamps of a stage that is measured, where it has not more."""


def stage_of(folder, text):
    """Build the stage of a scene's text."""
    path = folder / "scene.yaml"
    path.write_text("previz: 1\n" + text, encoding="utf-8")
    return build_stage(load(path).scene())


def lamp_text(cls, name, at, **fields):
    """Text of a lamp of a kind with the fields of its sample, aimed 8 m to the north, and others changed."""
    north = ", ".join(f"{each:g} m" for each in np.add(at, (0, 8, 0)))
    aim = {"aim": f"[{north}]"} if "aim" in cls.sample else {}
    written = {**cls.sample, **aim, **fields}
    rest = "".join(f", {field}: {value}" for field, value in written.items())
    place = "" if "piece" in cls.sample else f", at: [{at[0]} m, {at[1]} m, {at[2]} m]"
    return f"  - {{name: {name}, kind: {cls.kind}{place}{rest}}}\n"


@dataclass
class Meters:
    """Meters with the area (or the solid angle times distance squared) that each stands for."""

    places: np.ndarray
    normals: np.ndarray
    areas: np.ndarray


def axes_along(direction):
    """Axes with z along a direction; x and y are left and up for a viewer along it."""
    z = np.asarray(direction, float) / np.linalg.norm(direction)
    up = np.array([0, 0, 1.0]) if abs(z[2]) < 0.9 else np.array([0, 1.0, 0])
    x = np.cross(up, z)
    x /= np.linalg.norm(x)
    return np.stack([x, np.cross(z, x), z], axis=1)


def sphere(centre, radius, direction, breaks=(0, 90, 180), order=10, around=12):
    """Meters on a sphere, facing its middle: Gauss points in the cosine between breaks [deg]."""
    directions, weights = [], []
    node, weight = np.polynomial.legendre.leggauss(order)
    for low, high in zip(breaks[:-1], breaks[1:], strict=True):
        a, b = np.cos(np.radians(high)), np.cos(np.radians(low))
        cosines = (a + b) / 2 + (b - a) / 2 * node
        for cosine, part in zip(cosines, weight * (b - a) / 2, strict=True):
            # Half a step on, so that no meter lies in a plane of symmetry.
            for turn in (np.arange(around) + 0.5) * 2 * np.pi / around:
                sine = np.sqrt(1 - cosine**2)
                directions.append((sine * np.cos(turn), sine * np.sin(turn), cosine))
                weights.append(part * 2 * np.pi / around)
    directions = np.array(directions) @ axes_along(direction).T
    return Meters(np.asarray(centre) + directions * radius, -directions, np.array(weights) * radius**2)


def even(centre, radius, count):
    """Meters spread evenly over a sphere (a golden spiral), facing its middle."""
    k = np.arange(count) + 0.5
    cosine, turn = 1 - 2 * k / count, k * np.pi * (3 - np.sqrt(5))
    sine = np.sqrt(1 - cosine**2)
    directions = np.stack([sine * np.cos(turn), sine * np.sin(turn), cosine], axis=1)
    return Meters(np.asarray(centre) + directions * radius, -directions,
                  np.full(count, 4 * np.pi * radius**2 / count))


def screen(centre, distance, direction, half, count):
    """Meters on an upright square screen before a lamp, `half` to each side, facing the lamp."""
    axes = axes_along(direction)
    step = 2 * half / count
    middles = -half + (np.arange(count) + 0.5) * step
    x, y = (each.ravel() for each in np.meshgrid(middles, middles))
    places = np.asarray(centre) + axes[:, 2] * distance + np.outer(x, axes[:, 0]) + np.outer(
        y, axes[:, 1])
    return Meters(places, np.tile(-axes[:, 2], (len(x), 1)), np.full(len(x), step**2))


def globe(centre, radius, direction, across_deg, up_deg):
    """Meters on a sphere at the middles of cells of longitude and latitude about a direction."""
    axes = axes_along(direction)
    h, v = (np.radians((np.asarray(e)[1:] + np.asarray(e)[:-1]) / 2) for e in (across_deg, up_deg))
    width = np.diff(np.radians(across_deg))
    height = np.diff(np.sin(np.radians(up_deg)))
    h, v = (each.ravel() for each in np.meshgrid(h, v))
    local = np.stack([-np.sin(h) * np.cos(v), np.sin(v), np.cos(h) * np.cos(v)], axis=1)
    directions = local @ axes.T
    return Meters(np.asarray(centre) + directions * radius, -directions,
                  np.outer(height, width).ravel() * radius**2)


def among_others(stage):
    """Return a stage with small lamps far under it, so that there are `LAMPS`, of each sort of table.

    Of which sorts lamps are, and whether there is a choice of them, is written into the kernel: so one
    serves all stages.
    """
    table = AngularTable(np.array([0.0, 60]), np.array([0.0, 180, 360]), np.ones((2, 3)))
    lamps, emitters = list(stage.lamps), list(stage.emitters)
    for number in range(len(lamps), LAMPS):
        face = shapes.rectangle((2.0 * number, 0, -300), (0.01, 0, 0), (0, 0.01, 0))
        # A lens with a focus and a body that shines all round, by turns.
        lens = number % 2 == 0
        emitters.append(Emitter(number, f"other {number}", *face, table=table, flat=lens,
                                focus=5.0 if lens else np.inf))
        lamps.append(replace(lamps[0], name=f"other {number}"))
    return replace(stage, lamps=tuple(lamps), emitters=tuple(emitters))


def alone(stage, index):
    """Return a stage with one of its lamps alone, its body and those of the others left as they are."""
    emitters = tuple(replace(each, lamp=0) for each in stage.emitters if each.lamp == index)
    return replace(stage, lamps=(stage.lamps[index],), emitters=emitters, rig=(stage.rig[index],))


def light(stage, meters, samples=16, seed=1, *, reach=None):
    """Return the illuminance that each lamp gives at each meter, per unit of its light.

    Shape (meters, lamps). Direct light, and with `reach`, a radius about each lamp [m], also what
    the bodies within it send on. One thread a meter with `samples` paths for each lamp, which
    take turns.
    """
    from previz.engine.kernel import Transport
    from previz.engine.render import Limits, luminance_weights, open_stage
    from previz.engine.starts import ProbeStart

    probes = tuple(Probe(f"{i}", place, normal) for i, (place, normal) in enumerate(
        zip(meters.places, meters.normals, strict=True)))
    # From afar a lamp is small: rays must be aimed at it to meet what its body sends on.
    guides = tuple(Guide(rig.name, rig.position, np.zeros(3), np.zeros(3), radius=radius)
                   for rig, radius in zip(stage.rig, reach or (), strict=bool(reach)))
    with pytest.MonkeyPatch.context() as patch:
        # No path that counts comes to choose a lamp: which is likely from where need not be known well.
        patch.setattr("previz.engine.choice.POINTS", 1 << 10)
        buffers = open_stage(replace(stage, probes=probes, guides=guides), 1)
    lamps = buffers.lamps
    limits = Limits(max_depth=8 if reach else 2)
    sums = Transport(buffers, ProbeStart(probes, 1), limits).run(
        0, len(probes), samples * lamps, seed)
    values = np.array(sums, float).reshape(len(probes), 2, lamps, -1) / (samples * lamps)
    values = values.sum(axis=1) if reach else values[:, 0]
    return values @ luminance_weights(1)


def light_among_others(stage, meters, samples=16):
    """Return the same, measured with the kernel of `among_others`."""
    return light(among_others(stage), meters, samples)[:, :len(stage.lamps)]


def joined(meters):
    """Return several sets of meters as one, and where each begins and ends in it."""
    ends = np.cumsum([len(each.places) for each in meters])
    whole = Meters(*(np.concatenate([getattr(each, part) for each in meters])
                     for part in ("places", "normals", "areas")))
    return whole, [slice(end - len(each.places), end)
                   for end, each in zip(ends, meters, strict=True)]
