"""Pieces: furniture, dressing, blocks, partitions and meshes that stand in the scene."""

from __future__ import annotations

from pathlib import Path
from typing import ClassVar

from previz.scene.fields import COMMON_PRACTICE, choice, file, point, quantity, size, special
from previz.scene.furniture import KINDS, SOLID_KINDS
from previz.scene.records import Item, Record, record_class
from previz.scene.surface import Surface, surface_field
from previz.scene.yard import YARD_SIZES, YARD_SOLIDS

PLAIN_SHAPES = ("box", "cylinder", "sphere", "panel", "partition")
"""Exact solids, of any size."""

USUAL_SIZES: dict[str, tuple[float, float, float] | None] = {
    **dict.fromkeys(PLAIN_SHAPES), **{word: kind.size for word, kind in KINDS.items()},
    **YARD_SIZES,
}  # fmt: skip
"""Shapes, each with the size it has where none is written. [m]"""

SHAPES = tuple(USUAL_SIZES)
SOLID_SHAPES = (*PLAIN_SHAPES, *SOLID_KINDS, *YARD_SOLIDS)
"""Shapes with no room inside for a camera or a lamp."""

MESH_SUFFIXES = (".gltf", ".glb", ".obj", ".ply", ".stl")
METRIC_SUFFIXES = (".gltf", ".glb")
"""Formats that are in metres with y up by their own definition.  Source: glTF 2.0, section 3.4."""

MESH_BYTES = 512 * 1024 * 1024
"""Greatest size of a mesh file. [bytes]"""

MESH_UNITS = ("m", "cm", "mm", "ft", "in")


@record_class
class PartSurface(Record):
    """What one part of a piece is made of."""

    noun: ClassVar[str] = "part"

    part: str = ""
    surface: Surface | None = None


@record_class
class Piece(Item):
    """A thing in the scene, either one of the shapes or a mesh from a file.

    Parameters
    ----------
    shape : str or None
        One of the exact solids, or a kind of furniture or dressing; those stand with their back at
        +y. None for a mesh.
    units, up : str or None
        'm' and 'y' for glTF; None for a shape.
    size : (float, float, float) or None
        Always set for a shape, None for a mesh. [m]
    surface : Surface or None
        Of a kind's main part. None keeps a mesh's own materials, and is what a kind usually is made
        of; grey paint on a solid.
    also : tuple of PartSurface
        Of the kind's other parts.
    """

    noun: ClassVar[str] = "piece"

    shape: str | None = choice(
        SHAPES, "One of the built-in shapes: solids, furniture, dressing.", None, example="table"
    )
    mesh: Path | None = file(
        MESH_SUFFIXES, "A mesh file in the scene's folder.", example="models/levers.glb",
        maximum=MESH_BYTES,
    )  # fmt: skip
    units: str | None = choice(
        MESH_UNITS, "What the numbers in an obj, ply or stl file are.", None, example="cm"
    )
    up: str | None = choice(
        ("y", "z"), "The upward axis of an obj, ply or stl file.", None, example="z"
    )
    scale: float = quantity(
        "number", "Enlarges a mesh about its origin.", 1.0, minimum=1e-6, maximum=1e6, example="1.2"
    )
    triangles: float | None = quantity(
        "number", "Most triangles of a mesh; one that has more is simplified.", None,
        minimum=100, maximum=1e7, example="500000",
    )  # fmt: skip
    at: tuple[float, float, float] = point(
        "Middle of its footprint and height of its underside; for a mesh, where its origin goes.",
        counts=(2, 3),
    )
    size: tuple[float, float, float] | None = size(
        3, "Extent in x, y and z before turning; furniture has a usual size.", None,
        source=COMMON_PRACTICE,
    )  # fmt: skip
    turn: float = quantity(
        "angle", "Turn about the vertical, counter-clockwise seen from above.", 0.0,
        minimum=-360.0, maximum=360.0, example="90 deg",
    )  # fmt: skip
    surface: Surface | None = surface_field(
        "What it is made of; none keeps a mesh's own materials.", None, example="dark oak"
    )
    also: tuple[PartSurface, ...] = special(
        "parts", "What its other parts are made of, part by part.", (), example="{handles: steel}"
    )
    open: float = quantity(
        "angle", "How far its doors are open.", 0.0, minimum=0.0, maximum=170.0, example="40 deg"
    )
    variant: float = quantity(
        "number", "Which of its forms it has, and how it is uneven; a whole number.", 1.0,
        minimum=1.0, maximum=9.0, example="2",
    )  # fmt: skip
