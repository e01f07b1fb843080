"""What stands on a set and is in no scene file: stands under lamps and boards, cameras' bodies.

They take no part in the light; they are searched for in pictures and in what these mirror.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from previz.stage.build import BOOM_END
from previz.stage.records import Camera, Stage
from previz.stage.stands import CROWN, ON_CAMERA, ON_STAND, SPREAD, UNDER_CEILING

ON_STANDS = ("stand", "camera")
"""What holds lamps that stand on a stand."""

POLE, LEG = 0.0175, 0.0125
"""Radius of a stand's pole and of its legs. [m]  Common practice, no source."""

BODY = ((-0.12, 0.12), (-0.15, 0.18), (-0.45, 0.08))
"""A camera's body with its lens and matte box: right, up and ahead of the entrance pupil. [m]
Common practice, no source."""


@dataclass(frozen=True, eq=False)
class Stand:
    """A pole on three legs.

    Parameters
    ----------
    name : str
        What reports call it.
    top, foot : float array, shape (3,)
        Ends of the pole. [m]
    """

    name: str
    top: np.ndarray
    foot: np.ndarray
    role = "stand"

    def rods(self) -> Iterator[tuple[np.ndarray, np.ndarray, float]]:
        """Yield (end, end, radius) of the pole and the legs. [m]"""
        yield self.foot, self.top, POLE
        crown = self.foot + np.array([0, 0, min(CROWN, 0.6 * (self.top[2] - self.foot[2]))])
        for turn in np.radians((90, 210, 330)):
            away = np.array([np.cos(turn), np.sin(turn), 0.0])
            yield self.foot + SPREAD * away, crown, LEG

    def reach(self, origins: np.ndarray, directions: np.ndarray) -> np.ndarray:
        """Return how far along each line it is met; inf where it is not. Shape (n,) [m]"""
        far = np.full(len(directions), np.inf)
        for one, other, radius in self.rods():
            np.minimum(far, rod_reach(origins, directions, one, other, radius), out=far)
        return far


@dataclass(frozen=True, eq=False)
class CameraBody:
    """A box about a camera's lens.

    Parameters
    ----------
    name : str
        What reports call it.
    camera : str
        Name of the camera.
    position : float array, shape (3,)
        Entrance pupil. [m]
    world_from_camera : float array, shape (3, 3)
        Columns: right, up, forward.
    """

    name: str
    camera: str
    position: np.ndarray
    world_from_camera: np.ndarray
    role = "camera"

    def reach(self, origins: np.ndarray, directions: np.ndarray) -> np.ndarray:
        """Return how far along each line it is met; inf where it is not. Shape (n,) [m]"""
        origins, directions = np.asarray(origins, float), np.asarray(directions, float)
        low, high = np.array(BODY).T
        if origins.ndim == 1:
            inside = (origins - self.position) @ self.world_from_camera
            if np.all((low < inside) & (inside < high)):
                # Its own lines of sight begin in it, and meet nothing of it.
                return np.full(len(directions), np.inf)
        # Most lines pass the ball about the box by, which is quick to test.
        gap = self.position + self.world_from_camera @ ((low + high) / 2) - origins
        along = directions @ gap if gap.ndim == 1 else np.einsum("ij,ij->i", directions, gap)
        aside = np.einsum("...j,...j->...", gap, gap) - along**2
        radius = np.linalg.norm(high - low) / 2
        close = np.flatnonzero(aside <= radius**2 * (1 + 1e-6) + 1e-9)
        far = np.full(len(directions), np.inf)
        far[close] = self._box_reach(origins if origins.ndim == 1 else origins[close],
                                     directions[close], low, high)
        return far

    def _box_reach(self, origins: np.ndarray, directions: np.ndarray, low: np.ndarray,
                   high: np.ndarray) -> np.ndarray:
        start = (origins - self.position) @ self.world_from_camera
        towards = directions @ self.world_from_camera
        with np.errstate(divide="ignore", invalid="ignore"):
            one, other = (low - start) / towards, (high - start) / towards
        near = np.fmax.reduce(np.minimum(one, other), axis=1)
        far = np.fmin.reduce(np.maximum(one, other), axis=1)
        return np.where((near <= far) & (near > 0), near, np.inf)


