"""What is rendered behind the page, and in which order."""

import json
import os
import shutil
import subprocess
import sys
import time
from dataclasses import replace

import pytest

from previz.page.clean import clean_bands, is_clean, read_clean, write_clean
from previz.page.desk import Desk, PageRequest, Picture
from previz.page.renders import Renders
from previz.page.worker import Orders, work
from previz.rendering import request as request_module
from previz.rendering.cache.limit import left_in
from previz.rendering.request import Request

FAKE = """
import json, sys, threading, queue
orders, paused = queue.Queue(), threading.Event()
def listen():
    for line in sys.stdin:
        order = json.loads(line)
        paused.set() if order["do"] == "pause" else orders.put(order)
    paused.set()
    orders.put(None)
threading.Thread(target=listen, daemon=True).start()
def say(**message): print(json.dumps(message), flush=True)
while (order := orders.get()) is not None:
    paused.clear()
    say(event="progress", order=order, step="rendering", share=0.5)
    if order["quality"] == "working" and order.get("camera") in (SLOW, LATE):
        left_off = paused.wait(180)
        say(event="paused" if left_off and order["camera"] == SLOW else "done", order=order)
    elif order.get("camera") == BAD:
        say(event="failed", order=order, text="no light")
    elif order.get("camera") == DEAD:
        sys.exit(3)
    else:
        say(event="done", order=order)
"""


class Watched(Renders):
    """Renders whose worker only says that it has done what was ordered."""

    def __init__(self, desk, slow="-", late="-", bad="-", dead="-"):
        self.result = []
        super().__init__(desk, self.result.append)
        self.script = f"SLOW, LATE, BAD, DEAD = {slow!r}, {late!r}, {bad!r}, {dead!r}\n{FAKE}"

    def _started(self):
        return subprocess.Popen([sys.executable, "-c", self.script], stdin=subprocess.PIPE,
                                stdout=subprocess.PIPE, text=True, bufsize=1)

    def until(self, result, seconds=180.0):
        """Wait for an answer of a kind."""
        self.wait(lambda: any(each["event"] == result for each in self.result), seconds)

    def wait(self, truth, seconds=180.0):
        """Wait until something is true."""
        end = time.monotonic() + seconds
        while not truth():
            assert time.monotonic() < end, self.result
            time.sleep(0.02)

    def begun(self):
        """Return what was begun, in order, reported briefly."""
        orders = [each["order"] for each in self.result if each["event"] == "progress"]
        return [" ".join([order["quality"], order["option"], order.get("camera", "meters")])
                for order in orders]


@pytest.fixture
def bare(folder):
    """A desk whose scene has never been rendered."""
    shutil.rmtree(folder / "renders")
    return Desk(request_for(folder))


def request_for(folder):
    """Return what `previz page` requests for a folder, at a size for trying things."""
    out = folder / "renders"
    return PageRequest(folder / "canteen.yaml", out, Request(out / "frames", (32, None), samples=4))


def test_a_request_reaches_the_worker_as_it_is(folder):
    """What goes to the other process as JSON comes back equal."""
    given = request_for(folder)
    assert PageRequest.from_json(given.to_json()) == given


def test_drafts_come_first_and_what_is_in_view_before_the_rest(bare):
    """Drafts of all, then meters, then in full: each beginning with what is on the page."""
    renders = Watched(bare)
    renders.show("late", "B", 2.8)
    renders.start()
    renders.until("idle")
    renders.close()
    assert renders.begun() == [
        "draft late B", "draft late A", "draft early A", "draft early B",
        "draft late meters", "draft early meters",
        "working late B", "working late A", "working early A", "working early B",
        "working late meters", "working early meters"]


