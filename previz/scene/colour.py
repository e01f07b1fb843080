"""Colour words and their values.

The palette is this program's own choice: about thirty words that a set is described with.
"""

from __future__ import annotations

import re

PALETTE: dict[str, str] = {
    "white": "#f1f1ee",
    "cream": "#eee3c6",
    "ivory": "#efe9d8",
    "straw": "#d9c27a",
    "mustard": "#b98a2b",
    "ochre": "#b5772d",
    "amber": "#d08a1d",
    "orange": "#cf6a24",
    "terracotta": "#a9573c",
    "brick": "#8a4132",
    "red": "#a42a28",
    "maroon": "#5c2226",
    "rose": "#c98a8c",
    "plum": "#5a3550",
    "lilac": "#a99bbd",
    "navy": "#1f2b4d",
    "blue": "#2f558f",
    "slate": "#55636f",
    "sky blue": "#93b5cf",
    "teal": "#2c6a6b",
    "duck egg": "#b6cfc4",
    "sage": "#97a488",
    "olive": "#6a6a3a",
    "green": "#3f7a45",
    "bottle green": "#1f4331",
    "sand": "#cdb893",
    "tan": "#b08d63",
    "brown": "#694a33",
    "umber": "#493628",
    "silver": "#b9bcbd",
    "grey": "#808284",
    "charcoal": "#3a3c3f",
    "black": "#1b1b1c",
}
"""Colour words to sRGB, as '#rrggbb'."""

HEX = re.compile(r"#[0-9a-fA-F]{6}")
"""How a colour is written in figures."""


def linear_from_hex(text: str) -> tuple[float, float, float]:
    """Return a colour in linear light.

    Parameters
    ----------
    text : str
        sRGB as '#rrggbb'.

    Returns
    -------
    (float, float, float)
        Linear sRGB, 0 to 1. [1]

    Source
    ------
    IEC 61966-2-1, the sRGB transfer function.
    """
    return tuple(_linear(int(text[start : start + 2], 16) / 255) for start in (1, 3, 5))


def _linear(signal):
    return signal / 12.92 if signal <= 0.04045 else ((signal + 0.055) / 1.055) ** 2.4
