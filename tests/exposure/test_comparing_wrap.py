"""Wrap round a cylinder against closed forms."""

import numpy as np
import pytest

from previz.exposure.comparing.wrap import Ring, Step, ring_angles, ring_places, wrap_angle


def rectified_cosine(angles, turn=0.0):
    return np.maximum(np.cos(np.radians(angles - turn)), 0)


@pytest.mark.parametrize("turn", [0.0, 4.0, 37.0, -61.0])
def test_a_small_far_source_falls_to_half_at_sixty_degrees(turn):
    """E = E0 cos a: half at acos(1/2) = 60°, an eighth at acos(1/8) = 82.82°."""
    angles = ring_angles(24)
    lux = 800 * rectified_cosine(angles, turn)
    # Straight lines between meters 15° apart are within half a degree of a cosine.
    assert wrap_angle(angles, lux) == pytest.approx(60.0, abs=0.7)
    assert wrap_angle(angles, lux, 1 / 8) == pytest.approx(82.82, abs=0.9)


def test_an_even_dome_in_front_falls_to_half_at_the_side():
    """E = E0 (1 + cos a) / 2: half at 90°, an eighth at acos(-3/4) = 138.59°."""
    angles = ring_angles(24)
    lux = 300 * (1 + np.cos(np.radians(angles))) / 2
    assert wrap_angle(angles, lux) == pytest.approx(90.0, abs=0.5)
    assert wrap_angle(angles, lux, 1 / 8) == pytest.approx(138.59, abs=1.0)


def test_light_from_all_round_never_falls_to_half():
    """An even surround has no end."""
    assert np.isnan(wrap_angle(ring_angles(24), np.full(24, 5.0)))


def test_the_ring_faces_outwards_and_begins_ahead():
    """Meters stand at the radius, face away from the middle, and plus is the face's own left."""
    centre = np.array([1.0, 2.0, 1.5])
    places, normals = ring_places(centre, np.array([0.0, -2.0, 0.3]), 0.085, 24)
    assert np.allclose(places - centre, 0.085 * normals)
    assert np.allclose(np.linalg.norm(normals, axis=1), 1)
    angles = ring_angles(24)
    ahead, left = normals[angles == 0][0], normals[angles == 90][0]
    assert np.allclose(ahead, [0, -1, 0], atol=1e-12)
    # Facing -y (south), one's left is +x (east).
    assert np.allclose(left, [1, 0, 0], atol=1e-12)


def test_the_peak_is_searched_on_the_front():
    """A lamp behind the head does not count as the face's light."""
    angles = ring_angles(24)
    ring = Ring(angles, 100 * rectified_cosine(angles, 30) + 900 * rectified_cosine(angles, 180))
    assert ring.peak == pytest.approx(100.0)
    assert ring.peak_angle == 30.0
    step = Step("board", 1.2, 2.0, ring, -3.0, 34.0, 34.0, 0.03, 60.0, 83.0, -1.0)
    assert step.name == "board 1.2 m at 2 m"
