"""Colour words and their values, as paint and dyed cloth have them.

The words are this program's own choice, and so is the notation that each stands for: hue, value and
chroma after Munsell, of a chroma that house paint and cloth have (common practice, no source). What a
notation appears as in daylight is not: it comes from the renotation of 1943 (ASTM D1535).
"""

from __future__ import annotations

import re

PALETTE: dict[str, str] = {
    "white": "#f1f1ee",
    "cream": "#efe2c5",
    "ivory": "#e9e2d4",
    "straw": "#dec686",
    "mustard": "#b68d40",
    "ochre": "#ac7d47",
    "amber": "#c4873f",
    "orange": "#c5713c",
    "terracotta": "#9c5c46",
    "brick": "#824941",
    "red": "#9c3a3a",
    "maroon": "#552b2f",
    "rose": "#c48d8c",
    "plum": "#4f394e",
    "lilac": "#a89bb6",
    "navy": "#2a313f",
    "blue": "#385a82",
    "slate": "#556871",
    "sky blue": "#98b0c7",
    "teal": "#37686a",
    "duck egg": "#b0cfc3",
    "sage": "#939f87",
    "olive": "#6c6a3e",
    "green": "#477850",
    "bottle green": "#2c4035",
    "sand": "#cfb797",
    "tan": "#ab8e6f",
    "brown": "#684b39",
    "umber": "#4a382c",
    "silver": "#b9bcbd",
    "grey": "#808284",
    "charcoal": "#3a3c3f",
    "black": "#1b1b1c",
}
"""Colour words to sRGB, as '#rrggbb'."""

NOTATIONS: dict[str, str] = {
    "cream": "2.5Y 9/2", "ivory": "2.5Y 9/1", "straw": "3.5Y 8/5", "mustard": "1.5Y 6/7",
    "ochre": "8.5YR 5.5/6", "amber": "8YR 6/8", "orange": "3.5YR 5.5/9", "terracotta": "1YR 4.5/6",
    "brick": "8.5R 3.7/5", "red": "6R 3.8/9", "maroon": "5R 2.3/4", "rose": "4R 6.3/5",
    "plum": "9P 2.7/3", "lilac": "4P 6.5/4", "navy": "5PB 2/2", "blue": "4PB 3.7/6",
    "slate": "7.5B 4.2/2", "sky blue": "2.5PB 7/4", "teal": "8BG 4/3.5", "duck egg": "9G 8/2",
    "sage": "7GY 6.3/2", "olive": "10Y 4.3/3.5", "green": "1G 4.5/5", "bottle green": "3G 2.5/2.5",
    "sand": "10YR 7.5/3", "tan": "9YR 6/3.5", "brown": "6YR 3.4/3", "umber": "7YR 2.5/2",
}  # fmt: skip
"""Munsell notation of each colour word that is no grey.

`PALETTE` has them under illuminant C, adapted to D65 by Bradford's matrix; a test holds the two together.
"""

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
