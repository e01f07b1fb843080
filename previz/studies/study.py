"""One lamp used in several ways: straight, through a frame, off a board; a ladder of each.

The lamp is looked at alone, in the set without its people: others are dark, boards and frames of
the scene are taken out, and the study puts its own in. Meters stand round an upright cylinder
where the head was.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from previz.cli.progress import TerminalProgress
from previz.engine.render import Sampling
from previz.errors import RequestError
from previz.exposure import metering
from previz.exposure.camera import settings_of
from previz.exposure.comparing import measures as comparing
from previz.exposure.comparing.views import shadow_edge
from previz.exposure.comparing.wrap import (
    RING,
    Ring,
    Step,
    ring_angles,
    ring_places,
    worst_of,
    wrap_angle,
)
from previz.rendering.job import StageJob
from previz.rendering.metering import Effort, StageMeters
from previz.rendering.request import QUALITIES, Order
from previz.scene.modifiers import Board, Diffusion
from previz.scene.records import Item, Target
from previz.scene.surface import Surface
from previz.sight.face_view import Head, Outlook, faces_of, head_of
from previz.stage.build import BACK_WALL, build_stage
from previz.stage.colours import stage_colours
from previz.stage.records import Probe
from previz.studies.measures import draws_of
from previz.studies.selection import select

COUNT = 36
"""Meters in the ring."""

HEAD_RADIUS, NOSE_TO_AXIS = 0.085, 0.115
"""Half the width of a head, and from the tip of the nose to its upright axis. [m]  Source: about
half the head's breadth and half its length and the nose, ANSUR II (from memory)."""

NEAR_LAMP, NEAR_FACE = 0.3, 0.4
"""A frame stays this far from the lamp and from the face. [m]"""

BOARD_SIDE, BOARD_HEIGHT = 45.0, 15.0
"""Where a board stands if the scene has none: to the side of where the face points, across from
the lamp, and above the face.  Common practice, no source. [deg]"""

METER_SECONDS = 60.0
"""Meters of one way are run no longer than about this. [s]"""

IN_THE_DARK, BRIGHT = 0.05, 0.35
"""Relative error that will do for meters under this share of the ring's brightest: a percent or two
of that. [1]"""

@dataclass(frozen=True)
class Wanted:
    """What the command line asked for; see `previz study --help`.

    Parameters
    ----------
    lamp, figure : str
        '' for the strongest at the face, and for the first face.
    sizes, distances : tuple of float
        Of boards and frames. [m]
    transmission : float
        Of the frames' cloth. [1]
    surface : str
        Of the boards.
    spill : str
        Name of a meter; '' for the back wall.
    precision : float or None
        Relative standard error of the meters; None for that of the quality. [1]
    quality, samples, seed, bands, backend, cache
        As of `previz render`.
    """

    lamp: str
    figure: str
    cache: Path
    sizes: tuple[float, ...] = (0.6, 1.2, 2.4)
    distances: tuple[float, ...] = (1.0, 2.0, 3.0)
    transmission: float = 0.5
    surface: str = "white card"
    spill: str = ""
    precision: float | None = None
    quality: str = "working"
    samples: int | None = None
    seed: int = 1
    bands: int = 12
    backend: str = "auto"

    def picture_order(self, camera, width: int) -> Order:
        """Return the engine's order for a picture by a camera, at the quality asked for."""
        quality = QUALITIES[self.quality]
        samples = self.samples or quality.samples
        passes = max(p for p in range(1, quality.passes + 1) if samples % p == 0)
        size = (max(16, round(side * quality.scale)) for side in (width, width / camera.aspect))
        return Order(*size, Sampling(samples, passes, self.seed), self.bands, self.backend, self.cache,
                     exact=True)

    def error(self) -> float:
        """Return the relative standard error of the meters. [1]"""
        return QUALITIES[self.quality].precision if self.precision is None else self.precision

    def order(self) -> Order:
        """Return the engine's order; pictures play no part in it."""
        return Order(16, 16, Sampling(1, 1, self.seed), self.bands, self.backend, self.cache)


