"""The shapes of yards and streets by name, and their meshes."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from previz.scene.piece import USUAL_SIZES
from previz.scene.surface import Surface as Written
from previz.stage import shapes
from previz.stage.glazing import Glazing, glaze, transmission_from_rgb
from previz.stage.records import Mesh
from previz.stage.surfaces import SurfaceRegistry
from previz.stage.yard import railway, street, vehicles
from previz.stage.yard.solids import Part

YARD: dict[str, tuple[Callable[..., list[Part]], str]] = {
    "track": (railway.track, "rust"),
    "sleepers": (railway.sleepers, "old timber"),
    "buffer stop": (railway.buffer_stop, "rust"),
    "signal": (railway.signal, "white paint"),
    "platform": (railway.platform, "asphalt"),
    "telegraph line": (railway.telegraph_line, "bark"),
    "kerb": (street.kerb, "granite"),
    "pavement": (street.pavement, "concrete"),
    "lamp post": (street.lamp_post, "dark green paint"),
    "picket fence": (street.picket_fence, "white paint"),
    "wire fence": (street.wire_fence, "concrete"),
    "garden wall": (street.garden_wall, "brick"),
    "gate": (street.gate, "old timber"),
    "handcart": (street.handcart, "dark green paint"),
    "milk churn": (street.churn, "galvanised steel"),
    "park bench": (street.park_bench, "old timber"),
    "tree": (street.tree, "leaves"),
    "bare tree": (street.bare_tree, "bark"),
    "bush": (street.bush, "leaves"),
    "puddle": (street.puddle, "water"),
    "water": (street.water, "water"),
    "van": (vehicles.van, "dark green paint"),
    "car": (vehicles.car, "dark blue paint"),
}
"""Shape -> what builds it from (size, name), and the library's surface that it has where none is written."""

SPRAYED = ("van", "car")

LEVEL = ("pavement", "platform")
"""Shapes that water stands on where they are wet."""

STAINS = {"red glass": (0.75, 0.02, 0.01), "green glass": (0.05, 0.45, 0.25)}
"""Glass of signals, linear Rec. 709.  Common practice, no source."""


def yard_meshes(piece, registry: SurfaceRegistry) -> list[Mesh]:
    """Return a piece of `YARD` in its place, a mesh a part.

    Its surface, where one is written, is that of the parts that have none of their own.
    """
    build, usual = YARD[piece.shape]
    axes = shapes.turned(np.radians(piece.turn))
    main = piece.surface or Written(name=usual)
    found = []
    for part in build(piece.size or USUAL_SIZES[piece.shape], piece.name):
        own, faces = part.body
        # Round bars that stand aslant would reach into the ground.
        vertices, _ = shapes.place((np.maximum(own, [-np.inf, -np.inf, 0]), faces), axes, piece.at)
        normals = None if part.normals is None else part.normals @ axes.T
        if part.surface in STAINS or part.surface in ("glass", "thin glass"):
            tint = transmission_from_rgb(STAINS[part.surface]) if part.surface in STAINS else np.ones(81)
            glazing = Glazing(f"{piece.name}: {part.surface}", tint=tint, hollow=True)
            found += glaze(Mesh(piece.name, "", vertices, faces, normals), glazing, registry)
            continue
        written = Written(name=part.surface) if part.surface else main
        # Sheet of vehicles is sprayed, not brushed; ground under foot takes puddles.
        level = piece.shape in LEVEL and not part.surface
        name = registry.of(written, plain=piece.shape in SPRAYED, level=level)
        found.append(Mesh(piece.name, name, vertices, faces, normals))
    return found
