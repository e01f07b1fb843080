"""An interrupt in the middle of adding a pass comes after it: what is kept is of whole passes."""

import signal
import sys
from types import SimpleNamespace

import numpy as np
import pytest

from previz.engine.gather import SAMPLES, THREADS, Gather
from previz.engine.render import CameraJob
from previz.engine.unbroken import unbroken
from previz.frames.batches import BATCHES, Batches


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_an_interrupt_waits_for_the_end(number):
    """It is heard once, after the block, by whoever hears it outside; afterwards all is as before."""
    def hear(*_):
        raise KeyboardInterrupt

    usual, steps = signal.signal(number, hear), []
    try:
        with pytest.raises(KeyboardInterrupt), unbroken():
            for _ in range(2):
                signal.raise_signal(number)
                steps.append(1)
        assert len(steps) == 2 and signal.getsignal(number) is hear
        with pytest.raises(ValueError, match="wrong"), unbroken():
            raise ValueError("wrong")
        assert signal.getsignal(number) is hear
    finally:
        signal.signal(number, usual)


class Buffers:
    """Of two lamps and three bands."""

    lamps, bands = 2, 3


class Interrupting(np.ndarray):
    """Sums that interrupt when they are divided by their paths, the first thing that is done to them."""

    def __itruediv__(self, other):
        signal.raise_signal(signal.SIGINT)
        return np.ndarray.__itruediv__(self, other)


@pytest.fixture
def interrupts():
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


def job():
    """A render of 4x2 pixels, as far as adding passes goes."""
    made = CameraJob.__new__(CameraJob)
    made.buffers, made.width, made.top, made.rows = Buffers, 4, 0, 2
    made.mean, made.scatter = np.zeros((8, 2, 3), np.float32), np.zeros((8, 2), np.float32)
    made.weights = np.full(3, 1 / 3, np.float32)
    made.weight = made.inverse = made.spread = 0.0
    made.done = made.next_pass = 0
    return made


def parts(kind=np.ndarray):
    sums = np.random.default_rng(1).random((8, 2, 3), np.float32)
    return [(slice(0, 4), sums[:4].view(kind), 2), (slice(4, 8), sums[4:].view(kind), 2)]


def test_a_pass_that_is_interrupted_is_in(interrupts):
    """Every strip of it, with its weight."""
    whole, left = job(), job()
    whole._add(parts(), 2, None)
    with pytest.raises(KeyboardInterrupt), unbroken():
        left._add(parts(Interrupting), 2, None)
    assert np.array_equal(whole.mean, left.mean) and np.array_equal(whole.scatter, left.scatter)
    assert (left.weight, left.done, left.torn) == (2, 1, False)


def test_a_pass_that_fails_is_torn():
    """Memory that runs out between two strips leaves what must not be kept."""
    class Failing(np.ndarray):
        def __itruediv__(self, other):
            raise MemoryError

    left, strips = job(), parts()
    strips[1] = parts(Failing)[1]
    with pytest.raises(MemoryError):
        left._add(strips, 2, None)
    assert left.torn and left.done == 0


class Transport:
    """Finds no light."""

    def __init__(self, *_):
        pass

    def run(self, first, count, samples, seed):
        return np.zeros(count * 2 * Buffers.lamps * Buffers.bands)


def test_a_picture_adds_its_pass_unbroken(interrupts, monkeypatch):
    """As above, of the step that a render makes."""
    added, made = [], job()
    made.sampling, made.transport = SimpleNamespace(seed=1), Transport()
    made.transport.run = lambda *_: np.zeros(8 * 2 * 3)

    def add(*_):
        signal.raise_signal(signal.SIGINT)
        added.append(1)

    made._add = add
    with pytest.raises(KeyboardInterrupt):
        made.step(2)
    assert added == [1]


def test_a_meter_adds_its_round_unbroken(interrupts, monkeypatch):
    """Light and the number of its paths come together."""
    monkeypatch.setitem(sys.modules, "previz.engine.kernel", SimpleNamespace(Transport=Transport))
    made = Gather.__new__(Gather)
    made.buffers, made.seed, made.stream, made.limits = Buffers, 1, 0, None
    made.batches = Batches.empty(["face"], ["key", "rim"], 3)
    made.starts = lambda which, samples, seed: [(which, None)]
    add = made.batches.add

    def interrupted(_, *words):
        signal.raise_signal(signal.SIGINT)
        add(*words)

    monkeypatch.setattr(Batches, "add", interrupted)
    with pytest.raises(KeyboardInterrupt):
        made.step()
    assert made.batches.rounds.tolist() == [1]
    assert made.batches.paths.tolist() == [SAMPLES * THREADS // BATCHES]
