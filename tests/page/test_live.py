"""The page in a real browser: what it shows is what the command line makes."""

import json
import re
import time

import numpy as np
import pytest

from previz.deliver.map import exposure_map
from previz.exposure import meter_report, metering
from previz.exposure.falsecolour import band_index, paint, stop_bands
from previz.exposure.mix import lamp_xyz
from previz.exposure.trust import ON_FEW
from previz.page.desk import Picture
from previz.page.tables import difference_bands
from previz.physics.colourtemp import cct_duv, xy_from_xyz
from previz.physics.exposure import CameraSettings
from previz.physics.stops import MapSettings, Zone
from previz.stage.colours import stage_colours

pytestmark = pytest.mark.slow

# Half floats carry 11 bits: a light is off by 2^-12 of itself at most, which is at most
# 255 · 2^-12 / 2.4 = 0.03 of a code value after the screen's curve; so a code can only differ
# where it was that near to the next one. The GPU's own arithmetic is as good as that.
ONE_CODE = 1


def code_difference(one, other):
    assert one.shape == other.shape
    return np.abs(one.astype(int) - other.astype(int)).max()


def add_option(folder, name, body):
    """Write an option by hand, as somebody would who has no page."""
    path = folder / "canteen.yaml"
    path.write_text(path.read_text(encoding="utf-8") + f"  {name}:\n    {body}\n", encoding="utf-8")


def render_of(render, served, body):
    """Return the command line's still of changes that are written by hand in a copy."""
    import shutil

    copy = served.folder.with_name("by hand")
    shutil.rmtree(copy, ignore_errors=True)
    shutil.copytree(served.folder, copy)
    add_option(copy, "hand", body)
    return render(copy, "hand")


def test_at_rest_it_is_the_still(opened, served, render):
    """Untouched, the page shows the still of `previz render` to within one code value."""
    opened.settled()
    assert code_difference(opened.pixels(), render(served.folder, "early")) <= ONE_CODE


def test_what_is_looked_for_again_leaves_the_still_called_so(opened):
    """Frames that are looked for, and are those that are there, change neither the picture nor its line."""
    opened.settled()
    opened.page.evaluate("previz.table.load()")
    opened.shown()
    assert "as `previz render` makes it" in opened.page.inner_text("#drawn")


def test_a_stop_down_is_the_command_lines_mix(opened, served, render):
    """A dimmer at -1 stop, set by its keys, changes the picture as `dimmer: 50 %` in the file."""
    opened.settled()
    before = opened.pixels().copy()
    opened.page.keyboard.press("2")
    opened.page.keyboard.press("PageDown")
    opened.until("document.activeElement.getAttribute('aria-valuetext') === '−1.0 stops, 50 percent'")
    opened.settled()
    expected = render_of(render, served, "{like: early, lights: {key: {dimmer: 50 %}}}")
    assert code_difference(before, expected) > 10  # The dimmer can be seen at all.
    assert code_difference(opened.pixels(), expected) <= ONE_CODE


def test_tungsten_stop_and_gel_are_the_command_lines_too(opened, served, render):
    """Fading tungsten, a gel, the camera's ISO, shutter, ND, balance and green agree as well."""
    opened.page.evaluate("""() => {
        previz.store.changeLamp("counter", { level: 0.25 });
        previz.store.changeLamp("key", { cct: 3400, duv: 0.004, gel: ["half plus green"] });
        previz.store.changeLamp("rim", { gel: [{ sheet: 1 }, "half ctb"], on: true });
        previz.store.changeLamp("sky", { level: 2, cct: 8000 });
        previz.store.changeCamera({ iso: 1250, shutter: 144, nd: 0.3, white_balance: 3900, green: 0.004 });
    }""")
    opened.settled()
    expected = render_of(render, served, """{like: early, lights: {counter: {dimmer: 25 %},
      key: {cct: 3400 K, duv: 0.004, gel: half plus green}, rim: {gel: [{transmission: 80 %}, half ctb]}},
      daylight: {illuminance: 80 lx, sky_cct: 8000 K},
      cameras: {A: {iso: 1250, shutter: 144 deg, nd: 0.3, white_balance: 3900 K, green: 0.004}}}""")
    assert code_difference(opened.pixels(), expected) <= ONE_CODE


