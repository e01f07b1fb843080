"""The comparison: options as rows, cameras as columns; still, exposure map and difference of each.

One size for all pictures, one scale of colours for all maps, and under each set the three numbers
that are requested first. The tables with all numbers follow.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from previz.deliver.canvas import QUIET
from previz.deliver.compare_table import TERMS, camera_table, conflict_text, coverage_blocks
from previz.deliver.face_values import face_line
from previz.deliver.layout import (
    Block,
    Setting,
    caption,
    doubt_blocks,
    foot,
    heading,
    map_scales,
    scale,
    space,
    together,
    write_sheet_files,
)
from previz.deliver.map import ExposureMap
from previz.deliver.plates import Plate, plate_rows
from previz.deliver.reminders import caution_blocks
from previz.deliver.wording import settings_text, side_text, stops_text
from previz.exposure.comparing.difference import difference_bands
from previz.exposure.comparing.faces import conflicts
from previz.physics.safety import Caution

IN_A_ROW = 2
"""With more cameras the map and the difference go under the still instead of next to it."""

BETWEEN, GAP = 1.8, 0.6
"""Between cameras, and between the pictures of one. [units]"""


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
    coverage : comparing_coverage.Coverage
        What stands in the frame.
    """

    measures: object
    still: np.ndarray
    chart: ExposureMap
    difference: np.ndarray | None
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
    cautions : tuple of Caution
        That the scenes call for.
    """

    title: str
    options: tuple[str, ...]
    cameras: tuple[str, ...]
    shown: dict
    effects: dict
    cautions: tuple[Caution, ...] = ()

    @property
    def base(self) -> str:
        """Name of the base, as it is written."""
        return self.options[0] or "as written"

    def of_camera(self, camera: str) -> list:
        """Return what is shown of one camera, in the order of the options."""
        return [self.shown[option, camera] for option in self.options
                if (option, camera) in self.shown]


def _camera_heads(setting: Setting, comparison: Comparison, across: float) -> Block:
    """Return the cameras' names over their columns; each column is so wide. [px]"""
    unit = setting.unit

    def draw(paper, left, top, width):
        for number, camera in enumerate(comparison.cameras):
            settings = {each.measures.settings for each in comparison.of_camera(camera)}
            note = settings_text(settings.pop()) if len(settings) == 1 else ""
            x = left + number * (across + BETWEEN * unit)
            caption(paper, (x, top + 1.2 * unit), unit, f"Camera {camera}", note, across)
            names = _names(comparison)
            step = (across + GAP * unit) / len(names)
            for k, name in enumerate(names if len(comparison.cameras) <= IN_A_ROW else ()):
                paper.text((x + k * step, top + 2.7 * unit), name, round(0.8 * unit), colour=QUIET,
                           room=step - GAP * unit)

    return Block((3.3 if len(comparison.cameras) <= IN_A_ROW else 1.9) * unit, draw)


def _names(comparison: Comparison) -> tuple[str, ...]:
    """Return what the pictures of one option are."""
    alone = len(comparison.options) == 1
    return ("still", "exposure map") if alone else (
        "still", "exposure map", f"against {comparison.base}")


def _plate(comparison: Comparison, option: str, camera: str) -> Plate:
    shown = comparison.shown.get((option, camera))
    if shown is None:
        return Plate(())
    pictures = [shown.still, shown.chart]
    if len(comparison.options) > 1:
        pictures.append("the base" if option == comparison.options[0] else "another frame"
                        if shown.difference is None else
                        ExposureMap(shown.difference, difference_bands(), shown.chart.things))
    # With more cameras the map and the difference go under the still.
    rows = [pictures] if len(comparison.cameras) <= IN_A_ROW else [pictures[:1], pictures[1:]]
    return Plate(rows, under=(caption_text(shown.measures),))


def caption_text(one) -> str:
    """Return the first numbers of one option: both sides of the face, ratio, key, background."""
    if one.face is None:
        parts = ["no face in this frame"]
    else:
        parts = [face_line(one.face, one.settings).replace(", ", " · ")]
    if one.key is not None:
        side, _ = side_text(one.key.side, one.key.height)
        parts.append(f"key {one.key.across:.0f}° wide, {side}")
    if one.background is not None:
        parts.append(f"background {stops_text(one.background.stops)}")
    return " · ".join(parts)


def comparison_blocks(comparison: Comparison, setting: Setting) -> list[Block]:
    """Return a comparison in blocks.

    Raises
    ------
    ValueError
        There is nothing to show.
    """
    if not comparison.shown:
        raise ValueError("a comparison needs at least one option seen by one camera")
    unit, several = setting.unit, len(comparison.options) > 1
    count = f"{len(comparison.options)} options" if several else "as it is"
    views = f"{len(comparison.cameras)} cameras" if len(comparison.cameras) > 1 else "one camera"
    blocks = [heading(setting, comparison.title, f"{count}, {views}",
                      f"base: {comparison.base}" if several else ""),
              space(0.4 * unit), *map_scales(setting, "map: stops from 18 % grey", [
                  (f"camera {camera}", shown.chart) for (_, camera), shown in comparison.shown.items()])]
    if several:
        blocks.append(scale(setting, f"stops against {comparison.base}", difference_bands()))
    across = len(comparison.cameras)
    blocks += [space(0.6 * unit), _camera_heads(setting, comparison, setting.across(across, BETWEEN))]
    for option in comparison.options:
        row, = plate_rows(setting, [_plate(comparison, option, camera) for camera in comparison.cameras],
                          across, between=BETWEEN, gap=GAP)
        blocks.append(together(_option_head(setting, option), row))
    for camera in comparison.cameras:
        measured = [shown.measures for shown in comparison.of_camera(camera)]
        if measured:
            blocks += [space(unit), *camera_table(setting, camera, measured), *doubt_blocks(
                setting, [((one.option or "as written") if several else "", one.short)
                          for one in measured])]
    return [*blocks, space(unit), *_coverage(comparison, setting),
            *foot(setting, TERMS), *caution_blocks(setting, comparison.cautions)]


def _option_head(setting: Setting, option: str) -> Block:
    unit = setting.unit
    return Block(2.0 * unit, lambda paper, left, top, width: caption(
        paper, (left, top + 1.35 * unit), unit, option or "as written", "", width, 1.1))


def _coverage(comparison: Comparison, setting: Setting) -> list[Block]:
    covered = [shown.coverage for camera in comparison.cameras
               for shown in comparison.of_camera(camera)]
    rows, notes, figures = [], [], {}
    for option in comparison.options:
        measured = [comparison.shown[option, camera].measures for camera in comparison.cameras
                 if (option, camera) in comparison.shown]
        own = {}
        for one in measured:
            if one.face is not None:
                # With several cameras on one face the first is its own.
                own.setdefault(one.face.figure, one)
                figures.setdefault(one.face.figure, one.camera)
        rows.append((option, own))
        if len(own) > 1:
            notes += [(option, conflict_text(*pair))
                      for pair in conflicts(comparison.effects.get(option, {}))]
    return coverage_blocks(setting, covered, rows, list(figures.items()), notes)


def write_comparison(stem: Path, comparison: Comparison, words: dict[str, str],
                     width: int = 2600) -> list[Path]:
    """Write a comparison as a PNG of a width [px] and a PDF; see `layout.write_sheet_files`."""
    setting = Setting(width)
    return write_sheet_files(stem, comparison_blocks(comparison, setting), setting, words)
