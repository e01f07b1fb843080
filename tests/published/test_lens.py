"""Lens formulae, derived from the Gaussian thin lens; cos⁴ after D. A. Kerr, 2007 (from memory)."""

import numpy as np
import pytest

from previz.physics import lens
from tests.oracles.lens import blur_disc

MM = 1e-3


@pytest.mark.parametrize(
    ("focal", "number", "focus", "reach", "near", "far"),
    [(50, 2.8, 3.0, 35.76, 2.771, 3.270), (35, 2.8, 2.5, 17.54, 2.191, 2.910),
     (85, 2.0, 3.0, 144.6, 2.941, 3.062), (25, 5.6, 2.0, 4.489, 1.387, 3.587)],
)  # fmt: skip
def test_depth_of_field(focal, number, focus, reach, near, far):
    """Hyperfocal distance and the ends of what is sharp, circle 0.025 mm."""
    given = {"f_number": number, "circle": 0.025 * MM}
    assert lens.hyperfocal(focal * MM, **given) == pytest.approx(reach, rel=4e-4)
    # 1 mm.
    found = lens.depth_of_field(focal * MM, focus=focus, **given)
    assert found == pytest.approx((near, far), abs=1e-3)


def test_focus_on_the_hyperfocal_distance():
    """Sharp from half of it to infinity."""
    given = {"f_number": 2.8, "circle": 25e-6}
    reach = lens.hyperfocal(0.05, **given)
    near, far = lens.depth_of_field(0.05, focus=reach, **given)
    assert near == pytest.approx(reach / 2, rel=1e-9)
    assert far == np.inf


def test_blur_reaches_the_circle_at_the_ends_of_the_depth():
    """A point at the near or far limit blurs to just the circle it was computed with."""
    # Both follow from the thin lens; they must meet.
    given = {"f_number": 2.8, "circle": 25e-6}
    for end in lens.depth_of_field(0.05, focus=3.0, **given):
        blur = blur_disc(0.05, f_number=2.8, focus=3.0, distance=end)
        # The textbook limits leave out a term of f/s: half a percent here.
        assert blur == pytest.approx(25e-6, rel=5e-3)
    assert blur_disc(0.05, f_number=2.8, focus=3.0, distance=3.0) == 0


def test_blur_of_infinity():
    """Far away the blur is pupil times magnification: 50 mm f/2 at 2 m, 0.641 mm."""
    # f² / (N (s - f)) = 2500 / (2 · 1950) mm.
    found = blur_disc(0.05, f_number=2.0, focus=2.0, distance=1e9)
    assert found == pytest.approx(2500 / 3900 * MM, rel=1e-6)


@pytest.mark.parametrize("breathing", [False, True])
@pytest.mark.parametrize(("focal", "focus"), [(0.05, 2.0), (0.085, 0.5)])
def test_pictures_have_the_blur_of_the_formula(focal, focus, breathing):
    """Rays from the drawn pupil that meet in the focus plane blur by the thin lens' disc.

    By similar triangles a pupil D blurs a point at d to D |d - s| / d on the focus plane, which the
    sensor sees p / s times as large.
    """
    seen = lens.view_distance(focal, focus, breathing=breathing)
    pupil = lens.drawn_pupil(focal, f_number=2.0, focus=focus, breathing=breathing)
    for distance in (0.3 * focus, 1.4 * focus, 50.0):
        drawn = pupil * abs(distance - focus) / distance * seen / focus
        assert drawn == pytest.approx(
            blur_disc(focal, f_number=2.0, focus=focus, distance=distance), rel=1e-9)
    if breathing:
        # A plain lens: its pupil stays what it is as it comes forward.
        assert pupil == pytest.approx(focal / 2.0)
        assert 1 / seen + 1 / focus == pytest.approx(1 / focal)
    else:
        assert seen == focal


def test_thin_lens():
    """50 mm at 2 m: 51.282 mm behind, magnification 0.02564, bellows 1.0256."""
    assert lens.image_distance(0.05, 2.0) == pytest.approx(51.282e-3, abs=5e-7)
    assert lens.image_distance(0.05, 2.0) / 2.0 == pytest.approx(0.02564, abs=5e-6)


@pytest.mark.parametrize(
    ("angle", "share", "stops"),
    [(10, 0.9406, -0.088), (20, 0.7797, -0.359), (30, 0.5625, -0.830), (40, 0.3444, -1.538),
     (45, 0.25, -2)],
)  # fmt: skip
def test_cos_fourth(angle, share, stops):
    """The ideal lens' fall-off."""
    assert lens.cos_fourth(angle) == pytest.approx(share, abs=5.1e-5)
    assert np.log2(lens.cos_fourth(angle)) == pytest.approx(stops, abs=5.1e-4)


@pytest.mark.parametrize(
    ("focal", "stops"), [(18, -2.58), (24, -1.72), (35, -0.93), (50, -0.50), (85, -0.18)]
)
def test_corner_of_a_36_by_24_frame(focal, stops):
    """The corner lies 21.63 mm out."""
    corner = np.degrees(np.arctan(np.hypot(18, 12) / focal))
    assert np.log2(lens.cos_fourth(corner)) == pytest.approx(stops, abs=0.0051)
