"""Read the measurements that a scene names: photometric files, spectra, gels, surfaces.

What is wrong in a file is reported at the place of the scene that names it, with the file's own line.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from previz.errors import SceneError
from previz.physics.beam import grid_is_coarse
from previz.physics.eulumdat import read_eulumdat
from previz.physics.ies import read_ies
from previz.physics.measured import measured_reflectance, measured_spectrum, measured_transmission
from previz.physics.photometric import Photometry
from previz.physics.text_file import TextFileError
from previz.scene.lamp import MEASURED_BYTES
from previz.stage.plain_files import FileError, read_plain

if TYPE_CHECKING:
    from previz.scene.light import Light
    from previz.scene.records import Record

_LAMPS = {
    ".ies": (read_ies, "Use a file after IES LM-63, or write the lamp's own 'output' and angles."),
    ".ldt": (read_eulumdat, "Use a file in the EULUMDAT form, or write the lamp's own 'output' and angles."),
}

_CURVES = {"spectrum": measured_spectrum, "gel": measured_transmission,
           "measured reflectance": measured_reflectance}


def _read(record, field: str, sort: str, read, advice: str):
    """Return what a record's file says."""
    path = Path(getattr(record, field))
    place = record.where(field)
    try:
        raw = read_plain(path, MEASURED_BYTES)
    except FileError as error:
        raise SceneError([place.problem(
            f"the {sort} '{path.name}' cannot be read: {error.message}", error.advice)]) from error
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


def photometry(light: Light) -> Photometry | None:
    """Return a lamp's measured distribution, None where it has none.

    Raises
    ------
    SceneError
        The file cannot be used.
    """
    if light.photometry is None:
        return None
    reader = _LAMPS[Path(light.photometry).suffix.lower()]
    return _read(light, "photometry", "photometric file", *reader)


def coarse_note(light: Light, measured: Photometry) -> tuple[str, ...]:
    """Return a line for a lamp's file whose angles are too coarse for its beam, else nothing."""
    table = measured.table
    if not float(table.intensity(0.0)) > 0 or not grid_is_coarse(table):
        return ()
    return (f"Check: the angles of {light.name}'s photometric file are wider apart than a quarter "
            "of its beam, so its lumens may be read several per cent too high.",)


def curve(record: Record, sort: str) -> np.ndarray:
    """Return the measured curve in the `file` of a record. Shape (81,)

    Parameters
    ----------
    record : Record
        Of a lamp's spectrum, a gel or a surface.
    sort : str
        'spectrum', at one lumen; 'gel', transmission [1]; or 'measured reflectance' [1].

    Raises
    ------
    SceneError
        The file cannot be used.
    """
    return _read(record, "file", sort, _CURVES[sort],
                 "Use a file of two columns, nm and value, with '#' before lines of text.")
