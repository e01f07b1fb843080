"""Put a Stage's tables where the kernel can read them: Dr.Jit buffers and one Mitsuba scene.

Only this module, `kernel`, `shading`, `lighting` and their callers in `engine` know Mitsuba.
Import it after `backend.start`.
"""

from __future__ import annotations

import hashlib

import numpy as np

from previz.engine.choice import LampChoice, guide_brightness
from previz.engine.device import STRIDE, on_device
from previz.engine.glass_tables import flatten_bodies, flatten_sheets
from previz.engine.gloss_rows import ACROSS, VARIED, flatten_gloss
from previz.engine.images import images_of
from previz.engine.jit import dr, mi
from previz.engine.mirrors import flat_mirrors
from previz.engine.panes import CLEAR_TINT
from previz.engine.subsurface import Profile
from previz.engine.tables import NONE, flatten_emitters, flatten_geometry, flatten_surfaces
from previz.engine.tiles import flatten_tiles
from previz.physics.bands import band_means
from previz.stage.records import Stage


def _traced(name: str, positions, faces, parent=None):
    """Return triangles as a scene of the ray tracer.

    A scene that one kernel traces with another must have that as its parent: on a GPU the two share a table.
    """
    mesh = mi.Mesh(name, vertex_count=len(positions), face_count=len(faces))
    parameters = mi.traverse(mesh)
    parameters["vertex_positions"] = on_device(mi.Float, positions)
    parameters["faces"] = on_device(mi.UInt, faces)
    parameters.update()
    parts = {"type": "scene", name: mesh}
    return mi.load_dict(parts if parent is None else parts | {"parent_scene": parent})


_last = (b"", None)


def _stage_traced(positions, faces):
    """Return a stage's triangles as a scene of the ray tracer: the last one where they are the same.

    Options that differ in levels, colours and surfaces are opened one after the other, and to sort
    their triangles takes longest. Other triangles let go of the last before they are sorted.
    """
    global _last
    if not mi.variant().startswith("llvm"):
        # Quick on a GPU; and with CUDA glass traced with it shares its table.
        return _traced("stage", positions, faces)
    digest = hashlib.blake2b(mi.variant().encode())
    for array in (positions, faces):
        digest.update(f"{array.dtype} {array.shape}".encode())
        digest.update(np.ascontiguousarray(array))
    key, scene = _last
    if key != digest.digest():
        _last, scene = (b"", None), None
        scene = _traced("stage", positions, faces)
        _last = (digest.digest(), scene)
    return scene


