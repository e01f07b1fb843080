"""Snapshots: what stands where on each sheet: words, rules, marks and pictures of its sample."""

import sys
from pathlib import Path

import numpy as np
import pytest
import snapshot

sys.path.insert(0, str(Path(__file__).parents[1] / "deliver"))

from drawn import drawn
from samples import SHEETS

from previz.deliver.layout import Setting

WIDTH, ACROSS, UP = 1000, 12, 16


def numbers_of(canvas):
    """Words in their order, where they begin, how large they are, how bright each part of the paper is."""
    lines, (width, height) = canvas._lines, canvas.size
    weights = snapshot.weights(len(lines))
    places = np.array([line.at for line in lines]) / width
    found = {"words": snapshot.number([line.text for line in lines]), "high": height / width,
             "across": float(weights @ places[:, 0] / len(lines)),
             "down": float(weights @ places[:, 1] / len(lines)),
             "sizes": snapshot.number([f"{line.weight} {line.align} {line.size}" for line in lines])}
    pixels = np.asarray(canvas.image.convert("L"), float) / 255
    rows, columns = (np.linspace(0, size, count + 1).astype(int)[:-1]
                     for size, count in zip(pixels.shape, (UP, ACROSS), strict=True))
    parts = np.add.reduceat(np.add.reduceat(pixels, rows, axis=0), columns, axis=1)
    found["bright"] = float(snapshot.weights(parts.size) @ parts.ravel() / pixels.size)
    return {name: round(value, 6) for name, value in found.items()}


@pytest.mark.parametrize("name", SHEETS)
def test_snapshot_sheet(name):
    """A sheet of the same numbers is the same sheet, to a thousandth of its width."""
    setting = Setting(WIDTH)
    snapshot.hold("sheets", name, numbers_of(drawn(SHEETS[name](setting), setting)), 2e-5)
