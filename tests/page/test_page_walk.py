"""A walk on the page: the strip of `previz walk`, under the lamps as they are set in the hand."""

import json
from dataclasses import replace

import numpy as np
import pytest
from furnished import SCENE, request_for

from previz.errors import PrevizError
from previz.exposure.camera import settings_of
from previz.exposure.comparing.walk import strip_of
from previz.exposure.comparing.walk_words import record
from previz.frames.batches import BATCHES, Batches, write_meter
from previz.page.answers import ANSWERS
from previz.page.desk import Desk
from previz.page.renders import Renders
from previz.page.shots import lit
from previz.page.walking import walk_of, walkers
from previz.page.worker import work
from previz.rendering.meter_kinds import IncidentMeters
from previz.stage.colours import stage_colours

WALKER = """\
figures:
  - name: cook
    person: person one
    at: [1 m, 2 m]
    facing: table
    marks: [{name: hatch, at: [1.6 m, 2 m]}, {name: door, at: [2.2 m, 2 m]}]

options:"""


def walking_desk(folder):
    """Return a desk whose cook has a way, with nothing metered."""
    (folder / "canteen.yaml").write_text(SCENE.replace("options:", WALKER), encoding="utf-8")
    return Desk(request_for(folder))


@pytest.fixture(scope="module")
def metered(tmp_path_factory):
    """The same with meters made by arithmetic: the key falls off along the way, the rim comes up behind."""
    walking = walking_desk(tmp_path_factory.mktemp("walk"))
    walk = walk_of(walking, "early")
    kinds = IncidentMeters(walk.meters, walk.job.stage.probes)
    lights = [lamp.name for lamp in walk.job.stage.lamps]
    for number, (name, file) in enumerate(zip(kinds.names, kinds.files, strict=True)):
        batches = Batches.empty([name], lights, 12)
        step, side = divmod(number, 2)
        along = np.array([0.02, 0.4 / (1 + step) ** 2, 0.002 * step**2, 0.3])[:, None, None]
        grain = np.random.default_rng(number).standard_normal((BATCHES, len(lights), 1, 1))
        batches.paths[0] = walk.meters.least // BATCHES
        light = 0.5 * along * (1 - 0.6 * side) * np.ones((2, 12))
        batches.sums[0] = batches.paths[0] * light * (1 + 0.01 * grain)
        batches.squares[0], batches.fourths[0] = 1.0, 1 / 400
        write_meter(walk.meters.folder / f"{file}.npz", batches, 0)
    return walking


def ask(desk, **query):
    """Return the answer about a walk."""
    sent = {key: value if isinstance(value, str) else json.dumps(value) for key, value in query.items()}
    return json.loads(ANSWERS["walk.json"](desk, sent).body)


def test_who_walks(tmp_path, desk):
    """Figures with marks for a way, and no walk where there is none; it waits until all of it is metered."""
    walking = walking_desk(tmp_path)
    assert walkers(walking.scene("early")) == ["cook"]
    assert ask(desk, option="early")["figures"] == []
    found = ask(walking, option="late")
    assert (found["figures"], found["figure"], found["strip"]) == (["cook"], "cook", None)
    with pytest.raises(PrevizError, match="nobody"):
        ask(walking, option="early", figure="nobody")


LOOKS = [{}, {"lamps": {"key": {"level": 0.1}, "rim": {"on": False}}, "cameras": {"B": {"stop": 4}}}]


@pytest.mark.parametrize("look", LOOKS)
def test_the_strip_is_that_of_the_command(metered, look):
    """At any levels and stop it is what `previz walk` makes of the same meters."""
    found = ask(metered, option="early", camera="B", look=look)
    walk, request = walk_of(metered, "early"), lit(metered, {"option": "early", "look": json.dumps(look)})
    camera = next(each for each in walk.job.stage.cameras if each.name == "B")
    settings = settings_of(replace(camera, stop=4.0 if look else 2.8))
    strip = strip_of("cook", walk.way.points, walk.read(), request.lamps(), settings,
                     colours=stage_colours(walk.job.stage))
    expected = record(strip)
    assert found["strip"]["lit_stops"] == expected["lit_stops"]
    assert json.dumps(found["strip"]["uneven"]) == json.dumps(expected["uneven"])
    assert [each["name"] for each in found["strip"]["marks"]] == ["start", "hatch", "door"]


def test_meters_are_read_once_until_they_change(metered):
    """Another level reads no file again; a meter that was written anew is read."""
    walk = walk_of(metered, "early")
    first = walk.read()
    assert walk.read() is first
    path = walk.meters.folder / f"{IncidentMeters(walk.meters, walk.job.stage.probes).files[0]}.npz"
    content = path.read_bytes()
    path.unlink()
    assert walk.read() is None
    path.write_bytes(content)
    assert walk.read() is not first


def test_the_way_is_metered_behind_the_page(metered):
    """A draft of the way in view comes before full pictures, the rest after them; the worker does it."""
    renders = Renders(metered, print)
    renders.show("late", "A", 2.8)
    orders = [(each["do"], each["option"], each["quality"]) for each in renders._wishes(metered)]
    walks = [each for each in orders if each[0] == "walk"]
    assert walks == [("walk", "late", "draft"), ("walk", "late", "working"), ("walk", "early", "working")]
    assert orders.index(walks[0]) < orders.index(("frames", "late", "working")) < orders.index(walks[1])
    said = []
    work(metered.request.to_json(), iter_orders("walk", "early", figure="cook"), said.append)
    assert [each["event"] for each in said if each["event"] != "progress"] == ["done"]


def iter_orders(do, option, **more):
    """Return one order, as the worker hears it."""
    orders = [{"do": do, "option": option, "moves": "", "quality": "draft", **more}]

    class Given:
        idle = False

        def next(self):
            return orders.pop() if orders else None

        def check(self):
            pass

    return Given()


@pytest.mark.slow
@pytest.mark.parametrize("look", LOOKS)
def test_the_browser_draws_the_strip_itself(opened, metered, look):
    """What it makes of the lamps' light at levels is what the program says of them."""
    walk = ask(metered, option="early", camera="B", look=look)
    levels = {"counter": 1.0, "key": 0.1 if look else 1.0, "rim": 0.0 if look else 0.6, "sky": 1.0}
    found = opened.page.evaluate("""async ([walk, levels, camera]) => {
        const [s, l] = await Promise.all(["strip.js", "light.js"].map((each) =>
            import(new URL(each, document.baseURI))));
        const working = Math.PI / l.signalPerLuminance(camera, previz.store.scene.tables);
        const stops = s.stripStops(walk, (name) => levels[name], working);
        const drawing = s.stripDrawing({ strip: walk.strip, ...stops, width: 600, behind: false });
        return { ...stops, text: drawing.textContent, name: drawing.getAttribute("aria-label") }; }""",
        [walk, levels, {"stop": 4 if look else 2.8, "iso": 800, "shutter": 180, "fps": 24, "nd": 0}])
    assert found["lit"] == pytest.approx(walk["strip"]["lit_stops"]["value"], abs=1e-4)
    assert found["shadow"] == pytest.approx(walk["strip"]["shadow_stops"]["value"], abs=1e-4)
    assert all(name in found["text"] for name in ("start", "hatch", "door"))
    assert walk["strip"]["words"][0] in found["name"]
