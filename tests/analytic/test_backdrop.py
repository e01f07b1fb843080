"""A glowing picture: as bright and of the colour that it is at each place, seen or not."""

import numpy as np
import pytest

from previz.physics.photometry import corner_factor
from previz.physics.uplift import uplift_basis
from previz.stage.records import Haze

pytestmark = pytest.mark.engine

WIDE, HIGH = 3.0, 2.0
BANDS = 3


def four_colours(rows=2, columns=2):
    """Top left red, top right green, bottom left blue, bottom right grey."""
    picture = np.zeros((rows, columns, 3), np.float32)
    h, w = rows // 2, columns // 2
    picture[:h, :w] = (0.8, 0.1, 0.1)
    picture[:h, w:] = (0.1, 0.7, 0.1)
    picture[h:, :w] = (0.1, 0.1, 0.9)
    picture[h:, w:] = 0.5
    return picture


def backdrop(tiny, picture, centre=(0, 0, 0), direction=(0, -1, 0)):
    return tiny.rectangle_lamp(WIDE, HIGH, centre, direction, picture=picture,
                               world_from_light=tiny.facing(direction)[0])


def in_bands(rgb):
    return np.asarray(rgb, float) @ uplift_basis(BANDS)


def test_each_place_shows_its_own_colour(tiny):
    """A picture stands upright and is not mirrored, in its own bands."""
    picture = four_colours(8, 8)
    stage = tiny.stage(emitters=[backdrop(tiny, picture)])
    # It faces south; a viewer facing north at it has east to the right.
    quarters = {(-1, 1): (0, 0), (1, 1): (0, -1), (-1, -1): (-1, 0), (1, -1): (-1, -1)}
    origins = [(x * WIDE / 4, -2.0, z * HIGH / 4) for x, z in quarters]
    seen, error = tiny.radiance(stage, origins, [(0, 1, 0)] * 4, 16, bands=BANDS)
    expected = np.array([in_bands(picture[at]) for at in quarters.values()])
    # One lumen of a white picture of 6 m².
    np.testing.assert_allclose(seen[:, 0] * np.pi * WIDE * HIGH, expected, rtol=1e-4)
    assert not error.any()


@pytest.mark.parametrize("guided", [False, True])
def test_light_of_a_picture_on_a_meter(tiny, guided):
    """Each quarter lights a meter by its configuration factor and its colour, band by band, both
    where lamps alone are sampled and where a guide takes a share of the rays.
    """
    picture = four_colours(256, 256)
    at = np.array([0.4, -1.5, -0.3])
    probe = tiny.probe(at, (0, 1, 0))
    guides = ()
    if guided:
        from previz.stage.records import Guide
        guides = (Guide("way", np.zeros(3), np.array([WIDE / 2, 0, 0]), np.array([0, 0, HIGH / 2])),)
    stage = tiny.stage(emitters=[backdrop(tiny, picture)], probes=[probe], guides=guides)
    got = tiny.measure(stage, 0.002, bands=BANDS)
    found = np.asarray(got.illuminance)[0, 0, 0]
    # A quarter from its corner on the meter's normal: signed rectangles round the foot.
    edges_x, edges_z = np.array([-WIDE / 2, 0, WIDE / 2]), np.array([-HIGH / 2, 0, HIGH / 2])

    def corner(x, z):
        a, b = x - at[0], z - at[2]
        return np.sign(a * b) * corner_factor(abs(a), abs(b), 1.5)

    expected = np.zeros(BANDS)
    for i in range(2):
        for j in range(2):
            factor = (corner(edges_x[i + 1], edges_z[j + 1]) - corner(edges_x[i], edges_z[j + 1])
                      - corner(edges_x[i + 1], edges_z[j]) + corner(edges_x[i], edges_z[j]))
            colour = picture[0 if j else -1, -1 if i else 0]
            expected += factor * in_bands(colour) / (WIDE * HIGH)
    # 256 texels a side blur the seams by half a percent of the width at most.
    np.testing.assert_allclose(found, expected, rtol=0.01)


def test_haze_before_a_picture_has_its_colour(tiny):
    """The glow of haze in front of an all-red picture is red, in the picture's own proportions."""
    red = np.full((2, 2, 3), (0.8, 0.2, 0.1), np.float32)
    haze = Haze(0.05, np.ones(81), 0.0, 0.0, 0.0, np.full(3, -50.0), np.full(3, 50.0))
    directions = {}
    for name, picture in (("red", red), ("white", None)):
        stage = tiny.stage(tiny.patch(0.01, 0.01, (0, 0, -20), (0, 0, 1)), haze=haze,
                           emitters=[backdrop(tiny, picture)])
        seen, _ = tiny.radiance(stage, [(-3, -1.0, 0)], [(1, 0, 0)], 1500, bands=BANDS)
        directions[name] = seen[0, 0]
    np.testing.assert_allclose(directions["red"] / directions["white"], in_bands((0.8, 0.2, 0.1)), rtol=0.03)


def test_a_plain_lamp_next_to_it_keeps_its_colour(tiny):
    """A picture colours its own lamp and no other."""
    plain = tiny.rectangle_lamp(1, 1, (0, -4, 0), (0, 1, 0), index=1)
    stage = tiny.stage(emitters=[backdrop(tiny, four_colours()), plain],
                       probes=[tiny.probe((0, -2, 0), (0, -1, 0))])
    got = tiny.measure(stage, 0.002, bands=BANDS)
    found = np.asarray(got.illuminance)[0, 1, 0]
    factor = 4 * corner_factor(0.5, 0.5, 2.0)
    np.testing.assert_allclose(found, factor, rtol=0.01)
