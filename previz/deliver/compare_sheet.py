"""The comparison: options as rows, cameras as columns; still, exposure map and difference of each.

One size for all pictures, one scale of colours for all maps, and under each set the three numbers
that are asked for first. The tables with all numbers follow.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.deliver.canvas import QUIET
from previz.deliver.compare_table import (
    camera_table,
    conflict_text,
    coverage_blocks,
    definitions,
    side_text,
)
from previz.deliver.face_values import face_line
from previz.deliver.map import ExposureMap, swatch
from previz.deliver.pages import Block, Setting, heading, paragraph, space
from previz.deliver.sheet_files import write_sheet_files
from previz.deliver.tables import doubt_blocks
from previz.deliver.wording import settings_text, stops_text
from previz.exposure.comparing.difference import difference_bands
from previz.exposure.comparing.faces import conflicts
from previz.exposure.falsecolour import stop_label

IN_A_ROW = 2
"""With more cameras the map and the difference go under the still instead of beside it."""


@dataclass(frozen=True, eq=False)
class Shown:
    """One option by one camera, ready to be set.

    Parameters
    ----------
    measures : comparing.ShotMeasures
        Its numbers.
    still : uint8 array, shape (row, column, 3)
        sRGB.
    chart : map.ExposureMap
        Its exposure map.
    difference : uint8 array, shape (row, column), or None
        Band of each pixel against the base; None for the base itself, or where the camera's
        picture has another shape.
    things : int array, shape (row, column)
        What each pixel sees.
    coverage : comparing_coverage.Coverage
        What stands in the frame.
    """

    measures: object
    still: np.ndarray
    chart: ExposureMap
    difference: np.ndarray | None
    things: np.ndarray
    coverage: object


@dataclass(frozen=True, eq=False)
class Comparison:
    """All that a comparison shows.

    Parameters
    ----------
    title : str
        Of the scene.
    options, cameras : tuple of str
        In order; the first option is the base.
    shown : dict of (option, camera) to Shown
        Every picture with its numbers.
    effects : dict of option to dict of figure to tuple of LampOnFace
        What each lamp does to each face.
    cautions : tuple of str
        That the scenes call for.
    """

    title: str
    options: tuple[str, ...]
    cameras: tuple[str, ...]
    shown: dict
    effects: dict
    cautions: tuple[str, ...] = ()

    @property
    def base(self) -> str:
        """Name of the base, as it is written."""
        return self.options[0] or "as written"

    def of_camera(self, camera: str) -> list:
        """Return what is shown of one camera, in the order of the options."""
        return [self.shown[option, camera] for option in self.options
                if (option, camera) in self.shown]


@dataclass(frozen=True)
class _Grid:
    """Where pictures stand. [px]"""

    setting: Setting
    cameras: int
    aspect: float
    alone: bool

    @property
    def gap(self):
        return 0.6 * self.setting.unit

    @property
    def between(self):
        return 1.8 * self.setting.unit

    @property
    def beside(self):
        return self.cameras <= IN_A_ROW

    @property
    def cell(self):
        return (self.setting.inner - (self.cameras - 1) * self.between) / self.cameras

    @property
    def across(self):
        return 2 if self.alone else 3

    @property
    def still(self):
        wide = self.cell
        if self.beside:
            wide = (self.cell - (self.across - 1) * self.gap) / self.across
        return round(wide), round(wide / self.aspect)

    @property
    def small(self):
        if self.beside:
            return self.still
        wide = self.cell if self.alone else (self.cell - self.gap) / 2
        return round(wide), round(wide / self.aspect)

    @property
    def height(self):
        under = 0 if self.beside else self.small[1] + self.gap
        return self.still[1] + under

    def places(self, number: int, left: float, top: float):
        """Return (left, top) of the still, the map and the difference of one camera."""
        x = left + number * (self.cell + self.between)
        if self.beside:
            step = self.still[0] + self.gap
            return [(round(x + k * step), round(top)) for k in range(self.across)]
        low = top + self.still[1] + self.gap
        return [(round(x), round(top)), (round(x), round(low)),
                (round(x + self.small[0] + self.gap), round(low))][:self.across]


def _camera_heads(grid: _Grid, comparison: Comparison) -> Block:
    unit = grid.setting.unit

    def draw(paper, left, top, width):
        for number, camera in enumerate(comparison.cameras):
            shown = comparison.of_camera(camera)
            x = left + number * (grid.cell + grid.between)
            base = top + 1.2 * unit
            taken = paper.text((x, base), f"Camera {camera}", round(1.15 * unit), weight="strong",
                               room=grid.cell)
            same = len({each.measures.settings for each in shown}) == 1
            if shown and same:
                paper.text((x + taken + unit, base), settings_text(shown[0].measures.settings),
                           round(0.9 * unit), colour=QUIET, room=grid.cell - taken - unit)
            if grid.beside:
                names = ("still", "exposure map", f"against {comparison.base}")
                for (at, _), name in zip(grid.places(number, left, top), names, strict=False):
                    paper.text((at, base + 1.5 * unit), name, round(0.8 * unit), colour=QUIET,
                               room=grid.still[0])

    return Block((3.3 if grid.beside else 1.9) * unit, draw)


def _row(grid: _Grid, comparison: Comparison, option: str) -> Block:
    unit = grid.setting.unit
    caption = 2.0 * unit
    under = 1.7 * unit
    # Painted once, though a sheet is drawn for the screen and for print.
    painted = {camera: _painted(grid, comparison.shown[option, camera])
               for camera in comparison.cameras if (option, camera) in comparison.shown}

    def draw(paper, left, top, width):
        paper.text((left, top + 1.35 * unit), option or "as written", round(1.1 * unit),
                   weight="strong", room=width)
        for number, camera in enumerate(comparison.cameras):
            shown = comparison.shown.get((option, camera))
            if shown is None:
                continue
            places = grid.places(number, left, top + caption)
            _pictures(paper, grid, places, shown, painted[camera], comparison.base)
            line = caption_text(shown.measures)
            paper.text((places[0][0], top + caption + grid.height + 1.15 * unit), line,
                       round(0.85 * unit), colour=QUIET, room=grid.cell)

    return Block(caption + grid.height + under, draw)


def _painted(grid: _Grid, shown: Shown):
    """Return the map and the difference of one picture, painted at the size they are shown."""
    chart = shown.chart.picture(grid.small)
    if shown.difference is None or grid.across < 3:
        return chart, None
    return chart, ExposureMap(shown.difference, difference_bands(),
                              shown.things).picture(grid.small)


def _pictures(paper, grid: _Grid, places, shown: Shown, painted, base: str):
    chart, change = painted
    paper.picture(places[0], shown.still, grid.still)
    paper.picture(places[1], chart, smooth=False)
    if len(places) < 3:
        return
    left, top = places[2]
    if change is not None:
        paper.picture(places[2], change, smooth=False)
        return
    wide, high = grid.small
    paper.fill(left, top, left + wide, top + high, (232, 232, 231))
    unit = grid.setting.unit
    words = "the base" if (shown.measures.option or "as written") == base else "another frame"
    paper.text((left + wide / 2, top + high / 2 + 0.3 * unit), words, round(0.9 * unit),
               colour=QUIET, align="centre", room=wide - unit)


def caption_text(look) -> str:
    """Return the first numbers of one option: both sides of the face, ratio, key, background.

    Parameters
    ----------
    measures : comparing.ShotMeasures
        Its numbers.
    """
    if look.face is None:
        parts = ["no face in this frame"]
    else:
        parts = [face_line(look.face, look.settings).replace(", ", " · ")]
    if look.key is not None:
        side, _ = side_text(look.key.side, look.key.height)
        parts.append(f"key {look.key.across:.0f}° wide, {side}")
    if look.background is not None:
        parts.append(f"background {stops_text(look.background.stops)}")
    return " · ".join(parts)


def _scale(setting: Setting, lead: str, bands) -> Block:
    unit = setting.unit

    def draw(paper, left, top, width):
        taken = paper.text((left, top + 1.35 * unit), lead, round(0.85 * unit), colour=QUIET)
        start = left + max(taken + unit, 17 * unit)
        wide = (left + width - start) / len(bands)
        for number, band in enumerate(bands):
            box = (round(start + number * wide), round(top),
                   round(start + (number + 1) * wide), round(top + 1.7 * unit))
            _swatch(paper, box, band)
            words = band.label
            if band.mark:
                limit = stop_label(band.centre, 1)
                words = f"under {limit}" if band.mark == "dots" else f"over {limit}"
            paper.text(((box[0] + box[2]) / 2, top + 2.85 * unit), words, round(0.8 * unit),
                       align="centre", room=wide)

    return Block(3.6 * unit, draw)


def _swatch(paper, box, band):
    if band.mark:
        swatch(_Exact(paper), box, band)
    else:
        paper.fill(*box, band.colour)


class _Exact:
    """Sets pictures without loss, whatever they are set on."""

    def __init__(self, paper):
        self.paper = paper

    def picture(self, at, pixels):
        """Set a picture with hard edges."""
        self.paper.picture(at, pixels, smooth=False)


def comparison_blocks(comparison: Comparison, setting: Setting) -> list[Block]:
    """Return a comparison in blocks.

    Parameters
    ----------
    comparison : Comparison
        All that is shown.
    setting : Setting
        Sizes of the sheet.

    Raises
    ------
    ValueError
        There is nothing to show.
    """
    if not comparison.shown:
        raise ValueError("a comparison needs at least one option seen by one camera")
    first = next(iter(comparison.shown.values()))
    rows, columns = first.still.shape[:2]
    grid = _Grid(setting, len(comparison.cameras), columns / rows, len(comparison.options) == 1)
    count = f"{len(comparison.options)} options" if len(comparison.options) > 1 else "as it is"
    views = f"{len(comparison.cameras)} cameras" if len(comparison.cameras) > 1 else "one camera"
    blocks = [heading(setting, comparison.title, f"{count}, {views}",
                      f"base: {comparison.base}" if len(comparison.options) > 1 else ""),
              space(0.4 * setting.unit)]
    blocks.append(_scale(setting, "map: stops from 18 % grey", first.chart.bands))
    if len(comparison.options) > 1:
        blocks.append(_scale(setting, f"stops against {comparison.base}", difference_bands()))
    blocks += [space(0.6 * setting.unit), _camera_heads(grid, comparison)]
    blocks += [_row(grid, comparison, option) for option in comparison.options]
    for camera in comparison.cameras:
        looks = [shown.measures for shown in comparison.of_camera(camera)]
        if looks:
            several = len(comparison.options) > 1
            blocks += [space(setting.unit), *camera_table(setting, camera, looks), *doubt_blocks(
                setting, [((look.option or "as written") if several else "", look.short)
                          for look in looks])]
    blocks += [space(setting.unit), *_coverage(comparison, setting)]
    blocks += [space(setting.unit), definitions(setting)]
    if comparison.cautions:
        blocks += [space(0.6 * setting.unit), paragraph(setting, " ".join(comparison.cautions))]
    return blocks


def _coverage(comparison: Comparison, setting: Setting) -> list[Block]:
    covered = [shown.coverage for camera in comparison.cameras
               for shown in comparison.of_camera(camera)]
    rows, notes, figures = [], [], {}
    for option in comparison.options:
        looks = [comparison.shown[option, camera].measures for camera in comparison.cameras
                 if (option, camera) in comparison.shown]
        own = {}
        for look in looks:
            if look.face is not None:
                # With several cameras on one face the first is its own.
                own.setdefault(look.face.figure, look)
                figures.setdefault(look.face.figure, look.camera)
        rows.append((option, own))
        if len(own) > 1:
            notes += [(option, conflict_text(*pair))
                      for pair in conflicts(comparison.effects.get(option, {}))]
    return coverage_blocks(setting, covered, rows, list(figures.items()), notes)


def write_comparison(stem, comparison: Comparison, words, width: int = 2600):
    """Write a comparison as a PNG and a PDF.

    Parameters
    ----------
    stem : path-like
        Path without the ending; both files are replaced in one step each.
    comparison : Comparison
        All that is shown.
    words : dict of str to str
        What the files say of themselves.
    width : int
        Of the PNG. [px]

    Returns
    -------
    list of Path
    """
    setting = Setting(width)
    blocks = comparison_blocks(comparison, setting)
    return write_sheet_files(stem, blocks, setting, words)

