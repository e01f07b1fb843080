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
        'skin', 'tongue', 'teeth', 'lashes', 'tights' (a suit that lies close), 'skirt' (a cone
        about the legs).
    lips, ears, nails, lids, mouth : float array, shape (skin vertices,)
        1 inside the red of the lips, on an ear, on a finger's nail, on a lid, or inside the mouth;
        0 outside.
    uv : float array, shape (skin quads, 4, 2)
        Texture corners of the skin's quads, 0 to 1, v upwards; head, body and each hand have places
        of their own. [1]
    age_rows, ages : arrays, shape (rows,) and (people, rows, 3)
        Vertices of the head that move from a young adult (0) to very old (1), and how far. Eyes
        and lids stay. [m]
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
    nails: np.ndarray
    lids: np.ndarray
    mouth: np.ndarray
    uv: np.ndarray
    age_rows: np.ndarray
    ages: np.ndarray
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
               for name in ("skin", "tongue", "teeth", "lashes", "tights", "skirt")},
        **{name: stored[name] / 255.0 for name in ("lips", "ears", "nails", "lids", "mouth")},
        uv=_corners(stored),
        age_rows=stored["age rows"].astype(np.intp),
        ages=stored["age steps"] * step,
        units=units,
        landmarks=dict(zip(stored["landmark names"].tolist(), stored["landmarks"].tolist(), strict=True)),
        source=str(stored["source"]),
        licence=str(stored["licence"]),
    )
    for array in (data.shapes, data.joints, data.eyes, data.weight_bones, data.weights, data.lips,
                  data.uv, data.ages):
        array.setflags(write=False)
    return data


def _corners(stored):
    """Return the texture corners of each quad, of which those at seams are stored apart."""
    found = stored["uv"][stored["skin quads"]].reshape(-1, 2)
    found[stored["seam corners"]] = stored["seam uv"]
    return found.reshape(-1, 4, 2) / 65535.0
