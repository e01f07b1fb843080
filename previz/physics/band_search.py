"""Where to cut the spectrum into bands: the derivation behind the table `band_edges`.

Within a band a material is replaced by its mean. What the eye notices of that is, for one light
S and one reflectance rho, the opponent signal of

    sum over the band of (rho(lambda) - mean of rho) · S(lambda) · cmf(lambda).

Taking reflectances as a smooth random curve (variance one, correlation
exp(-(distance / 40 nm)² / 2), so no sample of any material is fitted) the mean square of that sum
has a closed form, a cost for each possible band alone. Costs add, so the cheapest n bands follow
exactly by dynamic programming over the 81 samples. The mean is taken over the lights a set is
really lit with: black bodies, daylight, tubes, sodium and white LEDs.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from previz.physics.arrays import FloatArray
from previz.physics.spectra import WAVELENGTHS_NM, observer
from previz.physics.tables import read_table

CORRELATION_NM = 40.0
"""How far from each other two wavelengths of a pigment still agree. Results move little from 20 to 80. [nm]
"""

BLACK_BODIES_K = (2000.0, 2700.0, 3200.0)
STANDARD = ("D55", "D65")
TUBES = ("FL2", "FL11", "FL12", "HP1")
LEDS = ("LED-B1", "LED-B3", "LED-B5", "LED-RGB1", "LED-V1")

OPPONENT = np.array([[0.0, 116 / 3, 0.0], [500 / 3, -500 / 3, 0.0], [0.0, 200 / 3, -200 / 3]])
"""dL*, da*, db* of a small relative change of X, Y, Z at white.  Source: CIE 15, CIELAB."""


def search_lights() -> FloatArray:
    """Return the spectra that bands are chosen for.

    Returns
    -------
    float array, shape (14, 81)
        Relative spectral power. [any]
    """
    from previz.physics.blackbody import radiance

    black = [radiance(WAVELENGTHS_NM, kelvin) for kelvin in BLACK_BODIES_K]
    named = (
        ("illuminants_standard", STANDARD),
        ("illuminants_fluorescent", TUBES),
        ("illuminants_led", LEDS),
    )
    tabled = [read_table(table)[member] for table, members in named for member in members]
    return np.stack(black + tabled)


def band_costs(lights: FloatArray) -> FloatArray:
    """Return the cost of every possible band.

    Parameters
    ----------
    lights : float array, shape (lights, 81)
        Relative spectral power. [any]

    Returns
    -------
    float array, shape (82, 82)
        cost[i, j] of the band of samples i to j-1, mean over the lights; inf where j <= i.
        [CIELAB units squared]
    """
    cmf = observer()
    size = WAVELENGTHS_NM.size
    seen = lights[:, None, :] * cmf
    opponent = OPPONENT @ (seen / seen.sum(axis=2, keepdims=True))
    separation = (WAVELENGTHS_NM[:, None] - WAVELENGTHS_NM) / CORRELATION_NM
    correlation = np.exp(-0.5 * separation**2)
    weight = cmf.sum(axis=0)
    costs = np.full((size + 1, size + 1), np.inf)
    for first in range(size):
        for end in range(first + 1, size + 1):
            inside = slice(first, end)
            share = weight[inside] / weight[inside].sum()
            signal = opponent[..., inside]
            spread = signal - signal.sum(axis=-1, keepdims=True) * share
            costs[first, end] = np.sum((spread @ correlation[inside, inside]) * spread)
    return costs / len(lights)


def cheapest_edges(costs: ArrayLike, n: int) -> FloatArray:
    """Return the n bands of least total cost.

    Parameters
    ----------
    costs : float array, shape (82, 82)
        From `band_costs`.
    n : int
        Number of bands, 1 to 81.

    Returns
    -------
    float array, shape (n + 1,)
        Edges midway between samples; 380 and 780 at the ends. [nm]

    Raises
    ------
    ValueError
        n is not 1 to 81.
    """
    size = WAVELENGTHS_NM.size
    if not 1 <= n <= size:
        raise ValueError(f"1 to {size} bands can be cut, got {n}")
    best = np.full(size + 1, np.inf)
    best[0] = 0.0
    came_from = []
    for _ in range(n):
        total = best[:, None] + costs
        came_from.append(np.argmin(total, axis=0))
        best = np.min(total, axis=0)
    cuts = [size]
    for choice in reversed(came_from):
        cuts.append(int(choice[cuts[-1]]))
    edges = WAVELENGTHS_NM[0] - 2.5 + 5.0 * np.array(cuts[::-1], dtype=float)
    edges[0], edges[-1] = WAVELENGTHS_NM[0], WAVELENGTHS_NM[-1]
    return edges
