"""The colour and shine of skin from place to place, as patterns over its texture coordinates.

A pattern keeps the mean: over the area of the face (or the hand) the skin sends back as many of daylight's
lumens as `physics.skin` says of its class.
"""

from __future__ import annotations

from functools import cache, lru_cache

import numpy as np

from previz.physics import skin as skins
from previz.physics.daylight import daylight_spectrum
from previz.physics.spectra import WAVELENGTHS_NM
from previz.stage.figures.data import body_data
from previz.stage.figures.face_chart import chart, finer, gathered, lattice
from previz.stage.figures.mesh import smooth_normals, smooth_step
from previz.stage.figures.pores import HANDS_SPAN, band, blob, edge_of_chart
from previz.stage.figures.pose import FINGERS, SIDES, skeleton
from previz.stage.figures.skin import bare
from previz.stage.figures.strands import scatter
from previz.stage.records import Pattern

SHAPE = (300, 384)
"""Rows and columns of the pattern of a face: a texel is half a millimetre."""

BLOOD = ((380, 0.66), (500, 0.52), (545, 0.44), (580, 0.46), (620, 0.84), (780, 0.97))
"""What more blood near the surface leaves of the skin's reflectance: it takes most at its own bands,
542 and 577 nm. Common practice, no source. [nm], [1]"""

LIPS = 0.72
"""Share of the second colour on the red of the lips. Common practice, no source. [1]"""

_SEEN = {"very light": 1.0, "light": 1.0, "medium": 0.9, "tan": 0.75, "brown": 0.55, "dark": 0.4}
"""How much of the blood shows through the melanin over it. Common practice, no source. [1]"""

PALMS = {"very light": 1.0, "light": 1.02, "medium": 1.06, "tan": 1.15, "brown": 1.4, "dark": 1.75}
"""Reflectance of a palm over that of the back of the hand, which has more melanin.
Common practice, no source. [1]"""


def ruddy(skin):
    """Return skin with more blood near its surface, shape (81,). [1]"""
    return skin * np.interp(WAVELENGTHS_NM, *np.array(BLOOD).T)


@lru_cache(12)
def face_pattern(step, sheen, beard, age):
    """Return the pattern of a face over its chart.

    Parameters
    ----------
    step, sheen : str
        As in `physics.skin`.
    beard : bool
        Whether a shaved beard shows.
    age : float
        [years]
    """
    skin = skins.skin_reflectance(step, sheen)
    second = ruddy(skin)
    lips = smooth_step(finer(chart().lips, SHAPE), 0.15, 0.85)
    share = _SEEN[step] * finer(_blood(), SHAPE) * (1 + 0.10 * _blotches(420)) + 0.025 * _blotches(425)
    share = np.clip(share, 0, 0.9) * edge_of_chart(SHAPE)
    share += 0.5 * finer(chart().rim, SHAPE)
    share += lips * (LIPS * (0.5 + 0.5 * _SEEN[step]) - share)
    factor = _dark(beard, age) * (1 + 0.022 * _blotches(421) + 0.014 * _grain()) * (1 - 0.10 * lips)
    # The lips are a part of their own, so they do not count.
    area = finer(chart().area, SHAPE) * (finer(chart().lips, SHAPE) < 0.5)
    shine = _shine()
    return Pattern(_tile(share, _kept(share, factor, edge_of_chart(SHAPE), area, skin, second), shine),
                   (1.0, 1.0), second)


def _tile(share, factor, rough):
    """Return a tile: share of the second colour, factor, gloss as it is, roughness."""
    return np.stack([share, factor, np.ones_like(share), rough], axis=-1).astype(np.float32)


HANDS = (0.360, 0.010, *HANDS_SPAN)
"""Least u and v of the chart of both hands, and its width and height. [1]"""

_HAND_SHAPE = (94, 202)


def in_hands(uv):
    """Return texture coordinates as shares of the chart of the hands. [1]"""
    return (uv - HANDS[:2]) / HANDS[2:]


