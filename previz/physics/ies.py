"""Photometric files after ANSI/IES LM-63, all editions from 1986 to 2019."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from previz.physics.arrays import FloatArray
from previz.physics.photometric import (
    NO_BEAM,
    Photometry,
    drawn,
    lit,
    table_from_globe,
    table_from_planes,
)
from previz.physics.text_file import Numbers, TextFileError, numbered_lines

VERSIONS = {
    "IESNA86": 1986,
    "IESNA:LM-63-1986": 1986,
    "IESNA91": 1991,
    "IESNA:LM-63-1991": 1991,
    "IESNA:LM-63-1995": 1995,
    "IESNA:LM-63-2002": 2002,
    "IES:LM-63-2019": 2019,
}
"""First line of a file to its edition."""

BALLAST_LAMP_UNTIL = 1995
"""Last edition whose second number after the angles' counts is a factor on the light; since then
it is kept for later use or says how the file was made (from memory)."""

METRES = {1: 0.3048, 2: 1.0}
TYPES = {1: "C", 2: "B", 3: "A"}
MOST_ANGLES = 10_000

GREATEST_FACTOR = 100.0
"""On the light of a luminaire that is tilted. [1]"""


def read_ies(text: str, *, unmarked: bool = False) -> Photometry:
    """Return what an LM-63 file says of a lamp.

    Numbers may be parted by spaces, commas or new lines wherever they stand. Intensities are
    multiplied by the file's multiplier and ballast factor (to 1995 also by the ballast-lamp
    factor).

    Parameters
    ----------
    text : str
        The file.
    unmarked : bool
        True takes a file without one of `VERSIONS` in its first line as one of 1986.

    Returns
    -------
    Photometry

    Raises
    ------
    TextFileError
        With the line of what cannot be used.

    Source
    ------
    ANSI/IESNA LM-63-02, opening pages and section 3 read, the rest from memory.
    """
    lines = numbered_lines(text)
    version = _version(lines, unmarked)
    start = next((i for i, (_, line) in enumerate(lines) if _is_tilt(line)), None)
    if start is None:
        raise TextFileError(0, "there is no line that begins with 'TILT='")
    at, line = lines[start]
    numbers = Numbers(lines[start + 1:])
    tilt = _tilt(line.partition("=")[2].strip(), at, numbers)
    return _body(numbers, version, tilt)


def _is_tilt(line: str) -> bool:
    return line.replace(" ", "").upper().startswith("TILT=")


def _version(lines: Sequence[tuple[int, str]], unmarked: bool) -> int:
    at, first = next(((at, line.strip()) for at, line in lines if line.strip()), (0, ""))
    version = VERSIONS.get(first.upper().replace(" ", ""))
    if version is None and not (unmarked or _is_tilt(first)):
        raise TextFileError(at, f"'{first[:40]}' is no edition of LM-63; known are: "
                                f"{', '.join(VERSIONS)} (put IESNA86 before a file without)")
    return version or 1986


def _tilt(word: str, at: int, numbers: Numbers) -> tuple[FloatArray, FloatArray]:
    """Return (angles, factors) by which the light depends on the luminaire's tilt."""
    if word.upper() == "NONE":
        return np.zeros(1), np.ones(1)
    if word.upper() != "INCLUDE":
        raise TextFileError(at, f"'TILT={word[:40]}' should be NONE or INCLUDE; a file of its own "
                                "for the tilt is not read")
    numbers.whole("the way the lamp sits in the luminaire", 1, 3)
    count = numbers.whole("the number of tilt angles", 1, MOST_ANGLES)
    angles = numbers.rising(count, "a tilt angle")
    return angles, numbers.shares(count, "a factor for a tilt", GREATEST_FACTOR)


def _body(numbers: Numbers, version: int, tilt: tuple[FloatArray, FloatArray]) -> Photometry:
    numbers.take("the number of lamps")
    numbers.take("the lumens of a lamp")
    scale = numbers.take("the multiplier")
    verticals = numbers.whole("the number of vertical angles", 2, MOST_ANGLES)
    horizontals = numbers.whole("the number of horizontal angles", 1, MOST_ANGLES)
    kind = TYPES[numbers.whole("the photometric type", 1, 3)]
    unit = METRES[numbers.whole("the unit of length", 1, 2)]
    size = numbers.array(3, "the size of the luminous opening") * unit
    scale *= numbers.take("the ballast factor")
    other = numbers.take("the number after the ballast factor")
    if version <= BALLAST_LAMP_UNTIL:
        scale *= other
    watts = numbers.take("the watts")
    if not scale > 0:
        raise TextFileError(numbers.line, f"the intensities are multiplied by {scale:g}")
    vertical = _angles(numbers, verticals, "a vertical angle", kind)
    horizontal = _angles(numbers, horizontals, "a horizontal angle", kind)
    count = horizontals * verticals
    numbers.announced(count, f"{horizontals} planes of {verticals} intensities")
    candela = numbers.shares(count, "an intensity", np.inf, " cd").reshape(horizontals, verticals)
    numbers.end()
    try:
        table = (table_from_planes(vertical, horizontal, candela * scale) if kind == "C" else
                 table_from_globe(kind, vertical, horizontal, candela * scale))
    except TextFileError:
        raise
    except ValueError as error:
        raise TextFileError(0, NO_BEAM) from error
    lumens, table = lit(table)
    width, length, height = (float(abs(each)) for each in size)
    return Photometry(table, lumens, drawn(watts), (width, length, height),
                      bool(np.any(size[:2] < 0)), *tilt)


def _angles(numbers: Numbers, count: int, what: str, kind: str) -> FloatArray:
    """Return angles within the range of their system."""
    low, high = {"a vertical angle": (0, 180) if kind == "C" else (-90, 90),
                 "a horizontal angle": (0, 360) if kind == "C" else (-180, 180)}[what]
    values = numbers.rising(count, what)
    if values[0] < low or values[-1] > high:
        raise TextFileError(
            numbers.line, f"{what} of type {kind} lies from {low} to {high} deg; the file's run "
                          f"from {values[0]:g} to {values[-1]:g}")
    return values
