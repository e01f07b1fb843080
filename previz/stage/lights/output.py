"""How much light a lamp gives, whichever unit its output was written in."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from previz.errors import SceneError
from previz.scene.light import Light
from previz.stage.lights import build_fixture
from previz.stage.lights.fixture import Fixture, Setting
from previz.stage.measured_files import photometry


def lumens_of(light: Light, fixture: Fixture, setting: Setting) -> float:
    """Return an output in lumens, whichever unit it was written in; else what the file says. [lm]

    Raises
    ------
    SceneError
        It is written for the middle of a beam that has no light there.
    """
    output = light.output
    if light.photometry is not None and "output" not in light.places:
        # A kind's usual output stands back for what its file says.
        output = None
    if output is None:
        assert setting.photometry is not None
        ahead = setting.axes(0.0)[:, 2]
        tilt = np.degrees(np.arccos(np.clip(-ahead[2], -1, 1)))
        return setting.photometry.at_tilt(float(tilt))
    if output.unit == "lm":
        return output.value
    if output.unit == "cd/m2":
        # A backdrop or a glowing piece sends its light out by the cosine law: M = pi L.
        area = np.prod(light.size) if fixture.area is None else fixture.area  # type: ignore[attr-defined]
        return float(np.pi * output.value * area)
    assert output.unit == "cd" or output.distance is not None
    each = fixture.peak if output.distance is None else fixture.reading(output.distance)
    if not each > 0:
        raise SceneError([light.where("output").problem(
            f"{light.label} has no light in the middle of its beam to measure an output by",
            "Write its output in lm.")])
    return output.value / each


def lumens_alone(light: Light) -> float:
    """Return the lumens of a lamp that is built by itself, of any kind but a piece that glows. [lm]

    Raises
    ------
    SceneError
        Its file cannot be used, or it gives no light.
    """
    # A file may change while the program runs.
    return _kept(light) if light.photometry is None else _alone(light)


def _alone(light: Light) -> float:
    at = np.asarray(light.at, float)
    setting = Setting(at, at + [0.0, 1, 0], np.array([1.0, 0, 0]), lambda at: 0.0,
                      lambda surface, transmission=None: "", photometry(light))
    return lumens_of(light, build_fixture(light, setting), setting)


_kept = lru_cache(256)(_alone)
