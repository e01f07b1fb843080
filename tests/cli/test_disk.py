"""A disk that is full or closed is reported in words, and as early as it can be seen."""

import errno
import os

import pytest

from previz.cli.disk import disk_words
from previz.cli.main import main
from previz.errors import RequestError
from previz.studies.folders import out_folder


def test_a_full_disk_is_reported_with_what_to_do():
    """An error of the disk, or one that it is behind; any other is not explained away."""
    full = OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), "frames/a.npy")
    words = disk_words(full)
    assert words.startswith("'frames/a.npy': no space left on device.")
    assert "the same command goes on" in words
    behind = RuntimeError("cannot write")
    behind.__cause__ = full
    assert disk_words(behind) == words
    assert disk_words(ValueError("2")) == ""
    assert disk_words(OSError(errno.ECONNREFUSED, "refused")) == ""


def test_a_file_in_the_place_of_the_folder_is_reported_before_any_work(tmp_path):
    """Also where the file is further up, and nothing is made on the way."""
    (tmp_path / "taken").write_text("kept")
    for out in (tmp_path / "taken", tmp_path / "taken" / "below"):
        with pytest.raises(RequestError, match="is a file"):
            out_folder(out, tmp_path / "a.yaml")
    assert (tmp_path / "taken").read_text() == "kept"
    assert out_folder(tmp_path / "new" / "one", tmp_path / "a.yaml") == tmp_path / "new" / "one"
    assert not (tmp_path / "new").exists()


def test_a_folder_that_is_closed_is_reported(tmp_path, monkeypatch):
    """Rights are checked, as an account that may do all would not notice; reading needs none."""
    monkeypatch.setattr("os.access", lambda *_: False)
    with pytest.raises(RequestError, match="Nothing can be written"):
        out_folder(tmp_path, tmp_path / "a.yaml")
    assert out_folder(tmp_path, tmp_path / "a.yaml", write=False) == tmp_path


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EACCES, errno.EISDIR])
def test_the_program_ends_with_2_and_no_traceback(monkeypatch, capsys, number):
    """Whatever command meets it."""
    def full(**_):
        raise OSError(number, os.strerror(number), "renders/x")

    monkeypatch.setattr("previz.cli.main.previz.main", full)
    with pytest.raises(SystemExit) as end:
        main(["list"])
    assert end.value.code == 2
    result = capsys.readouterr().err
    assert result.startswith("'renders/x': ") and "fault" not in result
