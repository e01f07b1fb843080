"""What hangs in an opening, as triangles: a net curtain in folds, a blind of slats.

A net is threads with holes between, as the cloth of a diffusion frame: fine upright strips that
scatter what falls on them, with gaps of the share of the area that lets light straight through.
Limit: the gaps show one by one where a lamp is so small or far that its image through one is
narrower than the gap, under about a millimetre; the sun's is, half a metre behind the net.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from previz.stage import shapes
from previz.stage.records import Mesh, Surface
from previz.stage.surfaces import LIGHTEST, ONES, SENT_BACK, hue_of

if TYPE_CHECKING:
    from previz.scene.dressing import Blind, Curtain

FOLD = 0.11
"""From one fold of a curtain to the next (common practice, no source). [m]"""

STRIP = 0.002
"""From one strip of a net to the next, along the cloth. [m]"""

MOST_STRIPS = 4000

CLEAR_OF_WALL = 0.02
"""From the wall to the nearest fold of a curtain, and from a slat to what is next to it. [m]"""

ROD = 0.018
"""Thickness of a curtain's rod and of the rail of a blind. [m]"""


@dataclass(frozen=True)
class Frame:
    """An opening's place.

    Parameters
    ----------
    centre : float array, shape (3,)
        Middle, at the inside face of the wall. [m]
    along, up, inward : float array, shape (3,)
        Unit vectors.
    size : (float, float)
        Width and height. [m]
    reach : (float, float, float, float)
        How far the wall goes on beyond the opening: low and high end along, down, up. [m]
    """

    centre: np.ndarray
    along: np.ndarray
    up: np.ndarray
    inward: np.ndarray
    size: tuple[float, float]
    reach: tuple[float, float, float, float]

    def at(self, u, v, w) -> np.ndarray:
        """Return world positions of (along, up, inward) from the middle. [m]"""
        return (self.centre + np.multiply.outer(u, self.along) + np.multiply.outer(v, self.up)
                + np.multiply.outer(w, self.inward))

    def box(self, low, high) -> shapes.Triangles:
        """Return an upright box between two corners given as (along, up, inward)."""
        vertices, faces = shapes.box(low, high)
        return self.at(*vertices.T), self.outwards(faces)

    def outwards(self, faces) -> np.ndarray:
        """Return faces wound for a right-handed frame as this one needs them."""
        return faces[:, ::-1] if np.cross(self.along, self.up) @ self.inward < 0 else faces


def net_surface(name: str, curtain: Curtain) -> Surface:
    """Return the threads of a net curtain.

    Over the net laid flat `transmission` goes through, `open` of all light by the holes; of the
    rest a part is sent back. The threads have what is left, over their own share of the area.
    """
    threads = 1 - curtain.open
    through = (curtain.transmission - curtain.open) / threads
    back = SENT_BACK * (1 - curtain.transmission) / threads
    hue = hue_of(curtain.colour)
    through = np.minimum(through * hue, LIGHTEST)
    back = np.minimum(back * hue, LIGHTEST - through)
    return Surface(f"net of {name}", back, through, 0 * ONES)


def fold_depth(fullness: float) -> float:
    """Return the amplitude of the sine whose length is `fullness` times its base. [m]"""
    phase = (np.arange(256) + 0.5) * 2 * np.pi / 256

    def length(amplitude):
        return np.mean(np.hypot(1, amplitude * 2 * np.pi / FOLD * np.cos(phase)))

    low, high = 0.0, FOLD * fullness
    for _ in range(50):
        middle = (low + high) / 2
        low, high = (middle, high) if length(middle) < fullness else (low, middle)
    return low