@dataclass(frozen=True, eq=False)
class Study:
    """What a study found.

    Parameters
    ----------
    title, option, lamp, kind, figure : str
        What was studied.
    steps : tuple of Step
        Direct first.
    left_out : tuple of str
        Ways that the room or the lamp's place does not allow, and why.
    spill : str
        What spill is told of.
    throw : float
        From the lamp to the face. [m]
    scenes : dict of str to scene
        The scene with its people for a picture of each kind: name of the step -> scene.
    camera : metering.CameraNote or None
        From whose stop light is told: the scene's first camera.
    """

    title: str
    option: str
    lamp: str
    kind: str
    figure: str
    steps: tuple[Step, ...]
    left_out: tuple[str, ...]
    spill: str
    throw: float
    scenes: dict = field(default_factory=dict)
    camera: metering.CameraNote | None = None


def study(scene, wanted: Wanted, tell) -> Study:
    """Study one lamp of a scene.

    Parameters
    ----------
    scene : scene.scene.Scene
        One option of a scene.
    wanted : Wanted
        What was asked for.
    tell : function
        Called with a line where a way cannot be taken.
    """
    stage = build_stage(scene)
    faces = faces_of(stage)
    if not faces:
        raise RequestError("The scene has no face to light; add one under 'figures:'.")
    figure = select((wanted.figure or _lit(scene, wanted.lamp, faces),), faces, "figure")[0]
    head = head_of(stage, figure)
    lamp = _lamp(scene, stage, wanted, figure)
    if (np.asarray(lamp.at) - head.nose) @ head.ahead < 0:
        tell(f"'{lamp.name}' stands behind the face of '{figure}': aimed straight, it lights the "
             "edge of the head alone")
    places = _Places(scene, stage, lamp, head, wanted)
    ways, left_out = places.ways()
    for line in left_out:
        tell(line)
    progress = TerminalProgress().start(len(ways))
    steps, scenes = [], {}
    try:
        for kind, size, distance, changed in ways:
            label = f"{kind} {size:g} m at {distance:g} m" if kind != "direct" else kind
            progress.show(label)
            direct = steps[0].ring.peak if steps else None
            bare = places.bare(changed)
            steps.append(_measured(bare, wanted, head, lamp, kind, size, distance, direct))
            scenes[steps[-1].name] = changed
            progress.add(1, label)
    finally:
        progress.end()
    return Study(scene.title, scene.option, lamp.name, lamp.kind, figure, tuple(steps),
                 tuple(left_out), wanted.spill or BACK_WALL,
                 float(np.linalg.norm(np.asarray(lamp.at) - head.nose)), scenes,
                 next((metering.CameraNote(each.name, settings_of(each)) for each in stage.cameras),
                      None))


def _lit(scene, lamp: str, faces) -> str:
    """Return the figure that a lamp is aimed at; the first where it is aimed at none."""
    aimed = {light.name: light.aim.name for light in scene.lights
             if getattr(light, "aim", None) is not None}
    return aimed[lamp] if aimed.get(lamp) in faces else faces[0]


def _lamp(scene, stage, wanted: Wanted, figure: str):
    """Return the lamp that is studied: the one named, or the strongest at the face."""
    lights = {light.name: light for light in scene.lights}
    if not lights:
        raise RequestError("The scene has no lamp to study; add one under 'lights:'.")
    if wanted.lamp:
        return lights[select((wanted.lamp,), list(lights), "lamp")[0]]
    job = StageJob(stage, wanted.order())
    names = [f"{figure}: {side} cheek" for side in ("left", "right")]
    batches = StageMeters(job).incident(Effort(0.05, METER_SECONDS), names)
    mixed = metering.mix(batches, stage.lamps)
    job.close()
    lit = max((mixed[name] for name in names), key=lambda each: each.light().value)
    for part in lit.by_lamp():
        if part.lamp in lights:
            return lights[part.lamp]
    return scene.lights[0]


