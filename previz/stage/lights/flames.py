"""Candles and fires: flames that stand still, brighter and dimmer, whiter and redder with their height."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np

from previz.physics.materials import MATERIALS
from previz.scene.light import Candle, Fire
from previz.scene.surface import Surface
from previz.stage import shapes
from previz.stage.lights.fixture import Fixture, Setting, builds
from previz.stage.lights.own_body import FLAME_RAYS, Flames, of_flames
from previz.stage.records import Emitter, Guide, Mesh

WICK = 0.006
"""From a candle's top to its flame. [m]"""

WICK_RADIUS = 0.0007
"""[m]  Common practice, no source."""

WAX = Surface(name="cream paint")
WOOD = Surface(name="soot")

LOG_RADIUS = 0.05
"""[m]"""

LOGS = 2.4
"""How far under the foot of the flames the lowest logs' middle lies, over their radius. [1]"""

UPRIGHT = np.array([[1.0, 0, 0], [0, 0, -1.0], [0, 1.0, 0]])
"""Axes of a flame: its picture's second axis goes up, and it is the same all round."""

ROWS = 48
"""Of the picture of a flame, from its foot to its tip."""

# Height over the flame's own; then how bright, and linear Rec. 709 beside the whole. The dark cone about the
# wick, the bright zone and the dimmer tip of a candle are as descriptions of diffusion flames have them, the
# coals, the yellow body and the red tips of a wood fire as fires look (common practice, no source).
_CANDLE = (
    (0.00, 0.18, (0.75, 0.95, 1.30)), (0.12, 0.30, (0.95, 1.00, 1.00)), (0.30, 0.95, (1.00, 1.00, 1.00)),
    (0.55, 1.00, (1.00, 1.00, 1.00)), (0.80, 0.75, (1.02, 0.98, 0.92)), (1.00, 0.40, (1.08, 0.90, 0.75)),
)  # fmt: skip
_FIRE = (
    (0.00, 0.10, (1.50, 0.60, 0.30)), (0.06, 0.30, (1.30, 0.80, 0.50)), (0.14, 0.90, (1.00, 1.00, 1.00)),
    (0.30, 1.00, (1.00, 1.00, 1.00)), (0.55, 0.50, (1.14, 0.88, 0.60)), (0.80, 0.20, (1.30, 0.72, 0.42)),
    (1.00, 0.08, (1.50, 0.55, 0.25)),
)  # fmt: skip

_TONGUES = (
    (0.00, 0.05, 1.00, 0.27), (0.52, 0.4, 0.80, 0.21), (0.50, 1.5, 0.66, 0.20), (0.56, 2.6, 0.86, 0.21),
    (0.55, 3.6, 0.52, 0.19), (0.60, 4.7, 0.72, 0.20), (0.52, 5.6, 0.44, 0.18), (0.92, 1.0, 0.36, 0.15),
    (0.98, 3.1, 0.45, 0.16), (0.92, 5.1, 0.30, 0.15), (1.00, 4.1, 0.26, 0.14), (0.95, 0.1, 0.40, 0.15),
)  # fmt: skip
"""Tongues of a fire: how far out, which way [rad], how high and how wide, over the fire's own half width and
height. (common practice, no source)"""


def tongue(width: float, height: float, *, rings: int = 12, sides: int = 16, sway: float = 0.0,
           turn: float = 0.0, ragged: float = 0.0) -> shapes.Triangles:
    """Return a closed flame from z = 0 to its tip: round below, drawn out above, and swaying.

    Parameters
    ----------
    width, height : float
        [m]
    sway : float
        How far its middle line bends aside, over its width. [1]
    turn : float
        Which way. [rad]
    ragged : float
        How uneven it is round about, over its radius. [1]
    """
    share = 0.5 - 0.5 * np.cos(np.linspace(0, np.pi, rings + 2))
    radius = np.sqrt(share) * (1 - share) ** 0.85
    # The widest place of this outline is at 0.5 / 1.35 of the height.
    radius *= width / 2 / (np.sqrt(0.5 / 1.35) * (0.85 / 1.35) ** 0.85)
    middle = sway * width * np.sin(4.2 * share + turn) * share**1.3
    around = 2 * np.pi * np.arange(sides) / sides
    up = share[1:-1, None]
    wave = np.sin(2 * around + 9 * up + 3 * turn) + 0.7 * np.sin(3 * around - 14 * up)
    far = radius[1:-1, None] * (1 + ragged * wave)
    x = middle[1:-1, None] * np.cos(turn) + far * np.cos(around)
    y = middle[1:-1, None] * np.sin(turn) + far * np.sin(around)
    z = np.broadcast_to(share[1:-1, None] * height, x.shape)
    body = np.stack([x, y, z], axis=2).reshape(-1, 3)
    tip = [middle[-1] * np.cos(turn), middle[-1] * np.sin(turn), height]
    vertices = np.concatenate([body, [[0.0, 0.0, 0.0], tip]])
    ring, side = np.divmod(np.arange((rings - 1) * sides), sides)
    here, after = ring * sides + side, ring * sides + (side + 1) % sides
    faces = [np.stack([here, after, after + sides], axis=1),
             np.stack([here, after + sides, here + sides], axis=1)]
    first, last = np.arange(sides), (rings - 1) * sides + np.arange(sides)
    foot, top = len(body), len(body) + 1
    faces.append(np.stack([np.full(sides, foot), np.roll(first, -1), first], axis=1))
    faces.append(np.stack([np.full(sides, top), last, np.roll(last, -1)], axis=1))
    return vertices, np.concatenate(faces)


