"""The baked body data of the stand-in figures; figure-source.txt says where it comes from."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from previz.errors import DataError

FILE = Path(__file__).parent / "data" / "figure.npz"


@dataclass(frozen=True)
class BodyData:
    """Topology, six shapes, skeleton and face units.

    Parameters
    ----------
    people : tuple of str
        Names of the six people.
    shapes : float array, shape (people, vertices, 3)
        Rest position: x forwards, y to the left, z up, soles at 0. [m]
    joints : float array, shape (people, bones, 3)
        Joint at the root of each bone in the rest position. [m]
    eyes : float array, shape (people, 2, 4)
        Centre and radius of the left and right eyeball. [m]
    bones, parents
        Names, and the index of the bone above each (-1 for the pelvis).
    weight_bones, weights : arrays, shape (vertices, 8)
        Bones that move a vertex, and their shares, which sum to 1.
    quads : dict of int array, shape (quads, 4)
        'skin', 'tongue', 'teeth', 'lashes', 'tights'.
    lips, ears : float array, shape (skin vertices,)
        1 inside the red of the lips, or on an ear; 0 outside.
    units : dict of (rows, steps)
        Face unit -> vertices it moves and how far. [m]
    landmarks : dict of int
        Name -> skin vertex.
    """

    people: tuple[str, ...]
    shapes: np.ndarray
    joints: np.ndarray
    eyes: np.ndarray
    bones: tuple[str, ...]
    parents: tuple[int, ...]
    weight_bones: np.ndarray
    weights: np.ndarray
    quads: dict[str, np.ndarray]
    lips: np.ndarray
    ears: np.ndarray
    units: dict[str, tuple[np.ndarray, np.ndarray]]
    landmarks: dict[str, int]
    source: str
    licence: str


@cache
def body_data() -> BodyData:
    """Return the baked body data, read once.

    Raises
    ------
    DataError
        The file is missing or is not what the bake module writes.
    """
    try:
        with np.load(FILE, allow_pickle=False) as file:
            stored = {name: file[name] for name in file.files}
        return _unpack(stored)
    except (OSError, KeyError, ValueError) as error:
        raise DataError(
            f"the figures' body data {FILE} cannot be read ({error})",
            "reinstall previz; a maintainer bakes it with `python -m previz.stage.figures.bake_figure`",
        ) from error


def _unpack(stored):
    step = float(stored["step"])
    starts = stored["unit starts"]
    units = {}
    for number, name in enumerate(stored["unit names"].tolist()):
        part = slice(int(starts[number]), int(starts[number + 1]))
        units[name] = (stored["unit rows"][part].astype(np.intp), stored["unit steps"][part] * step)
    data = BodyData(
        people=tuple(stored["people"].tolist()),
        shapes=(stored["middle"].astype(float) + stored["spread"]) * step,
        joints=stored["joints"].astype(float),
        eyes=stored["eyes"].astype(float),
        bones=tuple(stored["bones"].tolist()),
        parents=tuple(int(parent) for parent in stored["parents"]),
        weight_bones=stored["weight bones"].astype(np.intp),
        weights=stored["weights"] / 65535.0,
        quads={name: stored[f"{name} quads"].astype(np.intp)
               for name in ("skin", "tongue", "teeth", "lashes", "tights")},
        lips=stored["lips"] / 255.0,
        ears=stored["ears"] / 255.0,
        units=units,
        landmarks=dict(zip(stored["landmark names"].tolist(), stored["landmarks"].tolist(), strict=True)),
        source=str(stored["source"]),
        licence=str(stored["licence"]),
    )
    for array in (data.shapes, data.joints, data.eyes, data.weight_bones, data.weights, data.lips):
        array.setflags(write=False)
    return data
