"""Pieces: furniture, blocks, partitions and meshes that stand in the scene."""

from __future__ import annotations

from pathlib import Path
from typing import ClassVar

from previz.scene.fields import COMMON_PRACTICE, choice, file, point, quantity, size
from previz.scene.records import Item, record_class
from previz.scene.surface import Surface, surface_field
from previz.scene.yard import YARD_SIZES, YARD_SOLIDS

USUAL_SIZES: dict[str, tuple[float, float, float] | None] = {
    "box": None,
    "table": (1.4, 0.8, 0.75),
    "desk": (1.4, 0.7, 0.74),
    "chair": (0.45, 0.5, 0.88),
    "bench": (1.4, 0.38, 0.45),
    "stool": (0.36, 0.36, 0.46),
    "shelf": (0.9, 0.3, 1.8),
    "cabinet": (0.8, 0.45, 1.0),
    "cylinder": None,
    "sphere": None,
    "panel": None,
    "partition": None,
    **YARD_SIZES,
}
"""Shapes, each with the size it has where none is written. [m]  Source: common practice, no source.
"""

SHAPES = tuple(USUAL_SIZES)
SOLID_SHAPES = ("box", "cabinet", "cylinder", "sphere", "panel", "partition", *YARD_SOLIDS)
"""Shapes with no room inside for a camera or a lamp."""

MESH_SUFFIXES = (".gltf", ".glb", ".obj", ".ply", ".stl")
METRIC_SUFFIXES = (".gltf", ".glb")
"""Formats that are in metres with y up by their own definition.  Source: glTF 2.0, section 3.4."""

MESH_BYTES = 512 * 1024 * 1024
"""Greatest size of a mesh file. [bytes]"""

MESH_UNITS = ("m", "cm", "mm", "ft", "in")


@record_class
class Piece(Item):
    """A thing in the scene, either one of the shapes or a mesh from a file.

    Parameters
    ----------
    shape : str or None
        A table, desk, chair, bench, stool and shelf have legs or boards with air between; the others
        are solid. A chair's back is at its +y side. None for a mesh.
    units, up : str or None
        'm' and 'y' for glTF; None for a shape.
    size : (float, float, float) or None
        Always set for a shape, None for a mesh. [m]
    surface : Surface or None
        None keeps a mesh's own materials, and is grey paint on a shape.
    """

    noun: ClassVar[str] = "piece"

    shape: str | None = choice(SHAPES, "One of the built-in shapes.", None, example="table")
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
