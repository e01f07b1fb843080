"""The same Stage for the renderer's own plain path tracer: what our speed is measured against.

Nothing here is used to make a picture. One picture of all lamps mixed, by Mitsuba's `path` and its
own plugins, is the yardstick of the bench, and tests hold the kernel against it.

What is different there, or left out:

- Gloss: a rough plastic or conductor stands for it. Its Fresnel factor and the loss of the diffuse
  light under it differ from ours by some per cent; matt surfaces and cloth are exact.
- A pane mirrors by the mean of both polarisations (0.1 % off at 30°, 3 % at 75°), and only paths
  that are followed through it meet light behind one.
- A lamp with an angular table becomes a point that projects it: no size, no focus, no part in the
  picture. One that shines wider than 70° to a side, or is not flat, becomes an even diffuse face.
- Colours are Rec. 709: exact for grey, the usual compromise for the rest.
- Haze is even and is rendered by `volpath`. With bounds on all sides it is a box that no surface
  may lie in the faces of; without bounds sun and sky are not right, as it ends at no wall.
- Clear glass of meshes is a dielectric, by the mean of both polarisations as a pane's is; a sheet
  with both its faces bends light. Tinted glass is refused.
- Guides do not exist.

Units: the picture is luminance. In RGB the renderer carries no unit, so emitters are given Rec. 709
components whose Y is in cd/m².
"""

from __future__ import annotations

import numpy as np

from previz.engine.tables import roomy
from previz.physics.chromatic_adaptation import REC709_FROM_XYZ
from previz.physics.daylight import daylight_spectrum
from previz.physics.spectra import xyz_of
from previz.physics.triangles import areas
from previz.stage.records import SMOOTH, Camera, Emitter, Pane, Stage, Surface

UNBOUNDED = 1e4
"""Haze that reaches farther than this has no bounds. [m]"""

WIDEST_BEAM = 70.0
"""Half angle up to which a beam is thrown as a picture from a point. [deg]"""

BEAM_TEXELS = 1024
SKY_ROWS = 512
SHEET_GAP = 0.01
"""Distance of the two sheets of double glazing. [m]"""


