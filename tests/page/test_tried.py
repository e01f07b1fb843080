"""Stops and places that are only tried take no more than their limit, on the disk and in memory."""

import asyncio
import dataclasses
import json
import os
import time
from concurrent.futures import ThreadPoolExecutor
from types import SimpleNamespace

import numpy as np
import pytest

from previz.errors import RequestError
from previz.frames.gathered import Gathered
from previz.frames.layouts import marked
from previz.frames.whole import write_sealed
from previz.page import desk as desks
from previz.page.clean import is_clean, write_clean
from previz.page.desk import Picture, moves_text
from previz.page.renders import Renders
from previz.page.server import MOST_WAITING, Pages
from previz.page.tried import SHARE, TRIED_NAME, is_tried, make_room, note_tried
from previz.page.worker import Renderer
from previz.rendering.cache.limit import kept_in, set_limit, size_of

STOPS = [round(1.4 * 2 ** (k / 8), 3) for k in range(40)]
MOVED = moves_text({"lights": {"key": {"at": ["2.8 m", "0.5 m", "2 m"]}}})


@pytest.fixture
def desk(tmp_path, furnish):
    """A furnished desk of pictures so small that many can be made."""
    return furnish(tmp_path / "depot", size=(48, None))


def aged(desk, seconds):
    """Make all that is in the cache look as if it had been used so much earlier."""
    now = time.time()
    for thing in kept_in(desk.request.request.cache):
        for found in thing.found:
            os.utime(found.path, (now, found.path.stat().st_mtime - seconds))


def taken(desk, keys=None):
    """Return the bytes of pictures and what was cleaned of them, of some keys alone."""
    return size_of(each for each in kept_in(desk.request.request.cache) if each.kind in ("picture", "cleaned")
                   and (keys is None or each.path.name in keys))


def test_an_evening_of_stops_stays_within_the_limit(desk, put, monkeypatch):
    """Forty stops in a row: disk and dictionaries are bounded; the file's own and what is in view stay."""
    own = {each.path.name for each in kept_in(desk.request.request.cache) if each.kind == "picture"}
    own_size = taken(desk, own)
    monkeypatch.setattr(desks, "MOST_FRAMES", 8)
    renders = Renders(desk, lambda message: None)
    most = None
    for stop in STOPS:
        picture = Picture("early", "A", stop, "working")
        renders.show("early", "A", stop)
        put(desk, picture, 7)
        found = desk.frames_at(picture)
        if most is None:
            most = 5 * taken(desk, {found.key})
            set_limit(desk.request.request.cache, SHARE * most)
        order = renders._frames_order("early", "A", stop, "working", "")
        renders._no_more(json.dumps(order, sort_keys=True))
        renders._bound(order)
        aged(desk, 60)
        # What is in view comes on top; notes differ by a figure or two.
        assert taken(desk) - own_size <= most + taken(desk, {found.key}) + 1000
        assert desk.frames_at(picture) is not None
        assert len(desk._frames) <= 8 and len(desk.quick._kept) < 100
    left = {each.path.name for each in kept_in(desk.request.request.cache) if each.kind == "picture"}
    assert own <= left and len(left - own) <= 6
    # The first stop is rendered anew when it is looked at again; the last ones are still there.
    assert desk.frames_at(Picture("early", "A", STOPS[0], "working")) is None
    assert desk.frames_at(Picture("early", "A", STOPS[-2], "working")) is not None
    over = {json.loads(key)["stop"] for key in renders._over}
    assert STOPS[0] not in over and STOPS[-1] in over
    renders.show("early", "A", STOPS[0])
    assert any(order["do"] == "frames" and order["stop"] == STOPS[0] and json.dumps(order, sort_keys=True)
               not in renders._over for order in renders._wishes(desk))


def test_what_is_set_kept_or_pinned_stays(desk, put):
    """Stops of looks and of the hand, and things moved in them, are not among what may go."""
    desk.change({"early|camera|A": {"stop": 4.0},
                 "pin": {"option": "early", "camera": "A", "look": {"cameras": {"A": {"stop": 5.6}}}},
                 "look|1a": {"name": "moved", "option": "early", "camera": "A",
                             "look": {"moves": json.loads(MOVED)}}})
    desk.change({"late|place|lights|key": {"at": ["2.6 m", "0.5 m", "2 m"]},
                 "late|removed|lights|rim": True})
    held = moves_text({"remove": ["rim"], "lights": {"key": {"at": ["2.6 m", "0.5 m", "2 m"]}}})
    stays = [("early", "A", 4.0, ""), ("late", "B", 2.8, held),
             ("early", "A", 5.6, ""), ("early", "A", 2.8, MOVED)]
    goes = [("early", "A", 8.0, ""), ("late", "B", 4.0, "")]
    for option, camera, stop, moves in stays + goes:
        picture = Picture(option, camera, stop, "working", moves)
        put(desk, picture, 7)
        assert is_tried(desk, picture)
        note_tried(desk, picture)
    assert not is_tried(desk, Picture("early", "A", 2.8, "working"))
    gone = make_room(desk, in_view=("late", "B", 4.0, ""), most=0)
    assert gone == [Picture("early", "A", 8.0, "working")]
    gone = make_room(desk, most=0)
    assert gone == [Picture("late", "B", 4.0, "working")]
    desk.change(dict.fromkeys(desk.changes))
    assert len(make_room(desk, most=0)) == 4


