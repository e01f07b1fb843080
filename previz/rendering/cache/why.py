"""Say in words why a lamp's light cannot be used again."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from previz.rendering.cache.store import LampCache
from previz.stage.records import Camera

MOST_NAMED = 3


def why_not(cache: LampCache, lamp: str, camera: Camera) -> str:
    """Return what has changed since a lamp was last rendered, from what comes nearest to it."""
    now = cache.note_of(lamp, camera)
    reasons = [_differences(now, then) for then in cache.notes_of(lamp)
               if then["camera"] == camera.name]
    if not reasons:
        return f"camera {camera.name} has not rendered it yet"
    nearest: list[str] = min(reasons, key=len)
    return "; ".join(nearest) or "what was rendered of it cannot be read"


def _differences(now: dict[str, Any], then: dict[str, Any]) -> list[str]:
    """Return what differs between two notes, one text each."""
    found = []
    if then["seen"] != now["seen"]:
        found.append(f"camera {now['camera']} was moved, or its lens or stop changed")
    new, old = now["settings"], then["settings"]
    if new["size"] != old["size"]:
        found.append("it was {}x{}, not {}x{}".format(*old["size"], *new["size"]))
    for part, words in (("bands", "other bands"), ("seed", "another seed"),
                        ("version", "another version of the program"),
                        ("depths", "other limits on paths")):
        if new[part] != old[part]:
            found.append(f"it was rendered with {words}")
    if sorted(then["things"].values()) != sorted(now["things"].values()):
        found.append(_things(now["things"], then["things"]))
    if then["air"] != now["air"]:
        found.append("the haze or a pane has changed")
    if then["own"] != now["own"]:
        found.append("it was moved or turned, or its beam changed")
    if then["bodies"] != now["bodies"]:
        changed = [name for name in {**then["bodies"], **now["bodies"]}
                   if then["bodies"].get(name) != now["bodies"].get(name)]
        found.append(f"other lamps stand otherwise: {_named(changed)}")
    return found


def _things(now: dict[str, str], then: dict[str, str]) -> str:
    texts = []
    changed = [name for name in now if name in then and now[name] != then[name]]
    for names, word in ((changed, "changed"), ([n for n in now if n not in then], "new"),
                        ([n for n in then if n not in now], "gone")):
        if names:
            texts.append(f"{_named(names)} {word}")
    return f"the set is another: {', '.join(texts)}"


def _named(found: Iterable[str]) -> str:
    names = sorted(found)
    more = len(names) - MOST_NAMED
    return ", ".join(f"'{name}'" for name in names[:MOST_NAMED]) + (
        f" and {more} more" if more > 0 else "")
