"""The grid, the observer, and one lumen."""

import numpy as np
import pytest

from previz.physics.spectra import (
    K_M,
    STEP_NM,
    WAVELENGTHS_NM,
    normalise,
    observer,
    resample,
    xyz_of,
)
from previz.physics.tables import read_table


def test_grid():
    """81 samples, 380 to 780 nm, which nobody can change by accident."""
    assert WAVELENGTHS_NM.shape == (81,)
    assert WAVELENGTHS_NM[[0, 1, -1]] == pytest.approx([380, 385, 780])
    with pytest.raises(ValueError, match="read-only"):
        WAVELENGTHS_NM[0] = 1.0


def test_observer_is_the_published_one(colour):
    """Each sample of each curve equals the library's table."""
    table = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    at = np.searchsorted(table.wavelengths, WAVELENGTHS_NM)
    assert observer() == pytest.approx(table.values[at].T, abs=1e-12)
    # ISO/CIE 11664-1 prints these at 600 nm.
    assert observer()[:, 44] == pytest.approx([1.0622, 0.6310, 0.0008], abs=1e-12)


def test_xyz_is_the_sum_with_the_constant():
    """A line of unit power gives the colour-matching functions times 683.002."""
    line = np.zeros(81)
    line[44] = 1 / STEP_NM
    assert xyz_of(line) == pytest.approx(K_M * observer()[:, 44], rel=1e-12)
    stacked = xyz_of(np.stack([line, 2 * line]))
    assert stacked.shape == (2, 3)
    assert stacked[1] == pytest.approx(2 * stacked[0])


def test_normalised_spectra_carry_one_lumen():
    """Whatever the scale, Y is 1 afterwards and the shape stays."""
    spectrum = np.linspace(1, 3, 81)
    found = normalise(np.stack([spectrum, 1000 * spectrum]))
    assert xyz_of(found)[:, 1] == pytest.approx([1, 1])
    assert found[0] / found[0, 0] == pytest.approx(spectrum)


@pytest.mark.parametrize("bad", [np.zeros(81), np.full(81, np.nan), np.linspace(-1, 1, 81)])
def test_darkness_cannot_be_normalised(bad):
    """Black, undefined and negative spectra are refused."""
    with pytest.raises(ValueError, match="spectr"):
        normalise(bad)
    with pytest.raises(ValueError, match="81 samples"):
        xyz_of(np.ones(80))


def test_resampling():
    """Linear between points, held beyond; crooked tables are refused."""
    found = resample([400, 500, 700], [0.1, 0.3, 0.2])
    at = np.searchsorted(WAVELENGTHS_NM, [380, 400, 450, 600, 700, 780])
    assert found[at] == pytest.approx([0.1, 0.1, 0.2, 0.25, 0.2, 0.2])
    with pytest.raises(ValueError, match="must rise"):
        resample([400, 400], [1, 2])
    with pytest.raises(ValueError, match="one value for each wavelength"):
        resample([400, 500], [1, 2, 3])


def test_tables_name_their_source():
    """Each data file opens with lines that say what it is and where it comes from."""
    from importlib.resources import files

    tables = list(files("previz.physics").joinpath("data").iterdir())
    assert len(tables) >= 8
    for table in tables:
        lines = table.read_text("utf-8").splitlines()
        head = [line for line in lines if line.startswith("#")]
        assert any("Source:" in line for line in head), table.name
    assert not read_table("uplift_basis")["red"].flags.writeable


def test_baked_tables_are_what_the_library_holds(colour, tmp_path, monkeypatch):
    """Baking again writes the same files."""
    from previz.physics import bake_tables

    before = {path.name: path.read_bytes() for path in bake_tables.DATA.glob("*.csv")}
    monkeypatch.setattr(bake_tables, "DATA", tmp_path)
    bake_tables.bake_all()
    written = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    assert len(written) == 7
    for name, content in written.items():
        assert content == before[name], name
