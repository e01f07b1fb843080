"""A grade for viewing: ASC CDL and look-up tables, through OpenColorIO.

Grades are for pictures and never for readings. A CDL works on the picture as a colourist has it,
in ACEScct by default, before the output transform; a look-up table on the picture as shown. A grade takes
the place of a camera's show file (`viewing`): two grades on top of each other are neither's.
"""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import PyOpenColorIO
from numpy.typing import ArrayLike

from previz.errors import DataError
from previz.exposure.display import SOURCE, processor_of, show_8bit, view_transform

WORKING = {"acescct": "ACEScct", "linear": "ACEScg"}
"""Where a CDL may work: its name here, and in the colour configuration."""

CDL_ENDINGS = (".cdl", ".cc", ".ccc")
"""Files of the ASC CDL."""

TABLE_ENDINGS = (".clf", ".cube")
"""Files of look-up tables: Common LUT Format, and a cube as text. The library knows twenty more."""

MOST_BYTES = 64 * 2**20
"""Greatest size of either; a cube of 129 x 129 x 129 colours as text. [bytes]"""

TABLE_ADVICE = "Give a look-up table: a .clf or a .cube file."


@dataclass(frozen=True)
class Cdl:
    """An ASC colour decision.

    out = clamp(in · slope + offset) ^ power, then saturation about luma 0.2126, 0.7152, 0.0722.

    Parameters
    ----------
    slope, offset, power : (float, float, float)
        Red, green, blue. [1]
    saturation : float
        [1]

    Raises
    ------
    ValueError
        A slope or the saturation is below 0, or a power is not above 0.

    Source
    ------
    ASC CDL v1.2.
    """

    slope: tuple[float, float, float] = (1.0, 1.0, 1.0)
    offset: tuple[float, float, float] = (0.0, 0.0, 0.0)
    power: tuple[float, float, float] = (1.0, 1.0, 1.0)
    saturation: float = 1.0

    def __post_init__(self) -> None:
        values = (*self.slope, *self.offset, *self.power, self.saturation)
        if not np.all(np.isfinite(values)):
            raise ValueError(f"a CDL has plain numbers only, got {values}")
        if min(self.slope) < 0 or self.saturation < 0 or min(self.power) <= 0:
            raise ValueError("a CDL has slopes and saturation of 0 or more and powers above 0, got "
                             f"slope {self.slope}, power {self.power}, sat {self.saturation}")

    @property
    def neutral(self) -> bool:
        """True where it changes nothing."""
        return self == Cdl()

    def transform(self) -> PyOpenColorIO.CDLTransform:
        """Return it as the library's own."""
        return PyOpenColorIO.CDLTransform(
            slope=list(self.slope), offset=list(self.offset), power=list(self.power),
            sat=self.saturation)


class GradeError(DataError):
    """A grade's file cannot be used.

    Parameters
    ----------
    message, advice : str
        What is wrong, and what to do.
    """


def read_cdl(path: str | os.PathLike[str], name: str = "") -> Cdl:
    """Return the decision of a .cdl, .cc or .ccc file; of several that of a name, '' for the first.

    Raises
    ------
    GradeError
        There is no such file, it is none of these, or has no such decision.
    """
    path = Path(path)
    if not path.is_file():
        raise GradeError(f"There is no file {path}.", "Give a .cdl, .cc or .ccc file.")
    if path.suffix.lower() not in CDL_ENDINGS:
        raise GradeError(f"{path} is no file of the ASC CDL.", "Give a .cdl, .cc or .ccc file.")
    _look_over(path)
    try:
        found = PyOpenColorIO.CDLTransform.CreateFromFile(str(path), name)
    except PyOpenColorIO.Exception as error:
        raise GradeError(f"{path} cannot be read as an ASC CDL: {error}.",
                         "Export it again as ASC CDL.") from error
    return Cdl(tuple(found.getSlope()), tuple(found.getOffset()), tuple(found.getPower()),
               float(found.getSat()))


