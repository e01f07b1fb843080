"""Cloth: plain weave, twill, herringbone, knit, checks and stripes; carpet and leather."""

from __future__ import annotations

import numpy as np

from previz.stage.patterns.drawn import Canvas, Drawn, draws
from previz.stage.patterns.noise import cells

THREADS = 64
TEXELS = 6
"""Threads along a tile of woven cloth, and texels of each."""


def _even(lots: np.ndarray) -> np.ndarray:
    """Return lots of threads less the mean of their neighbours, so that no tile has a broad band of its own."""
    flat = lots.ravel()
    return (flat - (np.roll(flat, 1) + np.roll(flat, -1) + np.roll(flat, 2) + np.roll(flat, -2)) / 4).reshape(
        lots.shape)


def _woven(pitch: float, over, seed: int, uneven: float = 0.12) -> Drawn:
    """Return threads over and under each other, `over` of (warp, weft) numbers saying which is on top."""
    canvas = Canvas((THREADS * pitch, THREADS * pitch), THREADS * TEXELS, THREADS * TEXELS, seed)
    one, two = canvas.u / pitch, canvas.v / pitch
    i, j = np.floor(one).astype(int), np.floor(two).astype(int)
    x, y = one - i - 0.5, two - j - 0.5
    top = over(i, j)
    # A thread is round across and dives under the next one along.
    warp, weft = np.cos(np.pi * 0.9 * x), np.cos(np.pi * 0.9 * y)
    warp_same, weft_same = (over(i, j + np.sign(y).astype(int)) == top), (over(i + np.sign(x).astype(int), j) == top)
    warp_bow = np.where(warp_same, 1.0, np.cos(np.pi * 0.8 * y))
    weft_bow = np.where(weft_same, 1.0, np.cos(np.pi * 0.8 * x))
    bulge = np.where(top, warp * (0.45 + 0.55 * warp_bow), weft * (0.45 + 0.55 * weft_bow))
    thick = _even(canvas.lot(1, np.arange(THREADS))), _even(canvas.lot(2, np.arange(THREADS)))
    of_thread = np.where(top, thick[0][i % THREADS], thick[1][j % THREADS])
    fuzz = canvas.noise.band(0.3 * pitch, 4 * pitch, slope=0.2)
    tone = (0.62 + 0.5 * bulge) * (1 + uneven * of_thread + 0.03 * fuzz)
    return Drawn(canvas.size, pitch * (0.20 * bulge + 0.01 * fuzz), tone)


@draws("plain weave")
def plain_weave(size: float) -> Drawn:
    """Every thread over one and under one; `size` is from thread to thread. [m]"""
    return _woven(size, lambda i, j: (i + j) % 2 == 0, 41, 0.18)


@draws("twill")
def twill(size: float) -> Drawn:
    """Over two and under two, each row one aside, which gives ribs aslant; `size` is from thread to thread. [m]"""
    return _woven(size, lambda i, j: (i - j) % 4 < 2, 42)


