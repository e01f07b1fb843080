"""Metals, rust and worn finishes, and hard floors with flecks."""

from __future__ import annotations

import numpy as np

from previz.stage.patterns.drawn import Canvas, Drawn, draws
from previz.stage.patterns.noise import cells


def patches(canvas: Canvas, worn: float, field: np.ndarray) -> np.ndarray:
    """Return a mask of patches where a field is highest, which cover the share `worn` of the tile. [1]"""
    if worn <= 0:
        return np.zeros_like(field)
    limit = np.quantile(field, 1 - min(worn, 1.0))
    return np.clip(0.5 + (field - limit) * 6.0, 0, 1)


@draws("brushed")
def brushed(size: float) -> Drawn:
    """Metal brushed along u; `size` is how long a scratch is. [m]"""
    canvas = Canvas((6 * size, 3 * size), 320, 512, 61)
    hairs = canvas.noise.band(0.012 * size, 0.12 * size, slope=0.2, along=40.0)
    clouds = canvas.noise.band(0.3 * size, 2 * size, along=3.0)
    return Drawn(canvas.size, 0.00012 * size * hairs, 1 + 0.02 * hairs,
                 roughness=np.clip(1 + 0.12 * hairs + 0.06 * clouds, 0.5, 2))


@draws("sheet metal")
def sheet_metal(size: float) -> Drawn:
    """Sheet that is nowhere quite flat; `size` is from one dent to the next. [m]"""
    canvas = Canvas((12 * size, 12 * size), 320, 320, 62)
    dents = canvas.noise.band(0.5 * size, 4 * size, slope=1.8)
    fine = canvas.noise.band(0.06 * size, 0.5 * size, slope=0.5)
    smears = canvas.noise.band(0.15 * size, 3 * size)
    return Drawn(canvas.size, size * (0.0022 * dents + 0.00012 * fine), 1 + 0.02 * smears,
                 roughness=np.clip(1 + 0.16 * smears + 0.08 * fine, 0.4, 2.5))


@draws("spangle")
def spangle(size: float) -> Drawn:
    """The crystals of a zinc coat; `size` is a crystal's width. [m]"""
    canvas = Canvas((32 * size, 32 * size), 384, 384, 63)
    _, gap, aside, number = cells(canvas.u, canvas.v, canvas.size, (32, 32), 63, 1.0)
    lean = [(canvas.lot(k, number) - 0.5) * 0.05 for k in (1, 2)]
    height = lean[0] * aside[0] + lean[1] * aside[1]
    return Drawn(canvas.size, height * np.clip(gap / (0.2 * size), 0, 1), 0.9 + 0.2 * canvas.lot(3, number),
                 roughness=0.75 + 0.5 * canvas.lot(4, number))


@draws("rust")
def rust(size: float) -> Drawn:
    """Iron that is rusted through: blotches, scale and pits; `size` is a blotch's width. [m]"""
    canvas = Canvas((16 * size, 16 * size), 448, 448, 64)
    blotches = canvas.noise.band(0.08 * size, 3 * size, slope=1.0)
    fine = canvas.noise.band(0.05 * size, 0.4 * size, slope=0.3)
    scale = np.tanh(2.2 * blotches)
    tone = np.clip(1 + 0.30 * scale + 0.16 * fine + 0.12 * blotches, 0.25, 2.5)
    return Drawn(canvas.size, size * (0.008 * scale + 0.0035 * fine), tone)


@draws("rust streaks")
def rust_streaks(size: float) -> Drawn:
    """Spots of rust with runs below them; `size` is how long a run is. [m]"""
    canvas = Canvas((6 * size, 6 * size), 448, 448, 65)
    noise = canvas.noise
    spots = noise.band(0.03 * size, 0.6 * size, slope=0.9)
    runs = noise.band(0.02 * size, 0.5 * size, slope=0.8, up=14.0)
    field = np.maximum(spots, 0.75 * runs + 0.45 * spots)
    share = patches(canvas, 0.10, field)
    # What has run down dyes what is under it thinly.
    share = np.maximum(share, 0.6 * np.clip(runs + 0.4 * spots - 0.5, 0, 1.5) / 1.5)
    fine = noise.band(0.012 * size, 0.08 * size, slope=0.3)
    solid = patches(canvas, 0.10, field)
    return Drawn(canvas.size, size * 0.0012 * solid * (1 + 0.5 * fine), 1 + 0.12 * fine * share, share,
                 1 - 0.95 * share, 1 + 1.5 * share)


@draws("worn paint")
def worn_paint(size: float) -> Drawn:
    """Brushed paint of which a fifth has come off; `size` is a patch's width. [m]"""
    return worn(bare(size), 0.2, size)


def bare(size: float) -> Drawn:
    """Return brushed paint as it is before any of it comes off."""
    canvas = Canvas((6 * size, 6 * size), 512, 512, 66)
    strokes = canvas.noise.band(0.02 * size, 0.4 * size, slope=0.5, along=6.0)
    return Drawn(canvas.size, 0.00004 * strokes, 1 + 0.012 * strokes)


