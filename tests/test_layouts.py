"""Files of earlier versions, written by those, are read or told apart; of a newer one nothing is guessed.

`layouts/<version>/` holds what the writers of that version made of a few numbers, and indexes of its renders.
"""

import inspect
import json
import re
import shutil
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

import previz
from previz import frames
from previz.deliver.atomic import DeliveryError
from previz.deliver.index import INDEX_NAME, Index, kept_index, read_index, write_index
from previz.frames import layouts, whole
from previz.frames.archives import read_archive, write_archive
from previz.frames.batches import BATCHES, Batches, read_meter, read_meter_note, write_meter
from previz.frames.lamp_files import LAMP_NAME, read_lamp
from previz.frames.layouts import LAYOUTS, Layout, LayoutError, array_layout, is_newer, taken_up
from previz.page import clean
from previz.page.desk import CHANGES_NAME, Desk
from previz.page.looks import LooksFile, kept_looks
from previz.rendering.cache.body_files import read_bodies
from previz.rendering.cache.limit import LIMIT_NAME, USUAL_LIMIT, limit_of, set_limit
from previz.scene.read import load
from previz.studies.render_files import RenderFiles

HERE = Path(__file__).parent / "layouts"

LOOK = {"low|lamp|key": {"level": 0.5}, "low|camera|A": {"stop": 4.0, "green": 0.002}}
RNG = np.random.default_rng(7)
"""The numbers of the samples come of the same seed, in the order of the writers."""
SIZES = ((1, 4, 2, 3), (1, 2, 3), (3, 2, 3), (3, 2, 3), (2, 3), (4, 2, 3), (2, 3))
SLICES, _, ALBEDO, _, DEPTH, LAMP, SCATTER = (RNG.random(size, dtype=np.float32) for size in SIZES)


@pytest.fixture
def renders(tmp_path):
    """Put the index of a version into a folder with files as large as it says."""
    def put(version):
        folder = tmp_path / version
        folder.mkdir()
        shutil.copy(HERE / version / INDEX_NAME, folder)
        for entry in json.loads((folder / INDEX_NAME).read_text())["entries"]:
            for file in entry["files"]:
                with (folder / file["path"]).open("wb") as empty:
                    empty.truncate(file["bytes"])
        return folder

    return put


@pytest.mark.parametrize(("version", "layout", "cheek"), [("0.1.0", 1, 40.33197268954108),
                                                          ("0.3.1", 2, None)])
def test_indexes_of_earlier_versions(renders, version, layout, cheek):
    """What was made, from what, and where it lies; an index of the first layout has no faces."""
    folder = renders(version)
    written = json.loads((folder / INDEX_NAME).read_text())
    assert written["previz_index"] == layout and ("faces" in written["entries"][0]) == (layout > 1)
    index = read_index(folder)
    assert (index.title, index.version) == ("Night in the canteen", version)
    entry = index.entries[0]
    assert (entry.option, entry.camera, entry.samples) == ("low", "A", 8)
    assert [file.kind for file in entry.files] == ["still", "map", "linear"]
    assert bool(entry.faces) == (layout > 1)
    # Layout 3 says of each entry what layout 2 says of all, and the scene's place from the index.
    assert (entry.quality, entry.state, entry.version) == ("working", "", version)
    assert entry.scene_hash == index.scene_hash == written["scene_hash"]
    assert (folder / index.scene).resolve() == (Path.cwd() / "tiny.yaml").resolve()
    if cheek is not None:
        assert entry.readings["cook: left cheek"]["lux"] == cheek
    write_index(folder, index)
    assert json.loads((folder / INDEX_NAME).read_text())["previz_index"] == LAYOUTS["previz_index"].now
    assert read_index(folder) == index


def test_an_index_without_a_seal(renders):
    """Layout 3 has all that layout 4 has but its seal, which is written with the next entry."""
    folder = renders("0.4.0")
    written = json.loads((folder / INDEX_NAME).read_text())
    assert written["previz_index"] == 3 and "seal" not in written
    index = read_index(folder)
    assert [entry.key for entry in index.entries] == [
        (each["option"], each["camera"], each["quality"]) for each in written["entries"]]
    entry = index.entries[0]
    assert (entry.option, entry.state, entry.samples) == ("low", written["entries"][0]["state"], 8)
    assert entry.readings == written["entries"][0]["readings"] and index == kept_index(folder)
    write_index(folder, index)
    assert "seal" in json.loads((folder / INDEX_NAME).read_text()) and read_index(folder) == index


def test_kinds_of_files_that_nothing_writes_now(renders):
    """An index of the first layout may list them; they are left out."""
    folder = renders("0.1.0")
    content = json.loads((folder / INDEX_NAME).read_text())
    content["entries"][0]["files"].append({"kind": "page", "path": "gone.html", "bytes": 9, "crc32": 0})
    (folder / INDEX_NAME).write_text(json.dumps(content))
    assert [file.kind for file in read_index(folder).entries[0].files] == ["still", "map", "linear"]


