"""`previz study`: one lamp straight, through a frame and off a board, as a ladder of sizes."""

from __future__ import annotations

import time

import click

from previz.cli.options import (
    BACKEND,
    BANDS,
    OUT,
    QUALITY,
    ROWS,
    SAMPLES,
    SCENE,
    SEED,
    SIZE,
    print_doubts,
    print_rows,
    quantity,
)
from previz.studies.folders import out_folder


class Lengths(click.ParamType):
    """Lengths with their units, divided by commas: '0.6 m, 1.2 m, 8 ft'."""

    name = "LENGTHS"

    def convert(self, value, param, ctx):
        """Return the lengths, smallest first. [m]"""
        if isinstance(value, tuple):
            return value
        found = tuple(sorted({quantity(self, part.strip(), "length", param, ctx)
                              for part in value.split(",")}))
        if not 1 <= len(found) <= 6 or found[0] < 0.05 or found[-1] > 50:
            self.fail(f"'{value}' is no ladder; write one to six lengths from 5 cm to 50 m, as "
                      "'0.6 m, 1.2 m, 2.4 m'.", param, ctx)
        return found


@click.command()
@SCENE
@click.option("--option", metavar="NAME", help="The option of the scene; as written without it.")
@click.option("--lamp", default="", metavar="NAME",
              help="The lamp to study; the strongest at the face by default.")
@click.option("--face", "figure", default="", metavar="FIGURE",
              help="The face to light; that which the lamp is aimed at by default, else the first.")
@click.option("--sizes", type=Lengths(), default="0.6 m, 1.2 m, 2.4 m", show_default=True,
              help="Sides of the boards and frames.")
@click.option("--distances", type=Lengths(), default="1 m, 2 m", show_default=True,
              help="From the face to them.")
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
@SAMPLES
@SEED
@BANDS
@OUT
@BACKEND
@ROWS
def command(scene, option, out, size, quality, samples, seed, bands, backend, no_pictures, as_json, as_csv,
            **uses):
    """Study one lamp of SCENE: aimed straight at a face, through a frame of cloth, and off a
    board, over a ladder of sizes and distances. Gives the loss in stops, how large the source
    looks, the nose shadow's edge, how far the light wraps and how much of it spills on the
    background; as a sheet with plots, PNG and PDF.
    """
    from previz.cli.progress import TerminalProgress
    from previz.rendering.request import Request
    from previz.scene.read import load
    from previz.studies.selection import select
    from previz.studies.study import study

    began = time.monotonic()
    file = load(scene)
    if option is not None:
        select((option,), file.option_names, "option")
    folder = out_folder(out, scene)
    request = Request(folder / "frames", size, quality, samples, seed, bands, backend)
    found = study(file.scene(option), request, pictures=not no_pictures, progress=TerminalProgress(), **uses)
    stem = folder / f"study-{''.join(c if c.isalnum() else '-' for c in found.lamp)}"
    print_rows(found, as_json, as_csv, found.sheet(stem))
    print_doubts(found.doubtful)
    click.echo(f"Done in {time.monotonic() - began:.1f} s.", err=True)
