"""Blocking drawings: what is seen where, whoever finds it, and how it is drawn."""

import os
from dataclasses import replace

import numpy as np
import pytest

from previz.deliver.blocking import above as blocking_above
from previz.deliver.blocking import notes
from previz.deliver.blocking import shade as blocking_shade
from previz.deliver.blocking.drawing import draw_view
from previz.deliver.blocking.gl import (
    DEVICE,
    GlContext,
    NoGraphicsError,
    colour_of,
    first_that_works,
    numbers_of,
)
from previz.deliver.blocking.views import (
    ABOVE,
    FINE,
    FirstHits,
    blocking_views,
    hit_names,
    project,
)
from previz.deliver.blocking.words import CAUTION, Word, place_words
from previz.physics.light import LampLight
from previz.physics.spectra import WAVELENGTHS_NM, normalise
from previz.scene import camera as scene_camera
from previz.scene.records import Target
from previz.stage import shapes
from previz.stage.records import (
    Camera,
    Emitter,
    Guide,
    Mesh,
    Pane,
    Probe,
    Rig,
    Stage,
    Sun,
    Surface,
)
from previz.stage.views import build_camera, camera_axes, frame_tangents

ONES = np.ones_like(WAVELENGTHS_NM)
WIDTH, HEIGHT = 240, 136


def camera(name, at, aim, *, roll=0.0, sensor=(0.028, 0.01575), focal=0.035, aspect=16 / 9,
           squeeze=1.0):
    """A camera built from what a scene says; 28 mm by 15.75 mm is 16:9."""
    return Camera(name, camera_axes(at, aim, roll), np.asarray(at, float),
                  frame_tangents(sensor, focal, aspect, squeeze), aspect, 0.01, 3.0, 2.8, 800,
                  1 / 48, 0.0, 5600, 0.0, focal, sensor)


def lamp_face(name, centre, half_u, half_v):
    vertices, faces = shapes.rectangle(centre, half_u, half_v)
    axis = np.cross(half_u, half_v) / np.linalg.norm(np.cross(half_u, half_v))
    axes = np.stack([half_u / np.linalg.norm(half_u), half_v / np.linalg.norm(half_v), axis], 1)
    return Emitter(0, name, vertices, faces, world_from_light=axes, flat=True)


def small_stage(*cameras, **changes):
    """A floor, a box, a ball of a figure and a square lamp, none of which touch the lens."""
    ball = shapes.ball(0.35, subdivisions=3)
    parts = {
        "title": "Yard at night",
        "surfaces": {"grey": Surface("grey", 0.3 * ONES, 0 * ONES, 0 * ONES)},
        "meshes": (
            Mesh("ground", "grey", *shapes.rectangle((0, 3, 0), (6, 0, 0), (0, 6, 0)),
                 role="outside"),
            Mesh("crate", "grey", *shapes.box((-1.2, 3.6, 0), (-0.3, 4.3, 0.8))),
            Mesh("guard", "grey", ball[0] + [0.5, 4.0, 1.1], ball[1], role="figure"),
        ),
        "lamps": (LampLight("key", "lm", 1000.0, normalise(ONES), ONES),),
        "emitters": (lamp_face("key", np.array([-0.2, 4.6, 1.9]), np.array([0.4, 0.1, 0]),
                               np.array([0.0, 0.05, 0.3])),),
        "cameras": cameras,
        "rig": (Rig("key", "panel", np.array([-0.2, 4.6, 1.9]), 100.0, False),),
    }
    return Stage(**{**parts, **changes})


CAMERAS = {
    "level": camera("A", (0, 0, 1.2), (0, 4, 1.2)),
    "rolled": camera("A", (0.6, 0.3, 1.6), (0, 4, 1.0), roll=23),
    "squeezed": camera("A", (-0.8, 0.5, 0.5), (0.1, 4, 1.1), sensor=(0.024, 0.018), focal=0.05,
                       aspect=2.39, squeeze=2.0),
    "steep": camera("A", (0.2, 3.2, 4.5), (0, 4, 0.5), roll=-40, focal=0.018),
}