class Buffers:
    """A Stage on the device, for paths that carry so many bands of wavelengths.

    What lamps give where is measured from so many `points`, `choice.POINTS` by default, or as `like` has it;
    see `LampChoice`. Paths are sent as in `aimed`, of a stage with the same lamps and guides, where that is
    given: nothing is measured then.

    Attributes are flat Dr.Jit buffers named as in `tables`; `has_*` flags say at trace time which
    features the scene needs, so that a scene without them does not pay for them. Numbers that are
    the scene's own are opaque to the compiler or read from tables, so that scenes that need the
    same features, and their options, share one kernel. `lamp_count` is `lamps` for the kernel. What
    is read together lies together, in fours (see `device.read_four`):

    - `vertices`: position and u; `smooth`: normal and v, of a corner
    - `corners`: the three corners and the surface, of a face
    - `body`: mean reflectance, mean transmission, lobe and light under the surface, of a surface
    - `shine`: gloss, `under`, mean specular and roughness (below 0 a mirror), of a surface
    - `emitter_owner`: lamp, first face, number of faces and kind; `emitter_middle`: centre and
      radiance; `emitter_ahead`, `_right`, `_up`: an axis each and focus, symmetry, widest angle;
      `emitter_beam`: size, cone, behind; `emitter_table_at`: offset, steps round, emitters of its
      lamp; of an emitter
    - `emitter_of_lamp`: first and number of the emitters, of a lamp, in twos
    - `sheet_vertices`, `sheet_normals`, `sheet_corners`, `sheet_data`: of thin glass, in a scene
      of its own; index and whether it is closed, of a sheet
    - `gloss_albedo`: A and B at an angle and at the next, of a row of `gloss_rows` at an angle
    - `gloss_means`, `coat`, `tile_at`, `texels_of_tiles`, `relief_at`, `slopes`, `per_texture`: as in
      `gloss_rows` and `tiles`, where there are such surfaces
    - `sky`: at a place of its table and the next, and at both in the row under it
    - `sky_colour`: colour at a place of that table; `stars`: direction and light, of a cell of their grid
    """

    beside = ("geometry", "sheets")
    """Tables of numpy's, that kernels do not read; see `frozen`."""

    def __init__(self, stage: Stage, bands: int, points: int | None = None,
                 like: LampChoice | None = None, aimed: Buffers | None = None):
        self.bands = bands
        self.lamps = len(stage.lamps)
        self.lamp_count = mi.UInt(1) if self.lamps < 2 else dr.opaque(mi.UInt, self.lamps)
        self.geometry = flatten_geometry(stage)
        self.scene = _stage_traced(self.geometry.positions, self.geometry.faces)
        self._upload_geometry()
        surfaces = flatten_surfaces(stage, bands)
        self._upload_surfaces(surfaces)
        self._upload_gloss(flatten_gloss(stage, surfaces.gloss_a, surfaces.gloss_b), surfaces)
        self._upload_tiles(stage, flatten_tiles(stage, bands))
        self._upload_glass(stage)
        self._upload_emitters(flatten_emitters(stage, self.geometry))
        self._upload_sky(stage)
        self._upload_flat_things(stage)
        self._upload_haze(stage)
        choice = self.choice = LampChoice(self, stage, points, like) if aimed is None else aimed.choice
        if aimed is None:
            self._weigh_guides(*guide_brightness(self, stage))
        else:
            self.guide_data = aimed.guide_data
            # What its mirrors send on, if it has any, is of its own places.
            if len(flat_mirrors(stage, self.geometry, self.sheets)):
                choice = LampChoice(self, stage)
        self.images = images_of(self, stage, choice)
        if points is None:
            choice.let_go()

    def _upload_geometry(self):
        geometry = self.geometry
        whole = np.concatenate([geometry.positions, geometry.uv[:, :1]], axis=1)
        self.vertices = on_device(mi.Float, whole)
        self.smooth = on_device(mi.Float, np.concatenate([geometry.normals, geometry.uv[:, 1:]],
                                                         axis=1))
        self.corners = on_device(mi.UInt, np.concatenate(
            [geometry.faces, geometry.face_surface[:, None]], axis=1))
        self.face_emitter = on_device(mi.UInt, geometry.face_emitter)
        self.face_name = on_device(mi.UInt, geometry.face_name)
        self.has_smooth = bool(np.any(geometry.normals))

    def _upload_surfaces(self, tables):
        self.reflectance = on_device(mi.Float, tables.reflectance)
        self.transmission = on_device(mi.Float, tables.transmission)
        self.specular = on_device(mi.Float, tables.specular)
        self.body = on_device(mi.Float, np.stack(
            [tables.reflectance.mean(axis=1), tables.transmission.mean(axis=1), tables.lobe,
             tables.subsurface], axis=1))
        self.texture = on_device(mi.Int, tables.texture)
        self.texels = on_device(mi.Float, np.pad(tables.texels, ((0, 0), (0, 1))))
        self.basis = tables.basis.tolist()
        # Read by kernels, not compiled into them: however many surfaces there are, they share one.
        self.black = dr.opaque(mi.UInt, len(tables.gloss) - 1)
        self.has_transmission = bool(np.any(tables.transmission))
        self.has_lobe = bool(np.any(tables.lobe))
        self.has_gloss = bool(np.any(tables.gloss))
        self.has_mirror = bool(np.any(tables.mirror))
        self.has_rough = bool(np.any(tables.gloss * (1 - tables.mirror)))
        spread = tables.specular.max(axis=1) - tables.specular.min(axis=1)
        self.has_coloured_gloss = bool(np.any(spread > 1e-4))
        self.has_texture = bool(np.any(tables.texture[:, 0] >= 0))
        self.has_subsurface = bool(np.any(tables.subsurface))
        if self.has_subsurface:
            self.seep = Profile(self.bands)

    def _upload_gloss(self, rows, tables):
        width = np.where(rows.fuzz_scale > 0, rows.fuzz_scale, tables.roughness)
        self.shine = on_device(mi.Float, np.stack(
            [tables.gloss, tables.under, tables.specular.mean(axis=1),
             np.where(tables.mirror > 0, -1, width)], axis=1))
        self.gloss_albedo = on_device(mi.Float, np.stack(
            [rows.a, rows.b, *(np.append(each[:, 1:], each[:, -1:], axis=1) for each in (rows.a, rows.b))],
            axis=2))
        self.has_across, self.has_varied = (bool(np.any(rows.coat[:, 3] == kind))
                                            for kind in (ACROSS, VARIED))
        self.has_fuzz = bool(np.any(rows.coat[:, 1]))
        if self.has_across or self.has_varied or self.has_fuzz:
            self.coat = on_device(mi.Float, rows.coat)
        if self.has_varied:
            self.gloss_means = on_device(mi.Float, np.pad(rows.means, ((0, 0), (0, 1))))

    def _upload_tiles(self, stage, tiles):
        surfaces = stage.surfaces.values()
        self.has_pattern = any(each.pattern is not None for each in surfaces)
        self.has_relief = any(each.relief is not None for each in surfaces)
        self.has_uv = self.has_texture or self.has_pattern or self.has_relief or self.has_across
        self.has_texture_size = self.has_texture and bool(np.any(tiles.per_texture[:, :2] != 1))
        if self.has_texture_size:
            self.per_texture = on_device(mi.Float, tiles.per_texture)
        if self.has_pattern or self.has_relief:
            self.reliefs_apart, self.tile_stride, self.patterns_clip = tiles.apart, tiles.stride, tiles.clips
            self.tile_at = on_device(mi.UInt, tiles.tile_at)
            self.texels_of_tiles = on_device(mi.Float, tiles.texels)
        if self.has_pattern:
            self.second = on_device(mi.Float, tiles.second)
        if self.has_relief and tiles.apart:
            self.relief_at = on_device(mi.UInt, tiles.relief_at)
            self.slopes = on_device(mi.Float, tiles.slopes)

    def _upload_glass(self, stage: Stage):
        """Lay out the glass of meshes: sheets with a scene of their own, and bodies' surfaces."""
        ior, absorption = flatten_bodies(stage, self.bands)
        self.has_bodies = bool(np.any(ior))
        self.has_body_tint = bool(np.any(absorption))
        if self.has_bodies:
            self.body_ior = on_device(mi.Float, ior)
            self.body_absorption = on_device(mi.Float, absorption)
        sheets = self.sheets = flatten_sheets(stage, self.bands)
        self.has_sheets = sheets is not None
        if not self.has_sheets:
            return
        self.sheet_scene = _traced("sheets", sheets.positions, sheets.faces, self.scene)
        self.has_smooth_sheets = bool(np.any(sheets.normals))
        self.has_sheet_tint = bool(np.any(sheets.tint < CLEAR_TINT))
        self.sheet_vertices = on_device(mi.Float, np.pad(sheets.positions, ((0, 0), (0, 1))))
        self.sheet_normals = on_device(mi.Float, np.pad(sheets.normals, ((0, 0), (0, 1))))
        self.sheet_corners = on_device(mi.UInt, np.concatenate(
            [sheets.faces, sheets.face_sheet[:, None]], axis=1))
        self.sheet_mesh = on_device(mi.UInt, sheets.face_mesh)
        self.sheet_data = on_device(mi.Float, np.pad(
            np.stack([sheets.ior, sheets.closed], axis=1), ((0, 0), (0, 2))))
        self.sheet_density = on_device(mi.Float, -np.log(np.maximum(sheets.tint, 1e-9)))

    def _upload_emitters(self, tables):
        self.emitters = len(tables.lamp)

        def fours(kind, *columns):
            rows = np.column_stack(columns) if self.emitters else np.zeros((1, 4))
            return on_device(kind, rows)

        self.emitter_owner = fours(mi.UInt, tables.lamp, tables.first, tables.triangles, tables.kind)
        self.emitter_middle = fours(mi.Float, tables.centre, tables.radiance)
        self.emitter_ahead = fours(mi.Float, tables.axis_z, tables.focus)
        self.emitter_right = fours(mi.Float, tables.axis_x, tables.symmetric)
        self.emitter_up = fours(mi.Float, tables.axis_y, tables.table_theta)
        self.emitter_beam = fours(mi.Float, tables.size, tables.cone, tables.behind,
                                  np.zeros(self.emitters))
        self.emitter_table_at = fours(mi.UInt, tables.table_offset, tables.table_phi,
                                      tables.lamp_count[tables.lamp], np.zeros(self.emitters))
        self.emitter_of_lamp = on_device(mi.UInt, np.column_stack(
            [tables.lamp_first, tables.lamp_count]) if len(tables.lamp_first) else np.zeros((1, 2)))
        self.emitter_table = on_device(mi.Float, tables.table)
        self.emitter_picture = on_device(mi.UInt, tables.picture if self.emitters else np.zeros(3))
        self.emitter_span = on_device(mi.Float, tables.span if self.emitters else np.zeros(2))
        self.emitter_texels = on_device(mi.Float, np.pad(
            tables.texels.reshape(-1, 3), ((0, 0), (0, 1))))
        self.has_tables = bool(np.any((tables.kind == 1) | (tables.kind == 2)))
        self.has_thin = bool(np.any(tables.kind == 3))
        self.has_round_tables = bool(np.any(tables.kind == 2))
        self.has_phi = bool(np.any(tables.table_phi > 1))
        self.has_focus = bool(np.any(tables.focus > 0))
        starts = np.reshape(tables.picture, (-1, 3))[:, 0]
        self.has_pictures = bool(np.any(starts != NONE))

    def _upload_sky(self, stage: Stage):
        self.sun_lamp = -1 if stage.sun is None else stage.sun.lamp
        self.sky_lamp = -1 if stage.sky is None else stage.sky.lamp
        if stage.sun is not None:
            half = np.radians(stage.sun.angle_deg / 2)
            # Kept as sin²: the cosine of half a degree has too few digits in single precision.
            # E on a surface facing the disc is L pi sin²(half).
            values = [*stage.sun.towards, np.sin(half) ** 2, 1 / (np.pi * np.sin(half) ** 2),
                      1 / (2 * np.pi * (1 - np.cos(half)))]
            self.sun = on_device(mi.Float, values)
        face = None if stage.sun is None else stage.sun.face
        self.has_sun_face = face is not None
        if face is not None:
            self.sun_face_shape = np.shape(face.radiance)
            self.sun_face = on_device(mi.Float, np.asarray(face.radiance))
            self.sun_axes = on_device(mi.Float, [*face.right, *face.up])
        self.has_sky_colour = stage.sky is not None and stage.sky.colour is not None
        self.has_stars = stage.sky is not None and stage.sky.stars is not None
        if stage.sky is not None:
            self.sky_shape = np.shape(stage.sky.radiance)
            sky = np.asarray(stage.sky.radiance)
            after = np.roll(sky, -1, axis=1)
            self.sky = on_device(mi.Float, np.stack([sky[:-1], after[:-1], sky[1:], after[1:]], axis=2))
        if self.has_sky_colour:
            colour = np.asarray(stage.sky.colour)
            self.sky_colour = on_device(mi.Float, np.pad(colour, ((0, 0), (0, 0), (0, 1))))
        if self.has_stars:
            stars = stage.sky.stars
            self.star_grid = stars.points.shape[:2]
            self.stars = on_device(mi.Float, stars.points)
            sine2 = np.sin(np.radians(stars.radius_deg)) ** 2
            self.star_data = on_device(mi.Float, [sine2, 1 / (np.pi * sine2), 1 - stars.share])

    def _upload_haze(self, stage: Stage):
        haze = stage.haze
        self.has_haze = haze is not None and haze.density > 0
        if self.has_haze:
            self.haze_thins = haze.thinning > 0
            self.haze_data = on_device(mi.Float, [
                haze.density, haze.g, haze.thinning, haze.floor, *haze.low, *haze.high])
            self.haze_albedo = [dr.opaque(mi.Float, float(x)) for x in band_means(haze.albedo, self.bands)]

    def _upload_flat_things(self, stage: Stage):
        """Lay panes and guides out as rectangles."""
        panes = [self.rectangle(p.centre, p.half_u, p.half_v, (p.ior, float(p.sheets), 0.0))
                 for p in stage.panes]
        guides = [self.rectangle(g.centre, g.half_u, g.half_v, (g.radius, 1.0, 0.0))
                  for g in stage.guides]
        self.panes, self.guides = len(panes), len(guides)
        self.pane_data = on_device(mi.Float, panes or [[0.0]])
        self.guide_data = on_device(mi.Float, guides or [[0.0]])
        self.guide_round = [g.radius > 0 for g in stage.guides]
        self.guide_opening = [g.opening for g in stage.guides]
        tints = [band_means(p.tint, self.bands) for p in stage.panes]
        self.has_tint = any(float(np.min(t)) < 0.999 for t in tints)
        self.pane_tint = [[float(x) for x in t] for t in tints]

    @staticmethod
    def rectangle(centre, half_u, half_v, extras) -> list[float]:
        """Return what `device.Rectangle` reads: centre, half edges, normal, duals, four extras."""
        normal = np.cross(half_u, half_v)
        area = 4 * np.linalg.norm(normal)
        normal = normal / max(np.linalg.norm(normal), 1e-12)
        u, v = (np.asarray(h, float) for h in (half_u, half_v))
        return [*centre, *u, *v, *normal, *(u / max(u @ u, 1e-12)), *(v / max(v @ v, 1e-12)),
                area, *extras]

    def _weigh_guides(self, counted, brightness):
        """Write what each guide counts into its second extra, and its brightness over that into its third."""
        if self.guides:
            data = np.array(self.guide_data).reshape(-1, STRIDE)
            data[:, 20], data[:, 21] = counted, brightness / counted
            self.guide_data = on_device(mi.Float, data)
