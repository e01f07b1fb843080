"""Books and papers."""

from __future__ import annotations

import functools

import numpy as np

from previz.stage.furniture.kinds import Making, builds
from previz.stage.furniture.soft import sheet
from previz.stage.furniture.solids import Solid, block, blocks, joined
from previz.stage.furniture.swept import loft

BINDINGS = ("red bindings", "green bindings", "blue bindings", "tan bindings", "black bindings")

BOARD = 0.0028
"""Thickness of a book's boards. [m]"""


def books(low, high, spine: int = 1) -> tuple[Solid, Solid]:
    """Return (bindings, pages) of upright books between corners, arrays (n, 3), their spines to -y. [m]"""
    low, high = np.atleast_2d(low).astype(float), np.atleast_2d(high).astype(float)
    t = np.minimum(BOARD, (high[:, 0] - low[:, 0]) / 5)
    left_high, right_low = high.copy(), low.copy()
    left_high[:, 0] = low[:, 0] + t
    right_low[:, 0] = high[:, 0] - t
    # The boards begin behind the spine, with a groove between.
    left_low, right_high = low.copy(), high.copy()
    left_low[:, 1] = right_low[:, 1] = low[:, 1] + 0.004
    boards = blocks(np.concatenate([left_low, right_low]), np.concatenate([left_high, right_high]), 0.0, 2)
    leaf_low = np.column_stack([low[:, 0] + t, low[:, 1] + 0.004, low[:, 2] + 0.003])
    leaf_high = np.column_stack([high[:, 0] - t, high[:, 1] - 0.004, high[:, 2] - 0.003])
    return joined(_spines(low, high), boards), blocks(leaf_low, leaf_high, 0.0, 2)


def _spines(low, high) -> Solid:
    """Return the rounded backs of books."""
    rings = _spine_rings(low, high)
    form, index = _spine_form()
    count, each = len(rings), len(form.vertices)
    points = np.concatenate([rings.reshape(count, -1, 3), rings.mean(axis=2)], axis=1)
    faces = form.faces + each * np.arange(count)[:, None, None]
    size = np.stack([high[:, 2] - low[:, 2], high[:, 0] - low[:, 0]], axis=1)
    shift = (np.arange(count) * np.array([[0.31], [0.17]])).T
    return Solid(
        points[:, index].reshape(-1, 3),
        faces.reshape(-1, 3),
        np.tile(form.normals, (count, 1)),
        (form.uv * size[:, None] + shift[:, None]).reshape(-1, 2),
    )


def _spine_rings(low, high) -> np.ndarray:
    turn = np.linspace(0, np.pi, 5)
    half = (high[:, 0] - low[:, 0]) / 2 - 0.0004
    x = (low[:, :1] + high[:, :1]) / 2 + half[:, None] * np.cos(turn)
    y = low[:, 1:2] + 0.005 - 0.005 * np.sin(turn)
    return np.stack(
        [np.stack([x, y, np.broadcast_to(z[:, None], x.shape)], axis=-1) for z in (low[:, 2], high[:, 2])],
        axis=1,
    )


@functools.cache
def _spine_form() -> tuple[Solid, np.ndarray]:
    """Return one spine, its texture coordinates over its height and width, and which point each of its is.

    All have the same corners in the same order: what differs is where those are.
    """
    width, height = 0.03, 0.2
    rings = _spine_rings(np.zeros((1, 3)), np.array([[width, 0.15, height]]))[0]
    form = loft(rings)
    known = np.concatenate([rings.reshape(-1, 3), rings.mean(axis=1)])
    index = np.argmin(np.linalg.norm(form.vertices[:, None] - known[None], axis=2), axis=1)
    return form._replace(uv=form.uv / [height, width]), index


