"""Write the data tables of `previz/physics/data` from the colour library (for maintainers).

Run `python -m previz.physics.bake_tables` after a change of source. The program itself never
imports the colour library for these numbers: it reads the files.
"""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np

WAVELENGTHS_NM = np.arange(380.0, 781.0, 5.0)
DATA = Path(__file__).parent / "data"


def write_table(name, source, columns, digits=10):
    """Write one table whole or not at all.

    Parameters
    ----------
    name : str
        File name without '.csv'.
    source : sequence of str
        Header lines: what the numbers are, their unit, and where they come from.
    columns : dict of str to array, shape (rows,)
        Column heads and values.
    digits : int
        Significant digits kept.
    """
    lines = [f"# {line}" for line in source]
    lines.append(",".join(columns))
    for row in zip(*columns.values(), strict=True):
        lines.append(",".join(f"{value:.{digits}g}" for value in row))
    temporary = DATA / f".{name}.csv.part"
    temporary.write_text("\n".join(lines) + "\n", encoding="utf-8")
    os.replace(temporary, DATA / f"{name}.csv")


def _sampled(distribution):
    """Values at the 5 nm samples; inside the table's range linear, outside zero."""
    return np.interp(
        WAVELENGTHS_NM, distribution.wavelengths, distribution.values, left=0.0, right=0.0
    )


def bake_observer(colour):
    """Write the colour-matching functions of the CIE 1931 2 degree observer."""
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    values = [
        np.interp(WAVELENGTHS_NM, observer.wavelengths, observer.values[:, k]) for k in range(3)
    ]
    write_table(
        "observer_cie1931",
        [
            "CIE 1931 2 degree standard observer, colour-matching functions [1] at 5 nm.",
            "Source: CIE 018 / ISO/CIE 11664-1, as tabulated in colour-science 0.4.7.",
        ],
        {"wavelength_nm": WAVELENGTHS_NM, "x": values[0], "y": values[1], "z": values[2]},
        digits=12,
    )


def bake_daylight(colour):
    """Write the components of the CIE D series."""
    basis = colour.colorimetry.SDS_BASIS_FUNCTIONS_CIE_ILLUMINANT_D_SERIES
    table = {"wavelength_nm": WAVELENGTHS_NM}
    for head in ("S0", "S1", "S2"):
        table[head.lower()] = _sampled(basis[head])
    write_table(
        "daylight_components",
        [
            "CIE daylight components S0, S1, S2 [relative spectral power] at 5 nm.",
            "Source: CIE 15, table of D components (10 nm, linear between as CIE 15 asks),",
            "as tabulated in colour-science 0.4.7.",
        ],
        table,
    )


def bake_illuminants(colour):
    """Write the CIE illuminants that a lamp can be given."""
    names = {
        "illuminants_standard": ["A", "D50", "D55", "D65", "D75", "C"],
        "illuminants_fluorescent": [f"FL{number}" for number in range(1, 13)] + ["HP1", "HP5"],
        "illuminants_led": ["LED-B1", "LED-B2", "LED-B3", "LED-B4", "LED-B5", "LED-BH1",
                            "LED-RGB1", "LED-V1", "LED-V2"],
    }  # fmt: skip
    for table, members in names.items():
        columns = {"wavelength_nm": WAVELENGTHS_NM}
        for member in members:
            columns[member] = _sampled(colour.SDS_ILLUMINANTS[member])
        write_table(
            table,
            [
                "CIE illuminants, relative spectral power at 5 nm.",
                "Source: CIE 15:2018 Colorimetry, 4th edition, as tabulated in colour-science"
                " 0.4.7.",
            ],
            columns,
        )


def bake_uplift(colour):
    """Write the basis that turns a linear sRGB reflectance into a spectrum."""
    basis = colour.recovery.MSDS_BASIS_FUNCTIONS_sRGB_MALLETT2019
    write_table(
        "uplift_basis",
        [
            "Basis spectra of the sRGB primaries' reflectance [1] at 5 nm; they sum to one.",
            "Source: Mallett and Yuksel, 'Spectral Primary Decomposition for Rendering with",
            "sRGB Reflectance', EGSR 2019, as tabulated in colour-science 0.4.7.",
        ],
        {
            "wavelength_nm": WAVELENGTHS_NM,
            "red": np.interp(WAVELENGTHS_NM, basis.wavelengths, basis.values[:, 0]),
            "green": np.interp(WAVELENGTHS_NM, basis.wavelengths, basis.values[:, 1]),
            "blue": np.interp(WAVELENGTHS_NM, basis.wavelengths, basis.values[:, 2]),
        },
    )


def bake_band_edges():
    """Write the cheapest cuts of the spectrum into 1 to 24 bands; needs the illuminant tables."""
    from previz.physics.band_search import band_costs, cheapest_edges, search_lights

    costs = band_costs(search_lights())
    counts = range(1, 25)
    edges = [cheapest_edges(costs, n) for n in counts]
    write_table(
        "band_edges",
        [
            "Edges [nm] of the cheapest cut of the spectrum into so many bands.",
            "Source: computed by previz.physics.band_search from the tables next to this one.",
        ],
        {
            "bands": np.repeat(list(counts), [len(row) for row in edges]),
            "edge_nm": np.concatenate(edges),
        },
    )


def bake_all():
    """Write every table of this module."""
    import colour

    DATA.mkdir(exist_ok=True)
    for bake in (bake_observer, bake_daylight, bake_illuminants, bake_uplift):
        bake(colour)
    bake_band_edges()


if __name__ == "__main__":
    bake_all()
