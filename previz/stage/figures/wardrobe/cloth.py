"""The cloth that garments are cut from: the body's suit, four times as fine, at rest and in a pose.

All garments of a figure share its vertices. A garment is a height over them, so that layers keep their
order wherever the body bends.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, lru_cache

import numpy as np

from previz.stage.figures.data import body_data
from previz.stage.figures.dress import garments, smoothed, suit
from previz.stage.figures.folds import tube_places
from previz.stage.figures.mesh import Subdivision, smooth_normals, smooth_step, subdivision, unit
from previz.stage.figures.pose import SIDES, Posed, bones_with, share_of, skeleton

ARM, LEG = ("upper arm", "forearm", "hand"), ("thigh", "shank", "foot")


@dataclass(frozen=True)
class Weave:
    """The finer topology, the same for everyone.

    Parameters
    ----------
    first, second : Subdivision
        From the suit, and once more.
    ring : float array, shape (fine,)
        Steps of the suit from its neck opening.
    arm, leg : float array, shape (fine,)
        Shares of arms and hands, of thighs and below.
    left : float array, shape (fine,)
        1 on the figure's left, 0 on its right.
    weights : float array, shape (suit rows, bones)
        As the suit's, but trousers do not follow the foot.
    """

    first: Subdivision
    second: Subdivision
    ring: np.ndarray
    arm: np.ndarray
    leg: np.ndarray
    left: np.ndarray
    weights: np.ndarray

    @property
    def quads(self):
        """The quads of the finer cloth."""
        return self.second.quads

    def apply(self, values):
        """Return the values of the suit's rows at the finer vertices."""
        return self.second.apply(self.first.apply(values))


@cache
def weave():
    """Return the finer topology of the cloth."""
    wear = suit()
    first = subdivision(wear.quads, len(wear.rows))
    count = int(first.quads.max()) + 1
    second = subdivision(first.quads, count)
    rest = body_data().shapes[0][wear.rows]
    arm = share_of(wear.weights, "arm", "hand", "thumb")
    leg = share_of(wear.weights, "thigh", "shank", "foot", "toes")
    # The middle of the head's opening is kept from running wild: far rows are all alike.
    ring = np.minimum(wear.ring, 70).astype(float)
    left = np.where(rest[:, 1] > 1e-6, 1.0, np.where(rest[:, 1] < -1e-6, 0.0, 0.5))
    coarse = np.stack([ring, arm, leg, left], axis=1)
    fine = second.apply(first.apply(coarse))
    weights = np.array(wear.weights)
    for side in SIDES:
        feet = bones_with(f"{side} foot", f"{side} toes")
        weights[:, body_data().bones.index(f"{side} shank low")] += weights[:, feet].sum(axis=1)
        weights[:, feet] = 0
    return Weave(first, second, *fine.T, weights)


@dataclass(frozen=True)
class Rest:
    """The cloth of one person at rest, at unit scale.

    Parameters
    ----------
    person : str
    suit : float array, shape (suit rows, 3)
        The let-out suit that all layers lie over. [m]
    points, normals : float array, shape (fine, 3)
        [m]
    height : float
        Of the body. [m]
    along, away, round : float array, shape (fine,)
        Distance along the bones of the limb that a vertex is nearer to, from them [m], and the bearing
        round them, 0 in front.
    ends : dict of (float, float)
        'arm' and 'leg' -> distance of elbow and wrist, of knee and ankle. [m]
    bearing, girth, drop : float array, shape (fine,)
        Of the trunk: bearing round its axis, 0 in front, the mean radius at that height, and the length of
        cloth upwards, which goes over the shoulders towards the neck. [m]
    """

    person: str
    suit: np.ndarray
    points: np.ndarray
    normals: np.ndarray
    height: float
    along: np.ndarray
    away: np.ndarray
    round: np.ndarray
    ends: dict
    bearing: np.ndarray
    girth: np.ndarray
    drop: np.ndarray

    @property
    def trunk_height(self):
        """Height of vertices, inf on the arms, shape (fine,). [m]"""
        return np.where(weave().arm < 0.3, self.points[:, 2], 9.0)

    def level(self, share):
        """Return how far vertices are above a share of the body's height. [m]"""
        return self.points[:, 2] - share * self.height


