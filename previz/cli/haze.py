"""`previz haze`: one scene at several densities of its haze, on one sheet."""

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
    SizeType,
    print_rows,
)
from previz.studies.folders import out_folder

MOST = 8
"""Most densities of one sheet."""


class Factors(click.ParamType):
    """Factors on a density, divided by commas: '0, 1/2, 1, 2'."""

    name = "FACTORS"

    def convert(self, value, param, ctx):
        """Return the factors, smallest first."""
        if isinstance(value, tuple):
            return value
        try:
            found = tuple(sorted({_number(part) for part in value.split(",")}))
        except (ValueError, ZeroDivisionError):
            found = ()
        if not 1 <= len(found) <= MOST or found[0] < 0 or found[-1] > 100:
            self.fail(f"'{value}' is no ladder of densities; write one to {MOST} factors on the "
                      "scene's own from 0 to 100, as '0, 1/2, 1, 2'.", param, ctx)
        return found


def _number(text: str) -> float:
    over, _, under = text.strip().partition("/")
    return float(over) / (float(under) if under else 1.0)


@click.command()
@SCENE
@click.option("--densities", "factors", type=Factors(), default="0, 1/2, 1, 2", show_default=True,
              help="Times the density that the scene has.")
@click.option("--option", metavar="NAME", help="The option of the scene; as written without it.")
@click.option("--camera", default="", metavar="NAME", help="The camera; the first by default.")
@click.option("--face", default="", metavar="FIGURE",
              help="The face that contrast is read on; whose the camera is on by default.")
@click.option("--size", type=SizeType(), default="640", show_default=True,
              help="Width and height in pixels; a width alone follows the camera's aspect.")
@QUALITY
@SAMPLES
@SEED
@BANDS
@OUT
@BACKEND
@ROWS
def command(scene, option, out, factors, camera, face, as_json, as_csv, **request):
    """Show SCENE at several densities of its haze: the picture, the haze alone, the contrast
    between a face and what is behind it, and the veil over the blacks. Densities from none to
    twice the scene's own come from one render; others are rendered anew, and it is said which.
    """
    from previz.cli.progress import TerminalProgress
    from previz.rendering.request import Request
    from previz.scene.read import load
    from previz.studies.haze import haze
    from previz.studies.selection import select

    began = time.monotonic()
    file = load(scene)
    if option is not None:
        select((option,), file.option_names, "option")
    folder = out_folder(out, scene)
    found = haze(file.scene(option), Request(folder / "frames", **request), factors=factors,
                 camera=camera, figure=face, progress=TerminalProgress())
    tail = "".join(c if c.isalnum() else "-"
                   for c in "-".join(filter(None, (option, found.ladder.camera))))
    print_rows(found, as_json, as_csv, found.sheet(folder / f"haze-{tail}"))
    click.echo(f"Done in {time.monotonic() - began:.1f} s.", err=True)
