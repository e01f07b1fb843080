"""What each lamp of a scene gives to each region of a picture, at the colours that it may have."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from previz.errors import PrevizError
from previz.exposure.denoise import denoise
from previz.exposure.mix import mix_xyz
from previz.frames import Frames
from previz.levels.picture_model import LampTable, PictureFit
from previz.levels.picture_regions import Cells
from previz.physics.arrays import FloatArray
from previz.physics.chromatic_adaptation import BRADFORD
from previz.physics.colourtemp import cct_duv, xy_of
from previz.physics.light import LampLight, lamp_band_xyz
from previz.scene.light import Light
from previz.scene.scene import Scene
from previz.stage.outdoors import MOON, SKY, SUN
from previz.stage.records import Stage
from previz.studies.changes import Changes, LampChange, changed_scene, lamp_of

WARMEST, COOLEST = 1800.0, 10000.0
"""Colours that are tried. [K]"""

KNOTS = 12
"""Colours of each lamp that are computed; those between follow. [1]"""

OFF_LEVEL = -5.0
"""Where the search for a lamp begins that the scene has switched off. [stops from full]"""

_OWN_COLOUR = 6504.0
"""Stands for the colour of what has none, as a green tube. [K]"""


def colour_of(lamp: LampLight) -> float:
    """Return the colour of a lamp's light before its gels, at the level that it has. [mired]"""
    try:
        kelvin = float(cct_duv(xy_of(lamp.spectrum))[0])
    except ValueError:
        kelvin = _OWN_COLOUR
    return 1e6 / kelvin


def free_colour(scene: Scene, name: str) -> bool:
    """Whether the colour of a lamp may be changed: a lamp with a colour temperature, and the sky."""
    if name in (SUN, MOON):
        return False
    light = next((each for each in scene.lights if each.name == name), None)
    return name == SKY if light is None else light.cct is not None


def is_tungsten(light: Light | None) -> bool:
    """Whether a lamp gets warmer as it is dimmed."""
    return light is not None and light.spectrum == "tungsten"


def at_full(scene: Scene, stage: Stage, name: str, kelvin: float | None = None) -> LampLight:
    """Return the light of a lamp switched on at full level, at a colour or its own."""
    change = LampChange(dimmer=1.0, on=True, cct=kelvin)
    light = lamp_of(changed_scene(scene, stage, Changes({name: change})), stage, name)
    return replace(light, level=1.0, on=True)


def colours_of(scene: Scene, stage: Stage, lamp: LampLight) -> tuple[tuple[float, ...], list[LampLight]]:
    """Return the colours that a lamp may have [mired], rising and even, and its light at each.

    Tungsten at any colour is what some dimmer makes of it. A lamp that cannot have them all has those
    between its warmest and coolest; one whose colour stays has its own.
    """
    own = colour_of(lamp)
    if not free_colour(scene, lamp.name):
        return (own,), [replace(lamp, level=1.0, on=True)]

    def lit(mired: float) -> LampLight | None:
        try:
            return at_full(scene, stage, lamp.name, 1e6 / mired)
        except (PrevizError, ValueError):
            return None

    wide = np.linspace(1e6 / COOLEST, 1e6 / WARMEST, KNOTS)
    found = [lit(mired) for mired in wide]
    good = [k for k, each in enumerate(found) if each is not None]
    if len(good) < KNOTS:
        inside = [mired for mired in np.linspace(wide[0], wide[-1], 8 * KNOTS) if lit(mired) is not None]
        if len(inside) < 3:
            return (own,), [replace(lamp, level=1.0, on=True)]
        wide = np.linspace(inside[0], inside[-1], max(4, round((inside[-1] - inside[0]) / 40) + 1))
        found = [lit(mired) for mired in wide]
    return tuple(float(each) for each in wide), [each for each in found if each is not None]


def cleaning(scene: Scene, stage: Stage, frames: Frames, cells: Cells, fit: PictureFit,
             from_cones: FloatArray) -> FloatArray | None:
    """Return what the denoiser makes of the light that was found, over what it was. Shape (region, 3) [1]

    Light and colours that it moves about are moved in a still of this program, too, in the same way. None
    where it is not there.
    """
    by_name = {lamp.name: lamp for lamp in stage.lamps}
    lamps = []
    for name, level, mired in zip(frames.lights, fit.levels, fit.colours, strict=True):
        free = free_colour(scene, name)
        lamp = at_full(scene, stage, name, 1e6 / mired) if free else replace(by_name[name], on=True)
        lamps.append(replace(lamp, level=float(2.0**level)))
    to = (from_cones * 2.0**fit.gains) @ BRADFORD
    raw = np.tensordot(to, mix_xyz(frames, lamps), 1).astype(np.float32)
    clean = denoise(raw, frames)
    if not clean.applied:
        return None
    before, after = (np.stack([cells.mean(plane) for plane in planes], axis=1)
                     for planes in (raw, clean.picture))
    least = 1e-3 * np.maximum(before.max(axis=1, keepdims=True), 1e-9)
    ratio = np.clip(after / np.maximum(before, least), 0.25, 4)
    return np.where((before > least) & (after > least), ratio, 1.0)


def tables_of(scene: Scene, stage: Stage, frames: Frames,
              cells: Cells) -> tuple[list[LampTable], FloatArray]:
    """Return what each lamp gives to each region, and its noise at full level; see `picture_model.Regions`.

    Of the light as it was rendered: a denoiser moves light about, and moved a faint lamp's by a quarter stop.
    """
    bands = frames.slices.shape[1]
    by_name = {lamp.name: lamp for lamp in stage.lamps}
    tables, noise = [], []
    for number, name in enumerate(frames.lights):
        lamp = by_name[name]
        pooled = np.stack([cells.mean(plane) for plane in np.asarray(frames.slices[number])])
        mired, lights = colours_of(scene, stage, lamp)
        weights = [lamp_band_xyz(each, bands) for each in lights]
        xyz = np.stack([pooled.T @ each for each in weights])
        level = np.log2(lamp.level) if lamp.on and lamp.level > 0 else OFF_LEVEL
        tables.append(LampTable(name, xyz, mired, float(level), colour_of(lamp)))
        error = np.sqrt(cells.sum(frames.variance[number])) / cells.pixels
        noise.append(error * weights[len(weights) // 2][:, 1].sum())
    return tables, np.stack(noise)