@lru_cache(6)
def rest_of(person):
    """Return the cloth of one person at rest."""
    data, net, frame = body_data(), weave(), skeleton(person)
    cloth = _let_out(person)
    points = net.apply(cloth)
    normals = smooth_normals(points, net.quads)
    along, away, bearing = (np.zeros(len(points)) for _ in range(3))
    ends = {}
    for part, words, chosen in (("arm", ARM, net.arm > 0.02), ("leg", LEG, net.leg > 0.02)):
        for side in SIDES:
            joints = [frame.at(f"{side} {name}") for name in words]
            rows = np.flatnonzero(chosen & ((net.left > 0.5) == (side == "left")))
            along[rows], away[rows], bearing[rows] = tube_places(points[rows], joints)
            lengths = [np.linalg.norm(joints[k + 1] - joints[k]) for k in (0, 1)]
            ends[part] = (lengths[0], lengths[0] + lengths[1])
            # Bearings are mirrored, so that 'out' is alike on both sides.
            if side == "right":
                bearing[rows] *= -1
    trunk = np.flatnonzero(net.arm < 0.5)
    turned, girth = np.zeros(len(points)), np.full(len(points), 0.15)
    turned[trunk], girth[trunk], radius = _round_trunk(points[trunk])
    drop = np.array(points[:, 2])
    height = float(np.ptp(data.shapes[data.people.index(person)][:, 2]))
    over = smooth_step(points[trunk, 2], 0.765 * height, 0.815 * height)
    drop[trunk] -= over * np.maximum(radius - 0.08, 0)
    return Rest(person, cloth, points, normals, height, along, away, bearing, ends, turned, girth, drop)


def _round_trunk(points):
    """Return bearings about the trunk's axis, its mean radius at each height, and the distances from it."""
    levels = np.linspace(points[:, 2].min(), points[:, 2].max(), 60)
    place = np.clip(np.round((points[:, 2] - levels[0]) / (levels[1] - levels[0])).astype(int), 0, 59)
    count = np.maximum(np.bincount(place, minlength=60), 1)
    front = np.full(60, -9.0)
    back = np.full(60, 9.0)
    np.maximum.at(front, place, points[:, 0])
    np.minimum.at(back, place, points[:, 0])
    middle = np.where(front > -9, (front + back) / 2, 0.0)
    middle = np.convolve(np.pad(middle, 2, mode="edge"), np.ones(5) / 5, "valid")
    x = points[:, 0] - np.interp(points[:, 2], levels, middle)
    radius = np.bincount(place, np.hypot(x, points[:, 1]), 60) / count
    girth = np.interp(points[:, 2], levels, np.maximum(radius, 0.06))
    return np.arctan2(points[:, 1], x), girth, np.hypot(x, points[:, 1])


def _let_out(person):
    """Return the suit that all layers lie over: straight sleeves and trouser legs with room in them."""
    wear, frame = suit(), skeleton(person)
    cloth = _slim_sleeves(person, np.array(garments(person)))
    leg = share_of(wear.weights, "thigh", "shank", "foot", "toes")
    for side, sign in SIDES.items():
        here = (sign * cloth[:, 1] > 0) & (leg > 0.4)
        joints = [frame.at(f"{side} {name}") for name in LEG]
        along, away, _ = tube_places(cloth, joints)
        knee = np.linalg.norm(joints[1] - joints[0])
        ankle = knee + np.linalg.norm(joints[2] - joints[1])
        # A trouser leg falls straight from the widest of the thigh to the shoe.
        least = np.interp(along, [0.0, 0.25 * knee, knee, ankle], [0.0, 0.088, 0.081, 0.073])
        more = np.maximum(least - away, 0) * here * np.clip((leg - 0.4) / 0.3, 0, 1)
        held = np.clip(along, 0, ankle)
        axis = np.where(
            (held < knee)[:, None],
            joints[0] + held[:, None] / knee * (joints[1] - joints[0]),
            joints[1] + (held - knee)[:, None] / (ankle - knee) * (joints[2] - joints[1]),
        )
        ray = cloth - axis
        ray[:, 2] *= 0.3
        cloth += unit(ray) * np.minimum(more, 0.04)[:, None]
    return np.where((leg > 0.3)[:, None], smoothed(cloth, wear.edges, 3), cloth)


