"""Shutters, iris and egg crates as tables, the headlamp's cut-off, and LEDs mixed to a white."""

import numpy as np
import pytest

from previz.physics.beam import BEAM_LEVEL, lambertian_front
from previz.physics.colourtemp import cct_duv, xy_of
from previz.physics.framing import (
    Shutters,
    cell_cutoffs,
    cell_transmission,
    framed,
    through_cells,
)
from previz.physics.headlamp import DIP_DEG, RISE_DEG, dipped_beam, full_beam
from previz.physics.multi_emitter import EMITTERS, led_amounts
from previz.physics.profiles import hard_edged, open_face_angles


def at_gate(table, x, y, field=26.0):
    """Intensity at a place of the gate, in half fields: x to the right, y up, from behind."""
    tangent = np.hypot(x, y) * np.tan(np.radians(field / 2))
    # Seen from behind, the lamp's own x points left.
    return table.intensity(np.degrees(np.arctan(tangent)), np.degrees(np.arctan2(y, -x)))


def flux_on_gate(keep, field=26.0, edge=0.05):
    """Lumens of an open beam that pass the part of the gate where keep(x, y), by a fine raster."""
    step = 2.4 / 1200
    x = -1.2 + step * (np.arange(1200) + 0.5)
    x, y = np.meshgrid(x, x)
    # dA on the gate is dOmega / cos³.
    cosine = np.cos(np.arctan(np.hypot(x, y) * np.tan(np.radians(field / 2))))
    lit = at_gate(hard_edged(field, edge), x, y, field) * cosine**3 * keep(x, y)
    return float(lit.sum()) * (step * np.tan(np.radians(field / 2))) ** 2


CUTS = {
    "top": (Shutters(top=0.25), (0, 0.8), (0, -0.8)),
    "bottom": (Shutters(bottom=0.25), (0, -0.8), (0, 0.8)),
    "left": (Shutters(left=0.25), (-0.8, 0), (0.8, 0)),
    "right": (Shutters(right=0.25), (0.8, 0), (-0.8, 0)),
}


@pytest.mark.parametrize("side", CUTS)
def test_a_shutter_cuts_its_side_and_leaves_the_rest(side):
    """25 % from one side: half the field radius is dark there, the rest keeps its intensity."""
    shutters, dark, lit = CUTS[side]
    open_beam = hard_edged(26.0, 0.05)
    cut, share = framed(open_beam, 26.0, 0.05, shutters=shutters)
    assert at_gate(cut, *dark) == 0
    assert share * at_gate(cut, *lit) == pytest.approx(float(at_gate(open_beam, *lit)), rel=1e-6)
    # A sharp cut on the raster: the blade's own edge is as wide as the field's, half on each side.
    assert share == pytest.approx(flux_on_gate(lambda x, y: x < 0.5), rel=2e-3)


def test_the_edge_of_a_shutter_is_straight():
    """Along a cut at 0.4 of the half field the half-level stays on one line of the gate."""
    cut, share = framed(hard_edged(26.0, 0.05), 26.0, 0.05, shutters=Shutters(right=0.3))
    whole = share * at_gate(cut, 0, 0)
    for y in np.linspace(-0.75, 0.75, 31):
        x = np.linspace(0.3, 0.5, 401)
        level = share * at_gate(cut, x, y) / whole
        # 0.002 of the half field: lines between the table's 0.5 degree azimuths.
        assert x[np.argmin(np.abs(level - 0.5))] == pytest.approx(0.4, abs=0.002)


def test_the_iris_closes_in():
    """Half open, the pool has half the width at the gate."""
    cut, share = framed(hard_edged(26.0, 0.05), 26.0, 0.05, iris=0.5)
    assert cut.round
    half = np.degrees(np.arctan(0.5 * np.tan(np.radians(13.0))))
    assert cut.full_angle_deg(0.5) == pytest.approx(2 * half, rel=5e-3)
    # A ring's edge of width w at radius r passes w² / (12 r²) more than a sharp one: 0.1 %.
    assert share == pytest.approx(flux_on_gate(lambda x, y: np.hypot(x, y) < 0.5), rel=3e-3)
    with pytest.raises(ValueError, match="let nothing through"):
        framed(hard_edged(26.0, 0.05), 26.0, 0.05, shutters=Shutters(top=0.6, bottom=0.6))


