"""Key and fill at a face, under both definitions that are in print.

(a) key : fill, each metered alone; (b) (key + fill) : fill, the lit side of a face against its
shadow side where the fill reaches both. Either is called 'the ratio' by some, so both are given
and named.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.exposure.metering import Measured, Mixed, jackknife

EACH_ALONE = "key : fill, each alone"
"""The ratio (a): key light alone against fill light alone."""

LIT_TO_SHADOW = "lighting ratio (key + fill) : fill"
"""The ratio (b): lit side against shadow side, where the fill reaches both."""


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
        K / F and (K + F) / F; inf without fill. [1]
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
        per_stop = np.float64(ratio.value) * np.log(2)
        return Measured(float(np.log2(ratio.value)), float(ratio.error / per_stop),
                        float(ratio.bands / per_stop))


def _over(key, fill):
    with np.errstate(divide="ignore", invalid="ignore"):
        return float(np.float64(key) / np.float64(fill))


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
    lit, shadow, side = ((one, other, ("left", "right")) if one.value >= other.value
                         else (other, one, ("right", "left")))
    key = Measured(lit.value - shadow.value, float(np.hypot(lit.error, shadow.error)),
                   float(np.hypot(lit.bands, shadow.bands)))
    whole = _over(lit.value, shadow.value)
    error, bands = (float(whole * np.hypot(_over(one, lit.value), _over(other, shadow.value)))
                    for one, other in ((lit.error, shadow.error), (lit.bands, shadow.bands)))
    return Ratios(figure, f"by its sides: key = what the {side[0]} cheek has over the {side[1]}, "
                  f"fill = the {side[1]} cheek",
                  key, shadow, Measured(whole - 1, error, bands), Measured(whole, error, bands))


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
    at = max((left, right), key=lambda side: side.light(names or None).value)
    names = names or (at.by_lamp()[0].lamp,)
    others = tuple(name for name in at.lamps if name not in names)
    pair = np.stack([at.batch_light(names), at.batch_light(others)], axis=1)
    key, fill = at.light(names), at.light(others)
    if fill.value > 0:
        ratio = jackknife(lambda mean: _over(*mean), pair)
        bands = abs(ratio.value) * float(np.hypot(_over(key.bands, key.value),
                                                  _over(fill.bands, fill.value)))
        ratio = Measured(ratio.value, float(np.hypot(ratio.error, bands)), bands)
    else:
        ratio = Measured(np.inf, 0.0)
    called = " + ".join(f"'{name}'" for name in names)
    cheek = at.name.rpartition(": ")[2]
    return Ratios(figure, f"by its lamps at the {cheek}: key = {called}, fill = every other lamp",
                  key, fill, ratio, ratio._replace(value=ratio.value + 1))
