"""The light follows the hand: small pictures of what is moved, for whom, and what stands still meanwhile."""

import json
import struct
import subprocess
import sys
import threading
import time
from pathlib import Path

import numpy as np
import pytest
from furnished import request_for
from PIL import Image

from previz.errors import DataError, RequestError
from previz.page import hand as hands
from previz.page.answers import shot
from previz.page.desk import Desk, Picture
from previz.page.hand import Hand
from previz.page.hand_worker import HandRenderer
from previz.page.renders import Renders
from previz.rendering import following

KEY = {"lights": {"key": {"at": ["3 m", "0.8 m", "2 m"]}}}
SOON = 20.0
"""How long is waited for a process to change its state, on a busy machine. [s]"""


def look(moves, **more):
    """Return a look as the page sends it."""
    return json.dumps({"lamps": {}, "cameras": {}, "moves": moves, **more})


def wish(moves, rounds=0, base=None, **more):
    """Return a wish for a small picture over one that is there, without moves."""
    return {"option": "early", "camera": "A", "look": look(moves), "base": {} if base is None else base,
            "rounds": rounds, **more}


def until(truth):
    """Wait until something is true."""
    end = time.monotonic() + SOON
    while not truth():
        assert time.monotonic() < end
        time.sleep(0.01)


# What the process makes


@pytest.fixture
def renderer(desk, monkeypatch):
    """The renderer on a furnished desk, in a small size."""
    monkeypatch.setattr(following, "WIDTH", {"processor": 48, "gpu": 48})
    return HandRenderer(desk)


def layers(head, payload):
    """Return what came, shape (lamp, row, column, 3)."""
    assert len(payload) == 2 * 3 * len(head["lamps"]) * head["width"] * head["height"]
    return np.frombuffer(payload, "<f2").reshape(len(head["lamps"]), head["height"], head["width"], 3)


@pytest.mark.engine
def test_a_wish_is_the_lamp_that_was_moved_and_goes_on_round_by_round(renderer, desk):
    """The light is what the page's ordinary answers give of the moved scene, at the camera's exposure."""
    head, payload = renderer.answer(wish(KEY))
    assert head["lamps"] == ["key"] and not head["whole"] and head["samples"] == 1 and not head["last"]
    first = layers(head, payload).astype(float)
    while not head["last"]:
        head, payload = renderer.answer(wish(KEY, head["rounds"]))
    assert head["samples"] == sum(following.ROUNDS)
    after = layers(head, payload).astype(float)
    assert first.mean() == pytest.approx(after.mean(), rel=0.15)
    # As the engine renders that scene, and the page packs it.
    moves = json.dumps(KEY, sort_keys=True, separators=(",", ":"))
    job, camera = desk.job(Picture("early", "A", 2.8, "working", moves))
    job.render(camera)
    asked = shot(desk, {"option": "early", "camera": "A", "look": look(KEY)})
    _, picture, _ = asked.lamp_alone(asked.found.frames.lights.index("key"))
    np.testing.assert_allclose(after.mean(axis=(0, 1, 2)), picture.mean(axis=(0, 1)), rtol=0.06)
    # Another wish begins anew, whatever rounds are said to be there.
    other = {"lights": {"key": {"at": ["3 m", "0.9 m", "2 m"]}}}
    head, _ = renderer.answer(wish(other, rounds=4))
    assert head["samples"] == 1 and head["rounds"] == 1
    # Two pages that wish by turns keep nothing from each other: what is there serves both.
    for rounds in (0, 1, 0, 2, 2):
        whole, _ = renderer.answer({**wish(other, rounds=rounds), "base": None})
        head, _ = renderer.answer(wish(other, rounds=rounds))
        assert whole["whole"] and not head["whole"]
    assert head["rounds"] == 3 and whole["rounds"] == 3


@pytest.mark.engine
def test_what_is_wished_without_a_picture_is_all_of_it(renderer):
    """So is a thing that is moved. A colour is of the wish; a lamp that fades warm says how."""
    head, _ = renderer.answer({**wish(KEY), "base": None})
    assert head["whole"] and head["lamps"] == ["counter", "key", "rim", "sky"]
    head, _ = renderer.answer(wish({"pieces": {"table": {"at": ["2.1 m", "1.5 m"]}}}))
    assert head["whole"] and len(head["lamps"]) == 4
    moved = {"lights": {"rim": {"at": ["0.5 m", "2.4 m", "2.2 m"]}}}
    head, one = renderer.answer(wish(moved))
    warm = {**wish(moved), "look": look(moved, lamps={"rim": {"cct": 2700}})}
    _, other = renderer.answer(warm)
    blue = [layers(head, each).astype(float).mean(axis=(0, 1, 2)) for each in (one, other)]
    assert blue[1][2] / blue[1][1] < 0.7 * blue[0][2] / blue[0][1]


