"""Work on several threads comes back in order, and its errors too; pictures are cut into all their rows."""

import threading

import numpy as np
import pytest

from previz.exposure import display
from previz.frames import abreast


@pytest.fixture(autouse=True)
def three_cores(monkeypatch):
    monkeypatch.setattr(abreast, "cores", lambda: 3)


def test_results_come_in_the_order_of_the_items():
    """The first waits for the last, so they run side by side; what comes of them is in order all the same."""
    last = threading.Event()

    def work(number):
        if number == 2:
            last.set()
        assert last.wait(5)
        return 10 * number

    assert abreast.abreast(work, range(3)) == [0, 10, 20]


def test_the_first_error_is_raised():
    """Of several pieces that fail the first one's error comes, whichever was quicker."""
    second = threading.Event()

    def work(number):
        if number == 0:
            second.wait(5)
        second.set()
        raise ValueError(f"piece {number}")

    with pytest.raises(ValueError, match="piece 0"):
        abreast.abreast(work, range(3))


def test_a_picture_in_parts_is_the_whole_picture(monkeypatch):
    """Shown in parts of uneven size, every pixel is what it is when all are shown at once."""
    picture = np.random.default_rng(1).gamma(0.3, 1.0, (3, 211, 333)).astype(np.float32) - np.float32(0.05)
    monkeypatch.setattr(abreast, "LEAST_PIXELS", 10_000)
    assert [part.stop - part.start for part in abreast.row_parts(211, 333)] == [70, 70, 71]
    parts = display.show(picture), display.show_8bit(picture)
    monkeypatch.setattr(abreast, "cores", lambda: 1)
    assert abreast.row_parts(211, 333) == [slice(0, 211)]
    whole = display.show(picture), display.show_8bit(picture)
    for one, two in zip(parts, whole, strict=True):
        assert np.array_equal(one, two)
