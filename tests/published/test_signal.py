"""Video signals of grey cards.

Sources: ITU-R BT.709-6, BT.1886, BT.2100, Report BT.2408 tables 1 (rows read in public tests that
quote a 2018 talk, 71 and 73 % recomputed) and 2 (from memory); IEC 61966-2-1; colour-science.
"""

import numpy as np
import pytest

from previz.physics import transfer
from tests.oracles.matter import REFERENCE_WHITE

CARDS = [
    (0.05, 18.65, 227), (0.09, 27.29, 303), (0.18, 40.90, 422), (0.36, 59.50, 585),
    (0.72, 84.90, 808), (0.90, 94.91, 895), (1.00, 100.0, 940),
]  # fmt: skip


@pytest.mark.parametrize(("card", "percent", "code"), CARDS)
def test_bt709(card, percent, code, colour):
    """Signal and 10-bit code of cards from 5 to 100 %."""
    signal = transfer.bt709_signal(card)
    assert 100 * signal == pytest.approx(percent, abs=0.0051)
    assert transfer.narrow_code(signal) == code
    assert signal == pytest.approx(colour.models.oetf_BT709(card), abs=1e-12)


def test_bt709_toe_and_eight_bits():
    """Below 0.018 the slope is 4.5; black and white in 8 bits are 16 and 235."""
    # BT.709-6, items 1.2 and 4.6.
    assert transfer.bt709_signal(0.01) == pytest.approx(0.045, abs=1e-12)
    assert list(transfer.narrow_code(np.array([0.0, 1.0]), bits=8)) == [16, 235]
    assert transfer.bt709_signal(-0.5) == 0.0


def test_grey_on_a_bt1886_display():
    """An 18 % card shows at 11.7 % of the display's peak."""
    shown = transfer.bt1886_light(transfer.bt709_signal(0.18))
    assert 100 * shown == pytest.approx(11.7, abs=0.051)


def test_srgb_agrees_with_the_colour_library(colour):
    """The sRGB curve at many levels, its knee included."""
    light = np.linspace(0, 0.02, 401)
    expected = colour.models.eotf_inverse_sRGB(light)
    assert transfer.srgb_signal(light) == pytest.approx(expected, abs=1e-9)


def test_srgb_grey():
    """18 % is 46.14 %, 118 of 255; the toe is a line."""
    # IEC 61966-2-1.
    signal = transfer.srgb_signal(0.18)
    assert 100 * signal == pytest.approx(46.14, abs=0.0051)
    assert round(255 * float(signal)) == 118
    assert transfer.srgb_signal(0.002) == pytest.approx(0.02584, abs=1e-12)


LINE_UP = [
    (0.18, 26, 38, 38), (0.83, 162, 56, 71), (0.90, 179, 57, 73), (1.00, 203, 58, 75),
]  # fmt: skip


@pytest.mark.parametrize(("card", "nits", "pq", "hlg"), LINE_UP)
def test_hdr_line_up(card, nits, pq, hlg):
    """BT.2408 table 1: an 18 % card is 26 cd/m², not 0.18 of 203."""
    found = transfer.hdr_lineup(card)
    # ±0.5 % of signal and ±1 % of light, the table's own rounding.
    assert found["luminance"] == pytest.approx(nits, rel=0.01)
    assert 100 * found["pq"] == pytest.approx(pq, abs=0.5)
    assert 100 * found["hlg"] == pytest.approx(hlg, abs=0.5)


def test_hdr_line_up_recomputed():
    """The rule behind the table: E = 0.264963 R, HLG, exponent 1.2."""
    assert transfer.hlg_light(0.75) == pytest.approx(0.264963, abs=1e-6)
    found = transfer.hdr_lineup(np.array([0.18, 0.83, 0.90, 1.00]))
    assert 100 * found["hlg"] == pytest.approx([37.83, 71.30, 72.92, 75.00], abs=0.0051)
    assert found["luminance"] == pytest.approx([26.0, 162.4, 179.0, 203.2], abs=0.051)
    assert 100 * found["pq"] == pytest.approx([37.99, 55.75, 56.76, 58.08], abs=0.0051)
    assert REFERENCE_WHITE == 203


def test_skin_levels_of_bt2408_agree_with_each_other():
    """Luminance and HLG columns of table 2 belong together, at 1000 cd/m²."""
    # From memory; consistency recomputed. cd/m² -> HLG %.
    nits = np.array([65, 110, 40, 85, 10, 30])
    signal = transfer.hlg_signal((nits / 1000) ** (1 / 1.2))
    assert 100 * signal == pytest.approx([55.0, 64.6, 45.3, 60.0, 25.4, 40.2], abs=0.051)


def test_curves_agree_with_the_colour_library(colour):
    """PQ and HLG at many levels, HLG there and back."""
    nits = np.geomspace(0.01, 10000, 40)
    expected = colour.models.eotf_inverse_ST2084(nits, 10000)
    assert transfer.pq_signal(nits) == pytest.approx(expected, abs=1e-9)
    light = np.linspace(0, 1, 501)
    with np.errstate(invalid="ignore"):
        expected = colour.models.oetf_BT2100_HLG(light)
    # The library rounds the constants a, b, c to eight digits.
    assert transfer.hlg_signal(light) == pytest.approx(expected, abs=1e-6)
    assert transfer.hlg_light(transfer.hlg_signal(light)) == pytest.approx(light, abs=1e-12)


def test_stops_from_grey_in_bt709():
    """-2 to +2 stops about 18 % are 17.3, 27.3, 40.9, 59.5 and 84.9 %; clip at +2.47."""
    # Our own scale, computed from the OETF.
    cards = 0.18 * 2.0 ** np.arange(-2, 3)
    found = 100 * transfer.bt709_signal(cards)
    assert found == pytest.approx([17.3, 27.3, 40.9, 59.5, 84.9], abs=0.051)
    assert np.log2(1 / 0.18) == pytest.approx(2.47, abs=5e-3)
