"""What each lamp gives at each meter, per unit of its light and band: all that levels need to know."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from previz.frames.batches import Batches
from previz.physics.light import LampLight, lamps_band_xyz

DIRECT, BOUNCED = 0, 1
"""Parts of a lamp's light at a meter: what comes straight, and what met a surface first."""


@dataclass(frozen=True, eq=False)
class Response:
    """Meters' answer to lamps.

    Parameters
    ----------
    meters : tuple of str
    lamps : tuple of str
    light : float array, shape (meter, batch, lamp, 2, band)
        Light at the meter per unit of the lamp's light in the band, [direct, bounced], in independent
        batches. [1/m², 1/(m² sr) of a spot meter; 1 and 1/sr for lamps in lux]
    """

    meters: tuple[str, ...]
    lamps: tuple[str, ...]
    light: np.ndarray

    def xyz(self, lights: Sequence[LampLight]) -> np.ndarray:
        """Return X, Y, Z of each lamp as it is set, batch by batch.

        Parameters
        ----------
        lights : sequence of LampLight
            One for each lamp, in any order.

        Returns
        -------
        float array, shape (meter, batch, lamp, 2, 3)
            [lx, or cd/m² of a spot meter]

        Raises
        ------
        ValueError
            Lamps and meters do not name the same lights.
        """
        by_name = {lamp.name: lamp for lamp in lights}
        if set(by_name) != set(self.lamps) or len(by_name) != len(lights):
            raise ValueError(f"the meters know the lamps {list(self.lamps)}, "
                             f"got {[each.name for each in lights]}")
        weights = lamps_band_xyz([by_name[name] for name in self.lamps], self.light.shape[-1])
        return np.einsum("mklpb,lbc->mklpc", self.light, weights)

    def mean(self) -> np.ndarray:
        """Return the mean over the batches. Shape (meter, lamp, 2, band) [as `light`]"""
        return self.light.mean(axis=1)


def response(*gathered: Batches) -> Response:
    """Return the answer of meters that were gathered, incident meters and spots together.

    Raises
    ------
    ValueError
        They know different lamps, or two meters have one name.
    """
    lamps = gathered[0].lights
    meters = tuple(name for each in gathered for name in each.names)
    if any(each.lights != lamps for each in gathered):
        raise ValueError(f"meters of one stage know the same lamps, got {[each.lights for each in gathered]}")
    if len(set(meters)) != len(meters):
        raise ValueError(f"meters must have different names, got {meters}")
    return Response(meters, lamps, np.concatenate([each.means for each in gathered]))