class Shelved:
    """Books of one piece, collected by the colour of their bindings and built at once."""

    def __init__(self, making: Making):
        self.making = making
        self.upright: dict[str, list] = {each: [] for each in BINDINGS}
        self.pages: list[Solid] = []

    def row(self, x0: float, x1: float, back: float, deep: float, z: float, room: float) -> None:
        """Fill a board between x0 and x1: heights, colours and thicknesses differ, some lie. [m]"""
        chance = self.making.chance
        x, kind = x0, chance.choice(BINDINGS)
        end = x1 - (chance.uniform(0.05, 0.3) * (x1 - x0) if chance.random() < 0.6 else 0.002)
        tall = chance.uniform(0.6, 0.88)
        while True:
            if chance.random() < 0.45:
                kind, tall = chance.choice(BINDINGS), chance.uniform(0.58, 0.94)
            wide = chance.uniform(0.018, 0.045) if chance.random() < 0.85 else chance.uniform(0.045, 0.065)
            if x + wide > end:
                break
            high = room * min(tall * chance.uniform(0.97, 1.03), 0.96)
            reach = min(deep * chance.uniform(0.6, 0.86), 0.24)
            front = back - deep + chance.uniform(0.012, 0.03)
            self.upright[kind].append(((x, front, z), (x + wide - 0.0008, front + reach, z + high)))
            x += wide
        if x1 - x > 0.17 and room > 0.15:
            self.pages += _pile(
                self.making,
                (x + x1) / 2,
                back - deep * 0.52,
                z,
                min(x1 - x - 0.02, 0.19),
                min(0.24, deep * 0.9),
                0.5 * room,
                3,
            )

    def finish(self) -> None:
        """Build what was collected."""
        for part, own in self.upright.items():
            if own:
                binding, leaves = books([a for a, _ in own], [b for _, b in own])
                self.making.add(part, binding)
                self.pages.append(leaves)
        self.making.add("pages", *self.pages)


def _pile(
    making: Making, x: float, y: float, z: float, width: float, depth: float, most: float, count: int
) -> list[Solid]:
    """Lay books one over the other; return their pages. [m]"""
    chance, pages = making.chance, []
    shares = [chance.uniform(0.7, 1.0) for _ in range(count)]
    top = z
    for k in range(count):
        thick = most * shares[k] / sum(shares) - 0.0003
        share = 1.0 - 0.08 * k * chance.random()
        long, deep = width * share, min(depth, 0.8 * width) * share
        # A lying book is a standing one on its side, its spine to the front.
        binding, leaves = books([(0, 0, 0)], [(thick, deep, long)])
        turn = chance.uniform(-7, 7) if k else 0.0
        for part, solid in ((chance.choice(BINDINGS), binding), ("", leaves)):
            laid = solid.turned(1, 90).moved(-long / 2, -deep / 2, thick).turned(2, turn).moved(x, y, top)
            if part:
                making.add(part, laid)
            else:
                pages.append(laid)
        top += thick + 0.0003
    return pages


@builds("book")
def book(making: Making) -> None:
    """Build a book that lies, its spine to the left."""
    w, d, h = making.size
    binding, leaves = books([(0, 0, 0)], [(h, w, d)])
    for part, solid in (("binding", binding), ("pages", leaves)):
        making.add(part, solid.turned(1, 90).moved(-d / 2, -w / 2, h).turned(2, -90))


@builds("books")
def pile_of_books(making: Making) -> None:
    """Build a pile of books, turned a little against each other."""
    w, d, h = making.size
    making.add("pages", *_pile(making, 0, 0, 0, 0.92 * w, 0.94 * d, h, max(2, round(h / 0.036))))


def leaf(making: Making, width: float, depth: float, curl: float, thickness: float = 0.0003) -> Solid:
    """Return a sheet of paper that lies, its corners lifted a little. [m]"""
    chance = making.chance
    s, t = np.meshgrid(np.linspace(-1, 1, 9), np.linspace(-1, 1, 9), indexing="ij")
    lift = np.zeros_like(s)
    for a, b in ((1, 1), (-1, 1), (-1, -1), (1, -1)):
        near = np.clip((a * s + b * t) / 2, 0, None)
        lift += chance.uniform(0.1, 1.0) * near**3
    lift = lift / lift.max() * curl
    return sheet(np.stack([s * width / 2, t * depth / 2, thickness + lift], axis=-1), thickness)


@builds("paper")
def paper(making: Making) -> None:
    """Build one sheet."""
    w, d, h = making.size
    making.add("paper", leaf(making, w, d, h * 0.9))


@builds("papers")
def papers(making: Making) -> None:
    """Build loose sheets, each a little turned."""
    w, d, h = making.size
    count = 7
    for k in range(count):
        chance = making.chance
        one = leaf(making, 0.62 * w, 0.74 * d, h * 0.3).turned(2, chance.uniform(-24, 24))
        one = one.moved(chance.uniform(-0.1, 0.1) * w, chance.uniform(-0.06, 0.06) * d, k * h * 0.09)
        making.add("old paper" if chance.random() < 0.25 else "paper", one)


