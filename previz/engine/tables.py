"""Flatten a Stage into the plain arrays that the kernel reads.

No Mitsuba here: numpy in, numpy out, so that what the engine is given can be tested without one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.engine.glass_tables import is_sheet
from previz.engine.gloss import ANGLES, hemisphere_mean
from previz.engine.gloss_rows import is_smooth, own_rows
from previz.physics.bands import band_means
from previz.physics.triangles import areas
from previz.physics.uplift import uplift_basis
from previz.stage.records import SMOOTH, Emitter, Stage

NONE = 0xFFFFFFFF
"""Index that stands for 'no emitter', 'no texture'."""

TABLE_THETA = 512
"""Steps of an emitter's angular table from the axis to its widest angle."""

WIDEST_BEAM = np.radians(70.0)
"""Half angle above which a lamp is not treated as a beam. [rad]"""

TABLE_PHI = 72
"""Fewest steps of an angular table round the axis, where it is not the same all round."""

ALIGNMENT = 64
"""Bytes that a device array starts at a multiple of; the widest vector of any processor."""


def roomy(flat: np.ndarray) -> np.ndarray:
    """Return a copy of an array that starts aligned, with `ALIGNMENT` bytes of zeros behind it."""
    raw = np.zeros(flat.nbytes + 2 * ALIGNMENT, np.uint8)
    skip = -raw.ctypes.data % ALIGNMENT
    copy = raw[skip:skip + flat.nbytes].view(flat.dtype)
    copy[:] = flat
    return copy


@dataclass(frozen=True)
class Geometry:
    """All triangles of a stage as one mesh.

    Parameters
    ----------
    positions, normals : float32 array, shape (vertices, 3)
        Normals are zero where the face is to be shaded flat.
    uv : float32 array, shape (vertices, 2)
    faces : uint32 array, shape (faces, 3)
    face_surface, face_emitter, face_name : uint32 array, shape (faces,)
        Indices; face_emitter is NONE for anything that gives no light.
    names : tuple of str
        What face_name points to.
    """

    positions: np.ndarray
    normals: np.ndarray
    uv: np.ndarray
    faces: np.ndarray
    face_surface: np.ndarray
    face_emitter: np.ndarray
    face_name: np.ndarray
    names: tuple[str, ...]


def flatten_geometry(stage: Stage) -> Geometry:
    """Join every mesh and emitter of the stage, thin glass aside; its names are kept."""
    surface_index = {name: i for i, name in enumerate(stage.surfaces)}
    names = tuple(dict.fromkeys([m.name for m in stage.meshes] + [e.name for e in stage.emitters]))
    name_index = {name: i for i, name in enumerate(names)}
    parts, start = [], 0

    def add(vertices, faces, normals, uv, *indices):
        nonlocal start
        count = len(vertices)
        parts.append((
            np.asarray(vertices, np.float32),
            np.zeros((count, 3), np.float32) if normals is None else np.asarray(normals, np.float32),
            np.zeros((count, 2), np.float32) if uv is None else np.asarray(uv, np.float32),
            np.asarray(faces, np.uint32) + np.uint32(start),
            *(np.full(len(faces), index, np.uint32) for index in indices)))
        start += count

    for mesh in stage.meshes:
        if is_sheet(stage, mesh):
            continue
        add(mesh.vertices, mesh.faces, mesh.normals, mesh.uv, surface_index[mesh.surface], NONE,
            name_index[mesh.name])
    # A lamp's face mirrors and scatters nothing: what lands on it is lost in the housing.
    for i, emitter in enumerate(stage.emitters):
        add(emitter.vertices, emitter.faces, None, None, len(stage.surfaces), i,
            name_index[emitter.name])
    if not parts:
        # A tree needs a triangle; one without a face is met by nothing.
        add(np.zeros((3, 3)), [(0, 1, 2)], None, None, len(stage.surfaces), NONE, 0)
    return Geometry(*(np.concatenate(each) for each in zip(*parts, strict=True)), names)


@dataclass(frozen=True)
class SurfaceTables:
    """Every surface's lobes, a row a surface; the last row is the black face of a lamp.

    Parameters
    ----------
    reflectance, transmission, specular : float32 array, shape (surfaces, bands)
    gloss, roughness, mirror, under : float32 array, shape (surfaces,)
        Share with gloss; GGX alpha; 1 where the gloss is a perfect mirror; mean of what the
        gloss leaves to the diffuse part, used so that the diffuse lobe keeps the energy.
    gloss_a, gloss_b : float32 array, shape (surfaces, ANGLES)
        Directional albedo of the gloss.
    texture : int array, shape (surfaces, 3)
        Offset into `texels`, rows and columns; offset -1 for none.
    texels : float32 array, shape (texels, 3)
    basis : float32 array, shape (3, bands)
        Linear Rec. 709 reflectance to bands.
    subsurface : float32 array, shape (surfaces,)
        How far light wanders under the surface, over how far it does in skin.
    lobe : float32 array, shape (surfaces,)
        As in `Surface`.
    """

    reflectance: np.ndarray
    transmission: np.ndarray
    specular: np.ndarray
    gloss: np.ndarray
    roughness: np.ndarray
    mirror: np.ndarray
    under: np.ndarray
    gloss_a: np.ndarray
    gloss_b: np.ndarray
    texture: np.ndarray
    texels: np.ndarray
    basis: np.ndarray
    subsurface: np.ndarray
    lobe: np.ndarray


