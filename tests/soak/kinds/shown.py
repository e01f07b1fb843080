"""Files that cameras look through: cubes, common LUTs, colour decisions; good ones are put on a picture."""

from __future__ import annotations

from random import Random

import numpy as np

from previz.exposure.display_shader import view_shader
from previz.exposure.viewing import seen_8bit
from previz.physics.exposure import CameraSettings
from previz.stage.show_files import shown_through

from ..damage import ODD_NUMBERS, broken_bytes, broken_text
from ..guard import ViolationError
from .files import FileKind, Given, Sample

CAMERA = (
    "cameras: [{name: A, at: [0 m, 0 m, 1 m], aim: [1 m, 1 m, 1 m], lens: 35 mm, stop: T2, iso: 800, "
    "show: %s}]\n"
)

PIECES = (
    *ODD_NUMBERS,
    "LUT_1D_SIZE 2",
    "LUT_3D_SIZE 2",
    "LUT_3D_SIZE",
    "DOMAIN_MIN 0 0 0",
    "DOMAIN_MAX 1 1 1",
    "TITLE",
    "#",
    "0 0 0",
    "<",
    ">",
    "/>",
    "<LUT1D>",
    "halfDomain='true'",
    "<Reference/>",
    "<!DOCTYPE a>",
    "&amp;",
    "32f",
    "16i",
    "dim",
    "id",
    "\x00",
    "\u2028",
)


def _cube() -> bytes:
    rows = [f"{r} {g} {b}" for b in (0, 0.5, 1) for g in (0, 0.5, 1) for r in (0, 0.5, 1)]
    return "\n".join(["LUT_3D_SIZE 3", *rows, ""]).encode()


def _curves() -> bytes:
    return b"DOMAIN_MAX 2 2 2\nLUT_1D_SIZE 4\n0 0 0\n0.2 0.3 0.4\n0.6 0.6 0.7\n1 1 1\n"


def _clf() -> bytes:
    """Source: S-2014-006."""
    return b"""<?xml version="1.0" encoding="UTF-8"?>
<ProcessList xmlns="urn:AMPAS:CLF:v3.0" id="own" compCLFversion="3">
  <InputDescriptor>ACEScct</InputDescriptor>
  <OutputDescriptor>sRGB</OutputDescriptor>
  <LUT1D inBitDepth="32f" outBitDepth="32f"><Array dim="3 1">0 0.4 1</Array></LUT1D>
  <LUT3D inBitDepth="32f" outBitDepth="32f"><Array dim="2 2 2 3">
0 0 0  0 0 1  0 1 0  0 1 1  1 0 0  1 0 1  1 1 0  1 1 1</Array></LUT3D>
  <Matrix inBitDepth="32f" outBitDepth="32f"><Array dim="3 3">1 0 0  0 1 0  0 0.1 0.9</Array></Matrix>
</ProcessList>
"""


def _decision() -> bytes:
    """Source: ASC CDL v1.2."""
    return b"""<ColorDecisionList xmlns="urn:ASC:CDL:v1.01"><ColorDecision><ColorCorrection id="own">
<SOPNode><Slope>1.1 1 0.9</Slope><Offset>-0.02 0 0.02</Offset><Power>1.2 1 0.9</Power></SOPNode>
<SatNode><Saturation>0.8</Saturation></SatNode></ColorCorrection></ColorDecision></ColorDecisionList>
"""


class Shown(FileKind):
    """The files of `show`."""

    name = "shown"

    def samples(self) -> list[Sample]:
        """Return one of each form."""
        fed = "{file: %s, takes: acescct, gives: srgb}"
        files = [
            ("a.cube", _cube(), fed % "a.cube"),
            ("b.cube", _curves(), fed % "b.cube"),
            ("c.clf", _clf(), "c.clf"),
            ("d.cdl", _decision(), "d.cdl"),
        ]
        return [Sample(name, data, CAMERA % show) for name, data, show in files]

    def damaged(self, sample: Sample, chance: Random) -> bytes:
        """Return it with words, numbers, lines or bytes changed."""
        data = sample.data
        if chance.random() < 0.85:
            data = broken_text(data.decode(), chance, PIECES).encode("utf-8", "surrogatepass")
        return broken_bytes(data, chance, 3) if chance.random() < 0.2 else data

    def attempt(self, given: Given) -> str:
        """What `check` calls good can be put on a picture and is a shader."""
        word = super().attempt(given)
        camera = self.files[given.sample].scene().cameras[0]
        show = shown_through(camera)
        picture = 0.18 * 2.0 ** np.linspace(-8, 8, 24).reshape(3, 2, 4)
        if seen_8bit(picture, CameraSettings(2, 800, 0.02, show=show)).shape != (2, 4, 3):
            raise ViolationError("it shows no picture")
        if not all(np.isfinite(each.values).all() for each in view_shader(show=show).cubes):
            raise ViolationError("a cube of the shader is not finite")
        return word
