import json
import os
import threading
import zlib

import numpy as np
import pytest

from previz import frames as fr
from previz.frames import arrays, store, whole
from previz.frames.gathered import Gathered
from previz.frames.lamp_files import LAMP_NAME, read_lamp, write_lamp
from previz.frames.lock import only_writer

ROWS, COLUMNS, BANDS = 6, 8, 4


def make(lights=("key", "fill"), seed=1):
    random = np.random.default_rng(seed)
    count = len(lights)
    depth = random.random((ROWS, COLUMNS), dtype=np.float32)
    depth[0, 0] = np.inf
    return fr.Frames(
        slices=random.random((count, BANDS, ROWS, COLUMNS), dtype=np.float32),
        variance=random.random((count, ROWS, COLUMNS), dtype=np.float32),
        albedo=random.random((3, ROWS, COLUMNS), dtype=np.float32),
        normal=random.random((3, ROWS, COLUMNS), dtype=np.float32),
        depth=depth,
        names_index=random.integers(-1, 2, (ROWS, COLUMNS), dtype=np.int32),
        lights=lights,
        names=("yard wall", "clerk"),
        band_edges_nm=np.linspace(380, 780, BANDS + 1),
        samples=64,
        seed=seed,
        camera={"name": "A", "stop": np.float32(2.5), "sensor": [0.0249, 0.014], 7: "kept as text"},
        transport_hash="ab12",
        version="0.1.0",
    )


def same(first, second):
    arrays = ("variance", "albedo", "normal", "depth", "names_index", "band_edges_nm")
    return np.array_equal(np.asarray(first.slices), np.asarray(second.slices)) and all(
        np.array_equal(getattr(first, label), getattr(second, label)) for label in arrays
    )


def lamp_file(folder, number):
    return next(folder.glob(f"lamp-{number:03d}.*.npy"))


def test_written_frames_come_back_bit_for_bit(tmp_path):
    """Arrays are stored unchanged, and the plain facts next to them too."""
    frames = make()
    fr.write(tmp_path / "A", frames)
    back = fr.read(tmp_path / "A")
    assert same(frames, back)
    for label in ("lights", "names", "samples", "seed", "transport_hash", "version"):
        assert getattr(back, label) == getattr(frames, label)
    assert back.camera == {"name": "A", "stop": 2.5, "sensor": [0.0249, 0.014], "7": "kept as text"}
    assert back.shape == (ROWS, COLUMNS)


def test_lamps_are_mapped_one_by_one(tmp_path):
    """Each lamp is a file of its own that is read only where it is touched."""
    frames = make()
    fr.write(tmp_path, frames)
    back = fr.read(tmp_path)
    assert isinstance(back.slices, fr.LampSlices)
    assert all(isinstance(lamp, np.memmap) for lamp in back.slices)
    assert back.slices.shape == frames.slices.shape
    assert np.array_equal(back.slices[1, 2], frames.slices[1, 2])
    assert np.array_equal(back.slices[0, :, 3, 4], frames.slices[0, :, 3, 4])
    assert np.array_equal(back.slices[:, 1], frames.slices[:, 1])
    assert np.array_equal(back.slices[..., 0], frames.slices[..., 0])
    assert len(back.slices) == 2


def test_a_scene_without_lamps_is_kept(tmp_path):
    """No lamp is a dark set, not an error."""
    frames = make(lights=())
    fr.write(tmp_path, frames)
    assert fr.read(tmp_path).slices.shape == (0, BANDS, ROWS, COLUMNS)


def test_slices_are_given_as_the_numbers_that_are_wanted():
    """As they are kept, or as doubles, whether there are lamps or none."""
    some = fr.LampSlices([np.full((1, 2, 3), 0.1, np.float32)])
    for slices in (some, fr.LampSlices([], (1, 2, 3))):
        assert np.asarray(slices).dtype == np.float32 and np.asarray(slices, dtype=float).dtype == np.float64


def test_slices_of_no_lamps_have_a_shape():
    """They are given their shape, have no rows, and lamps of another shape are refused."""
    none = fr.LampSlices([], (BANDS, ROWS, COLUMNS))
    assert len(none) == 0 and none.shape == (0, BANDS, ROWS, COLUMNS)
    assert np.asarray(none).shape == none.shape
    with pytest.raises(ValueError, match="slices of one shape"):
        fr.LampSlices([])
    with pytest.raises(ValueError, match="slices of one shape"):
        fr.LampSlices([np.zeros((1, 2, 3))], (BANDS, ROWS, COLUMNS))


def test_an_unchanged_lamp_is_not_written_again(tmp_path):
    """Changing one lamp costs one lamp: the other's file keeps its time of writing."""
    frames = make()
    fr.write(tmp_path, frames)
    kept, changed = lamp_file(tmp_path, 0), lamp_file(tmp_path, 1)
    os.utime(kept, ns=(10**18, 10**18))
    slices = np.array(frames.slices)
    slices[1] *= 2
    fr.write(tmp_path, fr.Frames(**{**vars(frames), "slices": slices}))
    assert kept.stat().st_mtime_ns == 10**18
    assert not changed.exists()
    assert np.array_equal(fr.read(tmp_path).slices[1], slices[1])