def test_a_first_look_comes_before_drafts(bare, monkeypatch):
    """Of what is in view, where it pays; a worker that was started already is taken."""
    monkeypatch.setattr(request_module, "WORTH_A_LOOK", 1)
    started = Watched(bare)
    renders = Watched(bare)
    renders._process = early = started._started()
    renders.show("late", "B", 2.8)
    renders.start()
    renders.until("idle")
    assert renders.begun()[:3] == ["first look late B", "draft late B", "draft late A"]
    assert renders._process is early
    renders.close()
    assert [each for each in renders.begun() if "first look" in each] == ["first look late B"]


def test_what_is_there_is_not_rendered_again(desk, cleaned):
    """Frames in the cache that have been cleaned leave only the meters to be requested."""
    for option in desk.options:
        for camera in desk.cameras(option):
            cleaned(desk.path.parent, option, camera.name)
    renders = Watched(desk)
    renders.start()
    renders.until("idle")
    renders.close()
    assert [each for each in renders.begun() if "meters" not in each] == []


def test_another_view_leaves_off_a_long_render(bare):
    """A full render of another camera is put aside, and taken up again later."""
    renders = Watched(bare, slow="A")
    renders.show("early", "A", 2.8)
    renders.start()
    renders.wait(lambda: "working early A" in renders.begun())
    renders.show("early", "B", 2.8)
    renders.wait(lambda: "working early B" in renders.begun())
    renders.close()
    begun = renders.begun()
    assert begun.index("working early A") < begun.index("working early B")
    assert any(each["event"] == "paused" for each in renders.result)


def test_another_stop_is_rendered_for_its_depth_of_field(desk):
    """A stop that is set on the page asks for frames of its own."""
    renders = Watched(desk)
    renders.show("early", "A", 5.6)
    renders.start()
    renders.until("idle")
    renders.close()
    frames = [each["order"] for each in renders.result
              if each["event"] == "progress" and each["order"]["do"] == "frames"]
    assert ("A", 5.6, "working") in {(o["camera"], o["stop"], o["quality"]) for o in frames}


def test_what_fails_is_reported_and_not_tried_for_ever(bare):
    """A failure is shown once; the rest is done all the same."""
    renders = Watched(bare, bad="B")
    renders.start()
    renders.until("idle")
    renders.close()
    failed = [each for each in renders.result if each["event"] == "failed"]
    assert {each["text"] for each in failed} == {"no light"}
    assert len(failed) == len({json.dumps(each["order"], sort_keys=True) for each in failed})
    assert "working early A" in renders.begun()


def test_a_renderer_that_dies_is_reported_and_started_again(bare):
    """A library that ends the process costs the order in hand, not the page."""
    renders = Watched(bare, dead="B")
    renders.start()
    renders.until("idle")
    renders.close()
    texts = {each.get("text") for each in renders.result if each["event"] == "failed"}
    assert texts == {"The renderer stopped. `previz doctor` shows what it needs."}
    assert "working late A" in renders.begun()


def test_what_ends_as_the_scene_is_edited_is_done_anew(bare):
    """An order that was finished for the scene as it was does not count for the scene as it is."""
    renders = Watched(bare, late="A")
    renders.show("early", "A", 2.8)
    renders.start()
    renders.wait(lambda: "working early A" in renders.begun())
    renders.again()
    renders.wait(lambda: renders.begun().count("working early A") == 2)
    renders.close()
    assert any(each["event"] == "done" and each["order"]["quality"] == "working" for each in renders.result)


def test_a_renderer_that_cannot_begin_says_why(desk):
    """A scene that was spoilt meanwhile: in its own words, and no traceback on the terminal."""
    result = []
    desk.path.write_text("previz: 1\n")
    work(desk.request.to_json(), None, result.append)
    assert result == [{"event": "failed", "text": "The scene has no camera; add one under 'cameras:'."}]


