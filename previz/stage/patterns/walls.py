"""What walls are finished with: paint by roller and brush, plaster, paper, cast concrete."""

from __future__ import annotations

import numpy as np

from previz.stage.patterns.drawn import Canvas, Drawn, draws


@draws("roller")
def roller(size: float) -> Drawn:
    """The pebbled film that a roller leaves; `size` is from bump to bump. [m]"""
    canvas = Canvas((180 * size, 180 * size), 384, 384, 31)
    bumps = canvas.noise.band(0.7 * size, 2.5 * size, slope=0.2)
    clouds = canvas.noise.band(12 * size, 80 * size, slope=1.2)
    return Drawn(canvas.size, 0.012 * size * bumps + 0.01 * size * clouds, 1 + 0.010 * clouds + 0.006 * bumps,
                 roughness=1 + 0.06 * clouds)


@draws("brush strokes")
def brush_strokes(size: float) -> Drawn:
    """Paint laid on with a brush along u; `size` is how wide a stroke is. [m]"""
    canvas = Canvas((16 * size, 10 * size), 320, 512, 32)
    hairs = canvas.noise.band(0.04 * size, 0.35 * size, slope=0.4, along=16.0)
    strokes = canvas.noise.band(0.3 * size, 4 * size, along=4.0)
    return Drawn(canvas.size, 0.0006 * size * hairs + 0.002 * size * strokes,
                 1 + 0.012 * strokes + 0.008 * hairs, roughness=np.clip(1 + 0.10 * strokes, 0.5, 2))


@draws("plaster")
def plaster(size: float) -> Drawn:
    """Trowelled plaster: sweeps of the trowel, and slight blotches; `size` is how wide a sweep is. [m]"""
    canvas = Canvas((10 * size, 10 * size), 512, 512, 33)
    noise = canvas.noise
    one = noise.band(0.08 * size, 1.6 * size, slope=1.1, along=2.6)
    two = np.roll(noise.band(0.08 * size, 1.6 * size, slope=1.1, up=2.6), (171, 97), (0, 1))
    which = np.clip(0.5 + 1.2 * noise.band(size, 5 * size), 0, 1)
    sweeps = which * one + (1 - which) * two
    # A trowel leaves flats with edges between, not waves.
    flats = np.tanh(1.4 * sweeps)
    sandy = noise.band(0.03 * size, 0.12 * size, slope=0.2)
    blotches = noise.band(0.4 * size, 6 * size, slope=1.2)
    return Drawn(canvas.size, 0.0022 * size * flats + 0.0004 * size * sandy,
                 1 + 0.030 * blotches + 0.014 * flats + 0.012 * sandy)


@draws("striped paper")
def striped_paper(size: float) -> Drawn:
    """Wallpaper in upright stripes with a thin line beside each; `size` is a stripe's width. [m]"""
    canvas = Canvas((8 * size, 8 * size), 512, 256, 34)
    place = canvas.u % (2 * size) + 0 * canvas.v
    texel = canvas.step[0]

    def between(low, high):
        return np.clip((place - low) / texel + 0.5, 0, 1) * np.clip((high - place) / texel + 0.5, 0, 1)

    # The stripe, and by either edge of it a thin line as of a second printing.
    share = between(0.5 * size, 1.5 * size)
    share = share + between(0.36 * size, 0.41 * size) + between(1.59 * size, 1.64 * size)
    fibres = canvas.noise.band(0.0015, 0.02, slope=0.3)
    return Drawn(canvas.size, 0.00002 * fibres, 1 + 0.012 * fibres, share, roughness=1 + 0.2 * share)


@draws("figured paper")
def figured_paper(size: float) -> Drawn:
    """Wallpaper with a small flower in a trellis, each row by half a step aside; `size` is that step. [m]"""
    canvas = Canvas((4 * size, 4 * size), 512, 512, 35)
    # One period holds a flower at its corners and one in the middle.
    x, y = ((each / size) % 1.0 for each in (canvas.u + 0 * canvas.v, canvas.v + 0 * canvas.u))
    texel = canvas.step[0] / size

    def covered(depth):
        return np.clip(0.5 + depth / texel, 0, 1)

    share = covered(0.012 - np.minimum(np.abs(np.abs(x - 0.5) + np.abs(y - 0.5) - 0.5), 1.0) / np.sqrt(2))
    for centre in ((0.0, 0.0), (0.5, 0.5)):
        dx, dy = ((each - at + 0.5) % 1.0 - 0.5 for each, at in ((x, centre[0]), (y, centre[1])))
        far, turn = np.hypot(dx, dy), np.arctan2(dy, dx)
        petals = 0.085 + 0.055 * np.cos(6 * turn)
        flower = covered(petals - far) * covered(far - 0.045) + covered(0.024 - far)
        leaf = np.abs(np.abs(dx) - 0.16) / 0.55 + np.abs(dy + 0.02)
        share = np.maximum(share, flower)
        share = np.maximum(share, covered((0.035 - leaf) * 0.7) * 0.8)
    fibres = canvas.noise.band(0.002, 0.02, slope=0.3)
    return Drawn(canvas.size, 0.00002 * fibres + 0.00004 * share, 1 + 0.012 * fibres, share)


@draws("concrete")
def concrete(size: float) -> Drawn:
    """Concrete cast against level boards: their marks, pores, stains; `size` is a board's width. [m]"""
    boards = 14
    canvas = Canvas((boards * size, boards * size), 512, 512, 36)
    noise = canvas.noise
    board = np.floor(canvas.v / size).astype(int)
    from_edge = size / 2 - np.abs(canvas.v % size - size / 2) + 0 * canvas.u
    clouds, sandy = noise.band(0.05, 1.2, slope=1.2), noise.band(0.008, 0.05, slope=0.4)
    wood = noise.band(0.008, 0.05, slope=0.6, along=14.0)
    runs = np.clip(noise.band(0.03, 0.5, slope=1.0, up=9.0) - 0.6, 0, 2)
    pores = np.zeros((canvas.rows, canvas.columns))
    for number in range(170):
        at = (canvas.lot(k, number)[0] for k in (1, 2))
        column, row = (int(place * count) for place, count in zip(at, (canvas.columns, canvas.rows), strict=True))
        reach = 1 + int(canvas.lot(3, number)[0] ** 3 * 1.6)
        for i in range(-reach, reach + 1):
            for j in range(-reach, reach + 1):
                deep = max(0.0, 1 - np.hypot(i, j) / (reach + 0.4))
                spot = (row + j) % canvas.rows, (column + i) % canvas.columns
                pores[spot] = max(pores[spot], deep)
    seam = np.exp(-from_edge / 0.005)
    ragged = np.clip(0.7 + 0.5 * noise.band(0.03, 0.4), 0, 1.4)
    tone = (0.955 + 0.09 * canvas.lot(4, board)) * (
        1 + 0.055 * clouds + 0.03 * sandy + 0.016 * wood - 0.06 * runs - 0.14 * seam * ragged - 0.4 * pores)
    step = (canvas.lot(5, board) - 0.5) * 0.0025
    height = step + 0.0016 * seam * ragged + 0.00010 * wood + 0.00022 * sandy - 0.004 * pores
    return Drawn(canvas.size, height, tone)
