"""Frames: the light of every lamp at every pixel and meter, kept separate, before any exposure.

Here live the records (`records`, `gathered`, `batches`) and their files, whole or not at all (`store`,
`lamp_files`, `arrays`, `whole`, `lock`). Nothing here knows a stage, an engine or a camera setting.
A change of a layout is a number and a step in `layouts`; a reader never trusts what its checksum denies.

A slice is the radiance at the pixel for one unit of one lamp (1 lm, or 1 lx of sun or sky) in one
band of wavelengths. Luminance follows by weighting:

    XYZ [cd/m²] = sum over lamps and bands of slices[lamp, band] · lamp_band_xyz(lamp)[band]
"""

from previz.frames.records import Frames, LampSlices
from previz.frames.store import read, write
from previz.frames.whole import FramesError, whole_file

__all__ = ["Frames", "FramesError", "LampSlices", "read", "whole_file", "write"]
