"""How a kind of furniture is built: a function of its word, then fitted to the size that is written.

A builder gets a `Making` and adds solids to the parts that the kind's row in `scene/furniture.py`
names. It fills the box of `Making.size`, its middle at x = y = 0, its underside at z = 0 and its back at
+y; what is left over is taken up by a stretch, so that a piece is always as large as it is written.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from previz.scene.furniture import KINDS
from previz.stage.furniture.solids import Solid, joined, rotation

BUILDERS: dict[str, Callable[[Making], None]] = {}

SMALLER, LARGER = 0.4, 2.5
"""A kind is designed for its usual size times this, axis by axis; beyond it is enlarged as a whole. [1]"""

VARIANTS = 9


def builds(word: str) -> Callable[[Callable[[Making], None]], Callable[[Making], None]]:
    """Return a decorator for the builder of a kind of `scene.furniture.KINDS`."""
    assert word in KINDS, word

    def keep(build):
        BUILDERS[word] = build
        return build

    return keep


@dataclass
class Making:
    """One piece as it is built.

    Parameters
    ----------
    size : (float, float, float)
        To be filled. [m]
    chance : random.Random
        For small irregularities; the same for the same name.
    open : float
        How far doors are open. [deg]
    variant : int
        1 to `VARIANTS`.
    """

    size: tuple[float, float, float]
    chance: random.Random
    open: float = 0.0
    variant: int = 1
    solids: dict[str, list[Solid]] = field(default_factory=dict)
    leaves: list[tuple[str, Solid, np.ndarray, float]] = field(default_factory=list)

    def add(self, part: str, *solids: Solid) -> None:
        """Add solids to a part, each with another piece of the pattern on it."""
        own = self.solids.setdefault(part, [])
        for solid in solids:
            k = len(own)
            own.append(solid.shifted(0.37 * k, 0.61 * k) if k else solid)

    def hinge(self, part: str, solid: Solid, at, share: float = 1.0) -> None:
        """Add what turns about an upright line through `at` [m] by `share` of what is open, shut as given."""
        self.leaves.append((part, solid, np.asarray(at, float), share))


def build(word: str, size, name: str = "", open: float = 0.0, variant: int = 1) -> dict[str, Solid]:
    """Return the parts of a piece, standing on z = 0 about x = y = 0, each as one solid.

    Parameters
    ----------
    word : str
        Of `scene.furniture.KINDS`.
    size : (float, float, float)
        What it measures when shut. [m]
    name : str
        Of the piece; sets what is irregular about it.
    open : float
        [deg]
    variant : int
        1 to `VARIANTS`.
    """
    size = np.asarray(size, float)
    usual = np.asarray(KINDS[word].size)
    design = np.clip(size, SMALLER * usual, LARGER * usual)
    making = Making(tuple(design), random.Random(f"{word}: {name}, {variant}"), open, variant)
    BUILDERS[word](making)
    shut = [each for solids in making.solids.values() for each in solids]
    shut += [leaf for _, leaf, _, _ in making.leaves]
    low = np.min([each.vertices.min(axis=0) for each in shut], axis=0)
    high = np.max([each.vertices.max(axis=0) for each in shut], axis=0)
    stretch = size / (high - low)
    base = np.array([*(low[:2] + high[:2]) / 2, low[2]])
    parts: dict[str, list[Solid]] = {}
    for part in KINDS[word].parts:
        own = [_fitted(joined(*making.solids[part]), base, stretch)] if part in making.solids else []
        own += [
            _swung(_fitted(leaf, base, stretch), (at - base) * stretch, share * open)
            for of, leaf, at, share in making.leaves
            if of == part
        ]
        if own:
            parts[part] = own
    assert {*making.solids, *(of for of, *_ in making.leaves)} <= set(KINDS[word].parts), word
    return {part: joined(*own) for part, own in parts.items()}


def _fitted(solid: Solid, base, stretch) -> Solid:
    normals = solid.normals / stretch
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    return Solid(
        (solid.vertices - base) * stretch, solid.faces, normals, solid.uv * float(np.cbrt(np.prod(stretch)))
    )


def _swung(solid: Solid, at, angle: float) -> Solid:
    return solid.moved(*-at).placed(rotation(2, angle), at) if angle else solid
