"""`previz bench`: ratios against the plain library, from one run."""

from __future__ import annotations

import json
import os
import platform
from pathlib import Path

import click

from previz.app.options import SizeType, size_for


@click.command()
@click.argument("scene", type=click.Path(path_type=Path),
                default=Path("scenes/signal-cabin.yaml"))
@click.option("--size", type=SizeType(), default="320x180", show_default=True,
              help="Width and height of the timed picture in pixels.")
@click.option("--samples", type=click.IntRange(1, 4096), default=16, show_default=True,
              help="Paths a pixel for the timings.")
@click.option("--option", default=None, help="Option of the scene; its first by default.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON with stable keys.")
def command(scene, size, samples, option, as_json):
    """Measure the engine against Mitsuba's own RGB path tracer on SCENE.

    pass_ratio: our one pass with all lamps and bands apart, over one plain render of all lamps.
    per_lamp_ratio: the same pass over plain renders of each lamp alone.
    bounce_gain: how much lower our relative mean squared error is than the plain one at equal time.
    Times say nothing across machines; the ratios do.
    """
    from previz.engine import benchmark
    from previz.scene.read import load
    from previz.stage.build import build_stage

    file = load(scene)
    names = file.option_names
    chosen = option or (names[0] if names else None)
    stage = build_stage(file.scene(chosen))
    camera = stage.cameras[0]
    width, height = size_for(size, camera.aspect)
    told = benchmark.pass_ratios(stage, camera, width, height, 12, samples)
    small = (width // 4, height // 4)
    gain = benchmark.equal_time_gain(benchmark.Ours(stage, camera, *small, 12),
                                     benchmark.Plain(stage, camera, *small), samples)
    results = {
        "pass_ratio": told["pass_ratio"], "per_lamp_ratio": told["per_lamp_ratio"],
        "bounce_gain": gain["gain"],
    }
    report = {
        **{key: round(value, 4) for key, value in results.items()},
        "details": {**told, **{f"bounce_{key}": value for key, value in gain.items()}},
        "scene": str(scene), "option": chosen or "", "size": [width, height],
        "samples": samples, "lamps": len(stage.lamps), "bands": 12,
        "machine": machine(),
    }
    if as_json:
        click.echo(json.dumps(report, indent=2))
        return
    goals = {"pass_ratio": "goal at most 1.25", "per_lamp_ratio": "goal at most 0.167",
             "bounce_gain": "goal at least 10"}
    for key, value in results.items():
        click.echo(f"{key:16} {value:8.3f}   {goals[key]}")


def machine() -> dict[str, object]:
    """Return what a timing was taken on."""
    from importlib.metadata import version

    return {"processor": platform.machine(), "cores": os.cpu_count(),
            "load": os.getloadavg()[0] if hasattr(os, "getloadavg") else None,
            "python": platform.python_version(),
            **{name: version(name) for name in ("mitsuba", "drjit", "numpy")}}