def _level(steps, share: np.ndarray) -> np.ndarray:
    """Return how bright flames are at heights over their own, by colour. Shape (..., 3) [1]"""
    at = [each[0] for each in steps]
    return np.stack([np.interp(share, at, [bright * colour[k] for _, bright, colour in steps])
                     for k in range(3)], axis=-1)


def _picture(steps, flame: shapes.Triangles) -> np.ndarray:
    """Return the picture of a flame, whose mean over its surface is white. Shape (ROWS, 1, 3) [1]

    So the lamp's colour stays what it is said to be, whatever tips and coals have.
    """
    vertices, faces = flame
    corners = vertices[faces]
    areas = 0.5 * np.linalg.norm(shapes.crosses(corners), axis=1)
    low, high = vertices[:, 2].min(), vertices[:, 2].max()
    rows = _level(steps, (np.arange(ROWS)[::-1] + 0.5) / ROWS)
    place = np.clip((corners[:, :, 2].mean(axis=1) - low) / (high - low) * ROWS - 0.5, 0, ROWS - 1)
    seen = np.stack([np.interp(place, np.arange(ROWS), rows[::-1, k]) for k in range(3)], axis=1)
    mean = areas @ seen / areas.sum()
    return (rows / mean)[:, None, :]


def _flame(light, setting: Setting, flame: shapes.Triangles, steps, under: shapes.Triangles, surface: Surface,
           lost: Flames) -> Fixture:
    """Return flames over what burns, both given about the middle of the flames."""
    width = light.flame[0]
    mesh = Mesh(light.name, setting.surface(surface), *shapes.moved(under, setting.at), role="lamp")
    if setting.photometry is not None:
        # Only a ball has the same apparent size from everywhere, as a measured table needs.
        vertices, triangles = shapes.ball(width / 2, subdivisions=3)
        table = setting.photometry.table
        emitter = Emitter(0, light.name, vertices + setting.at, triangles, table=table, symmetric=True,
                          world_from_light=setting.axes(light.turn))
        return Fixture((emitter,), (mesh,), float(table.intensity(0.0)))
    vertices, faces = flame
    emitter = Emitter(0, light.name, vertices + setting.at, faces, share=1 / (1 - lost.lost),
                      picture=_picture(steps, flame), world_from_light=UPRIGHT, thin=True)
    return Fixture((emitter,), (mesh,), lost.side / (1 - lost.lost))


def _rows_of(level: np.ndarray, vertices: np.ndarray, heights: np.ndarray) -> np.ndarray:
    """Return a picture's rows, the top one first, at heights of the flame."""
    low, high = vertices[:, 2].min(), vertices[:, 2].max()
    place = np.clip((heights - low) / (high - low) * len(level) - 0.5, 0, len(level) - 1)
    return np.interp(place, np.arange(len(level)), level[::-1])


_SWALLOWED = ((0.15, 0.6077), (0.35, 0.5976), (0.7, 0.5926), (1.5, 0.5859))
"""Width of a fire [m]; share of its light that tongues, coals and logs swallow of each other's. [1]"""

_ASIDE = ((0.3, 0.0255), (0.6, 0.0353), (1.0, 0.0407), (1.43, 0.0421), (2.0, 0.0434), (3.0, 0.0438))
"""Height of a fire over its width [1]; intensity to the side of a lumen that leaves its surfaces. [cd/lm]

Both by `of_flames` with 65 536 rays, which take a second; what gets away as the engine meters it, 2 % more.
The other of width and height moves them by under 1 %.
"""


