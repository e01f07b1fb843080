"""What of a mesh file can be put right without asking, each with a note: what is left out counts for nothing.

Opaque surfaces take light from both sides alike, whichever way their faces look, and a face that is there
twice or has no area is met as if it were not. So those are left as they are; where they count, `glazing` and
`lights.glow` take them out and turn faces outwards.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from previz.physics.uplift import linear_from_srgb
from previz.stage.mesh_faults import few
from previz.stage.mesh_gate import uv_faults

if TYPE_CHECKING:
    from previz.stage.mesh_files import FileMaterial, MeshPart

FLAT = 1e-12
"""Determinant of a node's axes, over the cube of their size, under which they have no volume. [1]"""

SAMPLES = 1 << 20
"""Numbers of a picture of which its mean colour is found."""


def repaired(parts: list[MeshPart], notes: list[str]) -> list[MeshPart]:
    """Return the parts that can be rendered; a clause for what is otherwise goes to the notes."""
    kept = [part for part in parts if _has_volume(part.pose[:3, :3])]
    if len(kept) < len(parts):
        notes.append(f"has {few(len(parts) - len(kept), 'part')} scaled to nothing, which "
                     f"{'is' if len(parts) - len(kept) == 1 else 'are'} left out")
    made, stray, dark, astray, bare = [], 0, 0, 0, 0
    for part in kept:
        if any(uv_faults(part.uv, len(part.vertices))):
            part, astray = replace(part, uv=None), astray + 1
        if part.uv is None and part.material.picture is not None:
            part, bare = replace(part, material=_by_its_mean(part.material)), bare + 1
        part, unused = _used_points(part)
        part, lost = _finite_normals(part)
        stray, dark = stray + unused, dark + lost
        made.append(part)
    if stray:
        notes.append(f"has {few(stray, 'point')} far from all faces, used by none, which "
                     f"{'is' if stray == 1 else 'are'} left out")
    if astray:
        notes.append(f"has {few(astray, 'part')} with texture coordinates that are no numbers, which are "
                     "left out")
    if bare:
        notes.append(f"has {few(bare, 'part')} with a picture and no places on it; its mean colour is "
                     "rendered")
    if dark:
        notes.append(f"has {few(dark, 'normal')} that are no numbers; faces are flat there")
    return made


def _by_its_mean(material: FileMaterial) -> FileMaterial:
    """Return a material with the mean colour of its picture in the picture's place."""
    texels = material.picture.reshape(-1, 3)[:: max(1, material.picture.size // SAMPLES)]
    mean = linear_from_srgb(texels / 255).mean(axis=0)
    return replace(material, picture=None, rgb=mean * np.asarray(material.rgb, float))


def _has_volume(axes: np.ndarray) -> bool:
    size = float(np.abs(axes).max())
    return size > 0 and abs(float(np.linalg.det(axes / size))) > FLAT


def _used_points(part: MeshPart) -> tuple[MeshPart, int]:
    """Return (a part without points that no face uses, how many of those lay outside of all others)."""
    used = np.zeros(len(part.vertices), bool)
    used[part.faces] = True
    if used.all():
        return part, 0
    own, rest = part.vertices[used], part.vertices[~used]
    inside = ((rest >= own.min(axis=0)) & (rest <= own.max(axis=0))).all(axis=1)
    numbers = np.cumsum(used) - 1
    normals, uv = (None if values is None or len(values) != len(used) else values[used]
                   for values in (part.normals, part.uv))
    return (replace(part, vertices=own, faces=numbers[part.faces], normals=normals, uv=uv),
            int(np.count_nonzero(~inside)))


def _finite_normals(part: MeshPart) -> tuple[MeshPart, int]:
    """Return (a part with zeros for normals that are no numbers, how many those are)."""
    if part.normals is None:
        return part, 0
    if part.normals.shape != part.vertices.shape:
        return replace(part, normals=None), len(part.vertices)
    bad = ~np.isfinite(part.normals).all(axis=1)
    return (replace(part, normals=np.where(bad[:, None], 0, part.normals)) if bad.any() else part,
            int(np.count_nonzero(bad)))