@pytest.mark.engine
def test_a_page_without_a_gpu_gets_the_mix(renderer):
    """Lamps that were not moved come from the frames that are there: they make the most of the picture."""
    head, payload = renderer.answer(wish(KEY, png=True))
    path = renderer.desk.folder / "mix.png"
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(payload)
    with Image.open(path) as opened:
        mixed = np.array(opened)
    assert mixed.shape == (head["height"], head["width"], 3) and mixed.any()
    dark = {**wish(KEY, png=True), "look": look(KEY, lamps={"key": {"on": False}})}
    _, payload = renderer.answer(dark)
    path.write_bytes(payload)
    with Image.open(path) as opened:
        kept = np.array(opened)
    asked = shot(renderer.desk, {"option": "early", "camera": "A",
                                 "look": look({}, lamps={"key": {"on": False}})})
    still = asked.developed().still
    rows, columns = (np.linspace(0, many - 1, few).round().astype(int)
                     for many, few in zip(still.shape, kept.shape, strict=True) if many != 3)
    assert abs(kept.astype(int) - still[rows[:, None], columns]).mean() < 12
    assert (mixed.astype(int) - kept).mean() > 5


@pytest.mark.engine
def test_a_place_that_cannot_be_is_told(renderer):
    """As when the scene file has it so; the next wish is served."""
    with pytest.raises(RequestError, match="wall"):
        renderer.answer(wish({"lights": {"key": {"at": ["4.05 m", "0.8 m", "2 m"]}}}))
    with pytest.raises(DataError, match="no option"):
        renderer.answer({**wish(KEY), "option": "never"})
    assert renderer.answer({**wish(KEY), "lamps": ["key"]}) == ({}, b"")


# Who is served, and when

ECHO = ("import sys, json\n"
        "for line in sys.stdin:\n"
        "    said = json.loads(line)\n"
        "    if said.get('camera') == 'die': sys.exit()\n"
        "    print(json.dumps({'bytes': 2, 'camera': said['camera']}) + '\\nab', end='', flush=True)\n")


class Still:
    """Renders that only note what they are told."""

    def __init__(self):
        self.told = []

    def stand_still(self, seconds):
        self.told.append(seconds)


@pytest.fixture
def hand(desk, monkeypatch):
    """The server's side, with a process that answers at once."""
    made = Hand(desk, Still())
    started = []

    def start():
        started.append(subprocess.Popen([sys.executable, "-c", ECHO], stdin=subprocess.PIPE,
                                        stdout=subprocess.PIPE))
        return started[-1]

    monkeypatch.setattr(made, "_started", start)
    made.started = started
    yield made
    made.close()
    assert all(each.poll() is not None for each in started)


def note(found):
    """Return the note of an answer."""
    return json.loads(found.body[4:4 + struct.unpack("<I", found.body[:4])[0]])


def test_the_last_wish_of_a_page_wins(hand, monkeypatch):
    """What waits while a newer one comes is dropped; another page's is not."""
    free, began, served = threading.Event(), threading.Event(), []

    def slow(asked):
        began.set()
        free.wait(SOON)
        served.append(asked["camera"])
        return {"camera": asked["camera"]}, b""

    monkeypatch.setattr(hand, "_ask", slow)
    found = {}

    def ask(name, page):
        found[name] = note(hand.answer({"camera": name, "page": page}))

    threads = []
    for name, page in (("one", "here"), ("two", "here"), ("three", "here"), ("four", "there")):
        threads.append(threading.Thread(target=ask, args=(name, page)))
        threads[-1].start()
        began.wait(SOON)
        until(lambda: hand._count == len(threads))
    free.set()
    for thread in threads:
        thread.join(SOON)
    assert found["two"] == {"dropped": True}
    assert sorted(served) == ["four", "one", "three"]
    assert all(found[name]["camera"] == name for name in served)


