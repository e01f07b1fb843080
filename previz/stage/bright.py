"""Lamps that are too bright to look into: the luminance of their faces, and blue light's limit."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from previz.physics.optical_hazard import BLUE_DOSE, BLUE_EXEMPT, blue_light_efficacy
from previz.physics.safety import Caution
from previz.stage.heat import Surroundings
from previz.stage.records import Emitter

SOURCE = "IEC 62471:2006"

LOOKED_INTO = 6
"""How urgent it is."""


def glare_cautions(scene, around: Surroundings) -> Iterator[Caution]:
    """Yield one caution with all lamps that are over the exempt group of blue light by their mean face."""
    found = []
    for number, light in enumerate(scene.lights):
        if light.on and not light.flame:
            bright = face_luminance(around.of_lamp(number)) * around.given[light.name][0]
            blue = bright * blue_light_efficacy(around.spectra[number])
            if blue > BLUE_EXEMPT:
                found.append((blue, bright, light.name))
    if not found:
        return
    found.sort(reverse=True)
    blue, bright, first = found[0]
    more = f" and {len(found) - 1} more" if len(found) > 1 else ""
    brief = (f"Bright: {first}{more}, up to {luminance_text(bright)}: nobody looks in; blue light reaches "
             f"its limit in {seconds_text(BLUE_DOSE / blue)} or less")
    each = "; ".join(f"{name} {luminance_text(cd)}, {seconds_text(BLUE_DOSE / b)}" for b, cd, name in found)
    text = (f"Bright: {', '.join(name for *_, name in found)}. Nobody is to look in, near by least of all. "
            "Mean luminance of the face at full level without gels, and how long until blue light reaches "
            f"the limit for eyes: {each}. Hot spots of a face are brighter, so times are shorter; the risk "
            "group is its maker's to state, and whoever is in charge of safety decides. "
            f"Source: {SOURCE}.")
    yield Caution("bright", "lamps too bright to look into", brief, text, SOURCE, LOOKED_INTO,
                  tuple(name for *_, name in found), blue)


def face_luminance(emitters: Sequence[Emitter]) -> float:
    """Return the highest luminance, mean over the face, of one lumen of a lamp. [cd/m² per lm]"""
    return max((_luminance(each) for each in emitters), default=0.0)


def _luminance(emitter: Emitter) -> float:
    corners = np.asarray(emitter.vertices, float)[np.asarray(emitter.faces)]
    area = float(np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]),
                                axis=1).sum() / 2)
    if not area > 0:
        return 0.0
    if emitter.table is None:
        # M = pi L of a Lambertian face.
        return emitter.share / (np.pi * area)
    table = emitter.table
    # What is not flat shows about a quarter of its surface, as a ball does.
    seen = area * np.cos(np.radians(np.minimum(table.theta_deg, 85.0))) if emitter.flat else area / 4
    return float(emitter.share * np.max(table.values.max(axis=1) / seen))


def luminance_text(nits: float) -> str:
    """Return a luminance as it is told."""
    return f"{nits / 1e6:.2g} Mcd/m²" if nits >= 1e6 else f"{float(f'{nits / 1e3:.2g}'):g} kcd/m²"


def seconds_text(seconds: float) -> str:
    """Return a span of time as it is told."""
    if seconds < 1:
        return f"{seconds:.2g} s"
    return f"{seconds:.0f} s" if seconds < 90 else f"{seconds / 60:.0f} min"