SIZE = (960, 540)


def drawn(context, view, size=SIZE):
    """Return the drawing of a view, its shapes found by GL."""
    return draw_view(view, context.first_hits(view.stage, view.camera, *view.grid), size)


def through_the_lens(context, stage):
    """Return the picture drawn for a stage's first camera."""
    return np.asarray(drawn(context, blocking_views(stage, SIZE)[0]).image).astype(int)


class Held:
    """The one GL context of these tests, opened when one is needed and none is open."""

    context = None

    def opened(self):
        if self.context is None:
            self.context = GlContext()
        return self.context

    def close(self):
        if self.context is not None:
            self.context.close()
        self.context = None


@pytest.fixture(scope="module")
def held():
    one = Held()
    yield one
    one.close()


@pytest.fixture
def context(held):
    """The GL context; a test is left out where this machine has no GL."""
    try:
        return held.opened()
    except NoGraphicsError as error:
        pytest.skip(f"no GL here: {error}")


def grown(mask):
    """Return a mask with every pixel's eight neighbours added."""
    padded = np.pad(mask, 1)
    rows, columns = mask.shape
    return np.any([padded[i:i + rows, j:j + columns] for i in range(3) for j in range(3)], axis=0)


@pytest.mark.engine
@pytest.mark.parametrize("which", CAMERAS)
def test_gl_and_engine_see_the_same(context, which):
    """Silhouettes agree to a pixel and depth to 0.1 % between two unrelated renderers."""
    from previz.studies.block import engine_first_hits

    stage = small_stage(CAMERAS[which])
    gl = context.first_hits(stage, stage.cameras[0], WIDTH, HEIGHT)
    engine = engine_first_hits(stage, stage.cameras[0], WIDTH, HEIGHT)
    assert gl.names == engine.names == hit_names(stage)
    alone = np.ones((HEIGHT, WIDTH), bool)
    for index in range(-1, len(gl.names)):
        a, b = gl.names_index == index, engine.names_index == index
        # Rasterising and ray casting may round a boundary to either side, never farther.
        assert not np.any(a & ~grown(b)), gl.names[index]
        assert not np.any(b & ~grown(a)), gl.names[index]
        alone &= ~(grown(a) & ~a)
    assert {"crate", "guard", "key"} <= {gl.names[i] for i in np.unique(gl.names_index)}
    both = alone & (gl.names_index == engine.names_index) & (gl.names_index >= 0)
    assert both.mean() > 0.2
    # Depth is kept in 24 bits between 2 cm and the farthest corner: 1e-4 at 10 m.
    np.testing.assert_allclose(gl.depth[both], engine.depth[both], rtol=1e-3)
    assert np.all(np.isinf(gl.depth[gl.names_index < 0]))


# Where a point 1 m to the right of the axis and 5 m along it lands in a picture 960 px wide.
# Level, 35 mm lens on 28 mm: 35 / 5 = 7 mm, 7 / 28 of 960 px is 240 px right of the middle.
# Rolled by 90° clockwise the world turns against the clock: what was right is now up, 240 px.
# Squeezed: 24 mm by 18 mm at 2x is 48 mm by 18 mm; at 2.39:1 the frame is 43.02 mm wide, and
# 50 / 5 = 10 mm of it are 960 · 10 / 43.02 = 223.2 px; the picture is 960 / 2.39 = 401.7 px high.
WORKED = {
    "level": (camera("A", (0, 0, 1), (0, 5, 1)), (960, 540), (480 + 240, 270)),
    "rolled": (camera("A", (0, 0, 1), (0, 5, 1), roll=90), (960, 540), (480, 270 - 240)),
    "squeezed": (camera("A", (0, 0, 1), (0, 5, 1), sensor=(0.024, 0.018), focal=0.05, aspect=2.39,
                        squeeze=2.0), (960, 402), (480 + 223.2, 201)),
}