def test_one_process_serves_until_nobody_wishes(hand, monkeypatch):
    """It is let go when idle, when no page is open, and when the scene is read again."""
    assert not hand.running
    assert note(hand.answer({"camera": "A"}))["camera"] == "A"
    assert hand.renders.told == [hands.HELD]
    hand.answer({"camera": "B"})
    assert len(hand.started) == 1 and hand.running
    hand.again()
    assert not hand.running and hand.started[0].wait(SOON) == 0
    monkeypatch.setattr(hands, "IDLE", 0.05)
    hand.answer({"camera": "A"})
    until(lambda: not hand.running)
    assert len(hand.started) == 2
    monkeypatch.setattr(hands, "IDLE", 60.0)
    told = len(hand.renders.told)
    hand.ready("early", "A", look({}), ["key"], held=False)
    until(lambda: hand.running)
    # To get ready stops nothing; to be held does.
    assert len(hand.renders.told) == told
    hand.ready("early", "A", look({}), ["key"])
    assert hand.renders.told[told:] == [hands.HELD]
    for _ in range(20):
        hand.ready("early", "A", look({}), ["key"])
    # One asks, and one waits with the newest wish.
    readying = [thread for thread in threading.enumerate() if thread.name == hands.READY]
    assert len(readying) <= 2
    for thread in readying:
        thread.join(SOON)
    assert len(hand.started) == 3
    monkeypatch.setattr(hands, "LINGERS", 0.05)
    hand.idle()
    until(lambda: not hand.running)
    assert hand.renders.told[-1] == 0.0


def test_a_process_that_stops_is_begun_once_more(hand):
    """And where that stops too, the page is told what to do."""
    with pytest.raises(DataError, match="quick renderer stopped"):
        hand.answer({"camera": "die"})
    assert len(hand.started) == 2
    assert note(hand.answer({"camera": "A"}))["camera"] == "A"
    for query in ({"base": "{"}, {"rounds": "x"}):
        with pytest.raises(DataError, match="not one"):
            hand.answer(query)


def state(process):
    """Return a process' state as the system has it: T where it is stopped."""
    return Path(f"/proc/{process.pid}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()[0]


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="states of processes are read from /proc")
def test_renders_stand_still_for_a_hand_and_go_on(folder):
    """The worker stops where it is, goes on when the hand rests or is not heard of, and ends stopped too."""
    renders = Renders(Desk(request_for(folder)), lambda message: None)

    def worker():
        renders._process = subprocess.Popen(
            [sys.executable, "-c", "import sys; sys.stdin.read()"], stdin=subprocess.PIPE,
            stdout=subprocess.PIPE, text=True)
        return renders._process

    process = worker()
    renders.stand_still(60.0)
    until(lambda: state(process) == "T")
    assert renders.still
    renders.stand_still(60.0)
    renders.stand_still(0.0)
    until(lambda: state(process) in "SR")
    assert not renders.still
    renders.stand_still(0.05)
    until(lambda: state(process) in "SR" and not renders._stopped)
    renders.stand_still(60.0)
    renders.close()
    assert process.wait(SOON) == 0


# On the page

MOVE = """(at) => previz.store.set({ "early|place|lights|key": { at } })"""


