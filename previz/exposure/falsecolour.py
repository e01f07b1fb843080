"""The exposure map: the frame painted by stops from 18 % grey.

Bands follow the scene's luminance through the camera's settings, before white balance and view
transform, so the map says the same as a spot meter. A band is one stop wide about a whole stop:
the band '0' runs from half a stop under 18 % grey to half a stop over it. Colours come from
`palette`. Clip and crush carry a pattern as well (lines, dots), so that they show in any print.

No open standard defines such bands; these follow the stop scale that the set works in.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from previz.exposure.palette import ramp
from previz.physics.exposure import MID_GREY
from previz.physics.transfer import bt709_signal

DEFAULT_CLIP = float(np.log2(1.0 / MID_GREY))
"""Where highlights clip: +2.474 stops, the signal 1.0 that a perfect white card gives and that
BT.709 codes as 100 %. [stops]"""

DEFAULT_CRUSH = -5.5
"""Under this the map says crushed. Common practice, no source.
[stops]"""

BELOW, ABOVE = 5, 2
"""Whole stops between crush and mid grey, and between mid grey and clip, that have a band."""


@dataclass(frozen=True)
class Band:
    """One colour of the map.

    Parameters
    ----------
    label : str
        '−2', '0', '+1', or what it is: 'crushed', 'clipped'.
    low, high : float
        From (included) and to (excluded), in stops from 18 % grey; infinite at the ends. [stops]
    centre : float
        The whole stop it is about; for clip and crush their limit. [stops]
    colour : tuple of int
        sRGB, 0 to 255.
    mark : str
        Pattern drawn over the colour: 'lines' for clip, 'dots' for crush, '' for none.
    """

    label: str
    low: float
    high: float
    centre: float
    colour: tuple[int, ...]
    mark: str = ""


def bt709_percent(signal: ArrayLike) -> np.ndarray:
    """Return `transfer.bt709_signal` of a scene-linear signal, 1 for a perfect white card. [%]

    Held at 100 % above 1.
    """
    return 100.0 * bt709_signal(np.clip(signal, 0.0, 1.0))


@cache
def stop_bands() -> tuple[Band, ...]:
    """Return the bands of the map, dark to light: contiguous, from -inf to inf."""
    wholes = range(-BELOW, ABOVE + 1)
    edges = (-np.inf, DEFAULT_CRUSH, *(whole + 0.5 for whole in wholes[:-1]), DEFAULT_CLIP, np.inf)
    centres = (DEFAULT_CRUSH, *wholes, DEFAULT_CLIP)
    labels = ("crushed", *map(signed, wholes), "clipped")
    marks = ("dots", *[""] * len(wholes), "lines")
    return bands_between(edges, centres, labels, ramp(BELOW, ABOVE), marks)


def bands_between(edges: Sequence[float], centres: Sequence[float], labels: Sequence[str],
                  codes: np.ndarray, marks: Sequence[str]) -> tuple[Band, ...]:
    """Return bands, dark to light, from their edges, one more than there are bands; see `Band`."""
    return tuple(
        Band(label, float(low), float(high), float(at), tuple(int(part) for part in code), mark)
        for label, low, high, at, code, mark in zip(labels, edges[:-1], edges[1:], centres, codes,
                                                    marks, strict=True))


def signed(stops: float, digits: int = 0) -> str:
    """Return a number to some decimals with its sign: '+1', '−2.5' with a true minus, '0' for nothing."""
    text = f"{abs(stops):.{digits}f}"
    if float(text) == 0:
        return text
    return ("+" if stops > 0 else "\N{MINUS SIGN}") + text


def band_index(signal: ArrayLike, bands: Sequence[Band]) -> np.ndarray:
    """Return which band each pixel lies in: an index into `bands`, uint8 of shape (row, column).

    Parameters
    ----------
    signal : float array, shape (row, column)
        Scene-linear signal luminance, 0.18 for grey. [1]
    bands : tuple of Band
        As `stop_bands` returns them.

    Raises
    ------
    ValueError
        A pixel is not a number.
    """
    values = np.asarray(signal)
    if np.isnan(values).any():
        raise ValueError("the signal holds pixels that are not a number")
    edges = MID_GREY * 2.0 ** np.array([band.low for band in bands[1:]])
    return np.searchsorted(edges, values, side="right").astype(np.uint8)


def shares(index: np.ndarray, bands: Sequence[Band]) -> np.ndarray:
    """Return how much of the frame each band takes, from `band_index`; sums to 1. Shape (band,) [1]"""
    return np.bincount(index.ravel(), minlength=len(bands)) / index.size


def paint(index: np.ndarray, bands: Sequence[Band], *, pitch: int | None = None) -> np.ndarray:
    """Return the map as a picture, uint8 of shape (row, column, 3), sRGB.

    Parameters
    ----------
    index : uint8 array, shape (row, column)
        From `band_index`.
    bands : tuple of Band
        From `stop_bands`.
    pitch : int, optional
        Pixels from line to line and dot to dot; a 60th of the height unless given.
    """
    colours = np.array([band.colour for band in bands], dtype=np.uint8)
    picture = colours[index]
    pitch = pitch or max(6, round(index.shape[0] / 60))
    for number, band in enumerate(bands):
        if band.mark:
            ink = _pattern(index.shape, band.mark, pitch) & (index == number)
            picture[ink] = _ink(band.colour)
    return picture


def _ink(colour: tuple[int, ...]) -> tuple[int, int, int]:
    """Return a grey that stands out from a band's own colour without shouting."""
    dark = sum(colour) < 3 * 128
    return (150, 150, 150) if dark else (112, 112, 112)


def _pattern(shape: tuple[int, ...], mark: str, pitch: int) -> np.ndarray:
    row, column = np.ogrid[: shape[0], : shape[1]]
    width = max(1, round(pitch / 7))
    if mark == "lines":
        return (row + column) % pitch < width
    size = max(2, round(pitch / 5))
    shifted = column + (row // pitch % 2) * (pitch // 2)
    return (row % pitch < size) & (shifted % pitch < size)
