"""What a render delivers takes nothing away that is better, or of others, without a word.

Frames are invented and put into the cache where the engine would have put them, so nothing is rendered.
"""

import contextlib
import json
import threading
from dataclasses import replace

import numpy as np
import pytest

from previz import frames as fr
from previz.deliver.index import INDEX_NAME, kept_index, read_index
from previz.deliver.stems import OTHER_QUALITIES, USUAL, sheet_stem, stems_of
from previz.errors import PrevizError, SceneError
from previz.physics.bands import band_edges
from previz.rendering.job import StageJob
from previz.rendering.request import QUALITIES, Request
from previz.scene.read import load
from previz.stage.build import build_stage
from previz.studies import render as render_module
from previz.studies import render_files as module
from previz.studies import still_files
from previz.studies.render import render
from previz.studies.render_files import RenderFiles

SCENE = """\
previz: 1
title: Yard
room: {size: [4 m, 3 m, 2.5 m]}
lights:
  - {name: key, kind: bulb, at: [3 m, 0.5 m, 2 m], output: 4000 lm}
cameras:
  - {name: A, at: [2 m, 0.3 m, 1.4 m], aim: [2 m, 2 m, 1 m], lens: 24 mm, stop: T2.8, iso: 800}
options:
  day: {}
  dusk: {lights: {key: {dimmer: 50 %}}}
  night: {lights: {key: {at: [1 m, 0.5 m, 2 m]}}}
"""
TOGETHER = 0.3
"""How long one waits for another who should be kept out. [s]"""


class Yard:
    """The scene in a folder, rendered without an engine."""

    def __init__(self, folder):
        self.path, self.out = folder / "yard.yaml", folder / "renders" / "yard"
        self.path.write_text(SCENE)

    def request(self, quality="working", width=48, samples=None):
        return Request(self.out / "frames", (width, None), quality, samples, bands=8)

    def put(self, request):
        """Put frames of all options into the cache."""
        file = load(self.path)
        for option in file.option_names:
            stage = build_stage(file.scene(option))
            camera = stage.cameras[0]
            job = StageJob(stage, request.order(camera.aspect))
            grid = (job.order.height, job.order.width)
            plane = np.full((3, *grid), 0.5, np.float32)
            slices = np.full((1, 8, *grid), 0.01, np.float32)
            fr.write(job.frame_folder(camera), fr.Frames(
                slices, np.full((1, *grid), 1e-8, np.float32), plane, plane, plane[0],
                np.zeros(grid, np.int32), ("key",), ("floor",), band_edges(8), job.order.sampling.samples, 1,
                {"name": "A"}, job.frame_folder(camera).name))

    def deliver(self, request, *options, names=""):
        """Render some options as the command does; return what was said."""
        file = load(self.path)
        files = RenderFiles(file, self.out, request, names)
        files.deliver(render(file, request, options=options, shown=files.still), exr=False)
        return files.said

    def pictures(self):
        return sorted(path.name for path in self.out.glob("*.png") if "-map" not in path.name)


@pytest.fixture
def yard(tmp_path, monkeypatch):
    """The yard; `yard.sheets` gets (name of a sheet, its options, what stands at its head)."""
    yard = Yard(tmp_path)
    yard.sheets = []

    def write_sheet(path, options, **words):
        yard.sheets.append((path.name, [each.name for each in options], words["subject"]))
        path.write_text(str(yard.sheets[-1]))

    # How maps and sheets are drawn is tested elsewhere, and takes long.
    monkeypatch.setattr(render_module, "write_sheet", write_sheet)
    monkeypatch.setattr(module, "write_map", lambda path, *_, **__: path.write_text("map"))
    monkeypatch.setattr(render_module, "rig_in", lambda *_: ())
    monkeypatch.setattr(StageJob, "meters", lambda *_: (None, True, ()))
    return yard


def keys(index):
    return {each.key for each in index.entries if not each.camera.startswith("sheet")}


@pytest.mark.parametrize("locked", [True, False])
def test_two_renders_at_once_keep_both(yard, monkeypatch, locked):
    """Both have read the index before either has written it: only the lock keeps that from happening."""
    request = yard.request()
    yard.put(request)
    file = load(yard.path)
    both = []
    for option in ("dusk", "night"):
        files = RenderFiles(file, yard.out, request)
        both.append((files, render(file, request, options=[option], shown=files.still)))
    barrier, plain = threading.Barrier(2), still_files.kept_index

    def met(folder):
        found = plain(folder)
        with contextlib.suppress(threading.BrokenBarrierError):
            barrier.wait(TOGETHER if locked else 20)
        return found

    monkeypatch.setattr(still_files, "kept_index", met)
    if not locked:
        monkeypatch.setattr(module, "only_writer", lambda folder: contextlib.nullcontext())
    threads = [threading.Thread(target=files.deliver, args=(found,), kwargs={"exr": False})
               for files, found in both]
    for each in threads:
        each.start()
    for each in threads:
        each.join(30)
    kept = {("dusk", "A", "working"), ("night", "A", "working")}
    assert (keys(read_index(yard.out) if locked else kept_index(yard.out)) == kept) is locked
    # Whoever comes second has both on the sheet.
    assert (yard.sheets[-1][1] == ["dusk", "night"]) is locked


