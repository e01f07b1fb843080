"""The sun's way on the scene's day, and the outlines and symbols of plans."""

import datetime
import sys
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
import shapely

from previz.physics.beam import cosine_power, exponent_from_angle
from previz.plans import symbols
from previz.plans.beams import half_peak, level_edges
from previz.plans.lettering import corners
from previz.plans.outlines import covered, footprint, hull, rings
from previz.plans.records import Disc, Shape, Words
from previz.plans.sun_path import day_path, sky_place, sun_path_inset
from previz.scene.daylight import Daylight, Moon, Sun
from previz.scene.scene import Scene
from previz.stage import shapes
from previz.stage.records import Mesh

sys.path.insert(0, str(Path(__file__).parent))

AUTUMN = datetime.datetime(2026, 10, 14, 16, 45, tzinfo=datetime.timezone(datetime.timedelta(hours=2)))


def scene_of(**daylight):
    return Scene(daylight=Daylight(**daylight))


def of(marks, kind, part=None, name=None):
    return [mark for mark in marks if isinstance(mark, kind) and part in (None, getattr(mark, "part", None))
            and name in (None, mark.name)]


def test_a_scene_without_sun_moon_and_time_has_no_inset():
    assert sun_path_inset(Scene()) == ()
    assert sun_path_inset(scene_of(sky="overcast", illuminance=6000.0)) == ()


def test_places_in_the_sky_lie_by_bearing_and_altitude():
    # The zenith in the middle, the horizon on the circle; the plan's north turns it.
    middle = sky_place(10, 90, 0)
    assert np.allclose(sky_place(90, 0, 0) - middle, [14.5, 0])
    assert np.allclose(sky_place(0, 45, 90) - middle, [7.25, 0])