def test_cells_by_tracing_them():
    """The overlap of a cell's two ends equals what gets through a cell, ray by ray."""
    rng = np.random.default_rng(1)
    start = rng.random((200_000, 2))
    for theta, phi, ratio in ((20, 0, 1.0), (30, 45, 1.0), (35, 70, 0.6), (50, 30, 0.5)):
        tangent = np.tan(np.radians(theta))
        direction = ratio * tangent * np.array([np.cos(np.radians(phi)), np.sin(np.radians(phi))])
        ends = start + direction
        passed = np.mean(np.all((ends > 0) & (ends < 1), axis=1))
        # 4 standard errors of 200 000 rays.
        assert cell_transmission(theta, phi, ratio) == pytest.approx(passed, abs=4 * 0.5 / 447)


def test_cutoff_of_cells():
    """Square cells as deep as wide end at 45° across a wall and at 54.74° corner-wise."""
    across, corner = cell_cutoffs(0.05, 0.05)
    assert across == pytest.approx(45.0)
    # atan(sqrt 2), the angle of a cube's diagonal.
    assert corner == pytest.approx(54.7356, abs=1e-4)
    assert cell_transmission(45.1, 0, 1.0) == 0
    assert cell_transmission(44.9, 0, 1.0) > 0
    assert cell_transmission(54.6, 45, 1.0) > 0
    assert cell_transmission(54.8, 45, 1.0) == 0


def test_share_of_a_lambertian_face_behind_cells():
    """What a grid on a soft box leaves is the configuration factor of a cell's two ends.

    Opposite squares as far apart as wide: 0.199825 (check value 1.14; Howell C-11).
    """
    table, share = through_cells(lambertian_front(), 0.05, 0.05)
    assert share == pytest.approx(0.199825, rel=1e-3)
    assert table.flux() == pytest.approx(1.0)


def right_up(h, v):
    """Angles of the table for a direction to the right and upwards. [deg]"""
    h, v = np.radians(h), np.radians(v)
    right, up, ahead = np.sin(h) * np.cos(v), np.sin(v), np.cos(h) * np.cos(v)
    return np.degrees(np.arccos(ahead)), np.degrees(np.arctan2(up, -right))


def test_the_cut_off_of_a_dipped_beam():
    """Level at 1 % down towards oncoming traffic, rising at 15° on the kerb side.

    UN Regulations 112 and 149 (from memory): the shape of the cut-off.
    """
    assert pytest.approx(0.573, abs=1e-3) == DIP_DEG
    for traffic, side in (("right", 1), ("left", -1)):
        beam = dipped_beam(traffic)
        peak = beam.peak

        def over_under(h, edge, beam=beam):
            return (beam.intensity(*right_up(h, edge + 0.5)),
                    beam.intensity(*right_up(h, edge - 0.5)))

        for away in (3.0, 8.0):
            above, below = over_under(-side * away, -DIP_DEG)
            assert above < 0.012 * peak < 0.05 * peak < below
            rise = away * np.tan(np.radians(RISE_DEG)) - DIP_DEG
            above, below = over_under(side * away, rise)
            assert above < 0.012 * peak < 0.05 * peak < below
    assert full_beam().intensity(0.0) == pytest.approx(full_beam().peak)


def test_open_faced_lamps_open_wider():
    """From spot to flood the beam widens and stays inside its field."""
    for flood in np.linspace(0, 1, 5):
        beam, field = open_face_angles(flood)
        assert beam < field < 120
    # The field ends at a tenth: ANSI E1.9 (from memory).
    assert hard_edged(26).full_angle_deg(0.1) > hard_edged(26).full_angle_deg(BEAM_LEVEL)
    with pytest.raises(ValueError, match="flood lies from 0"):
        open_face_angles(1.5)


@pytest.mark.parametrize(("kelvin", "duv"), [(2000, 0.0), (3200, 0.01), (5600, -0.01), (9000, 0.0)])
def test_a_multi_emitter_white_is_made_of_its_colours(kelvin, duv):
    """Amounts are 0 or more, sum to one lumen, and give the colour."""
    amounts = led_amounts(kelvin, duv)
    assert set(amounts) == set(EMITTERS)
    assert min(amounts.values()) >= 0
    assert sum(amounts.values()) == pytest.approx(1.0)
    from previz.physics.lamps import spectrum_of

    found = cct_duv(xy_of(spectrum_of("multi-emitter led", kelvin, duv)))
    assert found[0] == pytest.approx(kelvin, abs=5) and found[1] == pytest.approx(duv, abs=5e-4)


def test_a_colour_beyond_the_emitters_is_refused():
    """The six colours do not reach a strong green at 2000 K."""
    with pytest.raises(ValueError, match="of 6 colours does not reach 2000 K"):
        led_amounts(2000, 0.03)
