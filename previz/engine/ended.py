"""Whether a launch on the GPU came to its end.

macOS stops a launch that keeps the screen waiting (Apple, MTLCommandBufferError, timeout). Dr.Jit 1.5 asks
a launch neither for its status nor for its error, so that what it left half done would be taken for light. So
launches there are short, and each lane leaves a mark at its end that no earlier launch has left.
"""

from __future__ import annotations

import itertools

import numpy as np

from previz.engine import backend
from previz.errors import EngineError

MOST_PATHS = 1 << 20
"""Most paths of one launch where it may be stopped.

From memory, and not tried: what takes some seconds is stopped, and a slow GPU traces a million paths in
one.
"""

_turns = itertools.count(1)


def watched() -> bool:
    """Return whether a launch may be stopped unheard here."""
    return backend.running() == backend.METAL


def launch_floats(most: int, floats: int, samples: int) -> int:
    """Return the most sums of one launch, of pixels with so many sums and paths each; `most` elsewhere."""
    return min(most, floats * max(1, MOST_PATHS // max(1, samples))) if watched() else most


class Ended:
    """The mark that every lane of one launch leaves: how many samples it has traced, changed by a `turn`."""

    def __init__(self):
        self.turn = next(_turns) * 0x9E3779B9 % (1 << 32)

    def hold(self, marks, samples) -> None:
        """Raise EngineError unless every lane has traced so many samples, an int or one each, to its end."""
        if not np.all(np.array(marks) == np.asarray(samples, np.uint32) ^ np.uint32(self.turn)):
            raise EngineError("The system has stopped the GPU before its work was done.",
                              "Close what else uses it, or render with --backend processor.")
