"""Light that curved mirrors and glass throw and that no path has met: how much there may be.

Lamps cannot be sampled through a curved mirror or a body of glass, so only paths that happen to end
on one meet it. Of a small lamp that may be one path in millions, so that a meter has no such path,
and no spread that would show it. In a twin of the stage whose curved mirrors are a little rough,
lamps are sampled from them as from any other surface, and through its glass, which is thin there:
what the twin's meter reads more or less is such light. Whether the meter should have met it follows
from the brightest that one path can be.

Source
------
Roughening what light sampling cannot reach: path space regularisation, Kaplanyan and Dachsbacher 2013 (from
memory). There it takes the light's place; here it only says how much is at stake.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from previz.engine.gloss_rows import is_smooth
from previz.engine.mirrors import is_flat
from previz.physics.triangles import areas
from previz.stage.records import Mesh, Stage, Surface

MIRRORING = 0.2
"""Reflectance, straight on, from which a smooth surface counts as one that throws light. [1]"""

ROUGHENED = 0.12
"""GGX width in the twin; light spreads by some 14°, as it does off any curved body. [1]"""

THINNED = 0.003
"""Thickness of the twin's glass. [m]"""

TWIN_PATHS = 1 << 17
"""Paths of a meter in the twin."""

SURE_HITS = 8.0
"""Paths that are expected to meet it, from which none is missed: all eight are once in three thousand. [1]"""

SEEN = 2.0
"""Standard errors from which twin and stage differ. [1]"""


def throws_unsampled(surface: Surface, mesh: Mesh) -> bool:
    """Return whether a mesh throws light that light sampling cannot reach.

    Curved mirrors and bodies of glass do; flat mirrors are sampled, see `images`.
    """
    if surface.glass is not None:
        return not surface.is_sheet
    mirrors = surface.gloss > 0 and is_smooth(surface) and surface.specular.max() > MIRRORING
    return mirrors and not is_flat(surface, mesh)


def throws(stage: Stage) -> bool:
    """Return whether anything of a stage throws light that light sampling cannot reach."""
    return any(throws_unsampled(stage.surfaces[mesh.surface], mesh) for mesh in stage.meshes)


def twin_of(stage: Stage) -> Stage | None:
    """Return the stage with curved mirrors a little rough and glass thin, None where it has none."""
    surfaces, meshes = dict(stage.surfaces), []
    for mesh in stage.meshes:
        surface = stage.surfaces[mesh.surface]
        if throws_unsampled(surface, mesh):
            other = _other(surface)
            surfaces[other.name] = other
            mesh = replace(mesh, surface=other.name)
        meshes.append(mesh)
    if len(surfaces) == len(stage.surfaces):
        return None
    return replace(stage, surfaces=surfaces, meshes=tuple(meshes))


def _other(surface: Surface) -> Surface:
    """Return what a surface is in the twin."""
    if surface.glass is not None:
        return replace(surface, name=f"{surface.name}, thin",
                       glass=replace(surface.glass, thickness=THINNED, closed=True))
    return replace(surface, name=f"{surface.name}, roughened", roughness=ROUGHENED, across=None)


def brightest(stage: Stage) -> np.ndarray:
    """Return the luminance that each lamp's own face shows at most, per unit of the lamp.

    Shape (light,) [1/(m² sr), or 1/sr per lux]; 0 for the sky, which paths meet anyway.
    """
    found = np.zeros(len(stage.lamps))
    for each in stage.emitters:
        area = areas(each.vertices[each.faces]).sum()
        lambert = each.share / (np.pi * area)
        peak = lambert if each.table is None else max(
            lambert, each.share * float(np.max(each.table.values)) / area)
        found[each.lamp] = max(found[each.lamp], peak)
    if stage.sun is not None:
        radius = np.radians(stage.sun.angle_deg / 2)
        found[stage.sun.lamp] = 1 / (2 * np.pi * (1 - np.cos(radius)))
    return found


def at_stake(own, twin) -> np.ndarray:
    """Return the light that is thrown by curved mirrors, where it stands out from noise.

    Means of batches with the same random numbers, shape (meter, batch, light), give shape (meter, light).
    """
    gap = np.asarray(twin) - own
    error = gap.std(axis=1, ddof=1) / np.sqrt(gap.shape[1])
    size = np.abs(gap.mean(axis=1))
    return np.where(size > SEEN * error, size, 0.0)


def missed(stake, paths, hit_gain) -> np.ndarray:
    """Return what of that light no path may have met.

    Parameters
    ----------
    stake : float array, shape (meter, light)
        As `at_stake` gives it.
    paths : int array, shape (meter,)
        Paths of each meter.
    hit_gain : float array, shape (light,)
        What one path that meets it adds to the sum over the paths.

    Returns
    -------
    float array, shape (meter, light)
        All of it where fewer than `SURE_HITS` are to be expected, else 0.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        hits = np.asarray(paths)[:, None] * stake / hit_gain
    return np.where(hits < SURE_HITS, stake, 0.0)
