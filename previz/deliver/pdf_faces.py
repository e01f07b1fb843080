"""The two faces of PDFs, made known to the library that writes them."""

from __future__ import annotations

from functools import lru_cache
from importlib.resources import as_file, files

from reportlab import rl_config
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

FACES = {"regular": "Lato-Regular", "strong": "Lato-Semibold"}


def set_up() -> None:
    """Make the two faces known to the writer, and have it pack streams as they are."""
    # Streams as letters would be a quarter larger, and are slow to make.
    rl_config.useA85 = 0
    for name in FACES.values():
        if name not in pdfmetrics.getRegisteredFontNames():
            with as_file(files("previz.deliver").joinpath("fonts", f"{name}.ttf")) as path:
                pdfmetrics.registerFont(TTFont(name, str(path)))


def printable(text: str, weight: str = "regular") -> str:
    """Return text with '?' for each letter that a face has no form of, which would print as nothing."""
    known = _letters(weight)
    return text if known.issuperset(map(ord, text)) else "".join(
        each if ord(each) in known else "?" for each in text)


@lru_cache(maxsize=len(FACES))
def _letters(weight: str) -> frozenset[int]:
    set_up()
    return frozenset(pdfmetrics.getFont(FACES[weight]).face.charToGlyph)
