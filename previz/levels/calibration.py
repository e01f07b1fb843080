"""What lamps really give, found from what meters read: outputs, walls, and readings that cannot be so.

Light adds up: a reading is the sum of what the lamps that were on give there by the plan, each times an
unknown factor. The factors are taken as near 1, by a stop or so; a lamp may be dead, and a reading wrong.
Which lamps and which readings is decided by how probable each answer makes the readings.
"""

from __future__ import annotations

from collections.abc import Sequence
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

TOLD = 0.5
"""A factor is told by the readings where its error is under so much of what it was before. [1]"""

COUNTS = 0.03
"""A lamp counts in a reading from such a share on. [1]"""

ALIKE = 0.85
"""Two lamps cannot be told apart from such a correlation on. [1]"""

UNSURE = 0.15
"""And where the error of either is over so much. [stops]"""

ODDS = 20.0
"""Another answer is told where the best is not so many times as probable. [1]"""

LIKELY = 0.2
"""A cause is named where it is so many times as probable as none, a second one as the first. [1]"""

_STEPS, _BEAM, _DEPTH = 60, 4, 6


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


def calibrate(plan: Plan, read: np.ndarray, error: np.ndarray, floor: np.ndarray, *,
              spread: float | np.ndarray = SPREAD, may_be_dead: Sequence[bool] = ()) -> Calibration:
    """Return what readings say of outputs, and of the walls where the plan has several.

    Minimises sum ((asinh(E / c) - asinh(R / c)) / e)² + sum (x / s)², with R the sum of the lamps' light
    times exp(x), e the relative error of a reading and c = floor / e. For E over c, asinh(E / c) is ln E
    and a constant; towards 0 it is even, so that a reading of 0 is one like any other.

    Parameters
    ----------
    plan : Plan
    read : float array, shape (reading,)
        [lx or cd/m²]
    error : float array, shape (reading,)
        Relative standard error, of the meter and of the plan's light together. [1]
    floor : float array, shape (reading,)
        Error of a reading of nothing. [lx or cd/m²]
    spread : float, or float array of shape (lamp,)
        See `SPREAD`. [stops]
    may_be_dead : sequence of bool
        By lamp; all without. Sky and sun are not.

    Raises
    ------
    ValueError
        Shapes do not fit, or an error is not above 0.

    Source
    ------
    Error of a meter as a share and a floor, and its even scale: Rocke and Durbin 2001, Durbin et al. 2002
    (from memory). Answers weighed by Laplace's integral: Kass and Raftery 1995 (from memory).
    """
    problem = _Problem(plan, np.asarray(read, float), np.asarray(error, float), np.asarray(floor, float),
                       np.broadcast_to(np.asarray(spread, float), (len(plan.lamps),)) * STOP)
    mortal = np.ones(len(plan.lamps), bool) if not len(may_be_dead) else np.asarray(may_be_dead, bool)
    fits = _searched(problem, mortal & problem.counting())
    return _answer(problem, fits)


def most_telling(found: Calibration, light: np.ndarray, error: float) -> tuple[int, float]:
    """Return which of several readings not yet taken tells most, and how much.

    Parameters
    ----------
    light : float array, shape (candidate, lamp)
        What each lamp would give there by the plan, 0 for those that are off. [lx or cd/m²]
    error : float
        Relative standard error of a reading. [1]

    Returns
    -------
    int
        -1 without any.
    float
        By how much the lamps' squared errors fall in all. [stops²]
    """
    given = np.asarray(light, float) * found.factors
    whole = given.sum(axis=1, keepdims=True)
    slopes = np.divide(given, whole, out=np.zeros_like(given), where=whole > 0)
    carried = slopes @ found.covariance
    gain = np.sum(carried**2, axis=1) / ((error / STOP) ** 2 + np.sum(carried * slopes, axis=1))
    if not len(gain):
        return -1, 0.0
    best = int(np.argmax(gain))
    return best, float(gain[best])


@dataclass(frozen=True, eq=False)
class _Fit:
    """The answer to which lamps are dead and which readings wrong; `x` has the walls last, if they move."""

    dead: frozenset[int]
    wrong: frozenset[int]
    x: np.ndarray
    covariance: np.ndarray
    evidence: float


