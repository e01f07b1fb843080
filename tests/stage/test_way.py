"""The way of a figure: metres on the floor, heads at marks and between them, cheeks, what stands in it."""

import numpy as np
import pytest

from previz.stage import shapes
from previz.stage.heads import Head
from previz.stage.records import Mesh, Probe
from previz.stage.way import (
    AHEAD,
    SHIN,
    TURNING,
    Stop,
    cheek_probes,
    cheeks_in,
    in_the_way,
    length_of,
    steps_along,
)

EYES = 1.6


def head(at=(0, 0, 0), azimuth=0.0, high=EYES):
    """A head over a place of the floor, facing an azimuth [deg], its face 0.1 m ahead of it."""
    ahead = np.array([np.cos(np.radians(azimuth)), np.sin(np.radians(azimuth)), 0.0])
    face = np.asarray(at, float) + [0, 0, high] + 0.1 * ahead
    return Head("porter", "", face, face, ahead)


def stop(mark, at, azimuth=0.0, **more):
    """A mark."""
    at = np.array([*at, 0.0][:3], float)
    return Stop(mark, at, head(at, azimuth), **more)


def azimuths(steps):
    """Where heads face. [deg]"""
    return [float(np.degrees(np.arctan2(step.head.ahead[1], step.head.ahead[0]))) for step in steps]


CORNER = [stop("", (0, 0)), stop("door", (3, 0), 90), stop("desk", (3, 4), 180)]


def test_metres_are_those_on_the_floor():
    """Three and four metres round a corner are seven; no step is longer than asked, and marks are kept."""
    steps = steps_along(CORNER, head(), 0.4)
    assert length_of(CORNER) == pytest.approx(7.0)
    metres = [step.metres for step in steps]
    assert metres[0] == 0 and metres[-1] == pytest.approx(7.0)
    assert max(np.diff(metres)) <= 0.4 + 1e-9 and len(steps) == 1 + 8 + 10
    assert [(step.mark, round(step.metres, 9)) for step in steps if step.mark is not None] == [
        ("", 0.0), ("door", 3.0), ("desk", 7.0)]
    # The head at a mark is the mark's own, and between marks over the line.
    assert steps[8].head is CORNER[1].head
    for step in steps[1:8]:
        np.testing.assert_allclose(step.at, [step.metres, 0, 0], atol=1e-9)
        np.testing.assert_allclose(step.head.face - 0.1 * step.head.ahead, [step.metres, 0, EYES], atol=1e-9)


def test_a_head_is_carried_to_where_it_goes():
    """It turns within half a metre of its marks: from 0 to 0, then to 90 at the door."""
    steps = steps_along(CORNER, head(), 0.25)
    turned = dict(zip((round(step.metres, 6) for step in steps), azimuths(steps), strict=True))
    assert turned[0.25] == turned[1.5] == turned[2.5] == pytest.approx(0)
    assert turned[2.75] == pytest.approx(45) and turned[3.0] == pytest.approx(90)
    assert turned[5.0] == pytest.approx(90) and turned[6.75] == pytest.approx(135)


def test_a_head_may_turn_evenly():
    """From one mark's facing to the next, the shorter way round: from 170 to -170 by 180."""
    steps = steps_along([stop("one", (0, 0), 170), stop("two", (4, 0), -170)], head(), 1.0, TURNING)
    assert [each % 360 for each in azimuths(steps)] == pytest.approx([170, 175, 180, 185, 190])


def test_eyes_stay_on_what_they_are_on_at_both_ends():
    """As far as a neck turns, 80 degrees from where they go."""
    seen = np.array([2.0, 2.0, 1.6])
    stops = [stop("one", (0, 0), 45, watched=seen), stop("two", (4, 0), 135, watched=seen)]
    found = azimuths(steps_along(stops, head(), 1.0, AHEAD))
    assert found[1:4] == pytest.approx([np.degrees(np.arctan2(2, 1)), 80, 80])
    away = azimuths(steps_along([stops[0], stop("two", (4, 0), 0)], head(), 1.0, AHEAD))
    assert away[2] == pytest.approx(0)


def test_marks_at_one_place_are_a_step_each():
    """A figure that rises where it sits goes nowhere; there is nothing between."""
    steps = steps_along([stop("seat", (0, 0)), stop("stands", (0, 0)), stop("door", (1, 0))], head(), 0.5)
    assert [(step.metres, step.mark) for step in steps] == [
        (0, "seat"), (0, "stands"), (0.5, None), (1, "door")]


def test_a_way_may_climb():
    """Metres are along the slope, and the head goes up with the floor."""
    steps = steps_along([stop("", (0, 0, 0)), stop("top", (3, 0, 4))], head(), 2.5)
    assert [step.metres for step in steps] == [0, 2.5, 5.0]
    assert steps[1].head.face[2] == pytest.approx(2 + EYES)
    ladder = steps_along([stop("", (0, 0, 0)), stop("top", (0, 0, 4), 90)], head(), 2.0)
    assert azimuths(ladder)[1] == pytest.approx(45)


def test_cheeks_go_with_the_head():
    """A meter at a cheek keeps its place in the head's own axes, wherever that is and whatever it faces."""
    own = head((1, 2, 0), 30)
    probes = [Probe(f"porter: {side} cheek", own.nose + 0.05 * sign * own.left - 0.04 * own.ahead,
                    (own.ahead + sign * own.left) / np.sqrt(2))
              for side, sign in (("left", 1), ("right", -1))]
    cheeks = cheeks_in(own, probes)
    again = cheek_probes(own, cheeks, ("a", "b"))
    for one, other in zip(probes, again, strict=True):
        np.testing.assert_allclose(one.position, other.position, atol=1e-12)
        np.testing.assert_allclose(one.normal, other.normal, atol=1e-12)
    left, right = cheek_probes(head((0, 0, 0), 90), cheeks, ("a", "b"))
    # Facing north, its left is west.
    np.testing.assert_allclose(left.position, [-0.05, 0.1 - 0.04, EYES], atol=1e-9)
    np.testing.assert_allclose(right.normal, np.array([1, 1, 0]) / np.sqrt(2), atol=1e-9)
    assert (left.name, right.name) == ("a", "b")


def block(name, low, high, role="set"):
    """A box of the set."""
    return Mesh(name, "grey", *shapes.box(low, high), role=role)


def test_what_stands_in_the_way_is_named():
    """A crate on it, a beam at its shoulders, and a wall; not what is beside it, over it or sat on."""
    steps = steps_along([stop("", (0, 0)), stop("door", (6, 0))], head(), 0.25)
    meshes = [block("crate", (2, -0.3, 0), (2.6, 0.3, 0.5)), block("beam", (4.1, -1, 1.2), (4.2, 1, 1.4)),
              block("beside", (1, 0.5, 0), (2, 1, 2)), block("lintel", (3, -1, 2), (3.2, 1, 2.2)),
              block("seat", (-0.2, -0.2, 0), (0.2, 0.2, 0.45)),
              block("clerk", (5, -0.2, 0), (5.3, 0.2, 1.8), "figure"),
              block("floor", (-9, -9, -1), (9, 9, 0))]
    found = in_the_way(steps, meshes)
    assert [name for name, *_ in found] == ["crate", "beam"]
    (_, first, last), (_, beam, end) = found
    assert first == pytest.approx(2, abs=0.26) and last == pytest.approx(2.6, abs=0.26)
    assert beam == end == pytest.approx(4.1, abs=0.26)
    assert SHIN < 0.5
