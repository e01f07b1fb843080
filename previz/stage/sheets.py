"""Boards, diffusion frames, flags, nets and grids: flat things that stand in the light.

A diffusion cloth whose light partly goes straight on is modelled as what cloth is: threads, which
scatter what falls on them, with gaps between. The gaps are fine parallel slits with the share of
the area that has to pass straight, so any lamp casts its own softened shadow through them and the
camera sees through. Limits: the scattered part leaves a thread alike in all directions (a real frost keeps
some of it near the straight line), and the slits show one by one where a lamp is so small or far
that its image through a slit is narrower than the slit itself: under about a millimetre.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from previz.physics.materials import MATERIALS
from previz.physics.spectra import observer
from previz.scene.modifiers import CLOTH_SURFACES, NETS, SIDES
from previz.scene.records import Target
from previz.stage import shapes
from previz.stage.lights.fixture import HOUSING
from previz.stage.records import Grip, Guide, Mesh, Pane, Surface
from previz.stage.surfaces import ONES, SENT_BACK, SurfaceRegistry

if TYPE_CHECKING:
    from previz.scene.light import Light
    from previz.scene.modifiers import Diffusion, Held, Sheet
    from previz.scene.scene import Scene

Edges = tuple[np.ndarray, np.ndarray, np.ndarray]
"""Middle and half edges of a sheet, shape (3,) each. [m]"""

BOARD_THICKNESS = 0.005
"""From a board's face to its black back. [m]"""

SLIT_PITCH = 0.001
"""From one slit of a diffusion cloth to the next. [m]"""

MOST_SLITS = 4000

ROD = 0.012
"""Thickness of the rods of a frame. [m]"""

ARM = 0.016
"""Thickness of the arm of a flag. [m]"""


@dataclass(frozen=True)
class Sheets:
    """What one thing that stands in the light becomes; with a guide where it sends light on."""

    meshes: tuple[Mesh, ...]
    panes: tuple[Pane, ...] = ()
    guide: Guide | None = None


def standing(scene: Scene) -> tuple[Sheet, ...]:
    """Return everything flat that stands in the light of a scene."""
    return (*scene.boards, *scene.diffusion, *scene.flags, *scene.nets, *scene.grids)


def held_by(scene: Scene) -> dict[str, str]:
    """Return sheet -> lamp of those that stand in front of a lamp, and go where it goes."""
    return {item.name: item.before.name for item in standing(scene)
            if getattr(item, "before", None) is not None}


def in_front(item: Held, lamp: Light, aim: np.ndarray) -> Held:
    """Return a sheet that is `before` a lamp with its place and facing filled in.

    `aim` is the point that the lamp is aimed at, shape (3,). [m]
    """
    at = np.asarray(lamp.at, float)
    direction = np.asarray(aim, float) - at
    place = at + direction / np.linalg.norm(direction) * item.distance
    return replace(item, at=tuple(float(x) for x in place), facing=Target(point=lamp.at))


def outline(item: Sheet, aim: np.ndarray) -> Edges:
    """Return (centre, half_u, half_v) of a sheet that faces a point. [m]"""
    centre = np.asarray(item.at, float)
    axes = shapes.aimed(aim - centre, np.radians(item.turn))
    return centre, axes[:, 0] * item.size[0] / 2, axes[:, 1] * item.size[1] / 2


def lobe_width(item) -> float:
    """Return the width of a frame's lobe as `Surface.lobe` has it, 0 for an even one. [1]"""
    if item.lobe is None:
        return 0.0
    # Half of the peak is where the sine is sqrt(ln 2) of the lobe's width.
    return float(np.sin(np.radians(item.lobe / 2)) / np.sqrt(np.log(2)))


def lamp_through(item: Diffusion, lamp: Light) -> Guide | None:
    """Return where the light of a lamp seems to come from through a frost before it.

    A narrow lobe sends on to a point what comes to it about straight from the lamp. Seen from
    there, whatever its distance D, that is a spot on the frost of the angle s d / (d + D): as large
    as a ball of the radius s d about the lamp.
    """
    width = lobe_width(item)
    if not width or width * item.distance >= min(item.size) / 2:
        return None
    half = max((*getattr(lamp, "size", ()), getattr(lamp, "lens", 0.0),
                getattr(lamp, "diameter", 0.0))) / 2
    return Guide(f"{lamp.name} through {item.name}", np.asarray(lamp.at, float),
                 radius=width * item.distance + half)


def grip_of(item) -> Grip:
    """Return a sheet with its place as paperwork lists it."""
    what = item.noun
    if what == "board" and item.side is not None:
        what = f"mirror board, {item.side} side out"
    elif what == "board":
        what = f"board, {item.surface.name or 'painted'}"
    elif what == "diffusion frame":
        what = f"diffusion frame, {item.cloth or f'{item.transmission:.0%} through'}"
    elif what == "net":
        what = f"{item.layers} net"
    return Grip(item.name, what, item.size, np.asarray(item.at, float), item.hung)


def build_sheet(item: Sheet, edges: Edges, registry: SurfaceRegistry) -> Sheets:
    """Return a board, frame, flag, net or grid within its `outline` as what light knows."""
    return _BUILDERS[item.noun](item, edges, registry)


