"""Nothing is rendered twice: lamp by lamp, and never where it would be wrong."""

import dataclasses
import os
import shutil
import subprocess
import sys
import threading
from pathlib import Path

import numpy as np
import pytest

from previz.engine import backend
from previz.engine.influence import _in_view, _rays_meet, _tiles
from previz.engine.render import CameraJob, Sampling, luminance_weights
from previz.frames.lamp_files import LAMP_NAME
from previz.frames.lock import only_writer
from previz.frames.store import META_NAME
from previz.rendering.cache import why
from previz.rendering.cache.picture import planes_of
from previz.rendering.cache.plan import TILE, WHOLE
from previz.rendering.cache.store import mark_used
from previz.rendering.job import StageJob
from previz.rendering.request import Order
from previz.scene.read import load
from previz.stage.build import build_stage

pytestmark = pytest.mark.engine

SCENE = """\
previz: 1
title: The engine shed's office
room: {size: [4 m, 4 m, 2.6 m], surfaces: {walls: {reflectance: 0.5}}}
pieces:
  - {name: stand, shape: box, at: [2 m, 2.6 m], size: [0.4 m, 0.4 m, 1.1 m], surface: grey card}
lights:
  - {name: key, kind: fresnel, at: [0.4 m, 0.4 m, 2.4 m], aim: stand.top, output: 3000 lm}
  - {name: fill, kind: panel, at: [3.6 m, 0.4 m, 1.8 m], aim: stand.top, size: [0.5 m, 0.5 m],
     output: 2000 lm}
  - {name: bulb, kind: bulb, at: [2 m, 0.5 m, 2.2 m], output: 400 lm}
cameras:
  - {name: A, at: [2 m, 0.6 m, 1.3 m], aim: stand.top, lens: 25 mm, stop: T2.8, iso: 800}
  - {name: B, at: [0.6 m, 1 m, 1.3 m], aim: stand.top, lens: 35 mm, stop: T2.8, iso: 800}
"""
SIZE, SAMPLES, PASSES = (32, 18), 16, 4


class Office:
    """The scene in a folder, with changes to it, and a count of what is rendered."""

    def __init__(self, folder, monkeypatch):
        self.folder, self.paths = folder, 0
        step = CameraJob.step

        def counted(job, samples=None, counts=None):
            self.paths += (job.each if samples is None else samples) * job.width * job.rows
            return step(job, samples, counts)

        monkeypatch.setattr(CameraJob, "step", counted)

    def job(self, *changes, samples=SAMPLES, size=SIZE, seed=1, exact=False):
        text = SCENE
        for old, new in changes:
            assert old in text
            text = text.replace(old, new)
        path = self.folder / "office.yaml"
        # Another process that reads it meanwhile must not find it empty.
        if not path.is_file() or path.read_text(encoding="utf-8") != text:
            path.write_text(text, encoding="utf-8")
        stage = build_stage(load(path).scene(None))
        return StageJob(stage, Order(*size, Sampling(samples, PASSES, seed), 8, "processor",
                                     self.folder / "frames", exact))

    def camera(self, job, name="A"):
        return next(c for c in job.stage.cameras if c.name == name)

    def states(self, *changes, camera="A", **more):
        job = self.job(*changes, **more)
        return {s.lamp: (s.status, s.why) for s in job.plan(self.camera(job, camera), explain=True)}

    def render(self, *changes, camera="A", **more):
        job = self.job(*changes, **more)
        self.paths = 0
        camera = self.camera(job, camera)
        return job.cached(camera) or job.render(camera, lambda *_: None)


def copied(source: Path, target: Path) -> None:
    """Copy a folder; files in it that have two names have two again."""
    names: dict[int, str] = {}

    def copy(one: str, two: str) -> None:
        number = os.stat(one).st_ino
        if number in names:
            os.link(names[number], two)
        else:
            names[number] = two
            shutil.copy2(one, two)

    shutil.copytree(source, target, copy_function=copy)


