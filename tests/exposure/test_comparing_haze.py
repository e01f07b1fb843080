"""The measures of a haze ladder on pictures made by hand."""

import numpy as np
import pytest

from previz.exposure.comparing.haze import Regions, darkest, face_regions, measured
from previz.physics.exposure import CameraSettings, signal_per_luminance

SETTINGS = CameraSettings(stop=2.8, iso=800, shutter_s=1 / 48, nd_density=0.0,
                          white_balance=5600.0, tint=0.0)
GREY = 0.18 / signal_per_luminance(SETTINGS)
"""Luminance of mid grey. [cd/m²]"""


def scene():
    """A face (1) four stops over a black ground (0), with a near post (2) next to it."""
    index = np.zeros((40, 60), int)
    row, column = np.indices(index.shape)
    index[np.hypot(column + 0.5 - 30, row + 0.5 - 20) < 5] = 1
    index[:, 36:39] = 2
    depth = np.where(index == 1, 3.0, np.where(index == 2, 1.0, 8.0))
    luminance = np.where(index == 1, GREY, np.where(index == 2, 4 * GREY, GREY / 16))
    return index, depth, luminance


def test_face_and_what_is_behind_it():
    """The ring behind the face leaves out the figure and what stands nearer than the face."""
    index, depth, _ = scene()
    face, behind = face_regions(index, 1, depth, (30, 20), 5.0)
    assert np.array_equal(face, index == 1)
    assert set(np.unique(index[behind])) == {0}
    assert face_regions(index, 7, depth, (30, 20), 5.0) == (None, None)


@pytest.mark.parametrize("dark", ["face", "behind", None])
def test_a_contrast_needs_light_on_both(dark):
    """Without light on the face, or behind it, there is no number of stops between the two."""
    index, depth, luminance = scene()
    face, behind = face_regions(index, 1, depth, (30, 20), 5.0)
    if dark:
        luminance = np.where({"face": face, "behind": behind}[dark], 0.0, luminance)
    rung = measured(np.stack([luminance] * 3), np.zeros((3, *index.shape)), 0.01 * luminance,
                    Regions(face, behind, darkest(luminance)), SETTINGS)
    assert (rung.contrast is None) is (dark is not None)
    if not dark:
        assert rung.contrast == pytest.approx(4)


def test_a_lamp_behind_a_face_is_no_background():
    """A globe that glows next to the head is left out; where there is nothing else, none is reported."""
    index, depth, luminance = scene()
    index[14:26, 18:24], depth[14:26, 18:24] = 3, 6.0
    luminance[index == 3] = 100 * GREY
    face, behind = face_regions(index, 1, depth, (30, 20), 5.0, excluded=(3,))
    assert set(np.unique(index[behind])) == {0}
    rung = measured(np.stack([luminance] * 3), np.zeros((3, *index.shape)), 0 * luminance,
                    Regions(face, behind, darkest(luminance)), SETTINGS)
    assert rung.behind == pytest.approx(-4)
    face, behind = face_regions(index, 1, depth, (30, 20), 5.0, excluded=(0, 3))
    assert np.array_equal(face, index == 1) and behind is None
    xyz = np.stack([luminance] * 3)
    rung = measured(xyz, 0 * xyz, 0 * luminance, Regions(face, None, darkest(luminance)), SETTINGS)
    assert rung.face == pytest.approx(0) and rung.behind is None and rung.contrast is None


def test_contrast_and_veil():
    """Four stops of contrast; a veil of 1/16 of mid grey leaves log2(17/2) and lifts the blacks."""
    index, depth, luminance = scene()
    regions = Regions(*face_regions(index, 1, depth, (30, 20), 5.0), darkest(luminance))
    error = np.full(index.shape, 0.01 * GREY)

    def rung(veil):
        air = np.full((3, *index.shape), veil)
        return measured(np.stack([luminance] * 3) + air, air, error, regions, SETTINGS)

    clear, hazy = rung(0.0), rung(GREY / 16)
    assert (clear.face, clear.behind, clear.contrast) == pytest.approx((0, -4, 4), abs=1e-9)
    assert clear.blacks == pytest.approx(-4) and clear.veil == -np.inf
    # Face 1 + 1/16, ground 2/16: log2(17/2) = 3.09 stops.
    assert hazy.contrast == pytest.approx(np.log2(17 / 2), abs=1e-9)
    assert (hazy.blacks, hazy.veil) == pytest.approx((-3, -4), abs=1e-9)
    assert 0 < clear.contrast_error < 0.1


def test_no_face():
    """Without a face contrast is not reported; blacks and veil are."""
    index, _, luminance = scene()
    xyz = np.stack([luminance] * 3)
    rung = measured(xyz, 0 * xyz, 0 * luminance, Regions(None, None, darkest(luminance)), SETTINGS)
    assert (rung.face, rung.behind, rung.contrast) == (None, None, None)
    assert rung.blacks == pytest.approx(-4)


def test_errors_of_a_rung():
    """Noise of single pixels goes down with the root of their count, and its stops with the level."""
    index, depth, luminance = scene()
    regions = Regions(*face_regions(index, 1, depth, (30, 20), 5.0), darkest(luminance))
    error = np.full(index.shape, 0.01 * GREY)
    xyz = np.stack([luminance] * 3)
    found = measured(xyz, 0 * xyz, error, regions, SETTINGS)
    # d(log2 L) = dL / (L ln 2); the ground is a sixteenth of grey.
    face, behind, blacks = (0.01 * of / np.sqrt(np.count_nonzero(region)) / np.log(2) for of, region in (
        (1, regions.face), (16, regions.behind), (16, regions.blacks)))
    assert (found.face_error, found.behind_error, found.blacks_error) == pytest.approx((face, behind, blacks))
    assert found.contrast_error == pytest.approx(np.sqrt(face**2 + behind**2))
    dark = measured(0 * xyz, 0 * xyz, error, regions, SETTINGS)
    assert dark.face_error == np.inf and dark.contrast is None and dark.contrast_error is None


def test_the_ring_behind_a_face():
    """From 1.35 to 3 radii of the head from its middle; a face of fewer than a dozen pixels is none."""
    index, depth, _ = scene()
    index[index == 2] = 0
    depth[index == 0] = 8.0
    row, column = np.indices(index.shape)
    away = np.hypot(column + 0.5 - 30, row + 0.5 - 20)
    _, behind = face_regions(index, 1, depth, (30, 20), 5.0)
    assert np.array_equal(behind, (away >= 1.35 * 5) & (away <= 3 * 5))
    flat = np.zeros((40, 60), int)
    flat[20, 20:32] = 1
    for pixels, seen in ((12, True), (11, False)):
        flat[20, 20 + pixels:32] = 0
        assert (face_regions(flat, 1, np.where(flat, 3.0, 8.0), (26, 20), 8.0)[0] is not None) == seen


def test_the_blacks_are_the_darkest_tenth():
    """Of a thousand different levels the hundred lowest, wherever they lie."""
    levels = np.random.default_rng(1).permutation(1000.0 + np.arange(1000)).reshape(25, 40)
    assert np.array_equal(darkest(levels), levels < 1100)