def test_frames_of_the_first_version():
    """Their layout has never changed."""
    found = frames.read(HERE / "0.1.0" / "frames")
    assert (found.version, found.lights, found.samples) == ("0.1.0", ("key",), 8)
    np.testing.assert_array_equal(np.asarray(found.slices), SLICES)
    np.testing.assert_array_equal(found.albedo, ALBEDO)
    np.testing.assert_array_equal(found.depth, DEPTH)


@pytest.mark.parametrize(("version", "word"), [("0.3.1", "told"), ("0.4.0", "note")])
def test_lamps_of_earlier_versions(version, word):
    """Of the first layout there are two: names were changed without a new number."""
    written = json.loads((HERE / version / "lamp" / LAMP_NAME).read_text())
    assert written["previz_lamp"] == 1 and word in written
    found = read_lamp(HERE / version / "lamp")
    assert (found.samples, found.note) == (16.0, {"lamp": "key", "camera": "A"})
    np.testing.assert_array_equal(found.gathered.slices, LAMP)
    np.testing.assert_array_equal(found.gathered.scatter, SCATTER)
    assert (found.gathered.weight, found.gathered.passes, found.gathered.next_pass) == (2.0, 2, 3)
    assert (found.gathered.inverse, found.gathered.spread) == (0.5, 1.5)


@pytest.mark.parametrize(("version", "whole_one", "noted"), [
    ("0.1.0", False, False), ("0.2.0", False, False), ("0.3.1", True, False), ("0.4.0", True, True)])
def test_meters_of_earlier_versions(version, whole_one, noted):
    """Those without what errors are judged by are gathered anew; a note under its old name is none."""
    path = HERE / version / "meter.npz"
    batches = Batches.empty(("desk",), ("key",), 1)
    assert read_meter(path, batches, 0) == whole_one
    assert batches.paths.tolist() == [64 if whole_one else 0]
    assert bool(np.any(batches.sums)) == whole_one
    assert read_meter_note(path) == ({"lamps": [["a", "b", "c"]]} if noted else {})


@pytest.mark.parametrize("version", ["0.2.0", "0.4.0"])
def test_looks_that_a_page_kept(version):
    """A camera's shift towards green was called tint."""
    text = (HERE / version / CHANGES_NAME).read_text()
    assert ('"tint"' in text) == (version < "0.4")
    assert Desk._read_changes(SimpleNamespace(folder=HERE / version)) == LOOK


def test_looks_that_were_kept_beside_a_scene(tmp_path):
    """Of the first layout, which is that of now."""
    shutil.copy(HERE / "0.4.0" / "signal-cabin.looks.json", tmp_path)
    kept = LooksFile(tmp_path / "signal-cabin.yaml", tmp_path / "page")
    look, = kept_looks(kept.read())
    assert (look.name, look.note, look.stop) == ("low key", "the yard stays bright", 4.0)
    assert kept.notes == [] and look.look["lamps"] == {"key": {"level": 0.5}}


def test_a_limit_of_the_first_version():
    """It is somebody's setting, and stays."""
    assert limit_of(HERE / "0.1.0") == 5 * 10**9


# A newer previz


def newer(path, kind):
    """Write a sealed file as a later version might."""
    whole.write_sealed(path, {kind: LAYOUTS[kind].now + 1, "bytes": 7, "changes": LOOK, "entirely": "new"})


WORDS = "was written by a newer previz: it has layout {}, and this one reads up to layout {}"


@pytest.mark.parametrize("kind", LAYOUTS)
def test_a_newer_layout_is_told(tmp_path, kind):
    """Whatever it is a file of, before anything in it is believed."""
    now = LAYOUTS[kind].now
    newer(tmp_path / "x.json", kind)
    with pytest.raises(frames.FramesError, match=WORDS.format(now + 1, now)) as caught:
        whole.read_sealed(tmp_path / "x.json", kind)
    assert caught.value.advice == "Use that previz, or render into another folder."
    assert is_newer(caught.value)
    for layout in (0, -1, True, "1", None, 1.0):
        with pytest.raises(LayoutError, match="has no layout but") as wrong:
            taken_up(kind, {kind: layout}, tmp_path)
        assert not wrong.value.newer
    assert not array_layout(kind, {kind: np.array(now + 1)})
    assert array_layout(kind, {kind: np.array(now)})


def test_what_a_newer_previz_wrote_is_kept(tmp_path):
    """A look under another name, as this one writes its own; an index where it lies, nothing is rendered."""
    newer(tmp_path / CHANGES_NAME, "previz_page")
    content = (tmp_path / CHANGES_NAME).read_text()
    assert Desk._read_changes(SimpleNamespace(folder=tmp_path)) == {}
    assert (tmp_path / "changes-newer.json").read_text() == content
    scene = tmp_path / "scene.yaml"
    scene.write_text("previz: 1\n")
    (tmp_path / INDEX_NAME).write_text('{"previz_index": 99, "films": []}')
    for read in (read_index, kept_index, lambda folder: RenderFiles(load(scene), folder)):
        with pytest.raises(DeliveryError, match=WORDS.format(99, LAYOUTS["previz_index"].now)) as caught:
            read(tmp_path)
        assert caught.value.advice == "Move it away, or give another folder with --out."
    assert json.loads((tmp_path / INDEX_NAME).read_text()) == {"previz_index": 99, "films": []}