def _strips(width: float, fullness: float, holes: float):
    """Return where strips of cloth begin and end, as (base, depth) from the left, and normals."""
    amplitude = fold_depth(fullness)
    base = np.linspace(0, width, 64 * max(int(np.ceil(width / FOLD)), 1) + 1)
    depth = amplitude * (1 + np.sin(2 * np.pi * base / FOLD))
    run = np.concatenate([[0], np.cumsum(np.hypot(np.diff(base), np.diff(depth)))])
    if holes > 0:
        count = int(np.clip(round(run[-1] / STRIP), 1, MOST_STRIPS))
    else:
        count = max(int(np.ceil(width / FOLD * 24)), 1)
    starts = np.arange(count) * run[-1] / count
    ends = starts + (1 - holes) * run[-1] / count
    places = [np.interp(each, run, base) for each in (starts, ends)]
    slopes = [amplitude * 2 * np.pi / FOLD * np.cos(2 * np.pi * each / FOLD) for each in places]
    depths = [amplitude * (1 + np.sin(2 * np.pi * each / FOLD)) for each in places]
    return places, depths, slopes


def curtain_meshes(name: str, curtain: Curtain, frame: Frame, surface: str, rod: str) -> list[Mesh]:
    """Return an opening's net curtain on its rod, with the names of their surfaces on the stage."""
    w, h = frame.size
    low_u, high_u, low_v, high_v = (min(curtain.overlap, room) for room in frame.reach)
    width, top, bottom = w + low_u + high_u, h / 2 + high_v, -h / 2 - low_v
    left = -w / 2 - low_u
    places, depths, slopes = _strips(width, curtain.fullness, curtain.open)
    count = len(places[0])
    corners, normals = [], []
    for side, v in ((0, bottom), (1, bottom), (1, top), (0, top)):
        corners.append(frame.at(left + places[side], np.full(count, v),
                                CLEAR_OF_WALL + depths[side]))
        turned = np.outer(-slopes[side], frame.along) + frame.inward
        normals.append(turned / np.linalg.norm(turned, axis=1, keepdims=True))
    vertices = np.stack(corners, axis=1).reshape(-1, 3)
    first = 4 * np.arange(count)[:, None]
    quads = np.concatenate([first + [0, 1, 2], first + [0, 2, 3]])
    cloth = Mesh(name, surface, vertices, frame.outwards(quads), np.stack(normals, axis=1).reshape(-1, 3))
    middle = CLEAR_OF_WALL + fold_depth(curtain.fullness)
    bar = frame.box((left, top, middle - ROD / 2),
                    (left + width, top + min(ROD, frame.reach[3] - high_v + 1e-3),
                     middle + ROD / 2))
    return [cloth, Mesh(name, rod, *bar)]


def blind_mesh(name: str, blind: Blind, frame: Frame, surface: str, depth: float) -> Mesh:
    """Return an opening's blind: its slats and the rail that they hang from.

    It hangs in the reveal, so deep from the inside face of the wall to the glass or its bars [m], where
    there is room for it, else before the wall.
    """
    w, h = frame.size
    offset = blind.width / 2 + CLEAR_OF_WALL / 2
    inside = -offset if 2 * offset <= depth else offset
    run, length = (w, h) if blind.upright else (h, w)
    lean, lying = (-frame.along, frame.up) if blind.upright else (frame.up, frame.along)
    count = max(round(run * blind.lowered / blind.spacing), 1)
    tilt, reach = np.radians(blind.angle), length / 2 - CLEAR_OF_WALL / 2
    across = frame.inward * np.cos(tilt) + lean * np.sin(tilt)
    parts = []
    for k in range(count):
        # Counted from the top, or of upright slats from the low end of the wall.
        along_run = (k + 0.5) * blind.spacing
        place = (-w / 2 + along_run, 0.0) if blind.upright else (0.0, h / 2 - along_run)
        parts.append(shapes.rectangle(frame.at(*place, inside), across * blind.width / 2, lying * reach))
    rail = frame.box((-w / 2, h / 2 - ROD, inside - ROD / 2), (w / 2, h / 2, inside + ROD / 2))
    return Mesh(name, surface, *shapes.join(*parts, rail))
