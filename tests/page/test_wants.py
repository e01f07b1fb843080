"""Wants on the page: read as `previz balance` reads them, brought about by its levels."""

import json
from dataclasses import asdict, replace

import numpy as np
import pytest
from furnished import SCENE

from previz.deliver.balance_words import miss_text, value_text, wanted_text
from previz.errors import PrevizError
from previz.exposure.camera import working_illuminance
from previz.levels.moves import CameraMove
from previz.levels.response import Response
from previz.levels.solve import as_set
from previz.levels.wants import BRIGHTER, COLOUR, DARKER, LEVEL, RATIO, Want
from previz.page import answers
from previz.page.balancing import _fields, light_values
from previz.page.change_values import MOST_LINES
from previz.page.renders import Renders
from previz.page.wanted import added_key
from previz.page.worker import work
from previz.physics.blackbody import radiance
from previz.physics.exposure import CameraSettings
from previz.physics.light import LampLight, lamp_band_xyz
from previz.physics.spectra import WAVELENGTHS_NM
from previz.rendering.progress import Progress
from previz.scene.read import load
from previz.studies.balance import balance
from previz.studies.balance.moving import fixed, gel_named
from previz.studies.changes import LampChange

BANDS, BATCHES = 8, 64
LEFT, RIGHT = "clerk: left cheek", "clerk: right cheek"
LINE = "meter place setting 0"


def ask(desk, path, **query):
    """Return an answer; what is no text is sent as JSON."""
    sent = {key: value if isinstance(value, str) else json.dumps(value) for key, value in query.items()}
    return json.loads(answers.ANSWERS[path](desk, sent).body)


# What the browser makes of the light at meters


def black(name, kelvin):
    """Return a black body of 1 lx."""
    spectrum, clear = radiance(WAVELENGTHS_NM, kelvin), np.ones(WAVELENGTHS_NM.size)
    lux = lamp_band_xyz(LampLight(name, "lm", 1.0, spectrum, clear), BANDS)[:, 1].sum()
    return LampLight(name, "lm", 1.0, spectrum / lux, clear)


@pytest.fixture(scope="module")
def face():
    """Two cheeks under a key and a fill, each with its noise: response, lamps at full, wants, settings."""
    lux = np.array([[150.0, 20.0], [0.0, 30.0]])
    grain = np.random.default_rng(4).standard_normal((2, BATCHES, 2, 1, 1))
    light = lux[:, None, :, None, None] * np.array([0.75, 0.25])[:, None] * (1 + 0.1 * grain) * np.ones(BANDS)
    response = Response((LEFT, RIGHT), ("key", "fill"), light)
    settings = CameraSettings(2.8, 800.0, 180 / 360 / 24, 0.0)
    level = {"reference": working_illuminance(settings), "camera": "A"}
    wants = [
        Want("lit side", LEVEL, (LEFT, RIGHT), -1.0, side=BRIGHTER, **level),
        Want("shadow side", LEVEL, (LEFT, RIGHT), -2.0, side=DARKER, at_most=True, **level),
        Want("right cheek", LEVEL, (RIGHT,), -1.5, at_least=True, within=0.5, **level),
        Want("ratio", RATIO, (LEFT, RIGHT), 2.0, side=BRIGHTER),
        Want("colour", COLOUR, (LEFT, RIGHT), 1e6 / 3600, side=BRIGHTER, within=10.0),
    ]
    return response, [black("key", 3200.0), black("fill", 5600.0)], wants, settings


