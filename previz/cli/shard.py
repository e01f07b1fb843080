"""`previz shard`: render a day's scenes in units that many processes, GPUs and machines share."""

from __future__ import annotations

import json
import shlex
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

from previz.cli.options import (
    BACKEND,
    BANDS,
    CAMERA,
    OPTION,
    QUALITY,
    SAMPLES,
    SEED,
    SIZE,
    Timed,
    out_folder,
    stacked,
)

MOST_NAMED = 20
"""Most units that are named as missing; --json has them all."""


def share_of(text: str) -> tuple[int, int]:
    """Return (number, of how many) of '3/8'."""
    try:
        number, of = (int(part) for part in text.split("/"))
    except ValueError:
        number = of = 0
    if not 1 <= number <= of <= 100_000:
        raise click.BadParameter(f"'{text}' is no share; write '3/8' for the third of eight.")
    return number, of


def gpu_count(text: str) -> int | str:
    """Return a number of GPUs, or 'auto'."""
    if text == "auto":
        return text
    if not text.isdecimal() or not 1 <= int(text) <= 64:
        raise click.BadParameter(f"'{text}' is no number of GPUs; write 'auto', or 1 to 64.")
    return int(text)


EXACT = click.option("--exact", is_flag=True,
                     help="Render anew too where only the body of another lamp stands elsewhere.")

WANTED = stacked(OPTION, CAMERA, SIZE, QUALITY, SAMPLES, SEED, BANDS, EXACT)
"""What is wanted of a scene, as `render` takes it; a line of a plan too."""


@click.command(cls=Timed)
@click.argument("scenes", type=click.Path(path_type=Path), nargs=-1)
@click.option("--plan", "plan_file", type=click.Path(path_type=Path), metavar="FILE",
              help="A text file with a scene a line, each with options of its own: --option, --camera, "
                   "--size, --quality, --samples, --seed, --bands, --exact.")
@WANTED
@click.option("--estimate", is_flag=True,
              help="Only say what is missing, how long it takes and what it fills.")
@click.option("--unit", "share", type=share_of, metavar="I/N",
              help="Do every N-th unit from the I-th on and wait for nobody, as in an array of jobs.")
@click.option("--merge", is_flag=True, help="Only put together what there is, and say what is missing.")
@click.option("--processes", type=click.IntRange(1, 256), metavar="N",
              help="So many processes of this machine share its cores.")
@click.option("--gpus", type=gpu_count, metavar="N",
              help="So many GPUs of this machine, or auto for all: a process each.")
@click.option("--cluster", metavar="ADDRESS",
              help="Workers of the dask.distributed cluster of this scheduler; local starts --processes of "
                   "them here.")
@click.option("--tiles", type=click.IntRange(1, 4096), metavar="N",
              help="Cut each picture into so many strips of rows; by its paths without it.")
@click.option("--passes", type=click.IntRange(1, 4096), metavar="N",
              help="At most so many passes a unit, kept one by one until they are added; all without it.")
@click.option("--json", "as_json", is_flag=True, help="Print units, estimate and cost as JSON.")
@click.option("--out", type=click.Path(path_type=Path), metavar="FOLDER",
              help="The folder that all share; renders/<scene> by default, FOLDER/<scene> of several scenes.")
@BACKEND
def command(scenes, plan_file, estimate, share, merge, processes, gpus, cluster, tiles, passes, as_json, out,
            backend, **wanted):
    """Render what is missing of all SCENES in units of work that many can share. Run the same line on as
    many machines as there are, on one folder: each takes the next free unit, and what one leaves undone,
    another takes. What comes out is to the bit what one machine would have rendered, on one kind of device.

    It asks nothing. First it says what is missing and how long it takes, and at the end what it has cost.
    Ctrl-C leaves all that is done; the same line goes on. `previz render` then finds everything and
    delivers it.
    """
    from previz.cli.progress import TerminalProgress
    from previz.rendering.shards.planning import Split
    from previz.studies.shard.day import day_of
    from previz.studies.shard.run import Hands, shard
    from previz.studies.shard.work import Share

    if estimate and merge:
        raise click.UsageError("Give --estimate or --merge, not both.")
    _one_way(share=share, merge=merge, processes=processes and not cluster, gpus=gpus, cluster=cluster)
    wants = [(scene, wanted) for scene in scenes] + ([] if plan_file is None else _planned(plan_file, wanted))
    if not wants:
        raise click.UsageError("Give scenes, or a file of them with --plan." if plan_file is None else
                               f"The plan '{plan_file}' names no scene.")
    folders = _folders([scene for scene, _ in wants], out, write=not estimate)
    tasks = day_of([(scene, folders[scene] / "frames", _want(folders[scene] / "frames", own, backend))
                    for scene, own in wants], Split(tiles, passes))

    def told(ahead) -> None:
        for line in ahead.lines(hands.count):
            click.echo(line, err=as_json)

    hands = Hands(Share(*share) if share else None, merge, processes, gpus, cluster)
    found = shard(tasks, hands, only_estimate=estimate, told=told, progress=TerminalProgress())
    if as_json:
        click.echo(json.dumps(found.plain(), ensure_ascii=False, indent=1))
    else:
        _say(found, estimate)
    if merge and found.missing:
        raise click.exceptions.Exit(1)


