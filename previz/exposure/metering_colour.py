"""The colour of the light at a meter: temperature, tint, and how well it renders.

The spectrum at a point is put together again from what the program knows of it: for each lamp its
own spectrum at 5 nm through its gels, times how much of each wavelength band arrives. The arriving
share is taken as constant within a band, so the spectrum has small steps where bands meet; its
X, Y, Z are those of the reading to a few parts in a thousand, and exactly where no colour has
been met by the light.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from previz.exposure.metering import Measured, Mixed, jackknife
from previz.frames.batches import Batches
from previz.physics.bands import band_shares
from previz.physics.colour_report import colour_fidelity, colour_rendering_index, spectral_similarity
from previz.physics.colourtemp import cct_duv, xy_from_xyz
from previz.physics.lamps import spectrum_of
from previz.physics.light import LampLight
from previz.physics.spectra import WAVELENGTHS_NM

DAYLIGHT_FROM = 4000.0
"""Colour temperature from which the reference is CIE daylight and no longer a black body (from
memory of SMPTE ST 2122). [K]"""

NEUTRAL = 0.0005
"""Duv within which a light is called neither green nor magenta (common practice, no source). [1]"""

FARTHEST = 0.05
"""Duv beyond which a colour temperature means nothing.  Source: CIE 15. [1]"""


@dataclass(frozen=True)
class ColourReport:
    """Colour of the light at one meter.

    Parameters
    ----------
    cct, duv : Measured
        Correlated colour temperature [K] and distance from the Planckian locus [1].
    tint : str
        'green', 'magenta' or 'neutral'.
    ra : float
        CIE 13.3 general colour rendering index. [1]
    rf, rg : float
        ANSI/IES TM-30-18 fidelity and gamut index. [1]
    ssi : float
        Spectral similarity to the reference. [1]
    reference : str
        What it is compared with.
    spectrum : float array, shape (81,)
        At `physics.spectra.WAVELENGTHS_NM`. [W/(m² nm)]
    """

    cct: Measured
    duv: Measured
    tint: str
    ra: float
    rf: float
    rg: float
    ssi: float
    reference: str
    spectrum: np.ndarray


def arriving_spectrum(batches: Batches, lamps: Sequence[LampLight], index: int) -> np.ndarray:
    """Return the spectrum of the light at a meter, by its number. Shape (81,) [W/(m² nm)]

    E(lambda) = sum over lamps of output · level · S(lambda) · gel(lambda) · T(band of lambda).

    Parameters
    ----------
    batches : frames.batches.Batches
        What was gathered.
    lamps : sequence of LampLight
        One for each light of the batches, in any order.
    index : int
    """
    by_name = {lamp.name: lamp for lamp in lamps}
    arriving = batches.sums[index].sum(axis=(0, 2))
    arriving = arriving / max(batches.paths[index] * len(batches.sums[index]), 1)
    share = arriving @ band_shares(arriving.shape[-1])
    spectrum = np.zeros(WAVELENGTHS_NM.size)
    for name, part in zip(batches.lights, share, strict=True):
        lamp = by_name[name]
        if lamp.on:
            spectrum += lamp.output * lamp.level * lamp.spectrum * lamp.gel * part
    return spectrum


def reference_light(cct: float) -> tuple[np.ndarray, str]:
    """Return the light that others are compared with at a colour temperature [K], and its name.

    Raises
    ------
    ValueError
        There is none at that temperature.
    """
    if cct < DAYLIGHT_FROM:
        return spectrum_of("blackbody", cct), f"black body {cct:.0f} K"
    return spectrum_of("daylight", cct), f"CIE daylight {cct:.0f} K"


def tint_of(duv: float) -> str:
    """Return the tint that a distance from the Planckian locus gives, a Duv. [1]"""
    if abs(duv) < NEUTRAL:
        return "neutral"
    return "green" if duv > 0 else "magenta"


def colour_report(mixed: Mixed, spectrum: np.ndarray,
                  reference: float | None = None) -> ColourReport | None:
    """Return the colour of the light at a meter.

    Parameters
    ----------
    mixed : Mixed
        The meter.
    spectrum : float array, shape (81,)
        From `arriving_spectrum`.
    reference : float or None
        Colour temperature of the light to compare with; None takes the light's own. [K]

    Returns
    -------
    ColourReport or None
        None without light, or for one too far from white to have a colour temperature.
    """
    xyz = mixed.xyz.sum(axis=(1, 2))
    if not xyz[:, 1].mean() > 0:
        return None
    try:
        cct = jackknife(lambda mean: cct_duv(xy_from_xyz(mean))[0], xyz)
        duv = jackknife(lambda mean: cct_duv(xy_from_xyz(mean))[1], xyz)
        if abs(duv.value) > FARTHEST:
            return None
        other, named = reference_light(cct.value if reference is None else reference)
    except (ValueError, ZeroDivisionError):
        return None
    rf, rg = colour_fidelity(spectrum)
    return ColourReport(cct, duv, tint_of(duv.value), colour_rendering_index(spectrum), rf, rg,
                        spectral_similarity(spectrum, other), named, spectrum)
