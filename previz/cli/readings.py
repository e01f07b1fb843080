"""`previz readings`: what meters read on the set, held against the plan."""

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
@click.argument("table", required=False, type=click.Path(path_type=Path), metavar="[READINGS.csv]")
@click.option("--reading", "readings", multiple=True, metavar="'PLACE, WHAT, lamps=...'",
              help="A reading, typed: 'clerk left cheek, 420 lx, lamps=key'; may be given again.")
@click.option("--scout", is_flag=True,
              help="Fit sky, sun and walls; what a reading does not say was on is daylight alone.")
@click.option("--error", "reading_error", type=share, default="5 %", show_default=True, metavar="SHARE",
              help="Standard error of a reading: the meter's own, and how it was held.")
@ONE_OPTION
@click.option("--camera", default="", metavar="NAME",
              help="The camera of the pictures; the first by default.")
@click.option("--picture", is_flag=True,
              help="Render what the pictures need; else they are there if the camera's frames are kept.")
@click.option("--precision", type=share, default="1 %", show_default=True, metavar="SHARE",
              help="Standard error of what is metered in the plan.")
@click.option("--minutes", type=click.FloatRange(0.05, 600), default=5.0, show_default=True,
              metavar="MINUTES", help="Run meters for so long at most.")
@click.option("--save", "name", metavar="NAME",
              help="Write the scene as the readings have it as an option into its file.")
@SIZE
@QUALITY
@PATHS
@SHEET
def command(scene, table, option, precision, minutes, name, out, size, quality, samples, seed, bands, backend,
            as_json, as_csv, **study):
    """Hold READINGS.csv against the plan of SCENE: which lamp gives more or less than it should, by how
    much, which is dead, which reading cannot be so, what the readings cannot tell, and which levels bring
    the plan back. With --scout: what sky and sun give, and what the walls send back.

    The first line of READINGS.csv names its columns. 'place': a meter of the scene, 'clerk left
    cheek', 'clerk lit side', a mark, or a thing for a spot meter. 'reading': '840 lx', '78 fc', 'T2.8 1/3'
    or '120 cd/m2'; or a column 'lux', 'fc', 'stop' or 'spot'. 'lamps': what was on, as 'key + fill', 'all',
    'all but kicker', 'key at 50 %', 'daylight' or 'none'; nothing else is taken to be on. As you like: 'iso'
    and 'shutter' for stops (the camera's otherwise), 'receptor' (flat where there is one), 'level', 'hour',
    'camera', 'colour' (in K), 'error', 'who', 'notes'. A meter sheet's own table is read as it is: a bare
    number there has the unit of what is 'expected', and lines without a reading are passed over.
    """
    from previz.deliver.stems import sheet_stem
    from previz.rendering.request import Request
    from previz.studies.readings import readings
    from previz.studies.saving import check_name

    if name is not None:
        check_name(name)
    file, planned = scene_of(scene, option)
    what = "scout" if study["scout"] else "readings"
    stem = sheet_stem(what, (option or "", study["camera"]), quality)
    folder = out_folder(out, scene, files=(f"{stem}.png", f"{stem}.pdf"))
    request = Request(folder / "frames", size, quality, samples, seed, bands, backend, error=precision)
    found = readings(planned, request, table=table, seconds=60 * minutes, title=file.title or scene.stem,
                     progress=TerminalProgress(), **study)
    for line in found.sentences:
        click.echo(line, err=True)
    files = drawn(lambda: found.sheet(folder / stem))
    if name is not None:
        files.append(found.save(file, name))
    print_rows(found, as_json, as_csv, files)
