"""One plan for several options: what is alike once and thin, what differs in each of its ways and heavy."""

import numpy as np
import pytest

from previz.errors import RequestError
from previz.plans.differences import (
    MOST,
    difference_keys,
    difference_notes,
    draw_differences,
    fitted_differences,
    versions_of,
)
from previz.plans.marks import plain
from previz.plans.records import PAGES, Shape, Symbol, Words
from previz.plans.sheet import room
from previz.plans.tags import tags_of
from previz.scene.read import load
from previz.stage.build import build_stage

TEXT = """
previz: 1
title: Office
room: {size: [5 m, 4 m, 2.6 m]}
pieces: [{name: desk, shape: desk, at: [2 m, 2 m], size: [1.4 m, 0.7 m, 0.75 m]}]
lights:
  - {name: key, kind: fresnel, at: [4.5 m, 1 m, 2.1 m], aim: [2 m, 2 m, 1 m], output: 3000 lm}
  - {name: fill, kind: soft box, at: [1 m, 0.5 m, 2 m], aim: [2 m, 2 m, 1 m], size: [0.6 m, 0.4 m],
     output: 900 lm}
  - {name: rim, kind: fresnel, at: [4.5 m, 3.5 m, 2.2 m], aim: [2 m, 2 m, 1 m], output: 500 lm}
  - {name: lamp, kind: practical, at: [2 m, 2 m, 1 m], output: 300 lm}
boards: [{name: card, at: [0.5 m, 2 m, 1.4 m], facing: [2 m, 2 m, 1 m], size: [1 m, 0.8 m]}]
cameras: [{name: A, at: [2.5 m, 0.4 m, 1.5 m], aim: [2 m, 2 m, 1.2 m], lens: 35 mm, stop: T2.8, iso: 800}]
options:
  plain: {}
  moved:
    remove: [card]
    lights: {key: {at: [4.5 m, 3 m, 2.1 m]}, fill: {dimmer: 50 %, gel: half cto}, rim: {aim: [1 m, 1 m, 1 m]}}
    cameras: {A: {stop: T4}}
  dark:
    like: moved
    lights: {lamp: {on: no}}
"""


@pytest.fixture(scope="module")
def office(tmp_path_factory):
    path = tmp_path_factory.mktemp("differences") / "office.yaml"
    path.write_text(TEXT, encoding="utf-8")
    file = load(path)
    scenes = {name: file.scene(name) for name in file.option_names}
    versions = versions_of([(name, scene, build_stage(scene)) for name, scene in scenes.items()])
    tags = tags_of(scenes.values())
    return versions, tags, draw_differences(versions, tags, scale=25, system="metric")


def symbols(drawing, name):
    return [mark for mark in drawing.marks if isinstance(mark, Symbol) and mark.name == name]


def texts(drawing, name):
    return [mark.text for mark in plain(drawing.marks) if isinstance(mark, Words) and mark.name == name]


def pens(drawing, name):
    return {mark.pen for each in symbols(drawing, name) for mark in each.parts if mark.part == "outline"}


def test_what_is_alike_is_drawn_once_and_thin(office):
    drawing = office[2]
    desks = [mark for mark in plain(drawing.marks) if isinstance(mark, Shape) and mark.name == "desk"]
    assert desks
    assert {mark.pen for mark in desks} <= {"thin", "hidden"}


def test_a_moved_lamp_stands_at_both_places_with_an_arrow_between(office):
    drawing = office[2]
    places = sorted(mark.at for mark in symbols(drawing, "key"))
    assert places == [pytest.approx((4.5, 1.0)), pytest.approx((4.5, 3.0))]
    assert pens(drawing, "key") == {"cut"}
    assert "key (a)" in texts(drawing, "key")
    assert "key (b, c)" in texts(drawing, "key")
    moved = [mark.points for mark in plain(drawing.marks) if isinstance(mark, Shape)
             and (mark.name, mark.part) == ("key", "moved")]
    assert any(np.allclose(points[0], (4.5, 1.0)) for points in moved)


def test_what_only_one_option_has_says_which(office):
    drawing = office[2]
    card, = symbols(drawing, "card")
    assert card.at == pytest.approx((0.5, 2.0))
    assert "B1 card (a)" in texts(drawing, "card")


def test_levels_gels_and_stops_are_told_by_option(office):
    drawing = office[2]
    assert len(symbols(drawing, "fill")) == 1
    found = texts(drawing, "fill")
    assert any(text.startswith("a: 100 %") for text in found)
    assert any(text.startswith("b, c: 50 %") and text.endswith("half cto") for text in found)
    stops = texts(drawing, "A")
    assert any(text.startswith("a: T2.8") for text in stops)
    assert any(text.startswith("b, c: T4") for text in stops)


def test_a_lamp_that_only_turns_has_no_arrow(office):
    drawing = office[2]
    assert len(symbols(drawing, "rim")) == 2
    assert not [mark for mark in plain(drawing.marks) if isinstance(mark, Shape)
                and (mark.name, mark.part) == ("rim", "moved")]


