"""Frames: the light of every lamp at every pixel and meter, kept apart, before any exposure.

A slice is the radiance at the pixel for one unit of one lamp (1 lm, or 1 lx of sun or sky) in one
band of wavelengths. Luminance follows by weighting:

    XYZ [cd/m²] = sum over lamps and bands of slices[lamp, band] · lamp_band_xyz(lamp)[band]
"""

from previz.frames.records import Frames, LampSlices, Probes
from previz.frames.store import read, read_probes, write, write_probes
from previz.frames.whole import FramesError, whole_file

__all__ = [
    "Frames",
    "FramesError",
    "LampSlices",
    "Probes",
    "read",
    "read_probes",
    "whole_file",
    "write",
    "write_probes",
]