@pytest.mark.parametrize("which", WORKED)
def test_a_known_point_is_seen_where_it_should_be(context, which):
    """A small ball at a known place lands within a pixel of its worked place in the picture."""
    seen_by, (width, height), expected = WORKED[which]
    ball = shapes.ball(0.02, subdivisions=2)
    mark = Mesh("mark", "grey", ball[0] + [1.0, 5.0, 1.0], ball[1])
    stage = small_stage(seen_by, meshes=(mark,), emitters=())
    hits = context.first_hits(stage, seen_by, width, height)
    rows, columns = np.nonzero(hits.names_index == 0)
    # Pixel k covers k to k + 1, so its middle is half a pixel on.
    found = columns.mean() + 0.5, rows.mean() + 0.5
    assert found == pytest.approx(expected, abs=1.0)
    drawn, depth = project(seen_by, width, height, (1.0, 5.0, 1.0))
    assert tuple(drawn) == pytest.approx(expected, abs=0.5)
    assert depth == pytest.approx(5.0)


@pytest.mark.engine
@pytest.mark.parametrize("which", WORKED)
def test_the_engine_sees_a_known_point_where_it_should_be(which):
    """The engine puts the same ball in the same place, with the depth of its near side."""
    from previz.studies.block import engine_first_hits

    seen_by, (width, height), expected = WORKED[which]
    ball = shapes.ball(0.02, subdivisions=2)
    stage = small_stage(seen_by, meshes=(Mesh("mark", "grey", ball[0] + [1.0, 5.0, 1.0], ball[1]),),
                        emitters=(), lamps=())
    hits = engine_first_hits(stage, seen_by, width, height)
    rows, columns = np.nonzero(hits.names_index == 0)
    assert (columns.mean() + 0.5, rows.mean() + 0.5) == pytest.approx(expected, abs=1.0)
    assert hits.depth.min() == pytest.approx(4.98, abs=0.003)


def test_of_two_faces_in_one_place_the_first_is_seen(context):
    """Drawings do not change from run to run where two things share a face."""
    ball = shapes.ball(0.35, subdivisions=3)
    names = [f"ball {number}" for number in range(12)]
    meshes = tuple(Mesh(name, "grey", ball[0] + [0.0, 4.0, 1.2], ball[1]) for name in names)
    stage = small_stage(CAMERAS["level"], meshes=meshes, emitters=())
    seen = context.first_hits(stage, stage.cameras[0], WIDTH, HEIGHT).names_index
    assert set(np.unique(seen)) == {-1, 0}


def test_an_empty_stage_is_all_air(context):
    """Where there is nothing at all, nothing is hit and nothing fails."""
    stage = small_stage(CAMERAS["level"], meshes=(), emitters=())
    hits = context.first_hits(stage, stage.cameras[0], 20, 10)
    assert np.all(hits.names_index == -1) and np.all(np.isinf(hits.depth))
    drawings = [draw_view(view, _air(view), (320, 180)) for view in blocking_views(stage, (320, 180))]
    assert [d.image.size for d in drawings] == [(320, 180)] * 2


def _air(view):
    columns, rows = view.grid
    return FirstHits(np.full((rows, columns), np.inf, np.float32),
                     np.full((rows, columns), -1, np.int32), hit_names(view.stage))


def test_a_context_is_given_back(held, context):
    """A second context finds what the first did, after that was closed."""
    held.close()
    stage, seen = small_stage(CAMERAS["level"]), []
    for _ in range(2):
        with GlContext() as context:
            seen.append(context.first_hits(stage, stage.cameras[0], 60, 34))
    np.testing.assert_array_equal(seen[0].names_index, seen[1].names_index)
    np.testing.assert_array_equal(seen[0].depth, seen[1].depth)


