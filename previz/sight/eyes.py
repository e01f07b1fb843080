"""The eyes of a figure: where their corneas are, what may be mirrored there, what lids hide."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np

from previz.exposure.comparing.eyes import Cornea
from previz.exposure.comparing.views import SKY, first_hit
from previz.physics.triangles import doubled_normals
from previz.stage.records import Camera, Stage

NEAR_EYE = 0.04
"""Lids, lashes and hair that may hide an eye lie this near to it. [m]"""

LIDS = 0.009
"""What may hide a cornea lies this near to the line of sight of its middle. [m]"""

EYE_SURFACES = ("iris", "iris rim", "pupil")
"""What lies under the cornea; a comma and a colour may follow."""


def corneas(stage: Stage, figure: str) -> list[Cornea]:
    """Return the cornea of each eye of a figure; none where it has no eyes."""
    meshes = [m for m in stage.meshes if m.name == figure and m.surface.split(",")[0] in EYE_SURFACES]
    eyes = [stage.places.get(f"{figure}.{side} eye") for side in ("left", "right")]
    if not meshes or any(eye is None for eye in eyes):
        return []
    corners = np.concatenate([m.vertices[m.faces] for m in meshes])
    cross = doubled_normals(corners)
    size = np.linalg.norm(cross, axis=1)
    # The smooth normals are those that the engine mirrors by.
    smooth = [cross[:0]] + [m.normals[m.faces].mean(axis=1) for m in meshes
                            if m.normals is not None]
    normals = np.concatenate(smooth)
    if len(normals) != len(cross):
        normals = cross
    middle, length = corners.mean(axis=1), np.linalg.norm(normals, axis=1)
    whole = (size > 0) & (length > 0)
    nearer = np.linalg.norm(middle - eyes[0], axis=1) < np.linalg.norm(middle - eyes[1], axis=1)
    f0 = float(stage.surfaces[meshes[0].surface].specular.mean())
    return [Cornea(middle[own], normals[own] / length[own, None], size[own] / 2, f0)
            for own in (nearer & whole, ~nearer & whole) if own.any()]


def sources(stage: Stage) -> set[str]:
    """Return the names of what may make an eye-light: what shines or was put there to."""
    named = {lamp.name for lamp in stage.lamps} | {guide.name for guide in stage.guides}
    return named | {m.name for m in stage.meshes if m.role in ("board", "frame")} | {SKY}


def hidden_by(triangles: np.ndarray, cornea: Cornea, camera: Camera) -> Callable[[Iterable[int]], np.ndarray]:
    """Return a function that says which parts of a cornea the figure hides from a camera.

    Triangles are the corners of the figure, shape (n, 3, 3). [m]
    """
    middle = cornea.centres.mean(axis=0)
    towards = camera.position - middle
    towards = towards / np.linalg.norm(towards)
    offset = triangles.mean(axis=1) - middle
    along = offset @ towards
    aside = np.linalg.norm(offset - along[:, None] * towards, axis=1)
    lids = triangles[(aside < LIDS) & (along > -LIDS) & (along < NEAR_EYE)]
    start = cornea.centres + 3e-4 * cornea.normals

    def hidden(parts: Iterable[int]) -> np.ndarray:
        return np.array([first_hit(lids, start[i], towards) < NEAR_EYE for i in parts])

    return hidden