def _say(found: Any, estimate: bool) -> None:
    """Say what was to be done, or what is missing and what it has cost."""
    if estimate:
        for row in found.day.rows:
            if not row.done:
                click.echo(f"{row.number + 1:5d}  {row.plan.task.scene.stem}: {row.unit.label}")
        return
    for each in found.costs:
        click.echo(each.line())
    for line in found.missing[:MOST_NAMED]:
        click.echo(f"Missing: {line}")
    if len(found.missing) > MOST_NAMED:
        click.echo(f"and {len(found.missing) - MOST_NAMED} units more")
    if not found.missing:
        click.echo("All is there: `previz render` finds it.")


def _one_way(**ways: Any) -> None:
    """Refuse two ways of sharing at once."""
    given = [f"--{'unit' if name == 'share' else name}" for name, value in ways.items() if value]
    if len(given) > 1:
        raise click.UsageError(f"Give {' or '.join(given)}, not both.")


def _want(cache: Path, wanted: dict[str, Any], backend: str) -> Any:
    from previz.rendering.request import Request
    from previz.studies.shard.day import Want

    request = {key: value for key, value in wanted.items() if key not in ("options", "cameras")}
    return Want(Request(cache=cache, backend=backend, **request), tuple(wanted["options"]),
                tuple(wanted["cameras"]))


def _folders(scenes: Sequence[Path], out: Path | None, write: bool) -> dict[Path, Path]:
    """Return scene -> the folder of its files."""
    every = list(dict.fromkeys(scenes))
    if out is None or len(every) == 1:
        return {scene: out_folder(out, scene, write=write, take=write) for scene in every}
    stems = [scene.stem for scene in every]
    for stem in stems:
        if stems.count(stem) > 1:
            raise click.UsageError(f"Two of the scenes are called '{stem}'; render one of them alone, into "
                                   "another --out.")
    return {scene: out_folder(out / scene.stem, scene, write=write) for scene in every}


@click.command(add_help_option=False)
@click.argument("scene", type=click.Path(path_type=Path))
@WANTED
def _line(**wanted):
    """Read a line of a plan."""
    return wanted


def _planned(path: Path, usual: dict[str, Any]) -> list[tuple[Path, dict[str, Any]]]:
    """Return the scenes of a plan and what is wanted of each: what a line does not say is as in the command.

    A line is as in a shell; what follows a # is left out. Scenes are found from the plan's own folder.
    """
    try:
        text = path.read_text(encoding="utf-8")
    except OSError as error:
        raise click.UsageError(f"The plan '{path}' cannot be read: {error.strerror or error}.") from None
    except ValueError:
        raise click.UsageError(f"The plan '{path}' cannot be read: it is no text in UTF-8.") from None
    found = []
    for number, line in enumerate(text.splitlines(), 1):
        try:
            if "\0" in line:
                raise ValueError("there is a character in it that no name has")
            words = shlex.split(line, comments=True)
            if not words:
                continue
            context = _line.make_context("plan", words)
        except (click.ClickException, ValueError) as error:
            told = error.format_message() if isinstance(error, click.ClickException) else str(error)
            raise click.UsageError(f"{path}:{number}: {told}") from None
        own = {key: value for key, value in context.params.items() if key != "scene" and
               context.get_parameter_source(key) is not click.core.ParameterSource.DEFAULT}
        found.append((path.parent / context.params["scene"], {**usual, **own}))
    return found
