import colour
import numpy as np
import pytest

from previz.exposure import falsecolour, palette

SIGHTS = ("normal", "protanopia", "deuteranopia")


def ramp_lab(derivation, size, sight="normal"):
    codes = palette.ramp(*size)
    return derivation.cielab(derivation.seen_by(derivation.decode_srgb(codes), sight))


@pytest.mark.parametrize("size", palette.RAMPS)
def test_the_colours_are_the_derived_ones(derivation, size):
    """Each table is what the derivation gives, to the code."""
    codes, _ = derivation.derived(*size)
    assert np.array_equal(palette.ramp(*size), codes)


@pytest.mark.parametrize("size", palette.RAMPS)
def test_lightness_rises_from_band_to_band(derivation, size):
    """A greyscale print keeps the order: each band is lighter by a stated share of an even step."""
    lab = ramp_lab(derivation, size)
    steps = np.diff(lab[:, 0])
    even = (100 - lab[0, 0]) / (len(lab) - 1)
    # 8-bit codes round L* by up to 0.3.
    assert steps.min() >= derivation.PRINT_SHARE * even - 0.3


@pytest.mark.parametrize("sight", SIGHTS)
@pytest.mark.parametrize("size", palette.RAMPS)
def test_neighbours_can_be_distinguished(derivation, size, sight):
    """Neighbouring bands differ by the promised CIEDE2000, with all cones or without L or M.

    The difference is worked out by a general colour library, not by the code that chose them.
    """
    lab = ramp_lab(derivation, size, sight)
    differences = colour.delta_E(lab[:-1], lab[1:], method="CIE 2000")
    # What the module promises.
    assert differences.min() > (13 if len(lab) == 10 else 11)


@pytest.mark.parametrize("size", palette.RAMPS)
def test_no_two_bands_are_alike(derivation, size):
    """Any two bands, not only neighbours, differ by the promised 7: the legend is unambiguous."""
    for sight in SIGHTS:
        lab = ramp_lab(derivation, size, sight)
        first, second = np.triu_indices(len(lab), 1)
        assert colour.delta_E(lab[first], lab[second], method="CIE 2000").min() > 7


def test_mid_grey_is_neutral_and_no_band_is_green_or_pink(derivation):
    """The middle is grey; skin's and grey's usual pink and green are not in the palette."""
    lab = ramp_lab(derivation, (5, 2))
    chroma = np.hypot(lab[:, 1], lab[:, 2])
    hue = np.degrees(np.arctan2(lab[:, 2], lab[:, 1])) % 360
    assert chroma[6] < 0.5
    coloured = chroma > 10
    # CIELAB hue: pinks and reds lie at 330 to 40°, greens at 120 to 200°.
    assert not np.any(coloured & ((hue > 330) | (hue < 40)))
    assert not np.any(coloured & (hue > 120) & (hue < 200))


# Scene-referred BT.709 at whole stops, check values 3.14 and 3.11 (BT.709-6), to the digits printed.
@pytest.mark.parametrize(
    ("stops", "percent"), [(-2, 17.3), (-1, 27.3), (0, 40.9), (1, 59.5), (2, 84.9), (2.474, 100.0)]
)
def test_video_levels_are_the_published_ones(stops, percent):
    """Stops from 18 % grey read as BT.709 percent."""
    assert falsecolour.bt709_percent(0.18 * 2.0**stops) == pytest.approx(percent, abs=0.05)


def test_clip_is_where_bt709_is_full():
    """The clip is +2.47 stops (check value 3.14), the signal 1.0."""
    assert pytest.approx(2.47, abs=0.005) == falsecolour.DEFAULT_CLIP
    assert falsecolour.bt709_percent(0.18 * 2.0**falsecolour.DEFAULT_CLIP) == pytest.approx(100)