def test_numbers_go_through_colours_unharmed():
    """What a number is drawn in is read back as that number, and black as nothing."""
    numbers = np.array([[0, 1, 254, 255], [256, 65534, 65535, 2**24 - 2]])
    colours = np.array([[colour_of(int(each)) for each in line] for line in numbers], np.uint8)
    np.testing.assert_array_equal(numbers_of(colours), numbers)
    assert numbers_of(np.zeros((1, 1, 3), np.uint8)) == -1


def test_a_device_that_will_not_draw_is_passed_over(monkeypatch):
    """Of three devices the first that works is taken, and one that was requested is kept to."""
    # Set first, so that whatever is left in it is taken away after the test.
    monkeypatch.setenv(DEVICE, "")
    monkeypatch.delenv(DEVICE)

    def make():
        if os.environ.get(DEVICE, "0") != "2":
            raise RuntimeError(f"device {os.environ.get(DEVICE, '0')} refuses")
        return "a context"

    assert first_that_works(make, lambda: 3) == "a context"
    monkeypatch.setenv(DEVICE, "1")
    with pytest.raises(RuntimeError, match="device 1 refuses"):
        first_that_works(make, lambda: 3)
    monkeypatch.delenv(DEVICE)
    with pytest.raises(RuntimeError, match="device 0 refuses"):
        first_that_works(make, lambda: 2)
    assert DEVICE not in os.environ


def test_slopes_of_depth_give_the_normals_of_planes(context):
    """The normals found from depth are those of the crate's faces, to a degree."""
    stage = small_stage(CAMERAS["rolled"])
    view = blocking_views(stage, (480, 270))[0]
    hits = context.first_hits(stage, view.camera, *view.grid)
    with np.errstate(invalid="ignore"):
        found = blocking_shade.normals_of_depth(view, 1 / hits.depth)
    world = np.einsum("ij,jrc->irc", view.camera.world_from_camera, found)
    crate = hits.names.index("crate")
    whole = hits.names_index == crate
    # Two pixels in from every edge, where both neighbours lie on the same thing.
    inner = ~grown(grown(~whole))
    nearest = np.abs(world[:, inner]).max(axis=0)
    # From this side the front (-y), the top and the right (+x) of an upright box are seen; only
    # the creases between them fall short. cos 1° = 0.99985.
    assert np.mean(nearest > 0.99985) > 0.95
    for axis, sign in ((0, 1), (1, -1), (2, 1)):
        assert np.any(sign * world[axis, inner] > 0.999)
        assert not np.any(-sign * world[axis, inner] > 0.999)


@pytest.mark.parametrize("aspect", [1.0, 4 / 3, 16 / 9, 2.39])
def test_the_frame_line_is_the_delivered_frame(aspect):
    """The frame line has the delivered aspect, and its corners are those of the lens's view."""
    one = camera("A", (0, 0, 1), (1, 4, 1.3), roll=12, aspect=aspect)
    view = blocking_views(small_stage(one), (960, 540))[0]
    left, top, right, bottom = view.frame
    assert (right - left) / (bottom - top) == pytest.approx(aspect)
    assert 0 < left < right < view.width and 0 < top < bottom < view.height
    side, up, ahead = one.world_from_camera.T
    corner = one.position + 3 * (ahead + one.tan_half[0] * side - one.tan_half[1] * up)
    assert tuple(view.project(corner)[0]) == pytest.approx((right, bottom))


