"""`previz validate`: show which published and derivable values the program reproduces."""

from __future__ import annotations

from pathlib import Path

import click

from previz.checks.validation.honesty_scenes import SCENES
from previz.cli.meter import share
from previz.cli.options import BACKEND
from previz.studies.folders import out_file


@click.command()
@click.option("--honesty", is_flag=True,
              help="Try the errors that meters state instead: twelve stages whose light is hard to "
                   "find, run after run, against one long run of each. Takes half an hour; with "
                   "--seeds 8 some minutes.")
@click.option("--seeds", type=click.IntRange(2, 1000), default=40, show_default=True, metavar="N",
              help="Runs of each stage of --honesty.")
@click.option("--stage", "stages", multiple=True, type=click.Choice(list(SCENES)),
              help="Only this stage of --honesty; may be given again.")
@click.option("--precision", type=share, default="1 %", show_default=True, metavar="SHARE",
              help="What each run of --honesty is asked for.")
@click.option("--json", "as_json", is_flag=True, help="Give the checks as JSON.")
@click.option("--out", type=click.Path(path_type=Path), metavar="FILE",
              help="Write the table to a file instead of printing it.")
@BACKEND
def command(honesty: bool, seeds: int, stages: tuple[str, ...], precision: float, as_json: bool,
            out: Path | None, backend: str) -> int:
    """Work out known values anew and hold them to their sources, in one table.

    Closed forms of light go through the engine itself; colours, exposure, video levels, lenses,
    lamps and skin through the same functions that scenes use. Ends with 1 if any value is not
    reproduced; with --honesty, if a stated error does not hold.
    """
    from previz.checks.validate import stated_errors, values
    from previz.cli.progress import TerminalProgress

    if stages and not honesty:
        raise click.UsageError("--stage belongs to --honesty.")
    if out is not None:
        out_file(out)
    if honesty:
        names = [name for name in SCENES if not stages or name in stages]
        report = stated_errors(names, seeds, precision, backend, TerminalProgress())
    else:
        report = values(backend, TerminalProgress())
    as_json = as_json or (out is not None and out.suffix == ".json")
    text = report.json if as_json else report.markdown
    if out is None:
        click.echo(text, nl=False)
    else:
        from previz.deliver.atomic import write_text

        write_text(out, text)
        click.echo(f"Wrote {out}: {report.summary}", err=True)
    return 0 if report.passed else 1
