"""What a scene says of a camera's lens and sensor, on the stage and in words."""

import numpy as np
import pytest

from previz.deliver.wording import settings_text
from previz.exposure.camera import settings_of
from previz.physics.taking import Iris

CAMERA = ("cameras: [{name: A, at: [0 m, -2 m, 1.5 m], aim: [0 m, 2 m, 1.5 m], lens: 25 mm, stop: T2.8, "
          "iso: 800, sensor: [24 mm, 18 mm], aspect: 2%s}]\n")


def camera_of(stage_of, written=""):
    return stage_of(CAMERA % written).cameras[0]


def test_without_it_a_camera_has_none(stage_of):
    for written in ("", ", optics: {grain_size: 0.02 mm}"):
        camera = camera_of(stage_of, written)
        assert camera.iris is None and camera.optics is None
        assert settings_of(camera).optics is None


def test_it_is_told_in_angles_and_lengths_on_the_sensor(stage_of):
    """The frame is what of the sensor is delivered; each camera has a grain of its own."""
    camera = camera_of(stage_of, ", optics: {blades: 6, blade_turn: 15 deg, bloom: 3 %, veiling_glare: 1 %, "
                                 "vignette: 0.7, grain: 0.1, grain_size: 0.02 mm}")
    assert camera.iris == Iris(6, 15.0)
    optics = camera.optics
    assert (optics.bloom, optics.veiling_glare, optics.vignette, optics.grain) == (0.03, 0.01, 0.7, 0.1)
    assert optics.grain_size == pytest.approx(2e-5)
    np.testing.assert_allclose(optics.frame, (0.024, 0.012))
    assert optics.tan_half == camera.tan_half
    assert settings_text(settings_of(camera)).endswith(
        "bloom 3 % · veiling glare 1 % · vignette 0.7 stops · grain 0.1 stops")
    other = CAMERA.replace("name: A", "name: B") % ", optics: {grain: 0.1}"
    assert stage_of(other).cameras[0].optics.seed != optics.seed
