"""What pictures need of the machine, before anything is rendered: memory, disk, paths.

Numbers are fitted to peaks that were measured; see `Measured` in DEVELOPERS.md for how far off they are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from previz.engine.render import BAND_FLOATS, LARGE_FLOATS

MB = 1e6

BASE = 160 * MB
"""Memory of the program with a small set. [byte]"""

BASE_ADDRESSES = 870 * MB
"""What addresses take over that memory: libraries, the compiler, stacks of threads. [byte]"""

EACH_FACE = 1000.0
"""Memory of a triangle of the set, with its tree. [byte]"""

EACH_SUM = 10.0
"""Memory of a sum while a pass is added: the sum, the mean, and the new mean of one strip. [byte]"""

LEFT_OF_A_SUM = 12.0
"""What stays of sums when the passes are done, where they are so few that it is not given back. [byte]"""

EACH_DENOISED, MOST_OF_DENOISER, EACH_DEVELOPED = 580.0, 2600 * MB, 100.0
"""Memory of a pixel in the denoiser, and the most, as it takes a large picture in parts; of a pixel that is
mixed, packed and shown. [byte]"""

EACH_WRITTEN, EACH_LAMP_WRITTEN = 105.0, 7.0
"""Memory of a pixel while its files are made, and of each lamp at it. [byte]"""

GPU, EACH_ON_GPU = 2200 * MB, 90.0
"""Memory of the GPU: of the engine with a full strip of sums, and of each pixel. [byte]"""

EACH_HELD = 40.0
"""Memory of a pixel of a picture that waits for its sheet. [byte]"""

EACH_STILL = 3.0
"""The same where only its still is kept. [byte]"""

PLANES = 32.0
"""What albedo, normal, depth and names take on the disk, a pixel. [byte]"""

DELIVERED, EACH_LAMP_DELIVERED = 12.0, 2.5
"""What delivered files take on the disk, a pixel, and each lamp at it. [byte]"""


@dataclass(frozen=True)
class Picture:
    """One picture that is to be had.

    Parameters
    ----------
    width, height : int
        [px]
    lamps, bands, samples, faces : int
        Of the render; faces are triangles of the set.
    missing : float
        Share of its work that is not in the cache. [1]
    """

    width: int
    height: int
    lamps: int
    bands: int
    samples: int
    faces: int = 0
    missing: float = 1.0

    @property
    def pixels(self) -> int:
        """How many it has."""
        return self.width * self.height

    @property
    def slices(self) -> float:
        """What its slices take in a file or mapped. [byte]"""
        return 4.0 * self.pixels * self.lamps * self.bands

    def scaled(self, scale: float) -> Picture:
        """Return the same picture of another width and height."""
        width, height = (max(16, round(side * scale)) for side in (self.width, self.height))
        return replace(self, width=width, height=height)


@dataclass(frozen=True)
class Needs:
    """What some pictures need together.

    Parameters
    ----------
    memory : float
        Most of its own at one time. [byte]
    addresses : float
        The same with what is mapped from files, as `ulimit -v` counts. [byte]
    disk : float
        What frames and files take in the end. [byte]
    file : float
        Its largest file. [byte]
    gpu : float
        Most of the GPU's, where it renders. [byte]
    paths : float
        Paths that are not in the cache.
    """

    memory: float
    addresses: float
    disk: float
    file: float
    gpu: float
    paths: float


def needs_of(pictures: Sequence[Picture], *, held: float = EACH_HELD) -> Needs:
    """Return what some pictures need, one after the other.

    Parameters
    ----------
    held : float
        What a pixel of a finished picture takes until the end. [byte]
    """
    waiting = sum(held * each.pixels for each in pictures)
    most = max((_at_work(each) - held * each.pixels for each in pictures), default=0.0)
    memory = BASE + waiting + max(most, 0.0)
    mapped = sum(each.slices for each in pictures)
    together = max((_put_together(each) + 2 * each.slices for each in pictures), default=0.0)
    shown = memory + max((each.slices for each in pictures), default=0.0)
    return Needs(
        memory, BASE_ADDRESSES + mapped + max(shown, BASE + waiting + together), sum(map(_on_disk, pictures)),
        max((max(4.0 * each.pixels * each.bands, _files(each)) for each in pictures), default=0.0),
        max((GPU + EACH_ON_GPU * each.pixels for each in pictures if each.missing), default=0.0),
        sum(each.missing * each.pixels * each.samples for each in pictures))


def _at_work(picture: Picture) -> float:
    """Return the most memory that one picture takes while it is worked on, over the program's own. [byte]"""
    sums = _sums(picture)
    whole = sums == picture.pixels * picture.lamps * picture.bands
    lamp = 0.0 if whole else 4.0 * picture.pixels * picture.bands
    left = _left(sums)
    shown = min(EACH_DENOISED * picture.pixels, MOST_OF_DENOISER) + EACH_DEVELOPED * picture.pixels
    written = picture.pixels * (EACH_WRITTEN + EACH_LAMP_WRITTEN * picture.lamps)
    most = max(EACH_SUM * sums, left + lamp, _put_together(picture), left + shown + written)
    return EACH_FACE * picture.faces + most


def _sums(picture: Picture) -> int:
    """Return how many sums are on the host at once."""
    a_row = picture.width * picture.lamps * picture.bands
    return min(picture.height, max(1, BAND_FLOATS // max(a_row, 1))) * a_row if picture.missing else 0


def _left(sums: int) -> float:
    """Return the memory that stays of sums when the passes are done. [byte]"""
    return LEFT_OF_A_SUM * sums if sums < LARGE_FLOATS else 0.0


def _put_together(picture: Picture) -> float:
    """Return the memory that it takes to put a picture's lamps together. [byte]"""
    return _left(_sums(picture)) + 8.0 * picture.pixels * picture.lamps


def _on_disk(picture: Picture) -> float:
    """Return what one picture adds to the disk. [byte]"""
    kept = picture.slices + picture.pixels * (8.0 * picture.lamps + 2 * PLANES)
    return picture.missing * kept + _files(picture)


def _files(picture: Picture) -> float:
    return picture.pixels * (DELIVERED + EACH_LAMP_DELIVERED * picture.lamps)
