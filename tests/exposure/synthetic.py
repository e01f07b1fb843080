"""A picture made by arithmetic: a wall, a floor and two balls under two lamps and a little fill.

It stands in for a render where a test needs something like one. Everything is
invented; the light follows Lambert and the inverse square, in bands, per lumen.
"""

from __future__ import annotations

import numpy as np

from previz.frames import Frames
from previz.physics.bands import band_edges, band_means
from previz.physics.blackbody import radiance
from previz.physics.daylight import daylight_spectrum
from previz.physics.light import LampLight
from previz.physics.spectra import WAVELENGTHS_NM, normalise

NAMES = ("back wall", "floor", "clerk", "lever handle")
CAMERA = np.array([0.0, -5.0, 1.3])
BALLS = (
    ("clerk", np.array([-0.5, 0.2, 1.25]), 0.62),
    ("lever handle", np.array([1.2, 0.6, 0.5]), 0.3),
)
LAMPS = {"window": np.array([-2.6, -1.2, 2.6]), "desk lamp": np.array([1.8, -0.6, 1.1])}


def lamps(levels=(1.0, 1.0), on=(True, True)):
    """Return the two lamps: daylight through a window, and a tungsten desk lamp."""
    spectra = (daylight_spectrum(5600.0), normalise(radiance(WAVELENGTHS_NM, 2800.0)))
    return tuple(
        LampLight(name, "lm", output, spectrum, np.ones(81), level, lit)
        for name, output, spectrum, level, lit in zip(
            LAMPS, (16000.0, 1500.0), spectra, levels, on, strict=True
        )
    )


def _reflectances(bands):
    ramp = (WAVELENGTHS_NM - 380) / 400
    curves = {
        "back wall": 0.30 + 0.15 * np.exp(-(((WAVELENGTHS_NM - 540) / 60) ** 2)),
        "floor": 0.06 + 0.16 * ramp,
        "clerk": 0.12 + 0.45 / (1 + np.exp(-(WAVELENGTHS_NM - 585) / 18)),
        "lever handle": 0.04 + 0.66 / (1 + np.exp(-(WAVELENGTHS_NM - 610) / 8)),
    }
    return np.stack([band_means(curves[name], bands) for name in NAMES]), curves


def _cast(rows, columns):
    """Return position, normal and thing of what each pixel sees."""
    tan = 0.42
    x = np.linspace(-tan, tan, columns)[None, :].repeat(rows, 0)
    z = np.linspace(tan, -tan, rows)[:, None].repeat(columns, 1) * rows / columns
    direction = np.stack([x, np.ones_like(x), z - 0.05])
    wall = np.full(x.shape, 7.0)
    floor = np.where(direction[2] < 0, -CAMERA[2] / np.minimum(direction[2], -1e-9), np.inf)
    distance = np.minimum(wall, floor)
    thing = np.where(floor < wall, 1, 0)
    normal = np.zeros((3, rows, columns))
    normal[1] = np.where(thing == 0, -1, 0)
    normal[2] = np.where(thing == 1, 1, 0)
    for name, centre, radius in BALLS:
        from_centre = CAMERA - centre
        a = (direction**2).sum(0)
        b = 2 * np.tensordot(from_centre, direction, 1)
        root = b * b - 4 * a * (from_centre @ from_centre - radius**2)
        near = np.where(root > 0, (-b - np.sqrt(np.maximum(root, 0))) / (2 * a), np.inf)
        hit = near < distance
        distance = np.where(hit, near, distance)
        thing = np.where(hit, NAMES.index(name), thing)
        point = CAMERA[:, None, None] + direction * near
        normal = np.where(hit, (point - centre[:, None, None]) / radius, normal)
    return CAMERA[:, None, None] + direction * distance, normal, thing, distance


def _shadowed(point, source):
    towards = source[:, None, None] - point
    blocked = np.zeros(point.shape[1:], dtype=bool)
    for _, centre, radius in BALLS:
        offset = point - centre[:, None, None]
        a = (towards**2).sum(0)
        b = 2 * (offset * towards).sum(0)
        root = b * b - 4 * a * ((offset**2).sum(0) - radius**2)
        near = (-b - np.sqrt(np.maximum(root, 0))) / (2 * a)
        blocked |= (root > 0) & (near > 1e-3) & (near < 1)
    return blocked


def frames(rows=90, columns=160, bands=12, noise=0.0, seed=1):
    """Return the picture as frames, with multiplicative noise on request."""
    point, normal, thing, distance = _cast(rows, columns)
    reflectance, curves = _reflectances(bands)
    slices = np.empty((len(LAMPS), bands, rows, columns), dtype=np.float32)
    for number, source in enumerate(LAMPS.values()):
        towards = source[:, None, None] - point
        square = (towards**2).sum(0)
        cosine = np.clip((normal * towards).sum(0) / np.sqrt(square), 0, None)
        direct = np.where(_shadowed(point, source), 0, cosine / square) / (4 * np.pi)
        lit = direct + 0.004 * (0.6 + 0.4 * normal[2])
        slices[number] = reflectance[thing].transpose(2, 0, 1) * lit / np.pi
    if noise:
        random = np.random.default_rng(seed)
        grain = random.gamma(1 / noise**2, noise**2, (len(LAMPS), 1, rows, columns))
        slices *= grain.astype(np.float32)
    albedo = np.stack([curves[name][[44, 34, 14]] for name in NAMES])[thing].transpose(2, 0, 1)
    return Frames(
        slices=slices,
        variance=(slices.mean(axis=1) * noise) ** 2,
        albedo=albedo.astype(np.float32),
        normal=normal.astype(np.float32),
        depth=distance.astype(np.float32),
        names_index=thing.astype(np.int32),
        lights=tuple(LAMPS),
        names=NAMES,
        band_edges_nm=band_edges(bands),
        samples=64,
        seed=seed,
        camera={"name": "A", "stop": 2.8, "aspect": columns / rows},
        transport_hash="0123abcd",
        version="test",
    )