class Parts:
    """Writes the parts of a stage as plugin descriptions, in Rec. 709.

    Parameters
    ----------
    mi : module
        Mitsuba, started.
    stage : Stage
    """

    raw = True
    """Pictures are numbers as they are."""

    def __init__(self, mi, stage: Stage):
        self.mi, self.stage = mi, stage
        self.haze = None if stage.haze is None else mi.load_dict(self._haze())
        self.bounded = stage.haze is not None and bool(np.all(stage.haze.high < UNBOUNDED))

    def spectrum(self, values: np.ndarray):
        """Return a reflectance or transmission."""
        white = daylight_spectrum(6504.0)
        rgb = REC709_FROM_XYZ @ xyz_of(np.asarray(values) * white)
        return {"type": "rgb", "value": [float(x) for x in np.clip(rgb, 0, 1)]}

    def light(self, lamp: int, factor: float):
        """Return the radiance of a lamp that is `factor` per unit of its output."""
        return {"type": "rgb", "value": [float(x) for x in self.rgb(lamp) * factor]}

    def rgb(self, lamp: int) -> np.ndarray:
        """Return a lamp's output as Rec. 709 with Y in lm (lx), clipped to what that can show."""
        light = self.stage.lamps[lamp]
        xyz = xyz_of(light.spectrum * light.gel) * light.output * light.level * light.on
        shown = np.maximum(REC709_FROM_XYZ @ xyz, 0)
        luminance = (np.linalg.inv(REC709_FROM_XYZ) @ shown)[1]
        return shown * (xyz[1] / luminance) if luminance > 0 else shown

    def of_pictures(self, lamp: int) -> np.ndarray:
        """Return what a picture of a lamp's light is multiplied by, over its channels."""
        return self.rgb(lamp)

    def _haze(self) -> dict:
        """Return the medium of even haze."""
        haze = self.stage.haze
        if haze.thinning:
            raise ValueError("the plain path tracer has no haze that thins with height")
        return {"type": "homogeneous", "sigma_t": float(haze.density),
                "albedo": self.spectrum(haze.albedo), "phase": {"type": "hg", "g": float(haze.g)}}

    def in_haze(self, part: dict, at=None) -> dict:
        """Return a light or camera that stands in the haze, where there is any."""
        if self.haze is None:
            return part
        haze = self.stage.haze
        if self.bounded and (at is None or np.any(at < haze.low) or np.any(at > haze.high)):
            return part
        return part | {"medium": self.haze}

    def haze_box(self) -> dict:
        """Return the surface, which light does not notice, round haze that is bounded."""
        haze = self.stage.haze
        middle, half = (haze.high + haze.low) / 2, (haze.high - haze.low) / 2
        return {"type": "cube", "to_world": self._placed(np.diag(half), middle),
                "bsdf": {"type": "null"}, "interior": self.haze}

    def surface(self, surface: Surface) -> dict:
        """Return the BSDF of a surface."""
        for what in ("pattern", "relief", "across", "fuzz", "texture_size"):
            if getattr(surface, what) is not None:
                raise ValueError(f"the plain renderer has no {what} for '{surface.name}'")
        if surface.glass is not None:
            return self._glass(surface)
        matt = self._matt(surface)
        if not surface.gloss > 0:
            return matt
        metal = not np.any(surface.reflectance) and not np.any(surface.transmission)
        smooth = surface.roughness < SMOOTH
        kind = ("" if smooth else "rough") + ("conductor" if metal else "plastic")
        shine = {"type": kind} if smooth else {"type": kind, "distribution": "ggx",
                                               "alpha": float(surface.roughness)}
        if metal:
            shine |= {"material": "none", "specular_reflectance": self.spectrum(surface.specular)}
        else:
            root = float(np.sqrt(np.mean(surface.specular)))
            shine |= {"int_ior": (1 + root) / (1 - root), "nonlinear": False,
                      "diffuse_reflectance": self._reflectance(surface)}
        shine = {"type": "twosided", "shine": shine}
        if surface.gloss >= 1:
            return shine
        return {"type": "blendbsdf", "weight": float(surface.gloss), "a": matt, "b": shine}

    @staticmethod
    def _glass(surface: Surface) -> dict:
        """Return clear glass: a sheet drawn as one face, or a boundary that refracts."""
        glass = surface.glass
        if np.any(glass.absorption):
            raise ValueError(f"the plain renderer has no tint for '{surface.name}'")
        thin = glass.thickness > 0 and not glass.closed
        return {"type": "thindielectric" if thin else "dielectric", "int_ior": float(glass.ior),
                "ext_ior": 1.0}

    def _reflectance(self, surface: Surface):
        if surface.texture is None:
            return self.spectrum(surface.reflectance)
        picture = self.mi.Bitmap(np.ascontiguousarray(surface.texture, np.float32))
        return {"type": "bitmap", "bitmap": picture, "raw": self.raw}

    def _matt(self, surface: Surface) -> dict:
        """Return Lambertian reflection and, by a blend, Lambertian transmission; both exact."""
        front = {"type": "twosided",
                 "matt": {"type": "diffuse", "reflectance": self._reflectance(surface)}}
        through = np.asarray(surface.transmission)
        if not np.any(through):
            return front
        if surface.lobe:
            raise ValueError(f"the plain renderer has no lobe for '{surface.name}'")
        share = float(np.mean(through) / np.mean(through + surface.reflectance))
        share = float(np.clip(share, np.max(through), 1 - np.max(surface.reflectance)))
        front["matt"]["reflectance"] = self.spectrum(surface.reflectance / max(1 - share, 1e-6))
        # Of this plugin's lobes only diffuse transmission is left, and that is Lambertian.
        back = {"type": "principledthin", "base_color": self.spectrum(through / share),
                "roughness": 1.0, "spec_trans": 0.0, "diff_trans": 2.0}
        return {"type": "blendbsdf", "weight": share, "a": front, "b": back}

    def mesh(self, name, thing, bsdf: dict, emitter: dict | None = None):
        """Return a mesh or an emitter's face as a shape."""
        mi = self.mi
        properties = mi.Properties()
        properties["bsdf"] = mi.load_dict(bsdf)
        if emitter is not None:
            properties["emitter"] = mi.load_dict(self.in_haze(emitter))
        if self.haze is not None and not self.bounded:
            properties["interior"] = properties["exterior"] = self.haze
        normals, uv = getattr(thing, "normals", None), getattr(thing, "uv", None)
        mesh = mi.Mesh(name, vertex_count=len(thing.vertices), face_count=len(thing.faces),
                       has_vertex_normals=normals is not None, has_vertex_texcoords=uv is not None,
                       props=properties)
        values = mi.traverse(mesh)
        # Embree reads past the last corner.
        values["vertex_positions"] = roomy(np.asarray(thing.vertices, np.float32).ravel())
        values["faces"] = np.asarray(thing.faces, np.uint32).ravel()
        if normals is not None:
            values["vertex_normals"] = np.asarray(normals, np.float32).ravel()
        if uv is not None:
            # Its pictures have v = 0 at the top.
            values["vertex_texcoords"] = (np.asarray(uv, np.float32) * [1, -1] + [0, 1]).astype(
                np.float32).ravel()
        values.update()
        return mesh

    def emitter(self, index: int, emitter: Emitter) -> dict:
        """Return the shapes and lights of one emitter, by name."""
        name = f"emitter{index}"
        black = {"type": "diffuse", "reflectance": {"type": "rgb", "value": 0.0}}
        if not self.rgb(emitter.lamp).any():
            return {name: self.mesh(name, emitter, black)}
        table = emitter.table
        beam = (table is not None and emitter.flat
                and _last_lit_deg(table) <= WIDEST_BEAM)
        if beam:
            return {name: self.mesh(name, emitter, black), f"{name}beam": self._beam(emitter)}
        area = areas(np.asarray(emitter.vertices)[emitter.faces]).sum()
        glow = {"type": "area",
                "radiance": self.light(emitter.lamp, emitter.share / (np.pi * area))}
        return {name: self.mesh(name, emitter, black, glow)}

    def _beam(self, emitter: Emitter) -> dict:
        """Return a point that throws the table as a picture: I cos³ on the plane one metre off."""
        table = emitter.table
        half = np.tan(np.radians(_last_lit_deg(table)))
        at = (np.arange(BEAM_TEXELS) + 0.5) / BEAM_TEXELS * 2 - 1
        # As in a camera, its x points to the left of the picture.
        x, y = np.meshgrid(-at * half, -at * half)
        theta = np.degrees(np.arctan(np.hypot(x, y)))
        intensity = table.intensity(theta, np.degrees(np.arctan2(y, x))) / table.flux()
        # The plugin takes the luminance of a white screen there, which is its illuminance over pi.
        picture = intensity * np.cos(np.radians(theta)) ** 3 * emitter.share / np.pi
        pixels = picture[..., None] * self.of_pictures(emitter.lamp)
        centre = (emitter.vertices.min(axis=0) + emitter.vertices.max(axis=0)) / 2
        centre = centre + emitter.world_from_light[:, 2] * 1e-4
        return self.in_haze({"type": "projector", "fov": float(np.degrees(2 * np.arctan(half))),
                "to_world": self._placed(emitter.world_from_light, centre),
                "irradiance": {"type": "bitmap", "raw": True,
                               "bitmap": self.mi.Bitmap(pixels.astype(np.float32))}})

    def _placed(self, axes, at):
        matrix = np.eye(4)
        matrix[:3, :3], matrix[:3, 3] = axes, at
        return self.mi.ScalarTransform4f(matrix)

    def pane(self, pane: Pane) -> list[dict]:
        """Return the sheets of a pane."""
        normal = np.cross(pane.half_u, pane.half_v)
        normal = normal / np.linalg.norm(normal)
        axes = np.stack([pane.half_u, pane.half_v, normal], axis=1)
        shifts = [0.0] if pane.sheets == 1 else [-SHEET_GAP / 2, SHEET_GAP / 2]
        glass = {"type": "thindielectric", "int_ior": float(pane.ior),
                 "specular_transmittance": self.spectrum(pane.tint)}
        return [{"type": "rectangle", "bsdf": glass,
                 "to_world": self._placed(axes, pane.centre + normal * shift)} for shift in shifts]

    def sun(self) -> dict:
        """Return the sun's disc as a far bright face."""
        sun, far = self.stage.sun, 1e6
        half = np.radians(sun.angle_deg / 2)
        away = -np.asarray(sun.towards, float)
        side = np.cross(away, [1.0, 0, 0] if abs(away[0]) < 0.9 else [0, 1.0, 0])
        side /= np.linalg.norm(side)
        radius = far * np.tan(half)
        axes = np.stack([side * radius, np.cross(away, side) * radius, away], axis=1)
        return {"type": "disk", "to_world": self._placed(axes, -away * far),
                "emitter": {"type": "area",
                            "radiance": self.light(sun.lamp, 1 / (np.pi * np.sin(half) ** 2))}}

    def sky(self) -> dict:
        """Return the dome as a picture of the whole sphere, dark below the horizon."""
        sky = self.stage.sky
        dome = _sky_picture(np.asarray(sky.radiance, float))
        colour = np.broadcast_to(self.of_pictures(sky.lamp), 3)
        # Its own y is up, and its azimuth runs from -z towards x.
        axes = np.array([[0.0, 0, -1], [-1, 0, 0], [0, 1, 0]])
        return {"type": "envmap", "to_world": self._placed(axes, np.zeros(3)),
                "bitmap": self.mi.Bitmap((dome[..., None] * colour).astype(np.float32))}

    def camera(self, camera: Camera, width: int, height: int) -> dict:
        """Return the sensor with its film."""
        wide, high = camera.tan_half
        if abs(width / height / (wide / high) - 1) > 1e-3:
            raise ValueError(f"a picture of {width} x {height} has no square pixels in this view")
        right, up, ahead = np.asarray(camera.world_from_camera, float).T
        lens = ({"type": "perspective"} if camera.lens_radius <= 0 else
                {"type": "thinlens", "aperture_radius": float(camera.lens_radius),
                 "focus_distance": float(camera.focus)})
        return self.in_haze(lens, np.asarray(camera.position)) | {
            "fov": float(np.degrees(2 * np.arctan(wide))), "fov_axis": "x",
            "near_clip": 1e-3, "far_clip": 1e5,
            "to_world": self._placed(np.stack([-right, up, ahead], axis=1), camera.position),
            "film": {"type": "hdrfilm", "width": width, "height": height, "pixel_format": "rgb",
                     "component_format": "float32", "rfilter": {"type": "box"}},
            "sampler": {"type": "independent"}}


