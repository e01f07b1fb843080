"""Pictures on pieces, boards and backdrops of a scene: upright, and as bright as they say."""

import numpy as np
import pytest
from PIL import Image

from previz.engine.probe import ProbeJob
from previz.engine.render import luminance_weights, open_stage
from previz.errors import SceneError
from previz.physics.photometry import rectangle_factor
from previz.physics.uplift import linear_from_srgb
from previz.scene.read import load
from previz.stage.build import build_stage


@pytest.fixture
def stage_of(tmp_path, monkeypatch):
    """Build the stage of a scene's text, with a picture in its folder: white above, black below."""
    monkeypatch.chdir(tmp_path)
    pixels = np.zeros((64, 64, 3), np.uint8)
    pixels[:32] = 255
    Image.fromarray(pixels).save(tmp_path / "half.png")
    Image.fromarray(np.full((4, 4, 3), 128, np.uint8)).save(tmp_path / "grey.png")

    def build(text):
        (tmp_path / "scene.yaml").write_text("previz: 1\n" + text, encoding="utf-8")
        return build_stage(load("scene.yaml").scene())

    return build


BACKDROP = ("lights:\n  - {{name: yard, kind: backdrop, at: [0 m, 3 m, 1 m], aim: [0 m, 0 m, 1 m], "
            "size: [2 m, 1.5 m], output: {output}{more}}}\n"
            "meters:\n  - {{name: m, at: [0 m, 0.5 m, 1 m], facing: [0 m, 3 m, 1 m]}}\n")


@pytest.mark.engine
@pytest.mark.parametrize(
    ("output", "more", "share"),
    [("400 cd/m2", "", 1.0),
     ("400 cd/m2", ", picture: grey.png", float(linear_from_srgb(128 / 255))),
     ("400 cd/m²", ", picture: half.png", 0.5),
     ("3769.9 lm", "", 1.0)],  # pi · 400 · 3 m²
)
def test_a_backdrop_is_as_bright_as_it_says(stage_of, output, more, share):
    """A luminance is that of the picture's white: E = pi L F times what the picture leaves."""
    stage = stage_of(BACKDROP.format(output=output, more=more))
    assert stage.lamps[0].output == pytest.approx(np.pi * 400 * 3.0, rel=1e-4)
    flat = [probe for probe in stage.probes if not probe.dome]
    job = ProbeJob(open_stage(stage, 1), stage, probes=flat)
    job.run(0.002, 60)
    lux = (job.batches.means.mean(axis=1) @ luminance_weights(1)).sum() * stage.lamps[0].output
    # The face stands 2 mm before the backdrop's own place.
    expected = np.pi * 400 * rectangle_factor(2.0, 1.5, 2.498) * share
    assert lux == pytest.approx(expected, rel=0.01)


def test_a_backdrop_is_left_in_shot(stage_of):
    """It is there to be seen, and its dimmer and gel work as any lamp's."""
    stage = stage_of(BACKDROP.format(output="400 cd/m2", more=", dimmer: 50 %, gel: nd 0.3"))
    assert stage.rig[0].in_shot
    assert stage.lamps[0].level == 0.5
    assert stage.lamps[0].gel[40] == pytest.approx(10**-0.3)


def test_a_picture_that_is_none(stage_of, tmp_path):
    """A file that is no picture is reported with its place."""
    (tmp_path / "bad.png").write_bytes(b"nothing")
    with pytest.raises(SceneError, match="bad.png' cannot be read"):
        stage_of(BACKDROP.format(output="400 cd/m2", more=", picture: bad.png"))


def test_pieces_and_boards_show_their_pictures(stage_of):
    """A panel has the picture on its sides and a board on its face; plain ones carry none."""
    stage = stage_of(
        "pieces:\n  - {name: print, shape: panel, at: [0 m, 2 m], size: [2 m, 0.03 m, 1 m], "
        "surface: {texture: half.png}}\n"
        "  - {name: plain, shape: panel, at: [0 m, 4 m], size: [2 m, 0.03 m, 1 m]}\n"
        "boards:\n  - {name: painted, at: [0 m, 1 m, 1 m], facing: [0 m, 0 m, 1 m], "
        "size: [1 m, 1 m], surface: {texture: half.png}}\n")
    meshes = {mesh.name: mesh for mesh in reversed(stage.meshes)}
    assert stage.surfaces[meshes["plain"].surface].texture is None
    for name in ("print", "painted"):
        mesh = meshes[name]
        assert mesh.uv is not None
        # The picture's top (v = 1) is at the top.
        south = mesh.vertices[:4]
        np.testing.assert_allclose(south[mesh.uv[:4, 1] == 1][:, 2], south[:, 2].max())
        # A viewer facing north at it has u to the right, which is east.
        assert south[mesh.uv[:4, 0] == 1][0, 0] > south[mesh.uv[:4, 0] == 0][0, 0]
