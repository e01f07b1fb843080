"""The page as one file: small, whole, offline, its dimmers alive."""

import json
import re
import zlib
from dataclasses import replace
from urllib.parse import unquote

import numpy as np
import pytest

from previz.page import handout
from previz.page.answers import ANSWERS
from previz.page.static_files import static_files

# 0.8 % of each lamp is 0.8 of a code at most where the screen's curve is steepest
# (255 / 2.4 · 0.008), so rounding may go one code further.
NEARLY = 2


def test_packing_keeps_the_light(about, served):
    """Each lamp comes back within 0.8 % of its light, or of next to nothing."""
    frames = about(served.folder, "early").found.frames
    picture = np.moveaxis(frames.slices[1][[8, 6, 2]], 0, -1) * 40
    back = unpacked(handout.packed_lamp(picture), *picture.shape[:2])
    # Rounded to a half float (half of 2^-10), then to six bits behind the leading one (half of
    # 2^-6); the smallest half floats are 2^-24 apart, here times 16 for the bits and 32 for the gain.
    np.testing.assert_allclose(back, picture, rtol=2**-11 + 2**-7, atol=2**-16)


def unpacked(packed, rows, columns):
    """Undo the packing pixel by pixel."""
    planes = np.frombuffer(zlib.decompress(packed), np.uint8).reshape(3, 2, rows, columns)
    folded = planes[:, 0].astype(int) + (planes[:, 1].astype(int) << 8)
    missed = (folded >> 1) ^ -(folded & 1)
    # A plane through three neighbours is missed by the second difference: sum it along both axes.
    y, x, z = np.cumsum(np.cumsum(missed, axis=2), axis=1)
    bits = np.stack([x + y, y, z + y]).astype(np.uint16) << handout.SHIFT
    return np.moveaxis(bits.view(np.float16).astype(float), 0, -1) / handout.GAIN


def test_wide_pictures_are_sent_smaller():
    """A picture over the limit is averaged over whole blocks, so its light stays."""
    picture = np.arange(6 * 8 * 3, dtype=float).reshape(6, 8, 3)
    half = handout.shrunk(picture, widest=4)
    assert half.shape == (3, 4, 3)
    assert half.mean() == picture.mean()
    assert handout.shrunk(picture, widest=8) is picture


def test_the_modules_can_share_a_scope():
    """No two modules declare one name, and each imports in the form that the bundle undoes."""
    owners = {}
    for name, (_, text) in static_files().items():
        if not name.endswith(".js"):
            continue
        found = re.findall(r"^(?:export )?(?:async )?(?:function|const|let|class) (\w+)", text, re.MULTILINE)
        # Several may stand on one line.
        for line in re.findall(r"^(?:export )?(?:const|let) .*", text, re.MULTILINE):
            found += re.findall(r", (\w+) = ", line)
        for declared in found:
            assert declared not in owners, f"{declared} is in {name} and {owners[declared]}"
            owners[declared] = name
        whole = handout.bundled(static_files(), name)
        assert "import " not in re.sub(r"//.*|import\(", "", whole)
        assert not re.search(r"^export ", whole, re.MULTILINE)


def test_no_file_of_the_page_names_another_place():
    """Nothing in the page's files leads away from them but the name of the drawing format."""
    for name, (_, text) in static_files().items():
        found = set(re.findall(r"https?://[\w./-]+", text)) - {"http://www.w3.org/2000/svg"}
        assert found == set(), name


@pytest.fixture
def handed(desk, cleaned, tmp_path):
    """The file of a look, written."""
    cleaned(desk.path.parent, "early")
    # What the page has set counts, whether or not the server has kept it by now.
    desk.change({"early|lamp|key": {"level": 0.9}, "early|lamp|rim": {"on": False}})
    look = json.dumps({"lamps": {"key": {"level": 0.5, "cct": 3600}}})
    body = ANSWERS["handout.html"](desk, {"option": "early", "camera": "A", "look": look, "all_cameras": "1",
                                          "wants": '["meter place setting 0"]'}).body
    path = tmp_path / "lights.html"
    path.write_bytes(body)
    return path


