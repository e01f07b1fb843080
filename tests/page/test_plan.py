"""The plan on the page: things are dragged, aimed, turned, raised, put in and taken out."""

import json

import numpy as np
import pytest

from previz.page.answers import answer
from previz.page.describe import greenest_values, option_values
from previz.page.desk import Desk, PageRequest, Picture, moves_text
from previz.plans.plan import draw_plan
from previz.plans.records import Shape, Symbol
from previz.plans.tags import tags_of
from previz.rendering.request import Request
from previz.scene.light import LIGHTS
from previz.scene.read import load

pytestmark = pytest.mark.slow

CABIN = "scenes/signal-cabin.yaml"

ROWS = "[...document.querySelectorAll('#lamp-list [data-lamp]')].map((each) => each.dataset.lamp)"


class Plan:
    """The plan of an open page, with a hand on it."""

    def __init__(self, opened):
        self.opened, self.page = opened, opened.page
        self.page.evaluate("document.getElementById('plan').scrollIntoView({ block: 'center' })")
        self.drawn()

    def drawn(self):
        """Wait until the drawing is of what is set."""
        self.opened.until("previz.plan.data && !previz.plan.running && !previz.plan.busy"
                          " && !previz.store.holding"
                          " && previz.plan.askedOf === `${previz.store.option} ${previz.plan.moves}`"
                          " && previz.plan.local.size === 0 && !previz.plan.wanted")

    @property
    def moves(self):
        return self.page.evaluate("previz.store.moves")

    def pixel(self, x, y):
        """Return where a place of the set is in the window."""
        return self.page.evaluate("""([x, y]) => {
            const { view } = previz.plan, box = view.svg.getBoundingClientRect(), [w, h] = view.size;
            return [box.left + w / 2 + (x - view.middle[0]) * view.scale,
                box.top + h / 2 - (y - view.middle[1]) * view.scale];
        }""", [x, y])

    def drag(self, start, end, *, by=4):
        """Drag from a place of the set to another."""
        mouse = self.page.mouse
        mouse.move(*self.pixel(*start))
        mouse.down()
        mouse.move(*self.pixel(*end), steps=by)
        mouse.up()
        self.drawn()

    def focus(self, name):
        self.page.focus(f"[data-thing='{name}']")

    def press(self, *keys):
        for key in keys:
            self.page.keyboard.press(key)
        self.drawn()


@pytest.fixture
def plan(opened):
    opened.page.evaluate("Object.assign(previz.plan, { chosen: null, aiming: false }); previz.plan.say('')")
    plan = Plan(opened)
    plan.page.evaluate("previz.plan.view.fit(previz.plan.data.extent)")
    plan.drawn()
    yield plan
    # The next test has the set as written again.
    plan.page.evaluate("previz.plan.chosen = null")
    opened.as_written()


def metres(texts):
    return [float(each.removesuffix(" m")) for each in texts]


def test_a_lamp_is_dragged_and_one_undo_takes_it_back(plan):
    """A drag sets the lamp's place and nothing else, is one step, and is told of while it lasts."""
    page = plan.page
    page.evaluate("""() => { window.told = []; previz.store.listen((what) =>
        what === "holding" && told.push(previz.store.holding?.name ?? null)); }""")
    plan.drag((3, 0.5), (2.4, 0.9), by=12)
    assert list(plan.moves) == ["lights"] and list(plan.moves["lights"]) == ["key"]
    assert list(plan.moves["lights"]["key"]) == ["at"]
    at = plan.moves["lights"]["key"]["at"]
    # A pixel is about 6 mm here, and places are set to a centimetre.
    assert metres(at) == pytest.approx([2.4, 0.9, 2.0], abs=0.03)
    assert metres(at)[0] * 100 == pytest.approx(round(metres(at)[0] * 100), abs=1e-6)
    assert page.evaluate("told") == ["key", None]
    assert page.evaluate("previz.store.done.length") == 1
    drawn = page.evaluate("previz.plan.thing('key').at")
    assert drawn == pytest.approx(metres(at), abs=1e-3)
    assert page.evaluate("previz.plan.data.ghosts.map((each) => each.name)") == ["key"]
    page.evaluate("previz.store.undo()")
    assert plan.moves == {}
    plan.drawn()
    assert page.evaluate("previz.plan.thing('key').at") == pytest.approx([3, 0.5, 2])


