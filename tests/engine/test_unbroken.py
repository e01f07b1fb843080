"""An interrupt in the middle of adding a pass comes after it: what is kept is of whole passes."""

import signal
import sys
from types import SimpleNamespace

import numpy as np
import pytest

from previz.engine.gather import SAMPLES, THREADS, Gather
from previz.engine.jit import mi
from previz.engine.render import CameraJob
from previz.engine.sums import PassSums, Sums
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


@pytest.fixture
def interrupts():
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


def sums():
    """The sums of 4x2 pixels, in two strips."""
    return Sums([(0, 1), (1, 1)], 4, Buffers.lamps, Buffers.bands, np.full(3, 1 / 3))


def a_pass():
    """A pass of two paths a pixel."""
    values = np.random.default_rng(1).random((2, 24), np.float32)
    return PassSums([mi.Float(each) for each in values], 2)


def test_a_pass_that_is_interrupted_is_in(interrupts, monkeypatch):
    """Every strip of it, with its weight."""
    whole, left, add_strip = sums(), sums(), Sums._add_strip
    whole.add(a_pass())

    def interrupted(*words):
        signal.raise_signal(signal.SIGINT)
        add_strip(*words)

    monkeypatch.setattr(Sums, "_add_strip", interrupted)
    with pytest.raises(KeyboardInterrupt), unbroken():
        left.add(a_pass())
    assert whole.mean.any()
    assert np.array_equal(whole.mean, left.mean) and np.array_equal(whole.scatter, left.scatter)
    assert (left.weight, left.passes, left.torn) == (2, 1, False)


def test_a_pass_that_fails_is_torn(monkeypatch):
    """Memory that runs out between two strips leaves what must not be kept."""
    left, add_strip = sums(), Sums._add_strip

    def failing(self, index, *words):
        if index:
            raise MemoryError
        add_strip(self, index, *words)

    monkeypatch.setattr(Sums, "_add_strip", failing)
    with pytest.raises(MemoryError):
        left.add(a_pass())
    assert left.torn and left.passes == 0


class Transport:
    """Finds no light."""

    def __init__(self, *_):
        pass

    def run(self, first, count, samples, seed):
        return np.zeros(count * 2 * Buffers.lamps * Buffers.bands)


def test_a_picture_adds_its_pass_unbroken(interrupts, monkeypatch):
    """As above, of the step that a render makes."""
    made, add = CameraJob.__new__(CameraJob), Sums.add
    made.buffers, made.width, made.top, made.sums = Buffers, 4, 0, sums()
    made.sampling, made.transport = SimpleNamespace(seed=1), Transport()
    made.transport.run = lambda *_: mi.Float(np.ones(4 * 2 * 3))

    def interrupted(*words):
        signal.raise_signal(signal.SIGINT)
        add(*words)

    monkeypatch.setattr(Sums, "add", interrupted)
    with pytest.raises(KeyboardInterrupt):
        made.step(2)
    assert made.done == 1 and made.sums.passes == 1


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