class _Problem:
    """Readings and plan as numbers; parameters are ln factors of lamps, then of the walls."""

    def __init__(self, plan: Plan, read: np.ndarray, error: np.ndarray, floor: np.ndarray,
                 spread: np.ndarray):
        count = plan.light.shape[1]
        if not read.shape == error.shape == floor.shape == (count,):
            raise ValueError(f"the plan has {count} readings, got {read.shape}, {error.shape}, {floor.shape}")
        if np.any(error <= 0) or np.any(floor <= 0) or np.any(spread <= 0):
            raise ValueError("errors, floors and spreads must be above 0")
        if np.any(read < 0) or not np.all(np.isfinite(read)):
            raise ValueError("readings must be finite and 0 or more")
        self.plan, self.read, self.error, self.scale = plan, read, error, floor / error
        self.shown = np.arcsinh(read / self.scale)
        self.moving = len(plan.walls) > 1
        self.spread = np.append(spread, WALLS_SPREAD) if self.moving else spread
        self.curves, self.lit = plan.curves(), np.all(plan.light > 0, axis=0)
        self.lamps, self.readings = len(plan.lamps), count
        self.ends = np.log(plan.walls[[0, -1]])

    def counting(self) -> np.ndarray:
        """Return which lamps have a share of any reading that counts. Shape (lamp,)"""
        light = self.plan.now
        whole = light.sum(axis=1, keepdims=True)
        return np.any(light > COUNTS * np.where(whole > 0, whole, np.inf), axis=0)

    def light(self, x: np.ndarray, alive: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return what is read by several answers, and its slopes.

        Parameters
        ----------
        x : float array, shape (answer, parameter)
        alive : float array, shape (answer, lamp)
            0 for a dead one.

        Returns
        -------
        float arrays, shapes (answer, reading) and (answer, reading, parameter)
            [lx or cd/m²]
        """
        # Beyond the walls that were tried a polynomial says nothing; it goes on a little way.
        low, high = self.ends[0] - 0.1, self.ends[1] + 0.1
        z = np.clip(x[:, -1], low, high) if self.moving else np.zeros(len(x))
        powers = z[:, None] ** np.arange(len(self.curves))
        given = np.where(self.lit, np.exp(np.tensordot(powers, self.curves, 1)), 0.0)
        given = given * (alive * np.exp(np.clip(x[:, : self.lamps], -30, 30)))[:, None]
        if not self.moving:
            return given.sum(axis=2), given
        steps = np.arange(1, len(self.curves))
        bend = np.tensordot(steps * z[:, None] ** (steps - 1), self.curves[1:], 1)
        return given.sum(axis=2), np.concatenate([given, np.sum(given * bend, axis=2)[..., None]], axis=2)

    def predicted(self, x: np.ndarray, dead: frozenset[int]) -> tuple[np.ndarray, np.ndarray]:
        """Return `light` of one answer. Shapes (reading,), (reading, parameter)"""
        alive = np.ones((1, self.lamps))
        alive[0, list(dead)] = 0.0
        light, slopes = self.light(x[None], alive)
        return light[0], slopes[0]

    def fits(self, tried: Sequence[tuple[frozenset[int], frozenset[int], np.ndarray]]) -> list[_Fit]:
        """Return the nearest factors for some dead lamps and wrong readings, each from a start.

        Gauss-Newton, damped; all of them at once.
        """
        alive, good = np.ones((len(tried), self.lamps)), np.ones((len(tried), self.readings))
        for i, (dead, wrong, _) in enumerate(tried):
            alive[i, list(dead)] = good[i, list(wrong)] = 0.0
        free = np.ones((len(tried), len(self.spread)))
        free[:, : self.lamps] = alive
        weight, prior = good / self.error**2, 1 / self.spread**2
        x = np.stack([start for *_, start in tried]) * free

        def cost(at: np.ndarray) -> np.ndarray:
            miss = self.shown - np.arcsinh(self.light(at, alive)[0] / self.scale)
            return np.sum(weight * miss**2, axis=1) + np.sum(prior * at**2, axis=1)

        def linear(at: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
            light, slopes = self.light(at, alive)
            slopes = slopes / np.sqrt(light**2 + self.scale**2)[..., None]
            weighed = slopes * weight[..., None]
            pull = np.einsum("aij,ai->aj", weighed, self.shown - np.arcsinh(light / self.scale)) - prior * at
            return pull, np.swapaxes(weighed, 1, 2) @ slopes + np.diag(prior)

        now = cost(x)
        for _ in range(_STEPS):
            pull, curvature = linear(x)
            step = np.linalg.solve(curvature, pull[..., None])[..., 0] * free
            step *= np.minimum(1.0, 2.0 / np.maximum(np.max(np.abs(step), axis=1), 1e-12))[:, None]
            share = np.ones(len(x))
            for _ in range(14):
                after = cost(x + share[:, None] * step)
                worse = after > now + 1e-12
                if not worse.any():
                    break
                share = np.where(worse, share / 2, share)
            share = np.where(worse, 0.0, share)
            x, before = x + share[:, None] * step, now
            now = np.where(worse, now, after)
            if np.all(before - now < 1e-9 * (1 + now)):
                break
        covariance = np.linalg.inv(linear(x)[1])
        return [_Fit(dead, wrong, x[i], covariance[i],
                     self._evidence(dead, wrong, x[i], covariance[i], float(now[i])))
                for i, (dead, wrong, _) in enumerate(tried)]

    def _evidence(self, dead: frozenset[int], wrong: frozenset[int], x: np.ndarray, covariance: np.ndarray,
                  cost: float) -> float:
        """Return the logarithm of how probable an answer makes the readings, less what is alike for all."""
        good = [i for i in range(self.readings) if i not in wrong]
        # A dead lamp's own factor is as it was before: its part cancels.
        found = -0.5 * cost - float(np.sum(np.log(self.error[good] * np.sqrt(2 * np.pi))))
        found += 0.5 * float(np.linalg.slogdet(covariance)[1]) - float(np.sum(np.log(self.spread)))
        found += len(dead) * float(np.log(DEAD)) + (self.lamps - len(dead)) * float(np.log(1 - DEAD))
        found += len(good) * float(np.log(1 - WRONG))
        if wrong:
            light, spread = self.expected(x, dead, covariance)
            for i in sorted(wrong):
                found += float(np.log(WRONG / WRONG_OVER + sum(
                    often * self._density(i, light[i] * factor, spread[i]) for _, factor, often in SLIPS)))
        return found

    def expected(self, x: np.ndarray, dead: frozenset[int],
                 covariance: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return what would be read, and the spread of a reading about it on the even scale."""
        light, slopes = self.predicted(x, dead)
        slopes = slopes / np.sqrt(light**2 + self.scale**2)[:, None]
        return light, np.sqrt(self.error**2 + np.einsum("ij,jk,ik->i", slopes, covariance, slopes))

    def _density(self, i: int, light: float, spread: float) -> float:
        miss = (self.shown[i] - np.arcsinh(light / self.scale[i])) / spread
        return float(np.exp(-0.5 * miss**2) / (spread * np.sqrt(2 * np.pi)))


def _searched(problem: _Problem, mortal: np.ndarray) -> list[_Fit]:
    """Return answers to which lamps are dead and which readings wrong, the most probable first.

    From the plainest on, the best few are each carried one lamp or one reading further, until none
    of them gets better by it.
    """
    none: frozenset[int] = frozenset()
    first, = problem.fits([(none, none, np.zeros(len(problem.spread)))])
    seen = {(none, none): first}
    beam, best = [first], first.evidence
    most_wrong = max(1, problem.readings // 3)
    for _ in range(_DEPTH):
        tried = {(dead, wrong): parent.x for parent in beam
                 for dead, wrong in _further(parent, mortal, problem.readings, most_wrong)
                 if (dead, wrong) not in seen}
        made = problem.fits([(*which, start) for which, start in tried.items()]) if tried else []
        seen.update(((each.dead, each.wrong), each) for each in made)
        beam = sorted(made, key=lambda each: -each.evidence)[:_BEAM]
        if not beam or beam[0].evidence < best:
            break
        best = beam[0].evidence
    return sorted(seen.values(), key=lambda each: -each.evidence)


def _further(parent: _Fit, mortal: np.ndarray, readings: int,
             most_wrong: int) -> list[tuple[frozenset[int], frozenset[int]]]:
    # A lamp that is dead is drawn down in any fit that takes it for alive.
    low = [j for j in np.flatnonzero(mortal) if j not in parent.dead and parent.x[j] < -0.5 * STOP]
    made = [(parent.dead | {int(j)}, parent.wrong) for j in low]
    if len(parent.wrong) < most_wrong:
        made += [(parent.dead, parent.wrong | {i}) for i in range(readings) if i not in parent.wrong]
    return made


def _answer(problem: _Problem, fits: list[_Fit]) -> Calibration:
    best, lamps = fits[0], problem.lamps
    dead = np.array([j in best.dead for j in range(lamps)])
    covariance = best.covariance[:lamps, :lamps] / STOP**2
    covariance = np.where(dead[:, None] | dead, 0.0, covariance)
    errors = np.sqrt(np.diag(covariance))
    told = dead | (errors < TOLD * problem.spread[:lamps] / STOP)
    light, spread = problem.expected(best.x, best.dead, best.covariance)
    own = np.sqrt(np.maximum(spread**2 - problem.error**2, 0.0))
    walls, walls_told = (1.0, 0.0), False
    if problem.moving:
        z, size = float(best.x[-1]), float(np.sqrt(best.covariance[-1, -1]))
        walls = (float(np.exp(z)), float(np.exp(z) * size))
        walls_told = size < TOLD * WALLS_SPREAD and bool(problem.ends[0] < z < problem.ends[1])
    return Calibration(
        problem.plan.lamps, np.where(dead, -np.inf, best.x[:lamps] / STOP), errors, told,
        _most(problem, best), covariance, walls, walls_told, light,
        own * np.sqrt(light**2 + problem.scale**2), _left_out(problem, best),
        tuple(_doubt(problem, best, i, errors) for i in sorted(best.wrong)), _guesses(problem, fits),
        *_chances(problem, fits),
        _alike(covariance, problem.spread[:lamps] / STOP))


def _most(problem: _Problem, best: _Fit) -> np.ndarray:
    """Return what dead lamps give at most over their plan. Shape (lamp,) [1]"""
    most = np.full(problem.lamps, np.inf)
    light, spread = problem.expected(best.x, best.dead, best.covariance)
    good = [i for i in range(problem.readings) if i not in best.wrong]
    for j in best.dead:
        # One unit of it would change each reading by so many of its standard errors.
        by = problem.plan.now[:, j] / (spread * np.sqrt(light**2 + problem.scale**2))
        most[j] = 2 / max(float(np.linalg.norm(by[good])), 1e-12)
    return most


def _left_out(problem: _Problem, best: _Fit) -> np.ndarray:
    """Return how far each reading lies off what the others say, in standard errors. Shape (reading,)"""
    light, slopes = problem.predicted(best.x, best.dead)
    slopes = slopes / np.sqrt(light**2 + problem.scale**2)[:, None]
    miss = problem.shown - np.arcsinh(light / problem.scale)
    lever = np.einsum("ij,jk,ik->i", slopes, best.covariance, slopes) / problem.error**2
    out = np.isin(np.arange(problem.readings), list(best.wrong))
    # A reading that took part left out: r / (e sqrt(1 - h)); one that did not: r / (e sqrt(1 + h)).
    return miss / (problem.error * np.sqrt(np.where(out, 1 + lever, np.maximum(1 - lever, 1e-9))))


def _doubt(problem: _Problem, best: _Fit, i: int, errors: np.ndarray) -> Doubt:
    light, spread = problem.expected(best.x, best.dead, best.covariance)
    chances = sorted(((often * problem._density(i, light[i] * factor, spread[i]), cause)
                      for cause, factor, often in SLIPS), reverse=True)
    # A foot-candle is near enough to ten lux that a reading may leave it open.
    likely = [cause for chance, cause in chances[:2]
              if chance > LIKELY * max(WRONG / WRONG_OVER, chances[0][0])]
    _, slopes = problem.predicted(best.x, best.dead)
    sure = float(slopes[i, : problem.lamps][errors < UNSURE].sum())
    below = problem.read[i] < sure * (1 - 3 * problem.error[i]) - 3 * problem.error[i] * problem.scale[i]
    size = float(np.sqrt(max(spread[i] ** 2 - problem.error[i] ** 2, 0.0)))
    return Doubt(i, float(light[i]), size * float(np.hypot(light[i], problem.scale[i])),
                 ", or ".join(likely), bool(below))


def _guesses(problem: _Problem, fits: list[_Fit]) -> tuple[Guess, ...]:
    best, found = fits[0], list[Guess]()
    for each in fits[1:]:
        odds = float(np.exp(min(best.evidence - each.evidence, 700.0)))
        if odds < ODDS:
            causes = [_doubt(problem, each, i, np.full(problem.lamps, np.inf)).cause
                      for i in sorted(each.wrong - best.wrong)]
            found.append(Guess(tuple(sorted(each.dead)), tuple(sorted(each.wrong)), odds,
                               next(filter(None, causes), "")))
    return tuple(found[:2])


def _chances(problem: _Problem, fits: list[_Fit]) -> tuple[np.ndarray, np.ndarray]:
    """Return how probable it is that each lamp is dead, and each reading wrong. Shapes (lamp,), (reading,)"""
    weights = np.exp(np.array([max(each.evidence - fits[0].evidence, -700.0) for each in fits]))
    weights /= weights.sum()
    return (np.array([sum(w for w, each in zip(weights, fits, strict=True) if j in each.dead)
                      for j in range(problem.lamps)]),
            np.array([sum(w for w, each in zip(weights, fits, strict=True) if i in each.wrong)
                      for i in range(problem.readings)]))


def _alike(covariance: np.ndarray, spread: np.ndarray) -> tuple[tuple[int, int, float], ...]:
    """Return pairs of lamps that only their sum is known of."""
    errors, found = np.sqrt(np.diag(covariance)), []
    for i in range(len(errors)):
        for j in range(i + 1, len(errors)):
            both = errors[i] * errors[j]
            if both <= 0 or max(errors[i], errors[j]) < UNSURE:
                continue
            correlation = covariance[i, j] / both
            if correlation < -ALIKE:
                found.append((i, j, float(np.sqrt(max(covariance[i, i] + covariance[j, j]
                                                      + 2 * covariance[i, j], 0.0)))))
    return tuple(found)
