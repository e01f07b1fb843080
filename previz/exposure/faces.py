"""A face as a set has it: lit side, shadow side and their ratio, from one meter at each cheek.

Every command, sheet, file and page takes these numbers from here. Two ratios are in print and
either is called 'the ratio' by some, so both are given and named: the lit side against the shadow
side, as metered; and the key alone against the fill, where the key alone is what the lit side has
over the shadow side (the fill is taken to reach both sides alike).

Source: two versions of an encyclopaedia's article on the lighting ratio.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass

import numpy as np

from previz.exposure.metering import Measured, Mixed, jackknife
from previz.physics.colourtemp import cct_duv, mired, xy_from_xyz

LIT_TO_SHADOW = "lit : shadow"
"""The lit side against the shadow side, as metered."""

KEY_TO_FILL = "key alone : fill"
"""What the lit side has over the shadow side, against the shadow side."""

CHEEKS = ("left", "right")
"""Sides of a face, the figure's own."""


def over(high: float, low: float) -> float:
    """Return a ratio, inf over nothing and nan for nothing over nothing. [1]"""
    with np.errstate(divide="ignore", invalid="ignore"):
        return float(np.float64(high) / np.float64(low))


def stops_of(ratio: Measured) -> Measured:
    """Return a ratio [1] in stops: log2 r."""
    with np.errstate(divide="ignore", invalid="ignore"):
        per_stop = np.float64(ratio.value) * np.log(2)
        return Measured(float(np.log2(ratio.value)), float(ratio.error / per_stop),
                        float(ratio.bands / per_stop))


@dataclass(frozen=True)
class FaceLight:
    """Light on a face, metered flat at its two cheeks.

    Parameters
    ----------
    figure : str
        Name of the figure.
    lit_side : str
        'left' or 'right', the figure's own.
    lit, shadow : Measured
        Illuminance at the lit and at the shadow cheek. [lx]
    cct, duv : float or None
        Of the light on the lit cheek; None where it has no colour temperature. [K], [1]
    covariance : float
        Of the two readings' errors; 0 where they know nothing of each other. [lx²]
    """

    figure: str
    lit_side: str
    lit: Measured
    shadow: Measured
    cct: float | None = None
    duv: float | None = None
    covariance: float = 0.0

    @property
    def shadow_side(self) -> str:
        """The other of 'left' and 'right'."""
        return CHEEKS[1 - CHEEKS.index(self.lit_side)]

    def _of_both(self, value: float, by_lit: float, by_shadow: float) -> Measured:
        """Return a number of both sides with its error, by its slope against each of them.

        error² = (a e)² + (b f)² + 2 a b covariance, with the sides' errors e and f; the bands' part
        has no covariance.
        """
        square = ((by_lit * self.lit.error) ** 2 + (by_shadow * self.shadow.error) ** 2
                  + 2 * by_lit * by_shadow * self.covariance)
        bands = float(np.hypot(by_lit * self.lit.bands, by_shadow * self.shadow.bands))
        return Measured(value, max(float(np.sqrt(max(square, 0.0))), bands), bands)

    @property
    def lit_to_shadow(self) -> Measured:
        """Lit side against shadow side, as metered; inf without a shadow side's light. [1]"""
        ratio = over(self.lit.value, self.shadow.value)
        if not np.isfinite(ratio):
            return Measured(ratio, 0.0)
        return self._of_both(ratio, 1 / self.shadow.value, -ratio / self.shadow.value)

    @property
    def key_alone(self) -> Measured:
        """What the lit side has over the shadow side. [lx]"""
        return self._of_both(self.lit.value - self.shadow.value, 1.0, -1.0)

    @property
    def key_to_fill(self) -> Measured:
        """The key alone against the fill, which is the shadow side; inf without fill. [1]"""
        ratio = self.lit_to_shadow
        return ratio._replace(value=ratio.value - 1)

    @property
    def ratios(self) -> tuple[tuple[str, Measured], ...]:
        """Both ratios with their names."""
        return (LIT_TO_SHADOW, self.lit_to_shadow), (KEY_TO_FILL, self.key_to_fill)

    def mired_off(self, balance: float) -> float | None:
        """Return how much warmer (+) or cooler (-) the light is than a balance. [mired]"""
        return None if self.cct is None else float(mired(self.cct) - mired(balance))