def test_a_saved_look_renders_again_the_same(own_served, render, open_page):
    """Save look writes an option that the command line renders to the picture on the page."""
    opened = open_page(own_served.address)
    page, written = opened.page, (own_served.folder / "canteen.yaml").read_text(encoding="utf-8")
    opened.settled()
    page.keyboard.press("2")
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("3")
    page.keyboard.press("o")
    page.evaluate("previz.store.changeCamera({ white_balance: 5200 })")
    opened.settled()
    shown = opened.pixels().copy()
    page.keyboard.press("k")
    page.keyboard.type("warmer")
    page.keyboard.press("Enter")
    opened.until("document.getElementById('notice').textContent.startsWith('Saved as option')")
    after = (own_served.folder / "canteen.yaml").read_text(encoding="utf-8")
    # The rest of the file is as it was, to the letter.
    assert after.startswith(written)
    assert after[len(written):] == """\
  warmer:
    like: early
    lights:
      key: {dimmer: 93.3033 %}
      rim: {on: no}
    cameras:
      A: {white_balance: 5200 K}
"""
    assert code_difference(shown, render(own_served.folder, "warmer")) <= ONE_CODE
    # The page has read the file again: the option can be chosen, and is what was saved.
    opened.until("previz.store.scene.options.length === 3")
    page.select_option("select[aria-label=Option]", "warmer")
    opened.settled()
    assert code_difference(opened.pixels(), shown) <= ONE_CODE


def test_a_stop_brings_its_own_depth_of_field(desk, folder, put, serve, render, open_page):
    """Frames of the stop that is set take the place of the others, as the command line's do."""
    put(desk, Picture("early", "A", 4.0, "working"), 77)
    page = open_page(serve(folder).address)
    page.settled()
    before = page.page.evaluate("previz.table.frames.key")
    page.page.evaluate("previz.store.changeCamera({ stop: 5.6 })")
    page.settled()
    # Nothing is rendered for T5.6: the light is right at once, the depth of field is said to come.
    assert page.page.evaluate("previz.table.frames.key") == before
    assert page.page.inner_text("#camera .note").startswith("Depth of field as at T2.8; that of T5.6")
    page.page.evaluate("previz.store.changeCamera({ stop: 4 })")
    page.until(f"previz.table.set.key !== '{before}'")
    page.settled()
    add_option(folder, "closed", "{like: early, cameras: {A: {stop: T4}}}")
    assert code_difference(page.pixels(), render(folder, "closed")) <= ONE_CODE


def test_exposure_map_is_painted_as_on_disk(opened, served, developed):
    """The map on the page has the bands, colours and patterns of the map on disk."""
    opened.settled()
    opened.page.keyboard.press("e")
    signal = developed(served.folder, "early").signal
    expected = paint(band_index(signal, stop_bands()), stop_bands())
    same = np.all(opened.pixels() == expected, axis=-1).mean()
    # Half floats move a pixel by 2^-12; of pixels spread over eight stops that many lie at an edge.
    assert same > 0.998
    opened.shown()
    legend = opened.page.locator("#legend li").all_text_contents()
    assert legend == [band.label for band in stop_bands()]


def test_the_map_of_each_camera_ends_at_its_latitude(folder, serve, open_page, developed):
    """Legend and pixels of an option's camera are those of the map on disk: latitude, steps, zones."""
    add_option(folder, "wide", "{like: early, cameras: {A: {latitude: {over: 4.5, under: 7}}}}")
    add_option(folder, "zoned", "{like: wide, map: {steps: half}, "
                                "add: {zones: [{name: skin, stops: -1 to 1}]}}")
    page = open_page(serve(folder).address)
    page.settled()
    page.page.keyboard.press("e")
    for option, made in (("wide", MapSettings()), ("zoned", MapSettings(True, zones=(Zone("skin", -1, 1),)))):
        page.page.select_option("select[aria-label=Option]", option)
        page.settled()
        frame = developed(folder, option)
        held = CameraSettings(2.8, 800, 1 / 48, over=4.5, under=7)
        assert painted(page, frame, made, held) > 0.995
        page.shown()
        labels = page.page.locator("#legend li").all_text_contents()
        if made.zones:
            assert [each.partition(", skin")[0] for each in labels] == ["crushed", "−1 to +1", "clipped",
                                                                       "all else"]
        else:
            assert labels == [band.label for band in stop_bands(made, held)]
            assert labels[1::11] == ["−7", "+4"]


