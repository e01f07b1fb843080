"""The exposure map as a file: the painted frame, and a legend that says what each colour is."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from PIL import Image

from previz.deliver.atomic import write_png
from previz.deliver.canvas import INK, PAPER, QUIET, Canvas, Paper, width_of, wrapped
from previz.deliver.wording import NO_LIGHT, percent_texts, settings_text
from previz.exposure.falsecolour import (
    DEFAULT_CLIP,
    GREY,
    OUTSIDE,
    Band,
    band_index,
    bt709_percent,
    grey_of,
    paint,
    shares,
    signed,
    stop_bands,
)
from previz.physics.exposure import MID_GREY, CameraSettings
from previz.physics.stops import PLAIN, MapSettings

_OUTLINE = 0.45
"""How far an outline goes from the band's colour to the ink. [1]"""


@dataclass(frozen=True, eq=False)
class ExposureMap:
    """A frame in bands.

    Parameters
    ----------
    index : uint8 array, shape (row, column)
        Band of each pixel.
    bands : tuple of Band
        Dark to light.
    things : int array, shape (row, column), or None
        What each pixel sees; where that changes an outline is drawn, since flat colours alone
        hide the shapes.
    dark : bool
        No light at all comes to the lens.
    grey : uint8 array, shape (row, column), or None
        The still in grey, which lies under zones; None for a map that paints all.
    made : MapSettings
        What it is made of.
    """

    index: np.ndarray
    bands: tuple
    things: np.ndarray | None = None
    dark: bool = False
    grey: np.ndarray | None = None
    made: MapSettings = PLAIN

    @property
    def zoned(self) -> bool:
        """Whether it has zones of a crew's own."""
        return bool(self.made.zones)

    @property
    def halves(self) -> bool:
        """Whether a band is half a stop."""
        return self.made.halves and not self.zoned

    def shares(self) -> np.ndarray:
        """Return the part of the frame in each band, shape (bands,). [1]"""
        return shares(self.index, self.bands)

    def parts(self) -> list[tuple[Band, float]]:
        """Return the bands with their shares of the frame, dark to light; what is grey as one, last. [1]"""
        each = list(zip(self.bands, self.shares().tolist(), strict=True))
        parts = [pair for pair in each if pair[0].mark != GREY]
        grey = [pair for pair in each if pair[0].mark == GREY]
        if grey:
            parts.append((replace(grey[0][0], label=OUTSIDE), sum(share for _, share in grey)))
        return parts

    def picture(self, size: tuple[int, int] | None = None) -> np.ndarray:
        """Return the painted frame, uint8 of shape (row, column, 3), sRGB.

        Parameters
        ----------
        size : (int, int), optional
            Width and height. Bands are scaled before they are painted, so patterns and outlines
            stay whole. [px]
        """
        index, things, grey = self.index, self.things, self.grey
        if size is not None:
            index = _scaled(index, size)
            things = None if things is None else _scaled(things, size)
            grey = None if grey is None else np.asarray(
                Image.fromarray(grey).resize(size, Image.Resampling.LANCZOS))
        picture = paint(index, self.bands, grey=grey)
        # A picture in grey has its shapes.
        if things is not None and grey is None:
            edge = np.zeros(index.shape, dtype=bool)
            edge[:, 1:] |= things[:, 1:] != things[:, :-1]
            edge[1:, :] |= things[1:, :] != things[:-1, :]
            dark = np.array([sum(band.colour) < 3 * 100 for band in self.bands])
            ink = np.where(dark[index[edge]], 200, 0)[:, None]
            mixed = picture[edge] * (1 - _OUTLINE) + ink * _OUTLINE
            picture[edge] = mixed.round().astype(np.uint8)
        return picture


def _scaled(plane: np.ndarray, size: tuple[int, int]) -> np.ndarray:
    width, height = size
    rows = (np.arange(height) + 0.5) * plane.shape[0] / height
    columns = (np.arange(width) + 0.5) * plane.shape[1] / width
    return plane[rows.astype(int)[:, None], columns.astype(int)[None, :]]


