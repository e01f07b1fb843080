"""Decode pictures that `picture_heads` has found to be PNG or JPEG of a size that can be had."""

from __future__ import annotations

import io
import struct

import numpy as np
from PIL import Image

from previz.physics.uplift import linear_from_srgb
from previz.stage.picture_heads import AGAIN, head
from previz.stage.plain_files import FileError

_TURNS = {2: Image.Transpose.FLIP_LEFT_RIGHT, 3: Image.Transpose.ROTATE_180,
          4: Image.Transpose.FLIP_TOP_BOTTOM, 5: Image.Transpose.TRANSPOSE, 6: Image.Transpose.ROTATE_270,
          7: Image.Transpose.TRANSVERSE, 8: Image.Transpose.ROTATE_90}
"""Exif orientation -> what makes it upright."""


def decode(data: bytes | memoryview, *, upright: bool = False) -> Image.Image:
    """Return a picture, in memory, with 8 bits a colour.

    Parameters
    ----------
    data : bytes
        The file.
    upright : bool
        Turn it as its Exif orientation says.

    Returns
    -------
    PIL.Image.Image
        RGBA where it has transparency, else RGB.

    Raises
    ------
    FileError
        It cannot be used; see `head`.
    """
    about = head(data)
    whole = io.BytesIO()
    for start, end in about.parts:
        whole.write(memoryview(data)[start:end])
    whole.seek(0)
    try:
        with Image.open(whole, formats=[about.kind]) as image:
            if image.size != (about.width, about.height):
                raise ValueError("it contradicts itself about its size")
            image.load()
            made = _eight_bits(image)
    except (OSError, ValueError, SyntaxError, EOFError, struct.error, Image.DecompressionBombError) as error:
        raise FileError("its pixels are damaged or cut off", AGAIN) from error
    turn = _TURNS.get(about.turn) if upright else None
    return made if turn is None else made.transpose(turn)


def _eight_bits(image: Image.Image) -> Image.Image:
    if image.mode.startswith("I"):
        # Greys of 16 bits; the library would clip them to 8. Of colours of 16 bits it takes the upper 8, too.
        values = np.asarray(image).astype(np.uint32) >> 8
        image = Image.fromarray(values.astype(np.uint8))
    through = image.mode in ("RGBA", "LA", "PA") or "transparency" in image.info
    return image.convert("RGBA" if through else "RGB")


def linear_picture(picture: np.ndarray, factors=(1.0, 1.0, 1.0), most: float = 1.0) -> np.ndarray:
    """Return a picture as linear Rec. 709.

    Parameters
    ----------
    picture : uint8 array, shape (rows, columns, 3)
        sRGB.
    factors : (float, float, float)
        What its colours are multiplied by. [1]
    most : float
        What is above is cut to this. [1]

    Returns
    -------
    float32 array, shape (rows, columns, 3)
        [1]
    """
    codes = linear_from_srgb(np.arange(256, dtype=np.float32) / 255)
    table = np.clip(codes[:, None] * np.asarray(factors, float), 0, most).astype(np.float32)
    made = np.empty(picture.shape, np.float32)
    # A row at a time, as indices take eight times the picture's own bytes.
    flat, offsets = table.T.ravel(), np.arange(3) * 256
    for row, values in enumerate(picture):
        np.take(flat, values + offsets, out=made[row], mode="clip")
    return made