def test_from_above_things_stand_where_the_scale_says(context):
    """A post is drawn at its x and y to a pixel, and 1 m is as long as the scale says."""
    places = {"near": (0.0, 0.0), "far": (6.0, 0.0), "deep": (0.0, 3.0)}
    posts = tuple(Mesh(name, "grey", *shapes.box((x - 0.05, y - 0.05, 0),
                                                 (x + 0.05, y + 0.05, 2.5)))
                  for name, (x, y) in places.items())
    stage = small_stage(camera("A", (3, 1, 1), (3, 3, 1)), meshes=posts, emitters=())
    view = blocking_views(stage, (960, 540))[-1]
    hits = context.first_hits(view.stage, view.camera, *view.grid)
    middles = []
    for index in range(3):
        rows, columns = np.nonzero(hits.names_index == index)
        middles.append([(columns.mean() + 0.5) / FINE, (rows.mean() + 0.5) / FINE])
    near, far, deep = np.array(middles)
    scale = view.pixels_per_metre
    # 2.5 m of height at 3 km shift a post's top by less than 1e-3 of its distance from the middle.
    assert tuple(far - near) == pytest.approx((6 * scale, 0), abs=1)
    assert tuple(deep - near) == pytest.approx((0, -3 * scale), abs=1)
    from PIL import Image

    plan = blocking_above.Plan(view, Image.new("RGB", view.grid))
    np.testing.assert_allclose(plan.at([(0, 0, 0), (6, 0, 0), (0, 3, 0)]) / FINE, middles, atol=1)


def room_stage(*cameras, **changes):
    """A closed room of 4 m by 3 m with walls 20 cm thick, a window to the west, and a lamp."""
    t = 0.2
    walls = {
        "west wall": ((-t, -t, 0), (0, 3 + t, 2.5)),
        "east wall": ((4, -t, 0), (4 + t, 3 + t, 2.5)),
        "south wall": ((-t, -t, 0), (4 + t, 0, 2.5)),
        "north wall": ((-t, 3, 0), (4 + t, 3 + t, 2.5)),
        "floor": ((-t, -t, -t), (4 + t, 3 + t, 0)),
        "ceiling": ((-t, -t, 2.5), (4 + t, 3 + t, 2.7)),
    }
    meshes = tuple(Mesh(name, "grey", *shapes.box(*box)) for name, box in walls.items())
    ball = shapes.ball(0.2, subdivisions=2)
    clerk = Mesh("clerk", "grey", ball[0] + [2, 1.5, 1.2], ball[1], role="figure")
    window = {"name": "window", "centre": np.array([0, 1.5, 1.5]),
              "half_u": np.array([0, 0.5, 0]), "half_v": np.array([0, 0, 0.5])}
    parts = {
        "meshes": (*meshes, clerk), "guides": (Guide(**window, opening=True),),
        "panes": (Pane(**window, ior=1.5, sheets=1, tint=ONES),),
        "probes": (Probe("clerk: face, dome", np.array([2, 1.3, 1.2]), np.array([0, -1.0, 0])),),
        "emitters": (lamp_face("key", np.array([3.5, 2.5, 2.2]), np.array([0.2, 0, 0]),
                               np.array([0, 0.1, 0.1])),),
    }
    return small_stage(*cameras, **{**parts, **changes})


def above(context, stage):
    view = blocking_views(stage, SIZE)[-1]
    return view, np.asarray(drawn(context, view).image).astype(int)


def pixel(view, picture, point):
    """Return the colour drawn at a world point seen from above."""
    x, y = view.project(np.array(point, float))[0]
    return picture[int(y), int(x)]


def close_to(colour, expected, within=24):
    return np.abs(np.asarray(colour) - np.asarray(expected)).max() <= within


def test_from_above_the_ceiling_is_gone_and_walls_are_cut(context):
    """Under the ceiling the figure is seen; walls are a dark band, and the window a light gap."""
    view, picture = above(context, room_stage(camera("A", (3.6, 0.4, 1.4), (0.4, 2.6, 1.2))))
    assert close_to(pixel(view, picture, (2, 1.55, 1.4)), blocking_shade.ROLE_COLOURS["figure"], 40)
    assert close_to(pixel(view, picture, (2, -0.1, 0)), blocking_above.CUT_WALL, 8)
    assert close_to(pixel(view, picture, (-0.05, 1.5, 0)), blocking_shade.NOTHING, 24)
    assert close_to(pixel(view, picture, (-0.1, 2.4, 0)), blocking_above.CUT_WALL, 8)


