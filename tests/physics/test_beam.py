"""Angular tables, lens profiles and honeycombs."""

import numpy as np
import pytest
from scipy.integrate import dblquad, quad

from previz.physics.beam import AngularTable, cosine_power, lambertian_front
from previz.physics.profiles import (
    flooding_angles,
    hard_edged,
    honeycomb_transmission,
    soft_edged,
    through_honeycomb,
)
from tests.oracles.light import isotropic

BEAMS = {
    "isotropic": isotropic(), "lambertian": lambertian_front(), "narrow": cosine_power(200.0),
    "ellipsoidal": hard_edged(26.0, 0.1), "soft ellipsoidal": hard_edged(36.0, 1.0),
    "spot": soft_edged(12.0, 20.0), "flood": soft_edged(60.0, 80.0),
}  # fmt: skip


@pytest.mark.parametrize("name", BEAMS)
def test_beams_carry_one_lumen(name):
    """The integral over the sphere is 1, by an independent quadrature of the interpolant."""
    table = BEAMS[name]
    assert table.flux() == pytest.approx(1.0, rel=1e-12)
    points = np.radians(table.theta_deg)
    expected = sum(
        quad(lambda a: 2 * np.pi * float(table.intensity(np.degrees(a))) * np.sin(a), *ends)[0]
        for ends in zip(points[:-1], points[1:], strict=True)
    )
    assert expected == pytest.approx(1.0, rel=1e-8)
    assert table.intensity(table.theta_deg[-1] + 0.01) == 0


def lopsided():
    """A table that depends on azimuth: brightest at phi = 90 degrees."""
    theta, phi = np.linspace(0, 80, 41), np.linspace(0, 360, 37)
    values = np.cos(np.radians(theta))[:, None] * (2 + np.sin(np.radians(phi)))[None, :]
    return AngularTable(theta, phi, values)


def test_flux_of_a_table_with_azimuths():
    """Against the integral of the function it samples."""
    table = lopsided()
    expected = dblquad(
        lambda a, p: np.cos(a) * (2 + np.sin(p)) * np.sin(a), 0, 2 * np.pi, 0, np.radians(80)
    )[0]
    # Lines between 2 degree points.
    assert table.flux() == pytest.approx(expected, rel=5e-4)
    assert table.normalised().flux() == pytest.approx(1.0, rel=1e-12)
    assert not table.round


def test_interpolation_in_both_angles():
    """Azimuth turns the right way, wraps, and values between points lie on lines."""
    table = lopsided()
    assert table.intensity(40.0, 90.0) == pytest.approx(3 * np.cos(np.radians(40)))
    assert table.intensity(40.0, 270.0) == pytest.approx(np.cos(np.radians(40)))
    assert table.intensity(40.0, -270.0) == pytest.approx(table.intensity(40.0, 90.0))
    assert table.intensity(40.0, 450.0) == pytest.approx(table.intensity(40.0, 90.0))
    middle = table.intensity(41.0, 95.0)
    corners = [table.intensity(t, p) for t in (40.0, 42.0) for p in (90.0, 100.0)]
    assert middle == pytest.approx(np.mean(corners))
    assert table.intensity(np.array([[10.0], [20.0]]), np.array([0.0, 90.0, 180.0])).shape == (2, 3)


@pytest.mark.parametrize("field", [10.0, 26.0, 50.0])
@pytest.mark.parametrize("edge", [0.0, 0.1, 0.5, 1.0])
def test_projected_field(field, edge):
    """A tenth is left at the field angle for any edge; the middle is even; soft edges are wider."""
    table = hard_edged(field, edge)
    assert table.full_angle_deg(0.1) == pytest.approx(field, abs=0.01)
    width = field / 2 * max(edge, 0.01)
    # Half is left where the fall is half done, 0.304 of its width inside the tenth.
    assert table.full_angle_deg(0.5) == pytest.approx(field - 2 * 0.3042 * width, rel=1e-3)
    inner = field / 2 - 0.81 * width
    if inner > 0:
        assert table.intensity(inner) == pytest.approx(table.intensity(0.0), rel=1e-3)
    assert table.theta_deg[-1] < field / 2 + 0.21 * width


