"""Files that appear whole or not at all; pictures among them with what they say of themselves."""

from __future__ import annotations

import io
from collections.abc import Mapping
from pathlib import Path

import numpy as np
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from previz.errors import DataError
from previz.frames import whole_file

__all__ = ["DeliveryError", "packed_png", "whole_file", "write_bytes", "write_png", "write_still",
           "write_text"]

COMPRESSION = 6
"""Level of a PNG's packing; 9 is smallest, 1 quickest."""

RUNS = 3
"""Way of packing of zlib that looks for runs alone (Z_RLE). In a row of a still, told by its differences,
hardly anything else comes again: a fiftieth smaller than with all matches, in a quarter of the time."""


class DeliveryError(DataError):
    """A delivered file cannot be read or made.

    Parameters
    ----------
    message, advice : str
        What is wrong, naming the file, and what to do about it.
    """


def write_bytes(path: str | Path, content: bytes) -> None:
    """Write a file in one step, in place of one that is there; its folder is made."""
    with whole_file(path) as part:
        part.write_bytes(content)


def write_text(path: str | Path, text: str) -> None:
    """Write a text file in one step, as UTF-8; see `write_bytes`."""
    write_bytes(path, text.encode("utf-8"))


def packed_png(image: Image.Image, words: Mapping[str, str], *, photo: bool = False) -> bytes:
    """Return an 8-bit sRGB picture as a PNG with an sRGB chunk (perceptual intent).

    Parameters
    ----------
    image : PIL.Image.Image
    words : dict of str to str
        What the file says of itself, by keyword; 'Title', 'Description' and 'Software' are the
        standard's own.
    photo : bool
        Packed as a still is best; drawings have more that comes again.

    Raises
    ------
    ValueError
        A keyword is empty, longer than 79 letters or not plain.

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
    packed = io.BytesIO()
    image.save(packed, format="PNG", pnginfo=info, optimize=False, compress_level=COMPRESSION,
               **({"compress_type": RUNS} if photo else {}))
    return packed.getvalue()


def write_png(path: str | Path, image: Image.Image, words: Mapping[str, str], *, photo: bool = False) -> None:
    """Write an 8-bit sRGB picture in one step; see `packed_png`."""
    write_bytes(path, packed_png(image, words, photo=photo))


def enlarged(still: np.ndarray, width: int, height: int) -> np.ndarray:
    """Return a still, uint8 of shape (row, column, 3), of another size, without steps. [px]"""
    return np.asarray(Image.fromarray(still).resize((width, height), Image.Resampling.BICUBIC))


def write_still(path: str | Path, still: np.ndarray, words: Mapping[str, str]) -> None:
    """Write a still, uint8 of shape (row, column, 3), sRGB; see `packed_png`."""
    write_png(path, Image.fromarray(still), words, photo=True)