def test_from_above_the_field_of_a_camera_is_tinted(context):
    """Floor inside a camera's field is darker than floor outside it."""
    # 28 mm of sensor behind 35 mm: half the field is atan(14 / 35) = 21.8°, so 2 m ahead it is
    # 0.8 m wide on each side.
    view, picture = above(context, room_stage(camera("A", (3.8, 0.7, 1.4), (0, 0.7, 1.4))))
    inside = pixel(view, picture, (1.8, 0.7 + 0.7, 0)).sum()
    outside = pixel(view, picture, (1.8, 0.7 + 0.95, 0)).sum()
    assert inside < outside - 10


def test_a_thin_board_is_seen_from_above(context):
    """A board on edge has no area from above, and is drawn all the same."""
    board = Mesh("card", "grey", *shapes.rectangle((1, 0.6, 1.5), (0.5, 0, 0), (0, 0, 0.5)),
                 role="board")
    stage = room_stage(camera("A", (3.6, 2.6, 1.4), (2, 1.5, 1.2)))
    view, picture = above(context, replace(stage, meshes=(*stage.meshes, board)))
    x, y = view.project(np.array([1.1, 0.6, 1.5]))[0]
    column = picture[int(y) - 4:int(y) + 5, int(x)]
    assert column.min() < 150 and close_to(column[column.sum(axis=1).argmax()], (247, 247, 245))


def test_a_lamp_in_frame_is_cautioned_unless_it_is_meant(context):
    """A lamp inside the frame line is named in the caution's ink; one left in shot is not."""
    stage = small_stage(CAMERAS["level"])
    meant = replace(stage, rig=(replace(stage.rig[0], in_shot=True),))
    counts = []
    for each in (stage, meant):
        picture = through_the_lens(context, each)
        counts.append(int((np.abs(picture - CAUTION).max(axis=2) < 20).sum()))
    assert counts[0] > 30 and counts[1] == 0


def test_a_lamp_out_of_frame_is_marked_at_the_edge(context):
    """A lamp ahead and far to the right leaves a lamp-coloured mark at the right edge only."""
    off = lamp_face("key", np.array([3.2, 4.0, 1.2]), np.array([0.1, 0, 0]), np.array([0, 0, 0.1]))
    stage = small_stage(CAMERAS["level"], emitters=(off,))
    picture = through_the_lens(context, stage)
    marked = np.abs(picture - blocking_shade.ROLE_COLOURS["lamp"]).max(axis=2) < 12
    rows, columns = np.nonzero(marked)
    assert len(rows) > 10 and columns.min() > 930
    behind = replace(stage, emitters=(replace(off, vertices=off.vertices - [0, 9, 0]),))
    picture = through_the_lens(context, behind)
    assert not np.any(np.abs(picture - blocking_shade.ROLE_COLOURS["lamp"]).max(axis=2) < 12)


def test_each_role_has_its_colour(context):
    """The middle of a thing has its role's colour up to the little form that is drawn."""
    stage = small_stage(CAMERAS["level"])
    view = blocking_views(stage, (960, 540))[0]
    hits = context.first_hits(stage, view.camera, *view.grid)
    picture = blocking_shade.shaded(view, hits)
    for name, role in (("crate", "set"), ("guard", "figure"), ("key", "lamp"),
                       ("ground", "outside")):
        rows, columns = np.nonzero(hits.names_index == hits.names.index(name))
        middle = np.median(picture[rows, columns], axis=0)
        ratio = middle / np.array(blocking_shade.ROLE_COLOURS[role])
        # Form changes the lightness of all three channels alike, by LEVEL and FORM.
        assert ratio.max() - ratio.min() < 0.02 and 0.75 < ratio.mean() <= 1.01, name


def test_the_sun_is_marked_on_its_side(context):
    """With the sun in the east its mark stands at the right edge of the view from above."""
    sun = Sun(0, np.array([np.cos(0.5), 0, np.sin(0.5)]))
    stage = small_stage(CAMERAS["level"], emitters=(), sun=sun)
    _, picture = above(context, stage)
    marked = np.abs(picture - blocking_shade.ROLE_COLOURS["lamp"]).max(axis=2) < 12
    rows, columns = np.nonzero(marked)
    assert len(rows) > 50 and columns.min() > 900
    _, direction, height = notes.sky_mark(stage)
    assert tuple(direction) == pytest.approx((1, 0))
    assert height == pytest.approx(np.degrees(0.5))


