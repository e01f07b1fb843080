"""Archives of arrays: as they were written, or not at all."""

import os
import zipfile

import numpy as np
import pytest

from previz.frames.archives import read_archive, write_archive

KIND = "previz_meter"
ARRAYS = {"sums": np.arange(6.0).reshape(2, 3), "paths": np.array(4)}


@pytest.fixture
def path(tmp_path):
    """An archive."""
    write_archive(tmp_path / "a.npz", KIND, ARRAYS, {"lamps": ["key"]})
    return tmp_path / "a.npz"


def test_arrays_and_note_come_back(path):
    """Both, and nothing that was not given."""
    arrays, note = read_archive(path, KIND)
    assert arrays.keys() == ARRAYS.keys() and note == {"lamps": ["key"]}
    assert all(np.array_equal(arrays[label], ARRAYS[label]) for label in ARRAYS)
    assert read_archive(path.with_name("none.npz"), KIND) is None


def test_one_in_anothers_place_is_found_out(path):
    """A copy under another name is nothing; what says nothing of itself is of the layout that did not."""
    os.rename(path, path.with_name("b.npz"))
    assert read_archive(path.with_name("b.npz"), KIND) is None
    assert read_archive(path.with_name("b.npz"), KIND, of="a.npz") is not None
    np.savez(path, **ARRAYS)
    assert read_archive(path, KIND) is not None
    np.savez(path, **ARRAYS, previz_meter=1)
    assert read_archive(path, KIND) is None


def test_every_flipped_bit_is_harmless(path):
    """Of each byte one bit, in turn: what is read is what was written, or nothing, and nothing is raised.

    An entry that is lost from the container's list takes its array along, and nothing else.
    """
    data, read = path.read_bytes(), 0
    for at in range(len(data)):
        path.write_bytes(data[:at] + bytes([data[at] ^ 1 << at % 8]) + data[at + 1 :])
        found = read_archive(path, KIND)
        if found is not None:
            read += 1
            assert found[1] == {"lamps": ["key"]} and found[0].keys() == ARRAYS.keys()
            assert all(np.array_equal(found[0][label], ARRAYS[label]) for label in ARRAYS)
    assert read < len(data) / 4


def test_an_archive_that_lost_its_list_is_nothing(path):
    """What it ends with counts no members, as a few bad bytes leave it: that is no archive of none."""
    write_archive(path, KIND, {})
    assert read_archive(path, KIND) == ({}, {})
    np.savez(path, **ARRAYS)
    data = path.read_bytes()
    path.write_bytes(data[:-22] + data[-22:-14] + bytes(14))
    with zipfile.ZipFile(path) as emptied:
        assert emptied.namelist() == []
    assert read_archive(path, KIND) is None


def _array(path):
    with open(path, "wb") as file:
        np.save(file, np.arange(3.0))


def _member(path):
    with zipfile.ZipFile(path, "w") as file:
        file.writestr("sums.npy", "no array")


def _objects(path):
    np.savez(path, sums=np.array([{}], object))


def _deep(path):
    np.savez(path, sums=np.zeros(2), note=np.array("[" * 100_000))


@pytest.mark.parametrize("spoil", [
    _array, _member, _objects, _deep, lambda path: path.write_bytes(b""), lambda path: path.write_text("1"),
    lambda path: path.write_bytes(path.read_bytes()[:-30]), lambda path: (path.unlink(), path.mkdir()),
], ids=["array", "no array", "objects", "deep note", "empty", "text", "cut", "folder"])
def test_other_files_are_nothing(path, spoil):
    """What lies there and is no archive of numbers is as if it were not there."""
    spoil(path)
    assert read_archive(path, KIND) is None
