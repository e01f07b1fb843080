"""Spot meters on the page: what is seen at points of a picture, lamp by lamp, as it was rendered."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from previz.errors import DataError
from previz.page.shots import Shot
from previz.physics.light import lamp_band_xyz, lamps_band_errors
from previz.stage.colours import stage_colours
from previz.studies.changes import staged_camera

SPOT_ANGLE_DEG = 1.0
"""Angle that the spot meter takes in. Common practice, no source."""

MOST_SPOTS = 12
"""Most points of one question, and most that the page holds in one picture."""


def places_of(text: str) -> list[tuple[float, float]]:
    """Return the points of a question: JSON, a list of [x, y], shares of the picture from the top left.

    Raises
    ------
    DataError
        It is no such list, or too long.
    """
    try:
        given = json.loads(text)
    except (ValueError, RecursionError):
        given = None
    if not isinstance(given, list) or not all(map(_is_place, given)):
        raise DataError("'at' is a list of [x, y] from 0 to 1", "Reload the page.")
    if len(given) > MOST_SPOTS:
        raise DataError(f"'at' has {len(given)} spots, {MOST_SPOTS} at most", "Take some of them out.")
    return [(float(x), float(y)) for x, y in given]


def _is_place(value: Any) -> bool:
    return (isinstance(value, list) and len(value) == 2
            and all(type(each) in (int, float) and 0.0 <= each <= 1.0 for each in value))


def spot_width(request: Shot) -> float:
    """Return how much of the picture's width a spot meter takes in. [1]"""
    columns = request.found.frames.shape[1]
    staged = staged_camera(request.stage, request.camera)
    part = np.tan(np.radians(SPOT_ANGLE_DEG / 2)) / (2 * staged.tan_half[0])
    return float(2 * max(1.5 / columns, part))


def held_of(text: str) -> dict[str, list[dict]]:
    """Return the spots that a page holds: JSON, for each camera a list of {name, x, y}; none for ''.

    Raises
    ------
    DataError
        It is no such thing, or there are too many.
    """
    try:
        given = json.loads(text or "{}")
    except (ValueError, RecursionError):
        given = None
    if not isinstance(given, dict) or not all(isinstance(each, list) and all(map(_is_spot, each))
                                              for each in given.values()):
        raise DataError("'spots' is a list of spots for each camera", "Reload the page.")
    for each in given.values():
        places_of(json.dumps([[spot["x"], spot["y"]] for spot in each]))
    return given


def _is_spot(value: Any) -> bool:
    return isinstance(value, dict) and isinstance(value.get("name"), str) and {"x", "y"} <= set(value)


def packed_spots(request: Shot, held: Sequence[Mapping[str, Any]]) -> dict:
    """Return what a file has of spots: 'width' as `spot_width`, 'held' as `spot_values` with their places.

    Tungsten has the colour of full level there, as the packed pictures have.
    """
    places = [(float(spot["x"]), float(spot["y"])) for spot in held]
    head, found = spot_values(request, places, fading=False)
    return {"width": head["width"],
            "held": [{"x": x, "y": y, **each} for (x, y), each in zip(places, found, strict=True)]}


def spot_values(request: Shot, places: Sequence[tuple[float, float]], *,
                fading: bool = True) -> tuple[dict, list[dict]]:
    """Return which frames are read and how wide a spot is, and what is read at each place.

    A lamp that fades has the colour of its level, without `fading` that of full level.

    Returns
    -------
    head : dict
        'key' of the frames; 'width' as `spot_width`.
    spots : list of dict
        'thing' in the middle, 'pixels', 'parts' with each lamp's 'xyz' at full level, 'stderr' of its Y by
        the noise of the picture (None where that is unknown), and 'bands', what bands may leave it off.
        [cd/m²]
    """
    frames = request.found.frames
    width, colours = spot_width(request), stage_colours(request.stage)
    lamps = [request.at_full(name, fading=fading) for name in frames.lights]
    found = [_spot(frames, lamps, x, y, width, colours) for x, y in places]
    return {"key": request.found.key, "width": width}, found


def _spot(frames, lamps, x: float, y: float, width: float, colours: np.ndarray) -> dict:
    rows, columns = frames.shape
    x, y, radius = x * (columns - 1), y * (rows - 1), width / 2 * columns
    top, left = max(0, int(y - radius)), max(0, int(x - radius))
    patch = np.s_[top : int(y + radius) + 2, left : int(x + radius) + 2]
    row, column = np.mgrid[:rows, :columns][:, patch[0], patch[1]]
    seen = (row - y) ** 2 + (column - x) ** 2 <= radius**2
    index = int(frames.names_index[round(y), round(x)])
    return {"thing": frames.names[index] if index >= 0 else "", "pixels": int(seen.sum()),
            "parts": list(_parts(frames, lamps, patch, seen, colours))}


def _parts(frames, lamps, patch, seen: np.ndarray, colours: np.ndarray) -> Iterator[dict]:
    for number, lamp in enumerate(lamps):
        mean = frames.slices[number][:, patch[0], patch[1]][:, seen].mean(axis=1, dtype=float)
        weights = lamp_band_xyz(lamp, len(mean))
        noise = frames.variance[number][patch][seen].sum() / seen.sum() ** 2
        error = float(np.sqrt(noise) * weights[:, 1].sum())
        bands = float(lamps_band_errors(mean[None], [lamp], colours)[0])
        yield {"lamp": lamp.name, "xyz": (mean @ weights).tolist(),
               "stderr": error if np.isfinite(error) else None, "bands": bands}
