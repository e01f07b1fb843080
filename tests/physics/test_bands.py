"""Wavelength bands: how they are cut, and what carrying light in them costs in colour."""

import numpy as np
import pytest

from previz.physics.band_search import band_costs, cheapest_edges, search_lights
from previz.physics.band_weights import weighed_band_xyz
from previz.physics.bands import DEFAULT_BANDS, band_edges, band_means, band_shares, band_xyz
from previz.physics.blackbody import radiance
from previz.physics.colourtemp import xy_from_xyz
from previz.physics.lamps import illuminant
from previz.physics.spectra import WAVELENGTHS_NM, normalise, observer, xyz_of

NINE = ("A", "D50", "D65", "FL2", "FL11", "FL12", "LED-B3", "LED-RGB1")
"""Lights of the measurement, with a 3200 K black body the ninth."""

UNSEEN = ("FL4", "FL7", "FL10", "D75", "LED-BH1", "LED-B4")
"""Lights that the search for the edges was not given."""

# Bands: mean and worst CIEDE2000 allowed over 24 patches, nine lights, one and two bounces. For 12,
# even cuts of 400-700 nm gave 0.47 / 2.7 in this very measurement, and bands weighed by the lamp's
# own light in them 0.305 / 0.98. Bars are the measured values (8: 0.32 / 2.34, 12: 0.133 / 0.92,
# 16: 0.062 / 0.43) and a fifth more.
BARS = {8: (0.39, 2.8), 12: (0.16, 1.1), 16: (0.075, 0.52)}


def lights(names):
    """The named illuminants and a 3200 K black body."""
    found = {name: illuminant(name) for name in names}
    found["black body"] = normalise(radiance(WAVELENGTHS_NM, 3200.0))
    return found


@pytest.fixture(scope="module")
def patches(colour):
    """Reflectances of the 24 patches of a colour chart."""
    chart = colour.SDS_COLOURCHECKERS["cc_ohta"]
    return np.array([np.interp(WAVELENGTHS_NM, sd.wavelengths, sd.values) for sd in chart.values()])


def differences(colour, patches, spectra, n):
    """CIEDE2000 of banded against 5 nm transport, each light, bounce and patch."""
    means = band_means(patches, n)
    found = []
    for spectrum in spectra.values():
        white = xy_from_xyz(xyz_of(spectrum))
        for bounces in (1, 2):
            exact = xyz_of(spectrum * patches**bounces)
            banded = means**bounces @ weighed_band_xyz(spectrum, n)
            lab = [colour.XYZ_to_Lab(xyz, white) for xyz in (exact, banded)]
            found.append(colour.delta_E(*lab, method="CIE 2000"))
    return np.array(found)


@pytest.mark.parametrize("n", BARS)
def test_colour_error_of_bands(colour, patches, n):
    """After one and two bounces bands keep the chart within these colour differences of 5 nm."""
    found = differences(colour, patches, lights(NINE), n)
    mean, worst = BARS[n]
    assert found.mean() < mean
    assert found.max() < worst


def test_colour_error_under_lights_the_search_never_saw(colour, patches):
    """The cut of 12 is not fitted to its lights: others do as well on average."""
    found = differences(colour, patches, lights(UNSEEN), DEFAULT_BANDS)
    # Measured 0.112 / 0.70.
    assert found.mean() < 0.14
    assert found.max() < 0.85


def test_more_bands_are_better(colour, patches):
    """From 8 to 16 the mean error falls by more than three times, never rising on the way."""
    means = [differences(colour, patches, lights(NINE), n).mean() for n in range(8, 17, 2)]
    assert np.all(np.diff(means) < 0)
    assert means[0] / means[-1] > 3


def test_the_table_of_edges_is_what_the_search_finds():
    """Repeating the derivation gives the stored edges, for each number of bands."""
    costs = band_costs(search_lights())
    for n in range(1, 25):
        assert band_edges(n) == pytest.approx(cheapest_edges(costs, n))


