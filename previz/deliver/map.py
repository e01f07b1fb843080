"""The exposure map as a file: the painted frame, and a legend that says what each colour is."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from previz.deliver.atomic import write_png
from previz.deliver.canvas import INK, PAPER, QUIET, Canvas, Paper, width_of, wrapped
from previz.deliver.wording import NO_LIGHT, percent_texts, settings_text
from previz.exposure.falsecolour import (
    DEFAULT_CLIP,
    Band,
    band_index,
    bt709_percent,
    paint,
    shares,
    signed,
    stop_bands,
)
from previz.physics.exposure import MID_GREY, CameraSettings

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
    """

    index: np.ndarray
    bands: tuple
    things: np.ndarray | None = None
    dark: bool = False

    def shares(self) -> np.ndarray:
        """Return the part of the frame in each band, shape (bands,). [1]"""
        return shares(self.index, self.bands)

    def picture(self, size: tuple[int, int] | None = None) -> np.ndarray:
        """Return the painted frame, uint8 of shape (row, column, 3), sRGB.

        Parameters
        ----------
        size : (int, int), optional
            Width and height. Bands are scaled before they are painted, so patterns and outlines
            stay whole. [px]
        """
        index, things = self.index, self.things
        if size is not None:
            index = _scaled(index, size)
            things = None if things is None else _scaled(things, size)
        picture = paint(index, self.bands)
        if things is not None:
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


def exposure_map(signal: np.ndarray, things: np.ndarray | None = None) -> ExposureMap:
    """Return the map of a frame, in the bands of `falsecolour.stop_bands`.

    Parameters
    ----------
    signal : float array, shape (row, column)
        Luminance signal, 0.18 for mid grey, before white balance. [1]
    things : int array, shape (row, column), optional
        `names_index` of the frames, for outlines.
    """
    bands = stop_bands()
    return ExposureMap(band_index(signal, bands), bands, things, not np.any(np.asarray(signal) > 0))


def legend_rows(chart: ExposureMap) -> list[tuple[Band, str, str, str]]:
    """Return the words of the legend, light to dark.

    Of each band: itself, its stops, the BT.709 level at that stop, its share of the frame.
    """
    rows = []
    for band, share in zip(chart.bands, percent_texts(chart.shares()), strict=True):
        level = float(bt709_percent(MID_GREY * 2.0**band.centre))
        stops, text = band.label, f"{level:.1f} %"
        if band.label == "0":
            stops = "0, mid grey"
        elif band.mark == "dots":
            stops, text = f"under {signed(band.high, 1)}, crushed", f"under {text}"
        elif band.mark == "lines":
            stops, text = f"over {signed(band.low, 1)}, clipped", "100 %"
        rows.append((band, stops, text, f"{share} %"))
    return rows[::-1]


def swatch(paper: Paper, box: tuple[int, int, int, int], band: Band) -> None:
    """Draw a patch of a band with its pattern in a box: left, top, right, bottom. [px]"""
    left, top, right, bottom = box
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
    legend_high = line * (len(chart.bands) + 2) + round(0.8 * size)
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
    clip = signed(DEFAULT_CLIP, 2)
    dark = "No light comes to the lens. " if chart.dark else ""
    return (
        f"{dark}Stops from 18 % grey at {at}; a band reaches half a stop to either side. Video level: "
        f"scene-referred BT.709 at that stop, no camera curve. Clip is set at {clip} (BT.709 white). "
        "Counted from luminance before balance and view."
    )


def write_map(path: Path, chart: ExposureMap, *, title: str, subject: str,
              settings: CameraSettings, words: dict[str, str]) -> None:
    """Write a map with its legend as a PNG; `words` is what the file says of itself. See `draw_map`."""
    canvas = draw_map(chart, title=title, subject=subject, settings=settings)
    write_png(path, canvas.image, words)
