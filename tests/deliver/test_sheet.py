from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from PIL import Image

from previz.deliver import sheet
from previz.deliver.map import ExposureMap, exposure_map
from previz.exposure import camera, display, falsecolour, mix
from previz.exposure.faces import FaceLight
from previz.exposure.metering import Measured
from previz.exposure.trust import ON_FEW
from previz.frames.records import Short

LONG = "the version with the second lamp behind the partition, dimmed, and half blue on the window"


@pytest.fixture
def option(synthetic, settings):
    """Make an option of the synthetic scene by its levels."""
    bands = falsecolour.stop_bands()

    def make(name, levels=(1.0, 1.0), note="", **change):
        frames, lamps = synthetic.frames(90, 160), synthetic.lamps(levels)
        xyz = mix.mix_xyz(frames, lamps)
        made = sheet.SheetOption(
            name=name,
            note=note,
            still=display.show_8bit(camera.expose(xyz, settings)),
            chart=exposure_map(camera.signal_luminance(xyz, settings), bands, frames.names_index),
            settings=settings,
            face=FaceLight("clerk", "left", Measured(310.0, 2.0), Measured(42.0, 0.4)),
            spill=Measured(31.0, 0.3),
        )
        return replace(made, **change)

    return make


def faults(canvas):
    """Texts that leave the paper or run into each other."""
    width, height = canvas.size
    boxes = canvas.boxes
    out = [
        box.text
        for box in boxes
        if box.left < 0 or box.top < 0 or box.right > width or box.bottom > height
    ]
    return out + [
        (a.text, b.text)
        for number, a in enumerate(boxes)
        for b in boxes[number + 1 :]
        if a.left < b.right and b.left < a.right and a.top < b.bottom and b.top < a.bottom
    ]


@pytest.mark.parametrize("width", [1000, 2000])
@pytest.mark.parametrize("count", [1, 3, 4, 7])
def test_any_number_of_options_lays_out(option, settings, count, width):
    """All words stay on the paper and apart for one option or many, long names and all."""
    options = [
        option(f"{LONG} {number}" if number % 2 else f"option {number}", note=LONG)
        for number in range(count)
    ]
    canvas = sheet.draw_sheet(options, title=LONG + " " + LONG, subject=LONG, width=width)
    assert faults(canvas) == []
    assert canvas.size[0] == width
    # A page's shape: from a wide strip for one option to not much taller than two pages.
    assert 0.4 < canvas.size[1] / width < 2.5


def test_options_with_other_settings_say_so(option, settings):
    """Settings stand once at the top if they are shared, else beside each option's name."""
    shared = sheet.draw_sheet([option("bounce"), option("direct")], title="t", subject="s")
    line = "T2.8 · ISO 800 · 1/48 s · 5600 K"
    assert [box.text for box in shared.boxes].count(line) == 1
    other = option(LONG, settings=replace(settings, stop=4.0, nd_density=0.3))
    canvas = sheet.draw_sheet([option("bounce"), other], title="t", subject="s")
    words = [box.text for box in canvas.boxes]
    assert line in words and "T4 · ISO 800 · 1/48 s · ND 0.3 · 5600 K" in words
    assert faults(canvas) == []


def test_the_table_holds_the_readings(option, settings):
    """Lit side 1000 and shadow side 200 lx at a working light of 117.6 lx (250 · 2.8² · 48 / 800).

    Ratios 5:1 and 4:1 (facts 9.2); stops log2(1000 / 117.6) = 3.088 and log2(200 / 117.6) = 0.766;
    spill 14.7 lx is three stops under.
    """
    made = option("bounce", face=FaceLight("clerk", "left", Measured(1000.0, 3.0),
                                           Measured(200.0, 1.0)), spill=Measured(14.7, 0.1))
    canvas = sheet.draw_sheet([made], title="t", subject="s")
    words = [box.text for box in canvas.boxes]
    start = len(words) - words[::-1].index("bounce")
    assert words[start : start + 8] == [
        "1\N{NARROW NO-BREAK SPACE}000", "+3.1", "200", "+0.8", "5.0 : 1", "4.0 : 1", "14.7", "−3.0",
    ]  # fmt: skip
    for head in ("lit side", "shadow side", "lit : shadow", "key alone : fill"):
        assert head in words


def test_missing_meters_are_dashes(option):
    """An option without a meter shows that it has none, not zero."""
    canvas = sheet.draw_sheet([option("bounce", face=None, spill=None)], title="t", subject="s")
    assert [box.text for box in canvas.boxes].count("–") == 8


def test_pictures_stand_side_by_side(option):
    """Still left, map right, one size, on the paper's own ground."""
    made = option("bounce")
    canvas = sheet.draw_sheet([made], title="t", subject="s")
    plan = sheet._plan([made], 2000)
    pixels = np.asarray(canvas.image)
    top = plan.head + plan.caption
    right = plan.margin + plan.picture[0] + plan.gap
    chart = made.chart.picture(plan.picture)
    wide, high = plan.picture
    assert np.array_equal(pixels[top : top + high, right : right + wide], chart)
    still = pixels[top : top + high, plan.margin : plan.margin + wide].astype(float)
    # Resampling keeps the mean of a picture to a code or so.
    np.testing.assert_allclose(still.mean((0, 1)), made.still.mean((0, 1)), atol=1.5)


def test_options_that_cannot_be_compared_are_refused(option):
    """No options, other picture sizes and other bands are errors."""
    made = option("bounce")
    with pytest.raises(ValueError, match="at least one option"):
        sheet.draw_sheet([], title="t", subject="s")
    with pytest.raises(ValueError, match="one size"):
        cut = replace(made, still=made.still[:50])
        sheet.draw_sheet([made, cut], title="t", subject="s")
    with pytest.raises(ValueError, match="share their bands"):
        wide = ExposureMap(made.chart.index, falsecolour.stop_bands()[:-1])
        sheet.draw_sheet([made, replace(made, chart=wide)], title="t", subject="s")
    with pytest.raises(ValueError, match="1000 px"):
        sheet.draw_sheet([made], title="t", subject="s", width=640)


def test_the_sheet_is_written(option, tmp_path):
    """The file is the sheet as laid out, and the same each time."""
    options = [option("bounce"), option("direct", (2.0, 0.0))]
    for name in ("a.png", "b.png"):
        sheet.write_sheet(tmp_path / name, options, title="Signal cabin", subject="camera A",
                          words={"Title": "Signal cabin"})  # fmt: skip
    assert (tmp_path / "a.png").read_bytes() == (tmp_path / "b.png").read_bytes()
    with Image.open(tmp_path / "a.png") as image:
        assert image.size[0] == 2000 and image.mode == "RGB"


def test_readings_on_few_paths_are_told_under_the_table():
    """What is not to be trusted comes first, with its option; without any the notes stay."""
    plain = SimpleNamespace(name="bounce", short=())
    doubtful = SimpleNamespace(name="direct", short=(Short("back wall", 0.04, True),))
    usual = sheet.notes_of([plain])
    assert usual.startswith("Lit and shadow side")
    assert sheet.notes_of([plain, doubtful]) == (
        "direct: back wall is at 4 %, on few paths: not to be trusted better than ± 8 %. "
        f"{ON_FEW} {usual}")