def flatten_surfaces(stage: Stage, bands: int) -> SurfaceTables:
    """Average every surface's spectra over the bands and tabulate its gloss."""
    count = len(stage.surfaces) + 1
    reflectance, transmission, specular = (np.zeros((count, bands), np.float32) for _ in range(3))
    gloss, roughness, mirror, subsurface, lobe = (np.zeros(count, np.float32) for _ in range(5))
    gloss_a, gloss_b = (np.zeros((count, ANGLES), np.float32) for _ in range(2))
    texture, texels, offset = np.full((count, 3), -1, np.int64), [np.zeros((1, 3), np.float32)], 1
    under = np.ones(count, np.float32)
    for i, surface in enumerate(stage.surfaces.values()):
        reflectance[i] = band_means(surface.reflectance, bands)
        transmission[i] = band_means(surface.transmission, bands)
        specular[i] = band_means(surface.specular, bands)
        smooth = is_smooth(surface)
        a, b = gloss_a[i], gloss_b[i] = own_rows(surface)
        gloss[i], roughness[i] = surface.gloss, max(round(float(surface.roughness), 4), SMOOTH)
        mirror[i] = smooth and surface.gloss > 0
        subsurface[i], lobe[i] = surface.subsurface, surface.lobe
        f0 = float(np.mean(specular[i]))
        kept = (f0 * a + b) * (1 + f0 * (1 / np.maximum(a + b, 1e-3) - 1)) if surface.fuzz is None else f0 * a
        under[i] = max(1e-3, 1 - surface.gloss * hemisphere_mean(kept))
        if surface.texture is not None:
            image = np.ascontiguousarray(surface.texture, np.float32)
            texture[i] = offset, *image.shape[:2]
            texels.append(image.reshape(-1, 3))
            offset += len(texels[-1])
    return SurfaceTables(reflectance, transmission, specular, gloss, roughness, mirror, under, gloss_a,
                         gloss_b, texture, np.concatenate(texels),
                         uplift_basis(bands).astype(np.float32), subsurface, lobe)


@dataclass(frozen=True)
class EmitterTables:
    """Every emitter, a row each, and the triangles they are sampled from.

    Parameters
    ----------
    lamp, first, triangles : uint32 array, shape (emitters,)
        Lamp index; where its triangles start in the whole geometry's faces; how many.
    radiance : float32 array, shape (emitters,)
        Lambertian: share / (pi · area). With a table: share / apparent area. [1/(m² sr)] or [1/m²]
    kind : uint32 array, shape (emitters,)
        0 Lambertian, 1 table and flat, 2 table and round.
    symmetric : float32 array, shape (emitters,)
        1 where the facing half alone may be sampled.
    centre, axis_x, axis_y, axis_z : float32 array, shape (emitters, 3)
    focus : float32 array, shape (emitters,)
        1/m; 0 for a plain table.
    size, cone, behind : float32 array, shape (emitters,)
        Radius of a disc of the same area [m]; for a beam, the cosine of the half angle of a cone
        that holds all of its light, and how far behind the lens that cone's tip lies [m]; cone is
        0 for anything that lights more than `WIDEST_BEAM`.
    table_offset, table_phi : uint32 array, shape (emitters,)
        Where the table starts; steps round the axis (1 = same all round).
    table_theta : float32 array, shape (emitters,)
        Widest angle of the table. [rad]
    table : float32 array
        All intensities. [cd/lm]
    picture : uint32 array, shape (emitters, 3)
        Where its picture starts in `texels`, its rows and columns; `NONE` for none.
    span : float32 array, shape (emitters, 2)
        Width and height of a pictured emitter, along its first two axes. [m]
    texels : float32 array, shape (3 texels,)
        Linear Rec. 709 shares. [1]
    lamp_first, lamp_count : uint32 array, shape (lamps,)
        Emitters of each lamp (they are sorted by lamp). Count is 0 for sun and sky.
    """

    lamp: np.ndarray
    first: np.ndarray
    triangles: np.ndarray
    radiance: np.ndarray
    kind: np.ndarray
    symmetric: np.ndarray
    centre: np.ndarray
    axis_x: np.ndarray
    axis_y: np.ndarray
    axis_z: np.ndarray
    focus: np.ndarray
    size: np.ndarray
    cone: np.ndarray
    behind: np.ndarray
    table_offset: np.ndarray
    table_phi: np.ndarray
    table_theta: np.ndarray
    table: np.ndarray
    picture: np.ndarray
    span: np.ndarray
    texels: np.ndarray
    lamp_first: np.ndarray
    lamp_count: np.ndarray


_OF_EMITTERS = set(EmitterTables.__dataclass_fields__) - {"table", "texels", "lamp_first", "lamp_count"}


