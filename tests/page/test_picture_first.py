"""The screen: the picture first, all else within a click, thirty lamps, and the picture alone."""

import pytest
from furnished import SCENE

pytestmark = pytest.mark.slow

BOX = """(id) => { const { x, y, width, height } = document.getElementById(id).getBoundingClientRect();
    return [x, y, width, height]; }"""


def share(opened):
    """Return how much of the window the picture takes. [1]"""
    size = opened.page.viewport_size
    x, y, width, height = opened.page.evaluate(BOX, "frame")
    # Only what is in the window counts.
    wide = min(size["width"], x + width) - max(0, x)
    high = min(size["height"], y + height) - max(0, y)
    return wide * high / (size["width"] * size["height"])


def resized(opened, width, height):
    opened.page.set_viewport_size({"width": width, "height": height})
    opened.shown()
    # What is always in sight is measured, and the picture follows.
    opened.shown()


@pytest.mark.parametrize(("size", "least"), [((1440, 900), 0.60), ((1920, 1080), 0.60), ((1140, 600), 0.53)])
def test_the_picture_has_most_of_a_desks_window(opened, size, least):
    """A 16:9 picture has 60 % of 1440 x 900 and more, whole and undistorted, with all lines around it."""
    resized(opened, *size)
    opened.page.keyboard.press("e")  # With its legend.
    opened.shown()
    assert share(opened) >= least
    x, y, width, height = opened.page.evaluate(BOX, "frame")
    assert width / height == pytest.approx(16 / 9, rel=0.01)
    foot = opened.page.evaluate(BOX, "foot")
    legend = opened.page.evaluate(BOX, "legend")
    assert x >= 0 and y >= 0 and y + height <= legend[1] and legend[1] + legend[3] <= foot[1]
    # One line each.
    assert opened.page.evaluate(BOX, "head")[3] <= 40 and foot[3] <= 36
    assert opened.page.evaluate(BOX, "lamps")[2] <= 260


@pytest.mark.parametrize("aspect", [1.3333, 2.39])
def test_other_pictures_are_as_large_as_their_shape_lets_them_be(opened, aspect):
    """They fill the room in width or in height."""
    resized(opened, 1440, 900)
    shape = "(aspect) => document.documentElement.style.setProperty('--aspect', String(aspect))"
    opened.page.evaluate(shape, aspect)
    opened.shown()
    x, y, width, height = opened.page.evaluate(BOX, "frame")
    head, foot, below = (opened.page.evaluate(BOX, each)[3] for each in ("head", "foot", "tools"))
    room = (1440 - opened.page.evaluate(BOX, "lamps")[2] - 2, 900 - head - foot - below)
    assert width / height == pytest.approx(aspect, rel=0.01)
    assert width == pytest.approx(room[0], abs=3) or height == pytest.approx(room[1], abs=3)
    opened.page.evaluate("document.documentElement.style.setProperty('--aspect', '1.7778')")


def test_every_panel_is_a_click_away(opened):
    """A panel comes beside the picture, which gets smaller and stays whole, and goes back where it was."""
    resized(opened, 1440, 900)
    order = "[...document.querySelectorAll('#bench > section')].map((each) => each.id)"
    before, whole = opened.page.evaluate(order), share(opened)
    for button in opened.page.locator("#panels button:visible").all():
        button.click()
        opened.shown()
        panel = button.get_attribute("aria-controls")
        assert button.get_attribute("aria-pressed") == "true"
        assert opened.page.evaluate("document.querySelector('#beside > section').id") == panel
        x, y, width, height = opened.page.evaluate(BOX, panel)
        assert x >= opened.page.evaluate(BOX, "frame")[2] and y < 60 and y + 40 < 900
        assert 0.15 < share(opened) < whole
        assert opened.page.evaluate("document.documentElement.scrollWidth") <= 1440
    opened.page.keyboard.press("v")
    opened.shown()
    assert opened.page.evaluate("document.getElementById('beside').hidden")
    assert opened.page.evaluate(order) == before and share(opened) == pytest.approx(whole)


