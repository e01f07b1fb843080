"""What is wanted of the light at meters, as numbers: a level, a ratio or a colour, met or missed by so much.

A miss is counted in stops. A colour's is counted in mired and weighed as `MIRED_A_STOP`, so that it can
be traded against levels.
"""

from __future__ import annotations

from dataclasses import dataclass

LEVEL, RATIO, COLOUR = "level", "ratio", "colour"
"""Kinds of wants: light against a reference, one meter against another, colour temperature."""

BRIGHTER, DARKER = "brighter", "darker"
"""Of two meters, the one with more light and the one with less: lit and shadow side of a face."""

MIRED_A_STOP = 60.0
"""A colour that is off by so much weighs as a level that is off by a stop. [mired]
Source: invented; a quarter CTO or CTB, about 40 mired, is taken for two thirds of a stop."""


@dataclass(frozen=True)
class Want:
    """One want, of meters that a `response.Response` has.

    Parameters
    ----------
    name : str
        What it is called; different for each.
    kind : str
        `LEVEL`, `RATIO` or `COLOUR`.
    meters : tuple of str
        One meter; two for a ratio (first against second), or for the brighter or darker of them.
    target : float
        Level: stops from `reference`. Ratio: stops. Colour: [mired]
    reference : float
        Level: what 0 stops is, at the camera as it is set. [lx or cd/m²]
    side : str
        '' for the meters as they stand; `BRIGHTER` or `DARKER` for one of a level's or a colour's two. A
        ratio with `BRIGHTER` is the brighter against the darker.
    at_most, at_least : bool
        Only more, or only less than the target is a miss; with neither, both are.
    camera : str
        Whose stop the level follows; '' for none (ratios and colours).
    within : float
        What counts as met. [stops; mired for a colour]
    weight : float
        Against the other wants. [1]
    """

    name: str
    kind: str
    meters: tuple[str, ...]
    target: float
    reference: float = 1.0
    side: str = ""
    at_most: bool = False
    at_least: bool = False
    camera: str = ""
    within: float = 0.1
    weight: float = 1.0

    def miss(self, value: float) -> float:
        """Return how far a reading is over (+) or under (-) what is wanted; 0 where that is allowed."""
        off = float(value) - self.target
        return 0.0 if self.at_most and off < 0 or self.at_least and off > 0 else off
