"""Eyes of a stand-in figure: white, iris, pupil and a clear cornea of their own, turned to a point.

The cornea is a separate cap, steeper than the eyeball, because it is what carries the catchlight.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from previz.stage.figures.mesh import smooth_normals, triangles, unit

CORNEA_RADIUS = 7.8e-3
"""Radius of the front of the cornea. From memory, the schematic eye of optics books. [m]"""

LIMBUS_RADIUS = 5.9e-3
"""Half the visible width of the iris (about 11.8 mm). From memory. [m]"""

PUPIL_RADIUS = 1.9e-3
"""Half the width of the pupil in the light of a set. Common practice, no source. [m]"""

RING_RADIUS = 5.2e-3
"""Where the dark rim of the iris begins. Common practice, no source. [m]"""

YAW_LIMIT, UP_LIMIT, DOWN_LIMIT = 40.0, 28.0, 38.0
"""How far an eye turns in its socket. From memory, a little inside clinical limits. [deg]"""

_IRIS_AROUND, _IRIS_ROWS = 84, 9


@dataclass(frozen=True)
class Eye:
    """One eye in place.

    Parameters
    ----------
    centre : float array, shape (3,)
        Centre of the ball. [m]
    radius : float
        Radius of the white of the eye. [m]
    turn : float array, shape (3, 3)
        Columns: the eye's axis of view, its left, its up.
    up : float
        How far it is turned up in the head. [deg]
    reached : bool
        False where the target is outside what the eye can turn to.
    """

    centre: np.ndarray
    radius: float
    turn: np.ndarray
    up: float
    reached: bool

    def carried(self, rotation, step):
        """Return the eye turned and moved as a whole."""
        return replace(self, centre=rotation @ self.centre + step, turn=rotation @ self.turn)

    @property
    def gaze(self):
        """Unit vector of the eye's axis of view."""
        return self.turn[:, 0]

    @property
    def pupil(self):
        """Middle of the pupil's plane. [m]"""
        return self.centre + self.turn[:, 0] * _limbus_depth(self.radius)

    @property
    def cornea_centre(self):
        """Centre of the cornea's ball. [m]"""
        depth = _limbus_depth(self.radius) - np.sqrt(CORNEA_RADIUS**2 - LIMBUS_RADIUS**2)
        return self.centre + self.turn[:, 0] * depth

    @property
    def apex(self):
        """Foremost point of the cornea. [m]"""
        return self.cornea_centre + self.turn[:, 0] * CORNEA_RADIUS


def _limbus_depth(radius):
    return np.sqrt(radius**2 - LIMBUS_RADIUS**2)


def aim(centre, radius, head, target):
    """Return one eye turned to a point, as far as it goes. [m]

    `head` has the head's forwards, left and up as its columns, shape (3, 3).
    """
    x, y, z = unit(head.T @ (target - centre))
    yaw, up = np.degrees([np.arctan2(y, x), np.arctan2(z, np.hypot(x, y))])
    held_yaw = np.clip(yaw, -YAW_LIMIT, YAW_LIMIT)
    held_up = np.clip(up, -DOWN_LIMIT, UP_LIMIT)
    a, b = np.radians([held_yaw, held_up])
    gaze = head @ np.array([np.cos(a) * np.cos(b), np.sin(a) * np.cos(b), np.sin(b)])
    left = unit(np.cross(head[:, 2], gaze))
    return Eye(
        centre=np.asarray(centre, float),
        radius=float(radius),
        turn=np.stack([gaze, left, np.cross(gaze, left)], axis=1),
        up=float(held_up),
        reached=bool(abs(held_yaw - yaw) < 1e-9 and abs(held_up - up) < 1e-9),
    )


def _rings(depth, radius, around):
    """Return the vertices and triangles of a surface of revolution about x, outside outwards.

    A first radius of 0 closes the surface with one point.
    """
    angle = 2 * np.pi * np.arange(around) / around
    closed = radius[0] == 0
    depth, radius = np.asarray(depth, float), np.asarray(radius, float)
    start = 1 if closed else 0
    ring = np.stack([np.repeat(depth[start:], around), np.outer(radius[start:], np.cos(angle)).ravel(),
                     np.outer(radius[start:], np.sin(angle)).ravel()], axis=1)
    here = np.arange(around)
    after = np.roll(here, -1)
    rows = np.arange(len(depth) - start - 1)[:, None] * around + start
    quads = np.stack([rows + here, rows + around + here, rows + around + after, rows + after], axis=2)
    faces = triangles(quads.reshape(-1, 4))
    if closed:
        tip = np.array([[depth[0], 0.0, 0.0]])
        fan = np.stack([np.zeros(around, int), here + 1, after + 1], axis=1)
        return np.concatenate([tip, ring]), np.concatenate([fan, faces])
    return ring, faces


