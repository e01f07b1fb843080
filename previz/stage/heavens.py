"""What is seen in the sky beyond its light: colours from place to place, clouds, stars, the moon's face."""

from __future__ import annotations

import numpy as np

from previz.physics import clouds, daylight, sky_colour, stars
from previz.physics.arrays import FloatArray
from previz.physics.chromatic_adaptation import REC709_FROM_XYZ
from previz.physics.colourtemp import cct_duv
from previz.physics.daylight import air_mass, sun_spectrum
from previz.physics.lamps import spectrum_of
from previz.physics.moon_face import moon_face
from previz.physics.spectra import xyz_of
from previz.stage.records import Face, Sky, Stars, Sun

FINE_CELLS = (288, 1152)
"""Zenith and azimuth cells of a sky with something to be seen in it: 0.31 deg."""

COLOUR_CELLS = (64, 128)
"""Cells that the colours of clear air are worked out for, as they change slowly."""

CLOUD_XY = (0.3064, 0.3224)
"""Of clouds in shade, about CIE D of 7000 K, by sky and ground.  Common practice, no source. [1]"""

D_SERIES = (daylight.WARMEST_D_K, daylight.COOLEST_D_K)
"""Colours that the light of a sky may have. [K]"""


def _angles(cells):
    rows, columns = cells
    return (np.arange(rows) + 0.5) * np.pi / 2 / rows, (np.arange(columns) + 0.5) * 2 * np.pi / columns


def _enlarged(values: FloatArray, cells) -> FloatArray:
    """Return a table of the sky read between the middles of its cells, at more of them."""
    zenith, azimuth = _angles(cells)
    rows, columns = values.shape[:2]
    y = np.clip(zenith / (np.pi / 2) * rows - 0.5, 0, rows - 1)
    x = azimuth / (2 * np.pi) * columns - 0.5
    low, left = np.minimum(y.astype(int), rows - 2), np.floor(x).astype(int)
    down, across = (y - low).astype(np.float32)[:, None, None], (x - left).astype(np.float32)[:, None]
    values = values.astype(np.float32)
    wide = values[:, left % columns] * (1 - across) + values[:, (left + 1) % columns] * across
    return wide[low] * (1 - down) + wide[low + 1] * down


def _air(sky: str, towards, cells) -> FloatArray:
    """Return the colours of clear air. Shape (rows, columns, 3)"""
    zenith, azimuth = _angles(COLOUR_CELLS)
    sine = np.sin(zenith)[:, None]
    near = (
        sine * np.cos(azimuth) * towards[0]
        + sine * np.sin(azimuth) * towards[1]
        + np.cos(zenith)[:, None] * towards[2]
    )
    xy = sky_colour.clear_chromaticity(
        np.broadcast_to(zenith[:, None], near.shape),
        np.arccos(np.clip(near, -1, 1)),
        float(np.arccos(np.clip(towards[2], 0, 1))),
        sky_colour.TURBIDITY[sky],
    )
    return _enlarged(sky_colour.rec709_of_xy(sky_colour.less_green(xy)), cells)


def _sunlight(altitude: float) -> FloatArray:
    """Return the colour of a cloud that the sun lights, luminance 1. Shape (3,)"""
    xyz = xyz_of(sun_spectrum(max(altitude, 1.0)))
    return sky_colour.rec709_of_xy(xyz[:2] / xyz.sum())


def built_sky(
    lamp: int, record, altitude: float, bearing: float, cct: float, shines: bool
) -> tuple[Sky, float]:
    """Return a sky with its colours, clouds and stars, and the colour of all its light. [K]

    Parameters
    ----------
    lamp : int
    record : scene.daylight.Daylight
        With all its numbers.
    altitude, bearing : float
        Of what the sky is brightest about; the bearing counter-clockwise from +x. [deg]
    cct : float
        Colour of its light, where that is written or it has no colours of its own. [K]
    shines : bool
        Whether a disc is seen there.
    """
    cells = FINE_CELLS if record.clouds is not None else COLOUR_CELLS
    up, turn = np.radians(altitude), np.radians(bearing)
    towards = np.array([np.cos(up) * np.cos(turn), np.cos(up) * np.sin(turn), np.sin(up)])
    dome = daylight.sky_dome(
        record.sky,
        zenith_cells=cells[0],
        azimuth_cells=cells[1],
        sun_altitude_deg=altitude,
        sun_azimuth_deg=bearing,
    )
    rim = np.linspace(0.0, np.pi / 2, cells[0] + 1)
    projected = np.diff(np.sin(rim) ** 2) / 2 * (2 * np.pi / cells[1])
    covered, colour = np.zeros(cells), None
    if record.colours or record.clouds is not None:
        colour = _air(record.sky, towards, cells)
        if record.sky_cct is not None:
            colour *= (_of_daylight(cct) / _mean(dome, colour, projected)).astype(np.float32)
        if record.clouds is not None:
            kind = clouds.KINDS[record.clouds.kind]
            cover = kind.cover if record.clouds.cover is None else record.clouds.cover
            covered, lit = clouds.cloud_layer(
                record.clouds.kind,
                cover,
                int(record.clouds.draw),
                cells,
                tuple(float(each) for each in towards),
                shines,
            )
            dome, colour = _clouded(dome, colour, covered, lit, kind, altitude)
        if record.sky_cct is None:
            cct = _cct(_mean(dome, colour, projected))
        dome, colour = sky_colour.shared_out(dome, colour, projected, spectrum_of("daylight", cct))
    points = _stars(covered, cells, record.illuminance) if record.stars else None
    return Sky(lamp, dome, colour, points), cct


