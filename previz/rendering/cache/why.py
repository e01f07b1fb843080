"""Say in words why a lamp's light cannot be used again."""

from __future__ import annotations

from previz.rendering.cache.store import Shelf
from previz.stage.records import Camera

MOST_NAMED = 3


def why_not(shelf: Shelf, lamp: str, camera: Camera) -> str:
    """Return what has changed since a lamp was last rendered, from what comes nearest to it."""
    wanted = shelf.told(lamp, camera)
    reasons = [_differences(wanted, told) for told in shelf.all_told(lamp)
               if told["camera"] == camera.name]
    if not reasons:
        return f"camera {camera.name} has not rendered it yet"
    return "; ".join(min(reasons, key=len)) or "what was rendered of it cannot be read"


def _differences(wanted: dict, told: dict) -> list[str]:
    """Return what differs between two notes, one text each."""
    found = []
    if told["seen"] != wanted["seen"]:
        found.append(f"camera {wanted['camera']} was moved, or its lens or stop changed")
    now, then = wanted["settings"], told["settings"]
    if now["size"] != then["size"]:
        found.append("it was {}x{}, not {}x{}".format(*then["size"], *now["size"]))
    for part, words in (("bands", "other bands"), ("seed", "another seed"),
                        ("version", "another version of the program"),
                        ("depths", "other limits on paths")):
        if now[part] != then[part]:
            found.append(f"it was rendered with {words}")
    if sorted(told["things"].values()) != sorted(wanted["things"].values()):
        found.append(_things(wanted["things"], told["things"]))
    if told["air"] != wanted["air"]:
        found.append("the haze or a pane has changed")
    if told["own"] != wanted["own"]:
        found.append("it was moved or turned, or its beam changed")
    if told["bodies"] != wanted["bodies"]:
        changed = [name for name in {**told["bodies"], **wanted["bodies"]}
                   if told["bodies"].get(name) != wanted["bodies"].get(name)]
        found.append(f"other lamps stand otherwise: {_named(changed)}")
    return found


def _things(now: dict, then: dict) -> str:
    texts = []
    changed = [name for name in now if name in then and now[name] != then[name]]
    for names, word in ((changed, "changed"), ([n for n in now if n not in then], "new"),
                        ([n for n in then if n not in now], "gone")):
        if names:
            texts.append(f"{_named(names)} {word}")
    return f"the set is another: {', '.join(texts)}"


def _named(names) -> str:
    names = sorted(names)
    more = len(names) - MOST_NAMED
    return ", ".join(f"'{name}'" for name in names[:MOST_NAMED]) + (
        f" and {more} more" if more > 0 else "")