@pytest.fixture(scope="module")
def rendered(tmp_path_factory):
    """A folder in which camera A has been rendered once, and the paths that it took."""
    backend.start()
    folder = tmp_path_factory.mktemp("rendered")
    with pytest.MonkeyPatch.context() as patched:
        office = Office(folder, patched)
        office.render()
    return folder, office.paths


@pytest.fixture
def empty(tmp_path, monkeypatch):
    """The office without a cache."""
    backend.start()
    return Office(tmp_path, monkeypatch)


@pytest.fixture
def office(rendered, empty):
    """The office with a copy of what camera A's first render has left behind."""
    copied(rendered[0] / "frames", empty.folder / "frames")
    return empty


WHOLE_RENDER = SAMPLES * SIZE[0] * SIZE[1]
BEHIND_CAMERA = ("at: [0.4 m, 0.4 m, 2.4 m]", "at: [0.44 m, 0.37 m, 2.4 m]")


def status(states):
    return {lamp: state for lamp, (state, _) in states.items()}


def test_levels_colours_and_exposure_cost_nothing(office):
    """Dimmer, gel, colour, stop's exposure, ISO and balance: not one path, and no engine."""
    office.render()
    for change in (("output: 3000 lm", "output: 1000 lm, dimmer: 40 %, gel: half ctb"),
                   ("output: 400 lm", "output: 500 lm, cct: 2500 K"),
                   ("iso: 800}\n  - {name: B", "iso: 1600, white_balance: 3000 K}\n  - {name: B")):
        assert set(status(office.states(change)).values()) == {"cached"}
        job = office.job(change)
        assert job.cached(office.camera(job)) is not None


def test_a_moved_lamp_costs_one_lamp(office, rendered):
    """A lamp behind the camera is moved: the others are used again, and it gets its share of paths."""
    assert rendered[1] == WHOLE_RENDER
    first = office.render()
    states = office.states(BEHIND_CAMERA)
    assert status(states) == {"key": "missing", "fill": "reused", "bulb": "reused"}
    assert "it was moved or turned" in states["key"][1]
    assert "the body of 'key', which stood otherwise, changes its light by" in states["fill"][1]
    moved = office.render(BEHIND_CAMERA)
    # Half of the paths: half as much again as its third, as few paths also bring less bounced light; or
    # its share of the light samples, if that is more.
    assert np.ceil(SAMPLES / 2) <= office.paths / (SIZE[0] * SIZE[1]) < SAMPLES
    for lamp in ("fill", "bulb"):
        number = first.lights.index(lamp)
        assert np.array_equal(first.slices[number], moved.slices[number])
    assert not np.array_equal(first.slices[0], moved.slices[0])
    office.render(BEHIND_CAMERA)
    assert office.paths == 0


def test_what_is_put_together_is_what_would_be_rendered(empty):
    """With one lamp moved and two used again, every lamp agrees with a render of all anew."""
    empty.render(samples=64)
    mixed = empty.render(BEHIND_CAMERA, samples=64)
    anew = empty.render(BEHIND_CAMERA, samples=64, seed=7, exact=True)
    weights = luminance_weights(8)
    for lamp in range(3):
        one, two = (np.einsum("brc,b->rc", np.asarray(f.slices[lamp], float), weights)
                    for f in (mixed, anew))
        error = np.sqrt(mixed.variance[lamp].sum() + anew.variance[lamp].sum()) / one.size
        # Means over the picture; what bodies may change is allowed on top of four standard errors.
        assert abs(one.mean() - two.mean()) < 4 * error + WHOLE * two.mean()


def test_a_lamp_in_the_picture_changes_all(office):
    """Where the camera sees the body, or it shades the set, nothing is used and it is said why."""
    office.render()
    into = ("at: [2 m, 0.5 m, 2.2 m]", "at: [2.3 m, 2.4 m, 1.5 m]")
    states = office.states(into)
    assert set(status(states).values()) == {"missing"}
    assert "the camera sees 'bulb'" in states["key"][1]
    # Right before the fill light, behind the camera: unseen, but in its way.
    before = ("at: [0.4 m, 0.4 m, 2.4 m]", "at: [3.42 m, 0.58 m, 1.72 m]")
    states = office.states(before)
    assert status(states)["fill"] == "missing"
    assert "changes its light by" in states["fill"][1]
    share = float(states["fill"][1].split("up to ")[1].split("%")[0]) / 100
    assert share > TILE


