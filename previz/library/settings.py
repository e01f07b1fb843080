"""Words that every function of the library takes which renders or meters, and what is made of them."""

from __future__ import annotations

import difflib
import numbers
from collections.abc import Callable, Iterable, Mapping
from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypedDict

from previz.errors import RequestError

if TYPE_CHECKING:
    from previz.rendering.progress import Progress
    from previz.rendering.request import Request


class Settings(TypedDict, total=False):
    """Words that every function takes which renders or meters.

    Parameters
    ----------
    cache : path-like
        Folder of finished and half-finished frames and meters; `renders/<scene>/frames` as the
        commands have it, so that either goes on with what the other has rendered.
    size : int or (int, int)
        Width, or a box that a picture is to fill. [px]
    quality : str
        'draft', 'working' (usual) or 'fine'. A draft has half the size.
    samples, seed, bands, backend, exact
        As in `rendering.request.Request`.
    error : float
        Relative standard error of the meters, in place of the quality's own. [1]
    progress : function
        Called with (share done, what is being done, seconds left or None).
    message : function
        Called with a line to be kept: what was rendered or used again, and why.
    cancel : function
        Called between pieces of work; a true answer ends it with `KeyboardInterrupt`. What is done
        is kept, and the same request goes on from there.
    """

    cache: str | PathLike[str]
    size: int | tuple[int, int | None]
    quality: str
    samples: int | None
    seed: int
    bands: int
    backend: str
    exact: bool
    error: float | None
    progress: Callable[[float, str, float | None], None]
    message: Callable[[str], None]
    cancel: Callable[[], bool]


def request_of(scene: Path, settings: Mapping[str, object]) -> tuple[Request, Progress]:
    """Return settings as the request and the progress that the studies take.

    Raises
    ------
    RequestError
        There is no such setting or quality, or a size is none.
    """
    from previz.rendering.progress import Progress
    from previz.rendering.request import QUALITIES, Request

    given: dict[str, Any] = dict(settings)
    progress = Progress(*(given.pop(name, None) for name in ("progress", "message", "cancel")))
    check(given, Settings.__annotations__, "setting")
    check([given.get("quality", "working")], QUALITIES, "quality")
    given["size"] = _size(given.get("size", 960))
    cache = given.pop("cache", None) or cache_of(scene)
    return Request(cache=Path(cache), **given), progress


def _size(value: Any) -> tuple[int, int | None]:
    """Return a width, or a width and a height, as a request has them. [px]"""
    from previz.rendering.request import LEAST_SIDE

    sides = (value, None) if isinstance(value, numbers.Integral) else value
    try:
        width, height = sides
        fits = all(isinstance(each, numbers.Integral) and int(each) >= LEAST_SIDE
                   for each in (width, LEAST_SIDE if height is None else height))
    except (TypeError, ValueError):
        fits = False
    if not fits:
        raise RequestError(f"{value!r} is no size of a picture",
                           f"Give (960, 540), or 960 for the width; {LEAST_SIDE} px at least.")
    return int(width), None if height is None else int(height)


def check(names: Iterable[str], known: Iterable[str], what: str) -> None:
    """Refuse a name that there is not, with those that there are."""
    known = list(known)
    for name in names:
        if name not in known:
            near = difflib.get_close_matches(str(name), known, n=1)
            hint = f"Did you mean '{near[0]}'? " if near else ""
            raise RequestError(f"There is no {what} '{name}'",
                               f"{hint}There are: {', '.join(known)}.")


def cache_of(scene: Path) -> Path:
    """Return the folder of a scene's frames where the commands have it."""
    from previz.studies.scene_folder import scene_folder

    return scene_folder(None, scene) / "frames"
