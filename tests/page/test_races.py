"""The scene is edited, and the cache written to, in the middle of an answer: each is forced here."""

import asyncio
import dataclasses
import errno
import json
import re
import shutil
import tempfile
import threading
from concurrent.futures import ThreadPoolExecutor
from urllib.parse import urlencode

import numpy as np
import pytest

from previz.errors import DataError
from previz.frames.gathered import Gathered
from previz.page import answers
from previz.page import desk as desks
from previz.page.desk import Desk, Picture
from previz.page.guard import Guard
from previz.page.renders import Renders
from previz.page.save import save_look
from previz.page.server import make_app
from previz.rendering.cache import picture as pictures

GUARD = Guard(1, "token")


def edited(text):
    """Return the scene without one lamp and one option, and with another name of camera B."""
    text = re.sub(r"  - \{name: rim.*?\n.*?\n", "", text).replace("{name: B,", "{name: C,")
    return text[: text.index("  late:")]


@pytest.fixture(scope="module")
def both(furnish, tmp_path_factory):
    """A folder with frames and meters of the scene, and of the scene as it is edited."""
    folder = tmp_path_factory.mktemp("both")
    text = furnish(folder).path.read_text(encoding="utf-8")
    furnish(folder, edited(text))
    (folder / "canteen.yaml").write_text(text, encoding="utf-8")
    return folder


@pytest.fixture
def desk(both, desk, monkeypatch):
    """A desk whose scene is edited and read again while the first stage is being built."""
    shutil.copytree(both, desk.path.parent, dirs_exist_ok=True)
    desk, build_stage = Desk(desk.request), desks.build_stage

    def edited_meanwhile(scene):
        text = desk.path.read_text(encoding="utf-8")
        if "rim" in text and scene.base == desk.path.parent:
            desk.path.write_text(edited(text), encoding="utf-8")
            desk.reload()
        return build_stage(scene)

    monkeypatch.setattr(desks, "build_stage", edited_meanwhile)
    return desk


def get(desk, path, query):
    """Return the status and the body that the server answers with."""
    sent = []

    async def receive():
        return {"type": "http.request", "body": b""}

    async def send(message):
        sent.append(message)

    scope = {"type": "http", "method": "GET", "path": f"/{GUARD.token}/{path}", "root_path": "",
             "query_string": urlencode(query).encode(), "headers": [(b"host", b"127.0.0.1:1")]}
    # In a thread of its own, as the browser of other tests runs a loop in this one.
    with ThreadPoolExecutor(1) as pool:
        # What no answer was made of is raised again after it was sent as a 500.
        pool.submit(lambda: asyncio.run(make_app(desk, GUARD)(scope, receive, send))).exception()
    return sent[0]["status"], b"".join(message.get("body", b"") for message in sent[1:])


@pytest.mark.parametrize(("path", "query"), [
    ("frames.json", {}), ("slice", {"lamp": "rim"}), ("settled", {}), ("still.png", {}),
    ("still.png", {"quick": 1}), ("map.png", {}), ("difference.png", {"than_option": "early"}),
    ("meters.json", {}), ("spot.json", {"x": 0.3, "y": 0.4}), ("handout.html", {"all_cameras": 1}),
])
def test_an_answer_is_of_one_scene(both, desk, path, query):
    """A scene that is read again meanwhile changes nothing of an answer that has begun."""
    query = {"option": "late", "camera": "B", **query}
    before = Desk(dataclasses.replace(desk.request, scene=both / "canteen.yaml"))
    expected = answers.ANSWERS[path](before, {key: str(value) for key, value in query.items()}).body
    assert get(desk, path, query) == (200, expected)
    assert get(desk, path, query) == (400, b"the scene has no option 'late'.\n  Reload the page.")
    assert desk.options == ("early",)


def test_what_comes_meanwhile_is_not_there_yet(desk):
    """A camera that only the edited scene has is refused in words, and found the next time."""
    query = {"option": "early", "camera": "C"}
    assert get(desk, "still.png", query) == (400, b"the option has no camera 'C'.\n  Reload the page.")
    desk.stage("early")
    assert get(desk, "still.png", query)[0] == 200


