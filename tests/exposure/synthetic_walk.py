"""A walk made by arithmetic: a straight way of 6 m under two small lamps, with nothing around it.

It stands in for meters that an engine has run. Everything is invented; the light follows I cos θ / d², the
same in every band, per lumen, with a little that comes back from everywhere.
"""

from __future__ import annotations

import numpy as np

from previz.exposure.comparing.walk import Point, strip_of
from previz.frames.batches import BATCHES, Batches
from previz.physics.blackbody import radiance
from previz.physics.daylight import daylight_spectrum
from previz.physics.exposure import CameraSettings
from previz.physics.light import LampLight
from previz.physics.spectra import WAVELENGTHS_NM, normalise

SETTINGS = CameraSettings(stop=2.8, iso=800, shutter_s=1 / 48, white_balance=3200)
"""18 % grey at 117.6 lx: 250 · 2.8² · 48 / 800 (ISO 2720:1974, C = 250)."""

PLACES = {"door lamp": np.array([1.5, 1.0, 2.6]), "bench lamp": np.array([6.5, -1.0, 2.2])}
LUMENS, BANDS = (6000.0, 4000.0), 8
MARKS = {0.0: "start", 4.0: "window", 6.0: "bench"}
HEIGHT = 1.6


def lamps(levels=(1.0, 1.0)):
    """The two lamps: tungsten at the door, daylight at the bench."""
    spectra = normalise(radiance(WAVELENGTHS_NM, 2800.0)), daylight_spectrum(5600.0)
    return tuple(LampLight(name, "lm", lumens, spectrum, np.ones(81), level)
                 for name, lumens, spectrum, level in zip(PLACES, LUMENS, spectra, levels, strict=True))


def normals():
    """Return what the left and the right cheek of a face towards +x face."""
    return np.array([[1.0, 1.0, 0.0], [1.0, -1.0, 0.0]]) / np.sqrt(2)


def on_flat(at, normal, lamp):
    """Return what a small lamp of one lumen gives to a flat meter. [1/m²]"""
    towards = PLACES[lamp] - at
    distance = np.linalg.norm(towards)
    return max(normal @ towards / distance, 0.0) / (4 * np.pi * distance**2)


def points(every=0.25):
    """The places of the way."""
    found = []
    for metres in np.arange(0.0, 6.0 + 1e-9, every):
        mark = MARKS.get(round(float(metres), 6))
        label = f"porter at {metres:.2f} m" + (f", {mark}" if mark else "")
        found.append(Point(float(metres), mark, (float(metres), 0.0, HEIGHT), 0.0,
                           (f"{label}: left cheek", f"{label}: right cheek")))
    return found


def batches(places, noise=0.01, back=2e-4):
    """What meters at both cheeks gathered, with so much noise in each batch [1] and so much back. [1/m²]"""
    names = [name for each in places for name in each.meters]
    made = Batches.empty(names, tuple(PLACES), BANDS)
    random = np.random.default_rng(3)
    for number, (place, side) in enumerate((place, side) for place in places for side in range(2)):
        for k, lamp in enumerate(PLACES):
            light = on_flat(np.array(place.at), normals()[side], lamp)
            spread = 1 + noise * random.normal(size=BATCHES)
            made.sums[number, :, k, 0] = (light * spread)[:, None]
            made.sums[number, :, k, 1] = (back * spread)[:, None]
    made.paths[:] = 1
    return made


def strip(levels=(1.0, 1.0), every=0.25, noise=0.01, back=2e-4, **more):
    """The strip of the way."""
    places = points(every)
    return strip_of("porter", places, batches(places, noise, back), lamps(levels), SETTINGS, places=PLACES,
                    **more)
