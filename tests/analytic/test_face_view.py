"""What the engine sees from a face, against geometry: sizes, soft edges, shares and light."""

import numpy as np
import pytest

from previz.engine.render import Sampling
from previz.exposure.comparing.extent import shadow_edge
from previz.rendering.job import StageJob
from previz.rendering.request import Order
from previz.sight.face_view import Head, Outlook
from previz.stage.records import Guide

pytestmark = pytest.mark.engine

X, Y, Z = np.eye(3)
NOSE = np.array([0.0, 0.0, 1.5])


def head():
    """A face at a point, facing along +x; cheeks 6 cm behind the tip of the nose."""
    cheeks = {side: (NOSE + [-0.05, sign * 0.0332, 0], (X + sign * Y) / np.sqrt(2))
              for side, sign in (("left", 1), ("right", -1))}
    return Head("clerk", NOSE, X, Z, cheeks, np.zeros((0, 3, 3)))


def outlook(tiny, tmp_path, *meshes, emitters, **more):
    stage = tiny.stage(*meshes, emitters=emitters, **more)
    order = Order(16, 16, Sampling(1, 1, 1), 1, "auto", tmp_path)
    return Outlook(StageJob(stage, order), head()), stage


def towards(point):
    direction = np.asarray(point, float) - head().at
    return direction / np.linalg.norm(direction)


@pytest.mark.parametrize(("diameter", "distance"), [(0.5, 3.0), (0.16, 4.0), (1.2, 1.5)])
def test_a_disc_lamp_appears_as_large_as_it_is(tiny, tmp_path, diameter, distance):
    """Apparent size within 5 % of 2 atan(w / 2 d), and so the soft edge of check value 1.22."""
    at = head().at + distance * X
    lamp = tiny.disc_lamp(diameter / 2, at, -X)
    view, _ = outlook(tiny, tmp_path, emitters=[lamp])
    found = view.extent("lamp 0", towards(at), ("lamp 0",))
    expected = 2 * np.degrees(np.arctan(diameter / 2 / distance))
    assert found.across == pytest.approx(expected, rel=0.05)
    assert found.up == pytest.approx(expected, rel=0.05)
    # A wall 1 m behind the edge: source width / distance · 1 m.
    assert shadow_edge(found.across, 1.0) == pytest.approx(diameter / distance, rel=0.05)


def board(tiny, width, height, at, name="card"):
    return tiny.patch(width, height, at, head().at - at, "white", name)


def test_a_board_appears_as_large_as_it_is_and_a_flag_takes_its_half(tiny, tmp_path):
    """A 1.2 × 0.8 m board 2 m off: 33.40 × 22.62°; a flag before its left half leaves 16.70°."""
    at = head().at + 2.0 * X
    white = tiny.surface("white", 0.8, f0=0.0)
    lamp = tiny.disc_lamp(0.1, NOSE + [0.2, 2.5, 0.6], at - (NOSE + [0.2, 2.5, 0.6]))
    view, _ = outlook(tiny, tmp_path, board(tiny, 1.2, 0.8, at), emitters=[lamp], surfaces=(white,))
    found = view.extent("card", towards(at), ("lamp 0",))
    # 2 atan(0.6 / 2) and 2 atan(0.4 / 2).
    assert found.across == pytest.approx(33.40, rel=0.05)
    assert found.up == pytest.approx(22.62, rel=0.05)
    # Midway to the board a flag over y > 0, square to the view, hides that half.
    flag = tiny.patch(1.0, 1.0, head().at + 1.0 * X + 0.5 * Y, -X, "black", "flag")
    black = tiny.surface("black", 0.0, f0=0.0)
    cut, _ = outlook(tiny, tmp_path, board(tiny, 1.2, 0.8, at), flag, emitters=[lamp],
                     surfaces=(white, black))
    half = cut.extent("card", towards(at), ("lamp 0",))
    assert half.across == pytest.approx(16.70, rel=0.05)
    assert half.up == pytest.approx(22.62, rel=0.05)