@pytest.mark.parametrize("name", ["sun", "moon"])
def test_what_stands_in_the_sky_has_its_own_name(context, name, monkeypatch):
    """A night's plan says moon where a day's says sun."""
    disc = Sun(0, np.array([np.cos(0.5), 0, np.sin(0.5)]))
    light = LampLight(name, "lx", 0.2, normalise(ONES), ONES)
    stage = small_stage(CAMERAS["level"], emitters=(), lamps=(light,), sun=disc)
    said = []

    def heard(words, *rest):
        said.extend((word.text, word.note) for word in words)
        return place_words(words, *rest)

    monkeypatch.setattr("previz.deliver.blocking.drawing.place_words", heard)
    for view in blocking_views(stage, (480, 270)):
        drawn(context, view, (480, 270))
    assert [each for each in said if each[0] in ("sun", "moon")] == [(name, "29° high")]


def test_field_edges_follow_the_lens_and_the_roll():
    """From above a level lens bounds its own angle; rolled by 90° it bounds the upright one."""
    level = camera("A", (0, 0, 1), (0, 5, 1))
    right, left = blocking_above.field_edges(level)
    # 28 mm behind 35 mm: tangent 14 / 35 = 0.4.
    assert right[0] / right[1] == pytest.approx(0.4) and left[0] / left[1] == pytest.approx(-0.4)
    upright = camera("A", (0, 0, 1), (0, 5, 1), roll=90)
    right, left = blocking_above.field_edges(upright)
    # 15.75 mm behind 35 mm: tangent 7.875 / 35 = 0.225.
    assert right[0] / right[1] == pytest.approx(0.225)
    down = camera("A", (0, 0, 5), (0, 0.5, 0))
    assert blocking_above.field_edges(down) is None


def test_a_lens_that_sees_behind_itself_has_no_edges():
    """Pitched down by 50 deg and 45 deg up and down, it sees what is behind it: no wedge."""
    down = camera("A", (0, 0, 3), (0, np.cos(np.radians(50)), 3 - np.sin(np.radians(50))))
    assert blocking_above.field_edges(replace(down, tan_half=(0.5, np.tan(np.radians(45))))) is None
    edges = blocking_above.field_edges(replace(down, tan_half=(0.5, np.tan(np.radians(20)))))
    assert edges.shape == (2, 2) and edges[0, 0] == pytest.approx(-edges[1, 0]) and edges[0, 0] > 0


def test_clipping_and_leaving_a_rectangle():
    """A triangle is cut at the sides of a square, and a ray leaves it where it should."""
    low, high = np.array([0.0, 0]), np.array([2.0, 2])
    cut = blocking_above.clipped(np.array([[1.0, 1], [5, 3], [5, -1]]), low, high)
    # The sides leave at slope ±1/2: at x = 2 they are at y = 1.5 and 0.5; area 1/2 · 1 · 1.
    x, y = cut.T
    area = 0.5 * abs(x @ np.roll(y, -1) - y @ np.roll(x, -1))
    assert area == pytest.approx(0.5)
    assert blocking_above.exit_distance(np.array([1.0, 1]), np.array([1.0, 0]), low, high) == 1.0
    root = np.array([1.0, 1]) / np.sqrt(2)
    assert blocking_above.exit_distance(np.array([0.0, 0]), root, low, high) == pytest.approx(
        2 * np.sqrt(2))
    assert len(blocking_above.clipped(np.array([[3.0, 3], [4, 3], [4, 4]]), low, high)) == 0


