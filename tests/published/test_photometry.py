"""Closed forms of photometry against published factors and independent integrals.

Sources: J. R. Howell, A Catalog of Radiation Heat Transfer Configuration Factors, class B and C
(entries quoted from memory, every number equal to a quadrature); illumination texts as named.
"""

import numpy as np
import pytest
from scipy.integrate import dblquad, quad

from previz.physics import photometry
from previz.physics.beam import (
    AngularTable,
    cone_flux,
    cosine_power,
    exponent_from_angle,
    grid_is_coarse,
    lambertian_front,
)
from tests.oracles.light import isotropic, tube_illuminance

# Closed form against closed form: double precision, to the digits printed in the source.
PRINTED = 6e-6


@pytest.mark.parametrize(
    ("distance", "lux"),
    [(0.5, 1570.796), (1, 628.319), (2, 184.800), (2.5, 120.830), (3, 84.908), (5, 31.1049)],
)
def test_disc_on_its_axis(distance, lux):
    """A disc of 0.5 m radius and 1000 cd/m² lights its axis as E = pi L R² / (R² + d²)."""
    # Howell class B; equal to quadrature; reproduced with a renderer at 2 m.
    found = np.pi * 1000 * photometry.disc_factor(0.5, distance)
    assert found == pytest.approx(lux, rel=PRINTED)


@pytest.mark.parametrize(
    ("offset", "factor"), [(0.25, 0.0572264), (0.5, 0.0527864), (1, 0.0391823), (2, 0.0158613)]
)
def test_disc_off_its_axis(offset, factor):
    """Sliding the receiver sideways under a disc follows Howell's parallel-disc factor."""
    # Howell class B; R = 0.5 m, d = 2 m; equal to quadrature.
    found = photometry.disc_factor(0.5, 2.0, offset)
    assert found == pytest.approx(factor, abs=5e-8)

    def seen(radius, angle):
        square = (radius * np.cos(angle) - offset) ** 2 + (radius * np.sin(angle)) ** 2
        return radius * 4.0 / np.pi / (square + 4.0) ** 2

    assert found == pytest.approx(dblquad(seen, 0, 2 * np.pi, 0, 0.5)[0], rel=1e-9)


def test_rectangle_from_its_corner():
    """A square seen from its corner at its own width has the factor 0.1385316."""
    # Howell class B, also radiosity texts; equal to quadrature.
    assert photometry.corner_factor(2.0, 2.0, 2.0) == pytest.approx(0.1385316, abs=5e-8)


@pytest.mark.parametrize(
    ("size", "lux"),
    [
        ((1.2, 1.2), (977.906, 321.610, 151.918)),
        ((2.0, 1.0), (1133.290, 415.838, 203.626)),
        ((1.2, 0.3), (290.510, 84.694, 38.906)),
        ((4.0, 0.05), (75.333, 32.132, 17.492)),
    ],
)
def test_rectangle_on_its_axis(size, lux):
    """Soft boxes, book lights and strips of 1000 cd/m² at 1, 2 and 3 m."""
    # From the corner factor, four of them; equal to quadrature, one reproduced with a renderer.
    found = [np.pi * 1000 * photometry.rectangle_factor(*size, d) for d in (1.0, 2.0, 3.0)]
    assert found == pytest.approx(lux, abs=5.1e-4)


def test_rectangle_off_its_axis_equals_quadrature():
    """The four-corner sum holds outside the rectangle too, in both directions."""
    offset, distance = (1.1, -0.4), 1.7

    def seen(y, x):
        square = (x - offset[0]) ** 2 + (y - offset[1]) ** 2 + distance**2
        return distance**2 / np.pi / square**2

    expected = dblquad(seen, -0.6, 0.6, -0.25, 0.25)[0]
    found = photometry.rectangle_factor(1.2, 0.5, distance, offset)
    assert found == pytest.approx(expected, rel=1e-8)


@pytest.mark.parametrize(
    ("length", "lux"), [(1.2, 255.21), (2.4, 355.64), (6.0, 402.75), (np.inf, 408.41)]
)
def test_tube_facing_its_middle(length, lux):
    """A 26 mm tube of 10 000 cd/m² at 1 m, from short to endless."""
    # Illumination texts; equal to quadrature.
    found = tube_illuminance(1e4, radius=0.013, length=length, distance=1.0)
    assert found == pytest.approx(lux, abs=0.006)


def test_tube_of_a_hundred_candela_a_metre():
    """1.2 m of 100 cd/m at 1 m gives 98.1596 lx, as the cos² integral does."""
    found = tube_illuminance(100.0 / 0.02, radius=0.01, length=1.2, distance=1.0)
    assert found == pytest.approx(98.1596, rel=PRINTED)
    # Each piece of a thin diffuse tube radiates I' cos(tilt); receiver cosine and 1/r² follow.
    expected = quad(lambda z: 100 / (1 + z * z) ** 2, -0.6, 0.6)[0]
    assert found == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(
    ("times", "disc", "square"),
    [(1, -20.0, -24.8), (2, -5.88, -7.67), (3, -2.70, -3.57), (5, -0.99, -1.31),
     (10, -0.249, -0.332)],
)  # fmt: skip
def test_five_times_rule(times, disc, square):
    """At five times its width a diffuse disc is a point within 1 %; nearer it is not."""
    # IES Lighting Handbook, photometric measurement (from memory); numbers equal to quadrature.
    flat = photometry.point_error(photometry.disc_factor(0.5, times), np.pi * 0.25, times)
    box = photometry.point_error(photometry.rectangle_factor(1, 1, times), 1.0, times)
    assert 100 * flat == pytest.approx(disc, abs=0.006)
    assert 100 * box == pytest.approx(square, abs=0.051)


