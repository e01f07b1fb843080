"""A camera's view, `viewing`, as shader text for a screen that mixes on its own GPU.

It is the same transform of the same configuration as the stills; in 32-bit arithmetic the two
agree far within a code value.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import PyOpenColorIO

from previz.exposure.display import processor_of, view_transform
from previz.exposure.latitude import shader_lines
from previz.exposure.viewing import KEPT, processor_through
from previz.physics.viewing import ShowFile

FUNCTION = "screen_from_acescg"
"""Name of the function: vec4 of scene-linear ACEScg in, vec4 of sRGB code values 0 to 1 out."""

_PLAIN = "screen_from_held"
_PREFIX = "view_"
_CONSTANT_ARRAY = re.compile(r"const float (\w+)\[\d+\] = float\[\d+\]\(([^)]*)\);")


@dataclass(frozen=True, eq=False)
class Table:
    """A table that the shader reads with plain lookups (nearest, not repeated).

    Parameters
    ----------
    sampler : str
        Name of its sampler2D.
    values : float32 array, shape (row, width, channels)
        One channel or three.
    """

    sampler: str
    values: np.ndarray


@dataclass(frozen=True, eq=False)
class Cube:
    """A cube of colours that the shader reads with plain lookups.

    Parameters
    ----------
    sampler : str
        Name of its sampler3D.
    values : float32 array, shape (red, green, blue, 3)
        As many steps each way.
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
    cubes : tuple of Cube
    """

    text: str
    tables: tuple[Table, ...]
    cubes: tuple[Cube, ...] = ()


@lru_cache(maxsize=KEPT)
def view_shader(over: float | None = None, under: float | None = None,
                show: ShowFile | None = None) -> ViewShader:
    """Return a camera's view as GLSL ES 3.0: within its latitude [stops] and through its show file.

    Constant arrays that the shader would index at run time are moved to tables: many GPUs copy
    such an array for every pixel. Textures of floats have no filter on many, so tables that are to be
    read between their steps are read twice.

    Raises
    ------
    DataError
        The show file cannot be used.

    Source
    ------
    As `viewing.seen_8bit`; the text is OpenColorIO's own.
    """
    limits = shader_lines(over, under)
    described = PyOpenColorIO.GpuShaderDesc.CreateShaderDesc(
        language=PyOpenColorIO.GPU_LANGUAGE_GLSL_ES_3_0, functionName=_PLAIN if limits else FUNCTION,
        resourcePrefix=_PREFIX)
    processor = processor_of(view_transform()) if show is None else processor_through(show)
    processor.getDefaultGPUProcessor().extractGpuShaderInfo(described)
    text, tables, cubes = described.getShaderText(), [], []
    for texture in described.getTextures():
        values = np.asarray(texture.getValues(), np.float32).reshape(texture.height, texture.width, -1)
        tables.append(Table(texture.samplerName, values))
        if texture.interpolation != PyOpenColorIO.INTERP_NEAREST:
            text = _between(text, texture.samplerName, *values.shape[:2])
    for texture in described.get3DTextures():
        values = np.asarray(texture.getValues(), np.float32).reshape(*[texture.edgeLen] * 3, 3)
        cubes.append(Cube(texture.samplerName, values))
        if texture.interpolation != PyOpenColorIO.INTERP_NEAREST:
            text = _between_eight(text, texture.samplerName, texture.edgeLen)
    for match in _CONSTANT_ARRAY.finditer(text):
        name = match[1]
        values = np.array([float(each) for each in match[2].split(",")], np.float32)
        tables.append(Table(f"{name}_table", values[None, :, None]))
        text = text.replace(match[0], f"uniform sampler2D {name}_table;")
        text = re.sub(rf"\b{name}\[([^\]]*)\]", rf"texelFetch({name}_table, ivec2(\1, 0), 0).r",
                      text)
    if limits:
        inside = "\n  ".join(limits)
        text += (f"\nvec4 {FUNCTION}(vec4 pixel) {{\n  vec3 light = pixel.rgb;\n  {inside}\n"
                 f"  return {_PLAIN}(vec4(light, pixel.a));\n}}\n")
    return ViewShader(text, tuple(tables), tuple(cubes))


def _between(text: str, sampler: str, rows: int, width: int) -> str:
    """Return shader text in which a table is read straight from step to step along its rows."""
    declared = f"uniform sampler2D {sampler};"
    function = f"""{declared}
vec4 {sampler}_between(vec2 place) {{
  float step = clamp(place.x * {width}.0 - 0.5, 0.0, {width - 1}.0);
  int low = int(floor(step)), row = clamp(int(place.y * {rows}.0), 0, {rows - 1});
  return mix(texelFetch({sampler}, ivec2(low, row), 0),
             texelFetch({sampler}, ivec2(min(low + 1, {width - 1}), row), 0), step - float(low));
}}"""
    return text.replace(f"texture({sampler},", f"{sampler}_between(").replace(declared, function)


def _between_eight(text: str, sampler: str, edge: int) -> str:
    """Return shader text in which a cube is read straight between the eight steps around a place."""
    declared = f"uniform sampler3D {sampler};"
    function = f"""{declared}
vec4 {sampler}_between(vec3 place) {{
  vec3 step = clamp(place * {edge}.0 - 0.5, 0.0, {edge - 1}.0);
  ivec3 low = ivec3(floor(step)), high = min(low + 1, {edge - 1});
  vec3 way = step - vec3(low);
  vec4 found[4];
  for (int i = 0; i < 4; i++) {{
    int y = (i & 1) == 0 ? low.y : high.y, z = i < 2 ? low.z : high.z;
    found[i] = mix(texelFetch({sampler}, ivec3(low.x, y, z), 0),
                   texelFetch({sampler}, ivec3(high.x, y, z), 0), way.x);
  }}
  return mix(mix(found[0], found[1], way.y), mix(found[2], found[3], way.y), way.z);
}}"""
    return text.replace(f"texture({sampler},", f"{sampler}_between(").replace(declared, function)
