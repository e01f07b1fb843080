"""Lamps as things that stand in the light: their bodies, and stages in which only some are lit.

A lamp's light depends on every thing it meets, the bodies of other lamps among them. So a lamp
that is moved changes the light of all others a little, by what its body shades and sends back.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace

import numpy as np

from previz.stage.records import Emitter, Mesh, Stage, Surface

UNLIT = "unlit lamp face"
"""Surface of a lamp's face that gives no light; as in the engine, it sends nothing back."""


@dataclass(frozen=True, eq=False)
class Body:
    """What of a lamp stands in the light.

    Parameters
    ----------
    meshes : tuple of Mesh
        Housing, shade, stand.
    faces : tuple of Emitter
        What gives its light.
    """

    meshes: tuple[Mesh, ...]
    faces: tuple[Emitter, ...]


def body_of(stage: Stage, lamp: int) -> Body:
    """Return the body of one lamp; sun and sky have none."""
    name = stage.lamps[lamp].name
    return Body(tuple(m for m in stage.meshes if m.role == "lamp" and m.name == name),
                tuple(e for e in stage.emitters if e.lamp == lamp))


def things_of(stage: Stage) -> tuple[Mesh, ...]:
    """Return all meshes that are not the body of a lamp."""
    names = {lamp.name for lamp in stage.lamps}
    return tuple(m for m in stage.meshes if m.role != "lamp" or m.name not in names)


def unlit(face: Emitter) -> Mesh:
    """Return a lamp's face as a thing that only stands in the light."""
    return Mesh(face.name, UNLIT, np.asarray(face.vertices, float), np.asarray(face.faces),
                role="lamp")


def lit_by(stage: Stage, names: Collection[str]) -> Stage:
    """Return the stage with light from some of its lamps alone; the bodies of the others stay.

    The lamps of the stage are then those named, in the same order.
    """
    kept = [k for k, lamp in enumerate(stage.lamps) if lamp.name in names]
    if len(kept) == len(stage.lamps):
        return stage
    number = {old: new for new, old in enumerate(kept)}
    dark = tuple(unlit(e) for e in stage.emitters if e.lamp not in number)
    sun, sky = (None if each is None or each.lamp not in number
                else replace(each, lamp=number[each.lamp]) for each in (stage.sun, stage.sky))
    return replace(
        stage, lamps=tuple(stage.lamps[k] for k in kept), meshes=stage.meshes + dark,
        surfaces=stage.surfaces | {UNLIT: Surface(UNLIT, *np.zeros((3, 81)))} if dark else stage.surfaces,
        emitters=tuple(replace(e, lamp=number[e.lamp]) for e in stage.emitters
                       if e.lamp in number),
        sun=sun, sky=sky)


def with_other_bodies(stage: Stage, things: tuple[Mesh, ...], surfaces: Mapping[str, Surface],
                      names: Collection[str]) -> Stage:
    """Return a stage with other things in place of the bodies of all lamps but those named.

    The lamps named alone give light. The surfaces are those of the things, under names that the stage
    does not use for others.
    """
    alone = lit_by(stage, names)
    others = {lamp.name for lamp in stage.lamps} - set(names)
    kept = tuple(m for m in alone.meshes if m.role != "lamp" or m.name not in others)
    return replace(alone, meshes=kept + things, surfaces={**alone.surfaces, **surfaces})
