import colour
import numpy as np
import pytest

from previz.exposure import falsecolour, palette
from previz.physics.exposure import CameraSettings
from previz.physics.stops import MapSettings, Zone

SIGHTS = ("normal", "protanopia", "deuteranopia", "tritanopia")

# Bands under and over grey, and whether of half stops: up to a white card, of differences, of some latitudes.
SIZES = [(5, 2, False), (11, 4, True), (3, 3, False), (5, 5, False), (7, 6, False), (9, 7, False),
         (16, 14, True), (20, 20, True), (0, 1, False)]


def ramp_linear(derivation, size):
    return derivation.decode_srgb(palette.ramp(size[0], size[1], halves=size[2]))


def ramp_lab(derivation, size, sight="normal"):
    return derivation.cielab(derivation.seen_by(ramp_linear(derivation, size), sight))


def neighbours_and_all(derivation, size):
    """Return the least difference of neighbours and of any two bands, by sight: CIEDE2000, and in a dim room.

    The differences are worked out by a general colour library, not by the code that chose the colours.
    """
    found = {}
    for sight in SIGHTS:
        seen = derivation.seen_by(ramp_linear(derivation, size), sight)
        lab, room = derivation.cielab(seen), derivation.dim_room(seen)
        first, second = np.triu_indices(len(lab), 1)
        day = colour.delta_E(lab[first], lab[second], method="CIE 2000")
        dim = np.linalg.norm(room[first] - room[second], axis=-1)
        near = second - first == 1
        found[sight] = day[near].min(), dim[near].min(), day.min(), dim.min()
    return found


def test_the_hues_are_the_derived_ones(derivation):
    """No other hue or strength of any one stop tells the bands better apart, so the search ends here."""
    assert palette.UNDER[0][0] in derivation.DUSK and palette.OVER[0][0] in derivation.DUSK
    under, over, best = derivation.improved(palette.UNDER, palette.OVER, derivation.families(
        derivation.DUSK, derivation.DUSK))
    assert (under, over) == (palette.UNDER, palette.OVER)
    # Earth under grey and dusk over it, with chroma in turns, has 180.
    assert best > 230


def test_lightness_is_even_in_a_dim_room(derivation):
    """Steps of lightness are those that CAM16 has for greys on a dimmed screen with flare."""
    # The table has five decimals.
    assert np.allclose(palette.DIM_GREYS, derivation.dim_greys(len(palette.DIM_GREYS)), atol=6e-6)
    room = derivation.dim_room(ramp_linear(derivation, (5, 2, False)))[:, 0]
    # Colours of the same luminance differ a little from greys in J'.
    assert np.diff(room) == pytest.approx(np.full(9, (100 - room[0]) / 9), abs=1.2)


@pytest.mark.parametrize("size", SIZES)
def test_lightness_rises_from_band_to_band(derivation, size):
    """A greyscale print keeps the order: every band is lighter than the last."""
    lab = ramp_lab(derivation, size)
    steps, even = np.diff(lab[:, 0]), (100 - lab[0, 0]) / (len(lab) - 1)
    # 8-bit codes round L* by up to 0.3.
    assert steps.min() >= 0.75 * even - 0.6
    assert steps.min() > 0


def test_neighbours_can_be_distinguished(derivation):
    """The ten bands differ by what the module promises, by day and in a dim room, to every kind of eye."""
    for sight, (day, dim, any_day, any_dim) in neighbours_and_all(derivation, (5, 2, False)).items():
        promised = 13 if sight == "tritanopia" else 16
        assert min(day, dim, any_day, any_dim) > promised, sight


def test_stops_under_grey_are_told_apart_in_a_dim_room(derivation):
    """From one stop to the next under grey it is 24 and more in a dim room."""
    for sight in SIGHTS:
        room = derivation.dim_room(derivation.seen_by(ramp_linear(derivation, (5, 2, False)), sight))
        # -5 to -1; then comes grey itself.
        assert np.linalg.norm(np.diff(room[1:6], axis=0), axis=-1).min() > 24, sight


