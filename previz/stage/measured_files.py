"""Read the measurements that a scene names: photometric files, spectra, gels, surfaces.

What is wrong in a file is reported at the place of the scene that names it, with the file's own line.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from previz.errors import SceneError
from previz.physics.beam import grid_is_coarse
from previz.physics.eulumdat import read_eulumdat
from previz.physics.ies import read_ies
from previz.physics.measured import (
    measured_reflectance,
    measured_spectrum,
    measured_transmission,
)
from previz.physics.photometric import Photometry
from previz.physics.text_file import TextFileError

_READERS = {".ies": read_ies, ".ldt": read_eulumdat}

_FORMS = {
    ".ies": "Use a file after IES LM-63, or write the lamp's own 'output' and angles.",
    ".ldt": "Use a file in the EULUMDAT form, or write the lamp's own 'output' and angles.",
}

_TWO_COLUMNS = "Use a file of two columns, nm and value, with '#' before lines of text."


def _read(record, field: str, sort: str, read, advice: str):
    """Return what a record's file says.

    Raises
    ------
    SceneError
        It cannot be read, or is not what its name says.
    """
    path = Path(getattr(record, field))
    place = record.where(field)
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise SceneError([place.problem(
            f"the {sort} '{path.name}' cannot be read: {error.strerror}",
            "Check the file and its permissions.")]) from error
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError:
        # Older programs write these files in the code page of western Europe.
        text = raw.decode("latin-1")
    try:
        return read(text)
    except TextFileError as error:
        reason = "".join(letter if letter.isprintable() else "?" for letter in str(error))
        raise SceneError([place.problem(f"the {sort} '{path.name}': {reason}", advice)]) from error


def photometry(light) -> Photometry | None:
    """Return a lamp's measured distribution, None where it has none.

    Parameters
    ----------
    light : scene.light.Light
        The lamp.

    Raises
    ------
    SceneError
        The file cannot be used.
    """
    if light.photometry is None:
        return None
    suffix = Path(light.photometry).suffix.lower()
    return _read(light, "photometry", "photometric file", _READERS[suffix], _FORMS[suffix])


def coarse_note(light, measured: Photometry) -> tuple[str, ...]:
    """Return a line for a file whose angles are too coarse for its beam, else nothing.

    Parameters
    ----------
    light : scene.light.Light
        The lamp.
    measured : Photometry
        What its file says.
    """
    table = measured.table
    if not float(table.intensity(0.0)) > 0 or not grid_is_coarse(table):
        return ()
    return (f"Check: the angles of {light.name}'s photometric file are wider apart than a quarter "
            "of its beam, so its lumens may be read several per cent too high.",)


def spectrum(own) -> np.ndarray:
    """Return the measured spectrum that a lamp's `spectrum` names, at one lumen. Shape (81,)

    Raises
    ------
    SceneError
        The file cannot be used.
    """
    return _read(own, "file", "spectrum", measured_spectrum, _TWO_COLUMNS)


def gel(sheet) -> np.ndarray:
    """Return the measured transmission that a gel names. Shape (81,)

    Raises
    ------
    SceneError
        The file cannot be used.
    """
    return _read(sheet, "file", "gel", measured_transmission, _TWO_COLUMNS)


def reflectance(surface) -> np.ndarray:
    """Return the measured reflectance that a surface names. Shape (81,)

    Raises
    ------
    SceneError
        The file cannot be used.
    """
    return _read(surface, "file", "measured reflectance", measured_reflectance, _TWO_COLUMNS)
