"""What is seen in the sky changes nothing of what it gives: clouds, colours, stars, the face of a moon."""

import numpy as np
import pytest

from previz.physics.bands import band_means
from previz.physics.moon_face import moon_face
from previz.physics.stars import COUNTS, ZERO_MAGNITUDE
from previz.physics.uplift import uplift_basis
from previz.scene.daylight import Clouds, Daylight, Moon, Sun
from previz.stage.outdoors import build_daylight
from previz.stage.records import Face, Sky, Stars
from previz.stage.records import Sun as Disc

pytestmark = pytest.mark.engine

LOW_SUN = Sun(azimuth=250.0, altitude=25.0, illuminance=0.0)


def bare(tiny, **more):
    """Nothing but a black scrap far below."""
    return tiny.stage(
        tiny.patch(0.01, 0.01, (0, 0, -5), (0, 0, 1)), surfaces=[tiny.surface(reflectance=0)], **more
    )


def wall_light(sky, normal, steps=600):
    """Sum of a dome's cells over what a receiver sees, each channel for itself. Shape (3,)"""
    rows, columns = sky.radiance.shape
    zenith = (np.arange(rows) + 0.5) * np.pi / 2 / rows
    azimuth = (np.arange(columns) + 0.5) * 2 * np.pi / columns
    cosine = (
        np.sin(zenith)[:, None] * (np.cos(azimuth) * normal[0] + np.sin(azimuth) * normal[1])
        + np.cos(zenith)[:, None] * normal[2]
    )
    solid = np.sin(zenith)[:, None] * (np.pi / 2 / rows) * (2 * np.pi / columns)
    weight = np.maximum(cosine, 0) * solid * sky.radiance
    return np.einsum(
        "rc,rck->k", weight, np.broadcast_to(1.0 if sky.colour is None else sky.colour, (rows, columns, 3))
    )


@pytest.mark.parametrize("kind", ["fair", "storm"])
def test_clouds_share_out_the_light_and_add_none(tiny, kind):
    """1 lx on level ground in every band, and on a wall the sum over the dome's own cells, band by band."""
    daylight = Daylight(sky="clear", illuminance=5000.0, sun=LOW_SUN, clouds=Clouds(kind=kind))
    _, _, sky = build_daylight(daylight, 0)
    normals = [np.array([0, 0, 1.0]), np.array([-1.0, 0, 0]), np.array([1.0, 0, 0])]
    got = tiny.measure(
        bare(tiny, sky=sky, probes=[tiny.probe((0, 0, 0), n) for n in normals]), 0.003, bands=8
    )
    for normal, found in zip(normals, got.illuminance, strict=True):
        expected = wall_light(sky, normal) @ uplift_basis(8)
        np.testing.assert_allclose(found[0].sum(axis=0), expected, rtol=0.012)
    np.testing.assert_allclose(got.illuminance[0, 0].sum(axis=0), 1, rtol=0.01)
    # Not an even sky: brighter and darker places, bluer and whiter ones.
    assert sky.radiance.max() > 2 * np.median(sky.radiance)
    assert np.ptp(sky.colour[..., 2] / sky.colour[..., 0]) > 0.2


def test_a_moon_gives_as_much_with_its_face(tiny):
    """1 lx on a surface that faces it, at any phase, and half a cosine aslant."""
    for lit in (0.2, 0.5, 1.0):
        disc = Disc(
            0,
            np.array([0, 0, 1.0]),
            0.52,
            Face(moon_face(lit), np.array([1.0, 0, 0]), np.array([0, -1.0, 0])),
        )
        got = tiny.measure(
            bare(tiny, sun=disc, probes=[tiny.probe((0, 0, 0)), tiny.probe((0, 0, 0), (0.866025, 0, 0.5))])
        )
        tiny.agree(got.total, got.total_error, [1, 0.5], 0.01)


def test_the_lit_side_of_a_moon_is_where_its_sun_is(tiny):
    """Of a half moon in the south with the sun down in the west, the west half is bright."""
    record = Daylight(
        sky="none",
        sun=Sun(azimuth=270.0, altitude=0.0, illuminance=0.0),
        moon=Moon(azimuth=180.0, altitude=40.0, phase=0.5, illuminance=0.1, face=True),
    )
    _, disc, _ = build_daylight(record, 0)
    west = np.array([-1.0, 0, 0])
    directions = [disc.towards + side * np.radians(0.13) * west for side in (1, -1)]
    directions = [d / np.linalg.norm(d) for d in directions]
    stage = bare(tiny, sun=disc)
    seen, _ = tiny.radiance(stage, np.zeros((2, 3)), np.array(directions), samples=1, batches=2)
    half = np.radians(disc.angle_deg / 2)
    mean = 1 / (np.pi * np.sin(half) ** 2)
    assert seen[0, 0, 0] > 1.2 * mean
    assert seen[1, 0, 0] == 0


def test_stars_are_points_to_a_camera_and_dome_to_all_else(tiny):
    """A star is seen with its own light, the dome between dimmed by theirs; meters read the whole."""
    points = np.zeros((4, 8, 4))
    towards = np.array([0.48, 0.36, 0.8])
    turn = int(np.arctan2(0.36, 0.48) / (2 * np.pi) * 8)
    points[0, turn] = [*towards, 0.05]
    share = 0.05 * 0.8
    sky = Sky(0, np.full((8, 16), 1 / np.pi), None, Stars(points, 0.5, share))
    stage = bare(tiny, sky=sky, probes=[tiny.probe((0, 0, 0))])
    aside = np.array([0.36, 0.48, 0.8])
    seen, _ = tiny.radiance(stage, np.zeros((2, 3)), np.array([towards, aside]), samples=1, batches=2)
    dome = (1 - share) / np.pi
    assert seen[1, 0, 0] == pytest.approx(dome, rel=1e-4)
    assert seen[0, 0, 0] == pytest.approx(dome + 0.05 / (np.pi * np.sin(np.radians(0.5)) ** 2), rel=1e-3)
    got = tiny.measure(stage, 0.003)
    tiny.agree(got.total, got.total_error, 1, 0.01)


def test_a_night_has_the_light_of_its_stars_once():
    """What points give and what is left of the dome are the sky's own light together; brightest are few."""
    night = Daylight(
        sky="clear", illuminance=0.002, moon=Moon(azimuth=0.0, altitude=0.0, illuminance=0.0), stars=True
    )
    lamps, _, sky = build_daylight(night, 0)
    stars = sky.stars
    light = stars.points[..., 3] * night.illuminance
    assert stars.share == pytest.approx(float(np.sum(stars.points[..., 3] * stars.points[..., 2])), rel=1e-9)
    assert lamps[-1].output == 0.002
    # Of starlight and glow of some 0.002 lx stars seen one by one give some hundredths to a tenth.
    assert 0.01 < stars.share < 0.15
    # Counts of a catalogue of bright stars, halved: brighter than magnitude 4, but for what the air takes.
    fourth = dict(COUNTS)[4.0] / 2
    above = light > ZERO_MAGNITUDE * 10 ** (-0.4 * 4.0)
    assert 0.35 * fourth < np.count_nonzero(above) < fourth * 1.05
    assert band_means(np.ones(81), 8).shape == (8,)