class Grade:
    """A grade, ready to be put on pictures.

    Parameters
    ----------
    cdl : Cdl, optional
        The decision; none leaves the picture as it is.
    working : str
        A key of `WORKING`.
    table : path-like, optional
        Look-up table for the picture as shown.

    Raises
    ------
    GradeError
        The table cannot be used.
    """

    def __init__(self, cdl: Cdl | None = None, working: str = "acescct",
                 table: str | os.PathLike[str] | None = None):
        cdl = cdl or Cdl()
        self.cdl, self.working, self.table = cdl, working, table
        group = PyOpenColorIO.GroupTransform()
        if not cdl.neutral:
            space = WORKING[working]
            group.appendTransform(PyOpenColorIO.ColorSpaceTransform(src=SOURCE, dst=space))
            group.appendTransform(cdl.transform())
            group.appendTransform(PyOpenColorIO.ColorSpaceTransform(src=space, dst=SOURCE))
        group.appendTransform(view_transform())
        if table is not None:
            group.appendTransform(_table_transform(Path(table)))
        try:
            self._processor = processor_of(group).getDefaultCPUProcessor()
        except PyOpenColorIO.Exception as error:
            # The library's own text names products; only the line it stopped at is of use.
            line = re.search(r"[Aa]t line \(?(\d+)", str(error))
            where = f": line {line[1]} of it cannot be read" if line else ""
            raise GradeError(f"{table} cannot be used as a look-up table{where}.",
                             "Export it again, as .clf or .cube.") from error

    @property
    def neutral(self) -> bool:
        """True where it changes nothing."""
        return self.cdl.neutral and self.table is None

    def show(self, acescg: ArrayLike) -> np.ndarray:
        """Return a graded picture as a screen shows it; see `display.show_8bit`."""
        return show_8bit(acescg, self._processor)


def _table_transform(path: Path) -> PyOpenColorIO.FileTransform:
    if not path.is_file():
        raise GradeError(f"There is no file {path}.", TABLE_ADVICE)
    if path.suffix.lower() in CDL_ENDINGS:
        raise GradeError(f"{path} is no look-up table but a colour decision.", TABLE_ADVICE)
    if path.suffix.lower() not in TABLE_ENDINGS:
        raise GradeError(f"{path} cannot be used as a look-up table.", "Export it again, as .clf or .cube.")
    _look_over(path)
    return PyOpenColorIO.FileTransform(src=str(path.resolve()),
                                       interpolation=PyOpenColorIO.INTERP_TETRAHEDRAL)


def _look_over(path: Path) -> None:
    """Refuse a file that is too large, is no text, or leads to other files: the library would follow."""
    size = path.stat().st_size
    if size > MOST_BYTES:
        raise GradeError(f"{path} is {size / 2**20:.0f} MB, and {MOST_BYTES // 2**20} MB are the most.",
                         "Export it with fewer steps.")
    content = path.read_bytes()
    if b"\0" in content:
        raise GradeError(f"{path} is no text.", "Export it again.")
    if re.search(rb"<\s*(\w+:)?reference\b", content, re.IGNORECASE):
        raise GradeError(f"{path} names another file.", "Export it again, with everything in it.")


def cropped(picture: np.ndarray, aspect: float) -> np.ndarray:
    """Return the largest middle part of a picture, shape (row, column, 3), with an aspect.

    Raises
    ------
    ValueError
        The aspect, width over height, is not above 0.
    """
    if not aspect > 0:
        raise ValueError(f"an aspect ratio is above 0, got {aspect:g}")
    rows, columns = picture.shape[:2]
    wide, high = columns, rows
    if columns / rows > aspect:
        wide = max(1, round(rows * aspect))
    else:
        high = max(1, round(columns / aspect))
    left, top = (columns - wide) // 2, (rows - high) // 2
    return picture[top:top + high, left:left + wide]
