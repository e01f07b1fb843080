"""What a change of levels and colours costs: mixing slices, and a new still and map."""

from __future__ import annotations

import dataclasses
import tempfile
import time
from pathlib import Path

import numpy as np

from previz.checks.benches.setting import Setting, room

LAMPS = 12


def _least(work, repeats: int) -> float:
    work()
    times = []
    for _ in range(repeats):
        began = time.perf_counter()
        work()
        times.append(time.perf_counter() - began)
    return min(times)


def _frames(stage, width: int, height: int, bands: int):
    """Return frames of even noise: mixing takes as long whatever the numbers are."""
    from previz.frames import Frames
    from previz.physics.bands import band_edges

    random = np.random.default_rng(1)
    shape = (len(stage.lamps), bands, height, width)
    slices = random.random(shape, dtype=np.float32)
    slices *= np.float32(1e-4)
    grid = (height, width)
    return Frames(
        slices=slices, variance=np.zeros((shape[0], *grid), np.float32),
        albedo=np.full((3, *grid), 0.5, np.float32), normal=np.zeros((3, *grid), np.float32),
        depth=np.ones(grid, np.float32), names_index=np.zeros(grid, np.int32),
        lights=tuple(lamp.name for lamp in stage.lamps), names=("set",),
        band_edges_nm=np.asarray(band_edges(bands)), samples=1, seed=1)


def mix(setting: Setting) -> tuple[dict, dict]:
    """Return 'mix_over_read': mixing 12 lamps at 1280x720, over reading the slices once.

    To read is to sum them up, or to multiply them with themselves, whichever is faster.
    """
    from previz.exposure.mix import mix_xyz

    width, height = (640, 360) if setting.quick else (1280, 720)
    stage = room(LAMPS)
    frames = _frames(stage, width, height, setting.bands)
    flat = frames.slices.reshape(-1)
    repeats = 3 if setting.quick else 7
    read = min(_least(flat.sum, repeats), _least(lambda: np.dot(flat, flat), repeats))
    mixed = _least(lambda: mix_xyz(frames, stage.lamps), repeats)
    return {"mix_over_read": mixed / read}, {
        "mix_seconds": mixed, "read_seconds": read, "mix_size": [width, height],
        "mix_lamps": LAMPS, "read_gigabytes_per_second": flat.nbytes / read / 1e9}


def level(setting: Setting) -> tuple[dict, dict]:
    """Return 'level_change_s': a level and a colour changed, to the new still and map on disk.

    At 960x540 with 12 lamps: slices read from the disk with their checksums, mixed, denoised,
    developed; still and map written.
    """
    from previz import frames as fr
    from previz.deliver.atomic import write_still
    from previz.deliver.map import exposure_map, write_map
    from previz.exposure.picture import develop
    from previz.frames.abreast import abreast
    from previz.physics.exposure import CameraSettings

    width, height = (480, 270) if setting.quick else (960, 540)
    stage = room(LAMPS)
    camera = stage.cameras[0]
    settings = CameraSettings(**{f.name: getattr(camera, f.name)
                                 for f in dataclasses.fields(CameraSettings)})
    parts: dict[str, float] = {}
    with tempfile.TemporaryDirectory() as text:
        folder = Path(text)
        fr.write(folder / "frames", _frames(stage, width, height, setting.bands))
        levels = iter(np.linspace(0.2, 1.0, 16))

        def change():
            began = time.perf_counter()
            new = float(next(levels))
            lamps = tuple(dataclasses.replace(lamp, level=new) for lamp in stage.lamps)
            frames = fr.read(folder / "frames")
            parts["level_read_seconds"] = time.perf_counter() - began
            began = time.perf_counter()
            developed = develop(frames, lamps, settings)
            parts["level_develop_seconds"] = time.perf_counter() - began
            began = time.perf_counter()
            chart = exposure_map(developed.signal, frames.names_index)
            # As `studies.render_files` has them written.
            abreast(lambda write: write(), [
                lambda: write_still(folder / "still.png", developed.still, {}),
                lambda: write_map(folder / "map.png", chart, title="Bench", subject="Camera A",
                                  settings=settings, words={})])
            parts["level_write_seconds"] = time.perf_counter() - began

        seconds = _least(change, 3)
    return {"level_change_s": seconds}, {**parts, "level_size": [width, height]}