def test_a_dragged_lamp_changes_the_file_by_its_place(own_served, folder, open_page):
    """Saved over what the file says a drag is one value of it, and the page lets go of it."""
    path = folder / "canteen.yaml"
    before = path.read_text(encoding="utf-8")
    opened = open_page(own_served.plain)
    # Of what the file has then nothing is rendered: a picture that the page asks for meanwhile is refused.
    opened.expected = "400 (Bad Request)"
    page, plan = opened.page, Plan(opened)
    page.evaluate("previz.plan.view.fit(previz.plan.data.extent)")
    plan.drawn()
    plan.drag((3, 0.5), (2.4, 0.9))
    at = ", ".join(plan.moves["lights"]["key"]["at"])
    page.keyboard.press("k")
    page.check("#keep input[value=everywhere]")
    page.click("#keep button.main")
    opened.until("!document.getElementById('keep').open && Object.keys(previz.store.moves).length === 0")
    assert "With it changed: the scene as written, 'late'." in page.inner_text("#notice")
    lines = zip(before.splitlines(), path.read_text(encoding="utf-8").splitlines(), strict=True)
    changed = [(was, now) for was, now in lines if was != now]
    assert changed == [("    at: [3 m, 0.5 m, 2 m]", f"    at: [{at}]")]
    opened.until("previz.store.scene.edition > 1")
    plan.drawn()
    assert page.evaluate("previz.plan.thing('key').at") == pytest.approx(metres(at.split(", ")), abs=1e-3)
    # There is nothing left to undo: the file has it.
    assert page.evaluate("previz.store.done.length") == 0


def test_a_long_drag_is_one_step(plan):
    """However long a hand rests within a drag, one undo takes all of it back."""
    page, mouse = plan.page, plan.page.mouse
    mouse.move(*plan.pixel(3, 0.5))
    mouse.down()
    for x in (2.8, 2.5, 2.2):
        mouse.move(*plan.pixel(x, 0.7))
        plan.opened.until("!previz.plan.running")
        page.evaluate("previz.store.done.at(-1).at -= 60000")
    mouse.up()
    plan.drawn()
    assert page.evaluate("previz.store.done.length") == 1
    # The next drag is a step of its own.
    plan.drag((2.2, 0.7), (2.4, 0.9))
    assert page.evaluate("previz.store.done.length") == 2


def test_a_lamp_is_aimed_by_its_handle_by_choice_and_by_hand(plan):
    """The aim goes to a point on the plan at its height, or to a thing."""
    page = plan.page
    plan.page.mouse.click(*plan.pixel(3, 0.5))
    table = page.evaluate("previz.plan.point(previz.plan.thing('key'))")
    plan.drag((2.0, 1.5), (1.5, 2.0))
    aim = plan.moves["lights"]["key"]
    assert list(aim) == ["aim"]
    assert metres(aim["aim"]) == pytest.approx([1.5, 2.0, table[2]], abs=0.03)
    page.get_by_label("Aimed at", exact=True).select_option("place setting")
    plan.drawn()
    assert plan.moves == {"lights": {"key": {"aim": "place setting"}}}
    page.get_by_role("button", name="Aim by hand").click()
    page.mouse.click(*plan.pixel(1.0, 2.5))
    plan.drawn()
    assert metres(plan.moves["lights"]["key"]["aim"]) == pytest.approx([1.0, 2.5, 0.8], abs=0.03)
    page.get_by_role("button", name="As written", exact=True).locator("visible=true").last.click()
    plan.drawn()
    assert plan.moves == {}


