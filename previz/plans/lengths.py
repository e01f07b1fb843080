"""Lengths as a tape has them, and the scales that rulers have, in metres or in feet and inches."""

from __future__ import annotations

MINUS = "\N{MINUS SIGN}"

METRIC, IMPERIAL = "metric", "imperial"
SYSTEMS = (METRIC, IMPERIAL)

SCALES: dict[str, tuple[int, ...]] = {
    METRIC: (10, 20, 25, 50, 100, 200, 500, 1000, 2000),
    IMPERIAL: (12, 16, 24, 32, 48, 64, 96, 128, 192, 384, 768),
}
"""Scales that are drawn to, the larger drawing first. Metric: ISO 5455 and 1:25, which set drawings use
(common practice, no source). Imperial: from an inch to a foot down to 1/64 inch."""

INCH, FOOT = 0.0254, 0.3048
"""[m]  Exact by definition (international yard and pound agreement, 1959)."""

SIXTEENTHS = {1: "1/16", 2: "1/8", 3: "3/16", 4: "1/4", 5: "5/16", 6: "3/8", 7: "7/16", 8: "1/2", 9: "9/16",
              10: "5/8", 11: "11/16", 12: "3/4", 13: "13/16", 14: "7/8", 15: "15/16"}


def said(length: float, system: str = METRIC) -> str:
    """Return a length [m] as it is measured out: '2.35 m', or 7' 8 1/2" to the nearest half inch.

    Under 0 it has a true minus.

    Parameters
    ----------
    length : float
        [m]
    system : str
        'metric' (to the centimetre) or 'imperial' (to the half inch).
    """
    if system == METRIC:
        return f"{round(length, 2) + 0.0:.2f} m".replace("-", MINUS)
    return _feet(length, 2)


def said_finely(length: float, system: str = METRIC) -> str:
    """Return a small length [m], of a tube or a lens: '85 mm', or 3 3/8"."""
    if system == METRIC:
        return f"{1000 * length:.0f} mm" if length < 1 else said(length)
    return _feet(length, 16)


def roughly(length: float, system: str = METRIC) -> str:
    """Return a round length [m] of a rule of thumb: '2 m', '50 mm', or 6 1/2' and 2"."""
    if system == METRIC:
        return f"{1000 * length:.0f} mm" if length < 1 else f"{length:g} m"
    if length < FOOT:
        return _feet(length, 4)
    feet, half = divmod(round(2 * length / FOOT), 2)
    return f"{feet} 1/2'" if half else f"{feet}'"


def _feet(length: float, parts: int) -> str:
    sign = MINUS if length < 0 and round(abs(length) / INCH * parts) else ""
    whole, rest = divmod(round(abs(length) / INCH * parts), parts)
    feet, inches = divmod(whole, 12)
    fraction = SIXTEENTHS.get(rest * 16 // parts, "")
    inch = " ".join(filter(None, (str(inches) if inches or not fraction else "", fraction)))
    return sign + (f"{feet}' {inch}\"" if feet else f'{inch}"')


def scale_said(scale: int, system: str = METRIC) -> str:
    """Return a scale as a sheet has it: '1:50', or '1/4" = 1' (1:48)'."""
    if system == METRIC:
        return f"1:{scale}"
    sixty_fourths = 12 * 64 // scale
    above, below = sixty_fourths, 64
    while above and above % 2 == 0 and below > 1:
        above, below = above // 2, below // 2
    inch = f"{above}/{below}" if below > 1 else str(above)
    return f"{inch}\" = 1' (1:{scale})" if 12 * 64 % scale == 0 else f"1:{scale}"