def test_a_notice_moves_nothing(opened):
    """What is said comes over the page: the picture stays as large as it was."""
    resized(opened, 1140, 600)
    before = opened.page.evaluate(BOX, "frame")
    opened.page.evaluate("previz.fault('Nothing came of it.')")
    opened.shown()
    assert opened.page.evaluate(BOX, "frame") == before
    opened.page.click("#fault-close")


# The picture alone

OVER = """() => ({
    levels: [...document.querySelectorAll(".over-levels li")]
        .map((each) => each.innerText.replace(/\\s+/g, " ")),
    caution: document.querySelector(".over-caution").innerText,
    shown: ["lamps", "bench", "acts", "below"].filter((id) => document.getElementById(id).checkVisibility()),
})"""


def test_full_screen_has_levels_readings_and_cautions(opened):
    """F brings the picture alone; the same keys work over it, and Escape leaves it."""
    page = opened.page
    resized(opened, 1440, 900)
    opened.settled()
    page.keyboard.press("2")
    page.keyboard.press("f")
    opened.until("document.documentElement.classList.contains('big')")
    opened.shown()
    found = page.evaluate(OVER)
    assert found["shown"] == []
    assert found["levels"] == ["Master 0.0", "1counter 0.0", "2key 0.0", "3rim −0.7", "4sky 0.0"]
    assert found["caution"].startswith("Cautions: ") and "(NEC 210.20(A))." in found["caution"]
    width, height = page.evaluate("[innerWidth, innerHeight]")
    _, _, wide, high = page.evaluate(BOX, "frame")
    assert wide == pytest.approx(min(width, height * 16 / 9), abs=1)
    # The lamp that was in hand still is, and its level is moved over the picture.
    page.keyboard.press("PageDown")
    page.keyboard.press("3")
    page.keyboard.press("o")
    opened.shown()
    assert page.evaluate("[previz.store.lamp('key').level, previz.store.lamp('rim').on]") == [0.5, False]
    assert page.evaluate(OVER)["levels"][2:4] == ["2key −1.0", "3rim off"]
    page.keyboard.press("Escape")
    opened.until("!document.documentElement.classList.contains('big') && !document.fullscreenElement")
    assert page.evaluate("previz.lamps.held") == "rim"
    assert page.evaluate(BOX, "lamps")[2] > 200


def test_readings_of_faces_stand_over_the_picture(opened):
    """Each face has its lit side, its shadow side and their ratio over it."""
    opened.metered()
    opened.page.evaluate("""() => {
        const { readings, store, big } = previz;
        // The furnished scene has no figure: its one meter stands for both cheeks of one.
        const { meters } = readings, twice = (list) => [list[0], list[0]];
        previz.kept = [meters, store.optionNow.faces];
        readings.meters = { ...meters, names: ["fitter: left cheek", "fitter: right cheek"], cheeks: {},
            xyz: twice(meters.xyz), bands: twice(meters.bands), spread: twice(meters.spread),
            few: Object.fromEntries(Object.entries(meters.few)
                .map(([name, each]) => [name, Array.isArray(each) ? twice(each) : each])) };
        store.optionNow.faces = ["fitter"];
        big.toggle();
    }""")
    opened.shown()
    lines = opened.page.locator(".over-readings li").all_inner_texts()
    assert [each.split("\n")[0].split("\t")[0][:22] for each in lines][:3] == [
        "fitter, lit side", "fitter, shadow side", "fitter, lit : shadow"]
    assert "1" in lines[2]
    # What waits for an answer is still there to be read, and waits no more once that has come.
    waits, after = opened.page.evaluate("""() => [{}, null].map((request) => {
        previz.metersRequest = request;
        previz.showFigures();
        return [...document.querySelectorAll(".over-readings li.behind")]
            .map((each) => getComputedStyle(each).visibility); })""")
    assert set(waits) == {"visible"} and after == []
    opened.page.evaluate("""() => { previz.big.end();
        [previz.readings.meters, previz.store.optionNow.faces] = previz.kept; }""")
    opened.shown()


