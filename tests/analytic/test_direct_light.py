"""Simple sources and a small meter: rendered numbers against the closed forms of photometry.

Numbers marked as a check value are in tests/check_values.md; each is the closed form of
the source named next to it, checked there against an independent numerical integral.
"""

import numpy as np
import pytest

pytestmark = pytest.mark.engine


def lumens(luminance, area):
    """Flux of a Lambertian source: M = pi L (definition)."""
    return luminance * np.pi * area


def test_inverse_square_of_a_small_disc(tiny):
    """A source of 1000 cd gives 1000, 444.444, 250, 111.111, 62.5, 15.625 lx (check value 1.1)."""
    # A Lambertian disc has I0 = Phi / pi (check value 1.21). At 1 mm radius it is a point to 1e-6.
    distances = [1, 1.5, 2, 3, 4, 8]
    stage = tiny.stage(
        emitters=[tiny.disc_lamp(0.001, (0, 0, 10))],
        lamps=[tiny.lamp(output=1000 * np.pi)],
        probes=[tiny.probe((0, 0, 10 - d), name=f"{d}") for d in distances])
    got = tiny.measure(stage)
    tiny.agree(got.total, got.total_error, [1000, 444.444, 250, 111.111, 62.5, 15.625], 0.005)


def test_inverse_square_of_a_small_ball(tiny):
    """A ball shines the same all round: 4 pi lm are 1 cd, so 1/d² lx from every side."""
    # Isotropic 1 cd = 12.566 lm (check value 1.21). The bulbs of the lamps are such balls.
    sides = np.array([[1, 0, 0], [0, 1, 0], [0, 0, -1], [1, 2, -1], [-3, 1, 2]], float)
    sides /= np.linalg.norm(sides, axis=1, keepdims=True)
    distances = np.array([0.7, 1, 2, 3, 5])
    stage = tiny.stage(
        emitters=[tiny.ball_lamp(0.002, (0, 0, 1))],
        lamps=[tiny.lamp(output=4 * np.pi)],
        probes=[tiny.probe((0, 0, 1) + side * d, -side, name=f"{d}")
                for side, d in zip(sides, distances, strict=True)])
    got = tiny.measure(stage)
    tiny.agree(got.total, got.total_error, 1 / distances**2, 0.005)


def test_cosine_law(tiny):
    """Tilting the meter costs 0.050, 0.208, 0.500, 1.000, 1.950 stops (check value 1.1)."""
    tilts = np.radians([15, 30, 45, 60, 75])
    stage = tiny.stage(
        emitters=[tiny.disc_lamp(0.001, (0, 0, 2))],
        lamps=[tiny.lamp(output=1000 * np.pi)],
        probes=[tiny.probe((0, 0, 0), (np.sin(t), 0, np.cos(t)), name=f"{t}") for t in tilts])
    got = tiny.measure(stage)
    tiny.agree(got.total, got.total_error, 250 * 2.0 ** -np.array([0.050, 0.208, 0.5, 1, 1.95]),
               0.005)


def test_a_meter_turned_away_reads_nothing(tiny):
    """A flat meter sees nothing of a lamp behind it, and a disc gives nothing backwards."""
    stage = tiny.stage(
        emitters=[tiny.disc_lamp(0.1, (0, 0, 2))],
        probes=[tiny.probe((0, 0, 0), (0, 0, -1)), tiny.probe((0, 0, 4), (0, 0, -1))])
    assert np.all(tiny.measure(stage, most_rounds=2).total == 0)


def test_disc_on_its_axis(tiny):
    """E = pi L R² / (R² + d²) at L = 1000, R = 0.5 m (Howell, class B; check value 1.2)."""
    expected = {0.5: 1570.796, 1: 628.319, 2: 184.800, 2.5: 120.830, 3: 84.908, 5: 31.1049}
    stage = tiny.stage(
        emitters=[tiny.disc_lamp(0.5, (0, 0, 5))],
        lamps=[tiny.lamp(output=lumens(1000, np.pi / 4))],
        probes=[tiny.probe((0, 0, 5 - d), name=f"{d}") for d in expected])
    got = tiny.measure(stage)
    tiny.agree(got.total, got.total_error, list(expected.values()))


def test_a_meter_close_to_a_lamp_loses_nothing(tiny):
    """E = pi L R² / (R² + d²) holds down to a few mm from the face (check value 1.2)."""
    # A shadow ray that starts off its surface must still stop short of a lamp this near.
    near = np.array([0.003, 0.01, 0.03, 0.1, 0.2])
    stage = tiny.stage(
        emitters=[tiny.disc_lamp(0.5, (0, 0, 3), sides=192)],
        lamps=[tiny.lamp(output=lumens(1000, np.pi / 4))],
        probes=[tiny.probe((0, 0, 3 - d), name=f"{d}") for d in near])
    got = tiny.measure(stage)
    tiny.agree(got.total, got.total_error, 1000 * np.pi * 0.25 / (0.25 + near**2))


