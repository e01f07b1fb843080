"""`previz walk`: a figure's way along its marks, stops on its face against metres."""

from __future__ import annotations

import click

from previz.cli.options import (
    ONE_OPTION,
    PATHS,
    QUALITY,
    SCENE,
    SHEET,
    Timed,
    out_folder,
    print_doubts,
    print_rows,
    quantity,
    scene_of,
    size_option,
)
from previz.cli.progress import TerminalProgress, drawn


def step(text: str) -> float:
    """Return how far it is from one place that is metered to the next. [m]"""
    found = quantity(text, "length")
    if not 0.02 <= found <= 50:
        raise click.BadParameter(f"'{text}' is out of range; write 2 cm to 50 m.")
    return found


def stop_range(text: str) -> tuple[float, float]:
    """Return the least and the most of '-1..+0.5'. [stops]"""
    low, dots, high = text.replace("\N{MINUS SIGN}", "-").partition("..")
    try:
        found = float(low), float(high)
    except ValueError:
        found = (1.0, 0.0)
    if not dots or not -12 <= found[0] <= found[1] <= 12:
        raise click.BadParameter(f"'{text}' is no range of stops; write the least and the most, from the "
                                 "working stop, as '-1..+0.5'.")
    return found


@click.command(cls=Timed)
@SCENE
@click.option("--figure", default="", metavar="NAME",
              help="Who walks; the only figure with marks by default.")
@click.option("--mark", "marks", multiple=True, metavar="NAME",
              help="The way by these marks alone, in the order given; may be given again. Without it from "
                   "where the figure stands by all of its marks.")
@ONE_OPTION
@click.option("--camera", default="", metavar="NAME",
              help="Whose stop is the working stop, and whose stills; the first by default.")
@click.option("--every", type=step, default="0.25 m", show_default=True, metavar="LENGTH",
              help="From one place that is metered to the next.")
@click.option("--least", type=click.FloatRange(0.1, 6), default=0.7, show_default=True, metavar="STOPS",
              help="From how much on a hole or a hot spot is named.")
@click.option("--want", "wanted", type=stop_range, metavar="LEAST..MOST",
              help="Name what lies outside this range and nothing within it, in stops from the working "
                   "stop: '-1..+0.5'.")
@click.option("--facing", "carried", type=click.Choice(["ahead", "turning"]), default="ahead",
              show_default=True,
              help="How the face is carried between marks: to where they go, or turned evenly from one "
                   "mark's facing to the next one's.")
@click.option("--frames/--no-frames", default=True, show_default=True,
              help="A still at each mark, and the figure's own face metered there.")
@size_option("640")
@QUALITY
@PATHS
@SHEET
def command(scene, option, out, size, quality, samples, seed, bands, backend, as_json, as_csv, **study):
    """Meter the way of a figure of SCENE along its marks: stops on the lit and on the shadow side of its
    face against metres, what each lamp gives, colour, and where there are holes and hot spots; with a still
    at each mark.

    Light along the way is that of the set with the figure taken out. What was metered before is kept:
    changed levels, gels and camera settings cost nothing.
    """
    from previz.deliver.stems import sheet_stem
    from previz.deliver.walk_sheet import WORST
    from previz.rendering.request import Request
    from previz.studies.walk import walk, walker

    file, lit = scene_of(scene, option)
    figure = walker(lit, study.pop("figure")).name
    stem = sheet_stem("walk", (option or "", study["camera"], figure), quality)
    folder = out_folder(out, scene, files=(f"{stem}.png", f"{stem}.pdf"))
    request = Request(folder / "frames", size, quality, samples, seed, bands, backend)
    done = walk(lit, request, figure=figure, title=file.title or scene.stem, progress=TerminalProgress(),
                **study)
    print_rows(done, as_json, as_csv, drawn(lambda: done.sheet(folder / stem)))
    worst = sorted(done.short, key=lambda each: -each.error)[:WORST]
    print_doubts([("", worst), *((stand.place, stand.short) for stand in done.stands)])
