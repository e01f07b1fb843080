"""What may move of the lamps and cameras so that wants are met."""

from __future__ import annotations

from dataclasses import dataclass

from previz.physics.light import LampLight


@dataclass(frozen=True, eq=False)
class LampMove:
    """What may be done with one lamp.

    Parameters
    ----------
    lamp : str
    colours : tuple of LampLight
        Colours and gels that it may have, each at a level of 1 and switched on. One for a lamp whose
        colour stays.
    words : tuple of str
        What each of them is called, as a crew would: '4300 K', 'half CTO'.
    level : float
        As it is set now; 0 for off. [1]
    low, high : float
        Least and most level; both the level for a lamp that is not to be touched. [1]
    colour : int
        Number of the colour that it has now.
    mired : tuple of float
        Of each colour, rising, where one runs into the next as on a lamp with a colour range: whatever
        lies between two neighbours is then a colour too. Empty where each stands for itself, as gels do.
    may_be_off : bool
        Whether it may also be switched off, though `low` is more than 0.
    watts : float
        Drawn at a level of 1; fewer are preferred. [W]
    """

    lamp: str
    colours: tuple[LampLight, ...]
    words: tuple[str, ...]
    level: float
    low: float = 0.0
    high: float = 1.0
    colour: int = 0
    mired: tuple[float, ...] = ()
    may_be_off: bool = False
    watts: float = 0.0


@dataclass(frozen=True)
class CameraMove:
    """What may be done with one camera's exposure, in stops: + is more light on its picture.

    Parameters
    ----------
    camera : str
    shifts : tuple of float
        Shifts from its settings as they are, in any order; (0.0,) for a camera that stays. [stops]
    """

    camera: str
    shifts: tuple[float, ...] = (0.0,)
