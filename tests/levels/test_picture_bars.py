"""Hidden levels of the shipped scenes, read from pictures with noise of their own.

The bar is 0.1 stop and 100 K for every lamp that gives over 3 % somewhere and that the picture can tell.
Which those are the answer says itself, before anything is compared: three times its stated error is within
the bar, as hundreds of numbers are held to it and twice would be passed by some. All of these are held to it
without exception, and there have to be enough of them; the rest are held to their stated errors.
"""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from previz.exposure.camera import balance_white_xy, balanced_acescg_from_xyz, settings_of
from previz.exposure.denoise import denoise
from previz.exposure.display import show_8bit
from previz.exposure.mix import mix_xyz
from previz.levels.picture_answer import LEAST_SHARE, TOLD
from previz.physics.chromatic_adaptation import D65_XY, REC709_XY, adaptation_matrix, xyz_from_rgb
from previz.physics.exposure import signal_per_luminance
from previz.physics.transfer import srgb_signal
from previz.rendering.job import StageJob
from previz.rendering.progress import Progress
from previz.rendering.request import Request
from previz.scene.read import load
from previz.stage.build import build_stage
from previz.studies.read import read
from previz.studies.read.lamps import OFF_LEVEL, at_full, colour_of, free_colour

pytestmark = [pytest.mark.engine, pytest.mark.long, pytest.mark.filterwarnings("ignore")]

SCENES = Path(__file__).parents[2] / "scenes"

SHOTS = {
    "signal-cabin": ("bounce", "A", 1024, 0.6), "canteen": ("boxes", "wide", 1024, 0.4),
    "engine-shed": ("low sun", "A", 256, 0.75), "carriage-window": ("blue hour", "A", 256, 0.75),
}
"""Option, camera, paths a pixel, and part of the lamps over 3 % whose level has to be told. In the canteen
four tubes and two boxes are alike."""

LEVEL, KELVIN = 0.1, 100.0
"""The bars."""

MOST_ERRORS, COLOUR_ERRORS = 3.5, 2.5
"""Errors that a level may be off that is not told as surely; and such colours, root mean square over a
picture: that of one of the canteen's tubes, which are alike, was 4.6 off."""


@pytest.fixture(scope="module", params=SHOTS)
def shot(request, tmp_path_factory):
    """A scene, its frames by another seed, and the request of its own."""
    option, camera, samples, least = SHOTS[request.param]
    folder = tmp_path_factory.mktemp("bars")
    return prepared(folder, SCENES / f"{request.param}.yaml", option, camera, samples), least


def prepared(folder, path, option, name, samples, caches=None):
    """What a picture is made from, and read with; frames of seed 1 and 2."""
    scene = load(path).scene(option)
    stage = build_stage(scene)
    camera = next(each for each in stage.cameras if each.name == name)
    requests = [Request((caches or {}).get(seed, folder / "frames"), (480, None), samples=samples, seed=seed)
                for seed in (1, 2)]
    frames = []
    for request in requests:
        job = StageJob(stage, request.order(camera.aspect))
        frames.append(job.frames(camera, Progress(), ""))
        job.close()
    return folder, scene, stage, camera, frames[1], requests[0]


def hidden(scene, stage, rng):
    """Every lamp up to two stops and 800 K from where the scene has it."""
    lamps = []
    for lamp in stage.lamps:
        kelvin = 1e6 / colour_of(lamp) + rng.uniform(-800, 800)
        kelvin = float(np.clip(kelvin, 1850, 9900)) if free_colour(scene, lamp.name) else None
        level = (lamp.level if lamp.on and lamp.level > 0 else 1.0) * 2.0 ** rng.uniform(-2, 2)
        lamps.append(replace(at_full(scene, stage, lamp.name, kelvin), level=level))
    return lamps