def test_exact_uses_nothing_run_with_other_bodies(office):
    """On request to be exact, a moved lamp costs all lamps, and the reason names it."""
    office.render()
    states = office.states(BEHIND_CAMERA, exact=True)
    assert set(status(states).values()) == {"missing"}
    assert "other lamps stand otherwise: 'key'" in states["fill"][1]
    # Nor is it put together of what was reused, where that is all there.
    office.render(BEHIND_CAMERA)
    for path in (office.folder / "frames").glob("*/meta.json"):
        path.unlink()
    reused, exact = office.job(BEHIND_CAMERA), office.job(BEHIND_CAMERA, exact=True)
    assert exact.cached(office.camera(exact)) is None
    assert reused.cached(office.camera(reused)) is not None


def test_a_turned_beam_leaves_the_others(office):
    """A wider beam from the same body changes nothing but its own lamp, to the last bit."""
    office.render()
    states = office.states(("output: 2000 lm}", "output: 2000 lm, beam: 60 deg}"))
    assert status(states) == {"key": "cached", "fill": "missing", "bulb": "cached"}


def test_each_camera_for_itself(office):
    """Moving one camera costs that camera; the other finds all it had."""
    office.render(camera="A")
    office.render(camera="B")
    moved = ("at: [0.6 m, 1 m, 1.3 m]", "at: [0.7 m, 1 m, 1.3 m]")
    assert set(status(office.states(moved, camera="A")).values()) == {"cached"}
    states = office.states(moved, camera="B")
    assert set(status(states).values()) == {"missing"}
    assert "camera B was moved" in states["key"][1]


def test_it_is_said_what_has_changed(office):
    """The set by the names of its things, size, seed; and that something is new."""
    office.render()
    wider = ("size: [0.4 m, 0.4 m, 1.1 m]", "size: [0.4 m, 0.5 m, 1.1 m]")
    assert "the set is another: 'stand' changed" in office.states(wider)["key"][1]
    assert "it was 32x18, not 48x27" in office.states(size=(48, 27))["key"][1]
    assert "another seed" in office.states(seed=3)["key"][1]
    assert "camera B has not rendered it yet" in office.states(camera="B")["key"][1]


def test_more_samples_are_added(office):
    """Four times the samples cost three times the paths more, and the noise falls by half."""
    few = office.render()
    assert status(office.states(samples=4 * SAMPLES)) == dict.fromkeys(few.lights, "partial")
    many = office.render(samples=4 * SAMPLES)
    assert office.paths == 3 * WHOLE_RENDER
    assert many.samples == 4 * SAMPLES
    # Both are estimated from some passes over 576 pixels and fireflies; a factor of 4 in between.
    ratio = np.median(few.variance[1]) / np.median(many.variance[1])
    assert 2 < ratio < 8
    # What is there serves who asks for less.
    again = office.render()
    assert office.paths == 0
    assert again.samples in (SAMPLES, 4 * SAMPLES)