def test_keys_move_raise_turn_and_take_out(plan):
    """Everything that a hand does on the plan is done from the keyboard too."""
    plan.focus("rim")
    plan.press("ArrowRight", "ArrowRight", "Shift+ArrowDown", "PageUp", "Shift+PageDown")
    assert metres(plan.moves["lights"]["rim"]["at"]) == pytest.approx([0.7, 2.49, 2.29])
    # The focus stays on what is moved, and its place is said.
    assert plan.page.evaluate("document.activeElement.dataset.thing") == "rim"
    assert "0.70 m east, 2.49 m north, 2.29 m high" in plan.page.evaluate("document.activeElement.ariaLabel")
    plan.press(",")
    before, after = np.array([2.0, 1.5]) - [0.7, 2.49], metres(plan.moves["lights"]["rim"]["aim"])[:2]
    turned = np.array(after) - [0.7, 2.49]
    # Five degrees counter-clockwise about the lamp, at the same distance.
    angle = np.degrees(np.arctan2(before[0] * turned[1] - before[1] * turned[0], before @ turned))
    assert angle == pytest.approx(5, abs=0.1)
    assert np.hypot(*turned) == pytest.approx(np.hypot(*before), abs=2e-3)
    plan.focus("table")
    plan.press(",", ",", ".")
    assert plan.moves["pieces"] == {"table": {"turn": "5 deg"}}
    plan.focus("rim")
    plan.press("Delete")
    assert plan.moves == {"pieces": {"table": {"turn": "5 deg"}}, "remove": ["rim"]}
    assert plan.page.evaluate(ROWS) == ["counter", "key", "sky"]
    plan.page.keyboard.press("Control+z")
    plan.drawn()
    # Place and aim are back with it.
    assert sorted(plan.moves["lights"]["rim"]) == ["aim", "at"]


def test_heights_are_dragged_beside_the_plan(plan):
    """The strip raises what is chosen, and takes keys as a slider does."""
    page = plan.page
    page.mouse.click(*plan.pixel(3, 0.5))
    strip = page.locator(".plan-heights")
    box = strip.bounding_box()
    y = page.evaluate("[2, 1.5].map((z) => previz.plan.heights.y(z))")
    page.mouse.move(box["x"] + 50, box["y"] + y[0])
    page.mouse.down()
    page.mouse.move(box["x"] + 50, box["y"] + y[1], steps=5)
    page.mouse.up()
    plan.drawn()
    assert metres(plan.moves["lights"]["key"]["at"]) == pytest.approx([3, 0.5, 1.5], abs=0.03)
    strip.focus()
    plan.press("ArrowUp")
    now = float(strip.get_attribute("aria-valuenow"))
    assert now == pytest.approx(1.6, abs=0.03)
    assert metres(plan.moves["lights"]["key"]["at"])[2] == pytest.approx(now)


def test_what_cannot_be_is_said_and_goes_back(plan):
    """A lamp in a wall is refused in words, and by hand goes back to where it last could be."""
    page = plan.page
    page.mouse.click(*plan.pixel(3, 0.5))
    field = page.locator(".chosen-thing").get_by_label("East", exact=True).first
    field.fill("4.1")
    field.press("Enter")
    plan.opened.until("document.querySelector('.plan-fault').textContent.includes('inside the east wall')")
    plan.drawn()
    assert plan.moves == {}
    page.evaluate("document.activeElement.blur()")
    plan.drawn()
    assert page.evaluate("previz.plan.at(previz.plan.thing('key'))") == pytest.approx([3, 0.5, 2])
    assert field.input_value() == "3"
    mouse = page.mouse
    mouse.move(*plan.pixel(3, 0.5))
    mouse.down()
    mouse.move(*plan.pixel(3.5, 0.5), steps=3)
    plan.opened.until("!previz.plan.running && previz.plan.refused === null")
    mouse.move(*plan.pixel(4.1, 0.5))
    plan.opened.until("previz.plan.refused === 'key'")
    mouse.up()
    plan.drawn()
    assert metres(plan.moves["lights"]["key"]["at"]) == pytest.approx([3.5, 0.5, 2], abs=0.03)
    assert page.evaluate("previz.plan.at(previz.plan.thing('key'))") == pytest.approx([3.5, 0.5, 2], abs=0.03)
    # It is set right, and the words go.
    plan.drag((3.5, 0.5), (3.0, 1.0))
    assert page.text_content(".plan-fault") == ""


