"""What stands on the page while the scene file is edited, spoilt, gone, or its renders are behind it."""

import time

import pytest

from previz.page.desk import Desk, Picture
from previz.page.renders import LOOKING, Renders
from previz.page.server import Pages

TABLE = "at: [2 m, 1.5 m], size: [1 m"


@pytest.mark.slow
def test_the_picture_of_before_an_edit_stays_and_says_so(own_served, open_page, put):
    """Until the new draft is there the old picture stands, under words, and is never called ready."""
    page, path = open_page(own_served.address), own_served.folder / "canteen.yaml"
    page.settled()
    before = page.pixels().copy()
    path.write_text(path.read_text(encoding="utf-8").replace(TABLE, "at: [2.3 m, 1.5 m], size: [1 m"))
    page.until("previz.table.behind === 'edit' && previz.table.frames && !previz.table.frames.key")
    page.shown()
    waiting = page.page.locator("#waiting")
    # Words that came and went with a quick answer would only flicker.
    waiting.wait_for(state="visible")
    assert page.page.locator("#frame .picture").is_visible()
    assert waiting.inner_text() == "This is the scene before the edit. Nothing is rendered while this runs."
    # What would be said with a renderer, which is not called idle before it has looked.
    page.page.evaluate("previz.receive({ event: 'looking' })")
    page.until("document.getElementById('waiting').textContent.endsWith('is being rendered…')")
    assert page.page.inner_text("#work") == "Seeing what is still to be rendered…"
    page.page.evaluate("previz.receive({ event: 'held', text: 'canteen.yaml:3: no.' })")
    page.until("document.getElementById('spoilt').textContent.endsWith('canteen.yaml:3: no.')")
    assert page.page.inner_text("#work") == "Rendering waits until the scene file can be read."
    assert waiting.inner_text().endswith("Rendering waits until the scene file can be read.")
    page.page.evaluate("previz.receive({ event: 'looking' })")
    page.until("!document.getElementById('spoilt').textContent")
    page.page.evaluate("previz.store.changeLamp('key', { level: 0.5 })")
    page.until("!previz.table.rest && !previz.table.moving && !previz.table.drawing")
    assert page.page.evaluate("[previz.table.resting, previz.table.settledAs]") == [False, None]
    assert page.page.inner_text("#notice") == ""
    assert (page.pixels(moving=True) != before).any()
    page.page.evaluate("previz.store.undo()")
    desk = Desk(own_served_request(own_served))
    put(desk, Picture("early", "A", 2.8, "working"), 41)
    page.page.evaluate("previz.table.loadSoon(0)")
    page.settled()
    assert page.page.evaluate("previz.table.behind") is None and not waiting.is_visible()
    assert (page.pixels() != before).any()


def own_served_request(served):
    from furnished import request_for

    return request_for(served.folder)


@pytest.mark.slow
def test_a_scene_file_that_is_gone_is_missed_and_taken_up_again(own_served, open_page):
    """The page goes on with what there is, saves nothing meanwhile, and goes on when it is back."""
    page, path = open_page(own_served.plain), own_served.folder / "canteen.yaml"
    page.settled()
    away = path.rename(path.with_suffix(".away"))
    page.until("document.getElementById('spoilt').textContent.includes('is not there any more')")
    page.page.evaluate("previz.store.changeLamp('key', { level: 0.5 })")
    page.settled()
    for where in ("scene", "own file"):
        said = page.page.evaluate("""(where) => previz.source.save({ name: "dim", option: "early", where,
            look: previz.store.look() }).catch((fault) => fault.message)""", where)
        assert said.startswith("canteen.yaml is not there any more. Nothing can be saved before it is back")
    assert [each.name for each in own_served.folder.glob("*.yaml*")] == []
    away.rename(path)
    page.until("!document.getElementById('spoilt').textContent")
    page.settled()
    saved = page.page.evaluate("""() => previz.source.save({ name: "dim", option: "early", where: "scene",
        look: previz.store.look() })""")
    assert saved["option"] == "dim"
    page.expected = "status of 400"


def test_how_renders_stand_is_what_is_so_now(desk):
    """A page that opens hears of no idle renderer before it has looked at what is asked for now."""
    pages = Pages(rendering=True)
    renders = Renders(desk, pages.send)
    renders._thread = object()
    assert pages._standing == LOOKING
    pages.send({"event": "idle"})
    renders.show("early", "A", 4.0)
    assert pages._standing == LOOKING
    pages.send({"event": "idle"})
    # Nothing else is asked for, so nothing else is to be looked for.
    renders.show("early", "A", 4.0)
    assert pages._standing == {"event": "idle"}
    renders.again()
    assert pages._standing == LOOKING


class Spoilt(Renders):
    """Renders whose worker begins only with a good scene file."""

    def __init__(self, desk):
        self.said, self.begun = [], 0
        super().__init__(desk, self.said.append)

    def _started(self):
        self.begun += 1
        return super()._started()

    def until(self, truth):
        end = time.monotonic() + 60
        while not truth(self.said):
            assert time.monotonic() < end, self.said
            time.sleep(0.02)


def test_a_spoilt_scene_holds_renders_until_it_is_good(desk, cleaned):
    """One worker finds out, and says the fault; when the file is good again they go on by themselves."""
    for option in desk.options:
        for camera in desk.cameras(option):
            cleaned(desk.path.parent, option, camera.name)
    desk = Desk(desk.request)
    text = desk.path.read_text(encoding="utf-8")
    desk.path.write_text(text.replace("stop: T2.8", "stop: wide", 1), encoding="utf-8")
    renders = Spoilt(desk)
    renders.start()
    renders.until(lambda said: any(each["event"] == "held" for each in said))
    held = next(each for each in renders.said if each["event"] == "held")
    assert "canteen.yaml:25:" in held["text"] and "wide" in held["text"]
    renders.show("early", "B", 2.8)
    time.sleep(0.2)
    assert [each["event"] for each in renders.said][-1] == "held" and renders.begun == 1
    desk.path.write_text(text, encoding="utf-8")
    renders.until(lambda said: said[-1]["event"] == "idle")
    renders.close()
    assert renders.begun == 2
    assert not [each for each in renders.said if each["event"] == "failed"]