def eye_surfaces(eye):
    """Return the surfaces of one eye: part -> (vertices, faces, normals, places). [m]

    The places, shape (vertices, 2), are those about the eye's axis: to its left and upwards.
    """
    limbus = _limbus_depth(eye.radius)
    edge = np.arcsin(LIMBUS_RADIUS / eye.radius)
    polar = np.concatenate([
        np.linspace(edge, edge + 0.35, 10, endpoint=False), np.linspace(edge + 0.35, 1.7, 9)
    ])
    white = _rings(eye.radius * np.cos(polar), eye.radius * np.sin(polar), 56)
    share = np.linspace(0, 1, _IRIS_ROWS)
    # The iris is a shallow bowl behind the limbus, with folds that catch side light.
    iris_radius = PUPIL_RADIUS + (LIMBUS_RADIUS - PUPIL_RADIUS) * share
    iris = _rings(limbus - 0.35e-3 * (1 - share**4), iris_radius, _IRIS_AROUND)
    number = np.arange(len(iris[0]))
    angle, row = 2 * np.pi * (number % _IRIS_AROUND) / _IRIS_AROUND, number // _IRIS_AROUND
    folds = np.sin(19 * angle + 1.7 * np.sin(3 * angle)) + 0.6 * np.sin(31 * angle + row)
    iris[0][:, 0] += 0.05e-3 * folds * np.sin(np.pi * row / (_IRIS_ROWS - 1))
    pupil = _rings([limbus - 0.5e-3] * 2, [0.0, 1.08 * PUPIL_RADIUS], 40)
    # Rings lie on the edges of pupil and rim, which are painted on the cornea.
    across = np.concatenate([
        np.linspace(0, PUPIL_RADIUS, 4), np.linspace(PUPIL_RADIUS, RING_RADIUS, 8)[1:],
        np.linspace(RING_RADIUS, LIMBUS_RADIUS, 3)[1:],
    ])
    cap = np.arcsin(across / CORNEA_RADIUS)
    depth = limbus - np.sqrt(CORNEA_RADIUS**2 - LIMBUS_RADIUS**2) + CORNEA_RADIUS * np.cos(cap)
    cornea = _rings(depth, CORNEA_RADIUS * np.sin(cap), 56)
    centre = np.array([depth[0] - CORNEA_RADIUS, 0.0, 0.0])
    surfaces = {
        "eye white": (*white, unit(white[0])),
        "iris": (*iris, smooth_normals(*iris)),
        "pupil": (*pupil, np.tile([1.0, 0.0, 0.0], (len(pupil[0]), 1))),
        "cornea": (*cornea, unit(cornea[0] - centre)),
    }
    return {
        name: (points @ eye.turn.T + eye.centre, faces, normals @ eye.turn.T, points[:, 1:])
        for name, (points, faces, normals) in surfaces.items()
    }


def clear_balls(points, normals, eyes, lid=0.7e-3):
    """Return skin points with what an expression pressed into an eyeball lifted off it. [m]

    As `clear_lids`, which minds the corneas; `lid` is the least thickness of a lid over the white.
    """
    lifted = np.array(points)
    for eye in eyes:
        from_ball = points - eye.centre
        distance = np.linalg.norm(from_ball, axis=1)
        chosen = np.flatnonzero((distance < eye.radius + lid) & (distance > eye.radius - 5e-3)
                                & (from_ball @ eye.gaze > -2e-3))
        # The underside of a lid and what lies in the socket are not seen.
        chosen = chosen[np.einsum("ij,ij->i", normals[chosen], from_ball[chosen]) > 0.2 * distance[chosen]]
        short = eye.radius + lid - distance[chosen]
        lifted[chosen] += unit(from_ball[chosen]) * short[:, None]
    return lifted


def clear_lids(points, normals, eyes, lid=0.9e-3):
    """Return skin points with the lids lifted over each cornea, as lids lie on real eyes. [m]

    `points` and `normals` are skin about eyes that are in place, shape (n, 3); `lid` is the least thickness
    of a lid over the cornea.
    """
    lifted = np.array(points)
    for eye in eyes:
        from_ball = points - eye.centre
        distance = np.linalg.norm(from_ball, axis=1)
        near = (distance > eye.radius - 0.4e-3) & (distance < eye.radius + 8e-3)
        chosen = np.flatnonzero(near & (from_ball @ eye.gaze > 0))
        faces_out = np.einsum("ij,ij->i", normals[chosen], from_ball[chosen])
        # The rim and the underside of a lid lie on the cornea, its outside a lid's depth away.
        depth = np.where(faces_out > 0.2 * distance[chosen], lid, 0.1e-3)
        from_cornea = points[chosen] - eye.cornea_centre
        gap = np.linalg.norm(from_cornea, axis=1)
        # A soft floor: nothing moves that is clear by 1.5 mm, and nothing is left closer than lid.
        need = CORNEA_RADIUS + depth
        short = np.clip((need + 1.5e-3 - gap) / 3.0e-3, 0, 1)
        lift = 3.0e-3 * short**2 / 2
        lift = np.maximum(np.where(depth < lid, 0.0, lift), need - gap)
        lifted[chosen] += unit(from_cornea) * np.clip(lift, 0, 3e-3)[:, None]
    return lifted