def test_what_fits_the_scene_no_more_can_be_put_back(own_served, open_page):
    """What was moved before an edit of the file is told, listed, and put back; then the plan is drawn."""
    opened = open_page(own_served.plain)
    opened.expected = "Failed to load resource: the server responded"
    page = opened.page
    page.evaluate("previz.store.set({ 'early|place|lights|lost': { at: ['1 m', '1 m', '1 m'] } })")
    opened.kept()
    page.reload()
    opened.until("window.previz && document.querySelector('.plan-fault').textContent.includes('lost')")
    assert page.evaluate("previz.plan.data") is None
    page.get_by_role("button", name="As written: lost").click()
    opened.until("previz.plan.data?.things.length > 3")
    assert page.evaluate("previz.store.changes") == {}
    opened.kept()


def test_a_lamp_is_put_in_and_taken_out_again(plan, served):
    """It has a row with a level, is in the moved scene, moves by its own record, leaves nothing behind."""
    page = plan.page
    page.evaluate("document.querySelector('.put-in').open = true")
    page.get_by_label("What", exact=True).select_option(label="fresnel")
    page.get_by_label("Output", exact=True).locator("visible=true").last.fill("5 klm")
    page.get_by_role("button", name="Put it in").click()
    plan.opened.until("previz.plan.thing('fresnel') && previz.plan.chosen === 'fresnel'")
    plan.drawn()
    added = plan.moves["add"]["lights"][0]
    assert {"kind": "fresnel", "output": "5 klm", "aim": "table"}.items() <= added.items()
    assert page.evaluate(ROWS) == ["counter", "key", "rim", "fresnel", "sky"]
    plan.press("ArrowLeft")
    moved = plan.moves["add"]["lights"][0]
    assert metres(moved["at"])[0] == pytest.approx(metres(added["at"])[0] - 0.1)
    page.evaluate("previz.store.changeLamp('fresnel', { level: 0.25, gel: ['half cto'] })")
    scene = load(served.folder / "canteen.yaml").moved("early", plan.moves)
    lamp = next(each for each in scene.lights if each.name == "fresnel")
    assert lamp.output.value == 5000 and lamp.at == pytest.approx(metres(moved["at"]))
    assert page.evaluate("previz.store.gain('fresnel')") == 0.25
    look = json.dumps(page.evaluate("previz.store.look()"))
    assert look.count('"fresnel"') == 3  # the change, the record's name, its kind
    plan.focus("fresnel")
    plan.press("Delete")
    assert plan.moves == {} and page.evaluate("previz.store.changes") == {}
    page.evaluate("previz.store.undo()")
    assert page.evaluate("previz.store.gain('fresnel')") == 0.25


def test_everything_that_can_be_put_in_can_be_had(plan, served):
    """With the fields that are offered every kind of lamp and sheet makes a scene."""
    file, offered = load(served.folder / "canteen.yaml"), plan.page.evaluate("previz.plan.data.kinds")
    assert {each["kind"] for each in offered} - {""} == set(LIGHTS) - {"glow"}
    for each in offered:
        fields = {**each["fields"], "name": "new", "at": ["1.5 m", "1 m", f"{each['height']} m"]}
        if each["aim"]:
            fields[each["aim"]] = "table"
        scene = file.moved("early", {"add": {each["section"]: [fields]}})
        assert getattr(scene, each["section"])[-1].name == "new"


