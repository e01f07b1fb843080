"""What a reference still says: its numbers as rows, its words, its sheet."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import ClassVar

import numpy as np

from previz.deliver import read_sheet
from previz.levels.picture_answer import (
    ALIKE,
    LEAST_SHARE,
    OFF,
    SURE_COLOUR,
    TOLD,
    UNSURE,
    WEAK,
    Answer,
    LampFound,
)
from previz.levels.picture_model import PictureFit
from previz.levels.picture_regions import Cells
from previz.physics.exposure import CameraSettings
from previz.physics.safety import Caution
from previz.scene.scene import Scene
from previz.stage.records import Stage
from previz.studies.read.leftover import Leftover
from previz.studies.read.picture import PREVIZ
from previz.studies.read.side_light import SideLight
from previz.studies.result import Result, Row, row
from previz.studies.rows import camera_rows, caution_rows

STATES = {TOLD: "told", OFF: "off, or nearly", WEAK: "gives too little here to be told",
          ALIKE: "looks like another", UNSURE: "not told"}
"""What is known of a lamp, in words."""

ANOTHER_SCENE = 1.5
"""A fit that leaves so much may not be of the same place. [stops]  Common practice, no source."""

ANYWHERE = 3.0
"""Where lamps so far apart explain as much, the place of one is not told. [m]  Common practice, no source."""


@dataclass(frozen=True, eq=False)
class Shown:
    """A picture on the sheet.

    Parameters
    ----------
    name : str
        'reference', 'nearest', or an option's.
    still : uint8 array, shape (row, column, 3)
        sRGB.
    sides : SideLight or None
        Of the face in it.
    """

    name: str
    still: np.ndarray
    sides: SideLight | None


@dataclass(frozen=True, eq=False)
class Reading(Result):
    """A reference still, read.

    Parameters
    ----------
    title, option, camera : str
        Of the scene.
    picture : Path
    settings : CameraSettings
        As the camera is set.
    look : str
        What the picture was taken for.
    marks : int
        Points that lined it up; 0 for by the camera alone.
    miss : float
        How far those miss, root mean square. [of the width]
    figure : str
        Whose face was measured.
    answer : Answer
    fit : PictureFit
    cells : Cells
    used : float
        Part of regions and channels that neither clip nor crush. [1]
    shown : tuple of Shown
        The reference, the option as it is, the nearest, and others that were named.
    leftover : Leftover
    things : int array, shape (row, column)
        What each pixel sees, for outlines.
    scene, stage : Scene, Stage
        That it was read with.
    cautions : tuple of Caution
    """

    study: ClassVar[str] = "read"
    axes: ClassVar[tuple[str, ...]] = ("option", "camera", "picture", "figure", "lamp", "thing")

    title: str
    option: str
    camera: str
    picture: Path
    settings: CameraSettings
    look: str
    marks: int
    miss: float
    figure: str
    answer: Answer
    fit: PictureFit
    cells: Cells
    used: float
    shown: tuple[Shown, ...]
    leftover: Leftover
    things: np.ndarray
    scene: Scene
    stage: Stage
    cautions: tuple[Caution, ...]

    @cached_property
    def sentences(self) -> tuple[str, ...]:
        """What the picture says, in words."""
        return tuple(filter(None, (self._how(), self._levels(), self._colours(), self._not_told(),
                                   self._too_big(), self._missing())))

    def _how(self) -> str:
        by = (f"Lined up by {self.marks} points, which miss by {self.miss:.1%} of the width"
              if self.marks else f"Lined up with camera {self.camera}")
        kind = ("a still of this program" if self.look == PREVIZ
                else "an sRGB picture with a contrast curve of its own")
        doubt = ("" if self.fit.scatter < ANOTHER_SCENE else
                 " So much may be another place or another frame: check picture, scene and camera, or mark "
                 "points of it with --at.")
        return (f"{by}; taken for {kind}. The fit leaves {self.fit.scatter:.2f} stops in the middle; "
                f"{self.used:.0%} of the picture neither clips nor crushes, the rest says only that.{doubt}")

    def _levels(self) -> str:
        anchor = self.answer.anchor or "the mean of " + _listed(list(self.answer.mean_of))
        return ("Levels are against each other: a picture cannot tell a brighter scene from a wider stop. "
                f"They count from {anchor}, which is taken to be as the scene has it.")

    def _colours(self) -> str:
        if not any(each.shift is not None for each in self.answer.lamps):
            return ""
        if self.answer.colours_held:
            return "Colours are told as they are: a lamp whose colour is known leaves the balance no room."
        return ("Colours are against each other too: a cooler scene and a warmer balance look alike. They "
                "count from the same lamps.")

    def _not_told(self) -> str:
        parts = []
        for state, words in ((OFF, "off, or nearly"), (WEAK, f"under {LEAST_SHARE:.0%} of the light "
                             "everywhere, so not told"), (UNSURE, "not told by this picture")):
            names = [each.name for each in self.answer.lamps if each.state == state]
            if names:
                parts.append(f"{_listed(names)}: {words}.")
        parts += [f"{each.name} looks like {each.like} here: what both give together is told, not how it is "
                  "shared out." for each in self.answer.lamps if each.state == ALIKE]
        return " ".join(parts)

    def _too_big(self) -> str:
        over = [each for each in self.answer.lamps if each.state in (TOLD, ALIKE)
                and each.level > 2.0 ** max(0.1, each.error) and self._is_fixture(each)]
        if not over:
            return ""
        listed = _listed([f"{each.name} {np.log2(each.level):.1f} stops" for each in over])
        return (f"More than full would be asked of {listed}: a bigger lamp, a lamp nearer, or all levels "
                "down and the stop open by as much.")

    def _is_fixture(self, found: LampFound) -> bool:
        return any(each.name == found.name for each in self.scene.lights)

    def _missing(self) -> str:
        missing, of = self.leftover.missing, self.leftover
        if missing is None:
            return "No added lamp would explain much of what is left over."
        x, y, z = missing.place
        side = read_sheet.direction_text(of.side, of.height).replace("by the lens", "beside the lens")
        where = f"places within {missing.spread:.1f} m do nearly as well, shadows not looked at"
        if missing.spread >= ANYWHERE:
            where = f"where it stands is not told, as places {missing.spread:.0f} m off do nearly as well"
        return (f"Light is missing on {of.thing}, {of.where} in the picture, about {missing.stops:.1f} stops "
                f"over {missing.area:.1%} of it: from {side}. A lamp at [{x:.1f} m, {y:.1f} m, {z:.1f} m] "
                f"would explain {missing.explained:.0%} of what is left over; {where}. Until it is there, "
                "lamps that light the same things may read too bright.")

    def _rows(self) -> list[Row]:
        of = {"option": self.option, "camera": self.camera}
        rows = camera_rows(self.settings, **of)
        found = self.answer
        for each in found.lamps:
            rows += _lamp_rows(each, next(lamp for lamp in self.stage.lamps if lamp.name == each.name).level,
                               **of)
        rows += [row("read_anchor", found.anchor, note="" if found.anchor else "mean of those told", **of),
                 row("read_colours_held", found.colours_held, **of),
                 row("read_exposure", found.exposure, found.exposure_error, **of),
                 row("read_balance", found.balance, found.balance_error * found.balance**2 / 1e6, **of),
                 row("read_tint", found.tint, **of), row("read_contrast", found.contrast, **of),
                 row("read_look", self.look, **of), row("read_scatter", self.fit.scatter, **of),
                 row("read_used", self.used, **of)]
        if self.marks:
            rows.append(row("read_miss", self.miss, **of))
        for shown in self.shown:
            if shown.sides is not None:
                at = {**of, "picture": shown.name, "figure": shown.sides.figure}
                rows += [row("picture_lit_side", shown.sides.lit, **at),
                         row("picture_lit_to_shadow", shown.sides.ratio, **at)]
                if shown.sides.warmer is not None:
                    rows.append(row("picture_off_balance", shown.sides.warmer, **at))
        rows += self._missing_rows(**of)
        rows += [row("advice", each, **of) for each in self.sentences]
        return [*rows, *caution_rows(self.cautions)]

    def _missing_rows(self, **of: str) -> list[Row]:
        missing, left = self.leftover.missing, self.leftover
        if missing is None:
            return []
        at = {**of, "thing": left.thing}
        names = ("missing_x", "missing_y", "missing_z")
        return [row("missing_light", missing.stops, note=left.where, **at),
                row("missing_area", missing.area, **at), row("missing_side", left.side, **at),
                row("missing_height", left.height, **at),
                *(row(name, value, missing.spread / np.sqrt(3), **at)
                  for name, value in zip(names, missing.place, strict=True)),
                row("missing_intensity", missing.intensity * 2.0**-self.answer.gauge, **at),
                row("missing_explained", missing.explained, **at)]

    @property
    def stem(self) -> str:
        """Name of the sheet's files, without the ending."""
        return self.picture.stem

    def sheet(self, path: Path | str) -> list[Path]:
        """Write the sheet as a PNG and a PDF under a name without its ending; return the files."""
        words = self._words(f"Read from {self.picture.name}")
        return read_sheet.write_read(Path(path), self.on_sheet(), words, self.cautions)

    def on_sheet(self) -> read_sheet.ReadSheet:
        """Return what stands on the sheet."""
        subject = ", ".join(filter(None, (f"Read from {self.picture.name}", self.option,
                                          f"camera {self.camera}")))
        lamps = [read_sheet.LampLine(
            each.name, STATES[each.state] + (f": {each.like}" if each.like else ""),
            each.change, each.error, each.level, each.cct if each.shift is not None else None,
            each.cct_error, each.shift, each.share,
            each.state in (TOLD, ALIKE), (each.shift_error or 0) <= SURE_COLOUR)
            for each in self.answer.lamps]
        pictures = [read_sheet.PictureLine(
            each.name, each.still, *((each.sides.lit, each.sides.ratio, each.sides.warmer)
                                     if each.sides is not None else (None, None, None)))
            for each in self.shown]
        return read_sheet.ReadSheet(
            self.title, subject, self.settings, pictures, lamps, self.leftover.stops, self.things,
            self.answer.exposure, self.answer.exposure_error, self.answer.balance, self.answer.tint,
            self.answer.contrast, self.sentences, self.figure)


def _lamp_rows(each: LampFound, own: float, **of: str) -> list[Row]:
    at, note = {**of, "lamp": each.name}, "" if each.state == TOLD else STATES[each.state]
    rows = [row("read_state", STATES[each.state], note=each.like, **at),
            row("read_level", each.level, each.level * np.log(2) * each.error, note=note, **at),
            row("read_change", each.change, each.error, note=note, **at), row("lamp_level", own, **at),
            row("read_share", each.share, note=note, **at), row("read_most_share", each.most_share, **at)]
    if each.level > 1:
        rows.append(row("read_over_full", float(np.log2(each.level)), note=note, **at))
    if each.shift is not None:
        unsure = "not told" if (each.shift_error or 0) > SURE_COLOUR else note
        rows += [row("read_cct", each.cct, each.cct_error, note=unsure, **at),
                 row("read_shift", each.shift, each.shift_error, note=unsure, **at)]
    return rows


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
