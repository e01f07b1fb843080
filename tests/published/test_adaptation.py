"""Chromatic adaptation and colour spaces.

Sources: ICC.1 Annex E; CIE 159:2004; S-2014-004 (ACEScg) and TB-2018-001 (its white);
ITU-R BT.709-6; matrices computed with colour-science 0.4.7.
"""

import numpy as np
import pytest

from previz.physics.chromatic_adaptation import (
    ACES_XY,
    AP1_XY,
    CAT02,
    D65_XY,
    METHODS,
    REC709_FROM_XYZ,
    REC709_XY,
    acescg_from_rec709,
    acescg_from_xyz,
    adaptation_matrix,
    xyz_from_rgb,
)
from previz.physics.colourtemp import xy_from_xyz, xyz_from_xy

D50_XY = (0.3457, 0.3585)


def test_bradford_d50_to_d65():
    """The matrix printed for D50 to D65."""
    # ICC.1 Annex E by colour-science; 7 digits printed.
    expected = [[0.9554734, -0.0230985, 0.0632592], [-0.0283697, 1.0099954, 0.0210414],
                [0.0123140, -0.0205076, 1.3303659]]  # fmt: skip
    assert adaptation_matrix(D50_XY, D65_XY) == pytest.approx(np.array(expected), abs=1e-6)


def test_bradford_aces_to_d65():
    """The matrix from the white of ACES, which is not D60."""
    # TB-2014 by colour-science.
    expected = [[0.987224, -0.006113, 0.015953], [-0.007598, 1.001861, 0.005330],
                [0.003073, -0.005096, 1.081681]]  # fmt: skip
    assert adaptation_matrix(ACES_XY, D65_XY) == pytest.approx(np.array(expected), abs=1e-6)
    # D60 is (0.32162, 0.33762) in CIE 15: close, not the same.
    assert tuple(ACES_XY) == (0.32168, 0.33767)


def test_cat02_agrees_with_the_colour_library(colour):
    """CAT02 from tungsten to D65, element by element."""
    from_xy = (0.44758, 0.40745)
    expected = colour.adaptation.matrix_chromatic_adaptation_VonKries(
        xyz_from_xy(from_xy), xyz_from_xy(D65_XY), transform="CAT02"
    )
    found = adaptation_matrix(from_xy, D65_XY, "cat02")
    assert found == pytest.approx(expected, abs=1e-9)
    # CIE 159:2004, equation for RGB of XYZ.
    assert CAT02[0] == pytest.approx([0.7328, 0.4296, -0.1624])


@pytest.mark.parametrize("method", METHODS)
def test_adaptation_takes_white_to_white_and_back(method):
    """White lands on white, and the inverse undoes it."""
    there = adaptation_matrix(D50_XY, D65_XY, method)
    assert there @ xyz_from_xy(D50_XY) == pytest.approx(xyz_from_xy(D65_XY), abs=1e-12)
    back = adaptation_matrix(D65_XY, D50_XY, method)
    assert there @ back == pytest.approx(np.eye(3), abs=1e-12)


def test_acescg_luminance_weights():
    """Y of ACEScg is 0.27222872 R + 0.67408177 G + 0.05368952 B."""
    # S-2014-004 by colour-science.
    weights = xyz_from_rgb(AP1_XY, ACES_XY)[1]
    assert weights == pytest.approx([0.27222872, 0.67408177, 0.05368952], abs=5e-9)


def test_acescg_from_rec709():
    """The matrix every picture of ours could be checked by."""
    # colour-science, Bradford.
    expected = [[0.6130974, 0.3395231, 0.0473795], [0.0701937, 0.9163539, 0.0134524],
                [0.0206156, 0.1095698, 0.8698146]]  # fmt: skip
    assert acescg_from_rec709() == pytest.approx(np.array(expected), abs=1e-6)


def test_rec709_luminance_weights():
    """Y of Rec. 709 is 0.2126 R + 0.7152 G + 0.0722 B."""
    # ITU-R BT.709-6, item 3.2.
    assert np.linalg.inv(REC709_FROM_XYZ)[1] == pytest.approx([0.2126, 0.7152, 0.0722], abs=5e-5)
    assert REC709_FROM_XYZ @ xyz_from_xy(D65_XY) == pytest.approx([1, 1, 1], abs=1e-12)


def test_primaries_come_back():
    """Columns of the matrix have the primaries' chromaticities; the white is (1, 1, 1)."""
    for primaries, white in ((AP1_XY, ACES_XY), (REC709_XY, D65_XY)):
        matrix = xyz_from_rgb(primaries, white)
        assert xy_from_xyz(matrix.T) == pytest.approx(primaries, abs=1e-12)
        assert matrix @ np.ones(3) == pytest.approx(xyz_from_xy(white), abs=1e-12)
    assert acescg_from_xyz() @ xyz_from_xy(ACES_XY) == pytest.approx([1, 1, 1], abs=1e-12)
