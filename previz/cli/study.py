"""`previz study`: one lamp straight, through a frame and off a board, as a ladder of sizes."""

from __future__ import annotations

import click

from previz.cli.options import (
    ONE_OPTION,
    PATHS,
    QUALITY,
    SCENE,
    SHEET,
    SIZE,
    Timed,
    out_folder,
    print_doubts,
    print_rows,
    quantity,
    scene_of,
)


def lengths(text: str) -> tuple[float, ...]:
    """Return lengths, smallest first, of '0.6 m, 1.2 m, 8 ft'. [m]"""
    found = tuple(sorted({quantity(part.strip(), "length") for part in text.split(",")}))
    if not 1 <= len(found) <= 6 or found[0] < 0.05 or found[-1] > 50:
        raise click.BadParameter(f"'{text}' is no ladder; write one to six lengths from 5 cm to 50 m, as "
                                 "'0.6 m, 1.2 m, 2.4 m'.")
    return found


@click.command(cls=Timed)
@SCENE
@ONE_OPTION
@click.option("--lamp", default="", metavar="NAME",
              help="The lamp to study; the strongest at the face by default.")
@click.option("--face", "figure", default="", metavar="FIGURE",
              help="The face to light; that which the lamp is aimed at by default, else the first.")
@click.option("--sizes", type=lengths, default="0.6 m, 1.2 m, 2.4 m", show_default=True,
              metavar="LENGTHS", help="Sides of the boards and frames.")
@click.option("--distances", type=lengths, default="1 m, 2 m", show_default=True,
              metavar="LENGTHS", help="From the face to them.")
@click.option("--through", "transmission", type=click.FloatRange(0.02, 1), default=0.5, metavar="SHARE",
              show_default=True, help="Share of the light that the frame's cloth lets through.")
@click.option("--board", "surface", default="white card", show_default=True, metavar="SURFACE",
              help="Surface of the boards; `previz list` names them.")
@click.option("--spill", default="", metavar="METER",
              help="A meter of the scene that spill is read on; the back wall by default.")
@click.option("--camera", default="", metavar="NAME",
              help="The camera of the pictures; the one that is on the face by default.")
@SIZE
@click.option("--no-pictures", is_flag=True, help="Leave the pictures out.")
@QUALITY
@PATHS
@SHEET
def command(scene, option, out, size, quality, samples, seed, bands, backend, no_pictures, as_json, as_csv,
            **uses):
    """Study one lamp of SCENE: aimed straight at a face, through a frame of cloth, and off a
    board, over a ladder of sizes and distances. Gives the loss in stops, how large the source
    looks, the nose shadow's edge, how far the light wraps and how much of it spills on the
    background; as a sheet with plots, PNG and PDF.
    """
    from previz.cli.progress import TerminalProgress, drawn
    from previz.deliver.stems import sheet_stem
    from previz.rendering.request import Request
    from previz.studies.study import study

    _, lit = scene_of(scene, option)
    folder = out_folder(out, scene)
    request = Request(folder / "frames", size, quality, samples, seed, bands, backend)
    found = study(lit, request, pictures=not no_pictures, progress=TerminalProgress(), **uses)
    stem = sheet_stem("study", (option or "", found.lamp), quality)
    print_rows(found, as_json, as_csv, drawn(lambda: found.sheet(folder / stem)))
    print_doubts(found.doubtful)
