"""Build the Stage of a scene: resolve every name, and turn everything into numbers."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from previz.errors import SceneError
from previz.scene.geometry import SAME_PLACE
from previz.stage import (
    cautions,
    hanging,
    measured_files,
    mesh_gate,
    named_files,
    people,
    pieces,
    sheets,
    views,
)
from previz.stage.air import build_haze
from previz.stage.glazing import lamps_within, written_glazing
from previz.stage.heat import Surroundings
from previz.stage.imported import piece_meshes
from previz.stage.lamps import lamp_light
from previz.stage.lights import build_fixture, glow
from previz.stage.lights.fixture import HOUSING, Setting
from previz.stage.lights.glow import GlowPart
from previz.stage.lights.output import lumens_of
from previz.stage.mesh_sizes import widest
from previz.stage.outdoors import build_daylight
from previz.stage.records import Mesh, Probe, Rig, Stage, Surface
from previz.stage.room import RoomBuilder, ground_mesh
from previz.stage.surfaces import ONES, SurfaceRegistry

if TYPE_CHECKING:
    from previz.scene.scene import Scene

BACK_WALL = "back wall"
"""Name of the meter where the first camera's line of sight ends on a wall."""

BOOM_END = ".boom end"
"""What follows a name in `Stage.places` where a stand takes the boom that it hangs by."""

FRONT_OF_WALL = 0.01
"""How far a wall's meter stands off it. [m]"""


def build_stage(scene: Scene, reminders: bool = True) -> Stage:
    """Return the stage of one option of a scene; its `reminders` take longest to find.

    Raises
    ------
    SceneError
        A file that is named cannot be used, a lamp or gel cannot have its colour, or a thing is
        aimed at its own place; with all faults of files and colours at once.
    """
    try:
        stage = _Builder(scene).build(reminders)
    except SceneError as error:
        raise SceneError(named_files.faults(scene, error.problems)) from error
    mesh_gate.hold(stage)
    return stage


