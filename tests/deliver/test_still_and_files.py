
import numpy as np
import pytest
from delivered import read_words
from PIL import Image

from previz.deliver import atomic


def test_a_still_keeps_its_pixels_and_its_words(tmp_path):
    """PNG is lossless, and what the file says of itself comes back in any script."""
    picture = np.random.default_rng(0).integers(0, 256, (9, 16, 3), dtype=np.uint8)
    words = {"Title": "Signal cabin – früh", "Description": "Сигнал, 信号", "camera": "A"}
    path = tmp_path / "a" / "still.png"
    atomic.write_still(path, picture, words)
    with Image.open(path) as image:
        assert np.array_equal(np.asarray(image), picture)
        # An sRGB chunk with the perceptual intent (PNG, 11.3.3.5).
        assert image.info["srgb"] == 0
    assert read_words(path) == words


def test_the_same_still_is_the_same_file(tmp_path):
    """No time or chance gets into the file."""
    picture = np.zeros((4, 4, 3), np.uint8)
    for name in ("a.png", "b.png"):
        atomic.write_still(tmp_path / name, picture, {"Title": "yard"})
    assert (tmp_path / "a.png").read_bytes() == (tmp_path / "b.png").read_bytes()


@pytest.mark.parametrize("keyword", ["", "x" * 80, "Größe"])
def test_keywords_follow_the_standard(keyword):
    """PNG keywords have 1 to 79 plain letters."""
    with pytest.raises(ValueError, match="a PNG keyword has"):
        atomic.packed_png(Image.new("RGB", (1, 1)), {keyword: "text"})


def test_an_interrupted_file_leaves_the_old_one(tmp_path, monkeypatch):
    """If the disk fails midway, the file of before is still there and nothing else is."""
    path = tmp_path / "plan.svg"
    atomic.write_text(path, "old – whole")

    def fail(*_):
        raise OSError("no space left")

    monkeypatch.setattr("os.replace", fail)
    with pytest.raises(OSError, match="no space left"):
        atomic.write_text(path, "new")
    assert path.read_text(encoding="utf-8") == "old – whole"
    assert list(tmp_path.iterdir()) == [path]
