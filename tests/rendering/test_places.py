"""What lies in another's place of the cache is as if it were not there. What an engine leaves is invented."""

import shutil

import numpy as np
import pytest
from furnished import furnished_desk

from previz.frames.gathered import Gathered
from previz.frames.whole import FramesError, read_sealed, write_sealed
from previz.page.desk import Picture
from previz.rendering.cache import plan

SIZE = (32, 18)


@pytest.fixture(scope="module")
def cached(tmp_path_factory):
    """A job and its camera, with every lamp's light and the planes in the cache."""
    desk = furnished_desk(tmp_path_factory.mktemp("places"), size=(SIZE[0], None))
    job, camera = desk.job(Picture("early", "A", 2.8, "working"))
    random, grid = np.random.default_rng(3), SIZE[::-1]
    for lamp in job.stage.lamps:
        slices = random.random((job.order.bands, *grid), np.float32)
        gathered = Gathered(slices, random.random(grid, np.float32), 4.0, 4, 4, 0.25, 0.25)
        job.lamp_cache.put(lamp.name, camera, gathered, job.order.sampling.samples)
    job.lamp_cache.put_planes(camera, ("table", "north wall"), {
        "albedo": random.random((3, *grid)), "normal": random.random((3, *grid)),
        "depth": random.random(grid), "names_index": np.zeros(grid)})
    # From here on it is put together of these.
    shutil.rmtree(job.frame_folder(camera))
    return job, camera


def exchanged(one, other):
    """Give two files or folders each other's names."""
    for source, target in ((one, one.with_name("aside")), (other, one), (one.with_name("aside"), other)):
        source.rename(target)


def test_lamps_whose_folders_were_exchanged_are_not_there(cached):
    """The light of one lamp is never served as another's."""
    job, camera = cached
    cache, places = job.lamp_cache, [job.lamp_cache.lamp_folder(name, camera) for name in ("counter", "key")]
    exchanged(*places)
    assert cache.find("counter", camera) is None and cache.find("key", camera) is None
    assert cache.find("rim", camera) is not None
    exchanged(*places)
    assert cache.find("counter", camera) is not None and cache.find("key", camera) is not None


def test_a_picture_in_anothers_place_is_put_together_anew(cached):
    """A camera is never given the picture of another one."""
    job, camera = cached
    right = job.cached(camera)
    other = job.stage.cameras[1]
    shutil.rmtree(job.frame_folder(camera))
    shutil.copytree(job.frame_folder(other), job.frame_folder(camera))
    again = job.cached(camera)
    assert again.transport_hash == right.transport_hash
    assert np.array_equal(again.slices[0], right.slices[0])


def test_planes_of_another_camera_are_not_there(cached):
    """What one camera sees is never served as what another does."""
    job, camera = cached
    folder = next((job.order.cache / "planes").iterdir())
    kept = folder.with_name("kept")
    folder.rename(kept)
    other = job.stage.cameras[1]
    job.lamp_cache.put_planes(other, ("table",), {label: np.ones_like(values) for label, values
                                                  in _planes(kept, job).items()})
    theirs, = (each for each in kept.parent.iterdir() if each != kept)
    shutil.copytree(theirs, folder)
    assert job.lamp_cache.planes(camera) is None
    shutil.rmtree(folder)
    kept.rename(folder)
    assert job.lamp_cache.planes(camera) is not None


def _planes(folder, job):
    labels = {each.name.partition(".")[0] for each in folder.glob("*.npy")}
    return {label: np.load(next(folder.glob(f"{label}.*.npy"))) for label in labels}


def test_a_verdict_of_something_else_is_measured_anew(cached, monkeypatch):
    """A meter's verdict in the place of a picture's is none; the picture's is measured again, and kept."""
    job, camera = cached
    found = {"seen": [], "moved": ["key"], "lamps": {"rim": [0.1, 0.2]}}
    monkeypatch.setattr(plan, "_measured", lambda *_: found)
    bodies = job.lamp_cache.all_bodies
    assert plan._verdict(job.lamp_cache, camera, bodies, ["rim"], True) == found
    path, = (job.order.cache / "verdicts").iterdir()
    for head in ({"change": [[0.0]]}, found):
        write_sealed(path, {"previz_verdict": 1, **head}, "another")
        assert plan._verdict(job.lamp_cache, camera, bodies, ["rim"], False) is None
    write_sealed(path, {"previz_verdict": 1, "change": [[0.0]]})
    assert plan._verdict(job.lamp_cache, camera, bodies, ["rim"], True) == found
    assert read_sealed(path, "previz_verdict", path.stem)["moved"] == ["key"]
    with pytest.raises(FramesError, match="another's place"):
        read_sealed(path, "previz_verdict", "another")