def test_zones_steps_and_clip_are_set_on_the_page(opened, served, developed):
    """What is set on the page is painted as the command line's map, pixel by pixel, and can be undone."""
    opened.settled()
    opened.page.keyboard.press("e")
    opened.shown()
    page, frame = opened.page, developed(served.folder, "early")
    page.click(".zones > summary")
    page.select_option(".zones select", "half")
    opened.until("previz.store.bandsNow.length === 18")
    assert painted(opened, frame, MapSettings(halves=True)) > 0.998
    page.fill(".zones input >> nth=0", "4")
    page.keyboard.press("Enter")
    opened.until("previz.store.bandsNow.at(-1).low === 4")
    assert painted(opened, frame, MapSettings(halves=True, clip=4.0)) > 0.998
    page.click("text=Add a zone")
    page.fill(".zone-name", "skin")
    page.keyboard.press("Enter")
    opened.until("previz.store.bandsNow.some((band) => band.label === 'skin')")
    opened.shown()
    made = MapSettings(halves=True, clip=4.0, zones=(Zone("skin", -0.5, 0.5),))
    assert painted(opened, frame, made) > 0.995
    opened.until("previz.store.zoneShares")
    opened.shown()
    labels = page.locator("#legend li").all_text_contents()
    skin = exposure_map(frame.signal, made=made, still=frame.still).shares()[2]
    share = float(re.fullmatch(r"−0.5 to \+0.5, skin, ([\d.]+) %", labels[1]).group(1))
    # Of 14 400 pixels a few lie at an edge; a tenth of a percent is shown.
    assert share / 100 == pytest.approx(skin, abs=0.002)
    assert [labels[0], *labels[2:]] == ["crushed", "clipped", "all else"]
    # Another page, and the program's own map, have the same.
    change = page.evaluate("JSON.stringify(previz.store.changes.zones)")
    assert json.loads(change) == {"steps": "half", "clip": 4,
                                  "zones": [{"name": "skin", "low": -0.5, "high": 0.5}]}
    for _ in range(5):
        page.evaluate("previz.store.undo()")
    opened.until("!previz.store.changes.zones")
    assert painted(opened, frame, MapSettings()) > 0.998


def test_zones_that_cannot_be_are_said_on_the_page(opened):
    """Zones over each other stay as they were painted, and the page says what is wrong."""
    opened.expected = "400 (Bad Request)"
    opened.settled()
    opened.page.keyboard.press("e")
    opened.page.evaluate("previz.store.set({ zones: { zones: [{ name: 'skin', low: -1, high: 1 }, "
                         "{ name: 'sky', low: 0.5, high: 2 }] } })")
    opened.until("document.querySelector('.zones [role=alert]').textContent.includes('lies over')")


def painted(opened, frame, made, camera=None):
    """Return the share of pixels that the page has as a map on disk; of grey, within four codes."""
    expected = exposure_map(frame.signal, made=made, settings=camera, still=frame.still)
    opened.settled()
    there = opened.pixels().astype(int)
    grey = np.array([band.mark == "grey" for band in expected.bands])[expected.index]
    return np.all(np.abs(there - expected.picture()) <= np.where(grey, 4, 0)[..., None], axis=-1).mean()


def test_difference_reports_a_stop(opened):
    """With the lens a stop closed, every pixel is one stop under the pinned look."""
    opened.settled()
    opened.page.keyboard.press("p")
    opened.page.evaluate("previz.store.changeCamera({ iso: 400 })")
    opened.page.keyboard.press("d")
    opened.settled()
    assert opened.page.evaluate("previz.picture.pin !== null")
    bands = difference_bands()
    # Exactly -1 stop is the edge of two bands; rounding may put a pixel into either.
    near = [band["colour"] for band in bands if -1 in (band["low"], band["high"])]
    found = {tuple(colour) for colour in opened.pixels().reshape(-1, 3).tolist()}
    assert found <= {tuple(colour) for colour in near}


