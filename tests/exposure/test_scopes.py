"""Scopes: chromaticities of published whites, counts that add up, and scales."""

import numpy as np
import pytest

from previz.exposure import scopes
from previz.exposure.camera import expose
from previz.exposure.display import show_8bit

# CIE 15: u', v' of D65 and of illuminant A, from x, y (0.31272, 0.32903) and (0.44758, 0.40745)
# by 4x / (-2x + 12y + 3) and 9y / (-2x + 12y + 3).
WHITES = {(0.31272, 0.32903): (0.19783, 0.46834), (0.44758, 0.40745): (0.25597, 0.52429)}


@pytest.mark.parametrize("xy", WHITES)
def test_whites_have_their_published_uv(xy):
    """u', v' of D65 and A."""
    assert scopes.uv_from_chromaticity(xy) == pytest.approx(WHITES[xy], abs=2e-5)


def test_chromaticity_is_the_same_however_dim():
    """u', v' have no level; where there is no light they are no number."""
    white = np.array([0.9505, 1.0, 1.0888])
    levels = scopes.uv_from_xyz(white[:, None] * [1e-6, 0.01, 1.0, 0.0])
    assert levels[:, :2] == pytest.approx(levels[:, 2:3].repeat(2, axis=1))
    assert np.all(np.isnan(levels[:, 3]))


def test_the_triangle_is_bt709():
    """Red, green and blue of BT.709 in u', v' (0.4507, 0.5229), (0.1250, 0.5625), (0.1754, 0.1579).

    Worked out from x, y of BT.709-6 item 1.3 with the formula above.
    """
    corners = scopes.video_triangle()
    expected = [(0.4507, 0.5229), (0.1250, 0.5625), (0.1754, 0.1579)]
    assert pytest.approx(np.array(expected), abs=1e-4) == corners[:, :3].T
    assert np.array_equal(corners[:, 0], corners[:, 3])


def test_black_bodies_lie_on_the_line_and_daylight_next_to_it():
    """The marked temperatures are on the locus; CIE daylight lies a little to the green."""
    line, marks = scopes.black_body_locus()
    for kelvin in (3200, 6500):
        distance = np.hypot(*(line - marks[kelvin][:, None])).min()
        assert distance < 0.004, kelvin
    # D65 against the black body of 6504 K: 0.003 in Duv, which is 0.005 in v' or so.
    daylight = scopes.daylight_locus()
    gap = np.hypot(*(daylight[:, :, None] - line[:, None])).min(axis=1)
    assert 0.001 < gap.mean() < 0.01


def test_a_waveform_keeps_every_column_whole():
    """Each column's shares sum to one, levels read from the top, what is beyond ends at the rim."""
    values = np.zeros((10, 6))
    values[:, 0] = -99.0
    values[:5, 1] = 3.9
    values[:, 2] = 99.0
    waves = scopes.waveform(values, (-4, 4), 8, 6)
    assert waves.shape == (8, 6)
    assert waves.sum(axis=0) == pytest.approx(1)
    assert waves[-1, 0] == 1 and waves[0, 2] == 1
    assert waves[0, 1] == 0.5 and waves[3, 1] == 0.5
    wide = scopes.waveform(values, (-4, 4), 8, 30)
    # Each column of the picture is five columns of the scope.
    assert np.array_equal(wide, np.repeat(waves, 5, axis=1))
    narrow = scopes.waveform(values, (-4, 4), 8, 3)
    assert narrow.sum(axis=0) == pytest.approx(1)


def test_histograms_sum_to_the_frame():
    """A picture half at grey and half one stop over shows two bars of a half."""
    signal = np.full((4, 8), 0.18)
    signal[:2] = 0.36
    shares = scopes.histogram(scopes.stops_on_scale(signal) + 0.01, (-8, 8), 16)
    assert shares.sum() == pytest.approx(1)
    # The highest level first: one stop over grey is bar 6 from the top, grey is bar 7.
    assert shares[6] == 0.5 and shares[7] == 0.5
    assert scopes.stops_on_scale(np.zeros((1, 1)))[0, 0] == -8


def test_a_balanced_picture_goes_back_to_the_scene(synthetic, settings):
    """Undoing the balance gives the scene's chromaticity, whatever the camera was set to."""
    xyz = np.ones((3, 4, 4)) * np.array([0.95, 1.0, 1.09])[:, None, None] * 40
    back = scopes.scene_xyz(expose(xyz, settings), settings)
    uv = scopes.uv_from_xyz(back)
    assert uv[:, 0, 0] == pytest.approx(scopes.uv_from_xyz(xyz)[:, 0, 0], abs=1e-6)


def test_white_shows_as_the_screens_white():
    """A grey picture as shown lies on D65, and dark pixels have no colour."""
    still = show_8bit(np.full((3, 6, 6), 0.18))
    counts = scopes.chromaticities(scopes.shown_xyz(still), (90, 94))
    row, column = np.unravel_index(np.argmax(counts), counts.shape)
    # 0.005 a cell; v' runs upwards.
    assert 0.05 + (column + 0.5) * 0.005 == pytest.approx(0.1978, abs=0.005)
    assert 0.60 - (row + 0.5) * 0.005 == pytest.approx(0.4683, abs=0.005)
    assert counts.sum() == 36
    assert scopes.chromaticities(np.full((3, 4, 4), 1e-3), (10, 10)).sum() == 0
    assert scopes.shown_percent(np.full((1, 1, 3), 255, np.uint8)).max() == 100
