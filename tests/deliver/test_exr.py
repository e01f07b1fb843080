from dataclasses import replace

import numpy as np
import OpenEXR
import pytest
from delivered import read_exr

from previz.deliver import exr
from previz.exposure import camera, mix
from previz.physics.exposure import signal_per_luminance

# ACEScg luminance weights, check value 6.7.
AP1_Y = np.array([0.27222872, 0.67408177, 0.05368952])
# Half floats carry 11 bits: rounding is off by 2^-11 relative at most (check value 6.8).
HALF = 2.0**-11


@pytest.fixture
def scene(synthetic):
    """Frames and lamps of the synthetic picture, the lamps at different levels."""
    return synthetic.frames(36, 64), synthetic.lamps((0.8, 1.5))


def test_parts_and_header(scene, settings, tmp_path):
    """The mix first, then the lamps, then the planes; each part carries the standard attributes."""
    frames, lamps = scene
    path = tmp_path / "A.exr"
    assert exr.write_exr(path, frames, lamps, settings) == 0
    parts = read_exr(path)
    assert list(parts) == [
        "mix", "lamp.window", "lamp.desk lamp", "albedo", "normal", "depth", "objects",
    ]  # fmt: skip
    head = parts["mix"][0]
    # AP1 primaries and the white of ACES, check value 6.7.
    expected = (0.713, 0.293, 0.165, 0.830, 0.128, 0.044, 0.32168, 0.33767)
    np.testing.assert_allclose(head["chromaticities"], expected, atol=1e-6)
    np.testing.assert_allclose(head["adoptedNeutral"], (0.32168, 0.33767), atol=1e-6)
    assert head["expTime"] == pytest.approx(1 / 48)
    assert head["aperture"] == pytest.approx(2.8)
    assert head["isoSpeed"] == pytest.approx(800)
    assert head["previz.transport"] == frames.transport_hash
    assert parts["lamp.window"][0]["previz.level"] == pytest.approx(0.8)
    for other, _ in parts.values():
        assert other["chromaticities"] == head["chromaticities"]
        assert other["whiteLuminance"] == head["whiteLuminance"]


def test_the_signal_comes_back(scene, settings, tmp_path):
    """RGB is the exposed picture, to the rounding of half floats."""
    frames, lamps = scene
    exr.write_exr(tmp_path / "A.exr", frames, lamps, settings)
    got = read_exr(tmp_path / "A.exr")["mix"][1]["RGB"]
    assert got.dtype == np.float16
    expected = camera.expose(mix.mix_xyz(frames, lamps), settings)
    np.testing.assert_allclose(np.moveaxis(got.astype(float), -1, 0), expected, rtol=1.1 * HALF)


def test_lamps_sum_to_the_whole(scene, settings, tmp_path):
    """A compositor who adds the lamp parts gets the mix."""
    frames, lamps = scene
    exr.write_exr(tmp_path / "A.exr", frames, lamps, settings)
    parts = read_exr(tmp_path / "A.exr")
    total = sum(parts[f"lamp.{lamp.name}"][1]["RGB"].astype(float) for lamp in lamps)
    # Each part and the whole were rounded once.
    np.testing.assert_allclose(total, parts["mix"][1]["RGB"].astype(float), rtol=2.2 * HALF)


def test_pixels_times_white_luminance_are_cd_per_m2(scene, settings, tmp_path):
    """Y of a pixel times whiteLuminance is the luminance (check values 6.8, 0.1 %).

    In the signal this holds for light of the balance's own white; the picture here is made so.
    """
    frames, lamps = scene
    white = camera.balance_white_xy(5600)
    neutral = np.array([white[0] / white[1], 1.0, (1 - white.sum()) / white[1]])
    matrix = camera.balanced_acescg_from_xyz(5600) * signal_per_luminance(settings)
    exr.write_exr(tmp_path / "A.exr", frames, lamps, settings)
    head = read_exr(tmp_path / "A.exr")["mix"][0]
    # 1 / k = C T² / (pi t S) = 250 · 2.8² · 48 / (pi · 800) = 37.433 cd/m².
    assert head["whiteLuminance"] == pytest.approx(37.4332, rel=1e-5)
    pixel = (matrix @ (20.0 * neutral)).astype(np.float16).astype(float)
    assert AP1_Y @ pixel * head["whiteLuminance"] == pytest.approx(20.0, rel=1e-3)


def test_planes_come_back(scene, settings, tmp_path):
    """Depth exactly, normals and albedo to half floats, objects by number and name."""
    frames, lamps = scene
    depth = frames.depth.copy()
    depth[0, :3] = np.inf
    index = frames.names_index.copy()
    index[0, :3] = -1
    frames = replace(frames, depth=depth, names_index=index)
    exr.write_exr(tmp_path / "A.exr", frames, lamps, settings)
    parts = read_exr(tmp_path / "A.exr")
    assert parts["depth"][1]["Z"].dtype == np.float32
    assert np.array_equal(parts["depth"][1]["Z"], depth)
    assert np.array_equal(parts["objects"][1]["id"].astype(int) - 1, index)
    assert tuple(parts["objects"][0]["objectNames"].split("\n")) == frames.names
    for number, axis in enumerate("XYZ"):
        # Normals lie within 1: half floats there are 2^-12 apart at most from what they round.
        np.testing.assert_allclose(parts["normal"][1][axis], frames.normal[number], atol=2**-12)
    # The albedo is neutral where Rec. 709 is; the matrix of check value 2.17 turns the rest.
    matrix = [[0.6130974, 0.3395231, 0.0473795], [0.0701937, 0.9163539, 0.0134524],
              [0.0206156, 0.1095698, 0.8698146]]  # fmt: skip
    expected = np.einsum("ij,jrc->rci", matrix, frames.albedo)
    np.testing.assert_allclose(parts["albedo"][1]["RGB"], expected, rtol=1.5 * HALF)


def test_too_bright_pixels_are_held_and_counted(scene, settings, tmp_path):
    """What a half float cannot hold is not turned into infinity, and is counted in the header."""
    frames, lamps = scene
    bright = tuple(replace(lamp, output=lamp.output * 1e8) for lamp in lamps)
    held = exr.write_exr(tmp_path / "A.exr", frames, bright, settings)
    head, channels = read_exr(tmp_path / "A.exr")["mix"]
    assert held > 0 and head["previz.heldValues"] == held
    assert np.isfinite(channels["RGB"]).all() and channels["RGB"].max() == 65504


def test_a_general_reader_can_read_it(scene, settings, tmp_path):
    """The file opens with the reference library's plain interface, in separate channels."""
    frames, lamps = scene
    exr.write_exr(tmp_path / "A.exr", frames, lamps, settings)
    with OpenEXR.File(str(tmp_path / "A.exr"), separate_channels=True) as file:
        assert [part.name() for part in file.parts][0] == "mix"
        assert set(file.parts[0].channels) == {"R", "G", "B"}
        assert file.parts[0].channels["R"].pixels.shape == frames.shape


def test_an_interrupted_write_leaves_the_old_file(scene, settings, tmp_path, monkeypatch):
    """A write that fails keeps the picture of before and leaves nothing else behind."""
    frames, lamps = scene
    path = tmp_path / "A.exr"
    exr.write_exr(path, frames, lamps, settings)
    before = path.read_bytes()

    def fail(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr("os.replace", fail)
    with pytest.raises(KeyboardInterrupt):
        exr.write_exr(path, frames, lamps, replace(settings, stop=8.0))
    assert path.read_bytes() == before and list(tmp_path.iterdir()) == [path]
