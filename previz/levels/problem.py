"""Wants as arithmetic: what levels, colours and exposure make of them, and the straight limits that they set.

For given colours a meter's light is a sum of levels, so `it lies within so many stops of the target` is two
linear limits on the levels, and so is `it is no warmer than so many mired`. What is best is then a
linear program, whose answer is the best there is, and whose failure is proof.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from previz.levels.isotherms import isotherm, mired_of
from previz.levels.moves import CameraMove, LampMove
from previz.levels.response import Response
from previz.levels.wants import COLOUR, MIRED_A_STOP, RATIO, Want
from previz.physics.light import lamp_band_xyz

DARK = 1e-9
"""Of what is wanted: light under this counts as none. [1]"""


@dataclass(frozen=True)
class State:
    """Everything that may move.

    Parameters
    ----------
    levels : float array, shape (lamp,)
        [1]
    places : float array, shape (lamp,)
        Number of each lamp's colour; between two numbers on a lamp with a range.
    shifts : float array, shape (camera,)
        [stops]
    """

    levels: np.ndarray
    places: np.ndarray
    shifts: np.ndarray


@dataclass(frozen=True)
class Columns:
    """Levels to be found, each of one lamp in one colour.

    Parameters
    ----------
    lamps, colours : int array, shape (column,)
        Which lamp, and which of its colours.
    xyz : float array, shape (meter, column, 3)
        At a level of 1. [lx or cd/m²]
    """

    lamps: np.ndarray
    colours: np.ndarray
    xyz: np.ndarray


@dataclass(eq=False)
class Problem:
    """Wants, what may move, and what lamps give at the meters.

    Raises
    ------
    ValueError
        A want is of a meter or of a camera that is not there, or lamps do not match.
    """

    response: Response
    wants: Sequence[Want]
    lamps: Sequence[LampMove]
    cameras: Sequence[CameraMove] = ()
    sides: dict[tuple[int, ...], bool] = field(default_factory=dict)
    """Of two meters that a want takes the brighter or darker of, whether that is the first by number; found
    from what is set now where it is not given, as the lit side stays the lit side where it can."""
    gains: list[np.ndarray] = field(init=False)
    """Of each lamp, what each of its colours gives at a level of 1. Shape (meter, colour, 3) [lx or cd/m²]"""

    def __post_init__(self) -> None:
        if [each.lamp for each in self.lamps] != list(self.response.lamps):
            raise ValueError(f"what may move is of {[each.lamp for each in self.lamps]}, "
                             f"the meters know {list(self.response.lamps)}")
        known = {each.camera for each in self.cameras}
        for want in self.wants:
            missing = [name for name in want.meters if name not in self.response.meters]
            if missing or want.camera and want.camera not in known:
                raise ValueError(f"want '{want.name}' is of {missing or want.camera}, which is not there")
        self.gains = [self._gains(number) for number in range(len(self.lamps))]
        self.at = [[self.response.meters.index(name) for name in want.meters] for want in self.wants]
        self.of_camera = [[each.camera for each in self.cameras].index(want.camera) if want.camera else -1
                          for want in self.wants]
        xyz = self.light(self.now)
        for want, at in zip(self.wants, self.at, strict=True):
            if want.side:
                one, other = sorted(at)
                if (one, other) not in self.sides:
                    first = bool(xyz[one, 1] >= xyz[other, 1])
                    stays = self._can_be_brighter(*((one, other) if first else (other, one)))
                    self.sides[one, other] = first == stays

    def _gains(self, number: int) -> np.ndarray:
        light = self.response.light[:, :, number].sum(axis=2).mean(axis=1)
        weights = np.stack([lamp_band_xyz(each, light.shape[-1]) for each in self.lamps[number].colours])
        return np.einsum("mb,abc->mac", light, weights)

    def _can_be_brighter(self, one: int, other: int) -> bool:
        """Return whether what may move can bring a meter as much light as another."""
        most = 0.0
        for lamp, gains in zip(self.lamps, self.gains, strict=True):
            more = gains[one, :, 1] - gains[other, :, 1]
            least = 0.0 if lamp.may_be_off else lamp.low
            most += float(np.max(np.multiply.outer([least, lamp.high], more)))
        return most >= 0

    @property
    def now(self) -> State:
        """Everything as it is set."""
        return State(np.array([each.level for each in self.lamps], float),
                     np.array([each.colour for each in self.lamps], float), np.zeros(len(self.cameras)))

    # What a state makes of the wants

    def gain(self, lamp: int, place: float) -> np.ndarray:
        """Return what a lamp gives in a colour, or between two. Shape (meter, 3) [lx or cd/m²]"""
        gains = self.gains[lamp]
        low = min(int(place), gains.shape[1] - 1)
        high = min(low + 1, gains.shape[1] - 1)
        share = place - low
        return (1 - share) * gains[:, low] + share * gains[:, high]

    def gain_slope(self, lamp: int, place: float) -> np.ndarray:
        """Return how `gain` rises with the place. Shape (meter, 3) [lx or cd/m²]"""
        gains = self.gains[lamp]
        low = min(int(place), gains.shape[1] - 2)
        return gains[:, low + 1] - gains[:, low]

    def light(self, state: State) -> np.ndarray:
        """Return X, Y, Z at every meter. Shape (meter, 3) [lx or cd/m²]"""
        total = np.zeros((len(self.response.meters), 3))
        for number, level in enumerate(state.levels):
            if level:
                total += level * self.gain(number, float(state.places[number]))
        return total

    def ordered(self, want: int) -> list[int]:
        """Return the meters of a want, the one that counts, or the first of a ratio, first."""
        at = self.at[want]
        side = self.wants[want].side
        if not side:
            return at
        one, other = sorted(at)
        brighter = [one, other] if self.sides[one, other] else [other, one]
        return brighter if side == "brighter" else brighter[::-1]

    def values(self, xyz: np.ndarray, shifts: np.ndarray) -> np.ndarray:
        """Return each want's reading, of light (..., meter, 3). Shape (..., want) [stops or mired]"""
        found = []
        for number, want in enumerate(self.wants):
            meters = self.ordered(number)
            if want.kind == COLOUR:
                found.append(mired_of(xyz[..., meters[0], :]))
                continue
            over = want.reference
            light = np.maximum(xyz[..., meters[0], 1], 0.0)
            if want.kind == RATIO:
                over = np.maximum(xyz[..., meters[1], 1], 1e-12)
            shift = shifts[self.of_camera[number]] if want.camera else 0.0
            found.append(np.log2(np.maximum(light / over, DARK)) + shift)
        return np.stack(found, axis=-1) if found else np.zeros((*xyz.shape[:-2], 0))

    def slopes(self, xyz: np.ndarray, by: np.ndarray) -> np.ndarray:
        """Return how readings rise with something, shifts aside.

        Parameters
        ----------
        xyz : float array, shape (meter, 3)
            The light. [lx or cd/m²]
        by : float array, shape (meter, 3, n)
            How the light rises with each of n things.

        Returns
        -------
        float array, shape (want, n)
            [stops or mired, for one of the thing]
        """
        found = np.zeros((len(self.wants), by.shape[-1]))
        for number, want in enumerate(self.wants):
            meters = self.ordered(number)
            light = xyz[meters[0]]
            if not light[1] > 0:
                continue
            if want.kind == COLOUR:
                step = 1e-5 * light[1]
                near = mired_of(np.vstack([light, light + step * np.eye(3)]))
                found[number] = (near[1:] - near[0]) / step @ by[meters[0]]
                continue
            found[number] = by[meters[0], 1] / (light[1] * np.log(2))
            if want.kind == RATIO and xyz[meters[1], 1] > 0:
                found[number] -= by[meters[1], 1] / (xyz[meters[1], 1] * np.log(2))
        return found

    def misses(self, values: np.ndarray) -> np.ndarray:
        """Return how far readings are over or under what is wanted, 0 where allowed. Shape (want,)"""
        return np.array([want.miss(value) for want, value in zip(self.wants, values, strict=True)])

    @property
    def units(self) -> np.ndarray:
        """What counts as one stop of each want: 1, or `MIRED_A_STOP`. Shape (want,)"""
        return np.array([MIRED_A_STOP if want.kind == COLOUR else 1.0 for want in self.wants])

    @property
    def weights(self) -> np.ndarray:
        """Weight of each want. Shape (want,) [1]"""
        return np.array([want.weight for want in self.wants])

    def weighed(self, state: State) -> np.ndarray:
        """Return the misses of a state as they count. Shape (want,) [weighed stops]"""
        misses = self.misses(self.values(self.light(state), state.shifts))
        return self.weights * np.nan_to_num(misses / self.units, nan=20.0)

    def weighed_slopes(self, state: State, by: np.ndarray) -> np.ndarray:
        """Return how `weighed` rises with things that raise the light by so much; see `slopes`."""
        xyz = self.light(state)
        counts = self.misses(self.values(xyz, state.shifts)) != 0
        return (self.weights / self.units * counts)[:, None] * self.slopes(xyz, by)

    # Straight limits

    def columns(self, allowed: Sequence[Sequence[int]]) -> Columns:
        """Return the columns of some colours of each lamp."""
        lamps = np.array([lamp for lamp, some in enumerate(allowed) for _ in some], int)
        colours = np.array([colour for some in allowed for colour in some], int)
        xyz = np.stack([self.gains[lamp][:, colour]
                        for lamp, colour in zip(lamps, colours, strict=True)], axis=1)
        return Columns(lamps, colours, xyz)

    def columns_of(self, state: State) -> Columns:
        """Return a column for each lamp, in the colour that a state has it in."""
        xyz = [self.gain(number, float(place)) for number, place in enumerate(state.places)]
        return Columns(np.arange(len(xyz)), np.round(state.places).astype(int), np.stack(xyz, axis=1))

    def limits(self, columns: Columns, allowed: np.ndarray,
               without: int | None = None) -> tuple[np.ndarray, np.ndarray]:
        """Return A and b of the limits A z <= b that wants set when each may miss by so much.

        z is the level of every column and, for every camera, 2^-shift. Each row is scaled to about 1.

        Parameters
        ----------
        columns : Columns
        allowed : float array, shape (want,)
            [stops, a colour's weighed]
        without : int, optional
            A want to leave out.
        """
        rows: list[np.ndarray] = []
        bounds: list[float] = []
        count = len(columns.lamps)

        def add(row: np.ndarray, camera: int = -1, factor: float = 0.0) -> None:
            """Add row . levels <= factor (times the camera's 2^-shift, where there is one)."""
            whole = np.zeros(count + len(self.cameras))
            whole[:count] = row
            if camera >= 0:
                whole[count + camera] = -factor
            rows.append(whole)
            bounds.append(0.0 if camera >= 0 else factor)

        for number, want in enumerate(self.wants):
            if number == without:
                continue
            meters = self.ordered(number)
            first = columns.xyz[meters[0]]
            stops = allowed[number]
            if want.kind == COLOUR:
                if not want.at_least:
                    add(_scaled(first @ isotherm(want.target + stops * MIRED_A_STOP), first[:, 1]))
                if not want.at_most:
                    add(-_scaled(first @ isotherm(want.target - stops * MIRED_A_STOP), first[:, 1]))
                continue
            high, low = 2.0 ** (want.target + stops), 2.0 ** (want.target - stops)
            if want.kind == RATIO:
                second = columns.xyz[meters[1], :, 1]
                if not want.at_least:
                    add(_scaled(first[:, 1] - high * second, high * second))
                if not want.at_most:
                    add(_scaled(low * second - first[:, 1], low * second))
                continue
            light, camera = first[:, 1] / (want.reference * 2.0 ** want.target), self.of_camera[number]
            if not want.at_least:
                add(light, camera, 2.0**stops)
            if not want.at_most:
                add(-light, camera, -(2.0**-stops))
        for (one, other), first_is in self.sides.items():
            dark, bright = (other, one) if first_is else (one, other)
            both = columns.xyz[dark, :, 1] - columns.xyz[bright, :, 1]
            add(_scaled(both, columns.xyz[bright, :, 1]))
        return (np.array(rows).reshape(-1, count + len(self.cameras)), np.array(bounds))


def _scaled(row: np.ndarray, size: np.ndarray) -> np.ndarray:
    """Return a row of a limit at 0 in proportion to a size."""
    return row / max(float(np.abs(size).max(initial=0.0)), 1e-12)