@pytest.mark.parametrize("harm", ["cut", "swap", "note", "foreign"])
def test_a_harmed_file_is_found_out_and_rendered_again(office, harm):
    """A torn or foreign file is never used; what it held comes out the same again."""
    whole = office.render()
    kept = [np.array(each) for each in whole.slices]
    del whole
    folders = sorted((office.folder / "frames" / "lamps").glob("*/*/"))
    assert len(folders) == 3
    slices = next(folders[0].glob("slices.*.npy"))
    text = slices.read_bytes()
    if harm == "cut":
        new = text[:-100]
    else:
        new = text[:-4] + bytes(4)
    if harm in ("cut", "swap"):
        for path in (office.folder / "frames").rglob("*.npy"):
            if path.stat().st_ino == slices.stat().st_ino and path != slices:
                path.unlink()
        slices.unlink()
        slices.write_bytes(new)
    elif harm == "note":
        note = folders[0] / LAMP_NAME
        note.write_text(note.read_text().replace('"passes": 4', '"passes": 5'))
    else:
        (folders[0] / LAMP_NAME).write_text("{}")
    if harm in ("note", "foreign"):
        for path in (office.folder / "frames").glob("*/meta.json"):
            path.unlink()
    again = office.render()
    assert office.paths > 0
    for one, two in zip(kept, again.slices, strict=True):
        # One lamp alone is rendered with its own paths; the others are as they were.
        assert one.shape == two.shape
        assert two.mean() == pytest.approx(one.mean(), rel=0.2)
    assert sum(np.array_equal(one, two) for one, two in zip(kept, again.slices, strict=True)) >= 2


def test_shared_slices_take_their_place_once(office):
    """A picture's slices, and what its camera sees, are files of the cache under a second name."""
    office.render()
    files = [p.stat() for p in (office.folder / "frames").rglob("*.npy")]
    linked = [s for s in files if s.st_nlink > 1]
    # Slices of three lamps; albedo, normal, depth, names.
    assert len({s.st_ino for s in linked}) == 3 + 4
    assert len(linked) == 14


def test_what_is_seen_is_not_traced_again_where_it_is_the_same(office, monkeypatch):
    """A lamp behind the camera is moved: the planes of before serve, and are those that would be traced."""
    office.render()

    def fail(*_):
        raise AssertionError("planes are traced")

    with monkeypatch.context() as patched:
        patched.setattr("previz.rendering.cache.picture.camera_planes", fail)
        taken = office.render(BEHIND_CAMERA)
    traced = dataclasses.replace(office.job(BEHIND_CAMERA, exact=True).order, cache=office.folder / "traced")
    job = StageJob(office.job(BEHIND_CAMERA).stage, traced)
    names, planes = planes_of(job, office.camera(job))
    assert taken.names == names
    for label, plane in planes.items():
        assert np.array_equal(getattr(taken, label), plane)


def test_what_no_ray_is_sent_for_no_ray_would_meet(office):
    """Things are held to be out of the picture only where rays through all its pixels meet none of them."""
    job = office.job()
    camera, names = office.camera(job), {"key", "fill", "bulb", "stand"}
    random = np.random.default_rng(3)
    verdicts = set()
    for _ in range(40):
        axes, _ = np.linalg.qr(random.normal(size=(3, 3)))
        turned = dataclasses.replace(camera, world_from_camera=axes)
        for name in names:
            in_view = _in_view(job.buffers.geometry, turned, {name})
            seen = name in _rays_meet(job.buffers, turned, *SIZE)
            assert in_view or not seen
            verdicts.add((in_view, seen))
    assert {(True, True), (False, False)} <= verdicts


def test_a_picture_in_rows_is_the_same(office, monkeypatch):
    """A picture too large for the host is rendered rows by rows to the same bits, and can be left."""
    whole = [np.array(each) for each in office.render().slices]
    monkeypatch.setattr("previz.engine.render.BAND_FLOATS", 7 * 32 * 3 * 8)  # seven rows at a time
    other = dataclasses.replace(office.job().order, cache=office.folder / "rows")
    job = StageJob(office.job().stage, other)
    camera = office.camera(job)
    result = []

    def leave(done, found):
        result.append((done, found))
        if len(result) == 7:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        job.render(camera, leave)
    office.paths = 0
    rows = job.render(camera, lambda *_: None)
    assert 0 < office.paths < WHOLE_RENDER
    for one, two in zip(whole, rows.slices, strict=True):
        assert np.array_equal(one, two)
    assert not list((office.folder / "rows").glob("lamps/*/*/rows-*"))