def test_rows_are_those_of_the_moved_scene(plan, served, monkeypatch):
    """What the page makes of moves is what the server reads: levels, colours, gels, lenses, who is there."""
    desk = Desk(PageRequest(served.folder / "canteen.yaml", served.folder / "renders", Request(
        served.folder / "renders" / "frames", size=(160, None), samples=4)))
    at = ["1.5 m", "1 m", "1.6 m"]
    every = [{"name": f"new {kind}", "kind": kind, "at": at, **{
        name: text[1:-1].split(", ") if text.startswith("[") else text for name, text in cls.sample.items()}}
        for kind, cls in LIGHTS.items() if kind != "glow"]
    every[0] |= {"dimmer": "30 %", "cct": "4000 K", "gel": ["half ctb", "nd 0.3"], "duv": "0.003"}
    every[1] |= {"on": "no", "gel": "half cto", "spectrum": "tungsten", "cct": "3000 K"}
    every[2] |= {"spectrum": "two-colour led"}
    moves = {
        "lights": {"rim": {"at": at, "dimmer": "0.5", "gel": "none", "cct": "3.4 kK"}},
        "cameras": {"A": {"lens": "50 mm", "stop": "T4", "iso": "400"}}, "remove": ["counter"],
        "add": {"lights": every, "cameras": [
            {"name": "C", "at": at, "aim": "table", "lens": "0.085 m", "stop": "T2", "iso": "800"}]},
    }
    laid = """async (moves) => {
        const { asMoved } = await import("./moved.js"), { scene } = previz.store;
        return asMoved(scene.options.find((each) => each.name === "early"), moves, scene); }"""
    found = plan.page.evaluate(laid, moves)
    plan.page.evaluate("previz.store.scene.rows.lacking = new Set(['daylight'])")
    plan.page.evaluate("previz.plan.askGreenest()")
    place = next(at for at, lamp in enumerate(found["lamps"]) if lamp.get("kind") == "backdrop")
    after = plan.page.evaluate(laid, moves)["lamps"][place]
    # How green light can be takes long to find, and is asked for once it is needed.
    assert found["lamps"][place]["greenest"] is None and after["kind"] == "backdrop"
    assert after["greenest"] == greenest_values("daylight")["greenest"]
    monkeypatch.setattr("previz.page.describe.greenest", lambda light: ())
    for lamp in found["lamps"]:
        lamp |= {"greenest": []} if lamp["sort"] == "lamp" else {}
    expected = json.loads(json.dumps(option_values(desk, "early", moves_text(moves))))
    assert found["lamps"] == expected["lamps"]
    for mine, theirs in zip(found["cameras"], expected["cameras"], strict=True):
        assert list(mine) and set(mine) == set(theirs)
        for key, value in theirs.items():
            assert mine[key] == (pytest.approx(value) if isinstance(value, float) else value), key
    assert found["faces"] == expected["faces"]


def test_a_finger_moves_a_lamp_and_scrolls_beside_it(open_page, served):
    """By touch a lamp goes with the finger and the page stays; from a free place the page scrolls."""
    opened = open_page(served.plain, width=390, height=800, has_touch=True)
    plan = Plan(opened)
    cdp = opened.context.new_cdp_session(opened.page)

    def swipe(start, by):
        for k in range(9):
            point = {"x": start[0] + by[0] * k / 8, "y": start[1] + by[1] * k / 8}
            cdp.send("Input.dispatchTouchEvent", {"type": "touchMove" if k else "touchStart",
                                                  "touchPoints": [point]})
        cdp.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})

    # The figures of what is chosen take room.
    plan.page.evaluate("previz.plan.choose('key')")
    plan.opened.shown()
    # What is read of the set stands over the plan here, and takes more or less room.
    top = "document.querySelector('.plan-drawing').getBoundingClientRect().top"
    before = plan.page.evaluate(top)
    swipe(plan.pixel(3, 0.5), (-40, -40))
    plan.drawn()
    scale = plan.page.evaluate("previz.plan.view.scale")
    at = metres(plan.moves["lights"]["key"]["at"])
    assert at == pytest.approx([3 - 40 / scale, 0.5 + 40 / scale, 2], abs=0.04)
    assert plan.page.evaluate(top) == pytest.approx(before, abs=2)
    swipe(plan.pixel(2.0, 2.7), (0, -60))
    opened.until(f"Math.abs({top} - {before}) > 20")
    opened.as_written()


MARKED = """
figures:
  - name: porter
    at: [1 m, 2.2 m]
    facing: 0 deg
    marks:
      - {name: hatch, at: [3 m, 2.2 m], facing: 90 deg}
"""


@pytest.fixture(scope="module")
def marked(tmp_path_factory, furnished):
    """The canteen with somebody in it who has a mark."""
    folder = tmp_path_factory.mktemp("marked") / "depot"
    folder.mkdir()
    text = (furnished / "canteen.yaml").read_text(encoding="utf-8")
    (folder / "canteen.yaml").write_text(text.replace("\ncameras:", f"{MARKED}\ncameras:"), encoding="utf-8")
    return folder