@pytest.mark.slow
@pytest.mark.engine
def test_the_picture_follows_a_lamp_and_settles_to_the_frames(folder, serve, open_page, cleaned):
    """Never black, nothing else changes, honest words; at rest it is the still of the moved scene."""
    cleaned(folder, "early")
    page = open_page(serve(folder, render=True).address)
    page.settled()
    page.page.evaluate("previz.store.toggleAlone('rim')")
    alone = page.pixels(moving=True).copy()
    page.page.evaluate("previz.store.toggleAlone('rim')")
    page.settled()
    before = page.pixels(moving=True).astype(int)
    page.page.evaluate("""() => {
        window.seen = [];
        const { table, store } = previz, put = table.putCoarse.bind(table);
        table.putCoarse = (got) => { seen.push([got.lamps, got.samples, table.resting]); put(got); };
        store.holding = { section: "lights", name: "key" };
        store.emit("holding");
    }""")
    page.page.evaluate(MOVE, ["3 m", "1.1 m", "2 m"])
    assert not page.page.evaluate("previz.table.resting")
    # A hand near the plan has the renderer begin once.
    told = page.page.evaluate("""() => {
        const said = [], say = previz.source.say.bind(previz.source);
        previz.source.say = (message) => { said.push(message); say(message); };
        previz.hand.asking = false;
        for (let k = 0; k < 3; k++) document.getElementById("plan").dispatchEvent(new Event("pointerenter"));
        previz.hand.asking = true;
        delete previz.source.say;
        return said; }""")
    assert [(each["say"], each["lamps"], each["held"]) for each in told] == [("holding", [], False)]
    page.until("previz.table.coarse")
    page.shown()
    moved = page.pixels(moving=True).astype(int)
    assert moved.shape == before.shape and moved.mean() > 0.5 * before.mean()
    assert abs(moved - before).mean() > 1
    words = page.page.inner_text("#drawn")
    assert words.startswith("Coarse, follows the hand: 320 × 180, ") and "key; the other lamps" in words
    # The other lamps are as they were, bit for bit, and dimmers go on.
    page.page.evaluate("previz.store.toggleAlone('rim')")
    assert np.array_equal(page.pixels(moving=True), alone)
    page.page.evaluate("previz.store.toggleAlone('rim')")
    page.page.evaluate("previz.store.changeLamp('key', { level: 0.3 })")
    assert page.pixels(moving=True).mean() < 0.8 * moved.mean()
    page.page.evaluate("previz.store.undo()")
    page.until("previz.table.coarse.samples === 16")
    assert page.page.evaluate("[previz.table.resting, previz.table.settledAs]") == [False, None]
    page.page.evaluate("previz.store.holding = null; previz.store.emit('holding')")
    key = after = None
    # The draft comes first, and full quality soon after it: of one of them all has to be.
    while key is None or key != page.page.evaluate("previz.table.set.key"):
        page.until("!previz.table.coarse && previz.table.resting")
        key = page.page.evaluate("previz.table.set.key")
        after = page.pixels().astype(int)
    page.settled()
    assert "as `previz render` makes it" in page.page.inner_text("#drawn")
    assert page.page.evaluate("seen.every(([lamps, , resting]) => lamps.join() === 'key' && !resting)")
    query = {"option": "early", "camera": "A",
             "look": look({"lights": {"key": {"at": ["3 m", "1.1 m", "2 m"]}}})}
    found = [shot(Desk(request_for(folder, **more)), query)
             for more in ({"quality": "draft", "samples": None}, {})]
    asked = next(each for each in found if each.found.key == key)
    assert abs(after - asked.developed().still).max() <= 2


@pytest.mark.slow
@pytest.mark.engine
def test_a_page_without_a_gpu_follows_too(folder, serve, open_page, cleaned):
    """Also where it is opened on what was moved, and there is no picture of it yet."""
    cleaned(folder, "early")
    served = serve(folder, render=True)
    page = open_page(served.plain)
    page.settled()
    moved = """() => previz.store.set({ "early|place|pieces|table": { at: ["2.4 m", "1.5 m"] } })"""
    page.page.evaluate(moved)
    page.until("previz.table.coarse && previz.picture.width === 320")
    assert ", all lamps." in page.page.inner_text("#drawn") and not page.page.evaluate("previz.table.resting")
    # Without a GPU the program mixes: a lamp that goes out is asked for.
    page.page.evaluate("previz.store.changeLamp('key', { on: false })")
    page.until("previz.hand.shown === previz.hand.wish && previz.table.coarse.rounds > 0")
    assert page.page.inner_text("#notice") == page.page.inner_text("#fault") == ""
    page.kept()
    other = open_page(served.plain)
    other.until("previz.table.coarse || previz.table.resting")
    assert not other.page.evaluate("document.querySelector('.picture').hidden")
    page.until("!previz.table.coarse && previz.table.resting")
    words = page.page.inner_text("#drawn")
    assert words.startswith(("draft, 80 × 45, 8 samples; drawn by", "working, 160 × 90, 4 samples; drawn by"))


@pytest.mark.slow
def test_a_page_that_renders_nothing_says_what_the_picture_is(own_served, open_page):
    """There is no quick renderer then; the picture stays and is not called ready."""
    page = open_page(own_served.address)
    page.settled()
    before = page.pixels().copy()
    page.page.evaluate(MOVE, ["3 m", "1.1 m", "2 m"])
    page.until("previz.table.short === 'behind' && previz.table.frames && !previz.table.frames.key")
    page.shown()
    assert page.page.inner_text("#drawn") == "As it stood before the last move."
    assert not page.page.evaluate("previz.table.resting || previz.table.coarse")
    assert page.page.locator("#frame .picture").is_visible()
    page.page.evaluate("previz.store.undo()")
    page.settled()
    assert np.array_equal(page.pixels(), before)
