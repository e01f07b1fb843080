"""Jobs of one stage: what they share on the device, and how their pictures count as progress."""

from dataclasses import replace

import pytest

from previz.engine.render import Sampling
from previz.rendering import job as jobs
from previz.rendering.job import StageJob
from previz.rendering.progress import Progress
from previz.rendering.request import Order
from previz.scene.read import load
from previz.stage.build import build_stage

SCENE = """
previz: 1
title: store
room: {size: [4 m, 3 m, 2.4 m]}
lights:
  - {name: bulb, kind: bulb, at: [2 m, 1.5 m, 2.2 m], output: 400 lm}
cameras:
  - {name: A, at: [0.3 m, 0.3 m, 1.5 m], aim: [2 m, 2 m, 1 m], lens: 25 mm, stop: T2, iso: 800}
"""


@pytest.fixture
def opened(monkeypatch):
    """The stages that were put on the device; the engine itself plays no part."""
    found = []
    monkeypatch.setattr(jobs, "open_stage", lambda *stage: found.append(stage) or object())
    return found


@pytest.fixture
def job(tmp_path):
    (tmp_path / "store.yaml").write_text(SCENE, encoding="utf-8")
    order = Order(32, 18, Sampling(8, 4, 1), 8, "auto", tmp_path / "frames")
    return StageJob(build_stage(load(tmp_path / "store.yaml").scene()), order)


def test_another_picture_of_a_stage_shares_its_copy_on_the_device(job, opened):
    """Whichever job needs it first opens it, once; other bands are another copy."""
    small = job.like(replace(job.order, width=16, height=9))
    assert small.buffers is job.buffers and len(opened) == 1
    assert small.lamp_cache is not job.lamp_cache
    camera, = job.stage.cameras
    assert small.frame_folder(camera) != job.frame_folder(camera)
    assert job.like(replace(job.order, bands=12)).buffers is not job.buffers
    assert len(opened) == 2


def test_orders_of_a_stage_share_its_fingerprints(job):
    """Large meshes are fingerprinted once, whatever sizes are rendered."""
    small = job.like(replace(job.order, width=16, height=9))
    assert small.lamp_cache.parts is job.lamp_cache.parts
    assert StageJob(job.stage, job.order).lamp_cache.parts == job.lamp_cache.parts


def test_a_job_that_is_closed_leaves_the_others_their_copy(job, opened):
    """What two jobs share stays on the device until both have let go."""
    other = job.like(job.order)
    shared = job.buffers
    job.close()
    assert other.buffers is shared and job.buffers is not shared
    job.share(other)
    assert job.buffers is shared


def test_a_picture_is_one_unit_of_progress(job, monkeypatch):
    """Passes that are found done say nothing of the pace; each that is rendered counts a share."""
    reports = []
    progress = Progress(lambda share, label, left: reports.append((share, label))).start(2.0)

    def render(camera, on_pass):
        for done, found in ((1.0, 1.0), (2.0, 1.0), (4.0, 1.0)):
            on_pass(done, found)
        return "rendered"

    monkeypatch.setattr(job, "cached", lambda camera: None)
    monkeypatch.setattr(job, "render", render)
    assert job.frames(job.stage.cameras[0], progress, "camera A") == "rendered"
    # 1 of 4 passes, 2 and 4 of the first of two pictures.
    assert reports == [(0.125, "camera A"), (0.25, "camera A"), (0.5, "camera A")]
    assert (progress.skipped, progress.done) == (0.25, 1.0)
    monkeypatch.setattr(job, "cached", lambda camera: "cached")
    assert job.frames(job.stage.cameras[0], progress, "camera A") == "cached"
    assert (progress.skipped, progress.done) == (1.25, 2.0)