def test_a_figure_comes_to_stand_on_its_mark(marked, serve, open_page):
    """Let go of near a mark it is on it, and from there it takes along how it stood."""
    opened = open_page(serve(marked).plain)
    # From its only mark there is no way to walk, which is told as such.
    opened.expected = "400 (Bad Request)"
    plan = Plan(opened)
    plan.drag((1, 2.2), (2.9, 2.1))
    assert plan.moves == {"figures": {"porter": {"mark": "hatch"}}}
    assert plan.page.evaluate("previz.plan.thing('porter').at") == pytest.approx([3, 2.2, 0])
    plan.drag((3, 2.2), (2.0, 2.3))
    porter = plan.moves["figures"]["porter"]
    assert porter.pop("facing") == "90 deg" and set(porter) == {"at"}
    assert metres(porter["at"]) == pytest.approx([2.0, 2.3, 0], abs=0.03)


# The server's side


@pytest.fixture(scope="module")
def cabin(tmp_path_factory):
    """The desk of the signal cabin, of which nothing is rendered."""
    out = tmp_path_factory.mktemp("cabin")
    return Desk(PageRequest(load(CABIN).path, out, Request(out / "frames", size=(160, None), samples=4)))


MOVED = {"lights": {"key": {"at": ["4.2 m", "0.6 m", "2.2 m"]}, "lever rim": {"aim": "clerk.chest"}},
         "boards": {"card": {"at": ["0.9 m", "0.8 m", "1.5 m"]}},
         "figures": {"clerk": {"at": ["1.5 m", "2.75 m"], "facing": "300 deg"}}}


def plan_of(desk, option, moves=None, **more):
    query = {"option": option, "look": json.dumps({"moves": moves or {}}), **more}
    return json.loads(answer(desk, "plan.json", query).body)


def test_places_are_the_scenes_and_the_printed_plans(cabin):
    """Within a millimetre, symbols of things that are moved are where the scene and the paper have them."""
    # At the scale of the printed sheet shapes are the same.
    found = plan_of(cabin, "bounce", MOVED, unit="0.05")
    assert found["fault"] == ""
    scene, stage = cabin.scene("bounce", moves_text(MOVED)), cabin.stage("bounce", moves_text(MOVED))
    items = {each.name: each for each in scene.all_items()}
    things = {each["name"]: each for each in found["things"] if each["section"]}
    every = (*scene.lights, *scene.boards, *scene.cameras, *scene.figures)
    assert {each.name for each in every} <= set(things)
    for name, thing in things.items():
        assert thing["at"] == pytest.approx(items[name].at, abs=1e-3)
    printed = draw_plan(scene, stage, tags_of([scene]), scale=50, system="metric")
    lines = {each["name"]: [np.array(mark["points"]) for mark in each["marks"] if "points" in mark]
             for each in found["things"]}

    def drawn(name, points):
        alike = (each for each in lines[name] if each.shape == points.shape)
        return any(np.allclose(each, points, atol=1e-3) for each in alike)

    # The lamp outside stands at the edge on paper.
    marks = [mark for mark in printed.marks if getattr(mark, "name", "") != "dusk through the window"]
    symbols = [mark for mark in marks if isinstance(mark, Symbol)]
    assert len(symbols) >= 8
    for mark in symbols:
        assert things[mark.name]["at"][:2] == pytest.approx(mark.at, abs=1e-3)
        assert all(drawn(mark.name, part.points) for part in mark.parts if isinstance(part, Shape)), mark.name
    solid = [mark for mark in marks if isinstance(mark, Shape) and mark.layer in ("pieces", "figures")]
    assert len(solid) > 8
    assert all(drawn(mark.name, mark.points) for mark in solid if mark.part == "outline")