@cache
def _hands():
    """Return, on the chart of the hands: knuckles, palm, nails, how far from the wrist, area. [1]"""
    data, skin = body_data(), bare()
    mine = np.zeros(len(data.lips), bool)
    mine[skin.hand_rows] = True
    quads = data.quads["skin"]
    kept = mine[quads].all(axis=1) & (data.uv[:, :, 1].max(axis=1) < HANDS[1] + HANDS[3])
    points = data.shapes[0][: len(data.lips)]
    normals = np.zeros_like(points)
    normals[skin.hand_rows] = smooth_normals(points[skin.hand_rows], skin.hand_quads)
    knuckle, palm, inner = np.zeros((3, len(points)))
    for side, sign in SIDES.items():
        own = mine & (sign * points[:, 1] > 0)
        # In the zero stance the back of the left hand faces +y.
        back = sign * skeleton(data.people[0]).zero[data.bones.index(f"{side} hand")].T @ [0.0, 1.0, 0.0]
        outwards = normals @ back
        joints = np.array([data.joints[0][data.bones.index(f"{side} {finger} {k}")]
                           for finger in FINGERS for k in (1, 2, 3)])
        away = np.linalg.norm(points[own, None] - joints, axis=2).min(axis=1)
        knuckle[own] = np.exp(-((away / 0.011) ** 2)) * smooth_step(outwards[own], 0.0, 0.6)
        palm[own] = smooth_step(-outwards[own], -0.1, 0.55)
        wrist, middle = (data.joints[0][data.bones.index(f"{side} {name}")] for name in ("hand", "middle 1"))
        along = (points[own] - wrist) @ (middle - wrist) / np.linalg.norm(middle - wrist)
        inner[own] = smooth_step(along, -0.012, 0.030)
    values = np.stack([knuckle, palm, data.nails, inner], axis=1)
    samples = lattice(np.concatenate([data.uv[kept], values[quads[kept]]], axis=2), 4)
    at = points[quads[kept]]
    area = np.linalg.norm(np.cross(at[:, 1] - at[:, 0], at[:, 3] - at[:, 0]), axis=1) / 16
    each = np.broadcast_to(area[:, None, None], (*samples.shape[:2], 1))
    values = np.concatenate([samples[:, :, 2:], each], axis=2)
    return gathered(in_hands(samples[:, :, :2]).reshape(-1, 2), values.reshape(-1, 5), _HAND_SHAPE)


@lru_cache(12)
def hand_pattern(step, sheen, age):
    """Return the pattern of both hands over their chart: knuckles, palms, nails, and spots with age.

    The back of the hand keeps the skin's mean, and at the wrist the pattern ends.
    """
    skin = skins.skin_reflectance(step, sheen)
    second = ruddy(skin)
    knuckle, palm, nail, inner, area = (finer(grid, SHAPE) for grid in _hands())
    nail = smooth_step(nail, 0.35, 0.75)
    share = _SEEN[step] * (0.06 + 0.34 * knuckle + 0.16 * palm) * (1 + 0.25 * _blotches(426))
    share = inner * np.clip(share + nail * (0.28 - share), 0, 0.9)
    factor = (1 + (PALMS[step] - 1) * palm) * (1 - 0.10 * knuckle) * (1 + 0.03 * _blotches(427))
    factor -= float(smooth_step(age, 40, 75)) * 0.16 * _spots() * (1 - palm)
    # A nail is as pale as its bed: on dark skin paler than the skin round it.
    factor = factor + nail * (1.06 * PALMS[step] ** 0.6 - factor)
    rough = (1.0 + 0.12 * palm) * (1 - 0.55 * nail)
    back = area * (1 - palm) * (1 - nail)
    return Pattern(_tile(share, _kept(share, factor, inner, back, skin, second), rough), (1.0, 1.0), second)


def _kept(share, factor, edge, area, skin, second):
    """Return a factor with which the mean of daylight's lumens that are sent back is the skin's own.

    At the edge of the map it is 1, so what is missing is made up for inside.
    """
    light = daylight_spectrum(5500)
    plain, other = (float(skins.luminance_reflectance(each, light)) for each in (skin, second))
    sent = ((1 - share) * plain + share * other) / plain
    inner = area * sent * edge
    missing = np.sum(area * (1 - sent * (1 + edge * (factor - 1))))
    return 1 + edge * (factor - 1 + missing / inner.sum())


def _blood():
    """Return how much blood lies near the surface of each place of the face, on the chart's grid."""
    face = chart()
    a, o = np.abs(face.across), face.over
    share = 0.38 * blob(a, o, 1.15, -1.05, 0.75, 0.6) + 0.45 * blob(a, o, 0.0, -1.25, 0.42, 0.35)
    share += 0.16 * blob(a, o, 0.0, -0.6, 0.2, 0.5) + 0.25 * blob(a, o, 0.45, -1.45, 0.16, 0.2)
    share += 0.18 * blob(a, o, 0.0, -3.0, 0.5, 0.35) + 0.10 * blob(a, o, 0.0, 1.2, 0.9, 0.5)
    share += 0.22 * blob(a, o, 1.0, -0.02, 0.5, 0.22) + 0.2 * blob(a, o, 0.36, -0.1, 0.14, 0.2)
    share = 1.15 * share + 0.45 * blob(a, o, 0.44, -0.06, 0.07, 0.09)
    return share + 0.14 * blob(a, o, 0.0, -2.3, 0.85, 0.45)


