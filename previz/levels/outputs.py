"""Lamps' outputs as numbers: the plan that readings are held against, and what is found of it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from previz.physics.meter import LUX_PER_FOOTCANDLE

STOP = float(np.log(2.0))
"""A stop in natural logarithms."""

SPREAD = 1.0
"""How far outputs lie off their plan before anything is read: one standard deviation. [stops]
Common practice, no source."""

WALLS_SPREAD = 0.35
"""The same of the walls' reflectance, in natural logarithms: white taken for cream, a third off. Invented."""

DEAD = 0.03
"""How often a lamp is dead, before anything is read. [1] Invented."""

WRONG = 0.03
"""How often a reading is wrong for a reason that nobody thinks of. [1] Invented."""

WRONG_OVER = 10 * STOP
"""Such a reading lies anywhere within five stops either way."""

SLIPS: tuple[tuple[str, float, float], ...] = (
    ("footcandles written down as lux", 1 / LUX_PER_FOOTCANDLE, 0.01),
    ("lux written down as footcandles", LUX_PER_FOOTCANDLE, 0.01),
    ("a stop read wrong, or an ISO of half as much set on the meter", 0.5, 0.004),
    ("a stop read wrong, or an ISO of twice as much set on the meter", 2.0, 0.004),
    ("two stops, or an ISO of a quarter set on the meter", 0.25, 0.002),
    ("two stops, or an ISO of four times as much set on the meter", 4.0, 0.002),
    ("a figure too few", 0.1, 0.002),
    ("a figure too many", 10.0, 0.002),
    ("lux written down as kilolux", 1e3, 0.002),
    ("kilolux written down as lux", 1e-3, 0.002),
)
"""How readings come to be wrong: what happened, what it makes of the reading, how often. [1] Invented, but
for the size of a foot-candle."""

COUNTS = 0.03
"""A lamp counts in a reading from such a share on. [1]"""


@dataclass(frozen=True, eq=False)
class Plan:
    """What lamps give where meters read, by the plan.

    Parameters
    ----------
    lamps : tuple of str
    light : float array, shape (walls, reading, lamp)
        With the lamps that were on at a reading, at the levels they had; 0 for the others. [lx or cd/m²]
    walls : float array, shape (walls,)
        What the walls' reflectance was taken times, rising, with 1 among it; (1,) where they stay. [1]
    """

    lamps: tuple[str, ...]
    light: np.ndarray
    walls: np.ndarray = field(default_factory=lambda: np.ones(1))

    def __post_init__(self) -> None:
        light, walls = np.asarray(self.light, float), np.asarray(self.walls, float)
        if light.ndim != 3 or light.shape[0] != len(walls) or light.shape[2] != len(self.lamps):
            raise ValueError(f"light must be (walls, reading, lamp), got shape {light.shape}")
        if not np.any(np.isclose(walls, 1.0)) or np.any(np.diff(walls) <= 0) or walls[0] <= 0:
            raise ValueError(f"walls must rise, be above 0 and hold 1, got {walls}")
        if not np.all(np.isfinite(light)) or np.any(light < 0):
            raise ValueError("light must be finite and 0 or more")
        object.__setattr__(self, "light", light)
        object.__setattr__(self, "walls", walls)

    @property
    def now(self) -> np.ndarray:
        """With the walls as the plan has them. Shape (reading, lamp)"""
        return self.light[int(np.argmin(np.abs(self.walls - 1.0)))]

    def curves(self) -> np.ndarray:
        """Return the logarithm of the light as a polynomial of that of the walls' factor.

        It goes through the walls that were tried. Shape (power, reading, lamp)
        """
        nodes = np.log(self.walls)
        dark = np.any(self.light <= 0, axis=0)
        values = np.log(np.where(dark, 1.0, self.light))
        powers = nodes[:, None] ** np.arange(len(nodes))
        return np.linalg.solve(powers, values.reshape(len(nodes), -1)).reshape(values.shape)


@dataclass(frozen=True)
class Doubt:
    """A reading that cannot be so.

    Parameters
    ----------
    reading : int
    value, error : float
        What it would have to be by all others, and the standard error of that. [lx or cd/m²]
    cause : str
        What may have happened; '' where nothing comes to mind.
    below : bool
        Whether the lamps that other readings tell give more than that by themselves.
    """

    reading: int
    value: float
    error: float
    cause: str
    below: bool


@dataclass(frozen=True)
class Guess:
    """Another answer that is not much less probable.

    Parameters
    ----------
    dead : tuple of int
        Lamps.
    wrong : tuple of int
        Readings.
    odds : float
        Of the best answer against it. [1]
    cause : str
        What may have happened to the reading that is wrong by this and not by the best; '' for nothing.
    """

    dead: tuple[int, ...]
    wrong: tuple[int, ...]
    odds: float
    cause: str = ""


@dataclass(frozen=True, eq=False)
class Calibration:
    """What readings say of lamps and walls.

    Parameters
    ----------
    lamps : tuple of str
    stops : float array, shape (lamp,)
        Output against plan; -inf for a dead one, 0 where nothing tells. [stops]
    errors : float array, shape (lamp,)
        Standard errors; 0 for a dead one. [stops]
    told : bool array, shape (lamp,)
        Whether the readings say it, or it is as good as taken from the plan.
    most : float array, shape (lamp,)
        Of a dead lamp, what it gives at most (two standard errors) over its plan; else inf. [1]
    covariance : float array, shape (lamp, lamp)
        [stops²]
    walls : (float, float)
        Factor on the walls' reflectance, and its standard error; (1, 0) where they stay. [1]
    walls_told : bool
        Whether the readings say so; False too where the factor ran to the end of what was tried.
    value, error : float array, shape (reading,)
        What each reading is by the answer, and the standard error of that. [lx or cd/m²]
    off : float array, shape (reading,)
        How far each reading lies off all others, in its own standard errors (studentised, left out). [1]
    doubts : tuple of Doubt
    guesses : tuple of Guess
        The most probable first.
    chance_dead : float array, shape (lamp,)
        How probable it is that a lamp is dead, over all answers that were weighed. [1]
    chance_wrong : float array, shape (reading,)
        The same of readings that cannot be so. [1]
    alike : tuple of (int, int, float)
        Lamps that the readings cannot tell apart, and how well they tell the two together. [.., stops]
    """

    lamps: tuple[str, ...]
    stops: np.ndarray
    errors: np.ndarray
    told: np.ndarray
    most: np.ndarray
    covariance: np.ndarray
    walls: tuple[float, float]
    walls_told: bool
    value: np.ndarray
    error: np.ndarray
    off: np.ndarray
    doubts: tuple[Doubt, ...]
    guesses: tuple[Guess, ...]
    chance_dead: np.ndarray
    chance_wrong: np.ndarray
    alike: tuple[tuple[int, int, float], ...]

    @property
    def factors(self) -> np.ndarray:
        """Output over plan. Shape (lamp,) [1]"""
        return np.exp2(self.stops)

    @property
    def dead(self) -> np.ndarray:
        """Which lamps are. Shape (lamp,)"""
        return np.isneginf(self.stops)
