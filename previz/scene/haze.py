"""Haze: air that shows the beams."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from previz.scene.fields import quantity
from previz.scene.records import Record


@dataclass(frozen=True, kw_only=True)
class Haze(Record):
    """Haze that fills the scene evenly; exactly one of the two is set.

    Parameters
    ----------
    density : float or None
        Extinction coefficient. [1/m]
    visibility : float or None
        Distance at which a black thing has 2 % contrast left. [m]
    """

    noun: ClassVar[str] = "haze"

    density: float | None = quantity(
        "density", "Share of a beam that is lost in a metre, for thin haze.", None, above=0.0,
        maximum=10.0,
    )  # fmt: skip
    visibility: float | None = quantity(
        "length", "How far one can see.", None, above=0.0, maximum=100_000.0, example="60 m"
    )