def pictured(frames, camera, stage, lamps, rng, look):
    """The picture at an exposure and a balance of its own, by the program's view or sRGB with an S-curve."""
    settings = settings_of(camera)
    balance = 1e6 / (1e6 / settings.white_balance + rng.uniform(-40, 40))
    tint = rng.uniform(-0.004, 0.004)
    xyz = mix_xyz(frames, lamps)
    wide = 2.0 ** rng.uniform(-1, 1) * np.median(mix_xyz(frames, stage.lamps)[1]) / np.median(xyz[1])
    to = balanced_acescg_from_xyz(balance, tint) if look == "previz" else (
        np.linalg.inv(xyz_from_rgb(REC709_XY, D65_XY))
        @ adaptation_matrix(balance_white_xy(balance, tint), D65_XY))
    linear = np.tensordot(to * signal_per_luminance(settings) * wide, xyz, 1).astype(np.float32)
    linear = denoise(linear, frames).picture
    if look == "previz":
        return show_8bit(linear)
    code = srgb_signal(np.clip(linear, 0, 1))
    code = code + 0.5 * (3 * code**2 - 2 * code**3 - code)
    return np.round(255 * np.moveaxis(code, 0, -1)).astype(np.uint8)


def read_off(prepared, look, seed):
    """How far each lamp is off that is told, against each other, and how many give over 3 %.

    Each as (name, stops, error, mired, error, error in kelvin).
    """
    folder, scene, stage, camera, frames, request = prepared
    rng = np.random.default_rng(seed)
    lamps = hidden(scene, stage, rng)
    path = folder / f"{look}-{seed}.png"
    Image.fromarray(pictured(frames, camera, stage, lamps, rng, look)).save(path)
    reading = read(path, scene, request, camera=camera.name)
    assert reading.look == look
    own = {each.name: each for each in lamps}
    start = {each.name: np.log2(each.level) if each.on and each.level > 0 else OFF_LEVEL
             for each in stage.lamps}
    enough = [each for each in reading.answer.lamps if each.share >= LEAST_SHARE]
    found = [each for each in enough if each.state == TOLD]
    stops = np.array([each.change + start[each.name] - np.log2(own[each.name].level) for each in found])
    stops -= weighed(stops, [each.error for each in found])
    mired = np.array([np.nan if each.shift is None else 1e6 / each.cct - colour_of(own[each.name])
                      for each in found])
    errors = np.array([each.shift_error or np.nan for each in found])
    if not reading.answer.colours_held:
        mired -= weighed(mired, errors)
    return [(each.name, stop, each.error, off, error, error * each.cct**2 / 1e6)
            for each, stop, off, error in zip(found, stops, mired, errors, strict=True)], len(enough)


def weighed(values, errors):
    """The mean by errors of what is known."""
    weights = np.nan_to_num(np.asarray(errors, float) ** -2.0)
    return float((weights * np.nan_to_num(values)).sum() / weights.sum())


def judged(lines, enough, least):
    """Hold what was read to the bars; return how many levels were told, and of how many."""
    told, rest = 0, [0.0]
    for name, stops, error, mired, mired_error, kelvin_error in lines:
        surely = 3 * error <= LEVEL
        told += surely
        assert abs(stops) <= (LEVEL if surely else MOST_ERRORS * error), (name, stops, error)
        if np.isfinite(mired):
            kelvin = abs(mired) * kelvin_error / mired_error
            if 3 * kelvin_error <= KELVIN:
                assert kelvin <= KELVIN, (name, kelvin, kelvin_error)
            else:
                rest.append(mired / mired_error)
    assert np.sqrt(np.mean(np.square(rest))) <= COLOUR_ERRORS, rest
    assert told >= least * enough, (told, enough)
    return told, enough


@pytest.mark.parametrize("look", ["previz", "srgb"])
@pytest.mark.parametrize("seed", [21, 22])
def test_hidden_levels_are_found(shot, look, seed):
    """Through unknown exposure, balance, a curve, 8 bits, and noise of both pictures; see above."""
    judged(*read_off(shot[0], look, seed), shot[1])
