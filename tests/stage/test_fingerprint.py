"""The same scene has the same fingerprint wherever it is worked out, and every change another."""

import dataclasses
import subprocess
import sys
import threading

import numpy as np
import pytest

from previz.physics.beam import AngularTable
from previz.stage.fingerprint import digest_of, frame_hash, light_path_hash
from previz.stage.records import Camera, Emitter, Mesh

CORNERS = np.array([[0, 0, 0], [1.25, 0, 0], [0, 0.7, 3.1]])


def camera(**more):
    usual = {"name": "A", "world_from_camera": np.eye(3), "position": np.array([1.0, 2, 1.4]),
             "tan_half": (np.float64(0.25), 0.14), "aspect": 16 / 9, "lens_radius": np.float64(0.006),
             "focus": 2.5, "stop": 2.8, "iso": 800.0, "shutter_s": 1 / 48, "nd_density": 0.0,
             "white_balance": 4300.0, "tint": 0.0, "focal": 0.035, "sensor": (0.0249, 0.014)}
    return Camera(**{**usual, **more})


def in_a_thread(work):
    """Return what a function returns in a thread of its own."""
    found = []
    thread = threading.Thread(target=lambda: found.append(work()))
    thread.start()
    thread.join()
    return found[0]


def test_how_numbers_are_printed_does_not_count():
    """Print options of numpy, which each thread has of its own, change no fingerprint."""
    def reported():
        return frame_hash("paths", camera(), np.float64(0.1), 960, 540)

    plain = reported()
    with np.printoptions(legacy="1.13", precision=3):
        # Without this the test would not test anything.
        assert repr(np.float64(0.1)) != in_a_thread(lambda: repr(np.float64(0.1)))
        assert reported() == plain == in_a_thread(reported)


def test_another_process_finds_the_same():
    """A fingerprint is that of the values: no process adds anything of its own, as `hash` does."""
    script = ("import numpy as np; from previz.stage.fingerprint import digest_of; "
              "print(digest_of('key', {'a': 0.1, 'b': [1, None, True]}, np.linspace(0, 1, 7)))")
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == digest_of("key", {"a": 0.1, "b": [1, None, True]},
                                            np.linspace(0, 1, 7))


@pytest.mark.parametrize("value", [0.1, 1.25, 3.1, 1e4 / 3, 0.6])
def test_last_bits_do_not_count(value):
    """A value that another machine rounds to its neighbour is the same, alone and in an array."""
    for towards in (-np.inf, np.inf):
        near = np.nextafter(value, towards)
        assert near != value
        assert digest_of(near) == digest_of(value)
        assert digest_of(np.array([near, 1])) == digest_of(np.array([value, 1]))


def test_no_zero_is_reported_from_another():
    """Minus zero, and the dust that is left of a cosine of 90°, are zero in an array."""
    zero = digest_of(np.array([0.0, 1.0]))
    assert digest_of(np.array([-0.0, 1.0])) == zero
    assert digest_of(np.array([np.cos(np.pi / 2), 1.0])) == zero
    assert digest_of(np.array([5e-324, 1.0])) == zero  # What flushing to zero would make 0.
    assert digest_of(-0.0) == digest_of(0.0)


def test_kinds_of_number_are_alike():
    """3, 3.0 and numpy's numbers are one value; true is not 1."""
    assert digest_of(3) == digest_of(3.0) == digest_of(np.float64(3)) == digest_of(np.int32(3))
    assert digest_of(np.array(3.0)) == digest_of(3)
    assert digest_of(True) != digest_of(1)
    assert digest_of(np.float32([1, 2])) == digest_of(np.array([1.0, 2.0]))


@pytest.mark.parametrize(("one", "other"), [
    (["ab", "c"], ["a", "bc"]), ([[1, 2], 3], [1, [2, 3]]), ({"a": 1}, {"a": 2}), (None, "none"),
    (np.zeros((2, 3)), np.zeros((3, 2))), (np.inf, 1e300), (1.0, 1.0 + 1e-10),
    (np.array([1.0]), np.array([1.0 + 1e-6])), (np.array([0.0]), np.array([1e-6])),
    (np.array([np.inf]), np.array([0.0])),
])
def test_what_differs_is_reported_separately(one, other):
    """Neither the borders of values nor a micrometre get lost."""
    assert digest_of(one) != digest_of(other)


def test_an_unknown_kind_is_refused():
    """What has no fingerprint of its own is an error, not a text that may change."""
    with pytest.raises(TypeError, match="object has no fingerprint"):
        digest_of(object())


def test_a_moved_corner_and_another_beam_count(tiny_stage):
    """Geometry to the micrometre, tables and surfaces count; levels do not."""
    base = light_path_hash(tiny_stage)
    moved = dataclasses.replace(tiny_stage.meshes[0], vertices=CORNERS + [0, 0, 1e-5])
    assert light_path_hash(dataclasses.replace(tiny_stage, meshes=(moved,))) != base
    table = AngularTable(np.array([0.0, 20, 30]), np.array([0.0]), np.array([[1.0], [0.5], [0.0]]))
    aimed = dataclasses.replace(tiny_stage.emitters[0], table=table)
    assert light_path_hash(dataclasses.replace(tiny_stage, emitters=(aimed,))) != base
    dimmed = tuple(dataclasses.replace(lamp, level=0.3) for lamp in tiny_stage.lamps)
    assert light_path_hash(dataclasses.replace(tiny_stage, lamps=dimmed)) == base


@pytest.fixture
def tiny_stage():
    from previz.physics.light import LampLight
    from previz.stage.records import Stage, Surface

    flat = np.full(81, 0.5)
    faces = np.array([[0, 1, 2]])
    return Stage("tiny", {"grey": Surface("grey", flat, 0 * flat, 0 * flat)},
                 (Mesh("wall", "grey", CORNERS, faces),),
                 (LampLight("key", "lm", 100.0, flat, flat, 1.0, True),),
                 (Emitter(0, "key", CORNERS, faces),))


def test_exposure_costs_nothing_and_the_pupil_something():
    """ISO, shutter and balance are not of the paths of the light; the pupil is."""
    base = frame_hash("paths", camera())
    assert frame_hash("paths", camera(iso=1600.0, white_balance=3200.0, shutter_s=0.01)) == base
    assert frame_hash("paths", camera(lens_radius=0.003)) != base
    assert frame_hash("paths", camera(position=np.array([1.0, 2, 1.41]))) != base


def test_what_is_unset_has_no_part_in_a_cameras_fingerprint():
    """Pictures of cameras without latitude and look keep the state that they had before there were any."""
    later = ("over", "under", "show", "iris", "optics")
    before = [each for each in dataclasses.fields(Camera) if each.name not in later]
    former = dataclasses.make_dataclass("Camera", [each.name for each in before])
    now = camera()
    assert digest_of(former(*(getattr(now, each.name) for each in before))) == digest_of(now)
    held = (now, camera(over=6.0), camera(under=6.0), camera(over=6.0, under=6.0))
    assert len({digest_of(each) for each in held}) == 4
