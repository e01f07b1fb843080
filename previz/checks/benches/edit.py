"""What the edit of one lamp of twelve costs, over rendering all."""

from __future__ import annotations

import tempfile
import time
from pathlib import Path

from previz.checks.benches.setting import Setting, room

LAMPS = 12


def edit(setting: Setting) -> tuple[dict, dict]:
    """Return 'edit_one_of_12': one lamp moved, over the whole picture rendered.

    Both with everything that it takes: the stage put on the device, what bodies do measured,
    frames written and read. Kernels are compiled before, as they are from the second time on.
    """
    from previz.engine.render import Sampling
    from previz.rendering.job import StageJob
    from previz.rendering.request import Order

    before, after = room(LAMPS), room(LAMPS, moved=True)
    size, samples = ((192, 108), 16) if setting.quick else ((960, 540), 32)

    def render(stage, folder, size, samples):
        job = StageJob(stage, Order(*size, Sampling(samples, 4), setting.bands, "auto", folder))
        began = time.perf_counter()
        camera = stage.cameras[0]
        states = job.plan(camera)
        if job.cached(camera) is None:
            job.render(camera, lambda *_: None)
        return time.perf_counter() - began, states

    with tempfile.TemporaryDirectory() as text:
        folder = Path(text)
        for stage in (before, after):
            render(stage, folder / "warm", (32, 18), 4)
        whole, _ = render(before, folder / "timed", size, samples)
        one, states = render(after, folder / "timed", size, samples)
        again, _ = render(after, folder / "timed", size, samples)
    kinds = [state.status for state in states]
    return {"edit_one_of_12": one / whole}, {
        "edit_whole_seconds": whole, "edit_one_seconds": one, "edit_nothing_seconds": again,
        "edit_size": list(size), "edit_samples": samples,
        "edit_lamps": {kind: kinds.count(kind) for kind in sorted(set(kinds))}}
