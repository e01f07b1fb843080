"""What a picture gives away of the rig: against mirror geometry, Fresnel and the picture."""

from dataclasses import replace

import numpy as np
import pytest

from previz.engine.render import Sampling
from previz.exposure.comparing.coverage import FAINT, GLASS, GLOSS, IN_FRAME, MIRROR
from previz.physics.optics import pane as window
from previz.rendering import job as jobs
from previz.rendering.job import StageJob
from previz.rendering.request import Order
from previz.sight.rig_bodies import CameraBody, Stand, rod_reach
from previz.sight.rig_seen import rig_in
from previz.stage import shapes
from previz.stage.records import Glass, Mesh, Pane, Rig, Surface

pytestmark = pytest.mark.engine

X, Y, Z = np.eye(3)
TAN = (0.3, 0.2)
LAMP = np.array([1.2, -1.0, 0.5])
WIDE, HIGH = 0.4, 0.3
"""A lamp behind the camera, which stands at the origin and faces along +y. [m]"""

GLASS_AT = 4.0
IMAGE = np.array([1.2, 9.0, 0.5])
"""A sheet of glass square to the line of sight [m], and the lamp's mirror image in it."""

SHARE = WIDE / 9 / (2 * TAN[0]) * HIGH / 9 / (2 * TAN[1])
"""Of the frame: the image is square to the lens axis, 9 m off."""


def night(tiny, *meshes, glass=True, **more):
    """The lamp, the glass, and an even field of light far behind it."""
    key = tiny.rectangle_lamp(WIDE, HIGH, LAMP, Y)
    field = tiny.rectangle_lamp(40, 40, 20 * Y, -Y, index=1)
    panes = (Pane("window", GLASS_AT * Y, 2 * X, 2 * Z, 1.52, 1, np.ones(81)),) if glass else ()
    lamps = [tiny.lamp("key", output=400.0), tiny.lamp("dusk", output=60_000.0)]
    emitters = (replace(key, name="key"), replace(field, name="dusk"))
    black = tiny.surface("black", 0.0, f0=0.0)
    more.setdefault("surfaces", (black,))
    more.setdefault("lamps", lamps)
    return tiny.stage(*meshes, emitters=emitters, panes=panes, **more)


def sightings(tiny, stage, folder, bodies=()):
    """What is found that is no part of the field of light behind."""
    job = StageJob(stage, Order(16, 16, Sampling(1, 1, 1), 4, "auto", folder))
    return [s for s in rig_in(job, tiny.camera(0 * X, Y, tan_half=TAN), bodies)
            if s.sighting.name != "dusk"]


@pytest.fixture(scope="module")
def by_night(tiny, tmp_path_factory):
    """The night with nothing but lamp and glass, what is found there, and the cache that has it."""
    stage, folder = night(tiny), tmp_path_factory.mktemp("night")
    return stage, sightings(tiny, stage, folder), folder


def output(stage):
    """What each lamp gives out. [lm]"""
    return [lamp.output * lamp.level for lamp in stage.lamps]


def lift_in_glass(stage):
    """log2 of (what is mirrored + what comes through) over what comes through. [stops]"""
    cosine = IMAGE[1] / np.linalg.norm(IMAGE)
    through, back = window(cosine, 1.52)
    key = stage.lamps[0].output * stage.lamps[0].level / (np.pi * WIDE * HIGH)
    behind = through * stage.lamps[1].output / (np.pi * 40 * 40)
    return float(np.log2((back * key + behind) / behind))


def test_a_lamp_behind_the_camera_is_found_in_the_window(by_night):
    """Its place and share are those of its mirror image; how it stands out follows Fresnel."""
    stage, (found,), _ = by_night
    seen = found.sighting
    assert (seen.name, seen.role, seen.within, seen.by) == ("key", "lamp", "window", GLASS)
    assert (seen.where, seen.on_purpose, seen.side) == (IN_FRAME, False, "right")
    # The grid has 480 pixels across with four lines each: an edge is a quarter of a pixel off.
    assert seen.share == pytest.approx(SHARE, rel=0.03)
    left, right = (0.5 + (IMAGE[0] + sign * WIDE / 2) / 9 / TAN[0] / 2 for sign in (-1, 1))
    top, bottom = (0.5 - (IMAGE[2] + sign * HIGH / 2) / 9 / TAN[1] / 2 for sign in (1, -1))
    assert seen.box == pytest.approx((left, top, right, bottom), abs=1.5 / 320)
    # Both are even faces of light, met by every line of sight: single precision and Fresnel's
    # change over the image are all there is.
    assert seen.lift == pytest.approx(lift_in_glass(stage), rel=0.01)