@pytest.mark.slow
@pytest.mark.parametrize(("key", "fill", "stop"), [(1.0, 1.0, 2.8), (0.05, 1.0, 2.0), (0.6, 0.3, 5.6)])
def test_the_browser_reads_wants_as_balance_does(opened, face, key, fill, stop):
    """Levels on either side, ratio and colour: reading, error, miss and words, at another stop too."""
    response, lamps, wants, settings = face
    data = {"wants": [{**asdict(each), "seen": False, "metered": True, "fault": ""} for each in wants],
            **light_values(wants, response, lamps)}
    camera = {"stop": stop, "iso": 800.0, "shutter": 180.0, "fps": 24.0, "nd": 0.0}
    found = opened.page.evaluate("""async ([data, levels, camera]) => {
        const w = await import(new URL("wants.js", document.baseURI));
        const found = w.wantReadings(data, (name) => levels[name], () => camera, previz.store.scene.tables);
        return found.map((each) => ({ ...each, words: [w.wantedText(each.want), ...w.standingTexts(each),
            w.missText(each)] })); }""", [data, {"key": key, "fill": fill}, camera])
    reference = working_illuminance(replace(settings, stop=stop))
    wants = [replace(each, reference=reference) if each.camera else each for each in wants]
    set_to = [replace(lamp, level=level) for lamp, level in zip(lamps, (key, fill), strict=True)]
    expected = as_set(response, wants, [fixed(each) for each in set_to], [CameraMove("A")]).readings
    for one, reading in zip(found, expected, strict=True):
        # Two tables of black bodies: half a mired; covariances are sent with six figures. A jackknife's error
        # is that of the slope but for its noise.
        value, error = (0.5, 0.02) if reading.want.kind == COLOUR else (1e-6, 1e-4)
        assert one["value"] == pytest.approx(reading.value.value, abs=value)
        assert one["error"] == pytest.approx(reading.value.error, rel=0.05, abs=error)
        assert one["met"] == reading.met
        if reading.want.kind != COLOUR:
            assert one["words"][0] == wanted_text(reading.want)
            assert one["words"][1] == value_text(reading.want, reading.value)[0]
            assert one["words"][3] == miss_text(reading)


# The server's answers


def test_what_is_sent_reads_as_the_command_line_does(desk):
    """The sum of what lamps give at their levels is the reading that `previz balance` has before."""
    found = ask(desk, "wants.json", option="late", wants=[LINE])
    want, levels = found["wants"][0], {"counter": 1.0, "key": 0.4, "rim": 0.6, "sky": 1.0}
    assert (want["of"], want["line"], want["metered"], want["fault"]) == ("place setting", LINE, True, "")
    xyz = found["xyz"][found["meters"].index("place setting")]
    lux = sum(levels[name] * part[1] for name, part in zip(found["lamps"], xyz, strict=True))
    before = balanced(desk, "late", LINE).solution.before[0].value
    assert np.log2(lux / want["reference"]) == pytest.approx(before.value, abs=1e-6)
    gains = np.array([levels[name] for name in found["lamps"]])
    error = np.sqrt(gains @ np.array(found["spread"][0]) @ gains) / lux / np.log(2)
    assert error == pytest.approx(before.error, rel=0.02)


def balanced(desk, option, *lines, **more):
    """Return what `previz balance` answers."""
    return balance(load(desk.path), option, desk.request.request, wants=lines, pictures=False,
                   progress=Progress(), **more)


def test_levels_are_those_of_the_command_line(desk):
    """Worked out from the scene as written, a want has the levels that `previz balance` gives."""
    found = ask(desk, "balance.json", option="early", wants=[LINE])
    changes = balanced(desk, "early", LINE).changes
    assert found["met"] and found["lamps"]
    assert {name: each["level"] for name, each in found["lamps"].items()} == {
        name: each.dimmer for name, each in changes.lamps.items()}
    assert found["said"] == ["The want is met."] and found["edition"] == desk.edition
    assert found["changes"] == changes.text().removeprefix("changed: ")


