"""What the camera sees where: framing, focus, names, smooth shapes and pictures on things."""

import dataclasses

import numpy as np
import pytest

from previz.physics.bands import band_means
from previz.physics.uplift import reflectance_from_rgb
from previz.scene import camera as scene_camera
from previz.scene.records import Target
from previz.stage import shapes
from previz.stage.records import Mesh
from previz.stage.views import build_camera

pytestmark = pytest.mark.engine

MARKS = np.array([[0.3, 5.0, 1.0], [-0.5, 4.0, 1.6], [0.9, 7.0, 0.4], [0.0, 6.0, 1.2]])
AT, AIM = np.array([0.2, 0.0, 1.3]), np.array([0.1, 5.0, 1.1])
WIDTH, HEIGHT = 640, 360

SUPER_35_HALF = 0.02489 / 2
"""Half the width of the sensor that a 16:9 frame takes all of. [m]"""


def built(**settings):
    """A scene's camera on the stage."""
    record = scene_camera.Camera(**{"name": "A", "at": tuple(AT), "aim": Target(point=tuple(AIM)),
                                    "lens": 0.035, "stop": 2.8, "iso": 800.0, **settings})
    return build_camera(record, AIM, AIM if record.focus is None else record.focus)


def projected(points, focal, sensor, aspect=16 / 9, squeeze=1.0, roll=0.0):
    """Where an ideal lens images points. [px from the left and the top]

    x = f X / (q Z) and y = f Y / Z on a sensor whose middle, as large as the aspect allows, is the
    picture (pinhole projection; an anamorphic lens of squeeze q takes in 2 atan(q w / 2f) across,
    check value 3.18). A camera that leans clockwise turns the picture counter-clockwise.
    """
    ahead = (AIM - AT) / np.linalg.norm(AIM - AT)
    right = np.cross(ahead, [0, 0, 1])
    right /= np.linalg.norm(right)
    up = np.cross(right, ahead)
    x, y, z = ((points - AT) @ axis for axis in (right, up, ahead))
    turn = np.radians(roll)
    x, y = x * np.cos(turn) - y * np.sin(turn), x * np.sin(turn) + y * np.cos(turn)
    width = min(sensor[0] * squeeze, sensor[1] * aspect)
    height = width / aspect
    return np.stack([(focal * x / z / width + 0.5) * WIDTH, (0.5 - focal * y / z / height) * HEIGHT])


CAMERAS = {
    "25 mm super 35": {"lens": 0.025},
    "50 mm super 35": {"lens": 0.050},
    "35 mm full frame": {"lens": 0.035, "sensor": scene_camera.SENSORS["full frame"]},
    "40 mm anamorphic 2x": {"lens": 0.040, "sensor": (0.022, 0.0186), "squeeze": 2.0},
    "35 mm leaning 20 deg": {"lens": 0.035, "roll": 20.0},
}


@pytest.mark.parametrize("name", CAMERAS)
def test_marked_points_land_where_they_should(tiny, name):
    """A post in the scene is within a pixel of where the lens images it (check value 3.18)."""
    settings = CAMERAS[name]
    camera = built(**settings)
    marks = []
    for i, point in enumerate(MARKS):
        vertices, faces = shapes.ball(0.02, subdivisions=2)
        marks.append(Mesh(f"mark {i}", "grey", vertices + point, faces))
    stage = tiny.stage(*marks, emitters=[tiny.disc_lamp(0.1, (0, 0, 9))])
    frames = tiny.picture(stage, camera, WIDTH, HEIGHT, 1, passes=1)
    sensor = settings.get("sensor", scene_camera.SENSORS["super 35"])
    expected = projected(MARKS, settings["lens"], sensor, squeeze=settings.get("squeeze", 1.0),
                         roll=settings.get("roll", 0.0))
    for i, (x, y) in enumerate(expected.T):
        rows, columns = np.nonzero(frames.names_index == frames.names.index(f"mark {i}"))
        assert rows.size > 4, f"mark {i} is not in the picture"
        assert abs(columns.mean() + 0.5 - x) < 1
        assert abs(rows.mean() + 0.5 - y) < 1
        # Depth is along the view axis, to the near side of the ball.
        depth = (MARKS[i] - AT) @ camera.world_from_camera[:, 2]
        assert frames.depth[rows, columns].min() == pytest.approx(depth - 0.02, abs=0.003)