def test_frames_can_be_written_over_themselves(tmp_path):
    """Mapped slices may go back to the folder they are mapped from."""
    frames = make()
    fr.write(tmp_path, frames)
    back = fr.read(tmp_path)
    fr.write(tmp_path, fr.Frames(**{**vars(back), "version": "0.2.0"}))
    assert same(frames, fr.read(tmp_path))
    assert fr.read(tmp_path).version == "0.2.0"


@pytest.mark.parametrize("stop_after", range(8))
def test_an_interrupted_write_leaves_the_old_frames(tmp_path, monkeypatch, stop_after):
    """Wherever writing stops (2 lamps, 5 planes, the note), the frames of before are read whole."""
    old, new = make(seed=1), make(seed=2)
    fr.write(tmp_path, old)
    calls = []
    real = whole.whole_file

    def failing(path):
        calls.append(path)
        if len(calls) > stop_after:
            raise KeyboardInterrupt
        return real(path)

    monkeypatch.setattr(arrays, "whole_file", failing)
    monkeypatch.setattr(whole, "whole_file", failing)
    with pytest.raises(KeyboardInterrupt):
        fr.write(tmp_path, new)
    monkeypatch.undo()
    assert same(fr.read(tmp_path), old)
    # The next write takes away what the interrupted one left.
    fr.write(tmp_path, new)
    assert same(fr.read(tmp_path), new)
    assert len(list(tmp_path.iterdir())) == 1 + 2 + 5


def test_an_interrupt_inside_a_file_leaves_the_old_file(tmp_path):
    """A file is replaced only once it is whole, and no part of it stays behind."""
    path = tmp_path / "note.txt"
    path.write_text("old")
    with pytest.raises(KeyboardInterrupt), fr.whole_file(path) as part:
        part.write_text("half of the ne")
        raise KeyboardInterrupt
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]


def test_a_torn_lamp_is_found(tmp_path):
    """A file cut short is named and refused, whether or not checksums are requested."""
    fr.write(tmp_path, make())
    path = lamp_file(tmp_path, 1)
    path.write_bytes(path.read_bytes()[:-40])
    for verify in (True, False):
        with pytest.raises(fr.FramesError, match=f"{path.name} has .* bytes.*torn") as caught:
            fr.read(tmp_path, verify=verify)
        assert caught.value.advice.startswith("Render it again")


def test_a_flipped_bit_is_found(tmp_path):
    """A file of the right length with one bit changed does not match its checksum."""
    fr.write(tmp_path, make())
    path = next(tmp_path.glob("depth.*.npy"))
    content = bytearray(path.read_bytes())
    content[-3] ^= 1
    path.write_bytes(content)
    with pytest.raises(fr.FramesError, match="does not match its checksum"):
        fr.read(tmp_path)


@pytest.mark.parametrize(("old", "new"), [
    (b", }", b", ("),  # TokenError
    (b", }", b",,}"),  # SyntaxError
    (b" 'shape'", b"b'shape'"),  # TypeError
    (b"\x93NUMPY", b"\x93NUMPX"),
])
def test_a_damaged_head_is_found_without_checksums(tmp_path, old, new):
    """The numpy library reads it as a program's text, and raises what that raises."""
    fr.write(tmp_path, make())
    path = lamp_file(tmp_path, 0)
    content = path.read_bytes()
    assert content.count(old) == 1
    path.write_bytes(content.replace(old, new))
    assert path.stat().st_size == len(content)
    with pytest.raises(fr.FramesError, match=f"{path.name} cannot be read"):
        fr.read(tmp_path, verify=False)


def test_a_missing_lamp_is_found(tmp_path):
    """Frames that lost a file are refused with the file's name."""
    fr.write(tmp_path, make())
    path = lamp_file(tmp_path, 0)
    path.unlink()
    with pytest.raises(fr.FramesError, match=f"{path.name} is missing"):
        fr.read(tmp_path)


def test_an_array_of_another_kind_is_found(tmp_path):
    """Right name, size and checksum, but not the array that belongs there."""
    fr.write(tmp_path, make())
    head = json.loads((tmp_path / store.META_NAME).read_text())
    head.pop("seal")
    entry = head["plane_files"]["depth"]
    path = tmp_path / entry["file"]
    np.save(path, np.zeros((COLUMNS, ROWS), np.float32))
    content = path.read_bytes()
    entry |= {"bytes": len(content), "crc32": zlib.crc32(content)}
    whole.write_sealed(tmp_path / store.META_NAME, head)
    with pytest.raises(fr.FramesError, match=r"holds float32 \(8, 6\) and should hold"):
        fr.read(tmp_path)


