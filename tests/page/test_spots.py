"""Spots that are held in the picture: by mouse, by keyboard, kept, and read as the program reads them."""

import json
import math
import re

import numpy as np
import pytest

from previz.errors import DataError
from previz.exposure.mix import lamp_xyz
from previz.page.answers import ANSWERS
from previz.page.spots import MOST_SPOTS, held_of
from previz.physics.colourtemp import cct_duv, xy_from_xyz
from previz.physics.exposure import signal_per_luminance
from previz.physics.light import lamp_band_xyz, lamps_band_errors
from previz.physics.transfer import bt709_signal
from previz.stage.colours import stage_colours

PLACES = ((0.31, 0.4), (0.7, 0.3))


def ask(desk, path, **query):
    """Return an answer of the server as plain values."""
    return json.loads(ANSWERS[path](desk, {key: str(value) for key, value in query.items()}).body)


def test_many_spots_are_one_question(desk):
    """Each of several spots is what the same place alone is, with the frames that all are read off."""
    of = {"option": "early", "camera": "A", "look": '{"lamps": {"counter": {"level": 0.2}}}'}
    many = ask(desk, "spots.json", **of, at=json.dumps(PLACES))
    for spot, (x, y) in zip(many["spots"], PLACES, strict=True):
        alone = ask(desk, "spot.json", **of, x=x, y=y)
        assert alone == {"key": many["key"], "width": many["width"], **spot}
    assert ask(desk, "spots.json", **of, at="[]")["spots"] == []


@pytest.mark.parametrize(("at", "words"), [
    ("", "'at' is a list of [x, y] from 0 to 1"), ("{}", "'at' is a list"), ("[[0.5]]", "'at' is a list"),
    ("[[0.5, 1.5]]", "'at' is a list"), ("[[true, 0]]", "'at' is a list"), ("[[NaN, 0]]", "'at' is a list"),
    (json.dumps([[0.5, 0.5]] * (MOST_SPOTS + 1)), f"'at' has 13 spots, {MOST_SPOTS} at most")])
def test_what_is_no_list_of_spots_is_refused(desk, at, words):
    """A question about anything but a bounded list of places in the picture is refused in words."""
    with pytest.raises(DataError, match=re.escape(words)):
        ask(desk, "spots.json", option="early", camera="A", at=at)


@pytest.mark.parametrize("text", ["[", "[]", '{"A": {}}', '{"A": [{"x": 0, "y": 0}]}',
                                  '{"A": [{"name": "", "x": 2, "y": 0}]}'])
def test_what_are_no_held_spots_is_refused(text):
    """Spots for a file that is handed out are names and places, for each camera."""
    with pytest.raises(DataError):
        held_of(text)


def read_by_hand(request, x, y):
    """Return each lamp's light at a spot of a shot, its error by the picture's noise, and by bands."""
    frames = request.found.frames
    rows, columns = frames.shape
    row, column = np.mgrid[:rows, :columns]
    # One degree across: a 24 mm lens on 24.89 mm of sensor has 2 · tan(half) = 24.89 / 24.
    radius = max(1.5, np.tan(np.radians(0.5)) / (24.89 / 24) * columns)
    seen = (row - y * (rows - 1)) ** 2 + (column - x * (columns - 1)) ** 2 <= radius**2
    light, noise, bands = {}, {}, {}
    for lamp in request.lamps():
        number = frames.lights.index(lamp.name)
        light[lamp.name] = lamp_xyz(frames, lamp)[:, seen].mean(axis=1)
        weight = lamp_band_xyz(lamp, 12)[:, 1].sum()
        noise[lamp.name] = math.sqrt(frames.variance[number][seen].sum()) / seen.sum() * weight
        mean = np.asarray(frames.slices[number])[:, seen].mean(axis=1, dtype=float)
        bands[lamp.name] = float(lamps_band_errors(mean[None], [lamp], stage_colours(request.stage))[0])
    return light, noise, bands