def test_angle_of_view_of_a_super_35_frame():
    """24.89 mm at 35 mm is 39.15 deg across; a 16:9 frame is cut from its height (check value 3.18)."""
    camera = built(lens=0.035)
    assert 2 * np.degrees(np.arctan(camera.tan_half[0])) == pytest.approx(39.15, abs=0.01)
    assert camera.tan_half[0] / camera.tan_half[1] == pytest.approx(16 / 9)
    # 1.37:1 would be the whole height; wider formats lose height, taller ones width.
    tall = built(lens=0.035, aspect=1.0)
    assert tall.tan_half[0] == pytest.approx(0.01866 / 0.07)


@pytest.mark.parametrize("breathing", [False, True])
@pytest.mark.parametrize(
    ("focal", "focus", "distance"),
    [(0.05, 2.0, 4.0), (0.05, 3.0, 1.5), (0.05, 1.5, 2.2), (0.085, 0.5, 0.7)],
)  # fmt: skip
def test_blur_of_a_point_out_of_focus(tiny, focal, focus, distance, breathing):
    """A small light out of focus is the disc of a thin lens on the sensor, whether it breathes.

    b = f² / (N (s - f)) |d - s| / d (check value 3.17): 85 mm at half a metre is a fifth larger than
    without the lens' extension.
    """
    stop, transmission = 2.0, 0.81
    camera = built(lens=focal, stop=stop, lens_transmission=transmission, focus=focus,
                     breathing=breathing)
    number = stop * np.sqrt(transmission)  # N = T sqrt(tau), check value 3.7
    at = AT + camera.world_from_camera[:, 2] * distance
    # Far off it may be larger, so that as many of fewer paths meet it.
    radius = 0.002 if distance > 1 else 0.001
    stage = tiny.stage(emitters=[tiny.ball_lamp(radius, at, subdivisions=2)])
    blur = focal**2 / (number * (focus - focal)) * abs(distance - focus) / distance
    # The picture is a crop of the middle, two blurs wide, so that a pixel is a small part of the blur
    # and few paths miss it. What a length on the sensor is of the view follows from the sensor's width.
    crop = 2 * blur / (2 * SUPER_35_HALF) * camera.tan_half[0]
    tight = dataclasses.replace(camera, tan_half=(crop, crop))
    frames = tiny.picture(stage, tight, 32, 32, round(8000 * (0.001 / radius) ** 2), passes=4)
    light = tiny.luminance(frames)[0]
    rows, columns = np.indices(light.shape) + 0.5
    total = light.sum()
    middle = np.array([np.sum(light * rows), np.sum(light * columns)]) / total
    np.testing.assert_allclose(middle, 16, atol=0.7)
    # Second moment of an even disc: diameter² / 16 along each axis; a pixel's own adds 1 / 12, and
    # the ball's picture its own disc's.
    second = np.sum(light * ((rows - middle[0]) ** 2 + (columns - middle[1]) ** 2)) / total
    own = 16 * radius / distance / crop
    measured = 4 * np.sqrt(second / 2 - 1 / 12 - own**2 / 4) / 32 * 2 * blur
    # Some 8000 paths meet the ball; r² of an even disc spreads by 0.58 of its mean, so that the
    # diameter has an error of 0.58 / 2 / root 8000, a third of a per cent. Four of these.
    assert measured == pytest.approx(blur, rel=0.013)


@pytest.mark.parametrize(("focal", "focus"), [(0.085, 0.5), (0.05, 2.0), (0.035, 0.4)])
def test_a_lens_that_breathes_sees_less_as_it_comes_forward(tiny, focal, focus):
    """The frame is that of the extended lens, 1/s' = 1/f - 1/s; without breathing that of f."""
    extended = 1 / (1 / focal - 1 / focus)
    for breathing, plane in ((False, focal), (True, extended)):
        camera = built(lens=focal, focus=focus, breathing=breathing)
        edge = SUPER_35_HALF / plane
        # Two small balls across the frame's edge, at 3 m along the axis: one is seen, one is not.
        right, ahead = camera.world_from_camera[:, 0], camera.world_from_camera[:, 2]
        balls = []
        for name, part in (("inside", 0.98), ("outside", 1.02)):
            vertices, faces = shapes.ball(0.004, subdivisions=1)
            balls.append(Mesh(name, "grey", vertices + AT + 3 * (ahead + part * edge * right), faces))
        stage = tiny.stage(*balls, emitters=[tiny.disc_lamp(0.1, (0, 0, 9))])
        pinhole = dataclasses.replace(camera, lens_radius=0.0)
        seen = tiny.picture(stage, pinhole, WIDTH, HEIGHT, 1, passes=1)
        found = [name for number, name in enumerate(seen.names)
                 if np.any(seen.names_index == number)]
        assert found == ["inside"]


