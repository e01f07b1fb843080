"""Names that a request picks out of a scene: options, cameras, figures, lamps, things."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from typing import TYPE_CHECKING

from previz.errors import RequestError

if TYPE_CHECKING:
    from previz.scene.read import SceneFile


def select(names: Iterable[str], known: Iterable[str], what: str) -> list[str]:
    """Return the requested names, each once, or all where none is requested.

    `what` they are names of is for the message: 'camera'.

    Raises
    ------
    RequestError
        The scene has no such thing; says which it has, and which one is near.
    """
    names, known = list(names), list(known)
    for name in names:
        if name not in known:
            near = difflib.get_close_matches(name, known, n=1)
            hint = f" Did you mean '{near[0]}'?" if near else ""
            listed = ", ".join(f"'{each}'" for each in known) or "none"
            raise RequestError(f"The scene has no {what} '{name}'.{hint} It has: {listed}.")
    return list(dict.fromkeys(names)) or known


def select_one(name: str, known: Iterable[str], what: str) -> str:
    """Return the requested name, or where it is '' the first that there is; see `select`."""
    return select((name,) if name else (), known, what)[0]


def select_options(file: SceneFile, options: Iterable[str]) -> list[str]:
    """Return the options to work on; '' is the scene as written, which is all where it has none."""
    options = list(options) or list(file.option_names) or [""]
    return [option for option in dict.fromkeys(options)
            if not option or select((option,), file.option_names, "option")]


def label_of(option: str, what: str) -> str:
    """Return what a line is about: 'low sun, camera A', without the option where there is none."""
    return f"{option}, {what}" if option else what


def no_camera(where: str = "The scene") -> RequestError:
    """Return the error for a scene that no picture can be made of."""
    return RequestError(f"{where} has no camera; add one under 'cameras:'.")
