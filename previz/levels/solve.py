"""Levels and colours that come nearest to what is wanted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from previz.exposure.metering import Measured
from previz.levels.moves import CameraMove, LampMove
from previz.levels.response import Response
from previz.levels.wants import Want

LEAST_SQUARES, LEAST_WORST = "least squares", "least worst"
"""What is made small: the sum of the squared misses, or the greatest of them."""


@dataclass(frozen=True)
class Setting:
    """One lamp as an answer has it.

    Parameters
    ----------
    lamp : str
    level : float
        0 for off. [1]
    colour : int
        Number of one of the lamp's colours; of the nearest to `mired` on a lamp with a range.
    mired : float or None
        On a lamp with a colour range.
    """

    lamp: str
    level: float
    colour: int = 0
    mired: float | None = None


@dataclass(frozen=True)
class Reading:
    """One want under an answer.

    Parameters
    ----------
    want : Want
    value : Measured
        In the want's own unit: stops from the reference, stops of a ratio, mired.
    miss : float
        How far it is over (+) or under (-) what is wanted; 0 where that is allowed. [as value]
    """

    want: Want
    value: Measured
    miss: float

    @property
    def met(self) -> bool:
        """True if it is off by no more than the want allows."""
        return abs(self.miss) <= self.want.within


@dataclass(frozen=True)
class Answer:
    """Levels, colours and exposure, and how the wants stand under them.

    Parameters
    ----------
    settings : tuple of Setting
        One for each lamp that may move or not, in the order given.
    shifts : dict of str to float
        By camera. [stops]
    readings : tuple of Reading
        One for each want, in the order given.
    """

    settings: tuple[Setting, ...]
    shifts: dict[str, float]
    readings: tuple[Reading, ...]


def as_set(response: Response, wants: Sequence[Want], lamps: Sequence[LampMove],
           cameras: Sequence[CameraMove] = ()) -> Answer:
    """Return how the wants stand with everything as it is set now."""
    raise NotImplementedError


def balance(response: Response, wants: Sequence[Want], lamps: Sequence[LampMove],
            cameras: Sequence[CameraMove] = (), rule: str = LEAST_SQUARES, *,
            few: bool = True) -> Answer:
    """Return the answer that comes nearest to the wants: of several the one with fewest watts, if `few`."""
    raise NotImplementedError