def test_light_from_a_board_is_put_down_to_the_board(tiny, tmp_path):
    """The panorama's light is the meter's, and what comes off the card is reported as the card's."""
    at = NOSE + np.array([1.5, 1.0, 0.2])
    white = tiny.surface("white", 0.8, f0=0.0)
    lamp_at = NOSE + np.array([-0.5, 3.0, 0.5])
    lamp = tiny.disc_lamp(0.15, lamp_at, at - lamp_at)
    normal = (X + Y) / np.sqrt(2)
    guide = Guide("card", at, *_edges(tiny, at))
    view, stage = outlook(tiny, tmp_path, board(tiny, 1.0, 1.0, at), emitters=[lamp],
                          surfaces=(white,), guides=(guide,),
                          probes=[tiny.probe(head().at, normal, name="cheek")])
    metered = tiny.measure(stage, 0.01).each[0, 0]
    taken = view.panorama()
    # Pixels of 1.4° and 16 paths each, against the meter's own samples: 3 %.
    assert taken.illuminance(normal) == pytest.approx(metered.sum(), rel=0.03)
    parts = taken.by_thing(normal)
    assert parts["card"] == pytest.approx(metered[1], rel=0.03)
    assert parts["lamp 0"] == pytest.approx(metered[0], rel=0.1)
    key = view.key_source("left", ("lamp 0",), _camera(tiny), straight=0.0)
    assert key.thing == max(parts, key=parts.get)


def _edges(tiny, at):
    axes, _ = tiny.facing(head().at - at, at)
    return axes[:, 0] * 0.5, axes[:, 1] * 0.5


def _camera(tiny):
    return tiny.camera(NOSE + 3 * X, NOSE)


def test_the_key_is_reported_from_the_camera(tiny, tmp_path):
    """A lamp 45° to the face's left and 30° up is 45° to the camera's right and 30° high."""
    direction = np.array([np.cos(np.radians(30)) * np.cos(np.radians(45)),
                    np.cos(np.radians(30)) * np.sin(np.radians(45)), np.sin(np.radians(30))])
    at = head().at + 3.0 * direction
    view, _ = outlook(tiny, tmp_path, emitters=[tiny.disc_lamp(0.25, at, -direction)])
    key = view.key_source("left", ("lamp 0",), _camera(tiny), straight=1.0)
    assert (key.thing, key.share) == ("lamp 0", 1.0)
    assert key.side == pytest.approx(45, abs=1)
    assert key.height == pytest.approx(30, abs=1)
    # Off the nose: acos(cos 30 cos 45) = 52.24°.
    assert key.off_nose == pytest.approx(52.24, abs=1)
    # The cheek is hypot(50, 33.2) = 60.0 mm behind the tip: 0.5 / 3 · 60 mm = 10 mm.
    assert key.throw == pytest.approx(0.0600, abs=2e-4)
    assert 1e3 * key.edge == pytest.approx(10.0, rel=0.05)


def test_the_sun_is_taken_at_its_own_size(tiny, tmp_path):
    """The sun's disc is smaller than a pixel: it is 0.533° wide by its record, not by a picture."""
    sun = tiny.sun((1.0, 1.0, 0.5))
    view, stage = outlook(tiny, tmp_path, tiny.patch(6, 6, (0, 0, 0), Z, name="floor"),
                          emitters=[], sun=sun)
    key = view.key_source("left", (stage.lamps[0].name,), _camera(tiny), straight=0.95)
    assert (key.across, key.thing, key.share) == (0.533, stage.lamps[0].name, 0.95)
    # 9.30 mm for each metre (check value 1.22), 60 mm behind the nose.
    assert 1e3 * key.edge == pytest.approx(9.30 * 0.06, rel=0.01)


def test_views_are_kept_and_not_taken_again(tiny, tmp_path, monkeypatch):
    """A second view of the same source comes from the cache and renders nothing."""
    at = head().at + 2.0 * X
    view, _ = outlook(tiny, tmp_path, emitters=[tiny.disc_lamp(0.2, at, -X)])
    first = view.extent("lamp 0", towards(at), ("lamp 0",))
    monkeypatch.setattr(StageJob, "render", lambda *_: pytest.fail("rendered again"))
    again, _ = outlook(tiny, tmp_path, emitters=[tiny.disc_lamp(0.2, at, -X)])
    assert again.extent("lamp 0", towards(at), ("lamp 0",)) == first