def test_a_thing_in_focus_is_sharp(tiny):
    """A light on the focus plane stays within the pixels of its own size."""
    camera = built(lens=0.05, stop=1.4, focus=2.0)
    at = AT + camera.world_from_camera[:, 2] * 2.0
    stage = tiny.stage(emitters=[tiny.ball_lamp(0.002, at, subdivisions=1)])
    tight = camera.__class__(**{**vars(camera), "tan_half": (0.008, 0.008)})
    light = tiny.luminance(tiny.picture(stage, tight, 32, 32, 64))[0]
    # 4 mm of ball in 32 mm of frame is 4 of 32 pixels.
    assert light[13:19, 13:19].sum() == pytest.approx(light.sum(), rel=1e-6)


def ball_mesh(subdivisions):
    """A ball of radius 1 about the origin with the normals of the true one."""
    vertices, faces = shapes.ball(1.0, subdivisions=subdivisions)
    return Mesh("ball", "grey", vertices, faces,
                vertices / np.linalg.norm(vertices, axis=1, keepdims=True))


def true_ball(size):
    """Where the lines of sight of a picture meet the true ball, and by how much. [m], [m²]

    The camera stands 8 m in front and takes in 0.14 to each side.
    """
    rows, columns = np.indices((size, size))
    x, z = ((2 * (n + 0.5) / size - 1) * 0.14 for n in (columns, size - 1 - rows))
    rays = np.stack([x, np.ones_like(x), z], axis=-1)
    rays /= np.linalg.norm(rays, axis=-1, keepdims=True)
    along = 8 * rays[..., 1]
    inside = along**2 - 63
    far = along - np.sqrt(np.maximum(inside, 0))
    return np.array([0, -8, 0]) + rays * far[..., None], inside


def ball_camera(tiny):
    """The camera of `true_ball`."""
    return tiny.camera((0, -8, 0), (0, 0, 0), tan_half=(0.14, 0.14))


def test_smooth_normals_shade_a_ball_as_a_ball(tiny):
    """A coarse ball with smooth normals has the luminance of the true one: rho / pi cos(angle)."""
    smooth = ball_mesh(3)
    flat = Mesh("ball", "grey", smooth.vertices, smooth.faces)
    towards = np.array([0.2, -1.0, 0.3]) / np.linalg.norm([0.2, -1, 0.3])
    points, inside = true_ball(48)
    true = np.maximum(points @ towards, 0) * 0.5 / np.pi
    middle = inside > 0.35  # away from the rim, where the outlines of the two differ
    off = {}
    for name, mesh in (("smooth", smooth), ("flat", flat)):
        stage = tiny.stage(mesh, sun=tiny.sun(towards), surfaces=[tiny.surface(reflectance=0.5)])
        light = tiny.luminance(tiny.picture(stage, ball_camera(tiny), 48, 48, 64, max_depth=1))[0]
        off[name] = np.abs(light - true)[middle].max() * np.pi / 0.5
    # Interpolated normals of these 1280 faces are right to 0.5 %; noise of the pixels adds to it.
    # Flat faces are off by half the angle between them, several per cent: the test can see that.
    assert off["smooth"] < 0.02
    assert off["flat"] > 2 * off["smooth"]


@pytest.mark.parametrize("subdivisions", [1, 2])
def test_the_edge_of_light_on_a_coarse_ball_is_that_of_the_true_one(tiny, subdivisions):
    """No faces show where light just glances: luminance is rho / pi cos(angle) up to the edge.

    Lambert on the true ball. A ray that left from the flat faces would be caught by their
    neighbours, and a face turned from the sun would be dark all over: that is wrong by a quarter
    of the full light at the worst place of 80 faces, and by 0.08 of it at that of 320.
    """
    towards = np.array([0.9, -0.3, 0.3]) / np.linalg.norm([0.9, -0.3, 0.3])
    points, inside = true_ball(64)
    cosine = points @ towards
    stage = tiny.stage(ball_mesh(subdivisions), sun=tiny.sun(towards),
                       surfaces=[tiny.surface(reflectance=0.5)])
    light = tiny.luminance(tiny.picture(stage, ball_camera(tiny), 64, 64, 64, max_depth=1))[0]
    off = light * np.pi / 0.5 - np.maximum(cosine, 0)
    edge = (inside > 0.2) & (np.abs(cosine) < 0.25)
    # Normals between corners 33 or 17 deg apart are right to about a hundredth and a 250th.
    room = {1: 0.015, 2: 0.006}[subdivisions]
    assert np.abs(off[edge]).max() < room
    assert abs(off[edge].mean()) < room / 4


