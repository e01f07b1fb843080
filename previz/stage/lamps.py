"""The light of each lamp as numbers: spectrum, gel, level."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from previz.errors import SceneError
from previz.physics import gel as gels
from previz.physics.colourtemp import cct_duv, xy_from_cct_duv, xy_of
from previz.physics.lamps import illuminant, led_mix, spectrum_of, tinted
from previz.physics.light import LampLight
from previz.physics.spectra import normalise
from previz.physics.tungsten import cct_at_light
from previz.physics.uplift import reflectance_from_rgb
from previz.scene.lamp import TWO_COLOUR
from previz.stage import measured_files

if TYPE_CHECKING:
    from previz.scene.light import Light

DARKEST_FILAMENT = 0.001
"""Level under which a tungsten lamp is not made any warmer. [1]"""

WARMEST_FILAMENT = 1600.0
"""Colour temperature below which a tungsten lamp is not made any warmer. [K]"""


def filtered(sheets) -> np.ndarray:
    """Return the transmission of a lamp's gels, one behind the other. Shape (81,) [1]

    Raises
    ------
    SceneError
        No sheet does what is written, or its file cannot be used.
    """
    return gels.stack([_sheet(sheet) for sheet in sheets])


def _sheet(sheet) -> np.ndarray:
    if sheet.file is not None:
        return measured_files.curve(sheet, "gel")
    if sheet.mired == 0 and sheet.green == 0:
        return gels.neutral(1.0 if sheet.transmission is None else sheet.transmission)
    try:
        return gels.shift_gel(sheet.mired, sheet.transmission, sheet.green)
    except ValueError as error:
        field = "transmission" if sheet.transmission is not None else "mired"
        raise SceneError([sheet.where(field).problem(
            str(error), "Write a lower transmission or a smaller shift, or leave out "
                        "'transmission'.")]) from error


def lamp_light(light: Light, lumens: float) -> LampLight:
    """Return the light of one lamp of the scene, with its output at full level without gels. [lm]

    A tungsten lamp gets warmer as it is dimmed; every other kind keeps its colour.

    Raises
    ------
    SceneError
        It cannot have that colour, or a file that it names cannot be used.
    """
    return LampLight(light.name, "lm", lumens, lamp_spectrum(light), filtered(light.gel), light.dimmer,
                     light.on)


def lamp_spectrum(light: Light) -> np.ndarray:
    """Return the spectrum of a lamp at its level, without gels, at one lumen. Shape (81,)

    Raises
    ------
    SceneError
        It cannot have that colour, or a file that it names cannot be used.
    """
    colour = getattr(light, "colour", None)
    try:
        spectrum = _source_spectrum(light)
        if colour is None or not max(colour) > 0:
            return spectrum
        # The tint of a piece that glows.
        return normalise(spectrum * reflectance_from_rgb(np.asarray(colour, float) / max(colour)))
    except ValueError as error:
        raise SceneError([light.where("cct" if light.duv == 0 else "duv").problem(
            f"{light.label}: {error}", "Write another 'cct' or 'duv', or put a gel on it."
        )]) from error


def _source_spectrum(light: Light) -> np.ndarray:
    """Return the spectrum of what makes a lamp's light, or raise ValueError for a colour it cannot have."""
    own = light.spectrum
    if own == "two-colour led":
        return led_mix(light.cct, *TWO_COLOUR)
    if isinstance(own, str):
        cct = light.cct
        if own == "tungsten" and light.dimmer < 1:
            cct = float(cct_at_light(max(light.dimmer, DARKEST_FILAMENT), light.cct))
        return spectrum_of(own, max(cct, min(WARMEST_FILAMENT, light.cct)), light.duv)
    if own.is_two_colour:
        return led_mix(light.cct, *own.ends)
    measured = illuminant(own.cie) if own.file is None else measured_files.curve(own, "spectrum")
    if light.cct is not None:
        return tinted(measured, xy_from_cct_duv(light.cct, light.duv))
    if light.duv == 0:
        return measured
    kelvin, duv = cct_duv(xy_of(measured))
    return tinted(measured, xy_from_cct_duv(kelvin, duv + light.duv))