def _mean(dome, colour, projected) -> FloatArray:
    """Return the colour of the light on level ground, linear Rec. 709. Shape (3,)"""
    return np.einsum("rck,rc,r->k", colour, dome, projected, optimize=True) / np.einsum(
        "rc,r->", dome, projected
    )


def _of_daylight(cct: float) -> FloatArray:
    """Return the linear Rec. 709 of CIE daylight, luminance 1. Shape (3,)"""
    return sky_colour.rec709_of_xy(daylight.daylight_xy(float(np.clip(cct, *D_SERIES))))


def _cct(rgb) -> float:
    """Return the correlated colour temperature of linear Rec. 709, within the D series. [K]"""
    xyz = np.linalg.solve(REC709_FROM_XYZ, rgb)
    return float(np.clip(cct_duv(xyz[:2] / xyz.sum())[0], *D_SERIES))


def _clouded(dome, colour, covered, lit, kind, altitude):
    """Return (luminance, colour of luminance 1) of a sky with its clouds; see `clouds.CloudKind`."""
    mean = 1 / np.pi
    own = mean * (kind.dark + (kind.bright - kind.dark) * lit)
    horizon = 0.5 * (np.minimum(dome, 2 * mean) + own)
    # Far clouds are seen through the air that is lit before them.
    rows = len(covered)
    height = 90 - (np.arange(rows) + 0.5) * 90 / rows
    through = np.exp(-0.035 * (air_mass(np.maximum(height, 0.3)) - 1))[:, None]
    own = own * through + horizon * (1 - through)
    base = sky_colour.rec709_of_xy(CLOUD_XY)
    sunlit = _sunlight(altitude)
    share = (lit * kind.bright / (kind.dark + (kind.bright - kind.dark) * lit)).astype(np.float32)[..., None]
    cloud = (base * (1 - share) + (0.25 * base + 0.75 * sunlit) * share).astype(np.float32)
    seen = through.astype(np.float32)[..., None]
    cloud = cloud * seen + colour * (1 - seen)
    one, two = dome * (1 - covered), own * covered
    whole = one + two
    part = (two / np.maximum(whole, 1e-12)).astype(np.float32)[..., None]
    return whole, colour * (1 - part) + cloud * part


def _stars(covered, cells, illuminance: float) -> Stars:
    """Return stars as they are seen past the clouds, over the sky's own light."""
    points, _ = stars.star_field()
    points = points.copy()
    row = np.clip(
        (np.arccos(np.clip(points[..., 2], 0, 1)) / (np.pi / 2) * cells[0]).astype(int), 0, cells[0] - 1
    )
    column = (np.arctan2(points[..., 1], points[..., 0]) / (2 * np.pi) % 1 * cells[1]).astype(int) % cells[1]
    points[..., 3] *= 1 - covered[row, column]
    total = float(np.sum(points[..., 3] * points[..., 2])) / illuminance
    points[..., 3] /= illuminance * max(total, 1.0)
    return Stars(points, stars.RADIUS_DEG, min(total, 1.0))


def with_face(disc: Sun, moon, sun_towards, south: bool) -> Sun:
    """Return the moon's disc with its phase and seas, its lit side to the sun.

    Parameters
    ----------
    disc : Sun
    moon : scene.daylight.Moon
        With all its numbers.
    sun_towards : float array, shape (3,), or None
        Direction of the sun, where it is known.
    south : bool
        Whether it is seen from the southern half of the earth.
    """
    ahead = disc.towards
    level = np.cross(ahead, [0.0, 0, 1]) if abs(ahead[2]) < 0.9999 else np.array([1.0, 0, 0])
    level /= np.linalg.norm(level)
    up = np.cross(level, ahead)
    right = level
    if moon.limb is not None:
        turn = np.radians(moon.limb)
        right = up * np.cos(turn) + level * np.sin(turn)
    elif sun_towards is not None:
        side = sun_towards - ahead * (sun_towards @ ahead)
        if np.linalg.norm(side) > 1e-6:
            right = side / np.linalg.norm(side)
    waxing = bool((right @ level >= 0) != south)
    face = Face(moon_face(moon.phase, waxing), right, np.cross(right, ahead))
    return Sun(disc.lamp, disc.towards, disc.angle_deg, face)