@pytest.mark.parametrize("closed", [False, True], ids=["one face", "both faces"])
def test_a_lamp_is_found_in_the_glass_of_a_mesh(tiny, tmp_path, by_night, closed):
    """As in a room's window: by name, place, share and Fresnel's lift."""
    body = (shapes.box(GLASS_AT * Y - [2, 0, 2], GLASS_AT * Y + [2, 0.006, 2]) if closed
            else shapes.rectangle(GLASS_AT * Y, 2 * X, 2 * Z))
    ones = np.ones(81)
    made = Surface("glass", 0 * ones, 0 * ones, 0.0426 * ones, 1.0, 0.0,
                   glass=Glass(1.52, 0 * ones, 0.006, closed))
    stage = night(tiny, Mesh("windscreen", "glass", *body), glass=False,
                  surfaces=(tiny.surface("black", 0.0, f0=0.0), made))
    found, = sightings(tiny, stage, tmp_path)
    _, (window_found,), _ = by_night
    seen, usual = found.sighting, window_found.sighting
    assert (seen.name, seen.role, seen.within, seen.by) == ("key", "lamp", "windscreen", GLASS)
    assert (seen.where, seen.side) == (IN_FRAME, "right")
    assert seen.share == pytest.approx(usual.share, rel=1e-3)
    assert seen.box == pytest.approx(usual.box, abs=1 / 320)
    assert seen.lift == pytest.approx(lift_in_glass(stage), abs=0.01)