def test_mean_reflectance_goes_by_area():
    """Of 3 m² of white and 1 m² of black paint: three quarters, from the definition of a mean."""
    assert photometry.mean_reflectance([3, 1], [1.0, 0.0]) == pytest.approx(0.75)


def test_mean_reflectance_of_a_room():
    """A 6 x 4 x 2.8 m room of 0.8, 0.5 and 0.2 has a mean of 0.5."""
    # Sumpner's rule (from memory); an approximation, the arithmetic is exact.
    mean = photometry.mean_reflectance([24, 56, 24], [0.8, 0.5, 0.2])
    assert mean == pytest.approx(0.5)


def test_faces_of_a_cube():
    """Opposite faces exchange 0.199825, adjacent ones 0.200044, and a row adds up to one."""
    # Howell C-11 and C-14 (from memory).
    across = photometry.facing_squares_factor()
    adjacent = photometry.corner_rectangles_factor(1.0, 1.0, 1.0)
    assert across == pytest.approx(0.199825, abs=5e-7)
    assert adjacent == pytest.approx(0.200044, abs=5e-7)
    assert across + 4 * adjacent == pytest.approx(1.0, rel=1e-12)


def test_factors_are_reciprocal():
    """Unequal rectangles at a right angle send each other the same area times factor."""
    there = photometry.corner_rectangles_factor(2.0, 1.0, 3.0)
    back = photometry.corner_rectangles_factor(2.0, 3.0, 1.0)
    assert there * 2.0 * 1.0 == pytest.approx(back * 2.0 * 3.0, rel=1e-12)


def test_facing_squares_far_off_are_points():
    """At ten widths the factor is area / (pi d²), less 1.3 %."""
    # Two-fold the first-order correction of the five-times table's square.
    found = photometry.facing_squares_factor(1.0, 10.0)
    assert found == pytest.approx(1 / (np.pi * 100) * (1 - 0.0066), rel=5e-4)


@pytest.mark.parametrize(
    ("exponent", "beam", "field"), [(1, 120.0, 168.52), (10, 42.17, 74.82), (40, 21.27, 38.51)]
)
def test_beam_and_field_angles(exponent, beam, field):
    """Half the peak ends the beam, a tenth the field, and n follows from either."""
    # Geometry; the 50 % / 10 % convention is ANSI E1.9 (from memory).
    assert exponent_from_angle(beam) == pytest.approx(exponent, rel=6e-4)
    assert exponent_from_angle(field, 0.1) == pytest.approx(exponent, rel=6e-4)
    table = cosine_power(exponent)
    assert table.full_angle_deg(0.5) == pytest.approx(beam, abs=0.01)
    assert table.full_angle_deg(0.1) == pytest.approx(field, abs=0.01)


def test_flux_of_beams():
    """1 cd all round is 12.566 lm; cos^n gives 2 pi I / (n + 1); a sharp cone 2140.94 lm."""
    # Geometry of solid angles.
    assert 1 / isotropic().peak == pytest.approx(12.566, rel=4e-5)
    assert cone_flux(10_000.0, 30.0) == pytest.approx(2140.94, rel=PRINTED)
    for exponent in (1, 10, 40):
        integral = quad(lambda a, n=exponent: np.cos(a) ** n * np.sin(a), 0, np.pi / 2)[0]
        expected = 2 * np.pi * integral
        # The table is linear between points 0.25 degrees or less apart: a few 1e-5.
        assert 1 / cosine_power(exponent).peak == pytest.approx(expected, rel=1e-4)


def test_lambertian_front_is_one_over_pi():
    """A flat diffuse emitter gives I0 = flux / pi."""
    assert lambertian_front().peak == pytest.approx(1 / np.pi, rel=1e-4)


@pytest.mark.parametrize(
    ("step", "lumens"), [(1, 3141.5), (2.5, 3141.1), (5, 3139.6), (10, 3133.6)]
)
def test_lumens_of_a_coarse_table(step, lumens):
    """1000 cos(gamma) read on a grid and joined by lines integrates a little low."""
    # Linear interpolation, integrated exactly; 3141.593 lm without a grid.
    theta = np.arange(0, 90 + step / 2, step)
    values = 1000 * np.maximum(np.cos(np.radians(theta)), 0.0)
    table = AngularTable(theta, np.zeros(1), values[:, None])
    # Printed to 0.1 lm.
    assert table.flux() == pytest.approx(lumens, abs=0.11)


@pytest.mark.parametrize(("step", "over"), [(5.0, 0.025), (10.0, 0.094)])
def test_narrow_beam_on_a_coarse_grid_over_reads(step, over):
    """A 21 degree beam sampled each 5 degrees reads 2.5 % too many lumens, each 10, 9.4 %."""
    # Quadrature of the linear interpolant against 2 pi / 41.
    theta = np.arange(0, 90 + step / 2, step)
    values = np.maximum(np.cos(np.radians(theta)), 0.0) ** 40
    table = AngularTable(theta, np.zeros(1), values[:, None])
    assert table.flux() / (2 * np.pi / 41) - 1 == pytest.approx(over, abs=6e-4)
    assert grid_is_coarse(table) is (step == 10.0)
