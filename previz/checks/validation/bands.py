"""Light that met colours, carried in bands, against sums at 5 nm; and the error stated for it."""

from __future__ import annotations

import numpy as np

from previz.checks.validation.records import Group
from previz.physics.band_error import band_error
from previz.physics.band_weights import weighed_band_xyz
from previz.physics.bands import DEFAULT_BANDS, band_means
from previz.physics.lamps import illuminant, spectrum_of
from previz.physics.materials import MATERIALS
from previz.physics.spectra import normalise, xyz_of
from previz.physics.uplift import reflectance_from_rgb

GROUP = Group("Bands")

STRONG = {"saturated red": (0.6, 0.01, 0.01), "deep blue": (0.01, 0.01, 0.4),
          "green": (0.02, 0.3, 0.05)}
LAMPS = ("FL11", "FL12", "LED-RGB1", "A", "D65")
PAINTS = ("dark red paint", "dark blue paint", "dark green paint", "yellow paint", "brick")
OFF = 0.01
"""How far the luminance of light off one strong colour may lie. [1]"""


def checks():
    """Yield the checks of bands; they need no engine."""
    source = "sum at 5 nm; lamp by CIE 15:2018"
    picked = {name: reflectance_from_rgb(np.array(rgb)) for name, rgb in STRONG.items()}
    surfaces = {**picked, **{name: MATERIALS[name].reflectance for name in PAINTS}}
    for lamp in LAMPS:
        light = normalise(illuminant(lamp))
        counts = weighed_band_xyz(light, DEFAULT_BANDS)[:, 1]
        for name, colour in surfaces.items():
            exact = xyz_of(light * colour)[1]
            yield GROUP.share(f"{name} under {lamp}, {DEFAULT_BANDS} bands: luminous reflectance",
                              source, exact, band_means(colour, DEFAULT_BANDS) @ counts, OFF)
    yield from _stated(picked)


def _stated(picked):
    """Hold the stated error to the true one, where lines meet strong colours."""
    colours = np.array([*picked.values(), *[MATERIALS[name].reflectance for name in PAINTS]])
    for name, lamp, light in (("saturated red", "FL11", illuminant("FL11")),
                              ("saturated red", "a three-band tube of 4300 K",
                               spectrum_of("fluorescent", 4300.0)),
                              ("deep blue", "LED-RGB1", illuminant("LED-RGB1"))):
        light, colour = normalise(light), picked[name]
        bands, exact = band_means(colour, DEFAULT_BANDS), xyz_of(light * colour)[1]
        off = abs(bands @ weighed_band_xyz(light, DEFAULT_BANDS)[:, 1] - exact)
        # From once to four times: its middle and room to both sides, in doublings.
        yield GROUP.near(f"{name} under {lamp}: stated error of the bands over the true one, log2",
                         "sum at 5 nm; covers, and by four times at most", 1.0,
                         np.log2(band_error(bands, light, colours) / off), 1.0, "doublings")
