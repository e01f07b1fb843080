"""The records: a camera's slices, and a meter that fell short."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import DTypeLike


def plane_shapes(light: int, row: int, column: int) -> dict[str, tuple[int, ...]]:
    """Return the shape of each plane of `Frames`."""
    return {
        "variance": (light, row, column),
        "albedo": (3, row, column),
        "normal": (3, row, column),
        "depth": (row, column),
        "names_index": (row, column),
    }


class LampSlices:
    """Slices of all lamps, each in an array of its own (mapped from disk or in memory).

    It is indexed, measured and iterated like one array of shape (light, band, row, column), but
    nothing is read before it is used. `np.asarray` joins the lamps into one array.

    Parameters
    ----------
    lamps : sequence of float32 arrays, each of shape (band, row, column)
    shape : (int, int, int), optional
        Of each lamp's slices; needed where there are no lamps.
    """

    def __init__(self, lamps: Iterable[np.ndarray], shape: tuple[int, int, int] | None = None):
        self._lamps = tuple(lamps)
        shapes = {lamp.shape for lamp in self._lamps} | ({tuple(shape)} if shape else set())
        if len(shapes) != 1 or len(next(iter(shapes))) != 3:
            raise ValueError(
                f"each lamp needs slices of one shape (band, row, column), got {shapes}"
            )
        self.shape = (len(self._lamps), *next(iter(shapes)))
        self.dtype = self._lamps[0].dtype if self._lamps else np.dtype(np.float32)
        self.ndim = 4

    def __len__(self) -> int:
        return len(self._lamps)

    def __iter__(self) -> Iterator[np.ndarray]:
        return iter(self._lamps)

    def __getitem__(self, key: Any) -> np.ndarray:
        first, *rest = key if isinstance(key, tuple) else (key,)
        if isinstance(first, int | np.integer):
            lamp = self._lamps[first]
            return lamp[tuple(rest)] if rest else lamp
        if first is Ellipsis or isinstance(first, slice):
            return np.asarray(self)[key]
        raise TypeError(f"slices are indexed by lamp number first, got {first!r}")

    def __array__(self, dtype: DTypeLike | None = None, copy: bool | None = None) -> np.ndarray:
        if not self._lamps:
            return np.zeros(self.shape, dtype or self.dtype)
        return np.stack(self._lamps).astype(dtype or self.dtype, copy=False)


@dataclass(frozen=True, eq=False)
class Frames:
    """The transport of one camera's picture.

    Parameters
    ----------
    slices : float32 array or LampSlices, shape (light, band, row, column)
        Radiance at the pixel per unit of the lamp's flux in that band. [1/(m² sr), or 1/sr for a
        lamp that is measured in lux]
    variance : float32 array, shape (light, row, column)
        Variance of the mean of the y-bar weighted mean over the bands. [as slices, squared]
    albedo : float32 array, shape (3, row, column)
        Linear Rec. 709 reflectance. [1]
    normal : float32 array, shape (3, row, column)
        Unit normal in the world; zero where nothing is seen.
    depth : float32 array, shape (row, column)
        Distance along the view axis; inf where nothing is seen. [m]
    names_index : int32 array, shape (row, column)
        Index into `names` of what the pixel sees; -1 for nothing.
    lights : tuple of str
        Lamp of each slice.
    names : tuple of str
        Things that `names_index` counts by.
    band_edges_nm : float array, shape (band + 1,)
        Where the bands meet, rising. [nm]
    samples : int
        Paths a pixel.
    seed : int
        Seed of the random numbers.
    camera : dict
        How the camera was set, plain JSON values (no nan, no inf).
    transport_hash : str
        Fingerprint of everything that the slices depend on.
    version : str
        Version of the program that made them.

    Raises
    ------
    ValueError
        Shapes disagree, a name occurs twice, or an index points past the names.
    """

    slices: np.ndarray | LampSlices
    variance: np.ndarray
    albedo: np.ndarray
    normal: np.ndarray
    depth: np.ndarray
    names_index: np.ndarray
    lights: tuple[str, ...]
    names: tuple[str, ...]
    band_edges_nm: np.ndarray
    samples: int
    seed: int
    camera: dict[str, Any] = field(default_factory=dict)
    transport_hash: str = ""
    version: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "lights", tuple(self.lights))
        object.__setattr__(self, "names", tuple(self.names))
        object.__setattr__(self, "band_edges_nm", np.asarray(self.band_edges_nm, dtype=float))
        if len(self.slices.shape) != 4:
            raise ValueError(
                f"slices must be (light, band, row, column), got shape {self.slices.shape}"
            )
        light, band, row, column = self.slices.shape
        for label, shape in {**plane_shapes(light, row, column), "band_edges_nm": (band + 1,)}.items():
            got = getattr(self, label).shape
            if got != shape:
                raise ValueError(f"{label} must have shape {shape} with these slices, got {got}")
        for label, count in (("lights", light), ("names", None)):
            entries = getattr(self, label)
            if count is not None and len(entries) != count:
                raise ValueError(f"{label} must name {count} lamps, got {len(entries)}")
            if len(set(entries)) != len(entries):
                raise ValueError(f"{label} must differ from each other, got {entries}")
        if np.any(np.diff(self.band_edges_nm) <= 0):
            raise ValueError("band edges must rise")
        if self.names_index.size and self.names_index.max() >= len(self.names):
            raise ValueError(f"names_index points past the {len(self.names)} names")

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns of the picture."""
        return self.slices.shape[2], self.slices.shape[3]


class Short(NamedTuple):
    """A meter that is not done.

    Parameters
    ----------
    name : str
    error : float
        Relative standard error that it has. [1]
    few : bool
        Whether that stands on too few contributions; see `batches.Batches.on_few`.
    """

    name: str
    error: float
    few: bool
