"""The view out from a face, by the engine: where its key comes from, and what its eyes mirror.

Small pinhole pictures from a point just before the nose, kept in the cache like any other frames.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass

import numpy as np

from previz.engine.render import Sampling
from previz.exposure.comparing.extent import Extent, extent_of, shadow_edge
from previz.exposure.comparing.eyes import EyeLight, eye_lights
from previz.exposure.comparing.measures import KeySource
from previz.exposure.comparing.views import SKY, Panorama, bearing, named_sources, panorama, pinhole_rays
from previz.frames import Frames
from previz.physics.exposure import CameraSettings
from previz.physics.light import lamp_band_xyz
from previz.physics.rays import rectangle_reach
from previz.rendering.job import StageJob
from previz.rendering.request import Order
from previz.sight.eyes import corneas, hidden_by, sources
from previz.stage.lights.fixture import HOUSING
from previz.stage.records import Camera, Stage

BEFORE_NOSE = 0.02
"""How far before the tip of the nose the view is taken. [m]"""

WIDE_PIXELS, WIDE_SAMPLES = 64, 16
CLOSE_PIXELS, CLOSE_SAMPLES = 96, 16
"""Size of a square picture and its paths a pixel: all round, and of the source alone."""

WIDEST = np.tan(np.radians(75))
"""Tangent of half the widest close-up."""

ZOOM_BELOW = 0.4
"""A source that fills less of a close-up gets a closer one. [1]"""


@dataclass(frozen=True)
class Head:
    """A figure's face, as a point of view.

    Parameters
    ----------
    nose : float array, shape (3,)
        Its tip. [m]
    ahead, up : float array, shape (3,)
        Unit vectors: where the face points, and its own up.
    cheeks : dict of str to (float array, float array)
        'left' and 'right': place [m] and the unit vector that a flat meter faces there.
    triangles : float array, shape (n, 3, 3)
        Corners of the figure. [m]
    """

    figure: str
    nose: np.ndarray
    ahead: np.ndarray
    up: np.ndarray
    cheeks: dict
    triangles: np.ndarray

    @property
    def at(self) -> np.ndarray:
        """Where the view is taken from. [m]"""
        return self.nose + BEFORE_NOSE * self.ahead

    def throw(self, lit_side: str) -> float:
        """Return how far behind the tip of the nose its shadow falls: on the darker cheek. [m]"""
        cheek = self.cheeks["right" if lit_side == "left" else "left"][0]
        return float(np.linalg.norm(cheek - self.nose))


def head_of(stage: Stage, figure: str) -> Head:
    """Return a figure's head."""
    head = stage.head(figure)
    cheeks = {}
    for probe in stage.probes:
        for side in ("left", "right"):
            if probe.name == f"{figure}: {side} cheek":
                cheeks[side] = (probe.position, probe.normal)
    corners = [m.vertices[m.faces] for m in stage.meshes if m.name == figure]
    return Head(figure, head.nose, head.ahead, head.up, cheeks, np.concatenate(corners))


def faces_of(stage: Stage) -> list[str]:
    """Return the figures that have meters at both cheeks."""
    names = [p.name for p in stage.probes]
    return [name.removesuffix(": left cheek") for name in names
            if name.endswith(": left cheek")
            and name.replace("left cheek", "right cheek") in names]


def pinhole(name: str, at: np.ndarray, ahead: np.ndarray, up: np.ndarray,
            tan_half: tuple[float, float]) -> Camera:
    """Return a pinhole camera that faces along a direction. Settings play no part in its frames."""
    forward = np.asarray(ahead, float) / np.linalg.norm(ahead)
    level = np.asarray(up, float) - forward * (forward @ np.asarray(up, float))
    level /= np.linalg.norm(level)
    axes = np.stack([np.cross(forward, level), level, forward], axis=1)
    settings = {"stop": 2.8, "iso": 800.0, "shutter_s": 1 / 48, "nd_density": 0.0,
                "white_balance": 5600.0, "tint": 0.0, "focal": 0.02, "sensor": (0.02, 0.02)}
    return Camera(name, axes, np.asarray(at, float), tuple(tan_half), tan_half[0] / tan_half[1],
                  0.0, 1.0, **settings)