def test_a_picture_is_put_together_by_one_at_a_time(office):
    """Whoever writes in its folder is waited for; then it is all there."""
    job = office.job()
    camera = office.camera(job)
    (job.frame_folder(camera) / META_NAME).unlink()
    found = []
    waiting = threading.Thread(target=lambda: found.append(job.cached(camera)))
    with only_writer(job.frame_folder(camera)):
        waiting.start()
        waiting.join(0.3)
        assert waiting.is_alive() and not (job.frame_folder(camera) / META_NAME).exists()
    waiting.join(20)
    assert found[0] is not None and (job.frame_folder(camera) / META_NAME).exists()


NOTE = {"seen": "s", "camera": "A", "things": {"desk": "d"}, "air": "a", "own": ["b", "l"],
        "bodies": {"key": "k"},
        "settings": {"size": [64, 36], "bands": 8, "seed": 1, "version": "1", "depths": [4]}}


@pytest.mark.parametrize(("change", "said"), [
    ({}, []), ({"seen": "t"}, ["camera A was moved, or its lens or stop changed"]),
    ({"settings": {"size": [32, 18]}}, ["it was 32x18, not 64x36"]),
    ({"settings": {"bands": 12}}, ["it was rendered with other bands"]),
    ({"settings": {"seed": 2}}, ["it was rendered with another seed"]),
    ({"settings": {"version": "0"}}, ["it was rendered with another version of the program"]),
    ({"settings": {"depths": [9]}}, ["it was rendered with other limits on paths"]),
    ({"things": {"desk": "e"}}, ["the set is another: 'desk' changed"]),
    ({"things": {"chair": "c"}}, ["the set is another: 'desk' new, 'chair' gone"]),
    ({"air": "b"}, ["the haze or a pane has changed"]),
    ({"own": ["c", "l"]}, ["it was moved or turned, or its beam changed"]),
    ({"bodies": {"key": "m", "rim": "r"}}, ["other lamps stand otherwise: 'key', 'rim'"])])
def test_each_change_is_told_by_itself(change, said):
    """Of two notes that differ in one thing, that one is named; of two alike, nothing."""
    then = NOTE | {key: NOTE[key] | value if key == "settings" else value for key, value in change.items()}
    assert why._differences(NOTE, then) == said


def test_tiles_are_means_of_whole_squares():
    """Copy by copy and lamp by lamp; what is left over at the right and below is in none."""
    paths = np.arange(2 * 7 * 8 * 2, dtype=float).reshape(2, 7, 8, 2)
    tiles = _tiles(paths, 3)
    assert tiles.shape == (2, 4, 2)
    for copy, tile, lamp in np.ndindex(tiles.shape):
        row, column = 3 * (tile // 2), 3 * (tile % 2)
        assert tiles[copy, tile, lamp] == paths[copy, row:row + 3, column:column + 3, lamp].mean()


def test_what_is_gone_meanwhile_is_not_marked(tmp_path):
    """Another process may have made room: to mark what it took away is no fault."""
    mark_used(tmp_path / "gone.json")
    assert not list(tmp_path.iterdir())


def test_two_processes_share_a_cache(empty):
    """Two that render the same at once leave whole files behind, and a third finds them."""
    job = empty.job()
    script = ("import sys; sys.path.insert(0, {tests!r}); import test_reuse as t; "
              "from pathlib import Path; from previz.engine import backend; backend.start(); "
              "import types; o = t.Office(Path({folder!r}), types.SimpleNamespace(setattr=setattr)); "
              "job = o.job(seed=4); job.render(o.camera(job), lambda *_: None)")
    script = script.format(tests=str(Path(__file__).parent), folder=str(empty.folder))
    both = [subprocess.Popen([sys.executable, "-c", script], stderr=subprocess.PIPE, text=True)
            for _ in range(2)]
    for each in both:
        _, result = each.communicate(timeout=120)
        assert each.returncode == 0, result
    job = empty.job(seed=4)
    assert job.cached(empty.camera(job)) is not None
    assert not list((empty.folder / "frames").rglob(".*.part"))
