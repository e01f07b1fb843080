"""The sheet of a camera's options: what its pictures and its table say."""

from dataclasses import replace

import numpy as np
import pytest
from drawn import drawn, faults, on_pictures
from PIL import Image
from samples import LONG, SETTINGS, sheet_option

from previz.deliver import sheet
from previz.deliver.layout import Setting
from previz.deliver.map import exposure_map
from previz.exposure import falsecolour
from previz.exposure.faces import FaceLight
from previz.exposure.metering import Measured
from previz.exposure.trust import ON_FEW
from previz.frames.records import Short
from previz.physics.exposure import CameraSettings
from previz.physics.stops import MapSettings, Zone


def draw(options, width=2000, title="Signal cabin", subject="Camera A"):
    setting = Setting(width)
    return drawn(sheet.sheet_blocks(options, setting, title=title, subject=subject), setting)


@pytest.mark.parametrize("width", [1000, 2000])
@pytest.mark.parametrize("count", [1, 4, 7])
def test_any_number_of_options_lays_out(count, width):
    """Words stay on the paper and clear of each other for one option or many, long names and all."""
    options = [sheet_option(f"{LONG} {number}" if number % 2 else f"option {number}", note=LONG)
               for number in range(count)]
    canvas = draw(options, width, LONG + " " + LONG, LONG)
    assert faults(canvas) == [] and on_pictures(canvas) == []
    # A page's shape: from a wide strip for one option to not much taller than two pages.
    assert 0.4 < canvas.size[1] / width < 2.5


def test_options_with_other_settings_say_so():
    """Settings stand once at the top if they are shared, else whole under each option's pictures."""
    line = "T2.8 · ISO 800 · 1/48 s · 5600 K"
    assert draw([sheet_option("bounce"), sheet_option("direct")]).words.count(line) == 1
    other = sheet_option(LONG, settings=replace(SETTINGS, stop=4.0, nd_density=0.3))
    canvas = draw([sheet_option("bounce"), other])
    assert line in canvas.words and "T4 · ISO 800 · 1/48 s · ND 0.3 · 5600 K" in canvas.words
    assert faults(canvas) == []


def test_the_table_holds_the_readings():
    """Lit side 1000 and shadow side 200 lx at a working light of 117.6 lx (250 · 2.8² · 48 / 800).

    Ratios 5:1 and 4:1 (check value 9.2); stops log2(1000 / 117.6) = 3.088 and log2(200 / 117.6) = 0.766;
    spill 14.7 lx is three stops under.
    """
    face = FaceLight("clerk", "left", Measured(1000.0, 3.0), Measured(200.0, 1.0))
    words = draw([sheet_option("bounce", face=face, spill=Measured(14.7, 0.1))]).words
    start = len(words) - words[::-1].index("bounce")
    assert words[start : start + 8] == [
        "1\N{NARROW NO-BREAK SPACE}000", "+3.1", "200", "+0.8", "5.0 : 1", "4.0 : 1", "14.7", "−3.0",
    ]
    for head in ("lit side", "shadow side", "lit : shadow", "key alone : fill"):
        assert head in words


def test_missing_meters_are_dashes():
    """An option without a meter shows that it has none, not zero."""
    assert draw([sheet_option("bounce", face=None, spill=None)]).words.count("–") == 8


def test_pictures_stand_side_by_side():
    """Still left and map right, alike in size; the map is painted at the size that it is shown at."""
    made = sheet_option("bounce")
    canvas = draw([made])
    still, chart, *_ = canvas.pictures
    assert (still.top, still.bottom) == (chart.top, chart.bottom) and still.right < chart.left
    size = (chart.right - chart.left, chart.bottom - chart.top)
    assert size == (still.right - still.left, still.bottom - still.top)
    pixels = np.asarray(canvas.image)[chart.top:chart.bottom, chart.left:chart.right]
    assert np.array_equal(pixels, made.chart.picture(size))


def test_options_that_cannot_be_compared_are_refused():
    """No options and other picture sizes are errors."""
    made = sheet_option("bounce")
    with pytest.raises(ValueError, match="at least one option"):
        draw([])
    with pytest.raises(ValueError, match="one size"):
        draw([made, replace(made, still=made.still[:50])])


def test_maps_of_other_steps_have_a_scale_each():
    """Options whose maps have other bands, by a latitude or steps, have a scale each that names them."""
    made = sheet_option("bounce")
    words = draw([made, replace(made, name="direct")]).words
    assert words.count("stops from 18 % grey") == 1
    halves = falsecolour.stop_bands(MapSettings(halves=True))
    wide = replace(made.chart, bands=halves, made=MapSettings(halves=True))
    words = draw([made, replace(made, name="direct", chart=wide)]).words
    assert "stops from 18 % grey: bounce" in words and "stops from 18 % grey: direct" in words
    assert "−2½" in words


def test_half_stops_of_a_wide_latitude_have_room():
    """Thirty bands of half stops are all named on one scale, the ends too."""
    held = CameraSettings(2.8, 800, 1 / 48, over=6, under=7.5)
    bands = falsecolour.stop_bands(MapSettings(halves=True), held)
    made = sheet_option("bounce")
    page = draw([replace(made, chart=replace(made.chart, bands=bands, made=MapSettings(halves=True)))])
    assert faults(page) == []
    wanted = ["under −7.5", *(band.label for band in bands[1:-1]), "over +6.0"]
    assert [each for each in page.words if each in wanted] == wanted


def test_a_scale_of_zones_says_their_ends():
    """Zones are named with their ends, and what is grey once, at the end."""
    made = sheet_option("bounce")
    zones = MapSettings(zones=(Zone("shade", -3, -2), Zone("skin", -0.5, 0.75)))
    zoned = exposure_map(np.full((54, 96), 0.18), made=zones, still=made.still)
    words = draw([replace(made, chart=zoned)]).words
    assert [each for each in words if each in (
        "−3 to −2, shade", "−0.5 to +0.75, skin", "all else", "under −5.5", "over +2.5")] == [
        "under −5.5", "−3 to −2, shade", "−0.5 to +0.75, skin", "over +2.5", "all else"]


def test_the_sheet_is_written(tmp_path):
    """One PNG of the sheet's width that says what it is."""
    sheet.write_sheet(tmp_path / "a.png", [sheet_option("bounce")], title="Signal cabin",
                      subject="camera A", words={"Title": "Signal cabin"})
    with Image.open(tmp_path / "a.png") as image:
        assert image.size[0] == 2000 and image.text == {"Title": "Signal cabin"}
    assert not (tmp_path / "a.pdf").exists()


def test_readings_on_few_paths_are_named_under_the_table():
    """What is not to be trusted comes first, with its option; without any the notes stay alone."""
    usual = " ".join(draw([sheet_option("bounce")]).words)
    assert "Lit and shadow side are flat incident meters" in usual and "is at" not in usual
    doubtful = sheet_option("direct", short=(Short("back wall", 0.04, True),))
    words = " ".join(draw([sheet_option("bounce"), doubtful]).words)
    said = ("direct: back wall is at 4 %, on few paths: not to be trusted better than ± 8 %. "
            f"{ON_FEW} Lit and shadow side are")
    assert said in words
