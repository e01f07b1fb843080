from dataclasses import replace

import numpy as np
import pytest

from previz import frames as fr
from previz.exposure import mix
from previz.physics.light import lamp_band_xyz


def brute_force(frames, lamps):
    """Sum lamp by lamp, band by band, in double precision."""
    total = np.zeros((3, *frames.shape))
    for number, lamp in enumerate(lamps):
        weights = lamp_band_xyz(lamp, frames.slices.shape[1])
        for band in range(frames.slices.shape[1]):
            total += weights[band][:, None, None] * frames.slices[number, band].astype(float)
    return total


def test_mixing_is_the_weighted_sum(synthetic):
    """The fast mix equals the plain double loop over lamps and bands."""
    frames, lamps = synthetic.frames(30, 50), synthetic.lamps((0.7, 1.3))
    expected = brute_force(frames, lamps)
    # Float32 sums of 24 positive terms: 24 · 2^-24 = 1.4e-6 relative at worst.
    np.testing.assert_allclose(mix.mix_xyz(frames, lamps), expected, rtol=2e-6)


def test_more_pixels_than_a_block(synthetic, monkeypatch):
    """Block borders leave no seam and no pixel out, also where the last block is short."""
    frames, lamps = synthetic.frames(30, 50), synthetic.lamps()
    monkeypatch.setattr(mix, "_COLUMNS", 64)
    np.testing.assert_allclose(mix.mix_xyz(frames, lamps), brute_force(frames, lamps), rtol=2e-6)


def test_mixing_from_disk_is_the_same(synthetic, tmp_path):
    """Slices mapped from disk give the same bits as slices in memory."""
    frames, lamps = synthetic.frames(20, 30), synthetic.lamps()
    fr.write(tmp_path, frames)
    assert np.array_equal(mix.mix_xyz(fr.read(tmp_path), lamps), mix.mix_xyz(frames, lamps))


def test_light_adds_up(synthetic):
    """The lamps' own pictures sum to the whole."""
    frames, lamps = synthetic.frames(20, 30), synthetic.lamps((0.4, 2.0))
    parts = sum(mix.lamp_xyz(frames, lamp).astype(float) for lamp in lamps)
    np.testing.assert_allclose(mix.mix_xyz(frames, lamps), parts, rtol=1e-6)


def test_a_dimmer_is_a_factor(synthetic):
    """Half the level is half the luminance: one stop, and nothing else changes."""
    frames = synthetic.frames(20, 30)
    full = mix.mix_xyz(frames, synthetic.lamps((1.0, 1.0)))
    half = mix.mix_xyz(frames, synthetic.lamps((0.5, 0.5)))
    np.testing.assert_allclose(half, full / 2, rtol=1e-6)


def test_a_gel_is_weighed_band_by_band(synthetic):
    """A neutral gel of 25 % on one lamp takes three quarters of that lamp's light only."""
    frames = synthetic.frames(20, 30)
    window, desk = synthetic.lamps()
    gelled = replace(window, gel=np.full(81, 0.25))
    expected = 0.25 * mix.lamp_xyz(frames, window) + mix.lamp_xyz(frames, desk)
    np.testing.assert_allclose(mix.mix_xyz(frames, (gelled, desk)), expected, rtol=2e-6)


class Untouchable:
    """Slices that must not be read."""

    def reshape(self, *shape):
        raise AssertionError("a lamp that gives nothing was read")


@pytest.mark.parametrize("dark", [{"on": False}, {"level": 0.0}])
def test_dark_lamps_are_not_read(synthetic, dark):
    """A lamp that is off or at zero costs no reading of its slice."""
    frames = synthetic.frames(10, 12)
    window, desk = synthetic.lamps()

    class Slices:
        shape = frames.slices.shape

        def __getitem__(self, number):
            return Untouchable() if number == 0 else frames.slices[number]

    picture = mix.mix_xyz(replace(frames, slices=Slices()), (replace(window, **dark), desk))
    np.testing.assert_array_equal(picture, mix.lamp_xyz(frames, desk))


def test_lamps_may_come_in_any_order(synthetic):
    """Lamps are matched by name, not by position."""
    frames, (window, desk) = synthetic.frames(10, 12), synthetic.lamps()
    first, second = mix.mix_xyz(frames, (window, desk)), mix.mix_xyz(frames, (desk, window))
    assert np.array_equal(first, second)


def test_lamps_that_do_not_fit_are_refused(synthetic):
    """A missing, an unknown and a doubled lamp are each an error that names them."""
    frames, (window, desk) = synthetic.frames(10, 12), synthetic.lamps()
    with pytest.raises(ValueError, match=r"no lamp for \['desk lamp'\]"):
        mix.mix_xyz(frames, (window,))
    with pytest.raises(ValueError, match=r"no slice for \['yard lamp'\]"):
        mix.mix_xyz(frames, (window, desk, replace(desk, name="yard lamp")))
    with pytest.raises(ValueError, match="different names"):
        mix.mix_xyz(frames, (window, desk, desk))
    with pytest.raises(ValueError, match="no slice of 'yard lamp'"):
        mix.lamp_xyz(frames, replace(desk, name="yard lamp"))