def test_nothing_rendered_yet_is_said(tmp_path):
    """An empty folder is no frames, and the reader says what to do."""
    with pytest.raises(fr.FramesError, match="holds no finished frames") as caught:
        fr.read(tmp_path)
    assert caught.value.advice == "Render the scene first."


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("{", "cannot be read"),
        ("[1, 2]", "was not written by previz"),
        ('{"previz_frames": 99}', "was written by a newer previz: it has layout 99"),
        ('{"previz_frames": 1}', "was changed after it was written"),
        ('{"previz_frames": 1, "samples": NaN}', "cannot be read"),
        ('{"previz_frames": 1, "samples": 1e999}', "cannot be read"),
        ("[" * 100_000, "cannot be read"),
    ],
)
def test_foreign_notes_are_refused(tmp_path, text, words):
    """Torn, foreign, newer and edited notes each get their own words."""
    (tmp_path / store.META_NAME).write_text(text)
    with pytest.raises(fr.FramesError, match=words):
        fr.read(tmp_path)


def test_a_note_with_what_is_no_number_is_refused(tmp_path):
    """JSON of other programs has NaN; a note with one is harmed, and no reason to stop."""
    fr.write(tmp_path, make())
    path = tmp_path / store.META_NAME
    path.write_text(path.read_text().replace('"samples": 64', '"samples": NaN'))
    with pytest.raises(fr.FramesError, match="cannot be read"):
        fr.read(tmp_path)


def test_one_writer_keeps_the_next_one_waiting(tmp_path):
    """A folder that is being written to is written to by nobody else, until that is done."""
    entered, go_on = threading.Event(), threading.Event()

    def second():
        go_on.wait()
        with only_writer(tmp_path):
            entered.set()

    waiting = threading.Thread(target=second)
    waiting.start()
    with only_writer(tmp_path):
        go_on.set()
        assert not entered.wait(0.1)
    waiting.join(10)
    assert entered.is_set()


def test_a_lamp_is_not_written_while_another_writes(tmp_path):
    """Whoever holds the folder is waited for, whatever is to be written there."""
    lamp = Gathered(np.ones((2, 3, 4), np.float32), np.zeros((3, 4), np.float32), 8, 2, 2, 2.0, 8.0)
    writing = threading.Thread(target=lambda: write_lamp(tmp_path, lamp, 8, {}))
    with only_writer(tmp_path):
        writing.start()
        writing.join(0.1)
        assert writing.is_alive() and not (tmp_path / LAMP_NAME).exists()
    writing.join(10)
    assert read_lamp(tmp_path).samples == 8


def test_more_of_a_lamp_takes_the_place_of_less(tmp_path):
    """What has more samples stays, whoever writes last; as much again, and more, is written."""
    def put(samples, level):
        gathered = Gathered(np.full((2, 3, 4), level, np.float32), np.zeros((3, 4), np.float32), samples, 2,
                            2, 2.0, samples)
        write_lamp(tmp_path, gathered, samples, {"level": level})
        return read_lamp(tmp_path).note["level"]

    assert [put(8, 1), put(4, 2), put(8, 3), put(9, 4), put(8.5, 5)] == [1, 1, 3, 4, 4]


def test_swapped_lamp_names_are_found(tmp_path):
    """An edit of the note that would give lamps each other's light is refused."""
    fr.write(tmp_path, make())
    path = tmp_path / store.META_NAME
    head = json.loads(path.read_text())
    head["lights"].reverse()
    path.write_text(json.dumps(head))
    with pytest.raises(fr.FramesError, match="was changed after it was written"):
        fr.read(tmp_path)


def test_a_path_out_of_the_folder_is_refused(tmp_path):
    """A note cannot make the reader open files elsewhere."""
    fr.write(tmp_path / "A", make())
    head = json.loads((tmp_path / "A" / store.META_NAME).read_text())
    head.pop("seal")
    head["lamp_files"][0]["file"] = "../secret.npy"
    whole.write_sealed(tmp_path / "A" / store.META_NAME, head)
    with pytest.raises(fr.FramesError, match="names a file outside its folder"):
        fr.read(tmp_path / "A")


@pytest.mark.parametrize("value", [float("nan"), float("inf"), object()])
def test_values_that_json_cannot_hold_are_refused_before_writing(tmp_path, value):
    """A camera value that could not be read back stops the write at its start."""
    frames = make()
    frames.camera["focus"] = value
    with pytest.raises(ValueError):
        fr.write(tmp_path / "A", frames)
    assert not (tmp_path / "A").exists()


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"variance": np.zeros((2, ROWS, 1), np.float32)}, "variance must have shape"),
        ({"depth": np.zeros((1, 1), np.float32)}, "depth must have shape"),
        ({"band_edges_nm": np.arange(3)}, "band_edges_nm must have shape"),
        ({"band_edges_nm": np.zeros(BANDS + 1)}, "band edges must rise"),
        ({"band_edges_nm": np.array([380.0, 480, 470, 600, 780])}, "band edges must rise"),
        ({"lights": ("key",)}, "lights must name 2 lamps"),
        ({"lights": ("key", "key")}, "lights must differ"),
        ({"names": ("yard wall",)}, "names_index points past the 1 names"),
        ({"slices": np.zeros((2, 3), np.float32)}, "slices must be"),
    ],
)
def test_frames_that_contradict_themselves_cannot_be_made(change, words):
    """Each part is held against the slices when the record is made."""
    with pytest.raises(ValueError, match=words):
        fr.Frames(**{**vars(make()), **change})
