"""Key and fill at a face, under both definitions that are in print.

(a) key : fill, each metered alone; (b) (key + fill) : fill, the lit side of a face against its
shadow side where the fill reaches both. Either is called 'the ratio' by some, so both are given
and named.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.exposure.metering import Measured, Mixed, jackknife, measured

EACH_ALONE = "key : fill, each alone"
"""The ratio (a): key light alone against fill light alone."""

LIT_TO_SHADOW = "lighting ratio (key + fill) : fill"
"""The ratio (b): lit side against shadow side, where the fill reaches both."""

NO_LIGHT = "no light at either cheek"
"""Basis of a face in the dark."""


@dataclass(frozen=True)
class Ratios:
    """Key and fill at a face, under both definitions in print.

    Parameters
    ----------
    figure : str
    basis : str
        What was taken for key and for fill.
    key, fill : Measured
        Each alone. [lx]
    each_alone, lit_to_shadow : Measured
        K / F and (K + F) / F; inf without fill, nan without light. [1]
    """

    figure: str
    basis: str
    key: Measured
    fill: Measured
    each_alone: Measured
    lit_to_shadow: Measured

    def named(self) -> tuple[tuple[str, Measured], ...]:
        """Return both ratios with their names."""
        return (EACH_ALONE, self.each_alone), (LIT_TO_SHADOW, self.lit_to_shadow)


def stops_of(ratio: Measured) -> Measured:
    """Return a ratio in stops: log2 r.

    Parameters
    ----------
    ratio : Measured
        [1]
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        return Measured(float(np.log2(ratio.value)),
                        float(ratio.error / np.float64(ratio.value) / np.log(2)))


def _over(key, fill):
    with np.errstate(divide="ignore", invalid="ignore"):
        return float(np.float64(key) / np.float64(fill))


def _dark(figure: str) -> Ratios:
    """Return what a face that no light reaches has: no key, no fill and no ratio."""
    none, unknown = Measured(0.0, 0.0), Measured(np.nan, np.nan)
    return Ratios(figure, NO_LIGHT, none, none, unknown, unknown)


def ratios_by_sides(figure: str, left: Mixed, right: Mixed) -> Ratios:
    """Return the ratios of a face from the meters at its two cheeks.

    The fill is taken to reach both sides alike, so what the lit side has more is the key. This
    counts the room's return of the key's own light as the fill that it is.

    Parameters
    ----------
    figure : str
        Whose face it is.
    left, right : Mixed
        Flat meters at the cheeks.
    """
    one, other = left.light(), right.light()
    if not max(one.value, other.value) > 0:
        return _dark(figure)
    lit, shadow, side = ((one, other, ("left", "right")) if one.value >= other.value
                         else (other, one, ("right", "left")))
    key = Measured(lit.value - shadow.value, float(np.hypot(lit.error, shadow.error)))
    whole = _over(lit.value, shadow.value)
    relative = np.hypot(_over(lit.error, lit.value), _over(shadow.error, shadow.value))
    error = float(whole * relative)
    return Ratios(figure, f"by its sides: key = what the {side[0]} cheek has over the {side[1]}, "
                  f"fill = the {side[1]} cheek",
                  key, shadow, Measured(whole - 1, error), Measured(whole, error))


def ratios_by_lamps(figure: str, left: Mixed, right: Mixed, key_lamps=()) -> Ratios:
    """Return the ratios of a face from the lamps, at the cheek that has more of the key.

    Parameters
    ----------
    figure : str
        Whose face it is.
    left, right : Mixed
        Flat meters at the cheeks.
    key_lamps : collection of str
        Lamps that make the key; the strongest of the brighter cheek if none is named. Their light
        off the walls counts as key.

    Raises
    ------
    ValueError
        The meters know no such lamp.
    """
    names = tuple(key_lamps)
    if not max(left.light().value, right.light().value) > 0:
        return _dark(figure)
    at = max((left, right), key=lambda side: side.light(names or None).value)
    names = names or (at.by_lamp()[0].lamp,)
    others = tuple(name for name in at.lamps if name not in names)
    pair = np.stack([at.batch_light(names), at.batch_light(others)], axis=1)
    if pair[:, 1].mean() > 0:
        ratio = jackknife(lambda mean: _over(*mean), pair)
    else:
        ratio = Measured(np.inf, 0.0)
    called = " + ".join(f"'{name}'" for name in names)
    cheek = at.name.rpartition(": ")[2]
    return Ratios(figure, f"by its lamps at the {cheek}: key = {called}, fill = every other lamp",
                  measured(pair[:, 0]), measured(pair[:, 1]), ratio,
                  Measured(ratio.value + 1, ratio.error))
