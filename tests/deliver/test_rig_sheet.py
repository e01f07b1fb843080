"""The rig in a picture: marked on the still, numbered, and listed thing by thing."""

import numpy as np
import pytest
from drawn import drawn
from samples import spotted

from previz.deliver.layout import Setting
from previz.deliver.rig_sheet import KEPT, STRAY, marked, rig_blocks, rig_text
from previz.exposure.comparing.coverage import FAINT, GLASS, IN_FRAME, Sighting


def test_the_rig_is_marked_and_listed():
    """What is seen is marked where it is, numbered and listed; what is too faint is named alone."""
    still = np.full((90, 160, 3), 40, np.uint8)
    here, there = np.zeros((45, 80), bool), np.zeros((45, 80), bool)
    here[10:20, 10:30], there[30:40, 60:70] = True, True
    things = [spotted("bulb", mask=here, on_purpose=True, side="upper left"),
              spotted("key", mask=there, side="lower right", within="window", by=GLASS, lift=1.25),
              spotted("camera A", FAINT, mask=there, within="window", by=GLASS)]
    setting = Setting(1600)
    words = drawn(rig_blocks(still, things, setting, title="Cabin", subject="A"), setting).words
    assert {"1", "2", "itself", "in the glass of window", "left in shot", "not meant to be seen",
            "1.2", "1 not meant to be seen"} <= set(words)
    assert any("camera A in the glass of window" in text for text in words)
    assert "3" not in words
    painted = marked(still, things[:2], (160, 90), 6.0)
    # The lines lie round the things, and the things themselves stay as they were.
    assert np.all(painted[22:38, 22:58] == 40)
    rows, columns = np.nonzero(np.all(painted == STRAY, axis=-1))
    assert 55 < rows.min() < 61 and 78 < rows.max() < 84
    assert 114 < columns.min() < 121 and 138 < columns.max() < 144
    around = np.all(painted[15:45, 15:65] == KEPT, axis=-1).sum()
    # A line of two pixels round 60 by 20 pixels, corners included.
    assert around >= 2 * 2 * (40 + 20)
    alone = drawn(rig_blocks(still, [], setting, title="Cabin", subject="A"), setting)
    assert any("is in this picture" in text for text in alone.words)


@pytest.mark.parametrize(("lift", "expected"), [
    (None, "key, left, 0.4 % of the frame: not meant to be seen"),
    (1.23, "key in the glass of window, left, 0.4 % of the frame, brightens its place by "
           "1.2 stops: not meant to be seen"),
    (6.0, "key in the glass of window, left, 0.4 % of the frame, the only light there: not meant "
          "to be seen"),
])
def test_a_sighting_in_a_line(lift, expected):
    """What, where, how large, how it stands out, and whether it was meant."""
    more = {} if lift is None else {"within": "window", "by": GLASS, "lift": lift}
    assert rig_text(Sighting("key", "lamp", IN_FRAME, 0.004, False, "left", **more)) == expected


@pytest.mark.parametrize("box", [(0.0, 0.0, 0.1, 0.1), (0.95, 0.0, 1.0, 0.1), (0.4, 0.5, 0.6, 0.7)])
def test_a_number_stands_on_the_picture(box):
    """Over its thing where there is room, else under the picture's upper edge; never beside it."""
    still, mask = np.full((90, 160, 3), 40, np.uint8), np.zeros((45, 80), bool)
    mask[1:4, 1:4] = True
    setting = Setting(1600)
    things = [spotted("key", mask=mask, box=box)]
    canvas = drawn(rig_blocks(still, things, setting, title="Yard", subject="A"), setting)
    shown = canvas.pictures[0]
    (number,) = (each for each in canvas.boxes if each.text == "1" and each.bottom < shown.bottom)
    assert shown.left <= number.left and number.right <= shown.right and shown.top <= number.top
    if box[1]:
        assert number.bottom < shown.top + box[1] * (shown.bottom - shown.top)
