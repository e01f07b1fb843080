"""The view transform on the GPU against the one that stills go through."""

import base64

import numpy as np
import pytest

from previz.exposure.display import show_8bit
from previz.exposure.display_shader import FUNCTION, view_shader

pytestmark = pytest.mark.slow


def colours():
    """Return ACEScg colours over fourteen stops, grey and saturated, dark, clipped and black."""
    random = np.random.default_rng(5)
    grey = np.repeat(0.18 * 2.0 ** np.linspace(-9, 6, 600)[:, None], 3, axis=1)
    mixed = 0.18 * 2.0 ** random.uniform(-8, 5, (3000, 3))
    pure = np.eye(3)[random.integers(0, 3, 800)] * 2.0 ** random.uniform(-8, 4, (800, 1))
    return np.concatenate([grey, mixed, pure, np.zeros((200, 3))]).astype(np.float16)


def test_every_colour_is_the_stills(opened):
    """Greys, saturated colours and highlights reach the same code value on the GPU."""
    values = colours()
    # At rest nothing takes the place of what is set here.
    opened.settled()
    opened.page.evaluate(
        """([text, width, height]) => {
            const bytes = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
            previz.picture.setSettled(new Uint16Array(bytes.buffer), width, height);
        }""", [base64.b64encode(values.tobytes()).decode(), 46, 100])
    found = opened.pixels().reshape(-1, 3).astype(int)
    opened.page.evaluate("previz.table.changed(false)")
    expected = show_8bit(values.astype(np.float32).T.reshape(3, 100, 46)).reshape(-1, 3).astype(int)
    difference = np.abs(found - expected)
    # Both reckon in 32 bits; where a code is midway, either may round it.
    assert difference.max() <= 1
    assert (difference > 0).mean() < 0.01


def test_the_cube_is_near_enough_for_a_moving_hand(opened):
    """What slow machines show under a moving hand is within a few codes of the still."""
    opened.settled()
    whole = opened.pixels().astype(int)
    quick = opened.page.evaluate("""() => {
        const { table, picture, store } = previz, gl = picture.gl;
        picture.pass(null, picture.element.width, picture.element.height, table.exposure(),
            store.view, "cube");
        return [...picture.read(picture.element.width, picture.element.height)];
    }""")
    quick = np.array(quick).reshape(*whole.shape[:2], 4)[::-1, :, :3]
    difference = np.abs(quick - whole)
    assert difference.mean() < 1.0
    assert np.percentile(difference, 99) <= 4


def test_the_shader_carries_no_table_in_its_text():
    """Long arrays are lookups, and every table that the text names is there."""
    shader = view_shader()
    assert FUNCTION in shader.text
    assert "float[" not in shader.text
    for table in shader.tables:
        assert f"uniform sampler2D {table.sampler};" in shader.text
        assert table.values.dtype == np.float32 and table.values.ndim == 3
        assert np.all(np.isfinite(table.values))
