"""What a garment is, once it is cut for a person; lines of the body that garments are cut by."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.stage.figures.mesh import smooth_step
from previz.stage.figures.wardrobe.cloth import Rest, weave
from previz.stage.figures.wardrobe.creases import Habit
from previz.stage.figures.wardrobe.cutting import CutPanel, Panel, cut_panel
from previz.stage.figures.wardrobe.hung import Skirt
from previz.stage.figures.wardrobe.pinned import Laid, Pins

GAP = 2.2e-3
"""Least distance of one layer from the next. [m]"""


@dataclass(frozen=True)
class Buttons:
    """A row of buttons, buckles' studs and the like.

    Parameters
    ----------
    pins : Pins
        Their middles.
    radius, height, lift : float
        Of each; lift over the garment. [m]
    stuff : str
    """

    pins: Pins
    radius: float = 5.5e-3
    height: float = 1.6e-3
    lift: float = 3e-3
    stuff: str = "buttons"


@dataclass(frozen=True)
class Made:
    """A garment cut for one person.

    Parameters
    ----------
    lift : float array, shape (fine,)
        Height over the let-out suit, without folds. [m]
    soft : float array, shape (fine,)
        Share of its folds. [1]
    habit : Habit or None
        How it creases; None for what lies as flat as what is under it.
    panels, laid, buttons, skirts : tuples
    over : float array, shape (fine,)
        What its collar and bands add for what is worn over it. [m]
    hides : float array, shape (fine,)
        Over 0 where nothing that is under it is seen.
    hang : float
        Share of the slack that falls to the lower side of a limb. [1]
    """

    lift: np.ndarray
    soft: np.ndarray
    habit: Habit | None
    panels: tuple[CutPanel, ...] = ()
    laid: tuple[Laid, ...] = ()
    buttons: tuple[Buttons, ...] = ()
    skirts: tuple[Skirt, ...] = ()
    over: np.ndarray | float = 0.0
    hides: np.ndarray | None = None
    hang: float = 0.6


class Lines:
    """Fields over one person's cloth that garments are cut by; over 0 inside. [m]"""

    def __init__(self, rest: Rest):
        self.rest, self.net = rest, weave()
        self.is_arm = self.net.arm > 0.3
        self.ones = np.ones(len(rest.points))

    def above(self, share):
        """Return the field of the trunk above a share of the body's height; arms are inside."""
        return np.where(self.is_arm, 0.2, self.rest.level(share))

    def below(self, share):
        """Return the field of trunk and legs below a share of the body's height; arms are outside."""
        return np.where(self.is_arm, -0.2, -self.rest.level(share))

    def sleeve(self, more=0.0):
        """Return the field of arms down to so far past the wrist; all else is inside. [m]"""
        return np.where(self.is_arm, self.rest.ends["arm"][1] + more - self.rest.along, 0.2)

    def leg(self, more=0.0):
        """Return the field of legs down to so far past the ankle; all else is inside. [m]"""
        end = self.rest.ends["leg"][1] + more - self.rest.along
        return np.where(self.net.leg > 0.5, np.minimum(end, 0.16 - self.rest.away), 0.2)

    def neck(self, ring, front=0.0, wide=0.05):
        """Return the field of all below a ring, lower by so many rings at the front."""
        rest = self.rest
        ahead = np.clip(rest.points[:, 0] / 0.08, 0, 1) * np.exp(-((rest.points[:, 1] / wide) ** 2))
        return 0.018 * (self.net.ring - ring - front * ahead)

    def closeness(self, ring):
        """Return 0 at the neck, rising to 1 within some rings below it. [1]"""
        return smooth_step(self.net.ring, ring - 0.5, ring + 4.0)

    def panel(self, *fields, **more) -> CutPanel:
        """Return a panel inside all of some fields, cut out."""
        return cut_panel(Panel(np.minimum.reduce(fields), **more), self.rest)


def least(*fields):
    """Return the least of some fields."""
    return np.minimum.reduce(fields)
