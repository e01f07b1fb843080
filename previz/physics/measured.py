"""Curves that somebody measured: a light's spectrum, what a filter lets through or a surface sends back.

The file has two columns, wavelength in nm and value, parted by commas, semicolons, tabs or
spaces. Lines that begin with '#', and anything before the first two numbers, are passed over.
"""

from __future__ import annotations

import re

import numpy as np

from previz.physics.arrays import FloatArray
from previz.physics.spectra import STEP_NM, WAVELENGTHS_NM, normalise
from previz.physics.text_file import TextFileError, number

NEEDED_NM = (400.0, 700.0)
"""A measurement must reach at least this far. [nm]"""

FAINT = 0.01
"""Values down to this share of the peak below 0 are noise, and taken as 0. [1]"""

_NUMERIC = re.compile(r"[-+.0-9]")


def _cells(line: str) -> list[str]:
    """Return the columns of one line; with semicolons or tabs a comma is a decimal point."""
    if ";" in line or "\t" in line:
        return [cell.strip().replace(",", ".") for cell in re.split(r"[;\t]", line)]
    return [cell for cell in re.split(r"[,\s]+", line) if cell]


def read_curve(text: str) -> tuple[np.ndarray, np.ndarray]:
    """Return (wavelengths [nm], values) of a measured curve. Shapes (n,)

    Raises
    ------
    TextFileError
        A line is not two numbers, wavelengths do not rise or are not nm, or too little of the
        visible range is covered.
    """
    rows: list[tuple[float, float]] = []
    for at, line in enumerate(text.lstrip("\ufeff").splitlines(), start=1):
        cells = _cells(line.strip())
        if not cells or line.lstrip().startswith("#"):
            continue
        if not rows and not (_NUMERIC.match(cells[0]) and len(cells) > 1):
            continue
        if len(cells) < 2:
            raise TextFileError(at, "there is a wavelength without a value")
        wavelength, value = number(cells[0], at), number(cells[1], at)
        if rows and wavelength <= rows[-1][0]:
            raise TextFileError(at, f"wavelengths should rise, and {wavelength:g} follows "
                                    f"{rows[-1][0]:g}")
        if not 100 <= wavelength <= 20_000:
            raise TextFileError(at, f"{wavelength:g} is no wavelength of light in nm")
        rows.append((wavelength, value))
    if len(rows) < 2:
        raise TextFileError(0, "there are no two columns of numbers in it")
    low, high = NEEDED_NM
    if rows[0][0] > low or rows[-1][0] < high:
        raise TextFileError(0, f"it runs from {rows[0][0]:g} to {rows[-1][0]:g} nm and should "
                               f"reach from {low:g} to {high:g} nm")
    nm, values = np.array(rows).T
    return nm, values


def _averaged(nm: FloatArray, values: FloatArray, *, hold: bool) -> FloatArray:
    """Return the mean of a curve over the 5 nm about each sample, so that no line is missed.

    Between its points the curve is straight; outside them it is 0, or with `hold` as at its ends.
    """
    edges = np.concatenate([WAVELENGTHS_NM - STEP_NM / 2, [WAVELENGTHS_NM[-1] + STEP_NM / 2]])
    if hold:
        nm = np.concatenate([[min(nm[0], edges[0]) - 1], nm, [max(nm[-1], edges[-1]) + 1]])
        values = np.concatenate([values[:1], values, values[-1:]])
    knots = np.union1d(nm, np.clip(edges, nm[0], nm[-1]))
    curve = np.interp(knots, nm, values)
    area = np.concatenate([[0], np.cumsum(np.diff(knots) * (curve[1:] + curve[:-1]) / 2)])
    covered = np.diff(np.clip(edges, nm[0], nm[-1]))
    # A sample that the file reaches only in part has the mean of that part.
    return np.diff(np.interp(edges, knots, area)) / np.maximum(covered, 1e-9)


def _positive(values: FloatArray) -> FloatArray:
    peak = float(np.max(values))
    if not values.any():
        raise TextFileError(0, "all of its values are 0")
    if not peak > 0 or np.min(values) < -FAINT * peak:
        raise TextFileError(0, f"its values run from {np.min(values):g} to {peak:g}, and should be "
                               "0 or more")
    return np.maximum(values, 0)


def measured_spectrum(text: str) -> np.ndarray:
    """Return a measured light at one lumen; nothing is assumed beyond its ends.

    Parameters
    ----------
    text : str
        The file. Values in any unit of power over wavelength.

    Returns
    -------
    float array, shape (81,)
        [W/nm per lm]

    Raises
    ------
    TextFileError
        As `read_curve`, or values are negative.
    """
    nm, values = read_curve(text)
    values = _positive(values)
    try:
        return normalise(_averaged(nm, values, hold=False))
    except ValueError as error:
        raise TextFileError(0, "it has no light that the eye sees") from error


def measured_transmission(text: str) -> np.ndarray:
    """Return a measured filter; its ends are held where the file stops short of 380 to 780 nm.

    Parameters
    ----------
    text : str
        The file. Values as a share from 0 to 1, or in percent where one exceeds 1 or a line over
        them says '%' or 'percent'.

    Returns
    -------
    float array, shape (81,)
        [1]

    Raises
    ------
    TextFileError
        As `read_curve`, or values are negative or above 100 %.
    """
    return _share(text, "lets {} of the light through")


def measured_reflectance(text: str) -> np.ndarray:
    """Return a measured surface; all as `measured_transmission`."""
    return _share(text, "sends {} of the light back")


def _share(text: str, does: str) -> FloatArray:
    """Return a curve of shares; `does` says of what, with a place for the greatest."""
    nm, values = read_curve(text)
    values = _positive(values)
    if values.max() > 1.0 or _in_percent(text):
        values = values / 100
    if values.max() > 1.0:
        raise TextFileError(0, f"it {does.format(f'{values.max():.0%}')}, which is more than there is")
    return _averaged(nm, values, hold=True)


def _in_percent(text: str) -> bool:
    """Return whether what stands over the columns says so; a black cloth stays under 1 % throughout."""
    for line in text.lstrip("\ufeff").splitlines():
        cells = _cells(line.strip())
        if len(cells) > 1 and _NUMERIC.match(cells[0]) and not line.lstrip().startswith("#"):
            return False
        if "%" in line or "percent" in line.lower():
            return True
    return False