@pytest.mark.parametrize(("fault", "status", "said"), [
    (ZeroDivisionError("by\nnothing"), 500, "This is a fault of previz itself, in page/answers.py, line "),
    (MemoryError(), 507, "There is not enough memory for that."),
    (OSError(errno.ENOSPC, "No space left on device", "renders/x"), 507,
     "'renders/x': no space left on device."),
], ids=["fault", "memory", "disk"])
def test_what_goes_wrong_is_shown_in_few_words(desk, monkeypatch, tmp_path, fault, status, said):
    """As the terminal has it; a fault of the program leaves a report, and no traceback goes out."""
    def wrong(*_):
        raise fault

    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    monkeypatch.setitem(answers.ANSWERS, "still.png", wrong)
    code, body = get(desk, "still.png", {"option": "early", "camera": "A"})
    told = body.decode()
    assert code == status and told.startswith(said) and "Traceback" not in told
    reports = list(tmp_path.glob("previz-faults-*/*.txt"))
    assert len(reports) == (status == 500) and all(str(path) in told for path in reports)


def test_a_look_of_a_scene_that_is_edited_meanwhile_is_refused(desk):
    """It was set in another scene than the one that it would be written into."""
    with pytest.raises(DataError, match="was changed meanwhile"):
        save_look(desk, {"name": "dimmed", "option": "early", "where": "scene",
                         "look": {"lamps": {"rim": {"level": 0.5}}}})
    text = desk.path.read_text(encoding="utf-8")
    assert "rim" not in text and "dimmed" not in text


def test_renders_know_no_fault_of_an_edit(desk):
    """What an edit takes out while the next render is looked for is not reported as failed."""
    renders = Renders(desk, lambda message: None)
    order = renders._next()
    assert desk.options == ("early",)
    assert order["option"] in ("early", "late")
    assert renders._next()["option"] == "early"


def test_nothing_is_over_for_a_scene_that_is_read_again(desk, monkeypatch):
    """Frames that are there of the scene as it was say nothing of the orders for the edited one."""
    renders = Renders(desk, lambda message: None)

    def read_again(folder, lamps):
        renders.again()
        return [True] * lamps

    for option in desk.options:
        order = {"do": "meters", "option": option, "moves": "", "quality": "draft"}
        renders._no_more(json.dumps(order, sort_keys=True))
    monkeypatch.setattr("previz.page.renders.is_clean", read_again)
    assert renders._next()["quality"] == "working"
    assert renders._over == set()


def test_the_scene_that_was_read_last_stays(desk, monkeypatch):
    """A reading that takes long does not take the place of a later one."""
    load, later = desks.load, []

    def slow(path):
        file = load(path)
        if not later:
            path.write_text(edited(path.read_text(encoding="utf-8")), encoding="utf-8")
            later.append(threading.Thread(target=desk.reload))
            later[0].start()
            later[0].join(0.3)
        return file

    monkeypatch.setattr(desks, "load", slow)
    desk.reload()
    later[0].join()
    assert desk.options == ("early",)
    assert not desk.changed_on_disk()


def test_a_lamp_that_is_replaced_while_a_picture_is_put_together(furnish, tmp_path, monkeypatch):
    """More samples of a lamp may come from another process; the picture is then put together anew."""
    job, camera = furnish(tmp_path).job(Picture("early", "A", 5.6, "working"))
    rows, columns = grid = job.order.height, job.order.width
    planes = {"albedo": (3, *grid), "normal": (3, *grid), "depth": grid, "names_index": grid}
    job.lamp_cache.put_planes(camera, ["set"], {name: np.zeros(shape) for name, shape in planes.items()})

    def put(lamp, samples):
        light = np.full((job.order.bands, rows, columns), samples, np.float32)
        job.lamp_cache.put(lamp, camera, Gathered(light, light[0], samples, 2, 2, 2.0, samples), samples)

    lamps = [lamp.name for lamp in job.stage.lamps]
    for lamp in lamps:
        put(lamp, 4.0)
    read_lamp = pictures.read_lamp

    def replaced(folder):
        found = read_lamp(folder)
        put("key", found.samples + 4.0)
        return found

    monkeypatch.setattr(pictures, "read_lamp", replaced)
    assert job.cached(camera) is None
    monkeypatch.undo()
    found = job.cached(camera)
    assert found.lights == tuple(lamps)
    assert found.slices[lamps.index("key")].min() > 4.0
