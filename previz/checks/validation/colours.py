"""Spectra, chromaticities, colour temperature and colour rendering."""

from __future__ import annotations

import numpy as np

from previz.checks.validation.records import Group
from previz.physics.blackbody import STEFAN_BOLTZMANN, radiance
from previz.physics.chromatic_adaptation import adaptation_matrix
from previz.physics.colour_report import (
    colour_fidelity,
    colour_rendering_index,
    spectral_similarity,
)
from previz.physics.colourtemp import (
    cct_duv,
    mired_shift,
    planckian_xy,
    xy_from_cct_duv,
    xy_of,
)
from previz.physics.gel import named_gel
from previz.physics.lamps import illuminant, spectrum_of
from previz.physics.photometry import efficacy_of_radiation
from previz.physics.spectra import WAVELENGTHS_NM, xyz_of

COLOUR = Group("Colour")
RENDERING = Group("Colour rendering")
LIBRARY = "by colour-science 0.4.7"

PLANCKIAN = {2000: (0.52668, 0.41330), 2856: (0.44754, 0.40743), 3200: (0.42336, 0.39895),
             4300: (0.36811, 0.36869), 5600: (0.33020, 0.33908), 6500: (0.31353, 0.32363)}
DAYLIGHT = {4300: (0.36968, 0.37599), 5000: (0.34574, 0.35867), 5600: (0.33016, 0.34555),
            6500: (0.31278, 0.32918)}
WHITES = {"A": (0.44758, 0.40745), "D50": (0.3457, 0.3585), "D65": (0.3127, 0.3290)}
TEMPERATURES = {"A": (2855.6, 0.0), "D50": (5001, 0.0032), "D65": (6503, 0.0032),
                "FL2": (4225, 0.0019), "FL11": (4001, 0.0002), "LED-B3": (4103, -0.0006),
                "HP1": (1962, 0.0008)}
TINTS = {(3200, 0.005): (0.42995, 0.41397), (3200, -0.005): (0.41708, 0.38463),
         (5600, 0.010): (0.33004, 0.35907), (5600, -0.010): (0.33034, 0.32049)}
EFFICACIES = {"A": 156.2, "D65": 205.2, "FL2": 336.7, "FL11": 336.9, "LED-B3": 316.9}
BLACK_BODY_EFFICACIES = {2000: 1.61, 3200: 27.09, 5600: 90.4}
RA = {"A": 100, "D65": 100, "FL1": 76, "FL2": 64, "FL4": 51, "FL7": 90.2, "FL11": 82.9,
      "FL12": 83.1}
FIDELITY = {"FL2": (70.1, 86.4), "FL11": (80.0, 101.1), "LED-B3": (85.3, 97.9),
            "C": (97.8, 101.2), "HP1": (34.2, 54.0)}
SIMILARITY = {("C", "D65"): 94, ("D65", "D55"): 90, ("D50", "D55"): 94, ("FL2", "D65"): 58,
              ("FL11", "D50"): 36, ("LED-B3", "D50"): 70}
BRADFORD_D50_TO_D65 = ((0.9554734, -0.0230985, 0.0632592), (-0.0283697, 1.0099954, 0.0210414),
                       (0.0123140, -0.0205076, 1.3303659))