def _keep_picture(emitter: Emitter, texels: list) -> tuple[int, int, int]:
    """Add an emitter's picture to the texels; return where it starts, its rows and columns."""
    if emitter.picture is None:
        return NONE, 1, 1
    start = sum(len(each) for each in texels) // 3
    texels.append(np.asarray(emitter.picture, np.float32).ravel())
    return start, *emitter.picture.shape[:2]


def _resample(emitter: Emitter) -> tuple[np.ndarray, int, float]:
    """Return (intensity over a regular grid [cd/lm], steps round, widest angle [rad])."""
    table = emitter.table
    values = np.asarray(table.values, float)
    theta = np.radians(np.asarray(table.theta_deg, float))
    lit = np.flatnonzero(values.max(axis=1) > 0)
    widest = theta[min(lit[-1] + 1, len(theta) - 1)]
    grid = np.linspace(0, widest, TABLE_THETA)
    if values.shape[1] == 1:
        out, around = np.interp(grid, theta, values[:, 0])[:, None], 1
        weights = np.full(1, 2 * np.pi)
    else:
        phi = np.radians(np.asarray(table.phi_deg, float))
        around = max(TABLE_PHI, len(table.phi_deg) - 1)
        angles = np.arange(around) * 2 * np.pi / around
        rings = np.stack([np.interp(angles, phi, row, period=2 * np.pi) for row in values])
        out = np.stack([np.interp(grid, theta, rings[:, k]) for k in range(around)], axis=1)
        weights = np.full(around, 2 * np.pi / around)
    # The grid must carry exactly one lumen, whatever resampling did to the edges.
    flux = np.trapezoid((out @ weights) * np.sin(grid), grid)
    return out / flux, around, float(widest)


def _envelope(emitter: Emitter, widest: float) -> tuple[float, float]:
    """Return (cosine of half angle, distance of the tip behind) of a cone round a beam's light."""
    if emitter.table is None or not emitter.flat or widest > WIDEST_BEAM:
        return 0.0, 0.0
    vertices = np.asarray(emitter.vertices, float)
    centre = (vertices.min(axis=0) + vertices.max(axis=0)) / 2
    radius = float(np.linalg.norm(vertices - centre, axis=1).max())
    near = 0.0 if not np.isfinite(emitter.focus) else radius / emitter.focus
    slope = np.tan(widest) + near
    return float(np.cos(np.arctan(slope))), radius / slope


def flatten_emitters(stage: Stage, geometry: Geometry) -> EmitterTables:
    """Lay out the stage's emitters for sampling.

    Raises
    ------
    ValueError
        The emitters are not sorted by lamp, or one has no area.
    """
    emitters, lamps = stage.emitters, len(stage.lamps)
    owners = np.array([e.lamp for e in emitters], int)
    if np.any(np.diff(owners) < 0):
        raise ValueError("emitters must be sorted by lamp")
    rows, tables, texels = [], [np.zeros(1, np.float32)], []
    for i, emitter in enumerate(emitters):
        vertices = np.asarray(emitter.vertices, float)
        axes = np.asarray(emitter.world_from_light, float)
        area = float(areas(vertices[np.asarray(emitter.faces)]).sum())
        if not area > 0:
            raise ValueError(f"emitter '{emitter.name}' has no area")
        offset, around, widest, kind, shown = 0, 1, 1.0, 0, np.pi * area
        if emitter.table is not None:
            values, around, widest = _resample(emitter)
            # A closed convex shape shows a quarter of its area on average (Cauchy).
            kind, shown = (1, area) if emitter.flat else (2, area / 4)
            offset = sum(map(len, tables))
            tables.append(values.astype(np.float32).ravel())
        cone, behind = _envelope(emitter, widest)
        rows.append({
            "lamp": emitter.lamp, "first": int(np.flatnonzero(geometry.face_emitter == i)[0]),
            "triangles": len(emitter.faces), "radiance": emitter.share / shown, "kind": kind,
            "symmetric": float(emitter.symmetric),
            "centre": (vertices.min(axis=0) + vertices.max(axis=0)) / 2,
            "axis_x": axes[:, 0], "axis_y": axes[:, 1], "axis_z": axes[:, 2],
            "focus": 0.0 if not np.isfinite(emitter.focus) else 1 / emitter.focus,
            "size": np.sqrt(area / np.pi), "cone": cone, "behind": behind,
            "table_offset": offset, "table_phi": around, "table_theta": widest,
            "picture": _keep_picture(emitter, texels),
            "span": np.ptp((vertices - vertices.mean(axis=0)) @ axes, axis=0)[:2]})
    columns = {key: [row[key] for row in rows] for key in _OF_EMITTERS} | {
        "table": np.concatenate(tables), "texels": np.concatenate(texels or [np.zeros(3, np.float32)]),
        "lamp_first": [np.searchsorted(owners, k) for k in range(lamps)],
        "lamp_count": [np.sum(owners == k) for k in range(lamps)]}
    whole = {"lamp", "first", "triangles", "kind", "table_offset", "table_phi", "lamp_first",
             "lamp_count", "picture"}
    return EmitterTables(**{key: np.array(value, np.uint32 if key in whole else np.float32)
                            for key, value in columns.items()})
