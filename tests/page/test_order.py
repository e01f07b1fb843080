"""Answers that come late, in another order, or about what has changed meanwhile."""

import json
import re
import time

import numpy as np
import pytest

pytestmark = pytest.mark.slow


class Held:
    """Requests that are held back in the browser, as if the server were slow with just these."""

    def __init__(self, opened, pattern, count=None):
        self.opened, self.pattern, self.count = opened, re.compile(pattern), count
        self.waiting, self.seen = [], 0
        opened.page.route(self.pattern, self._took)

    def _took(self, route):
        self.seen += 1
        if self.count is None or self.seen <= self.count:
            self.waiting.append(route)
        else:
            route.continue_()

    def until(self, count):
        """Wait until so many are held."""
        end = time.monotonic() + 60
        while len(self.waiting) < count:
            assert time.monotonic() < end, f"only {len(self.waiting)} requests, not {count}"
            self.opened.page.wait_for_timeout(20)

    def let_go(self, number=0):
        """Let one go on, and return when the page has had its answer and a turn to use it."""
        route = self.waiting.pop(number)
        with self.opened.page.expect_event("requestfinished", lambda each: each == route.request):
            route.continue_()
        self.opened.page.evaluate(TURNS)


# Frames are drawn after everything that was ready before; a few, so that chains of promises end.
TURNS = """async () => { for (let i = 0; i < 4; i++) await new Promise((done) =>
    requestAnimationFrame(() => setTimeout(done, 0))); }"""


def test_a_settled_picture_that_comes_late_is_not_shown(fresh):
    """The finished picture of a look that is no longer set does not take the place of what is."""
    fresh.settled()
    held = Held(fresh, r"/settled\?", count=1)
    fresh.page.evaluate("previz.store.changeCamera({ iso: 200 })")
    held.until(1)
    fresh.page.evaluate("previz.store.changeCamera({ iso: 3200 })")
    fresh.settled()
    target = fresh.pixels().copy()
    # The page gave the first one up, so the browser may not even have waited for it.
    held.waiting.pop().abort()
    fresh.page.evaluate(TURNS)
    assert np.array_equal(fresh.pixels(), target)
    assert fresh.page.evaluate("previz.table.resting")
    fresh.expected = "Failed to load resource"


def test_frames_of_the_camera_requested_last_are_shown(opened):
    """An answer about a camera that was left does not bring its picture back."""
    opened.settled()
    target = opened.pixels().copy()
    held = Held(opened, r"/frames\.json\?.*camera=B")
    opened.page.evaluate("previz.store.showPlace({ camera: 'B' })")
    held.until(1)
    opened.page.evaluate("previz.store.showPlace({ camera: 'A' })")
    opened.settled()
    held.let_go()
    assert opened.page.evaluate("previz.table.set.camera") == "A"
    opened.settled()
    assert np.array_equal(opened.pixels(), target)


def test_another_camera_is_at_rest_only_with_its_own_picture(opened):
    """With another camera in view, the picture counts as coming until the other camera's is there."""
    opened.settled()
    held = Held(opened, r"/slice\?.*camera=B")
    opened.page.evaluate("previz.store.showPlace({ camera: 'B' })")
    assert opened.page.evaluate("previz.table.resting") is False
    # The four lamps are fetched side by side.
    held.until(4)
    assert opened.page.evaluate("[previz.table.set.camera, previz.table.resting]") == ["A", False]
    for route in held.waiting:
        route.continue_()
    opened.settled()
    assert opened.page.evaluate("previz.table.set.camera") == "B"


def test_a_colour_set_while_another_is_fetched_comes_after_it(opened):
    """The lamp's light ends in the colour that was set last."""
    opened.settled()
    held = Held(opened, r"/slice\?.*lamp=key", count=1)
    opened.page.evaluate("previz.store.changeLamp('key', { cct: 2500 })")
    held.until(1)
    opened.page.evaluate("previz.store.changeLamp('key', { cct: 5000 })")
    held.let_go()
    opened.settled()
    assert opened.page.evaluate("JSON.parse(previz.table.set.colours.get('key'))[0]") == 5000
    assert held.seen == 2