def _haze(path):
    read = read_archive(path, "previz_haze")
    return read and list(read[0])


def test_a_newer_cache_is_rendered_anew(tmp_path):
    """Nothing of it is read, and nothing stops for it."""
    newer(tmp_path / LIMIT_NAME, "previz_limit")
    assert limit_of(tmp_path) == USUAL_LIMIT
    set_limit(tmp_path, 3)
    assert limit_of(tmp_path) == 3
    batches = Batches.empty(("desk",), ("key",), 1)
    batches.paths[:], batches.sums[:] = 64, 1.0
    write_meter(tmp_path / "meter.npz", batches, 0, {"lamps": []})
    with np.load(tmp_path / "meter.npz") as kept:
        state = dict(kept)
    assert state["previz_meter"] == 1 and state["sums"].shape == (BATCHES, 1, 2, 1)
    np.savez(tmp_path / "later.npz", **{**state, "previz_meter": 2})
    assert not read_meter(tmp_path / "later.npz", batches, 0)
    assert read_meter_note(tmp_path / "later.npz") == {}
    for kind, read in (("previz_bodies", read_bodies), ("previz_haze", _haze)):
        write_archive(tmp_path / "now.npz", kind, {})
        np.savez(tmp_path / "later.npz", **{kind: 99})
        assert read(tmp_path / "now.npz") == []
        assert read(tmp_path / "later.npz") is None
    some = SimpleNamespace(slices=np.zeros((1, 2, 2, 3)))
    for more, good in (({}, True), ({"previz_clean": 99}, False)):
        with clean._file(tmp_path, 0).open("wb") as file:
            np.savez(file, bands=np.zeros((2, 2, 3), np.float16), scale=np.array(1.0), **more)
        assert (clean.read_clean(tmp_path, some, 0) is not None) == good


# Steps


def test_a_layout_goes_up_step_by_step(monkeypatch):
    """Each step once, in order, on what the one before made; a gap, or a step that fails, is told."""
    steps = {n: lambda c, folder, n=n: {**c, "seen": [*c["seen"], (n, folder)]} for n in (1, 2)}
    here = Path("here")
    monkeypatch.setitem(LAYOUTS, "previz_view", Layout(3, steps))
    given = {"previz_view": 1, "seen": []}
    assert taken_up("previz_view", given, here) == {
        "previz_view": 3, "seen": [(1, here), (2, here)]}
    assert given == {"previz_view": 1, "seen": []}
    assert taken_up("previz_view", {"previz_view": 2, "seen": []}, here)["seen"] == [(2, here)]
    assert taken_up("previz_view", {"previz_view": 3, "seen": []}, here)["seen"] == []
    with pytest.raises(LayoutError, match="contradicts its layout 1"):
        taken_up("previz_view", {"previz_view": 1}, here)
    monkeypatch.setitem(LAYOUTS, "previz_view", Layout(3, {1: steps[1]}))
    with pytest.raises(LayoutError, match="has layout 2 of an earlier previz, which is no longer read"):
        taken_up("previz_view", given, here)


def test_every_step_leads_to_the_layout_of_now():
    """Steps have no gaps, and every one has a sample that needs it."""
    for kind, layout in LAYOUTS.items():
        assert sorted(layout.steps) == list(range(layout.now - len(layout.steps), layout.now)), kind
    samples = {"previz_index": INDEX_NAME, "previz_page": CHANGES_NAME, "previz_lamp": f"lamp/{LAMP_NAME}"}
    for kind, name in samples.items():
        found = {json.loads(path.read_text())[kind] for path in HERE.glob(f"*/{name}")}
        assert set(LAYOUTS[kind].steps) <= found
    assert {kind for kind, layout in LAYOUTS.items() if layout.steps} == set(samples)


def test_every_word_is_written_and_read():
    """A kind of file that nothing writes, or that is read without its layout, would be found here."""
    text = "\n".join(path.read_text(encoding="utf-8") for path in Path(previz.__file__).parent.rglob("*.py")
                     if path.name != Path(inspect.getfile(layouts)).name)
    # Rows, cards and tables are written for others alone.
    words = set(re.findall(r'"(previz_\w+)"', text)) - {"previz_rows", "previz_meters", "previz_validate"}
    assert words == set(LAYOUTS)
    for kind in LAYOUTS:
        assert f'marked("{kind}")' in text or re.search(rf'write_archive\(\w+, "{kind}"', text), kind
        # A hand-out reads itself.
        if kind != "previz_handout":
            read = (f'"{kind}")["', f'"{kind}")\n', f'"{kind}", ')
            assert any(each in text for each in read), kind


def test_an_index_is_written_in_the_layout_of_now(tmp_path):
    """And is read back without a step."""
    index = Index("yard", "yard.yaml", "ab", "0.4.0")
    write_index(tmp_path, index)
    assert json.loads((tmp_path / INDEX_NAME).read_text())["previz_index"] == 4
    assert read_index(tmp_path) == index