def test_an_equinox_at_the_equator():
    # The middle of the sun is up for 12 h, and, as refraction of 34' lifts it at the horizon and it sinks by
    # 15' a minute, 2 x 34 / 15 = 4.5 min longer. Source: definition of the equinox; 34' from memory.
    noon = datetime.datetime(2026, 3, 20, 12, tzinfo=datetime.UTC)
    path = day_path(Daylight(time=noon, latitude=0.0, longitude=0.0, sun=Sun()))
    day = path[(path[:, 0] > 300) & (path[:, 0] < 1140)]
    rise = np.interp(0, *day[:len(day) // 2, [2, 0]].T)
    sets = np.interp(0, *day[:len(day) // 2:-1, [2, 0]].T)
    assert sets - rise == pytest.approx(12 * 60 + 4.5, abs=1)
    # It rises due east, passes the zenith and sets due west.
    assert path[path[:, 2] > 0][0, 1] == pytest.approx(90, abs=1)
    assert path[:, 2].max() > 88.5


def test_the_path_reaches_the_years_greatest_altitude_at_noon():
    # 90 - latitude + obliquity of 23.44 deg at the summer solstice. Source: definition of the tropics.
    day = datetime.datetime(2026, 6, 21, 9, tzinfo=datetime.UTC)
    path = day_path(Daylight(time=day, latitude=51.5, longitude=0.0, sun=Sun()))
    assert path[:, 2].max() == pytest.approx(90 - 51.5 + 23.44, abs=0.05)
    assert path[path[:, 2].argmax(), 1] == pytest.approx(180, abs=2)


@pytest.mark.parametrize("scene", [
    scene_of(sky="clear", time=AUTUMN, latitude=51.5, longitude=7.1, north=-20.0, sun=Sun()),
    scene_of(sky="clear", time=AUTUMN, latitude=-33.0, longitude=18.0, sun=Sun(), moon=Moon()),
    scene_of(sky="clear", time=AUTUMN.replace(month=6, hour=23), latitude=68.0, longitude=18.0, sun=Sun()),
    scene_of(sky="clear", illuminance=0.1, moon=Moon(azimuth=150.0, altitude=35.0, phase=0.3)),
    scene_of(sun=Sun(azimuth=98.0, altitude=14.0)),
])
def test_an_inset_is_within_its_square_and_can_be_read(scene):
    marks = sun_path_inset(scene)
    words = of(marks, Words)
    for one, two in combinations(words, 2):
        area = shapely.Polygon(corners(one)).intersection(shapely.Polygon(corners(two))).area
        assert area < 0.1, (one.text, two.text)
    for mark in marks:
        points = (corners(mark) if isinstance(mark, Words) else mark.points if isinstance(mark, Shape)
                  else np.add(mark.at, [[-mark.radius] * 2, [mark.radius] * 2]))
        assert np.all(np.abs(points) <= 22.5), mark


def test_the_inset_shows_where_the_sun_stands_on_its_way():
    scene = scene_of(sky="clear", time=AUTUMN, latitude=51.5, longitude=7.1, north=-20.0, sun=Sun())
    marks = sun_path_inset(scene)
    sun, = of(marks, Disc, "sun")
    way = shapely.LineString(of(marks, Shape, "sun path")[0].points)
    assert way.distance(shapely.Point(sun.at)) < 0.02
    hours = {mark.text for mark in of(marks, Words, name="sun")}
    assert {"8", "12", "18"} <= hours
    assert any(text.startswith("16:45 sun 234°") for text in (mark.text for mark in of(marks, Words)))


def test_the_moon_shows_its_phase():
    # What is drawn lit is that share of the disc, as both are half an ellipse and half a circle.
    for lit in (0.2, 0.5, 0.8, 1.0):
        disc, part = symbols.moon_marks(np.zeros(2), lit, 30.0, 1.0, radius=2.0)
        area = shapely.Polygon(part.points).area
        assert area / (np.pi * 4) == pytest.approx(lit, abs=0.01)
        assert disc.fill == "ink"
        if lit < 1:
            middle = np.array(shapely.Polygon(part.points).centroid.coords[0])
            assert np.degrees(np.arctan2(middle[1], middle[0])) == pytest.approx(30, abs=1)


def test_footprints_are_true_unions():
    # Two boxes that overlap by half: 1.5 times one of them; a hole stays a hole.
    one = shapes.box((0, 0, 0), (2, 1, 1))
    two = shapes.box((1, 0, 2), (3, 1, 3))
    made = footprint([Mesh("thing", "", *one), Mesh("thing", "", *two)])
    assert made.area.area == pytest.approx(3.0)
    assert (made.low, made.high) == (0, 3)
    assert made.cut
    ring = [shapes.box(low, high) for low, high in (((0, 0, 0), (4, 1, 1)), ((0, 3, 0), (4, 4, 1)),
                                                    ((0, 0, 0), (1, 4, 1)), ((3, 0, 0), (4, 4, 1)))]
    holed = footprint([Mesh("frame", "", *part) for part in ring])
    assert holed.area.area == pytest.approx(12)
    assert [len(points) for points, _ in rings(holed.area)] == [4, 4]


def test_a_body_of_many_triangles_keeps_its_area():
    # A ball of 20480 triangles and 1 m radius covers pi m2, but for the corners of its grid.
    vertices, faces = shapes.ball(1.0, subdivisions=5)
    area = covered(np.asarray(vertices)[np.asarray(faces)][:, :, :2])
    assert area.area == pytest.approx(np.pi, rel=0.01)
    assert area.geom_type == "Polygon"


def test_a_sheet_on_edge_covers_a_line():
    sheet = shapes.rectangle((1, 1, 1), (0.5, 0, 0), (0, 0, 0.5))
    made = footprint([Mesh("sheet", "", *sheet)])
    (points, closed), = rings(made.area)
    assert not closed
    assert np.allclose(sorted(points[:, 0]), [0.5, 1.5])
    assert hull(np.array([[0, 0], [1, 1], [0.5, 0.5]])).shape == (2, 2)


def test_half_of_the_peak_is_where_the_table_has_it():
    table = cosine_power(exponent_from_angle(40.0))
    assert half_peak(table, 0.0) == pytest.approx(20.0, abs=0.05)
    assert half_peak(table, 77.0) == pytest.approx(20.0, abs=0.05)


def test_what_points_straight_down_has_no_edges_from_above():
    rim = np.array([[0.3, 0, -1], [-0.3, 0, -1], [0, 0.3, -1]])
    assert level_edges(np.array([0.0, 0, -1]), rim) is None


def test_kinds_whose_first_letters_are_alike_have_letters_apart():
    assert symbols.kind_codes(["soft box", "small box", "panel", "practical"]) == {
        "soft box": "SB", "small box": "SM", "panel": "PA", "practical": "PR"}


@pytest.mark.parametrize("what", ["board", "diffusion frame", "flag", "net", "grid"])
def test_patterns_of_sheets_follow_their_line(what):
    one, two = np.array([1.0, 1.0]), np.array([3.0, 1.0])
    made = list(symbols.sheet_line(what, one, two, np.array([0.0, 1.0]), "it", 0.05))
    assert np.allclose(made[0].points, [one, two])
    points = np.concatenate([mark.points for mark in made])
    assert np.all(np.abs(points[:, 1] - 1) < 0.08)
    assert points[:, 0].min() > 0.9
    assert points[:, 0].max() < 3.1
