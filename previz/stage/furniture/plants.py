"""Plants in pots, of three sorts."""

from __future__ import annotations

import numpy as np

from previz.stage.furniture.crockery import vessel
from previz.stage.furniture.kinds import Making, builds
from previz.stage.furniture.solids import Solid, cross, grids
from previz.stage.furniture.swept import curve, rod, rods, turned


def blades(ways: np.ndarray, widths: np.ndarray, sides: np.ndarray, fold: float, across: int = 4) -> Solid:
    """Return leaves along paths (k, n, 3), so wide (k, n), square to `sides` (k, 3), halves lifted by `fold`.

    One skin each: light goes through it from either side. [m]
    """
    ahead = np.gradient(ways, axis=1)
    ahead /= np.linalg.norm(ahead, axis=2, keepdims=True)
    right = sides[:, None] - ahead * np.einsum("kni,ki->kn", ahead, sides)[..., None]
    right /= np.maximum(np.linalg.norm(right, axis=2, keepdims=True), 1e-9)
    up = cross(right, ahead)
    s = np.linspace(-1, 1, across + 1)
    half = widths[..., None, None] / 2
    points = ways[:, :, None] + half * (
        right[:, :, None] * s[:, None] + up[:, :, None] * (fold * np.abs(s))[:, None]
    )
    return grids(points)


def _shape(count: int, kind: str) -> np.ndarray:
    t = np.linspace(0, 1, count)
    if kind == "broad":
        return np.clip(np.sin(np.pi * t**0.8) ** 0.8, 0.02, None)
    if kind == "blade":
        return np.clip(
            (0.55 + 0.45 * np.sin(np.pi * np.minimum(t * 1.2, 1))) * np.clip(4 * (1 - t), 0, 1) ** 0.7,
            0.02,
            None,
        )
    return np.clip(np.sin(np.pi * t**0.6), 0.03, None)


@builds("plant")
def plant(making: Making) -> None:
    """Build a pot plant: 1 broad leaves on stalks, 2 long arching blades, 3 fronds; and so on in turn."""
    w, d, h = making.size
    pot = min(0.3 * h, 0.28)
    r = 0.5 * pot
    making.add(
        "pot",
        vessel(
            [
                (0.66 * r, 0),
                (0.7 * r, 0.004),
                (0.9 * r, 0.78 * pot),
                (0.9 * r, 0.8 * pot),
                (1.02 * r, 0.805 * pot),
                (1.05 * r, 0.985 * pot),
            ],
            0.008,
            0.012,
        ),
        turned(
            [(0, 0), (0.8 * r, 0), (0.86 * r, 0.012), (0.83 * r, 0.014), (0.7 * r, 0.006), (0, 0.006)], 24
        ),
    )
    soil = turned(
        [
            (0, 0.7 * pot),
            (0.83 * r, 0.7 * pot),
            (0.88 * r, 0.86 * pot),
            (0.5 * r, 0.885 * pot),
            (0, 0.88 * pot),
        ],
        20,
    )
    making.add("soil", soil)
    base = np.array([0, 0, 0.87 * pot])
    (_broad, _blades, _fronds)[(making.variant - 1) % 3](making, base, w / 2, d / 2, h)


