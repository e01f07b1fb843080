"""`previz bench`: how fast it is, as ratios and seconds from one run."""

from __future__ import annotations

import json
import os
import platform
from datetime import date
from pathlib import Path

import click

from previz.checks.benches.parts import GOALS, PARTS, measure
from previz.cli.options import SizeType
from previz.rendering.request import size_for


@click.command()
@click.argument("scene", type=click.Path(path_type=Path),
                default=Path("scenes/signal-cabin.yaml"))
@click.option("--part", "parts", type=click.Choice(list(PARTS)), multiple=True,
              help="Only this part; may be given again.")
@click.option("--quick", is_flag=True, help="Time less, on smaller pictures.")
@click.option("--size", type=SizeType(), default="320x180", show_default=True,
              help="Width and height of the timed picture in pixels.")
@click.option("--samples", type=click.IntRange(1, 4096), default=16, show_default=True, metavar="N",
              help="Paths a pixel for the timings.")
@click.option("--option", default=None, metavar="NAME", help="Option of the scene; its first by default.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON with stable keys.")
def command(scene, parts, quick, size, samples, option, as_json):
    """Measure how fast it is: against Mitsuba's own RGB path tracer on SCENE, against the memory,
    and against itself.

    Times say nothing across machines; the ratios do. Run it on an idle machine.
    """
    from previz.checks.benches.setting import Setting
    from previz.scene.read import load

    file = load(scene)
    names = file.option_names
    chosen = option or (names[0] if names else "")
    cameras = file.scene(chosen or None).cameras
    if not cameras:
        raise click.UsageError("The scene has no camera; add one under 'cameras:'.")
    if quick:
        samples = max(1, samples // 4)
    setting = Setting(scene, chosen, size_for(size, cameras[0].aspect), samples, 12, quick)
    results, details = {}, {}
    for part in parts or PARTS:
        click.echo(f"{part}: {PARTS[part][1]}", err=True)
        keys, more = measure(part, setting)
        results |= keys
        details |= more
        if not as_json:
            for line in _lines(keys, more):
                click.echo(line)
    if as_json:
        click.echo(json.dumps({
            **{key: round(value, 4) for key, value in results.items()}, "details": details,
            "scene": str(scene), "option": chosen, "size": list(setting.size), "samples": samples,
            "bands": setting.bands, "quick": quick, "date": date.today().isoformat(),
            "machine": machine()}, indent=2))


def _lines(keys: dict, details: dict):
    for key, value in keys.items():
        sense, goal = GOALS.get(key, ("", None))
        yield f"  {key:18} {value:8.3f}" + (f"   goal {sense} {goal:.3g}" if goal else "")
    for key, value in details.items():
        yield f"    {key} {_shown(value)}"


def _shown(value) -> str:
    if isinstance(value, dict):
        return ", ".join(f"{key}: {_shown(each)}" for key, each in value.items())
    return f"{value:.3g}" if isinstance(value, float) else str(value)


def machine() -> dict[str, object]:
    """Return what a timing was taken on."""
    from importlib.metadata import version

    return {"processor": platform.machine(), "cores": os.cpu_count(),
            "load": os.getloadavg()[0] if hasattr(os, "getloadavg") else None,
            "python": platform.python_version(),
            **{name: version(name) for name in ("mitsuba", "drjit", "numpy")}}
