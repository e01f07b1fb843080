"""One check: a quantity, where its value is from, what was expected and what came out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

MOST_ERRORS = 4.0
"""A rendered number may lie so many standard errors from the expected one."""


@dataclass(frozen=True)
class Check:
    """One row of the table.

    Parameters
    ----------
    expected, got : tuple of float
        One number, or the parts of one (x and y of a chromaticity). [unit]
    tolerance : float
        Largest distance of each part, or share of what is expected. [unit or 1]
    relative : bool
        The tolerance is a share.
    unit : str
        '' for a pure number.
    error : float or None
        Standard error of a rendered number; None for arithmetic. [unit]
    """

    group: str
    quantity: str
    source: str
    expected: tuple[float, ...]
    got: tuple[float, ...]
    tolerance: float
    relative: bool = False
    unit: str = ""
    error: float | None = None

    @property
    def room(self) -> tuple[float, ...]:
        """How far each part may lie from what is expected. [unit]"""
        room = [self.tolerance * (abs(each) if self.relative else 1) for each in self.expected]
        return tuple(max(each, MOST_ERRORS * (self.error or 0)) for each in room)

    @property
    def passed(self) -> bool:
        """Whether it came out as expected; noise that could hide a miss is a failure."""
        off = np.abs(np.subtract(self.got, self.expected))
        if self.error is not None:
            allowed = self.tolerance * (abs(self.expected[0]) if self.relative else 1)
            if not MOST_ERRORS * self.error <= 2 * allowed:
                return False
        # The last digit of a printed value is half a unit either way; 1e-9 is for rounding here.
        return bool(np.all(off <= np.array(self.room) * (1 + 1e-9)))

    @property
    def verdict(self) -> str:
        """'pass' or 'fail'."""
        return "pass" if self.passed else "fail"

    def as_dict(self) -> dict:
        """Return it as plain JSON values."""
        def plain(parts):
            numbers = [float(each) if np.isfinite(each) else None for each in parts]
            return numbers[0] if len(numbers) == 1 else numbers

        return {"group": self.group, "quantity": self.quantity, "source": self.source,
                "unit": self.unit, "expected": plain(self.expected), "got": plain(self.got),
                "standard_error": None if self.error is None else float(self.error),
                "tolerance": self.tolerance, "tolerance_is_relative": self.relative,
                "verdict": self.verdict}


class Group:
    """Makes checks of one group."""

    def __init__(self, name: str):
        self.name = name

    def near(self, quantity, source, expected, got, tolerance, unit="", *, relative=False,
             error=None) -> Check:
        """Return a check with a tolerance in the unit of the quantity."""
        def parts(value):
            return tuple(float(each) for each in np.ravel(value))

        return Check(self.name, quantity, source, parts(expected), parts(got), float(tolerance),
                     relative, unit, error)

    def share(self, quantity, source, expected, got, tolerance, unit="") -> Check:
        """Return a check with a tolerance that is a share of what is expected."""
        return self.near(quantity, source, expected, got, tolerance, unit, relative=True)

    def rendered(self, quantity, source, expected, got, error, tolerance=0.01,
                 unit="lx") -> Check:
        """Return a check of a number that the engine sampled."""
        return self.near(quantity, source, expected, got, tolerance, unit, relative=True,
                         error=float(error))
