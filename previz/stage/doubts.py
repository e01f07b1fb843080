"""What `check` reports of a good scene: what is hardly meant, by places and by what lamps can give.

Numbers are imported only for lamps that state their power, or their light in cd or lux.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

from previz.errors import Problem, SceneError
from previz.scene import doubts as places
from previz.scene.fields import table
from previz.scene.lamp import Light, Output

if TYPE_CHECKING:
    from previz.scene.scene import Scene


def doubts(scene: Scene) -> tuple[Problem, ...]:
    """Return what is hardly meant in a good scene, each with its place and what to write."""
    found = [*places.doubts(scene)]
    for light in scene.lights:
        # The lumens of a piece that glows follow from its mesh.
        found += _too_much(light) if light.kind != "glow" else ()
    for piece in scene.pieces:
        found += _of_mesh(piece, scene) if piece.mesh is not None else ()
    return tuple(place.problem(message, advice) for place, message, advice in found)


def _of_mesh(piece, scene) -> Iterator[places.Doubt]:
    """Yield what a build notes of a mesh: what is repaired or left out of it, its size, its detail."""
    from previz.stage.mesh_check import look_at_mesh

    for note in look_at_mesh(piece, scene).notes:
        message, _, advice = note.removeprefix("Check: ").partition(". ")
        yield piece.where("mesh"), message.removesuffix("."), advice


def _too_much(light) -> Iterator[places.Doubt]:
    """Yield what a lamp gives more of than its kind can: light, or light for each watt."""
    lumens = _lumens(light)
    if lumens is None:
        return
    least, most = light.usual.lumens
    if lumens > most:
        yield light.where("output"), (
            f"{light.label} gives {_flux(lumens)}, and the kind gives {_flux(least)} to {_flux(most)}"
        ), "Check its output, or write the kind of lamp that gives as much."  # fmt: skip
    if light.watts is None:
        return
    from previz.stage.lamp_limits import efficacy_range

    limits = efficacy_range(light)
    if limits is None:
        return
    source, low, high = limits
    if lumens / light.watts > high:
        field = "output" if getattr(light.output, "watts", None) is not None else "watts"
        yield light.where(field), (
            f"{light.label} would give {lumens / light.watts:.0f} lm/W, and {source} sources give {low:.3g} "
            f"to {high:.3g}"
        ), (f"Write its own watts and lumens; at {high:.3g} lm/W, {_WATTS.show(light.watts)} give "
            f"{_flux(high * light.watts)}.")  # fmt: skip


def _flux(lumens: float) -> str:
    return str(Output(value=float(f"{lumens:.2g}")))


_WATTS = table(Light)["watts"]


def _lumens(light) -> float | None:
    """Return a lamp's lumens; None where they are a measured file's."""
    output = light.output
    if output is None or (light.photometry is not None and output.unit != "lm"):
        return None
    if output.unit == "lm":
        return output.value
    if output.unit == "cd/m2":
        return math.pi * output.value * light.size[0] * light.size[1]
    from previz.stage.lights.output import lumens_alone

    try:
        return lumens_alone(light)
    except SceneError:
        return None
