"""Several faces under the same lamps: what flatters one may flatten the other.

As light adds up, a face without one of its lamps is its readings less that lamp's parts.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.exposure.comparing.measures import stops_from
from previz.exposure.faces import over
from previz.exposure.metering import Measured, Mixed, jackknife

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
    lit, shadow : Measured
        What it gives to the lit and to the shadow cheek. [lx]
    ratio : float
        Lit against shadow side with it. [1]
    without : Measured
        The same without it, always the brighter over the darker; inf over nothing. [1]
    turned : bool
        True where the other side would be the lit one without it.
    """

    lamp: str
    figure: str
    lit: Measured
    shadow: Measured
    ratio: float
    without: Measured
    turned: bool

    @property
    def effect(self) -> float:
        """How many stops of contrast it adds (+) or takes (-). [stops]"""
        return stops_from(self.ratio, self.without.value)


def lamps_on_face(figure: str, left: Mixed, right: Mixed) -> tuple[LampOnFace, ...]:
    """Return what each lamp does to a figure's face, by the flat meters at its cheeks."""
    lit, shadow = sorted((left, right), key=lambda side: -side.light().value)
    ratio, effects = over(lit.light().value, shadow.light().value), []
    for lamp in lit.lamps:
        rest = np.stack([side.batch_light() - side.batch_light((lamp,)) for side in (lit, shadow)], axis=1)
        on_lit, on_shadow = rest.mean(axis=0)
        effects.append(LampOnFace(lamp, figure, lit.light((lamp,)), shadow.light((lamp,)), ratio,
                                  _contrast(rest), bool(on_shadow > on_lit)))
    return tuple(effects)


def _contrast(sides: np.ndarray) -> Measured:
    """Return the brighter of two sides over the darker, from their batches. Shape (batch, 2)"""
    def of(mean: np.ndarray) -> float:
        return over(mean.max(), mean.min())

    means = sides.mean(axis=0)
    return jackknife(of, sides) if means.min() > 0 else Measured(of(means), 0.0)


def conflicts(effects_by_figure) -> list[tuple[LampOnFace, LampOnFace]]:
    """Return the lamps that shape one face and flatten another, of what the lamps do to each figure's.

    Each with the face that gains contrast by it, and the one that loses it, by `NOTED` or more.
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