def test_a_pause_that_follows_an_order_at_once_counts():
    """A worker that is still starting when both come leaves that order off, and takes the next."""
    reading, writing = os.pipe()
    with open(reading, encoding="utf-8") as stream, open(writing, "w", encoding="utf-8") as pipe:
        orders = Orders(stream)
        for line in ('{"do": "frames", "camera": "A"}', '{"do": "pause"}'):
            pipe.write(line + "\n")
        pipe.flush()
        wait_for_pause(orders)
        assert orders.next()["camera"] == "A"
        with pytest.raises(KeyboardInterrupt):
            orders.check()
        pipe.write('{"do": "frames", "camera": "B"}\n')
        pipe.flush()
        assert orders.next()["camera"] == "B"
        orders.check()
        pipe.close()
        assert orders.next() is None
        with pytest.raises(KeyboardInterrupt):
            orders.check()


def wait_for_pause(orders):
    """Wait until what was sent has been heard."""
    end = time.monotonic() + 60
    while True:
        try:
            orders.check()
        except KeyboardInterrupt:
            return
        assert time.monotonic() < end
        time.sleep(0.01)


def test_cleaning_keeps_the_light_and_takes_the_noise(desk):
    """A cleaned band has the mean of the raw one and a fraction of its noise."""
    frames = desk.find("early", "A", 2.8).frames
    bands, scale = clean_bands(frames, 1)
    raw = frames.slices[1]
    assert bands.shape == raw.shape
    for band in (0, 5, 11):
        # The denoiser keeps means within a percent or two; this picture's grain is 35 %.
        assert bands[band].mean(dtype=float) * scale == pytest.approx(raw[band].mean(), rel=0.03)
        inside = (slice(2, 16), slice(2, 18))  # One stripe, whose own light hardly changes.
        before, after = raw[band][inside], bands[band][inside].astype(float)
        assert after.std() / after.mean() < 0.4 * before.std() / before.mean()


def test_a_torn_cleaned_lamp_is_cleaned_again(desk):
    """What was written half is not taken for whole."""
    found = desk.find("early", "A", 2.8)
    write_clean(found.clean, found.frames, 0)
    path = found.clean / "clean-000.npz"
    path.write_bytes(path.read_bytes()[:2000])
    assert read_clean(found.clean, found.frames, 0) is None
    write_clean(found.clean, found.frames, 0)
    assert read_clean(found.clean, found.frames, 0) is not None
    assert is_clean(found.clean, 4) == [True, False, False, False]


@pytest.mark.engine
@pytest.mark.slow
def test_the_real_renderer_makes_what_the_command_line_finds(bare):
    """The worker renders a draft and then the whole picture into the cache, and cleans it."""
    one = Desk(replace(bare.request, options=("early",), cameras=("A",)))
    result = []
    renders = Renders(one, result.append)
    renders.show("early", "A", 2.8)
    renders.start()
    end = time.monotonic() + 300
    while one.frames_at(Picture("early", "A", 2.8, "working")) is None or not all(
            is_clean(one.find("early", "A", 2.8).clean, 4)):
        assert time.monotonic() < end, result[-3:]
        assert not [each for each in result if each["event"] == "failed"], result
        time.sleep(0.2)
    renders.close()
    qualities = [each["order"]["quality"] for each in result
                 if each["event"] == "done" and each["order"]["do"] == "frames"]
    assert qualities[:1] == ["draft"]
    found = one.find("early", "A", 2.8)
    assert found.picture.quality == "working"
    assert found.frames.shape == (18, 32)
    assert found.frames.lights == ("counter", "key", "rim", "sky")
    assert left_in(bare.request.request.cache) == []


def test_what_an_edit_has_taken_out_is_not_waited_for(bare):
    """A page that still shows an option or camera that is gone stops nothing, nor does a bad stop."""
    for in_view in (("gone", "A", 2.8), ("late", "Z", 2.8), ("late", "B", float("nan"))):
        renders = Watched(bare)
        renders.show(*in_view)
        renders.start()
        renders.until("idle")
        renders.close()
        assert [each for each in renders.result if each["event"] == "failed"] == []
        assert "working early B" in renders.begun()