def _last_lit_deg(table) -> float:
    lit = np.flatnonzero(table.values.max(axis=1) > 0)
    return float(table.theta_deg[min(lit[-1] + 1, len(table.theta_deg) - 1)])


def _sky_picture(radiance: np.ndarray) -> np.ndarray:
    """Return the dome on a grid of the whole sphere; columns run against our azimuth."""
    rows, columns = radiance.shape
    zenith = (np.arange(SKY_ROWS) + 0.5) / SKY_ROWS * 180
    azimuth = -(np.arange(2 * SKY_ROWS) + 0.5) / (2 * SKY_ROWS) * 360
    down = np.clip(zenith / 90 * rows - 0.5, 0, rows - 1)
    around = np.mod(azimuth, 360) / 360 * columns - 0.5
    first, left = np.minimum(down.astype(int), rows - 2), np.floor(around).astype(int)
    below, across = (down - first)[:, None], around - left
    left, right = left % columns, (left + 1) % columns

    def ring(row):
        return radiance[row][:, left] * (1 - across) + radiance[row][:, right] * across

    picture = ring(first) * (1 - below) + ring(first + 1) * below
    picture[zenith > 90] = 0
    return picture


def plain_scene(stage: Stage, camera: Camera, width: int, height: int, *, max_depth: int = 64,
                rr_depth: int = 5, kind: type[Parts] = Parts):
    """Return a Mitsuba scene that its own `path` integrator renders.

    Parameters
    ----------
    stage : Stage
    camera : Camera
        One of the stage's, or any other.
    width, height : int
        Size of the picture; pixels must be square. [px]
    max_depth, rr_depth : int
        As the integrator counts them: edges of a path, and from where Russian roulette may end it.
    kind : type
        Of the parts, where colours are to be written otherwise.

    Returns
    -------
    mitsuba.Scene
        All lamps as they are set; see the module's text for units and limits.

    Raises
    ------
    ValueError
        The pixels would not be square, or the haze thins with height.
    """
    from previz.engine.jit import mi

    parts = kind(mi, stage)
    integrator = "path" if stage.haze is None else "volpath"
    scene = {"type": "scene", "sensor": parts.camera(camera, width, height),
             "integrator": {"type": integrator, "max_depth": max_depth, "rr_depth": rr_depth}}
    for i, mesh in enumerate(stage.meshes):
        scene[f"mesh{i}"] = parts.mesh(f"mesh{i}", mesh, parts.surface(stage.surfaces[mesh.surface]))
    for i, emitter in enumerate(stage.emitters):
        scene |= parts.emitter(i, emitter)
    for i, pane in enumerate(stage.panes):
        scene |= {f"pane{i}sheet{k}": sheet for k, sheet in enumerate(parts.pane(pane))}
    if parts.bounded:
        scene["haze"] = parts.haze_box()
    if stage.sun is not None and parts.rgb(stage.sun.lamp).any():
        scene["sun"] = parts.sun()
    if stage.sky is not None and parts.rgb(stage.sky.lamp).any():
        scene["sky"] = parts.sky()
    return mi.load_dict(scene)