@lru_cache(64)
def _candle(flame: tuple[float, float], diameter: float, height: float):
    """Return (flame, stick and wick, what is lost), about the middle of the flame."""
    width, high = flame
    bright = shapes.moved(tongue(width, high), [0, 0, -high / 2])
    top = high / 2 + WICK
    stick = shapes.frustum(diameter / 2, diameter / 2, height, sides=24)
    # It ends within the flame, where it is not seen.
    wick = shapes.frustum(WICK_RADIUS, WICK_RADIUS, WICK + 0.1 * high, sides=6)
    under = shapes.join(shapes.moved(stick, [0, 0, -(top + height)]), shapes.moved(wick, [0, 0, -top]))
    return bright, under, _lost([bright], _CANDLE, under, WAX)


@lru_cache(64)
def _fire(flame: tuple[float, float]):
    """Return (flames and coals one by one, logs), about the middle of the flames."""
    width, high = flame
    parts = []
    for out, turn, tall, wide in _TONGUES:
        # Outer tongues lean in, as the air that feeds them does.
        body = tongue(wide * width, tall * high, sides=9, rings=8, sway=0.6, turn=turn * 2.3, ragged=0.2)
        reach = out * 0.36 * width
        lean = -0.35 * reach * (body[0][:, 2:] / high)
        ahead = np.array([np.cos(turn), np.sin(turn), 0.0])
        parts.append((body[0] + ahead * (reach + lean), body[1]))
    parts += _coals(width, high)
    parts = [shapes.moved(each, [0, 0, -high / 2]) for each in parts]
    logs = []
    for turn, lift in ((0.3, 0.0), (1.9, 0.0), (1.1, 1.6 * LOG_RADIUS)):
        log = shapes.frustum(LOG_RADIUS, LOG_RADIUS, width * 1.1, sides=12)
        lying = shapes.moved(log, [0, 0, -width * 0.55])
        axes = shapes.aimed((np.cos(turn), np.sin(turn), 0.0))
        logs.append(shapes.place(lying, axes, (0, 0, lift - high / 2 - LOGS * LOG_RADIUS)))
    under = shapes.join(*logs)
    return parts, under


def _lost(parts: list[shapes.Triangles], steps, under: shapes.Triangles, surface: Surface,
          rays: int = FLAME_RAYS) -> Flames:
    flame = shapes.join(*parts)
    level = _picture(steps, flame)[:, 0, 1]
    albedo = float(np.mean(MATERIALS[surface.name].reflectance))
    return of_flames(parts, lambda points: _rows_of(level, flame[0], points[:, 2]), under, albedo, rays)


def _coals(width: float, high: float) -> list[shapes.Triangles]:
    """Return lumps of glowing coal between the logs."""
    vertices, faces = shapes.ball(1.0, subdivisions=0)
    lumps = []
    for number in range(11):
        # By the golden angle they lie evenly, and in no rows.
        turn, out = 2.39996 * number, 0.4 * width * np.sqrt((number + 0.5) / 11)
        size = (0.045 + 0.02 * np.sin(5.1 * number)) * width
        lumps.append((vertices * [size, 0.8 * size, min(0.6 * size, 0.04 * high)]
                      + [out * np.cos(turn), out * np.sin(turn), 0.02 * high], faces))
    return lumps


@builds(Candle)
def build_candle(light: Candle, setting: Setting) -> Fixture:
    """Build a candle: a flame on a stick of wax; an output in cd is that to the side."""
    flame, under, lost = _candle(light.flame, light.diameter, light.height)
    fixture = _flame(light, setting, flame, _CANDLE, under, WAX, lost)
    top = light.flame[1] / 2 + WICK
    # What comes through the wax, a tenth of all that goes up, comes mostly from millimetres of it.
    pool = Guide(light.name, setting.at - [0, 0, top], radius=min(top, light.diameter / 2))
    return replace(fixture, guides=(pool,))


@builds(Fire)
def build_fire(light: Fire, setting: Setting) -> Fixture:
    """Build a wood fire: tongues of flame and coals over logs; an output in cd is that to the side."""
    parts, under = _fire(light.flame)
    width, height = light.flame
    lost = Flames(*(float(np.interp(at, *zip(*table, strict=True)))
                    for at, table in ((width, _SWALLOWED), (height / width, _ASIDE))))
    flame = shapes.join(*parts)
    return _flame(light, setting, flame, _FIRE, under, WOOD, lost)
