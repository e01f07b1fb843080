import numpy as np
import pytest

from previz.exposure import display


def patch(*rgb):
    return np.array(rgb, dtype=np.float32)[:, None, None] * np.ones((3, 2, 3), np.float32)


def test_mid_grey_is_where_aces_2_puts_it():
    """18 % grey shows at sRGB code 0.349 (OpenColorIO 2.6.0 run for ecosystem.md, section 4)."""
    np.testing.assert_allclose(display.show(patch(0.18, 0.18, 0.18)), 0.349, atol=5e-4)
    # 0.3492 · 255 = 89.04
    assert np.all(display.show_8bit(patch(0.18, 0.18, 0.18)) == 89)


def test_grey_stays_grey_and_order_stays():
    """A grey scale comes out grey and rising, from black to white."""
    scale = np.float32(0.18) * 2.0 ** np.arange(-8, 8, 0.5, dtype=np.float32)
    shown = display.show(np.broadcast_to(scale, (3, 1, scale.size)))[0]
    np.testing.assert_allclose(shown, shown[:, :1].repeat(3, axis=1), atol=2e-3)
    assert np.all(np.diff(shown[:, 1]) > -1e-6)
    assert shown[0, 1] < 0.03 and shown[-1, 1] > 0.97


def test_the_picture_given_is_not_changed():
    """Showing a picture leaves its linear values alone, however they lie in memory."""
    picture = patch(0.5, 0.2, 0.1)
    interleaved = np.moveaxis(np.ascontiguousarray(np.moveaxis(picture, 0, -1)), -1, 0)
    for given in (picture, interleaved):
        before = given.copy()
        display.show(given)
        assert np.array_equal(given, before)


@pytest.mark.parametrize("rgb", [(-0.1, 0.2, 0.3), (500.0, 1.0, 0.0), (0.0, 0.0, 0.0)])
def test_any_scene_value_gives_a_code(rgb):
    """Colours outside the space, very bright and black pixels all end between 0 and 1."""
    shown = display.show(patch(*rgb))
    assert np.all(np.isfinite(shown)) and shown.min() >= 0 and shown.max() <= 1
