"""Small pictures for a moving hand: the same light, near the same picture, within a bound of memory."""

import io
import json

import numpy as np
import pytest
from PIL import Image

from previz.exposure.display import show, show_near
from previz.exposure.mix import mix_xyz
from previz.page import answers
from previz.page.desk import Picture
from previz.page.quick import QuickLamps, quick_signal, quick_still
from previz.page.shots import shot

LOOKS = [{}, {"key": {"level": 0.3}}, {"counter": {"level": 0.2}},
         {"key": {"cct": 3000}, "rim": {"on": False}},
         {"rim": {"gel": ["half plus green"]}, "sky": {"level": 2}}, {"key": {"level": 0.3}}]


def test_it_is_the_light_of_the_lamps_as_set(desk):
    """Levels, fading tungsten, colours, gels, lamps off: each time the mix that stills are made from."""
    for lamps in LOOKS:
        request = shot(desk, {"option": "early", "camera": "A", "look": json.dumps({"lamps": lamps})})
        expected = np.moveaxis(mix_xyz(request.found.frames, request.lamps()), 0, -1)
        np.testing.assert_allclose(desk.quick.xyz(request), expected, rtol=1e-4, atol=1e-7)


def test_a_level_weighs_no_bands_anew(desk, monkeypatch):
    """Under a hand on a level, lamps are only summed; a colour weighs the bands of its own lamp."""
    weighed = []
    bands = QuickLamps._bands
    monkeypatch.setattr(QuickLamps, "_bands", lambda *given: weighed.append(given[2]) or bands(*given))
    for lamps in ({}, {"key": {"level": 0.3}}, {"rim": {"on": False}}, {"key": {"cct": 3000}}):
        desk.quick.xyz(shot(desk, {"option": "early", "camera": "A", "look": json.dumps({"lamps": lamps})}))
    # The order of the stage: counter, key, rim, sky.
    assert weighed == [0, 1, 2, 3, 1]


def test_the_cube_is_near_the_view_transform():
    """From 8 stops under grey to 6 over it, colours out to the edges: as much as `show_near` says."""
    random = np.random.default_rng(3)
    light = 0.18 * 2.0 ** random.uniform(-8, 6, (20000, 1)) * random.uniform(0.02, 1, (20000, 3))
    light = light.astype(np.float32)
    exact = show(light.T[:, None])[0]
    off = 255 * np.abs(show_near(light.copy()) - exact)
    assert np.quantile(off, 0.5) < 0.1 and np.quantile(off, 0.99) < 2 and off.max() < 40
    # Black stays black, and what has no colour in the space is taken for its edge.
    assert show_near(np.array([[0, 0, 0], [-1, -1, -1]], np.float32)).max() < 0.5 / 255


@pytest.mark.parametrize("path", ["still.png", "map.png", "difference.png"])
def test_each_view_has_a_small_picture(desk, path):
    """Still, map and difference while a hand moves, of the same size, and of the changed light."""
    query = {"option": "early", "camera": "A", "quick": "1", "than": "{}",
             "look": '{"cameras": {"A": {"iso": 200}}}'}
    answer = answers.ANSWERS[path](desk, query)
    assert answer.kind == ("image/jpeg" if path == "still.png" else "image/png")
    found = np.array(Image.open(io.BytesIO(answer.body)))
    assert found.shape == (90, 160, 3)
    request = shot(desk, query)
    xyz = desk.quick.xyz(request)
    if path == "still.png":
        assert np.abs(found.astype(int) - quick_still(xyz, request.settings)).mean() < 3
    elif path == "map.png":
        before = answers.ANSWERS[path](desk, {**query, "look": "{}"}).body
        assert before != answer.body
        assert quick_signal(xyz, request.settings).shape == (90, 160)
    else:
        # Two stops less light everywhere: one colour.
        assert len(np.unique(found.reshape(-1, 3), axis=0)) == 1


def test_small_lamps_are_bounded(desk, put):
    """Other stops bring other frames; those used longest ago go, never those of the picture asked for."""
    request = shot(desk, {"option": "early", "camera": "A"})
    one = QuickLamps()
    one.xyz(request)
    quick = QuickLamps(most=2 * one.size)
    seen = set()
    for stop in (4.0, 5.6, 8.0, 11.0):
        put(desk, Picture("early", "A", stop, "working"), 3)
        look = json.dumps({"cameras": {"A": {"stop": stop}}})
        request = shot(desk, {"option": "early", "camera": "A", "look": look})
        first = quick.xyz(request)
        seen.add(request.found.key)
        assert quick.size <= quick.most and quick.size == sum(each.nbytes for each, _ in quick._kept.values())
        assert {key[0] for key in quick._kept} >= {request.found.key}
        assert np.array_equal(quick.xyz(request), first)
    assert len(seen) == 4 and len({key[0] for key in quick._kept}) == 2
    tight = QuickLamps(most=1)
    tight.xyz(request)
    assert tight.size == one.size


@pytest.mark.slow
def test_a_moving_hand_does_not_wait_for_the_picture_at_rest(own_served, open_page):
    """What is under way for the hand at rest is given up; each picture at rest is asked for once."""
    page = open_page(own_served.plain)
    page.settled()
    whole = [each for each in page.requests if "still.png" in each and "quick" not in each]
    small = [each for each in page.requests if "still.png" in each and "quick=1" in each]
    # The small one stood there first.
    assert len(whole) == 1 and small
    held = []
    page.page.route(lambda url: "still.png" in url and "quick" not in url, lambda route: held.append(route))
    page.page.evaluate("previz.store.changeLamp('key', { level: 0.5 })")
    page.until("previz.picture.slow !== null")
    page.page.evaluate("previz.store.changeLamp('key', { level: 0.25 })")
    page.until("previz.picture.slow === null && !previz.picture.now")
    assert page.page.evaluate("previz.table.resting") is False
    assert page.page.evaluate("previz.picture.image.naturalWidth") > 0
    page.page.unroute_all(behavior="ignoreErrors")
    page.settled()
    assert page.page.inner_text("#notice") == ""