def _slim_sleeves(person, cloth):
    """Return the let-out suit with sleeves close to the arms; garments give them their own room."""
    data, wear, frame = body_data(), suit(), skeleton(person)
    body = data.shapes[data.people.index(person)][wear.rows]
    arm = share_of(wear.weights, "arm", "hand", "thumb")
    tight = body + smooth_normals(body, wear.quads) * 4.5e-3
    for side, sign in SIDES.items():
        here = (sign * body[:, 1] > 0) & (arm > 0.5)
        joints = [frame.at(f"{side} {name}") for name in ARM]
        along, away, _ = tube_places(tight, joints)
        elbow = np.linalg.norm(joints[1] - joints[0])
        wrist = elbow + np.linalg.norm(joints[2] - joints[1])
        least = np.interp(along, [0.1, elbow, wrist], [0.050, 0.048, 0.040])
        # An arm that hangs pushes the cap of its shoulder out, which cloth does not follow.
        cap = np.exp(-(((along - 0.035) / 0.055) ** 2)) * (sign * body[:, 1] > 0) * smooth_step(arm, 0.1, 0.5)
        tight -= unit(tight - joints[0] - [0, 0, 0.02]) * (0.013 * cap)[:, None]
        held = np.clip(along, 0, wrist)
        axis = np.where(
            (held < elbow)[:, None],
            joints[0] + held[:, None] / elbow * (joints[1] - joints[0]),
            joints[1] + (held - elbow)[:, None] / (wrist - elbow) * (joints[2] - joints[1]),
        )
        tight += unit(tight - axis) * (np.maximum(least - away, 0) * here * (along > 0.08))[:, None]
    slim = smooth_step(arm, 0.02, 0.45)[:, None]
    slim = smoothed(cloth + slim * (tight - cloth), wear.edges, 2)
    return np.where((arm > 0.01)[:, None], slim, cloth)


@dataclass(frozen=True)
class Draped:
    """The cloth of one person in a pose, at unit scale, before any layer is lifted off it.

    Parameters
    ----------
    rest : Rest
    person : str
    posed : Posed
    points, normals : float array
        As in `Rest`, in the pose. [m]
    bends : dict of float
        'left elbow' and so on -> bend against the straight limb. [rad]
    seat : float or None
        Height of what the figure sits on. [m]
    leans : bool
        Whether its forearms lie on a table.
    """

    rest: Rest
    person: str
    posed: Posed
    points: np.ndarray
    normals: np.ndarray
    bends: dict
    seat: float | None
    leans: bool = False


def drape(person, posed, seat=None, leans=False):
    """Return a person's cloth in a pose; parameters as of `Draped`, at unit scale."""
    rest, net = rest_of(person), weave()
    cloth = posed.skin(rest.suit, net.weights)
    points = net.apply(cloth)
    normals = smooth_normals(points, net.quads)
    bends = {}
    for side in SIDES:
        for name, (a, b, c) in (("elbow", ARM), ("knee", LEG), ("hip", ("pelvis", *LEG[:2]))):
            if name == "hip":
                one = posed.turn_of("pelvis") @ np.array([0.0, 0.0, -1.0])
                two = unit(posed.at(f"{side} {c}") - posed.at(f"{side} {b}"))
            else:
                one, two = (
                    unit(posed.at(f"{side} {end}") - posed.at(f"{side} {start}"))
                    for start, end in ((a, b), (b, c))
                )
            bends[f"{side} {name}"] = float(np.arccos(np.clip(one @ two, -1, 1)))
    return Draped(rest, person, posed, points, normals, bends, seat, leans)