@pytest.mark.parametrize(("scale", "length"), [(100, 1), (20, 5), (400, 0.2), (1, 100)])
def test_the_scale_shows_a_round_length(scale, length):
    """The scale is the longest round length that fits in 150 pixels."""
    # 100 px/m: 1 m is 100 px and 2 m would be 200. 20: 5 m is 100 px. 400: 0.2 m is 80 px.
    assert notes.scale_length(scale, 150) == length


def test_names_never_run_into_each_other():
    """However many names there are, those that are set lie in the drawing and apart."""
    rng = np.random.default_rng(3)
    words = []
    for number in range(60):
        x, y = rng.uniform(0, (900, 480))
        words.append(Word(f"lamp {number}", "2.1 m up", (x, y, x + 20, y + 20), (x + 10, y + 10)))
    placed = place_words(words, np.zeros((500, 960), bool), 14)
    assert len(placed) > 50
    for one in placed:
        left, top, right, bottom = one.box
        assert 0 <= left < right <= 960 and 0 <= top < bottom <= 500
        for other in placed:
            if other is not one:
                assert (right <= other.box[0] or other.box[2] <= left or bottom <= other.box[1]
                        or other.box[3] <= top)


def test_a_name_keeps_off_what_is_busy():
    """Where one side of a thing is busy, its name stands on the other."""
    busy = np.zeros((200, 400), bool)
    busy[:, 200:] = True
    word = Word("key", "", (180, 90, 200, 110), (190, 100))
    (placed,) = place_words([word], busy, 14)
    assert placed.box[2] <= 180 and placed.leader is None


def test_the_drawings_come_in_order(context):
    """Cameras keep the scene's order; the view from above is last, and all have the size."""
    stage = small_stage(replace(CAMERAS["level"], name="B"), replace(CAMERAS["steep"], name="A"))
    drawings = [drawn(context, view, (480, 270)) for view in blocking_views(stage, (480, 270))]
    assert [d.view.name for d in drawings] == ["B", "A", ABOVE]
    assert [d.view.frame is None for d in drawings] == [False, False, True]
    assert {d.image.size for d in drawings} == {(480, 270)}


def test_the_plan_says_what_lamps_and_boards_hang_by():
    """Next to a lamp's height, and next to a board; what stands has no word for it."""
    from types import SimpleNamespace

    from previz.deliver.blocking.drawing import _thing_words
    from previz.stage.records import Grip

    stage = small_stage(CAMERAS["level"])
    names = {mesh.name for mesh in (*stage.meshes, *stage.emitters)}
    assert "key" in names
    hung = replace(stage, rig=tuple(replace(each, hung="pipe") for each in stage.rig), grip=(
        Grip("card", "board, white card", (1.0, 1.0), np.zeros(3), "boom"),))
    for each, note in ((stage, " m up"), (hung, " m up, pipe")):
        plan = SimpleNamespace(stage=each, at=lambda points: np.asarray(points)[:, :2] * 100)
        words = {word.text: word.note for word in _thing_words(plan, {})}
        assert words["key"].endswith(note)


@pytest.mark.parametrize("breathing", [False, True])
def test_the_frame_of_a_lens_that_breathes(breathing):
    """Blocking frames what the picture frames: at 0.5 m an 85 mm lens that breathes sees w / s' of
    the plane, 1/s' = 1/f - 1/s, else w / f.
    """
    record = scene_camera.Camera(name="A", at=(0.0, 0.0, 1.0), aim=Target(point=(0.0, 5.0, 1.0)),
                                 lens=0.085, stop=2.8, iso=800.0, focus=0.5, breathing=breathing)
    built = build_camera(record, np.array([0.0, 5.0, 1.0]), 0.5)
    plane = 1 / (1 / 0.085 - 1 / 0.5) if breathing else 0.085
    view = blocking_views(small_stage(built), (WIDTH, HEIGHT))[0]
    left, _, right, _ = view.frame
    seen = view.camera.tan_half[0] * (right - left) / view.width
    assert seen == pytest.approx(0.02489 / 2 / plane, rel=1e-9)