def test_disc_from_next_to_its_axis(tiny):
    """Off axis F = (1 - (Z - 2r²) / sqrt(Z² - 4r²)) / 2 (Howell, class B; check value 1.3)."""
    expected = {0.25: 0.0572264, 0.5: 0.0527864, 1: 0.0391823, 2: 0.0158613}
    stage = tiny.stage(
        emitters=[tiny.disc_lamp(0.5, (0, 0, 2))],
        lamps=[tiny.lamp(output=lumens(1000, np.pi / 4))],
        probes=[tiny.probe((offset, 0, 0)) for offset in expected])
    got = tiny.measure(stage)
    tiny.agree(got.total, got.total_error, 1000 * np.pi * np.array(list(expected.values())))


@pytest.mark.parametrize(("size", "expected"), [
    ((1.2, 1.2), (977.906, 321.610, 151.918)),
    ((2, 1), (1133.290, 415.838, 203.626)),
    ((1.2, 0.3), (290.510, 84.694, 38.906)),
    ((4, 0.05), (75.333, 32.132, 17.492)),
])
def test_rectangle_on_its_axis(tiny, size, expected):
    """A soft front at L = 1000, 1, 2 and 3 m away (four corner factors of Howell; check value 1.6)."""
    stage = tiny.stage(
        emitters=[tiny.rectangle_lamp(*size, (0, 0, 3))],
        lamps=[tiny.lamp(output=lumens(1000, size[0] * size[1]))],
        probes=[tiny.probe((0, 0, 3 - d)) for d in (1, 2, 3)])
    got = tiny.measure(stage)
    tiny.agree(got.total, got.total_error, expected)


def test_rectangle_through_its_corner(tiny):
    """A unit square seen from 1 m along the normal through a corner: F = 0.1385316 (check value 1.5)."""
    corners = [(0.5, 0.5, 0), (-0.5, 0.5, 0), (0.5, -0.5, 0), (-0.5, -0.5, 0)]
    stage = tiny.stage(
        emitters=[tiny.rectangle_lamp(1, 1, (0, 0, 1))],
        lamps=[tiny.lamp(output=lumens(1 / np.pi, 1))],
        probes=[tiny.probe(corner) for corner in corners])
    got = tiny.measure(stage)
    tiny.agree(got.total, got.total_error, 0.1385316)


def test_ball_near_and_far(tiny):
    """E = pi L (R/d)² exactly at any distance: 7.85398 lx at 2 m (Howell; check value 1.8)."""
    distances = np.array([0.15, 0.3, 0.6, 2.0])
    stage = tiny.stage(
        emitters=[tiny.ball_lamp(0.1, (0, 0, 2))],
        lamps=[tiny.lamp(output=lumens(1000, 4 * np.pi * 0.01))],
        probes=[tiny.probe((0, 0, 2 - d)) for d in distances])
    got = tiny.measure(stage)
    expected = 1000 * np.pi * (0.1 / distances) ** 2
    assert expected[-1] == pytest.approx(7.85398, abs=1e-5)
    tiny.agree(got.total, got.total_error, expected)


def test_tube_next_to_its_middle(tiny):
    """1.2 m of 10 000 cd/m², 13 mm radius: 255.21 lx at 1 m (check value 1.9), and two end to end."""
    # E = (I'/d)(a + sin a cos a), I' = 2rL, a = atan(l/2d); holds for r << d, here to 0.02 %.
    area = 2 * np.pi * 0.013 * 1.2
    stage = tiny.stage(
        emitters=[tiny.tube_lamp(0.013, 1.2, (-0.6, 0, 2), index=0),
                  tiny.tube_lamp(0.013, 1.2, (0.6, 0, 2), index=1)],
        lamps=[tiny.lamp("a", output=lumens(10_000, area)),
               tiny.lamp("b", output=lumens(10_000, area))],
        probes=[tiny.probe((-0.6, 0, 1)), tiny.probe((0.6, 0, 1)), tiny.probe((0, 0, 1)),
                tiny.probe((0, 1, 2), (0, -1, 0))])
    got = tiny.measure(stage)
    flux = lumens(10_000, area)
    own = np.array([got.each[0, 0, 0], got.each[1, 1, 0]]) * flux
    tiny.agree(own, got.each_error[[0, 1], [0, 1], 0] * flux, 255.21)
    tiny.agree(got.total[2:], got.total_error[2:], 355.64)


def test_dome_and_flat_meter(tiny):
    """In front both receptors read I/d²; away from it the dome falls as (1 + cos)/2."""
    # A dome answers with the cardioid (1 + cos)/2 by definition of the record; the flat one by
    # Lambert's cosine. Behind its own plane a dome still reads.
    angles = np.radians([0, 30, 60, 80, 120, 150])
    turned = [(np.sin(a), 0, np.cos(a)) for a in angles]
    stage = tiny.stage(
        emitters=[tiny.ball_lamp(0.001, (0, 0, 2))], lamps=[tiny.lamp(output=400 * np.pi)],
        probes=[tiny.probe((0, 0, 0), n, dome=dome) for dome in (False, True) for n in turned])
    got = tiny.measure(stage)
    flat, dome = got.total.reshape(2, -1)
    flat_error, dome_error = got.total_error.reshape(2, -1)
    tiny.agree(flat, flat_error, 25 * np.maximum(np.cos(angles), 0), 0.005)
    tiny.agree(dome, dome_error, 25 * (1 + np.cos(angles)) / 2, 0.005)