def test_one_option_does_not_take_the_sheet_of_three(yard):
    """The sheet has all that there is at these settings, and says what it is without."""
    request = yard.request()
    yard.put(request)
    assert yard.deliver(request) == []
    said = yard.deliver(request, "dusk")
    assert yard.sheets[-1] == ("sheet-A.png", ["day", "dusk", "night"], "Camera A")
    assert said == ["sheet-A.png has 'day', 'night' too, as rendered before."]
    # An edit that leaves the frames of one option as they were.
    yard.path.write_text(SCENE.replace("[1 m, 0.5 m, 2 m]", "[1.5 m, 0.5 m, 2 m]"))
    said = yard.deliver(request, "dusk")
    assert yard.sheets[-1][1] == ["day", "dusk"]
    assert "without 'night'" in yard.sheets[-1][2] and "not kept" in yard.sheets[-1][2]
    assert any(line.startswith("sheet-A.png is without 'night': the cache has nothing") for line in said)
    assert keys(read_index(yard.out)) == {(option, "A", "working") for option in ("day", "dusk", "night")}
    # What is no option any more is on no sheet.
    yard.path.write_text(SCENE.replace("  night", "  late"))
    yard.deliver(request, "dusk")
    assert yard.sheets[-1][1:] == (["day", "dusk"], "Camera A")


def test_an_option_that_cannot_be_built_any_more_spoils_no_other(yard, monkeypatch):
    """Its mesh may have gone: the sheet is without it, and the option that was requested is delivered."""
    request = yard.request()
    yard.put(request)
    yard.deliver(request)

    def missing(scene):
        raise SceneError([])

    monkeypatch.setattr("previz.studies.kept.build_stage", missing)
    assert "without 'dusk', 'night'" in yard.deliver(request, "day")[0]


def test_no_quality_takes_anothers_place(yard):
    """Draft, working and fine have names of their own, and the index has them all."""
    before = {}
    for quality in ("working", "fine", "draft", "working"):
        request = yard.request(quality)
        yard.put(request)
        assert yard.deliver(request, "day") == []
        now = {name: (yard.out / name).read_bytes() for name in yard.pictures()}
        assert before.items() <= now.items()
        before = now
    assert yard.pictures() == sorted(f"{name}{end}.png" for name in ("day-A", "sheet-A")
                                     for end in ("", "-draft", "-fine"))
    assert keys(read_index(yard.out)) == {("day", "A", quality) for quality in QUALITIES}
    assert {USUAL, *OTHER_QUALITIES} == set(QUALITIES)


def test_what_takes_the_place_of_better_is_told(yard):
    """Fewer paths, or a smaller picture, of the same scene; not where the scene has changed."""
    large, small, few = yard.request(width=64), yard.request(width=48), yard.request(width=64, samples=8)
    for request in (large, small, few):
        yard.put(request)
    yard.deliver(large, "day")
    (said,) = yard.deliver(small, "day")
    assert said == ("day-A.png was 64x36 at 32 paths a pixel and is 48x27 at 32 now; the settings of before "
                    "write that again from what is kept.")
    assert yard.deliver(large, "day") == []
    (said,) = yard.deliver(few, "day")
    assert "is 64x36 at 8 now" in said
    yard.deliver(large, "day")
    yard.path.write_text(SCENE.replace("day: {}", "day: {lights: {key: {dimmer: 90 %}}}"))
    assert yard.deliver(small, "day") == []


def test_a_first_look_takes_no_better_pictures_place(yard):
    """Drafts that a watched scene is shown by have the last quality's names, but not where that is there."""
    draft, last = yard.request("draft", samples=8), yard.request()
    yard.put(draft)
    yard.put(last)
    assert yard.deliver(draft, "day", names="working") == []
    first = (yard.out / "day-A.png").read_bytes()
    yard.deliver(last, "day")
    full = (yard.out / "day-A.png").read_bytes()
    assert first != full
    yard.sheets.clear()
    said = yard.deliver(draft, "day", names="working")
    assert said == ["day-A.png stays: it is of the same scene, 48x27 at 32 paths a pixel."]
    assert (yard.out / "day-A.png").read_bytes() == full and yard.sheets == []
    # A save that changes the picture is shown by its draft.
    yard.path.write_text(SCENE.replace("day: {}", "day: {lights: {key: {dimmer: 90 %}}}"))
    assert yard.deliver(draft, "day", names="working") == []
    assert (yard.out / "day-A.png").read_bytes() != full


