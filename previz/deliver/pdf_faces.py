"""The two faces of PDFs, made known to the library that writes them."""

from __future__ import annotations

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
