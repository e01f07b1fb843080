"""What a unit leaves in the cache besides light, views and meters: its note, and passes not added yet.

- `shards/<name of the unit>/unit.json`: that it was done, by what, and what it cost
- `shards/<name of the unit>/pass-<number>.<checksum>.npy`: sums of a pass of light
"""

from __future__ import annotations

import contextlib
import platform
import time
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from previz.engine.backend import runs_on
from previz.frames.arrays import Entry, read_array, sweep, write_array
from previz.frames.layouts import marked
from previz.frames.whole import AGAIN, FramesError, read_sealed, write_sealed
from previz.rendering.cache.owned import mark
from previz.rendering.shards.units import Unit

SHARDS = "shards"
NOTE_NAME = "unit.json"

_KIND = np.dtype("<f4")


@dataclass(frozen=True)
class Cost:
    """What a unit cost whoever did it.

    Parameters
    ----------
    seconds : float
        By the clock. [s]
    processor : float
        Of all its threads. [s]
    paths : float
    machine, runs_on : str
        Its name; 'processor' or 'gpu'.
    """

    seconds: float
    processor: float
    paths: float
    machine: str
    runs_on: str


class Clock:
    """Measures what a unit costs from when it is made."""

    def __init__(self) -> None:
        self._began, self._worked = time.monotonic(), time.process_time()

    def cost(self, paths: float, backend: str) -> Cost:
        """Return the cost so far."""
        return Cost(time.monotonic() - self._began, time.process_time() - self._worked, paths,
                    platform.node(), runs_on(backend))


def unit_folder(cache: Path, name: str) -> Path:
    """Return the folder of a unit by its name."""
    return Path(cache) / SHARDS / name


def note_of(cache: Path, name: str) -> dict[str, Any]:
    """Return the note of a unit; empty where there is none, or it is damaged."""
    folder = unit_folder(cache, name)
    try:
        return read_sealed(folder / NOTE_NAME, "previz_unit", name)
    except FramesError:
        return {}


def write_note(cache: Path, unit: Unit, cost: Cost | None, passes: dict[str, Entry] | None = None) -> None:
    """Write the note of a unit: of what it cost where it is done, and of the passes that lie beside it."""
    mark(Path(cache))
    write_sealed(unit_folder(cache, unit.name) / NOTE_NAME, {
        **marked("previz_unit"), "kind": unit.kind, "passes": passes or {},
        "cost": None if cost is None else asdict(cost)}, unit.name)


def cost_of(cache: Path, name: str) -> tuple[str, Cost] | None:
    """Return (the kind of a unit, what it cost), None where that is not known."""
    with contextlib.suppress(KeyError, TypeError):
        note = note_of(cache, name)
        return note["kind"], Cost(**note["cost"])
    return None


def passes_of(cache: Path, name: str) -> dict[str, Entry]:
    """Return the passes of a unit that are there: number as text -> entry of its file."""
    found = note_of(cache, name).get("passes")
    return found if isinstance(found, dict) else {}


def keep_pass(cache: Path, unit: Unit, number: int, values: np.ndarray, weight: int, there: dict[str, Entry],
              cost: Cost | None) -> dict[str, Entry]:
    """Keep a pass of a unit, of so many paths a pixel, and return all of its passes that are there."""
    folder = unit_folder(cache, unit.name)
    folder.mkdir(parents=True, exist_ok=True)
    entry = write_array(folder, f"pass-{number:05d}", values, _KIND)
    made = {**there, str(number): {**entry, "weight": weight}}
    write_note(cache, unit, cost, made)
    return made


def read_pass(cache: Path, unit: Unit, number: int, size: int) -> tuple[np.ndarray, int]:
    """Return (float32 array of shape (size,), paths a pixel) of a pass of a unit.

    Raises
    ------
    FramesError
        It is missing or damaged.
    """
    folder = unit_folder(cache, unit.name)
    entry = passes_of(cache, unit.name).get(str(number))
    if entry is None:
        raise FramesError(f"{folder} has no pass {number}.", AGAIN)
    return read_array(folder, entry, (size,), _KIND), int(entry["weight"])


def drop_passes(cache: Path, unit: Unit) -> None:
    """Remove the passes of a unit, which were added or are damaged; what it cost stays."""
    folder = unit_folder(cache, unit.name)
    if passes_of(cache, unit.name):
        known = cost_of(cache, unit.name)
        write_note(cache, unit, None if known is None else known[1])
    labels = {path.name.split(".")[0] for path in folder.glob("pass-*.npy")}
    sweep(folder, labels, ())