def test_the_rendered_picture_shows_it_at_the_same_place(tiny, by_night):
    """Second method: the pixels that the engine renders brighter are those of the mask."""
    stage, (found,), _ = by_night
    rows, columns = found.mask.shape
    frames = tiny.picture(stage, tiny.camera(0 * X, Y, tan_half=TAN), columns // 4, rows // 4, 64,
                          passes=2, bands=4)
    level = np.tensordot(output(stage), tiny.luminance(frames), 1)
    share = found.mask.reshape(rows // 4, 4, columns // 4, 4).mean(axis=(1, 3))
    inside, outside = level[share == 1].mean(), level[share == 0].mean()
    # A pane mirrors by chance, about 8 paths of 100: 20 x 64 paths of a lamp this bright.
    assert np.log2(inside / outside) == pytest.approx(lift_in_glass(stage), rel=0.1)


def test_a_dimmed_lamp_fades_without_a_new_view(tiny, by_night, monkeypatch):
    """Levels cost nothing: a lamp at a 200th is too faint to notice, by the same lines."""
    stage, _, folder = by_night

    def closed(*_):
        raise AssertionError("the stage was put on the device again")

    monkeypatch.setattr(jobs, "open_stage", closed)
    low = replace(stage, lamps=(replace(stage.lamps[0], level=0.005), stage.lamps[1]))
    found, = sightings(tiny, low, folder)
    assert found.sighting.where == FAINT
    assert found.sighting.lift == pytest.approx(lift_in_glass(low), rel=0.05)
    kept = replace(stage, rig=(Rig("key", "panel", LAMP, None, True),))
    assert sightings(tiny, kept, folder)[0].sighting.on_purpose


def test_a_flag_before_the_lamp_hides_its_reflection(tiny, tmp_path):
    """On the way from glass to lamp stands a black flag: it is what is mirrored, and is faint."""
    # From the glass at (0.533, 4, 0.222) to the lamp: at y = 0.5 the line is at (1.0, 0.5, 0.417).
    flag = replace(tiny.patch(0.6, 0.6, (1.0, 0.5, 0.417), Y, "black", "flag"), role="flag")
    found = sightings(tiny, night(tiny, flag), tmp_path)
    assert [(s.sighting.name, s.sighting.where) for s in found] == [("flag", FAINT)]


def test_a_net_before_the_glass(tiny, tmp_path):
    """A net in the line of sight is seen itself, mirrors nothing, and dims the glass behind it as
    much as what is mirrored in it: the reflection stands out as before.
    """
    stage = night(tiny, replace(tiny.patch(0.02, 1.0, (0.5, 2, 0), Y, "black", "net"), role="flag"))
    net = Pane("net", np.array([0.25, 2, 0]), 0.25 * X, 0.5 * Z, 1.0, 1, 0.5 * np.ones(81))
    found = sightings(tiny, replace(stage, panes=(*stage.panes, net)), tmp_path)
    seen = {(s.sighting.name, s.sighting.within): s.sighting for s in found}
    assert set(seen) - {("net", "window")} == {("net", ""), ("key", "window")}
    # 0.5 x 1 m at 2 m, of a frame of 1.2 x 0.8 m there, and the half of a rod next to it.
    assert seen["net", ""].share == pytest.approx((0.5 + 0.01) * 0.8 / (1.2 * 0.8), rel=0.02)
    assert seen["key", "window"].lift == pytest.approx(lift_in_glass(stage), rel=0.02)


def test_a_lamps_face_from_behind(tiny, tmp_path):
    """The black back of a bright face in the line of sight is the lamp, and mirrors nothing."""
    stage = night(tiny, glass=False)
    turned = replace(tiny.rectangle_lamp(0.3, 0.2, 2 * Y, Y), name="key")
    stage = replace(stage, emitters=(turned, stage.emitters[1]))
    seen = [each.sighting for each in sightings(tiny, stage, tmp_path)]
    assert [(s.name, s.within) for s in seen] == [("key", "")]
    # 0.3 x 0.2 m at 2 m, of a frame of 1.2 x 0.8 m there.
    assert seen[0].share == pytest.approx(0.0625, rel=0.03)


def test_no_glass_no_reflection(tiny, tmp_path):
    """Without the pane nothing is found: what is reported is the pane's doing."""
    assert sightings(tiny, night(tiny, glass=False), tmp_path) == []


def test_a_mirror_shows_dark_things_and_the_camera_itself(tiny, tmp_path):
    """A looking glass shows the lamp even when it is dark, and whoever stands before it."""
    silver = tiny.surface("silver", 0.0, f0=0.88, gloss=1.0, roughness=0.0)
    mirror = tiny.patch(4, 4, GLASS_AT * Y, -Y, "silver", "looking glass")
    black = tiny.surface("black", 0.0, f0=0.0)
    stage = night(tiny, mirror, glass=False, surfaces=(silver, black))
    stage = replace(stage, lamps=(replace(stage.lamps[0], on=False), stage.lamps[1]))
    camera = tiny.camera(0 * X, Y, tan_half=TAN)
    bodies = (CameraBody("camera A", "A", camera.position, camera.world_from_camera),)
    found = {s.sighting.name: s.sighting for s in sightings(tiny, stage, tmp_path, bodies)}
    assert set(found) == {"key", "camera A"}
    assert {s.by for s in found.values()} == {MIRROR}
    assert {s.where for s in found.values()} == {IN_FRAME}
    assert found["key"].share == pytest.approx(SHARE, rel=0.03)
    # The front of the body is 0.24 x 0.33 m, 0.08 m before the lens: its image is 7.92 m off.
    body = 0.24 / 7.92 / (2 * TAN[0]) * 0.33 / 7.92 / (2 * TAN[1])
    assert found["camera A"].share == pytest.approx(body, rel=0.05)


def test_a_smeared_reflection_adds_what_the_picture_shows(tiny, tmp_path):
    """In rough gloss the lift is that of the rendered picture over the same surface without it."""
    alike = {"reflectance": 0.1, "f0": 0.04, "roughness": 0.1}
    varnish = tiny.surface("varnish", gloss=0.3, **alike)
    board = tiny.patch(4, 4, GLASS_AT * Y, -Y, "varnish", "door")
    stage = night(tiny, board, glass=False, surfaces=(varnish,))
    found, = sightings(tiny, stage, tmp_path)
    assert (found.sighting.by, found.sighting.within) == (GLOSS, "door")
    rows, columns = found.mask.shape
    level = []
    for gloss in (0.3, 0.0):
        surface = tiny.surface("varnish", gloss=gloss, **alike)
        other = replace(stage, surfaces={"varnish": surface})
        frames = tiny.picture(other, tiny.camera(0 * X, Y, tan_half=TAN), columns // 8, rows // 8,
                              32, passes=2, bands=4)
        level.append(np.tensordot(output(stage), tiny.luminance(frames), 1))
    share = found.mask.reshape(rows // 8, 8, columns // 8, 8).mean(axis=(1, 3))
    bright = share > 0.5
    # No masking of facets by each other is counted, a little less is scattered under the gloss, and
    # the edge of the region is coarse: a third of a stop.
    assert found.sighting.lift == pytest.approx(np.log2(level[0][bright].mean()
                                                        / level[1][bright].mean()), abs=0.34)


def test_rods_are_met_where_they_stand():
    """A line square to a rod meets it at its distance; past its end or next to it, it does not."""
    ends = (np.array([0.0, 2, 0]), np.array([0.0, 2, 1]))
    starts = np.zeros((4, 3)) + [0, 0, 0.5]
    directions = np.array([[0, 1, 0], [0.006, 1, 0], [0.02, 1, 0], [0, -1, 0]], float)
    directions /= np.linalg.norm(directions, axis=1, keepdims=True)
    expected = [2.0, np.hypot(2, 0.012), np.inf, np.inf]
    for origins in (starts, starts[0]):
        assert rod_reach(origins, directions, *ends, 0.0175) == pytest.approx(expected, rel=1e-4)
    over = rod_reach(np.array([0.0, 0, 1.2]), np.array([[0.0, 1, 0]]), *ends, 0.0175)
    assert np.isinf(over).all()


def test_a_stand_is_seen_itself(tiny, tmp_path):
    """A pole 2 m off takes its width over the frame's: 35 mm of 1.2 m, and all its height."""
    stand = Stand("stand of key", np.array([0.3, 2.0, 2.0]), np.array([0.3, 2.0, -2.0]))
    seen = sightings(tiny, night(tiny), tmp_path, (stand,))[0].sighting
    assert (seen.role, seen.within, seen.where, seen.side) == ("stand", "", IN_FRAME, "right")
    # A grid line is 1.25 mm wide there.
    assert seen.share == pytest.approx(0.035 / 1.2, rel=0.08)