def exposure_map(signal: np.ndarray, things: np.ndarray | None = None, *, made: MapSettings = PLAIN,
                 settings: CameraSettings | None = None, still: np.ndarray | None = None) -> ExposureMap:
    """Return the map of a frame, in the bands of `falsecolour.stop_bands`.

    Parameters
    ----------
    signal : float array, shape (row, column)
        Luminance signal, 0.18 for mid grey, before white balance. [1]
    things : int array, shape (row, column), optional
        `names_index` of the frames, for outlines.
    made : MapSettings
        Steps, clip, crush and zones.
    settings : CameraSettings, optional
        Of the camera, whose latitude counts.
    still : uint8 array, shape (row, column, 3), optional
        sRGB; what lies under zones.
    """
    bands = stop_bands(made, settings)
    return ExposureMap(band_index(signal, bands), bands, things, not np.any(np.asarray(signal) > 0),
                       grey_of(still) if made.zones and still is not None else None, made)


def legend_rows(chart: ExposureMap) -> list[tuple[Band, str, str, str]]:
    """Return the words of the legend, light to dark.

    Of each band: itself, its stops, the BT.709 level at that stop, its share of the frame.
    """
    rows = []
    parts = chart.parts()
    for (band, _), share in zip(parts, percent_texts([share for _, share in parts]), strict=True):
        level = float(bt709_percent(MID_GREY * 2.0**band.centre))
        stops, text = band.label, f"{level:.1f} %" if band.centre <= DEFAULT_CLIP else "over 100 %"
        if band.mark == GREY:
            text = ""
        elif band.label == "0":
            stops = "0, mid grey"
        elif chart.zoned and not band.mark:
            stops = f"{edge_text(band.low)} to {edge_text(band.high)}, {band.label}"
            text = f"{float(bt709_percent(MID_GREY * 2.0**band.low)):.0f} to " \
                   f"{float(bt709_percent(MID_GREY * 2.0**band.high)):.0f} %"
        elif band.mark == "dots":
            stops, text = f"under {signed(band.high, 1)}, crushed", f"under {text}"
        elif band.mark == "lines":
            stops = f"over {signed(band.low, 1)}, clipped"
            text = "100 %" if band.low <= DEFAULT_CLIP else text
        rows.append((band, stops, text, f"{share} %"))
    # What is grey comes last of all.
    rows.reverse()
    return sorted(rows, key=lambda row: row[0].mark == GREY)


def edge_text(stops: float) -> str:
    """Return stops from grey as short as they are exact to a hundredth: '−0.5', '+2', '0'."""
    return signed(stops, next(n for n in (0, 1, 2) if n == 2 or round(stops, n) == round(stops, 2)))


