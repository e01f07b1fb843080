"""The still: the picture as a screen shows it, with what it is written inside the file."""

from __future__ import annotations

from pathlib import Path

from PIL import Image
from PIL.PngImagePlugin import PngInfo

from previz.deliver.atomic import DeliveryError, write_png


def png_info(words):
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


def write_still(path, picture, words):
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


def read_words(path):
    """Return what a delivered PNG says of itself.

    Parameters
    ----------
    path : path-like
        The file.

    Returns
    -------
    dict of str to str

    Raises
    ------
    DeliveryError
        It is missing or not a PNG.
    """
    path = Path(path)
    try:
        with Image.open(path, formats=["PNG"]) as image:
            image.load()
            return {key: str(text) for key, text in image.text.items()}
    except (OSError, SyntaxError) as error:
        raise DeliveryError(f"{path} is no readable PNG: {error}.", "Render it again.") from error
