"""The exposure map: the frame painted by stops from 18 % grey.

Bands follow the scene's luminance through the camera's settings, before white balance and view
transform, so the map says the same as a spot meter. A band is one stop wide about a whole stop:
the band '0' runs from half a stop under 18 % grey to half a stop over it. Colours come from
`palette`. Clip and crush carry a pattern as well (lines, dots), so that they show in any print; they
lie where the camera's latitude ends, or where they are set. Steps may be half stops. With zones of a crew's
own only those are painted, over the still in grey.

No open standard defines such bands; these follow the stop scale that the set works in.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from previz.exposure.palette import BLACK, MOST_STOPS, ramp, zone_colours
from previz.physics.exposure import MID_GREY, CameraSettings
from previz.physics.stops import PLAIN, MapSettings
from previz.physics.transfer import bt709_signal

DEFAULT_CLIP = float(np.log2(1.0 / MID_GREY))
"""Where highlights clip: +2.474 stops, the signal 1.0 that a perfect white card gives and that
BT.709 codes as 100 %; of a camera without a latitude. [stops]"""

DEFAULT_CRUSH = -5.5
"""Under this the map says crushed, of a camera without a latitude. Common practice, no source.
[stops]"""

GREY = "grey"
"""Mark of a band that is shown as the still in grey."""

OUTSIDE = "outside the zones"
"""What is shown so, in words."""

LUMA = (0.2126, 0.7152, 0.0722)
"""Weights of a still's red, green and blue codes in grey.  Source: BT.709-6."""


@dataclass(frozen=True)
class Band:
    """One colour of the map.

    Parameters
    ----------
    label : str
        '−2', '0', '+1', '−2½', or what it is: 'crushed', 'clipped', a zone's name.
    low, high : float
        From (included) and to (excluded), in stops from 18 % grey; infinite at the ends. [stops]
    centre : float
        The stop or half stop it is about, the middle of a zone; for clip and crush their limit. [stops]
    colour : tuple of int
        sRGB, 0 to 255.
    mark : str
        Pattern drawn over the colour: 'lines' for clip, 'dots' for crush, '' for none; `GREY` for no
        colour at all.
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


def limits_of(settings: MapSettings, camera: CameraSettings | None = None) -> tuple[float, float]:
    """Return where a map says crushed and clipped: as set, else where the camera's latitude ends. [stops]"""
    under, over = (None, None) if camera is None else (camera.under, camera.over)
    crush = settings.crush if settings.crush is not None else DEFAULT_CRUSH if under is None else -under
    clip = settings.clip if settings.clip is not None else DEFAULT_CLIP if over is None else over
    return crush, clip


def stop_bands(settings: MapSettings = PLAIN, camera: CameraSettings | None = None) -> tuple[Band, ...]:
    """Return the bands of a map, dark to light: contiguous, from -inf to inf.

    Parameters
    ----------
    settings : MapSettings
    camera : CameraSettings, optional
        Of which the latitude counts; without one clip and crush are `DEFAULT_CLIP` and `DEFAULT_CRUSH`.

    Raises
    ------
    ValueError
        It crushes at or over grey, or clips at or under it.
    """
    crush, clip = limits_of(settings, camera)
    if not crush < 0 < clip:
        raise ValueError(f"a map lies about grey, got crush {crush:g} and clip {clip:g}")
    return _zone_bands(settings, crush, clip) if settings.zones else _step_bands(
        settings.halves, crush, clip)


@cache
def _step_bands(halves: bool, crush: float, clip: float) -> tuple[Band, ...]:
    parts = 2 if halves else 1
    below, above = (min(int(parts * abs(end) + 1e-9), MOST_STOPS * parts) for end in (crush, clip))
    centres = [number / parts for number in range(-below, above + 1)]
    edges = (-np.inf, crush, *(at + 0.5 / parts for at in centres[:-1]), clip, np.inf)
    labels = ["crushed", *map(stop_label, centres), "clipped"]
    # Stops beyond the last that has a colour of its own are in its band.
    if crush < edges[2] - 1.5 / parts:
        labels[1] += " and under"
    if clip > edges[-3] + 1.5 / parts:
        labels[-2] += " and over"
    marks = ("dots", *[""] * len(centres), "lines")
    return bands_between(edges, (crush, *centres, clip), labels, ramp(below, above, halves=halves), marks)


def _zone_bands(settings: MapSettings, crush: float, clip: float) -> tuple[Band, ...]:
    """Return the bands of zones and of what is between them.

    Beyond clip and crush no levels are told apart, so zones end there; one that lies beyond is empty.
    """
    edges, centres, labels, codes, marks = [-np.inf], [crush], ["crushed"], [(BLACK,) * 3], ["dots"]

    def add(low: float, label: str, code: Sequence[int], mark: str, high: float) -> None:
        edges.append(low)
        centres.append((low + high) / 2)
        labels.append(label)
        codes.append(tuple(code))
        marks.append(mark)

    reached = crush
    for zone, code in zip(settings.zones, zone_colours(len(settings.zones)), strict=True):
        low, high = (float(np.clip(end, crush, clip)) for end in (zone.low, zone.high))
        if low > reached:
            add(reached, "", (128, 128, 128), GREY, low)
        add(low, zone.name, code, "", high)
        reached = high
    if reached < clip:
        add(reached, "", (128, 128, 128), GREY, clip)
    add(clip, "clipped", (255, 255, 255), "lines", clip)
    return bands_between([*edges, np.inf], centres, labels, np.array(codes), marks)


def stop_label(stops: float) -> str:
    """Return whole or half stops as a band is called: '+1', '−2½', '0'."""
    whole, half = divmod(round(abs(stops) * 2), 2)
    number = (str(whole) if whole or not half else "") + ("½" if half else "")
    return number if not stops else ("+" if stops > 0 else "\N{MINUS SIGN}") + number


def grey_of(still: ArrayLike) -> np.ndarray:
    """Return a still in grey: its luma, uint8 of shape (row, column); `still` is sRGB, (row, column, 3)."""
    return np.round(np.asarray(still, dtype=np.float32) @ np.array(LUMA, np.float32)).astype(np.uint8)


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


def paint(index: np.ndarray, bands: Sequence[Band], *, pitch: int | None = None,
          grey: np.ndarray | None = None) -> np.ndarray:
    """Return the map as a picture, uint8 of shape (row, column, 3), sRGB.

    Parameters
    ----------
    index : uint8 array, shape (row, column)
        From `band_index`.
    bands : tuple of Band
        From `stop_bands`.
    pitch : int, optional
        Pixels from line to line and dot to dot; a 60th of the height unless given.
    grey : uint8 array, shape (row, column), optional
        From `grey_of`: what is shown where a band has the mark `GREY`.
    """
    colours = np.array([band.colour for band in bands], dtype=np.uint8)
    # As `colours[index]` has it, and in a quarter of its time.
    picture = colours.take(index, axis=0)
    pitch = pitch or max(6, round(index.shape[0] / 60))
    for number, band in enumerate(bands):
        if band.mark == GREY:
            if grey is not None:
                there = index == number
                picture[there] = grey[there][:, None]
        elif band.mark:
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