@builds("stack of paper")
def stack(making: Making) -> None:
    """Build a stack of paper: layers that are not quite true."""
    w, d, h = making.size
    count = 14
    low, high = [], []
    for k in range(count):
        dx, dy = (making.chance.uniform(-1, 1) * 0.012 * each for each in (w, d))
        low.append((-0.47 * w + dx, -0.47 * d + dy, k * h / count))
        high.append((0.47 * w + dx, 0.47 * d + dy, (k + 1) * h / count))
    making.add("paper", blocks(low, high, 0.0004, 0))


@builds("ledger")
def ledger(making: Making) -> None:
    """Build a closed ledger with leather corners."""
    w, d, h = making.size
    binding, leaves = books([(0, 0, 0)], [(h - 0.002, w - 0.002, d - 0.002)])
    for part, solid in (("binding", binding), ("pages", leaves)):
        making.add(part, solid.turned(1, 90).moved(-d / 2 + 0.001, -w / 2, h - 0.001).turned(2, -90))
    edge = min(0.05, 0.2 * w)
    for y in (-1, 1):
        for z in (0.0, h - 0.0038):
            a = np.array([(w / 2 - edge, y * d / 2), (w / 2, y * d / 2), (w / 2, y * (d / 2 - edge))])
            a = a if y < 0 else a[::-1]
            rings = np.stack([np.column_stack([a, np.full(3, z + k)]) for k in (0.0, 0.0038)])
            making.add("corners", loft(rings, smooth=False))
    making.add(
        "corners",
        block((-w / 2, -d / 2 + 0.001, 0.0005), (-w / 2 + 0.045, d / 2 - 0.001, 0.0038), 0.001),
        block((-w / 2, -d / 2 + 0.001, h - 0.0038), (-w / 2 + 0.045, d / 2 - 0.001, h), 0.001),
    )


@builds("open ledger")
def open_ledger(making: Making) -> None:
    """Build a ledger that lies open: two blocks of leaves that curve into the fold."""
    w, d, h = making.size
    cover = 0.004
    making.add(
        "binding",
        block((-w / 2, -d / 2, 0), (-0.012, d / 2, cover), 0.001),
        block((0.012, -d / 2, 0), (w / 2, d / 2, cover), 0.001),
        block((-0.012, -d / 2, 0), (0.012, d / 2, 0.6 * cover), 0.001),
    )
    x = np.concatenate([np.linspace(0, 0.09, 8), np.linspace(0.12, w / 2 - 0.008, 10)])
    rise = (h - cover) * np.clip(x / 0.075, 0, 1) ** 0.5
    fall = 1 - 0.28 * np.clip((x - 0.08) / (w / 2), 0, 1)
    top = cover + rise * fall
    for side, share in ((1, 1.0), (-1, 0.78)):
        z = cover + (top - cover) * share + 0.0002
        ring = np.concatenate([np.stack([x, z], 1), [[w / 2 - 0.012, cover], [0.0, cover - 0.0005]]])
        ys = np.array([-d / 2 + 0.006, d / 2 - 0.006])
        rings = np.stack([np.column_stack([ring[:, 0], np.full(len(ring), y), ring[:, 1]]) for y in ys])
        body = loft(rings, smooth=None)
        making.add("pages", body if side > 0 else body.mirrored())


@builds("newspaper")
def newspaper(making: Making) -> None:
    """Build a folded newspaper: leaves that wave at their loose edge."""
    w, d, h = making.size
    chance = making.chance
    s, t = np.meshgrid(np.linspace(-0.5, 0.5, 12), np.linspace(-0.5, 0.5, 10), indexing="ij")
    for k in range(4):
        loose = np.clip(s + 0.5, 0, 1) ** 2
        wave = 0.5 + 0.5 * np.sin(chance.uniform(3, 6) * t + chance.uniform(0, 6))
        z = h * (0.14 * (k + 1) + 0.44 * loose * wave * (k + 1) / 4)
        inset = 0.003 * k * chance.random()
        making.add("paper", sheet(np.stack([s * (w - inset), t * (d - inset), z], axis=-1), 0.11 * h))
    turn = np.linspace(-np.pi / 2, np.pi / 2, 7)
    ring = np.stack([-w / 2 - 0.2 * h * np.cos(turn), 0.32 * h + 0.3 * h * np.sin(turn)], 1)
    ring = np.concatenate([ring, [[-w / 2 + 0.004, 0.6 * h], [-w / 2 + 0.004, 0.04 * h]]])
    rings = np.stack(
        [np.column_stack([ring[:, 0], np.full(len(ring), y), ring[:, 1]]) for y in (-d / 2, d / 2)]
    )
    making.add("paper", loft(rings))