def _dark(beard, age):
    """Return what the reflectance is multiplied by: shade under the eyes, brows' roots, beard, spots."""
    face = chart()
    a, o = np.abs(face.across), face.over
    old = float(smooth_step(age, 30, 75))
    factor = 1 - (0.07 + 0.07 * old) * blob(a, o, 0.88, -0.48, 0.5, 0.17)
    factor -= 0.05 * blob(a, o, 0.55, -0.25, 0.2, 0.3) + 0.05 * blob(a, o, 1.0, 0.22, 0.55, 0.14)
    factor += 0.05 * blob(a, o, 0.9, -0.9, 0.5, 0.25) + 0.04 * blob(a, o, 0.0, 1.6, 0.8, 0.7)
    factor -= 0.09 * blob(a, o, 0.62, -1.62, 0.14, 0.3) * (0.4 + 0.6 * old)
    factor -= 0.14 * blob(a, o, 0.84, -2.30, 0.13, 0.13)
    factor = finer(factor, SHAPE)
    if beard:
        # Stubble shows between the texels' size and a pore's, so it is a grain.
        factor = factor * (1 - finer(_beard(a, o), SHAPE) * (0.22 + 0.07 * _grain()))
    return factor - old * 0.12 * _spots()


def _beard(a, o):
    """Return where a beard would grow, on the chart's grid."""
    jaw = smooth_step(-o, 1.75, 2.35) * smooth_step(a - 0.55 + 0.9 * smooth_step(-o, 2.3, 2.75), 0.0, 0.4)
    lip = blob(a, o, 0.35, -1.80, 0.5, 0.14)
    side = smooth_step(a, 1.55, 1.85) * smooth_step(-o, 0.2, 0.9)
    bare = blob(a, o, 0.0, -2.25, 0.8, 0.25)
    return np.clip(np.maximum(np.maximum(jaw, lip), side) - 0.8 * bare, 0, 1)


@cache
def _blotches(salt):
    """Return smooth uneven noise over the pattern, of some 4 to 12 mm, mean 0 and deviation 1."""
    noise = band(scatter(SHAPE[0] * SHAPE[1], salt).reshape(SHAPE) - 0.5, 1 / 40, 1 / 10)
    return noise / noise.std()


@cache
def _grain():
    """Return uneven noise of a millimetre or two, mean 0 and deviation 1."""
    noise = band(scatter(SHAPE[0] * SHAPE[1], 422).reshape(SHAPE) - 0.5, 1 / 6, 1 / 2.2)
    return noise / noise.std()


def _spots():
    """Return the spots of age: 1 in the middle of one."""
    noise = _blotches(423)
    return smooth_step(noise, 1.7, 2.4)


@cache
def _shine():
    """Return what the roughness of the shine is multiplied by: less where skin is oily, more where dry.

    Oily: forehead, nose, upper cheeks, chin. The pattern of pores carries a part of the roughness
    that skin has when it is seen from afar, so the rest is a little less. Common practice, no source.
    """
    face = chart()
    a, o = np.abs(face.across), face.over
    oil = np.maximum.reduce([
        blob(a, o, 0.0, -1.0, 0.38, 0.8), 0.9 * blob(a, o, 0.0, 1.4, 1.0, 0.6),
        0.6 * blob(a, o, 0.0, -3.1, 0.4, 0.3),
        0.75 * blob(a, o, 1.05, -0.75, 0.45, 0.3), 0.5 * blob(a, o, 1.0, 0.1, 0.5, 0.25),
    ])
    # The corners of the mouth are hollows where a shine would look like a fault.
    oil = oil - 1.2 * blob(a, o, 0.84, -2.30, 0.16, 0.16)
    rough = finer((1.10 - 0.36 * oil) * (1 - 0.5 * face.rim), SHAPE) * (1 + 0.05 * _blotches(424))
    edge = edge_of_chart(SHAPE)
    return 1 + edge * (rough - 1)