def held_against(reading, request):
    """Hold one reading of the page against the frames under the levels of a shot, errors too."""
    light, noise, bands = read_by_hand(request, reading["x"], reading["y"])
    xyz = np.sum(list(light.values()), axis=0)
    assert reading["luminance"] == pytest.approx(xyz[1], rel=1e-5)
    error = math.hypot(*noise.values(), sum(bands.values()))
    assert reading["error"] == pytest.approx(error, rel=1e-5)
    signal = xyz[1] * signal_per_luminance(request.settings)
    assert reading["stops"] == pytest.approx(math.log2(signal / 0.18), abs=1e-5)
    assert reading["stopsError"] == pytest.approx(error / xyz[1] / math.log(2), rel=1e-5)
    assert reading["percent"] == pytest.approx(100 * float(bt709_signal(min(signal, 1.0))), abs=0.05)
    kelvin, duv = cct_duv(xy_from_xyz(xyz))
    assert reading["colour"]["kelvin"] == pytest.approx(kelvin, rel=1e-3)
    assert reading["colour"]["duv"] == pytest.approx(duv, abs=1e-4)
    # Each lamp's light more or less by its noise, in the lamp's own colour there; from a thousandth of it,
    # so that this is the slope and nothing of what is bent.
    draws = 1 + 1e-3 * np.random.default_rng(3).standard_normal((4000, len(light))) * np.array(
        [noise[name] / light[name][1] if light[name][1] > 0 else 0.0 for name in light])
    around = np.array([cct_duv(xy_from_xyz(each)) for each in draws @ np.array(list(light.values()))])
    for number, name in enumerate(("kelvinError", "duvError")):
        # 4000 draws know a spread to 1.1 %; the page's slopes are of a table with 1 % steps, and so good to
        # some 6 %, or a tenth of the last figure that is shown.
        expected = 1e3 * around[:, number].std()
        assert reading["colour"][name] == pytest.approx(expected, rel=0.06, abs=(0.1, 1e-5)[number])
    for each in reading["shares"]:
        assert each["share"] == pytest.approx(light[each["name"]][1] / xyz[1], abs=1e-6)


def readings(opened):
    """Return what the page reads at its held spots."""
    return opened.page.evaluate("previz.spots.readings")


def click_at(opened, x, y):
    box = opened.page.locator("#frame").bounding_box()
    opened.page.mouse.click(box["x"] + box["width"] * x, box["y"] + box["height"] * y)


def all_read(opened, count):
    """Wait until so many spots are held and read, as things are set now."""
    opened.until(f"previz.spots.readings.length === {count} && !previz.spots.busy"
                 " && previz.spots.readings.every((each) => each.known && !each.behind)")
    opened.shown()


def hold(opened, places=PLACES):
    """Hold spots by clicks, and wait for what is read."""
    opened.settled()
    for place in places:
        click_at(opened, *place)
    all_read(opened, len(places))


@pytest.mark.slow
def test_two_spots_stay_while_a_level_moves(opened, served, about):
    """Held by clicks they follow a level without a question, and read what the program reads."""
    hold(opened)
    before = readings(opened)
    opened.requests.clear()
    page = opened.page
    page.focus("[data-lamp='key'] .level")
    for _ in range(2):
        page.keyboard.press("PageDown")
        opened.shown()
    now = readings(opened)
    assert not [each for each in opened.requests if "spots.json" in each]
    look = json.dumps({"lamps": {"key": {"level": 0.25}}})
    for reading, earlier in zip(now, before, strict=True):
        assert abs(earlier["luminance"] / reading["luminance"] - 1) > 0.01
        assert earlier["error"] != reading["error"]
        # Where a click falls is rounded to whole pixels.
        assert min(math.hypot(reading["x"] - x, reading["y"] - y) for x, y in PLACES) < 2e-3
        held_against(reading, about(served.folder, "early", look))
    opened.until("!previz.table.moving")
    opened.shown()
    for row, reading in zip(page.locator(".held-table tbody").all(), now, strict=True):
        cells = row.locator("tr:first-child td").all_inner_texts()
        value, off = cells[2].split("\n")
        assert float(value) == pytest.approx(reading["luminance"], rel=6e-3)
        assert float(off.removeprefix("± ")) == pytest.approx(reading["error"], abs=0.006)
        assert float(cells[3]) == pytest.approx(math.log2(100 * reading["luminance"] / 12.5), abs=0.051)
        shown = {each["name"]: f"{100 * each['share']:.0f} %" for each in reading["shares"]}
        for part in row.locator(".parts li").all():
            name, share = part.inner_text().split("\n")
            # Python rounds a half to even, the page away from nothing.
            assert abs(int(share[:-2]) - int(shown[name][:-2])) <= 1


