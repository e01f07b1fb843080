"""What is kept can be seen, bounded and cleared; what was not used for longest goes first."""

import os
import time
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from previz import frames as fr
from previz.cli.main import main, previz
from previz.frames.arrays import META_NAME
from previz.frames.gathered import Gathered
from previz.frames.lamp_files import LAMP_NAME, read_lamp, read_note, write_lamp
from previz.rendering.cache.limit import USUAL_LIMIT, kept_in, limit_of, make_room, set_limit, size_of

ROWS, COLUMNS, BANDS = 40, 60, 8
KEYS = [f"{k:032x}" for k in range(4)]
BODIES, PICTURE = "b" * 16, "c" * 32
ONE = ROWS * COLUMNS * 4 * (BANDS + 1)  # Bytes of one lamp: its slices and their scatter.


def gathered(seed=1, passes=2):
    random = np.random.default_rng(seed)
    slices = random.random((BANDS, ROWS, COLUMNS), dtype=np.float32)
    return Gathered(slices, slices.mean(axis=0), 8.0 * passes, passes, passes, float(passes),
                    8.0 * passes)


def result(lamp):
    return {"lamp": lamp, "camera": "A", "settings": {"size": [COLUMNS, ROWS]}}


@pytest.fixture
def cache(tmp_path):
    """A cache of four lamps, the first used longest ago, and a picture of two of them."""
    cache = tmp_path / "renders" / "office" / "frames"
    for k in range(4):
        write_lamp(cache / "lamps" / KEYS[k] / BODIES, gathered(k), 16.0, result(f"lamp {k}"))
    files = [read_lamp(cache / "lamps" / KEYS[k] / BODIES) for k in range(2)]
    grid = (ROWS, COLUMNS)
    made = fr.Frames(fr.LampSlices([f.gathered.slices for f in files]),
                     np.ones((2, *grid), np.float32), np.ones((3, *grid), np.float32),
                     np.ones((3, *grid), np.float32), np.ones(grid, np.float32),
                     np.zeros(grid, np.int32), ("lamp 0", "lamp 1"), ("set",),
                     np.linspace(380, 780, BANDS + 1), 16, 1)
    fr.write(cache / PICTURE, made, [(f.folder, f.entry) for f in files])
    now = time.time()
    notes = [cache / "lamps" / KEYS[k] / BODIES / LAMP_NAME for k in range(4)]
    for age, note in zip((9, 8, 7, 6, 5), [*notes, cache / PICTURE / META_NAME], strict=True):
        os.utime(note, (now - 86400 * age,) * 2)
    return cache


def names(cache):
    return sorted(path.parent.parent.name for path in cache.glob(f"lamps/*/*/{LAMP_NAME}"))


def test_a_lamp_comes_back_as_it_was(tmp_path):
    """All that was gathered survives the disk to the last bit, uneven passes too."""
    given = gathered()
    uneven = Gathered(given.slices, given.scatter, 16.0, 2, 5, given.scatter + 1, given.scatter + 9)
    for number, each in enumerate((given, uneven)):
        write_lamp(tmp_path / str(number), each, 32.0, result("key"))
        back = read_lamp(tmp_path / str(number))
        assert (back.samples, back.note["lamp"]) == (32.0, "key")
        assert back.gathered.same_passes(each)
        assert np.array_equal(back.gathered.slices, each.slices)
        assert np.array_equal(back.gathered.variance, each.variance)
    assert not given.same_passes(uneven)


def test_less_never_takes_the_place_of_more(tmp_path):
    """What another process has rendered meanwhile stays if it has more samples."""
    write_lamp(tmp_path, gathered(1), 64.0, result("key"))
    write_lamp(tmp_path, gathered(2), 32.0, result("key"))
    assert read_lamp(tmp_path).samples == 64.0
    write_lamp(tmp_path, gathered(3), 128.0, result("key"))
    back = read_lamp(tmp_path)
    assert np.array_equal(back.gathered.slices, gathered(3).slices)
    # The files of before are gone.
    assert len(list(tmp_path.glob("*.npy"))) == 2


def test_shared_files_count_once(cache):
    """Four lamps and a picture of two of them take the place of four lamps and its planes."""
    planes = ROWS * COLUMNS * 4 * (2 + 3 + 3 + 1 + 1)
    whole = size_of(kept_in(cache))
    # Next to the numbers there are heads and notes, under a kilobyte a file.
    assert 4 * ONE + planes < whole < 4 * ONE + planes + 30_000


