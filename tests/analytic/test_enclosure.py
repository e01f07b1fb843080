"""Many bounces: light that is shut in, and surfaces in light that is the same from everywhere."""

import numpy as np
import pytest

pytestmark = pytest.mark.engine

# 4 m cube, isotropic 10 000 lm in the middle: mean illuminance of the walls, all and indirect.
# E = Phi / (A (1 - rho)) (Sumpner 1892; geometry of CIE 171:2006 case 5.8; check values 1.11 and 1.12).
CUBE = {0.5: (208.33, 104.17), 0.9: (1041.67, 937.50)}


def cube_stage(tiny, rho, probes):
    return tiny.stage(
        tiny.closed_box((0, 0, 0), (4, 4, 4)), emitters=[tiny.ball_lamp(0.01, (2, 2, 2))],
        surfaces=[tiny.surface(reflectance=rho)], lamps=[tiny.lamp(output=10_000)], probes=probes)


@pytest.mark.parametrize("rho", CUBE)
def test_mean_of_a_closed_cube(tiny, rho):
    """The mean over the walls is Phi / (A (1 - rho)), its indirect part rho times that."""
    # By symmetry a quarter of one wall stands for all; illuminance is smooth on it, so 4 x 4
    # Gauss-Legendre points give the mean to better than 1e-4.
    # By the quarter's own diagonal ten of them stand for all.
    node, weight = np.polynomial.legendre.leggauss(4)
    i, j = np.triu_indices(4)
    mean = np.where(i == j, 1, 2) * weight[i] * weight[j] / 4
    probes = [tiny.probe((1 + node[a], 1 + node[b], 0.001)) for a, b in zip(i, j, strict=True)]
    # A tenth at most, 13 000 paths: each meter is then good to 0.5 %, their mean to 0.2 %.
    got = tiny.measure(cube_stage(tiny, rho, probes), 0.1, max_depth=1000)
    parts = 10_000 * got.each[:, 0]
    errors = 10_000 * got.each_error[:, 0]
    whole, indirect = CUBE[rho]
    # The direct and the bounced part share paths; the sum of their errors bounds that of the sum.
    tiny.agree(mean @ parts.sum(axis=1), np.sqrt(mean**2 @ errors.sum(axis=1) ** 2), whole)
    tiny.agree(mean @ parts[:, 1], np.sqrt(mean**2 @ errors[:, 1] ** 2), indirect)
    tiny.agree(mean @ parts[:, 0], np.sqrt(mean**2 @ errors[:, 0] ** 2), whole - indirect)


def test_direct_part_in_the_cube(tiny):
    """Wall centre, edge middle and corner get 198.94, 70.34 and 38.29 lx directly (check value 1.12)."""
    # 1 mm off the walls, so that a meter in a corner is not inside one: 0.1 % at most.
    probes = [tiny.probe(at) for at in ((2, 2, 0.001), (0.001, 2, 0.001), (0.001, 0.001, 0.001))]
    got = tiny.measure(cube_stage(tiny, 0.5, probes), 0.02)
    tiny.agree(10_000 * got.each[:, 0, 0], 10_000 * got.each_error[:, 0, 0],
               [198.94, 70.34, 38.29])


def test_path_length_is_not_cut_short(tiny):
    """At rho = 0.95 the cube's mean is 2083.33 lx (check value 1.12): paths of 200 surfaces count."""
    probes = [tiny.probe((2 + 1.5 * x, 2 + 1.5 * y, 0.001))
              for x in (-1, 0, 1) for y in (-1, 0, 1)]
    # 13 000 paths leave 0.2 % of noise.
    got = tiny.measure(cube_stage(tiny, 0.95, probes), 0.1, max_depth=2000)
    # The indirect light of a cube is even to about 1 % at this reflectance (it is exactly so only
    # in a sphere): hence 2 % on the mean of nine points.
    indirect = 10_000 * got.each[:, 0, 1].mean()
    error = 10_000 * np.sqrt(np.sum(got.each_error[:, 0, 1] ** 2)) / 9
    tiny.agree(indirect, error, 1979.17, 0.02)


def test_depth_limit_cuts(tiny):
    """With one surface to a path only the direct light is left; the limit is real."""
    stage = cube_stage(tiny, 0.9, [tiny.probe((2, 2, 0.001))])
    got = tiny.measure(stage, max_depth=1)
    tiny.agree(10_000 * got.each[0, 0, 0], 10_000 * got.each_error[0, 0, 0], 198.94)
    assert got.each[0, 0, 1] == 0
