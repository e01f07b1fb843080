"""`previz bench`: how fast it is, as ratios and seconds from one run."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import click

from previz.checks.benches.parts import PARTS, goals, measure, report, usual
from previz.cli.options import BACKEND, picture_size


@click.command()
@click.argument("scene", type=click.Path(path_type=Path),
                default=Path("scenes/signal-cabin.yaml"))
@click.option("--part", "parts", type=click.Choice(list(PARTS)), multiple=True,
              help="Only this part; may be given again.")
@click.option("--quick", is_flag=True, help="Time less, on smaller pictures.")
@click.option("--size", type=picture_size, default=None, metavar="WXH",
              help="Width and height of the timed picture in pixels; 320x180 on the processor, 1920x1080 on "
                   "a GPU.")
@click.option("--samples", type=click.IntRange(1, 4096), default=16, show_default=True, metavar="N",
              help="Paths a pixel for the timings.")
@click.option("--option", default=None, metavar="NAME", help="Option of the scene; its first by default.")
@BACKEND
@click.option("--json", "as_json", is_flag=True, help="Print JSON with stable keys.")
def command(scene: Path, parts: tuple[str, ...], quick: bool, size: tuple | None, samples: int,
            option: str | None, backend: str, as_json: bool) -> None:
    """Measure how fast it is: against Mitsuba's own RGB path tracer on SCENE, against the memory,
    and against itself.

    Times say nothing across machines; the ratios do. Run it on an idle machine.
    """
    from previz.checks.benches.setting import setting_for

    setting = setting_for(scene, option, size, samples, quick, backend)
    results, details = {}, {}
    for part in parts or usual(setting):
        click.echo(f"{part}: {PARTS[part][1]}", err=True)
        keys, more = measure(part, setting)
        results |= keys
        details |= more
        if not as_json:
            for line in _lines(keys, more, goals(setting.backend)):
                click.echo(line)
    if as_json:
        click.echo(json.dumps(report(setting, results, details), indent=2))


def _lines(keys: dict, details: dict, wanted: dict) -> Iterator[str]:
    for key, value in keys.items():
        sense, goal = wanted.get(key, ("", None))
        yield f"  {key:18} {value:8.3f}" + (f"   goal {sense} {goal:.3g}" if goal else "")
    for key, value in details.items():
        yield f"    {key} {_shown(value)}"


def _shown(value: object) -> str:
    if isinstance(value, dict):
        return ", ".join(f"{key}: {_shown(each)}" for key, each in value.items())
    return f"{value:.3g}" if isinstance(value, float) else str(value)