def test_a_white_ball_of_few_faces_vanishes_in_a_furnace(tiny):
    """No light is lost on a rounded face, wherever its normals lean (check value 1.15).

    A path that leaves the rounded surface under its flat face runs into the ball again or goes
    free; white, it comes back with all its light all the same. Leaving such paths out loses 0.8 %.
    """
    surround = tiny.ball_lamp(12.0, subdivisions=2)
    surround = dataclasses.replace(surround, faces=surround.faces[:, ::-1], symmetric=False)
    stage = tiny.stage(ball_mesh(1), emitters=[surround], surfaces=[tiny.surface(reflectance=1.0)])
    light = tiny.luminance(tiny.picture(stage, ball_camera(tiny), 32, 32, 256))[0]
    seen = true_ball(32)[1] > 0.2
    assert light[seen].mean() == pytest.approx(light[0, 0], rel=2.5e-3)  # noise 5e-4


def test_a_box_with_smooth_normals_keeps_its_faces(tiny):
    """Where normals lean more than 45 deg from a face it is no rounded surface: nothing is lifted.

    A post stands on the lid of a box whose corners share normals; the lid next to its foot, in
    its shadow, stays dark, which a ray that left from high over the lid would not see.
    """
    vertices, faces = shapes.box((-1, -1, -1), (1, 1, 0))
    corners = np.unique(vertices, axis=0)
    index = np.array([np.argmin(np.linalg.norm(corners - v, axis=1)) for v in vertices])
    normals = corners - [0, 0, -0.5]
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    lid = Mesh("box", "grey", corners, index[faces], normals)
    post = Mesh("post", "grey", *shapes.box((-0.05, -0.05, 0), (0.05, 0.05, 0.1)))
    stage = tiny.stage(lid, post, sun=tiny.sun((-1, 0, 1)))
    value, _ = tiny.radiance(stage, [[0.09, -3, 3]], [[0, 1 / 2**0.5, -1 / 2**0.5]], 64, max_depth=1)
    assert value[0, 0, 0] == 0


def test_texture_is_upright_and_in_its_colours(tiny):
    """V runs upwards, u to the right, and each colour keeps its reflectance."""
    texels = np.zeros((2, 2, 3), np.float32)
    texels[0, 0], texels[0, 1] = 0.8, (0.6, 0.1, 0.1)  # top: light grey, red
    texels[1, 0], texels[1, 1] = 0.1, (0.1, 0.1, 0.6)  # bottom: dark grey, blue
    texels = np.kron(texels, np.ones((16, 16, 1), np.float32))
    vertices, faces = shapes.rectangle((0, 0, 0), (1, 0, 0), (0, 0, 1))  # faces -y
    uv = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], float)
    poster = Mesh("poster", "print", vertices, faces, uv=uv)
    stage = tiny.stage(poster, sun=tiny.sun((0, -1, 0)),
                       surfaces=[tiny.surface("print", texture=texels)])
    bands = 12
    camera = tiny.camera((0, -4, 0), (0, 0, 0), tan_half=(0.25, 0.25))
    frames = tiny.picture(stage, camera, 8, 8, 128, bands=bands)
    slices = np.asarray(frames.slices)[0] * np.pi
    # The middle of each quarter is one colour; rows count from the top.
    low, high = slice(1, 3), slice(5, 7)
    grey, dark = (slices[:, rows, low].mean(axis=(1, 2)) for rows in (low, high))
    red, blue = (slices[:, rows, high].mean(axis=(1, 2)) for rows in (low, high))
    np.testing.assert_allclose(grey, 0.8, rtol=0.01)
    np.testing.assert_allclose(dark, 0.1, rtol=0.01)
    for measured, colour in ((red, (0.6, 0.1, 0.1)), (blue, (0.1, 0.1, 0.6))):
        np.testing.assert_allclose(measured, band_means(reflectance_from_rgb(colour), bands),
                                   rtol=0.01)


