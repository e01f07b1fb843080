"""`previz schema`: the JSON Schema of scene files."""

from __future__ import annotations

import json
from pathlib import Path

import click


@click.command()
@click.option("--out", type=click.Path(path_type=Path), metavar="FILE",
              help="Write it to a file instead of printing it.")
def command(out):
    """Print the JSON Schema of scene files, so that an editor completes and checks them.

    Write it beside the scenes with --out previz.schema.json. In an editor with a YAML language
    server, a scene's first line then names it: # yaml-language-server: $schema=previz.schema.json
    """
    from previz.scene.schema import schema

    text = json.dumps(schema(), indent=2, ensure_ascii=False) + "\n"
    if out is None:
        click.echo(text, nl=False)
        return
    from previz.frames.whole import whole_file
    from previz.studies.folders import out_file

    with whole_file(out_file(out)) as part:
        part.write_text(text, encoding="utf-8")
    click.echo(f"Wrote {out}.")
