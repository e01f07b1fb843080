"""The exposure map: the frame painted by stops from 18 % grey.

Bands follow the scene's luminance through the camera's settings, before white balance and view
transform, so the map says the same as a spot meter. A band is one stop wide about a whole stop:
the band '0' runs from half a stop under 18 % grey to half a stop over it. Colours come from
`palette`. Clip and crush carry a pattern as well (lines, dots), so that they show in any print.

No open standard defines such bands; these follow the stop scale that the set works in.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.exposure.palette import ramp
from previz.physics.exposure import MID_GREY
from previz.physics.transfer import bt709_signal

DEFAULT_CLIP = float(np.log2(1.0 / MID_GREY))
"""Where highlights clip unless a camera's headroom is given: +2.474 stops, the signal 1.0 that
a perfect white card gives and that BT.709 codes as 100 %. [stops]"""

DEFAULT_CRUSH = -5.5
"""Under this the map says crushed: what rounds to -6 or less. Common practice, no source.
[stops]"""

_SLIVER = 0.25
"""A last band narrower than this is joined to its neighbour. [stops]"""


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
    colour: tuple[int, int, int]
    mark: str = ""


def bt709_percent(signal):
    """Return the BT.709 video level of a scene-linear signal.

    Held at 100 % above L = 1.

    Parameters
    ----------
    signal : float array, shape (...)
        L, scene-linear, 1 for a perfect white card. [1]

    Returns
    -------
    float array, shape (...)
        `transfer.bt709_signal` in percent. [%]
    """
    return 100.0 * bt709_signal(np.clip(signal, 0.0, 1.0))


def stop_bands(clip_at=DEFAULT_CLIP, crush_at=DEFAULT_CRUSH):
    """Return the bands of a map, dark to light.

    Parameters
    ----------
    clip_at : float
        Where highlights clip: BT.709 white, or the headroom of a camera. [stops over 18 % grey]
    crush_at : float
        Where shadows are called crushed. [stops, negative]

    Returns
    -------
    tuple of Band
        Contiguous, from -inf to inf.

    Raises
    ------
    ValueError
        Clip is under +1 stop, crush over -1 stop, or there are too many bands to tell apart.
    """
    if not (np.isfinite(clip_at) and clip_at >= 1):
        raise ValueError(f"clip_at must be +1 stop or more, got {clip_at!r}")
    if not (np.isfinite(crush_at) and crush_at <= -1):
        raise ValueError(f"crush_at must be -1 stop or less, got {crush_at!r}")
    # The outermost whole stop whose band keeps more than a sliver inside the limits.
    above = max(1, int(np.ceil(clip_at - _SLIVER + 0.5)) - 1)
    below = max(1, int(np.ceil(-crush_at - _SLIVER + 0.5)) - 1)
    codes, _ = ramp(below, above)
    edges = [-np.inf, crush_at]
    edges += [whole + 0.5 for whole in range(-below, above)]
    edges += [clip_at, np.inf]
    centres = [crush_at, *range(-below, above + 1), clip_at]
    labels = ["crushed", *map(stop_label, centres[1:-1]), "clipped"]
    marks = ["dots", *[""] * (below + above + 1), "lines"]
    return tuple(
        Band(label, float(low), float(high), float(at), tuple(int(part) for part in code), mark)
        for label, low, high, at, code, mark in zip(
            labels, edges[:-1], edges[1:], centres, codes, marks, strict=True
        )
    )


def stop_label(stops, digits=0):
    """Return stops as they are written: '+1', '0', '−2.5'.

    Parameters
    ----------
    stops : float
        [stops]
    digits : int
        Decimals.

    Returns
    -------
    str
    """
    text = f"{abs(stops):.{digits}f}"
    if float(text) == 0:
        return text
    return ("+" if stops > 0 else "\N{MINUS SIGN}") + text


def band_index(signal, bands):
    """Return which band each pixel lies in.

    Parameters
    ----------
    signal : float array, shape (row, column)
        Scene-linear signal luminance, 0.18 for grey. [1]
    bands : tuple of Band
        As `stop_bands` returns them.

    Returns
    -------
    uint8 array, shape (row, column)
        Index into `bands`.

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


def shares(index, bands):
    """Return how much of the frame each band takes.

    Parameters
    ----------
    index : uint8 array, shape (row, column)
        From `band_index`.
    bands : tuple of Band
        From `stop_bands`.

    Returns
    -------
    float array, shape (len(bands),)
        Parts of the frame; they sum to 1. [1]
    """
    return np.bincount(index.ravel(), minlength=len(bands)) / index.size


def paint(index, bands, *, pitch=None):
    """Return the map as a picture.

    Parameters
    ----------
    index : uint8 array, shape (row, column)
        From `band_index`.
    bands : tuple of Band
        From `stop_bands`.
    pitch : int, optional
        Pixels from line to line and dot to dot; a 60th of the height unless given.

    Returns
    -------
    uint8 array, shape (row, column, 3)
        sRGB.
    """
    colours = np.array([band.colour for band in bands], dtype=np.uint8)
    picture = colours[index]
    pitch = pitch or max(6, round(index.shape[0] / 60))
    for number, band in enumerate(bands):
        if band.mark:
            ink = _pattern(index.shape, band.mark, pitch) & (index == number)
            picture[ink] = _ink(band.colour)
    return picture


def _ink(colour):
    """Return a grey that stands out from a band's own colour without shouting."""
    dark = sum(colour) < 3 * 128
    return (150, 150, 150) if dark else (112, 112, 112)


def _pattern(shape, mark, pitch):
    row, column = np.ogrid[: shape[0], : shape[1]]
    width = max(1, round(pitch / 7))
    if mark == "lines":
        return (row + column) % pitch < width
    size = max(2, round(pitch / 5))
    shifted = column + (row // pitch % 2) * (pitch // 2)
    return (row % pitch < size) & (shifted % pitch < size)
