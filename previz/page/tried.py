"""Pictures that were only tried on the page, of other stops or of things moved: how much they may take.

Each takes tens of megabytes, as its depth of field or its set is another one. What the scene file shows, what
is set or in view now, and what kept looks need is never among them. Of the rest those go that were not used
for longest, with what was cleaned of them and the light that is theirs alone. Beside these the cache has a
limit of its own, `rendering.cache.limit`, of which they may take a tenth.
"""

from __future__ import annotations

import contextlib
import dataclasses
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

from previz.errors import DataError, RequestError
from previz.frames.layouts import is_newer, marked, set_aside
from previz.frames.lock import only_writer
from previz.frames.whole import FramesError, read_sealed, refuse_foreign, write_sealed
from previz.page.change_text import look_now
from previz.page.desk import Desk, Picture, moves_text
from previz.rendering.cache.limit import Kept, kept_in, limit_of, remove, size_of

TRIED_NAME = "tried.json"

SHARE = 10
"""Pictures that were only tried may take this part of the cache's limit: one in so many."""

Place = tuple[str, str, float, str]
"""Option, camera, T-stop, moves."""


def is_tried(desk: Desk, picture: Picture) -> bool:
    """Return whether a picture is none of the scene file's own: of another stop, or with things moved."""
    return bool(picture.moves) or picture.stop != desk.camera(picture.option, picture.camera).stop


def note_tried(desk: Desk, picture: Picture) -> None:
    """Write down that a picture was tried, and which of the cache's folders are for it."""
    job, camera = desk.job(picture)
    lamps = job.lamp_cache
    parts = [lamps.lamp_folder(lamp.name, camera) for lamp in job.stage.lamps] + [lamps.planes_folder(camera)]
    key = job.frame_folder(camera).name
    entry = {"picture": dataclasses.asdict(picture),
             "parts": [each.relative_to(lamps.folder).as_posix() for each in parts]}
    with only_writer(desk.folder):
        _write(desk, {**_read(desk), key: entry})


def make_room(desk: Desk, in_view: Place | None = None, most: int | None = None) -> list[Picture]:
    """Remove what was tried and not used for longest until the rest is within its limit.

    Parameters
    ----------
    in_view : tuple, optional
        What is looked at: option, camera, stop, moves.
    most : int, optional
        Bytes; a tenth of the cache's own limit by default.

    Returns
    -------
    list of Picture
        What was removed.
    """
    with only_writer(desk.folder):
        tried = _read(desk)
        if not tried:
            return []
        cache = desk.request.request.cache
        most = limit_of(cache) // SHARE if most is None else most
        things = kept_in(cache)
        groups = {key: _group(things, cache, key, entry["parts"]) for key, entry in tried.items()}
        # What is not there was removed by the cache's own limit, or with the whole cache.
        there = {key: entry for key, entry in tried.items() if groups[key]}
        if len(there) < len(tried):
            _write(desk, there)
        tried = there
        if size_of(each for group in groups.values() for each in group) <= most:
            return []
        needed = dict(_needed(desk, in_view))
        shared = {part for parts in needed.values() for part in parts}
        own = [key for key in tried if key not in needed]
        own.sort(key=lambda key: max(each.used for each in groups[key]))
        gone = []
        for key in own:
            rest = [each for one in tried if one not in needed for each in groups[one]]
            if size_of(rest) <= most:
                break
            held = shared | {part for one, entry in tried.items() if one != key for part in entry["parts"]}
            others = {file for each in things if each.kind == "picture" and each.path.name != key
                      for file in each.files}
            for thing in groups[key]:
                if thing.kind in ("picture", "cleaned") or not (
                        thing.path.relative_to(cache).as_posix() in held or others & set(thing.files)):
                    remove(thing)
            things = [each for each in things if each.path.name != key]
            gone.append(Picture(**tried.pop(key)["picture"]))
        _write(desk, tried)
        return gone


def _group(things: list[Kept], cache: Path, key: str, parts: Iterable[str]) -> list[Kept]:
    """Return what is there of one picture: itself, what was cleaned of it, lamps' light, what is seen."""
    folders = {cache / part for part in parts}
    own = [each for each in things if each.kind in ("picture", "cleaned") and each.path.name == key]
    return [*own, *(each for each in things if each.path in folders)] if own else []


def _needed(desk: Desk, in_view: Place | None) -> Iterator[tuple[str, list[str]]]:
    """Yield (key, folders of its parts) of every picture that has to stay."""
    for option, camera, stop, moves in dict.fromkeys(_places(desk, in_view)):
        # A look may be of a camera that an edit has taken out.
        with contextlib.suppress(DataError, RequestError):
            for quality in desk.qualities(option, camera, moves):
                job, staged = desk.job(Picture(option, camera, stop, quality, moves))
                lamps = job.lamp_cache
                parts = [lamps.lamp_folder(lamp.name, staged) for lamp in job.stage.lamps]
                parts.append(lamps.planes_folder(staged))
                yield (job.frame_folder(staged).name,
                       [each.relative_to(lamps.folder).as_posix() for each in parts])


def _places(desk: Desk, in_view: Place | None) -> Iterator[Place]:
    for option in desk.options:
        for camera in desk.cameras(option):
            yield option, camera.name, camera.stop, ""
    if in_view is not None:
        yield in_view
    for option, look in looks_of(desk):
        with contextlib.suppress(DataError, RequestError, TypeError, ValueError):
            moves = moves_text(look.get("moves", {}))
            for camera in desk.cameras(option, moves):
                stop = look.get("cameras", {}).get(camera.name, {}).get("stop", camera.stop)
                yield option, camera.name, float(stop), moves


def looks_of(desk: Desk) -> Iterator[tuple[str, Mapping[str, Any]]]:
    """Yield (option, look) of what is set now of each option, and of each look that is pinned or kept."""
    changes = desk.changes
    for option in desk.options:
        yield option, look_now(changes, option)
    for key, value in changes.items():
        if key.partition("|")[0] in ("pin", "look") and isinstance(value, dict) and "look" in value:
            yield str(value.get("option", "")), value["look"]


def _read(desk: Desk) -> dict[str, Any]:
    try:
        return dict(read_sealed(desk.folder / TRIED_NAME, "previz_tried")["pictures"])
    except FramesError as error:
        if is_newer(error):
            set_aside(desk.folder / TRIED_NAME)
    except (KeyError, TypeError, ValueError):
        pass
    return {}


def _write(desk: Desk, tried: Mapping[str, Any]) -> None:
    refuse_foreign(desk.folder / TRIED_NAME)
    write_sealed(desk.folder / TRIED_NAME, {**marked("previz_tried"), "pictures": tried})
