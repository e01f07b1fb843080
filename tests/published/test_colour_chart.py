"""A measured chart through our observer, illuminants and sums.

Sources: reflectances and chromaticities of the 24-patch chart as held by colour-science 0.4.7
(measurements of 2005 and after November 2014; Ohta); Sharma, Wu, Dalal 2005, Table 1.
"""

import numpy as np
import pytest

from previz.physics.colourtemp import xy_from_xyz
from previz.physics.lamps import illuminant
from previz.physics.spectra import resample, xyz_of


@pytest.fixture
def chart(colour):
    """Reflectances of the 30-chart average by patch name, on our grid."""
    average = next(key for key in colour.SDS_COLOURCHECKERS if key.endswith("Average"))
    patches = colour.SDS_COLOURCHECKERS[average]
    return {name: resample(sd.wavelengths, sd.values) for name, sd in patches.items()}


# x, y, Y % under D50 of the chart of 2005.
CHART_2005 = {
    "dark skin": (0.4316, 0.3777, 10.08), "light skin": (0.4197, 0.3744, 34.95),
    "neutral 8 (.23 D)": (None, None, 58.94), "neutral 6.5 (.44 D)": (None, None, 36.32),
    "neutral 5 (.70 D)": (None, None, 19.15), "neutral 3.5 (1.05 D)": (None, None, 8.83),
}  # fmt: skip


@pytest.mark.parametrize("name", CHART_2005)
def test_chart_under_d50(chart, name):
    """Patches under D50 come out where the chart was measured; 'neutral 5' is 19 %, not 18."""
    light = illuminant("D50")
    xyz = xyz_of(light * chart[name])
    x, y, luminance = CHART_2005[name]
    if x is not None:
        # ±0.002 in x and y.
        assert xy_from_xyz(xyz) == pytest.approx([x, y], abs=0.002)
    # ±0.5 points in Y: two different sets of charts.
    assert 100 * xyz[1] == pytest.approx(luminance, abs=0.5)


def test_the_colour_difference_used_in_other_tests(colour):
    """CIEDE2000 of Sharma's first pair is 2.0425."""
    found = colour.delta_E(
        np.array([50, 2.6772, -79.7751]), np.array([50, 0, -82.7485]), method="CIE 2000"
    )
    assert found == pytest.approx(2.0425, abs=1e-4)
