"""What lies outside: gravel, asphalt, grass, earth, snow, and water."""

from __future__ import annotations

import numpy as np

from previz.stage.patterns.drawn import Canvas, Drawn, draws
from previz.stage.patterns.noise import cells


@draws("gravel")
def gravel(size: float) -> Drawn:
    """Loose broken stones, small ones between large; `size` is a stone's width. [m]"""
    counts = 40, 40
    canvas = Canvas((40 * size, 40 * size), 400, 400, 51)
    _, gap, aside, number = cells(canvas.u, canvas.v, canvas.size, counts, 51, 1.0)
    rough = canvas.noise.band(0.15 * size, 1.2 * size, slope=0.6)
    depth = np.clip(gap / (0.45 * size), 0, 1)
    dome = 1 - (1 - depth) ** 2
    lean = [(canvas.lot(k, number) - 0.5) * 0.9 for k in (1, 2)]
    # Some lie deep between their neighbours, in shade.
    deep = canvas.lot(3, number)
    height = 0.30 * size * dome + lean[0] * aside[0] + lean[1] * aside[1] + 0.02 * size * rough
    tone = (0.60 + 0.62 * canvas.lot(4, number)) * (0.42 + 0.58 * dome) * (0.72 + 0.36 * np.sqrt(deep))
    return Drawn(canvas.size, height, tone * (1 + 0.08 * rough))


@draws("asphalt")
def asphalt(size: float) -> Drawn:
    """Rolled stone in tar, worn by wheels; `size` is a stone's width. [m]"""
    counts = 64, 64
    canvas = Canvas((64 * size, 64 * size), 384, 384, 52)
    _, gap, aside, number = cells(canvas.u, canvas.v, canvas.size, counts, 52, 1.0)
    stone = np.clip(gap / (0.35 * size) - 0.15, 0, 1)
    shown = canvas.lot(1, number) > 0.35
    lean = [(canvas.lot(k, number) - 0.5) * 0.35 for k in (2, 3)]
    height = stone * shown * (0.22 * size + lean[0] * aside[0] + lean[1] * aside[1])
    clouds = canvas.noise.band(8 * size, 60 * size)
    tone = 0.75 + stone * shown * (0.1 + 0.7 * canvas.lot(4, number) ** 2)
    return Drawn(canvas.size, height, tone * (1 + 0.06 * clouds), roughness=1.2 - 0.35 * stone * shown)


@draws("grass")
def grass(size: float) -> Drawn:
    """Mown turf: blades in tufts, seen from above; `size` is how wide a tuft is. [m]"""
    canvas = Canvas((48 * size, 48 * size), 448, 448, 53)
    noise = canvas.noise
    one = noise.band(0.10 * size, 0.9 * size, slope=0.3, along=5.0)
    two = np.roll(noise.band(0.10 * size, 0.9 * size, slope=0.3, up=5.0), (131, 57), (0, 1))
    clumps = noise.band(0.6 * size, 8 * size, slope=0.9)
    blades = np.where(one > two, one, two)
    height = 0.05 * size * blades + 0.18 * size * clumps
    tone = np.clip(1 + 0.24 * (blades - 0.5) + 0.13 * clumps, 0.25, 2)
    return Drawn(canvas.size, height, tone)


@draws("earth")
def earth(size: float) -> Drawn:
    """Bare ground: clods and small stones; `size` is a clod's width. [m]"""
    canvas = Canvas((60 * size, 60 * size), 448, 448, 54)
    clods = canvas.noise.band(0.4 * size, 12 * size, slope=0.8)
    crumbs = canvas.noise.band(0.25 * size, 1.5 * size, slope=0.2)
    broad = canvas.noise.band(4 * size, 40 * size, slope=1.2)
    height = size * (0.10 * np.tanh(clods) + 0.025 * crumbs)
    return Drawn(canvas.size, height, np.clip(1 + 0.13 * clods + 0.08 * crumbs + 0.06 * broad, 0.3, 2))


@draws("snow")
def snow(size: float) -> Drawn:
    """Snow that the wind has laid; `size` is from one swell to the next. [m]"""
    canvas = Canvas((8 * size, 8 * size), 448, 448, 55)
    swells = canvas.noise.band(0.15 * size, 2 * size, slope=1.6, along=1.6)
    grains = canvas.noise.band(0.02 * size, 0.15 * size, slope=0.2)
    return Drawn(canvas.size, size * (0.011 * swells + 0.0009 * grains), 1 + 0.006 * swells + 0.008 * grains)


@draws("ripples")
def ripples(size: float) -> Drawn:
    """Small waves of a light wind along u; `size` is from crest to crest. [m]"""
    canvas = Canvas((16 * size, 16 * size), 320, 320, 56)
    height = np.zeros((canvas.rows, canvas.columns))
    for number in range(36):
        long = 0.45 * 4.5 ** canvas.lot(1, number)[0]
        turn = 1.6 * (canvas.lot(2, number)[0] - 0.5)
        # Whole waves over the tile, or it would have a seam.
        waves = [round(16 / long * part) for part in (np.cos(turn), np.sin(turn))]
        phase = 2 * np.pi * (waves[0] * canvas.u / canvas.size[0] + waves[1] * canvas.v / canvas.size[1]
                             + canvas.lot(3, number)[0])
        height += long**1.3 * np.sin(phase)
    return Drawn(canvas.size, 0.0022 * size * height)
