"""How an exposure map is cut: its steps, where it says clipped and crushed, and a crew's own zones."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Zone:
    """Levels that a map paints: a name, and from (included) and to (excluded) from 18 % grey. [stops]"""

    name: str
    low: float
    high: float


@dataclass(frozen=True)
class MapSettings:
    """What an exposure map shows.

    Parameters
    ----------
    halves : bool
        Whether a colour stands for half a stop and not for a whole one.
    clip, crush : float or None
        From 18 % grey; None for what the camera holds. [stops]
    zones : tuple of Zone
        Dark to light, none over another; where there are any, only they are painted, over a grey picture.
    """

    halves: bool = False
    clip: float | None = None
    crush: float | None = None
    zones: tuple[Zone, ...] = ()


PLAIN = MapSettings()
"""Whole stops from crush to clip."""
