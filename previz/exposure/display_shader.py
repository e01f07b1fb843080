"""The view transform of `display` as shader text, for a screen that mixes on its own GPU.

It is the same transform of the same configuration as the stills; in 32-bit arithmetic the two
agree far within a code value.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

import numpy as np
import PyOpenColorIO

from previz.exposure.display import processor_of, view_transform

FUNCTION = "screen_from_acescg"
"""Name of the function: vec4 of scene-linear ACEScg in, vec4 of sRGB code values 0 to 1 out."""

_PREFIX = "view_"
_CONSTANT_ARRAY = re.compile(r"const float (\w+)\[\d+\] = float\[\d+\]\(([^)]*)\);")


@dataclass(frozen=True, eq=False)
class Table:
    """A table that the shader reads with plain lookups (nearest, not repeated).

    Parameters
    ----------
    sampler : str
        Name of its sampler2D.
    values : float32 array, shape (width, channels)
        One row; one channel or three.
    """

    sampler: str
    values: np.ndarray


@dataclass(frozen=True, eq=False)
class ViewShader:
    """The transform for GLSL ES 3.0 (WebGL 2).

    Parameters
    ----------
    text : str
        Declarations and `FUNCTION`.
    tables : tuple of Table
    """

    text: str
    tables: tuple[Table, ...]


@cache
def view_shader() -> ViewShader:
    """Return the view transform of the stills as GLSL ES 3.0.

    Constant arrays that the shader would index at run time are moved to tables: many GPUs copy
    such an array for every pixel.

    Source
    ------
    As `display.show`; the text is OpenColorIO's own.
    """
    described = PyOpenColorIO.GpuShaderDesc.CreateShaderDesc(
        language=PyOpenColorIO.GPU_LANGUAGE_GLSL_ES_3_0, functionName=FUNCTION,
        resourcePrefix=_PREFIX)
    processor_of(view_transform()).getDefaultGPUProcessor().extractGpuShaderInfo(described)
    tables = []
    for texture in described.getTextures():
        values = np.asarray(texture.getValues(), np.float32)
        if texture.height != 1:
            raise ValueError(f"{texture.samplerName} is no single row")
        tables.append(Table(texture.samplerName, values.reshape(texture.width, -1)))
    if any(True for _ in described.get3DTextures()):
        raise ValueError("this version of OpenColorIO draws the view with a 3-D texture")
    text = described.getShaderText()
    for match in _CONSTANT_ARRAY.finditer(text):
        name = match[1]
        values = np.array([float(each) for each in match[2].split(",")], np.float32)
        tables.append(Table(f"{name}_table", values[:, None]))
        text = text.replace(match[0], f"uniform sampler2D {name}_table;")
        text = re.sub(rf"\b{name}\[([^\]]*)\]", rf"texelFetch({name}_table, ivec2(\1, 0), 0).r",
                      text)
    return ViewShader(text, tuple(tables))
