"""`previz render`: light a scene and deliver its pictures and what it measures."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from previz.cli.map_options import MAP, mapped
from previz.cli.options import BACKEND, CHOSEN, OUT, PATHS, QUALITY, ROWS, Timed, out_folder, print_rows

if TYPE_CHECKING:
    from previz.rendering.request import Request
    from previz.scene.read import SceneFile
    from previz.stage.ahead import StageAhead
    from previz.studies.first_look import FirstLook


def percent(text: str) -> float:
    """Return a share, 0.02 of '2%' or '2'."""
    try:
        share = float(text.strip().removesuffix("%")) / 100
    except ValueError:
        share = 0.0
    if not 1e-4 <= share <= 1:
        raise click.BadParameter(f"'{text}' is no share; write '2%', from 0.01% to 100%.")
    return share


SECONDS = {"min": 60.0, "h": 3600.0, "s": 1.0, "": 1.0}
"""Units of a span of time. [s]"""


def span(text: str) -> float:
    """Return a span of time, of '90 s', '10 min' or '2 h'; seconds without a unit. [s]"""
    written = text.strip()
    unit = next(each for each in SECONDS if written.endswith(each))
    try:
        found = float(written.removesuffix(unit)) * SECONDS[unit]
    except ValueError:
        found = 0.0
    if not 0 < found <= 1e6:
        raise click.BadParameter(f"'{text}' is no span of time; write '90 s' or '10 min'.")
    return found


def stage_ahead(scene: Path, options: tuple[str, ...], request: Mapping[str, Any]) -> StageAhead | None:
    """Begin to build the first option, in a process of its own; None where that gains nothing."""
    from previz.rendering.size import WORTH_A_LOOK

    width, height = request["size"]
    samples = (request["samples"] or 32) / (4 if request["quality"] == "draft" else 1)
    if width * (height or width) * samples < WORTH_A_LOOK:
        return None
    # A program that has numbers loaded is no command, and has a stage sooner than another process has.
    if "numpy" in sys.modules or (os.cpu_count() or 1) < 2 or not scene.is_file():
        return None
    from previz.stage.ahead import FIRST, StageAhead

    return StageAhead(scene, options[0] if options else FIRST)


def _first_look(ahead: StageAhead, file: SceneFile, folder: Path, request: Request) -> FirstLook:
    """Return a first look at the first picture, not rendered yet."""
    from previz.studies.first_look import FirstLook
    from previz.studies.still_files import StillFiles

    return FirstLook(ahead, StillFiles(file, folder, request), request,
                     lambda line: click.echo(line, err=True))


@click.command(cls=Timed)
@CHOSEN
@QUALITY
@PATHS
@click.option("--no-exr", is_flag=True, help="Leave the linear OpenEXR files out.")
@click.option("--mark-rig", is_flag=True,
              help="Also write each still with the lamps, stands, boards and frames marked that "
                   "are in the picture, themselves or mirrored.")
@click.option("--scopes", is_flag=True,
              help="Also write each still with its waveforms, chromaticities and histograms.")
@click.option("--noise", type=percent, metavar="PERCENT",
              help="Refine in rounds until faces, or the picture without any, are as noisy as that.")
@click.option("--time-budget", type=span, metavar="TIME",
              help="Refine in rounds for so long, '90 s' or '10 min', all pictures and meters "
                   "together; what is drawn and written comes after.")
@click.option("--explain", is_flag=True,
              help="Say which lamps' light is used again, and why the rest is not.")
@click.option("--exact", is_flag=True,
              help="Render anew too where only the body of another lamp stands elsewhere.")
@MAP
@ROWS
@OUT
@BACKEND
def command(scene, options, cameras, no_exr, mark_rig, scopes, noise, time_budget, explain, as_json,
            as_csv, out, **request):
    """Render SCENE: for every option and camera a still, an exposure map with its legend and a
    linear OpenEXR with each lamp apart; one sheet that compares the options; and an index. Says
    what of the rig is in each picture, itself or mirrored in glass, mirrors and gloss.

    What was rendered before is kept and used again, lamp by lamp: changed levels, gels, stop or
    balance cost no rendering, a moved lamp costs that lamp, at the meters too, a moved camera that
    camera. An
    interrupted render goes on where it stopped, and more samples are added to what is there.

    Pictures of another quality than working have it in their names. The sheets have all options that
    are there at the same settings, those too that were rendered before.

    With --noise or --time-budget a first picture comes after seconds and is refined in rounds, with
    more paths for pixels and lamps that need them; Ctrl-C leaves it there and delivers what it is.

    With --json or --csv every number of sheets, maps and index is printed, and the files are named
    on standard error.
    """
    ahead = stage_ahead(scene, options, request)
    from previz.cli.progress import TerminalProgress, drawn
    from previz.rendering.request import Request
    from previz.scene.read import load

    with contextlib.ExitStack() as left:
        if ahead is not None:
            left.callback(ahead.close)
        file = mapped(load(scene))
        folder = out_folder(out, scene)
        ordered = Request(cache=folder / "frames", **request)
        if ahead is not None:
            look = _first_look(ahead, file, folder, ordered)
            left.callback(look.take_back)
            look.show((*options, *file.option_names, "")[0], cameras)
        from previz.studies.render import render
        from previz.studies.render_files import RenderFiles

        files = RenderFiles(file, folder, ordered)
        found = render(file, ordered, options=options, cameras=cameras, noise=noise, seconds=time_budget,
                       explain=explain, shown=files.still, progress=TerminalProgress())
        delivered = drawn(lambda: files.deliver(found, exr=not no_exr, mark_rig=mark_rig, scopes=scopes))
    for line in files.said:
        click.echo(line, err=True)
    print_rows(found, as_json, as_csv, delivered)