def test_wipe_shows_the_pinned_look_on_the_left(opened):
    """Left of the wipe is the pinned look, right of it the one in hand."""
    opened.settled()
    pinned = opened.pixels().copy()
    opened.page.keyboard.press("p")
    opened.until("previz.picture.pin")
    opened.page.evaluate("previz.store.changeCamera({ iso: 200 })")
    opened.settled()
    now = opened.pixels().copy()
    opened.page.keyboard.press("w")
    wiped = opened.pixels()
    half = wiped.shape[1] // 2
    assert code_difference(wiped[:, : half - 1], pinned[:, : half - 1]) <= ONE_CODE
    assert code_difference(wiped[:, half + 1 :], now[:, half + 1 :]) <= ONE_CODE
    assert code_difference(pinned, now) > 10


def test_colours_follow_exactly_while_the_hand_moves(opened, cleaned, served, live_mix):
    """Before it settles, the mix on the GPU is the sum of the cleaned lamps, new colour and all."""
    cleaned(served.folder, "early")
    opened.page.evaluate("previz.table.load()")
    opened.until("previz.table.frames?.clean?.every(Boolean) && previz.table.resting")
    opened.page.evaluate("previz.store.changeLamp('key', { cct: 3000, level: 0.7 })")
    opened.until("JSON.parse(previz.table.set.colours.get('key'))[0] === 3000")
    look = {"lamps": {"key": {"cct": 3000, "level": 0.7}}}
    expected = live_mix(served.folder, "early", json.dumps(look))
    assert code_difference(opened.pixels(moving=True), expected) <= ONE_CODE


def test_fading_tungsten_keeps_its_colour_while_the_hand_moves(opened, cleaned, served, live_mix):
    """A tungsten lamp three stops down is as warm under the hand as it is at rest."""
    cleaned(served.folder, "early")
    opened.page.evaluate("previz.table.load()")
    opened.until("previz.table.frames?.clean?.every(Boolean) && previz.table.resting")
    opened.page.evaluate("""() => { previz.store.changeLamp("counter", { level: 0.125 });
        for (const name of ["key", "rim", "sky"]) previz.store.changeLamp(name, { on: false });
        previz.store.changeCamera({ iso: 6400 }); }""")
    look = {"lamps": {"counter": {"level": 0.125}, "key": {"on": False}, "rim": {"on": False},
                      "sky": {"on": False}}, "cameras": {"A": {"iso": 6400}}}
    expected = live_mix(served.folder, "early", json.dumps(look))
    difference = np.abs(opened.pixels(moving=True).astype(int) - expected)
    # One matrix stands for the change of twelve bands, fitted over saturated stripes: four codes
    # at the worst pixel are 2 % of the light, and it is exact again at rest.
    assert difference.max() <= 5
    assert difference.mean() < 0.4


def test_meters_are_worked_out_like_the_reports(opened, served, about, gathered):
    """Lux, error, T-stop, stops and CCT in the table are those of the program's own readings."""
    opened.page.evaluate("previz.store.changeLamp('key', { level: 0.3 })")
    opened.metered()
    request = about(served.folder, "early", json.dumps({"lamps": {"key": {"level": 0.3}}}))
    batches = gathered(served.folder, "early")
    mixed = metering.mix(batches, request.lamps(), stage_colours(request.stage))
    note = meter_report.CameraNote("A", request.settings)
    rows = opened.page.locator("#face-table tbody tr").all()
    assert len(rows) == 2
    for row in rows:
        name, cells = row.locator("th").inner_text(), row.locator("td").all_inner_texts()
        result = meter_report.receptor(mixed[name], [note])
        lux, ev, stop, over, kelvins, duvs = (cell.split("\n") for cell in cells)
        # Three figures of lux; a tenth of an EV, of a T-stop and of a stop.
        assert number(lux[0]) == pytest.approx(result.light.value, rel=6e-3)
        # Of this mix, not of the levels as written.
        assert number(lux[1].lstrip("± ")) == pytest.approx(result.light.error, abs=0.51)
        assert number(ev[0]) == pytest.approx(result.ev100, abs=0.051)
        assert number(stop[0].lstrip("T")) == pytest.approx(result.stops[0][1], abs=0.051)
        assert number(over[0]) == pytest.approx(
            metering.from_working(result.light, request.settings).value, abs=0.051)
        # Black bodies lie 1 % apart on the page.
        kelvin, duv = cct_duv(xy_from_xyz(mixed[name].xyz.mean(axis=0).sum(axis=(0, 1))))
        assert number(kelvins[0].removesuffix(" K")) == pytest.approx(kelvin, abs=3)
        assert number(duvs[0]) == pytest.approx(duv, abs=1.2e-4)


