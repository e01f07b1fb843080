"""How the time of one pass grows with lamps, pixels, faces and cores."""

from __future__ import annotations

import time

from previz.checks.benches.setting import Setting, room, with_faces


def lamps(setting: Setting) -> tuple[dict, dict]:
    """Return 'lamps_32_over_8': one pass with 32 lamps over one with 8, at equal samples."""
    from previz.engine.benchmark import Ours

    seconds = {}
    for count in (2, 8, 32):
        stage = room(count)
        seconds[str(count)] = Ours(stage, stage.cameras[0], *setting.size, setting.bands).seconds(
            setting.samples)
    return ({"lamps_32_over_8": seconds["32"] / seconds["8"]},
            {"lamps_seconds": seconds})


def pixels(setting: Setting) -> tuple[dict, dict]:
    """Return millions of paths a second over the size of the picture."""
    from previz.engine.benchmark import Ours

    stage = room(8)
    rates = {}
    for width in (160, 320) if setting.quick else (160, 320, 640, 1280):
        height = width * 9 // 16
        samples = max(1, setting.samples * 160 // width)
        seconds = Ours(stage, stage.cameras[0], width, height, setting.bands).seconds(samples)
        rates[f"{width}x{height}"] = width * height * samples / seconds / 1e6
    return {}, {"pixels_million_paths_per_second": rates}


def faces(setting: Setting) -> tuple[dict, dict]:
    """Return how long a stage of so many faces takes to get on the device, and one pass of it."""
    from previz.engine.benchmark import Ours

    seconds = {}
    base = room(8)
    for count in (10_000, 100_000) if setting.quick else (10_000, 100_000, 500_000, 2_000_000):
        stage = with_faces(base, count)
        began = time.perf_counter()
        side = Ours(stage, stage.cameras[0], *setting.size, setting.bands)
        opened = time.perf_counter() - began
        seconds[str(count)] = {"open_seconds": opened, "pass_seconds": side.seconds(setting.samples)}
    return {}, {"faces": seconds}


def cores(setting: Setting) -> tuple[dict, dict]:
    """Return the time of one pass over the number of threads."""
    from previz.engine.benchmark import Ours, usable_cores, with_threads

    stage = room(8)
    side = Ours(stage, stage.cameras[0], *setting.size, setting.bands)
    most, seconds, count = usable_cores(), {}, 1
    while count <= most:
        with with_threads(count):
            seconds[str(count)] = side.seconds(setting.samples)
        count *= 2
    return {}, {"cores_seconds": seconds}
