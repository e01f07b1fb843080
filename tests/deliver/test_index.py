import json
import zlib
from dataclasses import replace

import pytest

from previz.deliver import index as ix
from previz.deliver.atomic import DeliveryError
from previz.frames.whole import seal_of


@pytest.fixture
def renders(tmp_path):
    """A folder with two files and their index."""
    (tmp_path / "bounce").mkdir()
    (tmp_path / "bounce" / "A still.png").write_bytes(b"still")
    (tmp_path / "bounce" / "A.exr").write_bytes(b"linear")
    entry = ix.Entry(
        option="bounce",
        camera="A",
        settings={"stop": 2.8, "lamps": [{"name": "window", "level": 0.5, "on": True}]},
        transport_hash="ab12",
        samples=256,
        seed=1,
        readings={"clerk": {"illuminance": 118.25}},
        files=(
            ix.file_entry(tmp_path, tmp_path / "bounce" / "A still.png", "still"),
            ix.file_entry(tmp_path, tmp_path / "bounce" / "A.exr", "linear"),
        ),
    )
    index = ix.Index("Signal cabin – früh", "scenes/01.yaml", "cd34", "0.1.0", (entry,))
    ix.write_index(tmp_path, index)
    return tmp_path, index


def edit(folder, change):
    """Change the index as another program might, with a seal of its own making."""
    path = folder / ix.INDEX_NAME
    content = json.loads(path.read_text(encoding="utf-8"))
    content.pop("seal")
    change(content)
    if content["previz_index"] > 3:
        content["seal"] = seal_of(content)
    path.write_text(json.dumps(content), encoding="utf-8")


def test_the_index_comes_back(renders):
    """What was written is what is read, paths and readings and all."""
    folder, index = renders
    assert ix.read_index(folder) == index
    assert index.entries[0].files[0].path == "bounce/A still.png"
    assert index.entries[0].files[0].bytes == 5
    assert index.entries[0].files[0].crc32 == zlib.crc32(b"still")


def test_a_new_entry_takes_the_place_of_the_old(renders):
    """One entry an option and camera; others stay in their order."""
    _, index = renders
    other = replace(index.entries[0], camera="B", files=())
    newer = replace(index.entries[0], samples=512)
    grown = index.with_entry(other).with_entry(newer)
    assert [(entry.camera, entry.samples) for entry in grown.entries] == [("A", 512), ("B", 256)]
    assert len(index.entries) == 1


def test_each_quality_has_an_entry_of_its_own(renders):
    """What it stands for is option, camera and quality; none takes another's place."""
    _, index = renders
    fine = replace(index.entries[0], quality="fine", files=())
    grown = index.with_entry(fine)
    assert [entry.key for entry in grown.entries] == [("bounce", "A", "working"), ("bounce", "A", "fine")]
    assert grown.entry("bounce", "A", "fine") is fine and grown.entry("bounce", "A", "draft") is None


def test_no_file_is_listed_twice(renders):
    """An entry whose files another has written over is no longer true, whatever it is called."""
    _, index = renders
    renamed = replace(index.entries[0], option="bounced", files=index.entries[0].files[:1])
    assert [entry.option for entry in index.with_entry(renamed).entries] == ["bounced"]


@pytest.mark.parametrize(("states", "kinds"), [
    (("s", "s"), ["still", "linear"]), (("s", "t"), ["still"]), (("", ""), ["still"])])
def test_files_of_the_same_state_stay_listed(renders, states, kinds):
    """An EXR that was left out this time is still of the picture, unless the scene has changed."""
    _, index = renders
    old = replace(index.entries[0], state=states[0])
    newer = replace(old, state=states[1], samples=512, files=old.files[:1])
    (entry,) = replace(index, entries=(old,)).with_entry(newer).entries
    assert entry.samples == 512 and [file.kind for file in entry.files] == kinds


def test_what_holds_of_an_index_is_kept(renders):
    """One entry that was spoilt, or whose file has gone, leaves the others; a reader refuses the whole."""
    folder, index = renders
    (folder / "B.png").write_bytes(b"B")
    other = replace(index.entries[0], camera="B", files=(ix.file_entry(folder, folder / "B.png", "still"),))
    ix.write_index(folder, index.with_entry(other))
    (folder / "B.png").write_bytes(b"another")
    edit(folder, lambda content: content["entries"].append(3))
    with pytest.raises(DeliveryError):
        ix.read_index(folder)
    assert ix.kept_index(folder) == index
    assert ix.kept_index(folder / "bounce") is None
    edit(folder, lambda content: content.pop("title"))
    with pytest.raises(DeliveryError, match="cannot be trusted"):
        ix.kept_index(folder)