def test_levels_are_worked_out_from_what_is_set(desk):
    """Changes of the page count: a lamp that is held, one that is off, another stop."""
    line = "meter place setting -1"
    look = {"lamps": {"key": {"level": 0.3}, "counter": {"on": False}}, "cameras": {"A": {"stop": 4}}}
    found = ask(desk, "balance.json", option="early", wants=[line], look=look, hold=["rim"])
    assert set(found["lamps"]) == {"key"}
    merged = {**look, "lamps": {**look["lamps"], "key": {**look["lamps"]["key"], **found["lamps"]["key"]}}}
    again = ask(desk, "balance.json", option="early", wants=[line], look=merged, hold=["rim"])
    assert again["lamps"] == {} and again["met"] and again["changes"] == ""


def test_stop_and_colour_move_where_the_scene_lets_them(furnish, tmp_path):
    """They come as the page keeps them: the stop of a camera, a lamp's colour, gels by their names."""
    text = SCENE.replace("stop: T2.8, iso: 800, white_balance: 4300 K}",
                         "stop: T2.8, iso: 800, white_balance: 4300 K, may_move: {stop: T1.4 to T2.8}}", 1)
    text = text.replace("cct: 4300 K\n  -", "cct: 4300 K\n    may_move: {cct: 3000 K to 6000 K}\n  -")
    text = text.replace("quarter cto, {transmission: 80 %}]}",
                        "quarter cto], may_move: {gels: [full ctb, full cto]}}")
    desk = furnish(tmp_path / "moves", text)
    found = ask(desk, "balance.json", option="early", wants=["meter place setting 2"])
    assert found["met"] and 1.4 <= found["cameras"]["A"]["stop"] < 2.8
    merged = {"lamps": found["lamps"], "cameras": found["cameras"]}
    again = ask(desk, "balance.json", option="early", wants=["meter place setting 2"], look=merged)
    assert again["met"] and again["cameras"] == {}
    fields = _fields(LampChange(on=True, dimmer=0.5, cct=3200.0, gel=(gel_named("half cto"), 0)))
    assert fields == {"on": True, "level": 0.5, "cct": 3200.0, "gel": ["half cto", {"sheet": 0}]}


def test_what_no_levels_do_is_said(desk):
    """A want that no level meets: what comes nearest, and what would have to change."""
    found = ask(desk, "balance.json", option="early", wants=["meter place setting 2"])
    assert not found["met"] and not found["readings"][0]["met"]
    assert found["said"][0] == "The want is not met."
    assert found["said"][-1].startswith("What would do, each alone: ")


def test_a_lamp_that_goes_out_is_brought_down(desk):
    """It is not switched off, so that the next balance may raise it again."""
    found = ask(desk, "balance.json", option="early", wants=["meter place setting -6"])
    assert any(each == {"level": 0.0} for each in found["lamps"].values())
    assert not any("on" in each for each in found["lamps"].values())


@pytest.mark.parametrize(("path", "query", "words"), [
    ("balance.json", {}, "Nothing is wanted of this option."),
    ("wants.json", {"wants": ["more light"]}, "'more light' says nothing that can be wanted"),
    ("wants.json", {"wants": ["lit side clerk 0"]}, "clerk"),
    ("wants.json", {"wants": [LINE, "meter place setting 1"]}, "exclude each other"),
    ("wants.json", {"wants": "no list"}, f"at most {MOST_LINES} lines"),
    ("wants.json", {"wants": [LINE] * (MOST_LINES + 1)}, f"at most {MOST_LINES} lines"),
    ("wants.json", {"wants": [7]}, f"at most {MOST_LINES} lines"),
    ("balance.json", {"wants": [LINE], "rule": "luck"}, "luck"),
    ("balance.json", {"wants": [LINE], "hold": ["gaffer"]}, "there is no lamp 'gaffer'"),
    ("balance.json", {"wants": [LINE], "hold": "key"}, "'hold' is a list of lamps"),
    ("balance.json", {"wants": [LINE], "hold": ["counter", "key", "rim"]}, "Nothing may move."),
    ("balance.json", {"wants": ["thing table -1"]}, "not all that is wanted is metered yet"),
    ("balance.json", {"wants": ["background B at most 2"], "look": {"lamps": {"x": {}}}}, "no lamp 'x'"),
    ("walk.json", {"figure": "clerk"}, "No figure of this option has marks"),
])
def test_wrong_requests_are_refused_in_words(desk, path, query, words):
    """What is wrong, and what to do."""
    with pytest.raises(PrevizError) as refusal:
        ask(desk, path, option="early", **query)
    assert words in str(refusal.value)


