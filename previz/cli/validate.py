"""`previz validate`: show which published and derivable values the program reproduces."""

from __future__ import annotations

import sys
import time
from pathlib import Path

import click

from previz.checks.validation.honesty_scenes import SCENES
from previz.cli.meter import Precision
from previz.cli.options import BACKEND


@click.command()
@click.option("--honesty", is_flag=True,
              help="Try the errors that meters state instead: twelve stages whose light is hard to "
                   "find, run after run, against one long run of each. Takes half an hour; with "
                   "--seeds 8 some minutes.")
@click.option("--seeds", type=click.IntRange(2, 1000), default=40, show_default=True, metavar="N",
              help="Runs of each stage of --honesty.")
@click.option("--stage", "stages", multiple=True, type=click.Choice(list(SCENES)),
              help="Only this stage of --honesty; may be given again.")
@click.option("--precision", type=Precision(), default="1 %", show_default=True,
              help="What each run of --honesty is asked for.")
@click.option("--json", "as_json", is_flag=True, help="Give the checks as JSON.")
@click.option("--out", type=click.Path(path_type=Path), metavar="FILE",
              help="Write the table to a file instead of printing it.")
@BACKEND
def command(honesty, seeds, stages, precision, as_json, out, backend):
    """Work out known values anew and hold them to their sources, in one table.

    Closed forms of light go through the engine itself; colours, exposure, video levels, lenses,
    lamps and skin through the same functions that scenes use. Ends with 1 if any value is not
    reproduced; with --honesty, if a stated error does not hold.
    """
    as_json = as_json or (out is not None and out.suffix == ".json")
    if honesty:
        text, told, good = _honesty(seeds, stages, precision, as_json, backend)
    elif stages:
        raise click.UsageError("--stage belongs to --honesty.")
    else:
        text, told, good = _values(as_json, backend)
    if out is None:
        sys.stdout.write(text)
    else:
        from previz.deliver.atomic import write_text

        write_text(out, text)
        click.echo(f"Wrote {out}: {told}", err=True)
    return 0 if good else 1


def _values(as_json: bool, backend: str) -> tuple[str, str, bool]:
    """Return the table of values, what is told of it, and whether all are reproduced."""
    from previz import __version__
    from previz.checks.validation.run import ENGINE_CHECKS, all_checks
    from previz.checks.validation.table import json_text, markdown
    from previz.cli.progress import Progress
    from previz.engine.backend import choose

    ran_on = choose(backend)
    began = time.monotonic()
    progress = Progress(ENGINE_CHECKS)
    checks = []
    try:
        for check in all_checks(backend, progress.show):
            checks.append(check)
            if check.error is not None:
                progress.add(1, check.quantity)
    finally:
        progress.end()
    form = json_text if as_json else markdown
    failed = sum(not check.passed for check in checks)
    return (form(checks, __version__, ran_on, time.monotonic() - began),
            f"{len(checks) - failed} of {len(checks)} values reproduced.", not failed)


def _honesty(seeds: int, stages, precision: float, as_json: bool, backend: str):
    """As `_values`, of the errors that meters state; an interrupt ends it with what is done."""
    from previz import __version__
    from previz.checks.validation.honesty import all_runs
    from previz.checks.validation.honesty_table import json_text, markdown
    from previz.cli.progress import Progress
    from previz.engine.backend import choose

    ran_on = choose(backend)
    names = [name for name in SCENES if not stages or name in stages]
    began, found = time.monotonic(), []
    progress = Progress(len(names) * (seeds + 1))
    progress.show(names[0])
    cut = False
    try:
        for runs in all_runs(names, backend, seeds, precision, lambda what: progress.add(1, what)):
            found.append(runs)
    except KeyboardInterrupt:
        cut = True
    finally:
        progress.end()
    if cut:
        click.echo(f"Interrupted: {len(found)} of {len(names)} stages are done.", err=True)
        if not found:
            raise KeyboardInterrupt
    form = json_text if as_json else markdown
    honest = sum(each.honest for each in found)
    return (form(found, precision, __version__, ran_on, time.monotonic() - began),
            f"{honest} of {len(found)} stages state errors that hold.",
            honest == len(found) and not cut)
