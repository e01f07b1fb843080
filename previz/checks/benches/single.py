"""What it costs to add up passes: many of one path a pixel, over one pass of as many paths."""

from __future__ import annotations

from previz.checks.benches.setting import Setting


def single(setting: Setting) -> tuple[dict, dict]:
    """Return 'single_over_whole', which is 1 where passes cost no more than their paths."""
    from previz.engine.benchmark import LIMITS, least_seconds
    from previz.engine.render import CameraJob, Sampling, open_stage

    stage = setting.stage()
    buffers = open_stage(stage, setting.bands)

    def seconds(passes: int) -> float:
        def work(seed: int) -> None:
            job = CameraJob(buffers, stage, stage.cameras[0], *setting.size,
                            Sampling(setting.samples, passes, seed, LIMITS))
            while not job.finished:
                job.step()

        return least_seconds(work)

    whole, single = seconds(1), seconds(setting.samples)
    return {"single_over_whole": single / whole}, {"single_seconds": single, "whole_seconds": whole,
                                                   "single_passes": setting.samples}