@pytest.mark.slow
def test_a_lamp_that_fades_warmer_is_read_anew(opened, served, about):
    """A tungsten lamp's colour goes with its level, and the spots' colour temperature with that."""
    hold(opened)
    opened.page.evaluate("previz.store.changeLamp('counter', { level: 0.1 })")
    assert all(each["behind"] for each in readings(opened))
    all_read(opened, 2)
    for reading in readings(opened):
        held_against(reading, about(served.folder, "early", '{"lamps": {"counter": {"level": 0.1}}}'))


@pytest.mark.slow
def test_names_and_letting_go(opened):
    """A name is written in the table and on the ring; spots go one by one or all; each step can be undone."""
    hold(opened)
    page = opened.page
    page.fill(".spot-name >> nth=1", "  north wall by the hatch ")
    page.keyboard.press("Enter")
    opened.shown()
    key = "previz.store.changes['spots|early|A']"
    assert [each["name"] for each in page.evaluate(key)] == ["", "north wall by the hatch"]
    assert page.evaluate("document.activeElement.ariaLabel") == "Spot 2, north wall by the hatch"
    page.click("[aria-label='Spot 1, remove']")
    opened.shown()
    assert [each["name"] for each in page.evaluate(key)] == ["north wall by the hatch"]
    assert page.locator(".held-marks .handle").count() == page.locator(".ring.kept").count() == 1
    page.keyboard.press("Control+z")
    opened.shown()
    assert [each["name"] for each in page.evaluate(key)] == ["", "north wall by the hatch"]
    page.click("text=Remove all spots")
    opened.shown()
    assert page.evaluate(f"{key} === undefined")
    assert not page.is_visible(".held-table")
    assert page.evaluate("document.activeElement === previz.picture.element")
    for _ in range(3):
        page.keyboard.press("Control+z")
    opened.shown()
    assert page.evaluate(f"{key}.length") == 1


@pytest.mark.slow
def test_by_keyboard(opened):
    """M and arrows point, Enter holds; on the ring arrows move, Enter names, Delete removes."""
    opened.settled()
    page, press = opened.page, opened.page.keyboard.press
    press("m")
    press("ArrowRight")
    press("Shift+ArrowDown")
    press("Enter")
    assert page.evaluate("previz.store.changes['spots|early|A']") == [{"name": "", "x": 0.51, "y": 0.55}]
    opened.shown()
    press("Tab")
    assert page.evaluate("document.activeElement.ariaLabel") == "Spot 1"
    press("ArrowLeft")
    press("ArrowUp")
    spot = page.evaluate("previz.store.changes['spots|early|A'][0]")
    assert (spot["x"], spot["y"]) == pytest.approx((0.5, 0.54))
    all_read(opened, 1)
    press("Enter")
    assert page.evaluate("document.activeElement.ariaLabel") == "Spot 1, name"
    page.keyboard.type("counter top")
    press("Enter")
    opened.shown()
    press("Delete")
    assert page.evaluate("previz.store.changes['spots|early|A'] === undefined")
    assert page.evaluate("document.activeElement === previz.picture.element")


@pytest.mark.slow
def test_a_ring_is_dragged(opened, served, about):
    """It follows the hand, which is one step to undo, and reads what is there."""
    hold(opened, PLACES[:1])
    box, page = opened.page.locator("#frame").bounding_box(), opened.page
    at = [(box["x"] + box["width"] * x, box["y"] + box["height"] * y) for x, y in PLACES]
    page.mouse.move(*at[0])
    page.mouse.down()
    page.mouse.move((at[0][0] + at[1][0]) / 2, at[1][1], steps=3)
    page.mouse.move(*at[1], steps=3)
    page.mouse.up()
    all_read(opened, 1)
    reading, = readings(opened)
    assert (reading["x"], reading["y"]) == pytest.approx(PLACES[1], abs=2e-3)
    assert page.evaluate("document.activeElement.ariaLabel") == "Spot 1"
    held_against(reading, about(served.folder, "early"))
    page.keyboard.press("Control+z")
    spot, = page.evaluate("previz.store.changes['spots|early|A']")
    assert (spot["x"], spot["y"]) == pytest.approx(PLACES[0], abs=2e-3)


