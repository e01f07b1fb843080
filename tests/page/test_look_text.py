"""A look that is sent as text: from a hand-out through a mail to the page, and what of it does not fit."""

import io
import json
import textwrap

import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

from previz.cli.main import previz
from previz.errors import DataError
from previz.page.answers import ANSWERS
from previz.page.change_text import flat, look_now
from previz.page.desk import Desk
from previz.page.look_text import MOST_TEXT, look_line, read_look, take_look, values_of

LOOK = {"lamps": {"key": {"level": 0.4, "cct": 3600}, "rim": {"on": False}, "sky": {"level": 2.0}},
        "cameras": {"A": {"stop": 4.0, "white_balance": 3900}},
        "moves": {"lights": {"key": {"at": ["2.8 m", "0.5 m", "2 m"]}}, "remove": ["counter"]}}


def test_what_is_written_is_read(desk):
    """The line goes back and forth unchanged, and so do the page's own keys."""
    line = look_line(desk, "early", "A", LOOK)
    assert read_look(line)["look"] == LOOK
    taken = take_look(desk, line)
    assert (taken.option, taken.camera, taken.look, taken.said) == ("early", "A", LOOK, ())
    assert taken.text == "Taken in: 3 lamps and 1 camera and what is moved, option early."
    values = values_of(desk, taken)
    assert values == flat("early", json.dumps(LOOK))
    assert look_now(values, "early") == LOOK


@pytest.mark.parametrize("carried", [
    lambda text: f"Hi,\n\nlike this?\n\n{text}\n\n-- \nthe depot's director {{of photography}}\n",
    lambda text: textwrap.indent(f"On Monday she wrote:\n> {text}", "> "),
    lambda text: textwrap.fill(text, 72, break_long_words=False, break_on_hyphens=False),
    lambda text: "\r\n> ".join(text.replace("\n", "")[k : k + 72] for k in range(0, len(text), 72)),
    lambda text: text.replace('"', "”").replace(" ", "\u00a0"),
    lambda text: "\ufeff" + text.replace(",", ", "),
], ids=["among words", "quoted", "wrapped at spaces", "cut and quoted", "smartened", "spaced"])
def test_mail_does_to_it_what_it_likes(desk, carried):
    """Quoted, wrapped, smartened: the same look comes out."""
    given = {**LOOK, "moves": {}}
    assert take_look(desk, carried(look_line(desk, "early", "A", given))).look == given


@pytest.mark.parametrize(("text", "said"), [
    ("", "there is no look in this text"), ("like this?", "there is no look"), ("{}", "there is no look"),
    ('{"previz_look":1,"option":"early","look":{"lamps"', "cut off or spoilt"),
    ('{"previz_look":1,"option":"early","look":7}', "is spoilt"),
    ('{"previz_look":99,"look":{}}', "written by a newer previz"),
    ('{"previz_look":1,"look":' + "[" * 900 + "]" * 900 + "}", "cut off or spoilt"),
    ('{"previz_look":1,"look":{"lamps":{"key":{"level":1e999}}}}', "cut off or spoilt"),
    ("x" * (MOST_TEXT + 1), "too long"),
])
def test_what_is_no_look_is_refused(desk, text, said):
    """Each in words, and nothing is set."""
    with pytest.raises(DataError, match=said):
        take_look(desk, text)


def test_what_does_not_fit_is_said_item_by_item(desk):
    """Lamps and cameras that are not there, numbers out of range, another option and file; the rest fits."""
    given = {"lamps": {"key": {"level": 0.4, "cct": 99}, "balloon": {"level": 1},
                       "sky": {"gel": ["half cto"]},
                       "rim": {"gel": [{"sheet": 7}], "level": "half", "beam": 3}, "counter": 5},
             "cameras": {"A": {"iso": 400, "stop": 0.1}, "C": {"iso": 1}},
             "moves": {"lights": {"key": {"at": ["90 m", "0 m"]}}}}
    line = look_line(desk, "night", "C", given).replace("canteen.yaml", "cabin.yaml")
    taken = take_look(desk, line, "late")
    assert taken.option == "late" and taken.camera == ""
    assert taken.look == {"lamps": {"key": {"level": 0.4}}, "cameras": {"A": {"iso": 400}}, "moves": {}}
    said = "\n".join(taken.said)
    for words in ("no option 'night'; the look is laid over 'late'", "another file, cabin.yaml",
                  "What is moved: ", "key, cct: ", "balloon: the option has no lamp",
                  "sky, gel: the sky takes no gel",
                  "rim, gel: rim has no sheet 7", "rim, level: ", "rim, beam: a lamp has no 'beam'",
                  "counter: no group", "camera A, stop: ", "camera C: the option has no camera"):
        assert words in said, words
    assert take_look(desk, look_line(desk, "none", "A", {})).option == "early"


def picture(body):
    return np.array(Image.open(io.BytesIO(body)))


def run(folder, *words, given=None):
    fixed = ["page", str(folder / "canteen.yaml"), "--size", "160", "--samples", "4", "--out",
             str(folder / "renders")]
    return CliRunner().invoke(previz, [*fixed, *words], input=given, catch_exceptions=False)