@draws("herringbone")
def herringbone(size: float) -> Drawn:
    """Twill whose ribs turn every eight threads; `size` is from thread to thread. [m]"""
    made = _woven(size, lambda i, j: np.where((i // 8) % 2 == 0, i - j, -1 - i - j) % 4 < 2, 43)
    warp = np.broadcast_to(np.arange(THREADS * TEXELS)[None] // TEXELS, made.height.shape)
    weft = (THREADS * TEXELS - 1 - np.arange(THREADS * TEXELS))[:, None] // TEXELS
    dark = np.where((warp // 8) % 2 == 0, warp - weft, -1 - warp - weft) % 4 < 2
    return Drawn(made.size, made.height, made.tone * np.where(dark, 0.86, 1.12))


@draws("knit")
def knit(size: float) -> Drawn:
    """Upright ribs of V-shaped stitches; `size` is a stitch's width. [m]"""
    stitches = 32
    canvas = Canvas((stitches * size, stitches * size), 384, 384, 44)
    wale, x = np.floor(canvas.u / size).astype(int), canvas.u / size % 1.0 - 0.5
    high = 0.8
    # Each leg of a V leans by three quarters of a stitch.
    leg = (canvas.v / size / high - 1.5 * np.abs(x)) % 1.0 - 0.5
    yarn = np.sqrt(np.clip(1 - (2 * leg) ** 2, 0, 1)) * np.sqrt(np.clip(1 - (4 * np.abs(x) - 1) ** 2 * 0.8, 0, 1))
    rib = 0.5 + 0.5 * np.cos(2 * np.pi * canvas.u / (4 * size))
    fuzz = canvas.noise.band(0.15 * size, 2 * size, slope=0.2)
    tone = (0.55 + 0.5 * yarn + 0.12 * rib) * (1 + 0.04 * fuzz + 0.06 * (canvas.lot(1, wale) - 0.5))
    return Drawn(canvas.size, size * (0.16 * yarn + 0.22 * rib + 0.012 * fuzz), tone)


def _threads(canvas: Canvas, pitch: float) -> tuple[np.ndarray, np.ndarray]:
    """Return a fine weave for coloured cloth: its relief and tone, threads as far as texels show them."""
    fine = canvas.noise.band(pitch, 8 * pitch, slope=0.2, along=5.0)
    other = np.roll(canvas.noise.band(pitch, 8 * pitch, slope=0.2, up=5.0), (77, 131), (0, 1))
    return 0.03 * pitch * (fine + other), 1 + 0.025 * (fine + other)


@draws("check")
def check(size: float) -> Drawn:
    """Bands of two colours that cross; `size` is a band's width. [m]"""
    canvas = Canvas((8 * size, 8 * size), 384, 384, 45)

    def band(place):
        return np.clip(0.5 + (np.abs(place / size % 2 - 1) - 0.5) * size / canvas.step[0], 0, 1)

    height, tone = _threads(canvas, 2 * canvas.step[0])
    return Drawn(canvas.size, height, tone, (band(canvas.u) + band(canvas.v)) / 2)


@draws("stripes")
def stripes(size: float) -> Drawn:
    """Woven stripes of two colours, upright; `size` is a stripe's width. [m]"""
    canvas = Canvas((16 * size, 16 * size), 384, 384, 46)
    share = np.clip(0.5 + (np.abs(canvas.u / size % 2 - 1) - 0.5) * size / canvas.step[0], 0, 1) + 0 * canvas.v
    height, tone = _threads(canvas, 2 * canvas.step[0])
    return Drawn(canvas.size, height, tone, share)


@draws("carpet")
def carpet(size: float) -> Drawn:
    """Tufts of cut pile; `size` is from tuft to tuft. [m]"""
    counts = 72, 72
    canvas = Canvas((72 * size, 72 * size), 384, 384, 47)
    near, _, aside, number = cells(canvas.u, canvas.v, canvas.size, counts, 47, 0.8)
    dome = np.clip(1 - near / (0.75 * size), 0, 1)
    trodden = canvas.noise.band(6 * size, 40 * size)
    lean = [(canvas.lot(k, number) - 0.5) * 0.7 for k in (1, 2)]
    height = 0.35 * size * dome + lean[0] * aside[0] + lean[1] * aside[1]
    tone = (0.62 + 0.5 * dome) * (0.84 + 0.32 * canvas.lot(3, number)) * (1 + 0.035 * trodden)
    return Drawn(canvas.size, height, tone)


@draws("leather grain")
def leather_grain(size: float) -> Drawn:
    """Small domes with creases between, and long folds; `size` is a dome's width. [m]"""
    counts = 72, 72
    canvas = Canvas((72 * size, 72 * size), 384, 384, 48)
    _, gap, _, number = cells(canvas.u, canvas.v, canvas.size, counts, 48, 0.95)
    dome = 1 - np.exp(-gap / (0.22 * size))
    folds = canvas.noise.band(8 * size, 60 * size, slope=1.2)
    tone = (0.80 + 0.24 * dome) * (1 + 0.05 * folds) * (0.97 + 0.06 * canvas.lot(1, number))
    return Drawn(canvas.size, 0.07 * size * dome + 0.05 * size * folds, tone,
                 roughness=np.clip(1.15 - 0.2 * dome + 0.1 * folds, 0.5, 2))
