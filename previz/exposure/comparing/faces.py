"""Several faces under the same lamps: what flatters one may flatten the other.

As light adds up, a face without one of its lamps is its readings less that lamp's parts.
"""

from __future__ import annotations

from dataclasses import dataclass

from previz.exposure.comparing.measures import stops_from
from previz.exposure.faces import over

NOTED = 1 / 3
"""A lamp that changes a face's ratio by less is not remarked on. [stops]  Common practice, no
source."""


@dataclass(frozen=True)
class LampOnFace:
    """What one lamp does to one face.

    Parameters
    ----------
    lamp, figure : str
        Their names.
    lit, shadow : float
        What it gives to the lit and to the shadow cheek. [lx]
    ratio, without : float
        Lit against shadow side with it and without it, always the brighter over the darker. [1]
    turned : bool
        True where the other side would be the lit one without it.
    """

    lamp: str
    figure: str
    lit: float
    shadow: float
    ratio: float
    without: float
    turned: bool

    @property
    def effect(self) -> float:
        """How many stops of contrast it adds (+) or takes (-). [stops]"""
        return stops_from(self.ratio, self.without)


def lamps_on_face(figure: str, left, right) -> tuple[LampOnFace, ...]:
    """Return what each lamp does to a face.

    Parameters
    ----------
    figure : str
        Name of the figure.
    left, right : metering.Mixed
        Flat meters at its cheeks.
    """
    one, other = left.light().value, right.light().value
    lit, shadow = (left, right) if one >= other else (right, left)
    bright, dark = max(one, other), min(one, other)
    effects = []
    for lamp in lit.lamps:
        on_lit, on_shadow = lit.light((lamp,)).value, shadow.light((lamp,)).value
        rest = (bright - on_lit, dark - on_shadow)
        effects.append(LampOnFace(lamp, figure, on_lit, on_shadow, over(bright, dark),
                                  over(max(rest), min(rest)), rest[1] > rest[0]))
    return tuple(effects)


def conflicts(effects_by_figure) -> list[tuple[LampOnFace, LampOnFace]]:
    """Return the lamps that shape one face and flatten another.

    Parameters
    ----------
    effects_by_figure : dict of str to sequence of LampOnFace
        What the lamps do to each face.

    Returns
    -------
    list of (LampOnFace, LampOnFace)
        The face that gains contrast by the lamp, and the one that loses it, by `NOTED` or more.
    """
    found = []
    for figure, effects in effects_by_figure.items():
        for gain in effects:
            if not gain.effect >= NOTED:
                continue
            for other, theirs in effects_by_figure.items():
                for loss in theirs:
                    if other != figure and loss.lamp == gain.lamp and loss.effect <= -NOTED:
                        found.append((gain, loss))
    return found
