"""A scene over a day: when the sun helps a face, and what lamp outside would stand in for it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import groupby

import numpy as np

from previz.exposure.comparing.measures import ShotMeasures, stops_from
from previz.physics.beam import cone_flux

HELPS = 1.0
"""The sun helps while it lifts the face by so much. [stops]  Common practice, no source."""

EDGE_LOSS = 1.4
"""A beam that is to be even over an opening gives out this much more light than a sharp cone of
its middle's intensity.  Common practice, no source. [1]"""

FIXTURE_EFFICACY = 45.0
"""Light that leaves a daylight fixture for each watt: metal halide 80 to 100 lm/W times the 30 to
70 % that gets out, from memory. [lm/W]"""


@dataclass(frozen=True)
class Outside:
    """A lamp that would stand in for the sun through one opening.

    Parameters
    ----------
    opening : str
        Name of the opening.
    distance : float
        From the lamp to the opening. [m]
    intensity : float
        In the middle of its beam. [cd]
    beam : float
        Full angle that just fills the opening. [deg]
    flux : float
        [lm]
    watts : float
        Of the order of. [W]
    """

    opening: str
    distance: float
    intensity: float
    beam: float
    flux: float
    watts: float


@dataclass(frozen=True, eq=False)
class Hour:
    """One time of the day.

    Parameters
    ----------
    label : str
        Time of day: '16:30'.
    hours : float
        Since midnight. [h]
    altitude, azimuth : float
        Of the sun. [deg]
    measures : comparing.ShotMeasures
        Its numbers.
    still : uint8 array, shape (row, column, 3)
        sRGB.
    sun, sky, lamps, moon : float
        Light of each on the lit cheek. [lx]
    outside : Outside or None
        The lamp for this hour's sun; None without a sun or an opening that it comes through.
    errors : dict of str to float
        Standard errors of `sun`, `sky`, `lamps`, `moon` and `help`. [as each]
    """

    label: str
    hours: float
    altitude: float
    azimuth: float
    measures: ShotMeasures
    still: np.ndarray
    sun: float
    sky: float
    lamps: float
    outside: Outside | None = None
    moon: float = 0.0
    errors: Mapping[str, float] = field(default_factory=dict)

    @property
    def total(self) -> float:
        """All the light on the lit cheek. [lx]"""
        return self.sun + self.sky + self.lamps + self.moon

    @property
    def help(self) -> float:
        """How much the sun lifts the face; inf where there is nothing else. [stops]"""
        if self.sun <= 0:
            return 0.0
        return stops_from(self.total, self.total - self.sun)


def outside_lamp(opening: str, illuminance: float, distance: float, width: float) -> Outside:
    """Return the lamp that lights an opening as the sun does.

    I = E d²; the glass takes the same from both.

    Parameters
    ----------
    opening : str
        Name of the opening.
    illuminance : float
        Of the sun, on a surface that faces it. [lx]
    distance : float
        From the lamp to the opening. [m]
    width : float
        Diagonal of the opening as the lamp sees it. [m]
    """
    intensity = illuminance * distance**2
    beam = float(2 * np.degrees(np.arctan(width / (2 * distance))))
    flux = EDGE_LOSS * float(cone_flux(intensity, beam))
    return Outside(opening, distance, intensity, beam, flux, flux / FIXTURE_EFFICACY)


def helping(hours: Sequence[Hour], least: float = HELPS) -> list[Hour]:
    """Return the hours in which the sun helps by so many stops."""
    return [hour for hour in hours if hour.help >= least]


def summary(hours: Sequence[Hour], least: float = HELPS) -> str:
    """Return in words when the sun helps by so many stops, and what would replace it when it does not.

    Hours are in the order of the day.
    """
    good = helping(hours, least)
    amount = "a stop" if least == 1 else f"{least:g} stops"
    best = max(good or hours, key=lambda hour: hour.sun)
    if not good:
        if best.sun <= 0:
            return "No sun reaches the face at any of these times."
        words = f"At none of these times does the sun lift the face by {amount}"
        words += f"; the most is {best.help:.1f} stops at {best.label}."
        return words + (f" {outside_text(best)}" if best.outside is not None else "")
    words = f"The sun lifts the face by {amount} or more {_spans(hours, good)}"
    later = [h for h in hours if h.hours > good[-1].hours]
    words += f"; at {later[0].label} it no longer does." if later else "."
    if best.outside is not None:
        words += " " + outside_text(best)
    return words


def _spans(hours: Sequence[Hour], good: Sequence[Hour]) -> str:
    """Return hours in words, those that follow each other as one span."""
    runs = [list(run) for helps, run in groupby(hours, lambda hour: hour in good) if helps]
    return " and ".join(f"at {run[0].label}" if len(run) == 1
                        else f"from {run[0].label} to {run[-1].label}" for run in runs)


def outside_text(hour: Hour) -> str:
    """Return the lamp for one hour's sun, its `outside`, in words."""
    lamp = hour.outside
    return (f"To stand in for the sun of {hour.label} through '{lamp.opening}' from "
            f"{lamp.distance:.0f} m: {_rounded(lamp.intensity / 1e3)} kcd in the middle, a beam of "
            f"{lamp.beam:.0f}°, about {_rounded(lamp.flux / 1e3)} klm, of the order of "
            f"{_rounded(lamp.watts / 1e3)} kW of daylight lamps; each stop less halves it.")


def _rounded(value: float) -> str:
    """Return two figures: more would promise too much."""
    if value <= 0:
        return "0"
    digits = 1 - int(np.floor(np.log10(value)))
    return f"{round(value, digits):,.{max(digits, 0)}f}".replace(",", "\N{NARROW NO-BREAK SPACE}")