def test_the_spot_is_never_what_another_camera_sees(opened):
    """A reading that was requested before the camera changed is not reported of the new one."""
    opened.settled()
    held = Held(opened, r"/spot\.json\?", count=1)
    opened.page.evaluate("previz.spot.point(0.31, 0.4)")
    held.until(1)
    second = Held(opened, r"/spot\.json\?.*camera=B")
    opened.page.evaluate("previz.store.showPlace({ camera: 'B' })")
    held.let_go()
    second.until(1)
    assert opened.page.inner_text("#spot-line") == ""
    assert opened.page.inner_text(".lamp .at-spot") == ""
    second.let_go()
    opened.until("document.getElementById('spot-line').textContent.startsWith('Spot on')")
    assert opened.page.evaluate("previz.spot.reading.camera") == "B"


def test_the_pin_is_the_one_set_last(opened):
    """The picture of a look that is no longer pinned is not kept when it comes."""
    opened.settled()
    held = Held(opened, r"/settled\?.*option=late")
    opened.page.evaluate("""previz.store.set({ pin: { option: "late", camera: "B",
        look: { lamps: {}, cameras: {} } } }, "pin of another page")""")
    held.until(1)
    # Nothing stands in for a look that is not here yet.
    assert opened.page.evaluate("previz.picture.pin") is None
    opened.page.keyboard.press("p")
    opened.until("!previz.table.pinRequest && previz.picture.pin")
    shown = opened.page.evaluate("previz.table.pinShown")
    mine = opened.page.evaluate("previz.pinTexture = previz.picture.pin.texture, previz.table.pinShown")
    held.let_go()
    assert opened.page.evaluate("previz.picture.pin.texture === previz.pinTexture")
    assert shown == mine
    assert '"option":"early"' in shown


def test_two_hands_on_one_lamp_end_at_the_same_level(opened):
    """Another page's value that was kept before this page's own does not come back over it."""
    # The socket is kept silent, so the page's own change stays on its way.
    opened.page.evaluate("""() => { previz.source.say = () => {};
        previz.store.changeLamp("key", { level: 0.5 }); }""")
    other = json.dumps({"event": "change", "changes": {
        "early|lamp|key": {"level": 0.25}, "early|lamp|rim": {"on": False}}})
    opened.page.evaluate("""(text) => previz.source.socket.dispatchEvent(
        new MessageEvent("message", { data: text }))""", other)
    assert opened.page.evaluate("previz.store.lamp('key').level") == 0.5
    assert opened.page.evaluate("previz.store.lamp('rim').on") is False
    # Once it is kept, another page's value counts again.
    opened.page.evaluate("""(text) => {
        const kept = JSON.stringify({ event: "kept", number: previz.source.number });
        for (const data of [kept, text])
            previz.source.socket.dispatchEvent(new MessageEvent("message", { data })); }""", other)
    assert opened.page.evaluate("previz.store.lamp('key').level") == 0.25


def test_what_waited_for_the_server_is_sent_as_one(own_served, open_page):
    """Changes made while the line was down are on disk after it is back, and reported to other pages."""
    page, other = open_page(own_served.plain), open_page(own_served.plain)
    cut(page)
    for step in range(20):
        page.page.evaluate(f"previz.store.changeLamp('key', {{ level: {(step + 1) / 40} }})")
    page.page.evaluate("previz.store.changeLamp('rim', { on: false })")
    assert page.page.evaluate("previz.source.pending.size") == 21
    assert "on this page alone" in page.page.inner_text("#work")
    number = page.page.evaluate("previz.source.number")
    mend(page)
    page.kept()
    assert page.page.evaluate("previz.source.number") == number + 1
    other.until("previz.store.lamp('key').level === 0.5 && !previz.store.lamp('rim').on")


def test_an_edit_is_not_missed_while_the_line_is_down(own_served, open_page):
    """A scene that was read again while a page was cut off is taken over when it is back."""
    page, path = open_page(own_served.address), own_served.folder / "canteen.yaml"
    other = open_page(own_served.plain)
    cut(page)
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("output: 4000 lm\n    cct: 4300 K", "output: 4000 lm\n    cct: 4700 K"),
                    encoding="utf-8")
    page.until("(await previz.source.json('scene.json')).options[0].lamps[1].cct === 4700")
    assert page.page.evaluate("previz.store.lamp('key').cct") == 4300
    path.write_text("lights: [\n", encoding="utf-8")
    other.until("document.getElementById('spoilt').textContent !== ''")
    mend(page)
    page.until("previz.store.lamp('key').cct === 4700")
    page.settled()
    # And that it has been spoilt since is reported as well.
    assert "canteen.yaml:" in page.page.inner_text("#spoilt")


def cut(page):
    """Cut a page's line to the server, and keep it from mending it by itself."""
    page.page.evaluate("""() => { const { source } = previz;
        source.reopen = source.open; source.open = () => {}; source.socket.close(); }""")
    page.until("!previz.linked")


