"""First hits: what each ray through a picture meets, and how far away.

They come from GL where a context can be had (`gl`), and from the engine elsewhere; both are
pinhole, through the middle of every pixel.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.stage.records import Stage


@dataclass(frozen=True, eq=False)
class FirstHits:
    """What is seen through the middle of each pixel.

    Parameters
    ----------
    depth : float32 array, shape (rows, columns)
        Along the view's axis; inf where nothing is. [m]
    names_index : int32 array, shape (rows, columns)
        Index into `names`; -1 where nothing is.
    names : tuple of str
        Every name of the stage, as `hit_names` returns them.
    normal : float32 array, shape (3, rows, columns), or None
        World normal; None lets it be found from the depth.
    """

    depth: np.ndarray
    names_index: np.ndarray
    names: tuple[str, ...]
    normal: np.ndarray | None = None


def hit_names(stage: Stage) -> tuple[str, ...]:
    """Return the names that hits point to: those of the meshes, then those of the emitters."""
    return tuple(dict.fromkeys([m.name for m in stage.meshes] + [e.name for e in stage.emitters]))