def test_what_lies_over_the_picture_fades_and_comes_back(fresh):
    """After seconds without a pointer or a key only picture and cautions are left; a key brings all back."""
    page = fresh.page
    assert 2000 <= page.evaluate("previz.big.fadeMs") <= 10000
    page.evaluate("previz.big.fadeMs = 800")
    page.keyboard.press("f")
    fresh.until("document.documentElement.classList.contains('big')")
    opacity = """[...document.querySelectorAll("#over .fading")]
        .map((each) => Number(getComputedStyle(each).opacity))"""
    assert page.evaluate(opacity) == [1, 1]
    fresh.until(f"({opacity}).every((each) => each === 0)", 15)
    seen = "(each) => getComputedStyle(each.parentElement).opacity"
    assert page.locator(".over-caution").evaluate(seen) == "1"
    page.keyboard.press("ArrowUp")
    fresh.until(f"({opacity}).every((each) => each === 1)", 5)
    fresh.until("document.documentElement.classList.contains('idle')", 15)
    page.mouse.move(200, 200)
    page.mouse.move(210, 200)
    fresh.until("!document.documentElement.classList.contains('idle')", 5)
    page.click("text=Leave")
    fresh.until("!document.documentElement.classList.contains('big')")


def test_without_a_screen_of_its_own_it_takes_the_window(fresh):
    """Where the browser gives no full screen, the whole window is the picture's, and Escape leaves it."""
    page = fresh.page
    page.evaluate("""() => {
        document.documentElement.requestFullscreen = () => Promise.reject(new TypeError("refused")); }""")
    page.click("text=Full screen")
    fresh.until("document.documentElement.classList.contains('big')")
    fresh.shown()
    assert page.evaluate(BOX, "frame")[3] == pytest.approx(page.evaluate("innerHeight"), rel=0.1)
    page.keyboard.press("Escape")
    fresh.until("!document.documentElement.classList.contains('big')")


# Thirty lamps

MANY = 30


@pytest.fixture(scope="module")
def many(furnish, tmp_path_factory):
    """The folder of a scene of thirty lamps, without a picture of it."""
    shelf = "".join(f"  - {{name: shelf {i}, kind: bulb, at: [1 m, 2 m, 2 m], output: 300 lm, cct: 3000 K}}\n"
                    for i in range(4, MANY + 1))
    folder = tmp_path_factory.mktemp("many")
    (folder / "canteen.yaml").write_text(
        SCENE.replace("daylight: {sky: overcast, illuminance: 40 lx}\n", "")
        .replace("\npieces:", f"{shelf}\npieces:", 1), encoding="utf-8")
    return folder


def test_thirty_lamps_stay_in_hand_on_a_phone(many, serve, open_page):
    """Each can be gone to by figures and by name, nothing sticks out, and the picture stays in sight."""
    page = open_page(serve(many).plain, width=390, height=844, has_touch=True)
    rows = page.page.locator(".lamp")
    assert rows.count() == MANY
    assert page.page.evaluate("document.documentElement.scrollWidth") <= 390
    page.page.keyboard.press("1")
    page.page.keyboard.press("7")
    assert page.page.evaluate("previz.lamps.held") == "shelf 17"
    in_sight(page)
    page.page.evaluate("document.activeElement.blur()")
    page.page.click("text=Find")
    page.page.keyboard.type("29")
    page.page.keyboard.press("Enter")
    assert page.page.evaluate("previz.lamps.held") == "shelf 29"
    in_sight(page)
    page.page.keyboard.press("/")
    page.page.keyboard.type("ri")
    page.page.keyboard.press("Enter")
    assert page.page.evaluate("previz.lamps.held") == "rim"
    for number in (1, 12, MANY):
        page.page.evaluate("(number) => previz.goToLamp(number)", number)
        in_sight(page)


def in_sight(page):
    """The level in hand lies under the picture and over the foot, and the picture is whole."""
    page.shown()
    _, y, _, height = page.page.evaluate(BOX, "frame")
    top, bottom = page.page.evaluate("""() => {
        const { top, bottom } = document.activeElement.getBoundingClientRect();
        return [top, bottom]; }""")
    assert y >= 0 and y + height <= top
    assert bottom <= page.page.evaluate(BOX, "foot")[1]
    assert page.page.evaluate("""() => {
        const now = document.activeElement, { left, top, width, height } = now.getBoundingClientRect();
        const over = document.elementFromPoint(left + width / 2, top + height / 2);
        return now.parentElement.contains(over); }""")
