"""Closed forms without the engine, dimmed lamps, skies, glass, haze and skin."""

from __future__ import annotations

import numpy as np

from previz.checks.validation.records import Group
from previz.physics import daylight, haze, optics, photometry, skin, tungsten
from previz.physics.colourtemp import mired_shift
from previz.physics.lamps import illuminant

FORMS = Group("Closed forms")
LAMPS = Group("Lamps, sky and air")
SKIN = Group("Skin of stand-ins")

FIVE_TIMES = {1: (-20.0, -24.8), 2: (-5.88, -7.67), 5: (-0.99, -1.31), 10: (-0.249, -0.332)}
RERATING = {0.95: (-0.25, 0.921, 3132), 0.80: (-1.09, 0.700, 2914), 0.50: (-3.40, 0.330, 2392)}
FACES = {"very light": (37.9, 1.07), "light": (33.7, 0.91), "medium": (29.3, 0.71),
         "tan": (24.6, 0.45), "brown": (18.2, 0.0), "dark": (9.3, -0.95)}
PANE = {0: 0.9183, 30: 0.9160, 60: 0.8435, 80: 0.4560}


def checks():
    """Yield the checks of closed forms that need no engine."""
    for times, pair in FIVE_TIMES.items():
        disc = photometry.point_error(photometry.disc_factor(0.5, times), np.pi / 4, times)
        square = photometry.point_error(photometry.rectangle_factor(1, 1, times), 1.0, times)
        yield FORMS.near(f"inverse square off by, disc and square at {times} × their width",
                         "IES Lighting Handbook, five-times rule (from memory); equal to "
                         "quadrature", pair, (100 * disc, 100 * square), 0.051, "%")
    howell = "Howell, C-11 and C-14 (from memory), recomputed"
    yield FORMS.near("opposite and adjacent faces of a cube", howell, (0.199825, 0.200044),
                     (photometry.facing_squares_factor(),
                      photometry.corner_rectangles_factor(1, 1, 1)), 5.1e-7)
    yield FORMS.near("square from the normal through its corner, as far as it is wide",
                     "Howell, class B (from memory); equal to quadrature", 0.1385316,
                     photometry.corner_factor(1, 1, 1.0), 5.1e-8)


def lamp_checks():
    """Yield the checks of dimmed lamps, skies, glass and haze."""
    source = "'Lamp rerating' and IES Lighting Handbook, averages of many lamps"
    for volts, (stops, watts, kelvin) in RERATING.items():
        found = tungsten.at_volts(volts)
        said = f"tungsten of 3200 K at {100 * volts:g} % of its volts"
        yield LAMPS.near(f"{said}, light", source, stops, np.log2(found["lumens"]), 0.2, "stops")
        yield LAMPS.near(f"{said}, power", source, watts, found["watts"], 6e-4, "")
        yield LAMPS.near(f"{said}, colour", source, kelvin, 3200 * found["cct"], 60, "K")
    yield LAMPS.near("a practical one stop down, warmer by", source, 28,
                     mired_shift(3200, tungsten.cct_at_light(0.5)), 0.5, "mired")
    yield LAMPS.near("overcast sky, horizon over zenith", "CIE S 011 / ISO 15469", 1 / 3,
                     daylight.overcast_luminance(0.0), 1e-9)
    yield LAMPS.share("overcast sky, level ground over zenith luminance",
                      "CIE S 011 / ISO 15469, 7π/9", 2.443461, _ground_over_zenith("overcast"),
                      1e-3, "sr")
    yield LAMPS.share("clear sky, sun 45° up, level ground over zenith luminance",
                      "CIE clear sky; an open sky generator gives 4.8477", 4.8485,
                      _ground_over_zenith("clear"), 1e-3, "sr")
    for altitude, lux in ((10, 27.0), (30, 76.8), (60, 88.0)):
        yield LAMPS.share(f"sun {altitude}° up, facing it", "an open sky generator",
                          lux * 1000, daylight.sun_illuminance(altitude), 5e-3, "lx")
    for angle, through in PANE.items():
        yield LAMPS.near(f"clear pane of 1.52 at {angle}°", "Fresnel's equations; equal to "
                         "quadrature", through, optics.pane(np.cos(np.radians(angle)))[0], 5.1e-5)
    yield LAMPS.near("clear pane of 1.52 in diffuse light", "Fresnel's equations; equal to "
                     "quadrature", 0.8464, optics.pane_diffuse(), 5.1e-5)
    yield LAMPS.near("10 m of haze of 0.02 and of 0.05 /m", "Beer-Lambert law", (0.8187, 0.6065),
                     (haze.beam_transmission(0.02, 10.0), haze.beam_transmission(0.05, 10.0)),
                     5.1e-5)
    yield LAMPS.near("visibility in haze of 0.02 /m, 2 % and 5 %",
                     "AMS Glossary; CIE e-ILV 772", (195.6, 149.8),
                     (haze.visibility(0.02, haze.RANGE_CONTRAST), haze.visibility(0.02)), 0.051,
                     "m")
    yield LAMPS.share("glow of 1000 cd in haze of 0.02 /m, 5 m off, at 30°, 10 m deep",
                      "Sun et al. 2005 (form from memory), equal to quadrature", 1.200493,
                      haze.airlight(1000.0, 0.02, distance=5.0, angle_deg=30.0, depth=10.0), 1e-5,
                      "cd/m²")


def _ground_over_zenith(sky: str) -> float:
    """Return E / L_z by the midpoint rule over the dome. [sr]"""
    steps = 2000
    angle = (np.arange(steps) + 0.5) * 90.0 / steps
    down = np.radians(angle)
    if sky == "overcast":
        around = 2 * np.pi * daylight.overcast_luminance(90.0 - angle)
    else:
        turn = (np.arange(360) + 0.5)[None, :]
        each = daylight.general_sky_luminance(daylight.SKY_TYPES["clear"], angle[:, None], turn,
                                              45.0)
        zenith = daylight.general_sky_luminance(daylight.SKY_TYPES["clear"], 0.0, 0.0, 45.0)
        around = 2 * np.pi * (each / zenith).mean(axis=1)
    return float(np.sum(around * np.sin(down) * np.cos(down)) * np.pi / 2 / steps)


def skin_checks():
    """Yield the checks of skin against measured faces."""
    source = "International Skin Spectra Archive, medians of 6907 face records"
    light = illuminant("D65")
    for step, (percent, stops) in FACES.items():
        total = skin.luminance_reflectance(skin.seen_reflectance(step), light)
        yield SKIN.near(f"luminance of {step} skin under D65, shine included", source, percent,
                        100 * total, 2, "%")
        yield SKIN.near(f"{step} skin from 18 % grey", source, stops, np.log2(total / 0.18), 0.15,
                        "stops")