@pytest.mark.parametrize("change", [
    lambda c: c.update(title="Canteen"),
    lambda c: c["entries"][0].update(samples=512),
    lambda c: c["entries"][0]["readings"]["clerk"].update(illuminance=11.825),
    lambda c: c.update(entries=[]),
    lambda c: c.update(seal=None),
    lambda c: c.pop("seal"),
    # One of the layout before had none, and does not get one by calling itself older.
    lambda c: c.update(previz_index=3),
])
def test_words_that_were_changed_are_not_believed(renders, change):
    """A reading of another's making is as plausible as ours: the seal tells, whatever the values are."""
    folder, _ = renders
    path = folder / ix.INDEX_NAME
    content = json.loads(path.read_text(encoding="utf-8"))
    change(content)
    path.write_text(json.dumps(content), encoding="utf-8")
    for read in (ix.read_index, ix.kept_index):
        with pytest.raises(DeliveryError, match="was changed after it was written"):
            read(folder)


def test_the_layout_before_is_read(renders, monkeypatch):
    """Layout 2 had one scene text and version for all entries, and the scene's path as it was given."""
    folder, index = renders
    monkeypatch.chdir(folder)

    def older(content):
        content.update(previz_index=2, scene="scenes/01.yaml")
        for entry in content["entries"]:
            for name in ("quality", "state", "scene_hash", "version"):
                del entry[name]

    edit(folder, older)
    made = {"scene_hash": "cd34", "version": "0.1.0"}
    assert ix.read_index(folder) == replace(index, entries=(replace(index.entries[0], **made),))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda c: c.pop("title"), "index lacks 'title'"),
        (lambda c: c.update(colour="red"), "index has an unknown part 'colour'"),
        (lambda c: c.update(entries={}), "index.entries must be a list"),
        (lambda c: c["entries"][0].update(seed="1"), r"entries\[0\].seed must be of type int"),
        (lambda c: c["entries"][0].update(seed=True), r"entries\[0\].seed must be of type int"),
        (lambda c: c["entries"].append(3), r"entries\[1\] must be a mapping"),
        (lambda c: c["entries"].append(c["entries"][0]), "is listed twice"),
        (lambda c: c["entries"][0]["files"][0].update(kind="film"), "of unknown kind 'film'"),
        (lambda c: c["entries"][0]["files"][0].update(path="../x.png"), "does not lie in"),
        (lambda c: c["entries"][0]["files"][0].update(path="/etc/x"), "does not lie in"),
        (lambda c: c["entries"][0]["files"][0].update(path="C:\\x"), "does not lie in"),
        (lambda c: c["entries"][0]["files"][0].update(path="gone.png"), "'gone.png' is missing"),
        (lambda c: c["entries"][0]["files"][0].update(bytes=4), "has 5 bytes and should have 4"),
    ],
)
def test_an_index_that_does_not_hold_is_refused(renders, change, words):
    """Each fault is named."""
    folder, _ = renders
    edit(folder, change)
    with pytest.raises(DeliveryError, match=words) as caught:
        ix.read_index(folder)
    assert "Render the scene again" in caught.value.advice


def test_all_faults_are_reported_at_once(renders):
    """Two things wrong are two lines."""
    folder, _ = renders

    def change(content):
        content["entries"][0]["files"][0]["path"] = "gone.png"
        content["entries"][0]["files"][1]["bytes"] = 1

    edit(folder, change)
    with pytest.raises(DeliveryError) as caught:
        ix.read_index(folder)
    assert "'gone.png' is missing" in str(caught.value)
    assert "should have 1" in str(caught.value)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (None, "has no index.json"),
        ("{", "cannot be read"),
        ("[" * 100_000, "cannot be read"),
        ("[]", "was not written by previz"),
        ('{"previz_index": 4, "title": 1e999}', "cannot be read"),
        ('{"previz_index": {"a": 1}}', "has no layout"),
        ('{"previz_index": 9}', "was written by a newer previz: it has layout 9"),
    ],
)
def test_missing_torn_and_foreign_indexes(tmp_path, text, words):
    """Each gets its own words."""
    if text is not None:
        (tmp_path / ix.INDEX_NAME).write_text(text)
    with pytest.raises(DeliveryError, match=words):
        ix.read_index(tmp_path)


def test_files_outside_the_folder_cannot_be_listed(tmp_path):
    """The index only speaks of its own folder, and of kinds it knows."""
    inside = tmp_path / "renders"
    inside.mkdir()
    (tmp_path / "x.png").write_bytes(b"x")
    with pytest.raises(ValueError):
        ix.file_entry(inside, tmp_path / "x.png", "still")
    with pytest.raises(ValueError, match="kind must be one of"):
        ix.file_entry(tmp_path, tmp_path / "x.png", "film")


def test_values_that_json_cannot_hold_are_refused(renders):
    """A reading that is not finite stops the write and leaves the index of before."""
    folder, index = renders
    entry = replace(index.entries[0], readings={"clerk": float("inf")})
    with pytest.raises(ValueError):
        ix.write_index(folder, index.with_entry(entry))
    assert ix.read_index(folder) == index
