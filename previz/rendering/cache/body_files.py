"""The bodies of lamps as they stood when something was rendered, kept to be compared with later.

They are a few triangles. With them what a body does to the light of other lamps can be measured
after it was moved: the stage as it is, with the bodies as they were, is compared with the stage.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from previz.frames.archives import read_archive, write_archive
from previz.stage.bodies import UNLIT, body_of, lit_by, unlit, with_other_bodies
from previz.stage.ingredients import Ingredients
from previz.stage.records import Glass, Mesh, Stage, Surface

WAS = "was: "
"""What the names of things that are no longer there begin with."""

BodyPart = tuple[str, str, Mesh, Surface | None]
"""Lamp, fingerprint of its body, mesh and surface of a part."""

_ARRAYS = ("vertices", "faces", "normals", "uv")
_SPECTRA = ("reflectance", "transmission", "specular")
_NOT_KEPT = ("texture", "pattern", "relief", "across", "fuzz")
_NUMBERS = ("gloss", "roughness", "subsurface", "lobe")


def write_bodies(path: Path, stage: Stage, parts: Ingredients) -> bool:
    """Write the bodies of all lamps of a stage to a file; nothing is done if it is there.

    False where a body has a picture, a pattern or the like on it, which is not kept; then nothing is written.
    """
    if path.is_file():
        return True
    kept: dict[str, Any] = {}
    for number, lamp in enumerate(stage.lamps):
        body = body_of(stage, number)
        for mesh in (*body.meshes, *map(unlit, body.faces)):
            surface = stage.surfaces.get(mesh.surface)
            if surface is not None and any(getattr(surface, each) is not None for each in _NOT_KEPT):
                return False
            key = f"{len(kept)}"
            kept[key] = np.array([lamp.name, parts.bodies[lamp.name], mesh.surface])
            for label in _ARRAYS:
                value = getattr(mesh, label)
                if value is not None:
                    kept[f"{key}.{label}"] = np.asarray(value)
            if surface is not None:
                kept[f"{key}.surface"] = np.stack([getattr(surface, s) for s in _SPECTRA])
                kept[f"{key}.gloss"] = np.array([getattr(surface, s) for s in _NUMBERS])
                if surface.glass is not None:
                    glass = surface.glass
                    kept[f"{key}.glass"] = np.array([glass.ior, glass.thickness, glass.closed])
                    kept[f"{key}.absorption"] = np.asarray(glass.absorption)
    write_archive(path, "previz_bodies", kept)
    return True


def read_bodies(path: Path) -> list[BodyPart] | None:
    """Return (lamp, fingerprint of its body, mesh, its surface) of every part; None where torn.

    The surface is None for a face that sends nothing back.
    """
    read = read_archive(path, "previz_bodies")
    if read is None:
        return None
    kept, parts = read[0], []
    try:
        for key in (k for k in kept if k.isdigit()):
            lamp, digest, surface = (str(text) for text in kept[key])
            arrays: dict[str, Any] = {label: kept.get(f"{key}.{label}") for label in _ARRAYS}
            made = None
            if f"{key}.surface" in kept:
                # Files of before have the first two numbers; such bodies had none of the others.
                numbers = [*map(float, kept[f"{key}.gloss"]), 0.0, 0.0]
                gloss, roughness, subsurface, lobe = numbers[:len(_NUMBERS)]
                reflectance, transmission, specular = kept[f"{key}.surface"]
                made = Surface(WAS + surface, reflectance, transmission, specular, gloss, roughness,
                               subsurface=subsurface, lobe=lobe, glass=_glass(kept, key))
            mesh = Mesh(WAS + lamp, UNLIT if made is None else made.name, role="lamp", **arrays)
            parts.append((lamp, digest, mesh, made))
    except (ValueError, KeyError, TypeError):
        return None
    return parts


def _glass(kept: dict[str, Any], key: str) -> Glass | None:
    if f"{key}.glass" not in kept:
        return None
    ior, thickness, closed = kept[f"{key}.glass"]
    return Glass(float(ior), kept[f"{key}.absorption"], float(thickness), bool(closed))


def as_they_stood(stage: Stage, parts: Ingredients, kept: Sequence[BodyPart],
                  lamps: Collection[str]) -> tuple[Stage, Stage, set[str]]:
    """Return (stage with the bodies as they stood, stage as it is, lamps whose bodies differ).

    Ingredients are those of the stage; both are lit by some lamps alone.
    """
    now = parts.bodies
    before, there = {digest for _, digest, _, _ in kept}, set(now.values())
    moved = {lamp for lamp, digest, _, _ in kept if digest not in there}
    moved |= {lamp for lamp, digest in now.items() if digest and digest not in before}
    things, surfaces = _as_things(kept, {now[lamp] for lamp in lamps})
    return with_other_bodies(stage, things, surfaces, lamps), lit_by(stage, lamps), moved


def _as_things(parts: Iterable[BodyPart],
               standing: Collection[str]) -> tuple[tuple[Mesh, ...], dict[str, Surface]]:
    """Return (things, their surfaces) for bodies but those, by fingerprint, that stand there anyway."""
    things, surfaces = [], {}
    none = np.zeros(81)
    for number, (_, digest, mesh, surface) in enumerate(parts):
        if digest in standing:
            continue
        # Surfaces of the same name may have been others then.
        made = surface or Surface(UNLIT, none, none, none)
        name = f"{WAS}{number} {made.name}"
        surfaces[name] = replace(made, name=name)
        things.append(replace(mesh, surface=name))
    return tuple(things), surfaces