class _Builder:
    def __init__(self, scene: Scene):
        self.scene = scene
        self.registry = SurfaceRegistry()
        self.registry.add(Surface(HOUSING, 0.05 * ONES, 0 * ONES, 0.04 * ONES, 0.5, 0.4))
        self.room = RoomBuilder(scene.room, self.registry) if scene.room else None
        self.meshes: list[Mesh] = []
        self.guides, self.emitters, self.lamps, self.rig, self.grip = [], [], [], [], []
        self.panes, self.outlines, self.lumens, self.notes = [], {}, {}, []
        self.parts: dict[str, list[GlowPart]] = {}
        self.places: dict[str, np.ndarray] = {}

    def build(self, reminders: bool) -> Stage:
        self._set()
        self._place_names()
        self._people()
        self._sheets()
        self._lights()
        self._hang()
        self.notes += lamps_within(self.meshes, self.registry.surfaces, self.scene.lights)
        self.meshes = [self.registry.laid(mesh) for mesh in self.meshes]
        lamps, sun, sky = build_daylight(self.scene.daylight, len(self.lamps))
        self.lamps += lamps
        if self.room:
            self.panes += self.room.panes()
            self.guides += self.room.guides()
        cameras = tuple(self._camera(camera) for camera in self.scene.cameras)
        around = self._surroundings()
        north = 0.0 if self.scene.daylight is None else self.scene.daylight.north
        return Stage(
            title=self.scene.title, surfaces=self.registry.surfaces, meshes=tuple(self.meshes),
            lamps=tuple(self.lamps), emitters=tuple(self.emitters), sun=sun, sky=sky,
            panes=tuple(self.panes), guides=tuple(self.guides), cameras=cameras,
            haze=build_haze(self.scene.haze, self.scene.room, sun is not None or sky is not None),
            heads=tuple(head for person in self.figures.values() for head in person.heads),
            probes=tuple(self._probes(cameras)),
            patches=tuple(views.patch_of(spot, north) for spot in self.scene.spots),
            rig=tuple(self.rig), grip=tuple(self.grip), places=self.places,
            reminders=cautions.for_scene(self.scene, around) if reminders else (), around=around,
            map=views.map_of(self.scene.map))

    def _surroundings(self) -> Surroundings:
        """Return what cautions are measured on; lamps stand in the scene's order, before sun and sky."""
        return Surroundings(
            self.outlines, self.lumens, self.emitters,
            [lamp.spectrum for lamp in self.lamps[:len(self.scene.lights)]],
            [mesh for mesh in self.meshes if mesh.role == "figure"], self.room.panes() if self.room else (),
            tuple(self.notes))

    def _set(self):
        if self.room:
            self.meshes += self.room.meshes()
        if self.scene.ground is not None:
            self.meshes.append(ground_mesh(self.registry.of(self.scene.ground)))
        faults = []
        for piece in self.scene.pieces:
            try:
                parts = self._piece(piece)
            except SceneError as error:
                faults += error.problems
                continue
            self.parts[piece.name] = parts
            self.meshes += [part.mesh for part in parts]
        if faults:
            raise SceneError(faults)

    def _piece(self, piece) -> list[GlowPart]:
        glazing = written_glazing(piece)
        surface = (None if piece.surface is None or glazing is not None
                   else self.registry.of(piece.surface))
        if piece.mesh is not None:
            parts = [GlowPart(*each) for each in piece_meshes(
                piece, self.registry, surface, glazing, self.notes,
                widest(self.scene.room and self.scene.room.size))]
            self.notes += glow.unlit_notes(piece, parts, self.scene.lights)
            return parts
        if glazing is not None:
            return [GlowPart(mesh) for mesh in pieces.glazed_meshes(piece, glazing, self.registry)]
        return [GlowPart(pieces.piece_mesh(piece, surface or self.registry.library("grey paint")), None,
                         piece.shape in glow.CONVEX)]

    def _place(self, name: str, centre, top=None):
        """Note where a thing is: its middle, and its top where that is another point. [m]"""
        centre = np.asarray(centre, float)
        self.places |= {name: centre, f"{name}.centre": centre, f"{name}.top": centre if top is None else top}

    def _place_names(self):
        """Note where everything is, so that it can be aimed at; figures are refined later."""
        for mesh in self.meshes:
            low, high = mesh.vertices.min(axis=0), mesh.vertices.max(axis=0)
            middle = (low + high) / 2
            self._place(mesh.name, middle, np.array([*middle[:2], high[2]]))
        if self.room:
            for guide in self.room.guides():
                top = guide.centre + np.array([0, 0, abs(guide.half_v[2])])
                self._place(guide.name, guide.centre, top)
        scene = self.scene
        for item in (*scene.lights, *sheets.standing(scene), *scene.cameras, *scene.meters):
            self._place(item.name, item.at if item.at is not None else self._lamp(item).at)
        for figure in scene.figures:
            for name, place in people.rough_anchors(figure).items():
                self.places[f"{figure.name}.{name}"] = place
            self.places[figure.name] = self.places[f"{figure.name}.face"]

    def point(self, target) -> np.ndarray:
        """Return the point that a target means. [m]"""
        if target.point is not None:
            return np.asarray(target.point, float)
        return self.places[target.text.strip()]

    def _aim(self, item, field: str) -> np.ndarray | None:
        """Return the point that an item's field is turned to, which is not its own place."""
        target = getattr(item, field)
        if target is None:
            return None
        aim = self.point(target)
        if np.linalg.norm(aim - np.asarray(item.at, float)) < SAME_PLACE:
            raise SceneError([item.where(field).problem(
                f"{item.label} is turned to its own place", "Write another thing or point.")])
        return aim

    def _people(self):
        self.figures = people.build_people(self.scene.figures, self.point, self.registry)
        for name, person in self.figures.items():
            self.meshes += person.meshes
            for anchor, (position, _) in person.anchors.items():
                self.places[f"{name}.{anchor}"] = np.asarray(position)
            self.places[name] = self.places[f"{name}.face"]
            for part, anchor in (("centre", "chest"), ("top", "crown")):
                self.places[f"{name}.{part}"] = self.places[f"{name}.{anchor}"]
            for head in person.heads:
                if head.mark:
                    self.places[f"{name}.{head.mark}"] = head.face
            self.notes += person.notes

    def _lamp(self, item):
        """Return the lamp that a sheet is in front of."""
        return next(each for each in self.scene.lights if each.name == item.before.name)

    def _sheets(self):
        for item in sheets.standing(self.scene):
            if item.at is None:
                lamp = self._lamp(item)
                through = sheets.lamp_through(item, lamp) if hasattr(item, "lobe") else None
                self.guides += [through] if through is not None else []
                item = sheets.in_front(item, lamp, self._lamp_aim(lamp))
                self._place(item.name, item.at)
            self.grip.append(sheets.grip_of(item))
            edges = self.outlines[item.name] = sheets.outline(item, self._aim(item, "facing"))
            made = sheets.build_sheet(item, edges, self.registry)
            self.meshes += made.meshes
            self.panes += made.panes
            self.guides += [made.guide] if made.guide is not None else []

    def _lamp_aim(self, light):
        """Return the point that a lamp shines at; straight down for one that hangs unaimed."""
        if light.aim is None and light.held == "above":
            return np.asarray(light.at, float) - [0, 0, 1]
        return self._aim(light, "aim")

    def _support(self, at: np.ndarray) -> float:
        """Return the height of what stands under a point: the top of a piece, or the floor."""
        heights = [0.0]
        for mesh in self.meshes:
            if mesh.role != "set":
                continue
            low, high = mesh.vertices.min(axis=0), mesh.vertices.max(axis=0)
            over = np.all(low[:2] <= at[:2]) and np.all(at[:2] <= high[:2])
            if over and high[2] <= at[2]:
                heights.append(float(high[2]))
        return max(heights)

    def _lights(self):
        for light in self.scene.lights:
            along = getattr(light, "along", None)
            at = np.asarray(light.at, float)
            if along is not None:
                along = (_level(along) if np.isscalar(along)
                         else self._aim(light, "along") - at)
            aim = self._lamp_aim(light)
            measured = measured_files.photometry(light)
            setting = Setting(at, aim, along, self._support, partial(self.registry.of, plain=True), measured,
                              self._glowing(light))
            fixture = build_fixture(light, setting)
            index = len(self.lamps)
            lumens = lumens_of(light, fixture, setting)
            self.lamps.append(lamp_light(light, lumens))
            self.emitters += fixture.of_lamp(index)
            self.meshes += fixture.meshes
            self.guides += fixture.guides
            watts = light.watts
            if measured is not None:
                watts = watts or measured.watts
                self.notes += measured_files.coarse_note(light, measured)
            self.lumens[light.name] = (lumens, watts)
            self.rig.append(Rig(light.name, light.kind, at, watts, light.in_shot, light.weight,
                                light.hung))

    def _glowing(self, light) -> tuple:
        """Return the parts of the piece that is a lamp, and take what glows off the meshes."""
        if light.kind != "glow":
            return ()
        parts = self.parts[light.piece.name]
        self.notes += glow.colour_notes(light, parts) + glow.turned_notes(light, parts)
        lit = [part.mesh for part in glow.select(light, parts)]
        self.parts[light.piece.name] = [p for p in parts if not any(p.mesh is each for each in lit)]
        self.meshes = [m for m in self.meshes if not any(m is each for each in lit)]
        return tuple(parts)

    def _hang(self):
        """Give what is hung its cord, pipe, plate or boom."""
        around = [m for m in self.meshes if m.role == "set"]
        for item in (*self.scene.lights, *sheets.standing(self.scene)):
            if item.hung is None:
                continue
            own = [m for m in (*self.meshes, *self.emitters) if m.name == item.name]
            role = next((m.role for m in own if isinstance(m, Mesh)), "lamp")
            at = np.asarray(item.at, float)
            aim = self._lamp_aim(item) if hasattr(item, "aim") else self._aim(item, "facing")
            ahead = np.array([0.0, 0, -1]) if aim is None else aim - at
            corners = np.concatenate([m.vertices for m in own])
            mesh, foot, note = hanging.hang(item, corners, ahead, role, around)
            self.meshes.append(mesh)
            self.notes += [note] if note else []
            if foot is not None:
                self.places[item.name + BOOM_END] = foot

    def _camera(self, camera):
        aim, focus = self._aim(camera, "aim"), camera.focus
        if focus is None:
            focus = aim
        elif not np.isscalar(focus):
            focus = self.point(focus)
        return views.build_camera(camera, aim, focus)

    def _probes(self, cameras):
        probes = []
        for person in self.figures.values():
            own, *marks = person.heads
            probes += views.face_probes(own, person.anchors)
            probes += [probe for head in marks for probe in views.mark_probes(head)]
        for meter in self.scene.meters:
            at = np.asarray(meter.at, float)
            facing = self._aim(meter, "facing")
            normal = np.array([0.0, 0, 1]) if facing is None else facing - at
            probes += views.meter_probes(meter.name, at, normal)
        if self.room and cameras:
            found = self.room.back_wall(cameras[0].position, cameras[0].world_from_camera[:, 2])
            if found is not None:
                point, normal = found
                probes.append(Probe(BACK_WALL, point + normal * FRONT_OF_WALL, normal))
        return probes


def _level(angle_deg: float) -> np.ndarray:
    return np.array([np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg)), 0.0])