def test_a_still_that_another_has_written_meanwhile_is_written_again(yard):
    """Files and their entry agree, whoever has shown a still of the name in between."""
    request = yard.request()
    yard.put(request)
    file = load(yard.path)
    files = RenderFiles(file, yard.out, request)
    found = render(file, request, options=["day"], shown=files.still)
    own = (yard.out / "day-A.png").read_bytes()
    (yard.out / "day-A.png").write_bytes(b"of another")
    files.deliver(found, exr=False)
    assert (yard.out / "day-A.png").read_bytes() == own
    assert kept_index(yard.out) == read_index(yard.out)


def test_files_that_are_gone_take_their_entry_alone(yard):
    """One picture that was deleted does not lose what the index has of the others."""
    request = yard.request()
    yard.put(request)
    yard.deliver(request)
    (yard.out / "night-A.png").unlink()
    yard.deliver(request, "day")
    assert keys(read_index(yard.out)) == {("day", "A", "working"), ("dusk", "A", "working")}


@pytest.mark.parametrize("text", ['{"pages": 3}', "{", '{"previz_index": 99}'])
def test_an_index_of_others_is_left(yard, text):
    """A file of that name that previz did not write, or cannot read, is refused before any work."""
    yard.out.mkdir(parents=True)
    (yard.out / INDEX_NAME).write_text(text)
    with pytest.raises(PrevizError, match="Move it away"):
        RenderFiles(load(yard.path), yard.out, yard.request())
    assert (yard.out / INDEX_NAME).read_text() == text


def test_pictures_of_another_scene_are_left(yard, tmp_path):
    """A folder that was requested and has another scene's pictures is refused, and said whose they are."""
    request = yard.request()
    yard.put(request)
    yard.deliver(request, "day")
    other = tmp_path / "other.yaml"
    other.write_text(SCENE)
    with pytest.raises(PrevizError, match=r"has the pictures of the scene '\.\./\.\./yard\.yaml'"):
        RenderFiles(load(other), yard.out, request)
    # Renamed, it is the same scene.
    yard.path.unlink()
    RenderFiles(load(other), yard.out, request)


def test_the_index_of_the_layout_before_is_gone_on_with(yard):
    """Its entries had one text, one version and no quality; all of them stay."""
    request = yard.request()
    yard.put(request)
    yard.deliver(request)
    path = yard.out / INDEX_NAME
    content = json.loads(path.read_text())
    del content["seal"]
    for entry in content["entries"]:
        for name in ("quality", "state", "scene_hash", "version"):
            del entry[name]
    path.write_text(json.dumps({**content, "previz_index": 2, "scene": str(yard.path)}))
    index = read_index(yard.out)
    assert index.scene == "../../yard.yaml"
    assert {each.scene_hash for each in index.entries} == {content["scene_hash"]}
    yard.deliver(request, "day")
    assert len(keys(read_index(yard.out))) == 3


def test_names_of_sheets_say_what_was_picked_out():
    """Names of files stay short however much that is, and differ."""
    assert sheet_stem("compare") == "compare"
    assert sheet_stem("compare", ("low sun", "", "A"), "fine") == "compare-low-sun-A-fine"
    long = [sheet_stem("mood", [f"option {n}" for n in range(k)]) for k in (40, 41)]
    assert long[0] != long[1] and max(map(len, long)) < 100


def test_no_quality_has_the_name_of_a_cameras_picture(tmp_path):
    """A camera called 'A-draft' keeps its name; the draft of A has another."""
    path = tmp_path / "yard.yaml"
    camera = "  - {name: A, at: [2 m, 0.3 m, 1.4 m]"
    line = next(line for line in SCENE.splitlines() if line.startswith(camera))
    path.write_text(SCENE.replace(line, f"{line}\n{line.replace('name: A,', 'name: A-draft,')}"))
    stems = {quality: stems_of(load(path), quality) for quality in QUALITIES}
    assert stems["working"]["day", "A-draft"] == "day-A-draft"
    assert stems["draft"]["day", "A"] == "day-A-draft-2"
    every = [stem for each in stems.values() for stem in each.values()]
    assert len(set(every)) == len(every)


def test_a_shot_that_was_changed_is_of_another_state(yard):
    """Levels are part of what a picture is of."""
    request = yard.request()
    yard.put(request)
    shots = render(load(yard.path), request).shots
    assert len({shot.state for shot in shots}) == 3
    assert all(len(shot.state) == 32 for shot in shots)
    assert replace(shots[0], state="").state == ""