def test_the_search_finds_the_cheapest_cut():
    """On a cost small enough to try everything, dynamic programming finds the least."""
    rng = np.random.default_rng(5)
    costs = np.full((82, 82), np.inf)
    rows, columns = np.triu_indices(82, 1)
    costs[rows, columns] = rng.random(rows.size)
    edges = cheapest_edges(costs, 3)
    tried = min(
        costs[0, i] + costs[i, j] + costs[j, 81] for i in range(1, 80) for j in range(i + 1, 81)
    )
    first, second = ((edges[1:3] - 377.5) / 5).astype(int)
    assert costs[0, first] + costs[first, second] + costs[second, 81] == pytest.approx(tried)


def test_a_flat_reflectance_costs_nothing():
    """A band of one sample has no error, and wider bands only ever cost more."""
    costs = band_costs(search_lights()[:2])
    singles = costs[np.arange(81), np.arange(1, 82)]
    assert singles == pytest.approx(np.zeros(81), abs=1e-12)
    assert costs[30, 36] < costs[30, 40] < costs[30, 50]
    assert costs[30, 36] > 0


@pytest.mark.parametrize("n", [1, 3, 8, 12, 16, 24])
def test_bands_share_out_every_sample(n):
    """Shares lie in 0 to 1, each sample is given away once, and edges rise from 380 to 780."""
    shares, edges = band_shares(n), band_edges(n)
    assert shares.shape == (n, 81)
    assert shares.sum(axis=0) == pytest.approx(np.ones(81), abs=1e-12)
    assert shares.min() >= 0
    assert edges[[0, -1]] == pytest.approx([380, 780])
    assert np.all(np.diff(edges) > 0)
    # No sample is in more than two bands.
    assert np.all((shares > 0).sum(axis=0) <= 2)


def test_shares_follow_the_edges():
    """A sample belongs to the band its 5 nm lie in."""
    shares, edges = band_shares(12), band_edges(12)
    for band, (low, high) in enumerate(zip(edges[:-1], edges[1:], strict=True)):
        inside = (low <= WAVELENGTHS_NM - 2.5) & (high >= WAVELENGTHS_NM + 2.5)
        assert np.all(shares[band][inside] == 1)


@pytest.mark.parametrize("n", [3, 12, 16])
def test_bands_of_a_light_sum_to_its_xyz(n):
    """Nothing of a light is lost between the bands."""
    for spectrum in (illuminant("FL11"), illuminant("A"), np.linspace(0, 1, 81)):
        assert band_xyz(spectrum, n).sum(axis=0) == pytest.approx(xyz_of(spectrum), rel=1e-12)


def test_band_means_of_a_grey_are_grey():
    """A flat reflectance has itself in each band, and means never leave the spectrum's range."""
    assert band_means(np.full(81, 0.18)) == pytest.approx(np.full(12, 0.18), abs=1e-12)
    rng = np.random.default_rng(3)
    spectrum = rng.random((5, 81))
    means = band_means(spectrum, 12)
    assert means.shape == (5, 12)
    assert np.all(means >= spectrum.min(axis=1, keepdims=True))
    assert np.all(means <= spectrum.max(axis=1, keepdims=True))


def test_band_means_are_weighted_by_the_eye():
    """In the last band, red counts by how much is seen of it: 780 nm almost nothing."""
    step = (WAVELENGTHS_NM >= 700).astype(float)
    weight = band_shares(12)[-1] * observer().sum(axis=0)
    expected = np.sum(weight * step) / np.sum(weight)
    assert band_means(step)[-1] == pytest.approx(expected, rel=1e-12)
    # By plain wavelength it would be 0.6.
    assert expected < 0.1


def test_unknown_cuts_are_refused():
    """The message says how many bands there can be."""
    with pytest.raises(ValueError, match="1 to 24 bands, got 40"):
        band_edges(40)
    with pytest.raises(ValueError, match="1 to 81 bands can be cut, got 0"):
        cheapest_edges(np.zeros((82, 82)), 0)
    with pytest.raises(ValueError, match=r"81 samples, got shape \(80,\)"):
        band_means(np.zeros(80))
    with pytest.raises(ValueError, match=r"81 samples, got shape \(2, 81\)"):
        band_xyz(np.zeros((2, 81)))