def test_the_oldest_goes_first(cache):
    """Room for three lamps: the one used longest ago goes, then the next, and no more."""
    most = size_of(kept_in(cache)) - ONE
    removed = make_room(cache, most)
    # Lamp 0's slices are in the picture too: they take their place until that goes; so lamp 1
    # goes as well, and lamp 2, whose going frees enough.
    assert [r.path.parent.name for r in removed] == KEYS[:3]
    assert size_of(kept_in(cache)) <= most
    assert fr.read(cache / PICTURE).lights == ("lamp 0", "lamp 1")
    assert names(cache) == KEYS[3:]


def test_what_is_in_use_stays(cache):
    """Whatever the limit, nothing goes that was used in the last minutes."""
    note = cache / "lamps" / KEYS[0] / BODIES / LAMP_NAME
    os.utime(note)
    make_room(cache, 0)
    assert names(cache) == KEYS[:1]
    assert make_room(cache, 0) == []
    make_room(cache, 0, in_use=0.0)
    assert names(cache) == []


def test_the_limit_is_kept(cache):
    """A limit that was set holds from then on; a torn one is the usual."""
    assert limit_of(cache) == USUAL_LIMIT
    set_limit(cache, 123)
    assert limit_of(cache) == 123
    note = cache / "limit.json"
    note.write_text(note.read_text()[:40])
    assert limit_of(cache) == USUAL_LIMIT
    set_limit(cache, 124)
    # One that previz did not write is left.
    note.write_text("{}")
    with pytest.raises(fr.FramesError, match="Move it away"):
        set_limit(cache, 125)
    assert note.read_text() == "{}"


def test_the_command_shows_bounds_and_clears(cache, monkeypatch):
    """`previz cache` lists what is kept in the words of a set; --clear leaves delivered files."""
    monkeypatch.chdir(cache.parents[2])
    still = cache.parent / "A.png"
    still.write_bytes(b"still")
    shown = CliRunner().invoke(previz, ["cache"]).output
    assert "camera A, 60x40, lamp by lamp (4)" in shown
    assert "of at most 20.0 GB" in shown
    shown = CliRunner().invoke(previz, ["cache", "office.yaml", "--limit", "500 MB"]).output
    assert "of at most 500.0 MB" in shown
    CliRunner().invoke(previz, ["cache", "office.yaml", "--clear"])
    assert not kept_in(cache)
    assert limit_of(cache) == 500_000_000
    assert still.read_bytes() == b"still"
    nothing = CliRunner().invoke(previz, ["cache", "--out", "nowhere"]).output
    assert "Nothing is kept" in nothing


@pytest.mark.parametrize(("words", "result"), [
    (("cache", "--limit", "much"), "'much' is no size on a disk; write '500 MB' or '20 GB'."),
    (("render", "a.yaml", "--noise", "none"), "'none' is no share; write '2%'"),
    (("render", "a.yaml", "--noise", "0%"), "'0%' is no share"),
    (("render", "a.yaml", "--time-budget", "soon"), "'soon' is no span of time; write '90 s'"),
])
def test_wrong_words_are_reported(capsys, words, result):
    """A value that cannot be is reported with one that can, and ends with 2."""
    with pytest.raises(SystemExit) as stop:
        main(list(words))
    assert stop.value.code == 2
    assert result in capsys.readouterr().err


def test_a_foreign_note_is_no_lamp(tmp_path):
    """What previz did not write is refused with its name."""
    (tmp_path / LAMP_NAME).write_text('{"something": 1}')
    with pytest.raises(fr.FramesError, match="was not written by previz"):
        read_note(tmp_path)


def test_marks_of_meters_that_are_gone_go_too(tmp_path):
    """What a meter was found by stays as long as the meter, and no empty folders are left."""
    from previz.rendering.cache.meters import sweep_marks

    one, other, kept, gone = ("1" * 32, "2" * 32, "a" * 32, "d" * 32)
    meters = tmp_path / "meters"
    for name in (f"near/{one}/{kept}.npz", f"near/{one}/{gone}.npz", f"near/{other}/{gone}.npz",
                 f"{kept}.npz"):
        path = meters / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.touch()
    sweep_marks(tmp_path)
    assert [p.stem for p in meters.glob("near/*/*")] == [kept]
    assert not (meters / "near" / other).exists()
    (meters / f"{kept}.npz").unlink()
    sweep_marks(tmp_path)
    assert not (meters / "near").exists()


def test_what_another_process_removes_meanwhile_is_no_fault(cache, monkeypatch):
    """A file that has no name yet is there when it is listed, and gone when it is measured."""
    before, part = kept_in(cache), cache / "meters" / f".{'a' * 32}.npz.{'0' * 12}.part"
    part.parent.mkdir()
    part.write_bytes(b"PK")
    scandir = os.scandir

    def listed(folder):
        entries = list(scandir(folder))
        if Path(folder) == part.parent:
            part.unlink()
        return entries

    monkeypatch.setattr(os, "scandir", listed)
    assert kept_in(cache) == before
    assert not part.exists()