def test_a_picture_on_a_small_thing_in_the_open(tiny):
    """Rays that leave the scene read no picture, and end no process.

    A division of whole numbers by the size of no picture would be a fault of the processor.
    """
    vertices, faces = shapes.rectangle((0, 0, 0), (0.2, 0, 0), (0, 0, 0.2))
    uv = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], float)
    poster = Mesh("poster", "print", vertices, faces, uv=uv)
    bare = tiny.patch(0.5, 0.5, (0.6, 0, 0), (0, -1, 0), "bare", "bare")
    stage = tiny.stage(poster, bare, sun=tiny.sun((0, -1, 0)),
                       surfaces=[tiny.surface("print", texture=np.full((3, 2, 3), 0.3, np.float32)),
                                 tiny.surface("bare", 0.6)])
    camera = tiny.camera((0, -4, 0), (0, 0, 0), tan_half=(0.25, 0.25))
    light = tiny.luminance(tiny.picture(stage, camera, 16, 16, 64))[0] * np.pi
    assert light[8, 8] == pytest.approx(0.3, rel=0.01)
    assert light[8, 12] == pytest.approx(0.6, rel=0.02)
    assert light[0, 0] == 0


def test_names_albedo_and_normal_planes(tiny):
    """The planes say what is seen, how light it is, and where it faces."""
    stage = tiny.stage(
        tiny.patch(2, 2, (-1.2, 4, 0), (0, -1, 0), "dark", "left"),
        tiny.patch(2, 2, (1.2, 4, 0), (0.6, -0.8, 0), "light", "right"),
        surfaces=[tiny.surface("dark", 0.1), tiny.surface("light", 0.7)],
        emitters=[tiny.disc_lamp(0.2, (0, -1, 0), (0, 1, 0))])
    frames = tiny.picture(stage, tiny.camera((0, 0, 0), (0, 1, 0), tan_half=(0.5, 0.25)), 40, 20, 4,
                          passes=1, bands=12)
    left, right = frames.names.index("left"), frames.names.index("right")
    assert frames.names_index[10, 8] == left
    assert frames.names_index[10, 32] == right
    assert frames.names_index[0, 20] == -1
    assert frames.depth[10, 8] == pytest.approx(4, rel=1e-5)
    assert np.isinf(frames.depth[0, 20])
    np.testing.assert_allclose(frames.albedo[:, 10, 8], 0.1, rtol=1e-3)
    np.testing.assert_allclose(frames.albedo[:, 10, 32], 0.7, rtol=1e-3)
    np.testing.assert_allclose(frames.normal[:, 10, 8], [0, -1, 0], atol=1e-6)
    np.testing.assert_allclose(frames.normal[:, 10, 32], [0.6, -0.8, 0], atol=1e-6)
    # A single pass says nothing of its own noise.
    assert np.all(np.isinf(frames.variance))


@pytest.mark.parametrize("smooth", [False, True], ids=["flat", "smooth"])
def test_an_opaque_body_inside_out_is_lit_as_the_right_one(tiny, smooth):
    """Surfaces take light from both sides alike, whichever way their faces and normals look.

    So meshes that are turned inside out need no repair, unless they glow or are glass.
    """
    vertices, faces = shapes.ball(0.5, subdivisions=2)
    rng = np.random.default_rng(1)
    origins = np.array([[0.0, -3, 1], [2, 2, 1], [-2, 1, 2], [0, 0, 3]])
    directions = -origins / np.linalg.norm(origins, axis=1, keepdims=True) + 0.02 * rng.normal(size=(4, 3))
    read = []
    for turn in (1, -1):
        ball = Mesh("ball", "grey", vertices, faces[:, ::turn], 2 * turn * vertices if smooth else None)
        stage = tiny.stage(ball, tiny.patch(4, 4, (0, 0, -0.5), (0, 0, 1)),
                           emitters=[tiny.disc_lamp(0.3, (1, -1, 3))], surfaces=[tiny.surface(gloss=0.5)])
        read.append(tiny.radiance(stage, origins, directions, 64, batches=32))
    (right, error), (turned, other) = read
    assert np.all(right > 0) and np.all(error < 0.1 * right)
    assert np.all(np.abs(right - turned) < 4 * np.hypot(error, other))
