"""Work that is recorded and repeated does what it does when it is traced anew."""

from dataclasses import replace

import numpy as np
import pytest

from previz.engine import frozen
from previz.engine.jit import dr
from previz.engine.kernel import Transport
from previz.engine.render import open_stage
from previz.engine.starts import CameraStart

pytestmark = pytest.mark.engine


@pytest.fixture
def scene(tiny):
    """A box with a ball of light and a panel, and a camera."""
    stage = tiny.stage(
        tiny.closed_box((0, 0, 0), (3, 2.4, 2)), surfaces=[tiny.surface(gloss=0.5)],
        emitters=[tiny.ball_lamp(0.05, (0.8, 0.7, 1.0), index=0, subdivisions=1),
                  tiny.rectangle_lamp(0.6, 0.4, (2.4, 1, 1.9), index=1)])
    return stage, tiny.camera((2.8, 0.2, 1.2), (0.6, 1.6, 0.8), tan_half=(0.6, 0.45))


def traced(buffers, camera, size=(16, 9), samples=4, seed=3):
    """Return the sums of a small picture."""
    start = CameraStart(camera, *size)
    return np.array(Transport(buffers, start).run(0, size[0] * size[1], samples, seed))


@pytest.fixture
def count(monkeypatch):
    """Count how often the transport is traced."""
    frozen.forget()
    calls, run = [], Transport._run

    def counted(*words):
        calls.append(1)
        return run(*words)

    monkeypatch.setattr(Transport, "_run", counted)
    yield calls
    frozen.forget()


def moved(stage):
    """Return a stage whose first mesh lies elsewhere."""
    first, *rest = stage.meshes
    lower = replace(first, vertices=np.asarray(first.vertices) - [0.0, 0.0, 0.05])
    return replace(stage, meshes=(lower, *rest))


def test_another_stage_of_the_same_kind_is_not_traced_again(scene, count):
    """Its tables, triangles, camera and seed are its own; the numbers are those of a fresh trace."""
    stage, camera = scene
    other = moved(stage)
    opened = [open_stage(each, 3) for each in (stage, other)]
    turned = replace(camera, position=np.asarray(camera.position) + [0.1, 0.0, 0.0])
    # Triangles of a second stage change what the library finds in the first, once.
    for buffers in opened:
        traced(buffers, camera)
    cases = [(opened[0], camera, 3), (opened[1], camera, 3), (opened[0], turned, 3), (opened[1], camera, 4)]
    count.clear()
    repeated = [traced(buffers, seen, seed=seed) for buffers, seen, seed in cases]
    assert not count
    for (buffers, seen, seed), found in zip(cases, repeated, strict=True):
        frozen.forget()
        np.testing.assert_array_equal(traced(buffers, seen, seed=seed), found)
    assert len(count) == 4
    assert not np.array_equal(repeated[0], repeated[1])


def test_what_is_compiled_in_is_traced_anew(scene, count):
    """Other bands, another number of threads, paths that differ from pixel to pixel."""
    stage, camera = scene
    buffers = open_stage(stage, 3)
    traced(buffers, camera)
    for words in ({"size": (8, 9)}, {"samples": np.arange(144) % 3 + 1}):
        before = len(count)
        traced(buffers, camera, **words)
        assert len(count) == before + 1
    traced(open_stage(stage, 4), camera)
    assert len(count) == 4
    traced(buffers, camera, samples=7, seed=11)
    assert len(count) == 4


def test_a_recording_keeps_no_stage(scene):
    """What a stage took on the device is free when nobody holds it."""
    import gc
    import weakref

    stage, camera = scene
    buffers = open_stage(stage, 3)
    traced(buffers, camera)
    held = weakref.ref(buffers)
    del buffers
    gc.collect()
    dr.sync_thread()
    assert held() is None
