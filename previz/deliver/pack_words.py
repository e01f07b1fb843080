"""How the lists for the truck and the floor say their numbers."""

from __future__ import annotations

import re
from collections.abc import Sequence

from previz.exposure.falsecolour import signed
from previz.plans.lengths import FOOT, METRIC, MINUS, said, said_finely
from previz.plans.lines import LampLine, Point

HELD = "\N{NO-BREAK SPACE}"

_MINUS = re.compile(r"(?<![\w.)])-(?=\d)")

NONE = "–"
"""Stands where there is no such number."""

THIN = 0.1
"""What has a side that is less, such as a tube, has it in millimetres. [m]"""

SQUARE_FEET = 0.3048**2
"""[m²]  Exact by definition."""

POUND = 0.45359237
"""[kg]  Exact by definition."""


def place_text(at: Point | None, system: str) -> str:
    """Return where a thing stands on the floor: '4.70, 0.45 m'."""
    if at is None:
        return NONE
    if system == METRIC:
        return f"{at[0] + 0.0:.2f}, {at[1] + 0.0:.2f} m".replace("-", MINUS)
    return f"{said(at[0], system)}, {said(at[1], system)}"


def height_text(at: Point | None, system: str) -> str:
    """Return how high the middle of a thing is."""
    return length_text(None if at is None else at[2], system)


def size_text(size: Sequence[float], system: str) -> str:
    """Return a face's width and height, or its diameter: '0.60 × 0.40 m', 'Ø 150 mm'."""
    if not size:
        return NONE
    if len(size) == 1:
        return f"Ø {said_finely(size[0], system)}"
    if system == METRIC:
        if min(size) < THIN:
            return f" ×{HELD}".join(said_finely(side, system).replace(" ", HELD) for side in size)
        return f"{size[0]:.2f} ×{HELD}{size[1]:.2f}{HELD}m"
    return f" ×{HELD}".join(said(side, system).replace(" ", HELD) for side in size)


def angle_text(angle: float | None, *, sign: bool = False) -> str:
    """Return an angle [deg] to a degree; `sign` for over (+) and under level."""
    if angle is None:
        return NONE
    # A bearing of 359.6 is one of 0.
    return f"{signed(angle, 0)}°" if sign else f"{round(angle) % 360}°"


def length_text(length: float | None, system: str) -> str:
    """Return a length [m], '–' for none."""
    return NONE if length is None else said(length, system)


def colour_text(lamp: LampLine) -> str:
    """Return a lamp's colour temperature and what gels are on it."""
    own = [] if lamp.cct is None else [f"{lamp.cct:.0f} K"]
    return " + ".join((*own, *lamp.gels)) or NONE


def level_text(lamp: LampLine) -> str:
    """Return at what level a lamp is: '45 %', 'off'."""
    if not lamp.on:
        return "off"
    percent = 100 * lamp.dimmer
    return f"{percent:.0f} %" if abs(percent - round(percent)) < 0.05 else f"{percent:.1f} %"


def watts_text(watts: float | None, guessed: bool = False) -> str:
    """Return watts; 'about', and to two figures, where they are guessed."""
    if watts is None:
        return NONE
    return f"about {float(f'{watts:.2g}'):.0f}" if guessed else f"{watts:.0f}"


def amperes_text(amperes: float | None) -> str:
    """Return amperes to a tenth, to a hundredth under one."""
    if amperes is None:
        return NONE
    if 0 < amperes < 0.005:
        return "<0.01"
    return f"{amperes:.2f}" if amperes < 0.995 else f"{amperes:.1f}"


def weight_text(kilos: float | None, system: str) -> str:
    """Return a weight [kg], in pounds on imperial paper; '–' where it is not stated."""
    if kilos is None:
        return NONE
    return f"{kilos:.1f} kg" if system == METRIC else f"{kilos / POUND:.1f} lb"


def area_text(area: float, system: str) -> str:
    """Return an area [m²], in square feet on imperial paper."""
    return f"{area:.2f} m²" if system == METRIC else f"{area / SQUARE_FEET:.1f} ft²"


def cable_text(length: float, system: str) -> str:
    """Return the length of a cable of the stock: '25 m', \"50'\"."""
    if system == METRIC:
        return f"{length:g} m"
    feet = length / FOOT
    return f"{round(feet)}'" if abs(feet - round(feet)) < 0.01 else said(length, system)


def pieces_text(pieces: Sequence[float], system: str) -> str:
    """Return what a run is made up of: '2 × 10 m + 5 m'."""
    parts = []
    for length in dict.fromkeys(sorted(pieces, reverse=True)):
        count, text = pieces.count(length), cable_text(length, system)
        parts.append(f"{count} × {text}" if count > 1 else text)
    return " + ".join(parts) or NONE


def count_text(count: float, unit: str, system: str) -> str:
    """Return how many, or how much: '3', '4.50 m²', '100 m'."""
    if unit == "m²":
        return area_text(count, system)
    if unit == "m":
        return said(count, system) if system != METRIC else f"{count:g} m"
    return f"{count:g}" if not unit else f"{count:g} {unit}"


def share_text(share: float) -> str:
    """Return a share as percent."""
    return f"{100 * share:.0f} %"


def printed(text: str) -> str:
    """Return a sentence with minus signs where hyphens stand for them."""
    return _MINUS.sub(MINUS, text)


def listed(names: Sequence[str], most: int = 0) -> str:
    """Return names in a line; so many of them at most, where that is given."""
    if most and len(names) > most:
        return f"{', '.join(names[:most])} and {len(names) - most} more"
    return ", ".join(names)
