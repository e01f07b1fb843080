"""Whether all numbers of a record, and of what it holds, are finite."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator, Mapping

import numpy as np

MAY_BE_ENDLESS = {"reach", "distance", "focus", "focus_distance", "clear", "top", "support"}
"""Fields that say 'without end' by infinity."""


def faults(value: object, where: str = "", endless: bool = False) -> Iterator[str]:
    """Yield where a number is not finite, arrays and records within records included."""
    if isinstance(value, np.ndarray):
        if value.dtype.kind in "fc" and not np.all(np.isfinite(value)):
            if endless and not np.any(np.isnan(value)):
                return
            count = int(np.count_nonzero(~np.isfinite(value)))
            yield f"{where} has {count} of {value.size} numbers that are not finite"
    elif isinstance(value, float):
        if math.isnan(value) or (math.isinf(value) and not endless):
            yield f"{where} is {value}"
    elif dataclasses.is_dataclass(value) and not isinstance(value, type):
        for each in dataclasses.fields(value):
            yield from faults(getattr(value, each.name), f"{where}.{each.name}", each.name in MAY_BE_ENDLESS)
    elif isinstance(value, Mapping):
        for key, each in value.items():
            yield from faults(each, f"{where}[{key!r}]", endless)
    elif isinstance(value, tuple | list):
        for number, each in enumerate(value):
            yield from faults(each, f"{where}[{number}]", endless)


def stage_faults(stage) -> Iterator[str]:
    """Yield what is wrong in a stage's numbers: not finite, indices out of range, shares above one."""
    yield from faults(stage, "stage")
    for mesh in stage.meshes:
        faces = np.asarray(mesh.faces)
        if faces.size and (faces.min() < 0 or faces.max() >= len(mesh.vertices)):
            wide = f"{faces.min()} to {faces.max()} of {len(mesh.vertices)}"
            yield f"mesh '{mesh.name}' has indices from {wide}"
    for name, surface in stage.surfaces.items():
        for label in ("reflectance", "transmission", "specular"):
            curve = np.asarray(getattr(surface, label, 0.0))
            if curve.size and (curve.min() < -1e-9 or curve.max() > 1 + 1e-9):
                yield f"surface '{name}' has a {label} from {curve.min():g} to {curve.max():g}"
