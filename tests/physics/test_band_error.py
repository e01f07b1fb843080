"""The stated error of bands: it covers what bands do to a reading, and not by much."""

import numpy as np
import pytest

from previz.physics.band_error import band_error, reflection_chains
from previz.physics.band_weights import weighed_band_xyz
from previz.physics.bands import DEFAULT_BANDS, band_means
from previz.physics.lamps import illuminant, spectrum_of
from previz.physics.light import LampLight, lamps_band_errors
from previz.physics.materials import MATERIALS
from previz.physics.spectra import WAVELENGTHS_NM, normalise, xyz_of
from previz.physics.uplift import reflectance_from_rgb

RED, BLUE = reflectance_from_rgb([0.6, 0.01, 0.01]), reflectance_from_rgb([0.01, 0.01, 0.4])
WALL, WOOD = MATERIALS["cream paint"].reflectance, MATERIALS["dark oak"].reflectance
STAGE = np.array([WALL, RED, BLUE, WOOD, *[each.reflectance for each in MATERIALS.values()][:30]])

NARROW = normalise(np.sum([part * np.exp(-4 * np.log(2) * ((WAVELENGTHS_NM - peak) / width) ** 2)
                           for part, peak, width in ((0.5, 465, 22), (0.6, 530, 33),
                                                     (0.55, 630, 18))], axis=0))
"""A three-colour LED of Gaussians (common practice, no source)."""

LAMPS = {"FL11": illuminant("FL11"), "FL12": illuminant("FL12"), "LED-RGB1": illuminant("LED-RGB1"),
         "three colours": NARROW, "tungsten": spectrum_of("tungsten", 3200),
         "A": illuminant("A"), "D65": illuminant("D65")}
"""Source: CIE 15:2018 for the illuminants."""


def actual_and_stated(spectrum, exact, bands):
    """Relative error of a reading against its sum at 5 nm, and the one that is stated."""
    light = normalise(spectrum)
    whole = xyz_of(light * exact)[1]
    found = bands @ weighed_band_xyz(light)[:, 1]
    return found / whole - 1, band_error(bands, light, STAGE) / whole


@pytest.mark.parametrize(("name", "colour"), [
    ("FL11", RED), ("FL12", RED), ("LED-RGB1", BLUE), ("three colours", BLUE)],
    ids=["red, FL11", "red, FL12", "blue, LED-RGB1", "blue, three colours"])
def test_strong_colours_under_lines(name, colour):
    """Red under a tri-band tube, deep blue under three colours: stated covers, by 4 times at most."""
    actual, stated = actual_and_stated(LAMPS[name], colour, band_means(colour))
    assert 0 < abs(actual) <= stated < 4 * abs(actual)


@pytest.mark.parametrize("name", LAMPS)
def test_light_by_several_paths(name):
    """In rooms, twice off a colour, off one after another: covered, and within 2 parts in 1000."""
    mean = {key: band_means(value) for key, value in (("red", RED), ("wall", WALL), ("wood", WOOD),
                                                      ("blue", BLUE))}
    cases = [
        (RED**2, mean["red"] ** 2),
        (WALL + 0.2 * RED, mean["wall"] + 0.2 * mean["red"]),
        (WALL * RED + 0.2 * WALL, mean["wall"] * mean["red"] + 0.2 * mean["wall"]),
        # A room is the sum of all bounces: rho / (1 - rho).
        (1 / (1 - 0.8 * RED) - 1, 1 / (1 - 0.8 * mean["red"]) - 1),
        (1 / (1 - 0.9 * WALL) - 1, 1 / (1 - 0.9 * mean["wall"]) - 1),
        (1 / (1 - 0.4 * WALL - 0.2 * RED - 0.1 * WOOD - 0.1 * BLUE) - 1,
         1 / (1 - 0.4 * mean["wall"] - 0.2 * mean["red"] - 0.1 * mean["wood"]
              - 0.1 * mean["blue"]) - 1),
    ]
    for exact, bands in cases:
        actual, stated = actual_and_stated(LAMPS[name], exact, bands)
        assert abs(actual) <= stated + 1e-4
        assert stated < 1.5 * abs(actual) + 0.002


def test_library_colours_are_covered_alone_and_in_pairs():
    """Every surface of the library under each lamp, once and off its neighbour: nearly all covered."""
    surfaces = np.array([each.reflectance for each in MATERIALS.values()])
    means = band_means(surfaces)
    found = []
    for spectrum in LAMPS.values():
        light = normalise(spectrum)
        for shift in (None, 7):
            exact, bands = (surfaces, means) if shift is None else (
                surfaces * np.roll(surfaces, shift, axis=0), means * np.roll(means, shift, axis=0))
            whole = xyz_of(light * exact)[:, 1]
            actual = np.abs(bands @ weighed_band_xyz(light)[:, 1] / whole - 1)
            stated = np.array([band_error(each, light, surfaces) for each in bands]) / whole
            found.append((actual, stated))
    actual, stated = (np.concatenate(each) for each in zip(*found, strict=True))
    # Two parts in ten thousand is less than any reading shows.
    assert np.mean(actual <= stated + 2e-4) > 0.98
    assert np.sqrt(np.mean(stated**2)) < 3 * np.sqrt(np.mean(actual**2))


def test_light_that_met_no_colour_has_no_error():
    """Bare light, greys and lamps that are off: nothing is stated."""
    light = LAMPS["FL11"]
    assert band_error(np.full(DEFAULT_BANDS, 0.3), light, STAGE) == 0
    assert band_error(np.zeros(DEFAULT_BANDS), light, STAGE) == 0
    assert band_error(band_means(RED), 0 * light, STAGE) == 0


def test_colours_that_are_not_given_are_reported_by_what_is_left():
    """Light off a green that the stage does not list is not stated as exact."""
    green = band_means(MATERIALS["grass"].reflectance)
    assert band_error(green, LAMPS["FL11"], np.array([WALL])) > 0


def test_errors_of_lamps_go_with_their_light():
    """Twice the output is twice the error; a lamp that is off has none; shapes are kept."""
    bands = np.stack([np.stack([np.ones(DEFAULT_BANDS), band_means(RED)])] * 3)
    def lamp(output, on=True):
        return LampLight("tube", "lm", output, normalise(LAMPS["FL11"]), np.ones(81), on=on)
    found = lamps_band_errors(bands, [lamp(100.0), lamp(200.0), lamp(100.0, on=False)], STAGE)
    assert found.shape == (3, 2)
    assert found[:, 0] == pytest.approx(np.zeros(3))
    assert found[1, 1] == pytest.approx(2 * found[0, 1])
    assert found[0, 1] > 0
    assert found[2, 1] == 0


def test_alike_colours_are_one():
    """Greys are no colours, and a colour given twice is followed once."""
    greys = np.outer([0.1, 0.5], np.ones(81))
    alone = reflection_chains(np.array([RED]).tobytes(), DEFAULT_BANDS)
    same = reflection_chains(np.array([*greys, RED, 0.5 * RED]).tobytes(), DEFAULT_BANDS)
    assert same.bands.shape == alone.bands.shape
    # No surface, red and the three primaries of pictures.
    assert alone.once == 5
