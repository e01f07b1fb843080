"""Faces and hands of stand-in figures: maps of skin, expressions, ages, eyes, grips."""

from __future__ import annotations

import hashlib
from dataclasses import replace

import numpy as np
import pytest

from previz.physics import skin as skins
from previz.physics.daylight import daylight_spectrum
from previz.physics.spectra import observer
from previz.scene.figure import EXPRESSIONS, EYES, GRIPS, SKINS, Figure
from previz.stage.figures import complexion, face_chart, grip, iris, pores
from previz.stage.figures.appearance import regions, surfaces_of
from previz.stage.figures.brows import brows
from previz.stage.figures.build import FigureSpec, build_figure
from previz.stage.figures.data import body_data
from previz.stage.figures.expressions import shares, shows_teeth, with_face
from previz.stage.figures.people import PEOPLE, grown, older
from previz.stage.figures.pose import FINGERS, SIDES, dense_weights, pose, share_of, skeleton
from previz.stage.figures.skin import bare, face_shape, head_shape

MEAN_SHIFT = 0.005
"""How far a pattern may move the mean luminance of skin. [1]"""


def test_the_baked_parts_are_those_that_were_baked():
    """The geometry of persons, bones and weights is what it was before textures and ages were added."""
    data = body_data()
    count = 16_666  # skin, tongue, teeth, lashes and suit; the skirt comes after them
    parts = (data.shapes[:, :count], data.joints, data.eyes, data.weights[:count], data.quads["skin"])
    digest = hashlib.sha256(b"".join(np.ascontiguousarray(part).tobytes() for part in parts)).hexdigest()
    assert digest[:16] == "06ded3fe1378f414"
    assert len(data.quads["skirt"]) == 684 and data.quads["skirt"].min() == count
    assert data.uv.min() >= 0 and data.uv.max() <= 1 and data.uv.shape == (len(data.quads["skin"]), 4, 2)


def test_texture_of_head_and_hands_does_not_fold():
    """Seen on the texture, quads of the face's chart lie side by side: all turn the same way."""
    cut = bare().head
    corners = cut.uv[cut.quads]
    inside = face_chart.inside(corners).all(axis=1)
    one, two = corners[inside, 2] - corners[inside, 0], corners[inside, 3] - corners[inside, 1]
    turn = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]
    assert inside.sum() > 4000
    assert max((turn > 0).mean(), (turn < 0).mean()) > 0.99


def test_cutting_at_seams_keeps_every_triangle():
    """A vertex that is cut at a seam stays where it was."""
    skin = bare()
    for cut, quads in ((skin.head, skin.finer.quads), (skin.hands, skin.hand_quads)):
        np.testing.assert_array_equal(cut.rows[cut.quads], quads)
        assert len(cut.uv) == len(cut.rows)


@pytest.mark.parametrize("step", SKINS)
def test_a_pattern_keeps_the_mean_and_the_class_of_skin(step):
    """The mean over the face is that of the skin within 0.5 %, and its typology angle stays in its class."""
    light = daylight_spectrum(5500)
    made = complexion.face_pattern(step, "natural", True, 45)
    skin = skins.skin_reflectance(step, "natural")
    chart = face_chart.chart()
    area = face_chart.finer(chart.area, complexion.SHAPE)
    area = area * (face_chart.finer(chart.lips, complexion.SHAPE) < 0.5)
    share, factor = (np.asarray(made.tile[:, :, k], float) for k in (0, 1))
    weight = area / area.sum()
    mean = np.sum(weight * factor * (1 - share)) * skin + np.sum(weight * factor * share) * made.second
    plain, found = (skins.luminance_reflectance(each, light) for each in (skin, mean))
    assert found == pytest.approx(plain, rel=MEAN_SHIFT)
    shine = 0.0278
    before, after = (_typology(shine + (1 - shine) * each) for each in (skin, mean))
    # Del Bino and Bernerd 2013: class limits 55, 41, 28, 10 and -30 degrees.
    assert np.digitize(before, [-30, 10, 28, 41, 55]) == np.digitize(after, [-30, 10, 28, 41, 55])
    assert made.tile[:, :, :2].min() >= 0
    assert np.max(factor) * max(skin.max(), made.second.max()) < 0.98