def test_it_holds_everything_itself(handed):
    """No link, source or import is left in it, and its policy forbids to fetch any."""
    text = handed.read_text(encoding="utf-8")
    assert "default-src 'none'" in text
    assert not re.search(r'(?:src|href)="(?!data:|#)', text)
    assert 'content="width=device-width' in text
    # Four lamps, two cameras of 160 x 90, the code and the tables.
    assert len(text) < 900_000


@pytest.mark.slow
def test_it_opens_offline_with_its_dimmers_alive(handed, open_page, live_mix, desk):
    """Opened from disk without a network it shows the look, and follows level, stop and balance."""
    page = open_page(handed.as_uri(), offline=True, width=390, height=844)
    page.until("previz.table.set && !previz.table.drawing")
    assert page.page.evaluate("previz.sceneAsked") is None  # All is there; nothing is read twice.
    look = {"lamps": {"key": {"level": 0.5, "cct": 3600}}}
    expected = live_mix(desk.path.parent, "early", json.dumps(look))
    difference = np.abs(page.pixels().astype(int) - expected)
    assert difference.max() <= NEARLY
    assert difference.mean() < 0.35
    page.page.evaluate("""() => { previz.store.changeLamp("key", { level: 0.25 });
        previz.store.changeCamera({ white_balance: 3200, stop: 4 }); }""")
    look["lamps"]["key"]["level"] = 0.25
    look["cameras"] = {"A": {"white_balance": 3200, "stop": 4}}
    expected = live_mix(desk.path.parent, "early", json.dumps(look))
    assert np.abs(page.pixels().astype(int) - expected).max() <= NEARLY
    page.page.keyboard.press("1")
    page.page.keyboard.press("o")
    assert page.page.evaluate("previz.store.gain('counter')") == 0
    page.page.select_option("select[aria-label=Camera]", "B")
    page.until("previz.table.set?.camera === 'B'")
    page.metered()
    assert page.page.locator("#face-table tbody tr").count() == 2
    page.until("document.querySelector('.want-list td.standing').textContent.endsWith('stops under')")
    assert page.page.evaluate("document.documentElement.scrollWidth") <= 390
    assert {each.split(":")[0] for each in page.requests} == {"file"}
    # What only the program can do is not offered.
    assert page.page.locator("summary").count() == page.page.locator("#cautions summary").count() == 1
    assert "(NEC 210.20(A))." in page.page.inner_text("#cautions summary")
    assert page.page.get_by_text("Save look").count() == 0
    assert page.page.get_by_text("Work out levels").count() == 0
    assert page.page.locator("#spot").is_visible()


def test_its_name_may_be_in_any_script(desk, furnish, tmp_path):
    """A scene whose file has letters that a header cannot carry is handed out all the same."""
    text = desk.path.read_text(encoding="utf-8")
    own = furnish(tmp_path / "other", text)
    path = own.path.rename(own.path.with_name("Kantine Łódź 食堂.yaml"))
    renamed = type(own)(replace(own.request, scene=path))
    headers = ANSWERS["handout.html"](renamed, {"option": "early", "camera": "A"}).headers
    named = headers["content-disposition"]
    assert named.isascii()
    # RFC 8187, 3.2: charset, two apostrophes, percent-encoded UTF-8.
    assert unquote(named.partition("UTF-8''")[2]) == "Kantine Łódź 食堂-lights.html"


def test_a_picture_too_wide_is_a_third_of_its_size():
    """Means of squares; what is left over at the right and below is left off."""
    picture = np.zeros((7, 10, 3), np.float32)
    picture[:3, :3] = 9.0
    picture[3:6, 6:9, 1] = np.arange(9.0).reshape(3, 3)
    small = handout.shrunk(picture, 4)
    assert small.shape == (2, 3, 3)
    assert small[0, 0].tolist() == [9, 9, 9] and small[1, 2].tolist() == [0, 4, 0]
    assert handout.shrunk(picture, 10) is picture
