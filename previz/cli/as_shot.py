"""`previz as-shot`: keep what was shot beside the renders, and hold it against the plan."""

from __future__ import annotations

from pathlib import Path

import click

from previz.cli.meter import share
from previz.cli.options import (
    ONE_OPTION,
    PATHS,
    QUALITY,
    SCENE,
    SHEET,
    SIZE,
    Timed,
    out_folder,
    print_rows,
    scene_of,
)
from previz.cli.progress import TerminalProgress, drawn


@click.command(cls=Timed)
@SCENE
@click.argument("table", required=False, type=click.Path(path_type=Path), metavar="[SHOT.csv]")
@click.option("--set", "shot", multiple=True, metavar="'WHAT, VALUES'",
              help="What was set, typed: 'key, 65 %, 4300 K' or 'A, T4, ISO 800, ND 0.6'; may be given "
                   "again.")
@click.option("--take", default="", metavar="NAME", help="What the shot is called; each has a record.")
@click.option("--readings", type=click.Path(path_type=Path), metavar="READINGS.csv",
              help="Readings of the day, kept with it; as `previz readings` takes them.")
@ONE_OPTION
@click.option("--precision", type=share, default="1 %", show_default=True, metavar="SHARE",
              help="Standard error of the meters.")
@SIZE
@QUALITY
@PATHS
@SHEET
def command(scene, table, shot, take, readings, option, precision, out, size, quality, samples, seed, bands,
            backend, as_json, as_csv):
    """Keep what was shot of SCENE, and hold it against the plan: each lamp's level and colour, each
    camera's exposure and balance, and what the levels give at each meter. Without SHOT.csv and --set,
    what was kept before is held against the plan as it is now.

    The first line of SHOT.csv names its columns. 'what': a lamp or a camera. Of a lamp 'level' ('65 %',
    'on', 'off') and 'colour' ('4300 K'); of a camera 'stop', 'iso', 'shutter', 'nd' and 'colour' for its
    balance. What is not named is taken as planned.
    """
    from previz.deliver.stems import sheet_stem
    from previz.frames.whole import refuse_foreign
    from previz.rendering.request import Request
    from previz.studies.as_shot import as_shot, read_record, record_path, write_record

    file, planned = scene_of(scene, option)
    stem = sheet_stem("as-shot", (option or "", take), quality)
    kept = record_path(Path(), option or "", take).name
    folder = out_folder(out, scene, files=(f"{stem}.png", f"{stem}.pdf", kept))
    request = Request(folder / "frames", size, quality, samples, seed, bands, backend, error=precision)
    given = table is not None or bool(shot)
    if readings is not None and not given:
        raise click.UsageError("--readings are kept with a shot; give SHOT.csv or --set.")
    if given:
        # Said before any work, and not after it.
        refuse_foreign(folder / kept)
    record = None if given else read_record(folder / kept)
    title = file.title or scene.stem
    found = as_shot(planned, request, table=table, shot=shot, record=record, take=take, readings=readings,
                    title=title, progress=TerminalProgress())
    for line in found.sentences:
        click.echo(line, err=True)
    files = drawn(lambda: found.sheet(folder / stem))
    if given:
        write_record(folder / kept, found.record, title)
        files.append(folder / kept)
    print_rows(found, as_json, as_csv, files)