def _broad(making: Making, base, rx: float, ry: float, h: float) -> None:
    """Three stems with alternate leaves that hang a little from their stalks."""
    chance, leaves, stalks = making.chance, [], []
    for stem in range(3):
        turn0 = stem * 2.1 + chance.uniform(0, 1)
        lean = 0.3 if stem else 0.06
        top = np.array([lean * rx * np.cos(turn0), lean * ry * np.sin(turn0), h * (0.9 - 0.14 * stem)])
        way = curve(
            [
                base + [0.02 * np.cos(turn0), 0.02 * np.sin(turn0), -0.02],
                (base + top) / 2 + [0.02 * chance.uniform(-1, 1), 0.02, 0],
                top,
            ],
            9,
        )
        making.add("stems", rod(way, 0.007, 7, scale=np.linspace(1.1, 0.5, 9)))
        count = 12 - 2 * stem
        for k in range(count):
            share = 0.22 + 0.78 * k / (count - 1)
            at = np.array([np.interp(share, np.linspace(0, 1, 9), way[:, j]) for j in range(3)])
            turn = turn0 + 2.4 * k + chance.uniform(-0.3, 0.3)
            out = np.array([np.cos(turn) * rx, np.sin(turn) * ry, 0.0])
            reach = (0.98 - np.linalg.norm(at[:2] / [rx, ry])) * (1 - 0.3 * share * chance.random())
            reach = reach if k < count - 1 else 0.35
            stalk = at + out * 0.28 * reach + [0, 0, 0.05 * h]
            rise = 0.09 * h * (1.4 - share) if k < count - 1 else 0.1 * h
            tip = at + out * reach + [0, 0, rise - 0.1 * h * chance.random()]
            spine = curve(
                [
                    stalk,
                    stalk + 0.55 * (tip - stalk) + [0, 0, 0.035 * h],
                    tip - [0, 0, 0.05 * h * (1 - 0.5 * share)],
                ],
                9,
            )
            long = np.linalg.norm(tip - stalk)
            side = np.array([-np.sin(turn), np.cos(turn), chance.uniform(-0.35, 0.35)])
            leaves.append((spine, _shape(9, "broad") * 0.6 * long, side))
            stalks.append(curve([at, at + 0.6 * (stalk - at) + [0, 0, 0.01], stalk, spine[2]], 6))
    making.add("stems", rods(np.array(stalks), 0.0028))
    making.add("leaves", _all(leaves, 0.16, 6))


def _all(leaves, fold: float, across: int) -> Solid:
    return blades(*(np.array(each) for each in zip(*leaves, strict=True)), fold, across)


def _blades(making: Making, base, rx: float, ry: float, h: float) -> None:
    """Long blades from one crown, the inner ones upright."""
    chance, leaves = making.chance, []
    count = 34
    for k in range(count):
        turn, share = 2.4 * k, (k + 0.5) / count
        out = np.array([np.cos(turn) * rx, np.sin(turn) * ry, 0.0])
        high = (h - base[2]) * (1.0 - 0.72 * share * chance.uniform(0.85, 1.1)) * 0.98
        reach = min(0.25 + 0.8 * share * chance.uniform(0.85, 1.1), 1.0)
        droop = share**1.5
        way = curve(
            [
                base + out * 0.06,
                base + out * 0.3 * reach + [0, 0, 0.75 * high],
                base + out * 0.72 * reach + [0, 0, high],
                base + out * reach + [0, 0, high * (1 - 0.75 * droop)],
            ],
            12,
        )
        side = np.array([-np.sin(turn), np.cos(turn), chance.uniform(-0.25, 0.25)])
        leaves.append((way, _shape(12, "blade") * 0.036 * h**0.5, side))
    making.add("leaves", _all(leaves, 0.3, 2))


def _fronds(making: Making, base, rx: float, ry: float, h: float) -> None:
    """Arching fronds with leaflets on both sides."""
    chance, leaves = making.chance, []
    count = 13
    for k in range(count):
        turn, share = 2.4 * k + chance.uniform(-0.2, 0.2), (k + 0.5) / count
        out = np.array([np.cos(turn) * rx, np.sin(turn) * ry, 0.0])
        side = np.array([-np.sin(turn), np.cos(turn), 0.0])
        high = (h - base[2]) * (1 - 0.5 * share)
        reach = min(0.35 + 0.7 * share, 0.97)
        way = curve(
            [
                base,
                base + out * 0.2 * reach + [0, 0, 0.7 * high],
                base + out * 0.62 * reach + [0, 0, 0.97 * high],
                base + out * reach + [0, 0, high * (1 - 0.55 * share)],
            ],
            26,
        )
        making.add("stems", rod(way[::2], 0.0035, 5, scale=np.linspace(1.2, 0.4, 13)))
        for j in range(7, 25):
            at, ahead = way[j], way[j + 1] - way[j]
            ahead = ahead / np.linalg.norm(ahead)
            long = 0.15 * h * np.sin(np.pi * ((j - 5) / 21) ** 0.8) * chance.uniform(0.9, 1.1) + 0.02
            for s in (-1, 1):
                aim = side * s * 0.85 + ahead * 0.6
                tip = at + long * aim / np.linalg.norm(aim) - [0, 0, 0.22 * long]
                rise = np.array([0, 0, 0.09 * long])
                leaf = np.stack([at, at + (tip - at) / 3 + rise, at + (tip - at) * 2 / 3 + rise, tip])
                leaves.append((leaf, np.array([0.5, 1.0, 0.8, 0.05]) * 0.13 * long, ahead))
    making.add("leaves", _all(leaves, 0.2, 2))
