"""One unit of work: which part of which picture, under a name that says all that its result hangs on."""

from __future__ import annotations

import functools
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from previz.stage.fingerprint import digest_of

LIGHT, VIEW, METERS, PICTURE = "light", "view", "meters", "picture"
"""Kinds of units."""


@dataclass(frozen=True)
class Unit:
    """A unit of work.

    Parameters
    ----------
    kind : str
        'light': passes of some lamps in some rows of a picture. 'view': albedo, normal, depth, names, and
        what of the rig is in the picture. 'meters': of all options that `options` names, in their order.
        'picture': put together of the others.
    want : int
        Number of the request that it belongs to.
    option, camera : str
        Of the picture; the option is '' for the scene as written.
    size : (int, int)
        Width and height of the whole picture. [px]
    samples, passes : int
        Paths a pixel that the picture gets, and the passes that this is of the order's; see
        `render.Sampling`.
    options : tuple of str
        Of meters.
    lamps, places : tuple of str
        Of light: the lamps that are rendered together, and where in the cache the light of each goes. Of a
        picture: all its lamps, and where its light of them lies.
    start : float
        Paths a pixel that are there of the lamps, to be gone on with.
    number : int
        Number that the first of all its passes draws by.
    rows : (int, int)
        First row and number of rows.
    part : (int, int, int)
        First pass, the one after the last, and how many there are of the same rows.
    files : tuple of str
        Places in the cache of what a view or a picture makes, or meters do.
    work : float
        Paths that it takes. [1]
    after : tuple of str
        Names of units that come first.
    """

    kind: str
    want: int
    option: str = ""
    camera: str = ""
    size: tuple[int, int] = (0, 0)
    samples: int = 0
    passes: int = 0
    options: tuple[str, ...] = ()
    lamps: tuple[str, ...] = ()
    places: tuple[str, ...] = ()
    start: float = 0.0
    number: int = 0
    rows: tuple[int, int] = (0, 0)
    part: tuple[int, int, int] = (0, 0, 0)
    files: tuple[str, ...] = ()
    work: float = 0.0
    after: tuple[str, ...] = ()

    @functools.cached_property
    def name(self) -> str:
        """What its result hangs on, as a fingerprint: the same on every machine and in every plan."""
        own = (self.kind, list(self.size), self.samples, self.passes, list(self.lamps), list(self.places),
               self.start, self.number, list(self.rows), list(self.part), list(self.files))
        return digest_of(*own)[:32]

    @property
    def whole(self) -> bool:
        """Whether all passes of its rows are its own."""
        return self.part[:2] == (0, self.part[2])

    @property
    def band(self) -> tuple[int, int] | None:
        """Its rows; None where these are the whole picture."""
        return None if self.rows == (0, self.size[1]) else self.rows

    @property
    def label(self) -> str:
        """What it is, in words."""
        if self.kind == METERS:
            return "meters" + (f" of {', '.join(self.options)}" if any(self.options) else "")
        words = ", ".join(filter(None, (self.option, f"camera {self.camera}")))
        if self.kind != LIGHT:
            return f"{words}: " + ("what it sees" if self.kind == VIEW else "put together")
        words += ": " + (", ".join(self.lamps) if len(self.lamps) < 4 else f"{len(self.lamps)} lamps")
        if self.band is not None:
            words += f", rows {self.rows[0] + 1} to {sum(self.rows)}"
        if not self.whole:
            first, last = self.part[0] + 1, self.part[1]
            words += f", pass {first}" if first == last else f", passes {first} to {last}"
        return words

    def plain(self) -> dict[str, Any]:
        """Return it as plain values; see `unit_of`."""
        return {**asdict(self), "name": self.name}


def unit_of(plain: Mapping[str, Any]) -> Unit:
    """Return the unit of plain values.

    Raises
    ------
    KeyError, TypeError, ValueError
        They are not those of a unit, or not under its name.
    """
    values: dict[str, Any] = {
        key: tuple(value) if isinstance(value, list) else value for key, value in plain.items()}
    name = values.pop("name")
    found = Unit(**values)
    if found.name != name:
        raise ValueError(f"unit {json.dumps(name)} is not what it is called")
    return found
