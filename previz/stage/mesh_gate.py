"""The gate that every mesh passes before it is put on the device: finite, its corners among its points.

The engine reads memory by these numbers. Files pass on their way in, with faults in words; whatever a stage
is made of passes once more as a whole.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from previz.stage.mesh_faults import AGAIN, Fault, few
from previz.stage.records import Mesh, Stage

FARTHEST = 1e6
"""Magnitude of a place or a texture coordinate from which on single precision holds no detail. [m] or [1]"""

CLEAN = "Clean it in the program it comes from and export it again."


def shape_faults(vertices: np.ndarray, faces: np.ndarray, pose: np.ndarray) -> Iterator[Fault]:
    """Yield what is wrong with a file's mesh before anything is looked up in it.

    Parameters
    ----------
    vertices : float array, shape (v, 3)
    faces : int array, shape (f, 3)
    pose : float array, shape (4, 4)
    """
    if vertices.ndim != 2 or vertices.shape[1] != 3:
        yield "has points that are no three numbers each", AGAIN
        return
    if faces.ndim != 2 or faces.shape[1] != 3:
        yield "has faces that are no triangles", "Export it as triangles."
        return
    if pose.shape != (4, 4) or not np.isfinite(pose).all():
        yield "has a part whose place or turn is no set of numbers", AGAIN
    if len(faces) == 0:
        return
    low, high = int(faces.min()), int(faces.max())
    if low < 0 or high >= len(vertices):
        wrong = int(np.count_nonzero((faces < 0) | (faces >= len(vertices))))
        yield (f"has {few(wrong, 'corner')} of faces at points that it does not have; it has {len(vertices)}",
               AGAIN)
        return
    used = vertices if np.isfinite(vertices).all() else vertices[np.unique(faces)]
    bad = int(np.count_nonzero(~np.isfinite(used).all(axis=1)))
    if bad:
        yield f"has {bad} of {len(used)} points that are not finite numbers", CLEAN


def uv_faults(uv: np.ndarray | None, count: int) -> Iterator[Fault]:
    """Yield what is wrong with texture coordinates, shape (v, 2), of a mesh of `count` points."""
    if uv is None:
        return
    if uv.shape != (count, 2):
        yield f"has texture coordinates that are not two numbers for each of {count} points", AGAIN
        return
    bad = int(np.count_nonzero(~(np.abs(uv) < FARTHEST).all(axis=1)))
    if bad:
        yield f"has {few(bad, 'texture coordinate')} that are no finite numbers, or out of all range", CLEAN


def material_faults(material) -> Iterator[Fault]:
    """Yield what is wrong with the numbers of a `FileMaterial`."""
    glass = material.glass
    numbers = [*material.rgb, material.gloss, material.roughness, *material.glow]
    if glass is not None:
        numbers += [*glass.tint, glass.ior, glass.roughness, glass.thickness, *glass.attenuation]
    if not np.isfinite(np.asarray(numbers, float)).all() or min(material.roughness, *material.glow) < 0:
        yield f"has a material '{material.name}' whose values are no finite numbers, or below zero", CLEAN
    if material.normals is not None:
        # Takes longer to import than a check of a sound file may take.
        from previz.stage.picture_maps import NO_NORMALS, shows_normals

        if not shows_normals(material.normals):
            message, advice = NO_NORMALS
            yield f"has a material '{material.name}' whose picture of normals {message}", advice


def hold(stage: Stage) -> None:
    """Hold all triangles of a stage against what the engine demands.

    Raises
    ------
    ValueError
        A corner that no mesh has, or a number that is not finite. Files have been refused in words by then,
        so this is a fault of the program.
    """
    for thing in (*stage.meshes, *stage.emitters):
        vertices, faces = np.asarray(thing.vertices), np.asarray(thing.faces)
        if vertices.ndim != 2 or vertices.shape[1] != 3 or faces.ndim != 2 or faces.shape[1] != 3:
            raise ValueError(f"'{thing.name}' has no triangles of points of three numbers")
        if faces.dtype.kind not in "iu" or (len(faces) and not (
                int(faces.min()) >= 0 and int(faces.max()) < len(vertices))):
            raise ValueError(f"'{thing.name}' has corners at points that it does not have")
        if not _within(vertices):
            raise ValueError(f"'{thing.name}' has points that are not finite, or too far away")
        if isinstance(thing, Mesh):
            _hold_corners(thing, len(vertices))


def _hold_corners(mesh: Mesh, count: int) -> None:
    for values, width, what in ((mesh.normals, 3, "normals"), (mesh.uv, 2, "texture coordinates")):
        if values is not None and (np.shape(values) != (count, width) or not _within(values)):
            raise ValueError(f"'{mesh.name}' has {what} that are not finite, or not one for each point")


def _within(values) -> bool:
    """Return whether all numbers are finite and hold their detail in single precision."""
    values = np.asarray(values)
    # NaN is neither more nor less than anything.
    return values.size == 0 or bool(values.min() > -FARTHEST and values.max() < FARTHEST)