def checks():
    """Yield the checks of spectra and chromaticities."""
    for kelvin, xy in PLANCKIAN.items():
        yield COLOUR.near(f"black body {kelvin} K, x and y", f"Planck's law, CIE 15; {LIBRARY}",
                          xy, planckian_xy(kelvin), 2e-4)
    for kelvin, xy in DAYLIGHT.items():
        # 1.5e-4 is what sums at 5 nm leave of a curve that is built from rounded tables.
        yield COLOUR.near(f"CIE daylight {kelvin} K, x and y of its spectrum",
                          f"CIE 15, 4.1.2; {LIBRARY}", xy,
                          xy_of(spectrum_of("daylight", kelvin)), 1.5e-4)
    for name, xy in WHITES.items():
        yield COLOUR.near(f"illuminant {name}, x and y", f"CIE 15; {LIBRARY}", xy,
                          xy_of(illuminant(name)), 1.5e-4)
    for name, (kelvin, duv) in TEMPERATURES.items():
        found = cct_duv(xy_of(illuminant(name)))
        source = f"Ohno, Leukos 10 (2014); {LIBRARY}"
        yield COLOUR.near(f"CCT of {name}", source, kelvin, found[0], 5, "K")
        yield COLOUR.near(f"Duv of {name}", source, duv, found[1], 2e-4)
    for (kelvin, duv), xy in TINTS.items():
        yield COLOUR.near(f"{kelvin} K at Duv {duv:+g}, x and y",
                          f"sign by ANSI C78.377 (from memory); {LIBRARY}", xy,
                          xy_from_cct_duv(kelvin, duv), 2e-4)
    for start, end, shift in ((5600, 3200, 133.9), (3200, 4300, -79.9), (2700, 3200, -57.9)):
        yield COLOUR.near(f"{start} K to {end} K in mired", "definition", shift,
                          mired_shift(start, end), 0.051, "mired")
    for gel, start, end in (("full cto", 5600, 3200), ("half ctb", 3200, 4073)):
        found = cct_duv(xy_of(spectrum_of("blackbody", start) * named_gel(gel)))[0]
        yield COLOUR.near(f"{gel} on a black body of {start} K",
                          "nominal arithmetic; common practice, no source", end, found, 2, "K")
    yield COLOUR.near("D50 to D65, Bradford matrix", f"ICC.1 Annex E; {LIBRARY}",
                      BRADFORD_D50_TO_D65,
                      adaptation_matrix((0.3457, 0.3585), (0.3127, 0.3290)), 2e-5)
    line = np.where(WAVELENGTHS_NM == 555, 1 / 5, 0.0)
    yield COLOUR.near("1 W at 555 nm", "SI Brochure, 9th ed., 2.3.1; CIE 018 (from memory)",
                      683.0, xyz_of(line)[1], 0.01, "lm")
    for name, efficacy in EFFICACIES.items():
        yield COLOUR.share(f"lumens of a watt of {name}, 380 to 780 nm", LIBRARY, efficacy,
                           efficacy_of_radiation(illuminant(name)), 0.01, "lm/W")
    for kelvin, efficacy in BLACK_BODY_EFFICACIES.items():
        lumens = np.pi * xyz_of(radiance(WAVELENGTHS_NM, kelvin))[1]
        yield COLOUR.share(f"lumens of a watt of a black body of {kelvin} K, all wavelengths",
                           LIBRARY, efficacy, lumens / (STEFAN_BOLTZMANN * kelvin**4), 0.01,
                           "lm/W")


def rendering_checks():
    """Yield the checks of colour rendering indices, through our spectra."""
    for name, index in RA.items():
        yield RENDERING.near(f"Ra of {name}", "CIE 13.3; an encyclopaedia's typical values and "
                             "colour-science agree", index,
                             colour_rendering_index(illuminant(name)), 0.6)
    for name, pair in FIDELITY.items():
        yield RENDERING.near(f"Rf and Rg of {name}", f"ANSI/IES TM-30-18, CIE 224:2017; {LIBRARY}",
                             pair, colour_fidelity(illuminant(name)), 0.3)
    for (name, other), index in SIMILARITY.items():
        yield RENDERING.near(f"SSI of {name} against {other}",
                             f"SMPTE ST 2122:2020 (number from memory); {LIBRARY}", index,
                             spectral_similarity(illuminant(name), illuminant(other)), 1)
    warm, cool = spectrum_of("blackbody", 2856), spectrum_of("blackbody", 3200)
    yield RENDERING.near("SSI of a black body of 3200 K against 2856 K",
                         f"SMPTE ST 2122:2020 (number from memory); {LIBRARY}", 91,
                         spectral_similarity(cool, warm), 1)
