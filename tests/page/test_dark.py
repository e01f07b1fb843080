"""The page of a set without a lamp, and the file that it hands out."""

import numpy as np
import pytest

from previz.page.answers import ANSWERS

pytestmark = pytest.mark.slow

UNLIT = """\
previz: 1
title: The lamp room at night
room: {size: [4 m, 3 m, 2.5 m]}
pieces:
  - {name: table, shape: table, at: [2 m, 1.5 m], size: [1 m, 0.6 m, 0.75 m]}
cameras:
  - {name: A, at: [2 m, 0.3 m, 1.4 m], aim: table, lens: 24 mm, stop: T2.8, iso: 800}
meters:
  - {name: on the table, at: [2 m, 1.5 m, 0.8 m]}
"""


@pytest.fixture(scope="module")
def unlit(furnish, tmp_path_factory):
    """The desk of a scene without a lamp."""
    return furnish(tmp_path_factory.mktemp("unlit"), UNLIT)


def test_the_page_is_black_and_says_no_light(unlit, serve, open_page):
    """The picture is black, the meter reads nothing in words, and nothing goes wrong."""
    page = open_page(serve(unlit.path.parent).address)
    page.settled()
    page.metered()
    page.until("previz.table.set !== null")
    assert not np.any(page.pixels())
    result = page.page.locator("#face-table").inner_text()
    assert "on the table" in result and "no light" in result
    assert not {"NaN", "Infinity", "out"} & set(result.split())


def test_the_hand_out_opens_black(unlit, tmp_path, open_page):
    """One file without a lamp's picture opens by itself, black, without a fault."""
    path = tmp_path / "lights.html"
    path.write_bytes(ANSWERS["handout.html"](unlit, {"option": "", "camera": "A"}).body)
    page = open_page(path.as_uri(), offline=True)
    page.until("previz.table.set && !previz.table.drawing")
    pixels = page.pixels()
    assert pixels.shape == (90, 160, 3) and not np.any(pixels)
    page.shown()
    assert "no light" in page.page.locator("#face-table").inner_text()
