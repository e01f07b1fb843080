"""Look out from a face with the engine: where its key comes from, and what its eyes mirror.

Small pinhole pictures from a point just before the nose, kept in the cache like any other frames.
"""

from __future__ import annotations

import copy
from dataclasses import dataclass

import numpy as np

from previz.engine.render import Sampling
from previz.exposure.comparing.eyes import Cornea, eye_lights
from previz.exposure.comparing.measures import KeySource
from previz.exposure.comparing.views import (
    SKY,
    Panorama,
    bearing,
    extent_of,
    first_hit,
    named_sources,
    panorama,
    pinhole_rays,
    shadow_edge,
)
from previz.physics.light import lamp_band_xyz
from previz.rendering.job import StageJob
from previz.rendering.request import Order
from previz.stage.lights.lowered import HOUSING
from previz.stage.records import Camera, Stage

BEFORE_NOSE = 0.02
"""How far before the tip of the nose the view is taken. [m]"""

WIDE_PIXELS, WIDE_SAMPLES = 64, 16
CLOSE_PIXELS, CLOSE_SAMPLES = 96, 16
"""Size of a square picture and its paths a pixel: all round, and of the source alone."""

WIDEST = np.tan(np.radians(75))
"""Tangent of half the widest close look."""

ZOOM_BELOW = 0.4
"""A source that fills less of a close look is looked at more closely still. [1]"""

NEAR_EYE = 0.04
"""Lids, lashes and hair that may hide an eye lie this near to it. [m]"""

LIDS = 0.009
"""What may hide a cornea lies this near to the line of sight of its middle. [m]"""

EYE_SURFACES = ("iris", "iris rim", "pupil")
"""What lies under the cornea."""


