"""How soon the page's server answers a moving hand where the browser cannot mix for itself."""

from __future__ import annotations

import json
import tempfile
import time
from collections import defaultdict
from dataclasses import replace
from pathlib import Path

import numpy as np

from previz.checks.benches.mixing import _frames
from previz.checks.benches.setting import Setting

SIZE, QUICK_SIZE = (960, 540), (320, 180)
"""Of the pictures that are mixed from. [px]"""

CHANGES = 24


def hand(setting: Setting) -> tuple[dict, dict]:
    """Return 'hand_s': a level of the scene's first lamp moved, to the bytes of the small picture.

    It is the median. The details have the 90th percentile, the first one, which gathers the lamps, and each
    step: what the question is about, mixing, the view transform, packing. [s]
    """
    from previz import frames as fr
    from previz.page.desk import Desk, PageRequest, Picture
    from previz.page.quick import jpeg_bytes, quick_still
    from previz.page.shots import shot
    from previz.rendering.request import Request

    size = QUICK_SIZE if setting.quick else SIZE
    steps: dict[str, list[float]] = defaultdict(list)
    with tempfile.TemporaryDirectory() as text:
        out = Path(text)
        desk = Desk(PageRequest(setting.scene, out, Request(out / "frames", size, samples=4)))
        option = setting.option if setting.option in desk.options else desk.options[0]
        camera = desk.camera(option)
        job, staged = desk.job(Picture(option, camera.name, camera.stop, desk.quality))
        frames = _frames(job.stage, job.order.width, job.order.height, job.order.bands)
        folder = job.frame_folder(staged)
        fr.write(folder, replace(frames, transport_hash=folder.name))
        lamp = job.stage.lamps[0].name
        for level in np.linspace(0.2, 1.0, CHANGES + 1):
            times = [time.perf_counter()]
            request = shot(desk, {"option": option, "camera": camera.name, "look": json.dumps(
                {"lamps": {lamp: {"level": float(level)}}})})
            times.append(time.perf_counter())
            xyz = desk.quick.xyz(request)
            times.append(time.perf_counter())
            still = quick_still(xyz, request.settings)
            times.append(time.perf_counter())
            jpeg_bytes(still)
            times.append(time.perf_counter())
            for step, seconds in zip(("question", "mix", "view", "pack"), np.diff(times), strict=True):
                steps[step].append(float(seconds))
    whole = np.sum([steps[step] for step in steps], axis=0)
    return {"hand_s": float(np.median(whole[1:]))}, {
        "hand_p90_s": float(np.quantile(whole[1:], 0.9)), "hand_first_s": float(whole[0]),
        "hand_lamps": len(job.stage.lamps), "hand_size": [job.order.width, job.order.height],
        **{f"hand_{step}_s": float(np.median(values[1:])) for step, values in steps.items()}}
