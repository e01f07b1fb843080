"""Measured spectra and filters: files of two columns."""

import numpy as np
import pytest

from previz.physics.lamps import illuminant
from previz.physics.measured import measured_reflectance, measured_spectrum, measured_transmission
from previz.physics.spectra import WAVELENGTHS_NM, xyz_of
from previz.physics.text_file import TextFileError


def columns(nm, values, separator=",", head="nm,power"):
    rows = [f"{a:g}{separator}{b:.9g}" for a, b in zip(nm, values, strict=True)]
    return "\n".join(["# measured in the yard", head, *rows]) + "\n"


def test_a_smooth_spectrum_comes_back():
    """Standard illuminant A in 1 nm steps has its own colour, at one lumen."""
    own = illuminant("A")
    nm = np.arange(380, 781)
    found = measured_spectrum(columns(nm, 40 * np.interp(nm, WAVELENGTHS_NM, own)))
    # Means over 5 nm of lines between 5 nm points differ from the points by their bend alone; at
    # the ends the file covers half of a sample's 5 nm.
    assert found[1:-1] == pytest.approx(own[1:-1], rel=2e-3)
    assert found[[0, -1]] == pytest.approx(own[[0, -1]], rel=0.03)
    assert xyz_of(found)[1] == pytest.approx(1.0)


@pytest.mark.parametrize("centre", [542.0, 543.1, 544.9, 547.5])
def test_a_narrow_line_is_not_missed(centre):
    """A line of 1 nm keeps its power wherever it falls between the samples."""
    nm = np.arange(350, 801, 0.25)
    line = np.exp(-0.5 * ((nm - centre) / 0.4) ** 2)
    flat = np.full_like(nm, 0.01)
    found = measured_spectrum(columns(nm, line + flat))
    base = measured_spectrum(columns(nm, flat))
    scale = base[-1] / 0.01 * (found[-1] / base[-1])
    power = np.sum(found - found[-1]) * 5 / scale
    # A Gaussian's integral: sqrt(2 pi) times its width.
    assert power == pytest.approx(np.sqrt(2 * np.pi) * 0.4, rel=2e-3)


@pytest.mark.parametrize(
    ("separator", "comma"), [(",", False), (" ", False), ("\t", True), (";", True)]
)
def test_columns_may_be_parted_anyhow(separator, comma):
    """Commas, spaces, tabs or semicolons; with the last two a comma is a decimal point."""
    nm = np.arange(380, 781, 10)
    text = columns(nm, 0.5 + nm / 2000, separator)
    if comma:
        text = text.replace(".", ",")
    assert measured_spectrum(text) == pytest.approx(measured_spectrum(columns(nm, 0.5 + nm / 2000)))


def test_a_filter_in_percent_or_share():
    """A filter above 1 is in percent; its ends are held where the file stops."""
    nm = np.arange(400, 701, 10)
    curve = 0.2 + 0.6 * (nm - 400) / 300
    share = measured_transmission(columns(nm, curve))
    assert measured_transmission(columns(nm, 100 * curve)) == pytest.approx(share)
    assert share[0] == pytest.approx(0.2) and share[-1] == pytest.approx(0.8)
    assert share[WAVELENGTHS_NM == 550] == pytest.approx(0.5)


def test_a_surface_in_percent_or_share():
    """As a filter; what stands over the columns says percent where no value exceeds 1."""
    nm = np.arange(380, 781, 10)
    curve = 0.1 + 0.8 * (nm > 590)
    share = measured_reflectance("wavelength nm,reflectance\n" + columns(nm, curve))
    assert measured_reflectance(columns(nm, 100 * curve)) == pytest.approx(share)
    assert share[WAVELENGTHS_NM == 500] == pytest.approx(0.1)
    assert share[WAVELENGTHS_NM == 650] == pytest.approx(0.9)
    velvet = "nm;reflectance %\n" + columns(nm, np.full(nm.shape, 0.6), ";")
    assert measured_reflectance(velvet) == pytest.approx(np.full(81, 0.006))
    with pytest.raises(TextFileError, match="it sends 140% of the light back"):
        measured_reflectance(columns(nm, np.full(nm.shape, 140.0)))


NM = np.arange(380, 781, 10)
BROKEN = {
    "line 4: there is a wavelength without a value": columns(NM, NM).replace("390,390", "390"),
    "line 4: 'x' is not a number": columns(NM, NM).replace("390,390", "390,x"),
    "line 4: wavelengths should rise, and 370 follows 380": columns(NM, NM).replace(
        "390,390", "370,390"),
    "line 3: 0.38 is no wavelength of light in nm": columns(NM / 1000, NM),
    "it runs from 450 to 780 nm and should reach from 400 to 700 nm": columns(NM[7:], NM[7:]),
    "there are no two columns of numbers in it": "# nothing\n",
    "its values run from -380 to 780, and should be 0 or more": columns(NM, NM).replace(
        "380,380", "380,-380"),
}


@pytest.mark.parametrize("message", BROKEN)
def test_what_is_wrong_is_reported_with_its_line(message):
    """A broken file gives the line of what cannot be used."""
    with pytest.raises(TextFileError) as caught:
        measured_spectrum(BROKEN[message])
    assert str(caught.value) == message


def test_a_filter_lets_no_more_through_than_there_is():
    """More than 100 % is refused."""
    with pytest.raises(TextFileError, match="which is more than there is"):
        measured_transmission(columns(NM, np.full(NM.shape, 140.0)))
