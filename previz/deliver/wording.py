"""How settings and readings are written on pictures and sheets."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from previz.exposure.falsecolour import signed
from previz.physics.exposure import CameraSettings
from previz.physics.taking import Optics
from previz.physics.viewing import ShowFile

NO_LIGHT = "no light"
"""Stands in place of a level where no light arrives."""


def shutter_text(seconds: float) -> str:
    """Return an exposure time [s]: '1/48 s', or '0.5 s' where that is plainer."""
    below = 1.0 / seconds
    if below >= 2 and abs(below - round(below)) < 0.05:
        return f"1/{round(below)} s"
    return f"1/{below:.1f} s" if below >= 2 else f"{seconds:g} s"


def settings_text(settings: CameraSettings) -> str:
    """Return a camera's settings in one line: 'T2.8 · ISO 800 · 1/48 s · 4000 K'.

    Neutral filters, green, latitude ('holds +6 and −7') and what its picture is looked at through are named
    only where there are any.
    """
    parts = [f"T{settings.stop:g}", f"ISO {settings.iso:g}", shutter_text(settings.shutter_s)]
    if settings.nd_density:
        parts.append(f"ND {settings.nd_density:g}")
    parts.append(f"{settings.white_balance:.0f} K")
    if settings.tint:
        parts.append(f"green {signed(settings.tint, 3)}")
    return " · ".join((*parts, *look_texts(settings.over, settings.under, settings.show),
                       *optics_texts(settings.optics)))


def optics_texts(optics: Optics | None) -> list[str]:
    """Return what a camera's lens and sensor do to its picture."""
    if optics is None:
        return []
    shares = [f"{word} {100 * value:g} %" for word, value in (
        ("bloom", optics.bloom), ("veiling glare", optics.veiling_glare)) if value]
    stops = [f"{word} {value:g} stops" for word, value in (
        ("vignette", optics.vignette), ("grain", optics.grain)) if value]
    return shares + stops


def look_texts(over: float | None, under: float | None, show: ShowFile | None) -> list[str]:
    """Return what a camera holds over and under grey [stops], and what its picture is looked at through."""
    ends = (("+", over), ("\N{MINUS SIGN}", under))
    held = [f"{sign}{stops:g}" for sign, stops in ends if stops is not None]
    parts = [f"holds {' and '.join(held)} stops"] if held else []
    return parts if show is None else [*parts, f"through {show.name}"]


def lux_text(illuminance: float | None) -> str:
    """Return a light level [lx] with three figures and without its unit, '–' if there is none."""
    if illuminance is None:
        return "–"
    if illuminance == 0:
        return "0"
    if illuminance >= 1000:
        digits = max(0, int(np.floor(np.log10(illuminance))) - 2)
        return f"{round(illuminance, -digits):,.0f}".replace(",", "\N{NARROW NO-BREAK SPACE}")
    if illuminance >= 100:
        return f"{illuminance:.0f}"
    return f"{illuminance:.1f}" if illuminance >= 10 else f"{illuminance:.2f}"


def stops_text(stops: float | None) -> str:
    """Return stops to a tenth: '+1.3', '0.0', '−2.0'; '–' for none, 'no light' for -inf."""
    if stops is None:
        return "–"
    if np.isneginf(stops):
        return NO_LIGHT
    return signed(float(stops), 1)


def side_text(side: float, height: float) -> tuple[str, str]:
    """Return where a light comes from, in two lines: '48° left', '30° high'.

    Parameters
    ----------
    side, height : float
        Angles off the lens, plus is right and up. [deg]
    """
    across = round(abs(side))
    if across <= 5:
        first = "by the lens"
    elif across >= 175:
        first = "behind"
    else:
        first = f"{across}° {'right' if side > 0 else 'left'}"
    up = round(abs(height))
    return first, "level" if up <= 2 else f"{up}° {'high' if height > 0 else 'low'}"


def ratio_text(ratio: float | None) -> str:
    """Return a ratio to one: '2.0 : 1'; 'no fill' where it is infinite, '–' where it has no meaning."""
    if ratio is None or np.isnan(ratio):
        return "–"
    if np.isinf(ratio):
        return "no fill"
    return f"{ratio:.0f} : 1" if ratio >= 100 else f"{ratio:.1f} : 1"


def percent_texts(parts: Sequence[float]) -> list[str]:
    """Return shares, which sum to 1, as percentages to a tenth that sum to exactly 100.0, without sign.

    What rounding loses goes to the shares that lost the most.
    """
    tenths = np.asarray(parts, dtype=float) * 1000.0
    whole = np.floor(tenths + 1e-9).astype(int)
    lost = tenths - whole
    missing = 1000 - int(whole.sum())
    for number in np.argsort(-lost, kind="stable")[:missing]:
        whole[number] += 1
    return [f"{value / 10:.1f}" for value in whole]
