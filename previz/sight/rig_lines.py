"""Lines of sight through a picture, followed to what they meet and to what is mirrored there.

Where they cross a pane or end on something that shines they are mirrored exactly and followed once
more. How much light a reflection adds is the engine's own along those same lines, lamp by lamp.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from previz.exposure.comparing.coverage import GLASS, GLOSS, MIRROR
from previz.exposure.comparing.measures import box_mean
from previz.physics.optics import pane
from previz.physics.rays import pinhole_directions, rectangle_reach
from previz.physics.spectra import observer
from previz.rendering.job import StageJob
from previz.sight.rig_bodies import CameraBody, Stand
from previz.stage.records import SMOOTH, Camera, Pane, Stage

if TYPE_CHECKING:
    from previz.engine.sightlines import Met

COLUMNS = 480
"""Width of the grid of lines of sight. [px]"""

SPLIT = 2
"""Lines of sight through each of its pixels, across and down."""

ROUGHEST = 0.2
"""Rougher surfaces smear a reflection out of knowing. [1]  Common practice, no source."""

LEAST_GLOSS = 0.005
"""Surfaces that mirror less are left out. [1]"""

TRACED, PATHS = 160, 16
"""Lines of each reflection whose light is followed, and the paths along each."""

FEWEST, SMOOTHED = 32, 15
"""A reflection that a rough surface smears is judged by so many lines, and searched for in means over
squares of so many pixels a side: single lines of it are scattered. [1], [px]"""

RIG_ROLES = ("lamp", "board", "frame", "flag")

OFF_SURFACE = 1e-4
"""How far before a surface a mirrored line begins, relative to one metre plus its place. [1]"""


@dataclass(eq=False)
class Trace:
    """What was found of one thing, seen itself or within another.

    `added` is the light of a reflection and `behind` what else is seen there, a mean along
    the same lines, per unit of each lamp in each band; None where it is not known.
    """

    name: str
    within: str
    by: str
    share: float
    mask: np.ndarray
    added: np.ndarray | None = None
    behind: np.ndarray | None = None


def rig_roles(stage: Stage) -> dict[str, str]:
    """Return the name and role of everything that lights a scene or stands in its light."""
    roles = {e.name: "lamp" for e in stage.emitters}
    return roles | {m.name: m.role for m in stage.meshes if m.role in RIG_ROLES}


@dataclass(eq=False)
class _Lines:
    """Mirrored lines of sight: where they go on, what share of light they carry, and in what.

    `past` is the share that goes straight on through the glass, and `beyond` where that begins;
    None for what is opaque.
    """

    number: np.ndarray
    origin: np.ndarray
    direction: np.ndarray
    share: np.ndarray
    within: np.ndarray
    by: str
    rough: np.ndarray
    past: np.ndarray | None = None
    beyond: np.ndarray | None = None


class RigScan:
    """One camera's picture, through the middle of its lens, line of sight by line of sight.

    The bodies stand there and are in no stage.
    """

    def __init__(self, job: StageJob, camera: Camera, bodies: Sequence[Stand | CameraBody]):
        # The stage goes to the device, and the engine starts, only when something is traced.
        self.buffers, self.stage = job.buffers, job.stage
        self.camera, self.bodies, self.seed = camera, bodies, job.order.sampling.seed
        from previz.engine import sightlines

        self.engine = sightlines
        self.names = self.buffers.geometry.names
        self.rig = rig_roles(self.stage)
        self.shape = (max(1, round(COLUMNS / camera.aspect)), COLUMNS)
        self.rays = self._rays()
        self.origin = np.broadcast_to(camera.position, self.rays.shape)
        self.first = sightlines.meet(self.buffers, self.origin, self.rays)

    def _rays(self) -> np.ndarray:
        """Return the directions, all of a pixel one after the other. Shape (n, 3)"""
        rows, columns = self.shape
        inner = (np.arange(SPLIT) + 0.5) / SPLIT
        x = ((np.arange(columns)[:, None] + inner).ravel() * 2 / columns - 1)
        y = 1 - (np.arange(rows)[:, None] + inner).ravel() * 2 / rows
        rays = pinhole_directions(x, y, self.camera.world_from_camera, self.camera.tan_half)
        return rays.reshape(rows, SPLIT, columns, SPLIT, 3).swapaxes(1, 2).reshape(-1, 3)

    def traces(self) -> list[Trace]:
        """Return everything that is seen, and everything that is mirrored."""
        # From one point, as lines from one are the quicker to test.
        seen = self._met(self.first, np.asarray(self.camera.position, float), self.rays)
        for net in (each for each in self.stage.panes if each.ior <= 1 and each.name in self.rig):
            # What is seen through a net's cloth shows the net as much as its rods do.
            seen[net.name] = np.union1d(seen.get(net.name, []), self._crossing(net)[0]).astype(int)
        found = [Trace(name, "", "", *self._placed(numbers))
                 for name, numbers in seen.items() if len(numbers)]
        for lines in (*self._panes(), *self._surfaces()):
            found += self._mirrored(lines)
        return found

    def _placed(self, numbers: np.ndarray) -> tuple[float, np.ndarray]:
        """Return (share of the frame, mask) of some lines of sight."""
        counts = np.bincount(numbers // SPLIT**2, minlength=self.shape[0] * self.shape[1])
        return len(numbers) / len(self.rays), (counts > 0).reshape(self.shape)

    def _met(self, met: Met, origins: np.ndarray, directions: np.ndarray) -> dict[str, np.ndarray]:
        """Return thing of the rig -> which of some lines meet it first."""
        name = met.name.copy()
        known, distance = list(self.names), met.distance.copy()
        for body in self.bodies:
            reach = body.reach(origins, directions)
            nearer = reach < distance
            name[nearer], distance[nearer] = len(known), reach[nearer]
            known.append(body.name)
        reported = {n for n in known if n in self.rig} | {body.name for body in self.bodies}
        return {known[i]: np.flatnonzero(name == i) for i in np.unique(name[name >= 0])
                if known[i] in reported}

    def _crossing(self, pane: Pane) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Return which lines cross a pane before they end, where, and the pane's normal."""
        normal = np.cross(pane.half_u, pane.half_v)
        reach, inside = rectangle_reach(self.camera.position, self.rays, pane.centre, pane.half_u,
                                        pane.half_v)
        inside &= (reach > 1e-4) & (reach < self.first.distance)
        return np.flatnonzero(inside), reach, normal / np.linalg.norm(normal)

    def _panes(self) -> Iterator[_Lines]:
        """Yield the lines that each pane and sheet mirrors, dimmed by those before it."""
        crossed = []
        for each in self.stage.panes:
            numbers, reach, normal = self._crossing(each)
            clear = float(np.average(each.tint, weights=observer()[1]))
            cosine = np.abs(self.rays[numbers] @ normal)
            if each.ior > 1:
                through, back = pane(cosine, each.ior, sheets=each.sheets, internal=clear)
            else:
                # A net mirrors nothing; its threads hide more at a slant.
                through, back = clear ** (1 / np.maximum(cosine, 1e-3)), np.zeros(len(numbers))
            normals = np.broadcast_to(normal, (len(numbers), 3))
            crossed.append((each.name, numbers, reach[numbers], normals, through, back))
        for layer in self.engine.cross_sheets(self.buffers, self.origin, self.rays,
                                              self.first.distance):
            for index in np.unique(layer.mesh):
                own = layer.mesh == index
                crossed.append((self.stage.meshes[index].name, layer.number[own], layer.reach[own],
                                layer.normal[own], layer.through[own], layer.back[own]))
        for which, (name, numbers, reach, normal, past, back) in enumerate(crossed):
            if not back.any():
                continue
            left = np.ones(len(numbers))
            for _, others, theirs, _, through, _ in crossed[:which] + crossed[which + 1:]:
                _, here, there = np.intersect1d(numbers, others, assume_unique=True, return_indices=True)
                before = theirs[there] < reach[here] - 1e-6
                left[here[before]] *= through[there[before]]
            lines = self._lines(numbers, reach, normal, back * left,
                                np.full(len(numbers), name, dtype=object), GLASS, np.zeros(len(numbers)))
            lines.past = past * left
            lines.beyond = self.camera.position + self.rays[numbers] * (reach + 10 * OFF_SURFACE)[:, None]
            yield lines

    def _surfaces(self) -> Iterator[_Lines]:
        """Yield the lines that mirrors and glossy things send on."""
        surfaces = list(self.stage.surfaces.values())
        light = observer()[1] / observer()[1].sum()
        # After the stage's own comes the black back of a lamp's face, as in the engine's tables.
        f0 = np.array([*(float(s.specular @ light) for s in surfaces), 0.0])
        gloss = np.array([*(s.gloss for s in surfaces), 0.0])
        # Fibres mirror nothing.
        widths = (max(s.roughness, s.across or 0.0) if s.fuzz is None else 1.0 for s in surfaces)
        rough = np.array([*widths, 1.0])
        people = {m.name for m in self.stage.meshes if m.role == "figure"}
        person = np.array([name in people for name in self.names], bool)
        met = self.first
        ends = (met.name >= 0) & ~met.shines
        ends[ends] &= ~person[met.name[ends]]
        of = np.where(ends, met.surface, 0)
        ends &= (gloss[of] > 0) & (rough[of] <= ROUGHEST)
        numbers = np.flatnonzero(ends)
        own = met.surface[numbers]
        normal = self._facets(met.normal[numbers], rough[own])
        cosine = -np.einsum("ij,ij->i", self.rays[numbers], normal)
        # Schlick 1994.
        share = gloss[own] * (f0[own] + (1 - f0[own]) * (1 - np.clip(cosine, 0, 1)) ** 5)
        good = (share >= LEAST_GLOSS) & (cosine > 1e-3)
        numbers, normal, share, own = numbers[good], normal[good], share[good], own[good]
        names = np.array(self.names, dtype=object)
        for by, which in ((MIRROR, (rough[own] < SMOOTH) & (f0[own] >= 0.5)),
                          (GLOSS, ~((rough[own] < SMOOTH) & (f0[own] >= 0.5)))):
            yield self._lines(numbers[which], met.distance[numbers[which]], normal[which],
                              share[which], names[met.name[numbers[which]]], by,
                              rough[own[which]])

    def _facets(self, normals: np.ndarray, rough: np.ndarray) -> np.ndarray:
        """Return the normals of facets of rough surfaces, drawn by the GGX distribution."""
        rng = np.random.default_rng(self.seed)
        u, turn = rng.random(len(normals)), 2 * np.pi * rng.random(len(normals))
        tangent = np.where(rough < SMOOTH, 0.0, rough * np.sqrt(u / np.maximum(1 - u, 1e-6)))
        aside = np.where(np.abs(normals[:, 2:]) < 0.9, [[0.0, 0, 1]], [[1.0, 0, 0]])
        one = np.cross(normals, aside)
        one /= np.maximum(np.linalg.norm(one, axis=1, keepdims=True), 1e-12)
        other = np.cross(normals, one)
        tilted = normals + tangent[:, None] * (np.cos(turn)[:, None] * one
                                               + np.sin(turn)[:, None] * other)
        return tilted / np.linalg.norm(tilted, axis=1, keepdims=True)

    def _lines(self, numbers: np.ndarray, reach: np.ndarray, normal: np.ndarray, share: np.ndarray,
               within: np.ndarray, by: str, rough: np.ndarray) -> _Lines:
        before = self.rays[numbers]
        cosine = np.einsum("ij,ij->i", before, normal)
        facing = np.where(cosine[:, None] > 0, -normal, normal)
        points = self.camera.position + before * reach[:, None]
        lift = OFF_SURFACE * (1 + np.abs(points).max(axis=1, initial=0.0))
        return _Lines(numbers, points + facing * lift[:, None],
                      before - 2 * cosine[:, None] * normal, share, within, by, rough)

    def _mirrored(self, lines: _Lines) -> list[Trace]:
        """Return what mirrored lines show, with its light."""
        met = self.engine.meet(self.buffers, lines.origin, lines.direction)
        found, within = [], lines.within
        for name, which in self._met(met, lines.origin, lines.direction).items():
            for mirror in dict.fromkeys(within[which]):
                # Which lines show this thing within this mirror.
                own = which[within[which] == mirror]
                share, mask = self._placed(lines.number[own])
                if lines.by == GLOSS and np.any(lines.rough[own] >= SMOOTH):
                    own, mask = self._smeared(lines, own)
                    share = float(mask.mean())
                if mirror == name or not len(own):
                    continue
                trace = Trace(name, mirror, lines.by, share, mask)
                if name in self.rig:
                    trace.added, trace.behind = self._light(lines, own, mask)
                found.append(trace)
        return found

    def _smeared(self, lines: _Lines, own: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return some lines, and the pixels, of the bright part of a smeared reflection.

        Half of the lines say where it is and the other half, which are returned, how much: of
        random lines, those that happen to be many would pass for the brightest.
        """
        pixel = lines.number[own] // SPLIT**2
        locating = lines.number[own] % 2 == 0
        counts = np.bincount(pixel[locating], minlength=self.shape[0] * self.shape[1])
        if len(own) < FEWEST or not locating.any():
            return own[:0], counts > 0
        around = np.pad(counts.reshape(self.shape).astype(float), SMOOTHED // 2)
        around = box_mean(around, SMOOTHED)
        mask = around >= 0.5 * around.max()
        return own[mask.ravel()[pixel] & ~locating], mask

    def _light(self, lines: _Lines, own: np.ndarray, mask: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return the light of a reflection, and what else is seen at its place."""
        some = own[_spaced(len(own))]
        back = self._radiance(lines.origin[some], lines.direction[some], 0)
        added = np.einsum("nlb,n->lb", back, lines.share[some]) / len(some)
        if lines.past is not None:
            through = self._radiance(lines.beyond[some], self.rays[lines.number[some]], 1)
            return added, np.einsum("nlb,n->lb", through, lines.past[some]) / len(some)
        whole = lines.number[own]
        if np.any(lines.rough[own] >= SMOOTH):
            # Of a pixel's random lines a few go to the lamp: the mean is over all of them.
            whole = (np.flatnonzero(mask)[:, None] * SPLIT**2 + np.arange(1, SPLIT**2, 2)).ravel()
            added *= len(own) / len(whole)
        rays = self.rays[whole[_spaced(len(whole))]]
        seen = self._radiance(np.broadcast_to(self.camera.position, rays.shape), rays, 2)
        return added, seen.mean(axis=0) - added

    def _radiance(self, origins: np.ndarray, directions: np.ndarray, stream: int) -> np.ndarray:
        return self.engine.radiance(self.buffers, origins, directions, PATHS,
                                    self.seed + 1000 * stream)


def _spaced(count: int) -> np.ndarray:
    """Return at most `TRACED` of so many numbers, evenly spaced."""
    return np.linspace(0, count - 1, min(TRACED, count)).astype(int)