def pinned(item: Item, places) -> Item:
    """Return an item whose targets are points: it no longer needs the things that it names.

    Parameters
    ----------
    item : Item
        Any thing of a scene.
    places : dict of str to float array, shape (3,)
        Of everything on the stage. [m]
    """
    changes = {}
    for each in dataclasses.fields(item):
        value = getattr(item, each.name)
        if isinstance(value, Target) and value.point is None and each.name != "before":
            point = places.get(value.text.strip())
            if point is not None:
                changes[each.name] = _at(point)
    return replace(item, **changes) if changes else item


def _at(point) -> Target:
    return Target("", tuple(float(x) for x in point))


class _Places:
    """Where the lamp's light is sent, and the scene changed to send it there."""

    def __init__(self, scene, stage, lamp, head: Head, wanted: Wanted):
        self.scene, self.stage, self.lamp, self.head = scene, stage, lamp, head
        self.wanted = wanted
        self.face = head.nose
        self.lamp_at = np.asarray(lamp.at, float)

    def ways(self):
        """Return (kind, size, distance, scene) of every way, and why some are left out."""
        ways = [("direct", self._own_size(), float(np.linalg.norm(self.lamp_at - self.face)),
                 self._scene(self.face))]
        left_out = []
        for kind in ("frame", "board"):
            for distance in self.wanted.distances:
                for size in self.wanted.sizes:
                    why, changed = self._way(kind, size, distance)
                    if why:
                        left_out.append(f"{kind} {size:g} m at {distance:g} m left out: {why}")
                    else:
                        ways.append((kind, size, distance, changed))
        return ways, left_out

    def _own_size(self) -> float:
        corners = np.concatenate([e.vertices for e in self.stage.emitters
                                  if e.name == self.lamp.name])
        return float(np.ptp(corners, axis=0).max())

    def _way(self, kind: str, size: float, distance: float):
        """Return (why not or '', changed scene)."""
        if kind == "frame":
            way = self.lamp_at - self.face
            reach = float(np.linalg.norm(way))
            if distance > reach - NEAR_LAMP or distance < NEAR_FACE:
                return f"the lamp stands {reach:.1f} m from the face", None
            at = self.face + way / reach * distance
            sheet = Diffusion(name="study frame", size=(size, size), at=tuple(at),
                              facing=_at(self.lamp_at), transmission=self.wanted.transmission,
                              spread=1.0)
            return self._outside(at, size), self._scene(self.face, diffusion=(sheet,))
        at = self.face + self._board_way() * distance
        facing = self._between(at)
        sheet = Board(name="study board", size=(size, size), at=tuple(at), facing=_at(at + facing),
                      surface=Surface(name=self.wanted.surface))
        return self._outside(at, size), self._scene(at, boards=(sheet,))

    def _board_way(self) -> np.ndarray:
        """Return the direction from the face to the board: as the scene's own, or across."""
        for board in self.scene.boards:
            way = np.asarray(board.at, float) - self.face
            if way @ self.head.ahead > 0:
                return way / np.linalg.norm(way)
        level = np.array([*self.head.ahead[:2], 0.0])
        level /= np.linalg.norm(level)
        left = np.array([-level[1], level[0], 0.0])
        across = -np.sign((self.lamp_at - self.face) @ left) or 1.0
        turn, up = np.radians(BOARD_SIDE), np.radians(BOARD_HEIGHT)
        flat = np.cos(turn) * level + across * np.sin(turn) * left
        return np.cos(up) * flat + np.sin(up) * np.array([0.0, 0, 1])

    def _between(self, at) -> np.ndarray:
        """Return the direction half way from lamp to face, in which a matte board gives most."""
        ways = [each - at for each in (self.lamp_at, self.face)]
        half = sum(way / np.linalg.norm(way) for way in ways)
        return half / np.linalg.norm(half)

    def _outside(self, at, size: float) -> str:
        """Return why a sheet does not fit; '' where it does."""
        if self.scene.room is None:
            return "" if at[2] > size / 2 * 0.5 else "it would stand in the ground"
        walls = np.asarray(self.scene.room.size, float)
        if np.any(at < 0.05) or np.any(at > walls - 0.05):
            return "it would stand outside the room"
        return ""

    def _scene(self, aim, **more):
        """Return the scene with its people, this lamp alone and sent to a point."""
        lamp = replace(self.lamp, aim=_at(aim), on=True)
        kept = {"boards": (), "diffusion": (), **more}
        for name in ("flags", "nets", "grids"):
            # What hangs before another lamp goes with it.
            kept[name] = tuple(each for each in getattr(self.scene, name) if each.before is None
                               or each.before.name == self.lamp.name)
        places = self.stage.places
        pieces = {name: tuple(pinned(item, places) for item in items)
                  for name, items in kept.items()}
        cameras = tuple(pinned(camera, places) for camera in self.scene.cameras)
        meters = tuple(pinned(meter, places) for meter in self.scene.meters)
        return replace(self.scene, lights=(pinned(lamp, places),), daylight=None, haze=None,
                       cameras=cameras, meters=meters, **pieces)

    @staticmethod
    def bare(scene):
        """Return a scene without its people."""
        return replace(scene, figures=())


