"""`previz paper`: everything on paper for the truck and the floor."""

from __future__ import annotations

from pathlib import Path

import click

from previz.cli.map_options import MAP, mapped
from previz.cli.options import (
    CAMERA,
    OPTION,
    PATHS,
    QUALITY,
    SHEET,
    SIZE,
    Timed,
    out_folder,
    print_doubts,
    print_rows,
)
from previz.cli.progress import TerminalProgress, drawn


@click.command(cls=Timed)
@click.argument("scenes", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="SCENE...")
@OPTION
@CAMERA
@click.option("--page", type=click.Choice(["a4", "a3", "letter"], case_sensitive=False), default="a4",
              show_default=True, help="Paper that it is for, lying.")
@click.option("--units", "system", type=click.Choice(["metric", "imperial"]), default="metric",
              show_default=True,
              help="What lengths, areas and light are said in, and which scales are drawn to.")
@click.option("--section", default="", metavar="TEXT",
              help="Where the section is cut: 'x = 1.5 m', 'y = 2 m', or 'key to clerk'; through the first "
                   "person, along which lamps are spread most, without it.")
@click.option("--scale", type=click.IntRange(1, 10000), metavar="N",
              help="Draw plans and section at 1:N; as large as the page allows without it.")
@click.option("--differences", is_flag=True,
              help="One plan for all options, with what differs marked; without it where a plan for each "
                   "would be more than six pages.")
@click.option("--no-pictures", is_flag=True, help="Leave out stills and maps, which may have to be rendered.")
@click.option("--no-meters", is_flag=True,
              help="Leave out the meter sheet and readings, which have to be metered.")
@click.option("--minutes", type=click.FloatRange(0.05, 600), default=5.0, show_default=True,
              metavar="MINUTES", help="Run the meters of an option for so long at most.")
@SIZE
@QUALITY
@PATHS
@MAP
@SHEET
def command(scenes, options, cameras, system, differences, no_pictures, no_meters, minutes, out, size,
            quality, samples, seed, bands, backend, as_json, as_csv, **study):
    """Put SCENE on paper for the truck and the floor: pictures with their exposure maps, plan and section
    to scale, lamps, grip, gels, cable, power by circuit and phase, flicker, what is struck and added
    between options, the truck list, cautions, and a meter sheet to write on. One PDF, the drawings as SVG
    and DXF, the lists as CSV, in a folder.

    Several SCENEs are a day: one truck list, one summary of power, and the pages of each scene.
    """
    from previz.deliver.stems import sheet_stem
    from previz.rendering.request import Request
    from previz.studies.folders import usable
    from previz.studies.paper import load_all, paper

    files = [mapped(each) for each in load_all(scenes)]
    stem = sheet_stem("paper", (*(path.stem for path in scenes[1:]), *options, *cameras),
                      "working" if no_pictures else quality)
    folder = out_folder(out, scenes[0])
    usable(folder / stem, files=("paper.pdf",))
    made = paper(files, Request(folder / "frames", size, quality, samples, seed, bands, backend),
                 options=options, cameras=cameras, system=system, pictures=not no_pictures,
                 meters=not no_meters, one_sheet="differences" if differences else "", seconds=60 * minutes,
                 cache_of=lambda path: out_folder(out, path) / "frames", progress=TerminalProgress(), **study)
    written = drawn(lambda: made.sheet(folder / stem))
    print_rows(made, as_json, as_csv, written)
    for line in made.over:
        click.echo(line, err=True)
    print_doubts([(shot.option or "as written", shot.short) for _, shot in made.shots])