def swatch(paper: Paper, box: tuple[int, int, int, int], band: Band) -> None:
    """Draw a patch of a band with its pattern in a box: left, top, right, bottom. [px]"""
    left, top, right, bottom = box
    if band.mark == GREY:
        wedge = np.linspace(48, 208, max(1, right - left)).round().astype(np.uint8)
        paper.picture((left, top), np.broadcast_to(
            wedge[None, :, None], (bottom - top, right - left, 3)).copy(), smooth=False)
        return
    if not band.mark:
        paper.fill(*box, band.colour)
        return
    flat = np.zeros((bottom - top, right - left), dtype=np.uint8)
    paper.picture((left, top), paint(flat, (band,), pitch=max(6, (bottom - top) // 3)), smooth=False)


def say_dark(paper: Paper, at: tuple[float, float], picture: tuple[float, float],
             size: float) -> None:
    """Write on a map that there is no light: at its corner, by its width and height, in a size. [px]"""
    middle = at[0] + picture[0] / 2, at[1] + picture[1] / 2
    half = width_of(NO_LIGHT, size) / 2 + 0.6 * size
    paper.fill(middle[0] - half, middle[1] - size, middle[0] + half, middle[1] + size, PAPER)
    paper.text((middle[0], middle[1] + 0.36 * size), NO_LIGHT, size, align="centre")


def draw_map(chart: ExposureMap, *, title: str, subject: str, settings: CameraSettings) -> Canvas:
    """Lay out a map of the scene `title` with its legend; `subject` is its option and camera."""
    rows, columns = chart.index.shape
    size = int(np.clip(rows / 42, 13, 24))
    margin = 2 * size
    legend = 27 * size
    line = round(1.9 * size)
    footer = _footnote(chart, settings)
    foot_lines = wrapped(footer, round(0.85 * size), legend)
    legend_high = line * (len(chart.parts()) + 2) + round(0.8 * size)
    legend_high += round(1.45 * 0.85 * size * (len(foot_lines) - 1))
    width = columns + legend + 3 * margin
    head = round(4.2 * size)
    canvas = Canvas(width, head + max(rows, legend_high) + margin)

    side = margin + columns + margin
    canvas.text((margin, round(1.9 * size)), title, round(1.25 * size), weight="strong",
                room=width - 2 * margin)  # fmt: skip
    canvas.text((margin, round(3.4 * size)), subject, size, colour=QUIET, room=width - 2 * margin)
    canvas.picture((margin, head), chart.picture())
    if chart.dark:
        say_dark(canvas, (margin, head), (columns, rows), size)
    base = _draw_legend(canvas, chart, side, head, legend, size, line)
    canvas.paragraph((side, base + line), footer, round(0.85 * size), legend)
    return canvas


def _draw_legend(canvas: Canvas, chart: ExposureMap, left: float, top: float, wide: float, size: int,
                 line: float) -> float:
    small = round(0.85 * size)
    patch = round(2.6 * size)
    level_at, share_at = left + round(0.75 * wide), left + wide
    base = top + small
    canvas.text((left + patch + size, base), "stops from 18 % grey", small, colour=QUIET)
    canvas.text((level_at, base), "video level", small, colour=QUIET, align="right")
    canvas.text((share_at, base), "of the frame", small, colour=QUIET, align="right")
    y = top + line
    canvas.rule(left, left + wide, y - round(0.4 * size))
    for band, stops, level, share in legend_rows(chart):
        swatch(canvas, (left, y, left + patch, y + line), band)
        base = y + round(0.5 * line + 0.36 * size)
        strong = "strong" if band.label == "0" else "regular"
        room = level_at - width_of(level, size) - left - patch - 2 * size
        canvas.text((left + patch + size, base), stops, size, weight=strong, room=room)
        canvas.text((level_at, base), level, size, weight=strong, align="right")
        colour = QUIET if share == "0.0 %" else INK
        canvas.text((share_at, base), share, size, colour=colour, weight=strong, align="right")
        y += line
    canvas.rule(left, left + wide, y + round(0.4 * size))
    return y + round(0.4 * size)


def _footnote(chart: ExposureMap, settings: CameraSettings) -> str:
    at = settings_text(settings).replace(" ", "\N{NO-BREAK SPACE}")
    at = at.replace("\N{NO-BREAK SPACE}·\N{NO-BREAK SPACE}", " · ")
    clip = chart.bands[-1].low
    dark = "No light comes to the lens. " if chart.dark else ""
    wide = "a quarter of a stop" if chart.halves else "half a stop"
    bands = "zones are painted, all else is the still in grey." if chart.zoned else (
        f"a band reaches {wide} to either side.")
    why = " (BT.709 white)" if clip == DEFAULT_CLIP else ""
    return (
        f"{dark}Stops from 18 % grey at {at}; {bands} Video level: "
        f"scene-referred BT.709 at that stop, no camera curve. Clip is set at {signed(clip, 2)}{why}. "
        "Counted from luminance before balance and view."
    )


def write_map(path: Path, chart: ExposureMap, *, title: str, subject: str,
              settings: CameraSettings, words: dict[str, str]) -> None:
    """Write a map with its legend as a PNG; `words` is what the file says of itself. See `draw_map`."""
    canvas = draw_map(chart, title=title, subject=subject, settings=settings)
    write_png(path, canvas.image, words)
