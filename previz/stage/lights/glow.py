"""A piece that glows: its triangles, or those of the materials that glow, give even light."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from previz.errors import SceneError
from previz.physics.uplift import linear_from_srgb
from previz.scene.light import Glow
from previz.stage import shapes
from previz.stage.lights.fixture import Fixture, Setting, builds
from previz.stage.mesh_files import FileMaterial
from previz.stage.mesh_parts import outward, parts_of, sound_faces
from previz.stage.records import Emitter, Mesh

MOST_TRIANGLES = 20_000
"""Of a piece that glows. As each light sample takes one of them, more only cost."""

UNEVEN = 4.0
"""Triangles larger than the mean by this are split, as each is sampled as often as any other."""

MOST_SPLIT = 8_000
"""Triangles above which none is split any more."""

LUMINANCE = np.array([0.2126, 0.7152, 0.0722])
"""Weights of linear Rec. 709. [1]"""

CONVEX = ("box", "partition", "panel", "cylinder", "sphere")
"""Shapes that are their own point reflection, and convex."""

COLOURED = 0.85
"""Where the least of an emissive colour is under this share of the greatest, it is pointed out. [1]"""

TEXELS = 512
"""Most rows and columns of a glowing picture."""


@dataclass(frozen=True, eq=False)
class GlowPart:
    """A mesh of a piece with the material that its file gives it.

    Parameters
    ----------
    mesh : Mesh
        In the world.
    material : FileMaterial or None
        None for one of the built-in shapes.
    symmetric : bool
        As in `Emitter`.
    """

    mesh: Mesh
    material: FileMaterial | None = None
    symmetric: bool = False


def select(light, parts: list[GlowPart]) -> list[GlowPart]:
    """Return the parts of a piece that give a lamp's light.

    Those of the material that it names, else those that glow in the file, else all.

    Raises
    ------
    SceneError
        No part has that material.
    """
    if light.material is not None:
        named = [part for part in parts if part.material and part.material.name == light.material]
        if not named:
            known = sorted({p.material.name for p in parts if p.material and p.material.name})
            raise SceneError([light.where("material").problem(
                f"{light.label}: the piece has no material '{light.material}'",
                f"Its materials are: {', '.join(known)}." if known else
                "It has none with a name; leave out 'material'.")])
        return named
    lit = [part for part in parts if part.material and max(part.material.glow) > 0] or parts
    if not lit:
        raise SceneError([light.where("piece").problem(
            f"{light.label} has nothing left to glow of its piece",
            "Write the 'material' that each of the piece's lamps is.")])
    return lit


def unlit_notes(piece, parts, lights) -> list[str]:
    """Return a line for materials that glow in a piece's file and are no lamp of the scene."""
    if any(light.kind == "glow" and light.piece.name == piece.name for light in lights):
        return []
    names = [str(part.material.name or "a part") for part in parts if max(part.material.glow) > 0]
    return [f"Check: {', '.join(sorted(set(names)))} of {piece.name} glows in its file and gives no light "
            f"here. Add a lamp '{{name: ..., kind: glow, piece: {piece.name}, output: 300 cd/m2}}'."
            ] if names else []


def colour_notes(light, parts) -> list[str]:
    """Return a line for a lamp without a colour of a piece whose glow is coloured in its file."""
    shown = [np.asarray(part.material.glow, float) for part in select(light, parts)
             if part.material and part.material.glow_picture is None and max(part.material.glow) > 0]
    if light.colour is not None or not shown:
        return []
    mean = np.mean(shown, axis=0) / np.max(np.mean(shown, axis=0))
    if mean.min() > COLOURED:
        return []
    shares = ", ".join(f"{each:.2g}" for each in mean)
    return [f"Check: the glow of {light.piece.name} has a colour in its file, and {light.name} has none. "
            f"Write 'colour: [{shares}]' to have it."]


def lit_parts(light, parts) -> list[GlowPart]:
    """Return the parts that give a lamp's light, which are as many as can be sampled.

    Raises
    ------
    SceneError
        There are none, or they have too many triangles.
    """
    lit = select(light, parts)
    count = sum(len(part.mesh.faces) for part in lit)
    if count > MOST_TRIANGLES:
        raise SceneError([light.where("piece").problem(
            f"{light.label} would glow with {count} triangles, and {MOST_TRIANGLES} are the most",
            "Export a simpler mesh, or name the 'material' that glows.")])
    return lit