def test_half_stops_can_be_distinguished(derivation):
    """So do half stops, by less; a half stop has the hue of the whole one further from grey."""
    for sight, found in neighbours_and_all(derivation, (11, 4, True)).items():
        assert min(found) > (4.5 if sight == "tritanopia" else 7.5), sight
    assert palette.hue_of(-2.5)[0] == palette.hue_of(-3)[0] != palette.hue_of(-2)[0]
    assert palette.hue_of(0.5) == (palette.hue_of(1)[0], pytest.approx(0.45 * palette.hue_of(1)[1]))


@pytest.mark.parametrize(("size", "least"), [((3, 3, False), 13), ((5, 5, False), 9), ((7, 6, False), 7)])
def test_no_two_bands_are_alike(derivation, size, least):
    """Any two bands, not only neighbours, differ, to every eye, in a dim room too: no doubt at the legend."""
    assert min(min(each) for each in neighbours_and_all(derivation, size).values()) > least


@pytest.mark.parametrize("size", SIZES)
def test_mid_grey_is_neutral_and_no_band_is_green_or_pink(derivation, size):
    """The middle is grey; skin's and grey's usual pink and green are not in the palette."""
    lab = ramp_lab(derivation, size)
    chroma = np.hypot(lab[:, 1], lab[:, 2])
    hue = np.degrees(np.arctan2(lab[:, 2], lab[:, 1])) % 360
    assert chroma[size[0] + 1] < 0.5
    coloured = chroma > 10
    # CIELAB hue: pinks and reds lie at 330 to 40°, greens at 120 to 200°.
    assert not np.any(coloured & ((hue > 330) | (hue < 40)))
    assert not np.any(coloured & (hue > 120) & (hue < 200))


def test_a_stop_has_its_hue_in_every_map(derivation):
    """Two under is of one hue with a camera that holds much and with one that holds little."""
    hues = []
    for below, above in ((5, 2), (7, 6)):
        lab = ramp_lab(derivation, (below, above, False))[below - 1]
        hues.append(np.degrees(np.arctan2(lab[2], lab[1])))
    # CIELAB bends lines of one Oklab hue a little.
    assert hues[0] == pytest.approx(hues[1], abs=4)


@pytest.mark.parametrize("count", range(1, 7))
def test_zones_are_told_from_each_other_and_from_grey(derivation, count):
    """One to six zones differ from each other and from any grey under them, to every eye."""
    apart, from_grey = derivation.zone_differences(count)
    assert apart > 12 and from_grey > 8
    lab = derivation.cielab(derivation.decode_srgb(palette.zone_colours(count)))
    assert np.all(np.diff(lab[:, 0]) > 5)


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


def labels(bands):
    return [band.label for band in bands]


def test_half_stops_lie_between_whole_ones():
    """Half steps: a band reaches a quarter of a stop to either side; clip and crush stay where they were."""
    bands = falsecolour.stop_bands(MapSettings(halves=True))
    assert labels(bands) == ["crushed", "−5½", "−5", "−4½", "−4", "−3½", "−3", "−2½", "−2", "−1½", "−1", "−½",
                             "0", "+½", "+1", "+1½", "+2", "clipped"]
    assert (bands[0].high, bands[-1].low) == (-5.5, falsecolour.DEFAULT_CLIP)
    for low, high in zip(bands[:-1], bands[1:], strict=True):
        assert low.high == high.low
    assert all((band.low, band.high) == (band.centre - 0.25, band.centre + 0.25) for band in bands[2:-2])


@pytest.mark.parametrize(("over", "under", "clip", "crush", "first", "last"), [
    (None, None, falsecolour.DEFAULT_CLIP, -5.5, "−5", "+2"), (6.0, 7.5, 6.0, -7.5, "−7", "+6"),
    (6.0, None, 6.0, -5.5, "−5", "+6"), (None, 3.0, falsecolour.DEFAULT_CLIP, -3.0, "−3", "+2"),
    (0.5, 0.5, 0.5, -0.5, "0", "0"), (20.0, 20.0, 20.0, -20.0, "−10 and under", "+10 and over")])
