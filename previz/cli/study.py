"""`previz study`: one lamp straight, through a frame and off a board, as a ladder of sizes."""

from __future__ import annotations

import time

import click

from previz.cli.options import BACKEND, BANDS, OUT, QUALITY, SAMPLES, SCENE, SEED, SIZE, print_doubts
from previz.studies.folders import out_folder
from previz.studies.selection import select

MOST_WIDE = 640
"""Pictures on the sheet are no wider than this. [px]"""


class Lengths(click.ParamType):
    """Lengths with their units, divided by commas: '0.6 m, 1.2 m, 8 ft'."""

    name = "LENGTHS"

    def convert(self, value, param, ctx):
        """Return the lengths, smallest first. [m]"""
        if isinstance(value, tuple):
            return value
        from previz.units import UnitError, parse

        try:
            found = tuple(sorted({parse(part.strip(), "length") for part in value.split(",")}))
        except UnitError as error:
            self.fail(str(error), param, ctx)
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
              help="A meter of the scene that spill is told of; the back wall by default.")
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
def command(scene, option, out, size, camera, no_pictures, surface, **asked):
    """Study one lamp of SCENE: aimed straight at a face, through a frame of cloth, and off a
    board, over a ladder of sizes and distances. Tells the loss in stops, how large the source
    looks, the nose shadow's edge, how far the light wraps and how much of it spills on the
    background; as a sheet with plots, PNG and PDF.
    """
    from previz import __version__
    from previz.deliver.study_sheet import write_study
    from previz.scene.read import load
    from previz.scene.surface import LIBRARY
    from previz.studies.study import Wanted, study
    from previz.studies.study_pictures import pictures

    began = time.monotonic()
    file = load(scene)
    if option is not None:
        select((option,), file.option_names, "option")
    select((surface,), list(LIBRARY), "surface in the library")
    folder = out_folder(out, scene)
    wanted = Wanted(cache=folder / "frames", surface=surface, **asked)
    found = study(file.scene(option), wanted, lambda line: click.echo(line, err=True))
    examples, cautions = (), ()
    if not no_pictures:
        examples, cautions = pictures(found, wanted, camera, min(size[0], MOST_WIDE))
    words = {"Title": found.title, "Software": f"previz {__version__}",
             "Description": f"Bounce against direct, '{found.lamp}'."}
    stem = folder / f"study-{''.join(c if c.isalnum() else '-' for c in found.lamp)}"
    for path in write_study(stem, found, examples, words, cautions):
        click.echo(str(path))
    print_doubts([(step.name, step.short) for step in found.steps])
    click.echo(f"Done in {time.monotonic() - began:.1f} s.", err=True)

