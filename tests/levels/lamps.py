"""Lamps and meters as numbers, for what is worked out of them."""

import numpy as np

from previz.levels.moves import LampMove
from previz.levels.response import Response
from previz.physics.blackbody import radiance
from previz.physics.light import LampLight, lamp_band_xyz
from previz.physics.spectra import WAVELENGTHS_NM

BANDS = 8


def black(name, kelvin=3200.0):
    """Return a black body of one lux for a level of 1."""
    spectrum, clear = radiance(WAVELENGTHS_NM, kelvin), np.ones(WAVELENGTHS_NM.size)
    lux = lamp_band_xyz(LampLight(name, "lm", 1.0, spectrum, clear), BANDS)[:, 1].sum()
    return LampLight(name, "lm", 1.0, spectrum / lux, clear)


def answer_to(direct, bounced=None, noise=0.0, batches=16, seed=1):
    """Return a response of so many lux at full, rows are meters, columns lamps."""
    direct = np.array(direct, float)
    both = np.stack([direct, np.zeros_like(direct) if bounced is None else np.array(bounced, float)], axis=-1)
    spread = np.random.default_rng(seed).normal(size=(batches, *both.shape))
    light = both * (1 + noise * np.sqrt(batches) * (spread - spread.mean(axis=0)))
    light = np.moveaxis(light, 0, 1)[..., None] * np.ones(BANDS)
    meters, lamps = (tuple(f"{what} {n}" for n in range(count)) for what, count in
                     zip(("meter", "lamp"), direct.shape, strict=True))
    return Response(meters, lamps, light)


def lamp(number, level=0.5, kelvin=3200.0, **more):
    """Return what may move of a lamp of one colour."""
    name = f"lamp {number}"
    return LampMove(name, (black(name, kelvin),), (f"{kelvin:g} K",), level, **more)


def ranged(number, warm=2700.0, cool=6500.0, now=3200.0, level=0.5, **more):
    """Return what may move of a lamp with a range of colours."""
    name = f"lamp {number}"
    mired = np.union1d(np.arange(1e6 / cool, 1e6 / warm, 5.0), [1e6 / warm, 1e6 / now])
    colours = tuple(black(name, 1e6 / each) for each in mired)
    words = tuple(f"{1e6 / each:.0f} K" for each in mired)
    return LampMove(name, colours, words, level, colour=int(np.argmin(np.abs(mired - 1e6 / now))),
                    mired=tuple(mired), **more)


def levels(answer):
    return np.array([each.level for each in answer.settings])


def misses(answer):
    return np.array([each.miss for each in answer.readings])