def worn(drawn: Drawn, share: float, size: float = 0.5) -> Drawn:
    """Return a painted tile with a share of its paint flaked off, in patches of that width, and chipped. [1], [m]"""
    rows, columns = drawn.height.shape
    canvas = Canvas(drawn.size, columns, rows, 67)
    size = min(size, min(drawn.size) / 3)
    field = canvas.noise.band(0.02 * size, 1.2 * size, slope=1.15)
    field = field + 0.35 * canvas.noise.band(0.015 * size, 0.10 * size, slope=0.5)
    off = patches(canvas, share, field)
    rubbed = np.clip(patches(canvas, min(share * 2.2, 1.0), field) - off, 0, 1)
    dirt = canvas.noise.band(0.02, 0.3)
    # Paint lies as a film over what is under it; its edge catches light and holds dirt.
    edge = 4 * off * (1 - off)
    tone = np.where(off > 0.5, 1 + 0.10 * dirt, drawn.tone) * (1 - 0.25 * edge) * (1 - 0.04 * rubbed)
    height = np.asarray(drawn.height) * (1 - off) + 0.0005 * (1 - off) + 0.00008 * dirt * off
    return Drawn(drawn.size, height, tone, drawn.share * (1 - off) + off, drawn.gloss * (1 - 0.9 * off),
                 drawn.roughness * (1 + 0.5 * rubbed + 0.8 * off))


def scuffed(drawn: Drawn, share: float) -> Drawn:
    """Return wood whose finish is rubbed off by feet and hands, a share of it: dull, dirty and scratched. [1]"""
    rows, columns = drawn.height.shape
    canvas = Canvas(drawn.size, columns, rows, 68)
    field = canvas.noise.band(0.04, 1.2, slope=1.2, along=1.5)
    off = patches(canvas, share, field / 3.0)
    scratches = np.clip(canvas.noise.band(0.0015, 0.05, slope=0.4, along=18.0) - 1.5, 0, 1.5) * min(2 * share, 1)
    dirt = canvas.noise.band(0.01, 0.4)
    tone = drawn.tone * (1 - 0.06 * off + 0.10 * off * dirt - 0.22 * scratches + 0.10 * share * dirt)
    return Drawn(drawn.size, drawn.height - 0.0002 * scratches, tone, drawn.share,
                 drawn.gloss * (1 - 0.85 * off), np.clip(drawn.roughness * (1 + 1.2 * off + 0.5 * scratches), 0.4, 3))


@draws("flecks")
def flecks(size: float) -> Drawn:
    """Floor covering with flecks rolled out along u, as linoleum; `size` is a fleck's length. [m]"""
    canvas = Canvas((40 * size, 40 * size), 512, 512, 69)
    one = canvas.noise.band(0.12 * size, 1.0 * size, slope=0.6, along=4.0)
    trodden = canvas.noise.band(2 * size, 20 * size)
    tone = 1 + 0.16 * np.tanh(3 * (one - 1.1)) - 0.14 * np.tanh(3 * (-one - 1.2)) + 0.02 * trodden
    fine = canvas.noise.band(0.12 * size, 0.6 * size, slope=0.0)
    return Drawn(canvas.size, 0.0004 * size * fine + 0.003 * size * trodden, tone,
                 roughness=np.clip(1 + 0.18 * trodden, 0.5, 2))


@draws("specks")
def specks(size: float) -> Drawn:
    """Grains of several tones, as granite and terrazzo; `size` is a grain's width. [m]"""
    canvas = Canvas((80 * size, 80 * size), 400, 400, 70)
    _, _, _, number = cells(canvas.u, canvas.v, canvas.size, (80, 80), 70, 1.0)
    kind = canvas.lot(1, number)
    tone = 0.85 + 0.25 * canvas.lot(2, number) - 0.6 * (kind > 0.84) + 0.45 * (kind < 0.22)
    fine = canvas.noise.band(0.3 * size, 3 * size, slope=0.5)
    return Drawn(canvas.size, 0.004 * size * fine, tone * (1 + 0.05 * fine),
                 roughness=0.9 + 0.2 * canvas.lot(3, number))


@draws("veins")
def veins(size: float) -> Drawn:
    """Marble: clouds and veins; `size` is from vein to vein. [m]"""
    canvas = Canvas((8 * size, 8 * size), 448, 448, 71)
    bent = canvas.noise.band(0.04 * size, 3 * size, slope=1.4)
    clouds = np.roll(canvas.noise.band(0.05 * size, 4 * size, slope=1.1), (113, 211), (0, 1))
    thin = np.exp(-np.abs(bent) / 0.05) * np.clip(0.5 + 0.6 * clouds, 0, 1.2)
    return Drawn(canvas.size, 0.00002 * clouds, np.clip(1.02 + 0.05 * clouds - 0.38 * thin, 0.2, 2))


@draws("rough stone")
def rough_stone(size: float) -> Drawn:
    """Stone, rough concrete or bark: uneven at all sizes; `size` is that of its lumps. [m]"""
    canvas = Canvas((24 * size, 24 * size), 448, 448, 72)
    lumps = canvas.noise.band(0.12 * size, 4 * size, slope=1.0)
    sandy = canvas.noise.band(0.1 * size, 0.6 * size, slope=0.3)
    return Drawn(canvas.size, size * (0.035 * lumps + 0.008 * sandy), np.clip(1 + 0.07 * lumps + 0.06 * sandy, 0.3, 2))
