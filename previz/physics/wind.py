"""What wind does to a flat thing that stands in it."""

from __future__ import annotations

AIR_DENSITY = 1.25
"""[kg/m³]  Source: EN 1991-1-4, 4.5, recommended value (from memory)."""

PLATE = 1.2
"""Force coefficient of a flat plate square to the wind. [1]  Source: Hoerner, Fluid-Dynamic Drag, 1965: 1.17
of a square plate (from memory)."""

FRESH = 10.0
"""A fresh breeze: small trees in leaf begin to sway. [m/s]  Source: Beaufort 5, 8.0 to 10.7 m/s (WMO, from
memory)."""

STANDARD_GRAVITY = 9.80665
"""[m/s²]  Source: SI brochure."""


def wind_force(area: float, speed: float = FRESH) -> float:
    """Return how wind pushes a flat plate that is square to it: F = c · rho · v² / 2 · A. [N]

    Parameters
    ----------
    area : float
        [m²]
    speed : float
        [m/s]

    Raises
    ------
    ValueError
        One of them is below 0.
    """
    if not (area >= 0 and speed >= 0):
        raise ValueError(f"area and speed must be 0 or more, got {area!r}, {speed!r}")
    return PLATE * AIR_DENSITY * speed**2 / 2 * area