def _typology(reflectance):
    """Return the individual typology angle, atan((L* - 50) / b*), in daylight. [deg]"""
    white = observer() @ daylight_spectrum(6504)
    x, y, z = (observer() @ (reflectance * daylight_spectrum(6504))) / white
    return np.degrees(np.arctan2(116 * np.cbrt(y) - 16 - 50, 200 * (np.cbrt(y) - np.cbrt(z))))


def test_maps_end_where_the_chart_ends():
    """At the edge of the chart a face is plain skin, and the relief goes on in that of the neck."""
    tile = complexion.face_pattern("light", "natural", False, 30).tile
    rim = np.concatenate([tile[0], tile[-1], tile[:, 0], tile[:, -1]])
    np.testing.assert_allclose(rim, np.broadcast_to([0, 1, 1, 1], rim.shape), atol=0.02)
    first = [round(value / face_chart.TEXEL) for value in face_chart.ORIGIN]
    slopes, beside = pores.face_relief(30).slopes, pores.skin_relief().slopes
    row = (-(first[1] + face_chart.SHAPE[0]) + face_chart.SHAPE[0] // 2) % pores.TILE
    found = slopes[face_chart.SHAPE[0] // 2, 0]
    np.testing.assert_allclose(found, beside[row, first[0] % pores.TILE], atol=0.01)


def test_relief_has_the_scale_of_skin():
    """Creases and pores are 0.2 to 2 mm apart on a cheek, and no steeper than skin is."""
    height = pores.net()
    power = np.abs(np.fft.rfft2(height - height.mean())) ** 2
    frequency = np.hypot(*np.meshgrid(np.fft.rfftfreq(pores.TILE), np.fft.fftfreq(pores.TILE)))
    at_cheek = 0.19e-3  # length of a texel there [m]
    middle = np.sum(power * frequency) / power.sum()
    assert 0.4e-3 < at_cheek / middle < 2e-3
    slope = np.sqrt((pores.skin_relief().slopes ** 2).sum(axis=2).mean())
    assert 0.04 < slope < 0.25
    assert 1e-5 < height.std() < 6e-5


def test_folds_grow_with_age():
    """Folds deepen from year to year, to some tenths of a millimetre at most."""
    depths = [pores.folds(age).max() for age in (25, 35, 45, 55, 65, 75)]
    assert depths == sorted(depths) and depths[0] < 2e-5
    assert 2e-4 < depths[-1] < 9e-4


def test_an_age_of_ones_own_changes_nothing():
    """A person's own age is as none; another leaves eyes, crown, chest and hands in place."""
    person = "person six"
    ages = (None, PEOPLE[person].years, 75.0)
    plain, own, old = (build_figure(FigureSpec(person, age=age)) for age in ages)
    for one, other in zip(plain.parts, own.parts, strict=True):
        np.testing.assert_array_equal(one.vertices, other.vertices)
    for name in ("eyes", "left eye", "crown", "chest", "left hand"):
        np.testing.assert_allclose(old.anchors[name][0], plain.anchors[name][0], atol=1e-4)


@pytest.mark.parametrize("person", list(PEOPLE))
def test_age_moves_the_face_and_leaves_the_eyes(person):
    """The older, the farther; a face moves by some millimetres, and its lids along the eyes."""
    data = body_data()
    shapes = [face_shape(person, {}, older(person, age)) for age in (20.0, 40.0, 60.0, 75.0)]
    moved = [np.linalg.norm(shape - shapes[0], axis=1) for shape in shapes]
    means = [step.mean() for step in moved]
    assert means == sorted(means) and 2e-3 < moved[-1].max() < 0.03
    eyes = data.eyes[data.people.index(person)]
    for ball in eyes:
        # Lids droop, but neither into the eye nor off it.
        gap = [np.linalg.norm(shape - ball[:3], axis=1) - ball[3] for shape in (shapes[0], shapes[-1])]
        lids = (np.abs(gap[0]) < 1e-3) & (data.weights.sum(axis=1) > 0)
        assert np.abs(gap[1] - gap[0])[lids].max() < 3e-3


def test_grown_rises_with_age():
    """The older, the farther from a young adult's head."""
    assert np.all(np.diff([grown(age) for age in range(22, 76)]) > 0)


def _moved(person, name):
    """Return how corners of the mouth, brows and chin rise in an expression. [mm]"""
    data, own = body_data(), PEOPLE[person]
    units = shares(FigureSpec(person, expression=name))
    rest, face = face_shape(person, {}), face_shape(person, units)
    lips = np.flatnonzero(data.lips > 0.5)
    corners = [lips[np.argmax(sign * rest[lips, 1])] for sign in SIDES.values()]
    points = brows(data.eyes[data.people.index(person)], head_shape(person), own.brow)[0]
    lifted = with_face(person, points, face) - points
    rise = (face - rest)[:, 2]
    found = (rise[corners].mean(), lifted[:, 2].mean(), rise[data.landmarks["chin"]])
    return [1000 * float(each) for each in found]


@pytest.mark.parametrize("person", ["person one", "person four"])
def test_expressions_move_what_they_should(person):
    """A smile lifts the mouth's corners by millimetres, a frown lowers brows, surprise lifts them."""
    corner, brow, chin = (dict(zip(EXPRESSIONS, each, strict=True))
                          for each in zip(*(_moved(person, name) for name in EXPRESSIONS), strict=True))
    assert corner["smile"] > 2 and 1 < corner["slight smile"] < corner["smile"]
    assert corner["frown"] < -0.5 and corner["neutral"] == 0
    assert brow["frown"] < -1 and brow["surprise"] > 2 and abs(brow["smile"]) < 1.5
    assert chin["surprise"] < -4 and chin["laughing"] < -2 and chin["neutral"] == 0


def test_teeth_show_between_parted_lips_alone():
    """Those who laugh or speak show teeth; a closed mouth has none behind it."""
    shown = {name for name in EXPRESSIONS if shows_teeth(shares(FigureSpec("person one", expression=name)))}
    assert shown == {"smile", "laughing", "surprise", "speaking"}


def test_lids_close_on_a_blink():
    """With the lids down nothing of the cornea's middle can be seen from in front."""
    built = build_figure(FigureSpec("person two", blink=1.0))
    skin = built.part("skin").vertices
    for eye in built.eyes:
        near = skin[np.hypot(skin[:, 1] - eye.apex[1], skin[:, 2] - eye.apex[2]) < 3e-3]
        assert near[:, 0].max() > eye.apex[0]


@pytest.mark.parametrize("name", ["smile", "laughing", "tired", "frown"])
def test_lids_stay_over_the_eyes(name):
    """No lid's outside lies within the ball of an eye, whatever the face shows."""
    built = build_figure(FigureSpec("person five", expression=name))
    part = built.part("skin")
    for eye in built.eyes:
        offset = part.vertices - eye.centre
        away = np.linalg.norm(offset, axis=1)
        outer = np.einsum("ij,ij->i", part.normals, offset) > 0.5 * away
        front = outer & (offset @ eye.gaze > 2e-3) & (away < eye.radius + 4e-3)
        assert front.sum() > 50 and away[front].min() > eye.radius - 1e-5


def test_brows_go_with_their_skin():
    """What lies on the face moves as the skin under it does, to half a millimetre."""
    data, person = body_data(), "person five"
    face = face_shape(person, shares(FigureSpec(person, expression="surprise")))
    rest = data.shapes[data.people.index(person)]
    points = brows(data.eyes[data.people.index(person)], head_shape(person), PEOPLE[person].brow)[0][::41]
    rows = bare().head_rows[head_shape(person).normals[: len(bare().head_rows), 0] > 0.05]
    closest = rows[np.argmin(np.linalg.norm(points[:, None] - rest[rows], axis=2), axis=1)]
    lifted = with_face(person, points, face) - points
    np.testing.assert_allclose(lifted, (face - rest)[closest], atol=1.2e-3)
    assert np.linalg.norm(lifted, axis=1).max() > 2e-3


def test_irises_differ_and_have_fibres():
    """Four colours apart by more than 5 % of light somewhere; each tile varies round the pupil."""
    light = daylight_spectrum(6504)
    seen = {name: (observer() @ (iris.iris(name) * light)) / (observer() @ light) for name in EYES}
    for one in EYES:
        for other in EYES:
            if one < other:
                assert np.abs(seen[one] - seen[other]).max() > 0.01
    assert seen["blue"][2] > 1.3 * seen["blue"][0] and seen["brown"][2] < 0.5 * seen["brown"][0]
    tile = iris.iris_pattern("green").tile
    away, _ = iris._polar(iris.IRIS_HALF)
    ring = (away > 3.4e-3) & (away < 3.7e-3)
    assert tile[ring, 1].std() > 0.08
    assert tile[away > 5.8e-3, 1].mean() < 0.5 * tile[ring, 1].mean()


@pytest.mark.parametrize("held", list(grip.HELD))
@pytest.mark.parametrize("person", ["person one", "person four", "person six"])
def test_hands_close_about_a_round_thing(person, held):
    """No skin is more than 2 mm inside it, and every finger that reaches it touches it."""
    data, skin = body_data(), bare()
    weights = dense_weights()[skin.hand_rows]
    for side in SIDES:
        posed = grip.with_grip(pose(skeleton(person), {}), person, side, held)
        points = posed.skin(data.shapes[data.people.index(person)][skin.hand_rows], weights)
        middle, along = grip.placed_axis(posed, person, side, held)
        offset = points - middle
        away = np.linalg.norm(offset - np.outer(offset @ along, along), axis=1) - grip.HELD[held].radius
        own = share_of(weights, side) > 0.5
        assert away[own].min() > -2.0e-3
        for finger in FINGERS:
            assert away[share_of(weights, f"{side} {finger}") > 0.5].min() < 1e-3


@pytest.mark.parametrize("name", ["fist", "pointing", "paper"])
def test_fingers_do_not_go_through_the_palm(name):
    """The last bones of bent fingers stay on the palm's side of the back of the hand."""
    data, skin, person = body_data(), bare(), "person five"
    weights = dense_weights()[skin.hand_rows]
    posed = grip.with_grip(pose(skeleton(person), {}), person, "right", name)
    points = posed.skin(data.shapes[data.people.index(person)][skin.hand_rows], weights)
    points = points - posed.at("right hand")
    tips = points[share_of(weights, *(f"right {finger} 3" for finger in FINGERS)) > 0.6]
    back = points[share_of(weights, "right hand") > 0.6]
    # In the zero stance the palm of a right hand faces +y.
    gap = np.linalg.norm(tips[:, None, ::2] - back[None, :, ::2], axis=2)
    near = gap.min(axis=1) < 4e-3
    level = np.array([back[row < 5e-3, 1].max() for row in gap[near]])
    assert np.all(tips[near, 1] > level - 6e-3)


@pytest.mark.parametrize("name", GRIPS)
def test_every_grip_makes_sound_hands(name):
    """Hands have triangles with an area and no others; a cup comes with its grip alone, upright."""
    built = build_figure(FigureSpec("person two", right_hand=name, left_hand=name))
    for part in built.parts:
        corners = part.vertices[part.faces]
        sides = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
        square = np.linalg.norm(np.cross(*sides), axis=1)
        assert np.all(np.isfinite(part.vertices)) and square.min() > 1e-13
        assert part.uv is None or len(part.uv) == len(part.vertices)
    cup = built.part("cup")
    assert (cup is not None) == (name == "cup")
    if cup is not None:
        low, high = (cup.vertices[:, 2] < np.quantile(cup.vertices[:, 2], q) for q in (0.05, 0.95))
        # Two mugs of 95 mm, tilted by no more than some degrees.
        assert 0.093 < np.ptp(cup.vertices[:, 2]) < 0.115 and low.any() and not high.all()


def test_regions_share_the_skin_out():
    """Each triangle of the skin is in one region: face, hands, mouth or the rest."""
    part = build_figure(FigureSpec("person six")).part("skin")
    found = regions(part)
    assert set(found) == {"face", "skin", "hand", "mouth"}
    assert sum(len(faces) for faces, _ in found.values()) == len(part.faces)
    _, uv = found["face"]
    inside = uv[np.unique(found["face"][0])]
    assert inside.min() >= 0 and inside.max() <= 1


def test_surfaces_are_kept_and_follow_the_words():
    """The same words give the same maps, of which only one copy is kept; age, eyes and sex change theirs."""
    figure = Figure(name="guard", at=(0.0, 0.0, 0.0), facing=0.0)
    one, two = surfaces_of(figure), surfaces_of(replace(figure, name="other"))
    assert one["face"].pattern is two["face"].pattern and one["face"].relief is two["face"].relief
    old = surfaces_of(replace(figure, age=70.0, eyes="blue"))
    assert old["face"].relief is not one["face"].relief
    assert old["iris"].name == "iris, blue" and one["iris"].name == "iris"
    smooth = surfaces_of(replace(figure, person="person two", age=35.0))
    assert not np.array_equal(smooth["face"].pattern.tile, one["face"].pattern.tile)