def _measured(scene, wanted: Wanted, head: Head, lamp, kind, size, distance, direct) -> Step:
    """Return one way, measured."""
    stage = build_stage(scene)
    centre = head.nose - NOSE_TO_AXIS * head.ahead
    places, normals = ring_places(centre, head.ahead, HEAD_RADIUS, COUNT)
    ring = [Probe(f"{RING}{i}", at, normal)
            for i, (at, normal) in enumerate(zip(places, normals, strict=True))]
    spill = wanted.spill or BACK_WALL
    others = [probe for probe in stage.probes if probe.name == spill]
    if wanted.spill and not others:
        raise RequestError(f"The scene has no meter '{wanted.spill}'; name one under "
                               "'meters:', or leave it out for the back wall.")
    stage = replace(stage, probes=(*ring, *others))
    job = StageJob(stage, wanted.order())
    mixed, short = _readings(job, [probe.name for probe in ring], wanted.error())
    lux = np.array([mixed[probe.name].light().value for probe in ring])
    found = Ring(ring_angles(COUNT), lux)
    thing, at = {"direct": (lamp.name, np.asarray(lamp.at, float)),
                 "frame": ("study frame", _where(scene.diffusion)),
                 "board": ("study board", _where(scene.boards))}[kind]
    towards = at - head.at
    extent = Outlook(job, head).extent(thing, towards / np.linalg.norm(towards), (lamp.name,))
    job.close()
    across, up = (extent.across, extent.up) if extent is not None else (float("nan"),) * 2
    side = "left" if found.peak_angle >= 0 else "right"
    wall = mixed[spill].light().value if others else float("nan")
    load = comparing.mains_load(draws_of(scene, stage), 230.0, found.peak)
    return Step(
        kind, size, distance, found,
        0.0 if direct is None else comparing.stops_from(found.peak, direct), across, up,
        float(shadow_edge(across, head.throw(side))), wrap_angle(found.angles, lux),
        wrap_angle(found.angles, lux, 1 / 8),
        comparing.stops_from(wall, found.peak), load.lux_per_watt, bool(load.guessed),
        worst_of(short, found))


def _readings(job: StageJob, ring, precision: float) -> tuple[dict, list]:
    """Return the readings of all meters, and which are short of what was asked for.

    Those in the dark are read no more precisely than they count.
    """
    meters, lamps, colours = StageMeters(job), job.stage.lamps, stage_colours(job.stage)
    coarse = max(precision, IN_THE_DARK)
    rough = meters.incident(Effort(coarse, METER_SECONDS))
    mixed = metering.mix(rough, lamps, colours)
    least = BRIGHT * max(mixed[name].light().value for name in ring)
    bright = [name for name in mixed if name not in ring or mixed[name].light().value >= least]
    fine = meters.incident(Effort(precision, METER_SECONDS), bright)
    short = [each for each in meters.short(rough, coarse) if each.name not in bright]
    return {**mixed, **metering.mix(fine, lamps, colours)}, [*meters.short(fine, precision), *short]


def _where(sheets) -> np.ndarray:
    return np.asarray(sheets[0].at, float) if sheets else np.zeros(3)
