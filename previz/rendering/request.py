"""A request for pictures and meters: one record, made once and handed down by every study."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from previz.engine.render import Sampling
from previz.rendering.size import LEAST_SIDE, WORTH_A_LOOK


@dataclass(frozen=True)
class Quality:
    """How much work a picture gets.

    Parameters
    ----------
    samples, passes : int
        See `Sampling`.
    scale : float
        Share of the requested width and height that is rendered. [1]
    precision : float
        Relative standard error that meters are taken to. [1]
    """

    samples: int
    passes: int
    scale: float
    precision: float


QUALITIES = {
    "draft": Quality(8, 2, 0.5, 0.03),
    "working": Quality(32, 4, 1.0, 0.01),
    "fine": Quality(192, 8, 1.0, 0.005),
}

LOOK = "first look"
"""Quality of the picture that a page shows before the first draft."""

_EVERY = {**QUALITIES, LOOK: Quality(2, 2, 1 / 3, 0.1)}


@dataclass(frozen=True)
class Order:
    """One picture as it is ordered from the engine: a `Request` at the size of one camera.

    Parameters
    ----------
    width, height : int
        [px]
    sampling, bands, backend, cache, exact
        See `Request`.
    refined : bool
        The picture is refined in rounds; then it is whatever there is, not of `sampling`.
    """

    width: int
    height: int
    sampling: Sampling
    bands: int
    backend: str
    cache: Path
    exact: bool = False
    refined: bool = False


@dataclass(frozen=True)
class Request:
    """Which pictures and meters, how large and how precise, the same for every study.

    Parameters
    ----------
    cache : Path
        Folder of finished and half-finished frames.
    size : (int, int or None)
        Box that a picture is to fill; without a height it follows the camera's aspect. [px]
    quality : str
        A key of `QUALITIES`, or `LOOK`.
    samples : int or None
        Paths a pixel, in place of the quality's own.
    seed : int
        The same seed gives the same picture.
    bands : int
        Spans of wavelengths that light is separated into, 8 to 16.
    backend : str
        'auto', 'processor' or 'gpu'.
    exact : bool
        Never use a lamp's light again where other lamps stand otherwise.
    error : float or None
        Relative standard error of the meters, in place of the quality's own. [1]
    """

    cache: Path
    size: tuple[int, int | None] = (960, None)
    quality: str = "working"
    samples: int | None = None
    seed: int = 1
    bands: int = 12
    backend: str = "auto"
    exact: bool = False
    error: float | None = None

    @property
    def _quality(self) -> Quality:
        # Tests put other qualities in the place of these.
        return QUALITIES.get(self.quality) or _EVERY[self.quality]

    @property
    def precision(self) -> float:
        """Relative standard error that the meters are taken to. [1]"""
        return self._quality.precision if self.error is None else self.error

    def sampling(self, least_passes: int = 1) -> Sampling:
        """Return the work a picture gets, in at least so many passes where they divide it."""
        quality = self._quality
        samples = self.samples or quality.samples
        most = max(quality.passes, least_passes)
        passes = max(p for p in range(1, most + 1) if samples % p == 0)
        return Sampling(samples, passes, self.seed)

    def pixels(self, aspect: float) -> tuple[int, int]:
        """Return (width, height) that is rendered for a camera of this aspect. [px]"""
        scale = self._quality.scale
        width, height = (max(LEAST_SIDE, round(side * scale)) for side in size_for(self.size, aspect))
        return width, height

    def worth_a_look(self, aspect: float) -> bool:
        """Return whether a picture of this aspect takes so long that a first look pays before it."""
        width, height = self.pixels(aspect)
        return width * height * self.sampling().samples >= WORTH_A_LOOK

    def order(self, aspect: float) -> Order:
        """Return the engine's order for a picture of this aspect."""
        return Order(*self.pixels(aspect), self.sampling(), self.bands, self.backend, self.cache,
                     self.exact)

    def meter_order(self) -> Order:
        """Return the engine's order for meters alone, in which pictures play no part."""
        return Order(LEAST_SIDE, LEAST_SIDE, Sampling(1, 1, self.seed), self.bands, self.backend,
                     self.cache, self.exact)

    def at(self, width: int, height: int | None = None) -> Request:
        """Return the same request for pictures of another size. [px]"""
        return replace(self, size=(width, height))


def size_for(size: tuple[int, int | None], aspect: float) -> tuple[int, int]:
    """Return (width, height) of a camera's picture: the requested box, filled at its own aspect. [px]"""
    width, height = size
    if height is None or width / height < aspect:
        return width, max(1, round(width / aspect))
    return max(1, round(height * aspect)), height