def mend(page):
    page.page.evaluate("previz.source.reopen(previz.source.hear)")
    page.until("previz.linked")


def edited(text):
    """Return the scene with another colour of the key and another ISO of camera A."""
    after = text.replace("output: 4000 lm\n    cct: 4300 K", "output: 4000 lm\n    cct: 2500 K")
    return after.replace("iso: 800, white_balance: 4300 K}\n  - {name: B",
                         "iso: 200, white_balance: 4300 K}\n  - {name: B")


def test_an_edited_colour_and_iso_are_seen(own_served, open_page, render, cleaned, live_mix):
    """The picture follows the scene file, at rest and under the hand, though no frame is new."""
    cleaned(own_served.folder, "early")
    page, path = open_page(own_served.address), own_served.folder / "canteen.yaml"
    page.settled()
    before = page.pixels().copy()
    path.write_text(edited(path.read_text(encoding="utf-8")), encoding="utf-8")
    page.until("previz.store.lamp('key').cct === 2500")
    page.settled()
    target = render(own_served.folder, "early")
    assert np.abs(page.pixels().astype(int) - before).max() > 10
    assert np.abs(page.pixels().astype(int) - target).max() <= 1
    target = live_mix(own_served.folder, "early", "")
    assert np.abs(page.pixels(moving=True).astype(int) - target).max() <= 1
    # The choice of cameras is still there.
    assert page.page.locator("select[aria-label=Camera] option").all_inner_texts() == ["A", "B"]


def test_what_an_edit_takes_out_leaves_nothing_dark(own_served, open_page):
    """With the lamp that was alone gone, the others are lit; with the option gone, another is shown."""
    page, path = open_page(own_served.address), own_served.folder / "canteen.yaml"
    text = path.read_text(encoding="utf-8")
    page.page.evaluate("previz.store.showPlace({ option: 'late' }); previz.store.toggleAlone('rim')")
    page.settled()
    without = re.sub(r"  - \{name: rim.*?\n.*?\n", "", text)
    path.write_text(without[: without.index("  late:")], encoding="utf-8")
    page.until("previz.store.scene.options.length === 1")
    assert page.page.evaluate("previz.store.option") == "early"
    assert page.page.evaluate("[...previz.store.alone]") == []
    assert page.page.evaluate("previz.store.gain('key')") == 1
    assert page.page.input_value("select[aria-label=Option]") == "early"


def test_a_spoilt_scene_is_reported_until_it_is_mended(own_served, open_page):
    """What is wrong with the file stays in sight, also of a page that is opened meanwhile."""
    page, path = open_page(own_served.plain), own_served.folder / "canteen.yaml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text + "  broken: [\n", encoding="utf-8")
    page.until("document.getElementById('spoilt').textContent.includes('canteen.yaml:')")
    second = open_page(own_served.plain)
    second.until("document.getElementById('spoilt').textContent.includes('canteen.yaml:')")
    path.write_text(text, encoding="utf-8")
    for each in (page, second):
        each.until("document.getElementById('spoilt').textContent === ''")


def test_a_lost_gpu_is_taken_up_again(opened):
    """A driver that starts anew costs neither the picture nor the pinned look."""
    opened.settled()
    target = opened.pixels().copy()
    opened.page.keyboard.press("p")
    opened.until("previz.picture.pin && !previz.table.pinRequest")
    opened.page.evaluate("""() => { previz.picture.before = true;
        previz.picture.gl.getExtension("WEBGL_lose_context").loseContext(); }""")
    opened.until("!previz.picture.before && previz.table.set && previz.picture.pin")
    opened.settled()
    assert np.array_equal(opened.pixels(), target)


def test_without_a_gpu_drawn_means_on_screen(open_page, served):
    """While one picture is being drawn, the next is reported as drawn only when it is shown itself."""
    page = open_page(served.plain)
    page.as_written()
    page.settled()
    held = Held(page, r"/still\.png\?")
    page.page.evaluate("""() => { const { picture } = previz;
        previz.table.touch = previz.table.settle = () => {};
        previz.store.changeLamp("key", { level: 0.3 });
        picture.draw(false).then(() => { window.first = true; });
        previz.store.changeLamp("key", { level: 0.2 });
        picture.draw(false).then(() => { window.second = picture.image.src; }); }""")
    held.until(1)
    held.let_go()
    page.until("window.first")
    held.until(1)
    assert page.page.evaluate("window.second") is None
    held.let_go()
    page.until("window.second === previz.picture.image.src")
