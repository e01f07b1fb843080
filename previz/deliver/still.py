"""The still: the picture as a screen shows it, with what it is written inside the file."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from previz.deliver.atomic import write_png


def png_info(words: dict[str, str]) -> PngInfo:
    """Return the text and colour chunks of a delivered PNG.

    Parameters
    ----------
    words : dict of str to str
        Keyword and text; 'Title', 'Description' and 'Software' are the standard's own.

    Returns
    -------
    PIL.PngImagePlugin.PngInfo
        With an sRGB chunk (perceptual intent).

    Raises
    ------
    ValueError
        A keyword is empty, longer than 79 letters or not Latin-1.

    Source
    ------
    ISO/IEC 15948:2004 (PNG), 11.3.3.5 (sRGB) and 11.3.4 (text).
    """
    info = PngInfo()
    info.add(b"sRGB", b"\x00")
    for keyword, text in words.items():
        if not 1 <= len(keyword) <= 79 or not keyword.isascii():
            raise ValueError(f"a PNG keyword has 1 to 79 plain letters, got '{keyword}'")
        info.add_itxt(keyword, str(text), lang="en", tkey=keyword)
    return info


def write_still(path: Path, picture: np.ndarray, words: dict[str, str]) -> None:
    """Write a still.

    Parameters
    ----------
    path : path-like
        A .png; replaced in one step.
    picture : uint8 array, shape (row, column, 3)
        sRGB, from `display.show_8bit`.
    words : dict of str to str
        What the file says of itself: title, option, camera, settings, version and the like.
    """
    write_png(path, Image.fromarray(picture), png_info(words))