@pytest.mark.slow
def test_each_camera_has_its_own(opened):
    """Another camera shows its own spots, none of this one's, and coming back they are there."""
    hold(opened)
    opened.page.keyboard.press("c")
    opened.shown()
    assert opened.page.locator(".held-marks .handle").count() == 0
    opened.settled()
    click_at(opened, 0.2, 0.2)
    all_read(opened, 1)
    assert opened.page.evaluate("Object.keys(previz.store.changes)") == ["spots|early|A", "spots|early|B"]
    opened.page.keyboard.press("c")
    opened.shown()
    assert len(readings(opened)) == 2


@pytest.mark.slow
def test_they_are_over_every_picture(opened):
    """Still, exposure map and difference all have the rings, and none moves."""
    hold(opened)
    page = opened.page
    where = page.locator(".held-marks .handle").first.bounding_box()
    page.keyboard.press("p")
    for mode in ("e", "d"):
        page.keyboard.press(mode)
        opened.shown()
        assert page.locator(".held-marks .handle").first.bounding_box() == where
        assert page.locator(".ring.kept").count() == 2
    assert where["width"] >= 24 and where["height"] >= 24


@pytest.mark.slow
def test_what_is_not_rendered_is_said(open_page, own_served):
    """With a lamp moved there is no picture yet: no number stands there, in words why."""
    opened = open_page(own_served.address)
    hold(opened, PLACES[:1])
    opened.requests.clear()
    opened.page.evaluate(
        "previz.store.set({ 'early|place|lights|key': { at: ['2 m', '0.5 m', '2 m'] } })")
    opened.until("!previz.spots.busy && previz.table.framesNow === null")
    opened.shown()
    row = opened.page.locator(".held-table tbody tr:first-child").inner_text()
    assert "not rendered yet" in row
    assert not re.search(r"\d\.\d", row)
    # Nor is asked for what is sure to be refused; the picture itself is, once.
    assert not [each for each in opened.requests if "spot" in each]
    opened.expected = "400 (Bad Request)"
    opened.page.keyboard.press("Control+z")
    opened.settled()
    all_read(opened, 1)


@pytest.mark.slow
def test_there_are_so_many_and_no_more(opened):
    """Twelve are held; one more is refused in words, and what is no spot in the file is left out."""
    opened.settled()
    page = opened.page
    twelve = [{"name": "", "x": number / 20, "y": 0.5} for number in range(12)]
    page.evaluate("(list) => previz.store.set({ 'spots|early|A': list })", twelve)
    opened.requests.clear()
    all_read(opened, 12)
    assert len([each for each in opened.requests if "spots.json" in each]) <= 1
    click_at(opened, 0.5, 0.9)
    assert page.inner_text("#notice") == "12 spots are held, which is the most. Remove one first."
    assert len(page.evaluate("previz.store.changes['spots|early|A']")) == 12
    page.evaluate("""previz.store.set({ 'spots|early|A':
        [{ x: 3, y: 0 }, null, 7, { x: 0.5, y: 0.5, name: 9 }] })""")
    all_read(opened, 1)
    assert readings(opened)[0]["name"] == ""
    page.click("#notice-close")


@pytest.mark.slow
def test_they_come_back(own_served, open_page):
    """Another page has them at once, and a page that is opened anew has them, names too."""
    one, two = open_page(own_served.plain), open_page(own_served.plain)
    one.until("previz.table.frames?.key")
    click_at(one, *PLACES[0])
    one.page.fill(".spot-name", "bench")
    one.page.keyboard.press("Enter")
    one.kept()
    two.until("previz.spots.readings[0]?.name === 'bench'")
    again = open_page(own_served.plain)
    all_read(again, 1)
    assert again.page.input_value(".spot-name") == "bench"
    assert again.page.locator(".held-marks .number").inner_text() == "1"