def turned_notes(light, parts) -> list[str]:
    """Return lines for faces that look inwards in a piece's file, which are turned where that is sure."""
    sound = [_sound(part) for part in lit_parts(light, parts) if part.material is not None]
    turned = sum(count for _, count in sound)
    lines = [f"Check: {turned} faces of {light.piece.name} look inwards in its file, and are turned outwards "
             "to glow."] if turned else []
    if any(body.closed and not body.wound for part, _ in sound
           for body in parts_of(np.asarray(part.mesh.vertices, float), np.asarray(part.mesh.faces))):
        lines.append(f"Check: {light.piece.name} has bodies with faces that look in and faces that look out, "
                     "and glows by each where it looks. Have its normals recalculated in the program that it "
                     "comes from.")
    return lines


def _sound(part: GlowPart) -> tuple[GlowPart, int]:
    """Return (a part with each of its faces once, outwards where it is closed, how many were turned)."""
    if part.material is None:
        return part, 0
    vertices = np.asarray(part.mesh.vertices, float)
    faces, turned = outward(vertices, sound_faces(vertices, np.asarray(part.mesh.faces)))
    return replace(part, mesh=replace(part.mesh, faces=faces)), turned


@builds(Glow)
def build_glow(light: Glow, setting: Setting) -> Fixture:
    """Build a glowing piece to emitters of even luminance, brighter where its file says so.

    Raises
    ------
    SceneError
        It has too many triangles.
    """
    parts = [_sound(part)[0] for part in lit_parts(light, setting.parts)]
    levels = np.array([_level(part) for part in parts])
    areas = np.array([_areas(part.mesh.vertices, part.mesh.faces).sum() for part in parts])
    lit = levels * areas > 0
    if not lit.any():
        raise SceneError([light.where("piece").problem(
            f"{light.label} has no surface that could glow", "Choose another piece or material.")])
    levels = levels / levels.max()
    flux = levels * areas
    emitters = []
    for part, share, there in zip(parts, flux / flux.sum(), lit, strict=True):
        if there:
            emitters.append(_emitter(light, part, float(share), alone=int(lit.sum()) == 1))
    return Fixture(tuple(emitters), (), 1 / np.pi, area=float(flux.sum()))


def _emitter(light, part: GlowPart, share: float, *, alone: bool) -> Emitter:
    mesh = part.mesh
    pictured = _pictured(part) if alone else None
    if pictured is not None:
        axes, picture = pictured
        return Emitter(0, light.name, np.asarray(mesh.vertices, float), np.asarray(mesh.faces), share,
                       world_from_light=axes, flat=True, picture=picture)
    vertices, faces = _evened(np.asarray(mesh.vertices, float), np.asarray(mesh.faces))
    return Emitter(0, light.name, vertices, faces, share,
                   symmetric=part.symmetric)


def _level(part: GlowPart) -> float:
    """Return how bright a part is against others of its piece. [1]"""
    material = part.material
    if material is None or not max(material.glow) > 0:
        return 1.0
    level = float(np.asarray(material.glow, float) @ LUMINANCE)
    return level if material.glow_picture is None else level * float(_shown(part).mean(axis=0) @ LUMINANCE)


def _shown(part: GlowPart) -> np.ndarray:
    """Return the colours of a part's glowing picture at places spread over it by area. Shape (n, 3)"""
    mesh, picture = part.mesh, part.material.glow_picture
    if mesh.uv is None:
        return linear_from_srgb(picture.reshape(-1, 3) / 255)
    areas = _areas(mesh.vertices, mesh.faces)
    # Golden-ratio steps spread the places evenly over triangles and within them, the same each time.
    steps = np.mod(0.5 + np.arange(1, 4097)[:, None] * [0.8191725134, 0.6710436067, 0.5497004779], 1.0)
    face = np.minimum(np.searchsorted(np.cumsum(areas) / areas.sum(), steps[:, 0]), len(areas) - 1)
    root = np.sqrt(steps[:, 1:2])
    weights = np.concatenate([1 - root, root * (1 - steps[:, 2:]), root * steps[:, 2:]], axis=1)
    uv = np.einsum("nk,nkc->nc", weights, np.asarray(mesh.uv, float)[np.asarray(mesh.faces)[face]])
    return linear_from_srgb(_texels(picture, uv) / 255)


