"""Flatten the glass of a Stage's meshes into the plain arrays that the kernel reads.

Sheets are kept by themselves: rays go straight on through them, so they are no part of the
ray tracer's main scene. Bodies are a part of it, and their surfaces' rows say so.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.physics.bands import band_means
from previz.stage.records import Mesh, Stage


def is_sheet(stage: Stage, mesh: Mesh) -> bool:
    """Return whether a mesh is thin glass that light goes straight through."""
    return stage.surfaces[mesh.surface].is_sheet


@dataclass(frozen=True)
class SheetTables:
    """All thin glass of a stage as one mesh.

    Parameters
    ----------
    positions, normals : float32 array, shape (vertices, 3)
        Normals are zero where the face is flat.
    faces : uint32 array, shape (faces, 3)
    face_sheet : uint32 array, shape (faces,)
        Row of the tables below.
    ior, closed : float32 array, shape (sheets,)
        Index of refraction; 1 where the mesh has both faces of the sheet, and it counts where a
        ray enters it.
    tint : float32 array, shape (sheets, bands)
        Internal transmission at normal incidence. [1]
    face_mesh : uint32 array, shape (faces,)
        Index of the stage's mesh.
    """

    positions: np.ndarray
    normals: np.ndarray
    faces: np.ndarray
    face_sheet: np.ndarray
    ior: np.ndarray
    closed: np.ndarray
    tint: np.ndarray
    face_mesh: np.ndarray


def flatten_sheets(stage: Stage, bands: int) -> SheetTables | None:
    """Join the thin glass of every mesh; None where there is none."""
    found = [(i, m) for i, m in enumerate(stage.meshes) if is_sheet(stage, m) and len(m.faces)]
    if not found:
        return None
    rows = {name: k for k, name in enumerate(dict.fromkeys(m.surface for _, m in found))}
    glass = [stage.surfaces[name].glass for name in rows]
    starts = np.cumsum([0] + [len(m.vertices) for _, m in found])
    return SheetTables(
        np.concatenate([np.asarray(m.vertices, np.float32) for _, m in found]),
        np.concatenate([np.zeros((len(m.vertices), 3), np.float32) if m.normals is None
                        else np.asarray(m.normals, np.float32) for _, m in found]),
        np.concatenate([np.asarray(m.faces, np.uint32) + np.uint32(start)
                        for (_, m), start in zip(found, starts[:-1], strict=True)]),
        np.concatenate([np.full(len(m.faces), rows[m.surface], np.uint32) for _, m in found]),
        np.array([g.ior for g in glass], np.float32),
        np.array([g.closed for g in glass], np.float32),
        np.array([band_means(g.tint, bands) for g in glass], np.float32),
        np.concatenate([np.full(len(m.faces), i, np.uint32) for i, m in found]))


def flatten_bodies(stage: Stage, bands: int) -> tuple[np.ndarray, np.ndarray]:
    """Return each surface's index of refraction and absorption, with a row for a lamp's face.

    Returns
    -------
    ior : float32 array, shape (surfaces,)
        0 for anything that is not the boundary of a glass body. [1]
    absorption : float32 array, shape (surfaces, bands)
        [1/m]
    """
    count = len(stage.surfaces) + 1
    ior, absorption = np.zeros(count, np.float32), np.zeros((count, bands), np.float32)
    for i, surface in enumerate(stage.surfaces.values()):
        if surface.glass is not None and not surface.is_sheet:
            ior[i] = surface.glass.ior
            absorption[i] = band_means(surface.glass.absorption, bands)
    return ior, absorption
