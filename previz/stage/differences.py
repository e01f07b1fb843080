"""What of a stage stands elsewhere in another: lamps alone with their bodies, or the set as well."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from previz.stage.records import Stage


@dataclass(frozen=True)
class Moved:
    """What differs between two stages.

    Parameters
    ----------
    lamps : frozenset of str
        Lamps that are new, or send out their light otherwise or from elsewhere, or whose body is another.
    bodies : frozenset of str
        Things that belong to these lamps, and to lamps that are gone, and are others than they were.
    whole : bool
        Something else differs too, so that the light of every lamp does.
    """

    lamps: frozenset[str]
    bodies: frozenset[str]
    whole: bool


def moved_between(before: Stage, after: Stage, held: Mapping[str, str]) -> Moved:
    """Return what differs between two stages of one option.

    Parameters
    ----------
    held : mapping
        Sheet -> the lamp that it is in front of, and moves with.
    """
    names = {lamp.name for stage in (before, after) for lamp in stage.lamps}
    owners = {name: name for name in names} | dict(held)
    sent = [{lamp.name: _sent(stage, number) for number, lamp in enumerate(stage.lamps)}
            for stage in (before, after)]
    bodies = {name for name in names if not _alike(sent[0].get(name), sent[1].get(name))}
    lamps = set(bodies)
    things = _differing(before.meshes, after.meshes) | _differing(before.panes, after.panes)
    for one, other in ((before, after), (after, before)):
        # A surface is written anew for each stage; what it is like rarely changes.
        changed = {name for name, surface in one.surfaces.items()
                   if not _alike(surface, other.surfaces.get(name))}
        things |= {mesh.name for mesh in one.meshes if mesh.surface in changed}
    whole = not _alike(before.haze, after.haze)
    for name in things:
        owner = owners.get(name)
        if owner is None or (name not in held and _is_set(name, before, after)):
            whole = True
        else:
            lamps.add(owner)
            bodies.add(name)
    return Moved(frozenset(lamps & sent[1].keys()), frozenset(bodies), whole)


def _is_set(name: str, *stages: Stage) -> bool:
    return any(mesh.name == name and mesh.role != "lamp" for stage in stages for mesh in stage.meshes)


def _sent(stage: Stage, number: int) -> list[Any]:
    """Return how a lamp sends out its light, and from where."""
    faces: list[Any] = [emitter for emitter in stage.emitters if emitter.lamp == number]
    return faces + [each for each in (stage.sun, stage.sky) if each is not None and each.lamp == number]


def _differing(before: Iterable[Any], after: Iterable[Any]) -> set[str]:
    """Return the names under which two lists of things do not have the same."""
    groups: list[dict[str, list[Any]]] = [{}, {}]
    for group, things in zip(groups, (before, after), strict=True):
        for each in things:
            group.setdefault(each.name, []).append(each)
    one, other = groups
    return {name for name in one.keys() | other.keys() if not _alike(one.get(name), other.get(name))}


def _alike(one: Any, other: Any) -> bool:
    """Return whether two values of the records are the same; which number a lamp has does not count."""
    if one is other:
        return True
    if isinstance(one, np.ndarray) or isinstance(other, np.ndarray):
        return np.array_equal(one, other)
    if type(one) is not type(other):
        return False
    if isinstance(one, list | tuple):
        return len(one) == len(other) and all(map(_alike, one, other))
    if dataclasses.is_dataclass(one):
        return all(_alike(getattr(one, field.name), getattr(other, field.name))
                   for field in dataclasses.fields(one)
                   if field.name != "lamp")
    return bool(one == other)
