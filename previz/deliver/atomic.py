"""Files that appear whole or not at all."""

from __future__ import annotations

import io
from pathlib import Path

from PIL import Image
from PIL.PngImagePlugin import PngInfo

from previz.errors import DataError
from previz.frames import whole_file

__all__ = ["DeliveryError", "packed_png", "whole_file", "write_bytes", "write_png", "write_text"]


class DeliveryError(DataError):
    """A delivered file cannot be read or made.

    Parameters
    ----------
    message : str
        What is wrong, naming the file.
    advice : str
        What to do about it.
    """


def write_bytes(path: str | Path, content: bytes) -> None:
    """Write a file in one step.

    Parameters
    ----------
    path : path-like
        Replaced if it is there; its folder is made.
    content : bytes
        All of it.
    """
    with whole_file(path) as part:
        part.write_bytes(content)


def write_text(path: str | Path, text: str) -> None:
    """Write a text file in one step, as UTF-8.

    Parameters
    ----------
    path : path-like
        Replaced if it is there; its folder is made.
    text : str
        All of it.
    """
    write_bytes(path, text.encode("utf-8"))


COMPRESSION = 6
"""Level of a PNG's packing; 9 is smallest, 1 quickest."""


def packed_png(image: Image.Image, info: PngInfo | None = None) -> bytes:
    """Return a PNG.

    Parameters
    ----------
    image : PIL.Image.Image
        8-bit sRGB.
    info : PIL.PngImagePlugin.PngInfo, optional
        Text and colour chunks.
    """
    packed = io.BytesIO()
    image.save(packed, format="PNG", pnginfo=info, optimize=False, compress_level=COMPRESSION)
    return packed.getvalue()


def write_png(path: str | Path, image: Image.Image, info: PngInfo | None = None) -> None:
    """Write a PNG in one step.

    Parameters
    ----------
    path : path-like
        Replaced if it is there; its folder is made.
    image : PIL.Image.Image
        8-bit sRGB.
    info : PIL.PngImagePlugin.PngInfo, optional
        Text and colour chunks.
    """
    write_bytes(path, packed_png(image, info))
