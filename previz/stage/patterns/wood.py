"""Wood: floor boards, blocks laid as herringbone, match boarding, and the figure of one board."""

from __future__ import annotations

import numpy as np

from previz.stage.patterns.drawn import Canvas, Drawn, draws

GAP = 0.0015
"""Between boards of a floor (common practice, no source). [m]"""


def _figure(canvas: Canvas, spacing: float, wander: float) -> tuple[np.ndarray, np.ndarray]:
    """Return rings and pores of wood whose grain runs along u: how dark late wood is, and pores, 0 to 1.

    `spacing` is from ring to ring on the face of a board, which wander by so many rings.
    """
    width, height = canvas.size
    rings = max(round(height / spacing), 1)
    bend = canvas.noise.band(0.03, 0.5, slope=1.6, along=9.0)
    tooth = (canvas.v / height * rings + wander * bend) % 1.0
    # Early wood is light and grows slowly darker; late wood ends as the next year begins.
    late = np.clip(1.12 * tooth**2.2, 0, 1) * np.clip((1 - tooth) * 7, 0, 1)
    fine = canvas.noise.band(0.0012, 0.012, slope=0.3, along=22.0)
    return late, np.clip(fine - 0.9, 0, 2) / 2


def _windows(canvas: Canvas, number: np.ndarray, fields) -> list[np.ndarray]:
    """Return fields as each board shows them, cut from elsewhere of the same wood."""
    across = (canvas.lot(71, number) * canvas.columns).astype(int)
    down = (canvas.lot(72, number) * canvas.rows).astype(int)
    rows = (np.arange(canvas.rows)[:, None] + down) % canvas.rows
    columns = (np.arange(canvas.columns)[None] + across) % canvas.columns
    place = rows * canvas.columns + columns
    return [np.take(each, place) for each in fields]


@draws("planks")
def planks(size: float) -> Drawn:
    """Floor boards along u with staggered ends; `size` is a board's width. [m]"""
    boards = 16
    canvas = Canvas((40 * size, boards * size), 576, 512, 11)
    row = np.floor(canvas.v / size).astype(int)
    start = canvas.lot(1, row) * canvas.size[0]
    cut = (0.36 + 0.28 * canvas.lot(2, row)) * canvas.size[0]
    place = (canvas.u - start) % canvas.size[0]
    first = place < cut
    number = row * 2 + first
    late, pores = _windows(canvas, number, _figure(canvas, 0.012, 2.2))
    broad = canvas.noise.band(0.15, 1.2, along=2.0)
    length = np.where(first, cut, canvas.size[0] - cut)
    from_end = np.where(first, place, place - cut)
    side = size / 2 - np.abs((canvas.v % size) - size / 2)
    end = length / 2 - np.abs(from_end - length / 2)
    # A gap is narrower than a texel: what it covers of one is dark.
    gaps = 1 - (1 - GAP / 2 / canvas.step[1] * (side < canvas.step[1])) * (
        1 - 0.7 * GAP / 2 / canvas.step[0] * (end < canvas.step[0]))
    tone = (0.80 + 0.40 * canvas.lot(3, number)) * (1.06 - 0.26 * late - 0.22 * pores + 0.03 * broad)
    lean = (canvas.lot(4, number) - 0.5) * 0.012
    lift = (canvas.lot(5, number) - 0.5) * 0.0005
    height = (lift + lean * (canvas.v % size - size / 2) - 0.0011 * np.exp(-side / 0.003)
              - 0.0008 * np.exp(-end / 0.003) - 0.00006 * late - 0.00012 * pores)
    return Drawn(canvas.size, height, tone * (1 - 0.9 * gaps), gloss=1 - gaps,
                 roughness=np.clip(1 + 0.18 * broad + 0.25 * late + 0.3 * (canvas.lot(6, number) - 0.5), 0.5, 2))


@draws("parquet")
def parquet(size: float) -> Drawn:
    """Blocks four times as long as wide, laid as herringbone; `size` is a block's width. [m]"""
    long, turns = 4, 4
    side = np.sqrt(2) * size * long * turns
    canvas = Canvas((side, side), 512, 512, 12)
    one, two = (canvas.u + canvas.v) / np.sqrt(2) / size, (canvas.u - canvas.v) / np.sqrt(2) / size
    i, j = np.floor(one).astype(int), np.floor(two).astype(int)
    # Axis-aligned herringbone: along each diagonal step the same row of `long` cells lying, `long` standing.
    step = (i - j) % (2 * long)
    lying = step < long
    order = (i - j - step) // (2 * long)
    line = np.where(lying, j + long * order, i - long * order)
    number = (order % turns) * 4096 + (line % (long * turns)) * 2 + lying
    along = np.where(lying, step + one - i, 2 * long - 1 - step + two - j)
    across = np.where(lying, two - j, one - i)
    wood = Canvas((0.9, 0.3), 320, 320, 13)
    late, pores = _figure(wood, 0.010, 2.0)
    column = ((along * size / 0.9 + canvas.lot(1, number)) % 1 * 320).astype(int) % 320
    row = ((across * size / 0.3 + canvas.lot(2, number)) % 1 * 320).astype(int) % 320
    late, pores = late[row, column], pores[row, column]
    edge = np.minimum(0.5 - np.abs(across - 0.5), long / 2 - np.abs(along - long / 2)) * size
    gaps = 0.35 * (edge < 0.7 * canvas.step[0])
    tone = (0.80 + 0.40 * canvas.lot(3, number)) * (1.05 - 0.22 * late - 0.2 * pores)
    lean = (canvas.lot(4, number) - 0.5) * 0.014
    height = lean * size * (across - 0.5) - 0.0008 * np.exp(-edge / 0.003)
    return Drawn(canvas.size, height, tone * (1 - gaps), gloss=1 - gaps,
                 roughness=np.clip(1 + 0.25 * late + 0.3 * (canvas.lot(6, number) - 0.5), 0.5, 2))


@draws("grain")
def grain(size: float) -> Drawn:
    """The figure of one wide board, its grain along u; `size` is how wide the figure is. [m]"""
    canvas = Canvas((4 * size, size), 448, 512, 14)
    late, pores = _figure(canvas, 0.008, 3.2)
    broad = canvas.noise.band(0.06, 0.4, along=4.0)
    tone = 1.05 - 0.22 * late - 0.22 * pores + 0.045 * broad
    return Drawn(canvas.size, -0.00004 * late - 0.00006 * pores, tone,
                 roughness=1 + 0.25 * late + 0.2 * pores)


@draws("match boarding")
def match_boarding(size: float) -> Drawn:
    """Upright tongued boards with a groove between, as walls and doors are lined; `size` is their width. [m]"""
    boards = 16
    canvas = Canvas((boards * size, 1.2), 512, 256, 15)
    board = np.floor(canvas.u / size).astype(int)
    edge = size / 2 - np.abs((canvas.u % size) - size / 2)
    groove = np.clip(1 - edge / 0.006, 0, 1)
    grained = canvas.noise.band(0.004, 0.06, slope=0.5, up=14.0)
    lean = (canvas.lot(1, board) - 0.5) * 0.012
    height = lean * (canvas.u % size - size / 2) - 0.004 * groove + 0.00005 * grained
    tone = (0.97 + 0.06 * canvas.lot(2, board)) * (1 + 0.015 * grained) * (1 - 0.45 * groove**2)
    return Drawn(canvas.size, height, tone, gloss=1 - 0.5 * groove)