@pytest.mark.slow
def test_other_units(opened):
    """Footcandles and footlamberts: 10.764 lx and 3.426 cd/m² each (check value 3.10)."""
    hold(opened, PLACES[:1])
    opened.metered()
    page = opened.page
    reading, = readings(opened)

    def first(selector):
        return float(page.locator(selector).first.locator(".value").first.inner_text().replace("\u202f", ""))

    lux = first("#face-table tbody tr")
    page.select_option("#face-table select", "fc")
    opened.shown()
    assert page.locator("#face-table thead th").nth(1).inner_text() == "fc"
    assert "fL" in page.locator(".held-table thead").inner_text()
    assert first("#face-table tbody tr") == pytest.approx(lux / 10.7639, rel=6e-3)
    assert first(".held-table tbody tr") == pytest.approx(reading["luminance"] / 3.42626, rel=6e-3)
    page.select_option("#face-table select", "lx")


@pytest.mark.slow
def test_lines_over_the_picture(opened):
    """What stands over a full picture is the table's own numbers, in a few words."""
    hold(opened, PLACES[:1])
    opened.metered()
    lines = opened.page.evaluate("""async () => {
        const { readingLines } = await import(new URL("overlay_readings.js", document.baseURI));
        return readingLines(previz); }""")
    reading, = readings(opened)
    line, = lines
    assert line["label"] == f"1 {reading['thing']}"
    amount, stops = line["numbers"]
    value, sign, off, unit = amount.split()
    assert (sign, unit) == ("±", "cd/m²") and line["behind"] is False
    assert float(value) == pytest.approx(reading["luminance"], rel=6e-3)
    assert float(off) == pytest.approx(reading["error"], abs=0.051)
    # Each number has the error that is its own: in stops that is the share over the logarithm of 2.
    value, sign, off, unit = stops.split()
    assert value == f"{reading['stops']:+.1f}".replace("-", "−") and unit == "stops"
    assert float(off) == pytest.approx(reading["error"] / reading["luminance"] / np.log(2), abs=0.0051)


@pytest.mark.slow
def test_in_a_file_that_is_handed_out(desk, cleaned, tmp_path, open_page, about):
    """Held spots are in the file with their lamps and errors; new ones are read off its pictures, to 1 %."""
    cleaned(desk.path.parent, "early")
    spots = {"A": [{"name": "bench", "x": 0.31, "y": 0.4}], "B": []}
    path = tmp_path / "lights.html"
    path.write_bytes(ANSWERS["handout.html"](desk, {
        "option": "early", "camera": "A", "look": '{"lamps": {"key": {"level": 0.5}}}',
        "spots": json.dumps(spots)}).body)
    page = open_page(path.as_uri(), offline=True)
    all_read(page, 1)
    page.until("previz.table.set && !previz.table.drawing")
    page.page.evaluate("previz.store.changeLamp('key', { level: 0.25 })")
    held_against(readings(page)[0], about(desk.path.parent, "early", '{"lamps": {"key": {"level": 0.25}}}'))
    click_at(page, 0.7, 0.3)
    all_read(page, 2)
    reading = readings(page)[1]
    assert reading["error"] is None and reading["thing"] is None
    request = about(desk.path.parent, "early", '{"lamps": {"key": {"level": 0.25}}}')
    expected = packed_light(request, reading["x"], reading["y"])
    assert reading["luminance"] == pytest.approx(expected, rel=0.01)
    assert page.page.locator(".held-table tbody").nth(1).locator(".off").first.inner_text() == ""
    assert "Where no ± stands, the noise of the picture is not known." in page.page.inner_text("#spot")


def packed_light(request, x, y):
    """Return the luminance at a place of the cleaned lamps that a file has, under the levels of a shot."""
    total = 0.0
    for lamp in request.lamps():
        _, picture, _ = request.lamp_alone(request.found.frames.lights.index(lamp.name))
        rows, columns = picture.shape[:2]
        row, column = np.mgrid[:rows, :columns]
        radius = max(1.5, np.tan(np.radians(0.5)) / (24.89 / 24) * columns)
        seen = (row - y * (rows - 1)) ** 2 + (column - x * (columns - 1)) ** 2 <= radius**2
        total += lamp.level * lamp.on * picture[..., 1][seen].mean()
    return total / signal_per_luminance(request.settings)