def _normal(edges: Edges) -> np.ndarray:
    across = np.cross(edges[1], edges[2])
    return across / np.linalg.norm(across)


def _board(item, edges, registry) -> Sheets:
    centre, u, v = edges
    uv = shapes.RECTANGLE_UV if item.surface.fitted else None
    face = Mesh(item.name, registry.of(item.surface), *shapes.rectangle(*edges), uv=uv,
                role="board")
    back = shapes.rectangle(centre - _normal(edges) * BOARD_THICKNESS, u, -v)
    # A mirror board has its other side behind.
    other = next((SIDES[side] for side in SIDES if item.side is not None and side != item.side),
                 "black paint")
    behind = Mesh(item.name, registry.library(other), *back, role="board")
    return Sheets((face, behind), guide=Guide(item.name, *edges))


def _cloth(item, open_share: float) -> Surface:
    """Return the threads of a diffusion cloth.

    Over the whole cloth `transmission` goes through, `open_share` of all light by the gaps; its own
    reflectance, or else most of the rest, is sent back. The threads have what is left, over their
    own share of the area.
    """
    threads = 1 - open_share
    through = item.transmission * item.spread / threads
    back = (SENT_BACK * (1 - item.transmission) if item.reflectance is None else item.reflectance)
    back /= threads
    shape = ONES
    if item.cloth in CLOTH_SURFACES:
        curve = MATERIALS[CLOTH_SURFACES[item.cloth]].reflectance
        bright = observer()[1]
        shape = curve * (bright.sum() / (curve @ bright))
    through = np.minimum(through * shape, 1.0)
    back = np.minimum(back * shape, 1.0 - through)
    return Surface(f"cloth of {item.name}", back, through, 0 * ONES, lobe=lobe_width(item))


def _diffusion(item, edges, registry) -> Sheets:
    centre, u, v = edges
    open_share = item.transmission * (1 - item.spread)
    frame = _rods(item.name, edges, ("top", "bottom", "left", "right"), "frame")
    if open_share > 1 - 1e-6:
        return Sheets((frame,))
    surface = registry.add(_cloth(item, open_share))
    if open_share <= 0:
        cloth = shapes.rectangle(*edges)
    else:
        count = max(int(min(round(2 * np.linalg.norm(v) / SLIT_PITCH), MOST_SLITS)), 1)
        threads = []
        for k in range(count):
            middle = centre + v * ((2 * k + 1) / count - 1)
            threads.append(shapes.rectangle(middle, u, v * (1 - open_share) / count))
        cloth = shapes.join(*threads)
    mesh = Mesh(item.name, surface, *cloth, role="frame")
    return Sheets((mesh, frame), guide=Guide(item.name, *edges))


def _flag(item, edges, registry) -> Sheets:
    centre, u, v = edges
    width, height = item.size
    parts = [shapes.rectangle(*edges)]
    if item.shape == "T":
        bar = min(item.bar, height) / height
        stem = min(item.bar, width) / width
        parts = [shapes.rectangle(centre + v * (1 - bar), u, v * bar),
                 shapes.rectangle(centre - v * bar, u * stem, v * (1 - bar))]
    meshes = [Mesh(item.name, registry.library("black cloth"), *shapes.join(*parts), role="flag")]
    if item.arm is not None:
        foot = centre - v - v / np.linalg.norm(v) * item.arm
        rod = _rod(centre - v, foot, ARM)
        meshes.append(Mesh(item.name, HOUSING, *rod, role="flag"))
    return Sheets(tuple(meshes))


def _net(item, edges, registry) -> Sheets:
    through = NETS[item.layers] if item.transmission is None else item.transmission
    pane = Pane(item.name, *edges, ior=1.0, sheets=1, tint=through * ONES)
    # A net is open on one side, so that its edge draws no line.
    return Sheets((_rods(item.name, edges, ("top", "left", "right"), "flag"),), (pane,))


def _grid(item, edges, registry) -> Sheets:
    centre, u, v = edges
    normal = _normal(edges) * item.depth / 2
    walls = []
    for along, other, extent in ((u, v, item.size[0]), (v, u, item.size[1])):
        count = max(round(extent / item.cell), 1)
        for k in range(count + 1):
            walls.append(shapes.rectangle(centre + along * (2 * k / count - 1), other, normal))
    mesh = Mesh(item.name, registry.library("black cloth"), *shapes.join(*walls), role="frame")
    return Sheets((mesh,))


def _rod(start, end, thick: float) -> shapes.Triangles:
    """Return a straight square rod between two points."""
    half, length = thick / 2, np.linalg.norm(end - start)
    rod = shapes.box((-half, -half, 0), (half, half, length))
    return shapes.place(rod, shapes.aimed(end - start), start)


def _rods(name: str, edges: Edges, sides, role: str) -> Mesh:
    """Return the rods of a frame along some of its sides."""
    centre, u, v = edges
    left, right = (centre - u + v, centre - u - v), (centre + u + v, centre + u - v)
    ends = {"left": left, "right": right, "top": (left[0], right[0]), "bottom": (left[1], right[1])}
    rods = [_rod(*ends[side], ROD) for side in sides]
    return Mesh(name, HOUSING, *shapes.join(*rods), role=role)


_BUILDERS = {"board": _board, "diffusion frame": _diffusion, "flag": _flag, "net": _net, "grid": _grid}