def test_a_lamp_that_is_off_in_some_is_drawn_once_and_told(office):
    found = texts(office[2], "lamp")
    assert len(symbols(office[2], "lamp")) == 1
    assert "lamp (a, b, c)" in found
    assert "c: off" in found
    assert any(text.startswith("a, b: 100 %") for text in found)


def test_what_is_struck_is_crossed_through(office):
    """The card is at (0.5, 2), and struck in b and c: both lines cross there."""
    found = [mark for mark in plain(office[2].marks) if isinstance(mark, Shape) and mark.part == "struck"]
    assert {mark.name for mark in found} == {"card"}
    for mark in found:
        assert mark.points.mean(axis=0) == pytest.approx((0.5, 2.0))
    one, two = (mark.points[1] - mark.points[0] for mark in found)
    # A card 1 m wide seen from above is thin: its cross is half as high as long, 2 atan(1/2) = 53 deg.
    angle = np.degrees(np.arccos(abs(one @ two) / np.linalg.norm(one) / np.linalg.norm(two)))
    assert angle == pytest.approx(53.13, abs=0.1)
    assert "struck in b, c" in texts(office[2], "card")


def test_the_legend_names_the_options(office):
    versions, _, drawing = office
    keys = difference_keys(drawing, versions, "metric")
    assert any("a plain; b moved; c dark" in key.text for key in keys)
    assert any(key.text.startswith("Moved") for key in keys)
    assert any(key.text.startswith("Crossed through") for key in keys)
    # Every lamp is on in one of them, and off is told in words.
    assert not any(key.text.startswith("Lamp that is off") for key in keys)


def test_it_fits_a_page(office):
    versions, tags, _ = office
    drawing = fitted_differences(versions, tags, PAGES["a4"], system="imperial")
    size = np.subtract(drawing.high, drawing.low) * 1000 / drawing.scale
    assert np.all(size <= np.array(room(PAGES["a4"]).size) + 1e-6)
    # The next larger of the scale rule would not fit: 5.4 m at 1:24 alone are 225 mm.
    assert drawing.scale == 32


def test_one_option_and_too_many_are_refused(office):
    version = office[0][0]
    one = (version.option, version.scene, version.stage)
    with pytest.raises(RequestError, match="says nothing"):
        versions_of([one])
    with pytest.raises(RequestError, match="cannot be read"):
        versions_of([one] * (MOST + 1))


WALK = """
previz: 1
room: {size: [5 m, 4 m, 2.6 m]}
figures: [{name: clerk, person: person one, at: [1 m, 1 m], facing: 0 deg,
           marks: [{name: desk, at: [3 m, 1.5 m]}, {name: door, at: [4 m, 3 m]}]}]
lights: [{name: key, kind: fresnel, at: [4.5 m, 1 m, 2.1 m], aim: [2 m, 2 m, 1 m], output: 3000 lm}]
cameras: [{name: A, at: [2.5 m, 0.4 m, 1.5 m], aim: [2 m, 2 m, 1.2 m], lens: 35 mm, stop: T2.8, iso: 800}]
options: {near: {}, far: {figures: {clerk: {at: [1 m, 3 m]}}}}
"""


def test_a_mark_is_one_wherever_the_way_to_it_begins(tmp_path):
    """The clerk starts elsewhere; both marks stay, so that each is named once and has no letter."""
    path = tmp_path / "walk.yaml"
    path.write_text(WALK, encoding="utf-8")
    file = load(path)
    scenes = {name: file.scene(name) for name in file.option_names}
    versions = versions_of([(name, scene, build_stage(scene)) for name, scene in scenes.items()])
    drawing = draw_differences(versions, tags_of(scenes.values()), scale=25, system="metric")
    assert texts(drawing, "clerk.desk") == ["1 desk"] and texts(drawing, "clerk.door") == ["2 door"]
    ways = [mark for mark in plain(drawing.marks) if isinstance(mark, Shape) and mark.part == "way"]
    # To the desk from each start, and once from there to the door.
    assert len(ways) == 3


def test_where_the_sun_stands_in_each_option_is_told(tmp_path, office):
    path = tmp_path / "sky.yaml"
    path.write_text(WALK.replace("options: {near: {}, far: {figures: {clerk: {at: [1 m, 3 m]}}}}", """\
daylight: {sky: clear, illuminance: 7000 lx, sun: {azimuth: 98 deg, altitude: 14 deg}}
options: {early: {}, noon: {daylight: {sun: {azimuth: 152 deg, altitude: 27 deg}}},
          late: {daylight: {sun: {illuminance: 0 lx}}}}
"""), encoding="utf-8")
    file = load(path)
    scenes = {name: file.scene(name) for name in file.option_names}
    note, = difference_notes(versions_of([(name, each, build_stage(each)) for name, each in scenes.items()]))
    assert note.endswith("a sun 98°, 14° high; b sun 152°, 27° high; c none.")
    assert difference_notes(office[0]) == ()