def test_bands_cover_all_stops():
    """Bands follow on each other from no light to any light, one a whole stop."""
    bands = falsecolour.stop_bands()
    assert [band.label for band in bands[1:-1]] == ["−5", "−4", "−3", "−2", "−1", "0", "+1", "+2"]
    assert bands[0].low == -np.inf and bands[-1].high == np.inf
    assert all(a.high == b.low for a, b in zip(bands, bands[1:], strict=False))
    assert all(band.high > band.low for band in bands)
    assert [bands[0].mark, bands[-1].mark] == ["dots", "lines"]
    assert not any(band.mark for band in bands[1:-1])
    assert (bands[0].high, bands[-1].low) == (-5.5, falsecolour.DEFAULT_CLIP)


def test_a_pixel_is_painted_by_its_stops():
    """Each luminance falls in the band that its stops lie in, every tenth of a stop from -7 to +3.3."""
    bands = falsecolour.stop_bands()
    # 1e-4 stop inside, so that a pixel on an edge is not decided by rounding.
    stops = np.arange(-7, 3.4, 0.1).round(2) + 1e-4
    index = falsecolour.band_index(0.18 * 2.0 ** stops[None, :], bands)[0]
    low, high = (np.array([getattr(band, edge) for band in bands])[index] for edge in ("low", "high"))
    assert np.all((low <= stops) & (stops < high))
    assert len(set(index)) == len(bands)


def test_darkness_is_crushed_and_white_is_clipped():
    """No light at all and a perfect white card land in the marked bands."""
    bands = falsecolour.stop_bands()
    index = falsecolour.band_index(np.array([[0.0, 0.18, 1.0 + 1e-9, 1e9]]), bands)
    assert [bands[number].label for number in index[0]] == ["crushed", "0", "clipped", "clipped"]


def test_what_is_no_number_is_not_painted():
    """A broken pixel is an error; it must not pass for a clipped one."""
    with pytest.raises(ValueError, match="not a number"):
        falsecolour.band_index(np.array([[np.nan]]), falsecolour.stop_bands())


def test_shares_are_the_parts_of_the_frame():
    """Half the frame one stop over, a quarter at grey, a quarter black."""
    bands = falsecolour.stop_bands()
    signal = np.array([[0.36, 0.36], [0.18, 0.0]])
    got = falsecolour.shares(falsecolour.band_index(signal, bands), bands)
    expected = {"+1": 0.5, "0": 0.25, "crushed": 0.25}
    assert [expected.get(band.label, 0.0) for band in bands] == list(got)


def test_clip_and_crush_are_patterned_and_nothing_else_is():
    """Lines and dots are drawn in the marked bands only, over a small part of their area."""
    bands = falsecolour.stop_bands()
    index = np.repeat(np.arange(len(bands), dtype=np.uint8), 60)[None, :].repeat(60, axis=0)
    picture = falsecolour.paint(index, bands)
    for number, band in enumerate(bands):
        patch = picture[:, 60 * number : 60 * number + 60].reshape(-1, 3)
        marked = np.any(patch != np.array(band.colour, dtype=np.uint8), axis=1).mean()
        if band.mark:
            assert 0.05 < marked < 0.4
        else:
            assert marked == 0


def test_patterns_are_as_dense_as_their_pitch_says():
    """A line in seven, and a dot a fifth of the pitch wide in each square of it, every second row shifted."""
    pitch = 20
    assert falsecolour._pattern((60, 80), "lines", pitch).mean() == pytest.approx(3 / 20)
    dots = falsecolour._pattern((80, 80), "dots", pitch)
    assert dots.mean() == pytest.approx((4 / 20) ** 2)
    assert np.array_equal(dots[20:40, 10:70], dots[:20, :60]) and not np.array_equal(dots[20:40], dots[:20])


@pytest.mark.parametrize(
    ("stops", "digits", "text"),
    [(1, 0, "+1"), (-2, 0, "−2"), (0, 0, "0"), (-0.04, 1, "0.0"), (2.474, 2, "+2.47")],
)
def test_stops_are_written_with_their_sign(stops, digits, text):
    """Plus and a true minus sign; zero has none."""
    assert falsecolour.signed(stops, digits) == text
