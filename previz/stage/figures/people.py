"""The six people that a scene can cast, and what their bodies are measured against."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from previz.stage.figures.brows import Brow

STATURE = {"male": (1.7562, 0.0686), "female": (1.6285, 0.0642)}
"""Mean and standard deviation of stature. [m]

Source: ANSUR II (US Army, 2012), public CSV, 4082 men and 1986 women. Soldiers, not the public.
"""


@dataclass(frozen=True)
class Person:
    """One of the six people.

    Parameters
    ----------
    sex : str
        'male' or 'female'.
    words : str
        A plain description for lists.
    hair : str
        The style worn unless the scene says otherwise.
    brow : Brow
    years : float
        Age that the shape was made for. [years]
    parting : float
        Where the hair parts: -1 right, 0 middle, 1 left.
    recede : float
        How far the hairline stands back at the temples, 0 to 1.
    fringe : float
        How far short hair falls over the forehead. [m]
    """

    sex: str
    words: str
    hair: str
    brow: Brow
    years: float
    parting: float = 0.0
    recede: float = 0.0
    fringe: float = 0.0


PEOPLE = {
    "person one": Person(
        "male", "a man of about 35, medium build", "short",
        Brow(0.0150, 0.0040, 0.0105, 360), 35.0, parting=0.7, recede=0.35,
    ),
    "person two": Person(
        "female", "a woman of about 30, medium build", "long",
        Brow(0.0172, 0.0050, 0.0072, 320), 30.0, parting=0.35,
    ),
    "person three": Person(
        "male", "a man of about 60, heavy build", "short",
        Brow(0.0165, 0.0030, 0.0100, 300), 60.0, parting=-0.7, recede=1.0,
    ),
    "person four": Person(
        "female", "a woman of about 70, slight build", "short",
        Brow(0.0168, 0.0048, 0.0062, 230), 70.0, parting=-0.5, fringe=0.016,
    ),
    "person five": Person(
        "male", "a man of about 22, slim and tall", "short",
        Brow(0.0152, 0.0038, 0.0098, 350), 22.0, parting=0.0, recede=0.1,
    ),
    "person six": Person(
        "female", "a woman of about 45, sturdy build", "bun",
        Brow(0.0170, 0.0044, 0.0070, 320), 45.0, parting=0.0,
    ),
}


_YEARS = (20.0, 22.0, 30.0, 35.0, 45.0, 60.0, 70.0, 75.0)
_GROWN = (0.0, 0.0, 0.05, 0.14, 0.30, 0.62, 0.86, 0.97)
"""Ages, and how far a head has come from a young adult's to a very old one's: those that the six persons
were made with. Common practice, no source. [years], [1]"""


def grown(years):
    """Return how far a head has come from a young adult's (0) to a very old one's (1) at an age in years."""
    return float(np.interp(years, _YEARS, _GROWN))


def older(person, years):
    """Return how much farther a head has come at an age in years than the person's own; 0 for None."""
    return 0.0 if years is None else grown(years) - grown(PEOPLE[person].years)


def stature_of(sex, percentile):
    """Return the stature at a percentile of one sex, by mean and standard deviation. [m]

    Parameters
    ----------
    sex : str
        'male' or 'female'.
    percentile : float
        Above 0 and below 100. [%]

    Raises
    ------
    ValueError
        The sex is not known or the percentile is out of range.

    Source
    ------
    ANSUR II, mean and standard deviation; the normal curve between them.
    """
    if sex not in STATURE:
        raise ValueError(f"sex must be one of {', '.join(STATURE)}, got {sex!r}")
    if not 0 < percentile < 100:
        raise ValueError(f"percentile must be above 0 and below 100, got {percentile:g}")
    mean, deviation = STATURE[sex]
    return NormalDist(mean, deviation).inv_cdf(percentile / 100)