def rod_reach(origins: np.ndarray, directions: np.ndarray, one: np.ndarray, other: np.ndarray,
              radius: float) -> np.ndarray:
    """Return how far along lines a thin round rod is met.

    Parameters
    ----------
    origins, directions : float array, shape (n, 3) or (3,), and (n, 3)
        Where the lines begin [m], and unit vectors.
    one, other : float array, shape (3,)
        Ends of the rod. [m]
    radius : float
        [m]

    Returns
    -------
    float array, shape (n,)
        inf where it is not met. [m]

    Limits
    ------
    Judged at the nearest approach of line and axis: right to the rod's own radius.
    """
    rays = np.asarray(directions, float)
    rod = np.asarray(other, float) - one
    gap = np.asarray(origins, float) - one
    along, own = rays @ rod, rod @ rod
    # Most lines pass its axis by, which is quick to test: the triple product is their distance from
    # it, times the length of both directions' cross product.
    across = gap @ np.cross(np.eye(3), rod)
    product = rays @ across if gap.ndim == 1 else np.einsum("ij,ij->i", rays, across)
    near = np.flatnonzero(product**2 <= radius**2 * (own - along**2) * (1 + 1e-6) + 1e-9)
    far = np.full(len(rays), np.inf)
    far[near] = _approach(gap if gap.ndim == 1 else gap[near], rays[near], rod, along[near], own, radius)
    return far


def _approach(gap: np.ndarray, rays: np.ndarray, rod: np.ndarray, along: np.ndarray, own: float,
              radius: float) -> np.ndarray:
    gap = np.broadcast_to(gap, rays.shape)
    back, across = np.einsum("ij,ij->i", gap, rays), gap @ rod
    place = (across - along * back) / np.maximum(own - along**2, 1e-12)
    place = np.clip(place, 0.0, 1.0)
    distance = place * along - back
    offset = gap + distance[:, None] * rays - place[:, None] * rod
    met = (distance > 0) & (np.einsum("ij,ij->i", offset, offset) <= radius**2)
    return np.where(met, distance, np.inf)


def bodies_of(scene: Any, stage: Stage) -> tuple[Stand | CameraBody, ...]:
    """Return the stands and cameras of one option of a scene and the stage built of it."""
    ceiling = scene.room.size[2] if scene.room is not None and scene.room.ceiling else np.inf
    items = [light for light in scene.lights if light.held in ON_STANDS and not light.in_shot
             and not _on_a_camera(light, stage.cameras)]
    # What is held before a lamp is clipped to it.
    items += [item for item in (*scene.boards, *scene.diffusion, *scene.flags, *scene.nets,
                                *scene.grids) if item.at is not None]
    items = [item for item in items if item.hung is None]
    made = [Stand(f"stand of {name.removesuffix(BOOM_END)}", end, np.array([*end[:2], _under(stage, end)]))
            for name, end in stage.places.items() if name.endswith(BOOM_END)]
    for item in items:
        at = np.asarray(item.at, float)
        corners = [m.vertices for m in (*stage.meshes, *stage.emitters) if m.name == item.name]
        low = min((float(c[:, 2].min()) for c in corners), default=at[2])
        # A head is held at its middle, a sheet at its lower edge.
        top = np.array([at[0], at[1], low])
        under = _under(stage, top)
        if top[2] - under >= ON_STAND and ceiling - at[2] > UNDER_CEILING:
            made.append(Stand(f"stand of {item.name}", top, np.array([at[0], at[1], under])))
    made += [CameraBody(f"camera {c.name}", c.name, np.asarray(c.position, float),
                        np.asarray(c.world_from_camera, float)) for c in stage.cameras]
    return tuple(made)


def _on_a_camera(light: Any, cameras: Iterable[Camera]) -> bool:
    return light.held == "camera" and any(
        np.linalg.norm(np.asarray(light.at, float) - camera.position) < ON_CAMERA
        for camera in cameras)


def _under(stage: Stage, at: np.ndarray) -> float:
    """Return the height of what is under a point: the top of a piece, or the floor. [m]"""
    heights = [0.0]
    for mesh in stage.meshes:
        if mesh.role == "set":
            low, high = mesh.vertices.min(axis=0), mesh.vertices.max(axis=0)
            if np.all(low[:2] <= at[:2]) and np.all(at[:2] <= high[:2]) and high[2] <= at[2]:
                heights.append(float(high[2]))
    return max(heights)
