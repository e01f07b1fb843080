"""`previz validate`: show which published and derivable values the program reproduces."""

from __future__ import annotations

import sys
import time
from pathlib import Path

import click

from previz.app.options import BACKEND


@click.command()
@click.option("--json", "as_json", is_flag=True, help="Give the checks as JSON.")
@click.option("--out", type=click.Path(path_type=Path), metavar="FILE",
              help="Write the table to a file instead of printing it.")
@BACKEND
def command(as_json, out, backend):
    """Work out known values anew and hold them to their sources, in one table.

    Closed forms of light go through the engine itself; colours, exposure, video levels, lenses,
    lamps and skin through the same functions that scenes use. Ends with 1 if any value is not
    reproduced.
    """
    from previz import __version__
    from previz.app.progress import Progress
    from previz.app.validation.run import ENGINE_CHECKS, all_checks
    from previz.app.validation.table import json_text, markdown
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
    form = json_text if as_json or (out is not None and out.suffix == ".json") else markdown
    text = form(checks, __version__, ran_on, time.monotonic() - began)
    failed = sum(not check.passed for check in checks)
    if out is None:
        sys.stdout.write(text)
    else:
        from previz.deliver.atomic import write_text

        write_text(out, text)
        click.echo(f"Wrote {out}: {len(checks) - failed} of {len(checks)} values reproduced.",
                   err=True)
    return 1 if failed else 0