def face_light(figure: str, left: Mixed, right: Mixed) -> FaceLight:
    """Return the light on a face from flat meters at the figure's own left and right cheek."""
    sides = dict(zip(CHEEKS, (left, right), strict=True))
    light = {side: mixed.light() for side, mixed in sides.items()}
    lit = "left" if light["left"].value >= light["right"].value else "right"
    shadow = "right" if lit == "left" else "left"
    both = left.covariance(right).sum()
    cct = duv = None
    xyz = sides[lit].xyz.mean(axis=0).sum(axis=(0, 1))
    if xyz[1] > 0:
        with suppress(ValueError):
            cct, duv = (float(each) for each in cct_duv(xy_from_xyz(xyz)))
    return FaceLight(figure, lit, light[lit], light[shadow], cct, duv, float(both))


def cheeks_of(figure: str) -> tuple[str, str]:
    """Return the names of the flat meters at a figure's left and right cheek."""
    left, right = CHEEKS
    return f"{figure}: {left} cheek", f"{figure}: {right} cheek"


def faces_in(mixed: Mapping[str, Mixed]) -> tuple[FaceLight, ...]:
    """Return every face that has meters, by their names, at both of its cheeks."""
    found = []
    for name in mixed:
        figure, colon, part = name.rpartition(": ")
        left, right = cheeks_of(figure)
        if colon and part == "left cheek" and right in mixed:
            found.append(face_light(figure, mixed[left], mixed[right]))
    return tuple(found)


@dataclass(frozen=True)
class KeyLamps:
    """The lamps that make a key, against all others, at the cheek that has more of the key.

    Parameters
    ----------
    figure : str
    cheek : str
        'left' or 'right'.
    lamps : tuple of str
        That make the key.
    key, others : Measured
        Their light, with what of it comes back off the walls, and that of all other lamps. [lx]
    key_to_others : Measured
        [1]
    """

    figure: str
    cheek: str
    lamps: tuple[str, ...]
    key: Measured
    others: Measured
    key_to_others: Measured

    @property
    def all_to_others(self) -> Measured:
        """All light against that of the other lamps. [1]"""
        return self.key_to_others._replace(value=self.key_to_others.value + 1)

    @property
    def ratios(self) -> tuple[tuple[str, Measured], ...]:
        """Both ratios with their names."""
        return (("key lamps : all others", self.key_to_others),
                ("(key lamps + others) : others", self.all_to_others))


def key_lamps(figure: str, left: Mixed, right: Mixed,
              lamps: Iterable[str] = ()) -> KeyLamps | None:
    """Return what the key's lamps and all others give at the cheek that has more of the key.

    Parameters
    ----------
    figure : str
    left, right : metering.Mixed
        Flat meters at the cheeks.
    lamps : collection of str
        Lamps that make the key; the strongest of the brighter cheek if none is named.

    Returns
    -------
    KeyLamps or None
        None where no light reaches the face.

    Raises
    ------
    ValueError
        The meters know no such lamp.
    """
    names, sides = tuple(lamps), (left, right)
    if not max(side.light().value for side in sides) > 0:
        return None
    at = max(sides, key=lambda side: side.light(names or None).value)
    names = names or (at.by_lamp()[0].lamp,)
    others = tuple(name for name in at.lamps if name not in names)
    pair = np.stack([at.batch_light(names), at.batch_light(others)], axis=1)
    key, rest = at.light(names), at.light(others)
    if rest.value > 0:
        noise = jackknife(lambda mean: over(*mean), pair)
        bands = noise.value * float(np.hypot(over(key.bands, key.value), rest.bands / rest.value))
        ratio = Measured(noise.value, float(np.hypot(noise.error, bands)), bands)
    else:
        ratio = Measured(over(*pair.mean(axis=0)), 0.0)
    return KeyLamps(figure, CHEEKS[sides.index(at)], names, key, rest, ratio)