def test_the_command_takes_it_in_for_one_answer(desk, folder):
    """`--look FILE --get` answers of the look, says what does not fit, and sets nothing."""
    look = {"lamps": {"key": {"level": 0.4}, "balloon": {"level": 1}}}
    file = folder / "sent.txt"
    file.write_text(f"Like this?\n{look_line(desk, 'late', 'B', look)}\n", encoding="utf-8")
    done = run(folder, "--look", str(file), "--get", "still.png")
    assert done.exit_code == 0
    assert done.stderr == "Taken in: 1 lamp, option late.\n  balloon: the option has no lamp of that name.\n"
    expected = ANSWERS["still.png"](desk, {"option": "late", "camera": "B",
                                           "look": '{"lamps": {"key": {"level": 0.4}}}'}).body
    assert np.array_equal(picture(done.stdout_bytes), picture(expected))
    assert Desk(desk.request).changes == {}
    with pytest.raises(DataError, match="there is no look in this text"):
        run(folder, "--look", "-", "--get", "scene.json", given="nothing")


SHOWN = """() => {
    const { image } = previz.picture, canvas = document.createElement("canvas"), found = [];
    [canvas.width, canvas.height] = [image.naturalWidth, image.naturalHeight];
    const pen = canvas.getContext("2d");
    pen.drawImage(image, 0, 0);
    for (let y = 0; y < canvas.height; y += 30)
        for (let x = 0; x < canvas.width; x += 40)
            found.push(...pen.getImageData(x, y, 1, 1).data.slice(0, 3));
    return found; }"""


@pytest.mark.slow
def test_a_hand_out_comes_back(desk, folder, cleaned, serve, open_page):
    """Set in a hand-out, kept there, sent as text, taken in by the page as one step: the same still."""
    cleaned(folder, "early")
    body = ANSWERS["handout.html"](desk, {"option": "early", "camera": "A",
                                          "look": '{"lamps": {"rim": {"on": false}}}'}).body
    path = folder / "lights.html"
    path.write_bytes(body)
    there = open_page(path.as_uri(), offline=True)
    there.until("previz.table.set && !previz.table.drawing")
    there.page.evaluate("""() => { previz.store.changeLamp("key", { level: 0.25 });
        previz.store.changeCamera({ white_balance: 3200 }); }""")
    assert there.page.inner_text("#work").startswith("What you set is ")
    kept = there.page.inner_text("#work") == "What you set is kept in this browser."
    there.page.reload()
    there.until("window.previz && previz.table.set && !previz.table.drawing")
    # From a file, it depends on the browser whether it keeps anything; it says which.
    assert there.page.evaluate("previz.store.lamp('key').level") == (0.25 if kept else 1)
    if not kept:
        there.page.evaluate("previz.store.changeLamp('key', { level: 0.25 })")
        there.page.evaluate("previz.store.changeCamera({ white_balance: 3200 })")
    there.page.get_by_role("button", name="Look as text").click()
    sent = there.page.locator("#give textarea").input_value()
    assert sent.startswith("Canteen, last shift, early: key level 25 %, −2.0 stops; rim off; "
                           "camera A white balance 3200 K.\n")
    there.page.get_by_role("button", name="Close", exact=True).click()
    there.page.get_by_role("button", name="As handed out").click()
    assert there.page.evaluate("previz.store.look().lamps") == {"rim": {"on": False}}

    look = {"lamps": {"key": {"level": 0.25}, "rim": {"on": False}},
            "cameras": {"A": {"white_balance": 3200}}, "moves": {}}
    page = open_page(serve(folder).plain)
    page.settled()
    page.page.evaluate("previz.store.changeLamp('counter', { level: 0.1 })")
    page.page.keyboard.press("u")
    page.page.locator("#give textarea").fill("\n".join(f"> {line}" for line in sent.splitlines()))
    page.page.get_by_role("button", name="Set this look").click()
    page.until("!document.getElementById('give').open")
    assert page.page.inner_text("#notice") == "Taken in: 2 lamps and 1 camera, option early."
    assert page.page.evaluate("previz.store.look()") == look
    page.settled()
    expected = ANSWERS["still.png"](desk, {"option": "early", "camera": "A", "look": json.dumps(look)}).body
    assert page.page.evaluate(SHOWN) == picture(expected)[::30, ::40].ravel().tolist()
    file = folder / "sent.txt"
    file.write_text(sent, encoding="utf-8")
    done = run(folder, "--look", str(file), "--get", "still.png")
    assert np.array_equal(picture(done.stdout_bytes), picture(expected))
    page.page.evaluate("previz.store.undo()")
    assert page.page.evaluate("previz.store.look().lamps") == {"counter": {"level": 0.1}}
    # A file that is dropped on the page is taken for the same.
    page.page.evaluate("""(text) => { const carried = new DataTransfer();
        carried.items.add(new File([text], "look.txt", { type: "text/plain" }));
        dispatchEvent(new DragEvent("drop", { dataTransfer: carried, cancelable: true })); }""", sent)
    page.until("document.querySelector('#give[open] textarea')?.value.includes('previz_look')")
    page.page.get_by_role("button", name="Cancel").click()
    page.kept()
