import sys

import numpy as np
import pytest

from previz.exposure import camera, mix
from previz.exposure.denoise import denoise


@pytest.fixture
def noisy(synthetic, settings):
    """A picture with 30 % grain in every pixel, and the same without."""
    lamps = synthetic.lamps()
    frames = synthetic.frames(144, 256, noise=0.3)
    clean = camera.expose(mix.mix_xyz(synthetic.frames(144, 256), lamps), settings)
    return camera.expose(mix.mix_xyz(frames, lamps), settings), clean, frames


def test_noise_goes_and_light_stays(noisy):
    """Denoising takes most of the noise and keeps the mean of each channel within 0.5 %.

    ecosystem.md section 2 measured the mean to 0.13 % on a render.
    """
    pytest.importorskip("mitsuba_oidn")
    picture, clean, frames = noisy
    done = denoise(picture, frames)
    assert done.applied and done.note == ""
    assert done.picture.shape == picture.shape and done.picture.dtype == np.float32
    np.testing.assert_allclose(done.picture.mean(axis=(1, 2)), picture.mean(axis=(1, 2)), rtol=5e-3)
    before, after = np.std(picture - clean), np.std(done.picture - clean)
    assert after < 0.25 * before


def test_the_same_picture_is_cleaned_alike(noisy):
    """Two calls agree bit for bit."""
    pytest.importorskip("mitsuba_oidn")
    picture, _, frames = noisy
    first, second = (denoise(picture, frames, quality="fast").picture for _ in range(2))
    assert np.array_equal(first, second)


def test_a_missing_denoiser_is_said_and_harmless(noisy, monkeypatch):
    """Without the package the picture comes back as it was, with words for the user."""
    picture, _, frames = noisy
    monkeypatch.setitem(sys.modules, "mitsuba_oidn", None)
    done = denoise(picture, frames)
    assert not done.applied
    assert np.array_equal(done.picture, picture)
    assert "not installed" in done.note and "mitsuba-oidn" in done.note


def test_a_denoiser_that_lacks_something_says_what(noisy, monkeypatch, tmp_path):
    """It is there, and what it needs in turn is not: that is named, and to install it again helps."""
    picture, _, frames = noisy
    (tmp_path / "mitsuba_oidn.py").write_text("import its_own_helper\n")
    monkeypatch.syspath_prepend(str(tmp_path))
    monkeypatch.delitem(sys.modules, "mitsuba_oidn", raising=False)
    done = denoise(picture, frames)
    assert not done.applied and np.array_equal(done.picture, picture)
    assert "cannot be loaded (No module named 'its_own_helper')" in done.note and "again" in done.note


def test_wrong_pictures_and_qualities_are_refused(noisy):
    """A picture of another size and a quality that does not exist are errors."""
    picture, _, frames = noisy
    with pytest.raises(ValueError, match="the picture must be"):
        denoise(picture[:, :5], frames)
    with pytest.raises(ValueError, match="quality must be one of"):
        denoise(picture, frames, quality="best")


def test_black_stays_black(noisy):
    """Where there is no light at all the filter leaves none."""
    picture, _, frames = noisy
    done = denoise(np.zeros_like(picture), frames)
    assert done.applied and done.note == "" and not np.any(done.picture)
