
import numpy as np
import pytest
from delivered import read_words
from drawn import faults

from previz.deliver import map as exposure_map
from previz.exposure import falsecolour, mix
from previz.exposure.camera import working_illuminance
from tests.oracles.light import signal_luminance


@pytest.fixture
def chart(synthetic, settings):
    """The synthetic picture in bands."""
    frames = synthetic.frames(180, 320)
    signal = signal_luminance(mix.mix_xyz(frames, synthetic.lamps()), settings)
    return exposure_map.exposure_map(signal, frames.names_index)


def test_an_even_card_is_all_mid_grey(settings):
    """An 18 % card in the working light fills the band 0, and the legend says 100 %."""
    luminance = 0.18 * working_illuminance(settings) / np.pi
    xyz = np.full((3, 20, 30), luminance)
    signal = signal_luminance(xyz, settings)
    even = exposure_map.exposure_map(signal)
    rows = {stops: share for _, stops, _, share in exposure_map.legend_rows(even)}
    assert rows["0, mid grey"] == "100.0 %"
    assert all(share == "0.0 %" for stops, share in rows.items() if stops != "0, mid grey")


def test_the_legend_says_what_each_colour_is(chart):
    """Light to dark: stops, the published BT.709 level at each (check values 3.14, 3.11), the share."""
    rows = exposure_map.legend_rows(chart)
    assert [stops for _, stops, _, _ in rows] == [
        "over +2.5, clipped", "+2", "+1", "0, mid grey", "−1", "−2", "−3", "−4", "−5",
        "under −5.5, crushed",
    ]  # fmt: skip
    levels = [level for _, _, level, _ in rows]
    assert levels[:6] == ["100 %", "84.9 %", "59.5 %", "40.9 %", "27.3 %", "17.3 %"]
    assert sum(round(float(share[:-2]) * 10) for *_, share in rows) == 1000


@pytest.mark.parametrize("size", [(45, 80), (180, 320), (540, 960), (1080, 1920), (400, 171)])
def test_the_map_lays_out_at_any_size(settings, size):
    """All words stay on the paper and clear of each other, from thumbnails to full frames, wide and tall."""
    random = np.random.default_rng(1)
    signal = 0.18 * 2.0 ** random.uniform(-8, 7, size)
    chart = exposure_map.exposure_map(signal)
    canvas = exposure_map.draw_map(
        chart,
        title="Signal cabin, last light, with a title that goes on for rather longer than is wise",
        subject="Option “bounce” · camera A",
        settings=settings,
    )
    assert faults(canvas) == []
    words = [box.text for box in canvas.boxes]
    assert "0, mid grey" in words and "under −5.5, crushed" in words
    joined = " ".join(words).replace("\u00a0", " ")
    assert "T2.8 · ISO 800 · 1/48 s · 5600 K" in joined
    assert "no camera curve" in joined


def test_outlines_follow_the_things(chart):
    """Pixels where the seen thing changes are drawn darker or lighter than their band."""
    plain = exposure_map.ExposureMap(chart.index, chart.bands).picture()
    changed = np.any(plain != chart.picture(), axis=2)
    things = chart.things
    edge = np.zeros(things.shape, bool)
    edge[:, 1:] |= things[:, 1:] != things[:, :-1]
    edge[1:] |= things[1:] != things[:-1]
    assert np.array_equal(changed, edge) and 0 < edge.mean() < 0.05


def test_a_smaller_map_keeps_its_colours(chart):
    """Scaling picks bands; it never mixes two colours into one that the legend lacks."""
    small = exposure_map.ExposureMap(chart.index, chart.bands).picture((97, 53))
    assert small.shape == (53, 97, 3)
    known = {band.colour for band in chart.bands}
    used = {tuple(int(v) for v in colour) for colour in small.reshape(-1, 3)}
    inks = {falsecolour._ink(band.colour) for band in chart.bands if band.mark}
    assert used <= known | inks


def test_the_map_is_written(chart, settings, tmp_path):
    """The map with its legend is a PNG that says what it is."""
    exposure_map.write_map(
        tmp_path / "map.png", chart, title="Signal cabin", subject="camera A", settings=settings,
        words={"Title": "Signal cabin"},
    )  # fmt: skip
    assert read_words(tmp_path / "map.png") == {"Title": "Signal cabin"}


def test_a_map_of_the_dark_says_so(settings):
    """Without any light the map has 'no light' on it and in its note; with a little it has not."""
    for level, words in ((0.0, ["no light"]), (1e-6, [])):
        chart = exposure_map.exposure_map(np.full((180, 320), level))
        canvas = exposure_map.draw_map(chart, title="Yard", subject="A", settings=settings)
        texts = [box.text for box in canvas.boxes]
        assert [text for text in texts if text == "no light"] == words
        assert any("No light comes to the lens" in text for text in texts) == bool(words)
        assert faults(canvas) == []
