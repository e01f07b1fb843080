"""Photometric files in the EULUMDAT form (.ldt)."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from previz.physics.arrays import FloatArray
from previz.physics.photometric import NO_BEAM, Photometry, drawn, lit, table_from_planes
from previz.physics.text_file import Numbers, TextFileError, number, numbered_lines, whole_number

HEAD = 26
"""Lines before those of the lamps."""

LAMP_LINES = 6
"""Lines of one set of lamps: how many, type, lumens, colour, rendering, watts."""

ROOM_INDICES = 10
PER_KLM = 1000.0
MOST = 1000


def read_eulumdat(text: str) -> Photometry:
    """Return what an EULUMDAT file says of a lamp, with its first set of lamps.

    Intensity = value · lumens of the lamps / 1000 · conversion factor.

    Parameters
    ----------
    text : str
        The file.

    Returns
    -------
    Photometry

    Raises
    ------
    TextFileError
        With the line of what cannot be used.

    Source
    ------
    EULUMDAT file format specification (text of the format as published, to line 26; the order of
    planes by symmetry from memory).
    """
    lines = numbered_lines(text)
    if len(lines) < HEAD + LAMP_LINES:
        raise TextFileError(len(lines), f"the file ends after {len(lines)} lines")
    symmetry = _whole(lines, 3, "the kind of symmetry", 0, 4)
    planes = _whole(lines, 4, "the number of planes", 1, MOST)
    angles = _whole(lines, 6, "the number of angles in a plane", 2, MOST)
    sizes = np.array([_value(lines, at) for at in range(16, 22)]) / 1000.0
    factor = _value(lines, 24)
    sets = _whole(lines, 26, "the number of sets of lamps", 1, 100)
    if len(lines) < HEAD + LAMP_LINES * sets:
        raise TextFileError(HEAD, f"the file announces {sets} sets of lamps of {LAMP_LINES} lines each, "
                                  f"and ends after {len(lines)} lines")
    lumens, watts = _lamps(lines, sets)
    if not (factor > 0 and lumens > 0):
        raise TextFileError(HEAD, f"the lamps give {lumens:g} lm, times {factor:g}")
    rest = [(at, line.replace(",", ".")) for at, line in lines[HEAD + LAMP_LINES * sets:]]
    numbers = Numbers(rest)
    numbers.array(ROOM_INDICES, "the ten direct ratios")
    c = numbers.rising(planes, "an angle of a plane")
    vertical = numbers.rising(angles, "an angle in a plane")
    if c[0] < 0 or c[-1] >= 360 or vertical[0] < 0 or vertical[-1] > 180:
        raise TextFileError(numbers.line, "planes lie from 0 to below 360 deg, angles in them "
                                          "from 0 to 180")
    given = _given(symmetry, planes)
    numbers.announced(angles * given, f"{given} planes of {angles} intensities")
    candela = numbers.shares(angles * given, "an intensity", np.inf, " cd/klm")
    numbers.end()
    candela = candela.reshape(-1, angles) * (lumens / PER_KLM * factor)
    try:
        table = table_from_planes(vertical, *_planes(symmetry, c, candela))
    except TextFileError:
        raise
    except ValueError as error:
        raise TextFileError(0, NO_BEAM) from error
    flux, table = lit(table)
    length, width, *heights = (float(each) for each in sizes)
    return Photometry(table, flux, drawn(watts), (width or length, length, max(heights)), width == 0)


def _value(lines: Sequence[tuple[int, str]], at: int) -> float:
    text = lines[at - 1][1].strip().replace(",", ".")
    return number(text, at) if text else 0.0


def _whole(lines: Sequence[tuple[int, str]], at: int, what: str, least: int, most: int) -> int:
    return whole_number(_value(lines, at), at, what, least, most)


def _lamps(lines: Sequence[tuple[int, str]], sets: int) -> tuple[float, float]:
    """Return lumens and watts of the first set of lamps.

    Some writers put the six lines of each set together, some each of the six for all sets.
    """
    try:
        return _value(lines, HEAD + 3), _value(lines, HEAD + 6)
    except TextFileError:
        if sets == 1:
            raise
    return _value(lines, HEAD + 2 * sets + 1), _value(lines, HEAD + 5 * sets + 1)


def _given(symmetry: int, planes: int) -> int:
    """Return how many planes the file holds intensities for."""
    return {0: planes, 1: 1, 2: planes // 2 + 1, 3: planes // 2 + 1, 4: planes // 4 + 1}[symmetry]


def _planes(symmetry: int, c: FloatArray, candela: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return planes and intensities as `table_from_planes` takes them."""
    count = len(candela)
    if symmetry == 1:
        return c[:1], candela
    if symmetry == 3:
        # From C 270 over 0 to 90; their mirror images run from 270 over 180 to 90.
        return (np.linspace(90.0, 270.0, count) if _even(c) else
                _mirror_of_east(c, count)), candela[::-1]
    if symmetry == 0:
        return np.append(c, 360.0), np.concatenate([candela, candela[:1]])
    last = 180.0 if symmetry == 2 else 90.0
    angles = c[:count].copy()
    angles[-1] = last
    return angles, candela


def _even(c: FloatArray) -> bool:
    return len(c) < 2 or np.allclose(np.diff(c), c[1] - c[0])


def _mirror_of_east(c: FloatArray, count: int) -> FloatArray:
    """Return the planes of the west half that mirror those from 270 over 0 to 90, rising."""
    start = len(c) * 3 // 4
    given = np.concatenate([c[start:] - 360.0, c])[:count]
    return np.sort(180.0 - given)
