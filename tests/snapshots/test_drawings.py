"""Snapshots: what blocking drawings of everything show and say."""

import numpy as np
import pytest
import snapshot

from previz.deliver.blocking.drawing import draw_view
from previz.deliver.blocking.gl import GlContext, NoGraphicsError
from previz.deliver.blocking.views import blocking_views

SIZE, ACROSS, UP = (480, 270), 12, 8


@pytest.fixture(scope="module")
def drawings(built):
    """The drawings through both cameras and from above; left out where this machine has no GL."""
    stage = built("everything")
    try:
        context = GlContext()
    except NoGraphicsError as error:
        pytest.skip(f"no GL here: {error}")
    try:
        return [draw_view(view, context.first_hits(view.stage, view.camera, *view.grid), SIZE)
                for view in blocking_views(stage, SIZE)]
    finally:
        context.close()


def parts(image):
    """How bright each part of a picture is, from 0 to 1."""
    pixels = np.asarray(image.convert("L"), float) / 255
    rows, columns = (np.linspace(0, size, count + 1).astype(int)[:-1]
                     for size, count in zip(pixels.shape, (UP, ACROSS), strict=True))
    summed = np.add.reduceat(np.add.reduceat(pixels, rows, axis=0), columns, axis=1)
    return (summed / (pixels.size / summed.size)).ravel()


def test_snapshot_drawings(drawings):
    """Each part of each drawing is as dark as it was; drivers of GL differ at edges, by under a hundredth."""
    now = {f"{number} {k}": round(float(part), 4) for number, each in enumerate(drawings)
           for k, part in enumerate(parts(each.image))}
    if snapshot.KEEP:
        snapshot.keep("drawings", "parts", now)
        return
    before = snapshot.kept("drawings")["parts"]
    off = np.abs([now[key] - value for key, value in before.items()])
    assert now.keys() == before.keys() and off.max() < 0.02 and off.mean() < 1e-3, "see tests/snapshot.py"