def _texels(picture: np.ndarray, uv: np.ndarray) -> np.ndarray:
    """Return the texels at places of a picture that repeats, v upwards. Shape (..., 3)"""
    rows, columns = picture.shape[:2]
    column = np.floor(np.mod(uv[..., 0], 1.0) * columns).astype(int) % columns
    row = np.floor(np.mod(1 - uv[..., 1], 1.0) * rows).astype(int) % rows
    return picture[row, column].astype(float)


def _pictured(part: GlowPart):
    """Return (axes, picture) of a flat rectangle that shows a picture, None for anything else.

    The picture is linear, and of mean luminance 1, as an emitter's share already has its level.
    """
    material, mesh = part.material, part.mesh
    if material is None or material.glow_picture is None or mesh.uv is None:
        return None
    vertices, faces = np.asarray(mesh.vertices, float), np.asarray(mesh.faces)
    corners = vertices[faces]
    total = shapes.crosses(corners).sum(axis=0)
    length = np.linalg.norm(total)
    if not length > 0:
        # Its faces cancel each other, or are none.
        return None
    normal = total / length
    edge = corners[0, 1] - corners[0, 0]
    offsets = vertices - vertices.mean(axis=0)
    rectangle = _rectangle(offsets, edge, normal)
    if rectangle is None:
        return None
    x, y, axes = rectangle
    size = np.array([np.ptp(x), np.ptp(y)])
    whole = float(np.prod(size))
    if np.abs(offsets @ normal).max() > 1e-4 * size.max() or not np.isclose(
            _areas(vertices, faces).sum(), whole, rtol=1e-3):
        return None
    place = np.column_stack([x / size[0] + 0.5, y / size[1] + 0.5, np.ones(len(x))])
    affine, *_ = np.linalg.lstsq(place, np.asarray(mesh.uv, float), rcond=None)
    if np.abs(place @ affine - mesh.uv).max() > 1e-3:
        return None
    rows, columns = (min(each, TEXELS) for each in material.glow_picture.shape[:2])
    across, up = np.meshgrid((np.arange(columns) + 0.5) / columns, 1 - (np.arange(rows) + 0.5) / rows)
    uv = np.stack([across, up, np.ones_like(up)], axis=-1) @ affine
    shown = linear_from_srgb(_texels(material.glow_picture, uv) / 255) * np.asarray(material.glow, float)
    return axes, (shown / max(float((shown @ LUMINANCE).mean()), 1e-6)).astype(np.float32)


def _rectangle(offsets, edge, normal):
    """Return the two coordinates of a rectangle's corners, and its axes, by whichever edge fits.

    None where all edges are nothing.
    """
    best = None
    for other in (edge, *(b - a for a, b in zip(offsets[:-1], offsets[1:], strict=True))):
        x_axis = other - normal * (other @ normal)
        if not np.linalg.norm(x_axis) > 1e-9:
            continue
        x_axis = x_axis / np.linalg.norm(x_axis)
        y_axis = np.cross(normal, x_axis)
        x, y = offsets @ x_axis, offsets @ y_axis
        around = float(np.ptp(x) * np.ptp(y))
        if best is None or around < best[0] * (1 - 1e-9):
            best = (around, x, y, np.stack([x_axis, y_axis, normal], axis=1))
    return best[1:] if best is not None else None


def _areas(vertices, faces) -> np.ndarray:
    return np.linalg.norm(shapes.crosses(np.asarray(vertices, float)[np.asarray(faces)]), axis=1) / 2


def _evened(vertices, faces):
    """Return the same surface with its largest triangles split in four, without empty ones."""
    areas = _areas(vertices, faces)
    faces = faces[areas > 0]
    while len(faces) < MOST_SPLIT:
        areas = _areas(vertices, faces)
        large = areas > UNEVEN * areas.mean()
        if not large.any():
            break
        split = faces[large]
        a, b, c = (vertices[split[:, k]] for k in range(3))
        start, many = len(vertices), len(split)
        ab, bc, ca = (start + k * many + np.arange(many) for k in range(3))
        vertices = np.concatenate([vertices, (a + b) / 2, (b + c) / 2, (c + a) / 2])
        children = [np.stack(each, axis=1) for each in (
            (split[:, 0], ab, ca), (ab, split[:, 1], bc), (ca, bc, split[:, 2]), (ab, bc, ca))]
        faces = np.concatenate([faces[~large], *children])
    return vertices, faces