class Outlook:
    """What can be seen from a face of a job's stage.

    `kept` takes the frames that were needed, by folder; options with the same light transport share it.
    """

    def __init__(self, job: StageJob, head: Head, kept: dict | None = None):
        self.job, self.stage, self.head = job, job.stage, head
        self.kept = {} if kept is None else kept
        self._panorama: Panorama | None = None

    def _render(self, camera: Camera, pixels: int, samples: int) -> Frames:
        order = self.job.order
        # To measure what moved lamps do to the others' light takes longer than so small a picture.
        small = Order(pixels, pixels, Sampling(samples, 1, order.sampling.seed), order.bands,
                      order.backend, order.cache, exact=True)
        job = self.job.like(small)
        folder = job.frame_folder(camera)
        if folder in self.kept:
            return self.kept[folder]
        frames = job.cached(camera) or job.render(camera)
        self.kept[folder] = frames
        return frames

    def panorama(self) -> Panorama:
        """Return the light from all round the front of the face, under the lamps as set."""
        if self._panorama is None:
            head = self.head
            right = np.cross(head.ahead, head.up)
            views = {"ahead": (head.ahead, head.up), "right": (right, head.up),
                     "left": (-right, head.up), "above": (head.up, -head.ahead),
                     "below": (-head.up, head.ahead)}
            taken = []
            for name, (ahead, up) in views.items():
                camera = pinhole(name, head.at, ahead, up, (1.0, 1.0))
                frames = self._render(camera, WIDE_PIXELS, WIDE_SAMPLES)
                taken.append((frames, camera.world_from_camera, camera.tan_half))
            joined = panorama(taken, self.stage.lamps, self._through)
            self._panorama = named_sources(joined, self._cones())
        return self._panorama

    def _cones(self) -> Iterator[tuple[str, np.ndarray, float]]:
        """Yield (lamp, direction, half angle [rad]) of everything that shines by itself."""
        for emitter in self.stage.emitters:
            offset = emitter.vertices - self.head.at
            offset = offset / np.linalg.norm(offset, axis=1, keepdims=True)
            middle = offset.mean(axis=0)
            middle /= np.linalg.norm(middle)
            half = float(np.arccos(np.clip(offset @ middle, -1, 1)).max())
            yield self.stage.lamps[emitter.lamp].name, middle, half
        if self.stage.sun is not None:
            yield (self.stage.lamps[self.stage.sun.lamp].name, self.stage.sun.towards,
                   np.radians(self.stage.sun.angle_deg / 2))

    def _through(self, directions: np.ndarray) -> np.ndarray:
        """Return the opening that each direction leaves the room by; '' for none."""
        names = np.full(len(directions), "", dtype=object)
        for guide in self.stage.guides:
            if guide.opening:
                _, inside = rectangle_reach(self.head.at, directions, guide.centre, guide.half_u,
                                            guide.half_v)
                names[inside] = guide.name
        return names

    def _corners(self, thing: str) -> np.ndarray:
        """Return the vertices that a source's size is taken from."""
        emitters = [e.vertices for e in self.stage.emitters if e.name == thing]
        # A lamp's dark housing is no part of its size; a shade is.
        bodies = [m.vertices for m in self.stage.meshes
                  if m.name == thing and not (emitters and m.surface == HOUSING)]
        return np.concatenate(emitters + bodies) if emitters or bodies else np.empty((0, 3))

    def key_source(self, lit_side: str, key_lamps: tuple[str, ...], camera: Camera,
                   straight: float) -> KeySource | None:
        """Return where the key comes from; None where that is behind the face.

        Parameters
        ----------
        lit_side : str
            'left' or 'right' cheek.
        key_lamps : tuple of str
            Lamps that make the key; the strongest at the lit cheek if none is named.
        camera : Camera
            Whose left and right are meant.
        straight : float
            Share of those lamps' light at the lit cheek that arrives unhindered; the sun
            is too small to show in a picture. [1]
        """
        normal = self.head.cheeks[lit_side][1]
        sun = self.stage.sun
        if sun is not None and straight > 0.5 and key_lamps == (self.stage.lamps[sun.lamp].name,):
            thing, share, towards = key_lamps[0], straight, np.asarray(sun.towards, float)
            across = up = float(sun.angle_deg)
        else:
            view = self.panorama()
            parts = view.by_thing(normal, key_lamps)
            if not parts:
                return None
            thing = next(iter(parts))
            share = parts[thing] / sum(parts.values())
            flow = view.flow(key_lamps, thing)
            towards = flow / np.linalg.norm(flow)
            extent = self.extent(thing, towards, key_lamps)
            if extent is None:
                return None
            across, up = extent.across, extent.up
        throw = self.head.throw(lit_side)
        edge = float(shadow_edge(across, throw))
        back = camera.position - self.head.nose
        side, height = bearing(towards, back)
        off = float(np.degrees(np.arccos(np.clip(towards @ self.head.ahead, -1, 1))))
        # The camera faces the face: what is to the right of the line to the camera is on its left.
        return KeySource(tuple(key_lamps), thing, share, across, up, -side, height, off, edge,
                         throw)

    def extent(self, thing: str, towards: np.ndarray, key_lamps: Collection[str]) -> Extent | None:
        """Return how large a source appears from the face, by a close-up; None where nothing of it is lit.

        The source is a lamp, board, frame or whatever sends the key lamps' light; `towards` it is a
        unit vector.
        """
        found = self._close_up(thing, towards, self._spread(thing, towards, key_lamps), key_lamps)
        # A small pool of light on a large board: once more, of the pool alone.
        if found is not None and found[0].reach < ZOOM_BELOW * found[1].tan_half[0]:
            seen, camera = found
            x, y = seen.middle
            nearer = camera.world_from_camera @ np.array([x, y, 1.0])
            found = self._close_up(thing, nearer / np.linalg.norm(nearer), 1.4 * seen.reach,
                                     key_lamps)
        return None if found is None else found[0]

    def _close_up(self, thing: str, towards: np.ndarray, tan: float,
                  key_lamps: Collection[str]) -> tuple[Extent, Camera] | None:
        """Return (Extent, Camera) of a close-up of a source, or None where nothing of it is lit."""
        head = self.head
        up = head.up if abs(head.up @ towards) < 0.99 else -head.ahead
        camera = pinhole(thing, head.at, towards, up, (tan, tan))
        frames = self._render(camera, CLOSE_PIXELS, CLOSE_SAMPLES)
        _, omega = pinhole_rays(*frames.shape, camera.world_from_camera, camera.tan_half)
        luminance = np.zeros(frames.shape)
        for lamp in self.stage.lamps:
            if lamp.name in key_lamps:
                weights = lamp_band_xyz(lamp, frames.slices.shape[1])[:, 1]
                slices = np.asarray(frames.slices[frames.lights.index(lamp.name)], float)
                luminance += np.einsum("brc,b->rc", slices, weights)
        # A thing that the scene does not name is the sky, through whatever opening.
        index = frames.names.index(thing) if thing in frames.names else -1
        own = np.asarray(frames.names_index) == index
        if index >= 0 and thing in {g.name for g in self.stage.guides if g.opening}:
            own |= np.asarray(frames.names_index) == -1
        found = extent_of(np.where(own, luminance, 0.0), omega, camera.tan_half)
        return None if found is None else (found, camera)

    def _spread(self, thing: str, towards: np.ndarray, key_lamps: Collection[str]) -> float:
        """Return the tangent of half the angle that takes in the whole of a source."""
        right = np.cross(towards, self.head.up)
        right /= np.linalg.norm(right)
        basis = np.stack([right, np.cross(right, towards), towards], axis=1)
        points = (self._corners(thing) - self.head.at) @ basis
        points = points[points[:, 2] > 1e-3]
        if thing == SKY or not len(points) or len(points) > 5000:
            # What has no clear outline is taken as it was seen all round.
            view = self.panorama()
            bright = (view.thing == view.things.index(thing)) & (view.seen(key_lamps) > 0)
            points = view.directions[bright] @ basis
            points = points[points[:, 2] > 0.05]
        if not len(points):
            return float(WIDEST)
        tangent = np.abs(points[:, :2] / points[:, 2:]).max()
        return float(np.clip(1.15 * tangent + 0.004, 0.01, WIDEST))

    def eye_lights(self, camera: Camera, settings: CameraSettings) -> tuple[EyeLight, ...]:
        """Return the eye-lights that a camera sees in either eye, the brightest first."""
        found = {}
        for cornea in corneas(self.stage, self.head.figure):
            seen = eye_lights(cornea, camera, settings, self.panorama(), sources(self.stage),
                              hidden_by(self.head.triangles, cornea, camera))
            for each in seen:
                known = found.get(each.thing)
                if known is None or each.over_iris > known.over_iris:
                    found[each.thing] = each
        return tuple(sorted(found.values(), key=lambda each: -each.over_iris))