def test_what_the_option_has_is_told_beside(cabin):
    """Ghosts stand where the option has things, those taken out too; aims say what they are on."""
    found = plan_of(cabin, "bounce", {**MOVED, "remove": ["stove glow"]})
    ghosts = {each["name"]: each for each in found["ghosts"]}
    assert set(ghosts) == {"key", "lever rim", "card", "clerk", "stove glow"}
    assert ghosts["stove glow"]["gone"] and not ghosts["key"]["gone"]
    assert ghosts["key"]["at"] == pytest.approx([4.7, 0.45])
    things = {each["name"]: each for each in found["things"]}
    assert things["key"]["target"]["text"] == "card"
    # The card's middle, which was moved as well.
    assert things["key"]["target"]["point"] == pytest.approx([0.9, 0.8, 1.5])
    assert things["key"]["written"]["at"] == ["4.7 m", "0.45 m", "2.35 m"]
    assert things["lever rim"]["written"]["aim"] == "clerk.crown"
    assert things["clerk"]["angle"] == {"field": "facing", "deg": 300.0, "to": ""}
    assert any("clerk.left cheek" in each["names"] for each in found["targets"])


def test_faults_are_words_and_nothing_breaks(cabin):
    """What the option cannot have is told with an answer that a page can show, for a check and for a plan."""
    for moves, words in (({"lights": {"key": {"at": ["-0.1 m", "0.6 m", "2 m"]}}}, "inside the west wall"),
                         ({"remove": ["card"]}, "'aim' of light 'key' (ellipsoidal) is 'card'"),
                         ({"lights": {"nobody": {"at": ["1 m", "1 m", "1 m"]}}}, "no light has that name"),
                         ({"remove": ["A"]}, "no camera"), ({"lights": 3}, "lights")):
        look = json.dumps({"moves": moves})
        for path in ("allowed.json", "plan.json"):
            if path == "plan.json" and "A" in moves.get("remove", ()):
                continue
            said = json.loads(answer(cabin, path, {"option": "bounce", "look": look}).body)["fault"]
            assert words in said, said
            # Nobody has written a line, and the page's own words for an option are none of a person's.
            assert "option 'moved" not in said and ".yaml" not in said
    query = {"option": "bounce", "look": json.dumps({"moves": MOVED})}
    assert json.loads(answer(cabin, "allowed.json", query).body) == {"fault": ""}
    assert "unit" in plan_of(cabin, "bounce", unit="0")["fault"]


def test_cautions_follow_what_is_moved(desk):
    """A fire that is put in is cautioned against, and no more once it is taken out."""
    fire = {"name": "stove", "kind": "fire", "at": ["2 m", "0.8 m", "0.3 m"], "output": "500 lm"}
    for moves, words in (({"add": {"lights": [fire]}}, True), ({}, False)):
        query = {"option": "early", "camera": "A", "look": json.dumps({"moves": moves})}
        told = json.loads(answer(desk, "frames.json", query).body)
        assert ("stove" in " ".join(told["cautions"])) is words
        assert ("stove" in " ".join(told["briefs"])) is words


def test_footprints_are_made_once(cabin, monkeypatch):
    """A lamp that moves leaves people and pieces as they are, and so are their outlines."""
    plan_of(cabin, "bounce")
    made = []
    monkeypatch.setattr("previz.page.plan.footprint", lambda meshes: made.append(meshes[0].name))
    plan_of(cabin, "bounce", {"lights": {"key": {"at": ["4.1 m", "0.7 m", "2.2 m"]}}})
    assert made == []


def test_a_hand_out_has_the_lamps_of_its_pictures(desk, put, open_page, tmp_path):
    """One that was put in has a row there, one taken out none; there is no plan without the program."""
    new = {"name": "new", "kind": "bulb", "at": ["1.5 m", "1 m", "1.6 m"], "output": "800 lm"}
    moves = moves_text({"remove": ["rim", "counter"], "add": {"lights": [{**new, "name": "counter two"}]}})
    picture = Picture("early", "A", desk.camera("early", "A").stop, "working", moves)
    import furnished

    furnished.PLACES.setdefault("counter two", (0.3, 0.3))
    put(desk, picture, 4)
    look = json.dumps({"moves": json.loads(moves), "lamps": {"counter two": {"level": 0.5}}})
    body = answer(desk, "handout.html", {"option": "early", "camera": "A", "look": look}).body
    (tmp_path / "lights.html").write_bytes(body)
    page = open_page((tmp_path / "lights.html").as_uri()).page
    assert page.evaluate(ROWS) == ["key", "counter two", "sky"]
    assert page.evaluate("previz.store.gain('counter two')") == 0.5
    assert page.evaluate("document.getElementById('plan').hidden")