def test_a_lamps_light_goes_with_the_only_picture_of_it(desk):
    """Light that no other picture is made of goes; what another one has, or the file's own, stays."""
    def put(picture):
        job, camera = desk.job(picture)
        grid = job.order.height, job.order.width
        planes = {"albedo": (3, *grid), "normal": (3, *grid), "depth": grid, "names_index": grid}
        job.lamp_cache.put_planes(camera, ["set"], {name: np.zeros(shape) for name, shape in planes.items()})
        for lamp in job.stage.lamps:
            light = np.full((job.order.bands, *grid), 4.0, np.float32)
            job.lamp_cache.put(lamp.name, camera, Gathered(light, light[0], 4.0, 2, 2, 2.0, 4.0), 4.0)
        assert job.cached(camera) is not None

    first, second = (Picture("early", "A", stop, "working") for stop in (4.0, 5.6))
    cache = desk.request.request.cache
    before = {each.path for each in kept_in(cache)}
    for picture in (first, second):
        put(picture)
        note_tried(desk, picture)
    found = desk.frames_at(first)
    write_clean(found.clean, found.frames, 0)
    # The second's light goes on, as a picture of another option's name is made of it.
    note_tried(desk, dataclasses.replace(second, option="late"))
    aged(desk, 10)
    assert {each.kind for each in kept_in(cache) if each.path not in before} == {
        "picture", "lamp", "planes", "bodies", "cleaned"}
    assert set(make_room(desk, most=0)) >= {first}
    assert {each.kind for each in kept_in(cache) if each.path not in before} == {"bodies"}
    assert not any(is_clean(found.clean, 4)) and desk.frames_at(first) is None


def test_a_list_that_was_written_by_hand_does_not_stop_it(desk):
    """A torn list of what was tried is begun anew."""
    path = desk.folder / TRIED_NAME
    note_tried(desk, Picture("early", "A", 4.0, "working"))
    assert json.loads(path.read_text())["pictures"]
    path.write_text(path.read_text()[:-20])
    assert make_room(desk, most=0) == []
    write_sealed(path, {**marked("previz_tried"), "pictures": 7})
    assert make_room(desk, most=0) == []


def test_what_is_made_of_a_scene_is_bounded(desk, monkeypatch):
    """Wants, walks and scenes with things moved: those used last are at hand, locks go with them."""
    monkeypatch.setattr(desks, "MOST_MADE", 5)
    made = [desk.made(("thing", k), lambda k=k: k + 1) for k in range(40)]
    assert made == list(range(1, 41)) and len(desk._made) == 5 and len(desk._making) <= 6
    for _ in range(3):
        with pytest.raises(RequestError):
            desk.made(("bad",), lambda: (_ for _ in ()).throw(RequestError("no")))
    for k in range(desks.MOST_MOVED + 8):
        desk.scene("early", moves_text({"lights": {"key": {"at": [f"{1 + k / 50} m", "1 m", "2 m"]}}}))
    assert len(desk._moved) == desks.MOST_MOVED


def test_the_renderer_holds_one_stage_on_the_device():
    """Copies that several jobs share are let go of by all of them when another stage comes."""
    def job(paths):
        found = SimpleNamespace(paths=paths, order=SimpleNamespace(bands=12), device=object())
        found.share = lambda other: setattr(found, "device", other.device)
        found.close = lambda: setattr(found, "device", None)
        return found

    renderer = Renderer(None, None, None)
    jobs = [job("one"), job("one"), job("one"), job("two")]
    for each in (*jobs[:3], jobs[0]):
        renderer._on_device(each)
    assert len({each.device for each in jobs[:3]}) == 1 and len(renderer._open) == 3
    renderer._on_device(jobs[3])
    assert [each.device for each in jobs[:3]] == [None] * 3 and renderer._open == [jobs[3]]


def test_a_page_that_sleeps_is_told_no_progress_for_ever():
    """What waits for a page is bounded; what it must know is not left out."""
    async def send():
        pages = Pages(rendering=True)
        queue = pages.open()
        for share in range(10 * MOST_WAITING):
            pages._spread({"event": "progress", "share": share}, None)
        pages._spread({"event": "change", "changes": {}}, None)
        return queue.qsize()

    with ThreadPoolExecutor(1) as pool:
        assert pool.submit(lambda: asyncio.run(send())).result() == MOST_WAITING + 2