def test_what_waits_for_its_meters_is_shown_as_waiting(desk):
    """A spot meter that nobody has run yet is no fault; a background is read off the picture at once."""
    wants = ["thing table -1", LINE, "background A at most -2"]
    found = ask(desk, "wants.json", option="early", wants=wants)
    assert [each["metered"] for each in found["wants"]] == [False, True, True]
    assert {each["fault"] for each in found["wants"]} == {""}
    assert set(found["meters"]) == {"place setting", "background, A"}
    assert ask(desk, "wants.json", option="early")["wants"] == []


# Behind the page


def test_meters_of_what_is_wanted_are_run(desk):
    """Wants that were added are metered with the scene's own, drafts first; the worker takes their lines."""
    desk.change({added_key("late"): [LINE]})
    desk.changes = {**desk.changes, added_key("early"): "spoilt"}
    renders = Renders(desk, print)
    renders.show("late", "A", 2.8)
    orders = [each for each in renders._wishes(desk) if each["do"] not in ("frames", "meters")]
    assert orders == [{"do": "wants", "option": "late", "moves": "", "quality": quality, "lines": [LINE]}
                      for quality in ("draft", "working")]
    said = []
    work(desk.request.to_json(), Given([*orders, {**orders[0], "lines": ["more light"]}]), said.append)
    ends = [each for each in said if each["event"] != "progress"]
    assert [each["event"] for each in ends] == ["done", "done", "failed"]
    assert "'more light' says nothing that can be wanted" in ends[-1]["text"]


class Given:
    """Orders one after the other, and none put off."""

    idle = False

    def __init__(self, orders):
        self.orders = list(orders)

    def next(self):
        """Return the next order, None after the last."""
        return self.orders.pop(0) if self.orders else None

    def check(self):
        """Nothing is put off."""


# In the hand


@pytest.mark.slow
def test_a_want_turns_from_missed_to_met(opened):
    """Said in the field, listed as missed, met by the key that works levels out, missed again undone."""
    page = opened.page
    opened.metered()
    page.get_by_label("Add a want").fill("more light")
    page.keyboard.press("Enter")
    opened.expected = "400 (Bad Request)"
    opened.until("document.querySelector('#want-box .fault').textContent.includes("
                 "'says nothing that can be wanted')")
    page.get_by_label("Add a want").fill(LINE)
    page.keyboard.press("Enter")
    opened.until("document.querySelector('.want-list td.standing')?.dataset.met === 'false'")
    assert page.inner_text(".verdict") == "The want is not met."
    assert page.inner_text("#want-box .fault") == ""
    written = page.evaluate("previz.store.lamps.map((each) => previz.store.gain(each.name))")
    page.evaluate("document.activeElement.blur()")
    page.keyboard.press("b")
    opened.until("document.querySelector('.want-list td.standing').dataset.met === 'true'")
    opened.until("!previz.wants.working")
    assert page.inner_text(".verdict") == "The want is met."
    assert page.inner_text(".answer").startswith("Set: ")
    assert page.evaluate("previz.store.lamps.map((each) => previz.store.gain(each.name))") != written
    page.keyboard.press("Control+z")
    opened.until("document.querySelector('.want-list td.standing').dataset.met === 'false'")
    assert page.evaluate("previz.store.lamps.map((each) => previz.store.gain(each.name))") == written
    page.click("[aria-label='Take out: meter place setting 0']")
    opened.until("document.querySelector('.verdict').textContent.startsWith('Nothing is wanted')")
