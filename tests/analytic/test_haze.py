"""Haze against closed forms: what it takes from a beam, and the glow round a bare lamp."""

import numpy as np
import pytest

from previz.physics.haze import airlight

pytestmark = pytest.mark.engine

EVERYWHERE = np.full(3, 1e5)


def haze(density, g=0.0, *, albedo=1.0, thins_in=0.0, low=-EVERYWHERE, high=EVERYWHERE):
    """Haze on the stage."""
    from previz.stage.records import Haze

    thinning = 1 / thins_in if thins_in else 0.0
    return Haze(density, np.full(81, albedo), g, thinning, 0.0, np.asarray(low, float),
                np.asarray(high, float))


@pytest.mark.parametrize("density", [0.02, 0.1])
def test_beer_lambert(tiny, density):
    """Haze that only swallows leaves exp(-beta d) of a lamp: T(10 m) = 0.8187 and 0.3679."""
    # Beer-Lambert; check value 5.1: 0.02 /m at 10 m gives 0.8187, 0.1 /m gives 0.3679.
    stage = tiny.stage(
        emitters=[tiny.disc_lamp(0.001, (0, 0, 10))], lamps=[tiny.lamp(output=1e5 * np.pi)],
        probes=[tiny.probe((0, 0, 0))], haze=haze(density, albedo=0.0))
    got = tiny.measure(stage, 0.003)
    tiny.agree(got.total, got.total_error, 1000 * np.exp(-density * 10))


def test_haze_that_thins_with_height(tiny):
    """Straight up through haze of scale height h the optical depth is beta h (1 - exp(-d/h))."""
    # The integral of beta exp(-z/h) from 0 to d.
    stage = tiny.stage(
        emitters=[tiny.disc_lamp(0.001, (0, 0, 8))], lamps=[tiny.lamp(output=64e3 * np.pi)],
        probes=[tiny.probe((0, 0, 0))], haze=haze(0.2, albedo=0.0, thins_in=2.0))
    got = tiny.measure(stage, 0.003)
    tiny.agree(got.total, got.total_error, 1000 * np.exp(-0.2 * 2 * (1 - np.exp(-4))))


def test_haze_in_a_box(tiny):
    """A box of haze 2 m thick on the path takes exp(-2 beta), wherever the meter stands."""
    stage = tiny.stage(
        emitters=[tiny.disc_lamp(0.001, (0, 0, 8))], lamps=[tiny.lamp(output=64e3 * np.pi)],
        probes=[tiny.probe((0, 0, 0))],
        haze=haze(0.3, albedo=0.0, low=(-50, -50, 3), high=(50, 50, 5)))
    got = tiny.measure(stage, 0.003)
    tiny.agree(got.total, got.total_error, 1000 * np.exp(-0.6))


# Sun, Ramamoorthi, Narasimhan, Nayar, SIGGRAPH 2005 (form from memory; equal to direct quadrature
# and to a general renderer, check value 5.4): 1000 cd isotropic, even scattering.
PUBLISHED = [
    (0.02, 5.0, 30.0, 10.0, 1.200493),
    (0.02, 5.0, 30.0, np.inf, 1.328654),
    (0.05, 5.0, 30.0, np.inf, 2.536094),
]
# Directions and densities that the table does not list: the same closed form, as `physics.haze`
# computes it.
OTHERS = [(0.01, 3.0, 75.0, 8.0), (0.1, 4.0, 20.0, np.inf), (0.05, 2.0, 120.0, 6.0)]


@pytest.mark.parametrize(
    ("density", "distance", "angle", "depth", "expected"),
    PUBLISHED + [(*case, None) for case in OTHERS])
def test_airlight_of_a_point_lamp(tiny, density, distance, angle, depth, expected):
    """The glow along a line of sight past a bare lamp is the closed form of Sun et al. 2005."""
    if expected is None:
        expected = float(airlight(1000.0, density, distance=distance, angle_deg=angle,
                                  depth=depth))
    turn = np.radians(angle)
    place = (distance * np.sin(turn), distance * np.cos(turn), 0)
    # Behind the line of sight stands a black wall, or nothing; the far black patch only keeps the
    # stage from being empty.
    walls = [tiny.patch(0.1, 0.1, (0, -60, 0), (0, 1, 0), "black")]
    if np.isfinite(depth):
        walls.append(tiny.patch(4, 4, (0, depth, 0), (0, -1, 0), "black"))
    stage = tiny.stage(*walls, emitters=[tiny.ball_lamp(0.01, place, subdivisions=2)],
                       lamps=[tiny.lamp(output=4000 * np.pi)],
                       surfaces=[tiny.surface("black", 0.0)], haze=haze(density))
    value, error = tiny.radiance(stage, [(0, 0, 0)], [(0, 1, 0)], 1024, max_depth=1)
    # `radiance` returns light per lumen; 1000 cd all round are 4000 pi lm (check value 1.21).
    tiny.agree(value[0, 0] * 4000 * np.pi, error[0, 0] * 4000 * np.pi, expected)


def test_even_scattering_loses_nothing(tiny):
    """In a white furnace full of haze that swallows nothing, every direction stays as bright."""
    # Energy: radiance is the same everywhere in a closed space of even radiance; check value 1.15.
    from previz.stage import shapes
    from previz.stage.records import Emitter

    vertices, faces = shapes.ball(5.0, subdivisions=3)
    wall = Emitter(0, "wall", vertices, faces[:, ::-1])
    # The haze keeps away from the wall: light sampling of a wall that is touched is very noisy.
    box = np.full(3, 1.5)
    stage = tiny.stage(emitters=[wall], haze=haze(0.4, 0.6, low=-box, high=box))
    directions = [(1, 0, 0), (0, 0.6, 0.8), (-0.6, 0, 0.8)]
    value, error = tiny.radiance(stage, np.zeros((3, 3)), directions, 1024, max_depth=400)
    expected = 1 / (np.pi * 4 * np.pi * 25)
    tiny.agree(value[:, 0, 0], error[:, 0, 0], expected)