def test_a_reading_on_few_paths_is_reported(opened):
    """Where the key alone stands on two contributions, that is said while it gives light, and only then."""
    page = opened.page
    opened.metered()
    note = page.locator("#face-table .tables > p").last
    assert not note.is_visible()

    def spoil(route):
        result = route.fetch().json()
        key = result["lamps"].index("key")
        result["few"]["support"][0][key] = 2.0
        result["few"]["parts"][0] = [float(lamp == key) for lamp in range(len(result["lamps"]))]
        result["few"]["counts"] = 1e-6
        route.fulfill(json=result)

    page.route("**/meters.json*", spoil)
    page.evaluate("previz.store.changeLamp('key', { cct: 2600 })")
    opened.metered()
    first = page.locator("#face-table tbody th").first.inner_text()
    assert note.inner_text() == f"{first}: ± is not to be trusted. {ON_FEW}"
    page.evaluate("previz.store.changeLamp('key', { level: 0 })")
    opened.metered()
    assert not note.is_visible()
    page.unroute("**/meters.json*")


def test_meters_requested_last_are_the_ones_shown(opened):
    """An answer about colours that have changed since is not shown, however late it comes."""
    page = opened.page
    opened.metered()
    as_written = page.inner_text("#face-table tbody")
    held = []
    page.route("**/meters.json*", lambda route: route.continue_() if held else held.append(route))
    page.evaluate("previz.store.changeLamp('key', { cct: 2500 })")
    held_till(page, held, 1)
    page.evaluate("previz.store.changeLamp('key', { cct: 4300 })")
    opened.metered()
    assert page.inner_text("#face-table tbody") == as_written
    with page.expect_response("**/meters.json*"):
        held[0].continue_()
    page.unroute("**/meters.json*")
    page.evaluate("new Promise((done) => setTimeout(done, 200))")
    assert page.inner_text("#face-table tbody") == as_written
    # The lamp's colour counts at all, and coming back to it asks anew.
    page.evaluate("previz.store.changeLamp('key', { cct: 2500 })")
    opened.metered()
    assert page.inner_text("#face-table tbody") != as_written


def held_till(page, held, count, seconds=30):
    """Wait until so many requests are held back."""
    end = time.monotonic() + seconds
    while len(held) < count:
        assert time.monotonic() < end
        page.wait_for_timeout(20)


def number(text):
    return float(text.replace("\u202f", "").replace("−", "-"))


def test_spot_meter_shares(opened, served, about):
    """The spot meter's luminance and each lamp's share are those of the frames as rendered."""
    opened.settled()
    opened.page.evaluate("previz.spot.point(0.31, 0.4)")
    opened.until("!previz.spot.busy")
    opened.until("document.getElementById('spot-line').textContent.startsWith('Spot on')")
    request = about(served.folder, "early")
    rows, columns = request.found.frames.shape
    row, column = np.mgrid[:rows, :columns]
    # One degree across: a 24 mm lens on 24.89 mm of sensor has 2 · tan(half) = 24.89 / 24.
    radius = max(1.5, np.tan(np.radians(0.5)) / (24.89 / 24) * columns)
    seen = (row - 0.4 * (rows - 1)) ** 2 + (column - 0.31 * (columns - 1)) ** 2 <= radius**2
    light = {lamp.name: lamp_xyz(request.found.frames, lamp)[1][seen].mean()
             for lamp in request.lamps()}
    line = opened.page.locator("#spot-line").inner_text()
    whole = float(re.search(r": ([\d.]+) ± [\d.]+ cd/m²", line)[1])
    assert whole == pytest.approx(sum(light.values()), rel=6e-3)  # Three figures are shown.
    for lamp in opened.page.locator(".lamp").all():
        share = light[lamp.get_attribute("data-lamp")] / sum(light.values())
        assert lamp.locator(".at-spot").inner_text() == f"{100 * share:.0f} % at the spot"