@pytest.mark.parametrize(("beam", "field"), [(8, 14), (15, 30), (40, 55), (60, 110)])
def test_soft_lens_has_both_angles(beam, field):
    """Half at the beam angle and a tenth at the field angle, both solved."""
    table = soft_edged(beam, field)
    assert table.full_angle_deg(0.5) == pytest.approx(beam, rel=1e-3)
    assert table.full_angle_deg(0.1) == pytest.approx(field, rel=1e-3)
    assert np.all(np.diff(table.values[:, 0]) <= 0)
    # The table is cut at 1e-6 of the peak, or at 90 degrees.
    end = table.values[-1, 0] / table.peak
    assert table.theta_deg[-1] == 90 or end == pytest.approx(1e-6, rel=1e-3)


def test_flooding_runs_from_spot_to_flood():
    """Angles grow with the flood and the field stays outside the beam."""
    # Common practice, no source: 10/20 degrees at spot, 50/65 at flood.
    assert flooding_angles(0.0) == pytest.approx((10, 20))
    assert flooding_angles(1.0) == pytest.approx((50, 65))
    beams = np.array([flooding_angles(f) for f in np.linspace(0, 1, 11)])
    assert np.all(np.diff(beams, axis=0) > 0)
    assert np.all(beams[:, 1] > beams[:, 0])


def test_honeycomb_is_the_overlap_of_two_circles():
    """Open square on, half the width off leaves 39.1 %, nothing at the cutoff or backwards."""
    # Two unit discs half a diameter apart overlap by 2/3 - sqrt(3)/(2 pi) = 0.3910 of one.
    half = np.degrees(np.arctan(np.tan(np.radians(40)) / 2))
    found = honeycomb_transmission(np.array([0.0, half, 40.0, 120.0, -half]), 40.0)
    expected = 2 / 3 - np.sqrt(3) / (2 * np.pi)
    assert found == pytest.approx([1.0, expected, 0.0, 0.0, expected], abs=1e-9)


def test_beam_through_a_honeycomb():
    """A soft box loses most of its lumens to a 40 degree grid, and keeps its axis."""
    before = lambertian_front()
    after, share = through_honeycomb(before, 40.0)
    assert after.flux() == pytest.approx(1.0, rel=1e-12)
    assert share * after.intensity(0.0) == pytest.approx(before.intensity(0.0), rel=1e-9)
    expected = quad(
        lambda a: np.sin(2 * a) * float(honeycomb_transmission(np.degrees(a), 40.0)),
        0, np.radians(40),
    )[0]  # fmt: skip
    # Table lines of a sixth of a degree.
    assert share == pytest.approx(expected, rel=1e-3)
    assert after.theta_deg[-1] <= 40


@pytest.mark.parametrize(
    ("theta", "phi", "values", "message"),
    [([5, 10], [0], [[1], [1]], "from 0"), ([0, 190], [0], [[1], [1]], "at most 180"),
     ([0, 10, 10], [0], [[1], [1], [1]], "rise"), ([0, 10], [0, 90], [[1, 1], [1, 1]], "0 to 360"),
     ([0, 10], [0], [[1, 2], [1, 2]], "shape"), ([0, 10], [0], [[1], [-1]], "0 or more")],
)  # fmt: skip
def test_crooked_tables_are_refused(theta, phi, values, message):
    """Each thing a table must be is checked."""
    with pytest.raises(ValueError, match=message):
        AngularTable(np.array(theta), np.array(phi), np.array(values, dtype=float))


def test_impossible_beams_are_refused():
    """The message gives the range and the number."""
    with pytest.raises(ValueError, match="0 < beam < field < 180 deg, got beam 30 and field 20"):
        soft_edged(30, 20)
    with pytest.raises(ValueError, match="between 0 and 120 deg, got 150"):
        hard_edged(150)
    with pytest.raises(ValueError, match="edge lies from 0 to 1"):
        hard_edged(20, 1.5)
    with pytest.raises(ValueError, match="without light"):
        AngularTable(np.array([0, 90]), np.zeros(1), np.zeros((2, 1))).normalised()
    with pytest.raises(ValueError, match="cutoff lies between 0 and 90"):
        honeycomb_transmission(10.0, 90.0)
    with pytest.raises(ValueError, match="exponent must be 0 or more"):
        cosine_power(-1.0)
    with pytest.raises(ValueError, match="flood lies from 0"):
        flooding_angles(1.2)