def test_clip_and_crush_are_the_ends_of_the_latitude(over, under, clip, crush, first, last):
    """A camera's latitude says where the map says clipped and crushed; without it all is as before."""
    bands = falsecolour.stop_bands(MapSettings(), CameraSettings(2.8, 800, 1 / 48, over=over, under=under))
    assert (bands[0].high, bands[-1].low) == (crush, clip)
    assert (bands[1].label, bands[-2].label) == (first, last)
    # A level just inside is told from one just outside.
    signal = 0.18 * 2.0 ** np.array([[crush - 0.01, crush + 0.01, 0.0, clip - 0.01, clip + 0.01]])
    found = [bands[number].label for number in falsecolour.band_index(signal, bands)[0]]
    assert found == ["crushed", first, "0", last, "clipped"]


def test_what_is_set_goes_before_the_latitude():
    """Clip and crush that are set for a map count instead of the camera's."""
    camera = CameraSettings(2.8, 800, 1 / 48, over=6, under=7)
    bands = falsecolour.stop_bands(MapSettings(clip=3.0), camera)
    assert (bands[0].high, bands[-1].low) == (-7, 3)
    with pytest.raises(ValueError, match="crush 1 and clip 6"):
        falsecolour.stop_bands(MapSettings(crush=1.0), camera)


def test_zones_alone_are_painted_over_grey():
    """Outside zones is the still in grey; clip and crush keep their marks; ends belong as of all bands."""
    zones = (Zone("shade", -3, -2), Zone("skin", -0.5, 0.5), Zone("hot", 2, 9))
    bands = falsecolour.stop_bands(MapSettings(zones=zones))
    assert labels(bands) == ["crushed", "", "shade", "", "skin", "", "hot", "clipped"]
    assert [band.mark for band in bands] == ["dots", "grey", "", "grey", "", "grey", "", "lines"]
    # Beyond clip there are no levels to tell apart, so the last zone ends there.
    assert (bands[-2].low, bands[-2].high) == (2, falsecolour.DEFAULT_CLIP)
    signal = 0.18 * 2.0 ** np.array([[-9, -4, -3, -2.001, -2, 0, 0.5, 1, 2, 8.0]])
    index = falsecolour.band_index(signal, bands)
    still = np.random.default_rng(3).integers(0, 256, (1, 10, 3), dtype=np.uint8)
    grey = falsecolour.grey_of(still)
    painted = falsecolour.paint(index, bands, grey=grey)
    for place, name in enumerate(["crushed", "", "shade", "shade", "", "skin", "", "", "hot", "clipped"]):
        assert bands[index[0, place]].label == name
        if not name:
            assert painted[0, place].tolist() == [grey[0, place]] * 3
        elif name not in ("crushed", "clipped"):
            assert tuple(painted[0, place]) == bands[index[0, place]].colour
    # BT.709-6: luma of full red, green and blue.
    assert falsecolour.grey_of(255 * np.eye(3, dtype=np.uint8)[None])[0].tolist() == [54, 182, 18]


def test_a_zone_beyond_clip_is_empty_and_has_its_place():
    """Zones that touch each other have no grey between them; one beyond clip takes no pixel."""
    zones = (Zone("mid", -1, 1), Zone("high", 1, 2.2), Zone("beyond", 4, 5))
    bands = falsecolour.stop_bands(MapSettings(zones=zones))
    assert labels(bands) == ["crushed", "", "mid", "high", "", "beyond", "clipped"]
    signal = 0.18 * 2.0 ** np.linspace(-8, 8, 400).reshape(20, 20)
    got = falsecolour.shares(falsecolour.band_index(signal, bands), bands)
    assert got[-2] == 0 and got.sum() == pytest.approx(1)


@pytest.mark.parametrize(("stops", "text"), [(0, "0"), (0.5, "+½"), (-0.5, "−½"), (-4.5, "−4½"), (3, "+3")])
def test_half_stops_as_they_are_said(stops, text):
    assert falsecolour.stop_label(stops) == text