@dataclass(frozen=True)
class Head:
    """A face, ready to be looked out from.

    Parameters
    ----------
    figure : str
        Name of the figure.
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
    """Return a figure's head.

    Parameters
    ----------
    stage : Stage
        What the cameras look at.
    figure : str
        Name of the figure.
    """
    ahead = next(p.normal for p in stage.probes if p.name.startswith(f"{figure}: face"))
    up = np.array([0.0, 0, 1]) - ahead * ahead[2]
    cheeks = {}
    for probe in stage.probes:
        for side in ("left", "right"):
            if probe.name == f"{figure}: {side} cheek":
                cheeks[side] = (probe.position, probe.normal)
    corners = [m.vertices[m.faces] for m in stage.meshes if m.name == figure]
    return Head(figure, np.asarray(stage.places[f"{figure}.nose"]), np.asarray(ahead),
                up / np.linalg.norm(up), cheeks, np.concatenate(corners))


def faces_of(stage: Stage) -> list[str]:
    """Return the figures that have meters at both cheeks."""
    names = [p.name for p in stage.probes]
    return [name.removesuffix(": left cheek") for name in names
            if name.endswith(": left cheek")
            and name.replace("left cheek", "right cheek") in names]


def pinhole(stage: Stage, name: str, at, ahead, up, tan_half) -> Camera:
    """Return a pinhole camera that looks along a direction. Settings play no part in its frames."""
    forward = np.asarray(ahead, float) / np.linalg.norm(ahead)
    level = np.asarray(up, float) - forward * (forward @ np.asarray(up, float))
    level /= np.linalg.norm(level)
    axes = np.stack([np.cross(forward, level), level, forward], axis=1)
    settings = {"stop": 2.8, "iso": 800.0, "shutter_s": 1 / 48, "nd_density": 0.0,
                "white_balance": 5600.0, "tint": 0.0, "focal": 0.02, "sensor": (0.02, 0.02)}
    return Camera(name, axes, np.asarray(at, float), tuple(tan_half), tan_half[0] / tan_half[1],
                  0.0, 1.0, **settings)


def with_order(job: StageJob, order: Order) -> StageJob:
    """Return a job for another picture of the same stage; its fingerprint is not worked out anew.

    Parameters
    ----------
    job : StageJob
        Its device is shared as far as it is open.
    order : Order
        Size, samples and cache of the other picture.
    """
    other = copy.copy(job)
    other.order = order
    # What is kept of the stage is kept by its size.
    other._shelf = None
    return other


class Outlook:
    """What can be seen from a face of one stage.

    Parameters
    ----------
    job : StageJob
        Of the stage; its device and cache are used.
    head : Head
        The face that is looked out from.
    kept : dict, optional
        Takes what has been looked at, by its folder; options with the same ways of light share it.
    """

    def __init__(self, job: StageJob, head: Head, kept: dict | None = None):
        self.job, self.stage, self.head = job, job.stage, head
        self.kept = {} if kept is None else kept
        self._panorama: Panorama | None = None

    def _render(self, camera: Camera, pixels: int, samples: int):
        order = self.job.order
        # To find out what moved lamps do to the others' light takes longer than so small a picture.
        small = Order(pixels, pixels, Sampling(samples, 1, order.sampling.seed), order.bands,
                      order.backend, order.cache, exact=True)
        job = with_order(self.job, small)
        folder = job.frame_folder(camera)
        if folder in self.kept:
            return self.kept[folder]
        frames = job.cached(camera)
        if frames is None:
            # The stage goes to the device only when something has to be rendered.
            _ = self.job.buffers
            job.share(self.job)
            frames = job.render(camera, lambda *_: None)
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
                camera = pinhole(self.stage, name, head.at, ahead, up, (1.0, 1.0))
                frames = self._render(camera, WIDE_PIXELS, WIDE_SAMPLES)
                taken.append((frames, camera.world_from_camera, camera.tan_half))
            joined = panorama(taken, self.stage.lamps, self._through)
            self._panorama = named_sources(joined, self._cones())
        return self._panorama

    def _cones(self):
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

    def _through(self, directions):
        """Return the opening that each direction leaves the room by; '' for none."""
        names = np.full(len(directions), "", dtype=object)
        for guide in self.stage.guides:
            if guide.opening:
                normal = np.cross(guide.half_u, guide.half_v)
                with np.errstate(divide="ignore", invalid="ignore"):
                    reach = ((guide.centre - self.head.at) @ normal) / (directions @ normal)
                    point = directions * reach[:, None] + self.head.at - guide.centre
                    inside = reach > 0
                    for half in (guide.half_u, guide.half_v):
                        inside &= np.abs(point @ half) <= half @ half
                names[inside] = guide.name
        return names

    def _corners(self, thing: str) -> np.ndarray:
        """Return the vertices that a source's size is looked for in."""
        emitters = [e.vertices for e in self.stage.emitters if e.name == thing]
        # A lamp's dark housing is no part of its size; a shade is.
        bodies = [m.vertices for m in self.stage.meshes
                  if m.name == thing and not (emitters and m.surface == HOUSING)]
        return np.concatenate(emitters + bodies) if emitters or bodies else np.empty((0, 3))

    def key_source(self, lit_side: str, key_lamps, camera: Camera,
                   straight: float) -> KeySource | None:
        """Return where the key comes from.

        Parameters
        ----------
        lit_side : str
            'left' or 'right' cheek.
        key_lamps : tuple of str
            Lamps that make the key; the strongest at the lit cheek if none is named.
        camera : Camera
            Whose left and right are meant.
        straight : float
            Share of those lamps' light at the lit cheek that meets nothing on its way; the sun
            is too small to be looked for in a picture. [1]

        Returns
        -------
        KeySource or None
            None where the key's light comes from behind the face.
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
        # The camera faces the face: what is to the right of a look at the camera is on its left.
        return KeySource(tuple(key_lamps), thing, share, across, up, -side, height, off, edge,
                         throw)

    def extent(self, thing: str, towards, key_lamps):
        """Return how large a source looks from the face, by a close look at it.

        Parameters
        ----------
        thing : str
            A lamp, board, frame or whatever sends the light.
        towards : float array, shape (3,)
            Unit vector to it.
        key_lamps : collection of str
            Whose light on it counts.

        Returns
        -------
        comparing_views.Extent or None
            None where nothing of it is lit as seen from here.
        """
        found = self._close_look(thing, towards, self._spread(thing, towards, key_lamps), key_lamps)
        # A small pool of light on a large board: look again, at the pool alone.
        if found is not None and found[0].reach < ZOOM_BELOW * found[1].tan_half[0]:
            seen, camera = found
            x, y = seen.middle
            nearer = camera.world_from_camera @ np.array([x, y, 1.0])
            found = self._close_look(thing, nearer / np.linalg.norm(nearer), 1.4 * seen.reach,
                                     key_lamps)
        return None if found is None else found[0]

    def _close_look(self, thing, towards, tan: float, key_lamps):
        """Return (Extent, Camera) of a look at a source, or None where nothing of it is lit."""
        head = self.head
        up = head.up if abs(head.up @ towards) < 0.99 else -head.ahead
        camera = pinhole(self.stage, thing, head.at, towards, up, (tan, tan))
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

    def _spread(self, thing, towards, key_lamps) -> float:
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

    def eye_lights(self, camera: Camera, settings):
        """Return the eye-lights that a camera sees in either eye, the brightest first."""
        found = {}
        for cornea in self._corneas():
            seen = eye_lights(cornea, camera, settings, self.panorama(), self._sources(),
                              self._hidden(cornea, camera))
            for each in seen:
                known = found.get(each.thing)
                if known is None or each.over_iris > known.over_iris:
                    found[each.thing] = each
        return tuple(sorted(found.values(), key=lambda each: -each.over_iris))

    def _corneas(self):
        """Return the cornea of each eye; none where a figure has no eyes."""
        stage, figure = self.stage, self.head.figure
        meshes = [m for m in stage.meshes if m.name == figure and m.surface in EYE_SURFACES]
        eyes = [stage.places.get(f"{figure}.{side} eye") for side in ("left", "right")]
        if not meshes or any(eye is None for eye in eyes):
            return []
        corners = np.concatenate([m.vertices[m.faces] for m in meshes])
        cross = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        size = np.linalg.norm(cross, axis=1)
        # The smooth normals are those that the engine mirrors by.
        smooth = [cross[:0]] + [m.normals[m.faces].mean(axis=1) for m in meshes
                                if m.normals is not None]
        normals = np.concatenate(smooth)
        if len(normals) != len(cross):
            normals = cross
        middle, length = corners.mean(axis=1), np.linalg.norm(normals, axis=1)
        whole = (size > 0) & (length > 0)
        nearer = np.linalg.norm(middle - eyes[0], axis=1) < np.linalg.norm(middle - eyes[1], axis=1)
        f0 = float(stage.surfaces[meshes[0].surface].specular.mean())
        return [Cornea(middle[own], normals[own] / length[own, None], size[own] / 2, f0)
                for own in (nearer & whole, ~nearer & whole) if own.any()]

    def _sources(self) -> set[str]:
        """Return the names of what may make an eye-light: what shines or was put there to."""
        stage = self.stage
        named = {lamp.name for lamp in stage.lamps} | {guide.name for guide in stage.guides}
        return named | {m.name for m in stage.meshes if m.role in ("board", "frame")} | {SKY}

    def _hidden(self, cornea: Cornea, camera: Camera):
        """Return a function that says which parts of a cornea the figure hides from a camera."""
        middle = cornea.centres.mean(axis=0)
        way = camera.position - middle
        way = way / np.linalg.norm(way)
        offset = self.head.triangles.mean(axis=1) - middle
        along = offset @ way
        aside = np.linalg.norm(offset - along[:, None] * way, axis=1)
        lids = self.head.triangles[(aside < LIDS) & (along > -LIDS) & (along < NEAR_EYE)]
        start = cornea.centres + 3e-4 * cornea.normals

        def hidden(parts):
            return np.array([first_hit(lids, start[i], way) < NEAR_EYE for i in parts])

        return hidden
