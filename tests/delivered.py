"""What delivered files hold, read with the formats' own libraries."""

import numpy as np
import OpenEXR
from PIL import Image


def read_exr(path):
    """Return {part: (header, {channel: array})} of an EXR; RGB has shape (row, column, 3)."""
    with OpenEXR.File(str(path)) as file:
        return {part.name(): (dict(part.header), {key: np.array(channel.pixels)
                                                  for key, channel in part.channels.items()})
                for part in file.parts}


def read_words(path):
    """Return what a PNG says of itself."""
    with Image.open(path, formats=["PNG"]) as image:
        image.load()
        return dict(image.text)
