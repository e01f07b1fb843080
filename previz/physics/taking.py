"""What a lens and a sensor do to a picture beside making it: iris, halo, stray light, falloff, grain."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Iris:
    """The opening of a lens that is no circle.

    Parameters
    ----------
    blades : int
        Straight ones; as many corners has the opening, whose area is that of the round one.
    turn_deg : float
        How far a corner is turned from straight up, clockwise as the operator sees it. [deg]
    """

    blades: int
    turn_deg: float = 0.0


@dataclass(frozen=True)
class Optics:
    """What of a picture is the lens's and the sensor's own; readings know nothing of it.

    Parameters
    ----------
    tan_half : (float, float)
        Tangent of half the angle of view, across and up.
    frame : (float, float)
        Width and height of the delivered frame on the sensor. [m]
    seed : int
        Of the grain, which is the same for the same seed.
    bloom : float
        Share of the light that is scattered into a halo. [1]
    veiling_glare : float
        Share of the picture's mean light that lies evenly over it, taken from all of it. [1]
    vignette : float
        Loss in the corners. [stops]
    grain : float
        Standard deviation over areas of one grain. [stops]
    grain_size : float
        On the sensor. [m]
    """

    tan_half: tuple[float, float]
    frame: tuple[float, float]
    seed: int = 0
    bloom: float = 0.0
    veiling_glare: float = 0.0
    vignette: float = 0.0
    grain: float = 0.0
    grain_size: float = 1.2e-5
